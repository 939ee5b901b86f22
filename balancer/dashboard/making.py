"""An ingredient of one's own on its way into the kitchen book, as far as it is typed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields, replace
from types import MappingProxyType
from typing import Any

from balancer.dashboard.address import packed, unpacked
from balancer.errors import BadInput
from balancer.label import Label
from balancer.label_text import LONGEST_LABEL, read_label
from balancer.own import Own
from balancer.own_kept import Kept

#: How it stands to the foods of the tables, in the words of a choice.
STANDS: Mapping[str, str] = MappingProxyType(
    {"alone": "something of its own", "of": "a lot of", "like": "much like"}
)
#: Where the figures of a label come from.
LABELS: Mapping[str, str] = MappingProxyType(
    {"none": "no label", "text": "its text", "figures": "figure by figure"}
)
#: Figures of a label: words, unit and step of the buttons.
FIGURES: Mapping[str, tuple[str, str, float]] = MappingProxyType(
    {
        "fat_g": ("fat", "g", 0.5),
        "carbohydrate_g": ("carbohydrate", "g", 1.0),
        "sugars_g": ("of it, sugars", "g", 1.0),
        "fibre_g": ("fibre", "g", 0.5),
        "protein_g": ("protein", "g", 0.5),
        "salt_g": ("salt", "g", 0.1),
        "sodium_mg": ("or sodium", "mg", 10.0),
        "starch_g": ("starch", "g", 1.0),
        "potassium_mg": ("potassium", "mg", 10.0),
        "calcium_mg": ("calcium", "mg", 10.0),
        "alcohol_pct": ("alcohol by volume", "%", 0.5),
        "energy_kcal": ("energy, to check the rest", "kcal", 10.0),
    }
)
#: Readings: words, unit and step.
READINGS: Mapping[str, tuple[str, str, float]] = MappingProxyType(
    {
        "brix": ("Refractometer", "degrees Brix", 0.5),
        "ph": ("pH, by strip or meter", "pH", 0.1),
        "acidity_pct": ("Titratable acidity", "g per 100 g", 0.1),
        "salt_pct": ("Salt, by meter or strip", "g per 100 g", 0.1),
    }
)
#: Name of what is typed, in the address.
PLACE = "making"
#: Most letters that are kept in the address.
LONGEST_KEPT = 8_000


@dataclass(frozen=True)
class Making:
    """What is typed so far.

    Parameters
    ----------
    name : str
    stands : str
        A key of :data:`STANDS`.
    food : str
        The food that it is a lot of, or like.
    for_good : bool
        Whether it takes that one's place.
    label : str
        A key of :data:`LABELS`.
    text : str
        The label as pasted.
    form : str
        US or EU.
    size : float or None
        What the figures of the label are for, in ``unit``.
    unit : str
        g or mL.
    figures, readings : mapping of str to float
    acid, sugar : str
    allergens : str
        With commas between.
    editing : str
        Name of the kept one that is being changed; empty for a new one.
    revision : int
        Its last revision when it was opened.
    """

    name: str = ""
    stands: str = "alone"
    food: str = ""
    for_good: bool = False
    label: str = "none"
    text: str = ""
    form: str = "EU"
    size: float | None = 100.0
    unit: str = "g"
    figures: Mapping[str, float] = field(default_factory=dict)
    readings: Mapping[str, float] = field(default_factory=dict)
    acid: str = ""
    sugar: str = ""
    allergens: str = ""
    editing: str = ""
    revision: int = 0

    @property
    def blank(self) -> bool:
        """Whether nothing is typed that a vector could follow from."""
        label = {"none": False, "text": bool(self.text.strip()), "figures": bool(self.figures)}
        return not (label[self.label] or self.readings)

    def own(self) -> tuple[Own, tuple[str, ...]]:
        """The ingredient as typed, with sentences on what of its label was not read.

        Raises
        ------
        BadInput
            If a figure is missing or cannot be.
        """
        label: Label | None = None
        notes: tuple[str, ...] = ()
        if self.label == "text" and self.text.strip():
            read = read_label(self.text)
            label, notes = read.label, read.notes
        elif self.label == "figures" and self.figures:
            size = {"per_g" if self.unit == "g" else "per_ml": self.size}
            label = Label(form=self.form, **size, **self.figures)  # type: ignore[arg-type]
        if self.stands != "alone" and not self.food.strip():
            raise BadInput(
                f"It is said to be {STANDS[self.stands]} something. Name that food, or say that it"
                " is something of its own."
            )
        base = {} if self.stands == "alone" else {self.stands: self.food.strip()}
        allergens = tuple(w.strip() for w in self.allergens.split(",") if w.strip())
        return Own(
            self.name.strip(), label, acid=self.acid, sugar=self.sugar, allergens=allergens,
            **base, **self.readings,  # type: ignore[arg-type]
        ), notes  # fmt: skip

    @property
    def takes_place(self) -> bool:
        """Whether it is to take the place of the ingredient that it is a lot of."""
        return self.for_good and self.stands == "of"

    @classmethod
    def of(cls, kept: Kept, revision: int) -> Making:
        """What is kept, opened to be changed."""
        own = kept.own
        made = cls(
            name=own.name,
            stands="of" if own.of else "like" if own.like else "alone",
            food=own.of or own.like,
            for_good=kept.takes_place,
            readings={f: v for f in READINGS if (v := getattr(own, f)) is not None},
            acid=own.acid,
            sugar=own.sugar,
            allergens=", ".join(own.allergens),
            editing=own.name,
            revision=revision,
        )
        if own.label is None:
            return made
        figures = {
            f: float(value)
            for f in FIGURES
            if (value := getattr(own.label, f)) is not None and (value or f != "alcohol_pct")
        }
        return replace(
            made, label="figures", form=own.label.form, figures=figures,
            size=own.label.per_g or own.label.per_ml, unit="g" if own.label.per_g else "mL",
        )  # fmt: skip

    def written(self) -> str:
        """What is typed as letters that an address can hold; empty for nothing."""
        plain = asdict(Making())
        kept = {k: v for k, v in asdict(self).items() if v != plain[k]}
        return packed(kept) if kept else ""

    @classmethod
    def read(cls, letters: str) -> Making:
        """Read what :meth:`written` wrote; what cannot be read is nothing typed.

        Examples
        --------
        >>> Making.read(Making("my limes", readings={"ph": 2.3}).written()).readings
        {'ph': 2.3}
        """
        try:
            return _checked(unpacked(letters))
        except (BadInput, KeyError, TypeError, ValueError, AttributeError, OverflowError):
            return cls()


def _checked(kept: Mapping[str, Any]) -> Making:
    plain = asdict(Making())
    found: dict[str, Any] = {}
    for f in fields(Making):
        if f.name not in kept:
            continue
        value = kept[f.name]
        if f.name in ("figures", "readings"):
            known = FIGURES if f.name == "figures" else READINGS
            found[f.name] = {k: float(v) for k, v in value.items() if k in known}
        elif f.name == "size":
            found[f.name] = None if value is None else float(value)
        else:
            found[f.name] = type(plain[f.name])(value)
    made = Making(**found)
    if made.stands not in STANDS or made.label not in LABELS or made.unit not in ("g", "mL"):
        raise ValueError
    return replace(made, text=made.text[:LONGEST_LABEL])
