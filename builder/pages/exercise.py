"""What a page needs for the reader to put in the missing voices: the sonorities of its stretch, what each
may hold, and the tool's own notes for comparison. The verdicts that no verset changes come from
`counterpoint.rules.page_tables`."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from html import escape
from itertools import product
from typing import Any, Protocol

from builder.analysis import Analysis
from builder.counterpoint.check.judges import note_rules
from builder.counterpoint.check.pairs import pair_rules
from builder.counterpoint.figured_bass.events import Event, events
from builder.counterpoint.figured_bass.sonority import leading_letter
from builder.engraving.given import line_and_beside
from builder.engraving.hands import hands
from builder.language.texts import Texts
from builder.music import KEYBOARD, VOICES, Pitch, Score, Version, bar_at, clipped
from builder.music.temperament import Tuning
from builder.pages.assets import own_uris
from builder.pages.facts import where
from builder.pages.gracing import Graces
from builder.setting.setting import Setting
from builder.sound import TempoMap
from builder.source import Verset

_ALTERS = (-1, 0, 1)


class Framed(Protocol):
    """What a sonority of an exercise is told from: a whole setting, or a verset that nobody has set."""

    @property
    def verset(self) -> Verset: ...
    @property
    def analysis(self) -> Analysis: ...
    @property
    def tempo(self) -> TempoMap: ...


_KEYBOARD = Pitch.parse("C2").diatonic, Pitch.parse("C6").diatonic + 1


def exercise(
    setting: Setting, start: Fraction, end: Fraction, words: Texts, graces: Graces, *, root: str = ""
) -> str:
    """HTML of the exercise of a stretch (quarter notes); empty where nothing is to be put in. `graces`: what
    the verset's plain notes may become; `root`: the way from the page to the root of the site."""
    data = exercise_data(setting, start, end, words)
    if data is None:
        return ""
    title = escape(words("try.title"))
    scripts = "".join(f'<script src="{root}{uri}" defer></script>' for uri in own_uris(words.language))
    text = _inline(data)
    offered = _inline(graces.of(start, end) if Version.DIMINISHED in setting.scores else [])
    return (
        f'<section class="verset-try" lang="{words.language}" aria-label="{title}" hidden>'
        f'<script type="application/json" class="verset-exercise">{text}</script>'
        f'<script type="application/json" class="verset-gracing">{offered}</script>'
        f"{scripts}</section>"
    )


