"""A lemonade that can be worked with pencil and paper.

One kilogram at 9 % sugar and 0.70 % acid from lemon juice (5.7 % acid, 2.5 % sugar), sugar and
water. Pencil: juice = 0.70 / 5.7 * 1000 g; sugar = 90 g - 0.025 * juice; water is the rest.
"""

from __future__ import annotations

import numpy as np
import pytest
from sauces import ingredient

from balancer.catalogue import Catalogue
from balancer.constants import AXIS_NAMES
from balancer.problem import Problem
from balancer.solve import Status, solve
from balancer.wishes import Aim, Use

JUICE_G = 0.70 / 5.7 * 1000
SUGAR_G = 90 - 0.025 * JUICE_G
WATER_G = 1000 - JUICE_G - SUGAR_G


def test_pencil_and_paper() -> None:
    assert [round(g, 2) for g in (JUICE_G, SUGAR_G, WATER_G)] == [122.81, 86.93, 790.26]


@pytest.mark.parametrize("turned", [False, True])
def test_lemonade(turned: bool) -> None:
    uses = (
        Use(ingredient("lemon juice", citric=5.7, sucrose=2.5)),
        Use(ingredient("sugar", sucrose=100.0)),
        Use(ingredient("water", water=100.0)),
    )
    expected = [JUICE_G, SUGAR_G, WATER_G]
    if turned:
        uses, expected = uses[::-1], expected[::-1]
    aims = (Aim("sweet", 9.0, 9.0), Aim("sour", 0.70, 0.70))
    solution = solve(Problem(uses, aims, yield_g=1000.0, dead_band_jnd=0.0))
    assert solution.status is Status.ON_TARGET
    np.testing.assert_allclose(solution.grams, expected, atol=0.005)


def test_lemonade_from_the_food_table(catalogue: Catalogue) -> None:
    """The table's juice has other strengths, so pencil and paper are done on its own figures."""
    juice, sugar, water = (catalogue.food(k) for k in ("09152", "19335", "14411"))
    aims = (Aim("sweet", 9.0, 9.0), Aim("sour", 0.70, 0.70))
    uses = (Use(juice), Use(sugar), Use(water))
    solution = solve(Problem(uses, aims, yield_g=1000.0, dead_band_jnd=0.0))
    sour = juice["citric"] + 1.25 * juice["malic"]
    for other, weight in (("tartaric", 1.25), ("succinic", 1.1), ("lactic", 1.0)):
        sour += weight * float(np.nan_to_num(juice[other]))
    assert solution.grams[0] == pytest.approx(0.70 / sour * 1000, abs=0.01)
    assert solution.levels[AXIS_NAMES.index("sweet")] == pytest.approx(9.0, abs=1e-4)
    assert solution.grams.sum() == pytest.approx(1000.0, abs=1e-3)
