"""The recipe of the sauce in hand: its size, measures, method, shopping, nutrition, and files."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from html import escape
from typing import Any

import streamlit as st

from balancer import handover
from balancer.choices import SCALES_G, Style
from balancer.constants import AXES
from balancer.dashboard import bring, buying, keep, look, paper, session
from balancer.dashboard.fields import told
from balancer.dashboard.handing import (
    AS_IT_IS,
    NUMBERS,
    STYLES,
    WAYS,
    Wanted,
    amount,
    take,
    wanted,
)
from balancer.dashboard.work import Work
from balancer.errors import BadInput, BalancerError
from balancer.export import FORMATS, PANELS, PAPERS, Page, export
from balancer.export.markdown import escaped
from balancer.handover import Resized, Size
from balancer.kitchen import Outcome
from balancer.recipe import Order, Recipe
from balancer.rounding import Rounded

_TEXTS = {
    "taster": ("Tasted last by", "a name"),
    "made_on": ("Made on, for the label", "2031-05-02"),
    "use_by": ("Use by, as you decide it", "2031-05-09"),
    "image": ("Picture: its address or file name", "https://"),
}
_PANEL_WORDS = {"us": "US form", "eu": "EU form", "both": "both forms", "none": "none"}


@dataclass(frozen=True, eq=False)
class Sheet:
    """The recipe as the page shows it.

    Parameters
    ----------
    key : str
        All that it came from, in writing.
    resized : Resized or None
        None where the sauce stays as it is.
    outcome : Outcome
        At the wanted size.
    measured : Rounded
    recipe : Recipe
        Made by those measures.
    """

    key: str
    resized: Resized | None
    outcome: Outcome
    measured: Rounded
    recipe: Recipe


def draw() -> None:
    """Draw the page."""
    work = session.work()
    outcome = None if work is None else session.answer().outcome
    if work is None or outcome is None or not outcome.solution.has_quantities:
        st.html('<h1 class="b-name">The recipe</h1>')
        if work is None:
            st.write("No sauce is in hand. Begin one, or bring a recipe back here.")
        else:
            st.write("The sauce has no quantities yet. Go back and settle what it asks for.")
        bring.draw()
        return
    sheet = _sheet(work, outcome)
    st.html(f'<h1 class="b-name">The recipe: {escape(work.name)}</h1>')
    if work.made_g:
        st.caption("This is the plan, not the pot as it was weighed.")
    left, right = st.columns(2, gap="large")
    with left:
        _measures(work, sheet)
    with right:
        if sheet is not None:
            _method(sheet.recipe)
    if sheet is None:
        bring.draw()
        return
    left, right = st.columns(2, gap="large")
    with left:
        _downloads(sheet)
    with right:
        _nutrition(sheet)
    buying.draw(work, sheet.outcome)
    bring.draw()


# --- the recipe at its size ---------------------------------------------------------------------


def _sheet(work: Work, outcome: Outcome) -> Sheet | None:
    """The recipe as it is wanted; where the size cannot be meant, as the sauce stands."""
    session.note("size", "")
    try:
        return _made(work, outcome, wanted())
    except BalancerError as error:
        session.note("size", session.sentence(error))
    try:
        return _made(work, outcome, replace(wanted(), way=AS_IT_IS))
    except BalancerError as error:
        session.note("size", session.sentence(error))
        return None


def _made(work: Work, outcome: Outcome, asked: Wanted) -> Sheet:
    size, place = asked.size(), session.kitchen()
    name = work.saved_name or work.name
    key = f"{name} {work.revision} {session.answer().request} {size}"
    key += f" {asked.style} {asked.scale_g} {asked.serving_g} {work.kept}"

    def make() -> Sheet:
        with st.spinner("Choosing measures ..."):
            found = None
            now = outcome
            if size is not None:
                found = _resized(outcome, size)
                now = found.outcome
            measured = handover.measured(
                place.catalogue, now, Style(asked.style), float(asked.scale_g)
            )
            tasted = place.last_tasted(work.saved_name) if work.saved_name else ""
            recipe = place.measured_recipe(
                name, now, measured, Style(asked.style), revision=max(work.revision, 1),
                tasted=tasted, serving_g=asked.serving_g,
            )  # fmt: skip
        return Sheet(key, found, now, measured, recipe)

    return session.cached("sheet", key, make)


def _resized(outcome: Outcome, size: Size) -> Resized:
    key = f"{session.answer().request} {size}"
    return session.cached(
        "resized", key, lambda: session.kitchen().resized(outcome.document, outcome.answer, size)
    )


def _tried(asked: Wanted) -> None:
    """Refuse a size that the sauce cannot have, before it is wanted."""
    try:
        size = asked.size()
    except BadInput:  # the other half of a pair is still to come
        return
    outcome = session.answer().outcome
    if size is not None and outcome is not None:
        _resized(outcome, size)


def _measures(work: Work, sheet: Sheet | None) -> None:
    asked = wanted()
    _choice("How much", "way", list(WAYS), str)
    for field in WAYS[asked.way]:
        if field == "stock":
            names = ["", *work.labels]
            st.selectbox(
                "What has to be used up", names, key=session.bound("_stock", asked.stock),
                format_func=lambda n: escaped(n) or "choose", on_change=take,
                args=("stock", "_stock"),
            )  # fmt: skip
            continue
        words, step = NUMBERS[field]
        amount(words, field, f"_size_{field}", step, tried=_tried)
    told("size")
    with st.container(horizontal=True, gap="medium"):
        _choice("Measured", "style", list(STYLES), STYLES.__getitem__)
        _choice("Scale in steps of", "scale_g", list(SCALES_G), lambda g: f"{g:g} g")
    if sheet is None:
        return
    st.html(paper.head(sheet.recipe))
    st.html(paper.ingredients(sheet.recipe))
    st.html(f'<div class="b-paper">{escape(handover.rounding_words(sheet.measured))}</div>')
    notes = handover.measuring_notes(sheet.measured)
    if sheet.resized is not None:
        notes = [*sheet.resized.sentences, *notes]
    if notes:
        st.html(f'<div class="b-paper">{look.listed(notes)}</div>')
    st.html(look.fold("The balance before and after measuring", _before_after(sheet.measured)))


def _before_after(found: Rounded) -> str:
    rows = [
        (f"{axis.name}\n{axis.unit_per_100g}", f"{was:.3g}", f"{now:.3g}", f"{by:+.2f}")
        for axis, was, now, by in zip(
            AXES, found.wanted_levels, found.levels, found.deviation_jnd, strict=True
        )
    ]
    band = found.ph_band
    ph = "" if band is None else look.small(f"pH {band[0]:.2f} to {band[1]:.2f} when measured.")
    return look.table(("taste", "solved", "measured", "JND"), rows) + ph


def _choice(words: str, field: str, options: Sequence[Any], said: Callable[[Any], str]) -> None:
    key = session.bound(f"_wanted_{field}", getattr(wanted(), field))
    st.radio(
        words, options, key=key, format_func=said, horizontal=True, on_change=take,
        args=(field, key, options[0]),
    )  # fmt: skip


def _method(recipe: Recipe) -> None:
    st.html(paper.listed("Method", recipe.method, numbered=True))
    st.html(paper.listed("How to tell that it is right", recipe.checks))
    st.html(paper.cautions(recipe))
    if recipe.notes:
        st.html(f'<div class="b-screen"><b>Worth knowing</b>{look.listed(recipe.notes)}</div>')


# --- files --------------------------------------------------------------------------------------


def _downloads(sheet: Sheet) -> None:
    st.subheader("Hand it over")
    asked = wanted()
    try:
        pages = _pages(sheet, asked)
        session.note("options", "")
    except BalancerError as error:
        session.note("options", session.sentence(error))
        pages = {}
    told("options")
    with st.container(horizontal=True, gap="small"):
        for form, page in pages.items():
            st.download_button(
                keep.form_words(form), data=page.content, file_name=page.file_name,
                mime=page.mime, key=f"_hand_{form}", on_click="ignore",
            )  # fmt: skip
    if st.toggle("What stands on it: taster, dates, paper, nutrition", key="_more_options"):
        for field, (words, example) in _TEXTS.items():
            key = session.bound(f"_wanted_{field}", getattr(asked, field))
            st.text_input(
                words, key=key, placeholder=example, max_chars=2000, on_change=take,
                args=(field, key),
            )  # fmt: skip
        _choice("Paper of the PDF", "paper", PAPERS, str)
        _choice("Nutrition on it", "panels", PANELS, _PANEL_WORDS.__getitem__)
    st.html(
        look.small(
            "To print this page, use the print command of the browser: only the recipe goes on"
            " paper."
        )
    )


def _pages(sheet: Sheet, asked: Wanted) -> dict[str, Page]:
    """The recipe in every form."""
    options = asked.options()

    def write() -> dict[str, Page]:
        with st.spinner("Writing the recipe ..."):
            return {form: export(_of(sheet, form), form, options) for form in FORMATS}

    return session.cached("pages", f"{sheet.key} {options}", write)


def _of(sheet: Sheet, form: str) -> Recipe:
    """The record keeps the sauce free to be balanced again; other forms say the measures."""
    if form != "json":
        return sheet.recipe
    document = {"request": dict(sheet.outcome.document), "answer": sheet.outcome.answer}
    return replace(sheet.recipe, document=document)


def _nutrition(sheet: Sheet) -> None:
    st.subheader("Nutrition")
    _choice("Form", "form", [o.value for o in Order], _PANEL_WORDS.__getitem__)
    words, step = NUMBERS["serving_g"]
    amount(words, "serving_g", "_nutrition_serving_g", step, tried=_tried)
    form = wanted().form
    for panel in sheet.recipe.nutrition:
        if panel.order == form:
            st.html(paper.panel(sheet.recipe, panel))
