"""Sets a verset in voices: sonorities from figures, the rules (once), the lattice of legal voicings,
the best paths through it, and the check of any score. Knows nothing of engraving or sound."""

from builder.counterpoint.check.check import check
from builder.counterpoint.check.finding import Finding, Realisation, Sonority
from builder.counterpoint.check.judge import Checked, Judge
from builder.counterpoint.check.musicxml import UnreadableScore, check_musicxml
from builder.counterpoint.rules.phrases import said
from builder.counterpoint.rules.rule import Rule
from builder.counterpoint.rules.rulebook import RULES
from builder.counterpoint.search.alternatives import alternatives, k_best_settings
from builder.counterpoint.search.differences import differences
from builder.counterpoint.search.moving import lost, reasons_lost
from builder.counterpoint.search.realise import realise
from builder.counterpoint.search.reasons import reasons
from builder.language.texts import Phrase

__all__ = [
    "RULES",
    "Checked",
    "Finding",
    "Judge",
    "Phrase",
    "Realisation",
    "Rule",
    "Sonority",
    "UnreadableScore",
    "alternatives",
    "check",
    "check_musicxml",
    "differences",
    "k_best_settings",
    "lost",
    "realise",
    "reasons",
    "reasons_lost",
    "said",
]
