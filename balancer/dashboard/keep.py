"""Keeping the sauce under a name, and handing it over."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import streamlit as st

from balancer.dashboard import session, telling
from balancer.dashboard.fields import fold
from balancer.dashboard.work import Work
from balancer.errors import BalancerError, ChangedMeanwhile, NameTaken
from balancer.export import FORMATS, Page, export, safe_filename
from balancer.export.markdown import escaped
from balancer.kitchen import Kitchen, Outcome

#: Forms whose buttons stand open; the others are one tap away.
AT_HAND = ("markdown", "csv")


def draw(work: Work, outcome: Outcome) -> None:
    """Save, and download."""
    st.subheader("Keep it, hand it over")
    st.text_input("Name", key=session.bound("_save_name", work.saved_name or work.name))
    with st.container(horizontal=True, gap="small"):
        st.button("Save the sauce", key="_save", type="primary", on_click=_save)
        st.button("Save its levels as a profile", key="_save_profile", on_click=_save_profile)
    if session.noted("save"):
        st.error(escaped(session.noted("save")))
    offers("save")
    if session.noted("saved"):
        st.success(escaped(session.noted("saved")))
    if work.made_g:
        st.caption("What is saved and handed over is the plan above, not the pot as weighed.")
    _downloads(work, outcome)


def _downloads(work: Work, outcome: Outcome) -> None:
    with st.container(horizontal=True, gap="small"):
        for form in AT_HAND:
            name = work.saved_name or work.name
            st.download_button(
                form_words(form), data=_when_pressed(work, outcome, form),
                file_name=safe_filename(name, FORMATS[form].suffix), mime=FORMATS[form].mime,
                key=f"_export_{form}", on_click="ignore",
            )  # fmt: skip
    st.button("Measures, another size, shopping, nutrition, every form", key="_whole_recipe",
              on_click=_whole_recipe)  # fmt: skip
    part = fold("Other forms: to print, for a label, as data", "_forms")
    if not part.open:
        return
    with part:
        others = [form for form in FORMATS if form not in AT_HAND]
        chosen = st.selectbox(
            "Which?", others, index=None, format_func=form_words, key="_form", placeholder="choose"
        )
        if chosen is not None:
            _download(work, outcome, str(chosen))


def _when_pressed(work: Work, outcome: Outcome, form: str) -> Callable[[], bytes]:
    """The recipe in one form, written only once its button is pressed."""
    kitchen = session.kitchen()
    return lambda: _written(kitchen, work, outcome, form).content


def _written(kitchen: Kitchen, work: Work, outcome: Outcome, form: str) -> Page:
    document = {"request": dict(outcome.document), "answer": outcome.answer}
    name = work.saved_name or work.name
    return export(kitchen.recipe_of(name, document, revision=max(work.revision, 1)), form)


def _whole_recipe() -> None:
    st.session_state["page"] = "recipe"


def _download(work: Work, outcome: Outcome, form: str) -> None:
    """A button that hands over the recipe in a chosen form, or the reason why it cannot."""
    name = work.saved_name or work.name
    key = f"{name} {work.revision} {session.answer().request}"
    kitchen = session.kitchen()
    try:
        page = session.cached(f"page {form}", key, lambda: _written(kitchen, work, outcome, form))
    except BalancerError as error:
        st.error(escaped(session.sentence(error)))
        return
    st.download_button(
        form_words(form), data=page.content, file_name=page.file_name, mime=page.mime,
        key=f"_export_{form}", on_click="ignore",
    )  # fmt: skip


def form_words(form: str) -> str:
    """What a cook reads on the button of a form."""
    return f"{FORMATS[form].told} ({FORMATS[form].suffix.strip()})"


def name_typed() -> str:
    """The name in the field, as it would be saved."""
    return str(st.session_state.get("_save_name") or "").strip()


# --- saving, and what to do when another window was there first ---------------------------------


def minding(name: str, where: str, act: Callable[[], None]) -> bool:
    """Do something that saves; where another window saved first, say so and offer ways on.

    Parameters
    ----------
    name : str
        Name under which it was to be saved.
    where : str
        The field beside which the sentence and the offers stand.
    act : callable
    """
    session.note("saved", "")
    session.note(where, "")
    st.session_state["taken"] = None
    try:
        act()
    except (ChangedMeanwhile, NameTaken) as error:
        session.note(where, session.sentence(error))
        st.session_state["taken"] = (where, name)
        return False
    except BalancerError as error:
        session.note(where, session.sentence(error))
        return False
    return True


def offers(where: str) -> None:
    """Draw the ways on from a name that is taken or a revision that came in between."""
    taken = st.session_state.get("taken")
    if not taken or taken[0] != where or (where == "save" and taken[1] != name_typed()):
        return
    name = taken[1]
    with st.container(horizontal=True, gap="small"):
        st.button(
            "Save under another name", key=f"_save_beside_{where}", on_click=_beside,
            args=(where, name),
        )  # fmt: skip
        st.button("Open the newer one", key=f"_open_newer_{where}", on_click=_open,
                  args=(where, name))  # fmt: skip
        st.button(
            "Save as its next revision", key=f"_save_over_{where}", on_click=_store,
            args=(where, name), kwargs={"over": True},
        )  # fmt: skip
    st.caption("Every revision stays, whichever you choose.")


def _save() -> None:
    _store("save", name_typed())


def _store(where: str, name: str, *, over: bool = False) -> None:
    def act() -> None:
        work = session.work()
        if work is not None and session.answer().outcome is not None:
            now = telling.saved(session.kitchen(), work, name, over=over)
            session.put(now)
            session.note("saved", f"Saved as {name!r}, revision {now.revision}.")

    minding(name, where, act)


def _beside(where: str, name: str) -> None:
    """Save under the first free name that says whose it is."""
    work = session.work()

    def act() -> None:
        if work is None:
            return
        there = {r.name for r in session.kitchen().store.recipes()}
        number = next(n for n in range(2, len(there) + 3) if f"{name} {n}" not in there)
        own = replace(work, saved_name="", revision=0, kept=0, tasted=0)
        now = telling.saved(session.kitchen(), own, f"{name} {number}")
        session.put(now)
        session.note("saved", f"Saved as {now.saved_name!r}, revision {now.revision}.")

    minding(name, where, act)


def _open(where: str, name: str) -> None:
    """Take the newer revision in hand; what was in hand stays one step back."""
    work = session.work()

    def act() -> None:
        if work is not None:
            newer = telling.opened(session.kitchen(), name)
            session.put(replace(newer, steps=work.steps, details=work.details,
                                past=(*work.past, work)))  # fmt: skip

    minding(name, where, act)


def _save_profile() -> None:
    outcome, name = session.answer().outcome, name_typed()
    session.note("saved", "")

    def act() -> None:
        if outcome is not None:
            session.kitchen().save_profile(name, outcome)
            session.note("saved", f"Saved the levels as the profile {name!r}.")

    session.attempt("save", act)
