"""The sauce in hand: one frozen value, and every way a cook can change it.

Nothing here knows of pages; a change returns a new value, and what was before stays reachable
through ``past``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from balancer.constants import AXIS_NAMES, POT_GROWTH
from balancer.dashboard.asking import Asked
from balancer.dashboard.details import Details
from balancer.errors import BadInput
from balancer.kitchen import Kitchen, Nudge, Outcome
from balancer.pot import READABILITY_G
from balancer.taste import from_z, to_z
from balancer.wishes import LARGEST_LEVEL

#: Finished mass of a sauce that a cook begins without saying how much [g].
FIRST_YIELD_G = 500.0
#: How many changes can be taken back [1].
LONGEST_PAST = 60
#: Levels are kept with this many significant digits [1].
LEVEL_DIGITS = 4
#: An axis below this distance from nothing is not aimed at unasked [JND].
LEAST_AIM_JND = 1.0


@dataclass(frozen=True)
class Round:
    """One tasting that was acted on.

    Parameters
    ----------
    said : str
        The cook's words.
    then : str
        What was done: "pot" or "next batch".
    """

    said: str
    then: str


@dataclass(frozen=True, eq=False)
class Work:
    """The sauce in hand.

    Parameters
    ----------
    document : mapping
        The request, as the request schema describes.
    saved_name : str
        Name under which it is kept, empty if it never was.
    revision : int
        Revision that was opened or saved last.
    made_g : mapping of str to float
        What is in the pot where it differs from the plan, by name in the request [g].
    steps : mapping of str to float
        The tasting being said, axis to step [JND].
    rounds : tuple of Round
        Tastings acted on so far.
    details : Details
        What else is said of this tasting.
    kept : int
        Rounds that the saved sauce is known to have.
    tasted : int
        Round whose answer is in view; 0 for none.
    answered : mapping of str to float
        The note of that round, where what to add to the pot was read before the round was kept:
        it stays what it was, axis to step [JND].
    added : bool
        Whether the pot is as it was added to last: neither weighed nor tasted since.
    also : tuple of str
        Further ingredients that may go into the pot.
    growth_pct : float
        Largest growth of the pot [%].
    scale_g : float
        Step of the cook's scale [g].
    before_g : mapping of str to float
        Quantities before the last change [g].
    asked : Asked
        What was asked of a search for ideas.
    past : tuple of Work
        Earlier states, oldest first.
    """

    document: Mapping[str, Any]
    saved_name: str = ""
    revision: int = 0
    made_g: Mapping[str, float] = field(default_factory=dict)
    steps: Mapping[str, float] = field(default_factory=dict)
    rounds: tuple[Round, ...] = ()
    details: Details = field(default_factory=Details)
    kept: int = 0
    tasted: int = 0
    answered: Mapping[str, float] = field(default_factory=dict)
    added: bool = False
    also: tuple[str, ...] = ()
    growth_pct: float = 100.0 * POT_GROWTH.value
    scale_g: float = READABILITY_G
    before_g: Mapping[str, float] = field(default_factory=dict)
    asked: Asked = field(default_factory=Asked)
    past: tuple[Work, ...] = ()

    @property
    def name(self) -> str:
        """What the cook calls the sauce."""
        return str(self.document.get("name", "")) or self.saved_name or "a sauce"

    @property
    def labels(self) -> tuple[str, ...]:
        """Names of the ingredients, in the cook's order."""
        return tuple(entry["name"].strip() for entry in self.document["ingredients"])

    @property
    def aimed(self) -> bool:
        """Whether a level is asked for on any axis."""
        return bool(self.document.get("target"))

    def entry(self, label: str) -> Mapping[str, Any]:
        """What the cook allows of one ingredient."""
        for entry in self.document["ingredients"]:
            if entry["name"].strip() == label:
                return dict(entry)
        raise BadInput(f"{label[:60]!r} is not in this sauce any more. Add it again.")

    def changed(self, document: Mapping[str, Any], quantities_g: Mapping[str, float]) -> Work:
        """The same sauce with another request; what is in the pot no longer counts."""
        return replace(
            self,
            document=document,
            made_g={},
            tasted=0,
            answered={},
            added=False,
            before_g=dict(quantities_g),
            past=(*self.past, self)[-LONGEST_PAST:],
        )

    def marked(self, document: Mapping[str, Any]) -> Work:
        """The same sauce with another request that leaves every quantity as it is."""
        return replace(self, document=document, past=(*self.past, self)[-LONGEST_PAST:])

    def undone(self) -> Work:
        """The state before the last change; saved names stay as they are."""
        if not self.past:
            return self
        last = self.past[-1]
        return replace(
            last,
            saved_name=self.saved_name,
            revision=self.revision,
            kept=self.kept,
            tasted=min(last.tasted, self.kept),
        )


