"""Markdown of a course to the tree of words that the typesetter takes."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from typing import Any

import markdown

from builder.language.parallel import Part, parts
from builder.music.figure import SHOWN

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
    **{"table": "table", "tr": "row", "th": "cell", "td": "cell"},
}
_ALIGNED = re.compile(r"text-align:\s*(left|right|center)")
_OUTSIDE = re.compile(r"(https?://|mailto:)")


def words(text: str, *, foot: bool = True) -> list[Any]:
    """Markdown to strings and nodes; what print cannot show (pictures, HTML) is left out. A link
    within the course keeps its words only. Footnotes are nodes where they are called, for the foot of the
    page; without `foot` numbers, and paragraphs at the end. Words in several languages are nodes, too.

    >>> words("Sing *mi*, then play.")
    [{'t': 'p', 'c': ['Sing ', {'t': 'em', 'c': ['mi']}, ', then play.']}]
    >>> words("Sing[^1].\\n\\n[^1]: Softly.", foot=False)[1]
    {'t': 'p', 'c': [{'t': 'sup', 'c': ['1']}, ' ', 'Softly.']}
    """
    return [node for part in parts(text) for node in _part(part, foot=foot)]


def _part(part: Part, *, foot: bool) -> list[Any]:
    if not isinstance(part, str):
        return [{"t": "parallel", "c": [_language(name, text, foot=foot) for name, text in part]}]
    reader = _Reader()
    reader.feed(markdown.markdown(part, extensions=["sane_lists", "smarty", "tables", "footnotes"]))
    reader.close()
    found = [n for n in reader.root if not isinstance(n, str) or n.strip()]
    return _with_notes(found, reader.notes, foot=foot)


def _language(name: str, text: str, *, foot: bool) -> Node:
    return {"t": "language", "lang": name, "c": words(text, foot=foot)}


def _with_notes(nodes: list[Any], notes: dict[str, list[Any]], *, foot: bool) -> list[Any]:
    """The nodes with each note where it is first called, or its number there and the notes at the end."""
    order: list[str] = []

    def filled(row: list[Any]) -> list[Any]:
        made: list[Any] = []
        for node in row:
            if isinstance(node, str):
                made.append(node)
                continue
            if node["t"] != "call":
                made.append(node | {"c": filled(node["c"])})
                continue
            again = node["to"] in order
            order.extend([] if again else [node["to"]])
            if foot and not again:
                made.append({"t": "note", "c": notes.get(node["to"], [])})
            else:
                made.append({"t": "sup", "c": [str(order.index(node["to"]) + 1)]})
        return made

    made = filled(nodes)
    if not foot:
        for number, id in enumerate(order, 1):
            made.append({"t": "p", "c": [{"t": "sup", "c": [str(number)]}, " ", *notes.get(id, [])]})
    return made


def signs(text: str) -> str:
    """Letters and figures with accidentals as print writes them.

    >>> signs("Bb and F#, but not Abbot; over D3 with #, over A2 with 7/5/b3 or n6")
    'B♭ and F♯, but not Abbot; over D3 with ♯, over A2 with 7/5/♭3 or ♮6'
    """
    text = re.sub(r"\b([A-G])([b#])(?![A-Za-z])", lambda m: m[1] + SHOWN[m[2]], text)
    return re.sub(r"(?<!\w)(?:#(?!\w)|[#bn](?=[2-9]\b))", lambda m: SHOWN[m[0]], text)


class _Reader(HTMLParser):
    """Elements to nodes. The notes at the end of the words are kept apart, by their ids."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root: list[Any] = []
        self.notes: dict[str, list[Any]] = {}
        self.stack: list[tuple[str, list[Any]]] = [("", self.root)]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = {name: value or "" for name, value in attrs}
        if tag == "br":
            self.stack[-1][1].append({"t": "break", "c": []})
            return
        if told.get("class") == "footnote-ref":
            self.stack[-1][1].append({"t": "call", "to": told.get("href", "").lstrip("#"), "c": []})
            self.stack.append((tag, []))
        elif told.get("class") in ("footnote-backref", "footnote"):
            self.stack.append((tag, []))
        elif tag == "li" and told.get("id", "").startswith("fn:"):
            self.stack.append((tag, self.notes.setdefault(told["id"], [])))
        elif (node := _node(tag, told)) is not None:
            self.stack[-1][1].append(node)
            self.stack.append((tag, node["c"]))

    def handle_endtag(self, tag: str) -> None:
        if self.stack[-1][0] != tag or len(self.stack) == 1:
            return
        _, children = self.stack.pop()
        within = self.stack[-1][1]
        if any(children is row for row in self.notes.values()):
            children[:] = _run_in(children)
            return
        if not within or isinstance(within[-1], str) or within[-1].get("c") is not children:
            return
        last = within[-1]
        if tag == "code":
            last["text"] = "".join(children)
            last["c"] = []
        elif tag in ("ul", "ol", "table", "tr"):
            last["c"] = [n for n in children if not isinstance(n, str)]

    def handle_data(self, data: str) -> None:
        text = re.sub(r"[ \t\n\r\f]+", " ", data)
        if text.strip() or (self.stack[-1][0] and text):
            self.stack[-1][1].append(text)


def _node(tag: str, told: dict[str, str]) -> Node | None:
    if tag in _KINDS:
        node: Node = {"t": _KINDS[tag], "c": []}
        if tag in ("th", "td"):
            aligned = _ALIGNED.search(told.get("style", ""))
            node |= {"head": tag == "th", "align": aligned[1] if aligned else "left"}
        return node
    if tag == "code":
        return {"t": "code", "text": "", "c": []}
    href = told.get("href", "")
    return {"t": "link", "href": href, "c": []} if tag == "a" and _OUTSIDE.match(href) else None


def _run_in(children: list[Any]) -> list[Any]:
    """The words of a note in one paragraph."""
    made: list[Any] = []
    for node in children:
        if isinstance(node, str):
            made += [node] if node.strip() else []
        elif node["t"] == "p":
            made += [" "] if made else []
            made += [n for n in node["c"] if n != "\u00a0"]
        else:
            made.append(node)
    if made and isinstance(made[-1], str):
        made[-1] = made[-1].rstrip("\u00a0 ")
    return made
