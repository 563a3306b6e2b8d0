"""Two staves for two hands in MusicXML and MEI; tempo, version and date in both."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest
from course import course_setting

from builder.edition.exchange.mei import mei
from builder.edition.exchange.musicxml import given_musicxml, musicxml
from builder.edition.exchange.musicxml_keyboard import keyboard_musicxml
from builder.edition.imprint import Imprint
from builder.engraving.hands import crossings, hands
from builder.source.mei import parse_mei

NAMES = ("first", "fourth", "sixth", "eighth", "second")


def opened(name: str, version: str = "diminished") -> ET.Element:
    own = course_setting(name)
    return ET.fromstring(keyboard_musicxml(own.scores[version], tempo=own.verset.tempo))


@pytest.mark.parametrize("name", NAMES)
def test_every_bar_is_filled_by_each_of_its_streams(name: str) -> None:
    """MusicXML 4.0: `backup` takes the time back; each stream begins where the bar does."""
    score = course_setting(name).scores["diminished"]
    root = opened(name)
    unit = int(root.findtext(".//divisions") or 0)
    for bar, measure in zip(score.bars, root.iter("measure"), strict=True):
        now = 0
        for child in measure:
            length = int(child.findtext("duration") or 0)
            if child.tag == "backup":
                assert now == length == int(bar.length * unit)
                now = 0
            elif child.tag == "note":
                now += length
        assert now == int(bar.length * unit)


@pytest.mark.parametrize("name", NAMES)
def test_voices_stand_on_the_staves_that_the_print_gives_them(name: str) -> None:
    score = course_setting(name).scores["diminished"]
    share = hands(score)
    crossed = crossings(score, share)
    voices = [part.voice for part in score.parts]
    for bar, measure in zip(score.bars, opened(name).iter("measure"), strict=True):
        for note in measure.iter("note"):
            if note.find("pitch") is None:
                continue
            voice = int(note.findtext("voice") or 0)
            assert f"-{voices[voice - 1]}-" in note.get("id", "")
            upper = (voice <= share[bar.number]) != (note.get("id", "") in crossed)
            assert note.findtext("staff") == ("1" if upper else "2")


def test_two_voices_of_a_stave_have_their_stems_apart() -> None:
    seen = set()
    for measure in opened("first").iter("measure"):
        by_staff: dict[str, dict[str, set[str]]] = {}
        for note in measure.iter("note"):
            if note.find("pitch") is not None and (stem := note.findtext("stem")):
                staff, voice = note.findtext("staff") or "", note.findtext("voice") or ""
                by_staff.setdefault(staff, {}).setdefault(voice, set()).add(stem)
        for voices in by_staff.values():
            if len(voices) > 1:
                ordered = [voices[v] for v in sorted(voices)]
                assert ordered[-1] == {"down"} and all(stems == {"up"} for stems in ordered[:-1])
                seen.add(len(voices))
    assert seen


def test_the_figures_come_once_and_all() -> None:
    own = course_setting("eighth")
    root = ET.fromstring(keyboard_musicxml(own.scores["plain"]))
    numbers = [f.findtext("figure-number") for f in root.iter("figure") if f.findtext("figure-number")]
    expected = [str(s.number) for f in own.scores["plain"].figures for s in f.signs if not s.lone]
    assert sorted(numbers) == sorted(expected)


def test_mei_on_two_staves_has_header_figures_and_the_hand_of_the_editor() -> None:
    own = course_setting("eighth")
    text = mei(own.verset, own.scores["plain"], keyboard=True, by=Imprint(version="1.2.0"))
    assert text.count("<staffDef ") == 2 and 'symbol="brace"' in text
    assert "<edition>1.2.0</edition>" in text and 'resp="#editor"' in text and "<fb>" in text
    assert '<app xml:id="app-1"' in text


def test_the_tempo_stands_in_the_music_and_is_read_from_there() -> None:
    own = course_setting("sixth")
    text = mei(own.verset, own.scores["given"])
    assert re.search(r'<tempo tstamp="1" staff="1" place="above" mm="84" mm.unit="2"', text)
    bare = re.sub(r"<extMeta>.*?</extMeta>", "", text, flags=re.DOTALL)
    assert parse_mei(bare.encode()).tempo == own.verset.tempo


def test_an_edition_says_its_version_and_a_dated_one_its_day(monkeypatch: pytest.MonkeyPatch) -> None:
    own = course_setting("sixth")
    for write in (musicxml, keyboard_musicxml):
        monkeypatch.delenv("SOURCE_DATE_EPOCH", raising=False)
        undated = write(own.scores["plain"], edition="1.2.0")
        assert '<miscellaneous-field name="edition">1.2.0</miscellaneous-field>' in undated
        assert "encoding-date" not in undated
        monkeypatch.setenv("SOURCE_DATE_EPOCH", "1750000000")
        assert "<encoding-date>2025-06-15</encoding-date>" in write(own.scores["plain"])


@pytest.mark.parametrize("keyboard", [False, True])
def test_mei_too_says_version_and_day_and_an_undated_one_no_day(
    monkeypatch: pytest.MonkeyPatch, keyboard: bool
) -> None:
    own = course_setting("first")
    monkeypatch.delenv("SOURCE_DATE_EPOCH", raising=False)
    by = Imprint(version="1.2.0")
    undated = mei(own.verset, own.scores["plain"], by=by, keyboard=keyboard)
    assert "<edition>1.2.0</edition>" in undated and "isodate" not in undated and "1980" not in undated
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1750000000")
    assert 'isodate="2025-06-15"' in mei(own.verset, own.scores["plain"], by=by, keyboard=keyboard)
    text = given_musicxml(own.verset, own.scores["given"], edition="1.2.0")
    assert text.index('name="edition"') < text.index('name="verset"')
