"""The pages that a course asks for: tunings, patterns, rules, lists. What they say is reckoned here anew."""

from __future__ import annotations

import json
import re
from fractions import Fraction
from importlib import import_module
from math import log2
from pathlib import Path
from typing import Any

import pytest

from builder.diminution import Pattern
from builder.invention import invent
from builder.language.texts import page_texts, texts
from builder.music import Bar, Metre, Note, Part, Pitch, Score, Signature, Version, notated
from builder.pages import pieces
from builder.pages.lesson import Download, Lesson
from builder.pages.pieces import PIECES, Asked, book_links, index, piece
from builder.pages.pieces.fresh import order
from builder.pages.pieces.index import shelf
from builder.setting.setting import Defaults
from builder.source import parse

# The rooms give their functions the names of their files.
patterns_module, rules_module, tunings_module = (
    import_module(f"builder.pages.pieces.{name}") for name in ("patterns", "rules", "tunings")
)
ASKED = Asked(Defaults(pitch=415.0), "en", "more/page 1.md")
SHARED = 'aria-hidden="true" style="position:absolute"><defs>'
CHROMATIC = ("C", "C♯", "D", "E♭", "E", "F", "F♯", "G", "G♯", "A", "B♭", "B")
QUARTER = 5 ** Fraction(1, 4)
"""A fifth of quarter-comma meantone: four of them make a pure third, 5/4, and two octaves (Aron 1523)."""


def played(html: str) -> dict[str, Any]:
    return json.loads(re.search(r'class="verset-play">(.*?)</script>', html)[1])


def test_the_face_of_the_room_gives_what_it_names() -> None:
    assert set(pieces.__all__) == {"PIECES", "Asked", "Piece", "book_links", "index"}
    assert all(hasattr(pieces, name) for name in pieces.__all__)
    assert set(PIECES) == {"rules", "patterns", "tunings", "fresh"}
    assert ASKED.sub("x") == "more/page 1/x.md"
    assert ASKED.link("more/a b.md") == "a%20b.md" and ASKED.link("c.md") == "../c.md"
    assert ASKED.words("pages.cadence") == "The cadence"


@pytest.fixture(scope="module")
def meantone() -> tuple[str, Any]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(tunings_module, "TUNINGS", ("quarter-comma", "pythagorean"))
        made = tunings_module.tunings(ASKED)
    return made.markdown, made


def test_the_tunings_are_listed_with_a_page_each(meantone) -> None:
    markdown, made = meantone
    assert markdown == (
        "- [Quarter-comma meantone](page%201/quarter-comma.md): Eight pure major thirds, every fifth a "
        "little short: the usual tuning for this music.\n"
        "- [Pythagorean](page%201/pythagorean.md): Pure fifths, thirds a comma wide: the older tuning.\n"
    )
    assert dict(made.slots) == {}
    assert [(p.uri, p.title) for p in made.pages] == [
        ("more/page 1/quarter-comma.md", "Quarter-comma meantone"),
        ("more/page 1/pythagorean.md", "Pythagorean"),
    ]


def test_the_tunings_are_told_in_the_language_of_the_course(monkeypatch) -> None:
    monkeypatch.setattr(tunings_module, "TUNINGS", ("pythagorean",))
    monkeypatch.setattr(tunings_module, "heard", lambda *row, **more: f"{row[1]} {more['tuning']}")
    made = tunings_module.tunings(Asked(Defaults(), "it", "t.md"))
    about = texts("tunings", "it")("pythagorean.about")
    (page,) = made.pages
    assert made.markdown == f"- [{page.title}](t/pythagorean.md): {about}\n" and "Pitagorico" in page.title
    assert f"\n\n{about}\n\n" in page.markdown and "| si♭ |" in page.markdown
    assert page.slots["triads"] == f"{page.title} pythagorean"
    assert "fifths" not in page.slots["chart"] and "Quinte" in page.slots["chart"]


