"""A verset taken through the house: analysed, set in voices, diminished, notated, reported."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Protocol

from builder.analysis import Analysis, analyse
from builder.counterpoint import Finding, Phrase, Realisation, lost, realise, reasons_lost, said
from builder.diminution import Diminution, Pattern, diminutions, kept_levels, levels_again, patterns
from builder.language.texts import EditionTexts, edition_texts
from builder.music import Score, Version, bar_at, notated
from builder.setting.report import Json, report, told_once
from builder.setting.source_warnings import fingers_warnings, source_warnings
from builder.setting.text_warnings import text_warnings
from builder.setting.transpose import as_first_set, check_pitch, moved
from builder.sound.instrument import instrument
from builder.sound.performance import NON_LEGATO, Articulation, Performance, perform
from builder.sound.recorded import RecordedPipes
from builder.sound.registration import Registration, Stops
from builder.sound.tempo import PLAYED, Breathing, TempoMap, tempo_map
from builder.sound.warnings import tuning_warnings
from builder.source import Verset, write
from builder.source.provenance import NOTHING_SAID, Provenance, filled
from builder.source.verset import Licence

LEVELS = (1, 2, 3)
"""Densities of diminution: in voices, diminished, full."""


@dataclass(frozen=True, slots=True)
class Defaults:
    """What a course chooses for versets that do not choose for themselves. `pitch` is the frequency
    of A4 in hertz, `level` that of diminution from 1 to 3."""

    tuning: str = "quarter-comma"
    pitch: float = 440.0
    registration: str = ""
    level: int = 2
    density: float = 1.0
    """Small notes at levels 2 and 3, as a share of the usual number."""
    tunings: tuple[tuple[str, str], ...] = ()
    """The course's own tunings: a name, and what it stands for (a known tuning, or twelve cents)."""
    patterns: tuple[Pattern, ...] = ()
    """The course's own patterns of diminution, beside the house's tables."""
    breathing: Breathing = PLAYED
    """How time bends at entries and cadences."""
    articulation: Articulation = NON_LEGATO
    """How notes are parted."""
    licences: tuple[Licence, ...] = ()
    """Rules that the course allows throughout, beside what its sources allow."""
    small: bool = True
    """Whether notes that are not the source's are printed small."""
    pipes: RecordedPipes | None = None
    """The course's own recorded pipes, which sound instead of ours."""
    provenance: Provenance = NOTHING_SAID
    """What the course says of the sources and edition of versets that do not say it themselves."""


