"""Cautions that a blend earns, and the allergens in it.

Each rule looks at the finished sauce and at what went in, and speaks only when its condition
holds. What is not known never silences a rule: an unknown pH counts as too high, an unknown
strength as too weak, an unknown heat as hot. These are guard-rails; a tested recipe, a pH meter
and the law of the place stand above them.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from balancer import safety_constants as limits
from balancer.composition import INDEX, Ingredient
from balancer.constants import (
    MG_PER_G,
    NACL_PER_NA,
    SODIUM_DAILY_MG,
)
from balancer.kitchen_constants import ALCOHOL_RETENTION
from balancer.safety_constants import CITATIONS, DEFER, FoodRule
from balancer.safety_picture import (
    SHU_PER_MG,
    Allergen,
    Caution,
    Picture,
    Sodium,
    allergens,
    by_name_only,
    is_one_of,
    listed,
    needs_cold,
    of_unknown_kind,
    scale_shu,
    sodium,
    wording,
)

__all__ = [
    "DEFER",
    "Allergen",
    "Caution",
    "Picture",
    "Sodium",
    "allergens",
    "cautions",
    "needs_cold",
    "sodium",
    "wording",
]

#: Share of alcohol that the longest cooking of the table of retention factors leaves [1].
LEAST_KEPT = min(row.kept.value for row in ALCOHOL_RETENTION)


def _caution(rule: str, sentence: str, *keys: str) -> Caution:
    return Caution(rule, f"{sentence} {DEFER}", "; ".join(f"{CITATIONS[k]} [{k}]" for k in keys))


def _is_low_acid_plant(ingredient: Ingredient) -> bool:
    """Whether it may be a plant that brings water and too little acid; unknown kinds may be one."""
    if ingredient["water"] < limits.FRESH_WATER.value:
        return False
    if is_one_of(ingredient, limits.FRUIT):
        kin = ingredient.kin
        ph = ingredient.ph or (kin.ph if kin else None)
        return ph is None or ph[1] > limits.PH_BOTULISM.value
    return is_one_of(ingredient, limits.LOW_ACID_PLANT) or of_unknown_kind(ingredient)


def _oil(picture: Picture) -> Caution | None:
    plants = picture.with_any(_is_low_acid_plant)
    fat, ph = picture.at_most("fat"), picture.known_ph
    sour = ph is not None and not needs_cold(ph[2], None)
    if not plants or fat <= limits.OIL_FAT.value or sour:
        return None
    return _caution(
        "fresh plants in oil",
        f"Botulism can grow where oil covers {listed(plants)}, and this sauce may be"
        f" {min(fat, 100.0):.0f} % fat: never keep it at room temperature, use it within"
        f" {limits.OIL_DAYS.value:.0f} days at {limits.COLD_C.value:.0f} °C or below, or freeze it"
        " the day it is made.",
        "GARLIC_OIL",
        "CHOSEN",
    )


def _cold(picture: Picture) -> Caution | None:
    ph, aw = picture.known_ph, picture.known_water_activity
    if not needs_cold(ph[2] if ph else None, aw):
        return None
    known = (
        f"its computed pH may reach {ph[2]:.2f}, and such a figure can err by"
        f" {limits.PH_GUARD.value:g} more"
        if ph
        else "its pH is not known"
    )
    return _caution(
        "keep refrigerated",
        f"Keep this sauce at {limits.COLD_C.value:.0f} °C or below, or freeze it: {known}, so it is"
        f" not shown to be safe in the warm, where a moist food needs a pH under"
        f" {limits.PH_COLD.value:g}"
        f" ({f'water activity about {aw:.2f}' if aw is not None else 'water activity unknown'}).",
        "FOOD_CODE",
        "SAFETY_GUARD",
    )


def _canning(picture: Picture) -> Caution | None:
    ph = picture.known_ph
    if ph is not None and ph[1] > limits.PH_BOTULISM.value:
        why = f"it is low in acid (pH {ph[1]:.1f} or more), where botulism grows in a closed jar"
    elif ph is not None and ph[2] + limits.PH_GUARD.value <= limits.PH_BOTULISM.value:
        why = f"a computed pH of {ph[0]:.2f} proves nothing in a jar"
    else:
        why = f"its pH is not shown to stay at {limits.PH_BOTULISM.value:g} or below"
    return _caution(
        "home canning",
        f"Do not can or bottle this sauce for the cupboard by what is computed here, for {why}: use"
        " a tested recipe, and change neither its acid nor its vegetables nor its thickener; above"
        f" pH {limits.PH_STRIPS.value:.1f} only a pH meter counts, no test strip.",
        "USDA_CANNING",
        "CFR114",
        "SAFETY_GUARD",
    )


def _allergens(picture: Picture) -> Caution | None:
    found = allergens(picture)
    unread = picture.with_any(by_name_only)
    if not found and not unread:
        return None
    laws = {(True, True): "US, EU", (False, True): "EU", (True, False): "US"}
    parts = [
        f"{a.name} ({', '.join(a.carriers)};"
        f" {laws.get((a.us_major, a.eu_annex_ii), 'on neither list')})"
        for a in found
    ]
    text = f"Allergens: {'; '.join(parts)}." if found else "No allergen was recognised."
    if unread:
        text += f" No list stands behind {listed(unread)}, judged by name only."
    return _caution(
        "allergens",
        f"{text} Read the label of whatever was bought, and say so to whoever eats.",
        "FALCPA_FASTER",
        "EU1169",
    )


def _chillies(picture: Picture) -> Caution | None:
    hot = picture.with_any(lambda i: not scale_shu(i) <= limits.GLOVES_SHU.value)
    if not hot:
        return None
    return _caution(
        "hot chillies",
        f"Wear gloves for {listed(hot)} (may exceed {limits.GLOVES_SHU.value:,.0f} Scoville units"
        " on the scale of dry pods, or not known), keep your hands from your eyes, and open a"
        " window when it boils.",
        "CHOSEN",
        "CHILE_SCALE",
    )


def _hot_sauce(picture: Picture) -> Caution | None:
    shu = picture.high_end("capsaicinoids") * SHU_PER_MG
    unknown = picture.with_any(
        lambda i: is_one_of(i, limits.CHILLI) and math.isnan(i["capsaicinoids"])
    )
    if shu < limits.HOT_SAUCE_SHU.value and not unknown:
        return None
    parts = [f"may come to {shu:,.0f} Scoville units"] if shu >= limits.HOT_SAUCE_SHU.value else []
    parts += [f"has {listed(unknown)} of unknown heat"] if unknown else []
    return _caution(
        "very hot sauce",
        f"This sauce {' and '.join(parts)}: tell whoever eats it, start with a drop, and keep it"
        " from children.",
        "CHOSEN",
        "CHILE_SCALE",
    )


def _vinegar(picture: Picture) -> Caution | None:
    weak = picture.with_any(
        lambda i: is_one_of(i, limits.VINEGAR) and not i["acetic"] >= limits.VINEGAR_ACETIC.value
    )
    if not weak:
        return None
    return _caution(
        "weak vinegar",
        f"The strength of {listed(weak)} is under {limits.VINEGAR_ACETIC.value:g} % acetic acid or"
        " not known: it is below what may be sold as vinegar and must not be counted on to keep"
        " anything; read the label.",
        "FDA_CPG525825",
    )


def _salt(picture: Picture) -> Caution | None:
    portions = [picture.serving_g, 100.0] if picture.serving_g else [100.0]
    found = [sodium(picture, basis_g) for basis_g in portions]
    high = [s for s in found if s.daily_share >= limits.HIGH_DAILY_SHARE.value]
    unknown = picture.with_any(lambda i: math.isnan(i["sodium"]))
    if not high and not unknown:
        return None
    counted = (high or found)[0]
    basis = (
        "100 g" if counted.basis_g != picture.serving_g else f"a serving of {counted.basis_g:g} g"
    )
    missing = f" The sodium of {listed(unknown)} is not known and not counted." if unknown else ""
    return _caution(
        "salt",
        f"{basis[0].upper()}{basis[1:]} brings {counted.mg:.0f} mg of sodium"
        f" ({counted.mg / MG_PER_G * NACL_PER_NA.value:.1f} g of salt),"
        f" {100.0 * counted.daily_share:.0f} % of the daily value of"
        f" {SODIUM_DAILY_MG.value:,.0f} mg.{missing}",
        "CFR101_9",
        "FDA_LABEL_GUIDE",
    )


def _alcohol(picture: Picture) -> Caution | None:
    def alcoholic(i: Ingredient) -> bool:
        ethanol = i["ethanol"]
        known = not math.isnan(ethanol)
        return ethanol > limits.ALCOHOL_TRACE.value if known else is_one_of(i, limits.DRINK)

    drinks = picture.with_any(alcoholic)
    if not drinks:
        return None
    unknown = picture.with_any(lambda i: alcoholic(i) and math.isnan(i["ethanol"]))
    more = f", and that of {listed(unknown)} is not known" if unknown else ""
    left = max(float(picture.per_100g[INDEX["ethanol"]]), LEAST_KEPT * picture.brought("ethanol"))
    return _caution(
        "alcohol",
        f"Alcohol of {listed(drinks)} does not all leave, even with long cooking: about"
        f" {left:.1f} g may be in 100 g of this sauce{more}.",
        "USDA_RETENTION6",
    )


def _food(rule: FoodRule) -> Callable[[Picture], Caution | None]:
    def look(picture: Picture) -> Caution | None:
        names = picture.of(rule.foods)
        text = rule.sentence.format(names=listed(names)) if names else ""
        return _caution(rule.rule, text, *rule.sources) if names else None

    return look


#: Every rule, most serious first: what kills, what poisons, what burns, what adds up.
_RULES: tuple[Callable[[Picture], Caution | None], ...] = (
    _oil,
    _food(limits.EGG_RAW),
    _cold,
    _canning,
    _allergens,
    _food(limits.HONEY),
    _food(limits.FISH_RAW),
    _food(limits.BEANS_RAW),
    _food(limits.ELDERBERRY),
    _food(limits.RHUBARB),
    _chillies,
    _hot_sauce,
    _vinegar,
    _salt,
    _alcohol,
)


def cautions(picture: Picture) -> tuple[Caution, ...]:
    """Cautions that the sauce earns, most serious first.

    Parameters
    ----------
    picture : Picture
        The sauce.

    Returns
    -------
    tuple of Caution
        One for each rule that fired. An empty tuple promises nothing about keeping.

    References
    ----------
    Each caution carries its own.
    """
    return tuple(c for rule in _RULES if (c := rule(picture)) is not None)
