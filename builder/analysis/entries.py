"""Theme and entries: who comes in when."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from builder.analysis.answers import answer, first_entry, free_entry
from builder.analysis.findings import Entry, Theme
from builder.analysis.imitation import Match, imitate
from builder.analysis.line import Run, Sung, pinned_runs, stretches
from builder.language.texts import Texts
from builder.source import Verset

RESTATED = 5
"""Notes a theme must have to be heard as coming again in the midst of a voice's line."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A place where an entry may stand: the notes of a voice from there on, and how they imitate the
    first voice (None: they do not)."""

    notes: Run
    match: Match | None

    @property
    def first(self) -> Sung:
        """The first note of the entry, behind those that link to it."""
        return self.notes[self.match.links if self.match else 0]

    @property
    def last(self) -> Sung:
        """The last note that imitates; of a free entry the first."""
        return self.notes[self.match.added + self.match.count - 1] if self.match else self.notes[0]


def theme_and_entries(
    verset: Verset, notes: Sequence[Sung], say: Texts, final: str
) -> tuple[Theme, tuple[Entry, ...]]:
    """The theme and every entry in order, judged by the letter of the final. At least one note must sound.

    A voice enters where the line changes to it. A voice that has entered before enters again only
    with the theme: after another voice, after a rest, restated note for note, or where its notes above
    the line are pinned.
    """
    pins = pinned_runs(verset, notes)
    runs = [_continued(run, pins) for run in stretches(tuple(notes))]
    above = [run for run in pins if not any(run[0] in given for given in runs)]
    theme, answered = _theme(runs, above)
    found = [*_taking(runs, theme, answered)]
    if answered:
        found += _again(runs, theme, found, begins=False)
        found += _again(above, theme, found, begins=True)
    found.sort(key=lambda c: (c.first.onset, -c.first.pitch.midi))
    entries = [first_entry(verset, theme, answered, say)]
    for n, candidate in enumerate(found):
        if candidate.match is None:
            entries.append(free_entry(verset, theme, candidate.notes, say))
        else:
            remarks = _stretto(candidate, [Candidate(theme, _whole(theme)), *found[:n]], theme, say)
            entries.append(answer(verset, theme, candidate.notes, candidate.match, remarks, final, say))
    length = theme[-1].end - theme[0].onset
    return Theme(len(theme), length, tuple(n.pitch for n in theme)), tuple(entries)


def _continued(run: Run, pins: Sequence[Run]) -> Run:
    """A stretch of the line with the pinned notes that go on from it in its voice."""
    for pin in pins:
        if pin[0].voice == run[0].voice and pin[0].onset == run[-1].end:
            return (*run, *pin)
    return run


def _theme(runs: Sequence[Run], above: Sequence[Run]) -> tuple[Run, bool]:
    """The theme, and whether any voice imitates it; else the first phrase."""
    first = runs[0]
    matches = [m for run in (*runs[1:], *above) if (m := imitate(first, run))]
    if not matches:
        return _phrase(first), False
    return first[: max(m.skipped + m.count for m in matches)], True


def _phrase(run: Run) -> Run:
    """The notes up to the first rest."""
    for n, note in enumerate(run):
        if note.before_rest:
            return run[: n + 1]
    return run


def _taking(runs: Sequence[Run], theme: Run, answered: bool) -> Iterator[Candidate]:
    """Where a voice takes the line: with the theme, or for the first time."""
    heard = {theme[0].voice}
    for run in runs[1:]:
        match = imitate(runs[0], run) or imitate(theme, run) if answered else None
        if match or run[0].voice not in heard:
            yield Candidate(run, match)
        heard.add(run[0].voice)


def _again(runs: Sequence[Run], theme: Run, known: Sequence[Candidate], *, begins: bool) -> list[Candidate]:
    """The whole theme restated inside the notes of a voice; where they begin (`begins`) it may be an
    answer of any kind."""
    found: list[Candidate] = []
    taken = [(theme[0].voice, theme[0].onset, theme[-1].end)]
    taken += [(c.first.voice, c.first.onset, c.last.end) for c in known if c.match]
    for run in runs:
        for n in range(0 if begins else 1, len(run)):
            note = run[n]
            fresh = note.after_rest or n == 0
            if any(v == note.voice and start <= note.onset < end for v, start, end in taken):
                continue
            if len(theme) < RESTATED and not fresh:
                continue
            match = imitate(theme, run[n:], strict=not fresh)
            whole = match is not None and match.count == len(theme) and not match.added
            if match and (whole or n == 0):
                new = Candidate(run[n:], match)
                found.append(new)
                taken.append((note.voice, new.first.onset, new.last.end))
    return found


def _whole(theme: Run) -> Match:
    """The theme as its own imitation."""
    return Match(len(theme), Fraction(1), 0, 0, (0,) * len(theme))


def _stretto(candidate: Candidate, before: Sequence[Candidate], theme: Run, say: Texts) -> tuple[str, ...]:
    """Evidence that an entry comes before another voice has reached the end of the theme."""
    span = theme[-1].onset - theme[0].onset
    for earlier in reversed(before):
        if earlier.match is None or earlier.first.voice == candidate.first.voice:
            continue
        ends = earlier.first.onset + span * earlier.match.scale
        if earlier.first.onset < candidate.first.onset < ends:
            return (say("entry.stretto", voice=say(f"voice.{earlier.first.voice}")),)
    return ()
