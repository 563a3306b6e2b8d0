"""The plan of a setting in voices, made before any of its notes: motifs and who has them, rests before a
voice comes in again, the countersubject, clausulae, and how movement grows. Takes a verset, its analysis and
its plain realisation; gives a value that can be read, told and drawn. Knows nothing of how lines are
searched."""

from builder.plan.making import make_plan
from builder.plan.motif import Motif, motifs
from builder.plan.picture import picture
from builder.plan.plan import Clausula, Countersubject, Plan, Rest, Statement
from builder.plan.telling import in_words, told, told_statement

__all__ = [
    "Clausula",
    "Countersubject",
    "Motif",
    "Plan",
    "Rest",
    "Statement",
    "in_words",
    "make_plan",
    "motifs",
    "picture",
    "told",
    "told_statement",
]
