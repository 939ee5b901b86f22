"""The specification sheet of an ingredient of the cook's own, as a document or in lines.

Each amount of its vector stands with its unit and its evidence.
"""

from __future__ import annotations

import math
from typing import Any

from balancer.composition import COMPONENTS, INDEX, filled
from balancer.constants import AXIS, AXIS_NAMES
from balancer.inferring import Inferred
from balancer.taste import levels


def inferred_document(found: Inferred) -> dict[str, Any]:
    """The vector as a plain document: each known component with its evidence."""
    ingredient = found.ingredient
    return {
        "key": ingredient.key,
        "name": ingredient.name,
        "per_100_g": {
            c.name: {
                "value": round(float(ingredient.values[i]), 6),
                "unit": c.unit,
                "evidence": str(ingredient.evidence[i]),
            }
            for i, c in enumerate(COMPONENTS)
            if ingredient.evidence[i] is not None and not math.isnan(ingredient.values[i])
        },
        "ph": list(ingredient.ph) if ingredient.ph else None,
        "allergens": list(ingredient.allergens),
        "levels": {
            axis: round(float(level), 6)
            for axis, level in zip(AXIS_NAMES, levels(filled(ingredient.values)), strict=True)
        },
        "note": ingredient.note,
        "notes": list(found.notes),
    }


def inferred_text(found: Inferred) -> str:
    """The vector in lines: amount per 100 g, unit and evidence, then the levels and the notes."""
    ingredient = found.ingredient
    lines = [f"{ingredient.name}: {ingredient.note}", "", "per 100 g"]
    for i, component in enumerate(COMPONENTS):
        if ingredient.evidence[i] is not None and ingredient.values[i] != 0:
            amount = f"{ingredient.values[i]:10.4g} {component.unit:<3}"
            lines.append(f"  {component.name:<20}{amount} {ingredient.evidence[i]}")
    lines += ["", "levels"]
    for axis, level in zip(AXIS_NAMES, levels(filled(ingredient.values)), strict=True):
        unknown = all(ingredient.evidence[INDEX[c]] is None for c in AXIS[axis].weights)
        shown = "   unknown" if unknown else f"{level:10.4g} {AXIS[axis].unit_per_100g}"
        lines.append(f"  {axis:<20}{shown}")
    if ingredient.ph:
        lines.append(f"  {'pH':<20}{ingredient.ph[0]:10.3g} measured")
    told = ", ".join(ingredient.allergens) or "none given; copy them from the packet"
    return "\n".join([*lines, "", f"Allergens: {told}.", *found.notes])
