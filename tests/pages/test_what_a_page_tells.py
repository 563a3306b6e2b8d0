"""Facts, bars in words and music of a page: each asked for what it says of a verset that stands here."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import pytest

from builder.analysis import Step
from builder.counterpoint import Finding, Phrase
from builder.language.texts import page_texts
from builder.music import Figure, FigureSign, Note, Part, Pitch, Place, Score, Version
from builder.pages import facts
from builder.pages.practice import BESIDE, WIDTHS, Stretch, practice
from builder.pages.side_by_side import distinct, side_by_side, sounded
from builder.pages.told import bar_told, note_name, told
from builder.setting.setting import Setting, set_verset
from builder.source import parse

EN, IT, DE = page_texts("en"), page_texts("it"), page_texts("de")
SOURCE = """---
title: Two parts
verset:
  metre: C
  signature: Bb
  tone: 1
  tuning: just
  readings:
    - {bar: 4, voice: cantus, source: "F without sharp", adopted: "F sharp"}
    - {bar: 2, source: "a", adopted: "b"}
---

```given
cantus C1 | G5/2 D5/4. E5/8 | F5/4 E5/4 D5/2
bassus F4 | D3/2 G2/4. A2/8 | Bb2/4{6} A2/4{7 #6} G2/2
bassus F4 | R/1 | C3/2{#/6} D3/2{4 -} | G2/1{b}
```
"""


@pytest.fixture(scope="module")
def setting() -> Setting:
    return set_verset(parse(SOURCE))


def test_places_and_lists_in_words() -> None:
    assert facts.where(Place(3, Fraction(2)), EN) == "bar 3, beat 2"
    assert facts.where(Place(3, Fraction(7, 3)), EN) == "bar 3, beat 2 1/3"
    assert [facts.listed(items, EN) for items in ((), "a", "ab", "abc")] == ["", "a", "a and b", "a, b and c"]
    assert facts.listed(iter("ab"), IT) == "a e b" and facts.voice("bassus", IT) == "basso"


def test_a_stretch_is_told_by_bars_or_by_beats(setting: Setting) -> None:
    verset = setting.verset
    spans = {
        (0, 4): "bar 1",
        (4, 8): "bar 2",
        (4, 12): "bars 2 to 3",
        (1, 4): "bar 1, beat 2, to bar 1, beat 4",
        (0, 3): "bar 1, beat 1, to bar 1, beat 3",
        (2, 10): "bar 1, beat 3, to bar 3, beat 2",
    }
    for (start, end), text in spans.items():
        assert facts.bars(verset, Fraction(start), Fraction(end), EN) == text
    half = facts.bars(verset, Fraction(0), Fraction(7, 2), EN)
    assert half == "bar 1, beat 1, to bar 1, beat 4"


def step(name: str, kind: str = "entry", start: int = 0, voices: tuple[str, ...] = ("cantus",)) -> Step:
    t = Fraction(start)
    place = Place(1, Fraction(1))
    return Step(name, kind, t, t, t + 4, voices, place, place)  # type: ignore[arg-type]


def test_a_step_is_called_after_who_enters_or_which_cadence() -> None:
    both = ("cantus", "altus")
    assert facts.step_title(step("cantus"), EN) == "Cantus alone"
    assert facts.step_title(step("cantus", start=4), EN) == "Cantus enters"
    assert facts.step_title(step("altus", voices=both), EN) == "Altus enters"
    assert facts.step_title(step("altus-2", voices=both), EN) == "Altus again"
    assert facts.step_title(step("cadence", "cadence"), EN) == "The cadence"
    assert facts.step_title(step("cadence-2", "cadence"), EN) == "The cadence, part 2"
    assert facts.step_title(step("altus", voices=both), IT) == "Entrata: alto"


def test_the_overview_tells_what_was_found(setting: Setting) -> None:
    found = facts.overview(setting, EN)
    assert {k: found[k] for k in ("final", "voices", "metre", "length", "theme", "tuning")} == {
        "final": "G",
        "voices": "2 (cantus, bassus)",
        "metre": "C",
        "length": "7 bars, about 15 s",
        "theme": "6 notes, G5 D5 E5 F5 E5 D5",
        "tuning": "Just, A at 440 Hz",
    }
    assert found["readings"] == [
        "Bar 4, cantus: source F without sharp; adopted F sharp.",
        "Bar 2: source a; adopted b.",
    ]
    assert [e["head"] for e in found["entries"]] == [
        "Cantus, bar 1, beat 1: G5 in clef C1",
        "Bassus, bar 3, beat 1: D3 in clef F4",
    ]
    assert [e["kind"] for e in found["entries"]] == ["theme", "tonal answer"]
    assert found["entries"][1]["evidence"] == setting.analysis.entries[1].evidence
    assert [(c["head"], c["kind"]) for c in found["cadences"]] == [("Bar 4, beat 3, on G", "composta")]
    assert found["cadences"][0]["evidence"] == setting.analysis.cadences[0].evidence
    assert found["warnings"] == list(setting.warnings("en")) and found["warnings"]
    assert found["registration"].startswith("principale, ottava and flauto (the tone is grave")


def test_the_tone_is_told_with_its_evidence_and_the_one_beside_it(setting: Setting) -> None:
    tone = facts.overview(setting, EN)["tone"]
    chosen = setting.analysis.chosen
    assert chosen is not None and tone["name"] == "first tone"
    assert tone["evidence"][: len(chosen.told)] == list(chosen.told)
    assert tone["evidence"][-1] == "as the source says"
    other = next(t for t in setting.analysis.tones if t.tone != 1)
    reasons = "; ".join(other.told)
    likelier = setting.analysis.tones[0].tone != 1
    name = {2: "second", 3: "third"}.get(other.tone, "")
    head = f"The music speaks for the {name} tone" if likelier else f"Near it: the {name} tone"
    assert tone["second"] == f"{head} ({reasons})."
    unsaid = replace(setting, verset=replace(setting.verset, tone=None))
    assert "as the source says" not in facts.overview(unsaid, EN)["tone"]["evidence"]
    split = SimpleNamespace(tone=1, told=("for",), against=("one", "two"))
    analysis = SimpleNamespace(tone=1, chosen=split, tones=[split])
    only = facts._tone(SimpleNamespace(analysis=analysis, verset=unsaid.verset), EN)  # type: ignore[arg-type]
    assert only == {"name": "first tone", "evidence": ["for", "against it: one and two"], "second": ""}
    analysis = SimpleNamespace(tone=1, chosen=None, tones=[])
    none = facts._tone(SimpleNamespace(analysis=analysis, verset=unsaid.verset), EN)  # type: ignore[arg-type]
    assert none == {"name": "first tone", "evidence": [], "second": ""}
    unlikely = replace(
        setting.analysis, tones=tuple(sorted(setting.analysis.tones, key=lambda t: t.tone != 1))
    )
    near = facts._tone(SimpleNamespace(analysis=unlikely, verset=setting.verset), EN)  # type: ignore[arg-type]
    assert near["second"].startswith("Near it: ")


def test_the_lead_of_a_step_says_who_enters_and_what_is_added(setting: Setting) -> None:
    alone, enters, close = (
        next(s for s in setting.analysis.steps if s.name.partition("-")[0] == name)
        for name in ("cantus", "bassus", "cadence")
    )
    assert facts.lead(setting, alone, EN).startswith("The cantus has the theme by itself.")
    told = facts.lead(setting, enters, EN)
    assert told.startswith(
        "The bassus enters on D3 in clef F4: tonal answer, all 6 notes, two octaves and a fifth"
    )
    assert told.endswith("Above it you supply: cantus.")
    assert facts.lead(setting, replace(enters, voices=("bassus",)), EN).endswith(
        "The voices below fall silent and nothing sounds above it."
    )
    assert facts.lead(setting, replace(alone, start=Fraction(1), onset=Fraction(1)), EN) == ""
    assert facts.lead(setting, replace(enters, name="altus"), EN) == ""
    assert facts.lead(setting, replace(enters, name="bassus-2"), EN) == told
    cadence = setting.analysis.cadences[0]
    inside = replace(close, start=cadence.onset - 1, end=cadence.onset + 1)
    assert facts.lead(setting, inside, EN) == (
        f"Bar 4, beat 3: the line comes to a cadence on G (composta): {cadence.evidence}."
    )
    for start, end in ((cadence.onset, cadence.onset + 2), (cadence.onset - 2, cadence.onset)):
        outside = replace(close, start=start, end=end)
        assert facts.lead(setting, outside, EN) == "The line comes to its close."


def test_the_table_above_the_line_has_a_row_for_each_sonority(setting: Setting) -> None:
    made = facts.sonorities(setting, Fraction(8), Fraction(16), EN)
    assert set(made) == {"above", "sonorities", "supplied"}
    assert made["above"] == ["cantus", "bassus"] and made["supplied"] is True
    rows = made["sonorities"]
    assert rows[0]["where"] == "bar 3, beat 1" and rows[0]["bass"] == "D3"
    figured = {r["where"]: (r["figures"], r["bass"]) for r in rows}
    assert figured["bar 4, beat 1"] == ("6", "B♭2") and figured["bar 4, beat 2"] == ("7", "A2")
    assert figured["bar 4, beat 2 1/2"] == ("♯6", "A2") and figured["bar 4, beat 3"][0] == ""
    sounding = {s.onset: s for s in setting.realisation.sonorities}
    for row, (onset, sonority) in zip(rows, [x for x in sounding.items() if 8 <= x[0] < 16], strict=True):
        assert row["where"] == facts.where(setting.verset.place(onset), EN)
        by = dict(sonority.voices)
        assert row["voices"] == [EN.written(by[v]) if v in by else "" for v in ("cantus", "bassus")]
        assert row["full"].endswith("*") == (sonority.supplied == "editor")
        assert row["full"].rstrip("*") == EN.as_written_row(sonority.full)
    source = replace(
        setting.realisation, sonorities=tuple(s for s in sounding.values() if s.supplied == "source")
    )
    assert (
        facts.sonorities(replace(setting, realisation=source), Fraction(8), Fraction(16), EN)["supplied"]
        is False
    )
    # A sonority that sounds into the stretch belongs to it; one that begins at its end does not.
    long = next(s for s in sounding.values() if s.duration > 1)
    inside = facts.sonorities(setting, long.onset + 1, long.onset + long.duration, EN)["sonorities"]
    assert inside and inside[0]["where"] == facts.where(setting.verset.place(long.onset), EN)


def finding(rule: str, onset: int, **more: Any) -> Finding:
    chosen = {"severity": "error", "voices": ("cantus", "bassus"), **more}
    base = Finding.__dataclass_fields__
    known = {k: v for k, v in chosen.items() if k in base}
    return SimpleNamespace(  # type: ignore[return-value]
        rule=rule, onset=Fraction(onset), place=Place(1 + onset // 4, Fraction(1)), **known
    )


def test_a_finding_is_told_with_its_rule_its_link_and_its_mend() -> None:
    def told_as(met: str, mend: str, reason: str) -> Any:
        found = finding("parallel-fifths", 4)
        found.told = lambda language: (met, mend, reason)  # type: ignore[attr-defined]
        return found

    rows = [
        told_as("Parallel fifths: cantus over bassus.", "Move one.", ""),
        told_as("Parallel fifths: here\nand there.", "Move one.", "so it was."),
        told_as("Something.", "", ""),
    ]
    end = SimpleNamespace(onset=Fraction(8))
    setting = SimpleNamespace(
        findings=[(Version.PLAIN, f) for f in rows], verset=SimpleNamespace(end=Fraction(8))
    )
    one, two, three = facts.findings(setting, Fraction(4), Fraction(8), EN, "r.md")  # type: ignore[arg-type]
    assert one == {
        "where": "Bar 2, beat 1",
        "version": "plain",
        "voices": "cantus and bassus",
        "rule": "Parallel fifths",
        "link": "r.md#parallel-fifths",
        "severity": "error",
        "message": "cantus over bassus. Move one.",
    }
    assert two["message"] == "here and there. Allowed: so it was."
    assert three["message"] == "Something."
    (_, bare, _) = facts.findings(setting, Fraction(0), Fraction(5), EN, "")  # type: ignore[arg-type]
    assert bare["link"] == ""
    assert facts.findings(setting, Fraction(5), Fraction(8), EN, "") == []  # type: ignore[arg-type]
    assert facts.findings(setting, Fraction(0), Fraction(4), EN, "") == []  # type: ignore[arg-type]
    last = told_as("x", "", "")
    last.onset = end.onset
    setting.findings = [(Version.DIMINISHED, last)]
    (row,) = facts.findings(setting, Fraction(4), Fraction(8), IT, "")  # type: ignore[arg-type]
    assert row["voices"] == "canto e basso" and row["version"] == IT("versions.diminished")
    setting.verset.end = Fraction(12)
    assert facts.findings(setting, Fraction(4), Fraction(8), EN, "") == []  # type: ignore[arg-type]


def test_a_grace_is_told_with_its_plain_notes_its_notes_and_its_reason(setting: Setting) -> None:
    def note(at: int, pitch: str | None) -> Note:
        return Note(Fraction(at), Fraction(1), Pitch.parse(pitch) if pitch else None)

    plain = note(8, "A4")
    reason = Phrase.of("x")
    choice = SimpleNamespace(
        onset=Fraction(8), voice="cantus", plain=plain, replaced=(), notes=(), reason=None
    )
    rows = [
        choice,
        SimpleNamespace(**{**vars(choice), "notes": (note(8, "A4"), note(9, None)), "onset": Fraction(10)}),
        SimpleNamespace(**{**vars(choice), "replaced": (plain, note(9, "B4")), "onset": Fraction(12)}),
    ]
    fake = SimpleNamespace(diminution=SimpleNamespace(choices=rows), verset=setting.verset)
    one, two = facts.graces(fake, Fraction(8), Fraction(12), EN)  # type: ignore[arg-type]
    assert one == {"where": "bar 3, beat 1", "voice": "cantus", "plain": "A4", "notes": "–", "why": ""}
    assert two["notes"] == "A4 –" and two["where"] == "bar 3, beat 3"
    (three,) = facts.graces(fake, Fraction(11), Fraction(13), EN)  # type: ignore[arg-type]
    assert three["plain"] == "A4 B4" and reason
    for choice in setting.diminution.choices[:3]:
        if choice.reason:
            (row, *_) = facts.graces(setting, choice.onset, choice.onset + Fraction(1, 8), EN)
            assert row["why"].endswith(".") and row["why"][0].isupper()


def test_an_index_tells_tone_voices_last_cadence_and_length(setting: Setting) -> None:
    found = facts.summary(setting, EN)
    assert dict(found) == {
        "tone": "first tone",
        "voices": "2 (cantus, bassus)",
        "cadence": "composta",
        "length": "7 bars, about 15 s",
    }
    without = replace(setting, analysis=replace(setting.analysis, cadences=()))
    assert facts.summary(without, EN)["cadence"] == "" and facts.overview(without, EN)["cadences"] == []
    free = tuple(replace(e, kind="free") for e in setting.analysis.entries)
    loose = replace(setting, analysis=replace(setting.analysis, entries=free))
    assert facts.overview(loose, EN)["theme"] == "no theme comes back"


# --- every bar in words


def test_bars_are_told_with_figures_entries_and_silence(setting: Setting) -> None:
    html = told(setting.verset, {}, (Version.GIVEN,), Fraction(0), setting.verset.end, EN)
    head = '<details class="verset-told"><summary>The bars in words</summary><ul>'
    assert html.startswith(head) and html.endswith("</ul></details>")
    assert re.findall("<li>(.*?)</li>", html) == [
        "Bar 1: cantus enters on G, then D, E.",
        "Bar 2: cantus has F, E, D.",
        "Bar 3: bassus enters on D, then G, A.",
        "Bar 4: bassus has B♭ (6), A (7, then raised 6), G.",
        "Bar 5: silence.",
        "Bar 6: bassus enters on C (raised third 6), then D (4, then held).",
        "Bar 7: bassus has G (lowered third).",
    ]


def sung(*notes: tuple[float, float, str], tied: tuple[int, ...] = ()) -> tuple[Note, ...]:
    return tuple(
        Note(Fraction(at), Fraction(length), Pitch.parse(pitch), tied=n in tied)
        for n, (at, length, pitch) in enumerate(notes)
    )


def scores(setting: Setting, plain: tuple[Note, ...], other: tuple[Note, ...]) -> dict[Version, Score]:
    base = setting.scores[Version.PLAIN]
    bass = base.part("bassus")
    return {
        Version.PLAIN: replace(base, parts=(Part("cantus", plain), bass)),
        Version.DIMINISHED: replace(base, parts=(Part("cantus", other), bass)),
    }


def test_what_stands_above_is_told_and_where_the_diminished_differs(setting: Setting) -> None:
    verset = setting.verset
    plain = sung((8, 2, "F5"), (10, 2, "G5"), (12, 1, "G5"), (13, 3, "C#5"), tied=(1,))
    same = sung((8, 2, "F5"), (10, 2, "G5"), (12, 1, "G5"), (13, 2, "C#5"), (15, 1, "D5"), tied=(1,))
    made = scores(setting, plain, same)
    both = (Version.GIVEN, Version.PLAIN, Version.DIMINISHED)
    assert bar_told(verset, made, both, verset.bars[2], EN) == (
        "Bar 3: bassus enters on D, then G, A; above it cantus F, G."
    )
    assert bar_told(verset, made, both, verset.bars[3], EN) == (
        "Bar 4: bassus has B♭ (6), A (7, then raised 6), G; above it cantus holds G, C♯; "
        "diminished, cantus holds G, C♯, D."
    )
    assert bar_told(verset, made, (Version.DIMINISHED,), verset.bars[2], EN).endswith(
        "; diminished, cantus F, G."
    )
    assert "above" not in bar_told(verset, made, (Version.GIVEN, Version.DIMINISHED), verset.bars[2], EN)
    tied = sung((12, 1, "G5"), (13, 1, "G5"), (14, 2, "F5"), tied=(0,))
    assert "above it cantus G, F." in bar_told(
        verset, scores(setting, tied, tied), (Version.PLAIN,), verset.bars[3], EN
    )
    # Notes of the given line are not told again among those above it.
    assert "above" not in bar_told(
        verset, {Version.PLAIN: verset.score()}, (Version.PLAIN,), verset.bars[3], EN
    )


def test_signs_of_figures_are_told_as_they_change_the_note(setting: Setting) -> None:
    from builder.pages.told import _sign

    said = [(FigureSign(6), "6"), (FigureSign(6, "#"), "raised 6"), (FigureSign(7, "b"), "lowered 7")]
    said += [(FigureSign(4, "n"), "natural 4")]
    for sign, text in said:
        assert _sign(sign, EN) == text
    lone = next(s for f in setting.verset.figures for s in f.signs if s.lone)
    assert _sign(lone, EN) in ("raised third", "lowered third")
    assert isinstance(setting.verset.figures[0], Figure)


def test_notes_are_named_in_the_language_of_the_page() -> None:
    note = Note(Fraction(0), Fraction(1), Pitch.parse("F#4"))
    assert [note_name(note, w) for w in (EN, IT, DE)] == ["F♯", "fa♯", "Fis"]


# --- the music of a page and its player


def music_of(html: str) -> list[str]:
    return re.findall(
        r'<figure class="(verset-music[\w -]*)" data-version="([\w-]+)"(.*?)><figcaption>', html
    )


def test_a_page_has_its_versions_its_player_its_exercise_and_its_bars_in_words(setting: Setting) -> None:
    assert WIDTHS == {"narrow": (340, 38), "wide": (690, 42)} and BESIDE == {"beside": (300, 34)}
    versions = (Version.GIVEN, Version.PLAIN, Version.DIMINISHED)
    audio = {Version.PLAIN: ["f/a.mp3"], Version.DIMINISHED_1: ["f/b.mp3"]}
    stretch = Stretch(Fraction(8), Fraction(16), versions)
    html = practice(setting, stretch, audio, EN, {Version.PLAIN: "A remark."})
    assert [(v, " hidden" in more) for _, v, more in music_of(html)] == [
        ("given", False),
        ("plain", False),
    ], "the diminished bars sound as the plain ones here"
    assert [c for c, *_ in music_of(html)] == ["verset-music", "verset-music verset-later"]
    assert html.count('<span class="verset-remark">A remark.</span>') == 1
    data = json.loads(re.search(r'verset-play">(.*?)</script>', html)[1])
    assert data["versions"] == ["given", "plain"] and data["first"] == "given"
    seconds = setting.tempo.seconds
    assert data["span"] == {"start": round(seconds(Fraction(8)), 4), "end": round(seconds(Fraction(16)), 4)}
    assert 'src="verset-root:f/a.mp3#t=' in html and "b.mp3" not in html
    names = data["names"]
    for version in data["versions"]:
        for part in setting.scores[version].excerpt(Fraction(8), Fraction(16)).parts:
            for note in part.notes:
                if note.pitch:
                    assert names[note.id] == note_name(note, EN)
    parts = ("verset-player", "The line in words", "verset-try", "The line and our setting in words")
    assert sorted(parts, key=html.index) == list(parts)
    assert html.count('aria-hidden="true" style="position:absolute"><defs>') == 1
    labels = re.findall(r"<figcaption>(.*?)(?:<|$)", html)
    assert labels[:2] == [
        "Two parts, given line, bars 3 to 4",
        "Two parts, plain, bars 3 to 4",
    ]
    articulated = data["play"]["versions"]["plain"]
    assert articulated and all(note[1] > note[0] for note in articulated)


def test_the_given_line_is_also_there_in_modern_clefs_and_ours_waits_only_for_an_exercise(
    setting: Setting,
) -> None:
    html = practice(setting, Stretch(Fraction(0), Fraction(8), (Version.GIVEN, Version.PLAIN)), {}, EN)
    found = music_of(html)
    assert [v for _, v, _ in found] == ["given", "given"], "the theme alone sounds as it is given"
    assert 'data-clefs="original"' in found[0][2] and 'data-clefs="modern" hidden' in found[1][2]
    page = json.loads(re.search(r'verset-play">(.*?)</script>', html)[1])
    assert "verset-try" not in html and page["first"] == "given"
    assert "verset-later" not in "".join(c for c, *_ in found)
    alone = practice(setting, Stretch(Fraction(0), Fraction(8), (Version.GIVEN,)), {}, EN)
    assert json.loads(re.search(r'verset-play">(.*?)</script>', alone)[1])["first"] == "given"
    whole = practice(setting, Stretch(Fraction(8), Fraction(16), (Version.PLAIN, Version.DIMINISHED)), {}, EN)
    assert [c for c, *_ in music_of(whole)] == ["verset-music"]
    assert "verset-try" not in whole and "verset-beside" not in whole
    only = practice(setting, Stretch(Fraction(8), Fraction(16), (Version.DIMINISHED,)), {}, EN)
    assert json.loads(re.search(r'verset-play">(.*?)</script>', only)[1])["first"] == "diminished"


# --- levels beside one another


def levelled(setting: Setting, *rows: tuple[Note, ...]) -> Any:
    """A setting whose levels have these notes in the cantus; the second is the one asked for."""
    base = setting.scores[Version.PLAIN]
    versions = (Version.DIMINISHED_1, Version.DIMINISHED, Version.DIMINISHED_3)
    made = {v: replace(base, version=v, parts=(Part("cantus", row),)) for v, row in zip(versions, rows)}
    diminutions = {n: object() for n in (1, 2, 3)}
    return SimpleNamespace(
        diminutions=diminutions,
        diminution=diminutions[2],
        scores={Version.PLAIN: base, **made},
        realisation=SimpleNamespace(score=base),
    )


def beats(start: int, count: int, each: str = "1") -> tuple[Note, ...]:
    length = Fraction(each)
    return tuple(Note(start + n * length, length, Pitch.parse("DEFG"[n % 4] + "5")) for n in range(count))


def test_the_two_bars_in_which_each_level_adds_most_stand_beside_one_another(setting: Setting) -> None:
    low = beats(0, 8, "4")
    mid = (*beats(0, 4, "2"), *beats(8, 10, "1"))
    high = (*beats(0, 4, "2"), *beats(8, 20, "1/2"))
    fake = levelled(setting, low, mid, high)
    found = side_by_side(fake, Fraction(0), Fraction(28))
    assert [level for level, _ in found] == [1, 2, 3]
    assert [[b.number for b in score.bars] for _, score in found] == [[3, 4]] * 3
    assert [len(score.parts[0].notes) for _, score in found] == [2, 8, 16]
    # In bars 1 and 2 the two upper levels sound alike, so that only two are left.
    first = side_by_side(fake, Fraction(0), Fraction(8))
    assert [level for level, _ in first] == [1, 2] and [b.number for b in first[0][1].bars] == [1, 2]
    assert side_by_side(fake, Fraction(0), Fraction(7)) == [] == side_by_side(fake, Fraction(1), Fraction(8))
    assert side_by_side(levelled(setting, low, low, low), Fraction(0), Fraction(28)) == []
    # A level with fewer notes than the one below it shows no growth.
    assert side_by_side(levelled(setting, mid, low, high), Fraction(8), Fraction(16)) == []


def test_versions_that_sound_like_one_before_are_left_out(setting: Setting) -> None:
    a, b = beats(0, 4), beats(0, 8, "1/2")
    fake = levelled(setting, a, a, b)
    assert distinct(fake.scores, Fraction(0), Fraction(4)) == (
        *(Version.PLAIN, Version.DIMINISHED_1, Version.DIMINISHED_3),
    )
    same = {Version.GIVEN: fake.scores[Version.DIMINISHED], Version.PLAIN: fake.scores[Version.DIMINISHED]}
    assert distinct(same, Fraction(0), Fraction(4)) == (Version.GIVEN, Version.PLAIN)


def test_what_is_heard_of_a_stretch_is_cut_at_its_ends(setting: Setting) -> None:
    (row,) = sounded(
        replace(setting.scores[Version.PLAIN], parts=(Part("cantus", beats(0, 3, "2")),)),
        Fraction(1),
        Fraction(4),
    )
    assert [(str(a), str(b), str(p)) for a, b, p in row] == [("1", "2", "D5"), ("2", "4", "E5")]
