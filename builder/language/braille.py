"""Print to literary braille, letter by letter (uncontracted), for titles and names.

The signs are those of *The Rules of Unified English Braille* (ICEB, 2nd edition 2013), from memory; for
German and Italian the letters with accents that these languages have signs for, after their own codes, from
memory too. Cyrillic, Hebrew and Arabic letters and kana take the signs of Russian, Hebrew, Arabic and
Japanese braille, without an indicator: kana as they stand, not as they sound. The tables of these four
scripts were compared, sign by sign, with those of liblouis 3.24 (`ru-litbrl`, `he-IL`, `ar-ar-g1`,
`ja-kantenji`); the obsolete kana wi and we and the opening bracket are as common in Japanese braille, from
memory. The signs of other scripts, which stand for words or are put together otherwise, have none here.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from functools import cache

UNKNOWN = "⠿"
"""The full cell, which stands for a character that has no sign here."""
_NONE = "\ufffd"
"""The same until all is put together: some letters are a full cell."""

_LETTERS = dict(zip("abcdefghijklmnopqrstuvwxyz", "⠁⠃⠉⠙⠑⠋⠛⠓⠊⠚⠅⠇⠍⠝⠕⠏⠟⠗⠎⠞⠥⠧⠺⠭⠽⠵"))
_DIGITS = dict(zip("1234567890", "⠁⠃⠉⠙⠑⠋⠛⠓⠊⠚"))
_GREEK = dict(zip("αβγδεζηθικλμνξοπρστυφχψω", "⠁⠃⠛⠙⠑⠵⠱⠹⠊⠅⠇⠍⠝⠭⠕⠏⠗⠎⠞⠥⠋⠯⠽⠺"))
_CYRILLIC = dict(zip("абвгдежзийклмнопрстуфхцчшщъыьэюяё", "⠁⠃⠺⠛⠙⠑⠚⠵⠊⠯⠅⠇⠍⠝⠕⠏⠗⠎⠞⠥⠋⠓⠉⠟⠱⠭⠷⠮⠾⠪⠳⠫⠡"))
_HEBREW = dict(zip("אבגדהוזחטיכלמנסעפצקרשתךםןףץ", "⠁⠧⠛⠙⠓⠺⠵⠭⠞⠚⠡⠇⠍⠝⠎⠫⠋⠮⠟⠗⠩⠹⠡⠍⠝⠋⠮"))
_ARABIC = dict(zip("ءآأؤإئابةتثجحخدذرزسشصضطظعغفقكلمنهوىي،؟", "⠄⠜⠌⠳⠨⠽⠁⠃⠡⠞⠹⠚⠱⠭⠙⠮⠗⠵⠎⠩⠯⠫⠾⠿⠷⠣⠋⠟⠅⠇⠍⠝⠓⠺⠕⠊⠐⠦")) | {
    "لا": "⠧",
    "ـ": "",
}
_ARABIC |= dict(zip("\u064b\u064c\u064d\u064e\u064f\u0650\u0651\u0652", "⠆⠢⠔⠂⠥⠑⠠⠒"))
_ROWS = ("かきくけこ", "さしすせそ", "たちつてと", "なにぬねの", "はひふへほ", "まみむめも", "らりるれろ")
_KANA = dict(
    zip(
        "あいうえお" + "".join(_ROWS) + "やゆよわゐゑをんっー、。・「」",
        "⠁⠃⠉⠋⠊⠡⠣⠩⠫⠪⠱⠳⠹⠻⠺⠕⠗⠝⠟⠞⠅⠇⠍⠏⠎⠥⠧⠭⠯⠮⠵⠷⠽⠿⠾⠑⠓⠙⠛⠚⠌⠬⠜⠄⠆⠖⠔⠴⠂⠒⠰⠲⠐⠤⠤",
    )
)
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


def _kana() -> dict[str, str]:
    """All kana, small ones with those that they belong to: one cell before says what the print shows by two
    strokes, a circle, or a small letter."""
    table = dict(_KANA) | {"ゔ": "⠐" + _KANA["う"]}
    for row in _ROWS:
        for mark, voiced, palatal in (("", "", "⠈"), ("\u3099", "⠐", "⠘"), ("\u309a", "⠠", "⠨")):
            marked = [unicodedata.normalize("NFC", kana + mark) for kana in row]
            if len(marked[0]) == 1:
                table |= {kana: voiced + _KANA[base] for kana, base in zip(marked, row, strict=True)}
                table |= {marked[1] + small: palatal + _KANA[row[n]] for small, n in zip("ゃゅょ", (0, 2, 4))}
    return table


_TWO_IN_ONE = _kana() | _ARABIC
_UNIT = re.compile("|".join((*(key for key in _TWO_IN_ONE if len(key) == 2), ".")))
"""What is written by a sign of its own: two letters that become one, else a character."""


def in_braille(text: str, language: str = "en") -> str:
    """A text as Unicode patterns, its words divided by blanks; `UNKNOWN` for what has no sign.

    >>> in_braille("Verset n° 12"), in_braille("AVE 3b")
    ('⠠⠧⠑⠗⠎⠑⠞ ⠝⠘⠚ ⠼⠁⠃', '⠠⠠⠁⠧⠑ ⠼⠉⠰⠃')
    >>> in_braille("Dieu & “½”"), in_braille("Für"), in_braille("Für", "de")
    ('⠠⠙⠊⠑⠥ ⠈⠯ ⠘⠦⠼⠁⠌⠃⠘⠴', '⠠⠋⠘⠒⠥⠗', '⠠⠋⠳⠗')
    >>> in_braille("グロリア"), in_braille("きょく"), in_braille("سلام"), in_braille("讃")
    ('⠐⠩⠚⠓⠁', '⠈⠪⠩', '⠎⠧⠍', '⠿')
    """
    words = (_word(word, language) for word in _plain(text).split())
    return " ".join(word for word in words if word).replace(_NONE, UNKNOWN)


def without_sign(texts: Iterable[str], language: str = "en") -> tuple[str, ...]:
    """The characters of some texts that have no sign in braille, each once, in their order.

    >>> without_sign(["Ave — Œuvre, Δόξα, Слава"]), without_sign(["讃 a"])
    ((), ('讃',))
    >>> without_sign(["perché"], "it"), without_sign(["かな, カナ, عربي ١٢"])
    ((), ())
    """
    units = (unit for text in texts for unit in _UNIT.findall(_plain(text)))
    return tuple(dict.fromkeys(unit for unit in units if _NONE in _cells(unit.lower(), language)))


def _plain(text: str) -> str:
    """A text whose letters and accents are one character each, its figures European, its kana round."""
    plain = []
    for c in unicodedata.normalize("NFC", text):
        if unicodedata.category(c) == "Nd":
            plain.append(str(unicodedata.digit(c)))
        else:
            plain.append(chr(ord(c) - 0x60) if "ァ" <= c <= "ヴ" else c)
    return "".join(plain)


def _word(word: str, language: str) -> str:
    letters = [c for c in word if c.isalpha()]
    capitals = len(letters) > 1 and all(_is_capital(c) for c in letters)
    cells, number = [_CAPITAL * 2] if capitals else [], False
    for c in _UNIT.findall(word):
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
    for table in (own, _LETTERS, _DIGITS, _SIGNS, _CYRILLIC, _HEBREW, _TWO_IN_ONE):
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
        return _NONE
    before, number, cells = unicodedata.decomposition(c).partition(" ")[0], False, ""
    for part in like:
        if part in _DIGITS and not number:
            cells += _NUMBER
        number = part in _DIGITS or part == "\u2044"
        cells += _FRACTION if part == "\u2044" else _cells(part, language)
    return {"<super>": _RAISED, "<sub>": _LOWERED}.get(before, "") + cells


__all__ = ["UNKNOWN", "in_braille", "without_sign"]
