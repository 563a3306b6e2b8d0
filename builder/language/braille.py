"""Print to literary braille, letter by letter (uncontracted), for titles and names.

The signs are those of *The Rules of Unified English Braille* (ICEB, 2nd edition 2013), from memory; for
German and Italian the letters with accents that these languages have signs for, after their own codes, from
memory too. Cyrillic and Hebrew letters take the signs of Russian and Hebrew braille, without an indicator.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from functools import cache

UNKNOWN = "⠿"
"""The full cell, which stands for a character that has no sign here."""

_LETTERS = dict(zip("abcdefghijklmnopqrstuvwxyz", "⠁⠃⠉⠙⠑⠋⠛⠓⠊⠚⠅⠇⠍⠝⠕⠏⠟⠗⠎⠞⠥⠧⠺⠭⠽⠵"))
_DIGITS = dict(zip("1234567890", "⠁⠃⠉⠙⠑⠋⠛⠓⠊⠚"))
_GREEK = dict(zip("αβγδεζηθικλμνξοπρστυφχψω", "⠁⠃⠛⠙⠑⠵⠱⠹⠊⠅⠇⠍⠝⠭⠕⠏⠗⠎⠞⠥⠋⠯⠽⠺"))
_CYRILLIC = dict(zip("абвгдежзийклмнопрстуфхцчшщъыьэюяё", "⠁⠃⠺⠛⠙⠑⠚⠵⠊⠯⠅⠇⠍⠝⠕⠏⠗⠎⠞⠥⠋⠓⠉⠟⠱⠭⠷⠮⠾⠪⠳⠫⠡"))
_HEBREW = dict(zip("אבגדהוזחטיכלמנסעפצקרשתךםןףץ", "⠁⠧⠛⠙⠓⠺⠵⠭⠞⠚⠡⠇⠍⠝⠎⠫⠋⠮⠟⠗⠩⠹⠡⠍⠝⠋⠮"))
_NATIONAL = {
    "de": dict(zip("äöüß", "⠜⠪⠳⠮")),
    "it": dict(zip("àèéìòù", "⠷⠮⠿⠌⠬⠾")),
}
_SIGNS = {
    ".": "⠲", ",": "⠂", ";": "⠆", ":": "⠒", "!": "⠖", "?": "⠦", "'": "⠄", "’": "⠄", "-": "⠤", "‐": "⠤",
    "–": "⠠⠤", "—": "⠐⠠⠤", "…": "⠲⠲⠲", "(": "⠐⠣", ")": "⠐⠜", "[": "⠨⠣", "]": "⠨⠜", "{": "⠸⠣",
    "}": "⠸⠜", "<": "⠈⠣", ">": "⠈⠜", "/": "⠸⠌", "\\": "⠸⠡", '"': "⠠⠶", "“": "⠘⠦", "”": "⠘⠴", "„": "⠘⠦",
    "‘": "⠠⠦", "«": "⠸⠦", "»": "⠸⠴", "&": "⠈⠯", "@": "⠈⠁", "*": "⠐⠔", "+": "⠐⠖", "=": "⠐⠶", "−": "⠐⠤",
    "×": "⠐⠦", "÷": "⠐⠌", "#": "⠸⠹", "%": "⠨⠴", "°": "⠘⠚", "§": "⠘⠎", "¶": "⠘⠏", "_": "⠨⠤", "~": "⠈⠔",
    "^": "⠈⠢", "|": "⠸⠳", "€": "⠈⠑", "£": "⠈⠇", "$": "⠈⠎", "¢": "⠈⠉", "©": "⠘⠉", "®": "⠘⠗", "•": "⠸⠲",
    "·": "⠐⠲", "†": "⠈⠠⠹", "‡": "⠈⠠⠻", "♭": "⠼⠣", "♯": "⠼⠩", "♮": "⠼⠡", "æ": "⠁⠘⠖⠑", "œ": "⠕⠘⠖⠑",
    "ß": "⠎⠎", "`": "⠨⠡", "℣": "⠘⠧", "℟": "⠘⠗", "✠": "⠘⠖", "ʹ": "⠤", "״": "⠠⠶", "־": "⠤",
}  # fmt: skip
"""Signs, and letters that are two in one. The versicle, the response and the cross have no sign in that code;
they are spelled here as letters and a sign with the indicator of signs of their kind."""
_MARKS = {
    "\u0300": "⠘⠡", "\u0301": "⠘⠌", "\u0302": "⠘⠩", "\u0303": "⠘⠻", "\u0304": "⠈⠤", "\u0306": "⠈⠬",
    "\u0308": "⠘⠒", "\u030a": "⠘⠫", "\u030c": "⠘⠬", "\u0327": "⠘⠯", "\u0328": "⠘⠯", "\u0338": "⠈⠡",
}  # fmt: skip
"""Accents, which stand before their letter; a stroke through a letter is one of them."""
_STRUCK = {"ł": "l", "ø": "o", "đ": "d", "ħ": "h", "ŧ": "t"}
_NUMBER, _LETTER_SIGN, _CAPITAL, _GREEK_SIGN, _RAISED, _LOWERED = "⠼", "⠰", "⠠", "⠨", "⠰⠔", "⠰⠢"
_FRACTION = "⠌"


def in_braille(text: str, language: str = "en") -> str:
    """A text as Unicode patterns, its words divided by blanks; `UNKNOWN` for what has no sign.

    >>> in_braille("Verset n° 12"), in_braille("AVE 3b")
    ('⠠⠧⠑⠗⠎⠑⠞ ⠝⠘⠚ ⠼⠁⠃', '⠠⠠⠁⠧⠑ ⠼⠉⠰⠃')
    >>> in_braille("Dieu & “½”"), in_braille("Für"), in_braille("Für", "de")
    ('⠠⠙⠊⠑⠥ ⠈⠯ ⠘⠦⠼⠁⠌⠃⠘⠴', '⠠⠋⠘⠒⠥⠗', '⠠⠋⠳⠗')
    """
    words = (_word(word, language) for word in unicodedata.normalize("NFC", text).split())
    return " ".join(word for word in words if word)


def without_sign(texts: Iterable[str], language: str = "en") -> tuple[str, ...]:
    """The characters of some texts that have no sign in braille, each once, in their order.

    >>> without_sign(["Ave — Œuvre, Δόξα, Слава"]), without_sign(["讃 a"])
    ((), ('讃',))
    """
    composed = (unicodedata.normalize("NFC", text) for text in texts)
    return tuple(dict.fromkeys(c for t in composed for c in t if UNKNOWN in _cells(c.lower(), language)))


def _word(word: str, language: str) -> str:
    letters = [c for c in word if c.isalpha()]
    capitals = len(letters) > 1 and all(_is_capital(c) for c in letters)
    cells, number = [_CAPITAL * 2] if capitals else [], False
    for c in word:
        digit = c in _DIGITS
        if digit and not number:
            cells.append(_NUMBER)
        sign = _cells(c.lower(), language)
        if number and sign and c.lower() in _LETTERS and sign in _DIGITS.values():
            cells.append(_LETTER_SIGN)
        number = digit or (number and c in ".,")
        cells += [_CAPITAL if _is_capital(c) and not capitals else "", sign]
    return "".join(cells)


def _is_capital(c: str) -> bool:
    return c != c.lower()


@cache
def _cells(c: str, language: str) -> str:
    """The cells of one small letter or sign; empty for what is not read."""
    own = _NATIONAL.get(language.partition("-")[0], {})
    for table in (own, _LETTERS, _DIGITS, _SIGNS, _CYRILLIC, _HEBREW):
        if c in table:
            return table[c]
    if c in _GREEK:
        return _GREEK_SIGN + _GREEK[c]
    if c in _STRUCK:
        return _MARKS["\u0338"] + _LETTERS[_STRUCK[c]]
    apart = unicodedata.normalize("NFD", c)
    base, marks = apart[0], apart[1:]
    if marks:
        told = "".join(_MARKS.get(mark, "") for mark in marks) if base in _LETTERS else ""
        return told + _cells(base, language)
    if c.isspace() or unicodedata.category(c) in ("Cf", "Mn", "Me"):
        return ""
    return _alike(c, language)


def _alike(c: str, language: str) -> str:
    """A fraction, a raised or lowered figure, a ligature: what Unicode says it stands for."""
    like = unicodedata.normalize("NFKC", c).lower()
    if like == c:
        return UNKNOWN
    before, number, cells = unicodedata.decomposition(c).partition(" ")[0], False, ""
    for part in like:
        if part in _DIGITS and not number:
            cells += _NUMBER
        number = part in _DIGITS or part == "\u2044"
        cells += _FRACTION if part == "\u2044" else _cells(part, language)
    return {"<super>": _RAISED, "<sub>": _LOWERED}.get(before, "") + cells


__all__ = ["UNKNOWN", "in_braille", "without_sign"]
