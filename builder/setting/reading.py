"""Sources read and their names checked: tunings, ranks, rules and costs that a source may name are known
only to the rooms after `source`."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from difflib import get_close_matches
from pathlib import Path

from builder.counterpoint import RULES
from builder.counterpoint.search.costs import COSTS
from builder.language.texts import languages
from builder.music import VOICES, read_tuning
from builder.setting.transpose import as_first_set, read_interval, transpose
from builder.sound import Stops
from builder.source import SourceError, SourceErrors, Verset, page_front, read, read_all
from builder.source.errors import UNPRINTED, listing, shorten
from builder.source.page import lines_of
from builder.source.pictures import beside, size
from builder.source.provenance import Facsimile
from builder.source.span import Span
from builder.source.verset import Licence


def read_verset(path: str | Path, own: Mapping[str, str] | None = None) -> Verset:
    """Read a source and check every name in it; `SourceErrors` with all that is wrong. `own`: a course's
    own tunings by name.

    >>> from tempfile import TemporaryDirectory
    >>> from builder.source import EXAMPLE
    >>> with TemporaryDirectory() as folder:
    ...     path = Path(folder) / "two.md"
    ...     _ = path.write_text(EXAMPLE.replace("metre: C", "metre: C\\n  tuning: unheard-of"))
    ...     try:
    ...         read_verset(path)
    ...     except SourceErrors as refused:
    ...         print([(error.line, error.found) for error in refused.errors])
    [(5, "tuning 'unheard-of'")]
    """
    verset = read(path)
    errors = tuple(_unknown_names(verset, Path(path), own or {}))
    if errors:
        raise SourceErrors(errors)
    return verset


def read_versets(
    paths: Iterable[Path], own: Mapping[str, str] | None = None
) -> tuple[tuple[Verset, ...], tuple[SourceError, ...]]:
    """Read many sources: those that are good, and the errors of those that are not."""
    return read_all(paths, lambda path: read_verset(path, own))


def course_licences(asked: Iterable[object]) -> tuple[Licence, ...]:
    """The licences that a course gives to all its versets, each {rule: …, because: …} and, if not all are
    meant, voices; `ValueError` for what is none.

    >>> course_licences([{"rule": "suspension-unprepared", "because": "sevenths are struck"}])[0].holds(9)
    True
    """
    found = []
    for item in asked:
        if not isinstance(item, dict) or not {"rule", "because"} <= {*item} <= {"rule", "because", "voices"}:
            raise ValueError(f"allow: {item!r}; {{rule: …, because: …}} may stand there, and voices")
        if item["rule"] not in RULES:
            raise ValueError(f"allow: rule {item['rule']!r}; one of {_near(str(item['rule']), RULES)}")
        named = item.get("voices", [])
        voices = [named] if isinstance(named, str) else named
        if not isinstance(voices, list) or not {*map(str, voices)} <= {*VOICES}:
            raise ValueError(f"allow: voices: {named!r}; {listing(VOICES)} may stand there")
        if not isinstance(item["because"], str) or UNPRINTED.search(item["because"]):
            raise ValueError(f"allow: because: {item['because']!r}; a text may stand there")
        sung = tuple(v for v in VOICES if v in voices)
        found.append(Licence(item["rule"], 0, item["because"], sung, of_course=True))
    return tuple(found)


def _unknown_names(verset: Verset, path: Path, own: Mapping[str, str]) -> Iterator[SourceError]:
    text = path.read_text("utf-8", errors="replace") if path.suffix == ".md" else ""
    lines = lines_of(text)
    settings = verset.settings

    def error(word: str, found: str, expected: str, line: int = 0, column: int = 0) -> SourceError:
        if not line:
            line, column = _position(lines, word)
        text = lines[line - 1] if 0 < line <= len(lines) else ""
        return SourceError(str(path), line, column, found, expected, text)

    language = page_front(text, str(path)).get("language", "en")
    if not isinstance(language, str) or language not in languages():
        yield error("language", f"language {language!r}", listing(languages()))
    if settings.tuning:
        try:
            read_tuning(settings.tuning, own)
        except ValueError as problem:
            yield error("tuning", f"tuning {settings.tuning!r}", _expected(problem))
    if settings.registration:
        try:
            stops = Stops.read(settings.registration)
            for word, near in stops.misspelt:
                yield error("registration", f"the stop {word!r}", near)
        except ValueError as problem:
            yield error("registration", f"registration {settings.registration!r}", _expected(problem))
    if settings.move:
        try:
            transpose(verset, read_interval(settings.move))
        except ValueError as problem:
            yield error("move", f"move {settings.move!r}", f"a pitch that can be written: {problem}")
    if settings.moved:
        try:
            as_first_set(verset)
        except ValueError as problem:
            yield error("moved", f"move {settings.moved!r}", f"a pitch that can be written: {problem}")
    for name in settings.costs:
        if name not in COSTS:
            yield error(name, f"cost {name!r}", f"one of {_near(name, COSTS)}")
    for _, picture in verset.provenance.facsimiles:
        for span, found, expected in _unseen(picture, path):
            yield error("", found, expected, span.line, span.column)
    for playing in verset.playing:
        for name in filter(None, (playing.file, playing.sound)):
            if not beside(path, name).is_file():
                at = playing.span
                yield error(
                    name, f"no file {shorten(name)}", "a recording beside the source", at.line, at.column
                )
    for licence in verset.licences:
        if licence.rule not in RULES:
            span, expected = licence.span, f"one of {_near(licence.rule, RULES)}"
            yield error(licence.rule, f"rule {licence.rule!r}", expected, span.line, span.column)


def _unseen(picture: Facsimile, source: Path) -> Iterator[tuple[Span, str, str]]:
    """What hinders a picture from being shown: it is not there, is none, or a zone lies outside it."""
    try:
        found = size(beside(source, picture.file).read_bytes())
    except OSError:
        yield picture.span, f"no file {shorten(picture.file)}", "a picture beside the source"
        return
    if found is None:
        yield picture.span, f"no picture in {shorten(picture.file)}", "a picture in PNG or JPEG"
        return
    for zone in picture.zones:
        left, top, width, height = zone.box
        if left + width > found[0] or top + height > found[1]:
            inside = f"a box inside the picture, which has {found[0]} by {found[1]} pixels"
            yield zone.span, "a zone outside its picture", inside


def _position(lines: list[str], word: str) -> tuple[int, int]:
    """Where the front matter has a key."""
    for n, line in enumerate(lines, 1):
        if match := re.search(rf"(?<![\w-]){re.escape(word)}\s*:", line):
            return n, match.start() + 1
        if n > 1 and line.rstrip() == "---":
            break
    return 1, 1


def _expected(problem: ValueError) -> str:
    """What a reader says there could stand, without its first half, which repeats what was found."""
    return str(problem).partition("; ")[2] or str(problem)


def _near(name: str, known: Mapping[str, object]) -> str:
    """The nearest names, or all."""
    return ", ".join(get_close_matches(name, known, n=3) or known)
