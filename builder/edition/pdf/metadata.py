"""What a PDF says of itself to catalogues: its XMP packet, and the date where there is one.

Sources (published): ISO 16684-1 (XMP, with Dublin Core and rights management), ISO 32000-1, 7.5 (file
structure), ISO 19005-2, 6.6 (metadata of PDF/A: schemas that XMP defines need no description of their own).
The typesetter writes title, creators, description and language; people with their roles, composer, publisher,
numbers, rights and sources are put in beside them here. The typesetter asks for a date; where the edition is
not dated, the stand-in is taken out again, so that no file says a day on which nothing happened.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any
from xml.sax import saxutils

DC = "http://purl.org/dc/elements/1.1/"
RIGHTS = "http://ns.adobe.com/xap/1.0/rights/"
_DATES = re.compile(rb"/(?:ModDate|CreationDate) ?\(D:[^)]*\)")
_XMP_DATES = re.compile(
    r"<xmp:(ModifyDate|CreateDate)>.*?</xmp:\1>|<xmpMM:History>.*?</xmpMM:History>", re.DOTALL
)
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_CREATORS = re.compile(r"<dc:creator>.*?</dc:creator>", re.DOTALL)
_ENTRY = re.compile(rb"(\d{10}) (\d{5}) ([nf])")


def with_metadata(pdf: bytes, told: Mapping[str, Any], *, dated: bool) -> bytes:
    """A PDF of the typesetter with what `told` says in its metadata, by name of the element: lists of texts
    for `creator`, `contributor`, `publisher`, `identifier`, `source`, `relation`, `date`, `coverage`, one
    text for `rights` and `licence_url`. `dated`: it keeps its dates. `ValueError` for a file of another form.
    """
    objects = _objects(pdf)
    found = next((n for n, body in objects.items() if b"/Type/Metadata" in body), None)
    if found is None:
        raise ValueError("a PDF without metadata")
    head, stream, tail = _stream(objects[found])
    packet = stream.decode("utf-8")
    if not dated:
        packet = _XMP_DATES.sub("", packet)
        objects = {n: _DATES.sub(b"", body) if b"/Creator" in body else body for n, body in objects.items()}
    changed = _said(packet, told).encode("utf-8")
    head = re.sub(rb"/Length \d+", b"/Length %d" % len(changed), head)
    objects[found] = head + changed + tail
    return _file(pdf, objects)


def _said(packet: str, told: Mapping[str, Any]) -> str:
    """The packet with the elements that say something, each in the form that XMP asks for."""
    if told.get("creator"):
        packet = _CREATORS.sub("", packet)
    made = "".join(_elements(told))
    if "xmpRights:" in made:
        packet = packet.replace(' xmlns:dc="', f' xmlns:xmpRights="{RIGHTS}" xmlns:dc="', 1)
    at = packet.index("</rdf:Description>")
    return packet[:at] + made + packet[at:]


def _elements(told: Mapping[str, Any]) -> Iterator[str]:
    for name in ("creator", "date"):
        if values := told.get(name):
            yield _array(name, "Seq", values)
    for name in ("contributor", "publisher", "relation", "type"):
        if values := told.get(name):
            yield _array(name, "Bag", values)
    for name in ("identifier", "source", "coverage"):
        if values := told.get(name):
            yield f"<dc:{name}>{escape('; '.join(values))}</dc:{name}>"
    if rights := told.get("rights"):
        words = f'<rdf:Alt><rdf:li xml:lang="x-default">{escape(rights)}</rdf:li></rdf:Alt>'
        yield f"<dc:rights>{words}</dc:rights>"
        yield "<xmpRights:Marked>True</xmpRights:Marked>"
    if url := told.get("licence_url"):
        yield f"<xmpRights:WebStatement>{escape(url)}</xmpRights:WebStatement>"


def escape(text: str) -> str:
    """A text as XML has it, without characters that XML has not.

    >>> escape("A & \x07B")
    'A &amp; B'
    """
    return saxutils.escape(_NOT_XML.sub("", text))


def _array(name: str, kind: str, values: Sequence[str]) -> str:
    items = "".join(f"<rdf:li>{escape(value)}</rdf:li>" for value in values)
    return f"<dc:{name}><rdf:{kind}>{items}</rdf:{kind}></dc:{name}>"


def _objects(pdf: bytes) -> dict[int, bytes]:
    """Every object by its number, from its first byte to where the next thing begins."""
    start = int(pdf[pdf.rindex(b"startxref") :].split()[1])
    if pdf[start : start + 4] != b"xref":
        raise ValueError("a PDF without a plain table of objects")
    table = pdf[start : pdf.index(b"trailer", start)]
    entries = [(int(at), kind) for at, _, kind in _ENTRY.findall(table)]
    places = sorted((at, n) for n, (at, kind) in enumerate(entries) if kind == b"n")
    ends = [at for at, _ in places[1:]] + [start]
    return {n: pdf[at:end] for (at, n), end in zip(places, ends, strict=True)}


def _stream(body: bytes) -> tuple[bytes, bytes, bytes]:
    """An object with a stream: what stands before, the stream, what stands after."""
    at = body.index(b"stream\n") + len(b"stream\n")
    length = re.search(rb"/Length (\d+)", body[:at])
    if length is None:
        raise ValueError("a stream without a length")
    end = at + int(length[1])
    return body[:at], body[at:end], body[end:]


def _file(pdf: bytes, objects: Mapping[int, bytes]) -> bytes:
    """The file with these objects, in the order in which they stood, and their table anew."""
    start = int(pdf[pdf.rindex(b"startxref") :].split()[1])
    trailer = pdf[pdf.index(b"trailer", start) : pdf.rindex(b"startxref")]
    first = min(int(at) for at, _, kind in _ENTRY.findall(pdf[start:]) if kind == b"n")
    out = bytearray(pdf[:first])
    places: dict[int, int] = {}
    for number, body in objects.items():
        places[number] = len(out)
        out += body
    table, count = len(out), max(objects) + 1
    out += b"xref\n0 %d\n0000000000 65535 f\r\n" % count
    for number in range(1, count):
        used = number in places
        out += b"%010d %05d %s\r\n" % (places.get(number, 0), 0 if used else 65535, b"n" if used else b"f")
    return bytes(out + trailer + b"startxref\n%d\n%%%%EOF" % table)
