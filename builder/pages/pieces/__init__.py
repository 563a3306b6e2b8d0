"""Generated pieces that a page of a course asks for with `<!-- verset:NAME -->`: the rules, the table of
diminutions, the tunings, new versets, the list of versets. Some bring pages of their own."""

from collections.abc import Callable, Mapping

from builder.pages.pieces.fresh import fresh
from builder.pages.pieces.index import book_links, index
from builder.pages.pieces.patterns import diminutions
from builder.pages.pieces.piece import Asked, Piece
from builder.pages.pieces.rules import rules
from builder.pages.pieces.tunings import tunings

PIECES: Mapping[str, Callable[[Asked], Piece]] = {
    "rules": rules,
    "patterns": diminutions,
    "tunings": tunings,
    "fresh": fresh,
}
"""Pieces that depend on nothing but what a course chooses, so that they are made once and kept."""

__all__ = ["PIECES", "Asked", "Piece", "book_links", "index"]
