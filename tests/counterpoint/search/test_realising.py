"""Setting versets: figures, suspensions, cadences, pins, licences, places where no way leads through."""

import itertools
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from builder.analysis import analyse
from builder.counterpoint import check, realise
from builder.music import notated
from builder.source import parse, read

CONTENT = sorted(Path(__file__).parents[3].glob("content/versets/*.md"))
FRONT = (
    "---\ntitle: Test\nverset:\n  metre: {metre}\n  signature: {signature}\n{more}---\n\n"
    "```given\n{given}\n```\n"
)


def set_in_voices(given, metre="C", signature="none", more="", blocks=""):
    text = FRONT.format(metre=metre, signature=signature, given=given, more=more) + blocks
    verset = parse(text)
    analysis = analyse(verset)
    return verset, analysis, realise(verset, analysis)


def sung(realisation, voice, start=0, end=10**6):
    notes = realisation.score.part(voice).sounding()
    return [n.pitch.name for n in notes if start <= n.onset < end]


def errors(realisation):
    return [f for f in realisation.findings if f.severity == "error" and not f.allowed]


FOUR = "cantus C1 | D5/1\naltus C3 | A4/1\ntenor C4 | F4/1\nbassus F4 | "


@pytest.mark.parametrize("path", CONTENT, ids=lambda p: p.stem)
def test_the_versets_of_the_course_are_set_without_a_fault(path):
    verset = read(path)
    found = realise(verset, analyse(verset))
    assert errors(found) == []


@pytest.mark.parametrize("path", CONTENT, ids=lambda p: p.stem)
def test_the_given_line_stays_as_written_and_lies_lowest(path):
    verset = read(path)
    found = realise(verset, analyse(verset))
    for given in verset.given:
        if given.note.pitch is None:
            continue
        note = found.score.part(given.voice).at(given.note.onset)
        assert note is not None and note.pitch == given.note.pitch
        for part in found.score.parts:
            other = part.at(given.note.onset)
            assert other is None or other.pitch.midi >= given.note.pitch.midi


@pytest.mark.parametrize("path", CONTENT, ids=lambda p: p.stem)
def test_the_setting_can_be_notated(path):
    verset = read(path)
    score = notated(realise(verset, analyse(verset)).score)
    assert all(n.id for p in score.parts for n in p.notes)


def test_the_given_line_may_go_back_up_while_the_lower_voices_fall_silent():
    given = FOUR + "D3/2 G3/2 | A3/1\ntenor C4 | F4/2 D4/2 | C4/1\nbassus F4 | A3/1 | D3/1"
    _, _, found = set_in_voices(given)
    assert errors(found) == []
    assert [n.onset for n in found.score.part("bassus").sounding()] == [12, 14, 16, 28, 32]
    assert sung(found, "tenor", 20, 28) == ["F4", "D4", "C4"]
    assert sung(found, "cantus", 20, 28)


def test_a_seventh_is_prepared_struck_and_falls_to_the_sixth_and_is_tied():
    _, _, found = set_in_voices("cantus C1 | A4/1\nbassus F4 | F3/2{6} E3/2{7 6} | D3/1")
    notes = found.score.part("cantus").sounding()
    held = next(n for n in notes if n.onset <= 6 < n.end)
    assert held.pitch.name.startswith("D") and held.onset < 6
    assert sung(found, "cantus", 7, 8)[0].startswith("C")


def test_a_chain_of_sevenths_falls_step_by_step():
    given = "cantus C1 | C5/1\nbassus F4 | A3/2 G3/2{7 6} | F3/2{7 6} E3/2{7 6} | D3/1"
    _, _, found = set_in_voices(given)
    assert errors(found) == []
    line = [n for n in found.score.part("cantus").sounding() if 6 <= n.onset < 12]
    assert [a.pitch.diatonic - b.pitch.diatonic for a, b in itertools.pairwise(line)] == [1] * (len(line) - 1)


