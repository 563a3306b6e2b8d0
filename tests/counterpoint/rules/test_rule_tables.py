"""What the search looks up is what the rules themselves say, asked one case at a time with plain numbers."""

import importlib.util
import random
from dataclasses import replace
from itertools import combinations, pairwise, product
from pathlib import Path

import numpy as np
import pytest

from builder.analysis import analyse
from builder.counterpoint.figured_bass.events import events
from builder.counterpoint.figured_bass.sonority import Role
from builder.counterpoint.rules.context import VOICES, Intervals, Of, When
from builder.counterpoint.rules.motion import perfect
from builder.counterpoint.rules.obligations import entered, left
from builder.counterpoint.rules.page_tables import tables
from builder.counterpoint.rules.rule import ERROR, Move
from builder.counterpoint.rules.rulebook import asked
from builder.counterpoint.rules.tables import (
    MOTION_BITS,
    OBLIGATION_BITS,
    PERFECT,
    STEP_CLASS,
    across,
    bits,
    interval,
    look,
    motion_class,
    named,
    obligation_place,
    pitch_code,
)
from builder.counterpoint.search.arcs import broken
from builder.counterpoint.search.costs import Weights
from builder.counterpoint.search.lattice import build, shape_of
from builder.counterpoint.search.voicing import voicings
from builder.music import KEYBOARD, Pitch
from builder.source import parse

_spec = importlib.util.spec_from_file_location("random_lines", Path(__file__).with_name("random_lines.py"))
random_lines = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(random_lines)

LINES = range(0, 40, 4)


def line(seed):
    verset = parse(random_lines.random_source(seed))
    return events(verset, analyse(verset))


def test_each_class_of_motion_has_the_verdict_that_is_proved_for_the_page():
    found = tables()["motion"]
    ways = {0: 0, 1: 1, 2: -1}
    for before, after, motion, leaps in product(range(4), range(4), range(3), range(2)):
        names = found.get(f"{before},{after},{motion},{leaps}", [])
        assert MOTION_BITS[motion_class(before, after, ways[motion], leaps)] == bits(names)


def test_obligations_depend_on_nothing_but_the_class_of_the_step():
    for role, then, same in product(Role, Role, (0, 1)):
        for steps, semitones in product(range(-9, 10), range(-16, 17)):
            move = Move(28, 60, 28 + steps, 60 + semitones)
            met = [name for name, bad in (*left(role, move, then, same == 1), *entered(then, move)) if bad]
            step = look(STEP_CLASS, interval(pitch_code(28, 60), pitch_code(28 + steps, 60 + semitones)))
            assert OBLIGATION_BITS[obligation_place(int(role), int(then), same, int(step))] == bits(met)


STEP_RULES = asked(When.STEP, *VOICES)


def features(low, high):
    """What the rules on two voices depend on, from two moves; on either diagonal."""
    before, after = (Intervals(high[n] - low[n], high[n + 1] - low[n + 1]) for n in (0, 2))
    known = {
        "before": perfect(before),
        "after": perfect(after),
        "motion": int(np.sign(low.semitones) * np.sign(high.semitones)),
        "leaps": abs(high.steps) > 1,
        "chromatic": any(m.steps == 0 and m.semitones for m in (low, high)),
    }
    up = Intervals(high.d1 - low.d0, high.m1 - low.m0)
    down = Intervals(high.d0 - low.d1, high.m0 - low.m1)
    return [{**known, "across": diagonal} for diagonal in (up, down)]


def is_met(rule, low, high):
    return any(rule.predicate(**{n: known[n] for n in rule.features}) for known in features(low, high))


def test_what_two_voices_break_is_looked_up_as_the_predicates_say_it():
    dice = random.Random(1)
    seen = set()
    for _ in range(3000):
        low, high = (Move(*pitch(dice), *pitch(dice)) for _ in range(2))
        before, after = (
            np.array([[pitch_code(move[n], move[n + 1])] for move in (low, high)]) for n in (0, 2)
        )
        found = int(across(before, after, [0], [1], interval(before, after))[0, 0])
        known = features(low, high)[0]
        place = motion_class(known["before"], known["after"], known["motion"], int(known["leaps"]))
        found |= int(MOTION_BITS[place])
        assert set(named(found)) == {r.id for r in STEP_RULES if is_met(r, low, high)}
        seen |= {*named(found)}
    assert {"overlap", "false-relation", "direct-fifth", "contrary-octaves"} <= seen


def pitch(dice):
    found = Pitch(dice.randint(21, 37), dice.choice((-1, 0, 0, 1)))
    return found.diatonic, found.midi


@pytest.mark.parametrize("seed", LINES)
def test_the_steps_of_a_line_break_what_the_predicates_say_one_by_one(seed):
    lattice = build(line(seed), Weights.of({}))
    dice = random.Random(seed)
    for (a, b), joint in zip(pairwise(lattice.layers), lattice.joints):
        if joint.silent or joint.hold or not len(a) or not len(b):
            continue
        masks = dict(broken(a, b, replace(joint, still=False)))
        for _ in range(12):
            i, j = dice.randrange(len(a)), dice.randrange(len(b))
            assert {name for name, mask in masks.items() if mask[i, j]} == one_by_one(a, b, joint, i, j)


