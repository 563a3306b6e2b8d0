"""Why a voicing and not the next best, and how another setting differs: what is said is so."""

from dataclasses import replace
from fractions import Fraction

import pytest

from builder.analysis import analyse
from builder.counterpoint import Judge, Phrase, alternatives, differences, realise, reasons
from builder.counterpoint.search.costs import NAMES
from builder.counterpoint.search.realise import drawn_for
from builder.counterpoint.search.reasons import SAID, _told, _Way
from builder.language.texts import languages, texts
from builder.music import QUARTER_COMMA, Pitch
from builder.source import parse
from tests.counterpoint.search.test_best_paths import FRONT, small

LINE = (
    "cantus C1 | D5/1 \naltus C3 | A4/1 \nbassus F4 | D3/2 E3/2{6} | F3/2 G3/2 | A3/2 F3/2 | E3/2{6} D3/2 | "
    "A2/1{4 #} | D3/breve{#}"
)


def three(**costs):
    verset = parse(f"{FRONT}{LINE}\n```\n")
    verset = replace(verset, settings=replace(verset.settings, costs=costs))
    return verset, analyse(verset)


def told(verset, analysis, start=0, end=None):
    found = reasons(verset, analysis, (Fraction(start), verset.end if end is None else Fraction(end)))
    return [dict(phrase.values) for phrase in found]


def test_what_stands_is_ours_and_the_next_best_is_lawful_in_its_place():
    verset, analysis = three()
    first = realise(verset, analysis)
    errors = {(f.rule, f.onset) for f in first.findings if f.severity == "error"}
    found = told(verset, analysis)
    assert 0 < len(found) <= 3
    for values in found:
        sonority = next(s for s in first.sonorities if verset.place(s.onset) == values["place"])
        assert set(values["ours"]) <= set(sonority.voices)
        assert [v for v, _ in values["ours"]] == [v for v, _ in values["other"]]
        assert values["ours"] != values["other"]
        score = first.score
        for voice, pitch in values["other"]:
            score = sung_instead(score, voice, sonority, pitch)
        new = {
            (f.rule, f.onset) for f in Judge(verset, analysis).check(score).findings if f.severity == "error"
        }
        assert new <= errors


def sung_instead(score, voice, sonority, pitch):
    """The score in which a voice has another note while a sonority lasts."""
    notes = []
    start, end = sonority.onset, sonority.onset + sonority.duration
    for note in score.part(voice).notes:
        if note.end <= start or note.onset >= end:
            notes.append(note)
            continue
        if note.onset < start:
            notes.append(replace(note, duration=start - note.onset, tied=False))
        notes.append(replace(note, onset=start, duration=end - start, pitch=pitch, tied=False))
        if note.end > end:
            notes.append(replace(note, onset=end, duration=note.end - end))
    parts = (replace(p, notes=tuple(notes)) if p.voice == voice else p for p in score.parts)
    return replace(score, parts=tuple(parts))


@pytest.mark.parametrize(("cost", "key"), [("leap", "leaps"), ("register", "compass"), ("apart", "apart")])
def test_the_reason_is_the_cost_in_which_the_two_differ(cost, key):
    nothing = dict.fromkeys(NAMES, 0.0)
    found = told(*three(**{**nothing, cost: 6.0}))
    assert found
    assert {phrase.key for values in found for phrase in values["reasons"]} == {key}
    assert not told(*three(**nothing))


def test_a_place_where_the_next_best_costs_hardly_more_is_not_explained():
    assert not told(*three(**{**dict.fromkeys(NAMES, 0.0), "leap": 0.05}))


def test_a_cost_that_both_bear_alike_is_no_reason():
    verset, analysis = three()
    lattice = drawn_for(verset, analysis, QUARTER_COMMA).lattice
    here, there = (_Way([], [], {"unison": 5.0, "direct": direct}) for direct in (0.5, 2.5))
    assert _told(lattice, len(lattice.events) - 1, here, there, []) == ("direct", (Phrase("direct"),))
    assert _told(lattice, len(lattice.events) - 1, there, here, []) is None


