"""Reads a verset source: text in, a `Verset` with a position on every symbol out, or all its
errors at once. Knows nothing of realising."""

from builder.source.blanks import Blank
from builder.source.carried import carried_text
from builder.source.errors import SourceError, SourceErrors
from builder.source.example import EXAMPLE
from builder.source.files import ENCODED, parts_of, read, read_all, read_mei, read_musicxml
from builder.source.front import page_front
from builder.source.parse import is_source, parse
from builder.source.span import Span
from builder.source.verset import Cut, GivenNote, Licence, Pin, Reading, Settings, Verset
from builder.source.write import front_text, write

__all__ = [
    "ENCODED",
    "EXAMPLE",
    "Blank",
    "Cut",
    "GivenNote",
    "Licence",
    "Pin",
    "Reading",
    "Settings",
    "SourceError",
    "SourceErrors",
    "Span",
    "Verset",
    "carried_text",
    "front_text",
    "is_source",
    "page_front",
    "parse",
    "parts_of",
    "read",
    "read_all",
    "read_mei",
    "read_musicxml",
    "write",
]
