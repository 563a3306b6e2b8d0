"""Invents versets: an order (tone, voices, metre, length, character, seed) becomes a whole source that a
teacher edits like any other. The line is drawn with chances learned from real lines, its figures with
chances learned from the masters' sonorities; what the analysis reads otherwise than ordered, and what a rule
would send back, is drawn again. Knows nothing of pages or print."""

from builder.invention.draft import unseen_line
from builder.invention.inventing import Invention, invent
from builder.invention.order import CHARACTERS, Order, OrderError

__all__ = ["CHARACTERS", "Invention", "Order", "OrderError", "invent", "unseen_line"]
