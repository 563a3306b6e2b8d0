"""Composer, witnesses, readings and numbers of an edition, as a source says them."""

from __future__ import annotations

import contextlib
import re
from dataclasses import fields, replace
from fractions import Fraction

import pytest

from builder.edition.exchange.mei import mei
from builder.edition.exchange.musicxml import given_musicxml
from builder.music import notated
from builder.setting.transpose import read_interval, transpose
from builder.source import SourceError, SourceErrors, Verset, parse, write
from builder.source.identifiers import ean_ending, isbn, isbn10_ending, ismn, orcid, orcid_ending
from builder.source.mei import parse_mei
from builder.source.musicxml import parse_musicxml
from builder.source.provenance import Composer, Editor, Provenance, Publication, filled
from builder.source.variants import KINDS, kinds
from builder.source.wording import knows

GOOD = """---
title: An example
verset:
  metre: C
  signature: none
  composer: {name: "Aldwin, John", attributed: true}
  place: Aldwinsbury
  date: 1641-05-03
  witnesses:
    - {siglum: A, library: A library, shelfmark: 12, folio: 3v, date: 1641, copy-text: true, link: "https://a.org/1"}
    - siglum: B
      pictures:
        - {file: b/3.png, licence: CC0-1.0, zones: [{bars: 1-2, box: [1, 2, 30, 40]}]}
    - siglum: Cc
  relation: "B was copied: from A"
  method: A is followed.
  editors:
    - Teacher, Anna
    - {name: Friend, role: transcriber, orcid: 0000-0002-1825-0097}
  published: {publisher: P, place: L, date: 2026, series: S, isbn: 978-0-306-40615-7, ismn: 979-0-2600-0043-8, doi: 10.1000/182}
---

```given
cantus C1 | D5/2 A4/4. B4/8 | C5/4 B4/4 A4/2
altus  C3 | A4/2 D4/4. E4/8 | F4/4{6} E4/4{7 #6} D4/2
```

```readings
% what the witnesses have
cantus 1:3 A    | A4/4 B4/4 "the "dot" is lost"
cantus 2:1-2 B  | C5/4.
altus 3:1 C4 B  | A4/2
altus 4 A B     | F#4/4{6}
altus 4:2 A     | E4/4{7}
altus 4:3 B     | _
altus 3:3-4:1 B | R/2 G4/4{6}
```
"""  # noqa: E501


def plain(verset: Verset) -> Verset:
    """A verset without the places of its symbols."""
    found = replace(verset, name="", path="", headings={})
    return replace(found, given=tuple(replace(g, span=type(g.span)(0, 0)) for g in verset.given))


def test_readings_stand_at_bar_beat_and_voice_with_the_witnesses_own_notes() -> None:
    verset = parse(GOOD)
    found = [
        (v.voice, v.start, v.end, v.sigla, [g.note.pitch and g.note.pitch.name for g in v.notes])
        for v in verset.variants
    ]
    assert found == [
        ("cantus", 2, 4, ("A",), ["A4", "B4"]),
        ("cantus", 4, 6, ("B",), ["C5"]),
        ("altus", 8, 10, ("B",), ["A4"]),
        ("altus", 10, 13, ("B",), [None, "G4"]),
        ("altus", 12, 13, ("A", "B"), ["F#4"]),
        ("altus", 13, 14, ("A",), ["E4"]),
        ("altus", 14, 16, ("B",), []),
    ]
    assert verset.variants[0].remark == 'the "dot" is lost'
    assert [g.note.onset for g in verset.variants[3].notes] == [10, 12]
    assert verset.variants[2].notes[0].clef.name == "C4"


def test_in_what_a_reading_differs_is_found_out() -> None:
    verset = parse(GOOD)
    found = [kinds(verset, v) for v in verset.variants]
    assert found == [
        ("value",),
        ("pitch", "value"),
        ("clef",),
        ("pitch", "value"),
        ("accidental",),
        ("figure",),
        ("missing",),
    ]
    assert {kind for each in found for kind in each} == {*KINDS}


def test_everything_said_of_the_edition_is_there() -> None:
    said = parse(GOOD).provenance
    assert said.composer == Composer("Aldwin, John", attributed=True)
    assert (said.place, said.date, said.relation) == ("Aldwinsbury", "1641-05-03", "B was copied: from A")
    assert said.copy_text and said.copy_text.kept == "A library, 12, 3v"
    assert said.editors == (Editor("Teacher, Anna"), Editor("Friend", "transcriber", "0000-0002-1825-0097"))
    assert dict(said.published.numbers) == {
        "ISBN": "978-0-306-40615-7",
        "ISMN": "979-0-2600-0043-8",
        "DOI": "10.1000/182",
    }
    ((witness, picture),) = said.facsimiles
    assert (witness.siglum, picture.file, picture.zones[0].box) == ("B", "b/3.png", (1, 2, 30, 40))


