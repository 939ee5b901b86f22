"""How things look: plain HTML without scripts, every number with its unit.

Colour never stands alone: a level is a bar, a target a diamond on a line, the zone of one
just-noticeable difference is hatched, and the words beside them say the same.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from math import floor, log10
from typing import Any

from balancer.cli.show import level_text, target_text
from balancer.constants import AXIS
from balancer.dashboard.work import band
from balancer.measures import shown_grams, weight_text
from balancer.recipe import LEAST_G

#: Deviations below this are shown as none [JND].
SHOWN_JND = 0.05
#: How much of a rail stays free beyond what is drawn on it [1].
HEADROOM = 1.1
#: A spread that reaches further than so many times the rest is cut off at the end of the rail [1].
LONGEST_SPREAD = 2.0

STYLE = """
<style>
.block-container {max-width: 82rem; padding: 3.2rem 1rem 4rem;}
.stButton button, .stDownloadButton button, .stPopover button,
[data-testid="stFileUploader"] button,
[data-testid="stButtonGroup"] button, .stNumberInput button, .stSelectbox button {
  min-height: 44px; min-width: 44px;}
[data-testid="stButtonGroup"] > div {flex-wrap: wrap !important;}
.stButton button *, .stDownloadButton button * {white-space: normal; overflow: visible;
  text-overflow: clip; overflow-wrap: anywhere;}
.stTextInput input, .stNumberInput input, .stSelectbox input,
.stSelectbox [data-baseweb="select"] > div {min-height: 44px;}
[data-testid="stHeaderActionElements"] {display: none;}
.stCode button {min-height: 44px; min-width: 44px;}
[data-testid="stElementToolbar"] {display: none;}
[data-testid="stExpander"] summary, .b-fold summary {min-height: 44px;}
.b-fold summary {display: flex; align-items: center; cursor: pointer; overflow-wrap: anywhere;}
.b-fold summary::before {content: "▸"; margin-right: .5rem;}
.b-fold[open] summary::before {content: "▾";}
.b-figures {display: grid; grid-template-columns: repeat(auto-fit, minmax(9.5rem, 1fr));
  gap: .4rem .8rem; margin: .3rem 0 !important; padding: 0 !important;}
.b-figures dt {padding: 0;}
.b-figures dt {font-size: .875rem; opacity: .85;}
.b-figures dd {margin: 0 !important; padding: 0; font-size: 1.15rem; font-weight: 650;
  font-variant-numeric: tabular-nums;}
[class*="st-key-rail_"], [class*="st-key-row_"], [class*="st-key-say_"] {
  display: grid !important; align-content: start; align-items: center;}
[class*="st-key-rail_"] > *, [class*="st-key-row_"] > * {grid-column: 1 / -1;}
[class*="st-key-rail_"] {grid-template-columns: auto minmax(0, 1fr) auto;
  grid-auto-flow: row dense;}
[class*="st-key-rail_"] > :has(> .stHtml), [class*="st-key-rail_"] .stHtml {display: contents;}
[class*="st-key-rail_"] .b-axis {grid-column: 1 / -1;}
[class*="st-key-rail_"] .b-drawn {grid-column: 2;}
[class*="st-key-rail_"] > [class*="st-key-_less_"] {grid-column: 1;}
[class*="st-key-rail_"] > [class*="st-key-_more_"] {grid-column: 3;}
[class*="st-key-rail_"] button {width: 4.9rem; padding: 2px 4px;}
[class*="st-key-say_"] {grid-template-columns: repeat(3, minmax(0, 1fr));}
[class*="st-key-say_"] > *, [class*="st-key-say_"] .stButton {width: 100% !important;}
[class*="st-key-say_"] button {width: 100%; padding: 2px 4px;}
[class*="st-key-row_"] {grid-template-columns: minmax(0, 1fr) auto;}
[class*="st-key-row_"] > [class*="st-key-_adjust_"] {grid-column: 1;}
[class*="st-key-row_"] > :has(> .stHtml) {grid-column: 2; justify-self: end;}
[class*="st-key-_adjust_"] button {justify-content: flex-start; text-align: left;}
[class*="st-key-_adjust_"] button > div {justify-content: flex-start;}
[class*="st-key-rail_"] button p, [class*="st-key-say_"] button p {line-height: 1.15;}
h1.b-name {margin: 0; padding: 0;}
.b-name {font-size: 1.55rem; font-weight: 650; line-height: 1.2; overflow-wrap: anywhere;}
.b-near {font-size: 1.05rem;}
.b-small {font-size: .875rem; opacity: .85;}
[data-testid="stCaptionContainer"], [data-testid="stCaptionContainer"] p {
  color: inherit !important; opacity: .93;}
