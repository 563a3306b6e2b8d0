"""Many pictures on one page: signs drawn once, music that fits phone, tablet and desktop."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from builder.engraving.engrave import TEXT_FONT, counted, picture, systems
from builder.engraving.given import SIGN

WIDTHS: Mapping[str, tuple[float, float]] = {"narrow": (360, 38), "wide": (860, 42)}
"""Widths for which a page carries the music: name to width in pixels and scale in percent. The page
shows one of them, whichever fits: about two bars a line on a phone, five or six on a desk."""

_DEFS = re.compile(r"<defs>(.*?)</defs>")
_GLYPH = re.compile(r'<path id="([^"]+)".*?/>')
LINE = 21
"""Thickness of lines and stems in pictures of a page, which the site's style sheet says once for all."""
_LINE = f' stroke-width="{LINE}"'
_ALONE = re.compile(r'<g class="(notehead|stem)"><(use|path) ([^<>]*/>)</g>')
_OWN_NAMES = re.compile(r' (?:data-id|data-n|class)="(?!music")[^"]*"(?=[^<]*>)')


def flow(
    mei: str, *, label: str = "", widths: Mapping[str, tuple[float, float]] = WIDTHS, font: str = TEXT_FONT
) -> dict[str, tuple[str, ...]]:
    """The same music for each width, by name, one picture a system. Ids are on notes as `data-id`, so
    that the same note may stand on the page once for each width; the numbers of readings have ids that tell
    the width.

    >>> from builder.engraving.given import given_mei
    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> score = notated(verset.score())
    >>> {width: len(pictures) for width, pictures in flow(given_mei(verset, score)).items()}
    {'narrow': 1, 'wide': 1}
    """
    found: dict[str, tuple[str, ...]] = {}
    for name, row in zip(widths, systems(mei, list(widths.values())), strict=True):
        drawn = (picture(s, label=counted(label, n, len(row)), font=font) for n, s in enumerate(row))
        found[name] = tuple(svg.replace(f'id="{SIGN}-', f'id="{SIGN}-{name}-') for svg in drawn)
    return found


def unnamed(picture: str) -> str:
    """A picture of music that is only looked at and follows no sound: without names of notes and bars. By its
    own class the style sheet knows its lines.

    >>> unnamed('<svg class="music"><g data-id="given-cantus-1-0" class="note"><path d="M0 0"/></g></svg>')
    '<svg class="music"><g><path d="M0 0"/></g></svg>'
    """
    return _OWN_NAMES.sub("", picture)


def page_svg(svgs: Iterable[str]) -> tuple[str, tuple[str, ...]]:
    """Take the signs out of the pictures of a page, to be defined once: a hidden picture that holds
    them all, and the pictures without them. Put the first anywhere in the page. What most lines have in
    common (`LINE`) is left to the style sheet, and a head or stem of one piece needs no group.

    >>> from builder.engraving.engrave import svg
    >>> from builder.engraving.given import given_mei
    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> score = notated(verset.score())
    >>> signs, pictures = page_svg(svg(given_mei(verset, score)))
    >>> "<defs" in signs, any("<defs" in picture for picture in pictures)
    (True, False)
    """
    glyphs: dict[str, str] = {}
    bodies = []
    for one in svgs:
        for defs in _DEFS.findall(one):
            glyphs |= {match[1]: match[0] for match in _GLYPH.finditer(defs)}
        body = _DEFS.sub("", one, count=1).replace(_LINE, "")
        bodies.append(_ALONE.sub(r'<\2 class="\1" \3', body))
    shared = "".join(glyphs[name] for name in sorted(glyphs))
    hidden = 'width="0" height="0" aria-hidden="true" style="position:absolute"'
    defs = f'<svg xmlns="http://www.w3.org/2000/svg" {hidden}><defs>{shared}</defs></svg>'
    return defs, tuple(bodies)
