# ruff: noqa: T201
"""The volatile scale against a sentence of kitchen practice (common practice, no source).

In half a litre, each of these seasons plainly, and that is about 12 uL in 100 g: 3 g of raw
garlic, 2 g of caraway seed, 20 g of fresh dill, 2 g of mustard powder, 15 g of fresh ginger.
Figures that disagree by more than a factor of two are listed and printed; none was tuned.
"""

from __future__ import annotations

import pytest

from balancer.catalogue import Catalogue
from balancer.composition import matrix
from balancer.constants import AXIS_NAMES
from balancer.search import resolve
from balancer.taste import levels, to_z

SENTENCE = {
    "garlic": 3.0,
    "caraway seed": 2.0,
    "dill": 20.0,
    "mustard powder": 2.0,
    "ginger": 15.0,
}
MEANT_UL = 12.0
POT_G = 500.0
FACTOR = 2.0
#: Seasonings whose table figure is off by more than the factor.
DISAGREE: frozenset[str] = frozenset({"dill"})


def _per_100g(catalogue: Catalogue) -> dict[str, float]:
    foods = [resolve(catalogue, name) for name in SENTENCE]
    alone = levels(matrix(foods))[:, AXIS_NAMES.index("volatile")]
    return {n: float(v) * g / POT_G for (n, g), v in zip(SENTENCE.items(), alone, strict=True)}


def test_disagreements_are_those_listed(
    catalogue: Catalogue, capsys: pytest.CaptureFixture[str]
) -> None:
    found = _per_100g(catalogue)
    with capsys.disabled():
        print(f"\na plain seasoning in half a litre; meant: {MEANT_UL:g} uL/100 g")
        for name, level in found.items():
            off = float(to_z(level, "volatile") - to_z(MEANT_UL, "volatile"))
            print(f"  {SENTENCE[name]:4g} g {name:<15} {level:6.1f} uL/100 g  {off:+5.1f} JND")
    off = {n for n, v in found.items() if not MEANT_UL / FACTOR <= v <= MEANT_UL * FACTOR}
    assert off == DISAGREE


@pytest.mark.parametrize("name", sorted(SENTENCE))
def test_each_is_tasted_at_all(catalogue: Catalogue, name: str) -> None:
    """At least one just-noticeable difference above nothing."""
    assert float(to_z(_per_100g(catalogue)[name], "volatile")) > 1.0
