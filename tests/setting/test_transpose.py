"""A verset at the choir's pitch: signature, clefs and the meaning of figures follow."""

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from builder.music import Interval, Pitch, read_tuning
from builder.music.figure import signed
from builder.setting.reading import read_verset
from builder.setting.setting import set_verset
from builder.setting.transpose import (
    SUITABLE,
    check_pitch,
    read_interval,
    spoken_interval,
    suits,
    transpose,
)
from builder.source import SourceErrors, Verset, parse, read, write

VERSETS = Path(__file__).parents[2] / "content" / "versets"
NAMES = ("first", "fourth", "sixth")


def verset(name: str) -> Verset:
    return read(VERSETS / f"{name}.md")


def small(line: str, signature: str = "none") -> Verset:
    return parse(
        f"---\ntitle: X\nverset: {{metre: C, signature: {signature}}}\n---\n```given\n{line}\n```\n", "x.md"
    )


def meant(v: Verset) -> list[str]:
    """The notes that the signed figures ask for."""
    found = []
    for g in v.given:
        for figure in g.figures:
            for sign in figure.signs:
                if sign.sign:
                    step = g.note.pitch.diatonic + sign.number - 1
                    found.append(Pitch(step % 7 + 28, signed(v.signature.alter(step % 7), sign.sign)).letter)
    return found


def test_a_tone_lower_first_tone_takes_two_flats():
    assert str(transpose(verset("first"), read_interval("a tone lower")).signature) == "Bb Eb"


def test_a_fourth_higher_the_first_tone_takes_one_flat():
    assert str(transpose(verset("first"), read_interval("a fourth higher")).signature) == "Bb"


def test_a_sharp_over_a_becomes_a_natural_over_g_a_tone_lower():
    moved = transpose(small("bassus F4 | A2/1{#}"), read_interval("a tone lower"))
    assert [str(f) for f in moved.figures] == ["n"]
    assert meant(moved) == ["B"]


def test_a_flat_sixth_keeps_its_meaning_where_the_signature_has_sharps():
    moved = transpose(small("bassus F4 | D3/1{b6}"), read_interval("a tone higher"))
    assert meant(moved) == ["C"]
    assert str(moved.figures[0]) in ("b6", "n6")


def test_an_editorial_figure_stays_editorial():
    moved = transpose(small("bassus F4 | A2/1{(#)}"), read_interval("a tone lower"))
    assert moved.figures[0].editorial


def test_clefs_stay_where_the_line_stays_on_its_staves():
    moved = transpose(verset("first"), read_interval("a tone lower"))
    assert [g.clef for g in moved.given] == [g.clef for g in verset("first").given]


def test_a_fifth_higher_the_high_clefs_are_taken():
    moved = transpose(verset("first"), read_interval("a fifth higher"))
    assert {g.voice: str(g.clef) for g in moved.given} == {
        "cantus": "G2",
        "altus": "C2",
        "tenor": "C3",
        "bassus": "F3",
    }


def test_a_note_that_the_tuning_lacks_is_named_with_its_bar_and_a_way_out():
    (found,) = check_pitch(small("tenor C4 | Ab3/1 | G3/1"))
    assert (found.rule, str(found.place), found.voices) == ("untuned-note", "bar 1, beat 1", ("tenor",))
    assert "no A♭: G♯ sounds" in found.message
    assert "tune that key as A♭" in found.mend


def test_a_split_key_has_the_note():
    assert check_pitch(small("tenor C4 | Ab3/1"), tuning=read_tuning("quarter-comma, split Ab")) == ()


def test_a_leading_note_asked_for_by_a_figure_is_looked_for_in_the_tuning():
    found = check_pitch(transpose(small("bassus F4 | A2/1{#} | D3/1"), read_interval("a tone higher")))
    assert [f.rule for f in found] == ["untuned-note"]  # D sharp over B


def test_a_line_beyond_its_stave_is_told():
    low = transpose(verset("first"), read_interval("an octave lower"))
    assert "written-compass" in {f.rule for f in check_pitch(low)}


def told(given, signature="none", move="none"):
    (found,) = check_pitch(transpose(small(given, signature), read_interval(move)))
    return [" ".join(found.told(language)[:2]) for language in ("en", "it", "de")]