def test_the_page_of_a_tuning_has_its_notes_in_cents_and_hertz(meantone) -> None:
    """Twelve notes from E flat to G sharp along tempered fifths; A is the pitch of the course."""
    text = meantone[1].pages[0].markdown
    head, _, table = text.partition("## Its notes\n\n")
    assert head == (
        "# Quarter-comma meantone\n\nEight pure major thirds, every fifth a little short: the usual tuning "
        'for this music.\n\n<div data-verset-slot="chart"></div>\n\n## Hear it\n\nA major triad on '
        "each key, a bar each, from E♭ along the fifths to G♯. Listen where the thirds rest and "
        'where they beat.\n\n<div data-verset-slot="triads"></div>\n\n'
    )
    lines = table.splitlines()
    assert lines[:2] == ["| Note | Notes in cents from C | Hertz |", "| ---: | ---: | ---: |"]
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[2:]]
    line_of_fifths = ("E♭", "B♭", "F", "C", "G", "D", "A", "E", "B", "F♯", "C♯", "G♯")
    fifth = 1200 * log2(QUARTER)
    assert [row[0] for row in rows] == list(CHROMATIC)
    cents = {}
    for name, told, hertz in rows:
        cents[name] = ((line_of_fifths.index(name) - 3) * fifth) % 1200
        assert told == f"{cents[name]:.2f}", name
        from_a = cents[name] - 3 * fifth % 1200
        assert float(hertz) == pytest.approx(415 * 2 ** (from_a / 1200), abs=0.011), name
        assert len(hertz.partition(".")[2]) == 2


def test_the_chart_shows_how_far_each_interval_is_from_pure(meantone) -> None:
    """Quarter-comma: fifths 5.4 cents short, one wolf 35.7 wide; thirds pure, four of them 41.1 wide."""
    charts = meantone[1].pages[0].slots["chart"].split("</figure>")[:-1]
    assert len(charts) == 2
    heads = ("Fifths (0 = 701.96 cents)", "Major thirds (0 = 386.31 cents)")
    wolves = ({"G♯–E♭"}, {"B–E♭", "F♯–B♭", "C♯–F", "G♯–C"})
    values = ((-5.377, 35.683), (0.0, 41.059))
    for chart, head, wolf, (usual, wide) in zip(charts, heads, wolves, values, strict=True):
        assert chart.startswith(f'<figure class="verset-chart"><figcaption>{head}</figcaption>')
        label = re.search(r'aria-label="[\w ]+: (.*?)"', chart)[1].split(", ")
        assert f'viewBox="0 0 {44 * 12} 190"' in chart and 'y1="85" y2="85"/>' in chart
        assert f'<line x1="0" x2="{44 * 12}"' in chart and 'role="img"' in chart
        assert f'aria-label="{head.partition(" (")[0]}: ' in chart
        bars = re.findall(
            r'<rect class="(.*?)" x="(\d+)" y="([\d.]+)" width="20" height="([\d.]+)"/>'
            r'<text x="(\d+)" y="168">(.*?)</text><text x="(\d+)" y="186">(.*?)</text>'
            r'<text x="(\d+)" y="([\d.]+)">(.*?)</text>',
            chart,
        )
        assert len(bars) == len(label) == 12
        for n, (text, bar) in enumerate(zip(label, bars, strict=True)):
            names, off = text.rsplit(" ", 1)
            name, x, top, size, x1, high, x2, low, x3, number, told = bar
            expected = wide if names in wolf else usual
            assert float(off) == pytest.approx(expected, abs=0.06)
            assert name == ("verset-off verset-wolf" if names in wolf else "verset-off"), names
            assert int(x) == 44 * n + 12 and int(x1) == int(x2) == int(x3) == int(x) + 10
            assert f"{low}–{high}" == names
            assert float(size) == pytest.approx(max(1.0, 1.3 * abs(expected)), abs=0.06)
            assert float(told) == pytest.approx(expected, abs=0.51) and told[0] in "+-"
            if expected > 0.1:  # it rises above the line of the pure interval
                assert float(top) + float(size) == pytest.approx(85) and float(number) < float(top)
                assert float(number) == pytest.approx(float(top) - 4)
            else:
                assert float(top) == 85 and float(number) == pytest.approx(85 + float(size) + 16)


