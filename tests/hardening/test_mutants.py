"""What is changed in a module, and that each change is undone."""

from __future__ import annotations

import ast

from mutations import mutants_of

SOURCE = '''
"""A docstring."""
LIMITS = {"least": 2.5, "a text for people": True}

@decorated(1)
def f(a: int, b="plain") -> "str":
    """A docstring."""
    if a < b and not a:
        raise ValueError("never " + "changed")
    for i in range(b):
        a += min(i, -1)
        continue
    note(a)
    return re.sub("[a-z] ", f"words {a}", b) if a else None
'''
CHANGES = [
    "3: 'least' -> 'leastXX'",
    "3: 2.5 -> 3.5",
    "3: True -> False",
    "6: 'plain' -> 'plainXX'",
    "8: a < b and (not a) -> a < b or not a",
    "8: a < b and (not a) -> not (a < b and (not a))",
    "8: a < b -> a <= b",
    "8: a < b -> a >= b",
    "8: not a -> a",
    "11: a += min(i, -1) -> a -= min(i, -1)",
    "11: min -> max",
    "11: -1 -> 1",
    "11: 1 -> 2",
    "12: continue -> break",
    "13: note(a) -> pass",
    """14: return re.sub('[a-z] ', f'words {a}', b) if a else None -> return None""",
    "14: a -> not a",
    "14: '[a-z] ' -> 'XX[a-z] '",
]


def test_what_is_changed_and_what_is_not() -> None:
    """Written down by hand from the list at the head of ``mutations``."""
    tree = ast.parse(SOURCE)
    assert sorted(f"{m.line}: {m.change}" for m in mutants_of(tree)) == sorted(CHANGES)


def test_each_change_stands_alone() -> None:
    tree = ast.parse(SOURCE)
    before, seen = ast.dump(tree), set()
    for mutant in mutants_of(tree):
        undo = mutant.make()
        compile(tree, "changed", "exec")
        seen.add(ast.dump(tree))
        undo()
        assert ast.dump(tree) == before
    assert before not in seen
    assert len(seen) == len(CHANGES)