@pytest.mark.parametrize("field", [field.name for field in fields(Provenance)])
def test_every_field_may_be_left_out(field: str) -> None:
    bare = re.sub(r"```readings.*?```\n", "", GOOD, flags=re.DOTALL)
    key = re.compile(rf"^  {field}:.*\n(    .*\n)*", re.MULTILINE)
    left = parse(key.sub("", bare, count=1)).provenance
    assert getattr(left, field) == getattr(Provenance(), field)
    assert replace(left, **{field: getattr(parse(bare).provenance, field)}) == parse(bare).provenance


def test_nothing_is_said_of_the_source_of_a_verset_that_says_nothing() -> None:
    plain = "---\ntitle: A\nverset: {metre: C, signature: none}\n---\n```given\ncantus C1 | D5/1\n```\n"
    assert parse(plain).provenance == Provenance()


def test_what_is_written_is_read_back() -> None:
    verset = parse(GOOD)
    again = parse(write(verset))
    assert plain(again) == plain(verset)
    assert write(again) == write(verset)


@pytest.mark.parametrize("through", ["mei", "musicxml"])
def test_sources_and_readings_come_back_from_an_encoding(through: str) -> None:
    verset = parse(GOOD)
    score = notated(verset.score())
    if through == "mei":
        again = parse_mei(mei(verset, score).encode())
    else:
        again = parse_musicxml(given_musicxml(verset, score).encode())
    assert (again.variants, again.provenance) == (verset.variants, verset.provenance)


def test_readings_move_with_the_line() -> None:
    verset = transpose(parse(GOOD), read_interval("a tone lower"))
    found = [[g.note.pitch and g.note.pitch.name for g in v.notes] for v in verset.variants]
    assert found == [["G4", "A4"], ["Bb4"], ["G4"], [None, "F4"], ["E4"], ["D4"], []]
    assert [kinds(verset, v) for v in verset.variants] == [
        kinds(parse(GOOD), v) for v in parse(GOOD).variants
    ]


def test_a_course_says_what_its_versets_do_not() -> None:
    own = Provenance(place="here", published=Publication(date="2026"))
    course = Provenance(place="there", date="1640", published=Publication("P", date="2025"))
    assert filled(own, course) == Provenance(
        place="here", date="1640", published=Publication("P", date="2026")
    )


# A mistake (¦ marks the place to be told), what is found, what is expected.
WRONG = [
    ('composer: {name: "Aldwin, John", attributed: true}', "composer: ¦[a]", "composer: a list", "anonymous"),
    ("attributed: true", "attributed: ¦perhaps", 'attributed: "perhaps"', "true or false"),
    ("siglum: Cc", "siglum: ¦C3", 'the siglum "C3"', "no clef"),
    ("siglum: Cc", "siglum: ¦A", 'the siglum "A" a second time', "of its own"),
    ("siglum: B\n", "siglum: B\n      copy-text: ¦true\n", "a second copy-text", "one witness"),
    ("siglum: B\n", "siglum: B\n      ¦shelf: 12\n", 'the key "shelf"', "shelfmark?"),
    ('"https://a.org/1"', '¦"ftp://a.org"', 'the link "ftp://a.org"', "https://"),
    ("file: b/3.png", "file: ¦../3.png", 'the picture "../3.png"', "in no folder above it"),
    ("file: b/3.png", "file: ¦http://a.org/3.png", 'the picture "http://a.org/3.png"', "beside the source"),
    ("file: b/3.png", "file: ¦b/3.tiff", 'the picture "b/3.tiff"', ".png, .jpg or .jpeg"),
    ("{file: b/3.png, licence: CC0-1.0,", "¦{file: b/3.png,", "no licence in this entry", "licence"),
    ("bars: 1-2,", "bars: ¦2-1,", 'bars: "2-1"', "1-4"),
    ("bars: 1-2,", "bars: ¦1-9,", "a zone for bar 9", "a bar from 1 to 4"),
    ("[1, 2, 30, 40]", "¦[1, 2, 30]", "box: a list", "left, top, width and height"),
    ("[1, 2, 30, 40]", "[1, 2, ¦thirty, 40]", '"thirty"', "left, top, width and height"),
    ("role: transcriber", "role: ¦transcibler", 'the role "transcibler"', "did you mean transcriber"),
    ("0000-0002-1825-0097", "¦0000-0002-1825-0098", 'the ORCID "0000-0002-1825-0098"', "digit 7 at its end"),
    ("0000-0002-1825-0097", "¦0000-0002-1825", 'the ORCID "0000-0002-1825"', "sixteen digits"),
    ("978-0-306-40615-7", "¦978-0-306-40615-8", 'the ISBN "978-0-306-40615-8"', "digit 7 at its end"),
    ("979-0-2600-0043-8", "¦979-0-2600-0043-1", 'the ISMN "979-0-2600-0043-1"', "digit 8 at its end"),
    ("10.1000/182", "¦11.1000/182", 'the DOI "11.1000/182"', "10.1000/182"),
    ("altus 4:2 A ", "¦altos 4:2 A ", 'the voice "altos"', "did you mean altus"),
    ("altus 4:2 A ", "altus ¦4;2 A ", 'the place "4;2"', "bar and beat"),
    ("altus 4:2 A ", "altus ¦9:2 A ", "a reading for 9:2", "bars 1 to 4"),
    ("altus 4:2 A ", "altus ¦4:5 A ", "a reading for 4:5", "beats that they have"),
    ("altus 4:2 A ", "cantus ¦4:2 A ", "no note of the cantus that begins there", "given line"),
    ("altus 4:2 A ", "altus ¦4:2.5 A ", "no note of the altus that begins there", "given line"),
    ("altus 4:2 A ", "altus 4:2 ¦X ", 'the witness "X"', "one of A, B, Cc"),
    ("altus 4:2 A ", "altus 4:2 A ¦A ", 'the siglum "A" a second time', "each witness once"),
    ("altus 4:2 A  ", "altus 4:2 ¦   ", "a reading without a witness", "siglum"),
    ("altus 4:2 A     | E4/4{7}", "¦altus | E4/4", "a reading without a place", "bar and beat"),
    ("altus 4:2 A     | E4/4{7}", "altus 4:2 A¦", "the end of the line", "a bar line |"),
    ("| E4/4{7}", "¦|", "a line without music", "_ where"),
    ("| E4/4{7}", "| ¦H4/4", 'the pitch "H4"', "a pitch such as"),
    ("| E4/4{7}", "| ¦E4/8", "a reading that ends inside a note", "the beat of the last note meant"),
    ("| E4/4{7}", "| E4/4{¦6x}", 'the figure "6x"', "a figure from 2 to 12"),
    ("| E4/4{7}", "| E4/8 ¦_ E4/8", "_ beside other notes", "_ alone"),
    ("| E4/4{7}", "| E4/8 ¦// E4/8", "a cut among readings", "in the given line"),
]


