"""What a source says of recordings of one's own playing: the file, what is played, and by whom."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import PurePosixPath

from builder.music import Version
from builder.source.errors import Faults, listing, nearest, shorten
from builder.source.items import Item
from builder.source.span import NOWHERE, Span

PLAYED = ("given", "plain", "diminished", "improvisation")
"""What may be played: a version of the verset, or one's own improvisation on it."""
SOUND = (".mp3", ".flac", ".ogg", ".wav")
"""Endings of files whose sound can be read."""
PICTURE = (".mp4", ".webm")
"""Endings of pictures with sound, which need a file of their sound beside them."""
EXPECTED = "a list of recordings, each {file: …, of: …}, with by: …, title: … and points: … where wanted"
_LONGEST = 4 * 3600.0


@dataclass(frozen=True, slots=True)
class Point:
    """What sounds at a moment of a recording, as the teacher heard it: bar and beat, and seconds."""

    bar: int
    beat: float
    at: float
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Playing:
    """A recording of one's own playing. `file` and `sound` stand beside the source; `sound` is empty where
    the file itself can be read.

    >>> Playing("evening.mp4", "improvisation", sound="evening.mp3").heard
    'evening.mp3'
    """

    file: str
    of: str
    by: str = ""
    title: str = ""
    sound: str = ""
    points: tuple[Point, ...] = ()
    span: Span = field(default=NOWHERE, compare=False)

    @property
    def heard(self) -> str:
        """The file whose sound is read."""
        return self.sound or self.file

    @property
    def version(self) -> Version:
        """The version whose notes it has, or in whose bars one improvised."""
        return Version.PLAIN if self.of == "improvisation" else Version(self.of)

    @property
    def is_picture(self) -> bool:
        """Whether the file is a picture with sound."""
        return PurePosixPath(self.file).suffix.lower() in PICTURE


def read_playing(item: Item) -> tuple[Playing, ...]:
    """The recordings that the front matter names; what is wrong goes to its faults."""
    found = []
    for entry in item.items(EXPECTED):
        keys = entry.known(("file", "of", "by", "title", "sound", "points"), ("file", "of"), EXPECTED)
        if keys is None:
            continue
        texts = {key: keys[key].words() or "" for key in ("of", "by", "title") if key in keys}
        file = _file(keys["file"], (*SOUND, *PICTURE)) if "file" in keys else ""
        sound = _file(keys["sound"], SOUND) if "sound" in keys else ""
        of = texts.pop("of", "")
        if of and of not in PLAYED:
            keys["of"].wrong(listing(PLAYED) + nearest(of, PLAYED), shorten(of))
        if PurePosixPath(file).suffix.lower() in PICTURE and not sound:
            keys["file"].wrong(
                f"the sound of the picture beside it, as sound: and a file in {listing(SOUND)}"
            )
        points = tuple(_points(keys["points"])) if "points" in keys else ()
        found.append(
            Playing(file, of, **texts, sound=sound, points=points, span=keys.get("file", entry).span)
        )
    return tuple(found)


def _file(item: Item, endings: Sequence[str]) -> str:
    """A file beside the source or below; empty when it is none (and told)."""
    text = item.text("the name of a file")
    if text is None:
        return ""
    path = PurePosixPath(text)
    if re.search(r"[\\:?#%]", text) or path.is_absolute() or ".." in path.parts:
        item.wrong("a file beside the source, or in a folder beside it", shorten(text))
    elif path.suffix.lower() not in endings:
        item.wrong(f"a file in {listing(endings)}", shorten(text))
    else:
        return str(path)
    return ""


def _points(item: Item) -> Iterator[Point]:
    expected = "a list of points, each {bar: …, at: …}, with beat: … where it is not the first"
    before = -1.0
    for entry in item.items(expected):
        keys = entry.known(("bar", "beat", "at"), ("bar", "at"), expected)
        if keys is None or not {"bar", "at"} <= {*keys}:
            continue
        bar = keys["bar"].whole(1, 100_000, "the number of a bar, from 1")
        beat = keys["beat"].number(1, 100, "a beat of the bar, from 1") if "beat" in keys else 1.0
        at = keys["at"].number(0, _LONGEST, "seconds from the beginning of the recording")
        if bar is None or beat is None or at is None:
            continue
        if at <= before:
            keys["at"].wrong("points in the order in which they sound", f"{at:g} after {before:g} seconds")
        before = float(at)
        yield Point(bar, float(beat), float(at), entry.span)


def check_points(playing: Sequence[Playing], count: int, faults: Faults) -> None:
    """Points name bars that a verset of `count` bars has, in its order."""
    for each in playing:
        last = (0, 0.0)
        for point in each.points:
            found = f"a point in bar {point.bar}"
            if point.bar > count:
                faults.add(
                    point.span.line, point.span.column, found, f"a bar from 1 to {count}, which the line has"
                )
            elif (point.bar, point.beat) <= last:
                faults.add(point.span.line, point.span.column, found, "points in the order of the verset")
            last = (point.bar, point.beat)
