"""The page on which bars are marked on a picture of a source: drawn, put in as numbers, read back."""

from __future__ import annotations

import struct
import zlib
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page

from builder.cli.main import main
from builder.language.texts import languages, texts
from builder.pages.zoning import zones_page
from builder.source import parse

SOURCE = """---
title: A
verset:
  metre: C
  signature: none
  witnesses:
    - siglum: A
      pictures:
{zones}
---
```given
cantus C1 | D5/1 | D5/1 | D5/1
```
"""


def png(wide: int, high: int) -> bytes:
    """A white picture (ISO/IEC 15948)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    rows = b"".join(b"\0" + b"\xff" * wide for _ in range(high))
    head = struct.pack(">IIBBBBB", wide, high, 8, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(rows))
        + chunk(b"IEND", b"")
    )


@pytest.fixture
def opened(visit: Any, tmp_path: Path) -> Page:
    (tmp_path / "zones.html").write_text(zones_page("en"), "utf-8")
    (tmp_path / "a 3v.png").write_bytes(png(1200, 1600))
    page: Page = visit(tmp_path / "zones.html")
    page.set_input_files("#file", str(tmp_path / "a 3v.png"))
    page.wait_for_function("document.getElementById('picture').naturalWidth === 1200")
    return page


def drawn(page: Page, *corners: tuple[float, float]) -> None:
    """Draw a box between two corners, given as shares of the picture."""
    shown = page.locator("#picture").bounding_box()
    assert shown
    (x0, y0), (x1, y1) = (
        (shown["x"] + a * shown["width"], shown["y"] + b * shown["height"]) for a, b in corners
    )
    page.mouse.move(x0, y0)
    page.mouse.down()
    page.mouse.move((x0 + x1) / 2, (y0 + y1) / 2)
    page.mouse.move(x1, y1)
    page.mouse.up()


def test_boxes_become_zones_that_a_source_takes(opened: Page) -> None:
    opened.evaluate("document.getElementById('picture').scrollIntoView()")
    drawn(opened, (0.1, 0.05), (0.9, 0.15))
    drawn(opened, (0.9, 0.3), (0.1, 0.2))
    assert opened.input_value("#text") == ""
    opened.fill("#licence", "CC-BY-4.0")
    opened.fill("#credit", 'Parish: "library"')
    numbers = opened.locator("#zones li").first.locator("input")
    numbers.nth(1).fill("2")
    numbers.nth(1).blur()
    verset = parse(SOURCE.format(zones=opened.input_value("#text")))
    ((_, picture),) = verset.provenance.facsimiles
    assert (picture.file, picture.licence, picture.credit) == ("a 3v.png", "CC-BY-4.0", 'Parish: "library"')
    assert [(z.first, z.last) for z in picture.zones] == [(1, 2), (2, 2)]
    for zone, expected in zip(picture.zones, ((120, 80, 960, 160), (120, 320, 960, 160)), strict=True):
        assert all(abs(a - b) <= 4 for a, b in zip(zone.box, expected, strict=True))


def test_a_slip_is_no_box_and_a_box_can_be_taken_away(opened: Page) -> None:
    drawn(opened, (0.1, 0.05), (0.102, 0.051))
    assert opened.locator("#zones li").count() == 0
    drawn(opened, (0.1, 0.05), (0.5, 0.1))
    assert opened.locator("#zones li").count() == 1
    opened.locator("#zones button").click()
    assert opened.locator("#zones li").count() == 0


@pytest.mark.parametrize("language", languages())
def test_the_command_writes_it_in_each_language_and_over_no_file(tmp_path: Path, language: str) -> None:
    target = tmp_path / "zones.html"
    assert main(["zones", "--to", str(target), "--language", language]) == 0
    assert texts("zones", language)("title") in target.read_text("utf-8")
    assert main(["zones", "--to", str(target)]) == 1
