"""What a repository asks for, and what changed between two releases by bar, voice and reading."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest
import yaml

from builder.edition.exchange.mei import mei
from builder.edition.release.deposit import DC, KERNEL, LATER, UNKNOWN, Deposit, files
from builder.edition.release.errata import music
from builder.edition.release.release import About, citation, release
from builder.language.texts import edition_texts, languages
from builder.music import notated
from builder.source import parse
from builder.source.provenance import Composer, Editor, Provenance, Publication

SAID = Provenance(
    composer=Composer("Aldwin, John"),
    place="Aldwinsbury",
    date="1641",
    editors=(Editor("Teacher, Anna", orcid="0000-0002-1825-0097"), Editor("A Choir", "transcriber")),
    published=Publication("A press", "Town", "2026", doi="10.1000/182", ismn="979-0-2600-0043-8"),
)
ABOUT = About(
    "versets", "Versets & more", "1.0.0", ("Nobody",), "CC-BY-4.0", "The licence.", "All.", said=SAID
)
SOURCE = """---
title: First
verset:
  metre: C
  signature: none
  witnesses: [{siglum: A}, {siglum: B}]
---

```given
cantus C1 | D5/2 A4/4. B4/8 | C5/4 B4/4 A4/2
altus  C3 | A4/2 D4/4. E4/8 | F4/4{6} E4/4{7 #6} D4/2
```

