"""What a page needs for the reader to break a plain note: the patterns of the tables that fit each note of
the voices above the line, written out, and what the rules say of each."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import cached_property
from itertools import groupby, zip_longest
from typing import Any

from builder.counterpoint import Finding
from builder.counterpoint.check.judge import Broken, Judge
from builder.diminution import Pattern
from builder.diminution.ficta import Speller
from builder.diminution.texture import Stem, Texture, lay_out
from builder.language.texts import Texts
from builder.music import Note, Part, Version, spelled
from builder.pages.facts import where
from builder.pages.keeping import grace
from builder.pages.told import note_name
from builder.setting.setting import Setting

PATTERNS = 9
"""Most patterns offered for one note: a choice of all densities and figures that can be taken in at once."""


class Graces:
    """The plain notes of a verset that a pattern fits, each with its patterns, the notes they become, and the
    rules these break that the plain note keeps. All are judged together, when the first are asked for.
    """

    def __init__(self, setting: Setting, words: Texts) -> None:
        self.setting, self.words = setting, words

    def of(self, start: Fraction, end: Fraction) -> list[dict[str, Any]]:
        """Those of a stretch (quarter notes), in time, highest voice first."""
        return [told for onset, told in self._all if start <= onset < end]

    @cached_property
    def _all(self) -> list[tuple[Fraction, dict[str, Any]]]:
        texture = lay_out(self.setting.realisation.score)
        places = _Places(self.setting, texture, self.words)
        stems = [s for row in texture.stems for s in row if _is_free(self.setting, texture, s)]
        stems.sort(key=lambda s: (s.start, s.voice))
        offers = [(stem, *offer) for stem in stems for offer in places.offers(stem)]
        found = places.met([(stem, notes) for stem, _, notes in offers])
        told = [(offer[0], places.offer(*offer, new)) for offer, new in zip(offers, found)]
        return [
            (stem.note.onset, places.note(stem, [each for _, each in some]))
            for stem, some in groupby(told, lambda x: x[0])
        ]


def _is_free(setting: Setting, texture: Texture, stem: Stem) -> bool:
    """Whether a note stands above the given line and goes on to another."""
    given = setting.verset.given_at(stem.note.onset)
    own = given is not None and given.voice == texture.voices[stem.voice]
    return stem.after is not None and not own


def fitting(stem: Stem, table: Sequence[Pattern]) -> tuple[Pattern, ...]:
    """The patterns for a note's value and the way to the next one: from the sparest to the busiest in turn,
    the figures of each density in the order of the tables."""
    assert stem.after is not None
    way = stem.after.diatonic - stem.pitch.diatonic
    fit = [p for p in table if p.value == stem.note.duration and p.interval in (None, way)]
    fit.sort(key=lambda p: p.density)
    rows = [list(group) for _, group in groupby(fit, key=lambda p: p.density)]
    turns = [p for row in zip_longest(*(_spread(row) for row in rows)) for p in row if p]
    return tuple(sorted(turns[:PATTERNS], key=lambda p: (p.density, p.id)))


def _spread(row: Sequence[Pattern]) -> list[Pattern]:
    """Patterns of different figures before more of the same."""
    by_figure = [list(g) for _, g in groupby(sorted(row, key=lambda p: p.figure), key=lambda p: p.figure)]
    return [p for each in zip_longest(*by_figure) for p in each if p]


class _Places:
    """A verset's plain score, asked for one note after another."""

    def __init__(self, setting: Setting, texture: Texture, words: Texts) -> None:
        self.setting, self.texture, self.words = setting, texture, words
        # The figures that the verset pins are ours; here the reader breaks the plain setting.
        pins = tuple(pin for pin in setting.verset.pins if pin.version == Version.PLAIN)
        self.verset = replace(setting.verset, pins=pins)
        self.tuning = setting.verset.settings.tuned
        self.judge = Judge(self.verset, setting.analysis, tuning=self.tuning)
        score = setting.realisation.score
        self.plain = {_key(f) for f in _met(self.judge.check(score).findings)}
        parts = tuple(Part(p.voice, p.sounding()) for p in score.parts)
        self.score = replace(score, version=Version.DIMINISHED, parts=parts)
        self.table = setting.tables

    def note(self, stem: Stem, patterns: list[dict[str, Any]]) -> dict[str, Any]:
        note, seconds = stem.note, self.setting.tempo.seconds
        assert note.pitch is not None and stem.after is not None
        return {
            "voice": self.texture.voices[stem.voice],
            "where": where(self.setting.verset.place(note.onset), self.words),
            "start": round(seconds(note.onset), 4),
            "end": round(seconds(note.end), 4),
            "length": float(note.duration),
            "pitch": [note.pitch.diatonic, note.pitch.alter],
            "next": [stem.after.diatonic, stem.after.alter],
            "patterns": patterns,
        }

    def offers(self, stem: Stem) -> Iterator[tuple[Pattern, tuple[Note, ...]]]:
        """The patterns that can be written for a note, with their notes."""
        speller = Speller(self.texture, stem.voice)
        speller.at(stem)
        for pattern in fitting(stem, self.table):
            notes = self.written(pattern, stem, speller)
            if notes:
                yield pattern, notes

    def met(self, offers: Sequence[tuple[Stem, tuple[Note, ...]]]) -> Iterator[list[Finding]]:
        """What the rules hold against each offer and not against the plain note."""
        changes = [Broken(self.texture.voices[s.voice], s.note.onset, s.note.end, ns) for s, ns in offers]
        for found in self.judge.each(self.score, changes):
            yield [f for f in _met(found) if _key(f) not in self.plain]

    def written(self, pattern: Pattern, stem: Stem, speller: Speller) -> tuple[Note, ...]:
        """The pattern as notes; none where the other voices leave no spelling, or the tuning has no key."""
        assert stem.after is not None
        onsets = [stem.note.onset + sum(pattern.lengths[:k], Fraction(0)) for k in range(len(pattern.steps))]
        ticks = tuple(self.texture.tick(t) for t in onsets)
        dias = (*(stem.pitch.diatonic + step for step in pattern.steps), stem.after.diatonic)
        line = speller.line(ticks, dias)
        if line is None:
            return ()
        pitches = [spelled(dia, key) for dia, key in zip(dias[:-1], line[0])]
        if not all(self.tuning.has(p) for p in pitches):
            return ()
        return tuple(Note(*each) for each in zip(onsets, pattern.lengths, pitches))

    def offer(
        self, stem: Stem, pattern: Pattern, notes: tuple[Note, ...], new: Iterable[Finding]
    ) -> dict[str, Any]:
        seconds, pitch = self.setting.tempo.seconds, self.setting.verset.settings.pitch or 440.0
        voice = self.texture.voices[stem.voice]
        return {
            "figure": pattern.figure,
            "source": self.words.cited(pattern.source),
            "notes": [
                [
                    round(seconds(n.onset), 4),
                    float(n.duration),
                    n.pitch.diatonic,
                    n.pitch.alter,
                    round(self.tuning.frequency(n.pitch, pitch), 3),
                ]
                for n in notes
                if n.pitch
            ],
            "pin": grace(self.setting, voice, notes),
            "names": " ".join(note_name(n, self.words) for n in notes),
            "met": list(dict.fromkeys(_told(f, {n.onset for n in notes[1:]}) for f in new)),
        }


def _met(findings: Iterable[Finding]) -> Iterator[Finding]:
    """What the rules hold against a score."""
    return (f for f in findings if f.severity != "note" and not f.allowed)


_UNTREATED = ("suspension-unprepared", "suspension-unresolved")


def _told(finding: Finding, struck: Collection[Fraction]) -> tuple[str, str]:
    """Rule and severity. The check calls an untreated clash after the voice that holds; where a note of the
    figure is what strikes, it is this that clashes."""
    rule = "dissonance" if finding.rule in _UNTREATED and finding.onset in struck else finding.rule
    return rule, finding.severity


def _key(finding: Finding) -> tuple[str, Fraction, tuple[str, ...]]:
    return finding.rule, finding.onset, finding.voices
