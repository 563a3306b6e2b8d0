"""What a diminution does to the versets of the course."""

from __future__ import annotations

import itertools
import subprocess
import sys
from fractions import Fraction

import pytest

from builder.diminution import Diminution, diminish, patterns, skeleton
from builder.diminution.chooser import Chooser
from builder.diminution.gate import Refusal
from builder.diminution.guard import mark
from builder.diminution.texture import lay_out
from builder.music import Part, Score

NAMES = ("first", "fourth", "sixth")
LEVELS = (1, 2, 3)


def sung(part: Part) -> list[tuple[Fraction, Fraction, object]]:
    return [(n.onset, n.duration, n.pitch) for n in part.sounding()]


def count(score: Score) -> int:
    return sum(len(part.sounding()) for part in score.parts)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("level", LEVELS)
def test_the_plain_voices_are_still_inside(name: str, level: int, plain) -> None:  # type: ignore[no-untyped-def]
    verset, analysis, realisation = plain(name)
    for seed in (0, 1, 7):
        result = diminish(verset, analysis, realisation, level=level, seed=seed)
        for old, new in zip(realisation.score.parts, skeleton(result).parts, strict=True):
            assert sung(old) == sung(new)
        for old, new in zip(realisation.score.parts, result.score.parts, strict=True):
            late = {c.onset: c.late for c in result.choices if c.voice == old.voice}
            for note in old.sounding():
                heard = new.at(note.onset + late.get(note.onset, Fraction(0)))
                assert heard is not None and heard.pitch == note.pitch


@pytest.mark.parametrize("name", NAMES)
def test_the_theme_is_plain_at_its_entries(name: str, plain) -> None:  # type: ignore[no-untyped-def]
    verset, analysis, realisation = plain(name)
    result = diminish(verset, analysis, realisation, level=3)
    for entry in analysis.entries:
        old, new = (s.part(entry.voice) for s in (realisation.score, result.score))
        inside = [x for x in sung(old) if entry.onset <= x[0] < entry.end]
        assert inside and inside == [x for x in sung(new) if entry.onset <= x[0] < entry.end]


@pytest.mark.parametrize("name", NAMES)
def test_each_level_is_denser(name: str, plain) -> None:  # type: ignore[no-untyped-def]
    args = plain(name)
    counts = [count(args[2].score), *(count(diminish(*args, level=n).score) for n in LEVELS)]
    assert counts == sorted(set(counts))


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("level", LEVELS)
def test_the_check_finds_no_error_that_the_plain_did_not_have(name, level, plain) -> None:  # type: ignore[no-untyped-def]
    verset, analysis, realisation = plain(name)
    had = {(f.rule, f.voices, f.place.bar) for f in realisation.findings if f.severity == "error"}
    for seed in range(4):
        result = diminish(verset, analysis, realisation, level=level, seed=seed)
        errors = [f for f in result.findings if f.severity == "error"]
        assert not [f for f in errors if (f.rule, f.voices, f.place.bar) not in had]


@pytest.mark.parametrize("level", (1, 2))
def test_one_voice_moves_while_the_others_keep_still(level: int, plain) -> None:  # type: ignore[no-untyped-def]
    result = diminish(*plain("first"), level=level)
    moving = [(c.notes[1].onset, c.onset + c.duration) for c in result.choices]
    ordered = sorted(moving)
    assert all(one[1] <= two[0] for one, two in itertools.pairwise(ordered))


def figure(choice) -> tuple[object, ...]:  # type: ignore[no-untyped-def]
    pattern = next(p for p in patterns() if p.id == choice.pattern)
    return pattern.steps, tuple(n / min(pattern.lengths) for n in pattern.lengths)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("seed", range(4))
def test_no_figure_comes_three_times_running_unless_it_is_an_idea(name: str, seed: int, plain) -> None:  # type: ignore[no-untyped-def]
    """Three times running only at equal distances: exchanged between voices, or in sequence."""
    result = diminish(*plain(name), level=2, seed=seed)
    choices = sorted(result.choices, key=lambda c: c.notes[1].onset)
    assert len(choices) > 4
    for a, b, c in zip(choices, choices[1:], choices[2:]):
        if not figure(a) == figure(b) == figure(c):
            continue
        one, two, three = (x.notes[1].onset for x in (a, b, c))
        assert two - one == three - two
        if a.voice == b.voice == c.voice:
            low, middle, high = (x.plain.pitch.diatonic for x in (a, b, c))
            assert low != middle and middle - low == high - middle
        else:
            assert a.voice != b.voice and b.voice != c.voice


