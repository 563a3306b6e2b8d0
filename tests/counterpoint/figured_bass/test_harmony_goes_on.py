"""What the sonority before makes of a note: harmony that goes on, preparation by what sounds, duties kept."""

import pytest

from builder.analysis import analyse
from builder.counterpoint import realise
from builder.source import parse

FRONT = (
    "---\ntitle: T\nverset:\n  metre: C\n  signature: {signature}\n  voices: [{voices}]\n---\n\n"
    "```given\nbassus F4 | {bass}\n```\n"
)
VOICES = ("cantus", "cantus, altus", "cantus, altus, tenor")


def setting(bass, voices=VOICES[2], signature="none"):
    verset = parse(FRONT.format(bass=bass, voices=voices, signature=signature))
    return realise(verset, analyse(verset))


def at(found, onset):
    return {p.voice: p.at(onset).pitch.letter for p in found.score.parts}


def errors(found):
    """The source's own line may leap as it likes."""
    return [f.rule for f in found.findings if f.severity == "error" and not f.allowed]


@pytest.mark.parametrize("voices", VOICES)
@pytest.mark.parametrize(
    ("bass", "tone", "onset"),
    [
        ("F2/2 A2/2 | G3/4{7} G2/4 C3/2 | C3/1", "F", 5),
        ("F3/2 A3/2 | G3/4{7} G2/4 C3/2 | C3/1", "F", 5),
        ("F2/2 A2/2 | G2/4{7} B2/4 C3/2 | C3/1", "F", 5),
    ],
)
def test_a_dissonance_is_held_while_the_bass_leaps_to_its_octave_or_another_tone(voices, bass, tone, onset):
    found = setting(bass, voices)
    assert errors(found) == []
    assert tone in at(found, onset).values()


@pytest.mark.parametrize("voices", VOICES[1:])
def test_sixth_and_fifth_go_on_over_the_octave(voices):
    found = setting("F3/2 A3/2{6} | D3/4{6/5} D2/4 G2/2 | C3/1", voices)
    assert errors(found) == []
    assert {"A", "B"} <= set(at(found, 5).values())


def test_a_sixth_goes_on_over_the_octave_of_its_bass():
    found = setting("C3/2 E3/4{6} E2/4 | F2/2 G2/2 | C3/1")
    assert errors(found) == []
    assert {"C", "G"} <= set(at(found, 3).values()) and "B" not in at(found, 3).values()


@pytest.mark.parametrize("voices", VOICES)
@pytest.mark.parametrize("close", ["C4/2{4 3} C3/2", "C4/1{4 3} | C3/1"])
def test_a_fourth_that_sounds_already_as_a_seventh_is_prepared(voices, close):
    """However long it is held before it falls."""
    found = setting(f"F3/2 G3/2 | {close}", voices)
    assert errors(found) == []
    (voice,) = [v for v, letter in at(found, 4).items() if letter == "F"]
    note = next(n for n in found.score.part(voice).sounding() if n.onset <= 4 < n.end)
    assert note.onset < 4 and at(found, note.end)[voice] == "E"


def test_a_fourth_that_nothing_prepares_is_refused_with_its_rule():
    found = setting("C3/2 E3/2{5} | C3/2{4 3} C3/2", "cantus")
    (refusal,) = [f for f in found.findings if f.rule == "no-way"]
    assert "suspension without preparation" in refusal.message


@pytest.mark.parametrize("voices", VOICES)
def test_five_and_six_after_a_cadence_leave_the_leading_note_its_way(voices):
    found = setting("C3/2 F3/4 G3/4{4 3} | C3/2{5 6} D3/2 | C3/1", voices)
    assert errors(found) == []
    (voice,) = [v for v, letter in at(found, 3.5).items() if letter == "B"]
    assert at(found, 4)[voice] == "C"


def test_what_is_tied_keeps_the_accidental_with_which_it_began():
    found = setting("D3/2 G2/2{b} | C3/2{7 6} D3/2 | D3/1")
    assert errors(found) == []
    held = at(found, 4).values()
    assert "Bb" in held and "B" not in held


def test_a_bass_that_leads_is_not_doubled():
    found = setting("D3/2 C3/2 | F3/2 E3/2{6} | F3/1")
    assert errors(found) == []
    # The bass is cut in two: neither half has a second leading note above it.
    assert [list(at(found, onset).values()).count("E") for onset in (6, 7)] == [1, 1]


@pytest.mark.parametrize("voices", VOICES)
@pytest.mark.parametrize("figure", ["", "{#}"])
def test_a_fourth_over_a_repeated_bass_comes_by_step_as_in_the_double_cadence(voices, figure):
    found = setting(f"D3/2 A3/2 | D3/2{figure} D3/2{{4 3}} | G2/1", voices)
    assert errors(found) == []
    (voice,) = [v for v, letter in at(found, 6).items() if letter == "G"]
    sung = [found.score.part(voice).at(onset).pitch for onset in (4, 5, 6, 7)]
    assert str(sung[1]) == str(sung[2]) and abs(sung[1].diatonic - sung[0].diatonic) <= 1
    assert sung[3].letter == "F#" and sung[3].diatonic == sung[2].diatonic - 1


@pytest.mark.parametrize("voices", VOICES[1:])
def test_beside_a_sixth_the_third_rises_to_the_fourth_that_is_then_suspended(voices):
    found = setting("E3/2 F3/2 | A3/2{6} A3/2{4 3} | D3/1", voices)
    assert errors(found) == []
    assert {"F", "D"} <= set(at(found, 5).values()) and "D" in at(found, 6).values()


def test_what_is_prepared_stays_so_while_one_dissonance_follows_another():
    """A third, held as a seventh and as a fourth, falls in the middle of the bar."""
    from builder.counterpoint import check
    from builder.counterpoint.rules.example import example

    score = example("cantus R/4 C4/4 G4/2~ G4/2 F#4/2 G4/1\nbassus R/4 E3/2 A3/4 D3/1 G2/1")
    assert [f.rule for f in check(score) if f.severity == "error"] == []
    left = example("cantus R/4 C4/4 G4/2~ G4/2 E4/2 G4/1\nbassus R/4 E3/2 A3/4 D3/1 G2/1")
    assert "suspension-unresolved" in [f.rule for f in check(left)]
