"""How sure: from the spread of each ingredient to the axes of the sauce and to its pH.

One lot of each ingredient goes into a pot. How far that lot may lie from the table follows from
what is known of it, in this order:

- a published range: its ends are those of a triangle with the value at the peak, each side by
  itself, since most ranges are lopsided;
- a standard error on at least three samples: the table's mean is off by it and the lot by root n
  of it, together ``SE sqrt(n + 1)``;
- else a usual relative error of that component, twice as wide where the figure is borrowed. What
  is pure by definition is sure.

The acids of an ingredient move together, since their range is that of their total; all else is
taken as independent, first order. What is unknown stays at zero and is named, not guessed. Weighing
and the water lost are taken as exact.
"""

from balancer.uncertainty.lots import Statistics, read_statistics, sides
from balancer.uncertainty.propagation import PhSpread, Spread, spread
from balancer.uncertainty.words import SURE, in_words

__all__ = [
    "SURE",
    "PhSpread",
    "Spread",
    "Statistics",
    "in_words",
    "read_statistics",
    "sides",
    "spread",
]
