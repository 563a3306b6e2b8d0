"""Finds names of notes that are not of the one system a language has, on pages, prints and messages."""

from __future__ import annotations

import re

SIGN = r"(?:##?|bb?|[♯♭♮𝄪𝄫])"
NOTE = rf"(?<![\w/.#-])[A-G]{SIGN}?[0-9](?![\w./])"
"""A letter with the number of an octave, as no language but English writes it."""
SIGNED = rf"(?<![\w/.-])[A-G]{SIGN}(?![\w♭♯])"
"""A letter with a sign."""
BARE = r"(?<![\w/.’'|-])[A-G](?![\w/|’'-]|\. [A-Z])"
"""A letter alone, no initial: a note of the German system too, but none of the Italian."""
TYPED = r"(?<![\w/.-])[A-G](?:##?|bb?)[0-9]?(?![\w♭♯])"
"""A letter with a sign as sources have it, which no language says so."""
FIGURE = r"(?<![\w/.&])(?:##?|bb?|n)(?:[2-9]|1[0-2])(?![\w.:])|(?<![\w&])#(?!\w)"
"""A figure as sources have it."""
SYSTEMS = {
    "en": re.compile(
        rf"{TYPED}|{FIGURE}|\b[B-G] (?:double )?(?:sharp|flat)\b|\bA (?:sharp|flat)(?=[;:.)]| and | is )"
    ),
    "de": re.compile(f"{NOTE}|{SIGNED}|{FIGURE}"),
    "it": re.compile(
        f"{NOTE}|{SIGNED}|{BARE}|{FIGURE}"
        r"|\b(?:do|re|mi|fa|sol|la|si) (?:doppio )?(?:diesis|bemolle)\b"
    ),
}
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


def notes_left(text: str, language: str) -> list[str]:
    """What a text says in which a note has another name than its language gives it, or a figure the signs of
    sources; what stands between backticks is source."""
    found = []
    for piece in re.split(r"[\n¶]+", re.sub(r"`[^`]*`|\{[^{}]*\}", " ", text)):
        plain = CLEFS.sub(" ", APART.sub(" ", piece.strip()))
        if SYSTEMS[language].search(plain):
            found.append(" ".join(piece.split()))
    return found