@dataclass(frozen=True, slots=True)
class Setting:
    """Everything known of one verset. `diminutions` by level; `diminution` is the one at the level that
    is asked for. `scores` are notated and keyed by version, in reading order: `given`, `plain`, and the
    diminutions from the first level to the last: `diminished` at the level asked for, the others
    `diminished-1` …"""

    verset: Verset
    analysis: Analysis
    realisation: Realisation
    diminution: Diminution
    diminutions: Mapping[int, Diminution]
    scores: dict[Version, Score]
    tempo: TempoMap
    articulation: Articulation
    registration: Registration
    advised: bool
    """Whether the registration is advised by the tone, since nothing asks for one."""
    original: Verset | None = None
    """The verset at its written pitch, when its source asks for another one."""
    tables: tuple[Pattern, ...] = ()
    """The patterns of diminution it was graced from."""
    small: bool = True
    """Whether notes that are not the source's are printed small."""
    pipes: RecordedPipes | None = None
    """The recorded pipes it sounds on."""
    otherwise: tuple[int, ...] = ()
    """The bars that a moved verset has set otherwise than at its written pitch, in the plain setting."""
    forced: tuple[Phrase, ...] = ()
    """What forces that."""

    @property
    def findings(self) -> tuple[tuple[Version, Finding], ...]:
        """Every finding with the version it was met in; what the plain version already has is
        not repeated for the diminished one."""
        return tuple(told_once((), self.realisation.findings, self.diminution.findings))

    def warnings(self, language: str = "en") -> tuple[str, ...]:
        """What a musician should look at beyond the rules, told in a language: what the pitch makes hard,
        what the tuning does not have, which characters print and braille do not have, and what in the source
        reaches nothing; before it, in the language of the analysis, a tone that the music contradicts."""
        tuning = self.verset.settings.tuned
        sounding = [score for version, score in self.scores.items() if version != Version.GIVEN]
        asked = dict.fromkeys(phrase for score in sounding for phrase in tuning_warnings(score, tuning))
        hard = (
            Phrase.of("hard", place=f.place, what=f.detail, mend=f.ways[0])
            for f in self.pitch
            if f.rule != "untuned-note"
        )
        told = tuple(said(phrase, language) for phrase in (*hard, *asked))
        w = edition_texts(language)
        small = {bar for made in self.diminutions.values() for bar in made.otherwise} - {*self.otherwise}
        for key, bars in (("moved-otherwise", self.otherwise), ("moved-diminished", sorted(small))):
            if bars:
                why = "; ".join(said(phrase, language) for phrase in self.forced)
                told = (*told, w(f"source.{key}", bars=w.listing([str(bar) for bar in bars]), why=why))
        if self.other_stops:
            text, ranks = self.verset.settings.registration, w.listing(self.registration.names)
            told = (*told, w("source.other-stops", text=text, ranks=ranks))
        met = (f for d in self.diminutions.values() for f in (*self.realisation.findings, *d.findings))
        source = source_warnings(self.verset, self.analysis, met, language)
        fingers = fingers_warnings(self.verset, self.scores, language)
        return (*self.analysis.warnings, *source, *fingers, *told, *text_warnings(self.verset, language))

    def registration_told(self, w: EditionTexts) -> str:
        """The ranks that are drawn, in words, and why where they are advised."""
        drawn = self.registration
        if self.other_stops:
            return self.verset.settings.registration
        # A name that stands for many ranks is shorter than their list.
        ranks = w.listing(drawn.names) if len(drawn.names) < 7 else drawn.title
        return (
            w("practice.reason", ranks=ranks, mood=w(f"mood.{self.analysis.tone}")) if self.advised else ranks
        )

    @property
    def other_stops(self) -> tuple[str, ...]:
        """Words of the registration that name no rank of this organ: they are for the player alone."""
        return Stops.read(self.verset.settings.registration).others

    @property
    def recorded(self) -> str:
        """Who recorded the pipes that sound and under which licence, where some are recorded."""
        pipes = self.pipes
        return pipes.told() if pipes and any(map(pipes.has, self.registration.names)) else ""

    @property
    def pitch(self) -> tuple[Finding, ...]:
        """What another pitch than the written one makes hard for the line: compass, tuning, signature."""
        return check_pitch(self.verset, tuning=self.verset.settings.tuned) if self.original else ()

    def performance(self, version: Version) -> Performance:
        """A version as it is played: the same notes and times in audio, MIDI and page."""
        own = self.verset.settings
        return perform(
            self.scores[version],
            self.tempo,
            own.tuning,
            a4=own.pitch or 440.0,
            articulation=self.articulation,
        )

    @property
    def tone(self) -> int:
        """The tone as judged, 1 to 8."""
        return self.analysis.tone

    @property
    def errors(self) -> tuple[Finding, ...]:
        """Findings that stop a strict build: errors without a licence."""
        return tuple(f for _, f in self.findings if is_error(f))

    def report(self, language: str = "en") -> Json:
        """What `report.json` says of the verset; findings and warnings in a language."""
        found = report(
            self.verset,
            self.analysis,
            self.realisation,
            self.diminution,
            findings=self.pitch,
            language=language,
        )
        return found | {"warnings": list(self.warnings(language))}


def is_error(finding: Finding) -> bool:
    """Whether a finding stops a strict build: an error for which the source has no licence.

    >>> from fractions import Fraction
    >>> from builder.source import EXAMPLE, parse
    >>> place = parse(EXAMPLE).place(Fraction(8))
    >>> found = Finding("parallel-fifths", "error", Fraction(8), place, ("cantus", "altus"), "fifths")
    >>> is_error(found), is_error(replace(found, severity="warning"))
    (True, False)
    >>> is_error(replace(found, reason="the copy has them"))
    False
    """
    return finding.severity == "error" and not finding.allowed


def set_otherwise(verset: Verset, plain: Realisation) -> tuple[tuple[int, ...], tuple[Phrase, ...]]:
    """The bars of a moved verset whose plain setting is not that of the written pitch moved with it, and what
    forces that."""
    written = verset.unmoved
    if written is None:
        return (), ()
    before = realise(written, analyse(written), tuning=verset.settings.tuned)
    higher = verset.moved_by.semitones
    bars: set[int] = set()
    for part in plain.score.parts:
        now = {(n.onset, n.duration, n.pitch.midi) for n in part.sounding() if n.pitch}
        then = {
            (n.onset, n.duration, n.pitch.midi + higher)
            for n in before.score.part(part.voice).sounding()
            if n.pitch
        }
        bars |= {bar_at(verset.bars, onset).number for onset, *_ in now ^ then}
    return tuple(sorted(bars)), reasons_lost(lost(verset, before, plain)) if bars else ()


