"""A saved answer read as a recipe: weights, measures, balance, method and cautions.

The saved document holds what was asked, what was answered and, if the cook wrote them, a method
and the times that it takes::

    {"request": {...}, "answer": {...}, "method": ["...", ...],
     "times_min": {"prep": 15, "cook": 25}}

The answer is that of ``balancer solve --json`` together with ``"resolved"``, which says for each
name as written the key and the name of the food that it was taken for.
"""

from balancer.measures import Measure, kitchen_measure
from balancer.nutrition import Order, Panel
from balancer.nutrition import Row as NutritionRow
from balancer.recipe.document import LONGEST_STEP, MOST_STEPS, from_document
from balancer.recipe.method import default_method, target_checks
from balancer.recipe.parts import (
    CODES_SENTENCE,
    LEAST_G,
    STAGES,
    Line,
    ProfileRow,
    Recipe,
    Target,
    Waters,
)

__all__ = ["CODES_SENTENCE", "LEAST_G", "LONGEST_STEP", "MOST_STEPS", "STAGES", "Line", "Measure"]
__all__ += [
    "NutritionRow",
    "Order",
    "Panel",
    "ProfileRow",
    "Recipe",
    "Target",
    "Waters",
    "default_method",
]
__all__ += ["from_document", "kitchen_measure", "target_checks"]
