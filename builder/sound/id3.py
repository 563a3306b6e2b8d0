"""The tag of an MP3 file: ID3v2.3 (Nilsson 1999), text in Latin-1 or else in UTF-16.

Written here, since the encoder puts UTF-8 where its tag says Latin-1 and has no frame for a licence.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from urllib.parse import quote

_FRAMES = {
    "title": "TIT2",
    "artist": "TPE1",
    "album": "TALB",
    "date": "TYER",
    "genre": "TCON",
    "tracknumber": "TRCK",
}
_OF_AN_ADDRESS = ":/?#[]@!$&'()*+,;=%"
"""What stands in an address as it is (RFC 3986); all else is written by its bytes."""


def id3(tags: Mapping[str, str]) -> bytes:
    """The tag that stands before the sound; nothing where it would be empty.

    Of a `date` it tells the year. A `license` is told when it is an address (frame WCOP), a `copyright` when
    it begins with a year, as its frame wants it (TCOP).

    >>> id3({"title": "Amen"})
    b'ID3\\x03\\x00\\x00\\x00\\x00\\x00\\x0fTIT2\\x00\\x00\\x00\\x05\\x00\\x00\\x00Amen'
    """
    frames = b"".join(
        name.encode() + len(body).to_bytes(4, "big") + b"\0\0" + body for name, body in _all(tags)
    )
    size = bytes(len(frames) >> shift & 127 for shift in (21, 14, 7, 0))
    return b"ID3\3\0\0" + size + frames if frames else b""


def _all(tags: Mapping[str, str]) -> Iterator[tuple[str, bytes]]:
    """Frames by name."""
    for key, name in _FRAMES.items():
        if key in tags:
            yield name, _strings(tags[key][:4] if key == "date" else tags[key])
    if "comment" in tags:
        yield "COMM", _strings("", tags["comment"], before=b"XXX")  # no language stated, no heading
    if re.match(r"[0-9]{4} .", tags.get("copyright", "")):
        yield "TCOP", _strings(tags["copyright"])
    if tags.get("license", "").startswith(("http://", "https://")):
        yield "WCOP", quote(tags["license"], safe=_OF_AN_ADDRESS).encode("ascii")


def _strings(*texts: str, before: bytes = b"") -> bytes:
    """Strings in one coding, which is named first, parted by zeros."""
    try:
        coding, zero, coded = b"\0", b"\0", [text.encode("latin-1") for text in texts]
    except UnicodeEncodeError:
        coding, zero, coded = b"\1", b"\0\0", [b"\xff\xfe" + text.encode("utf-16-le") for text in texts]
    return coding + before + zero.join(coded)
