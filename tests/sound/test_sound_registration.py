"""Ranks and registration as an Italian organist knows them."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.music.keyboard import HIGHEST_KEY, LOWEST_KEY
from builder.sound import RANKS, Registration, advise_registration, rank_data
from builder.sound.ranks import RIPIENO, TOP
from builder.sound.registration import Stops


@pytest.mark.parametrize(
    ("words", "drawn"),
    [
        ("principale", ("principale",)),
        ("principale and flauto", ("principale", "flauto")),
        ("Principale, ottava,\nand  quintadecima", ("principale", "ottava", "quintadecima")),
        ("flauto in duodecima and principale", ("principale", "flauto in duodecima")),
        ("ripieno", RIPIENO),
        ("ripieno and flauto", (*RIPIENO, "flauto")),
        ("principale and fiffaro", ("principale", "fiffaro")),
        ("principale e flauto", ("principale", "flauto")),
        ("Principale 8′ con flauto in ottava", ("principale", "flauto")),
        ("Prinzipal 8' und Flöte 4 Fuß", ("principale", "flauto")),
        ("principale solo", ("principale",)),
        ("Principale; voce umana", ("principale", "fiffaro")),
        ("principale, VIII, XV e XIX", ("principale", "ottava", "quintadecima", "decimanona")),
    ],
)
def test_registration_is_read_from_words(words: str, drawn: tuple[str, ...]) -> None:
    assert Registration.parse(words).names == drawn
    assert Registration.parse(Registration.parse(words).title).names == drawn


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("", "names no rank"),
        ("and", "names no rank"),
        ("principalo", "'principalo' is no rank of this organ; there are ripieno, principale"),
        ("fiffaro", "beats with the principale; draw both"),
        ("trumpet and principale", "'trumpet' is no rank"),
    ],
)
def test_what_is_no_rank_is_refused(words: str, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        Registration.parse(words)


@pytest.mark.parametrize(
    ("words", "drawn", "others"),
    [
        ("soft 8 foot alone", None, ("soft 8 foot",)),
        ("regale e tromboncini", None, ("regale", "tromboncini")),
        ("Principale 8′ and trumpet", ("principale",), ("trumpet",)),
        ("Flöte 8'", None, ("flöte 8'",)),  # the flauto of this organ is of four feet
    ],
)
def test_words_that_name_no_rank_here_are_the_players(
    words: str, drawn: tuple[str, ...] | None, others: tuple[str, ...]
) -> None:
    read = Stops.read(words)
    assert (read.drawn and read.drawn.names) == drawn
    assert read.others == others
    assert not read.misspelt


def test_a_rank_that_is_misspelt_is_told() -> None:
    assert Stops.read("principale e flutto").misspelt == (("flutto", "flauto"),)
    assert Stops.read("Prinzipall").misspelt == (("prinzipall", "prinzipal"),)


def test_the_high_ranks_break_back_an_octave_and_never_pass_the_shortest_pipe() -> None:
    for rank in RANKS.values():
        ratios = [rank.sounding_harmonic(key) for key in range(LOWEST_KEY.midi, HIGHEST_KEY.midi + 1)]
        assert ratios[0] == rank.harmonic
        assert all(a == b or a == 2 * b for a, b in pairwise(ratios))
        assert all(
            key + 12 * (ratio.bit_length() - 1) <= TOP
            for key, ratio in zip(range(LOWEST_KEY.midi, HIGHEST_KEY.midi + 1), ratios)
        )
    assert RANKS["principale"].sounding_harmonic(HIGHEST_KEY.midi) == 1
    assert RANKS["vigesimanona"].sounding_harmonic(HIGHEST_KEY.midi) == 4


def test_the_fiffaro_has_pipes_in_the_treble_only_and_beats_faster_going_up() -> None:
    fiffaro = RANKS["fiffaro"]
    assert not fiffaro.has(59) and fiffaro.has(60)
    beats = [
        440 * 2 ** ((k - 69) / 12) * (2 ** (fiffaro.detune(k, 440 * 2 ** ((k - 69) / 12)) / 1200) - 1)
        for k in (60, 72, 84)
    ]
    assert beats == pytest.approx([2.0, 3.0, 4.5])


def test_lower_pipes_are_richer_in_harmonics_and_flutes_are_poorer() -> None:
    low, high = RANKS["principale"].spectrum(40), RANKS["principale"].spectrum(80)
    assert len(low) > len(high) and low[1] / low[0] > high[1] / high[0]
    flute, principal = RANKS["flauto"].spectrum(60), RANKS["ottava"].spectrum(60)
    assert flute[1] / flute[0] < principal[1] / principal[0]


@given(
    st.one_of(st.none(), st.integers(1, 8)),
    st.sampled_from(["", "quiet and slow", "lively", "solemn", "something else"]),
    st.sampled_from(["", "elevation", "opening of the Magnificat", "Amen", "nowhere"]),
)
def test_advice_can_always_be_drawn_and_has_a_reason(tone: int | None, character: str, place: str) -> None:
    drawn, reason = advise_registration(tone, character, place)
    assert "principale" in drawn.names and reason


def test_the_elevation_has_the_fiffaro_and_an_opening_the_ripieno() -> None:
    assert advise_registration(5, "lively", "elevation")[0].names == ("principale", "fiffaro")
    assert advise_registration(1, place="opening")[0].names == RIPIENO
    assert advise_registration(1, "quiet")[0].names == ("principale",)


def test_rank_data_serves_every_key_once_and_stays_within_full_scale() -> None:
    for words in ("principale", "ripieno", "principale and fiffaro", "flauto and ottava and principale"):
        data = rank_data(Registration.parse(words))
        for key in range(LOWEST_KEY.midi, HIGHEST_KEY.midi + 1):
            hertz = 440 * 2 ** ((key - 69) / 12)
            serving = [d for d in data if d["low"] <= hertz < d["high"]]
            assert [d["name"] for d in serving] == [
                n for n in Registration.parse(words).names if RANKS[n].has(key)
            ]
            assert all(d["ratio"] == RANKS[d["name"]].sounding_harmonic(key) for d in serving)
            assert 4 * sum(d["gain"] * sum(d["harmonics"]) for d in serving) <= 1.001
