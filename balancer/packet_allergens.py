"""The allergens that the words of a packet mean, by the names that the project uses.

A word that is not known here is kept as it is written, so that no warning of a packet is lost.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType

from balancer.safety_constants import ALLERGENS
from balancer.search import plain

_GLUTEN = ("wheat", "barley, rye and oats")
#: Words of a packet, folded, for the allergens they mean; other words are kept as written.
PACKET_WORDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {plain(name): (name,) for name in ALLERGENS}
    | dict.fromkeys(("dairy", "lactose", "whey", "casein", "cream", "butter", "cheese"), ("milk",))
    | dict.fromkeys(("soy", "soya", "soja", "soybean"), ("soybean",))
    | {"gluten": _GLUTEN, "cereal containing gluten": _GLUTEN}
    | dict.fromkeys(("barley", "rye", "oat", "malt"), _GLUTEN[1:])
    | dict.fromkeys(("nut", "treenut"), ("tree nuts", "peanut"))
    | dict.fromkeys(
        ("walnut", "almond", "hazelnut", "cashew", "pecan", "pistachio", "macadamia", "brazil nut"),
        ("tree nuts",),
    )
    | dict.fromkeys(("groundnut", "arachis"), ("peanut",))
    | {"shellfish": ("crustaceans", "molluscs")}
    | dict.fromkeys(("shrimp", "prawn", "crab", "lobster", "crayfish"), ("crustaceans",))
    | dict.fromkeys(("mussel", "oyster", "clam", "squid", "mollusk"), ("molluscs",))
    | dict.fromkeys(("sulfite", "sulphur dioxide", "sulfur dioxide", "so2"), ("sulphites",))
    | {"celeriac": ("celery",), "lupine": ("lupin",), "sesame seed": ("sesame",)}
)


def named_allergens(words: Iterable[str]) -> tuple[str, ...]:
    """Allergens by the names that the project uses, from the words of a packet.

    Examples
    --------
    >>> named_allergens(["Soya", "gluten", "sweet lupin flour"])
    ('soybean', 'wheat', 'barley, rye and oats', 'sweet lupin flour')
    """
    found = [a for w in words for a in PACKET_WORDS.get(plain(w), (w.strip(),)) if a]
    return tuple(dict.fromkeys(found))
