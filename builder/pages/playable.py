"""The versets of a course by name, as a service may play them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from builder.edition.service.suggest import Playable
from builder.pages.lesson import Lesson
from builder.setting.reading import read_verset
from builder.setting.setting import Defaults, as_played
from builder.source import Verset


@dataclass(frozen=True, slots=True)
class _Known:
    verset: Verset
    tone: int


class Versets(Mapping[str, Playable]):
    """The versets of a course by name, as a service may play them; each is read when it is asked for."""

    def __init__(
        self, lessons: Mapping[str, Lesson], source: Callable[[str], Path], defaults: Defaults
    ) -> None:
        self._lessons = {lesson.name: lesson for lesson in lessons.values()}
        self._source, self._defaults = source, defaults

    def __getitem__(self, name: str) -> Playable:
        lesson = self._lessons[name]
        read = read_verset(self._source(lesson.uri), dict(self._defaults.tunings))
        return _Known(as_played(read, self._defaults), lesson.tone)

    def __iter__(self) -> Iterator[str]:
        return iter(self._lessons)

    def __len__(self) -> int:
        return len(self._lessons)
