"""The files beside a source that it names, and the size of a picture, from its first bytes.

Sources (published): Portable Network Graphics (ISO/IEC 15948), chunk IHDR; JPEG (ISO/IEC 10918-1), frame
headers SOF0 to SOF15.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import yaml

from builder.source.items import composed
from builder.source.page import front_matter, lines_of

_PNG = b"\x89PNG\r\n\x1a\n"
_NO_FRAME = (0xC4, 0xC8, 0xCC)
_NAMED = re.compile(r"\.(?:png|jpe?g|mp3|flac|ogg|wav)|\\", re.IGNORECASE)
"""Without one of these in it, escaped or not, front matter names no file."""
_FILE = re.compile(r"[^\\:?#%]+\.(?:png|jpe?g|mp3|flac|ogg|wav)", re.IGNORECASE)


def size(data: bytes) -> tuple[int, int] | None:
    """Width and height in pixels of a PNG or JPEG; None for what is neither.

    >>> size(_PNG + b"0000IHDR" + (20).to_bytes(4, "big") + (30).to_bytes(4, "big")), size(b"GIF89a")
    ((20, 30), None)
    """
    if data[:8] == _PNG and data[12:16] == b"IHDR" and len(data) >= 24:
        return int.from_bytes(data[16:20], "big"), int.from_bytes(data[20:24], "big")
    if data[:2] != b"\xff\xd8":
        return None
    at = 2
    while at + 9 < len(data) and data[at] == 0xFF:
        kind, length = data[at + 1], int.from_bytes(data[at + 2 : at + 4], "big")
        if 0xC0 <= kind <= 0xCF and kind not in _NO_FRAME:
            height, width = (int.from_bytes(data[at + n : at + n + 2], "big") for n in (5, 7))
            return width, height
        if kind == 0xFF:
            at += 1
            continue
        at += 2 + length
    return None


def kind(data: bytes) -> str:
    """The media type of a picture, PNG or JPEG: what is neither is refused before, where its size is read.

    >>> kind(b"\\x89PNG\\r\\n\\x1a\\n"), kind(b"\\xff\\xd8\\xff\\xe0")
    ('image/png', 'image/jpeg')
    """
    return "image/png" if data[:8] == _PNG else "image/jpeg"


def files_of(text: str) -> Iterator[str]:
    """The pictures and recordings that a source names, whatever else is right or wrong with it.

    >>> source = "---\\nverset: {witnesses: [{pictures: [{file: a.png}, {file: a.txt}]}]}\\n---\\n"
    >>> list(files_of(source))
    ['a.png']
    """
    lines = lines_of(text)
    count = front_matter(lines)
    front = "\n".join(lines[1 : (count or 1) - 1])
    if not _NAMED.search(front):
        return
    try:
        node = composed(front)
    except yaml.YAMLError:
        return
    if node is not None:
        yield from _files(node)


def _files(node: yaml.Node) -> Iterator[str]:
    if isinstance(node, yaml.SequenceNode):
        for each in node.value:
            yield from _files(each)
    elif isinstance(node, yaml.MappingNode):
        for key, value in node.value:
            if (
                key.value in ("file", "sound")
                and isinstance(value, yaml.ScalarNode)
                and _FILE.fullmatch(value.value)
            ):
                yield value.value
            yield from _files(value)


def beside(source: str | Path, file: str) -> Path:
    """The path of a file that a source names, which is told from the folder of the source.

    >>> beside("versets/first.md", "leaf.png").as_posix()
    'versets/leaf.png'
    """
    return Path(source).parent / file
