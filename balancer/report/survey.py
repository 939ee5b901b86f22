"""The pantry, ingredient by ingredient: what each number rests on, its pH, its mass balance."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

import numpy as np

from balancer.catalogue import Catalogue
from balancer.chemical_constants import CHARGE_RULE, MILD_PH
from balancer.chemistry import acidity
from balancer.composition import ACIDS, INDEX, MASSES, NAMES, Evidence, Ingredient, filled
from balancer.errors import DataProblem
from balancer.report.charge_fit import Anchored, left_out
from balancer.strong_ions import estimated_charge
from balancer.tables import read_rows

_CHARGE = INDEX["strong_ion_charge"]
_MASSES = np.array([INDEX[m] for m in MASSES])


class Basis(StrEnum):
    """What a predicted pH rests on."""

    LEFT_OUT = "rule fitted on the other foods"
    NOT_FITTED = "rule; the food is not in its fit"
    NO_PUBLISHED = "rule; no pH published"
    DEFINED = "strong ions by definition"


@dataclass(frozen=True)
class PhCheck:
    """The pH a model gives without the published one.

    Parameters
    ----------
    predicted : float
        pH of the model without its anchor [1].
    error : float
        Nine foods in ten lie nearer than this to the middle of their published pH [1]; 0 where
        the strong ions are known by definition.
    basis : Basis
        How the prediction came about.
    published : tuple of float or None
        Published range (low, high) [1].
    miss : float
        How far the prediction lies outside that range, signed [1]; NaN where none is published.
    no_acid_figure : bool
        Whether every organic acid is unknown and was counted as zero.
    reason : str
        Likely reason of a large miss, our judgement; empty where none was written down.
    """

    predicted: float
    error: float
    basis: Basis
    published: tuple[float, float] | None
    miss: float
    no_acid_figure: bool
    reason: str


@dataclass(frozen=True)
class FoodReport:
    """What the tables know of one ingredient.

    Parameters
    ----------
    key, name : str
    by_evidence : mapping of Evidence to tuple of str
        Components whose number rests on each kind; kinds without any are left out.
    missing : tuple of str
        Components that are unknown; the strong-ion charge of a food with a published pH is not.
    mass_g : float
        Sum of everything that is counted in grams [g per 100 g].
    mass_note : str
        Why the balance does not close, where that is known.
    ph : PhCheck or None
        None without a water phase.
    """

    key: str
    name: str
    by_evidence: Mapping[Evidence, tuple[str, ...]]
    missing: tuple[str, ...]
    mass_g: float
    mass_note: str
    ph: PhCheck | None


@dataclass(frozen=True)
class Report:
    """The whole pantry, in the order of its file."""

    foods: tuple[FoodReport, ...]

    def left_out(self) -> tuple[tuple[FoodReport, PhCheck], ...]:
        """Foods of the fit, each predicted by the rule fitted on the others, worst miss first."""
        pairs = [
            (food, food.ph)
            for food in self.foods
            if food.ph is not None and food.ph.basis is Basis.LEFT_OUT
        ]
        return tuple(sorted(pairs, key=lambda pair: -abs(pair[1].miss)))


def read_fitted(catalogue: Catalogue) -> Anchored:
    """Foods that the rule for strong ions is fitted on: acid total, minerals and pH are published.

    Raises
    ------
    DataProblem
        If none is marked.
    """
    keys, names, ends = [], [], []
    for row in read_rows(catalogue.directory / "pantry_ph.csv"):
        if row["use"] == "fit":
            keys.append(row["key"])
            names.append(row["food"])
            ends.append((float(row["ph_low"]), float(row["ph_high"])))
    if not keys:
        raise DataProblem(
            "pantry_ph.csv marks no food for the fit. Rebuild it with data/rebuild.py."
        )
    low, high = np.array(ends).T
    composition = np.array([filled(catalogue.by_key[key].values) for key in keys])
    return Anchored(tuple(keys), tuple(names), composition, low, high)


def data_report(catalogue: Catalogue) -> Report:
    """Go through the pantry.

    Parameters
    ----------
    catalogue : Catalogue

    Returns
    -------
    Report

    Raises
    ------
    DataProblem
        If a table is missing or damaged.
    """
    fitted = read_fitted(catalogue)
    without = dict(zip(fitted.keys, left_out(fitted).tolist(), strict=True))
    directory = catalogue.directory
    notes = {row["key"]: row["mass_note"] for row in read_rows(directory / "pantry.csv")}
    reasons = {row["key"]: row["miss_reason"] for row in read_rows(directory / "pantry_ph.csv")}
    pantry = catalogue.pantry
    composition = filled(np.stack([i.values for i in pantry]))
    rows = composition.copy()
    defined = np.array([_defined(i) for i in pantry])
    rows[:, _CHARGE] = np.where(defined, composition[:, _CHARGE], estimated_charge(composition))
    by_rule = acidity(rows).ph
    mass = composition[:, _MASSES].sum(axis=1)
    return Report(
        tuple(
            FoodReport(
                item.key,
                item.name,
                _by_evidence(item),
                _missing(item),
                float(mass[n]),
                notes[item.key],
                _ph_check(item, without, float(by_rule[n]), reasons.get(item.key, "")),
            )
            for n, item in enumerate(pantry)
        )
    )


def _defined(item: Ingredient) -> bool:
    """Whether its strong ions are known by what the substance is, not through a pH."""
    return item.ph is None and not np.isnan(item["strong_ion_charge"])


def _by_evidence(item: Ingredient) -> Mapping[Evidence, tuple[str, ...]]:
    kinds = list(item.evidence)
    if item.ph is not None and kinds[_CHARGE] is None:
        kinds[_CHARGE] = Evidence.DERIVED
    found = {
        kind: tuple(n for n, k in zip(NAMES, kinds, strict=True) if k is kind) for kind in Evidence
    }
    return MappingProxyType({kind: names for kind, names in found.items() if names})


def _missing(item: Ingredient) -> tuple[str, ...]:
    known = {"strong_ion_charge"} if item.ph is not None else set()
    return tuple(
        n for n, kind in zip(NAMES, item.evidence, strict=True) if kind is None and n not in known
    )


def _ph_check(
    item: Ingredient, without: Mapping[str, float], by_rule: float, reason: str
) -> PhCheck | None:
    ph = without.get(item.key, by_rule)
    if np.isnan(ph):
        return None
    miss = float("nan")
    if item.ph is not None:
        low, high = item.ph
        miss = max(ph - high, 0.0) - max(low - ph, 0.0)
    if _defined(item):
        basis, error = Basis.DEFINED, 0.0
    else:
        basis = Basis.NOT_FITTED if item.ph is not None else Basis.NO_PUBLISHED
        basis = Basis.LEFT_OUT if item.key in without else basis
        sour = ph < MILD_PH.value
        error = CHARGE_RULE.error_sour.value if sour else CHARGE_RULE.error_mild.value
    blind = all(item.evidence[INDEX[a]] is None for a in ACIDS)
    return PhCheck(ph, error, basis, item.ph, miss, blind, reason)
