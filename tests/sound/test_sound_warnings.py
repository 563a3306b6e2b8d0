"""What a piece asks of tuning and keyboard that they do not have is told in every language."""

from __future__ import annotations

import re
from fractions import Fraction as F

import pytest

from builder.counterpoint import Phrase, said
from builder.language.texts import languages
from builder.music import (
    TUNINGS,
    Bar,
    Metre,
    Note,
    Part,
    Pitch,
    Score,
    Signature,
    Version,
    missing,
    read_tuning,
)
from builder.music.tuner import _SHIFTS
from builder.sound import advice, keyboard_warnings, tuning_warnings


def score(**parts: str) -> Score:
    """Whole notes, a bar each."""
    bars = tuple(Bar(n + 1, F(4 * n), F(4)) for n in range(2))
    sung = tuple(
        Part(voice, tuple(Note(F(4 * n), F(4), Pitch.parse(p)) for n, p in enumerate(line.split())))
        for voice, line in parts.items()
    )
    return Score("", Version.PLAIN, Metre.parse("C"), Signature(), bars, sung)


def told(phrases: tuple[Phrase, ...]) -> list[str]:
    (phrase,) = phrases
    return [said(phrase, language) for language in ("en", "it", "de")]


@pytest.mark.parametrize(
    ("note", "tuning", "english", "italian", "german"),
    [
        (
            "Ab4",
            "quarter-comma",
            "bar 1, beat 1, tenor: Quarter-comma meantone has no A♭; G♯ sounds, 41 cents too low; tune that "
            "key as A♭ (`quarter-comma, Ab for G#`), or split it (`quarter-comma, split Ab`), or play "
            "the piece a tone higher",
            "battuta 1, tempo 1, tenore: il temperamento mesotonico a un quarto di comma non ha la♭; suona "
            "sol♯, calante di 41 cent; accorda quel tasto come la♭ (`quarter-comma, Ab for G#`), o "
            "spezzalo (`quarter-comma, split Ab`), o suona il pezzo un tono sopra",
            "Takt 1, Schlag 1, Tenor: die Stimmung „mitteltönig (Viertelkomma)“ hat kein As; es klingt Gis, "
            "41 Cent zu tief; stimme diese Taste als As (`quarter-comma, Ab for G#`), oder teile sie "
            "(`quarter-comma, split Ab`), oder spiele das Stück einen Ton höher",
        ),
        (
            "E#4",
            "0 76 193 310 386 503 579 697 773 890 1007 1083",
            "bar 1, beat 1, tenor: the course’s own tuning has no E♯; F sounds; play the piece a minor "
            "third higher",
            "battuta 1, tempo 1, tenore: il temperamento proprio del corso non ha mi♯; suona fa; suona il "
            "pezzo una terza minore sopra",
            "Takt 1, Schlag 1, Tenor: die Stimmung „kurseigen“ hat kein Eis; es klingt F; spiele das Stück "
            "eine kleine Terz höher",
        ),
    ],
)
def test_a_note_without_a_key_is_told(
    note: str, tuning: str, english: str, italian: str, german: str
) -> None:
    assert told(tuning_warnings(score(tenor=note), read_tuning(tuning))) == [english, italian, german]


def test_a_tuning_of_a_courses_own_name_is_told_by_it() -> None:
    own = read_tuning("nave", {"nave": "0 76 193 310 386 503 579 697 773 890 1007 1083"})
    english, italian, german = told(tuning_warnings(score(tenor="Ab4"), own))
    assert english.startswith("bar 1, beat 1, tenor: nave has no A♭; G♯ sounds; ")
    assert "il temperamento nave non ha la♭" in italian and "die Stimmung „nave“ hat kein As" in german


