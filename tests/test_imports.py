"""Imports run one way; effects live at four places only. Read from the source with ``ast``."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "balancer"

#: From the head to the face: a module may import only from those before it. A package counts as
#: one, and its own modules may import each other.
ORDER = (
    "errors", "plain", "numerals", "units", "measures", "choices", "constants",
    "chemical_constants", "kitchen_constants", "nutrition_constants", "palate_constants",
    "safety_constants", "composition", "strength", "tables", "catalogue", "search", "parse_units",
    "parse_amounts", "parse_weights", "parse_names", "draft_lines", "parse", "parse_request",
    "pasted", "ionisation", "chemistry", "strong_ions", "charge_fit", "titration", "water_activity",
    "taste", "intensity", "straining", "prepared", "cooking", "simmering", "water_phase",
    "uncertainty", "wishes", "problem", "readings", "label", "label_text", "packet_allergens",
    "own", "inferring", "specification", "own_kept", "entries", "composite", "composite_vector",
    "linear", "requirements", "program", "solve", "explain", "relax", "settle", "reducing",
    "rounding_rows", "rounding_search", "rounding", "scaling", "shopping_items", "shopping",
    "nutrition", "thinning", "weighing", "additions", "pot", "shelf", "first_stage", "pricing",
    "gap", "exclusions", "differences", "suggestion", "suggest", "alternatives", "substitution",
    "kitchen_words", "tasting", "just_about_right", "rounds", "judgement", "belief", "suppression",
    "palate", "dosing", "ladder", "nudge",
    "discrimination", "panel", "safety_picture", "safety", "recipe", "method", "serving", "export",
    "store", "intact", "larder", "carrying", "request", "answer", "outcome", "sitting", "loop",
    "report", "idea", "ideas", "recipe_file", "handover", "kitchen", "door", "network", "qr", "cli",
    "dashboard",
)  # fmt: skip
#: Imports nothing of ours and may be used from anywhere.
LEAVES = ("demo",)
#: Outside package to the only places that may import it.
ONLY_IN = {
    "streamlit": {"dashboard", "app"},
    "uvicorn": {"dashboard"},
    "segno": {"qr"},
    "sqlite3": {"store"},
    "highspy": {"solve"},
    "scipy.optimize": {"solve"},
    "click": {"cli"},
    "requests": set(),
    "urllib.request": set(),
}
ENTRIES = ("__init__", "__main__", "app")


def _place(path: Path) -> str:
    if path.parent == ROOT:
        return path.stem
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def _imports(path: Path) -> set[str]:
    found: set[str] = set()
    package = (*path.relative_to(ROOT).parent.parts,)
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = ".".join(package[: len(package) - node.level + 1]) if node.level else ""
            module = ".".join(part for part in (base, node.module or "") if part)
            found |= {f"{module}.{alias.name}" for alias in node.names} | {module}
            assert all(alias.name != "*" for alias in node.names), f"{path.name}: star import"
    return found


FILES = sorted(PACKAGE.rglob("*.py"))


def test_every_module_has_its_place() -> None:
    places = {_place(p) for p in FILES} - set(ENTRIES)
    assert places <= set(ORDER) | set(LEAVES), places - set(ORDER) - set(LEAVES)
    assert len(ORDER) == len(set(ORDER))


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_point_to_the_head(path: Path) -> None:
    place = _place(path)
    ours = {
        parts[1]
        for name in _imports(path)
        if (parts := name.split("."))[0] == "balancer" and len(parts) > 1
    } - {place, "__version__"}
    if place in ENTRIES:
        assert ours <= {"cli", "dashboard"}
        return
    ours -= set(LEAVES)
    if place in LEAVES:
        assert not ours
        return
    behind = set(ORDER[: ORDER.index(place)])
    assert ours <= behind, f"{path.name} imports {sorted(ours - behind)}, which come after it"


@pytest.mark.parametrize("outside", sorted(ONLY_IN))
def test_effects_live_at_their_place(outside: str) -> None:
    files = [*FILES, *ROOT.glob("*.py")]
    users = {
        _place(path)
        for path in files
        if any(name == outside or name.startswith(f"{outside}.") for name in _imports(path))
    }
    assert users <= ONLY_IN[outside]


def test_only_the_catalogue_opens_the_tables() -> None:
    """Nobody else reads a CSV file."""
    readers = {_place(p) for p in FILES if "csv" in _imports(p)}
    assert readers <= {"tables", "export", "store", "cli", "safety"}, readers


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_nothing_happens_on_import(path: Path) -> None:
    """A module holds definitions: no loops, no bare calls, no printing in the library."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    loose = (ast.For, ast.While, ast.With, ast.Try)
    busy = [n for n in tree.body if isinstance(n, loose)]
    calls = [n for n in tree.body if isinstance(n, ast.Expr) and isinstance(n.value, ast.Call)]
    entry = path.name in ("__main__.py", "app.py") or _place(path) in ("dashboard", "cli")
    assert entry or not (busy or calls)