def errors(text: str) -> tuple[SourceError, ...]:
    with pytest.raises(SourceErrors) as caught:
        parse(text, "verset.md")
    return caught.value.errors


@pytest.mark.parametrize(("old", "new", "found", "expected"), WRONG, ids=[w[1][:40] for w in WRONG])
def test_a_mistake_is_told_once_where_it_stands_in_three_languages(old, new, found, expected) -> None:
    assert GOOD.count(old) == 1, old
    text = GOOD.replace(old, new.replace("¦", ""))
    (error,) = errors(text)
    at = GOOD.index(old) + new.index("¦")
    line, column = text[:at].count("\n") + 1, at - text.rfind("\n", 0, at)
    assert (error.found, error.line, error.column) == (found, line, column)
    assert expected in error.expected
    for language in ("it", "de"):
        assert knows(error.found, language) and knows(error.expected, language), error


def test_all_mistakes_are_told_together() -> None:
    text = GOOD
    for old, new in (("0097", "0098"), ("40615-7", "40615-8"), ("4:2 A ", "4:2 X "), ("F#4/4", "H4/4")):
        text = text.replace(old, new)
    assert [e.line for e in errors(text)] == [19, 20, 33, 34]


def test_readings_without_witnesses_are_refused() -> None:
    text = re.sub(r"  witnesses:\n(    .*\n)+", "", GOOD)
    assert all("witnesses in the front matter" in e.expected for e in errors(text))


# Published: the examples that the agencies of ORCID, ISBN and ISMN print; the two ORCID identifiers are
# those of its documentation of the checksum (ISO 7064, mod 11-2); ISBN and ISMN by ISO 2108 and ISO 10957.
def test_check_digits_are_those_of_the_standards() -> None:
    assert [orcid_ending(d) for d in ("000000021825009", "000000021694233")] == ["7", "X"]
    assert isbn10_ending("030640615") == "2" and ean_ending("978030640615") == "7"
    assert ean_ending("979026000043") == "8"
    assert ismn("M-2600-0043-8") == "M-2600-0043-8"


@pytest.mark.parametrize(("read", "good"), [(orcid, "0000-0002-1825-0097"), (isbn, "978-0-306-40615-7")])
def test_one_wrong_digit_is_always_noticed(read, good: str) -> None:
    places = [n for n, c in enumerate(good) if c.isdigit()]
    for n in places:
        for digit in "0123456789":
            if digit != good[n]:
                wrong = good[:n] + digit + good[n + 1 :]
                with contextlib.suppress(ValueError):
                    assert read(wrong) is None  # the first three digits of an ISBN


def test_variants_have_a_length_of_their_own() -> None:
    verset = parse(GOOD)
    assert [v.length for v in verset.variants] == [2, Fraction(3, 2), 2, 3, 1, 1, 0]
