"""Breaks the long notes of a plain realisation into graceful shorter ones, from tables of patterns
held as data, under the same rules. Knows nothing of pages."""

from builder.diminution.diminishing import diminish, diminutions, skeleton
from builder.diminution.keeping import kept_levels, levels_again
from builder.diminution.pattern import Pattern
from builder.diminution.result import Choice, Diminution
from builder.diminution.showing import shown
from builder.diminution.tables import load_tables, patterns

__all__ = [
    "Choice",
    "Diminution",
    "Pattern",
    "diminish",
    "diminutions",
    "kept_levels",
    "levels_again",
    "load_tables",
    "patterns",
    "shown",
    "skeleton",
]
