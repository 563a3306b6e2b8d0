"""Reads a verset as a musician does: theme, entries, tone, cadences, sections and the steps of the
lesson, each with the evidence for it. Takes a `Verset`, gives an `Analysis`; knows nothing of pages."""

from builder.analysis.analyse import analyse
from builder.analysis.findings import (
    Analysis,
    Cadence,
    Entry,
    Evidence,
    Step,
    Theme,
    ToneReading,
)
from builder.analysis.tone_table import TONES, Tone
from builder.analysis.words import as_words

__all__ = [
    "TONES",
    "Analysis",
    "Cadence",
    "Entry",
    "Evidence",
    "Step",
    "Theme",
    "Tone",
    "ToneReading",
    "analyse",
    "as_words",
]