def test_the_groppo_closes_the_double_cadence(plain) -> None:  # type: ignore[no-untyped-def]
    verset, analysis, realisation = plain("first")
    close = analysis.cadences[-1]
    for level in (2, 3):
        result = diminish(verset, analysis, realisation, level=level)
        groppi = [c for c in result.choices if c.name == "groppo"]
        assert any(c.onset + c.duration == close.onset for c in groppi)
        assert all(any(k.start <= c.onset < k.onset for k in analysis.cadences) for c in groppi)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("level", LEVELS)
def test_a_suspension_sounds_before_it_is_broken(name: str, level: int, plain) -> None:  # type: ignore[no-untyped-def]
    """The held note keeps its pitch from the stroke of the dissonance for at least half of what is
    left of it, then goes down."""
    verset, analysis, realisation = plain(name)
    result = diminish(verset, analysis, realisation, level=level)
    seen = 0
    for part in realisation.score.parts:
        notes = part.sounding()
        for note, after in itertools.pairwise(notes):
            if after.onset != note.end or note.pitch.diatonic - after.pitch.diatonic != 1:
                continue
            for other in realisation.score.parts:
                for struck in other.sounding():
                    if other.voice == part.voice or not note.onset < struck.onset < note.end:
                        continue
                    if abs(note.pitch.diatonic - struck.pitch.diatonic) % 7 not in (1, 6):
                        continue
                    seen += 1
                    until = struck.onset + (note.end - struck.onset) / 2
                    heard = result.score.part(part.voice).at(struck.onset)
                    assert heard is not None and heard.pitch == note.pitch and heard.end >= until
    assert seen or name == "sixth"


def test_movement_grows_towards_the_close(plain) -> None:  # type: ignore[no-untyped-def]
    for name in NAMES:
        verset, analysis, realisation = plain(name)
        added = [
            n.onset for c in diminish(verset, analysis, realisation, level=3).choices for n in c.notes[1:]
        ]
        middle = verset.end / 2
        assert sum(t >= middle for t in added) > sum(t < middle for t in added)


def test_figures_answer_each_other_between_voices(plain) -> None:  # type: ignore[no-untyped-def]
    """In every verset one voice takes up the figure that another has just had."""
    for name in NAMES:
        result = diminish(*plain(name), level=2)
        ordered = sorted(result.choices, key=lambda c: c.notes[1].onset)
        assert any(a.voice != b.voice and figure(a) == figure(b) for a, b in itertools.pairwise(ordered))


def test_a_sequential_plain_line_has_its_figure_in_sequence(plain) -> None:  # type: ignore[no-untyped-def]
    """The altus of the fourth verset climbs D E F in half notes: one figure on each."""
    for level in (2, 3):
        result = diminish(*plain("fourth"), level=level)
        climb = [c for c in result.choices if c.voice == "altus" and str(c.plain.pitch) in ("D4", "E4", "F4")]
        assert [str(c.plain.pitch) for c in climb[:3]] == ["D4", "E4", "F4"]
        assert len({c.pattern for c in climb[:3]}) == 1


@pytest.mark.parametrize("level", (2, 3))
def test_the_bass_walks_where_it_leaps_in_long_notes(level: int, plain) -> None:  # type: ignore[no-untyped-def]
    """Before the close of the fourth verset the bass leaps from C to F: it goes there by step."""
    result = diminish(*plain("fourth"), level=level)
    bass = [str(n.pitch) for n in result.score.parts[-1].sounding()]
    assert bass[-5:] == ["C3", "D3", "E3", "F3", "E3"]


@pytest.mark.parametrize("name", NAMES)
def test_a_seed_changes_the_figures_and_hardly_their_number(name: str, plain) -> None:  # type: ignore[no-untyped-def]
    args = plain(name)
    bare = count(args[2].score)
    usual = count(diminish(*args, level=3).score) - bare
    for seed in (1, 2, 3):
        assert 0.75 * usual <= count(diminish(*args, level=3, seed=seed).score) - bare <= 1.25 * usual