def test_the_triads_of_a_tuning_are_heard_in_it(meantone) -> None:
    html = meantone[1].pages[0].slots["triads"]
    data = played(html)
    play = data["play"]
    assert data["versions"] == ["plain"] and data["first"] == "plain"
    assert play["voices"] == ["cantus", "altus", "tenor"]
    assert [bar[0] for bar in play["bars"]] == list(range(1, 13))
    assert [bar[1] for bar in play["bars"]] == pytest.approx([2.8 * n for n in range(12)], abs=1e-3)
    assert play["end"] == pytest.approx(12 * 2.8, abs=0.01)
    assert data["span"] == {"start": 0.0, "end": round(play["end"], 4)}
    by_bar: dict[int, list[tuple[int, float]]] = {}
    for start, _, hertz, voice, _ in play["versions"]["plain"]:
        by_bar.setdefault(round(start / 2.8), []).append((voice, hertz))
    for n in range(12):
        (_, fifth), (_, third), (_, root) = sorted(by_bar[n])
        if n < 8:  # from E flat to E: the third is pure, the fifth tempered
            assert third / root / 2 == pytest.approx(1.25, rel=1e-4)
        if n < 11:
            assert fifth / root / 2 == pytest.approx(QUARTER, rel=1e-4)
    assert dict(sorted(by_bar[6]))[2] == pytest.approx(415 / 2, rel=1e-4)  # the root on A3
    assert 'data-version="plain"' in html and "Quarter-comma meantone, plain" in html
    assert re.findall(r'class="verset-systems verset-(\w+)"', html) == ["narrow", "wide"]


PLACES = ("opening", "middle")
HALF, EIGHTH, SIXTEENTH = Fraction(2), Fraction(1, 2), Fraction(1, 4)
PATTERNS = tuple(
    Pattern(name, figure, way, value, steps, lengths, character, density, places, source)
    for name, figure, way, value, steps, lengths, character, density, places, source in (
        ("late", "accento", 1, HALF, (1, 0), (EIGHTH, 3 * EIGHTH), "leaning", 2, ("cadence",), "A * B"),
        ("turn", "turn", 1, HALF, (0, -1, 0), (HALF / 2, EIGHTH, EIGHTH), "turning", 1, PLACES, "own"),
        ("long", "minuta", 1, 2 * HALF, (0, 1, 2, 1), (HALF / 2,) * 4, "running", 1, ("middle",), "own"),
        ("down", "passing", -2, EIGHTH, (0, -1), (SIXTEENTH,) * 2, "running", 1, ("middle",), "own"),
        ("free", "tremolo", None, HALF / 2, (0, 1, 0, 1), (SIXTEENTH,) * 4, "shaking", 3, ("middle",), "own"),
    )
)


@pytest.fixture(scope="module")
def patterns() -> Any:
    defaults = Defaults(patterns=PATTERNS[4:])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(patterns_module, "patterns", lambda: PATTERNS[:4])
        return patterns_module.diminutions(Asked(defaults, "en", "table.md"))


def test_patterns_are_listed_by_interval_with_how_many_there_are(patterns) -> None:
    assert patterns.markdown == (
        "- [Whatever follows](table/any.md): 1 patterns\n"
        "- [Second up](table/second-up.md): 3 patterns\n"
        "- [Third down](table/third-down.md): 1 patterns\n"
    )
    assert [p.uri for p in patterns.pages] == ["table/any.md", "table/second-up.md", "table/third-down.md"]


def test_small_intervals_come_first_and_up_before_down(monkeypatch) -> None:
    made = [Pattern(**{**_fields(PATTERNS[0]), "interval": i, "id": str(i)}) for i in (-1, 2, None, 1, 0, -2)]
    ordered = sorted(made, key=patterns_module._by_interval)
    assert [p.interval for p in ordered] == [None, 0, 1, -1, 2, -2]


def _fields(pattern: Pattern) -> dict[str, Any]:
    return {name: getattr(pattern, name) for name in Pattern.__slots__}


def test_the_page_of_an_interval_says_of_each_pattern_what_it_is(patterns) -> None:
    text = patterns.pages[1].markdown
    assert text == (
        "# Second up\n\nEach bar is one pattern and the note it goes to. Touch a bar and press Go; choose "
        'plain to hear the note that is broken.\n\n<div data-verset-slot="patterns"></div>\n\n'
        "| Bar | Figure | Pattern | Character | Place | Source |\n|---|---|---|---|---|---|\n"
        "| 1 | minuta | long | running | middle | own |\n"
        "| 2 | turn | turn | turning | opening, middle | own |\n"
        "| 3 | accento | late | leaning | cadence | A &#42; B |\n"
    )


