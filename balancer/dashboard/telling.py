"""The tasting loop of the sauce in hand, without a page: keep a round, tell what it taught."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from balancer.constants import AXIS_NAMES
from balancer.dashboard.details import Details
from balancer.dashboard.work import Work, as_it_is, said, solvable, with_fields
from balancer.errors import BadInput, ChangedMeanwhile
from balancer.kitchen import Kitchen, Nudge, Outcome
from balancer.loop import learned, moved, one_round
from balancer.pot import Correction
from balancer.search import resolve

PERCENT = 100.0
WATER = "water"


@dataclass(frozen=True, eq=False)
class Told:
    """What a tasting leads to.

    Parameters
    ----------
    sentences : tuple of str
        What was learned; empty where no round is kept.
    nudge : Nudge
    pot : Correction
        How to weigh and stage what goes into the pot.
    in_pot_g : mapping of str to float
        What is in the pot now, by label [g].
    judged : tuple of str
        Axes of which something is known.
    said : str
        The note that is answered.
    """

    sentences: tuple[str, ...]
    nudge: Nudge
    pot: Correction
    in_pot_g: Mapping[str, float]
    judged: tuple[str, ...] = ()
    said: str = ""


def same(first: Mapping[str, Any], second: Mapping[str, Any]) -> bool:
    """Whether two requests are the same in writing."""
    return json.dumps(first, sort_keys=True) == json.dumps(second, sort_keys=True)


def saved(kitchen: Kitchen, work: Work, name: str, *, over: bool = False) -> Work:
    """Save the sauce in hand; a revision that came in between is never covered silently.

    Parameters
    ----------
    kitchen : Kitchen
    work : Work
    name : str
        Its own saved name, or another one.
    over : bool
        Whether it may become the next revision of whatever has that name.

    Raises
    ------
    ChangedMeanwhile
        If another window saved in between.
    NameTaken
        If another sauce has the name.
    """
    document = work.document
    if not work.aimed:
        document = as_it_is(document, kitchen.solve(solvable(document)))
    document = with_fields(document, name=name or None)
    mine = bool(work.saved_name) and name == work.saved_name
    revision = kitchen.save(
        name,
        kitchen.solve(document),
        replace_it=mine or over,
        expected_revision=work.revision if mine and not over else None,
    )
    kept = len(kitchen.store.rounds(name))
    return replace(work, document=document, saved_name=name, revision=revision, kept=kept)


def opened(kitchen: Kitchen, name: str) -> Work:
    """A saved sauce, taken in hand at its last revision."""
    last = kitchen.store.recipe(name)
    return Work(
        dict(last.document["request"]),
        saved_name=name,
        revision=last.revision,
        kept=len(kitchen.store.rounds(name)),
    )


def kept_round(kitchen: Kitchen, work: Work, name: str) -> Work:
    """Keep what was said as a round of the sauce, saving the sauce first where it has changed.

    Returns
    -------
    Work
        With nothing said any more and the round's answer in view.

    Raises
    ------
    BadInput
        If the round says nothing, or something that cannot be meant.
    ChangedMeanwhile
        If the sauce in hand has changes and another window saved in between.
    """
    details = work.details.for_round()
    read = {} if work.kept else dict(work.steps)  # what to add was shown as soon as it was said
    if not (work.steps or work.details.rest_right or work.details.own):
        raise BadInput(
            "The round is empty. Say what is off, mark your sauce beside the reference, or say"
            " that all is right."
        )
    if not work.saved_name or not same(
        kitchen.saved(work.saved_name, work.revision)["request"], work.document
    ):
        work = saved(kitchen, work, name)
    planned = kitchen.saved(work.saved_name, work.revision)["answer"]["quantities_g"]
    found = kitchen.taste(
        work.saved_name,
        sentence(work.steps, work.details),
        made_g={**planned, **work.made_g},
        also=work.also,
        growth=work.growth_pct / PERCENT,
        keep_plan=False,
        **details,
    )
    return replace(
        work, steps={}, details=Details(), kept=found.number, tasted=found.number, answered=read,
        added=False,
    )  # fmt: skip


def sentence(steps: Mapping[str, float], details: Details) -> str:
    """What was said, as one sentence."""
    rest = ["the rest is right"] if details.rest_right else []
    return ", ".join([said(steps), *rest] if steps else rest)


def minded(kitchen: Kitchen, work: Work) -> tuple[str, ...]:
    """Axes that the cook minds: those first aimed at, those judged in a round, those named now.

    A next batch aims at every axis, so that the others stay; they are not asked about first.
    """
    first = (work.past[0] if work.past else work).document
    rounds: tuple[Mapping[str, Any], ...] = ()
    if work.saved_name and work.kept:
        sauce = kitchen.sauce(work.saved_name)
        first, rounds = sauce.first["request"], sauce.rounds
    named = {*first.get("target", {}), *work.steps}
    for tasted in (kept["round"] for kept in rounds):
        named |= {*tasted["words"], *tasted.get("ratings", {}).get("own", {})}
    return tuple(axis for axis in AXIS_NAMES if axis in named)


def of_round(kitchen: Kitchen, work: Work) -> Told:
    """What the round in view taught, and what to do; the same again at every reading.

    Additions to the pot that were read before the round was kept stay what they were: the cook may
    have weighed them. What was learned goes into the next batch and into later notes.
    """
    sauce = kitchen.sauce(work.saved_name)
    document = one_round(sauce, work.tasted)
    until = replace(sauce, rounds=sauce.rounds[: work.tasted])
    palate = learned(until, kitchen.earlier(work.saved_name))
    nudge = moved(kitchen.catalogue, until, palate, document, work.also, work.growth_pct / PERCENT)
    share = float(document.get("pot_share", 1.0))
    in_pot = {name: share * float(g) for name, g in document["made_g"].items()}
    if work.answered:
        read = kitchen.nudge(
            sauce.last["request"],
            sauce.last["answer"],
            work.answered,
            made_g=in_pot,
            also=work.also,
            growth=work.growth_pct / PERCENT,
        )
        nudge = replace(read, next_batch=nudge.next_batch)
    pot = kitchen.how_to_add(nudge, work.scale_g)
    said = str(document.get("said", ""))
    return Told(palate.sentences(), nudge, pot, in_pot, palate.judged, said)


def of_words(kitchen: Kitchen, work: Work, outcome: Outcome) -> Told:
    """What to do about the words of a sauce that is not saved."""
    nudge = kitchen.nudge(
        solvable(work.document),
        outcome.answer,
        work.steps,
        made_g=work.made_g or None,
        also=work.also,
        growth=work.growth_pct / PERCENT,
    )
    in_pot = {**outcome.answer["quantities_g"], **work.made_g}
    return Told((), nudge, kitchen.how_to_add(nudge, work.scale_g), in_pot, said=said(work.steps))


def off_recipe(kitchen: Kitchen, work: Work, outcome: Outcome) -> Correction:
    """What brings a pot that was weighed otherwise back to the levels that are asked for."""
    return kitchen.correct(
        work.document,
        outcome.answer,
        made_g=work.made_g,
        also=work.also,
        growth=work.growth_pct / PERCENT,
        readability_g=work.scale_g,
    )


def poured(
    kitchen: Kitchen, found: Correction, in_pot_g: Mapping[str, float], water: str
) -> dict[str, float]:
    """What is in the pot once everything has been weighed in; what thinned it counts.

    Parameters
    ----------
    kitchen : Kitchen
    found : Correction
    in_pot_g : mapping of str to float
        What was in it, by label [g].
    water : str
        The cook's name for water.
    """
    now = dict(in_pot_g)
    for addition in () if found.plan is None else found.plan.additions:
        strength = 1.0 if addition.thinned is None else addition.thinned.strength
        now[addition.label] = now.get(addition.label, 0.0) + strength * addition.weigh_g
        if addition.thinned is not None and addition.thinned.carrier == WATER:
            now[water] = now.get(water, 0.0) + (1.0 - strength) * addition.weigh_g
    return now


def water_of(kitchen: Kitchen, answer: Mapping[str, Any]) -> str:
    """The cook's name for water in a sauce, or the plain one."""
    key = resolve(kitchen.catalogue, WATER).key
    return next((n for n, found in answer["resolved"].items() if found["key"] == key), WATER)


def went_on(kitchen: Kitchen, work: Work) -> Work:
    """Keep the request that a tasting led to as the next revision.

    Raises
    ------
    ChangedMeanwhile
        If another window saved in between; what is in hand stays as it is.
    """
    if not work.saved_name:
        return work
    last = kitchen.store.recipe(work.saved_name).revision
    if last != work.revision:
        raise ChangedMeanwhile(
            f"The sauce {work.saved_name[:60]!r} was saved meanwhile: its last revision is {last},"
            f" you have revision {work.revision}. Yours is in hand and not saved; open the newer"
            " one, or save yours under another name."
        )
    return saved(kitchen, work, work.saved_name)