.b-axis {display: flex; flex-wrap: wrap; gap: 0 .8rem; align-items: baseline;}
.b-axis b {font-size: 1.1rem;}
.b-rail {position: relative; height: 47px; margin-top: 4px;}
.b-track {position: absolute; inset: 11px 0; border: 1px solid currentColor; opacity: .45;
  border-radius: 7px;}
.b-level {position: absolute; left: 0; top: 11px; height: 14px; background: #2f86b5;
  border-radius: 7px;}
.b-zone {position: absolute; top: 3px; height: 30px; opacity: .55;
  border-left: 1px solid currentColor; border-right: 1px solid currentColor;
  background: repeating-linear-gradient(135deg, currentColor 0 1px, transparent 1px 5px);}
.b-wish {position: absolute; top: 0; height: 36px; min-width: 3px; margin-left: -1px;
  border: solid currentColor; border-width: 1px 3px;}
.b-point {position: absolute; top: 0; height: 36px; width: 3px; margin-left: -1px;
  background: currentColor;}
.b-point::before {content: ""; position: absolute; left: -4px; top: -1px; width: 11px;
  height: 11px; background: currentColor; transform: rotate(45deg);}
.b-lots {position: absolute; top: 38px; height: 9px; min-width: 2px;
  border: solid currentColor; border-width: 0 2px;}
.b-lots::before {content: ""; position: absolute; left: 0; right: 0; top: 4px; height: 2px;
  background: currentColor;}
.b-ends {display: flex; justify-content: space-between;}
.b-row {display: flex; gap: .7rem; align-items: baseline; justify-content: space-between;}
.b-what {min-width: 0; overflow-wrap: anywhere;}
.b-mass {min-width: 6.4rem; text-align: right; white-space: nowrap;
  font-variant-numeric: tabular-nums;}
.b-grams {font-size: 1.5rem; font-weight: 650; line-height: 1.1;}
h4.b-offer {margin: 0; padding: 0; font-size: 1.2rem; font-weight: 650;}
.b-line {border-top: 2px solid currentColor;}
.b-caution {border: 2px solid currentColor; border-radius: 8px; padding: .5rem .8rem;}
.b-caution ul, .b-list {margin: .2rem 0 0; padding-left: 1.2rem;}
.b-table {border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums;}
.b-table td, .b-table th {padding: .25rem .4rem; text-align: right;
  border-bottom: 1px solid color-mix(in srgb, currentColor 25%, transparent);}
