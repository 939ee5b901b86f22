"""A plain method and the checks that go with it, from what is in the recipe.

The order of the work and the wording are common practice, no source.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from balancer.measures import weight_text
from balancer.recipe.parts import LEAST_G, Line, Waters, water_lost_g
from balancer.safety_constants import PH_STRIPS

_DRY = re.compile(r"\b(sugar|salt|powder|ground|starch|cornstarch|flour)\b", re.IGNORECASE)
_WET = re.compile(
    r"\b(water|juice|vinegar|wine|sake|mirin|milk|cream|buttermilk|yogh?urt|oil|sauce|syrup|honey"
    r"|molasses|stock|broth|puree|paste|mustard|ketchup)\b",
    re.IGNORECASE,
)
_WHOLE = re.compile(r"\b(seeds?|flakes)\b", re.IGNORECASE)
_DISSOLVES = re.compile(r"\b(sugar|salt)\b", re.IGNORECASE)
_WHOLE_SPICE = re.compile(
    r"\b(star anise|bay lea(f|ves)|cinnamon sticks?|sticks? of cinnamon|whole cloves?"
    r"|cloves?, whole|cardamom pods?)\b|^cloves?$",
    re.IGNORECASE,
)
_GROUND = re.compile(r"\b(ground|powder(ed)?|crushed)\b", re.IGNORECASE)
_THICKENER = re.compile(r"\b(starch|cornstarch|flour|arrowroot|tapioca)\b", re.IGNORECASE)


def default_method(lines: Sequence[Line], yield_g: float) -> tuple[str, ...]:
    """Write a plain method, ordered by the stage at which each line goes in.

    Parameters
    ----------
    lines : sequence of Line
        The ingredients.
    yield_g : float
        Finished mass [g].

    Returns
    -------
    tuple of str
        The steps.
    """
    lost_g = water_lost_g(lines, yield_g)
    late = [line for line in lines if line.stage == "late"]
    thickened = any(_THICKENER.search(line.name) for line in lines)
    heated = bool(lost_g or late or thickened) or any(line.stage == "start" for line in lines)
    first = [line for line in lines if line.stage == "start"]
    if not first:  # nothing is said to simmer: what is not late opens the pot
        first = [line for line in lines if line.stage != "late"] or late
    late = [line for line in late if line not in first]
    last = [line for line in lines if line not in first and line not in late]
    loose = _loose(first)
    steps = ["Wash, peel and cut what needs it; every weight is of the part that is eaten."]
    prepared = [line for line in lines if line.prepared and line.taken_out_g >= LEAST_G]
    if prepared:
        steps.append(
            f"Wilt, cook down or purée {_with_lost(prepared)} before it goes in; what leaves is not"
            " weighed in."
        )
    if not heated:
        steps.append("Weigh everything; the spoons and cups beside the grams are a guide only.")
    else:
        poured = [line.name for line in first if line.name not in loose]
        everything = not (late or last or loose)
        steps.append(
            "Weigh the empty pot and write its weight down; then weigh"
            f" {'everything in' if everything else f'in {_listed(poured)}'}."
        )
    steps += _dissolving(first) if heated else _mixing(first)
    pot_g = math.fsum(line.pot_g for line in first) - lost_g
    steps += _cooking(first, bool(late or last), pot_g, lost_g, thickened)
    steps += _adding(late, last, lines, yield_g)
    steps.append(
        "Taste it at the temperature it will be served at; write down in grams whatever you add."
    )
    steps.append(
        ("Cool it quickly and chill it" if heated else "Chill it") + " unless it is served at once."
    )
    steps.append("Label the tub with the name, the date and the allergens.")
    return tuple(steps)


def target_checks(lines: Sequence[Line], yield_g: float, waters: Waters) -> tuple[str, ...]:
    """What a cook can measure to know that the sauce is right.

    Parameters
    ----------
    lines : sequence of Line
        The ingredients.
    yield_g : float
        Finished mass [g].
    waters : Waters
        What is computed of its water.

    Returns
    -------
    tuple of str
        Mass on the scale after reduction, degrees Brix, pH. A test strip is named only where the
        pH is shown to stay at 4.0 or below; a meter else.

    References
    ----------
    .. [1] US 21 CFR 114.90: methods other than a meter may be used at a pH of 4.0 or lower
       (recalled).
    """
    found = []
    if water_lost_g(lines, yield_g):
        found.append(
            f"Scale: the finished sauce weighs {weight_text(yield_g)} g, the pot not counted. Above"
            " that, simmer on; below it, add water."
        )
    else:
        found.append(f"Scale: the finished sauce weighs {weight_text(yield_g)} g.")
    if waters.brix is not None:
        found.append(
            f"Refractometer: about {waters.brix:.0f} °Bx, on a strained sample at 20 °C; salt and"
            " acid count in the reading."
        )
    if waters.ph is not None:
        value, low, high = waters.ph
        tool = "Test strip or pH meter" if waters.strips_serve else "pH meter"
        ceiling = "" if waters.ph_max is None else f"; it must read {waters.ph_max:g} or below"
        only = f" A test strip will not do above pH {PH_STRIPS.value:.1f}."
        found.append(
            f"{tool}: computed pH {value:.1f}, between {low:.1f} and {high:.1f}{ceiling}."
            f"{'' if waters.strips_serve else only}"
        )
    return tuple(found)


def _loose(lines: Sequence[Line]) -> list[str]:
    """Thickeners that a liquid beside them can be stirred into."""
    names = [line.name for line in lines]
    return [n for n in names if _THICKENER.search(n)] if _wet(names) else []


def _wet(names: Sequence[str]) -> list[str]:
    solid = (_DRY, _WHOLE, _THICKENER)
    return [n for n in names if _WET.search(n) and not any(kind.search(n) for kind in solid)]


def _dissolving(lines: Sequence[Line]) -> list[str]:
    """How what was weighed into the pot comes together before it is heated."""
    loose = _loose(lines)
    names = [line.name for line in lines if line.name not in loose]
    melts = [n for n in names if _DISSOLVES.search(n)]
    steps = []
    if melts and _wet(names):
        steps.append(f"Stir until {_listed(melts)} {_has(melts)} dissolved.")
    elif len(names) > 1:
        steps.append("Mix everything evenly.")
    if loose:
        steps.append(
            f"Weigh {_listed(loose)} apart, stir it smooth with a little of the liquid, cold, and"
            " stir that into the pot."
        )
    return steps


def _mixing(lines: Sequence[Line]) -> list[str]:
    """How what was weighed apart is put together without heat."""
    names = [line.name for line in lines]
    dry, wet = [n for n in names if _DRY.search(n)], _wet(names)
    if dry and wet:
        rest = "; add the rest" if len(names) > len(dry) + len(wet) else ""
        return [f"Stir {_listed(dry)} into {_listed(wet)} until no lumps are left{rest}."]
    return ["Mix everything evenly."] if len(names) > 1 else []


def _cooking(
    first: Sequence[Line], added: bool, stop_g: float, lost_g: float, thickened: bool
) -> list[str]:
    """What happens on the heat before anything is added, with the weight to stop at."""
    if lost_g and stop_g > LEAST_G:
        return [
            f"Simmer, stirring, until the contents of the pot weigh {weight_text(stop_g)} g: about"
            f" {weight_text(lost_g)} g of water leaves."
        ]
    if lost_g:
        return [f"Simmer, stirring, until about {weight_text(lost_g)} g of water has left."]
    if thickened:
        return [
            "Simmer, stirring, until it thickens; replace the water that leaves, to"
            f" {weight_text(stop_g)} g in all."
        ]
    if added or any(line.stage != "raw" for line in first):
        return ["Bring it to a simmer, stirring; replace the water that leaves."]
    return []


def _adding(
    late: Sequence[Line], last: Sequence[Line], lines: Sequence[Line], yield_g: float
) -> list[str]:
    """What goes in and comes out after that; the last step names the finished weight."""
    steps = []
    out = [line for line in lines if not line.prepared and line.taken_out_g >= LEAST_G]
    if late:
        steps.append(f"Stir in {_listed([line.name for line in late])} for the last minutes")
    if last:
        steps.append(f"Off the heat, stir in {_listed([line.name for line in last])}")
    if whole := [line for line in lines if _simmers_whole(line) and line not in out]:
        place = len(steps) - 1 if last else len(steps)
        steps.insert(place, f"Take out the {_listed([line.name for line in whole])}")
    if out:
        place = len(steps) if any(line in last for line in out) or not last else len(steps) - 1
        steps.insert(place, f"Take out or sieve off what is left of {_with_lost(out)}")
    if late or last or out:
        steps[-1] += f"; the contents of the pot then weigh {weight_text(yield_g)} g"
    return [f"{step}." for step in steps]


def _simmers_whole(line: Line) -> bool:
    """Whether a whole piece gives its aroma to the pot and is no part of the meal."""
    ground = _GROUND.search(line.name) or _GROUND.search(line.measure)
    return line.stage != "raw" and bool(_WHOLE_SPICE.search(line.name)) and not ground


def _has(names: Sequence[str]) -> str:
    return "have" if len(names) > 1 else "has"


def _with_lost(lines: Sequence[Line]) -> str:
    return _listed([f"{i.name} (about {weight_text(i.taken_out_g)} g)" for i in lines])


def _listed(names: Sequence[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else names[0]
