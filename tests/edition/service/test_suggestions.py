"""A Magnificat or a Mass is suggested from the versets of a course, at the pitch of the choir."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import pytest

from builder.analysis import analyse
from builder.edition.service.order import Played, Sung, parse_order
from builder.edition.service.plan import plan
from builder.edition.service.suggest import as_text, own_reciting, suggest, unfinished
from builder.language.texts import edition_texts
from builder.setting.transpose import transpose
from builder.source import SourceErrors, Verset, read
from builder.source.errors import Faults

CONTENT = Path(__file__).parents[3] / "content"
LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


@dataclass(frozen=True)
class Known:
    verset: Verset
    tone: int


@pytest.fixture(scope="module")
def known() -> dict[str, Known]:
    paths = (*CONTENT.glob("versets/*.md"), *CONTENT.glob("tones/*.md"))
    versets = [read(path) for path in sorted(paths)]
    return {v.name: Known(v, v.tone or analyse(v).tone) for v in versets}


def order(keys: str):
    return parse_order(f"---\ntitle: A\nservice:\n  suggest: {{{keys}}}\n---\n", "a.md")


def items(keys: str, known: dict[str, Known]) -> tuple[Sung | Played, ...]:
    wanted = order(keys).wanted
    assert wanted
    return suggest(wanted, known, edition_texts("en"), Faults("a.md"))[0]


def key(letter: str) -> int:
    return (LETTERS[letter[0]] + letter.count("#") - letter.count("b")) % 12


@pytest.mark.parametrize("tone", range(1, 9))
@pytest.mark.parametrize("first", ["organ", "choir"])
def test_the_twelve_verses_of_the_magnificat_go_in_turn(
    tone: int, first: str, known: dict[str, Known]
) -> None:
    verses = items(f"of: magnificat, tone: {tone}, first: {first}", known)
    assert [isinstance(v, Played) for v in verses] == [(n % 2 == 0) == (first == "organ") for n in range(12)]
    played = [v for v in verses if isinstance(v, Played)]
    assert {known[v.verset].tone for v in played} == {tone}
    there = sum(k.tone == tone for k in known.values())
    assert max(Counter(v.verset for v in played).values()) - 6 // there <= 1, "none more often than it must"
    assert all(one.verset != two.verset for one, two in pairwise(played))


def test_the_organ_masses_have_five_kyries_nine_verses_of_the_gloria_and_two_agnus(
    known: dict[str, Known],
) -> None:
    """Couperin 1690, Frescobaldi 1635: from memory."""
    verses = items("of: mass, tone: 1, gloria: 4, sanctus: 8, agnus: 6", known)
    parts = Counter(v.part for v in verses if isinstance(v, Played))
    assert parts == {"Kyrie": 5, "Gloria": 9, "Sanctus": 3, "Agnus": 2}
    assert [v.instead for v in verses if isinstance(v, Played) and v.part == "Gloria"] == [
        "Et in terra pax",
        "Benedicimus te",
        "Glorificamus te",
        "Domine Deus, Rex caelestis",
        "Domine Deus, Agnus Dei",
        "Qui tollis, suscipe",
        "Quoniam tu solus sanctus",
        "Tu solus Altissimus",
        "Amen",
    ]
    tones = {v.part: known[v.verset].tone for v in verses if isinstance(v, Played)}
    assert tones == {"Kyrie": 1, "Gloria": 4, "Sanctus": 8, "Agnus": 6}


@pytest.mark.parametrize("tone", range(1, 9))
@pytest.mark.parametrize("reciting", ["F", "G", "A", "Bb"])
def test_every_verset_is_moved_until_its_reciting_note_is_the_choirs(
    tone: int, reciting: str, known: dict[str, Known]
) -> None:
    """Reckoned here from the close: the reciting note stands as far above the close as in the table."""
    above = {1: 7, 2: 3, 3: 8, 4: 5, 5: 7, 6: 4, 7: 5, 8: 5}  # semitones, ours first; from memory
    try:
        verses = items(f"of: magnificat, tone: {tone}, reciting: {reciting}", known)
    except SourceErrors:
        pytest.fail("some verset suits")
    for verse in verses:
        if isinstance(verse, Sung):
            assert verse.begins == reciting
            continue
        there = transpose(known[verse.verset].verset, verse.interval)
        close = next(g.note.pitch.letter for g in reversed(there.given) if g.note.pitch)
        assert (key(close) + above[tone]) % 12 == key(reciting) or tone in (5, 7)
        assert own_reciting(known[verse.verset].verset, tone)
        assert abs(verse.interval.semitones) <= 5


def test_the_longest_comes_first_and_the_fullest_last(known: dict[str, Known]) -> None:
    played = [v.verset for v in items("of: magnificat, tone: 1", known) if isinstance(v, Played)]
    assert played[0] == "first-long"
    assert {g.voice for g in known[played[-1]].verset.given} == {"cantus", "altus", "tenor", "bassus"}
    voices = [len({g.voice for g in known[name].verset.given}) for name in played]
    assert sum(one == two for one, two in pairwise(voices)) <= 1


def test_what_is_hard_at_the_choirs_pitch_keeps_a_verset_back_and_is_told(known: dict[str, Known]) -> None:
    service = plan(order("of: magnificat, tone: 1, reciting: G"), known)
    names = Counter(row.verset for row in service.rows if row.verset)
    assert names["first"] < names["first-long"]
    assert any(told.startswith("first (a tone lower): the tuning has no A♭") for told in service.warnings)
    assert any("verses of the organ 6, versets of the course 3" in told for told in service.warnings)


def test_the_plan_has_the_suggestion_with_times_and_notes(known: dict[str, Known]) -> None:
    service = plan(order("of: magnificat, tone: 1, minutes: 0.5"), known)
    assert len(service.rows) == 12
    assert service.rows[0].takes == "A, a fifth above the close"
    assert float(service.minutes) > 3 + 6 * 0.3


def test_between_parts_nothing_need_meet_and_what_comes_often_is_told_once(known: dict[str, Known]) -> None:
    told = plan(order("of: mass, tone: 1, gloria: 4"), known).warnings
    assert not any("organ after organ" in each for each in told)
    (often,) = (each for each in told if "not in that sound" in each)
    assert often.startswith("Verses 11–12, 13–14")


def test_a_suggestion_as_text_is_read_as_the_same_order(known: dict[str, Known]) -> None:
    for keys in ("of: magnificat, tone: 8, minutes: 0.4", "of: mass, tone: 1, agnus: 6, reciting: G"):
        wanted = order(keys).wanted
        assert wanted
        verses = items(keys, known)
        again = parse_order(as_text("A", verses, wanted), "a.md")
        assert [_bare(v) for v in again.items] == [_bare(v) for v in verses]


def _bare(item: Sung | Played) -> tuple[object, ...]:
    if isinstance(item, Played):
        return item.verset, item.instead, item.interval, item.part
    return item.text, item.tone, item.begins or None, item.minutes, item.part


@pytest.mark.parametrize(
    ("keys", "expected"),
    [
        ("of: vespers, tone: 1", "of: magnificat or mass"),
        ("tone: 1", "of: magnificat or mass"),
        ("of: magnificat", "tone: of what is sung"),
        ("of: mass, kyrie: 1", "tone: of what is sung"),
        ("of: magnificat, tone: 9", "a tone from 1 to 8"),
        ("of: magnificat, tone: 1, first: people", "organ or choir"),
        ("of: magnificat, tone: 1, reciting: H", "a note by its letter"),
    ],
)
def test_what_is_wrong_is_told_with_its_line(keys: str, expected: str) -> None:
    with pytest.raises(SourceErrors, match=expected) as caught:
        order(keys)
    assert caught.value.errors[0].line == 4


def test_a_tone_without_a_verset_is_told(known: dict[str, Known]) -> None:
    few = {name: each for name, each in known.items() if each.tone != 4}
    with pytest.raises(SourceErrors, match="no verset in tone 4"):
        plan(order("of: magnificat, tone: 4"), few)


def test_a_verset_that_is_not_finished_is_never_suggested(known: dict[str, Known]) -> None:
    assert unfinished(known["eighth-own"].verset)
    assert [name for name, each in known.items() if unfinished(each.verset)] == ["eighth-own"]
    played = [v.verset for v in items("of: magnificat, tone: 8", known) if isinstance(v, Played)]
    assert "eighth-own" not in played
    assert "eighth-duo" in played


def test_a_verset_that_breaks_off_before_its_close_is_not_finished(known: dict[str, Known]) -> None:
    verset = known["eighth-duo"].verset
    assert unfinished(replace(verset, given=verset.given[:-2]))