def test_an_unfigured_note_takes_the_sixth_that_prepares_the_seventh_after_it():
    _, _, found = set_in_voices("cantus C1 | A4/1\nbassus F4 | A3/2. F3/4 | E3/2{7 6} D3/2 | D3/1")
    assert errors(found) == []
    (over_f,) = [s for s in found.sonorities if s.bass.name == "F3"]
    assert over_f.full == ("6", "3") and over_f.supplied == "editor"
    held = next(n for n in found.score.part("cantus").sounding() if n.onset <= 8 < n.end)
    assert held.pitch.letter == "D" and held.onset == 7


def test_a_passing_note_has_its_own_sonority_where_only_it_prepares_the_seventh():
    _, _, found = set_in_voices("cantus C1 | E5/1\naltus C3 | C4/2. D4/4 | C4/1{7 6} | D4/1", metre="C|")
    assert errors(found) == []
    held = next(n for n in found.score.part("cantus").sounding() if n.onset <= 8 < n.end)
    assert held.pitch.letter == "B" and held.onset == 7


def test_two_voices_leave_out_the_third_of_a_sixth_to_keep_the_note_that_becomes_a_fourth():
    given = "cantus C1 | C5/1\naltus C3 | E4/1\nbassus F4 | D3/2 B2/4{6} A2/4{6} | E3/1{4 3} | A3/1"
    _, _, found = set_in_voices(given)
    assert errors(found) == []
    last = [s for s in found.sonorities if s.bass.name == "A2"][-1]
    assert {p.letter for _, p in last.voices} == {"A", "F"}


def test_where_a_voice_enters_above_another_the_two_may_meet_and_leave_out_the_third():
    given = "cantus C1 | B4/1\naltus C3 | C4/2 A3/2\ntenor C4 | E4/2{6} D4/2 | E4/1"
    _, _, found = set_in_voices(given)
    assert errors(found) == []
    entered = dict(next(s for s in found.sonorities if s.onset == 8).voices)
    assert (entered["altus"].name, entered["cantus"].name) == ("E4", "C5")


def test_the_suspended_lower_voice_has_a_second_above_it():
    given = "cantus C1 | G4/1\nbassus F4 | C4/2 C4/4{2} B3/4{6} | C4/1"
    _, _, found = set_in_voices(given)
    assert errors(found) == []
    assert sung(found, "cantus", 6, 7)[-1:] in ([], ["D5"], ["D4"])
    assert found.score.part("cantus").at(Fraction(6)).pitch.letter == "D"


def test_a_double_suspension_of_ninth_and_seventh_resolves_in_both_voices():
    given = "cantus C1 | G4/1\naltus C3 | E4/1\ntenor C4 | C4/1\nbassus F4 | C3/2 D3/2{9/7 8/6} | C3/1"
    _, _, found = set_in_voices(given)
    at = {v: found.score.part(v).at(Fraction(14)).pitch for v in ("cantus", "altus", "tenor")}
    steps = {(p.diatonic - 22) % 7 for p in at.values()}
    assert {1, 6} <= steps
    assert errors(found) == []


def test_the_double_cadence_enters_its_fourth_by_step_and_only_there_is_it_licensed():
    _, analysis, found = set_in_voices(FOUR + "D3/2 G3/2{6} | A2/1{#:4 6/4:4 5/4:4 #:4} | D3/1")
    assert [c.kind for c in analysis.cadences][-1] == "doppia"
    assert errors(found) == []
    (fourth,) = [f for f in found.findings if f.rule == "fourth-by-step"]
    assert "double cadence" in fourth.allowed


def test_without_the_double_cadence_the_same_fourth_is_not_licensed():
    given = FOUR + "D3/2 E3/2{6} | F3/1{6/4:2 5/4:4 3:4} | C3/1"
    _, _, found = set_in_voices(given)
    assert any(
        f.rule in ("no-way", "fourth-by-step", "suspension-unprepared")
        for f in found.findings
        if not f.allowed
    )


