"""A recipe as one HTML page to print: nothing is fetched, nothing is run.

References
----------
.. [1] WHATWG, HTML Living Standard, section 13.1, "Writing HTML documents".
.. [2] W3C, CSS Paged Media Module Level 3: without a size, the page takes that of the paper.
"""

from __future__ import annotations

import html as html_module
from collections.abc import Iterable, Sequence

from balancer.export.jsonld import jsonld
from balancer.export.profile import profile
from balancer.export.sheet import (
    BALANCE_HEAD,
    about_text,
    allergen_parts,
    balance_rows,
    keeping_text,
    line_name,
    made_text,
    nutrition_table,
    readings_sentence,
    small_print,
    sources_text,
    stage_text,
    times_text,
)
from balancer.export.text import one_line
from balancer.measures import weight_text
from balancer.recipe import Panel, Recipe

_NUTRITION_PARTS = 3
_STYLE = """
@page { margin: 9mm 13mm }
* { box-sizing: border-box }
body { font: 9pt/1.22 Georgia, "Times New Roman", serif; color: #1b1b1b; background: #fff;
  max-width: 184mm; margin: 0 auto; padding: 6mm }
h1 { font-size: 19pt; line-height: 1.1; margin: 0 0 1mm; overflow-wrap: anywhere }
h2 { font-size: 10.2pt; margin: 0 0 .8mm; padding-bottom: .4mm; border-bottom: .3mm solid #7a3b2e;
  color: #7a3b2e; break-after: avoid }
p { margin: 0 0 .8mm }
section { margin-top: 1.8mm }
.two { display: grid; grid-template-columns: minmax(0, 1fr) minmax(0, 1fr); gap: 0 6mm }
.wide { display: grid; grid-template-columns: minmax(0, 7fr) minmax(0, 6fr); gap: 0 5mm;
  align-items: end }
.three { display: grid; grid-template-columns: repeat(3, minmax(0, 1fr)); gap: 0 5mm }
.two > *, .wide > *, .three > * { overflow-wrap: anywhere }
table { border-collapse: collapse; width: 100% }
th, td { text-align: left; vertical-align: baseline; padding: .2mm 1.6mm .2mm 0;
  border-bottom: .1mm solid #ddd; font-weight: normal }
thead th { font-size: 8pt; color: #555 }
td.s { white-space: nowrap; padding-right: 0 }
td.n { text-align: right; white-space: nowrap; font-variant-numeric: tabular-nums }
ol, ul { margin: 0; padding-left: 4.6mm }
li { margin-bottom: .35mm }
.small, .small td, .small th { font-size: 7.6pt; line-height: 1.2 }
.source { color: #555 }
.allergens { border: .3mm solid #1b1b1b; padding: 1mm 2mm; margin: 1.4mm 0 0 }
svg { max-width: 100%; height: auto; display: block }
@media print { body { padding: 0; max-width: none } li, tr, .allergens { break-inside: avoid } }
@media screen and (max-width: 600px) {
  .two, .wide { grid-template-columns: minmax(0, 1fr); row-gap: 1.8mm }
  /* the parts of a table, one below the other, share their columns and the first of their heads */
  .three { display: table; width: 100% }
  .three > div, .three table { display: contents }
  .three > div + div thead { position: absolute; width: 1px; height: 1px; overflow: hidden;
    clip-path: inset(50%) }
}
@media screen and (prefers-color-scheme: dark) {
  :root { color-scheme: dark }
  body { color: #ece7e1; background: #1d1a18 }
  h2 { color: #f0b39f; border-color: #f0b39f }
  th, td { border-color: #4a443f }
  thead th, .source { color: #c9c1b8 }
  .allergens { border-color: #ece7e1 }
  svg text { fill: #ece7e1 }
  svg rect[fill="#eee"] { fill: #3b3632 }
  svg rect[fill="#7a3b2e"] { fill: #d98a6f }
  svg rect[stroke] { stroke: #fff }
}
"""


