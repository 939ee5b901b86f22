"""What the cautions of ``safety.py`` rest on: limits, temperatures, sources, foods, allergens.

A food is recognised first by its figures, then by its shelf, then by its food number, and last by
its name in the open table. The patterns read lower-case ``"group: name"`` and would rather name a
food too many than one too few.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from balancer.constants import Coefficient

#: Said with every caution.
DEFER = "Local codes and licensed practice decide."

# --- keeping ------------------------------------------------------------------------------------
PH_GUARD = Coefficient(
    0.3, "pH", "SAFETY_GUARD", "chosen", (0.2, 0.5), "what a computed pH may err by"
)
AW_GUARD = Coefficient(
    0.05, "1", "SAFETY_GUARD", "chosen", (0.02, 0.06), "what a computed water activity may err by"
)
PH_BOTULISM = Coefficient(
    4.6, "pH", "CFR114", "table", (4.6, 4.6), "from here up a food is low-acid"
)
PH_STRIPS = Coefficient(
    4.0, "pH", "CFR114", "memory", (4.0, 4.0), "above it only a pH meter counts, no strip"
)
COLD_C = Coefficient(
    4.0, "degC", "FOOD_CODE", "chosen", (0.0, 5.0), "refrigerator; the code asks for 5 or below"
)


@dataclass(frozen=True)
class KeepingRow:
    """One row of the table that says when a food may stand outside the cold.

    Parameters
    ----------
    aw_max : Coefficient
        Largest water activity of the row [1].
    ph_max : Coefficient
        Largest pH of the row.
    """

    aw_max: Coefficient
    ph_max: Coefficient


def _row(aw_max: float, ph_max: float) -> KeepingRow:
    return KeepingRow(
        Coefficient(aw_max, "1", "FOOD_CODE", "table", (0.0, 1.0), "water activity of the row"),
        Coefficient(ph_max, "pH", "FOOD_CODE", "table", (0.0, 14.0), "pH of the row"),
    )


PH_COLD = Coefficient(
    4.2, "pH", "FOOD_CODE", "table", (4.2, 4.2), "a moist food stays in the cold from here up"
)
AW_FREE = Coefficient(
    0.88, "1", "FOOD_CODE", "table", (0.88, 0.88), "below it any pH may stand outside the cold"
)
#: Food not heat-treated and packaged, Table B of the code: largest water activity, and the pH
#: that may not be passed there. Above the last row the pH must stay below PH_COLD.
KEEPING_ROWS = (_row(0.90, 5.0), _row(0.92, 4.6))

# --- oil, egg, fish -----------------------------------------------------------------------------
OIL_FAT = Coefficient(
    10.0, "g/100 g", "CHOSEN", "chosen", (10.0, 60.0), "fat from which oil can seal air out"
)
FRESH_WATER = Coefficient(
    30.0, "g/100 g", "CHOSEN", "chosen", (15.0, 50.0), "water from which a plant counts as fresh"
)
OIL_DAYS = Coefficient(
    4.0, "d", "GARLIC_OIL", "memory", (4.0, 10.0), "strictest advice; others say 7 to 10"
)
EGG_C = Coefficient(71.0, "degC", "EGG_SAFETY", "memory", (70.0, 74.0), "egg dishes")
FISH_C = Coefficient(63.0, "degC", "FOOD_CODE", "memory", (60.0, 71.0), "fish, for 15 seconds")

# --- heat, vinegar, salt, alcohol ---------------------------------------------------------------
GLOVES_SHU = Coefficient(
    10000.0, "SHU", "CHOSEN", "chosen", (5000.0, 30000.0), "gloves from here; common practice"
)
HOT_SAUCE_SHU = Coefficient(
    2500.0, "SHU", "CHOSEN", "chosen", (1000.0, 10000.0), "a sauce as hot as a whole hot chilli"
)
VINEGAR_ACETIC = Coefficient(
    4.0, "g/100 g", "FDA_CPG525825", "memory", (4.0, 4.0), "least strength; the guide has 100 mL"
)
HIGH_DAILY_SHARE = Coefficient(
    0.20, "1", "FDA_LABEL_GUIDE", "memory", (0.1, 0.3), "share of a daily value that is high"
)
ALCOHOL_TRACE = Coefficient(
    0.5, "g/100 g", "CHOSEN", "chosen", (0.0, 1.2), "ethanol that a drink without alcohol may have"
)

#: Source key to the words a cook reads; the full entry stands in ``data/sources.csv``.
CITATIONS: Mapping[str, str] = MappingProxyType(
    {
        "CDC_ELDERBERRY": "US CDC, MMWR 1984;33:173, elderberry juice (recalled)",
        "CDC_HONEY": "US CDC, advice on infant botulism and honey (recalled)",
        "CFR101_9": "US 21 CFR 101.9(c)(9), daily value of sodium (recalled)",
        "CFR114": "US 21 CFR 114.3 and 114.90 (the latter recalled)",
        "CHILE_SCALE": "trade classes of chillies by Scoville units",
        "CHOSEN": "limit of our own: common practice, no source",
        "EGG_SAFETY": "US FDA, advice on egg safety (recalled)",
        "EU1169": "Regulation (EU) No 1169/2011, Annex II",
        "FALCPA_FASTER": "US allergen labelling acts of 2004 and 2021",
        "FDA_BBB2": "US FDA, Bad Bug Book, 2nd edition, 2012, phytohaemagglutinin (recalled)",
        "FDA_CPG525825": "US FDA, Compliance Policy Guide 525.825 (recalled)",
        "FDA_LABEL_GUIDE": "US FDA, guide to the nutrition label: 20 % is high (recalled)",
        "FOOD_CODE": "US FDA Food Code, pH and water activity, Table B; cooking temperatures"
        " (the latter recalled)",
        "GARLIC_OIL": "university extension and Health Canada advice on garlic in oil (4 days"
        " recalled)",
        "RECALL": "textbook knowledge, recalled",
        "SAFETY_GUARD": "guard band of our own for the error of the model",
        "USDA_CANNING": "USDA, Complete Guide to Home Canning, AIB 539",
        "USDA_RETENTION6": "USDA Table of Nutrient Retention Factors, Release 6, 2007",
    }
)

# --- foods --------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Foods:
    """How a kind of food is recognised.

    Parameters
    ----------
    keys : frozenset of str
        Food numbers and pantry keys.
    shelves : frozenset of str
        Shelves of the pantry and groups of the table that hold nothing else.
    pattern : re.Pattern or None
        Sought in lower-case ``"group: name"``.
    """

    keys: frozenset[str] = frozenset()
    shelves: frozenset[str] = frozenset()
    pattern: re.Pattern[str] | None = None


@dataclass(frozen=True)
class FoodRule:
    """A caution that one kind of food brings by itself, whatever else is in the pot.

    Parameters
    ----------
    rule : str
        Short name of the rule.
    foods : Foods
        The food that sets it off.
    sentence : str
        What the cook should know; ``{names}`` stands for the ingredients.
    sources : tuple of str
        Keys of :data:`CITATIONS`.
    """

    rule: str
    foods: Foods
    sentence: str
    sources: tuple[str, ...]


#: What gives away the kind of an ingredient of the kitchen's own, which has a name and no shelf.
_FISH = (
    "fish|tuna|salmon|mackerel|herrings?|sardines?|anchov(?:y|ies)|cod|trout|prawns?|shrimps?|crab"
    "|lobster|oysters?|mussels?|clams?|scallops?|squid|octopus|roe"
)
_DRINKS = (
    "rum|brandy|cognac|whisk(?:e?y|ies)|vodka|gin|wine|beer|ale|stout|spirits?|liqueur|sherry|port"
    "|madeira|marsala|vermouth|sake|mirin|bourbon|tequila|schnapps|bitters|cider"
)
_HOT_PODS = (
    r"\bchill?i|\bchiles?\b|habanero|jalape|scotch bonnet|cayenne|serrano|bird'?s? ?eye|chipotle"
    r"|hot sauce|hot pepper"
)

EGG_RAW = FoodRule(
    "raw egg",
    Foods(
        frozenset({"01123", "01124", "01125"}),
        pattern=re.compile(
            r": egg,(?!.*pasteuri[sz]ed).*\braw\b"
            r"|^own: (?!.*(?:pasteuri[sz]ed|cooked|boiled)).*\beggs?\b"
        ),
    ),
    "Raw {names} may carry salmonella, and acid is no cure: use pasteurised egg, or heat the sauce"
    f" to {EGG_C.value:.0f} °C all through, and keep it refrigerated.",
    ("EGG_SAFETY",),
)
HONEY = FoodRule(
    "honey and infants",
    Foods(pattern=re.compile(r"\bhoney\b")),
    "Give nothing with {names} to a child under 12 months, raw or cooked: it can cause infant"
    " botulism.",
    ("CDC_HONEY",),
)
FISH_RAW = FoodRule(
    "raw fish or shellfish",
    Foods(
        pattern=re.compile(
            rf"^finfish and shellfish products: .*\braw\b|^own: (?=.*\braw\b).*\b(?:{_FISH})\b"
        )
    ),
    f"Cook {{names}} to {FISH_C.value:.0f} °C all through, and keep what is left refrigerated.",
    ("FOOD_CODE",),
)
BEANS_RAW = FoodRule(
    "raw beans",
    Foods(
        pattern=re.compile(
            r"(?:mature seeds, |beans, (?!snap)|: lentils, ).*\braw\b"
            r"|^own: (?=.*\braw\b).*\b(?:beans?|lentils?)\b"
        )
    ),
    "Uncooked {names} can make people ill: soak dry beans 5 h or more, throw that"
    " water away, and boil them hard for 30 min in fresh water; a slow simmer is not enough.",
    ("FDA_BBB2",),
)
ELDERBERRY = FoodRule(
    "raw elderberries",
    Foods(pattern=re.compile(r"\belderberr")),
    "Cook {names} before anyone tastes them, and leave out stems, leaves and green berries: raw"
    " they can release cyanide.",
    ("CDC_ELDERBERRY",),
)
RHUBARB = FoodRule(
    "rhubarb leaves",
    Foods(pattern=re.compile(r"\brhubarb\b")),
    "Of {names} use the stalks only: the leaves are poisonous (oxalates).",
    ("RECALL",),
)
VINEGAR = Foods(pattern=re.compile(r": vinegar\b|\bvinegar$"))
DRINK = Foods(
    shelves=frozenset({"wine and spirit"}),
    pattern=re.compile(
        r"\balcoholic\b(?<!non-alcoholic)|\bliqueur\b|: wine\b|: beer\b"
        rf"|^own: (?!.*(?:vinegar|alcohol-free|without alcohol)).*\b(?:{_DRINKS})\b"
    ),
)
CHILLI = Foods(
    shelves=frozenset({"chilli"}),
    pattern=re.compile(
        r"\bpeppers?\b.*\b(?:hot|chil[ei]|jalapeno|serrano|hungarian|ancho|pasilla)\b"
        r"|\b(?:hot|chil[ei])\b.*\bpeppers?\b"
        rf"|^own: .*(?:{_HOT_PODS})"
    ),
)
#: Plants that are low in acid; they count where they bring water, see FRESH_WATER.
LOW_ACID_PLANT = Foods(
    shelves=frozenset(
        {
            "allium",
            "chilli",
            "fresh herb",
            "legume",
            "mustard",
            "spice",
            "vegetable",
            "Legumes and Legume Products",
            "Spices and Herbs",
            "Vegetables and Vegetable Products",
        }
    )
)
#: Fruits are acid enough where their published pH says so.
FRUIT = Foods(shelves=frozenset({"fruit", "Fruits and Fruit Juices"}))

# --- allergens ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class AllergenRule:
    """One allergen, where it must be named, and how the table's names give it away.

    Parameters
    ----------
    us_major, eu_annex_ii : bool
        Whether United States law and Annex II of the Union's regulation name it.
    pattern : re.Pattern
        Sought in lower-case ``"group: name"`` of foods without a list of allergens.
    """

    us_major: bool
    eu_annex_ii: bool
    pattern: re.Pattern[str]


def _allergen(us_major: bool, named: str, group: str = "") -> AllergenRule:
    pattern = f": .*(?:{named})" + (f"|{group}" if group else "")
    return AllergenRule(us_major, True, re.compile(pattern))


_NO_DAIRY = "".join(
    f"(?<!{food} )"
    for food in ("almond", "apple", "cashew", "coconut", "cocoa", "peanut", "sesame", "soy")
)

#: Names as in ``data/allergens.csv``. US "wheat" and the "barley, rye and oats" of the Union's
#: cereals containing gluten are two entries here.
ALLERGENS: Mapping[str, AllergenRule] = MappingProxyType(
    {
        "milk": _allergen(
            True,
            r"buttermilk|pesto|chocolate|cheese|yogurt|whey|casein"
            rf"|\b{_NO_DAIRY}(?:milk|cream|butter)\b",
            r"^dairy and egg products: (?!egg,)",
        ),
        "egg": _allergen(True, r"\beggs?\b|eggnog|mayonnaise|hollandaise|bearnaise|meringue"),
        "fish": _allergen(
            True,
            r"\bfish\b|anchov|worcestershire|surimi|salmon|\btuna\b|kimchi",
            r"^finfish and shellfish products: (?!crustaceans|mollusks)",
        ),
        "crustaceans": _allergen(True, r"crustacean|shrimp|prawn|\bcrab\b|crayfish|lobster|kimchi"),
        "tree nuts": _allergen(
            True,
            r"\bnuts\b(?!, coconut)|almond|\bwalnut|pecan|pistachio|hazelnut|filbert|cashew"
            r"|macadamia|brazil ?nut|pine nut|praline|nougat|pesto",
        ),
        "peanut": _allergen(True, r"peanut|mixed nuts"),
        "wheat": _allergen(
            True,
            r"\bwheat|bulgur|semolina|couscous|\bspelt\b|\bpasta\b|noodle|macaroni|spaghetti"
            r"|bread\b|cracker|shoyu|dumpling|gravy|soup, cream|hoisin|teriyaki|triticale"
            r"|sauce, oyster|broth cubes|bouillon",
        ),
        "barley, rye and oats": _allergen(
            False,
            r"\bbarley\b|\brye\b|\boats?\b|\bmalt|triticale|\bbeer\b|worcestershire"
            r"|yeast extract",
        ),
        "soybean": _allergen(
            True,
            r"\bsoy|tofu|\bmiso\b|natto|tempeh|edamame|hoisin|teriyaki|lecithin|sauce, oyster"
            r"|chocolate",
        ),
        "sesame": _allergen(True, r"sesame|tahini|halva|hummus|hoisin"),
        "celery": _allergen(False, r"celery|celeriac|\bbroth\b|bouillon|\bstock\b|yeast extract"),
        "mustard": _allergen(False, r"mustard|curry powder|mayonnaise|relish"),
        "lupin": _allergen(False, r"\blupin"),
        "molluscs": _allergen(
            False,
            r"mollus[ck]|\bclam\b|(?:sauce|soup), oyster|mussel|squid|octopus|cuttlefish|\bsnail",
        ),
        "sulphites": _allergen(
            False,
            r"\bwine\b|vinegar|(?<!un)sulfured|golden seedless|sun-dried|molasses"
            r"|horseradish|(?:lemon|lime) juice.*\b(?:canned|bottled)\b",
        ),
    }
)

#: Allergens that the curated list of a food does not carry and one of the two laws may ask for.
#: Pine nuts: not in Annex II; named a tree nut by US guidance (recalled), so said to be one here.
EXTRA_ALLERGENS: Mapping[str, tuple[str, ...]] = MappingProxyType({"12147": ("tree nuts",)})