.b-table th {font-weight: 500; overflow-wrap: break-word;}
.b-table td:first-child, .b-table th:first-child {text-align: left;}
.b-table td:first-child {overflow-wrap: anywhere;}
.b-table {table-layout: fixed;}
.b-table th:first-child {width: 30%;}
@media (max-width: 640px) {
  .block-container {padding-left: .8rem; padding-right: .8rem;}
  .b-table {font-size: .875rem;}
  .b-table td, .b-table th {padding: .25rem .15rem;}
}
@media print {
  .stButton, .stDownloadButton, .stTextInput, .stNumberInput, header {display: none !important;}
}
</style>
"""


def off_words(deviation_jnd: float | None, dead_band_jnd: float = 0.0) -> str:
    """How far an axis is off, with a sign that needs no colour.

    >>> off_words(-1.24), off_words(0.2, 0.25)
    ('▼ 1.2 JND under', '● on target, 0.2 JND over')
    """
    if deviation_jnd is None:
        return "○ not known"
    if abs(deviation_jnd) < SHOWN_JND:
        return "● on target"
    side = "over" if deviation_jnd > 0 else "under"
    if abs(deviation_jnd) <= dead_band_jnd * (1 + SHOWN_JND):
        return f"● on target, {abs(deviation_jnd):.1f} JND {side}"
    return f"{'▲' if deviation_jnd > 0 else '▼'} {abs(deviation_jnd):.1f} JND {side}"


def grams(grams_: float) -> str:
    """Grams as a scale shows them, with the unit."""
    return f"{weight_text(grams_)} g" if grams_ > 0 else "0 g"


def shown_g(quantities_g: Mapping[str, float]) -> dict[str, float]:
    """Quantities as a scale shows them, rounded together as in an exported recipe [g].

    >>> shown_g({"plums": 40.2, "mace": 0.0})
    {'plums': 40.0, 'mace': 0.0}
    """
    kept = {name: g for name, g in quantities_g.items() if g >= LEAST_G}
    order = sorted(kept, key=lambda name: -kept[name])
    rounded = dict(zip(order, shown_grams([kept[name] for name in order]), strict=True))
    return {name: rounded.get(name, 0.0) for name in quantities_g}


def moves(before_g: Mapping[str, float], after_g: Mapping[str, float]) -> dict[str, str]:
    """What changed between two sets of quantities, as far as a scale shows it.

    >>> moves({"plums": 40.0, "salt": 3.0}, {"plums": 32.5, "salt": 3.0})
    {'plums': '−7.5 g'}
    """
    before, after = shown_g(before_g), shown_g(after_g)
    found = {}
    for name, now in after.items():
        by = now - before.get(name, 0.0)
        if abs(by) >= LEAST_G:
            found[name] = f"{'+' if by > 0 else '−'}{grams(abs(by))}"
    return found


def scale_end(*levels: float) -> float:
    """The next round figure that leaves room for all levels: 1, 2 or 5 times a power of ten."""
    most = max(*levels, 1e-6) * HEADROOM
    power = 10.0 ** floor(log10(most))
    return next(m * power for m in (1.0, 2.0, 5.0, 10.0) if m * power >= most)


def axis_line(
    axis: str, entry: Mapping[str, Any], dead_band_jnd: float, *, asked: bool, tastes: str = ""
) -> str:
    """Level, target and deviation of one axis, and how strong it tastes, in words."""
    reached = level_text(entry["reached"])
    wanted = f" &#8594; wanted <b>{escape(target_text(entry['target']))}</b>" if asked else ""
    off = off_words(entry["deviation_jnd"], dead_band_jnd)
    felt = f'<span class="b-small">tastes: {escape(tastes)}</span>' if tastes else ""
    if entry["deviation_jnd"] is None:
        off = "○ no quantities" if asked else "○ nothing asked"
    return (
        f'<div class="b-axis"><b>{axis}</b><span><b>{reached}</b>{wanted} {escape(entry["unit"])}'
        f"</span><span>{off}</span>{felt}</div>"
    )


def rail(
    axis: str,
    entry: Mapping[str, Any],
    *,
    asked: bool,
    lots: tuple[float, float] | None = None,
) -> str:
    """The picture of one axis, with the same in words: bar, target, zone of one JND, spread.

    Parameters
    ----------
    axis : str
    entry : mapping
        From the profile of an answer.
    asked : bool
        Whether the cook asked anything of the axis.
    lots : tuple of float or None
        Between which levels nine lots in ten lie [axis unit per 100 g].
    """
    reached = entry["reached"] or 0.0
    parts, words = [], [f"{axis}: {level_text(entry['reached'])} {entry['unit']} reached"]
    levels = [reached]
    if asked:
        low, high = band(entry["target"])
        a = AXIS[axis]
        zone_low = max(low - (a.floor + a.weber * low), 0.0)
        zone_high = high + (a.floor + a.weber * high)
        levels.append(zone_high)
    if lots is not None:
        levels.append(min(lots[1], LONGEST_SPREAD * max(levels)))
    end = scale_end(*levels)

    def place(level: float) -> float:
        return 100.0 * level / end

    parts.append('<div class="b-track"></div>')
    if asked:
        width = place(zone_high) - place(zone_low)
        parts.append(
            f'<div class="b-zone" style="left:{place(zone_low):.2f}%;width:{width:.2f}%"></div>'
        )
        words.append(f"wanted {target_text(entry['target'])}")
        words.append(f"within one JND from {level_text(zone_low)} to {level_text(zone_high)}")
        words.append(off_words(entry["deviation_jnd"])[2:])
    parts.append(f'<div class="b-level" style="width:{place(reached):.2f}%"></div>')
    if asked and low == high:
        parts.append(f'<div class="b-point" style="left:{place(low):.2f}%"></div>')
    elif asked:
        width = place(high) - place(low)
        parts.append(
            f'<div class="b-wish" style="left:{place(low):.2f}%;width:{width:.2f}%"></div>'
        )
    if lots is not None and lots[1] > 0:
        ends = place(lots[0]), min(place(lots[1]), 100.0)
        parts.append(
            f'<div class="b-lots" style="left:{ends[0]:.2f}%;width:{ends[1] - ends[0]:.2f}%"></div>'
        )
        words.append(f"nine lots in ten from {level_text(lots[0])} to {level_text(lots[1])}")
    label = escape("; ".join(words), quote=True)
    right = escape(level_text(end, AXIS[axis].unit))
    return (
        f'<div class="b-rail" role="img" aria-label="{label}">{"".join(parts)}</div>'
        f'<div class="b-ends b-small"><span>0</span><span>{right}</span></div>'
    )


def mass(grams_: float, change: str = "") -> str:
    """A quantity, large, with its last change under it."""
    under = f'<div class="b-small">{escape(change)}</div>' if change else ""
    return f'<div class="b-mass"><span class="b-grams">{grams(grams_)}</span>{under}</div>'


def on_scale(grams_: float, step: float) -> str:
    """A weighing in steps of a scale, with the unit.

    >>> on_scale(7.0, 1.0), on_scale(7.3, 0.1), on_scale(0.75, 0.05)
    ('7 g', '7.3 g', '0.75 g')
    """
    digits = max(0, -floor(log10(step) + 1e-9))
    return f"{grams_:.{digits}f} g"


def addition_row(name: str, grams_: float, step: float) -> str:
    """What goes into the pot, the quantity large, in steps of the scale [g]."""
    quantity = f'<div class="b-mass"><span class="b-grams">{on_scale(grams_, step)}</span></div>'
    return f'<div class="b-row"><span class="b-what">+ {escape(name)}</span>{quantity}</div>'


def small(text: str) -> str:
    """A line in small letters."""
    return f'<div class="b-small">{escape(text)}</div>'


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A plain table; the first column names the row, a line break in a name begins its unit."""
    titles = "".join(f'<th scope="col">{_named(h)}</th>' for h in head)
    body = "".join(
        f'<tr><th scope="row">{_named(row[0])}</th>'
        + "".join(f"<td>{escape(cell)}</td>" for cell in row[1:])
        + "</tr>"
        for row in rows
    )
    return f'<table class="b-table"><thead><tr>{titles}</tr></thead><tbody>{body}</tbody></table>'


