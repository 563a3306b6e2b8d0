"""Reads a verset as a musician does: theme, entries, tone, cadences, sections and the steps of the
lesson, each with the evidence for it. Takes a `Verset`, gives an `Analysis`; knows nothing of pages."""

from builder.analysis.findings import (
    Analysis,
    Cadence,
    Entry,
    Evidence,
    Step,
    Theme,
    ToneReading,
)

__all__ = ["Analysis", "Cadence", "Entry", "Evidence", "Step", "Theme", "ToneReading"]