def with_defaults(verset: Verset, defaults: Defaults) -> Verset:
    """The verset with the course's choices where its source makes none.

    >>> from builder.source import EXAMPLE, parse
    >>> with_defaults(parse(EXAMPLE), Defaults(tuning="pythagorean")).settings.tuning
    'pythagorean'
    """
    own = verset.settings
    tuning = own.tuning or defaults.tuning
    return replace(
        verset,
        licences=(*verset.licences, *defaults.licences),
        provenance=filled(verset.provenance, defaults.provenance),
        settings=replace(
            own,
            tuning=dict(defaults.tunings).get(tuning, tuning),
            pitch=own.pitch or defaults.pitch,
            registration=own.registration or defaults.registration,
            level=own.level or defaults.level,
            density=own.density or defaults.density,
        ),
    )


def as_played(verset: Verset, defaults: Defaults) -> Verset:
    """The verset with the course's choices, at the pitch it asks for.

    >>> from builder.source import EXAMPLE, parse
    >>> lower = EXAMPLE.replace("metre: C", "metre: C\\n  move: a tone lower")
    >>> str(as_played(parse(lower), Defaults()).given[0].note.pitch)
    'C5'
    """
    verset = with_defaults(verset, defaults)
    return moved(verset) if verset.settings.move else as_first_set(verset)


class Keeper(Protocol):
    """Keeps what it takes seconds to find of a verset, by a text of all that it depends on."""

    def get(self, music: str) -> Json | None:
        """What was kept, if anything was."""
        ...

    def keep(self, music: str, found: Json) -> None: ...


def set_verset(
    verset: Verset, defaults: Defaults | None = None, *, language: str = "en", keeper: Keeper | None = None
) -> Setting:
    """Take a verset through analysis, realisation and diminution, at the pitch it asks for. `language`:
    of the evidence in words. `keeper`: has the diminutions of music that was set before.

    >>> from builder.source import EXAMPLE, parse
    >>> found = set_verset(parse(EXAMPLE))
    >>> [str(version) for version in found.scores]
    ['given', 'plain', 'diminished-1', 'diminished', 'diminished-3']
    """
    defaults = defaults or Defaults()
    written = with_defaults(verset, defaults)
    original = written if written.settings.move else None
    verset = as_played(verset, defaults)
    own = verset.settings
    analysis = analyse(verset, language=language)
    realisation = realise(verset, analysis, tuning=own.tuned)
    tables = (*patterns(), *defaults.patterns)
    music = music_of(written, defaults) if keeper else ""
    made = _levels(verset, analysis, realisation, tables, keeper, music)
    asked = own.level or defaults.level
    scores = {Version.GIVEN: notated(verset.score()), Version.PLAIN: notated(realisation.score)}
    for level, diminution in made.items():
        version = Version.DIMINISHED if level == asked else Version(f"{Version.DIMINISHED}-{level}")
        scores[version] = notated(replace(diminution.score, version=version))
    organ = instrument(verset, analysis)
    return Setting(
        verset,
        analysis,
        realisation,
        made[asked],
        made,
        scores,
        tempo_map(verset, analysis, defaults.breathing),
        defaults.articulation,
        organ.registration,
        not own.registration,
        original,
        tables,
        defaults.small,
        defaults.pipes,
        *set_otherwise(verset, realisation),
    )


def music_of(verset: Verset, defaults: Defaults) -> str:
    """A text of all that the diminutions of a verset depend on; none where its music has no written form.
    `verset`: with the course's choices, at its written pitch.

    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> other = replace(verset, title="Another", words={"altus": "Listen."}, intro="Slowly.")
    >>> music_of(verset, Defaults()) == music_of(other, Defaults())
    True
    >>> seeded = replace(verset, settings=replace(verset.settings, seed=2))
    >>> music_of(verset, Defaults()) == music_of(seeded, Defaults())
    False
    """
    bare = replace(
        verset,
        title="",
        intro="",
        words={},
        readings=(),
        variants=(),
        fingers=(),
        ossias=(),
        playing=(),
        provenance=NOTHING_SAID,
        settings=replace(verset.settings, registration="", pitch=None, level=None, exercise=()),
    )
    try:
        text = write(bare)
    except ValueError:
        return ""
    of_course = [licence for licence in verset.licences if licence.of_course]
    return "\n".join((verset.name, text, repr(of_course), repr(defaults.patterns)))


def _levels(
    verset: Verset,
    analysis: Analysis,
    realisation: Realisation,
    tables: Sequence[Pattern],
    keeper: Keeper | None,
    music: str,
) -> dict[int, Diminution]:
    """The diminutions of a verset, out of what was kept of this music where that can be."""
    seed, tuning = verset.settings.seed, verset.settings.tuned
    if keeper and music and (found := keeper.get(music)):
        with suppress(ValueError):
            made = levels_again(found, verset, analysis, realisation, seed=seed, tables=tables, tuning=tuning)
            if len(made) == len(LEVELS):
                return made
    made = diminutions(verset, analysis, realisation, seed=seed, tables=tables, tuning=tuning)
    if keeper and music:
        keeper.keep(music, kept_levels(made))
    return made