def test_the_leading_note_is_raised_without_a_sign_and_rises():
    _, _, found = set_in_voices(FOUR + "D3/2 G3/2{6} | A3/1 | D3/1")
    last = [[n.pitch.letter for n in p.sounding()][-2:] for p in found.score.parts]
    assert ["C#", "D"] in last
    assert errors(found) == []


def test_the_last_third_is_major():
    _, _, found = set_in_voices(FOUR + "D3/2 G3/2{6} | A3/1 | D3/1")
    letters = {p.sounding()[-1].pitch.letter for p in found.score.parts}
    assert "F" not in letters


def test_figures_over_an_unfigured_line_are_the_editor_s():
    _, _, found = set_in_voices("cantus C1 | A4/1\nbassus F4 | A3/2 B3/2 | C4/1")
    assert {s.supplied for s in found.sonorities} == {"editor"}
    over_b = [s.full for s in found.sonorities if s.bass.name == "B3"]
    assert over_b in ([("6", "3")] * 2, [("7", "3"), ("6", "3")])


def test_written_figures_are_the_source_s():
    _, _, found = set_in_voices("cantus C1 | A4/1\nbassus F4 | F3/2{6} E3/2{7 6} | D3/1")
    assert [s.supplied for s in found.sonorities if s.figure] == ["source"] * 3


def test_a_short_unfigured_note_between_two_others_passes_under_the_held_sonority():
    _, _, found = set_in_voices("cantus C1 | A4/1\nbassus F4 | F3/4. E3/8 D3/2 | D3/1")
    over = [s for s in found.sonorities if s.bass.name in ("F3", "E3")]
    assert over[0].voices[0] == over[1].voices[0]


def test_a_passing_given_note_never_goes_above_the_voices_that_are_held_over_it():
    _, _, found = set_in_voices("cantus C1 | D5/1\naltus C3 | A4/1\ntenor C4 | C4/4. D4/8 E4/2 | D4/1")
    assert [s.supplied for s in found.sonorities if s.bass.name == "D4"][:1] == ["held"]
    assert not [f for f in found.findings if f.rule == "given-not-lowest"]
    pinned = "\n```plain\naltus 3 | C4/2 E4/2\n```\n"
    given = "cantus C1 | D5/1\naltus C3 | A4/1\ntenor C4 | C4/4. D4/8 E4/2 | D4/1"
    _, _, forced = set_in_voices(given, blocks=pinned)
    assert "given-not-lowest" in {f.rule for f in forced.findings}


def test_a_long_unfigured_line_is_given_suspensions_where_it_offers_them():
    given = "cantus C1 | A4/1\nbassus F4 | A3/2 G3/2 | F3/2 E3/2 | D3/2 C3/2 | D3/1"
    _, _, found = set_in_voices(given)
    assert any("suspension" in costs for costs in found.costs_by_bar.values())
    assert errors(found) == []


def test_pinned_notes_are_kept_and_the_rest_is_completed():
    given = "cantus C1 | D5/1\naltus C3 | A4/1\nbassus F4 | D3/1 | A3/1{#} | D3/1"
    _, _, found = set_in_voices(given, blocks="\n```plain\ncantus 3 | F5/2 D5/2\n```\n")
    assert sung(found, "cantus", 8, 12) == ["F5", "D5"]
    assert sung(found, "altus", 8, 12)
    assert not [f for f in found.findings if f.rule == "pin-changed"]


def test_a_note_set_by_hand_that_one_reading_of_an_unfigured_note_has_is_no_stranger_in_another():
    """A sixth set by hand over an unfigured E, which may prepare the seventh to come: no fifth beside it."""
    from builder.counterpoint.search.costs import Weights
    from builder.counterpoint.search.lattice import shape_of
    from builder.counterpoint.search.realise import lattice_of
    from builder.counterpoint.search.voicing import voicings

    given = "cantus C1 | C5/1\naltus C3 | A4/1\ntenor C4 | E4/1\nbassus F4 | E3/2 D3/2{7 6} | C3/1"
    verset, analysis, _ = set_in_voices(given, blocks="\n```plain\ncantus 4 | C5/1\n```\n")
    event = next(e for e in lattice_of(verset, analysis).events if e.bass.name == "E3" and e.pins)
    assert len(event.variants) > 1
    assert not (voicings(shape_of(event), Weights.of({})).number == 5).any()


