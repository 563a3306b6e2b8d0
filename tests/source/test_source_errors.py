"""What is wrong with a source is told to the musician: where, what was found, what was expected."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from builder.source import SourceError, SourceErrors, is_source, parse, read, read_all

GOOD = """---
title: An example
verset:
  metre: C
  signature: none
---

Words.

```given
cantus C1 | D5/2 A4/4. B4/8 | C5/4 B4/4 A4/2
altus  C3 | A4/2 D4/4. E4/8 | F4/4{6} E4/4{7 #6} D4/2
bassus F4 | A2/1{5/3:4 6/4:4 5/4:4 #:4} | D3/breve{#}
```

## altus

More words.
"""


def errors(text: str) -> tuple[SourceError, ...]:
    with pytest.raises(SourceErrors) as caught:
        parse(text, "verset.md")
    return caught.value.errors


def only(old: str, new: str) -> SourceError:
    """The one error that one mistake makes."""
    assert old in GOOD
    found = errors(GOOD.replace(old, new, 1))
    assert len(found) == 1, "\n".join(map(str, found))
    return found[0]


def test_the_example_is_right() -> None:
    assert len(parse(GOOD).bars) == 6


# A mistake in a given line (¦ marks the place to be told), what is found, bar and beat.
MUSIC = [
    ("A4/4. B4/8", "A4/4. ¦B4/4", "a bar of 4 1/2 quarters", (1, "4 1/2")),
    ("A4/4. B4/8", "¦A4/2. B4/8", "a bar of 5 1/2 quarters", (1, "3")),
    ("B4/4 A4/2", "B4/4 A4/4¦", "a bar of 3 quarters", (2, "4")),
    ("D3/breve{#}", "¦D3/breve{#} D3/4", "a bar of 9 quarters", (6, "1")),
    ("D3/breve{#}", "D3/2¦", "a bar of 2 quarters", (6, "3")),
    ("cantus C1", "¦cantos C1", 'the voice "cantos"', None),
    ("cantus C1", "¦Cantus C1", 'the voice "Cantus"', None),
    ("cantus C1", "¦C1", '"C1" without a voice', None),
    ("cantus C1", "cantus¦", "cantus and no clef", None),
    ("cantus C1", "cantus ¦C6", 'the clef "C6"', None),
    ("cantus C1", "cantus ¦soprano", 'the clef "soprano"', None),
    ("cantus C1 | D5/2", "cantus C1 ¦D5/2", '"D5/2"', None),
    ("D5/2", "¦H5/2", 'the pitch "H5"', (1, "1")),
    ("D5/2", "¦d5/2", 'the pitch "d5"', (1, "1")),
    ("D5/2", "¦D/2", 'the pitch "D"', (1, "1")),
    ("D5/2", "¦D5#/2", 'the pitch "D5#"', (1, "1")),
    ("D5/2", "¦Dn5/2", 'the pitch "Dn5"', (1, "1")),
    ("D5/2", "¦D♯5/2", 'the pitch "D♯5"', (1, "1")),
    ("D5/2", "¦D7/2", "D7 under the clef C1", (1, "1")),
    ("A4/4. B4/8", "A4/¦3. B4/8", 'the value "3."', (1, "3")),
    ("A4/4. B4/8", "A4/¦4... B4/8", 'the value "4..."', (1, "3")),
    ("A4/4. B4/8", "¦A4 B4/8", '"A4" without a value', (1, "3")),
    ("A4/4. B4/8", "A4/4.¦~ B4/8", "a tie from A4 to B4", (1, "3")),
    ("A4/4. B4/8", "A4/4.¦~ R/8", "a tie from A4 to a rest", (1, "3")),
    ("A4/4. B4/8", "R/4.¦~ B4/8", "a tie from a rest", (1, "3")),
    ("B4/4 A4/2", "B4/4 A4/2¦~", "a tie from cantus to altus", (2, "3")),
    ("D3/breve{#}", "D3/breve¦~{#}", "a tie from D3 to nothing", (6, "1")),
    ("A4/4. B4/8", "¦_/4. B4/8", "a stretch left open", (1, "3")),
    ("| C5/4", "| ¦| C5/4", "an empty bar", (2, None)),
    ("{7 #6}", "¦{7 #6", "a brace that is never closed", (4, None)),
    ("{7 #6}", "7 #6¦}", "a brace that was not opened", (4, None)),
    ("{5/3:4 6/4:4 5/4:4 #:4}", "5/3:4 6/4:4 5/4:4 #:4¦}", "a brace that was not opened", (5, None)),
    ("{7 #6}", " #6¦}", "a brace that was not opened", (4, None)),
    ("{7 #6}", "{7 #6}¦}", "a brace that was not opened", (4, None)),
    ("{7 #6}", "{7 #6}¦{6}", "a second brace over one note", (4, None)),
    ("{7 #6}", "¦{}", "empty braces", (4, "2")),
    ("{7 #6}", "{7 ¦#66}", 'the figure "#66"', (4, "2")),
    ("{7 #6}", "{7 ¦6#}", 'the figure "6#"', (4, "2")),
    ("{7 #6}", "{7 ¦65}", 'the figure "65"', (4, "2")),
    ("{7 #6}", "{7 ¦7+}", 'the figure "7+"', (4, "2")),
    ("{7 #6}", "{7 ¦x4}", 'the figure "x4"', (4, "2")),
    ("{7 #6}", "{7 10/¦3}", 'the figure "3" a second time', (4, "2")),
    ("{7 #6}", "{7 ¦13}", 'the figure "13"', (4, "2")),
    ("{7 #6}", "{7 6/¦6}", 'the figure "6" a second time', (4, "2")),
    ("{7 #6}", "{7 #/¦3}", 'the figure "3" a second time', (4, "2")),
    ("{7 #6}", "{7 ¦(6/4)}", 'the figures "(6/4)"', (4, "2")),
    ("{7 #6}", "{7 6/¦}", "no figure", (4, "2")),
    ("{7 #6}", "{7 6/¦-}", 'the figure "-"', (4, "2")),
    ("{7 #6}", "{¦7 6 5}", "3 stacks over 1 quarter, which do not divide it evenly", (4, "2")),
    ("{7 #6}", "{7:8 ¦#6}", '"#6" without a value', (4, "2")),
    ("{7 #6}", "{7:8 #6:¦3}", 'the value "3"', (4, "2")),
    ("{7 #6}", "{¦7:8 #6:16}", "figures that last 3/4 of a quarter", (4, "2")),
    ("F4/4{6}", "R/4¦{6}", "figures over a rest", (4, None)),
    ("F4/4{6}", "¦{6} F4/4", "figures before any note of the bar", (4, None)),
    ("D5/2", "D5/2{¦-}", "a dash with nothing before it to hold", (1, "1")),
    ("C5/4 B4/4", "C5/4 ¦% B4/4", "a comment after music", (2, "2")),
    ("| D5/2 A4", "| ¦// D5/2 A4", "a cut at the edge of the line", None),
    ("D3/breve{#}", "D3/breve{#} ¦//", "a cut at the edge of the line", (6, "1")),
    ("A4/2\naltus", "A4/2 | // ¦//\naltus", "a second cut at one place", (2, "3")),
    ("C5/4 B4/4 A4/2", "C5/4~ ¦// C5/4 A4/2", "a cut inside a held note", (2, "1")),
]


@pytest.mark.parametrize(("old", "new", "found", "place"), MUSIC, ids=[m[1] for m in MUSIC])
def test_one_mistake_in_the_given_line_is_told_once_and_in_its_place(old, new, found, place) -> None:
    marked = GOOD.replace(old, new, 1).split("\n")
    line = next(n for n, text in enumerate(marked, 1) if "¦" in text)
    error = only(old, new.replace("¦", ""))
    assert error.found == found
    assert (error.line, error.column) == (line, marked[line - 1].index("¦") + 1)
    assert error.text == marked[line - 1].replace("¦", "")
    if place and place[1]:
        assert str(error.place) == f"bar {place[0]}, beat {place[1]}"
    elif place:
        assert error.bar == place[0]


SETTINGS = [
    ("title: An example", 'title: "a\\x08"', "title: a character that cannot be printed", "plain"),
    ("title: An example", "titel: An example", 'no title, but "titel"', "title"),
    ("title: An example", "title:", "title: nothing", "text"),
    ("title: An example", "title: An example\ntone: 1", 'the key "tone" beside verset', "under verset"),
    ("  signature: none", "   signature: none", "a key set in deeper than the key above it", "one indent"),
    ("  signature: none", "\tsignature: none", "a tab before the key", "spaces"),
    (
        "  signature: none",
        "  signature: none\n  voices: [altus, cantus, altus]",
        "altus a second time",
        "once",
    ),
    ("title: An example", "title: 7", 'title: "7"', "quotes"),
    ("  metre: C\n", "", "no metre under verset", "metre: C"),
    ("  metre: C\n", "  metr: C\n", 'the key "metr"', "did you mean metre?"),
    ("  metre: C\n", "  metre: 3/5\n", 'the metre "3/5"', "fraction"),
    ("  metre: C\n", "  metre: C\n  metre: C\n", 'the key "metre" a second time', "once"),
    ("  signature: none", "  signature: Eb", 'the signature "Eb"', "in order"),
    ("  signature: none", "  signature: B♭", 'the signature "B♭"', "b for a flat"),
    ("  signature: none", "  signature: none\n  tone: 9", 'tone: "9"', "1 to 8"),
    ("  signature: none", "  signature: none\n  tone: first", 'tone: "first"', "1 to 8"),
    ("  signature: none", "  signature: none\n  beat: 52", 'beat: "52"', "half = 52"),
    ("  signature: none", "  signature: none\n  beat: minim = 52", 'the tempo "minim = 52"', "half"),
    ("  signature: none", "  signature: none\n  beat: half = 4000", 'the tempo "half = 4000"', "400"),
    ("  signature: none", "  signature: none\n  level: 4", 'level: "4"', "1 to 3"),
    ("  signature: none", "  signature: none\n  density: 2", 'density: "2"', "0.5 to 1.5"),
    ("  signature: none", "  signature: none\n  exercise: alto", 'exercise: "alto"', "tenor 3-6"),
    ("  signature: none", "  signature: none\n  exercise: [tenor 6-3]", '"tenor 6-3"', "tenor 3-6"),
    ("  signature: none", "  signature: none\n  exercise: [altus 90]", "a task for bar 90", "which the line"),
    ("  signature: none", "  signature: none\n  level: yes", 'level: "yes"', "1 to 3"),
    ("  signature: none", "  signature: none\n  pitch: high", 'pitch: "high"', "hertz"),
    ("  signature: none", "  signature: none\n  pitch: .nan", 'pitch: ".nan"', "hertz"),
    (
        "  signature: none",
        f"  signature: none\n  pitch: 1{':59' * 200}.5",
        f'pitch: "1{":59" * 12}:5…"',
        "hertz",
    ),
    ("  signature: none", "  signature: none\n  costs: 3", 'costs: "3"', "weight"),
    ("  signature: none", "  signature: none\n  costs: {a: -1}", 'a: "-1"', "from 0"),
    ("  signature: none", "  signature: none\n  allow: {}", "allow: keys with values", "list"),
    (
        "  signature: none",
        "  signature: none\n  allow: [{rule: a, bar: 1}]",
        "no because in this entry",
        "because",
    ),
    (
        "  signature: none",
        "  signature: none\n  allow: [{rule: a, bar: 7, because: b}]",
        "a licence for bar 7",
        "1 to 6",
    ),
    (
        "  signature: none",
        "  signature: none\n  allow: [{rule: a, bar: 0, because: b}]",
        'bar: "0"',
        "from 1",
    ),
    (
        "  signature: none",
        "  signature: none\n  allow: [{rule: a, bar: 1, because: b, voices: [alto]}]",
        'the voice "alto"',
        "did you mean altus?",
    ),
    (
        "  signature: none",
        "  signature: none\n  readings: [{bar: 70, source: a, adopted: b}]",
        "a reading for bar 70",
        "1 to 6",
    ),
    ("  signature: none", "  signature: none\n  title: a: b", "a second colon in one value", "quotes"),
    ("  signature: none", '  signature: "none', "a quote or bracket that is never closed", "closing"),
    (
        "  signature: none",
        "  signature: none\n  allow: [a",
        "a bracket that is never closed, or no comma",
        "bracket",
    ),
]


@pytest.mark.parametrize(("old", "new", "found", "expected"), SETTINGS, ids=[s[1].strip() for s in SETTINGS])
def test_one_mistake_in_the_front_matter_is_told_once(old, new, found, expected) -> None:
    error = only(old, new)
    assert error.found == found
    assert expected in error.expected


FENCES = [
    ("```given", "```givne", 'a block "givne"'),
    ("```given", "```given line", 'the fence "given line"'),
    ("```\n\n## altus", "\n\n## altus", "a block `given` that is never closed"),
    ("## altus", "## altus\n\nOne.\n\n## Altus", 'a second heading "Altus"'),
    ("More words.", "```text\nnever closed", "a fence that is never closed"),
    ("---\ntitle", "title", "no front matter"),
    ("---\n\nWords", "\nWords", "front matter that is never closed"),
]


@pytest.mark.parametrize(("old", "new", "found"), FENCES, ids=[f[2] for f in FENCES])
def test_one_mistake_in_the_page_is_told_once(old, new, found) -> None:
    assert only(old, new).found == found


def test_a_file_without_a_given_block_is_refused() -> None:
    (error,) = errors(GOOD[: GOOD.index("```given")])
    assert error.found == "no given line"


def test_a_given_block_without_music_and_one_of_rests_are_refused() -> None:
    start, end = GOOD.index("cantus"), GOOD.rindex("```")
    assert [e.found for e in errors(GOOD[:start] + GOOD[end:])] == ["a given block without music"]
    rests = GOOD[:start] + "cantus C1 | R/1\n" + GOOD[end:]
    assert [e.found for e in errors(rests)] == ["a given line of rests alone"]


PINS = [
    ("cantus 3 | F5/2 E5/4", "a bar of 3 quarters", (3, "4")),
    ("cantus 3 | F5/2 E5/2.", "a bar of 5 quarters", (3, "3")),
    ("cantus 7 | F5/1", "notes pinned in bar 7", (7, None)),
    ("cantus 6 | _ | F5/1", "notes pinned in bar 7", (7, None)),
    ("cantus 1 | F5/1", "the cantus pinned where it has the given line", (1, "1")),
    ("bassus 3 | F3/1", "the bassus pinned before it has entered", (3, "1")),
    ("cantus 3 | F5/2~ E5/2", "a tie from F5 to E5", (3, "1")),
    ("cantus 3 | F5/2~ _/2", "a tie from F5 to a stretch left open", (3, "1")),
    ("cantus 3 | _/2 F5/2~", "a tie from F5 to nothing", (3, "3")),
    ("cantus 3 | _ F5/1", "_ beside other notes", (3, "1")),
    ("cantus 3 | F5/1{6}", "figures over a pinned note", (3, "1")),
    ("cantus 3 | F9/1", "F9, which no keyboard has", (3, "1")),
    ("cantus 0 | F5/1", 'the bar "0"', None),
    ("cantus C1 | F5/1", 'the bar "C1"', None),
    ("canto 3 | F5/1", 'the voice "canto"', None),
    ("cantus 3 | F5/2 // E5/2", "a cut among pinned notes", None),
    ("cantus 3 | F5/1\ncantus 3 | E5/1", "the cantus pinned here already, in line 17", (3, "1")),
]


@pytest.mark.parametrize(("pins", "found", "place"), PINS, ids=[p[0] for p in PINS])
def test_pins_that_cannot_be_are_refused(pins, found, place) -> None:
    (error,) = errors(GOOD.replace("## altus", f"```plain\n{pins}\n```\n\n## altus"))
    assert error.found == found
    if place and place[1]:
        assert str(error.place) == f"bar {place[0]}, beat {place[1]}"


def test_the_voice_below_the_line_cannot_be_pinned() -> None:
    text = GOOD.replace("bassus F4 | A2/1{5/3:4 6/4:4 5/4:4 #:4} |", "bassus F4 | A2/1\ncantus C1 |").replace(
        "D3/breve{#}", "D5/1"
    )
    (error,) = errors(text.replace("## altus", "```plain\nbassus 6 | D3/1\n```\n\n## altus"))
    assert error.found == "the bassus pinned below the given line, which the cantus has here"


def test_all_errors_of_a_file_are_told_together_in_its_order() -> None:
    text = GOOD
    for old, new in (
        ("metre: C", "metre: 5"),
        ("D5/2", "H5/2"),
        ("{7 #6}", "{77 #6}"),
        ("altus  C3", "alto C3"),
    ):
        text = text.replace(old, new, 1)
    found = errors(text)
    assert [e.line for e in found] == [4, 11, 12, 12]
    with pytest.raises(SourceErrors) as caught:
        parse(text)
    assert str(caught.value).count("found ") == 4


def test_a_missing_bar_line_does_not_make_the_licence_of_the_last_bar_wrong() -> None:
    text = GOOD.replace("signature: none", "signature: none\n  allow: [{rule: a, bar: 6, because: b}]")
    found = errors(text.replace("B4/8 | C5", "B4/8 C5"))
    assert [e.found for e in found] == ["a bar of 8 quarters"]


def test_a_short_line_does_not_shift_the_bars_after_it() -> None:
    (error,) = errors(GOOD.replace("C5/4 B4/4 A4/2", "C5/4 B4/4"))
    assert error.found == "a bar of 2 quarters" and error.line == 11


def test_a_shared_bar_that_does_not_add_up_names_both_voices() -> None:
    (error,) = errors(GOOD.replace("C5/4 B4/4 A4/2", "C5/2").replace("altus  C3 |", "altus  C3 | A4/4 |"))
    assert error.found == "a bar of 3 quarters shared by cantus and altus"


def test_an_error_shows_its_line_with_a_mark_under_the_place() -> None:
    shown = str(only("D5/2", "H5/2")).split("\n")
    assert shown[0].startswith("verset.md:11:13: bar 1, beat 1: found")
    assert shown[1].index("H5/2") == shown[2].index("^")


def test_in_a_long_line_the_mark_still_stands_under_the_place() -> None:
    long = "cantus C1 | " + "D5/1 | " * 60 + "H5/1"
    (error,) = errors(GOOD.replace("cantus C1 | D5/2 A4/4. B4/8 | C5/4 B4/4 A4/2", long))
    lines = str(error).split("\n")
    assert lines[1].index("H5/1") == lines[2].index("^") and len(lines[1]) < 120


def test_one_bad_file_does_not_hide_the_others(tmp_path: Path) -> None:
    good, bad, worse = tmp_path / "good.md", tmp_path / "bad.md", tmp_path / "worse.md"
    good.write_text(GOOD, "utf-8")
    bad.write_text(GOOD.replace("D5/2", "H5/2"), "utf-8")
    worse.write_text("", "utf-8")
    versets, found = read_all([bad, good, worse, tmp_path / "none.md"])
    assert [v.path for v in versets] == [str(good)]
    assert [e.found for e in found] == [
        'the pitch "H5"',
        "no front matter",
        "no file that can be read (No such file or directory)",
    ]


def test_a_file_with_other_line_ends_or_a_byte_order_mark_is_read(tmp_path: Path) -> None:
    path = tmp_path / "verset.md"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert read(path).given == parse(GOOD).given
    assert read(path).words == {"altus": "More words."}
    assert is_source(path.read_bytes().decode("utf-8"))


def test_a_file_in_another_encoding_is_refused_with_the_place(tmp_path: Path) -> None:
    path = tmp_path / "verset.md"
    path.write_bytes(GOOD.replace("Words.", "È.").encode("latin-1"))
    with pytest.raises(SourceErrors) as caught:
        read(path)
    (error,) = caught.value.errors
    assert (error.line, error.column) == (8, 1) and "UTF-8" in error.expected
    path.write_bytes(GOOD.encode("utf-16"))
    with pytest.raises(SourceErrors, match="a UTF-16 file"):
        read(path)


def test_a_source_is_known_by_its_key_even_when_its_front_matter_is_broken() -> None:
    assert is_source(GOOD)
    assert is_source(GOOD.replace("title: An", "title: [An"))
    assert not is_source("# A page\n\nverset: no\n")
    assert not is_source("---\ntitle: verset\n---\n")
    assert not is_source("")


COURSE = sorted((Path(__file__).parents[2] / "content" / "versets").glob("*.md"))


def slips(text: str) -> Iterator[str]:
    """A text with one slip in one symbol of its given line, for every symbol and many slips."""
    start = text.index("```given")
    end = text.index("```", start + 8)
    for match in re.finditer(r"[A-GR](?:[#b]|\([#bn]\))?\d?/[^\s{]+({[^}]*})?", text[start:end]):
        note = match[0]
        changed = ["H" + note[1:], note[0].lower() + note[1:], note.replace("/", "/7", 1), f"{note} {note}"]
        changed += [note.replace("/", "", 1)] + ([note.replace("{", "", 1), note[:-1]] if match[1] else [])
        for wrong in changed:
            yield text[: start + match.start()] + wrong + text[start + match.end() :]
    for match in re.finditer(r"\|", text[start:end]):
        yield text[: start + match.start()] + text[start + match.end() :]


@pytest.mark.parametrize("path", COURSE, ids=lambda p: p.stem)
def test_one_slip_anywhere_in_a_verset_of_the_course_is_one_error(path: Path) -> None:
    for text in slips(path.read_text("utf-8")):
        assert len(errors(text)) == 1
