"""What is missing, other ways to the same balance, and what takes the place of an ingredient."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner
from numpy.typing import NDArray
from sauces import ingredient, random_problem

from balancer.alternatives import DIFFERENT, WITHIN_JND, carriers, other_ways
from balancer.catalogue import default_catalogue
from balancer.cli.ideas import instead as instead_command
from balancer.cli.ideas import missing as missing_command
from balancer.cli.ideas import otherways as otherways_command
from balancer.composition import INDEX, Evidence, Ingredient
from balancer.constants import AXIS, AXIS_NAMES
from balancer.errors import BadInput, NoSolution
from balancer.exclusions import allergens_of, kept_in
from balancer.gap import Gap, asked, gap_from_text, held
from balancer.pricing import LEAST_GAIN_JND, Pricer
from balancer.problem import Problem
from balancer.shelf import Shelf, shelf_of
from balancer.solve import solve
from balancer.substitution import instead
from balancer.suggest import missing
from balancer.wishes import Aim, Limit, Pot, Use, WaterLimits

PANTRY = default_catalogue().by_key
NAMED = {i.name: i for i in default_catalogue().pantry}


def sauce(*names: str, target: dict[str, float], **more: object) -> Problem:
    """A sauce of the pantry, 500 g."""
    uses = tuple(Use(NAMED[n]) for n in names)
    aims = tuple(Aim(a, v, v) for a, v in target.items())
    return Problem(uses, aims, yield_g=500.0, **more)  # type: ignore[arg-type]


def thin() -> Problem:
    """A thin, sweet, salted sauce with little acid and nothing to thicken it."""
    return Problem(
        (
            Use(NAMED["water"], draft_g=380.0),
            Use(NAMED["sugar"], draft_g=100.0, max_g=110.0),
            Use(NAMED["distilled vinegar"], draft_g=15.0, max_g=20.0),
            Use(NAMED["salt"], draft_g=5.0, max_g=8.0),
        ),
        (Aim("sweet", 20.0, 20.0), Aim("sour", 0.25, 0.25), Aim("salt", 1.0, 1.0)),
        yield_g=500.0,
    )


def is_sure(shelf: Shelf) -> NDArray[np.bool_]:
    """Foods of which nothing is assumed."""
    return np.asarray((shelf.low == shelf.high).all(axis=1))


def with_assumed(food: Ingredient, component: str) -> Ingredient:
    evidence = list(food.evidence)
    evidence[INDEX[component]] = Evidence.ASSUMED
    return replace(food, evidence=tuple(evidence))


# --- the ranking --------------------------------------------------------------------------------


def test_among_equals_the_smaller_addition_then_the_pantry() -> None:
    base = Problem(
        (Use(ingredient("w")), Use(ingredient("s", sucrose=100.0))),
        (Aim("sweet", 10.0, 10.0), Aim("sour", 1.0, 1.0)),
        yield_g=100.0,
    )
    foods = [
        ingredient("a-weak", citric=10.0),
        ingredient("b-strong", citric=50.0),
        ingredient("c-strong-kept", citric=50.0, share=(0.0, 0.01, 0.3)),
    ]
    ranking = Pricer(base, shelf_of(foods)).rank(3)
    assert [shelf_of(foods).foods[e.place].key for e in ranking.entries] == [
        "c-strong-kept", "b-strong", "a-weak",
    ]  # fmt: skip
    least = (1.0 - base.dead_band_jnd * (AXIS["sour"].floor + AXIS["sour"].weber)) / 100.0
    assert ranking.entries[0].share == pytest.approx(least / 0.5, rel=1e-3)
    assert all(e.sum_jnd < 1e-5 for e in ranking.entries)


def test_the_largest_sensible_share_holds() -> None:
    base = Problem((Use(ingredient("w")),), (Aim("sour", 1.0, 1.0),), yield_g=100.0)
    weak = ingredient("weak", citric=2.0, share=(0.0, 0.05, 0.1))
    (entry,) = Pricer(base, shelf_of([weak])).rank(1).entries
    jnd = AXIS["sour"].floor + AXIS["sour"].weber
    assert entry.share == pytest.approx(0.1, abs=1e-5)
    assert entry.sum_jnd == pytest.approx((1.0 - 0.2) / jnd - base.dead_band_jnd, abs=1e-5)


def test_an_assumed_value_never_raises_a_rank() -> None:
    base = thin()
    acid = ingredient("known", citric=5.0)
    guess = with_assumed(ingredient("guessed", citric=5.0), "citric")
    problem = asked(base, solve(base).levels, Gap({"sour": 3.0}))
    shelf = shelf_of([acid, guess])
    ranking = Pricer(problem, shelf).rank(5)
    assert [shelf.foods[e.place].key for e in ranking.entries] == ["known"]


@pytest.mark.parametrize("seed", range(6))
def test_what_is_assumed_is_priced_at_its_worse_end(seed: int) -> None:
    """Whatever the true amount is, the sauce comes at least as near as the ranking says."""
    rng = np.random.default_rng(seed)
    problem = random_problem(seed, default_catalogue().pantry, spread=0.8)
    have = {u.ingredient.key for u in problem.uses}
    pool = [f for f in default_catalogue().pantry if f.key not in have]
    component = str(rng.choice(["citric", "sodium", "fat", "fibre", "glutamate"]))
    food = next(f for f in pool if f[component] > 0 and is_sure(shelf_of([f])).all())
    shelf = shelf_of([with_assumed(food, component)])
    priced = Pricer(problem, shelf).exact(0)
    for part in (0.0, 0.3, 1.0):
        values = food.values.copy()
        values[INDEX[component]] *= part
        true = replace(food, values=values)
        use = Use(true, share_max=float(shelf.share[0]), label="addition")
        assert solve(replace(problem, uses=(*problem.uses, use))).sum_jnd <= priced + 1e-4


@pytest.mark.parametrize("kind", ["volume", "pot", "cooked"])
def test_exact_where_the_mass_is_free(kind: str) -> None:
    """The price of a food is the optimum of the full solve with it, in a pot and by volume too."""
    names = ["water", "sugar", "salt", "plums"]
    uses = tuple(Use(NAMED[n], max_g=400.0) for n in names)
    aims = (Aim("sweet", 18.0, 18.0), Aim("sour", 2.0, 2.0), Aim("body", 2.0, 2.0))
    problem = {
        "volume": Problem(uses, aims, yield_ml=500.0),
        "cooked": Problem(uses, aims, yield_ml=500.0, water_lost_g=80.0),
        "pot": Problem(
            tuple(Use(u.ingredient) for u in uses), aims, pot=Pot((200.0, 60.0, 4.0, 200.0))
        ),
    }[kind]
    foods = [
        NAMED[n] for n in ("lime juice", "tamarind pulp", "cornstarch", "citric acid", "honey")
    ]
    shelf = shelf_of(foods)
    shelf = shelf.only(is_sure(shelf))
    assert len(shelf.foods) >= 3
    pricer = Pricer(problem, shelf)
    for j, food in enumerate(shelf.foods):
        pot = problem.pot
        if pot is not None:
            pot = replace(pot, grams=(*pot.grams, 0.0))
        use = Use(food, share_max=float(shelf.share[j]))
        full = solve(replace(problem, uses=(*problem.uses, use), pot=pot))
        assert pricer.exact(j) == pytest.approx(full.sum_jnd, abs=1e-4), food.name


def test_an_axis_that_nothing_carries_is_priced() -> None:
    found = missing(thin_with(heat=100.0), default_catalogue().pantry, count=3, pairs=False)
    assert found.base_jnd > 3.0
    assert all(s.foods[0]["capsaicinoids"] > 0 for s in found.suggestions)
    assert found.suggestions[0].nearer["heat"] > 3.0


def thin_with(**levels: float) -> Problem:
    more = tuple(Aim(a, v, v) for a, v in levels.items())
    return replace(thin(), aims=thin().aims + more)


def test_the_certificate_tells_what_was_solved() -> None:
    problem = asked(thin(), solve(thin()).levels, Gap({"sour": 3.0, "body": 3.0}))
    seen: list[int] = []
    found = missing(problem, default_catalogue().pantry, progress=seen.append, pairs=False)
    certificate = found.certificate
    assert seen == list(range(1, certificate.exact_solves + 1))
    assert 10 <= certificate.exact_solves < certificate.candidates
    assert certificate.bound_jnd >= certificate.kth_jnd - 1e-4
    assert str(certificate.exact_solves) in certificate.sentence()


def test_a_suggestion_tells_grams_return_and_cost() -> None:
    problem = asked(thin(), solve(thin()).levels, Gap({"sour": 3.0, "body": 3.0}))
    found = missing(problem, default_catalogue().pantry, count=4)
    for s in found.suggestions + found.pairs:
        solution = s.settled.solution
        assert solution.sum_jnd <= s.after_jnd + 1e-3
        assert s.after_jnd <= found.base_jnd - LEAST_GAIN_JND + 1e-9
        assert sum(s.grams) + solution.grams[: len(problem.uses)].sum() == pytest.approx(500.0)
        assert sum(s.changes_g.values()) == pytest.approx(-sum(s.grams), abs=1.5)
        assert s.evidence
        assert s.label in s.sentences()[0] or len(s.foods) == 2
    best = found.suggestions[0].after_jnd
    assert all(p.after_jnd < best and len(p.foods) == 2 for p in found.pairs)


def test_a_pair_does_what_neither_does_alone() -> None:
    problem = Problem(
        (Use(NAMED["water"]), Use(NAMED["sugar"])),
        (Aim("sweet", 12.0, 12.0), Aim("heat", 80.0, 80.0), Aim("fat", 8.0, 8.0)),
        yield_g=400.0,
    )
    foods = [NAMED[n] for n in ("sunflower oil", "cayenne pepper", "lemon juice", "honey")]
    found = missing(problem, foods)
    assert found.pairs
    assert {f.name for f in found.pairs[0].foods} == {"sunflower oil", "cayenne pepper"}
    assert found.pairs[0].after_jnd < 0.01 < found.suggestions[0].after_jnd


def test_a_ceiling_of_ph_is_kept_or_said() -> None:
    problem = replace(
        sauce(
            "lemon juice",
            "sugar",
            "water",
            "salt",
            "onions",
            target={"sweet": 18.0, "sour": 1.0, "umami": 80.0},
        ),
        water_limits=WaterLimits(ph_max=3.6),
    )
    found = missing(problem, default_catalogue().pantry, count=3, pairs=False)
    assert found.suggestions
    for s in found.suggestions:
        phase = s.settled.water_phase
        assert phase is not None
        assert phase.ph is not None
        said = " ".join(s.sentences())
        assert (phase.ph.high <= 3.6 + 5e-3) != ("does not confirm" in said)


# --- common practice, no source -----------------------------------------------------------------


def test_sour_with_body_is_asked_for() -> None:
    """Common practice, no source: a sour pulp thickens and sours; plain acid only sours."""
    problem = asked(thin(), solve(thin()).levels, Gap({"sour": 4.0, "body": 3.0}))
    names = ["tamarind pulp", "tomato paste", "citric acid", "distilled vinegar", "malic acid",
             "cider vinegar", "tartaric acid"]  # fmt: skip
    found = missing(problem, [NAMED[n] for n in names], count=7, pairs=False)
    order = [s.label for s in found.suggestions]
    assert order[0] == "tamarind pulp", order
    plain = [order.index(n) for n in order if n.endswith(("acid", "vinegar"))]
    assert order.index("tamarind pulp") < min(plain, default=len(order))


def test_a_dry_souring_powder_when_no_water_may_be_added() -> None:
    """Common practice, no source: a dry paste is soured with a powder, not with juice."""
    base = Problem(
        (
            Use(NAMED["tahini"], draft_g=300.0),
            Use(NAMED["olive oil"], draft_g=150.0),
            Use(NAMED["sugar"], draft_g=45.0),
            Use(NAMED["salt"], draft_g=5.0),
        ),
        (Aim("sour", 1.0, 1.0), Aim("sweet", 9.0, 9.0), Aim("salt", 1.0, 1.0)),
        yield_g=500.0,
    )
    water = float(solve(base).blend.per_100g()[INDEX["water"]])
    dry = replace(base, limits=(Limit("water", "g per 100 g", {"water": 1.0}, high=water),))
    found = missing(dry, default_catalogue().pantry, count=5, pairs=False)
    best = [s for s in found.suggestions if s.after_jnd < 0.01]
    assert best
    assert found.suggestions[0].label in ("citric acid", "malic acid", "tartaric acid")
    assert all(s.foods[0]["water"] < 35.0 for s in best), [s.label for s in best]
    assert not any("juice" in s.label or "vinegar" in s.label for s in best)


# --- the gap and what is ruled out --------------------------------------------------------------


def test_a_gap_moves_the_target_from_how_it_tastes() -> None:
    now = solve(thin()).levels
    problem = asked(thin(), now, gap_from_text("sour +2, fat 0"))
    sour, sweet = problem.aim("sour"), problem.aim("sweet")
    assert sour is not None
    assert sweet is not None
    axis = AXIS["sour"]
    z = [math.log1p(axis.weber * v / axis.floor) / axis.weber
         for v in (now[AXIS_NAMES.index("sour")], sour.low)]  # fmt: skip
    assert z[1] - z[0] == pytest.approx(2.0)
    assert sweet.low == pytest.approx(now[AXIS_NAMES.index("sweet")])
    assert len(held(thin(), now).aims) == len(AXIS_NAMES)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        ("sour", "no part of a gap"),
        ("crunch +1", "no axis 'crunch'"),
        ("sour +1, sour +2", "twice"),
        ("sour +99", "99 JND"),
        ("family: purple", "no family of aroma 'purple'"),
        ("<b>sour</b> +1", "no part of a gap"),
        ("sour +1," * 200, "letters"),
    ],
)
def test_a_gap_that_cannot_be_read(text: str, words: str) -> None:
    with pytest.raises(BadInput, match=words):
        gap_from_text(text)


def test_a_family_of_aroma() -> None:
    problem = asked(thin(), solve(thin()).levels, Gap({"volatile": 6.0}))
    found = missing(problem, default_catalogue().pantry, family="citrus", count=3, pairs=False)
    assert found.suggestions
    assert all(
        s.foods[0].group == "citrus" or s.foods[0]["oil_citrus"] > 0 for s in found.suggestions
    )


@pytest.mark.parametrize(
    ("word", "gone", "stays"),
    [
        ("fish", ["fish sauce", "anchovies", "oyster sauce", "worcestershire sauce"], "soy sauce"),
        ("alcohol", ["red wine", "vodka", "dry sherry"], "cider vinegar"),
        ("vegan", ["honey", "butter", "egg yolk", "fish sauce", "gelatin", "lard"], "tahini"),
        ("gluten", ["soy sauce", "malt vinegar", "flour"], "tamari"),
        ("nuts", ["walnuts", "peanut butter"], "tahini"),
        ("lime", ["limes", "lime juice", "lime zest"], "lemon juice"),
        ("no soybean", ["miso", "soy sauce"], "salt"),
    ],
)
def test_what_is_ruled_out(word: str, gone: list[str], stays: str) -> None:
    pantry = default_catalogue().pantry
    left = {f.name for f, keep in zip(pantry, kept_in(pantry, [word]), strict=True) if keep}
    assert not left & set(gone)
    assert stays in left


def test_a_word_that_rules_out_nothing() -> None:
    with pytest.raises(BadInput, match="'moon dust' rules out nothing"):
        kept_in(default_catalogue().pantry, ["moon dust"])


def test_table_foods_are_judged_by_name() -> None:
    cheese = next(f for f in default_catalogue().table if f.name.startswith("Cheese"))
    assert "milk" in allergens_of(cheese)


def test_nothing_left_or_nothing_free() -> None:
    with pytest.raises(BadInput, match="No candidate is left"):
        missing(thin(), [NAMED["water"], NAMED["salt"]])
    locked = replace(
        thin(), uses=tuple(replace(u, locked_g=u.draft_g, max_g=math.inf) for u in thin().uses)
    )
    with pytest.raises(BadInput, match="Every quantity is locked"):
        missing(locked, default_catalogue().pantry)
    impossible = replace(
        thin(), limits=(Limit("sodium", "mg per 100 g", {"sodium": 1.0}, low=90000.0),)
    )
    with pytest.raises(NoSolution, match="contradict"):
        missing(impossible, default_catalogue().pantry)


# --- other ways and substitution ----------------------------------------------------------------


def test_other_ways_keep_the_balance_and_differ() -> None:
    problem = sauce(
        "water", "sugar", "salt", "rice vinegar", "soy sauce", "plums",
        target={"sweet": 18.0, "sour": 1.2, "salt": 1.5},
    )  # fmt: skip
    now, ways = other_ways(problem, carriers(problem, default_catalogue().pantry)[:8], most=5)
    assert 1 <= len(ways) <= 5
    pairs = zip(problem.uses, now.solution.grams, strict=True)
    sets = [frozenset(u.ingredient.key for u, g in pairs if g > 1e-3)]
    for way in ways:
        assert len(way.used) <= 5
        assert all(len(way.used ^ other) >= DIFFERENT for other in sets)
        sets.append(way.used)
        for i, axis in enumerate(AXIS_NAMES):
            before, after = now.solution.levels[i], way.settled.solution.levels[i]
            jnd = AXIS[axis].floor + AXIS[axis].weber * float(before)
            assert abs(after - before) <= (2 * WITHIN_JND.value + 0.01) * jnd
        for axis in ("sweet", "sour", "salt"):
            assert abs(way.settled.solution.deviation_jnd(axis)) <= WITHIN_JND.value + 1e-3
    costs = [w.cost for w in ways]
    assert costs == pytest.approx(sorted(costs))


def test_other_ways_refuse_what_cannot_be() -> None:
    problem = sauce("water", "sugar", target={"sweet": 10.0})
    held_in = replace(problem, uses=tuple(replace(u, min_g=10.0) for u in problem.uses))
    with pytest.raises(BadInput, match="2 must stay in"):
        other_ways(held_in, (), most=1)
    with pytest.raises(BadInput, match="need a target"):
        other_ways(replace(problem, aims=()), ())


def test_lime_has_run_out() -> None:
    problem = sauce(
        "lime juice",
        "sugar",
        "fish sauce",
        "water",
        target={"sweet": 8.0, "sour": 1.5, "salt": 2.0},
    )  # fmt: skip
    pantry = default_catalogue().pantry
    foods = [f for f, keep in zip(pantry, kept_in(pantry, ["lime"]), strict=True) if keep]
    result = instead(problem, "Lime Juice", foods)
    assert result.gone_g > 50.0
    assert result.found.base_jnd > 3.0
    best = result.found.suggestions[0]
    assert best.after_jnd < 0.5
    assert all("lime" not in f.name for s in result.found.suggestions for f in s.foods)
    before, after = result.before.solution.levels, best.settled.solution.levels
    for axis in ("sweet", "sour", "salt"):
        i = AXIS_NAMES.index(axis)
        jnd = AXIS[axis].floor + AXIS[axis].weber * before[i]
        assert abs(after[i] - before[i]) < 1.0 * jnd


def test_locks_open_for_a_substitution() -> None:
    problem = sauce("lime juice", "sugar", "water", target={})
    uses = tuple(replace(u, locked_g=g) for u, g in zip(problem.uses, (60, 40, 400), strict=True))
    result = instead(replace(problem, uses=uses), "lime juice", [NAMED["lemon juice"]])
    assert result.freed == ("sugar", "water")
    assert result.found.suggestions[0].grams[0] == pytest.approx(60.0, rel=0.3)


def test_substitution_of_what_is_not_there() -> None:
    with pytest.raises(BadInput, match="holds no 'saffron'"):
        instead(thin(), "saffron", default_catalogue().pantry)
    lone = Problem((Use(NAMED["water"]),), (Aim("sweet", 0.0, 0.0),), yield_g=100.0)
    with pytest.raises(BadInput, match="two or more ingredients"):
        instead(lone, "water", default_catalogue().pantry)


# --- the commands -------------------------------------------------------------------------------

REQUEST = """{"yield_g": 500, "ingredients": [
  {"name": "water", "draft_g": 380}, {"name": "sugar", "draft_g": 100, "max_g": 110},
  {"name": "distilled vinegar", "draft_g": 15, "max_g": 20},
  {"name": "salt", "draft_g": 5, "max_g": 8}],
  "target": {"sweet": 20, "sour": 0.25, "salt": 1}}"""


@pytest.fixture
def run(tmp_path, monkeypatch):
    monkeypatch.setenv("BALANCER_HOME", str(tmp_path / "home"))
    path = tmp_path / "thin.json"
    path.write_text(REQUEST, encoding="utf-8")

    def call(command, *arguments):
        result = CliRunner().invoke(command, [str(path), *arguments])
        if result.exception is not None:
            raise result.exception
        return result.output

    return call


def test_commands_tell_what_they_found(run) -> None:
    said = run(
        missing_command, "--gap", "sour +3, body +2", "--without", "fish, alcohol", "--count", "3",
        "--tried", "citric acid",
    )  # fmt: skip
    assert "1. " in said
    assert "solved exactly" in said
    assert "Tried and rejected: citric acid." in said
    assert "g citric acid:" not in said
    assert "nothing is missing" in run(missing_command)
    said = run(missing_command, "--gap", "salt +1")
    assert said.startswith("What is in the sauce can do it: water ")
    assert "nothing is missing" not in said
    assert "way 1 gains:" in run(otherways_command, "--most", "4")
    said = run(instead_command, "distilled vinegar", "--without", "citrus", "--count", "5")
    assert "Without distilled vinegar" in said
    assert "lemon" not in said


def test_commands_refuse_in_one_sentence(run) -> None:
    with pytest.raises(BadInput, match="rules out nothing"):
        run(missing_command, "--without", "<script>alert(1)</script>")
    with pytest.raises(BadInput, match="no part of a gap"):
        run(missing_command, "--gap", "sour a lot")


def test_what_is_missing_in_a_pot_and_by_volume() -> None:
    """Nothing leaves the pot; by volume the sauce still makes what was asked for."""
    problem = thin_with(body=2.0)
    pot = Problem(
        tuple(Use(u.ingredient) for u in problem.uses),
        problem.aims,
        pot=Pot((380.0, 100.0, 15.0, 5.0)),
    )
    found = missing(pot, default_catalogue().pantry, count=2, pairs=False)
    assert found.suggestions
    for s in found.suggestions:
        solution = s.settled.solution
        assert (solution.grams[:4] >= np.array([380.0, 100.0, 15.0, 5.0]) - 1e-6).all()
        assert solution.sum_jnd <= s.after_jnd + 1e-3
        assert 500.0 < solution.grams.sum() <= 650.0 + 1e-6
    litre = replace(problem, yield_g=None, yield_ml=500.0)
    found = missing(litre, default_catalogue().pantry, count=2, pairs=False)
    assert found.suggestions
    for s in found.suggestions:
        assert s.settled.solution.sum_jnd <= s.after_jnd + 1e-3
        assert s.after_jnd < found.base_jnd