def test_an_editorial_accidental_set_by_hand_stays_the_editor_s():
    given = "cantus C1 | D5/1\nbassus F4 | D3/1 | A3/1{#} | D3/1"
    _, _, found = set_in_voices(given, blocks="\n```plain\ncantus 3 | C(#)5/2 C#5/2\n```\n")
    signs = [n.editorial for n in found.score.part("cantus").sounding() if 8 <= n.onset < 12]
    assert signs == [True, False]


def test_what_a_pin_breaks_is_reported():
    given = "cantus C1 | D5/1\nbassus F4 | D3/2 E3/2{6} | D3/1"
    _, _, found = set_in_voices(given, blocks="\n```plain\ncantus 2 | A4/2 B4/2\n```\n")
    rules = {f.rule for f in found.findings if f.severity == "error"}
    assert {"parallel-fifths", "figure-not-sounded"} <= rules
    assert sung(found, "cantus", 4, 8) == ["A4", "B4"]


def test_where_no_way_leads_through_the_report_says_where_what_was_tried_and_what_would_help():
    given = "cantus C1 | G4/1\nbassus F4 | G3/1 | E3/1{4 3} | A3/1"
    _, _, found = set_in_voices(given)
    (finding,) = [f for f in found.findings if f.rule == "no-way"]
    assert str(finding.place) == "bar 3, beat 1"
    assert "suspension without preparation" in finding.message
    assert "A (4) cannot be held from G3, where it is a second" in finding.message
    assert "licence" in finding.mend or "figure" in finding.mend
    assert sung(found, "cantus", 4, 12), "the rest is still set"


def test_the_report_proposes_another_figure_over_the_note_before_where_that_opens_the_way():
    given = "cantus C1 | A4/1\nbassus F4 | D3/2. F3/4{6} | E3/1{4 3} | A3/1"
    _, _, found = set_in_voices(given)
    (finding,) = [f for f in found.findings if f.rule == "no-way"]
    assert "where it is a third, but no voice is free for it" in finding.message
    assert finding.mend.startswith("The figure none over F3 before it opens a way.")
    _, _, mended = set_in_voices(given.replace("{6}", ""))
    assert errors(mended) == []


def test_the_licence_that_the_report_proposes_opens_the_way_and_stays_in_the_report():
    given = "cantus C1 | A4/1\nbassus F4 | G3/1 | E3/1{4 3} | A3/1"
    rule, bar = "suspension-unprepared", 3
    more = f'  allow:\n    - {{rule: {rule}, bar: {bar}, because: "a stroke on purpose"}}\n'
    _, _, found = set_in_voices(given, more=more)
    assert not [f for f in found.findings if f.rule == "no-way"]
    silenced = [f for f in found.findings if f.allowed == "a stroke on purpose"]
    assert [f.rule for f in silenced] == [rule] or not [f for f in found.findings if f.rule == rule]


def test_a_sonority_that_fits_nowhere_is_told_and_left_out():
    given = "cantus C1 | E5/1\naltus C3 | A4/1\ntenor C4 | F4/2 E4/2 | F4/1{9/7/5} | E4/1"
    _verset, _analysis, found = set_in_voices(given)
    assert isinstance(found.findings, tuple)
    assert found.score.part("tenor").sounding()[-1].pitch.name == "E4"


