"""Steam: what is told of a sauce that is boiled down is true of its quantities."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from balancer.answer import UNSTEADY, answer_from
from balancer.catalogue import Catalogue
from balancer.composition import INDEX, NAMES, Blend, FloatArray, matrix
from balancer.constants import AXIS, AXIS_NAMES
from balancer.cooking import kept_fraction
from balancer.errors import BadInput
from balancer.kitchen_constants import ALPHA_ACETIC, ALPHA_ETHANOL
from balancer.nudge import as_made, pot_problem
from balancer.problem import Problem
from balancer.reducing import reduced
from balancer.request import problem_from
from balancer.search import resolve
from balancer.settle import Settled, settle
from balancer.simmering import batch, boiled, share_left, water_lost_to_mass
from balancer.solve import Status
from balancer.taste import levels
from balancer.water_phase import phase_of, water_phase
from balancer.wishes import Aim, Limit, Pot, Use, WaterLimits

SOUR = AXIS_NAMES.index("sour")
SHELF = (
    "tomatoes", "rice vinegar", "cider vinegar", "red wine", "white wine", "lemon juice",
    "soy sauce", "fish sauce", "sugar", "salt", "water", "ginger", "garlic", "plums", "honey",
    "onions", "butter", "cream", "orange juice", "tomato paste", "mustard",
)  # fmt: skip


def request(rng: np.random.Generator) -> dict[str, Any]:
    """A few of a shelf boiled down hard, with a random target and perhaps a ceiling of pH."""
    names = rng.choice(SHELF, int(rng.integers(4, 10)), replace=False)
    return {
        "yield_g": 500,
        "water_lost_g": float(rng.choice([100, 250, 400, 600])),
        "ingredients": [{"name": str(n)} for n in names],
        "target": {
            "sour": round(float(rng.uniform(0.2, 3)), 2),
            "sweet": round(float(rng.uniform(0, 25)), 1),
            "salt": round(float(rng.uniform(0.2, 3)), 2),
        },
        "limits": {"ph_max": round(float(rng.uniform(3, 5)), 2)} if rng.random() < 0.5 else {},
    }


def sour_of_pan(problem: Problem, grams: FloatArray) -> float:
    """Sour of a pan boiled down in small steps of water until the scale has lost what it shall."""
    total = grams @ matrix([u.ingredient for u in problem.uses]) / 100.0
    parts = (INDEX["water"], INDEX["acetic"], INDEX["ethanol"])
    water, acetic, ethanol = (float(total[p]) for p in parts)
    target = water + acetic + ethanol - problem.water_lost_g
    step = 1.0 - 2e-4
    acetic_step, ethanol_step = step**ALPHA_ACETIC.value, step**ALPHA_ETHANOL.value
    while water + acetic + ethanol > target and water > 1e-3:
        water, acetic, ethanol = water * step, acetic * acetic_step, ethanol * ethanol_step
    total[list(parts)] = water, acetic, ethanol
    return float(levels(total * 100.0 / (float(grams.sum()) - problem.water_lost_g))[SOUR])


def jnd(level: float) -> float:
    return AXIS["sour"].floor + AXIS["sour"].weber * level


def test_what_is_said_of_quantities_is_true_of_them(catalogue: Catalogue) -> None:
    """Forty random requests with large losses, each against a pan boiled down step by step."""
    seen = 0
    for seed in range(40):
        problem = problem_from(request(np.random.default_rng(seed)), catalogue)
        found = settle(problem)
        if not found.solution.has_quantities:
            continue
        seen += 1
        told = float(found.solution.levels[SOUR])
        true = sour_of_pan(problem, found.solution.grams)
        assert abs(told - true) <= 0.05 * jnd(true), (seed, told, true)
        if found.solution.status is Status.ON_TARGET:
            aim = problem.aim("sour")
            assert aim is not None
            room = (problem.dead_band_jnd + 0.05) * jnd(aim.low)
            assert abs(true - aim.low) <= room, seed
        assert found.is_steady or UNSTEADY in answer_from(found)["notes"]
    assert seen > 25


def settled(catalogue: Catalogue, names: str, lost: float, ceiling: float | None, **target: float
            ) -> tuple[Problem, Settled]:  # fmt: skip
    limits = {} if ceiling is None else {"ph_max": ceiling}
    document = {
        "yield_g": 500,
        "water_lost_g": lost,
        "ingredients": [{"name": n} for n in names.split(", ")],
        "target": target,
        "limits": limits,
    }
    problem = problem_from(document, catalogue)
    return problem, settle(problem)


def test_quantities_that_jump_with_the_steam_settle(catalogue: Catalogue) -> None:
    """Solved again and again, these go to and fro between two sets of quantities for ever."""
    for names, lost, ceiling, target in (
        ("garlic, honey, lime juice, salt, rice vinegar, soy sauce, butter", 600.0, None,
         {"sour": 1.33, "sweet": 9.6, "salt": 1.09}),
        ("butter, orange juice, mustard, rice vinegar", 400.0, 3.99,
         {"sour": 2.8, "sweet": 4.0, "salt": 1.52}),
        ("lemon juice, garlic, mustard, cider vinegar", 600.0, 4.08,
         {"sour": 1.12, "sweet": 23.3, "salt": 1.12}),
    ):  # fmt: skip
        problem, found = settled(catalogue, names, lost, ceiling, **target)
        told = float(found.solution.levels[SOUR])
        assert told == pytest.approx(sour_of_pan(problem, found.solution.grams), rel=0.01)
        assert found.is_steady
        locked = tuple(
            replace(u, locked_g=float(g))
            for u, g in zip(problem.uses, found.solution.grams, strict=True)
        )
        report = settle(replace(problem, uses=locked, water_limits=WaterLimits()))
        assert report.solution.levels == pytest.approx(found.solution.levels, rel=5e-3, abs=1e-4)


def test_a_way_round_limits_that_contradict_each_other_half_way(catalogue: Catalogue) -> None:
    """With the water of the draft the ceiling cannot be kept; with less water left it can."""
    names = "cider vinegar, soy sauce, plums, butter, water, garlic"
    target = {"sour": 1.41, "sweet": 22.6, "salt": 2.29}
    problem, found = settled(catalogue, names, 600.0, 3.37, **target)
    assert found.solution.status is Status.NEAREST
    assert found.kept_ceilings
    assert not found.is_steady
    assert UNSTEADY in answer_from(found)["notes"]
    told = float(found.solution.levels[SOUR])
    assert told == pytest.approx(sour_of_pan(problem, found.solution.grams), rel=0.01)


@pytest.mark.parametrize(
    ("grams", "lost"),
    [
        ({"white wine": 300.0, "white wine vinegar": 100.0, "shallots": 60.0}, 300.0),
        ({"rum": 150.0, "rice vinegar": 200.0, "sugar": 100.0}, 200.0),
    ],
)
def test_spirit_on_the_scale(catalogue: Catalogue, grams: dict[str, float], lost: float) -> None:
    """Alcohol that leaves is mass too: the pan holds more water than the loss alone says."""
    uses = tuple(Use(resolve(catalogue, n), locked_g=g, goes_in="start") for n, g in grams.items())
    mass = sum(grams.values())
    found = settle(Problem(uses, yield_g=mass - lost, water_lost_g=lost)).solution
    assert found.levels[SOUR] == pytest.approx(sour_of_pan(found.problem, found.grams), rel=1e-3)
    total = batch(matrix([u.ingredient for u in uses]), np.array(list(grams.values())))
    after = boiled(total, water_lost_to_mass(total, mass, mass - lost))
    assert found.blend.per_100g()[INDEX["acetic"]] * (mass - lost) / 100.0 == pytest.approx(
        after[INDEX["acetic"]], rel=1e-6
    )
    assert found.blend.per_100g()[INDEX["water"]] * (mass - lost) / 100.0 == pytest.approx(
        after[INDEX["water"]], rel=1e-4
    )


def test_spirit_off_the_heat_stays(catalogue: Catalogue) -> None:
    """Rum that goes in at the end takes no part in the loss: all of that is water and vinegar."""
    grams = {"rice vinegar": 300.0, "sugar": 100.0, "rum": 50.0}
    uses = tuple(
        Use(resolve(catalogue, n), locked_g=g, goes_in="raw" if n == "rum" else "start")
        for n, g in grams.items()
    )
    found = settle(Problem(uses, yield_g=300.0, water_lost_g=150.0)).solution
    raw = matrix([u.ingredient for u in uses])
    end = found.blend.per_100g() * 3.0
    ethanol = raw[2, INDEX["ethanol"]] * 0.5
    assert end[INDEX["ethanol"]] == pytest.approx(ethanol)
    water = float(found.grams @ raw[:, INDEX["water"]]) / 100.0
    acid = 3.0 * raw[0, INDEX["acetic"]]
    left = float(end[INDEX["water"]]) / water
    assert end[INDEX["acetic"]] == pytest.approx(acid * kept_fraction(left, ALPHA_ACETIC.value))
    gone = water - float(end[INDEX["water"]]) + acid - float(end[INDEX["acetic"]])
    assert gone == pytest.approx(150.0)


def test_all_the_water_may_go_within_what_a_solver_can_tell() -> None:
    """A hair more than the water there is leaves none, and never less than none."""
    rows = np.zeros((1, len(NAMES)))
    rows[0, INDEX["water"]] = 80.0
    for grams in (0.5, 500.0, 1e5):
        water = 0.8 * grams
        dry = Blend(rows, np.array([grams]), water + 0.5e-6 * max(1.0, grams))
        assert dry.per_100g()[INDEX["water"]] == 0.0
        with pytest.raises(BadInput, match="the batch brings"):
            Blend(rows, np.array([grams]), water + 2e-6 * max(1.0, grams))


def test_an_answer_that_takes_all_the_water_is_an_answer(catalogue: Catalogue) -> None:
    names = "mustard, butter, tomato paste, onions, lemon juice, salt, cream, soy sauce, plums"
    _, found = settled(catalogue, names, 400.0, 4.24, sour=0.41, sweet=12.7, salt=2.5)
    assert found.solution.has_quantities
    assert found.solution.blend.per_100g()[INDEX["water"]] >= 0.0


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"simmer": {"minutes": 60}}, r"^Simmering for 60 min at 10 g of steam a minute takes 600"),
        ({"simmer": {"minutes": 60, "steam_g_per_min": 2}}, r"^Simmering for 60 min at 2 g"),
        ({"water_lost_g": 600}, r"^The water lost is 600 g, but what is in the pan can lose 94\."),
    ],
)
def test_a_simmer_that_boils_dry_is_named(
    catalogue: Catalogue, asked: dict[str, Any], said: str
) -> None:
    pan = [{"name": "tomatoes", "locked_g": 100}, {"name": "olive oil", "locked_g": 50}]
    with pytest.raises(BadInput, match=said):
        problem_from({"ingredients": pan, "target": {}, **asked}, catalogue)
    short = {"simmer": {"minutes": 9}}
    assert problem_from({"ingredients": pan, "target": {}, **short}, catalogue).yield_g == 60.0


def lemony(catalogue: Catalogue) -> Problem:
    """A pot whose acids do not boil off, as it stands when it was tasted."""
    grams = {"tomatoes": 800.0, "lemon juice": 60.0, "sugar": 20.0, "salt": 5.0}
    uses = tuple(Use(resolve(catalogue, n), locked_g=g, passes=0.5 if n == "salt" else 1.0)
                 for n, g in grams.items())  # fmt: skip
    sauce = Problem(
        uses, yield_g=885.0, water_limits=WaterLimits(ph_max=4.4, acidity_min_pct=0.4),
        limits=(Limit("sodium", "mg per 100 g", {"sodium": 1.0}, high=2000.0),),
    )  # fmt: skip
    made = as_made(sauce, np.array(list(grams.values())))
    return pot_problem(sauce, made, made.levels, {}, 0.3)


def test_a_reduced_pot_has_rows_of_its_own(catalogue: Catalogue) -> None:
    """Its acidity is as much in less sauce; its row of pH turns where its own pH band ends."""
    asked = settle(lemony(catalogue)).solution.problem
    before = asked.limits
    found = reduced(asked, "sweet", 8.0)
    after = found.problem.limits
    assert [x.label for x in after] == [x.label for x in before]
    acidity = next(k for k, x in enumerate(after) if x.label.startswith("acidity"))
    assert after[acidity].per_use[0] * found.stop_g == pytest.approx(
        before[acidity].per_use[0] * found.start_g, rel=0.01
    )
    assert after[acidity].per_use[1:] == pytest.approx(before[acidity].per_use[1:])
    pot = found.problem.uses[0].ingredient
    phase = phase_of([u.ingredient for u in found.problem.uses])
    in_pot = np.array([found.stop_g, *[0.0] * (len(found.problem.uses) - 1)])
    band = water_phase(phase, in_pot).ph
    assert band is not None
    assert pot.ph is not None
    assert band.high == pytest.approx(pot.ph[1], abs=0.02)
    for ceiling, kept in ((band.high + 0.05, True), (band.high - 0.05, False)):
        tight = replace(asked, water_limits=WaterLimits(ph_max=ceiling))
        row = next(x for x in reduced(tight, "sweet", 8.0).problem.limits if x.unit == "pH")
        assert bool(row.per_use[0] <= 0.0) is kept
    assert pot.allergens == asked.uses[0].ingredient.allergens


def test_reducing_keeps_what_passes_a_sieve(catalogue: Catalogue) -> None:
    found = reduced(settle(lemony(catalogue)).solution.problem, "sweet", 8.0)
    assert {u.label: u.passes for u in found.problem.uses if u.passes < 1.0} == {"salt": 0.5}


def test_a_reduced_pot_boils_as_the_pan_does(catalogue: Catalogue) -> None:
    """Vinegar and wine in the pot: what is left is the batch boiled down, each component of it."""
    grams = np.array([300.0, 150.0, 200.0])
    uses = tuple(Use(resolve(catalogue, n)) for n in ("plums", "cider vinegar", "red wine"))
    pot = Problem(uses, (Aim("sweet", 12.0, 12.0),), pot=Pot(tuple(grams), 0.3), water_lost_g=100.0)
    found = reduced(pot, "sweet", 12.0)
    total = batch(matrix([u.ingredient for u in uses]), grams)
    total[INDEX["water"]] -= 100.0
    left = boiled(total, found.water_g)
    charge = INDEX["strong_ion_charge"]
    values = found.problem.composition()[0] * found.stop_g / 100.0
    assert np.delete(values, charge) == pytest.approx(np.delete(left, charge))
    assert found.after == pytest.approx(levels(values * 100.0 / found.stop_g))


def test_a_nudge_keeps_to_the_dead_band_of_the_request(catalogue: Catalogue) -> None:
    """An axis that was named comes within what the cook said counts as none."""
    uses = tuple(Use(resolve(catalogue, n), locked_g=g) for n, g in (("plums", 400.0),
                                                                     ("sugar", 100.0)))  # fmt: skip
    widths = {}
    for dead_band in (0.1, 0.25, 0.5):
        sauce = Problem(uses, yield_g=500.0, dead_band_jnd=dead_band)
        made = as_made(sauce, np.array([400.0, 100.0]))
        aim = pot_problem(sauce, made, made.levels, {"sweet": 1.0}, 0.3).aim("sweet")
        assert aim is not None
        widths[dead_band] = (aim.high - aim.low) / AXIS["sweet"].weber
    assert widths[0.1] < widths[0.25] < widths[0.5]
    assert widths[0.5] / widths[0.25] == pytest.approx(2.0, rel=0.01)


def test_without_water_all_of_it_is_left() -> None:
    oil = np.zeros((1, len(NAMES)))
    oil[0, INDEX["fat"]] = 100.0
    assert share_left(oil, np.array([50.0]), ["start"], 0.0) == 1.0