def html(recipe: Recipe) -> str:
    """Write a recipe as a page that prints on A4 and on US letter.

    Parameters
    ----------
    recipe : Recipe
        The recipe.

    Returns
    -------
    str
        The page with its style, its picture and its linked data inside.
    """
    name = escaped(recipe.name)
    parts = [
        "<!DOCTYPE html>",
        '<html lang="en">',
        "<head>",
        '<meta charset="utf-8">',
        '<meta http-equiv="Content-Security-Policy"'
        " content=\"default-src 'none'; style-src 'unsafe-inline'\">",
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{name}</title>",
        f"<style>{_STYLE}</style>",
        f'<script type="application/ld+json">\n{jsonld(recipe)}</script>',
        "</head>",
        "<body>",
        f"<h1>{name}</h1>",
        _paragraph(made_text(recipe), times_text(recipe), about_text(recipe)),
        '<section class="two">',
        f"<div><h2>Ingredients</h2>{_ingredients(recipe)}{_allergens(recipe)}</div>",
        f"<div><h2>Method</h2>{_listed(map(escaped, recipe.method), 'ol')}</div>",
        "</section>",
        _section("Checks", _listed(map(escaped, recipe.checks))) if recipe.checks else "",
        _section("Keeping and cautions", _keeping(recipe)),
        _balance(recipe) if recipe.profile else "",
        *(_nutrition(recipe, panel) for panel in recipe.nutrition),
        _notes(recipe),
        "</body>",
        "</html>",
    ]
    return "\n".join(part for part in parts if part) + "\n"


def escaped(text: str) -> str:
    """Make a text that HTML shows as it is, on one line.

    >>> escaped("a < b\\n& 'c'")
    'a &lt; b &amp; &#x27;c&#x27;'
    """
    return html_module.escape(one_line(text))


def _paragraph(*texts: str) -> str:
    return f"<p>{escaped(' '.join(text for text in texts if text))}</p>"


def _section(title: str, inner: str, more: str = "") -> str:
    return f"<section{more}><h2>{title}</h2>{inner}</section>"


def _listed(items: Iterable[str], tag: str = "ul") -> str:
    return f"<{tag}>{''.join(f'<li>{item}</li>' for item in items)}</{tag}>"


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    titles = "".join(f'<th scope="col">{escaped(title)}</th>' for title in head)
    lines = "".join(
        f"<tr>{''.join(f'<td>{escaped(cell)}</td>' for cell in row)}</tr>" for row in rows
    )
    return f"<table><thead><tr>{titles}</tr></thead><tbody>{lines}</tbody></table>"


def _ingredients(recipe: Recipe) -> str:
    rows = []
    for grams, line in zip(recipe.shown_g, recipe.lines, strict=True):
        name = escaped(line_name(line))
        rows.append(
            f'<tr><td class="n">{weight_text(grams)} g</td>'
            f"<td>{f'<b>{name}</b>' if line.allergens else name}</td>"
            f"<td>{escaped(line.measure)}</td>"
            f'<td class="s">{escaped(stage_text(recipe, line))}</td></tr>'
        )
    rows.append(
        f'<tr><td class="n">{weight_text(recipe.batch_g)} g</td><td>in all</td><td></td>'
        "<td></td></tr>"
    )
    return f"<table><tbody>{''.join(rows)}</tbody></table>"


def _allergens(recipe: Recipe) -> str:
    inner = "".join(
        f"<b>{html_module.escape(one_line(text))}</b>"
        if bold
        else html_module.escape(" ".join(map(one_line, text.split(" "))))
        for text, bold in allergen_parts(recipe)
    )
    return f'<p class="allergens">{inner}</p>'


def _keeping(recipe: Recipe) -> str:
    cautions = _listed(map(escaped, recipe.cautions)) if recipe.cautions else ""
    sources = escaped(sources_text(recipe))
    cited = f'<p class="small source">{sources}</p>' if sources else ""
    return _paragraph(keeping_text(recipe)) + cautions + cited


def _balance(recipe: Recipe) -> str:
    table = _table(BALANCE_HEAD, balance_rows(recipe))
    readings = readings_sentence(recipe)
    return (
        '<section class="wide small">'
        f"<div><h2>Balance of the finished sauce</h2>{table}"
        f"{_paragraph(readings) if readings else ''}</div>"
        f"<div>{profile(recipe, titled=False)}</div></section>"
    )


def _nutrition(recipe: Recipe, panel: Panel) -> str:
    """A panel in three parts side by side, so that it takes little of the page."""
    head, rows = nutrition_table(recipe, panel)
    part = -(-len(rows) // _NUTRITION_PARTS)
    tables = "".join(
        f"<div>{_table(head, rows[i : i + part])}</div>" for i in range(0, len(rows), part)
    )
    return _section(panel.title, f'<div class="three">{tables}</div>', ' class="small"')


def _notes(recipe: Recipe) -> str:
    said = [" ".join(part) for part in (recipe.nutrition_notes, recipe.notes) if part]
    said += small_print(recipe)
    return f'<section class="small">{"".join(map(_paragraph, said))}</section>' if said else ""