def test_a_pattern_sounds_in_a_bar_with_the_note_it_goes_to_and_plain_beside_it(patterns) -> None:
    """Long values first, then sparse before dense; each bar lasts the value and the note after it."""
    html = patterns.pages[1].slots["patterns"]
    data = played(html)
    quarter = 0.7
    lengths = (8, 4, 4)
    starts = [0, 8, 12]
    play = data["play"]
    assert [b[1] for b in play["bars"]] == pytest.approx([quarter * s for s in starts], abs=1e-3)
    assert play["end"] == pytest.approx(quarter * sum(lengths), abs=0.01)
    assert data["versions"] == ["plain", "diminished"] and data["first"] == "diminished"
    plain = [(round(start / quarter, 3), hertz) for start, _, hertz, *_ in play["versions"]["plain"]]
    assert [at for at, _ in plain] == [0, 4, 8, 10, 12, 14]
    broken = [round(start / quarter, 3) for start, *_ in play["versions"]["diminished"]]
    assert broken == [0, 1, 2, 3, 4, 8, 9, 9.5, 10, 12, 12.5, 14]
    f, g = plain[0][1], plain[1][1]
    assert f < g < 440  # up from F4
    assert html.index('data-version="plain"') < html.index('data-version="diminished"')
    assert "Second up, plain" in html and "Second up, diminished" in html
    down = played(patterns.pages[2].slots["patterns"])
    assert [round(n[0] / quarter, 3) for n in down["play"]["versions"]["plain"]] == [0, 0.5]
    assert down["play"]["end"] == pytest.approx(1.5 * quarter, abs=0.01)  # a short value goes on to a quarter
    low = [n[2] for n in down["play"]["versions"]["plain"]]
    assert 440 < low[0] < 550 and low[1] < low[0]  # down from C5
    free = played(patterns.pages[0].slots["patterns"])["play"]["versions"]["diminished"]
    assert free[0][2] == pytest.approx(low[0], rel=1e-4)


def test_every_rule_has_its_words_its_source_and_its_examples(monkeypatch) -> None:
    from builder.counterpoint import RULES

    names = ["parallel-fifths", "hidden", "crossing"]
    chosen = {name: RULES[name] for name in RULES if name in names}
    without = next(name for name, rule in RULES.items() if not rule.fault and not rule.mend)
    chosen[without] = RULES[without]
    monkeypatch.setattr(rules_module, "RULES", chosen)
    made = rules_module.rules(Asked(Defaults(), "it", "rules.md"))
    fifths = RULES["parallel-fifths"]
    block = made.markdown.partition('<span id="parallel-fifths"></span>\n\n')[2].partition("<span")[0]
    title, sentence, advice, severity, source, slot, *_ = block.split("\n\n")
    assert title.startswith("## ") and sentence and advice != sentence and sentence != fifths.sentence
    assert severity == "A due voci: errore; a tre: errore; a quattro: errore."
    cited = fifths.source.replace("chapter", "capitolo").replace("from memory", "a memoria")
    assert source == f"*Fonte: {cited}*" and cited != fifths.source
    assert slot == '<div data-verset-slot="rules-parallel-fifths"></div>'
    assert f"rules-{without}" not in made.markdown and f'<span id="{without}">' in made.markdown
    assert set(made.slots) == {f"rules-{name}" for name in chosen if name != without}
    drawn = made.slots["rules-parallel-fifths"]
    captions = re.findall(r'<figure class="verset-example"><figcaption>(.*?)</figcaption>(.)', drawn)
    assert [c for c, _ in captions] == [page_texts("it")(f"pages.rule{k}") for k in ("Fault", "Mend")]
    assert all(then == "<" for _, then in captions)
    names_of = re.findall(r'aria-label="(.*?)"', drawn)
    assert all(name.startswith(title[3:] + ": ") for name in names_of) and len(names_of) == 2
    first, *others = made.slots.values()
    assert SHARED in first and not any(SHARED in other for other in others)


def test_severity_is_told_for_two_three_and_four_voices() -> None:
    from builder.counterpoint import RULES

    rule = next(r for r in RULES.values() if len({r.severity[n] for n in (2, 3, 4)}) > 1)
    w = page_texts("en")
    told = rules_module._severity(rule, w)
    words = [w(f"pages.severity{str(rule.severity[n]).capitalize()}") for n in (2, 3, 4)]
    assert re.findall(r": ([\w ]+)", told) == words


def score(*voices: str) -> Score:
    parts = tuple(Part(v, (Note(Fraction(0), Fraction(4), Pitch.parse("C4")),)) for v in voices)
    return notated(
        Score("S", Version.PLAIN, Metre.parse("C"), Signature(), (Bar(1, Fraction(0), Fraction(4)),), parts)
    )


