"""Markdown of a course to the tree of words that the typesetter takes."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from typing import Any

import markdown

Node = dict[str, Any]
_KINDS = {
    "p": "p",
    "em": "em",
    "i": "em",
    "strong": "strong",
    "b": "strong",
    "ul": "ul",
    "ol": "ol",
    "li": "li",
    "blockquote": "quote",
    **{f"h{n}": "head" for n in range(1, 7)},
}
_OUTSIDE = re.compile(r"(https?://|mailto:)")
_SIGNS = {"b": "♭", "#": "♯"}


def words(text: str) -> list[Any]:
    """Markdown to strings and nodes; what print cannot show (pictures, HTML) is left out. A link
    within the course keeps its words only.

    >>> words("Sing *mi*, then play.")
    [{'t': 'p', 'c': ['Sing ', {'t': 'em', 'c': ['mi']}, ', then play.']}]
    """
    reader = _Reader()
    reader.feed(markdown.markdown(text, extensions=["sane_lists", "smarty"]))
    reader.close()
    return [n for n in reader.root if not isinstance(n, str) or n.strip()]


def signs(text: str) -> str:
    """Letters with accidentals as print writes them.

    >>> signs("Bb and F#, but not Abbot")
    'B♭ and F♯, but not Abbot'
    """
    return re.sub(r"\b([A-G])([b#])(?![A-Za-z])", lambda m: m[1] + _SIGNS[m[2]], text)


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root: list[Any] = []
        self.stack: list[tuple[str, list[Any]]] = [("", self.root)]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "br":
            self.stack[-1][1].append({"t": "break", "c": []})
            return
        node: Node | None = None
        href = dict(attrs).get("href") or ""
        if tag in _KINDS:
            node = {"t": _KINDS[tag], "c": []}
        elif tag == "code":
            node = {"t": "code", "text": "", "c": []}
        elif tag == "a" and _OUTSIDE.match(href):
            node = {"t": "link", "href": href, "c": []}
        if node is not None:
            self.stack[-1][1].append(node)
            self.stack.append((tag, node["c"]))

    def handle_endtag(self, tag: str) -> None:
        if self.stack[-1][0] != tag:
            return
        _, children = self.stack.pop()
        last = self.stack[-1][1][-1]
        if tag == "code":
            last["text"] = "".join(children)
            last["c"] = []
        elif tag in ("ul", "ol"):
            last["c"] = [n for n in children if not isinstance(n, str)]

    def handle_data(self, data: str) -> None:
        text = re.sub(r"\s+", " ", data)
        if text.strip() or self.stack[-1][0]:
            self.stack[-1][1].append(text)