@pytest.mark.parametrize("name", (*NAMES, "second", "eighth"))
@pytest.mark.parametrize("level", (2, 3))
def test_the_others_rest_while_the_leading_note_of_the_close_has_its_groppo(name, level, plain) -> None:  # type: ignore[no-untyped-def]
    verset, analysis, realisation = plain(name)
    close = analysis.cadences[-1].onset
    result = diminish(verset, analysis, realisation, level=level)
    (last,) = [c for c in result.choices if c.onset + c.duration == close]
    assert last.name == "groppo" and last.voice != realisation.score.parts[-1].voice
    begin = last.notes[1].onset
    for part in result.score.parts:
        if part.voice != last.voice:
            plain_part = realisation.score.part(part.voice)
            inside = [x for x in sung(part) if begin <= x[0] < close]
            assert inside == [x for x in sung(plain_part) if begin <= x[0] < close]


def names(result: Diminution) -> str:
    return " ".join(f"{p.voice}:{n.onset}:{n.pitch}" for p in result.score.parts for n in p.notes)


def test_each_seed_gives_its_own_diminution_and_always_the_same(plain) -> None:  # type: ignore[no-untyped-def]
    args = plain("fourth")
    several = [names(diminish(*args, level=2, seed=n)) for n in range(5)]
    assert len(set(several)) == 5
    assert several == [names(diminish(*args, level=2, seed=n)) for n in range(5)]