def test_what_a_pitch_makes_hard_is_told_in_every_language():
    assert told("tenor C4 | Ab3/1") == [
        "the tuning has no A♭: G♯ sounds tune that key as A♭ (`quarter-comma, Ab for G#`), or "
        "split it (`quarter-comma, split Ab`), or play the piece a tone higher",
        "il temperamento non ha la♭: suona sol♯ accorda quel tasto come la♭ "
        "(`quarter-comma, Ab for G#`), o spezzalo (`quarter-comma, split Ab`), o suona il pezzo un tono "
        "sopra",
        "die Stimmung hat kein As: es klingt Gis stimme diese Taste als As (`quarter-comma, Ab for G#`), "
        "oder teile sie (`quarter-comma, split Ab`), oder spiele das Stück einen Ton höher",
    ]
    assert told("bassus F4 | E2/1 | D2/1") == [
        "D2 lies 1 step beyond the first ledger line of bassus in F4 choose a nearer pitch",
        "re2 sta un grado oltre il primo taglio addizionale (basso, chiave F4) scegli un’altezza più vicina",
        "D liegt eine Stufe jenseits der ersten Hilfslinie (Bassus, Schlüssel F4) wähle eine nähere Tonhöhe",
    ]
    assert [text.split(" (")[0] for text in told("bassus F4 | D2/1", move="a tone lower")] == [
        "C2 lies 2 steps beyond the first ledger line of bassus in F4 choose a nearer pitch",
        "do2 sta 2 gradi oltre il primo taglio addizionale",
        "C liegt 2 Stufen jenseits der ersten Hilfslinie",
    ]
    assert told("bassus F4 | E3/1", "F# C# G#") == [
        "a signature of 3 accidentals: this music hardly goes beyond 2 choose a nearer pitch",
        "un’armatura di chiave con 3 alterazioni: questa musica va di rado oltre 2 scegli un’altezza più "
        "vicina",
        "eine Vorzeichnung mit 3 Vorzeichen: diese Musik geht kaum über 2 hinaus wähle eine nähere Tonhöhe",
    ]


def test_the_easiest_pitches_come_first():
    found = suits(verset("first"))
    assert len(found) >= 10
    hardness = [len(s.findings) for s in found]
    assert hardness[0] == min(hardness)
    assert hardness[0] < hardness[-1]


def test_an_interval_is_asked_for_in_words():
    assert spoken_interval(read_interval("a minor third lower")) == "a minor third lower"
    for wrong in ("a third lower", "tone", "a tone"):
        with pytest.raises(ValueError, match="is not an interval such as"):
            read_interval(wrong)


def test_too_many_accidentals_are_refused():
    with pytest.raises(ValueError, match="8 accidentals"):
        transpose(small("cantus C1 | F#4/1", "F#"), Interval(0, 1))


@pytest.mark.parametrize("name", NAMES)
def test_a_transposed_verset_can_be_written_and_read_as_a_source(name):
    moved = transpose(verset(name), read_interval("a tone lower"))
    again = parse(write(moved), "moved.md")
    assert [g.note for g in again.given] == [g.note for g in moved.given]
    assert again.figures == moved.figures


@pytest.mark.parametrize("name", NAMES)
def test_the_tone_is_judged_at_the_versets_own_pitch(name):
    written = verset(name)
    asked = replace(written, tone=None, settings=replace(written.settings, move="a tone lower"))
    setting = set_verset(asked)
    assert setting.analysis.tone == written.tone
    assert setting.verset.signature != written.signature
    assert setting.original and setting.original.signature == written.signature


def test_a_source_asks_for_another_pitch(tmp_path):
    text = (VERSETS / "sixth.md").read_text(encoding="utf-8")
    (tmp_path / "a.md").write_text(text.replace("  tone: 6", "  tone: 6\n  move: a fourth lower"), "utf-8")
    asked = read_verset(tmp_path / "a.md")
    assert parse(write(asked), "b.md").settings.move == "a fourth lower"
    assert set_verset(asked).verset.given[0].note.pitch.name == "C5"


def test_a_pitch_that_cannot_be_asked_for_is_told_with_its_line(tmp_path):
    text = (VERSETS / "sixth.md").read_text(encoding="utf-8")
    (tmp_path / "a.md").write_text(text.replace("  tone: 6", "  tone: 6\n  move: a third lower"), "utf-8")
    with pytest.raises(SourceErrors) as caught:
        read_verset(tmp_path / "a.md")
    (error,) = caught.value.errors
    assert (error.line, error.column) == (7, 3)
    assert "'a third lower' is not an interval such as" in error.expected


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(NAMES), st.sampled_from(SUITABLE), st.sampled_from(["higher", "lower"]))
def test_there_and_back_again_is_where_it_was(name, size, way):
    back = "lower" if way == "higher" else "higher"
    start = verset(name)
    try:
        moved = transpose(start, read_interval(f"a {size} {way}"))
    except ValueError:
        return
    again = transpose(moved, read_interval(f"a {size} {back}"))
    assert again.signature == start.signature
    assert [g.note for g in again.given] == [g.note for g in start.given]
    assert meant(again) == meant(start)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("words", ["a tone lower", "a fourth higher", "a minor third lower"])
def test_every_asked_for_note_moves_by_the_interval(name, words):
    start, interval = verset(name), read_interval(words)
    moved = transpose(start, interval)
    asked = [Pitch.parse(f"{letter}4").up(interval).letter for letter in meant(start)]
    assert meant(moved) == asked