def _named(text: str) -> str:
    name, _, unit = text.partition("\n")
    return escape(name) + (small(unit) if unit else "")


def fold(title: str, inside: str) -> str:
    """Something that opens at a tap; the inside is HTML already."""
    return f'<details class="b-fold"><summary>{escape(title)}</summary>{inside}</details>'


def moved_table(before_g: Mapping[str, float], after_g: Mapping[str, float], head: str) -> str:
    """Grams before and after, as a table."""
    before, after, moved = shown_g(before_g), shown_g(after_g), moves(before_g, after_g)
    rows = "".join(
        f"<tr><td>{escape(label)}</td><td>{grams(before.get(label, 0.0))}</td>"
        f"<td><b>{grams(now)}</b></td><td>{moved.get(label, '·')}</td></tr>"
        for label, now in after.items()
    )
    return (
        '<table class="b-table"><thead><tr><th scope="col">ingredient</th>'
        f'<th scope="col">in the pot</th><th scope="col">{escape(head)}</th>'
        f'<th scope="col">change</th></tr></thead><tbody>{rows}</tbody></table>'
    )


def listed(lines: Sequence[str]) -> str:
    """Sentences as a list."""
    return f'<ul class="b-list">{"".join(f"<li>{escape(line)}</li>" for line in lines)}</ul>'


def cautions(lines: Sequence[str]) -> str:
    """Cautions in a frame, with the word in front."""
    return f'<div class="b-caution" role="note"><b>⚠ Mind ({len(lines)})</b>{listed(lines)}</div>'


def to_the_head(turns: int) -> str:
    """A script that shows the page from its head, run once for each turn to another page."""
    scroll = "document.querySelector('[data-testid=stMain]').scrollTo(0, 0)"
    return f"<script>{scroll if turns else ''} // turn {int(turns)}</script>"
