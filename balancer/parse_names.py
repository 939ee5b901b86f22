"""Which ingredient a name in a draft means, how sure that is, and what else it may mean.

Names and synonyms of the pantry come first, as written and then without the words that say how
something is prepared; then the longest part that is a name; then what is spelled nearest.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, lru_cache
from types import MappingProxyType

from balancer.catalogue import Catalogue
from balancer.composition import Ingredient
from balancer.parse_amounts import ReadLine
from balancer.search import find, plain

#: Names that are not in the pantry and are searched for in one draft; each takes some ms.
MOST_SEARCHES = 150
#: How sure a name is, by how it was found [1]; chosen.
EXACT, WITHOUT_PREPARATION, PART_OF_IT, NEAREST = 1.0, 0.95, 0.7, 0.8
#: Score of a search [points of 100] below which the whole table is searched too.
LIKE_ENOUGH = 80.0
#: Another name this near to the best leaves the line open to doubt, and what that costs [1].
AS_NEAR, IN_DOUBT = 0.95, 0.8
_KIN_SURE = 0.35
#: What a bare word most often stands for in a kitchen; common practice, no source.
USUAL: Mapping[str, str] = MappingProxyType(
    {
        "oil": "vegetable oil",
        "stock": "chicken stock",
        "broth": "chicken stock",
        "wine": "white wine",
        "pepper flake": "chilli flake",
    }
)
#: Words that say how something is bought, cut or dosed, and not what it is.
_PREPARED = (
    "fresh freshly ripe finely roughly coarsely thinly thickly chopped minced sliced diced grated"
    " peeled pitted stoned crushed cubed halved quartered seeded deseeded cored washed rinsed"
    " drained squeezed juiced zested shredded julienned torn picked trimmed toasted warm cold hot"
    " room temperature organic good quality best large small medium big whole firm soft softened"
    " melted sifted packed heaped plus extra more for of a an the about and or to well very each"
    " boneless skinless unpeeled lightly crumbled bruised smashed pressed boiling lukewarm fine"
    " coarse plain thumb sized piece bunch pure unwaxed ready cut into cube chunk piece slice"
    " strip segment matchstick ground cracked raw peel only leave leaf"
)


@cache
def _prepared() -> frozenset[str]:
    return frozenset(_PREPARED.split())


@dataclass(frozen=True)
class Match:
    """One ingredient a line may mean.

    Parameters
    ----------
    ingredient : Ingredient
    sure : float
        How sure the name is, 0 to 1 [1].
    """

    ingredient: Ingredient
    sure: float


@dataclass
class Searches:
    """What was searched for in one draft, so that no name is searched twice."""

    left: int = MOST_SEARCHES
    known: dict[str, tuple[Match, ...]] = field(default_factory=dict)


def counted_by_name(read: ReadLine, name: str, catalogue: Catalogue) -> tuple[ReadLine, str]:
    """Move a counting word from the name to the amount: "3 garlic cloves", "6 basil leaves"."""
    if len(read.quantities) != 1 or read.quantities[0].unit:
        return read, name
    words = name.split()
    last = plain(words[-1])
    counts = ("clove", "leave", "leaf", "sprig", "stalk", "stick", "head", "bulb", "pod")
    if len(words) < 2 or last not in counts:
        return read, name
    unit = "leaf" if last == "leave" else last
    shorter = " ".join(words[:-1])
    if plain(shorter) not in _pantry_names(catalogue) and plain(name) in _pantry_names(catalogue):
        return read, name
    counted = replace(read.quantities[0], unit=unit)
    keep = name if plain(name) in _pantry_names(catalogue) else shorter
    return replace(read, quantities=(counted,)), keep


@lru_cache(maxsize=8)
def _pantry_names(catalogue: Catalogue) -> Mapping[str, Ingredient]:
    """Folded name or synonym to the one ingredient of the pantry that it means; names win."""
    found = {plain(s): i for i in reversed(catalogue.pantry) for s in i.synonyms}
    return found | {plain(i.name): i for i in reversed(catalogue.pantry)}


def is_name(text: str, catalogue: Catalogue) -> bool:
    """Whether a text is a name of the pantry as it stands, or without its preparation."""
    words = plain(text).split()
    known = _pantry_names(catalogue)
    bare = " ".join(w for w in words if w not in _prepared())
    return " ".join(words) in known or bare in known or bare in USUAL


@lru_cache(maxsize=8)
def _table_names(catalogue: Catalogue) -> Mapping[str, Ingredient]:
    return {plain(i.name): i for i in reversed(catalogue.table)}


def matches(
    name: str, remarks: str, part: str, catalogue: Catalogue, searches: Searches
) -> tuple[Match, ...]:
    """What a name may mean, best first."""
    if part:
        fruit = matches(name, "", "", catalogue, searches)
        if fruit:
            single = plain(fruit[0].ingredient.name)
            ingredient = _pantry_names(catalogue).get(f"{single} {part.replace('rind', 'zest')}")
            if ingredient is not None:
                others = [m for m in fruit[:3] if m.ingredient.key != ingredient.key]
                return (Match(ingredient, fruit[0].sure), *others)
        return ()
    known = _pantry_names(catalogue)
    first, _, other = re.sub(r"\s+or\s+", "|", name).partition("|")
    found: list[Match] = []
    short = [w for w in plain(first).split() if w not in _prepared()]
    tries = [
        (f"{name}, {remarks}", EXACT),
        (name, EXACT),
        (first, EXACT),
        (f"fresh {first}" if "fresh" in name else "", EXACT),
        (f"ground {' '.join(short)}" if "ground" in name else "", EXACT),
        (" ".join(short), WITHOUT_PREPARATION),
    ]
    for text, sure in tries:
        ingredient = known.get(plain(text)) or (
            _table_names(catalogue).get(plain(text)) if sure == EXACT else None
        )
        if ingredient is not None:
            found.append(Match(ingredient, sure))
            break
    if other:
        found += matches(other, "", "", catalogue, searches)[:1]
    usual = known.get(USUAL.get(" ".join(short), ""))
    if usual is not None and not found:
        others = [replace(m, sure=_KIN_SURE) for m in _nearest(first, catalogue, searches)]
        return _unique([Match(usual, PART_OF_IT * IN_DOUBT), *others])
    if found and found[0].sure >= WITHOUT_PREPARATION:
        return _unique([*found, *_kin(found[0].ingredient, catalogue)])
    found = list(_unique([*found, *_parts_of(short, known), *_nearest(first, catalogue, searches)]))
    near = [m for m in found if m.sure >= AS_NEAR * found[0].sure]
    if len(near) > 1:
        found = [replace(m, sure=m.sure * (IN_DOUBT if m in near else 1.0)) for m in found]
    return _unique(found)


def _parts_of(words: Sequence[str], known: Mapping[str, Ingredient]) -> list[Match]:
    """Longest run of words that is a pantry name, the last such run first."""
    for n in range(min(len(words) - 1, 4), 0, -1):
        for start in range(len(words) - n, -1, -1):
            ingredient = known.get(" ".join(words[start : start + n]))
            if ingredient is not None:
                return [Match(ingredient, PART_OF_IT * n / len(words))]
    return []


def _nearest(name: str, catalogue: Catalogue, searches: Searches) -> tuple[Match, ...]:
    wanted = plain(name)
    if wanted not in searches.known:
        if searches.left <= 0:
            return ()
        searches.left -= 1
        hits = find(catalogue, name, 5, table=False)
        if not hits or hits[0].score < LIKE_ENOUGH:
            hits = find(catalogue, name, 5)
        searches.known[wanted] = tuple(
            Match(h.ingredient, NEAREST * (h.score / 100.0) ** 2) for h in hits
        )
    return searches.known[wanted]


@lru_cache(maxsize=1024)
def _kin_of(catalogue: Catalogue, key: str) -> tuple[Ingredient, ...]:
    """Up to four others of the pantry whose names share the last word of a name."""
    last = plain(catalogue.by_key[key].name).split()[-1]
    return tuple(
        i for i in catalogue.pantry if last in plain(i.name).split() and i.key != key
    )[:4]  # fmt: skip


def _kin(ingredient: Ingredient, catalogue: Catalogue) -> list[Match]:
    if ingredient.key not in catalogue.by_key:
        return []
    return [Match(i, _KIN_SURE) for i in _kin_of(catalogue, ingredient.key)]


def _unique(matches: Sequence[Match]) -> tuple[Match, ...]:
    best: dict[str, Match] = {}
    for match in matches:
        if match.ingredient.key not in best or best[match.ingredient.key].sure < match.sure:
            best[match.ingredient.key] = match
    return tuple(sorted(best.values(), key=lambda m: -m.sure))