def begun(document: Mapping[str, Any]) -> Work:
    """A sauce to start from."""
    return Work({**document, "ingredients": list(document["ingredients"])})


def new_sauce(name: str) -> Work:
    """A sauce of the cook's own, with nothing in it yet."""
    return begun({"name": name.strip() or "my sauce", "yield_g": FIRST_YIELD_G, "ingredients": []})


def solvable(document: Mapping[str, Any]) -> Mapping[str, Any]:
    """The request that is solved: where nothing is asked, any sweetness is welcome.

    The answer is then the draft, or the usual shares, within every limit.
    """
    free = any("locked_g" not in entry for entry in document["ingredients"])
    if document.get("target") or not free:
        return document
    return {**document, "target": {"sweet": {"low": 0.0, "high": LARGEST_LEVEL["sweet"]}}}


def solved(kitchen: Kitchen, document: Mapping[str, Any]) -> Outcome:
    """Solve a request as it stands, asked for anything or not."""
    return kitchen.solve(solvable(document))


# --- ingredients --------------------------------------------------------------------------------


def with_ingredient(document: Mapping[str, Any], name: str, **fields: Any) -> dict[str, Any]:
    """The request with one more ingredient."""
    return {**document, "ingredients": [*document["ingredients"], {"name": name, **fields}]}


def without_ingredient(document: Mapping[str, Any], label: str) -> dict[str, Any]:
    """The request without an ingredient and without the ratios that name it."""
    left = [e for e in document["ingredients"] if e["name"].strip() != label]
    ratios = [
        r for r in document.get("ratios", ()) if label not in (r["of"].strip(), r["to"].strip())
    ]
    return {**document, "ingredients": left} | ({"ratios": ratios} if "ratios" in document else {})


def with_entry(document: Mapping[str, Any], label: str, **fields: Any) -> dict[str, Any]:
    """The request with fields of one ingredient set; None takes a field away."""
    entries = [
        _merged(e, fields) if e["name"].strip() == label else e for e in document["ingredients"]
    ]
    return {**document, "ingredients": entries}


def with_fields(document: Mapping[str, Any], **fields: Any) -> dict[str, Any]:
    """The request with fields of its own set; None takes a field away."""
    return _merged(document, fields)


def _merged(old: Mapping[str, Any], fields: Mapping[str, Any]) -> dict[str, Any]:
    return {k: v for k, v in {**old, **fields}.items() if v is not None}


# --- targets ------------------------------------------------------------------------------------


def rounded(level: float) -> float:
    """A level as it is kept in a request."""
    return float(f"{level:.{LEVEL_DIGITS}g}")


def band(target: float | Mapping[str, float]) -> tuple[float, float]:
    """Ends of a target [axis unit]."""
    if isinstance(target, Mapping):
        return float(target["low"]), float(target["high"])
    return float(target), float(target)


def with_target(
    document: Mapping[str, Any], axis: str, target: float | Mapping[str, float] | None
) -> dict[str, Any]:
    """The request with one axis aimed elsewhere; None asks nothing of it."""
    targets = _merged(document.get("target", {}), {axis: target})
    return {**document, "target": {a: targets[a] for a in AXIS_NAMES if a in targets}}


