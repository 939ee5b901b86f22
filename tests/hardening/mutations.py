"""The changes that are made to a module's syntax tree, one at a time, in memory.

What is changed: comparisons (boundary and sense), arithmetic, `and`/`or`, `not`, signs, numbers,
True and False, what is returned, `min`/`max`, `any`/`all` and their kin, conditions of `if`,
calls made for their effect, `+=`, `break`/`continue`, and strings that a program reads: keys,
names, patterns. What is not: docstrings, annotations, text meant for people (a string with a
space that is no pattern, an f-string's words, whatever stands in a `raise` or an error),
decorators, `__repr__`, `__all__`, and `strict=` of zip.
"""

from __future__ import annotations

import ast
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

_SWAPS: dict[type[ast.AST], tuple[type[ast.AST], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE), ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE), ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,), ast.NotEq: (ast.Eq,), ast.In: (ast.NotIn,), ast.NotIn: (ast.In,),
    ast.Is: (ast.IsNot,), ast.IsNot: (ast.Is,),
    ast.Add: (ast.Sub,), ast.Sub: (ast.Add,), ast.Mult: (ast.Div,), ast.Div: (ast.Mult,),
    ast.FloorDiv: (ast.Mult,), ast.Mod: (ast.Mult,), ast.Pow: (ast.Mult,),
    ast.BitOr: (ast.BitAnd,), ast.BitAnd: (ast.BitOr,), ast.And: (ast.Or,), ast.Or: (ast.And,),
    ast.Break: (ast.Continue,), ast.Continue: (ast.Break,),
}  # fmt: skip
_NAMES = {
    "min": "max", "any": "all", "minimum": "maximum", "argmin": "argmax", "fmin": "fmax",
    "lower": "upper", "removeprefix": "removesuffix", "zeros": "ones", "log": "exp",
    "log1p": "expm1",
}  # fmt: skip
_NAMES |= {b: a for a, b in _NAMES.items()}


@dataclass(frozen=True)
class Mutant:
    """One change: where, what, and a function that makes it and gives back one that undoes it."""

    line: int
    change: str
    make: Callable[[], Callable[[], None]]
    lines: frozenset[int]


def _put(owner: Any, field: str, index: int | None, new: Any) -> Callable[[], Callable[[], None]]:
    def make() -> Callable[[], None]:
        if index is None:
            old = getattr(owner, field)
            setattr(owner, field, new)
            return lambda: setattr(owner, field, old)
        values = getattr(owner, field)
        old = values[index]
        values[index] = new
        return lambda: values.__setitem__(index, old)

    return make


def _constant(node: ast.Constant, pattern: bool) -> list[ast.AST]:
    value = node.value
    if isinstance(value, bool):
        return [ast.Constant(not value)]
    if isinstance(value, int | float):
        return [ast.Constant(value + 1)]
    if isinstance(value, str) and (pattern or " " not in value):
        return [ast.Constant("XX" + value if pattern else value + "XX")]
    return []


def _alternatives(node: ast.AST, pattern: bool) -> list[ast.AST]:
    """What may stand in place of a node."""
    kind = type(node)
    if isinstance(node, ast.Constant):
        return _constant(node, pattern)
    if isinstance(node, ast.Compare):
        return [
            ast.Compare(node.left, [*node.ops[:i], new(), *node.ops[i + 1 :]], node.comparators)
            for i, op in enumerate(node.ops)
            for new in _SWAPS.get(type(op), ())
        ]
    if isinstance(node, ast.BinOp) and type(node.op) in _SWAPS:
        return [ast.BinOp(node.left, new(), node.right) for new in _SWAPS[type(node.op)]]
    if isinstance(node, ast.BoolOp):
        return [ast.BoolOp(new(), node.values) for new in _SWAPS[type(node.op)]]
    if isinstance(node, ast.AugAssign) and type(node.op) in _SWAPS:
        return [ast.AugAssign(node.target, new(), node.value) for new in _SWAPS[type(node.op)]]
    if isinstance(node, ast.UnaryOp) and not isinstance(node.op, ast.UAdd):
        return [node.operand]
    if isinstance(node, ast.Return) and node.value is not None:
        nothing = isinstance(node.value, ast.Constant) and node.value.value is None
        return [] if nothing else [ast.Return(ast.Constant(None))]
    if isinstance(node, ast.Break | ast.Continue):
        return [new() for new in _SWAPS[kind]]
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Call):
        return [ast.Pass()]
    if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load) and node.id in _NAMES:
        return [ast.Name(_NAMES[node.id], node.ctx)]
    if isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Load) and node.attr in _NAMES:
        return [ast.Attribute(node.value, _NAMES[node.attr], node.ctx)]
    return []


def _is_condition(owner: ast.AST, field: str, node: ast.AST) -> bool:
    """Whether a condition gets its sense turned here; comparisons and `not` get it on their own."""
    conditional = (isinstance(owner, ast.If | ast.IfExp) and field == "test") or (
        isinstance(owner, ast.comprehension) and field == "ifs"
    )
    negated = isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not)
    return conditional and not isinstance(node, ast.Compare) and not negated


def _skipped(owner: ast.AST, field: str, node: Any) -> bool:
    """Annotations, decorators, docstrings, text for people."""
    if field in ("annotation", "returns", "decorator_list", "type_params", "ctx", "op", "ops"):
        return True
    if isinstance(node, ast.Raise | ast.Assert | ast.Import | ast.ImportFrom):
        return True
    if isinstance(node, ast.FunctionDef) and node.name == "__repr__":
        return True
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return True
    if isinstance(node, ast.Assign | ast.AugAssign) and "__all__" in ast.unparse(node):
        return True
    if isinstance(node, ast.AnnAssign) and node.annotation and "TypeAlias" in ast.unparse(node):
        return True
    if isinstance(node, ast.keyword) and node.arg == "strict":
        return True
    if isinstance(owner, ast.JoinedStr) and isinstance(node, ast.Constant):
        return True
    if isinstance(owner, ast.FormattedValue) and field == "format_spec":
        return True
    return isinstance(node, ast.Call) and _called(node) in ("BadInput", "NoSolution", "damaged")


def _called(node: ast.Call) -> str:
    return ast.unparse(node.func).rpartition(".")[2]


def _is_pattern(node: ast.AST) -> bool:
    return isinstance(node, ast.Call) and ast.unparse(node.func).startswith("re.")


def mutants_of(tree: ast.Module) -> list[Mutant]:
    """All changes of a module, in the order of its source."""
    return list(_walk(tree, False))


def _walk(owner: ast.AST, pattern: bool) -> Iterator[Mutant]:
    for field, value in ast.iter_fields(owner):
        several = isinstance(value, list)
        for i, node in enumerate(value if several else [value]):
            if not isinstance(node, ast.AST) or _skipped(owner, field, node):
                continue
            news = _alternatives(node, pattern)
            if _is_condition(owner, field, node):
                news.append(ast.UnaryOp(ast.Not(), node))
            for new in news:
                ast.copy_location(new, node)
                ast.fix_missing_locations(new)
                old_text, new_text = (" ".join(ast.unparse(n).split()) for n in (node, new))
                line = getattr(node, "lineno", 0)
                yield Mutant(
                    line,
                    f"{old_text[:70]} -> {new_text[:70]}",
                    _put(owner, field, i if several else None, new),
                    frozenset(range(line, getattr(node, "end_lineno", line) + 1)),
                )
            yield from _walk(node, pattern or _is_pattern(node))