def test_an_open_score_has_modern_clefs_and_names_where_there_are_several_parts() -> None:
    four = piece.open_score(score("cantus", "altus", "tenor", "bassus"))
    clefs = re.findall(
        r'clef\.shape="(\w)"[^>]*?clef\.line="(\d)"|<clef[^>]*line="(\d)"[^>]*shape="(\w)"', four
    )
    found = re.findall(r'shape="([CGF])"', four)
    assert (clefs or found) and found.count("G") == 2 and found.count("F") == 2
    assert "<label>" in four
    assert "<label" not in piece.open_score(score("tenor"))


def test_signs_are_shared_between_the_pictures_of_a_page() -> None:
    assert piece.with_shared_signs({}) == {}
    from builder.engraving import flow

    one = "".join(flow(piece.open_score(score("cantus")), label="x", widths={"w": (300.0, 34.0)})["w"])
    made = piece.with_shared_signs({"a": one, "b": one})
    assert list(made) == ["a", "b"] and SHARED in made["a"] and SHARED not in made["b"]
    assert made["a"].endswith(made["b"]) or made["a"].count("<svg") > made["b"].count("<svg")


def lesson(uri: str, title: str) -> Lesson:
    facts = {"tone": "first tone", "voices": "2 (a | b)", "cadence": "doppia", "length": "3 bars"}
    return Lesson(uri, title, 1, (), (), (), (), facts)


def test_each_verset_of_a_list_shows_its_first_system_sounds_and_says_how_far_one_has_come() -> None:
    from builder.engraving.engrave import svg

    mei = piece.open_score(score("cantus"))
    facts = {"line": svg(mei)[0], "work": "one-1-2 one-3-4"}
    sound = Download("v/files/one-diminished.mp3", Path("one.mp3"))
    found = shelf({u: Lesson(u, "<One>", 1, (), (sound,), (), (), facts) for u in ("a.md", "b.md")}, "en")
    assert list(found) == ["shelf-a.md", "shelf-b.md"]
    assert SHARED in found["shelf-a.md"] and SHARED not in found["shelf-b.md"]
    for html in found.values():
        assert 'src="verset-root:v/files/one-diminished.mp3"' in html and "Hear &lt;One&gt;" in html
        assert 'data-work="one-1-2 one-3-4" data-told="{n} of {steps} steps begun"' in html
    assert shelf({"a.md": Lesson("a.md", "", 1, (), (), (), (), {})}, "en") == {}  # a store of an older kind


def test_the_list_of_versets_leads_to_each_with_what_it_is() -> None:
    lessons = {u: lesson(u, t) for u, t in (("v/a b.md", "One *"), ("two.md", "Two"))}
    assert index(lessons, "more/list.md", "en").splitlines() == [
        "**[One &#42;](../v/a%20b.md)**<br>first tone · Voices: 2 (a &#124; b) · Cadence: doppia · 3 bars",
        "",
        '<div data-verset-slot="shelf-v/a b.md"></div>',
        "",
        "**[Two](../two.md)**<br>first tone · Voices: 2 (a &#124; b) · Cadence: doppia · 3 bars",
        "",
        '<div data-verset-slot="shelf-two.md"></div>',
    ]
    assert "Voci: 2" in index(lessons, "list.md", "it")
    assert lesson("v/a b.md", "x").name == "a b"


def test_the_book_is_offered_on_each_paper_and_other_prints_are_not() -> None:
    links = book_links(["b/book-a4.pdf", "b/evening.pdf", "b/book-tablet.pdf"], "b/page.md", "en")
    assert links == "- [The book, A4](book-a4.pdf)\n- [The book for a tablet](book-tablet.pdf)"
    assert book_links([], "b/page.md", "en") == ""
    assert "(../b/book-a4.pdf)" in book_links(["b/book-a4.pdf"], "c/page.md", "de")


def test_new_versets_are_one_in_each_tone_and_others_with_another_number() -> None:
    first = PIECES["fresh"](Asked(Defaults(), "it", "new.md", 1))
    assert [page.uri for page in first.pages] == [f"new/tone-{tone}.md" for tone in range(1, 9)]
    for tone, page in enumerate(first.pages, 1):
        assert f"new/tone-{tone}.html" in first.markdown or f"new/tone-{tone}.md" in first.markdown
        source = page.markdown.split("````markdown\n")[1].split("````")[0]
        verset = parse(source)
        assert (verset.tone, verset.title) == (tone, page.title)
        if tone < 3:
            assert source != invent(order(tone, 2), language="it").text
        # Our setting waits, and the player has both.
        assert page.slots["music"].count('data-version="plain"') >= 1
        assert '"given"' in page.slots["music"] and '"plain"' in page.slots["music"]
