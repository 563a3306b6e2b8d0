"""What a build tells of itself: how far it is while it works, and at its end what it made, in what time."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator, Mapping
from os.path import splitext
from pathlib import Path
from typing import TextIO

from builder.language.texts import ENGLISH, texts
from builder.pages.course import Course
from builder.pages.walking import below

_KINDS = {
    "pages": (".html",),
    "recordings": (".mp3", ".flac"),
    "prints": (".pdf",),
    "encodings": (".mei", ".musicxml", ".mid", ".brf"),
}


class Progress:
    """Tells how far a build is, on a terminal only: elsewhere nobody waits and a log would fill."""

    def __init__(self, out: TextIO | None = None, language: str = ENGLISH) -> None:
        self.out = sys.stderr if out is None else out
        self.say = texts("building", language)
        self.started = self.turned = time.monotonic()
        self.stages: dict[str, float] = {}
        self._width = 0

    def tell(self, done: int, count: int, name: str) -> None:
        """So many of so many are done, the last of this name."""
        if not self.out.isatty():
            return
        spent = time.monotonic() - self.started
        key = "going" if done < count else "gone"
        left = spoken(spent / done * (count - done))
        text = self.say(key, done=done, count=count, left=left, name=name)[:100]
        self.out.write(f"\r{text.ljust(self._width)}")
        self._width = len(text)
        if done == count:
            self.out.write("\n")
            self._width = 0
        self.out.flush()

    def stage(self, name: str) -> None:
        """A stage of the build ends here."""
        now = time.monotonic()
        self.stages[name] = now - self.turned
        self.turned = now

    def summary(self, course: Course, pages: int, site: Path) -> Iterator[str]:
        """What was made, as lines for the log."""
        kept = len(course.keys) - course.made
        counts = {
            "versets": len(course.lessons),
            "pages": pages,
            "errors": len(course.errors),
            "warnings": len(course.warnings),
        }
        yield self.say("made", **counts, made=course.made, kept=kept)
        stages = ", ".join(f"{self.say(name)} {spoken(seconds)}" for name, seconds in self.stages.items())
        weights = weighed(site)
        kinds = ", ".join(f"{self.say(kind)} {size / 1e6:.1f}" for kind, size in weights.items() if size)
        yield f"{spoken(sum(self.stages.values()))}: {stages}; {sum(weights.values()) / 1e6:.1f} MB: {kinds}"


def weighed(site: Path) -> Mapping[str, int]:
    """Bytes of a site by kind of file."""
    found = dict.fromkeys((*_KINDS, "else"), 0)
    kind_of = {ending: kind for kind, endings in _KINDS.items() for ending in endings}
    for name, _, seen in below(site):
        found[kind_of.get(splitext(name)[1], "else")] += seen.st_size
    return found


def spoken(seconds: float) -> str:
    """A time in words.

    >>> spoken(0.31), spoken(42), spoken(130), spoken(4000)
    ('0.3 s', '42 s', '2 min', '67 min')
    """
    if seconds >= 100:
        return f"{seconds / 60:.0f} min"
    return f"{seconds:.0f} s" if seconds >= 10 else f"{seconds:.1f} s"