def test_a_leap_is_told_with_the_notes_of_the_voice_that_would_make_it():
    verset, analysis = three(**{**dict.fromkeys(NAMES, 0.0), "leap": 6.0})
    for values in told(verset, analysis):
        (leap,) = (dict(phrase.values) for phrase in values["reasons"])
        assert abs(leap["last"].diatonic - leap["first"].diatonic) > 1
        assert leap["voice"] in dict(values["other"])
        assert dict(values["other"])[leap["voice"]] in (leap["first"], leap["last"])


def test_only_the_stretch_that_is_asked_for_is_explained():
    verset, analysis = three()
    places = {values["place"].bar for values in told(verset, analysis, 8, 16)}
    assert places <= {3, 4}


def moved(first, voice, by, onsets):
    """A realisation in which a voice has other notes at some times, by so many staff steps."""
    found = []
    for sonority in first.sonorities:
        shift = by if sonority.onset in onsets else 0
        voices = tuple(
            (v, Pitch(p.diatonic + shift) if v == voice and shift else p) for v, p in sonority.voices
        )
        found.append(replace(sonority, voices=voices))
    return replace(first, sonorities=tuple(found))


def said_of(voice, by, onsets, end=None):
    verset, analysis = three()
    first = realise(verset, analysis)
    other = moved(first, voice, by, onsets)
    return verset, first, other, differences(verset, first, other, (Fraction(8), end or verset.end))


def test_a_voice_that_rises_to_another_highest_note_is_said_to():
    verset, first, other, found = said_of("cantus", 7, {Fraction(14)})
    ((key, values),) = found
    values = dict(values)
    assert key == "rises" and values["voice"] == "cantus" and values["place"] == verset.place(Fraction(14))
    assert values["pitch"] == next(dict(s.voices)["cantus"] for s in other.sonorities if s.onset == 14)
    highest = (
        dict(s.voices)["cantus"] for s in first.sonorities if s.onset >= 8 and "cantus" in dict(s.voices)
    )
    assert values["before"] == max(highest, key=lambda p: p.midi)


def test_a_highest_note_one_step_higher_is_told():
    _, first, *_ = said_of("cantus", 0, set())
    over = [s for s in first.sonorities if s.onset >= 8 and "cantus" in dict(s.voices)]
    peak = max(over, key=lambda s: dict(s.voices)["cantus"].midi)
    *_, found = said_of("cantus", 1, {peak.onset})
    assert [phrase.key for phrase in found] == ["rises"]


def test_a_voice_that_lies_lower_to_the_end_is_said_to_from_where_it_does():
    verset, first, *_ = said_of("altus", 0, set())
    onsets = {s.onset for s in first.sonorities if s.onset >= 12}
    *_, found = said_of("altus", -2, onsets)
    assert [p.key for p in found] in (["lower"], ["stays-below"])
    if found[0].key == "lower":
        assert dict(found[0].values)["place"] == verset.place(Fraction(12))


def test_one_other_note_is_named_with_the_one_it_replaces_and_nothing_is_said_of_the_same_setting():
    verset, first, _, nothing = said_of("altus", 0, set())
    assert nothing == ()
    low = min(
        (s for s in first.sonorities if s.onset >= 8 and "altus" in dict(s.voices)),
        key=lambda s: dict(s.voices)["altus"].midi,
    )
    *_, found = said_of("altus", -1, {low.onset})
    before = dict(low.voices)["altus"]
    assert found == (
        Phrase.of(
            "instead",
            voice="altus",
            pitch=Pitch(before.diatonic - 1),
            before=before,
            place=verset.place(low.onset),
        ),
    )


def test_another_way_that_is_offered_is_told_in_every_language():
    verset, analysis = small("four voices")
    first, other = alternatives(verset, analysis, 2)
    found = differences(verset, first, other, (Fraction(0), verset.end))
    assert found
    sentences = {language: [texts("choice", language).said(p) for p in found] for language in languages()}
    assert len({tuple(s) for s in sentences.values()}) == len(languages())


def test_every_reason_has_words_in_every_language():
    for language in languages():
        known = texts("choice", language).texts
        assert set(SAID) <= set(known)
