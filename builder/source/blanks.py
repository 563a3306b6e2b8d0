"""Bars of a voice that are left to the student."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from builder.music import VOICES
from builder.source.span import NOWHERE, Span

ALL = 1_000_000
"""A bar beyond all."""


@dataclass(frozen=True, slots=True)
class Blank:
    """Bars of a voice to be left blank, both ends with them; all bars where none are named."""

    voice: str
    first: int = 1
    last: int = ALL
    span: Span = field(default=NOWHERE, compare=False, repr=False)

    @property
    def bar(self) -> int:
        """The last bar that it names."""
        return self.first if self.last == ALL else self.last

    @classmethod
    def parse(cls, text: str) -> Blank:
        """Read `altus`, `altus 5` or `altus 5-8`; `ValueError` where it is neither.

        >>> Blank.parse("tenor 3-6")
        Blank(voice='tenor', first=3, last=6)
        """
        match = re.fullmatch(rf"({'|'.join(VOICES)})(?:\s+(\d{{1,4}})(?:\s*-\s*(\d{{1,4}}))?)?", text.strip())
        if not match or (match[3] and int(match[3]) < int(match[2])):
            raise ValueError(text)
        if not match[2]:
            return cls(match[1])
        return cls(match[1], int(match[2]), int(match[3] or match[2]))

    def covers(self, voice: str, bar: int) -> bool:
        """Whether a bar of a voice is blank.

        >>> Blank("tenor", 3, 6).covers("tenor", 6), Blank("tenor", 3, 6).covers("altus", 6)
        (True, False)
        """
        return voice == self.voice and self.first <= bar <= self.last

    def __str__(self) -> str:
        if self.last == ALL:
            return self.voice
        return f"{self.voice} {self.first}" + (f"-{self.last}" if self.last > self.first else "")
