"""Every exception of the project.

::

    BalancerError                 base: its text is one sentence a cook can act on
    ├── BadInput                  what was asked cannot be read or cannot be meant
    │   └── UnknownIngredient     no ingredient of that name; carries the nearest names
    ├── NoSolution                quantities were read from a result that has none
    ├── DataProblem               a table of the project is damaged or incomplete
    └── StoreProblem              the saved work cannot be opened, read or written
        ├── NotSaved              no profile or recipe of that name
        ├── NameTaken             the name is in use already
        └── ChangedMeanwhile      another window saved since it was opened

A sentence names the culprit, its value with unit, and the next step.
"""

from __future__ import annotations


class BalancerError(Exception):
    """Base of all errors; ``str(error)`` is one sentence fit to be shown to a cook."""


class BadInput(BalancerError):
    """A request that cannot be read, or that no sauce can satisfy as it is written."""


class UnknownIngredient(BadInput):
    """No ingredient answers to a name.

    Parameters
    ----------
    name : str
        The name as the cook wrote it.
    nearest : tuple of str
        Names that come closest, best first; may be empty.
    """

    def __init__(self, name: str, nearest: tuple[str, ...] = ()) -> None:
        self.name = name
        self.nearest = nearest
        shown = name if len(name) <= 60 else name[:57] + "..."
        hint = f" Nearest: {'; '.join(nearest)}." if nearest else ""
        super().__init__(
            f"No ingredient is called {shown!r}.{hint}"
            f" Search with `balancer pantry` and use a name from its list."
        )


class NoSolution(BalancerError):
    """A quantity or a level was read from a result that has none."""


class DataProblem(BalancerError):
    """A table that comes with the project is damaged, incomplete or missing."""


class StoreProblem(BalancerError):
    """The saved work cannot be opened, read or written."""


class NotSaved(StoreProblem):
    """No profile or recipe of that name is saved."""


class NameTaken(StoreProblem):
    """A profile or recipe of that name is saved already."""


class ChangedMeanwhile(StoreProblem):
    """The revision that was expected to be the last one no longer is."""