def test_a_fifth_and_a_sixth_across_the_wolf_are_told() -> None:
    assert told(tuning_warnings(score(cantus="A4", bassus="D3"), TUNINGS["just"])) == [
        "bar 1, beat 1, cantus and bassus: D3–A4 (P12) is 22 cents too narrow in Just; choose another "
        "tuning or another place for the wolf",
        "battuta 1, tempo 1, canto e basso: re3–la4 (una quinta) è stretta di 22 cent nel temperamento "
        "giusto; scegli un altro temperamento o un altro posto per il lupo",
        "Takt 1, Schlag 1, Cantus und Bassus: d–a′ (eine Quinte) ist in der Stimmung „rein“ 22 Cent zu "
        "eng; wähle eine andere Stimmung oder einen anderen Platz für den Wolf",
    ]
    english, italian, german = told(tuning_warnings(score(cantus="D4", bassus="F3"), TUNINGS["just"]))
    assert "F3–D4 (M6) is 22 cents too wide in Just;" in english
    assert "fa3–re4 (una sesta) è larga di 22 cent nel temperamento giusto;" in italian
    assert "f–d′ (eine Sexte) ist in der Stimmung „rein“ 22 Cent zu weit;" in german


def test_a_note_off_the_keyboard_and_one_that_a_short_octave_lacks_are_told() -> None:
    assert told(keyboard_warnings(score(cantus="D6"))) == [
        "bar 1, beat 1, cantus: D6 lies off the keyboard (C2 to C6) and is silent; transpose, or write "
        "another octave",
        "battuta 1, tempo 1, canto: re6 sta fuori della tastiera (da do2 a do6) e tace; trasporta, o scrivi "
        "un’altra ottava",
        "Takt 1, Schlag 1, Cantus: d‴ liegt außerhalb der Klaviatur (C bis c‴) und bleibt stumm; "
        "transponiere, oder schreibe eine andere Oktave",
    ]
    assert told(keyboard_warnings(score(bassus="D3 F#2"), short_octave=True)) == [
        "bar 2, beat 1, bassus: a short octave has no F♯2; F♯3 sounds; take the octave in another voice, or "
        "a full keyboard",
        "battuta 2, tempo 1, basso: l’ottava corta non ha fa♯2; suona fa♯3; prendi l’ottava in un’altra "
        "voce, o una tastiera intera",
        "Takt 2, Schlag 1, Bassus: eine kurze Oktave hat kein Fis; es klingt fis; nimm die Oktave in einer "
        "anderen Stimme, oder eine volle Klaviatur",
    ]


@pytest.mark.parametrize("tuning", [*TUNINGS, "just, Ab for G#", "sixth-comma, split D# Ab"])
def test_whatever_is_asked_of_a_tuning_can_be_told_in_every_language(tuning: str) -> None:
    lines = "C4 G#4", "D#5 Eb5", "A4 E#4", "Db3 D3"
    asked = score(**dict(zip(("cantus", "altus", "tenor", "bassus"), lines)))
    found = tuning_warnings(asked, read_tuning(tuning))
    assert bool(found) == (tuning != "equal")
    for phrase in found:
        texts = {re.sub(r"\([^)]*\)", "", said(phrase, language)) for language in languages()}
        assert len(texts) == len(languages())
        assert all("{" not in text and "Phrase" not in text for text in texts)


def test_the_tuner_names_the_key_once() -> None:
    both, split = (
        missing(map(Pitch.parse, notes), TUNINGS["quarter-comma"])[-1]
        for notes in (("D#4", "G4"), ("Eb4", "D#4"))
    )
    own = read_tuning("0 76 193 310 386 503 579 697 773 890 1007 1083")
    (none,) = missing(map(Pitch.parse, ("Ab4", "G#4")), own)
    assert "als Dis (`quarter-comma, D# for Eb`), oder teile sie (" in said(advice(both), "de")
    assert said(advice(split), "de").startswith("teile diese Taste (`quarter-comma, split D#`)")
    assert [said(advice(none), language) for language in ("en", "it", "de")] == [
        "choose another tuning, or write another note",
        "scegli un altro temperamento, o scrivi un’altra nota",
        "wähle eine andere Stimmung, oder schreibe einen anderen Ton",
    ]


@pytest.mark.parametrize("language", languages())
def test_every_move_that_the_tuner_advises_has_words(language: str) -> None:
    for words, _ in _SHIFTS:
        text = said(Phrase.of("move", asked=words), language)
        assert (words in text) == (language == "en")
