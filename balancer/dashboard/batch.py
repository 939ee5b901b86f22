"""The whole batch: how much, what cooks away, and limits of the finished sauce."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import streamlit as st

from balancer.dashboard import look, session
from balancer.dashboard.fields import checked, lines, number, open_line, opened, told
from balancer.dashboard.work import Work, with_fields
from balancer.errors import BadInput
from balancer.wishes import LARGEST_MASS_G

BATCH = "the batch"


@dataclass(frozen=True)
class Part:
    """A number of the whole batch: its words, unit, step of the buttons and largest value."""

    words: str
    unit: str
    step: float
    most: float


PARTS: Mapping[str, Part] = MappingProxyType(
    {
        "yield_g": Part("finished sauce", "g", 50.0, LARGEST_MASS_G),
        "yield_ml": Part("finished sauce", "mL", 50.0, LARGEST_MASS_G),
        "water_lost_g": Part("water cooked away", "g", 10.0, LARGEST_MASS_G),
        "sodium_mg_per_100g_max": Part("sodium, at most", "mg per 100 g", 50.0, 100_000.0),
        "fat_g_per_100g_max": Part("fat, at most", "g per 100 g", 1.0, 100.0),
        "ph_max": Part("pH, at most", "pH", 0.1, 14.0),
        "water_activity_max": Part("water activity, at most", "1", 0.01, 1.0),
        "acidity_pct_citric_min": Part(
            "titratable acidity, at least", "g citric acid per 100 g", 0.1, 100.0
        ),
        "dead_band_jnd": Part("a deviation that counts as none", "JND", 0.05, 10.0),
    }
)


def draw(work: Work, answer: Mapping[str, Any] | None) -> None:
    """Draw the total, and what may change of the batch once it is opened."""
    document = work.document
    st.html('<div class="b-line"></div>')
    with lines("batch"):
        st.button(
            "in all, before cooking",
            key="_adjust_batch",
            on_click=open_line,
            args=(BATCH,),
            width="stretch",
        )
        if answer is not None and answer["quantities_g"]:
            st.html(look.mass(sum(answer["quantities_g"].values())), width="content")
    if answer is not None and answer["quantities_g"]:
        lost = float(document.get("water_lost_g", 0.0))
        made = f"{look.grams(answer['final_mass_g'])}, about {answer['final_volume_ml']:.0f} mL"
        cooked = f", once {look.grams(lost)} of water has cooked away" if lost else ""
        st.caption(f"Makes {made}{cooked}.")
    told(BATCH)
    if not opened(BATCH):
        return
    amount = "yield_ml" if "yield_ml" in document else "yield_g"
    with st.container(border=True):
        for field, part in PARTS.items():
            if field.startswith("yield") and field != amount:
                continue
            value = document.get("limits", {}).get(field, document.get(field))
            number(
                f"{part.words} ({part.unit})", f"_{field}", value, _batch_typed, (field,), part.step
            )


def _batch_typed(field: str) -> None:
    work, part = session.work(), PARTS[field]
    value = st.session_state.get(f"_{field}")
    if work is None:
        return

    def act() -> None:
        if field.startswith("yield") and not value:
            raise BadInput("The yield is empty. Say how much finished sauce there shall be.")
        checked(value, part.words, part.unit, part.most)

    if not session.attempt(BATCH, act):
        return
    if field.endswith(("_max", "_min")):
        limits = {**work.document.get("limits", {}), field: value}
        limits = {k: v for k, v in limits.items() if v is not None}
        session.change(with_fields(work.document, limits=limits or None), BATCH)
    else:
        session.change(with_fields(work.document, **{field: value}), BATCH)
