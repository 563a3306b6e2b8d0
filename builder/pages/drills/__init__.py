"""Drills: small tasks made from what a course has (tones, clefs, figures, cadences, themes, patterns),
written into one small file a drill when the site is built; the page loads it when a reader opens the drill.
Knows nothing of the site generator."""

from builder.pages.drills.asked import STEPS, drills_asked, furthest

__all__ = ["STEPS", "drills_asked", "furthest"]
