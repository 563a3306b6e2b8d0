"""Random figured lines set by us, judged by an independent judge written on music21.

The judge knows nothing of our rules: it uses music21's intervals and `voiceLeading` predicates on the
finished notes. VERSET_MANY=1 takes two thousand lines.
"""

import importlib.util
import os
from itertools import combinations, pairwise
from pathlib import Path

import pytest

music21 = pytest.importorskip("music21")

from builder.analysis import analyse  # noqa: E402
from builder.counterpoint import realise  # noqa: E402
from builder.source import parse  # noqa: E402

_path = Path(__file__).parents[1] / "counterpoint" / "random_lines.py"
_spec = importlib.util.spec_from_file_location("random_lines", _path)
random_lines = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(random_lines)

COUNT = 2000 if os.environ.get("VERSET_MANY") else 100
START = 0


def m21(pitch):
    return music21.note.Note(pitch.name.replace("b", "-"))


def interval(low, high):
    return music21.interval.Interval(m21(low), m21(high))


def judge(realisation, verset, analysis):
    """Hard faults, in words: parallels, forbidden leaps, harsh strong beats, the given line."""
    faults = []
    parts = {p.voice: p.sounding() for p in realisation.score.parts}
    for (_, upper), (_, lower) in combinations(parts.items(), 2):
        faults += parallels(upper, lower)
    for voice, notes in parts.items():
        own = {g.note.onset for g in verset.given if g.voice == voice}
        for a, b in pairwise(notes):
            if a.end == b.onset and not (a.onset in own and b.onset in own) and bad_leap(a.pitch, b.pitch):
                faults.append(f"{voice} leaps {a.pitch}–{b.pitch} at {b.onset}")
    faults += unsounded(parts, verset, analysis)
    faults += untreated(parts)
    return faults


def parallels(upper, lower):
    from music21.voiceLeading import VoiceLeadingQuartet

    ends, starts = {n.end: n for n in lower}, {n.onset: n for n in lower}
    for a, b in pairwise(upper):
        c, d = ends.get(b.onset), starts.get(b.onset)
        if a.end != b.onset or c is None or d is None or (a.pitch, c.pitch) == (b.pitch, d.pitch):
            continue
        four = VoiceLeadingQuartet(m21(a.pitch), m21(b.pitch), m21(c.pitch), m21(d.pitch))
        similar = four.similarMotion()
        if similar and (four.parallelFifth() or four.parallelOctave() or four.parallelUnison()):
            yield f"parallels {c.pitch}–{a.pitch} {d.pitch}–{b.pitch} at {b.onset}"


def bad_leap(a, b):
    found = interval(a, b)
    generic = found.generic.undirected
    augmented = found.specifier == music21.interval.Specifier.AUGMENTED and generic > 1
    return generic == 7 or generic > 8 or augmented or found.name in ("M6", "A6")


def unsounded(parts, verset, analysis):
    """Figures written in the source that nobody sounds: read by music21's own figured bass notation."""
    for given in verset.given:
        for figure in given.figures:
            above = verset.above(figure.onset)
            if not above or figure.dash:
                continue
            end = figure.onset + figure.duration
            steps = {
                (n.pitch.diatonic - given.note.pitch.diatonic) % 7
                for v in above
                for n in parts[v]
                if n.onset < end and n.end > figure.onset
            }
            wanted = [(s.number - 1) % 7 for s in figure.signs]
            if not set(wanted) <= steps and len(above) >= len(wanted):
                yield f"figure {figure} at {figure.onset} not sounded"


def untreated(parts):
    """On every onset each voice against the lowest: a dissonance must move by step out of it, or the
    lowest must."""
    onsets = sorted({n.onset for notes in parts.values() for n in notes})
    for onset in onsets:
        sounding = {v: n for v, notes in parts.items() for n in notes if n.onset <= onset < n.end}
        if len(sounding) < 2:
            continue
        low = min(sounding.values(), key=lambda n: n.pitch.midi)
        for voice, note in sounding.items():
            if note is low or interval(low.pitch, note.pitch).isConsonant():
                continue
            if not (leaves_by_step(parts[voice], note) or leaves_by_step(part_of(parts, low), low)):
                yield f"{voice} {note.pitch} over {low.pitch} at {onset} is left by leap"


def part_of(parts, note):
    return next(notes for notes in parts.values() if note in notes)


def leaves_by_step(notes, note):
    after = next((n for n in notes if n.onset == note.end), None)
    return after is not None and abs(after.pitch.diatonic - note.pitch.diatonic) <= 1


def test_random_lines_are_set_without_a_hard_fault_or_refused_with_place_and_rule():
    refused, faulty = 0, []
    for seed in range(START, START + COUNT):
        verset = parse(random_lines.random_source(seed), path=f"line {seed}")
        analysis = analyse(verset)
        found = realise(verset, analysis)
        refusals = [f for f in found.findings if f.rule == "no-way"]
        for finding in refusals:
            assert (
                finding.place.bar and finding.mend and "tried" in finding.message
            ) or "voicing" in finding.message
        if refusals:
            refused += 1
            continue
        assert not [f for f in found.findings if f.severity == "error" and not f.allowed], seed
        if faults := judge(found, verset, analysis):
            faulty.append((seed, faults))
    print(f"\n{COUNT} lines, {refused} refused, {len(faulty)} faulty")
    assert not faulty
    assert refused < COUNT / 3


def test_the_judge_can_fail():
    """A judge that finds nothing anywhere proves nothing: parallels put in by hand are found."""
    from builder.counterpoint.example import example

    score = example("cantus A4/2 B4/2\ntenor D4/2 E4/2")
    upper, lower = (p.sounding() for p in score.parts)
    assert list(parallels(upper, lower))
    assert bad_leap(*(n.pitch for n in example("cantus F4/2 B4/2").parts[0].notes))
    assert list(untreated({"cantus": example("cantus C5/2 G4/2").parts[0].notes, "bassus": lower[:1]}))