def one_by_one(a, b, joint, i, j):
    """Names of the hard rules that one step breaks."""
    first, then = notes(a, i), notes(b, j)
    both = {v: Move(*first[v], *then[v]) for v in first if v in then}
    names = [v for v in ("cantus", "altus", "tenor", "bassus") if v in both]
    count, line = len(then), b.shape.voice
    found = set()
    for rule in (*STEP_RULES, *asked(When.STEP, Of.MELODY)):
        always, lowest = (rule.severity_for(count, with_bass) == ERROR for with_bass in (False, True))
        if not (always or lowest):
            continue
        if rule.of is Of.MELODY:
            own = {line} if a.shape.voice == line else set()
            moves = (Intervals(both[v].steps, both[v].semitones) for v in names if v not in own)
            met = any(rule.predicate(move=move) for move in moves)
        elif rule.of is Of.OUTER:
            met = len(names) > 1 and names[-1] == line and is_met(rule, both[line], both[names[0]])
        else:
            pairs = [(low, high) for high, low in combinations(names, 2) if always or low == line]
            met = any(is_met(rule, both[low], both[high]) for low, high in pairs)
        if met:
            found.add(rule.id)
    for voice in {*a.shape.upper, *b.shape.upper}:
        role, next_role = part_of(a, i, voice), part_of(b, j, voice)
        if voice in both:
            met = [*left(role, both[voice], next_role, joint.same_bass)] if voice in a.shape.upper else []
            met += [*entered(next_role, both[voice])] if voice in b.shape.upper else []
        elif voice in b.shape.upper:
            met = [*entered(next_role, None)]
        else:
            met = [("suspension-unresolved", role not in (Role.FREE, Role.LEADING))]
        found |= {name for name, bad in met if bad}
    return found - joint.waived


def notes(v, row):
    found = dict(zip(v.shape.upper, zip(v.d[row].tolist(), v.m[row].tolist())))
    return {**found, v.shape.voice: (v.shape.bass.diatonic, v.shape.bass.midi)}


def part_of(v, row, voice):
    return Role(int(v.role[row, v.shape.upper.index(voice)])) if voice in v.shape.upper else Role.FREE


@pytest.mark.parametrize("seed", LINES)
def test_the_voicings_of_a_sonority_are_all_that_there_are(seed):
    for event in line(seed)[:12]:
        shape = shape_of(event)
        if not shape.upper or event.hold:
            continue
        found = voicings(shape, Weights.of({}))
        rows = {tuple(zip(m, role)) for m, role in zip(found.m.tolist(), found.role.tolist())}
        assert len(rows) == len(found)
        assert rows == every_voicing(shape)


def stretch(steps):
    """The wider hand's reach at the best division of the notes, highest first, between two hands."""
    hands = [(steps[:n], steps[n:]) for n in range(1, len(steps) + 1)]
    return min(max(max(hand) - min(hand) for hand in both if hand) for both in hands)


def every_voicing(shape):
    """All ways to give each voice a tone, by trying them all."""
    found = set()
    for variant in shape.variants:
        must = set(variant.must(len(shape.upper)))
        single = {m.number for m in variant.members if m.role is not Role.FREE or m.raised}
        choices = [tones(shape, voice, variant) for voice in shape.upper]
        for row in product(*choices):
            numbers = [number for _, number, _ in row]
            if not must <= set(numbers) or any(numbers.count(n) > 1 for n in single):
                continue
            pitches = [p for p, _, _ in row]
            if any(a.midi < b.midi or a.diatonic - b.diatonic > 7 for a, b in pairwise(pitches)):
                continue
            if stretch([*(p.diatonic for p in pitches), shape.bass.diatonic]) > 9:
                continue
            if not variant.signed and any(harsh(x, y) for x, y in combinations(row, 2)):
                continue
            if len(row) == 1 and pitches[0].midi == shape.bass.midi and not (shape.opening or shape.closing):
                continue
            found.add(tuple((p.midi, int(role)) for p, _, role in row))
    return found


def tones(shape, voice, variant):
    low, high = KEYBOARD[voice]
    for member in variant.members:
        if member.number == 8 and member.raised:
            continue
        for d in range(low.diatonic, high.diatonic + 1):
            p = Pitch(d, member.alter)
            above = d - shape.bass.diatonic
            high_enough = p.midi >= shape.bass.midi and above >= (8 if member.number == 9 else 0)
            if above % 7 == member.offset and high_enough:
                yield p, member.number, member.role


def harsh(one, other):
    """Diminished or augmented, but not a tritone, between two tones that are no dissonances."""
    if not {one[2], other[2]} <= {Role.FREE, Role.LEADING}:
        return False
    natural = {0: (0,), 1: (1, 2), 2: (3, 4), 3: (5, 6), 4: (6, 7), 5: (8, 9), 6: (10, 11)}
    steps, size = one[0].diatonic - other[0].diatonic, one[0].midi - other[0].midi
    return size % 12 not in natural[steps % 7]


def test_a_wider_interval_than_any_keyboard_is_no_error():
    assert look(PERFECT, np.array([10**6, -(10**6)])).shape == (2,)
