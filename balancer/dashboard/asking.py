"""What a cook asks of a search for ideas; it stays with the sauce in hand until it is changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Any

from balancer.constants import AROMA_FAMILIES, AXIS_NAMES
from balancer.exclusions import ALCOHOL, KINDS
from balancer.gap import LARGEST_STEP_JND, Gap

#: Kinds that a cook rules out most, in the words of the page.
FIRST_KINDS: Mapping[str, str] = {
    ALCOHOL: "alcohol",
    "fish": "fish and seafood",
    "meat": "meat",
    "vegetarian": "what is not vegetarian",
    "vegan": "what is not vegan",
}
#: Other words for a kind that is listed already.
_SAME = ("dairy", "eggs", "shellfish", "nuts", "peanuts", "gluten", "soy", "sulfites")
LONGEST_LIST, LONGEST_NAME = 1000, 120
FEWEST_ITEMS, MOST_ITEMS, USUAL_ITEMS = 1, 60, 8


def kinds() -> dict[str, str]:
    """Everything of a kind that can be ruled out, and its words."""
    allergens = {k: k for k in KINDS if k not in _SAME and k not in FIRST_KINDS}
    return {**FIRST_KINDS, **allergens}


@dataclass(frozen=True)
class Asked:
    """What to look for, and where.

    Parameters
    ----------
    steps : mapping of str to float
        What the sauce lacks, axis to step [JND].
    family : str
        Family of aroma that the missing ingredient must bring; empty for any.
    kinds : tuple of str
        Allergens and other kinds that are ruled out.
    house : str
        Names of what is not in the house, with commas between.
    whole_table : bool
        Whether to look beyond the pantry.
    items : int
        Most ingredients of another way.
    gone : str
        The ingredient that ran out.
    """

    steps: Mapping[str, float] = field(default_factory=dict)
    family: str = ""
    kinds: tuple[str, ...] = ()
    house: str = ""
    whole_table: bool = False
    items: int = USUAL_ITEMS
    gone: str = ""

    @property
    def without(self) -> tuple[str, ...]:
        """All that is ruled out."""
        return (*self.kinds, *((self.house,) if self.house.strip() else ()))

    @property
    def gap(self) -> str:
        """The gap in writing; empty where the sauce shall come nearer to its own target.

        Examples
        --------
        >>> Asked({"sour": 2.0, "body": -1.0}, family="warm_spice").gap
        'sour +2, body -1, family: warm spice'
        """
        parts = [f"{axis} {step:+g}" for axis, step in self.steps.items()]
        if self.family:
            parts.append(f"family: {self.family.replace('_', ' ')}")
        return ", ".join(parts)

    @staticmethod
    def lacking(gap: Gap) -> dict[str, Any]:
        """Fields that take over a gap."""
        steps = {a: gap.steps[a] for a in AXIS_NAMES if gap.steps.get(a)}
        return {"steps": steps, "family": gap.family or ""}

    def as_document(self) -> dict[str, Any]:
        """What differs from nothing asked, as plain values."""
        plain = Asked()
        found = {f.name: getattr(self, f.name) for f in fields(self)}
        found["steps"], found["kinds"] = dict(self.steps), list(self.kinds)
        return {k: v for k, v in found.items() if v and v != getattr(plain, k)}

    @classmethod
    def from_document(cls, document: Mapping[str, Any]) -> Asked:
        """Read what :meth:`as_document` wrote.

        Raises
        ------
        ValueError
            If it is something else.
        """
        steps = {str(a): float(s) for a, s in document.get("steps", {}).items()}
        found = cls(
            steps,
            str(document.get("family", "")),
            tuple(str(k) for k in document.get("kinds", ())),
            str(document.get("house", ""))[:LONGEST_LIST],
            bool(document.get("whole_table", False)),
            int(document.get("items", USUAL_ITEMS)),
            str(document.get("gone", ""))[:LONGEST_NAME],
        )
        known = set(steps) <= set(AXIS_NAMES) and set(found.kinds) <= set(kinds())
        small = all(abs(s) <= LARGEST_STEP_JND for s in steps.values())
        if not (known and small and FEWEST_ITEMS <= found.items <= MOST_ITEMS):
            raise ValueError("no search for ideas")
        if found.family and found.family not in AROMA_FAMILIES:
            raise ValueError("no family of aroma")
        return found