def test_weights_of_costs_can_be_changed_in_the_source():
    given = "cantus C1 | A4/1\nbassus F4 | D3/2 F3/2 | E3/2 G3/2 | A3/1"
    plain = set_in_voices(given)[2]
    still = set_in_voices(given, more="  costs: {leap: 30, stillness: 0}\n")[2]

    def leaps(found):
        line = found.score.part("cantus").sounding()
        return sum(abs(a.pitch.diatonic - b.pitch.diatonic) for a, b in itertools.pairwise(line))

    assert leaps(still) <= leaps(plain)
    assert plain.costs_by_bar != still.costs_by_bar


def test_a_teacher_s_own_voices_are_checked_by_the_same_rules_and_licences_give_their_reason():
    given = "cantus C1 | D5/1\nbassus F4 | D3/2 E3/2 | D3/1"
    blocks = "\n```plain\ncantus 2 | A4/2 B4/2\n```\n"
    more = '  allow:\n    - {rule: parallel-fifths, bar: 2, because: "to be heard once"}\n'
    verset, analysis, found = set_in_voices(given, more=more, blocks=blocks)
    fifths = [f for f in check(found.score, verset=verset, analysis=analysis) if f.rule == "parallel-fifths"]
    assert fifths and all(f.allowed == "to be heard once" for f in fifths)


@pytest.mark.parametrize("before", ["F3/2 G3/2", "F3/1 | G3/1"])
def test_a_ninth_that_is_prepared_is_held_on_as_a_fourth_where_the_bass_falls_a_third(before):
    """A over F, G and E, then G sharp: a suspension through two clashes (common practice)."""
    given = f"cantus C1 | A4/1\naltus C3 | C4/1\nbassus F4 | {before} | E3/1{{4 3}} | A3/1"
    _, _, found = set_in_voices(given)
    assert errors(found) == []
    line = [n for voice in ("cantus", "altus") for n in found.score.part(voice).sounding() if n.onset >= 8]
    assert any(n.pitch.letter == "A" and n.duration >= 4 for n in line)


def test_both_tones_of_a_tritone_leap_away_only_at_a_high_price():
    from builder.counterpoint.search.costs import Weights
    from builder.counterpoint.search.joints import Joint
    from builder.counterpoint.search.lattice import shape_of
    from builder.counterpoint.search.realise import lattice_of
    from builder.counterpoint.search.step_costs import Steps, named
    from builder.counterpoint.search.voicing import voicings

    given = "cantus C1 | D5/1\naltus C3 | A4/1\nbassus F4 | D3/2{6} E3/2 | C3/1"
    verset, analysis, _ = set_in_voices(given)
    cut = lattice_of(verset, analysis).events
    some = [next(e for e in cut if e.bass.name == name) for name in ("D3", "E3")]
    a, b = (voicings(shape_of(event), Weights.of({})) for event in some)

    def price(first, then):
        rows = [[row.tolist() for row in x.d].index(d) for x, d in ((a, first), (b, then))]
        steps = Steps.between(a, b, Joint(), *(np.array([row]) for row in rows))
        return named(steps, Weights.of({}).above(2))["awkward"][0]

    # B4 and F4 go to G4 and B3 (a diminished fifth besides), or F4 to E4.
    assert price([34, 31], [32, 27]) > price([34, 31], [32, 30]) + 12


def test_in_a_diminished_sonority_of_the_sixth_the_sixth_is_not_doubled():
    from builder.counterpoint.search.costs import Weights
    from builder.counterpoint.search.lattice import shape_of
    from builder.counterpoint.search.realise import lattice_of
    from builder.counterpoint.search.voicing import voicings

    given = "cantus C1 | C5/1\naltus C3 | A4/1\ntenor C4 | E4/1\nbassus F4 | C3/2 D3/2{6} | E3/1 | C3/1"
    verset, analysis, _ = set_in_voices(given)
    event = next(e for e in lattice_of(verset, analysis).events if str(e.bass.name) == "D3")
    found = voicings(shape_of(event), Weights.of({}))
    by_doubled = {n: found.cost[(found.number == n).sum(axis=1) == 2].min() for n in (3, 6)}
    assert by_doubled[6] > by_doubled[3] + 3
