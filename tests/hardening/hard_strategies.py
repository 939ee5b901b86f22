"""What anyone may type, paste or upload: well-shaped, nearly so, and not at all."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from typing import Any

from hypothesis import strategies as st

from balancer.composition import ACIDS, SUGARS
from balancer.constants import AXIS_NAMES

Strategy = st.SearchStrategy[Any]
FOODS = (
    "plums", "sugar", "cider vinegar", "salt", "ginger", "water", "lime juice", "garlic",
    "soy sauce", "olive oil", "tomatoes", "honey", "pineapple", "walnuts", "onions", "chili powder",
    "02047", "09279", "PLUMS", " salt ",
)  # fmt: skip
JUNK_TEXT = st.one_of(
    st.text(max_size=30),
    st.text(max_size=700),
    st.sampled_from(
        ["", " ", "\x00", "\ud800", "\u202e", "nan", "-1", "1e999", "{}", "null", "<b>", "../..",
         "'; DROP TABLE entry; --", "=1+1", "\U0001f336" * 50, "plums\nsalt", "a" * 5000,
         "9" * 400, "½", "１２", "٣", "1/0", "0x10", "%s{}", "C:\\CON"]
    ),
)  # fmt: skip
ODD_NUMBERS = st.one_of(
    st.sampled_from(
        [0, -0.0, -1, 1e-320, 1e-12, 1e7, 1.0000001e7, 1e308, -1e308, 10**400, float("nan"),
         float("inf"), float("-inf"), True, 3, 2**63]
    ),
    st.floats(),
    st.integers(-10, 10**9),
)  # fmt: skip
JUNK: Strategy = st.recursive(
    st.one_of(st.none(), st.booleans(), ODD_NUMBERS, JUNK_TEXT),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4), st.dictionaries(st.text(max_size=8), inner, max_size=4)
    ),
    max_leaves=6,
)
DEEP = st.sampled_from([50, 101, 900]).map(lambda n: json.loads("[" * n + "]" * n))
AMOUNT = st.one_of(st.floats(0.0, 500.0), st.sampled_from([0.0, 1e-9, 1e-3, 0.5, 100.0, 1e6]))
SHARE = st.one_of(st.floats(0.0, 1.0), st.sampled_from([0.0, 1.0, 1e-9]))


def some(required: dict[str, Strategy], optional: dict[str, Strategy], most: int) -> Strategy:
    """A mapping with all of the first and a few of the second."""

    def build(keys: list[str]) -> Strategy:
        return st.fixed_dictionaries({**required, **{k: optional[k] for k in keys}})

    keys = st.lists(st.sampled_from(sorted(optional)), max_size=most, unique=True)
    return keys.flatmap(build)


PARTS = st.dictionaries(
    st.sampled_from(["water", "sugars", "acids", "oil_citrus", "fibre", "sodium", "bulk"]),
    SHARE,
    min_size=1,
    max_size=3,
)
ENTRY = some(
    {"name": st.sampled_from(FOODS)},
    {
        "draft_g": AMOUNT, "min_g": AMOUNT, "max_g": AMOUNT, "locked_g": AMOUNT,
        "share_min": SHARE, "share_max": SHARE, "keep_share": SHARE,
        "goes_in": st.sampled_from(["start", "late", "raw"]),
        "strength": some({}, {k: st.floats(0, 100) for k in ("acetic_pct", "salt_pct", "brix")}, 2),
        "taken_out": st.one_of(st.booleans(), PARTS), "sieved": PARTS,
        "yield": st.floats(0.01, 1.0), "yield_loses": st.sampled_from(["water", "all"]),
    },
    2,
)  # fmt: skip
LEVEL = st.one_of(
    st.floats(0.0, 30.0),
    st.sampled_from([0.0, 1e-9, 1e6]),
    st.tuples(st.floats(0, 20), st.floats(0, 20)).map(
        lambda ends: {"low": min(ends), "high": max(ends)}
    ),
    st.sampled_from([{"perceived": "moderate"}, {"perceived": "very strong", "weight": 3}]),
)


def _name(entry: Any) -> Any:
    return entry["name"].strip().casefold()


LIMITS = some(
    {},
    {
        "ph_max": st.floats(2.0, 7.0), "sodium_mg_per_100g_max": st.floats(0, 3000),
        "fat_g_per_100g_max": st.floats(0, 100), "acidity_pct_citric_min": st.floats(0, 5),
        "sugar_acid_min": st.floats(0, 30), "sugar_acid_max": st.floats(0, 60),
        "water_activity_max": st.floats(0.5, 1.0), "sodium_mg_per_serving_max": st.floats(0, 3000),
        "serving_g": st.floats(0.1, 500),
    },
    2,
)  # fmt: skip
RATIO = st.tuples(st.sampled_from(FOODS), st.sampled_from(FOODS), AMOUNT, st.booleans()).map(
    lambda r: {"of": r[0], "to": r[1], **({"value": r[2]} if r[3] else {"high": r[2]})}
)
REQUEST = some(
    {
        "ingredients": st.lists(ENTRY, min_size=1, max_size=7, unique_by=_name),
        "target": st.dictionaries(st.sampled_from(AXIS_NAMES), LEVEL, min_size=1, max_size=5),
    },
    {
        "name": JUNK_TEXT, "yield_g": st.one_of(AMOUNT, st.just(500.0)),
        "yield_ml": st.floats(1, 5000), "water_lost_g": AMOUNT, "dead_band_jnd": st.floats(0, 3),
        "limits": LIMITS, "ratios": st.lists(RATIO, max_size=3),
        "simmer": some({}, {"minutes": st.floats(0, 60), "to_brix": st.floats(1, 90)}, 1),
    },
    3,
).map(lambda r: r if "yield_ml" in r or "yield_g" in r else {"yield_g": 500.0, **r})  # fmt: skip


@st.composite
def broken(draw: Callable[[Strategy], Any], whole: Strategy) -> Any:
    """A document with one or two places replaced, removed, doubled or added."""
    document = copy.deepcopy(draw(whole))
    for _ in range(draw(st.integers(1, 2))):
        places: list[tuple[Any, Any]] = []
        waiting = [document]
        while waiting:
            value = waiting.pop()
            keys = (
                list(value) if isinstance(value, dict)
                else range(len(value)) if isinstance(value, list) else ()
            )  # fmt: skip
            places += [(value, key) for key in keys]
            waiting += [value[key] for key in keys]
        if not places:
            return draw(JUNK)
        holder, key = places[draw(st.integers(0, len(places) - 1))]
        act = draw(st.sampled_from(["replace", "replace", "number", "deep", "remove", "add"]))
        if act == "remove":
            del holder[key]
        elif act == "add" and isinstance(holder, dict):
            holder[draw(JUNK_TEXT)] = draw(JUNK)
        else:
            new = {"number": ODD_NUMBERS, "deep": DEEP}.get(act, JUNK)
            holder[key] = draw(new)
    return document


@st.composite
def smudged(draw: Callable[[Strategy], Any], text: Strategy) -> str:
    """A text with a few letters cut out, doubled or replaced."""
    found: str = draw(text)
    for _ in range(draw(st.integers(0, 3))):
        at = draw(st.integers(0, len(found)))
        width = draw(st.integers(0, 12))
        found = found[:at] + draw(JUNK_TEXT)[:40] + found[at + width :]
    return found


NUMBER_TEXT = st.one_of(
    st.sampled_from(["1", "1 1/2", "½", "3,5", "1.234,5", "2-3", "1,000", "2 to 3", "a", "ten",
                     "1e3", "٣", "1/0", "0", "-4", "1 / 3", "9" * 30, "⅓", "3½", "1 ½"]),
    st.floats(0, 1e4).map(lambda x: f"{x:.3g}"),
)  # fmt: skip
UNIT_TEXT = st.sampled_from(
    ["g", "kg", "tbsp", "tsp", "cup", "cups", "ml", "oz", "lb", "fl oz", "pinch of", "cloves",
     "can", "", "bunch", "stone", "L", "%", "metric cup", "µg", "(14 oz) can", "large", "each"]
)  # fmt: skip
AMOUNT_TEXT = st.tuples(NUMBER_TEXT, UNIT_TEXT).map(lambda p: f"{p[0]} {p[1]}")
LINE = st.tuples(
    AMOUNT_TEXT,
    st.sampled_from([*FOODS, "and", "juice of 3 limes", "salt and pepper", "fresh plums, pitted"]),
    st.sampled_from(["", ", to taste", ", chopped (about 2 cups)", " plus 1 tbsp sugar", " each"]),
).map(lambda p: f"{p[0]} {p[1]}{p[2]}")
PASTE = st.lists(st.one_of(LINE, LINE, smudged(LINE), JUNK_TEXT), max_size=8).map("\n".join)

_LABEL = {
    "form": st.sampled_from(["US", "EU", "us", "FR"]), "per_g": st.floats(1, 500),
    "per_ml": st.floats(1, 500),
    **{k: st.floats(0, 40) for k in ("fat_g", "carbohydrate_g", "sugars_g", "protein_g", "fibre_g",
                                     "starch_g", "salt_g", "alcohol_pct")},
    **{k: st.floats(0, 3000) for k in ("sodium_mg", "potassium_mg", "calcium_mg", "energy_kcal")},
}  # fmt: skip
LABEL = some({"per_g": st.sampled_from([15.0, 100.0])}, _LABEL, 5)
OWN = some(
    {"name": st.sampled_from(["my limes", "plum sauce", "stock"])},
    {
        "label": LABEL, "brix": st.floats(0, 100), "acidity_pct": st.floats(0, 20),
        "ph": st.floats(0, 14), "salt_pct": st.floats(0, 40), "acid": st.sampled_from(ACIDS),
        "sugar": st.sampled_from(SUGARS), "of": st.sampled_from(FOODS),
        "like": st.sampled_from(FOODS), "allergens": st.lists(JUNK_TEXT, max_size=2),
    },
    4,
)  # fmt: skip
_READ = {
    "brix": st.floats(0, 40), "acidity_pct": st.floats(0, 4), "salt_pct": st.floats(0, 8),
    "ph": st.floats(1.5, 8), "fat_pct": st.floats(0, 20), "solids_pct": st.floats(0, 10),
    "acid": st.sampled_from(ACIDS), "sugar": st.sampled_from(SUGARS),
}  # fmt: skip
_MISREAD = {k: JUNK_TEXT if k in ("acid", "sugar") else ODD_NUMBERS for k in _READ}
READINGS = st.one_of(
    some({"mass_g": st.floats(1, 5000)}, _READ, 4),
    st.tuples(
        some({"mass_g": st.floats(1, 5000)}, _READ, 3),
        some({}, {"mass_g": ODD_NUMBERS, **_MISREAD}, 1),
    ).map(lambda both: both[0] | both[1]),
)
_SAID = st.sampled_from(
    ["too sharp", "a touch sweeter", "no body", "the rest is right", "sharper than I want",
     "not salty enough", "much less hot", "fine", "salt is fine", "and", "but", "thinner", "n't",
     "too little salt", "less", "heat is right", "more more more", "not too sour", "less fat"]
)  # fmt: skip
WORDS = st.one_of(
    st.lists(_SAID, min_size=1, max_size=3),
    st.lists(st.one_of(_SAID, JUNK_TEXT), max_size=4),
).map(", ".join)
STEPS = st.dictionaries(st.one_of(st.sampled_from(AXIS_NAMES), JUNK_TEXT), ODD_NUMBERS, max_size=3)
LINKED = some(
    {
        "@type": st.sampled_from(["Recipe", ["Thing", "Recipe"], "schema:Recipe", "HowTo"]),
        "name": st.one_of(st.just("plum dip"), JUNK_TEXT),
        "recipeIngredient": st.lists(st.one_of(LINE, LINE, JUNK), max_size=5),
    },
    {
        "recipeYield": st.one_of(AMOUNT_TEXT, JUNK), "recipeInstructions": JUNK, "@graph": JUNK,
        "ingredients": JUNK, "prepTime": st.sampled_from(["PT15M", "P1DT2H", "PT", "P99999D", 15]),
    },
    3,
)  # fmt: skip
