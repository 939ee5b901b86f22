"""What the tables know, ingredient by ingredient, and how far the model stands from published pH.

:mod:`charge_fit` fits the rule for strong ions and leaves foods out of it in turn, :mod:`survey`
goes through the pantry, :mod:`words` writes what it found.
"""

from balancer.report.survey import FoodReport, PhCheck, Report, data_report
from balancer.report.words import full_text, summary_markdown

__all__ = ["FoodReport", "PhCheck", "Report", "data_report", "full_text", "summary_markdown"]
