"""What the texts of an edition ask of print and braille that they do not have, foreseen before anything
is made."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import asdict

from builder.language.braille import without_sign
from builder.language.glyphs import STAND_IN, missing, named, texts_in
from builder.language.texts import edition_texts
from builder.source.verset import Verset


def text_warnings(verset: Verset, language: str = "en") -> Iterator[str]:
    """A sentence where characters of a verset's texts have no glyph in print, and one where the title has
    characters without a sign in braille.

    >>> from builder.source import parse
    >>> source = "---\\ntitle: 讃\\nverset: {metre: C, signature: none}\\n---\\n\\n"
    >>> source += chr(96) * 3 + "given\\ncantus C1 | D5/1\\n" + chr(96) * 3
    >>> list(text_warnings(parse(source)))
    ['braille has no sign for 讃 (U+8B83): a full cell stands for it']
    """
    yield from unprinted(
        (
            verset.title,
            verset.intro,
            *(licence.because for licence in verset.licences),
            *(text for reading in verset.readings for text in (reading.source, reading.adopted)),
            *(variant.remark for variant in verset.variants),
            *texts_in(asdict(verset.provenance)),
        ),
        language,
    )
    w = edition_texts(language)
    if unread := without_sign([verset.title], language):
        yield w("text.no-braille", signs=w.listing([named(c) for c in unread]))


def unprinted(texts: Iterable[str], language: str = "en") -> Iterator[str]:
    """A sentence that names the characters of some texts for which the print has no glyph; none where it has
    all.

    >>> list(unprinted(["Ave maris stella"]))
    []
    >>> list(unprinted(["Ave \\U00013000"]))
    ['print has no glyph for 𓀀 (U+13000): � stands for it']
    """
    w = edition_texts(language)
    if found := missing(texts):
        yield w("text.no-glyph", signs=w.listing([named(c) for c in found]), instead=STAND_IN)
