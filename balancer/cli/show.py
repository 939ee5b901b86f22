"""What the command line prints: plain text, a unit beside every number."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from balancer.constants import AXIS, AXIS_NAMES
from balancer.pot import SetAside
from balancer.safety import wording
from balancer.tasting import understood

if TYPE_CHECKING:
    from balancer.additions import Plan
    from balancer.kitchen import Nudge, Tasting
    from balancer.ladder import Ladder
    from balancer.loop import Difference, Sauce
    from balancer.pot import Correction
    from balancer.search import Hit

WIDTH = 96
STATUS_WORDS: Mapping[str, str] = {
    "on_target": "On target.",
    "nearest": "As near as the limits allow.",
    "infeasible": "The limits contradict each other: there are no quantities.",
    "report": "A report on the quantities as they are.",
}


def columns(rows: Iterable[Sequence[str]], right: Iterable[int] = ()) -> str:
    """Lay rows out in columns, some of them flush right."""
    rows = [list(r) for r in rows]
    widths = [max(len(r[i]) for r in rows) for i in range(len(rows[0]))]
    to_right = set(right)
    return "\n".join(
        "  ".join(
            cell.rjust(w) if i in to_right else cell.ljust(w)
            for i, (cell, w) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    )


def grams_text(grams: float) -> str:
    """Grams as a cook reads a scale: 0.01 g below 1 g, 0.1 g below 100 g, 1 g above."""
    digits = 2 if grams < 1 else 1 if grams < 100 else 0
    return f"{grams:.{digits}f} g"


def level_text(level: float | None, unit: str = "") -> str:
    """A level with three significant digits, and its unit if given."""
    if level is None:
        return "-"
    shown = f"{level:.3g}" if level < 1000 else f"{level:.0f}"
    return f"{shown} {unit}".rstrip()


def target_text(target: float | Mapping[str, float] | None) -> str:
    """A target as a level or as a band."""
    if isinstance(target, Mapping):
        ends = (level_text(target["low"]), level_text(target["high"]))
        return ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}"
    return level_text(target)


def hits_table(hits: Sequence[Hit]) -> str:
    """Names found, with their food numbers and shelves."""
    rows = [("name", "number", "where")]
    for h in hits:
        same = h.matched == h.ingredient.name
        name = h.ingredient.name if same else f"{h.ingredient.name} ({h.matched})"
        where = f"pantry, {h.ingredient.group}" if h.in_pantry else f"table, {h.ingredient.group}"
        rows.append((name, h.ingredient.key, where))
    return columns(rows)


def outcome_text(answer: Mapping[str, Any]) -> str:
    """Quantities, profile, limits and cautions of an answer."""
    parts = [STATUS_WORDS[answer["status"]]]
    if answer["quantities_g"]:
        rows = []
        for label, grams in answer["quantities_g"].items():
            name = answer["resolved"][label]["name"]
            rows.append((label, grams_text(grams), "" if name == label else f"({name})"))
        total = sum(answer["quantities_g"].values())
        rows.append(("together", grams_text(total), ""))
        out = sum(answer.get("taken_out_g", {}).values())
        if out:
            rows.append(("taken out again", grams_text(out), ""))
        if abs(total - out - answer["final_mass_g"]) > 0.005:
            rows.append(("after cooking", grams_text(answer["final_mass_g"]), ""))
        parts.append(columns(rows, right=(1,)))
        parts.append(profile_table(answer["profile"], answer["perceived"]))
        parts.append(water_text(answer))
    for title, lines in (
        ("Limits that bind", [b["sentence"] for b in answer["binding"]]),
        ("What would have to give", [r["sentence"] for r in answer["relax"]]),
        ("Notes", answer.get("notes", [])),
        ("Not in the tables, counted as zero", _by_axis(answer["profile"], "unknown")),
        ("Assumed, or from memory", _by_axis(answer["profile"], "assumed")),
        ("How sure, nine lots in ten", answer.get("how_sure", {}).get("sentences", [])),
        ("Cautions", answer["cautions"]),
    ):
        if lines:
            parts.append(_listed(title, lines))
    return "\n\n".join(parts)


def _by_axis(profile: Mapping[str, Mapping[str, Any]], what: str) -> list[str]:
    return [f"{axis}: {', '.join(entry[what])}" for axis, entry in profile.items() if entry[what]]


def _listed(title: str, lines: Iterable[str]) -> str:
    wrapped = [
        textwrap.fill(line, WIDTH, initial_indent="  - ", subsequent_indent="    ")
        for line in lines
    ]
    return "\n".join([f"{title}:", *wrapped])


def profile_table(
    profile: Mapping[str, Mapping[str, Any]], tastes: Mapping[str, Mapping[str, Any]]
) -> str:
    """Level reached, target and deviation of every axis, and how strong it tastes."""
    rows = [("axis", "reached", "target", "off by", "unit", "tastes")]
    for axis in AXIS_NAMES:
        entry = profile[axis]
        off = entry["deviation_jnd"]
        rows.append(
            (
                axis,
                level_text(entry["reached"]),
                target_text(entry["target"]),
                "-" if off is None else f"{off + 0.0:+.2f} JND",
                entry["unit"],
                tastes.get(axis, {}).get("word", ""),
            )
        )
    return columns(rows, right=(1, 2, 3))


def water_text(answer: Mapping[str, Any]) -> str:
    """pH with its band, degrees Brix, acidity, moisture and water activity, in one line."""
    ph, activity = answer["ph"], answer["water_activity"]
    parts = [
        "no water phase, so no pH"
        if ph is None
        else f"pH {ph['value']:.2f} ({ph['low']:.2f} to {ph['high']:.2f})",
        f"{answer['brix']:.1f} degrees Brix",
        f"acidity {answer['acidity_pct_citric']:.2f} g citric acid per 100 g",
        f"moisture {answer['moisture_pct']:.0f} g per 100 g",
    ]
    if activity is not None:
        parts.append(f"water activity {activity:.2f}")
    return textwrap.fill("; ".join(parts) + ".", WIDTH)


def profile_text(levels: Mapping[str, float]) -> str:
    """A profile by itself."""
    return columns(
        [(axis, level_text(level, AXIS[axis].unit)) for axis, level in levels.items()], right=(1,)
    )


def nudge_text(nudge: Nudge, correction: Correction, words: str = "") -> str:
    """The two answers to a tasting, with what moved, how to weigh it, and slips of the words."""
    said = ", ".join(f"{axis} {step:+.2g} JND" for axis, step in nudge.steps.items())
    taken = understood(words).taken if words.strip() else {}
    guesses = "; ".join(f"{slip!r} was taken for {known!r}" for slip, known in taken.items())
    parts = [f"Understood: {said}{f' ({guesses})' if guesses else ''}."]
    plan = correction.plan
    if plan is None:
        parts.append("Add to this pot: nothing that is chosen keeps the limits.")
    elif not plan.additions:
        parts.append("Add to this pot: nothing; it is as near as it can be brought.")
    else:
        steps = plan.steps(correction.readability_g)
        growth = (
            f"The pot grows from {plan.start_g:.0f} g to {plan.finish_g:.0f} g,"
            f" by {100 * plan.growth:.0f} %."
        )
        parts.append(_listed("Add to this pot", [*steps, growth]))
    short = [
        f"{s.axis} {s.miss_after_jnd:+.1f} JND"
        for s in (plan.states if plan else ())
        if abs(s.miss_after_jnd) > 0.05
    ]
    if short:
        parts.append(f"The pot then comes as near as it can; still off: {', '.join(short)}.")
        for way, other in (
            ("Adding alone would take", correction.dilute),
            ("Or set a part aside", correction.set_aside),
        ):
            if other is not None:
                parts.append(_other_way(way, other))
    later = {wording(caution) for caution in nudge.next_batch.answer["cautions"]}
    now = [c for c in nudge.pot.answer["cautions"] if wording(c) not in later]
    if now:
        parts.append(_listed("Cautions for this pot", now))
    parts.append("Next batch:\n" + moved_table(nudge))
    parts.append(outcome_text(nudge.next_batch.answer))
    return "\n\n".join(parts)


def _other_way(way: str, other: Plan | SetAside) -> str:
    if isinstance(other, SetAside):
        return textwrap.fill(f"{way}: {other.sentences()[0]}", WIDTH)
    return f"{way} a pot of {other.finish_g:.0f} g, a growth of {100 * other.growth:.0f} %."


def moved_table(nudge: Nudge) -> str:
    """Grams before and after."""
    rows = [("", "made", "next", "change")]
    for use in nudge.next_batch.problem.uses:
        before = (use.draft_g or 0.0) / use.passes
        after = nudge.next_batch.answer["quantities_g"].get(use.label)
        if after is None:
            continue
        change = after - before
        still = abs(change) < 0.005
        rows.append(
            (
                use.label,
                grams_text(before),
                grams_text(after),
                "-" if still else f"{'+' if change > 0 else '-'}{grams_text(abs(change))}",
            )
        )
    return columns(rows, right=(1, 2, 3))


def nudge_document(nudge: Nudge) -> dict[str, Any]:
    """The two answers to a tasting as a document."""
    return {
        "steps_jnd": dict(nudge.steps),
        "tasted": dict(nudge.tasted),
        "wanted": dict(nudge.wanted),
        "add_to_pot_g": {k: float(f"{v:.6g}") for k, v in nudge.additions_g.items()},
        "pot": nudge.pot.answer,
        "next_request": dict(nudge.next_batch.document),
        "next_batch": nudge.next_batch.answer,
    }


def learned_text(result: Tasting) -> str:
    """What all rounds have taught."""
    return _listed(f"Round {result.number}", result.palate.sentences())


def rounds_table(sauce: Sauce) -> str:
    """Rounds of a sauce, oldest first."""
    rows = [("round", "revision", "said", "closeness, 0 to 10", "sweet", "sour", "salt")]
    for number, document in enumerate(sauce.rounds, start=1):
        tasted = document["round"]
        close = ", ".join(f"{what} {score:g}" for what, score in tasted["closeness"].items())
        sweet, sour, salt = (level_text(tasted["made"][a]) for a in ("sweet", "sour", "salt"))
        said = document["said"] or "rated beside the reference"
        rows.append((str(number), str(document["revision"]), said, close or "-", sweet, sour, salt))
    units = ", ".join(f"{a} in {AXIS[a].unit_per_100g}" for a in ("sweet", "sour", "salt"))
    return columns(rows, right=(0, 1, 4, 5, 6)) + f"\n({units})"


def ladder_text(ladder: Ladder) -> str:
    """A ladder of spoons, to dose and to taste from the first to the last."""
    samples = [f"sample {i}: {spoon}" for i, spoon in enumerate(ladder.spoons, start=1)]
    after = [
        f"The samples take {ladder.taken_g:.0f} g; {ladder.pot_left_g:.0f} g stay in the pot.",
        f"The answer is expected to settle {100 * ladder.fall:.0f} % of the doubt.",
        *ladder.remarks,
    ]
    return _listed(f"Spoons on {ladder.axis}, from less to more", [*samples, *after])


def differences_table(found: Sequence[Difference]) -> str:
    """Two profiles side by side."""
    rows = [("axis", "first", "second", "second against first", "unit")]
    rows += [
        (d.axis, level_text(d.first), level_text(d.second), f"{d.steps_jnd + 0.0:+.1f} JND", d.unit)
        for d in found
    ]
    return columns(rows, right=(1, 2, 3))


def saved_table(recipes: Sequence[Any], profiles: Sequence[Any]) -> str:
    """Names of what is saved, with dates."""
    rows = [("kind", "name", "revision", "saved")]
    rows += [("recipe", r.name, str(r.revision), r.saved_at[:10]) for r in recipes]
    rows += [("profile", p.name, "", p.saved_at[:10]) for p in profiles]
    return columns(rows)
