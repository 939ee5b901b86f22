"""Turn a cook's tasting words about a sauce into grams.

The modules run in one direction, from figures about food at the bottom to the command line and
the dashboard at the top; ``DEVELOPERS.md`` draws them. Nothing is imported here, so that a short
command starts fast: ask for what you need, for example ``from balancer.kitchen import Kitchen``.
"""

__version__ = "0.1.0"
