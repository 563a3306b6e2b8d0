"""Real counterpoint through the check: Palestrina and Bach from music21's corpus, against music21's own
predicates (`music21.voiceLeading`, a reference library).

The default run takes a share of the movements; VERSET_MANY=1 takes all two- to five-voice movements of
Palestrina and a hundred chorales, and prints the table of rates kept in content/rules-rates.md.
"""

import os
from collections import Counter
from itertools import combinations, pairwise

import pytest

music21 = pytest.importorskip("music21")

from builder.counterpoint import RULES, check  # noqa: E402
from builder.counterpoint.check.musicxml import UnreadableScore, from_music21  # noqa: E402
from builder.counterpoint.rules.slices import Grid  # noqa: E402

MANY = bool(os.environ.get("VERSET_MANY"))
STATED_SHARE = 0.01
"""No rule of severity error may be met by more than one in a hundred successions of Palestrina."""


def chorales():
    paths = list(music21.corpus.chorales.Iterator(1, 100, returnType="filename"))
    return paths if MANY else paths[::12]


def palestrina():
    paths = music21.corpus.getComposer("palestrina")
    return paths if MANY else paths[::90]


def read(path):
    stream = music21.corpus.parse(path)
    return stream, from_music21(stream, str(path))


def reference(score):
    """Parallels found by music21's predicates: wherever two voices both strike a new note."""
    from music21.note import Note
    from music21.voiceLeading import VoiceLeadingQuartet

    fifths, octaves = Counter(), Counter()
    parts = [(p.voice, p.sounding()) for p in score.parts]
    for (_, upper), (_, lower) in combinations(parts, 2):
        ends = {n.end: n for n in lower}
        starts = {n.onset: n for n in lower}
        for before, after in pairwise(upper):
            under, over = ends.get(after.onset), starts.get(after.onset)
            if before.end != after.onset or under is None or over is None:
                continue
            four = [Note(n.pitch.name.replace("b", "-")) for n in (before, after, under, over)]
            quartet = VoiceLeadingQuartet(*four)
            if quartet.noMotion():
                continue
            fifths[after.onset] += quartet.parallelFifth()
            octaves[after.onset] += quartet.parallelOctave() or quartet.parallelUnison()
    return +fifths, +octaves


def ours(score):
    fifths, octaves = Counter(), Counter()
    for finding in check(score, keyboard=False):
        if finding.rule in ("parallel-fifths", "contrary-fifths"):
            fifths[finding.onset] += 1
        if finding.rule in ("parallel-octaves", "contrary-octaves", "parallel-unisons"):
            octaves[finding.onset] += 1
    return fifths, octaves


def into_or_out_of_unison(score):
    """Octave to unison or back by similar motion: a parallel for us (one octave, then the other size of
    it), none for music21, which asks for the same size of interval."""
    found = Counter()
    for finding in check(score, keyboard=False):
        if finding.rule == "parallel-octaves":
            words = finding.message.split(" go from ")[1].rstrip(".").split(" to ")
            pairs = [w.split("–") for w in words]
            if sum(len(set(p)) == 1 for p in pairs) == 1:
                found[finding.onset] += 1
    return found


def judged(paths):
    rates, successions, movements = Counter(), 0, 0
    for path in paths:
        try:
            _, score = read(path)
        except UnreadableScore:
            continue
        movements += 1
        assert_same_parallels(score, path)
        successions += len(Grid.of(score).ticks) - 1
        for finding in check(score, keyboard=False):
            rates[finding.rule, finding.severity] += 1
    return rates, successions, movements


def assert_same_parallels(score, path):
    fifths, octaves = ours(score)
    their_fifths, their_octaves = reference(score)
    assert fifths == their_fifths, path
    assert octaves - into_or_out_of_unison(score) == their_octaves, path


def table(rates, successions):
    for (rule, severity), count in sorted(rates.items(), key=lambda x: -x[1]):
        print(f"| {rule} | {severity} | {count} | {1000 * count / successions:.2f} |")


def test_parallels_in_bach_are_those_that_music21_finds():
    rates, successions, movements = judged(chorales())
    print(f"\nBach: {movements} chorales, {successions} successions")
    table(rates, successions)
    assert movements >= (90 if MANY else 7)
    assert sum(rates[r, "error"] for r in ("parallel-fifths",)) < 0.005 * successions


def test_palestrina_keeps_our_rules():
    rates, successions, movements = judged(palestrina())
    print(f"\nPalestrina: {movements} movements, {successions} successions")
    table(rates, successions)
    assert movements >= (600 if MANY else 8)
    for rule in RULES:
        assert rates[rule, "error"] <= STATED_SHARE * successions, rule
