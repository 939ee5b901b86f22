"""The short form of a long session and of two tabs, in a real browser."""

from __future__ import annotations

from pathlib import Path

import hard_session
import pytest


@pytest.mark.parametrize("name", sorted(hard_session.rows(long=False)))
def test_a_session_loses_nothing(name: str, tmp_path: Path) -> None:
    row = hard_session.rows(long=False)[name](tmp_path)
    assert not row.lost, row.lost


def test_growth_is_noticed() -> None:
    """The check itself: what grows by half in the last third is named, what is level is not."""
    assert hard_session.growth("memory", [100.0] * 20 + [150.0] * 10)
    assert not hard_session.growth("memory", [100.0] * 30)
    assert hard_session.slope([0.5 * k for k in range(100)]) == pytest.approx(50.0)