```readings
cantus 1:3 A | A4/4 B4/4 "the dot is lost"
altus 4:2 B  | E4/4{7}
```
"""


def site_at(folder: Path, source: str) -> Path:
    own = folder / "versets" / "first" / "files"
    own.mkdir(parents=True)
    (folder / "index.html").write_text("<html>course</html>", encoding="utf-8")
    verset = parse(source, "first.md")
    (own / "first-given.mei").write_text(mei(verset, notated(verset.score())), "utf-8")
    found = {"name": "first", "title": "First", "tone": 1, "final": "D", "voices": 2, "seconds": 10}
    (own / "report.json").write_text(json.dumps(found))
    return folder


def inside(path: Path, name: str) -> str:
    with zipfile.ZipFile(path) as archive:
        (found,) = [n for n in archive.namelist() if n.endswith(f"/{name}")]
        return archive.read(found).decode()


def errata(tmp_path: Path, changed: str, lang: str = "en") -> list[str]:
    about = replace(ABOUT, lang=lang)
    old = release(about, site_at(tmp_path / "old", SOURCE), {}, tmp_path / "out")
    new = site_at(tmp_path / "new", changed)
    made = release(replace(about, version="1.1.0"), new, {}, tmp_path / "out", previous=old.path)
    return inside(made.path, "ERRATA.md").splitlines()


def test_the_errata_sheet_names_bar_voice_and_reading(tmp_path: Path) -> None:
    changed = SOURCE.replace("C5/4 B4/4 A4/2", "C5/4 Bb4/4 A4/2").replace("F4/4{6}", "F4/4{5}")
    changed = changed.replace("the dot is lost", "the dot is faint").replace("altus 4:2 B  | E4/4{7}\n", "")
    assert errata(tmp_path, changed) == [
        "# Errata: Versets & more 1.1.0",
        "",
        "Since 1.0.0:",
        "",
        "## First",
        "",
        "- Given line, bar 2, cantus: C5 (quarter) B4 (quarter) A4 (half) → "
        "C5 (quarter) B♭4 (quarter) A4 (half)",
        "- Given line, bar 4, figures: 6 7 ♯6 → 5 7 ♯6",
        "- Given line, bar 1, reading: A: A4 (quarter) B4 (quarter) the dot is lost → "
        "A: A4 (quarter) B4 (quarter) the dot is faint",
        "- Given line, bar 4, reading: B: E4 (quarter) → nothing",
    ]


def test_the_errata_sheet_tells_metre_signature_tempo_and_clefs_by_bar(tmp_path: Path) -> None:
    changed = SOURCE.replace("metre: C", "metre: 4/4").replace("signature: none", "signature: Bb")
    changed = changed.replace("witnesses:", "beat: dotted half = 40\n  witnesses:")
    changed = changed.replace("altus  C3", "altus  C2")
    told = errata(tmp_path, changed)
    assert told[6:] == [
        "- Given line, bar 1, metre: C → 4/4",
        "- Given line, bar 1, signature: nothing → B♭",
        "- Given line, bar 1, tempo: half = 52 → dotted half = 40",
        "- Given line, bar 3, clef: C3 → C2",
    ]


def test_a_change_of_metre_in_a_file_of_others_is_told_at_its_bar() -> None:
    """MEI Guidelines 5.1: a `scoreDef` between measures holds from the next one on."""
    text = (
        '<mei xmlns="http://www.music-encoding.org/ns/mei"><section><scoreDef keysig="1f" meter.count="4" '
        'meter.unit="4"/><measure n="1"/><scoreDef><meterSig count="3" unit="2"/><keySig sig="2s"/>'
        "</scoreDef>"
        '<measure n="2"><tempo mm="60" mm.unit="4"/></measure></section></mei>'
    )
    found = music(text, edition_texts("en")).notes
    assert found == {
        (1, "metre"): ["4/4"],
        (1, "signature"): ["B♭"],
        (2, "metre"): ["3/2"],
        (2, "signature"): ["F♯ and C♯"],
        (2, "tempo"): ["quarter = 60"],
    }


def test_where_no_note_changed_the_sheet_says_so(tmp_path: Path) -> None:
    assert "No note, figure or reading has changed." in errata(tmp_path, SOURCE)


@pytest.mark.parametrize("lang", languages())
def test_the_sheet_speaks_the_language_of_the_edition(tmp_path: Path, lang: str) -> None:
    told = errata(tmp_path, SOURCE.replace("A4/2\naltus", "G4/2\naltus"), lang)
    words = {"en": "bar 2, cantus", "it": "battuta 2, canto", "de": "Takt 2, Cantus"}
    assert any(words[lang] in line for line in told)


def test_datacite_has_what_its_schema_asks_for_in_its_order() -> None:
    """Source: DataCite Metadata Schema 4.5, mandatory properties and the sequence of its schema."""
    made = files(
        Deposit("T & U", "1.0.0", "CC-BY-4.0", "https://x", "it", SAID.editors, "All.", "P", "2026", SAID)
    )
    root = ET.fromstring(made["metadata/datacite.xml"])
    space = f"{{{KERNEL}}}"
    assert root.tag == f"{space}resource"
    tags = [child.tag.removeprefix(space) for child in root]
    assert {"identifier", "creators", "titles", "publisher", "publicationYear", "resourceType"} <= {*tags}
    assert root.findtext(f"{space}identifier") == "10.1000/182"
    assert root.findtext(f"{space}publicationYear") == "2026"
    creator = root.find(f"{space}creators/{space}creator")
    assert creator is not None
    told = [(c.tag.removeprefix(space), c.text) for c in creator]
    assert told == [("creatorName", "Aldwin, John"), ("givenName", "John"), ("familyName", "Aldwin")]
    kinds = [c.get("contributorType") for c in root.iter(f"{space}contributor")]
    assert kinds == ["Editor", "DataCurator"]
    (orcid,) = root.iter(f"{space}nameIdentifier")
    assert (orcid.text, orcid.get("nameIdentifierScheme")) == (
        "https://orcid.org/0000-0002-1825-0097",
        "ORCID",
    )
    (ismn,) = root.iter(f"{space}alternateIdentifier")
    assert (ismn.text, ismn.get("alternateIdentifierType")) == ("979-0-2600-0043-8", "ISMN")


def test_nothing_is_invented_for_a_repository() -> None:
    made = files(Deposit("T", "1.0.0", "MIT", "", "en", year="2026"))
    root = ET.fromstring(made["metadata/datacite.xml"])
    found = {child.tag.removeprefix(f"{{{KERNEL}}}"): child for child in root}
    assert (found["identifier"].text, found["publisher"].text) == (LATER, UNKNOWN)
    assert "contributors" not in found and "descriptions" not in found
    assert "metadata/datacite.xml" not in files(Deposit("T", "1.0.0", "MIT", "", "en"))


def test_dublin_core_uses_elements_of_its_set_alone() -> None:
    """Source: Dublin Core Metadata Element Set 1.1, fifteen elements."""
    known = "title creator subject description publisher contributor date type format identifier source"
    known += " language relation coverage rights"
    made = files(Deposit("T", "1.0.0", "MIT", "u", "de", SAID.editors, year="2026", said=SAID))
    root = ET.fromstring(made["metadata/dublin-core.xml"])
    names = [child.tag.removeprefix(f"{{{DC}}}") for child in root]
    assert {*names} <= {*known.split()} and all(child.text for child in root)
    told = {name: [c.text for c in root if c.tag == f"{{{DC}}}{name}"] for name in names}
    assert told["creator"] == ["Aldwin, John"]
    assert told["contributor"] == ["Teacher, Anna (editor)", "A Choir (transcriber)"]
    assert told["identifier"] == ["ISMN 979-0-2600-0043-8", "DOI 10.1000/182"]
    assert told["coverage"] == ["Aldwinsbury", "1641"]


def test_the_citation_names_the_editors_with_orcid_and_doi() -> None:
    card = yaml.safe_load(citation(ABOUT))
    assert card["authors"][0] == {
        "family-names": "Teacher",
        "given-names": "Anna",
        "orcid": "https://orcid.org/0000-0002-1825-0097",
    }
    assert card["doi"] == "10.1000/182"
    assert card["identifiers"] == [{"type": "other", "value": "ISMN 979-0-2600-0043-8"}]


def test_a_release_has_the_files_and_takes_the_year_from_what_is_said(tmp_path: Path) -> None:
    made = release(ABOUT, site_at(tmp_path / "site", SOURCE), {}, tmp_path / "out")
    assert "<publicationYear>2026<" in inside(made.path, "metadata/datacite.xml")
    assert "Versets &amp; more" in inside(made.path, "metadata/dublin-core.xml")
