"""Sets a verset in voices: sonorities from figures, the rules (once), the lattice of legal voicings,
the best paths through it, and the check of any score. Knows nothing of engraving or sound."""

from builder.counterpoint.realise import realise
from builder.counterpoint.result import Finding, Realisation, Sonority

__all__ = ["Finding", "Realisation", "Sonority", "realise"]
