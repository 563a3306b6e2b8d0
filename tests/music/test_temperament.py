"""Tunings: which notes are there, how high they stand, where the wolf is."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.music import TUNINGS, Pitch, Tuning, missing, read_tuning

MEAN = TUNINGS["quarter-comma"]


def p(text: str) -> Pitch:
    return Pitch.parse(text)


def test_d_sharp_is_not_e_flat() -> None:
    split = read_tuning("quarter-comma, split D#")
    assert split.has(p("D#4")) and split.has(p("Eb4"))
    # the lesser diesis, 128/125: three pure thirds short of an octave
    assert split.size(p("D#4"), p("Eb4")) == pytest.approx(41.059, abs=0.001)


def test_a_note_that_is_not_there_sounds_as_the_key_that_is() -> None:
    assert not MEAN.has(p("D#4"))
    assert MEAN.frequency(p("D#4")) == MEAN.frequency(p("Eb4"))
    assert MEAN.sounds_as(p("Cb5")) == p("B4")
    assert MEAN.sounds_as(p("B#3")) == p("C4")
    assert MEAN.sounds_as(p("F##3")) == p("G3")


def test_a_above_middle_c_is_440_in_every_tuning_and_follows_the_pitch_of_the_organ() -> None:
    for tuning in TUNINGS.values():
        assert tuning.frequency(p("A4")) == pytest.approx(440.0)  # ISO 16
        assert tuning.frequency(p("A3"), a4=466.0) == pytest.approx(233.0)


@pytest.mark.parametrize("a4", [391.9, 520.1, 0.0, -440.0])
def test_a_pitch_no_organ_has_is_refused(a4: float) -> None:
    with pytest.raises(ValueError, match="not between 392 and 520"):
        MEAN.frequency(p("A4"), a4=a4)


def test_the_wolf_lies_between_g_sharp_and_e_flat() -> None:
    assert MEAN.wolf(p("G#3"), p("Eb4"))
    assert MEAN.wolf(p("Eb3"), p("G#3"))
    assert MEAN.wolf(p("B3"), p("Eb4"))
    assert [w[:2] for w in MEAN.wolves() if w[2] < 36] == [
        ("G#", "Eb"),
        ("Eb", "F#"),
        ("F", "G#"),
        ("Bb", "C#"),
    ]


def test_the_wolf_moves_when_a_key_is_retuned() -> None:
    flat = read_tuning("quarter-comma, Ab for G#")
    assert flat.has(p("Ab3")) and not flat.has(p("G#3"))
    assert flat.wolf(p("C#3"), p("Ab3")) and not flat.wolf(p("Ab3"), p("Eb4"))


def test_split_keys_leave_less_of_the_wolf() -> None:
    split = read_tuning("quarter-comma, split D# Ab")
    assert not split.wolf(p("G#3"), p("D#4"))
    assert not split.wolf(p("Ab3"), p("Eb4"))
    assert len(split.wolves()) < len(MEAN.wolves())
    assert split.split == (("D#", "Eb"), ("G#", "Ab"))


def test_equal_temperament_has_no_wolf_and_every_spelling() -> None:
    equal = TUNINGS["equal"]
    assert equal.wolves() == ()
    assert equal.has(p("D#4")) and equal.has(p("Gb4"))
    assert equal.frequency(p("D#4")) == equal.frequency(p("Eb4"))


def test_pythagorean_thirds_are_wide_but_usual_there_and_its_wolf_is_narrow() -> None:
    pythagorean = TUNINGS["pythagorean"]
    assert not pythagorean.wolf(p("C4"), p("E4"))
    assert pythagorean.error(p("G#3"), p("Eb4")) == pytest.approx(-23.46, abs=0.01)
    assert [w[:2] for w in pythagorean.wolves()] == [("G#", "Eb")]


def test_just_tuning_pays_for_its_pure_thirds_with_the_fifth_on_d() -> None:
    just = TUNINGS["just"]
    assert just.error(p("C4"), p("E4")) == pytest.approx(0, abs=0.001)
    assert just.wolf(p("D4"), p("A4"))
    assert just.error(p("D4"), p("A4")) == pytest.approx(-21.506, abs=0.001)


def test_a_written_dissonance_is_not_a_spoiled_consonance() -> None:
    assert not MEAN.wolf(p("F3"), p("G#3"), spelled=True)
    assert MEAN.wolf(p("B3"), p("D#4"), spelled=True)
    assert not MEAN.wolf(p("C4"), p("D4"))


def test_missing_notes_come_with_remedies() -> None:
    (lack,) = missing(map(p, ("B3", "D#4", "F#4", "E5")), MEAN)
    assert (lack.letter, lack.instead) == ("D#", "Eb")
    assert lack.off == pytest.approx(41.059, abs=0.001)
    assert lack.remedies == (
        ("retune", "quarter-comma, D# for Eb"),
        ("split", "quarter-comma, split D#"),
        ("move", "a tone lower"),
    )


def test_a_key_that_the_piece_needs_both_ways_can_only_be_split() -> None:
    (lack,) = missing(map(p, ("Eb4", "D#4")), MEAN)
    assert [remedy.kind for remedy in lack.remedies] == ["split"]


def test_what_is_advised_helps() -> None:
    notes = [p("Ab4"), p("Eb4"), p("C4")]
    (lack,) = missing(notes, MEAN)
    retune, split, move = lack.remedies
    for remedy in (retune, split):
        assert missing(notes, read_tuning(remedy.asked)) == ()
    assert move.asked == "a tone higher"
    assert missing([p("Bb4"), p("F4"), p("D4")], MEAN) == ()


def test_a_course_has_its_own_list_of_cents() -> None:
    own = read_tuning("0 76 193 310 386 503 579 697 773 890 1007 1083")
    assert own.has(p("Eb4")) and not own.has(p("D#4"))
    assert own.cents(p("E4")) == 386
    spelled = read_tuning(
        "C 0, C# 76, D 193, Eb 310, E 386, F 503, F# 579, G 697, G# 773, Ab 814, A 890, Bb 1007, B 1083"
    )
    assert spelled.has(p("Ab4")) and spelled.split == (("G#", "Ab"),)
    named = read_tuning("our organ", own={"our organ": "0 76 193 310 386 503 579 697 773 890 1007 1083"})
    assert named.name == "our organ" and named.keys == own.keys


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("meantone", "known are quarter-comma"),
        ("quarter-comma, A for G#", "not a change"),
        ("quarter-comma, Ab for Eb", "not a change"),
        ("quarter-comma, split Ab Ab", "not a change"),
        ("quarter-comma, split", "not a change"),
        ("quarter-comma, howl", "not a change"),
        ("equal, Ab for G#", "no wolf to move"),
        ("0 100 200", "3 numbers where twelve"),
        ("C 0 D 200", "no cents for the key C#"),
        ("C 0 C# 76 D 193 Eb", "letters and numbers in turn"),
        ("0 76 193 310 386 503 579 697 773 890 1007 2083", "B at 2083 cents is not near its key"),
        ("", "unknown"),
    ],
)
def test_words_that_are_no_tuning_are_refused_with_what_could_stand_there(text: str, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        read_tuning(text)


@given(st.text(alphabet="quarter-comma,CDEFGABb#splitfor 0123456789.", max_size=40))
def test_any_words_give_a_tuning_or_a_clear_refusal(text: str) -> None:
    try:
        assert isinstance(read_tuning(text), Tuning)
    except ValueError as error:
        assert "tuning" in str(error)


@given(
    st.sampled_from(sorted(TUNINGS)),
    st.integers(14, 42),
    st.integers(-2, 2),
)
def test_octaves_are_pure_and_any_spelling_sounds_near_its_key(name: str, diatonic: int, alter: int) -> None:
    tuning, pitch = TUNINGS[name], Pitch(diatonic, alter)
    assert tuning.frequency(Pitch(diatonic + 7, alter)) == pytest.approx(2 * tuning.frequency(pitch))
    assert abs(tuning.cents(pitch) - 100 * (pitch.midi - 60)) < 45
