"""The recipe as it stands on the page and on paper: HTML that a printer takes too.

On paper only what a cook wants at the stove is left, black on white: the name, the quantities, the
method, checks and cautions. Everything to press or to type into stays on the screen.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from balancer.dashboard import look
from balancer.export.sheet import (
    allergen_parts,
    keeping_text,
    line_name,
    made_text,
    nutrition_table,
    stage_text,
    times_text,
)
from balancer.measures import weight_text
from balancer.recipe import Panel, Recipe
from balancer.shopping import ShoppingList

#: What stays on paper: a part of the page that holds one of these, and the rows of the bowl.
_KEPT = ".b-paper, .b-name, .b-near, .b-caution"
_PART = '[data-testid="stElementContainer"]'
_ROW = '[class*="st-key-row_"] > :is([class*="st-key-_adjust_"], :has(> .stHtml))'

STYLE = f"""
<style>
.b-recipe td, .b-recipe th {{text-align: left; vertical-align: baseline;}}
.b-recipe th {{overflow-wrap: anywhere;}}
.b-recipe td.b-num, .b-recipe th.b-num {{text-align: right; white-space: nowrap; width: 5.2rem;}}
.b-recipe .b-when {{width: 22%;}}
.b-paper h2 {{font-size: 1.25rem; font-weight: 650; margin: .6rem 0 .2rem; padding: 0;}}
.b-paper ol, .b-paper ul {{margin: .2rem 0; padding-left: 1.4rem;}}
.b-paper li {{margin-bottom: .25rem;}}
@media print {{
  @page {{margin: 12mm;}}
  html, body, .stApp, .stApp * {{color: #000 !important; background: #fff !important;
    box-shadow: none !important; overflow: visible !important;}}
  .stApp, .stAppViewContainer, [data-testid="stAppViewContainer"], [data-testid="stMain"] {{
    position: static !important; height: auto !important; display: block !important;}}
  header, footer, [data-testid="stHeader"], [data-testid="stSidebar"], [data-testid="stToolbar"],
  [data-testid="stDecoration"], [data-testid="stStatusWidget"], [data-testid="stExpander"],
  .b-screen, [class*="st-key-row_"] > [data-testid="stLayoutWrapper"] {{display: none !important;}}
  {_PART}:not(:has({_KEPT})):not({_ROW}) {{display: none !important;}}
  {_ROW} {{margin: 0 !important;}}
  :is({_ROW}) .stButton {{display: block !important;}}
  :is({_ROW}) .stButton button {{border: 0 !important; padding: 0 !important;
    min-height: 0 !important; display: block !important; text-align: left !important;}}
  [class*="st-key-row_"] .b-small {{display: none;}}
  [data-testid="stVerticalBlock"] {{gap: .2rem !important;}}
  [data-testid="stHorizontalBlock"]:has(> [data-testid="stColumn"]) {{display: block !important;}}
  [class*="st-key-row_"] {{max-width: 95mm;}}
  [data-testid="stColumn"] {{width: 100% !important; max-width: none !important;}}
  .stMainBlockContainer, .block-container {{padding: 0 !important; max-width: none !important;}}
  .b-name {{font-size: 17pt;}}
  .b-paper, .b-paper *, .b-caution, .b-caution *, .b-near {{font-size: 9.5pt; line-height: 1.3;}}
  .b-paper .b-grams, .b-grams {{font-size: 11pt;}}
  .b-paper h2 {{font-size: 11.5pt;}}
  .b-table td, .b-table th {{padding: .5mm 2mm .5mm 0; border-bottom: .2mm solid #999;}}
  .b-paper p {{margin: .5mm 0;}}
  .b-paper li, .b-caution li {{margin-bottom: 0;}}
  .b-caution {{border-width: .3mm; padding: 1mm 2mm;}}
  li, tr, [class*="st-key-row_"] > * {{break-inside: avoid;}}
  h2 {{break-after: avoid;}}
  .b-buy {{break-before: page;}}
}}
</style>
"""


def head(recipe: Recipe) -> str:
    """What the recipe makes, and how long it takes."""
    said = " ".join(t for t in (made_text(recipe), times_text(recipe)) if t)
    return f'<div class="b-paper">{escape(said)}</div>'


def ingredients(recipe: Recipe) -> str:
    """Quantities and measures as a table, then the allergens."""
    rows = "".join(
        f'<tr><td class="b-num"><b>{weight_text(grams)} g</b></td>'
        f'<th scope="row">{_bold(line_name(line), bool(line.allergens))}</th>'
        f"<td>{escape(line.measure)}</td>"
        f'<td class="b-when">{escape(stage_text(recipe, line))}</td></tr>'
        for grams, line in zip(recipe.shown_g, recipe.lines, strict=True)
    )
    titles = (
        '<th scope="col" class="b-num">weight</th><th scope="col">ingredient</th>'
        '<th scope="col">measure</th><th scope="col" class="b-when">when</th>'
    )
    total = (
        f'<tr class="b-line"><td class="b-num">{weight_text(recipe.batch_g)} g</td>'
        '<th scope="row">in all</th><td></td><td></td></tr>'
    )
    said = "".join(_bold(text, bold) for text, bold in allergen_parts(recipe))
    return (
        f'<div class="b-paper"><table class="b-table b-recipe"><thead><tr>{titles}</tr></thead>'
        f"<tbody>{rows}{total}</tbody></table><p>{said}</p></div>"
    )


def listed(title: str, lines: Sequence[str], *, numbered: bool = False) -> str:
    """A titled list that is printed; empty without lines."""
    if not lines:
        return ""
    tag = "ol" if numbered else "ul"
    inner = "".join(f"<li>{escape(line)}</li>" for line in lines)
    return f'<div class="b-paper"><h2>{escape(title)}</h2><{tag}>{inner}</{tag}></div>'


def cautions(recipe: Recipe) -> str:
    """How it is kept, and what to mind."""
    return look.cautions([*recipe.cautions, keeping_text(recipe)])


def panel(recipe: Recipe, chosen: Panel) -> str:
    """A nutrition panel with what it leaves out; it stays on the screen."""
    titles, rows = nutrition_table(recipe, chosen)
    return f'<div class="b-screen">{look.table(titles, rows)}{look.listed(chosen.notes)}</div>'


def buying(found: ShoppingList, serving_g: float | None) -> str:
    """A shopping list by aisle, then what it costs."""
    parts = [
        f"<h2>{escape(aisle.capitalize())}</h2>{look.listed([i.sentence() for i in items])}"
        for aisle, items in found.by_aisle().items()
    ]
    return f'<div class="b-paper b-buy">{"".join(parts)}{_costs(found, serving_g)}</div>'


def _costs(found: ShoppingList, serving_g: float | None) -> str:
    listed_ = {f"  {item.sentence()}" for item in found.items}
    aisles = {aisle.capitalize() for aisle in found.by_aisle()}
    said = [s.strip() for s in found.sentences(serving_g) if s not in listed_ | aisles]
    return f"<h2>What it costs</h2>{look.listed(said)}" if said else ""


def _bold(text: str, bold: bool) -> str:
    return f"<b>{escape(text)}</b>" if bold else escape(text)
