"""What is heard over a whole phrase: voices that stand, go to and fro, or leap away together and back."""

import pytest

from builder.counterpoint.search.choosing import candidates
from builder.counterpoint.search.paths import best_path
from builder.counterpoint.search.phrases import (
    Chord,
    beaten,
    crowded,
    frozen,
    hearing,
    shuttling,
    standing,
    swaying,
    tossed,
    tumbling,
)
from builder.counterpoint.search.realise import lattice_of
from tests.counterpoint.search.test_best_paths import small

VOICES = ("cantus", "altus", "tenor")


def phrase(*lines, bass=None):
    """Voices above a line in quarters, highest first, in staff steps; the line rises by step unless it is
    given."""
    low = bass or range(14, 14 + len(lines[0]))
    return [
        Chord(n, n + 1, b, VOICES[: len(lines)], notes) for n, (b, notes) in enumerate(zip(low, zip(*lines)))
    ]


def test_the_highest_voice_stands_under_an_entry_when_it_keeps_a_note_for_five_quarters():
    chords = phrase([35] * 5 + [36, 37], [31, 32, 31, 30, 31, 32, 33])
    assert standing(chords, [(1, 7)]) == 1
    assert standing(chords, [(5, 7)]) == 0
    assert standing(phrase([35] * 8), [(1, 7)]) == 4
    assert standing(chords[1:], [(1, 7)]) == 0


def test_voices_freeze_when_all_keep_their_notes_over_a_line_that_moves_for_seven_quarters():
    assert frozen(phrase([35] * 7, [31] * 7)) == 1
    assert frozen(phrase([35] * 7)) == 1
    assert frozen(phrase([35] * 6, [31] * 6)) == 0
    assert frozen(phrase([35] * 7, [31] * 7, bass=[14] * 7)) == 0
    assert frozen(phrase([35] * 7, [31] * 6 + [32])) == 0


def test_a_voice_shuttles_when_it_goes_to_and_fro_twice_however_often_it_repeats_a_note():
    assert shuttling(phrase([35, 36, 36, 35, 36, 35, 35])) == 1
    assert shuttling(phrase([35, 36, 35, 36, 37])) == 0
    assert shuttling(phrase([35] * 9, [31, 30, 31, 30, 31, 30, 31, 32, 31])) == 1


def test_all_voices_sway_when_they_go_up_and_down_together_four_times():
    up_and_down = [30, 32, 31, 33, 32]
    assert swaying(phrase([x + 5 for x in up_and_down], up_and_down)) == 1
    assert swaying(phrase([x + 5 for x in up_and_down], [30, 29, 30, 29, 30])) == 0
    assert swaying(phrase(up_and_down)) == 0


def test_a_voice_tumbles_when_two_leaps_the_same_way_span_a_sixth():
    assert tumbling(phrase([35, 33, 33, 30, 31])) == 1
    assert tumbling(phrase([30, 33, 35], [26, 25, 27])) == 1
    assert tumbling(phrase([35, 33, 31, 32])) == 0
    assert tumbling(phrase([35, 33, 36, 35])) == 0


def test_an_octave_is_beaten_when_the_highest_voice_leaps_down_to_it_over_a_line_that_rises_by_step():
    assert beaten(phrase([33, 29], bass=[21, 22])) == 1
    assert beaten(phrase([30, 29], bass=[21, 22])) == 0
    assert beaten(phrase([33, 29], bass=[19, 22])) == 0
    assert beaten(phrase([33, 28], bass=[21, 22])) == 0
    assert beaten(phrase([33, 31], [33, 29], bass=[21, 22])) == 0


def test_two_voices_that_fall_a_fifth_and_a_fourth_and_leap_back_are_noticed():
    assert tossed(phrase([38, 34, 36, 36], [35, 32, 35, 35])) == 1
    assert tossed(phrase([38, 34, 34, 36], [35, 32, 32, 35])) == 1
    assert tossed(phrase([38, 34, 35, 36], [35, 32, 33, 34])) == 0
    assert tossed(phrase([38, 34, 36, 36], [35, 35, 35, 35])) == 0


def test_three_voices_on_one_note_are_too_many():
    assert crowded(phrase([35, 33, 35], [31, 33, 31], [28, 33, 31])) == 1
    assert crowded(phrase([35, 14], [35, 14])) == 0
    assert crowded(phrase([35, 15], [35, 15])) == 1


@pytest.mark.parametrize("name", ["two voices, unfigured", "four voices"])
def test_settings_with_the_fewest_blemishes_are_tried_first_and_the_cheapest_last(name):
    verset, analysis = small(name)
    lattice = lattice_of(verset, analysis)
    tried = list(candidates(lattice, verset, analysis, 40))
    spoilt = [*map(hearing(lattice, analysis), tried)]
    assert len(tried) == len(set(tried)) > 1
    assert spoilt[:-1] == sorted(spoilt[:-1])
    assert best_path(lattice) in tried
