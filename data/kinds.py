"""Names of the components and the kinds of ingredient that the rules of curate.py speak of."""

from __future__ import annotations

from collections.abc import Mapping

BULK = ("water", "protein", "fat", "starch", "fibre", "ash", "ethanol")
NAMED_SUGARS = ("sucrose", "glucose", "fructose", "lactose", "maltose", "galactose")
SUGARS = (*NAMED_SUGARS, "other_sugars")
ACIDS = (
    "citric", "malic", "tartaric", "lactic", "acetic", "oxalic", "succinic", "quinic", "gluconic",
)  # fmt: skip
MINERALS = ("sodium", "potassium", "calcium", "magnesium", "phosphorus")
OILS = (
    "oil_herb", "oil_warm_spice", "oil_citrus", "oil_allium", "oil_mustard", "oil_floral",
    "oil_smoke",
)  # fmt: skip
AROMATICS = (*OILS, "allium_sulphur", "isothiocyanates")
IONS = (*MINERALS, "chloride", "strong_ion_charge")
COMPONENTS = (
    *BULK, *SUGARS, "other_carbohydrate", *ACIDS, *IONS, "glutamate", "capsaicinoids", *AROMATICS,
)  # fmt: skip
MASSES = (*BULK, *SUGARS, "other_carbohydrate", *ACIDS)

SHU_PER_MG_PER_100G = 160.0
"""Scoville units of 1 mg of capsaicinoids in 100 g: 10 ppm times 16 SHU per ppm."""

MINERAL_KINDS = frozenset({"salt", "water"})
PURE_KINDS = frozenset({"salt", "sugar", "acid", "glutamate", "water"})
OIL_KINDS = frozenset({"oil", "oil_scented", "oil_mustard", "fat"})
DAIRY_KINDS = frozenset({"dairy", "cultured", "dairyfat"})
ANIMAL_KINDS = DAIRY_KINDS | {"egg", "fish", "gelatin"}
STARCH_KINDS = frozenset({"starch", "bread"})
NO_STARCH_KINDS = PURE_KINDS | OIL_KINDS | ANIMAL_KINDS | {
    "syrup", "vinegar", "citrus", "peel", "wine", "sake", "spirit", "spirit_scented", "liqueur",
    "infusion", "gum", "fishferment",
}  # fmt: skip
ODOURLESS_KINDS = PURE_KINDS | ANIMAL_KINDS | {"oil", "fat", "vinegar", "starch", "gum", "syrup"}
FRUIT_KINDS = frozenset({"fruit", "citrus", "pome", "stone", "grape", "pepper"})
MIXED_KINDS = frozenset({"prepared", "blend", "broth", "pickle", "ferment_hot", "bread", "extract"})
CHILLI_KINDS = frozenset({"chilli", "chilli_dry", "chilli_smoked"})
ALLIUM_KINDS = frozenset({"allium", "allium_dry"})
BRASSICA_KINDS = frozenset({"brassica", "horseradish", "mustard", "mustard_sauce", "oil_mustard"})
FERMENTED_KINDS = MIXED_KINDS | {
    "wine", "sake", "spirit", "spirit_scented", "liqueur", "beer", "vinegar", "ferment",
    "soyferment", "fishferment", "mustard_sauce", "horseradish",
}  # fmt: skip
LIKELIEST_ACID: Mapping[str, str] = {
    **dict.fromkeys(("stone", "pome"), "malic"),
    **dict.fromkeys(("grape", "tamarind"), "tartaric"),
    **dict.fromkeys(("vinegar", "pickle", "mustard_sauce", "prepared"), "acetic"),
    **dict.fromkeys(DAIRY_KINDS, "lactic"),
    **dict.fromkeys(("ferment", "ferment_hot", "soyferment", "fishferment"), "lactic"),
}
"""Ingredient kind -> the acid that takes an unsplit total; citric where the kind is not named."""