def test_the_same_seed_gives_the_same_notes_in_every_process(plain) -> None:  # type: ignore[no-untyped-def]
    verset, *_ = plain("sixth")
    code = (
        "import sys\nfrom builder.source import read\nfrom builder.analysis import analyse\n"
        "from builder.counterpoint import realise\nfrom builder.diminution import diminish\n"
        f"v = read({verset.path!r}); a = analyse(v)\n"
        "r = diminish(v, a, realise(v, a), level=3, seed=2)\n"
        "print(' '.join(f'{p.voice}:{n.onset}:{n.pitch}' for p in r.score.parts for n in p.notes))"
    )
    found = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={"PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(found) == 1 and "cantus" in found.pop()


def test_the_given_line_can_be_left_alone(plain) -> None:  # type: ignore[no-untyped-def]
    moved = 0
    for name in NAMES:
        verset, analysis, realisation = plain(name)
        given = {(g.voice, g.note.onset) for g in verset.given}
        free = diminish(verset, analysis, realisation, level=3)
        kept = diminish(verset, analysis, realisation, level=3, given_line=False)
        moved += sum((c.voice, c.onset) in given for c in free.choices)
        assert kept.choices and not any((c.voice, c.onset) in given for c in kept.choices)
    assert moved


def test_the_level_comes_from_the_source_unless_it_is_asked_for(plain) -> None:  # type: ignore[no-untyped-def]
    args = plain("first")
    assert diminish(*args).level == (args[0].settings.level or 2)
    assert diminish(*args, level=3).level == 3
    with pytest.raises(ValueError, match="level 4"):
        diminish(*args, level=4)


def test_each_choice_tells_the_table_entry_the_plain_note_and_the_result(plain) -> None:  # type: ignore[no-untyped-def]
    result = diminish(*plain("first"), level=3)
    table = {p.id: p for p in patterns()}
    for choice in result.choices:
        pattern = table[choice.pattern]
        assert (choice.name, choice.source, choice.late) == (pattern.figure, pattern.source, pattern.late)
        steps = tuple(n.pitch.diatonic - choice.plain.pitch.diatonic for n in choice.notes)
        assert steps == pattern.steps
        assert sum(n.duration for n in choice.notes) == choice.plain.duration == choice.duration
        assert choice.after is not None and choice.after.onset == choice.onset + choice.duration


def test_pinned_diminutions_are_kept_and_named_when_known(plain) -> None:  # type: ignore[no-untyped-def]
    bare = plain("first")
    turn = next(p for p in patterns() if p.id == "second-down-turn-1/half")
    target = next(
        c
        for c in range(len(bare[2].score.part("cantus").sounding()) - 1)
        if _fits(bare[2].score.part("cantus").sounding(), c, turn.interval, bare[1])
    )
    note = bare[2].score.part("cantus").sounding()[target]
    bar = bare[0].place(note.onset).bar
    offset = note.onset - bare[0].bars[bar - 1].onset
    up = bare[0].signature.pitch(note.pitch.diatonic + 1)
    skip = f"_/{4 / offset if offset else 1} " if offset else ""
    turned = f"{note.pitch}/4 {up}/8 {note.pitch}/8"
    rest = _rest(bare[0], bar, offset)
    block = f"\n\n```diminished\ncantus {bar} | {skip}{turned}{rest}\n```\n"
    verset, analysis, realisation = plain("first", block)
    for level in LEVELS:
        result = diminish(verset, analysis, realisation, level=level)
        (mine,) = [c for c in result.choices if c.pinned]
        assert (mine.voice, mine.onset, mine.name) == ("cantus", note.onset, "turn")
        assert [str(n.pitch) for n in mine.notes] == [str(note.pitch), str(up), str(note.pitch)]
        for old, new in zip(realisation.score.parts, skeleton(result).parts, strict=True):
            assert sung(old) == sung(new)


def _rest(verset, bar: int, offset: Fraction) -> str:  # type: ignore[no-untyped-def]
    left = verset.bars[bar - 1].length - offset - 2
    return f" _/{4 / left}" if left else ""


def _fits(notes, n: int, interval: int, analysis) -> bool:  # type: ignore[no-untyped-def]
    note, after = notes[n], notes[n + 1]
    return (
        note.duration == 2
        and after.pitch.diatonic - note.pitch.diatonic == interval
        and after.onset == note.end
        and not any(e.voice == "cantus" and note.onset < e.end for e in analysis.entries)
    )


def test_a_pin_that_is_no_known_pattern_is_kept_by_hand_and_checked(plain) -> None:  # type: ignore[no-untyped-def]
    block = "\n\n```diminished\ncantus 8 | F5/8 B4/8 F5/4 C5/4. D5/8\n```\n"
    verset, analysis, realisation = plain("fourth", block)
    result = diminish(verset, analysis, realisation, level=2)
    hand = [c for c in result.choices if c.pinned]
    assert hand and all(c.name == "by hand" and not c.pattern for c in hand)
    start = verset.bars[7].onset
    heard = [str(n.pitch) for n in result.score.part("cantus").sounding() if start <= n.onset < start + 4]
    assert heard == ["F5", "B4", "F5", "C5", "D5"]
    assert any(f.rule in ("augmented-leap", "diminished-leap") and f.place.bar == 8 for f in result.findings)
    for old, new in zip(realisation.score.parts, skeleton(result).parts, strict=True):
        assert sung(old) == sung(new)


@pytest.mark.parametrize("level", LEVELS)
def test_a_refused_figure_is_mended_where_it_stood(level: int, plain) -> None:  # type: ignore[no-untyped-def]
    """Far from the fault every figure stays as it was; near it the refused one does not come back."""
    verset, analysis, realisation = plain("first")
    texture = lay_out(realisation.score)
    mark(texture, analysis)
    chooser = Chooser(texture, verset, analysis, patterns(), level, 0, True)
    before = {(o.stem.voice, o.stem.index, o.pattern.id): o.stem for o in chooser.figures()}
    bad = next(place for place, stem in before.items() if not stem.closes)
    chooser.mend(frozenset({Refusal(*bad, None)}))
    after = {(o.stem.voice, o.stem.index, o.pattern.id): o.stem for o in chooser.figures()}
    assert bad not in after
    low, high = before[bad].start - 2 * chooser.bar, before[bad].end + 2 * chooser.bar
    for stems in (before, after):
        assert len({(s.voice, s.index) for s in stems.values()}) == len(stems)
    far = {place for place, stem in before.items() if stem.end <= low or stem.start >= high}
    assert far and far <= set(after)
    again = [names for names in after if names not in before]
    assert all(low < after[place].end and after[place].start < high for place in again)


def test_keys_are_judged_by_the_tuning_of_the_verset(plain) -> None:  # type: ignore[no-untyped-def]
    verset, analysis, realisation = plain("second")
    found = {
        tuning: {f.rule for f in diminish(verset, analysis, realisation, level=2, tuning=tuning).findings}
        for tuning in ("quarter-comma", "quarter-comma, D# for Eb")
    }
    assert "not-in-tuning" not in found["quarter-comma"]
    assert "not-in-tuning" in found["quarter-comma, D# for Eb"]
