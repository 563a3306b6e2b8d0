"""A page to mark bars on a picture of a source: one file, that opens from a disk and loads nothing."""

from __future__ import annotations

from html import escape

from builder.language.texts import texts
from builder.pages.assets import zones_script

_STYLE = """
body { font: 1rem/1.5 serif; margin: 1rem auto; max-width: 70rem; padding: 0 1rem; }
#stage { position: relative; display: inline-block; max-width: 100%; touch-action: none; cursor: crosshair; }
#picture { display: block; max-width: 100%; user-select: none; -webkit-user-drag: none; }
#drawing { position: absolute; inset: 0; width: 100%; height: 100%; pointer-events: none; }
rect { fill: #0057b733; stroke: #0057b7; stroke-width: 2px; vector-effect: non-scaling-stroke; }
rect.new { fill: none; stroke-dasharray: 6 4; }
li { margin: .5rem 0; } li label { margin-right: .75rem; white-space: nowrap; display: inline-block; }
li input { width: 5rem; } input, button { font: inherit; min-height: 2.75rem; }
textarea { box-sizing: border-box; width: 100%; height: 14rem; font: .9rem/1.4 monospace; }
"""
_NUMBERS = ("first", "last", "left", "top", "width", "height", "remove")


def zones_page(language: str = "en") -> str:
    """The page in a language.

    >>> page = zones_page()
    >>> "<script src" in page, "http" in page.replace("http://www.w3.org/2000/svg", "")
    (False, False)
    """
    w = texts("zones", language)
    words = " ".join(f'data-{key}="{escape(w(key))}"' for key in _NUMBERS)
    fields = "".join(
        f'<p><label>{escape(w(key))} <input id="{key}"{kind}></label></p>'
        for key, kind in (
            ("file", ' type="file" accept="image/png,image/jpeg"'),
            ("licence", ""),
            ("credit", ""),
        )
    )
    return (
        f'<!doctype html>\n<html lang="{escape(language)}">\n<head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(w('title'))}</title>\n<style>{_STYLE}</style></head>\n<body>\n"
        f"<h1>{escape(w('title'))}</h1>\n<p>{escape(w('about'))}</p>\n{fields}\n"
        f'<div id="stage" {words}><img id="picture" alt=""><svg id="drawing" aria-hidden="true">'
        "</svg></div>\n"
        f'<ol id="zones"></ol>\n<p><label for="text">{escape(w("text"))}</label></p>\n'
        f'<textarea id="text" readonly></textarea>\n<script>\n{zones_script()}</script>\n</body>\n</html>\n'
    )
