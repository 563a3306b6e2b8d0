"""The tag of an MP3 file as the standard has it: ID3 tag version 2.3.0 (Nilsson, 1999)."""

from __future__ import annotations

from builder.sound.id3 import id3


def frames(tag: bytes) -> dict[str, bytes]:
    """The bodies of a tag's frames, read as sections 3.1 and 3.3 of the standard say."""
    assert tag[:6] == b"ID3\3\0\0"
    assert all(part < 128 for part in tag[6:10])
    size = sum(part << shift for part, shift in zip(tag[6:10], (21, 14, 7, 0), strict=True))
    assert len(tag) == 10 + size
    found, at = {}, 10
    while at < len(tag):
        length = int.from_bytes(tag[at + 4 : at + 8], "big")
        found[tag[at : at + 4].decode("ascii")] = tag[at + 10 : at + 10 + length]
        at += 10 + length
    assert at == len(tag)
    return found


def test_text_is_latin_1_where_that_has_all_its_letters() -> None:
    assert frames(id3({"title": "Più", "comment": "für alle"})) == {
        "TIT2": b"\0Pi\xf9",
        "COMM": b"\0XXX\0f\xfcr alle",
    }


def test_other_text_is_utf_16_with_its_mark() -> None:
    found = frames(id3({"title": "B♭", "comment": "B♭"}))
    assert found["TIT2"] == b"\1\xff\xfeB\0\x6d\x26"
    assert found["COMM"] == b"\1XXX\xff\xfe\0\0\xff\xfeB\0\x6d\x26"


def test_the_year_is_told_and_a_licence_that_is_an_address() -> None:
    address = "https://licences.example/free"
    found = frames(id3({"date": "2023-11-14", "license": address, "copyright": "A Choir"}))
    assert found == {"TYER": b"\x002023", "WCOP": address.encode()}
    assert id3({"license": "ask the editor"}) == b""


def test_a_long_tag_tells_its_size_in_sevens_of_bits() -> None:
    assert frames(id3({"comment": "x" * 40_000}))["COMM"].endswith(b"x" * 40_000)


def test_a_copyright_is_told_when_it_begins_with_a_year() -> None:
    """ID3v2.3.0, 4.2.1: TCOP must begin with a year and a space."""
    assert frames(id3({"copyright": "2026 A press. MIT"})) == {"TCOP": b"\x002026 A press. MIT"}
