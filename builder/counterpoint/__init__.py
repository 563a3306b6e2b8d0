"""Sets a verset in voices: sonorities from figures, the rules (once), the lattice of legal voicings,
the best paths through it, and the check of any score. Knows nothing of engraving or sound."""

from builder.counterpoint.alternatives import alternatives, k_best_settings
from builder.counterpoint.check import check
from builder.counterpoint.outside import UnreadableScore, check_musicxml
from builder.counterpoint.realise import realise
from builder.counterpoint.result import Finding, Realisation, Sonority
from builder.counterpoint.rule import Rule
from builder.counterpoint.rules import RULES
from builder.counterpoint.worded import Phrase, said

__all__ = [
    "RULES",
    "Finding",
    "Phrase",
    "Realisation",
    "Rule",
    "Sonority",
    "UnreadableScore",
    "alternatives",
    "check",
    "check_musicxml",
    "k_best_settings",
    "realise",
    "said",
]
