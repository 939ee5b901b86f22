"""From pasted text to a draft: free recipe lines become grams and ingredients.

A line that names several ingredients is taken apart; a juice or zest is told from its fruit. What
comes back of each line, understood or not, is described in :mod:`balancer.draft_lines`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from balancer.catalogue import Catalogue
from balancer.composition import Ingredient
from balancer.draft_lines import Draft, DraftLine, Kind
from balancer.errors import BadInput
from balancer.parse_amounts import Quantity, ReadLine, read_line, tidy
from balancer.parse_names import EXACT, MOST_SEARCHES, Match, Searches, counted_by_name, is_name
from balancer.parse_names import matches as name_matches
from balancer.parse_weights import COUNTED, UNKNOWN, Weight, weigh, yield_of
from balancer.search import LONGEST_NAME
from balancer.units import Amount

MOST_LINES, LONGEST_LINE = 5000, 400
#: Below this a name is shown as not found, with what it may mean [1]; chosen.
LEAST_SURE = 0.5
#: How far zest by the fruit can be trusted [1]; chosen.
ZEST_TRUST = 0.5
#: A share thrown away from which it matters whether peel and stones were weighed [1].
REFUSE = 0.05
#: From this share on such a weight is no longer good, and how far it is trusted then [1]; chosen.
MUCH_REFUSE, IN_DOUBT_TRUST = 0.2, 0.6
#: Teaspoons of zest on one fruit; common practice, no source.
ZEST_TSP: Mapping[str, float] = MappingProxyType(
    {"lemon": 2.0, "lime": 1.0, "orange": 4.0, "grapefruit": 6.0}
)
_TASTE = re.compile(
    r"[,;]?\s*\b(?:to taste|as (?:needed|required|desired)|as you like|if (?:needed|desired|liked)"
    r"|for (?:serving|garnish|frying|greasing|brushing)|to (?:serve|garnish|finish)|optional)\b",
    re.IGNORECASE,
)
_JUICE = re.compile(
    r"^(?:the\s+|about\s+)?(?:(?:finely|freshly)\s+)?(?:grated\s+|squeezed\s+)?"
    r"(?P<parts>(?:juice|zest|rind)(?:\s*(?:and|&|\+)\s*(?:grated\s+)?(?:juice|zest|rind))?)"
    r"\s+(?:of|from)\s+(?P<rest>.+)$",
    re.IGNORECASE,
)
_JUICED = re.compile(r"\b(juiced?|zested|zest)\b(?:\s+only)?", re.IGNORECASE)
_JOINED = r"(?:and|plus|\+|&|(?:mixed|whisked|stirred) (?:with|into|in)|dissolved in|with)"
_WITHOUT_REFUSE = re.compile(
    r"\b(pitted|stoned|peeled|shelled|cored|seeded|toasted|drained|cans?|tins?|tinned|jars?)\b",
    re.I,
)
_HEADING = re.compile(r"^(?:#+\s.*|for the\b[^\d]*|[^\d]*:|[-=_*~\s]+)$", re.IGNORECASE)


def parse_draft(text: str, catalogue: Catalogue) -> Draft:
    """Read a pasted draft, one ingredient a line.

    Parameters
    ----------
    text : str
        Up to :data:`MOST_LINES` lines.
    catalogue : Catalogue
        Where names and household weights are looked up.

    Raises
    ------
    BadInput
        If there is no line, or there are too many.
    """
    pasted = [(i, line) for i, line in enumerate(text.splitlines(), 1) if line.strip()]
    if not pasted:
        raise BadInput("The draft is empty. Paste one ingredient a line, as '2 tbsp rice vinegar'.")
    if len(pasted) > MOST_LINES:
        raise BadInput(
            f"The draft has {len(pasted)} lines, over {MOST_LINES}. Paste one recipe at a time."
        )
    searches = Searches()
    found: list[DraftLine] = []
    read: dict[str, list[DraftLine]] = {}
    for number, line in pasted:
        if line not in read:
            read[line] = _parsed(number, line, catalogue, searches)
        found += [replace(x, number=number) for x in read[line]]
    return Draft(tuple(found))


def parse_line(
    text: str,
    catalogue: Catalogue,
    number: int = 1,
    *,
    taken_for: Mapping[int, str] | None = None,
) -> tuple[DraftLine, ...]:
    """Read one line; it comes back as more than one where it names more than one ingredient.

    Parameters
    ----------
    text : str
    catalogue : Catalogue
    number : int
        Its number in the paste.
    taken_for : mapping of int to str or None
        Which of its ingredients, from 0, and the food number it means, where the cook knows.

    Examples
    --------
    >>> from balancer.catalogue import default_catalogue
    >>> line, = parse_line("juice of 3 limes", default_catalogue())
    >>> line.match.ingredient.name, line.weight.grams
    ('lime juice', 132.0)
    """
    means = {place: catalogue.food(key) for place, key in (taken_for or {}).items()}
    return tuple(_parsed(number, text, catalogue, Searches(), means))


def _parsed(
    number: int,
    text: str,
    catalogue: Catalogue,
    searches: Searches,
    means: Mapping[int, Ingredient] = MappingProxyType({}),
) -> list[DraftLine]:
    if len(text) > LONGEST_LINE:
        note = f"The line has {len(text)} letters, over {LONGEST_LINE}. Write it shorter."
        return [DraftLine(number, text, Kind.NOT_READ, note=note)]
    plain_text = tidy(text)
    if _HEADING.match(plain_text):
        return [DraftLine(number, text, Kind.HEADING)]
    found: list[DraftLine] = []
    for place, part in enumerate(_parts(plain_text, catalogue)):
        blank = DraftLine(number, text, Kind.NOT_READ)
        try:
            found.append(_one(blank, part, catalogue, searches, means.get(place)))
        except BadInput as error:
            found.append(replace(blank, note=str(error)))
    return found


def _parts(text: str, catalogue: Catalogue) -> list[str]:
    """A line taken apart where it names two ingredients with two amounts, or two parts of one."""
    squeezed = _JUICE.match(text)
    if squeezed and re.search(r"and|&|\+", squeezed["parts"]):
        words = re.findall(r"juice|zest|rind", squeezed["parts"], re.IGNORECASE)
        return [f"{word} of {squeezed['rest']}" for word in words]
    both = re.match(
        r"^(?P<amount>[\d\s/.]*)(?P<fruit>[a-z ]+?),? (?:juiced? and (?:grated )?zest(?:ed)?"
        r"|(?:grated )?zest(?:ed)? and juiced?)$",
        text,
        re.IGNORECASE,
    )
    if both:
        return [f"{word} of {both['amount']}{both['fruit']}" for word in ("juice", "zest")]
    each = re.match(r"^(?P<amount>.*\d.*?) each(?: of)? (?P<names>\D+)$", text, re.IGNORECASE)
    if each:
        names = re.split(r",\s*(?:and\s+)?|\s+(?:and|&)\s+", each["names"])
        return [f"{each['amount']} {name}" for name in names if name]
    dosed = re.match(r"^(?P<dose>.*\b(?:pinch|dash|splash)(?:es)? of )(?P<names>.+)$", text, re.I)
    both_names = re.split(r"\s+(?:and|&)\s+", dosed["names"]) if dosed else []
    if dosed and len(both_names) > 1 and all(is_name(n, catalogue) for n in both_names):
        return [dosed["dose"] + name for name in both_names]
    bare = re.split(r"\s+(?:and|&)\s+", text)
    if len(bare) > 1 and not is_name(text, catalogue) and all(is_name(b, catalogue) for b in bare):
        return bare
    taste = _TASTE.search(text)
    if taste and not re.search(r"\d", text):
        names = re.split(r"\s+(?:and|&)\s+|,\s*", _TASTE.sub("", text).strip(" ,."))
        return [f"{name} to taste" for name in names if name] or [text]
    two = re.match(rf"^(.*[a-z]{{3,}}.*?[^\W\d]{{3,}})\s+{_JOINED}\s+(\d.*[a-z]{{2,}}.*)$", text)
    if two:
        first, second = read_line(two[1]), read_line(two[2])
        if first.quantities and first.name and second.quantities and second.name:
            return [two[1], two[2]]
    return [text]


def _one(
    blank: DraftLine,
    text: str,
    catalogue: Catalogue,
    searches: Searches,
    means: Ingredient | None = None,
) -> DraftLine:
    to_taste = _TASTE.search(text) is not None
    text = _TASTE.sub("", text).strip()
    squeezed = _JUICE.match(text)
    part = ""
    if squeezed:
        part, text = squeezed["parts"].casefold(), squeezed["rest"]
    read = read_line(text)
    if read.quantities and not read.quantities[0].unit and not part:
        juiced = _JUICED.search(read.remarks)
        part = ("zest" if "zest" in juiced[0].casefold() else "juice") if juiced else ""
    name = read.name
    if not re.search(r"[^\W\d_]", name):
        return replace(blank, note="No ingredient is named. Write an amount and a name.")
    if len(name) > LONGEST_NAME:
        note = f"The name has {len(name)} letters, over {LONGEST_NAME}. Write it shorter."
        return replace(blank, name=name, note=note)
    read, name = counted_by_name(read, name, catalogue)
    matches = name_matches(name, read.remarks, part, catalogue, searches)
    if means is not None:
        others = [m for m in matches if m.ingredient.key != means.key]
        matches = (Match(means, EXACT), *others)
    if not matches or matches[0].sure < LEAST_SURE:
        note = f"Nothing in the pantry or the table is called {name[:60]!r}. Try a plainer word."
        if not matches and searches.left <= 0:
            note = (
                f"{name[:60]!r} was not searched for: over {MOST_SEARCHES} names of this draft are"
                " unknown. Paste it in parts."
            )
        return replace(
            blank,
            kind=Kind.NOT_FOUND,
            name=name,
            alternatives=matches[:5],
            weight=_mass_only(read),
            note=note,
        )
    line = replace(blank, name=name, match=matches[0], alternatives=matches[1:5])
    return _weighed(line, read, part, text, catalogue, to_taste)


def _weighed(
    line: DraftLine, read: ReadLine, part: str, text: str, catalogue: Catalogue, to_taste: bool
) -> DraftLine:
    assert line.match is not None
    ingredient = line.match.ingredient
    weight = _weight(read, ingredient, part, text, catalogue)
    notes = []
    if math.isnan(weight.grams) or weight.grams <= 0:
        if to_taste or not read.quantities:
            kind = Kind.TO_TASTE if to_taste else Kind.NO_WEIGHT
            note = "No amount is given; give one, or leave it to the solver."
        else:
            kind = Kind.NO_WEIGHT
            note = (
                f"Nothing says what {_amount_text(read)} of {ingredient.name} weighs. Weigh it"
                " and give grams."
            )
        return replace(line, kind=kind, weight=UNKNOWN, note=note)
    if weight.high_g > weight.low_g:
        notes.append(f"The middle of {weight.low_g:.4g} to {weight.high_g:.4g} g.")
    peeled = _WITHOUT_REFUSE.search(text.partition(",")[0]) is not None
    if ingredient.refuse >= REFUSE and weight.how == "weighed" and not peeled:
        notes.append(
            "Taken as the part that is eaten; weighed with all its peel and stones it would be"
            f" {weight.grams * (1 - ingredient.refuse):.3g} g."
        )
        if ingredient.refuse >= MUCH_REFUSE:
            weight = replace(weight, trust=min(weight.trust, IN_DOUBT_TRUST))
    return replace(line, kind=Kind.READ, weight=weight, note=" ".join(notes))


def _weight(
    read: ReadLine, ingredient: Ingredient, part: str, text: str, catalogue: Catalogue
) -> Weight:
    if read.stated is not None:
        return weigh(read.stated, ingredient, text, catalogue)
    counted = read.quantities or ((Quantity(1.0, 1.0, ""),) if part else ())
    if part and counted and counted[0].unit in ("", "fruit"):
        return _part_of_fruit(counted[0], ingredient, part, catalogue)
    found = [weigh(q, ingredient, text, catalogue) for q in counted]
    if not found:
        return UNKNOWN
    return Weight(
        math.fsum(w.low_g for w in found),
        math.fsum(w.high_g for w in found),
        "; ".join(dict.fromkeys(w.how for w in found)),
        min(w.trust for w in found),
    )


def _part_of_fruit(
    count: Quantity, ingredient: Ingredient, part: str, catalogue: Catalogue
) -> Weight:
    """Juice or zest of so many fruit."""
    if part == "juice":
        found = yield_of(ingredient, catalogue)
        if found is None:
            return UNKNOWN
        return Weight(count.low * found[0], count.high * found[0], found[1], COUNTED)
    spoons = ZEST_TSP.get(ingredient.name.split()[0])
    if spoons is None:
        return UNKNOWN
    spooned = Quantity(count.low * spoons, count.high * spoons, "tsp", sure=False)
    weight = weigh(spooned, ingredient, "", catalogue)
    trust = min(weight.trust, ZEST_TRUST)
    return replace(
        weight, trust=trust, how=f"{spoons:g} tsp a fruit, common practice; {weight.how}"
    )


def _mass_only(read: ReadLine) -> Weight:
    stated = read.stated or (read.quantities[0] if len(read.quantities) == 1 else None)
    if stated is None or not stated.is_mass:
        return UNKNOWN
    unit_g = Amount(1.0, stated.unit).in_unit("g")
    return Weight(stated.low * unit_g, stated.high * unit_g, "weighed", 1.0)


def _amount_text(read: ReadLine) -> str:
    quantity = read.quantities[0]
    return " ".join(p for p in (f"{quantity.high:g}", quantity.size, quantity.unit) if p)