def _inline(data: Any) -> str:
    """JSON that may stand inside a script element."""
    return json.dumps(data, ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c")


def exercise_data(setting: Setting, start: Fraction, end: Fraction, words: Texts) -> dict[str, Any] | None:
    """The exercise as plain data; None where no voice stands above the line. `key` in it names the
    reader's work in the browser's store and in files."""
    verset = setting.verset
    cut = parted(verset, setting.analysis, start, end)
    voices = [v for v in VOICES if any(v in e.upper for e in cut)]
    asked = {v: [v in e.upper and not _stands(verset, v, e) for e in cut] for v in voices}
    if not any(map(any, asked.values())):
        return None
    bars = clipped(verset.bars, start, end)
    known = {s.onset: dict(s.voices) for s in setting.realisation.sonorities}
    given = {e.voice for e in cut}
    upper = _upper(setting)
    return {
        "key": exercise_key(verset, start, end),
        "title": verset.title,
        "metre": [verset.metre.count, verset.metre.unit],
        "symbol": verset.metre.symbol,
        "fifths": verset.signature.fifths,
        "signature": [verset.signature.alter(step) for step in range(7)],
        "voices": voices,
        "order": [v for v in VOICES if v in given or v in voices],
        "closed": cut[-1].end == verset.end,
        "bars": [[b.number, float(b.onset), float(b.length), upper[b.number]] for b in bars],
        "events": [sonority(setting, e, cut[n - 1] if n else None, words) for n, e in enumerate(cut)],
        "line": given_notes(setting.scores[Version.GIVEN], setting.tempo, start, end, setting.verset),
        "ours": {
            v: [_pitch(known.get(e.onset, {}).get(v)) if v in e.upper else None for e in cut] for v in voices
        },
        "stands": {v: [not each for each in row] for v, row in asked.items()}
        if verset.settings.exercise
        else {},
        "compass": {v: [p.diatonic for p in KEYBOARD[v]] for v in voices},
        "hertz": frequencies(setting.verset, voices, [e.bass for e in cut]),
        "notes": {v: rules_on_notes(setting.verset, v) for v in voices},
        "pairs": rules_on_pairs(setting.verset),
    }


def _stands(verset: Verset, voice: str, event: Event) -> bool:
    """Whether a note of ours stands in the exercise, since the source asks for others alone."""
    bar, asked = bar_at(verset.bars, event.onset).number, verset.settings.exercise
    return bool(asked) and not any(blank.covers(voice, bar) for blank in asked)


def parted(verset: Verset, analysis: Analysis, start: Fraction, end: Fraction) -> list[Event]:
    """The sonorities of a stretch (quarter notes) that a reader fills, in time."""
    whole = _merged(events(verset, analysis, tuning=verset.settings.tuned))
    return [replace(e, duration=min(e.end, end) - e.onset) for e in whole if start <= e.onset < end]


def exercise_key(verset: Verset, start: Fraction, end: Fraction) -> str:
    """What names the reader's work on a stretch, in the browser's store and in files: the verset, and the
    first and last bar, with how much of each is missing."""
    bars = clipped(verset.bars, start, end)
    past = max(verset.metre.bar - bars[-1].skipped - bars[-1].length, Fraction(0))
    return f"{verset.name}-{_mark(bars[0].number, bars[0].skipped)}-{_mark(bars[-1].number, past)}"


def _mark(bar: int, missing: Fraction) -> str:
    """A bar's number, with how much of it is missing."""
    return f"{bar}.{missing}".replace("/", "_") if missing else f"{bar}"


def _merged(cut: Sequence[Event]) -> list[Event]:
    """A sonority that is held while the line passes lasts through the passing notes."""
    found: list[Event] = []
    for event in cut:
        if event.hold and found and found[-1].end == event.onset:
            found[-1] = replace(found[-1], duration=found[-1].duration + event.duration)
        else:
            found.append(event)
    return found


def _pitch(pitch: Pitch | None) -> list[int] | None:
    return [pitch.diatonic, pitch.alter] if pitch else None


def sonority(setting: Framed, event: Event, before: Event | None, words: Texts) -> dict[str, Any]:
    """A sonority of an exercise as plain data, with the one before it."""
    verset = setting.verset
    bar = bar_at(verset.bars, event.onset).number
    stays = before is not None and before.voice == event.voice and not event.struck
    return {
        "at": float(event.onset),
        "length": float(event.duration),
        "start": round(setting.tempo.seconds(event.onset), 4),
        "end": round(setting.tempo.seconds(event.end), 4),
        "bar": bar,
        "where": where(verset.place(event.onset), words),
        "voice": event.voice,
        "bass": _pitch(event.bass),
        "figure": [str(s) for s in event.figure.signs] if event.figure else [],
        "figured": event.figure is not None,
        "upper": list(event.upper),
        "joined": event.joined and before is not None,
        "stays": stays,
        "weight": event.weight,
        "free": event.opening or event.closing or before is None or before.upper != event.upper,
        "allowed": [x.rule for x in verset.licences if x.holds(bar)],
        "variants": variants(event),
        **_divided(setting, event),
        **_owed(setting, event),
    }


def variants(event: Event) -> list[dict[str, Any]]:
    """How the figure of a sonority may be read, as plain data."""
    return [
        {
            "members": [[m.number, m.alter, int(m.role)] for m in variant.members],
            "must": list(variant.must(len(event.upper))),
        }
        for variant in event.variants
    ]


def second_half(event: Event) -> Fraction | None:
    """After how many quarter notes a second note may come in; None where the value is too short."""
    length = event.duration
    half = length * 2 / 3 if length.numerator % 3 == 0 else length / 2
    return half if half >= Fraction(1, 2) else None


def _divided(setting: Framed, event: Event) -> dict[str, Any]:
    """Where a second note may come in: after half of the sonority, or two thirds where its value has a
    dot; when that is in seconds; and what the line has there. Nothing where the value is too short."""
    half = second_half(event)
    if half is None:
        return {}
    at = event.onset + half
    given = setting.verset.given_at(at)
    late = given.note.pitch if given is not None and given.voice == event.voice else None
    return {
        "half": float(half),
        "middle": round(setting.tempo.seconds(at), 4),
        "late": _pitch(late or event.bass),
    }


def _owed(setting: Framed, event: Event) -> dict[str, Any]:
    """What the cadences ask of an event, as classes of notes (staff step within the octave, alteration):
    `raise` those that must be raised here, `rise` those before it that must rise a semitone into it,
    `minor` those that make a minor third at the close. `doppia`: in a double cadence."""
    analysis, verset = setting.analysis, setting.verset
    found: dict[str, Any] = {}
    for cadence in analysis.cadences:
        if cadence.kind == "doppia" and cadence.start <= event.onset < cadence.onset:
            found["doppia"] = True
        if cadence.kind not in ("semplice", "composta", "doppia"):
            continue
        final, step = Pitch.parse(f"{cadence.degree}4"), leading_letter(cadence.degree)
        if event.onset == cadence.onset:
            found["rise"] = [
                f"{step},{a}" for a in _ALTERS if (final.midi - Pitch(28 + step, a).midi) % 12 == 1
            ]
        elif event.end == cadence.onset and (_before(verset, cadence.onset) - final.diatonic) % 7 in (1, 4):
            tuning = verset.settings.tuned
            found["raise"] = [
                f"{step},{a}" for a in _ALTERS if _must_rise(Pitch(28 + step, a), final, tuning)
            ]
    if event.end == verset.end:
        thirds = (Pitch(event.bass.diatonic + 2, a) for a in _ALTERS)
        found["minor"] = [f"{p.step},{p.alter}" for p in thirds if (p.midi - event.bass.midi) % 12 == 3]
    return found


def _before(verset: Verset, onset: Fraction) -> int:
    """Staff step of the given line just before a time."""
    return next(
        (g.note.pitch.diatonic for g in reversed(verset.given) if g.note.onset < onset and g.note.pitch), 0
    )


def _must_rise(pitch: Pitch, final: Pitch, tuning: Tuning) -> bool:
    """Whether a leading note is too low; one that the tuning cannot raise keeps its natural note."""
    upward = (final.midi - pitch.midi) % 12
    raised = Pitch(pitch.diatonic, pitch.alter + upward - 1)
    return upward != 1 and not (upward == 2 and not tuning.has(raised))


def rules_on_notes(verset: Verset, voice: str) -> dict[str, list[str]]:
    """By each pitch of the keyboard that meets them: the rules on one note, for a voice."""
    tuning = verset.settings.tuned
    keys = (Pitch(step, a) for step in range(*_KEYBOARD) for a in _ALTERS)
    found = {f"{p.diatonic},{p.alter}": [r.id for r in note_rules(tuning, voice, p)] for p in keys}
    return {key: rules for key, rules in found.items() if rules}


def rules_on_pairs(verset: Verset) -> dict[str, list[str]]:
    """By two notes (lower, higher, each as a class) that meet them: the rules on what the signature and the
    tuning make of them."""
    tuning = verset.settings.tuned
    raised = [max(0, verset.signature.alter(step)) for step in range(7)]
    low = [Pitch(28 + step, a) for step in range(7) for a in _ALTERS]
    found = {}
    for a, b in product(low, (Pitch(p.diatonic + 7, p.alter) for p in low)):
        rules = pair_rules(
            raised=a.step == b.step and a.alter == b.alter > raised[a.step],
            wolf=not tuning.enharmonic and tuning.wolf(a, b, spelled=True),
        )
        if rules:
            found[f"{a.step},{a.alter},{b.step},{b.alter}"] = [r.id for r in rules]
    return found


def _upper(setting: Setting) -> dict[int, list[str]]:
    """The voices on the upper stave of each bar, as the plain setting is printed."""
    score = setting.scores[Version.PLAIN]
    return {bar: [p.voice for p in score.parts[:count]] for bar, count in hands(score).items()}


def given_notes(
    score: Score, tempo: TempoMap, start: Fraction, end: Fraction, verset: Verset
) -> list[dict[str, Any]]:
    """The notes of a stretch (quarter notes) of a verset's given line, notated."""
    score, seconds = score.excerpt(start, end), tempo.seconds
    line = {n.id for n in line_and_beside(verset, score)[0]}
    return [
        {
            "id": n.id,
            "voice": part.voice,
            "at": float(n.onset),
            "length": float(n.duration),
            "start": round(seconds(n.onset), 4),
            "end": round(seconds(n.end), 4),
            "pitch": _pitch(n.pitch),
            "tied": n.tied,
            "editorial": n.editorial,
        }
        for part in score.parts
        for n in part.notes
        if n.id in line
    ]


def frequencies(verset: Verset, voices: Sequence[str], basses: Sequence[Pitch]) -> dict[str, float]:
    """Frequency of every note the tuning has, over the compass of the voices and the line."""
    settings = verset.settings
    tuning = settings.tuned
    low = min(min(KEYBOARD[v][0].diatonic for v in voices), min(b.diatonic for b in basses))
    high = max(max(KEYBOARD[v][1].diatonic for v in voices), max(b.diatonic for b in basses))
    pitches = [Pitch(step, alter) for step in range(low, high + 1) for alter in _ALTERS]
    return {
        f"{p.diatonic},{p.alter}": round(tuning.frequency(p, settings.pitch or 440.0), 3)
        for p in pitches
        if tuning.has(p)
    }
