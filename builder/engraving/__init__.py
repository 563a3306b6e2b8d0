"""Score to MEI to SVG through verovio, with the score's ids on the notes.

A notated score, whole or an excerpt, comes in; MEI in one of three layouts (given line, keyboard
score, open score) and pictures of its systems go out. Knows nothing of mkdocs.
"""

from builder.engraving.engrave import picture, svg, systems
from builder.engraving.given import given_document, given_mei
from builder.engraving.keyboard import keyboard_document, keyboard_mei
from builder.engraving.openscore import NATURAL, clefs_of, open_document, open_mei
from builder.engraving.page import WIDTHS, flow, page_svg

__all__ = [
    "NATURAL",
    "WIDTHS",
    "clefs_of",
    "flow",
    "given_document",
    "given_mei",
    "keyboard_document",
    "keyboard_mei",
    "open_document",
    "open_mei",
    "page_svg",
    "picture",
    "svg",
    "systems",
]
