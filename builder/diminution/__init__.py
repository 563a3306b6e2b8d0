"""Breaks the long notes of a plain realisation into graceful shorter ones, from tables of patterns
held as data, under the same rules. Knows nothing of pages."""

from builder.diminution.result import Choice, Diminution

__all__ = ["Choice", "Diminution"]
