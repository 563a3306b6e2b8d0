"""Takes a source file apart: front matter, blocks of music, and the words of the teacher.

Knows Markdown's fences and headings, and nothing of music.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches

from builder.music import VERSIONS, VOICES, Version
from builder.source.errors import Faults, shorten
from builder.source.span import Span

STEPS = (*VOICES, "cadence", "whole")
HEADINGS = {
    **{"canto": "cantus", "alto": "altus", "tenore": "tenor", "basso": "bassus"},
    **{"cadenza": "cadence", "tutto": "whole", "il tutto": "whole", "l'intero": "whole", "intero": "whole"},
    **{"kadenz": "cadence", "ganzes": "whole", "das ganze": "whole", "the whole": "whole"},
}
"""Headings of an Italian or German course, by the step that each names."""
READINGS = "readings"
"""The block of what witnesses have."""
FINGERING, OSSIA = "fingering", "ossia"
"""The blocks of what an editor sets above notes."""
FENCES = (*VERSIONS, READINGS, FINGERING, OSSIA)
_OTHERS = "`{}`, or `given`, `plain`, `diminished`, `readings`, `fingering`, `ossia`"
_FENCE = re.compile(r" {0,3}(`{3,}(?=[^`]*$)|~{3,})[ \t]*(.*)$")
_HEADING = re.compile(r" {0,3}(#{1,6})(?:[ \t]+(.*?))??(?:[ \t]+#+)?[ \t]*$")
_UNDERLINE = re.compile(r" {0,3}(=+|-+)[ \t]*$")


@dataclass(frozen=True, slots=True)
class Block:
    """A fenced block of music: its kind (a version, `READINGS`, `FINGERING`, `OSSIA`), the line of its fence,
    its lines with their numbers."""

    kind: Version | str
    line: int
    lines: tuple[tuple[int, str], ...]


@dataclass(frozen=True, slots=True)
class SourcePage:
    """A source file in its parts. `front` is YAML; its first line is line 2 of the file."""

    front: str
    blocks: tuple[Block, ...]
    intro: str
    words: Mapping[str, str]
    headings: Mapping[str, Span]


@dataclass(slots=True)
class _Words:
    """Gathers commentary: what stands before the first heading, and under each heading."""

    faults: Faults
    key: str | None = None
    level: int = 0
    gathered: dict[str | None, list[str]] = field(default_factory=lambda: {None: []})
    places: dict[str, Span] = field(default_factory=dict)

    def heading(self, line: int, level: int, title: str) -> bool:
        """Begin a section, unless the heading only divides the step that is open."""
        key = named(title)
        inside = self.key is not None and _is_step(self.key) and level > self.level
        if not key or (inside and not _is_step(key)):
            return False
        if key in self.gathered:
            self.faults.add(line, 1, f"a second heading {shorten(title)}", "one heading of each name")
        self.gathered.setdefault(key, [])
        self.places.setdefault(key, Span(line, 1))
        self.key, self.level = key, level
        return True

    def text(self, line: str) -> None:
        self.gathered[self.key].append(line)

    def done(self) -> dict[str | None, str]:
        return {key: trimmed(lines) for key, lines in self.gathered.items()}


def named(title: str) -> str:
    """What a heading names: a step by the name that pages have, in small letters.

    >>> named("Tenore"), named("KADENZ-2"), named("L’intero"), named("A  tale")
    ('tenor', 'cadence-2', 'whole', 'a tale')
    """
    key = " ".join(title.lower().split())
    name, dash, count = key.rpartition("-")
    if dash and count.isdecimal():
        return f"{_step(name)}-{count}"
    return _step(key)


def _step(name: str) -> str:
    """The step that a heading names, however its apostrophe was typed; else the heading."""
    return HEADINGS.get(name.replace("’", "'"), name)


def _is_step(key: str) -> bool:
    return re.sub(r"-\d+$", "", key) in STEPS


def trimmed(lines: Sequence[str]) -> str:
    """Lines as one text, without empty lines at its ends."""
    return re.sub(r"\A([ \t]*\n)+", "", "\n".join(lines)).rstrip()


def lines_of(text: str) -> list[str]:
    """The lines of a text, whatever ends them, without a byte order mark.

    >>> lines_of("\\ufeffone\\r\\ntwo\\rthree\\n")
    ['one', 'two', 'three', '']
    """
    return text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n").split("\n")


def front_matter(lines: Sequence[str]) -> int | None:
    """How many lines the front matter takes with both its rules; None when there is none that is
    closed.

    >>> front_matter(["---", "title: A", "---", "words"])
    3
    """
    if not lines or lines[0].rstrip(" \t") != "---":
        return None
    for n, line in enumerate(lines[1:], 2):
        if line.rstrip(" \t") in ("---", "..."):
            return n
    return None


def take_apart(lines: Sequence[str], faults: Faults) -> SourcePage | None:
    """The parts of a file; None (and one error) when its front matter cannot be found."""
    count = front_matter(lines)
    if count is None:
        if lines and lines[0].rstrip() == "---":
            faults.add(1, 1, "front matter that is never closed", "a second line of --- under it")
        else:
            faults.add(1, 1, "no front matter", "a first line of ---, then title and verset, then ---")
        return None
    blocks: list[Block] = []
    words = _Words(faults)
    at = count
    while at < len(lines):
        fence = _FENCE.match(lines[at])
        at = _fenced(lines, at, fence, faults, blocks, words) if fence else _prose(lines, at, words)
    said = words.done()
    intro = said.pop(None)
    return SourcePage(
        "\n".join(lines[1 : count - 1]),
        tuple(blocks),
        intro,
        {k: v for k, v in said.items() if k},
        words.places,
    )


def _prose(lines: Sequence[str], at: int, words: _Words) -> int:
    """Read one line of words, or a heading; give the line to go on with."""
    line = lines[at]
    hashes = _HEADING.match(line)
    if hashes and words.heading(at + 1, len(hashes[1]), hashes[2] or ""):
        return at + 1
    under = _UNDERLINE.match(lines[at + 1]) if at + 1 < len(lines) else None
    first = at == 0 or not lines[at - 1].strip()
    if (
        under
        and first
        and re.match(r" {0,3}[^\s#>*+-]", line)
        and words.heading(at + 1, 1 if under[1][0] == "=" else 2, line.strip())
    ):
        return at + 2
    words.text(line)
    return at + 1


def _fenced(
    lines: Sequence[str],
    at: int,
    fence: re.Match[str],
    faults: Faults,
    blocks: list[Block],
    words: _Words,
) -> int:
    """Read one fenced block: music, or code that belongs to the words."""
    kind = _kind(fence, at + 1, faults)
    end = _closing(lines, at, fence[1], music=bool(kind))
    if kind is None:
        if end is None:
            faults.add(at + 1, 1, "a fence that is never closed", f"a line of {fence[1]} after the block")
            end = len(lines) - 1
        for line in lines[at : end + 1]:
            words.text(line)
        return end + 1
    if end is None:
        faults.add(
            at + 1, 1, f"a block `{kind}` that is never closed", f"a line of {fence[1]} after its music"
        )
        end = at + 1
        while end < len(lines) and lines[end].strip() and not _ends_music(lines[end]):
            end += 1
    after = end + 1 if end < len(lines) and _closes(lines[end], fence[1]) else end
    numbered = tuple((n + 1, lines[n]) for n in range(at + 1, end))
    blocks.append(Block(kind, at + 1, numbered))
    words.text("")
    return after


def _kind(fence: re.Match[str], line: int, faults: Faults) -> Version | str | None:
    """The kind of music a fence opens; None for ordinary code."""
    info = fence[2].rstrip()
    first = info.split()[0] if info else ""
    column = fence.start(2) + 1
    if first in FENCES:
        if info != first:
            faults.add(line, column, f"the fence {shorten(info)}", f"`{first}` and nothing after it")
        return _block_kind(first)
    close = get_close_matches(info.lower(), FENCES, 1, 0.8)
    if close:
        faults.add(
            line,
            column,
            f"a block {shorten(info)}",
            _OTHERS.format(close[0]),
        )
        return _block_kind(close[0])
    return None


def _block_kind(name: str) -> Version | str:
    return Version(name) if name in VERSIONS else name


def _closes(line: str, mark: str) -> bool:
    bare = line.strip()
    return len(line) - len(line.lstrip(" ")) < 4 and bare.startswith(mark) and not bare.strip(mark[0])


def _ends_music(line: str) -> bool:
    """A heading, or a fence that opens something else: no music goes on beyond it."""
    return bool(_HEADING.match(line) or _FENCE.match(line))


def _closing(lines: Sequence[str], at: int, mark: str, *, music: bool) -> int | None:
    for n in range(at + 1, len(lines)):
        if _closes(lines[n], mark):
            return n
        if music and _ends_music(lines[n]):
            return None
    return None
