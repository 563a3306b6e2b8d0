"""Finds names of notes in the English system on pages, prints and messages of another language."""

from __future__ import annotations

import re

SIGN = r"(?:##?|bb?|[♯♭♮𝄪𝄫])"
NOTE = rf"(?<![\w/.#-])[A-G]{SIGN}?[0-9](?![\w./])"
"""A letter with the number of an octave, as no language but English writes it."""
SIGNED = rf"(?<![\w/.-])[A-G]{SIGN}(?![\w♭♯])"
"""A letter with a sign."""
BARE = r"(?<![\w/.’'|-])[A-G](?![\w/|’'-]|\. [A-Z])"
"""A letter alone, no initial: a note of the German system too, but none of the Italian."""
SYSTEMS = {"de": re.compile(f"{NOTE}|{SIGNED}"), "it": re.compile(f"{NOTE}|{SIGNED}|{BARE}")}
APART = re.compile(
    r"(?:libro|Buch), A4$|\b[Tt](?:empo|aktart):? C\b|^[A-G]\.$|(?:^|[.;:·] )A (?=[a-z])"
    r"|^(?:cantus|altus|tenor|bassus) \d+ \|.*$"
)
"""A size of paper, a sign of the metre, a voice by its first letter, the Italian preposition where it begins
a sentence, and a line of a source that a page gives to be copied."""
CLEF = r"[CFG][1-5]"
CLEFS = re.compile(
    rf"\b(?:chiav[ei]|Schlüssel[ns]?)\b(?: originali)?(?:[:,]? (?:\w+ )?{CLEF}\b)+", re.IGNORECASE
)
"""Clefs are called by the sign and line that sources write, in every language."""


def english_notes(text: str, language: str) -> list[str]:
    """What a text says in which a note has its English name; what stands between backticks is source."""
    found = []
    for piece in re.split(r"[\n¶]+", re.sub(r"`[^`]*`|\{[^{}]*\}", " ", text)):
        plain = CLEFS.sub(" ", APART.sub(" ", piece.strip()))
        if SYSTEMS[language].search(plain):
            found.append(" ".join(piece.split()))
    return found
