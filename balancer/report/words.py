"""The data report in text: a summary in Markdown, and every ingredient in full."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from balancer.chemical_constants import MILD_PH
from balancer.composition import COMPONENTS, Evidence
from balancer.report.survey import Basis, FoodReport, PhCheck, Report

_NEAR_PH = 0.3  # a prediction this near to the published range is called near
_WORST = 10  # misses that the summary prints
_CLOSED_G = (1.0, 6.0)  # distances of the mass balance from 100 g that the summary counts

#: Heads of the summary, with the component groups under each.
_GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("water, protein, fat, carbohydrates, ash, ethanol", ("bulk",)),
    ("sugars", ("sugar",)),
    ("organic acids", ("acid",)),
    ("minerals, strong ions", ("ion",)),
    ("free glutamate", ("savoury",)),
    ("capsaicinoids", ("hot",)),
    ("volatile oils, sulphur pungents", ("aromatic",)),
)


def _table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterator[str]:
    yield f"| {' | '.join(heads)} |"
    yield "|" + "---|" * len(heads)
    for row in rows:
        yield f"| {' | '.join(row)} |"


def _range(low: float, high: float) -> str:
    return f"{low:g}" if low == high else f"{low:g} to {high:g}"


def _evidence_rows(report: Report) -> list[list[str]]:
    rows = []
    for head, groups in _GROUPS:
        names = {c.name for c in COMPONENTS if c.group in groups}
        counts = [
            sum(len(names & set(food.by_evidence.get(kind, ()))) for food in report.foods)
            for kind in Evidence
        ]
        missing = sum(len(names & set(food.missing)) for food in report.foods)
        rows.append([head, *(str(n) for n in (*counts, missing))])
    return rows


def _ph_rows(report: Report) -> list[list[str]]:
    checks = [
        food.ph for food in report.foods if food.ph is not None and food.ph.published is not None
    ]
    rows = []
    for basis in (Basis.LEFT_OUT, Basis.NOT_FITTED):
        for label, sour in ((f"under pH {MILD_PH.value:g}", True), ("the rest", False)):
            miss = np.array([abs(c.miss) for c in checks if c.basis is basis and _sour(c) is sour])
            if miss.size:
                near = f"{100.0 * float((miss <= _NEAR_PH).mean()):.0f} %"
                middle = f"{float(np.median(miss)):.2f}"
                rows.append([str(basis), label, str(miss.size), near, middle])
    return rows


def _sour(check: PhCheck) -> bool:
    return check.published is not None and sum(check.published) / 2.0 < MILD_PH.value


def _mass_lines(report: Report) -> Iterator[str]:
    off = np.array([abs(food.mass_g - 100.0) for food in report.foods])
    tight, loose = (int((off <= limit).sum()) for limit in _CLOSED_G)
    yield (
        f"Mass: {tight} of {off.size} ingredients sum to 100 g within {_CLOSED_G[0]:g} g,"
        f" {loose} within {_CLOSED_G[1]:g} g; {int(sum(bool(f.mass_note) for f in report.foods))}"
        " state why a balance does not close."
    )


def summary_markdown(report: Report) -> str:
    """Write the summary: evidence by group, pH without its anchor, mass balance, worst misses.

    Parameters
    ----------
    report : Report

    Returns
    -------
    str
        Markdown, with a line feed at the end.
    """
    none = sum(f.ph is not None and f.ph.basis is Basis.NO_PUBLISHED for f in report.foods)
    dry = sum(f.ph is None for f in report.foods)
    lines = [
        f"Numbers of {len(report.foods)} pantry ingredients, by what they rest on; derived counts"
        " the zeros that follow by rule:",
        "",
        *_table(["component", *(str(k) for k in Evidence), "missing"], _evidence_rows(report)),
        "",
        "The pH that the model gives without the published one, against the published range:",
        "",
        *_table(
            ["prediction", "foods", "number", f"within {_NEAR_PH:g}", "median miss"],
            _ph_rows(report),
        ),
        "",
        f"{none} more ingredients have a water phase and no published pH: theirs comes from the"
        f" rule, with its error. {dry} have no water phase and no pH.",
        "",
        *_mass_lines(report),
        "",
        f"The {_WORST} worst misses of the foods left out of the fit (the reasons are our"
        " judgement, no source):",
        "",
        *_table(
            ["food", "predicted", "published", "likely reason"],
            [
                [
                    food.name,
                    f"{ph.predicted:.2f}",
                    _range(*ph.published) if ph.published else "",
                    ph.reason or "none written down",
                ]
                for food, ph in report.left_out()[:_WORST]
            ],
        ),
    ]
    return "\n".join(lines) + "\n"


def _food_lines(food: FoodReport) -> Iterator[str]:
    yield f"{food.name} ({food.key})"
    for kind, names in food.by_evidence.items():
        yield f"  {kind}: {', '.join(names)}"
    if food.missing:
        yield f"  missing: {', '.join(food.missing)}"
    why = f"; {food.mass_note}" if food.mass_note else ""
    yield f"  mass: {food.mass_g:.1f} g of 100 g{why}"
    if food.ph is None:
        yield "  pH: none, no water phase"
        return
    ph = food.ph
    either = f" +- {ph.error:g}" if ph.error else ""
    blind = ", organic acids unknown and counted as zero" if ph.no_acid_figure else ""
    against = ""
    if ph.published is not None:
        where = "inside" if ph.miss == 0.0 else f"{abs(ph.miss):.2f} outside"
        against = f"; published {_range(*ph.published)}, {where}"
    yield f"  pH without its anchor: {ph.predicted:.2f}{either} ({ph.basis}{blind}){against}"
    if ph.reason and ph.miss:
        yield f"  likely reason (our judgement): {ph.reason}"


def full_text(report: Report) -> str:
    """Write every ingredient, then the summary.

    Parameters
    ----------
    report : Report

    Returns
    -------
    str
        Plain text, with a line feed at the end.
    """
    parts = ["\n".join(_food_lines(food)) for food in report.foods]
    return "\n\n".join([*parts, summary_markdown(report)])
