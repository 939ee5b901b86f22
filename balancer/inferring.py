"""The vector of an ingredient of the cook's own, from its label and its readings.

The rule, part by part. What the label or a reading states is taken as measured. The kinds of sugar
and of acid that it does not name are shared out as in the food it is said to be like, or a lot of;
without one, sugars are counted unnamed and acid is citric. Refractometer: sugars are what it reads
beyond acid and ash. Titration: acid is what titrates, at the pH if that was read; the pH then sets
the strong-ion charge, so that the model gives it back. Water is the rest. Everything else comes
from the food it is like, as assumed, or from the food it is a lot of, with that food's evidence;
without one it stays unknown, never zero.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from balancer.catalogue import Catalogue
from balancer.chemical_constants import REFRACTION_ACID, REFRACTION_ASH
from balancer.chemistry import anchor
from balancer.composition import (
    ACIDS,
    INDEX,
    MASSES,
    NAMES,
    OWN_SHELF,
    SUGARS,
    Evidence,
    Ingredient,
    filled,
)
from balancer.constants import CL_PER_NACL, MG_PER_G, NACL_PER_NA
from balancer.errors import BadInput
from balancer.own import Own, own_key
from balancer.packet_allergens import named_allergens
from balancer.readings import LEAST_TITRATED, SOURCE, WATER_ROUNDS
from balancer.search import resolve
from balancer.titration import titratable_acidity

#: Change of acid, sugar and water between rounds that counts as none [g per 100 g].
SETTLED_G = 1e-8
#: How far the refractometer may be off the label before a sentence says so [degrees Brix].
BRIX_SLIP = 3.0
#: Water below zero by no more than this is the rounding of the figures [g per 100 g].
WATER_SLIP_G = 2.0


@dataclass(frozen=True)
class Inferred:
    """An ingredient with sentences on how it was inferred."""

    ingredient: Ingredient
    notes: tuple[str, ...]


def inferred(own: Own, catalogue: Catalogue, lot_of: Ingredient | None = None) -> Inferred:
    """The vector that follows from what is known; see the rule at the head of the module.

    Parameters
    ----------
    own : Own
    catalogue : Catalogue
        Where the food it is like, or a lot of, is looked up.
    lot_of : Ingredient or None
        The food that it is a lot of, where that is known already.

    Returns
    -------
    Inferred
        With the evidence of each number: measured, derived, assumed, or unknown.

    Raises
    ------
    BadInput
        If the figures leave no room for water, or contradict each other.
    """
    return _Inference(own, catalogue, lot_of).run()


class _Inference:
    def __init__(self, own: Own, catalogue: Catalogue, lot_of: Ingredient | None) -> None:
        self.own = own
        name = own.of or own.like
        self.base = lot_of or (resolve(catalogue, name) if name else None)
        #: Whether it is a lot of that food, and not only like it.
        self.is_lot = lot_of is not None or bool(own.of)
        self.values = np.full(len(NAMES), math.nan)
        self.low, self.high = self.values.copy(), self.values.copy()
        self.evidence: list[Evidence | None] = [None] * len(NAMES)
        self.source = [""] * len(NAMES)
        self.notes: list[str] = []
        #: What a number shared out as in the base rests on.
        self.lent = Evidence.DERIVED if self.is_lot else Evidence.ASSUMED
        if self.base is not None:
            self.values = self.base.values.copy()
            self.source = list(self.base.source)
            kept = self.base.evidence
            self.evidence = list(kept) if self.is_lot else [e and Evidence.ASSUMED for e in kept]
            if self.is_lot:
                self.low, self.high = self.base.low.copy(), self.base.high.copy()
        self.fixed: set[str] = set()

    def put(self, component: str, amount: float, evidence: Evidence) -> None:
        i = INDEX[component]
        self.values[i], self.evidence[i], self.source[i] = amount, evidence, SOURCE
        self.low[i] = self.high[i] = math.nan
        self.fixed.add(component)

    def get(self, *components: str) -> float:
        return float(filled(self.values[[INDEX[c] for c in components]]).sum())

    def run(self) -> Inferred:
        own = self.own
        if own.label is not None:
            self._label(own.label.parts())
            self.notes += own.label.notes()
            if "milk" in own.allergens and not own.sugar and self.base is None:
                self.notes.append(
                    "The label does not say which sugar it counts. If it is milk sugar, a fifth as"
                    ' sweet, give "sugar": "lactose".'
                )
        if own.salt_pct is not None:
            self._salt(own.salt_pct / NACL_PER_NA.value * MG_PER_G)
        shares = self._shares(ACIDS, own.acid, "citric")
        acid = own.acidity_pct if own.acidity_pct is not None else self.get(*ACIDS)
        for _ in range(WATER_ROUNDS):
            before = np.array([acid, self.get(*SUGARS), self.get("water")])
            if own.acidity_pct is not None:
                acid = self._acid(acid, shares)
            if own.brix is not None and own.label is None:
                self._sugars(self._sugar_by_brix(), Evidence.MEASURED)
            self._water()
            after = np.array([acid, self.get(*SUGARS), self.get("water")])
            if np.abs(after - before).max() < SETTLED_G:
                break
        if own.acidity_pct is None and own.ph is not None:
            self._anchor_only()
        if own.brix is not None and own.label is not None:
            self._compare_brix(own.brix)
        return Inferred(self._ingredient(), tuple(self.notes))

    def _label(self, parts: Mapping[str, float]) -> None:
        for component in ("fat", "protein", "fibre", "ethanol", "potassium", "calcium"):
            if component in parts:
                self.put(component, parts[component], Evidence.MEASURED)
        if "sodium" in parts:
            self._salt(parts["sodium"])
        self._sugars(parts["sugars"], Evidence.MEASURED)
        rest = max(0.0, parts["carbohydrate"] - parts["sugars"])
        acid = self.get(*ACIDS) if self.own.acidity_pct is None else self.own.acidity_pct
        if self.own.label is not None and self.own.label.form == "US":
            rest = max(0.0, rest - acid)  # by difference: organic acid is counted in it
        if "starch" in parts:
            self.put("starch", min(parts["starch"], rest), Evidence.MEASURED)
            rest -= min(parts["starch"], rest)
        elif self.base is not None and not math.isnan(self.base["starch"]):
            both = self.base["starch"] + float(np.nan_to_num(self.base["other_carbohydrate"]))
            share = self.base["starch"] / both if both > 0 else 0.0
            self.put("starch", rest * share, self.lent)
            rest *= 1.0 - share
        self.put("other_carbohydrate", rest, Evidence.DERIVED)
        if self.own.label is not None:
            self._bands(self.own.label.bands())

    def _bands(self, bands: Mapping[str, tuple[float, float]]) -> None:
        """Keep what the rounding of the label leaves open as the range of each part."""
        total = self.get(*SUGARS)
        for part, (low, high) in bands.items():
            if part != "sugars":
                self.low[INDEX[part]], self.high[INDEX[part]] = low, high
                continue
            shares = self._shares(SUGARS, self.own.sugar, "other_sugars")
            for sugar, share in (shares if total > 0 else {"other_sugars": 1.0}).items():
                self.low[INDEX[sugar]], self.high[INDEX[sugar]] = low * share, high * share

    def _salt(self, sodium_mg: float) -> None:
        salt = sodium_mg / MG_PER_G * NACL_PER_NA.value
        before = self.get("sodium") / MG_PER_G * NACL_PER_NA.value
        ash = max(0.0, self.get("ash") - before) + salt
        self.put("sodium", sodium_mg, Evidence.MEASURED)
        self.put("chloride", salt * CL_PER_NACL.value * MG_PER_G, Evidence.ASSUMED)
        self.put("ash", ash, Evidence.DERIVED)

    def _shares(self, names: tuple[str, ...], chosen: str, usual: str) -> dict[str, float]:
        """How a total is shared out over its kinds [1]."""
        total = self.get(*names)
        if chosen:
            return {chosen: 1.0}
        if self.base is not None and total > 0:
            return {n: self.get(n) / total for n in names if self.get(n) > 0}
        return {usual: 1.0}

    def _sugars(self, total: float, evidence: Evidence) -> None:
        shares = self._shares(SUGARS, self.own.sugar, "other_sugars")
        named = "other_sugars" not in shares
        for sugar in SUGARS:
            if sugar in shares:
                kind = evidence if len(shares) == 1 or self.own.sugar else self.lent
                self.put(sugar, total * shares[sugar], kind)
            elif named:
                self.put(sugar, 0.0, Evidence.DERIVED if self.own.sugar else self.lent)

    def _sugar_by_brix(self) -> float:
        """Sugar that the refractometer reads beyond acid and ash [g per 100 g]."""
        liquid = 100.0 - self.get("fat", "fibre", "protein", "starch")
        others = REFRACTION_ACID.value * self.get(*ACIDS) + REFRACTION_ASH.value * self.get("ash")
        sugar = (self.own.brix or 0.0) * liquid / 100.0 - others
        if sugar < -WATER_SLIP_G:
            raise BadInput(
                f"{self.own.name}: the refractometer reads {self.own.brix:g} degrees Brix, but acid"
                f" and ash alone read {100 * others / liquid:.3g}. Measure again."
            )
        return max(0.0, sugar)

    def _compare_brix(self, read: float) -> None:
        liquid = max(1.0, 100.0 - self.get("fat", "fibre", "protein", "starch"))
        made = self.get(*SUGARS) + REFRACTION_ACID.value * self.get(*ACIDS)
        made = 100.0 * (made + REFRACTION_ASH.value * self.get("ash")) / liquid
        if abs(made - read) > BRIX_SLIP:
            self.notes.append(
                f"The refractometer reads {read:g} degrees Brix, but the label makes {made:.3g};"
                " the label's sugars are kept."
            )

    def _acid(self, total: float, shares: Mapping[str, float]) -> float:
        """A better total of the acids than the one given, by what it titrates at the pH."""
        wanted = float(self.own.acidity_pct or 0.0)
        for acid in ACIDS:
            if acid in shares:
                one = len(shares) == 1
                self.put(acid, total * shares[acid], Evidence.MEASURED if one else self.lent)
            elif self.base is not None or self.own.acid:
                self.put(acid, 0.0, self.lent if self.base is not None else Evidence.ASSUMED)
        if wanted == 0:
            return 0.0
        if "water" not in self.fixed:
            self._water()
        whole = filled(self.values)
        if self.own.ph is not None:
            charge = float(anchor(whole, self.own.ph))
            if math.isnan(charge):
                raise BadInput(
                    f"{self.own.name} holds {self.get('water'):.3g} g of water in 100 g, too little"
                    " for a pH. Leave the pH out."
                )
            self.put("strong_ion_charge", charge, Evidence.DERIVED)
        elif self.base is None:
            self.put("strong_ion_charge", 0.0, Evidence.ASSUMED)
        whole = filled(self.values)
        found = float(titratable_acidity(whole, self.own.acid or "citric"))
        if not found > LEAST_TITRATED * total:
            raise BadInput(
                f"{self.own.name}: next to no acid is left to titrate, but the acidity is"
                f" {wanted:g} g per 100 g. Measure again."
            )
        return total * wanted / found

    def _anchor_only(self) -> None:
        """PH alone anchors the acids of the food it is like; it does not say how much there is."""
        whole = filled(self.values)
        charge = float(anchor(whole, self.own.ph or 0.0)) if self.get(*ACIDS) > 0 else math.nan
        if math.isnan(charge):
            self.notes.append(
                f"The pH of {self.own.ph:g} alone does not say how much acid there is; sour stays"
                " unknown. Titrate it, or say what food it is like."
            )
            return
        self.put("strong_ion_charge", charge, Evidence.DERIVED)

    def _water(self) -> None:
        others = self.get(*(m for m in MASSES if m != "water"))
        if others > 100.0 + WATER_SLIP_G:
            raise BadInput(
                f"{self.own.name}: its parts add up to {others:.4g} g in 100 g. Check the figures"
                " and their units."
            )
        self.put("water", max(0.0, 100.0 - others), Evidence.DERIVED)

    def _ingredient(self) -> Ingredient:
        own, base = self.own, self.base
        lot = base if self.is_lot else None
        note = "Inferred from " + " and ".join(
            [*(["its label"] if own.label else []), *(["readings"] if self._read else [])]
        )
        lent = f"; the rest as in {base.name}" if base else "; the rest is unknown"
        return Ingredient(
            key=own_key(own.name),
            name=own.name.strip(),
            values=self.values,
            low=self.low,
            high=self.high,
            evidence=tuple(self.evidence),
            source=tuple(self.source),
            group=lot.group if lot else OWN_SHELF,
            share=base.share if base else None,
            allergens=tuple(
                dict.fromkeys((*named_allergens(own.allergens), *(base.allergens if base else ())))
            ),
            ph=(own.ph, own.ph) if own.ph is not None else (lot.ph if lot else None),
            refuse=lot.refuse if lot else math.nan,
            note=f"{note}{lent}.",
            kin=base,
        )

    @property
    def _read(self) -> bool:
        own = self.own
        return any(r is not None for r in (own.brix, own.acidity_pct, own.ph, own.salt_pct))
