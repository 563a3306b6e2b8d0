"""Words that stand in several languages: side by side, or one below the other.

A line that has nothing but a language in square brackets, such as `[it]`, begins the words in that language;
`[]` ends them, and so does the end of the text.
Languages are named as in ISO 639 (two or three small letters).
"""

from __future__ import annotations

import re

_MARK = re.compile(r" {0,3}\[([a-z]{2,3})?\][ \t]*")
_FENCE = re.compile(r" {0,3}(`{3,}|~{3,})")

Part = str | tuple[tuple[str, str], ...]
"""Words for all readers, or the same words in languages, each with its name."""


def parts(text: str) -> tuple[Part, ...]:
    """The words in their order, cut where they go on in several languages. In a block of code a mark is none.

    >>> parts("For all.\\n\\n[it]\\nTre voci.\\n\\n[de]\\nDrei Stimmen.\\n\\n[]\\nOn.")
    ('For all.', (('it', 'Tre voci.'), ('de', 'Drei Stimmen.')), 'On.')
    """
    found: list[Part] = []
    rows: list[tuple[str, list[str]]] = [("", [])]
    fence = ""
    for line in text.split("\n"):
        opened = _FENCE.match(line)
        if opened and (not fence or line.strip().startswith(fence)):
            fence = "" if fence else opened[1]
        mark = None if fence else _MARK.fullmatch(line)
        if mark is None:
            rows[-1][1].append(line)
            continue
        if not mark[1] or not rows[-1][0]:
            found += _closed(rows)
            rows = []
        rows.append((mark[1] or "", []))
    return (*found, *_closed(rows))


def _closed(rows: list[tuple[str, list[str]]]) -> list[Part]:
    said = [(language, "\n".join(lines).strip("\n")) for language, lines in rows]
    if said and said[0][0]:
        return [tuple(said)]
    return [text for _, text in said if text.strip()]


def on_page(text: str) -> str:
    """The words as Markdown of a page: languages in a division each, for a browser to speak and to set side
    by side where there is room. It asks for the extension `md_in_html`.

    >>> print(on_page("[it]\\nTre *voci*.\\n[de]\\nDrei Stimmen."))
    <div class="verset-parallel" markdown>
    <div lang="it" markdown>
    <BLANKLINE>
    Tre *voci*.
    <BLANKLINE>
    </div>
    <div lang="de" markdown>
    <BLANKLINE>
    Drei Stimmen.
    <BLANKLINE>
    </div>
    </div>
    """
    return "\n\n".join(part if isinstance(part, str) else _division(part) for part in parts(text))


def _division(said: tuple[tuple[str, str], ...]) -> str:
    inner = "\n".join(f'<div lang="{language}" markdown>\n\n{text}\n\n</div>' for language, text in said)
    return f'<div class="verset-parallel" markdown>\n{inner}\n</div>'