def as_it_is(document: Mapping[str, Any], outcome: Outcome) -> dict[str, Any]:
    """The request that aims at the levels an outcome reaches, on every axis that can be tasted."""
    target = {
        axis: rounded(entry["reached"])
        for axis, entry in outcome.answer["profile"].items()
        if entry["reached"] is not None and float(to_z(entry["reached"], axis)) >= LEAST_AIM_JND
    }
    return {**document, "target": target}


def stepped(
    document: Mapping[str, Any], axis: str, steps_jnd: float, outcome: Outcome
) -> dict[str, Any]:
    """The request with one axis moved by just-noticeable steps.

    A target moves from where it stands; an axis of which nothing was asked moves from the level
    reached. Where nothing was asked at all, the other axes stay at their present levels.
    """
    if not document.get("target"):
        document = as_it_is(document, outcome)
    old = document["target"].get(axis)
    reached = outcome.answer["profile"][axis]["reached"] or 0.0
    low, high = band(reached if old is None else old)
    moved = [rounded(float(from_z(to_z(end, axis) + steps_jnd, axis))) for end in (low, high)]
    if moved[0] == moved[1] and not isinstance(old, Mapping):
        return with_target(document, axis, moved[0])
    weight = {"weight": old["weight"]} if isinstance(old, Mapping) and "weight" in old else {}
    return with_target(document, axis, {"low": moved[0], "high": moved[1], **weight})


# --- tasting ------------------------------------------------------------------------------------

_STEP_WORDS = {1.0: "a touch", 2.0: "", 4.0: "much"}


def step_words(axis: str, step: float) -> str:
    """A step in words: "a touch less sour", "sour is right"."""
    if step == 0:
        return f"{axis} is right"
    word = _STEP_WORDS.get(abs(step))
    way = "more" if step > 0 else "less"
    if word is None:
        return f"{abs(step):g} steps {way} {axis}"
    return f"{word} {way} {axis}".strip()


def said(steps: Mapping[str, float]) -> str:
    """All steps of a tasting in words."""
    return ", ".join(step_words(a, steps[a]) for a in AXIS_NAMES if a in steps)


def next_step(step: float, way: int) -> float:
    """The step that one more press leads to: none, a touch, plain, much."""
    ladder = [-4.0, -2.0, -1.0, 0.0, 1.0, 2.0, 4.0]
    nearest = min(range(len(ladder)), key=lambda i: abs(ladder[i] - step))
    return ladder[min(max(nearest + way, 0), len(ladder) - 1)]


def into_next_batch(work: Work, nudge: Nudge, made_g: Mapping[str, float]) -> Work:
    """Go on with the next batch of a tasting."""
    return _gone_on(work, nudge.next_batch.document, made_g, "next batch")


def into_pot(
    work: Work, document: Mapping[str, Any], made_g: Mapping[str, float], now_g: Mapping[str, float]
) -> Work:
    """Go on with the pot after its additions: what is in it now is what will be tasted.

    Parameters
    ----------
    work : Work
    document : mapping
        The request from here on.
    made_g, now_g : mapping of str to float
        What was in the pot, and what is in it now, by label [g].
    """
    held = {e["name"].strip() for e in document["ingredients"]}
    new = [{"name": name, "draft_g": 0.0} for name in now_g if name not in held]
    document = {**document, "ingredients": [*document["ingredients"], *new]}
    after = _gone_on(work, document, made_g, "pot")
    return replace(after, made_g={k: float(f"{g:.6g}") for k, g in now_g.items()}, added=True)


def _gone_on(
    work: Work, document: Mapping[str, Any], made_g: Mapping[str, float], then: str
) -> Work:
    rounds = work.rounds
    if work.steps or work.tasted:
        rounds = (*rounds, Round(said(work.steps), then))
    return replace(
        work.changed(document, made_g), steps={}, rounds=rounds, details=Details(), also=()
    )
