"""Figures from real music: the basses of Bach chorales (music21's corpus) with the figures that their own
sonorities imply, set by us and judged by music21's predicates. VERSET_MANY=1 takes fifty chorales.
"""

import os
from fractions import Fraction
from itertools import combinations, pairwise

import pytest

music21 = pytest.importorskip("music21")

from builder.analysis import analyse  # noqa: E402
from builder.counterpoint import realise  # noqa: E402
from builder.counterpoint.check.musicxml import UnreadableScore, from_music21  # noqa: E402
from builder.music import Bar, Clef, Figure, FigureSign, Metre, Note  # noqa: E402
from builder.source import GivenNote, Verset  # noqa: E402

COUNT = 50 if os.environ.get("VERSET_MANY") else 8
CLEFS = {"cantus": "C1", "altus": "C3", "tenor": "C4", "bassus": "F4"}
BEAT = Fraction(1)


def chorales():
    found = 0
    for path in music21.corpus.chorales.Iterator(1, 120, returnType="filename"):
        try:
            score = from_music21(music21.corpus.parse(path), path)
        except UnreadableScore:
            continue
        if len(score.parts) == 4 and score.metre.bar == 4 and found < COUNT:
            found += 1
            yield path, score


def figured_bass(path, score):
    """A verset whose bass is the chorale's, on the beats, with the figures of the chorale's sonorities.
    The four voices enter one after another in three bars of their own before it."""
    metre = Metre.parse("C")
    parts = {p.voice: p.sounding() for p in score.parts}
    start = Fraction(12)
    given = []
    for n, voice in enumerate(("cantus", "altus", "tenor")):
        pitch = parts[voice][0].pitch
        given.append(GivenNote(Note(4 * n * BEAT, 4 * BEAT, pitch), voice, Clef.parse(CLEFS[voice])))
    for note, signs in sonorities(parts, score.signature):
        onset = note.onset + start
        figures = (Figure(onset, note.duration, signs),) if signs else ()
        moved = Note(onset, note.duration, note.pitch)
        given.append(GivenNote(moved, "bassus", Clef.parse("F4"), figures))
    end = given[-1].note.end
    bars = tuple(Bar(n + 1, 4 * n * BEAT, 4 * BEAT) for n in range(int(-(-end // 4))))
    return Verset("chorale", str(path), "chorale", metre, score.signature, bars, tuple(given))


def sonorities(parts, signature):
    """Bass notes of a beat or more with the triad or sixth that the chorale has over them; shorter notes
    are given to the note before when they pass. Suspensions over one bass note are figured as 4 or 7."""
    found = []
    for note in parts["bassus"]:
        if note.onset.denominator > 1 or note.duration < BEAT:
            if found:
                last = found[-1][0]
                found[-1] = (Note(last.onset, note.end - last.onset, last.pitch), found[-1][1])
            continue
        if found and found[-1][0].end < note.onset:
            last = found[-1][0]
            found[-1] = (Note(last.onset, note.onset - last.onset, last.pitch), found[-1][1])
        found.append((note, signs_over(parts, note, signature)))
    return found


def signs_over(parts, note, signature):
    """`6` or nothing, with the accidental of the third where the signature does not give it."""
    above = [n.pitch for v in ("cantus", "altus", "tenor") for n in parts[v] if n.onset <= note.onset < n.end]
    numbers = {(p.diatonic - note.pitch.diatonic) % 7 + 1: p for p in above}
    signs = []
    if 6 in numbers and 5 not in numbers:
        signs.append(FigureSign(6, sign(numbers[6], signature)))
    third = numbers.get(3)
    if third is not None and sign(third, signature):
        signs.append(FigureSign(3, sign(third, signature), lone=True))
    return tuple(signs)


def sign(pitch, signature):
    natural = signature.alter(pitch.step)
    if pitch.alter == natural:
        return ""
    return "n" if pitch.alter == 0 else "#" if pitch.alter > natural else "b"


def faults(realisation):
    from music21.voiceLeading import VoiceLeadingQuartet

    parts = {p.voice: p.sounding() for p in realisation.score.parts}
    for (high, upper), (low, lower) in combinations(parts.items(), 2):
        ends, starts = {n.end: n for n in lower}, {n.onset: n for n in lower}
        for a, b in pairwise(upper):
            c, d = ends.get(b.onset), starts.get(b.onset)
            if a.end != b.onset or c is None or d is None:
                continue
            four = [music21.note.Note(n.pitch.name.replace("b", "-")) for n in (a, b, c, d)]
            quartet = VoiceLeadingQuartet(*four)
            if quartet.similarMotion() and (
                quartet.parallelFifth() or quartet.parallelOctave() or quartet.parallelUnison()
            ):
                yield f"{high}/{low} at {b.onset}: {a.pitch}-{b.pitch} over {c.pitch}-{d.pitch}"


def test_figures_from_chorales_are_set_without_parallels_and_all_sound():
    refused, total, events = [], 0, 0
    for path, score in chorales():
        verset = figured_bass(path, score)
        found = realise(verset, analyse(verset))
        total += 1
        events += len(found.sonorities)
        # Where the rules had to give way the report says so, and nothing else may be wrong there.
        given_way = {f.onset for f in found.findings if f.rule == "no-way"}
        refused += [f"{path}: {f.place}: {f.message}" for f in found.findings if f.rule == "no-way"]
        if not given_way:
            assert not list(faults(found)), path
            assert not [f for f in found.findings if f.rule == "figure-not-sounded"], path
    print(f"\n{total} chorales, {events} sonorities, {len(refused)} places refused")
    print("\n".join(refused))
    assert total == COUNT
    assert len(refused) <= total / 5
