"""HTML of the music and of its player.

The page is whole without script: engraved music, and recordings in the browser's own audio element. The
reader's script finds these sections and puts its controls into them.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

from builder.language.texts import Texts
from builder.music import Version
from builder.pages.assets import words_uri
from builder.pages.lesson import ROOT

_TYPES = {".mp3": "audio/mpeg", ".flac": "audio/flac", ".ogg": "audio/ogg", ".wav": "audio/wav"}


def music(
    svg_defs: str,
    systems_by_width: Mapping[str, Sequence[str]],
    version: Version,
    label: str,
    words: Texts,
    *,
    clefs: str = "",
    later: bool = False,
    remark: str = "",
) -> str:
    """A block of engraved music.

    `svg_defs`: the glyphs shared by the page's music, once a page, else empty. `systems_by_width`: the
    SVG of each system, for `wide` and `narrow` screens; of several widths the page shows the one that
    fits. `clefs`: `original` or `modern` where the page has the same music in both; the modern one
    waits for the reader to ask. `later`: where there is a script this version waits too. `remark`: a
    sentence under the label.

    >>> from builder.language.texts import page_texts
    >>> html = music("", {"wide": ["<svg></svg>"]}, Version.PLAIN, "Bars 1 to 4", page_texts("en"))
    >>> 'data-version="plain"' in html
    True
    """
    clef_mark = f' data-clefs="{escape(clefs)}"' if clefs else ""
    if clefs == "modern":
        clef_mark += " hidden"
        label = f"{label} ({words('music.modern')})"
    classes = "verset-music verset-later" if later else "verset-music"
    only = " verset-only" if len(systems_by_width) == 1 else ""
    name = escape(words("music.label", label=label))
    said = f'<span class="verset-remark">{escape(remark)}</span>' if remark else ""
    sets = [
        f'<div class="verset-systems verset-{escape(width)}{only}" role="group" tabindex="0" '
        f'aria-label="{name}">{"".join(systems)}</div>'
        for width, systems in systems_by_width.items()
    ]
    return (
        f'{svg_defs}<figure class="{classes}" data-version="{escape(version)}"{clef_mark}>'
        f"<figcaption>{escape(label)}{said}</figcaption>{''.join(sets)}</figure>"
    )


def player(
    play_data: Mapping[str, Any],
    versions: Sequence[Version],
    audio_links: Mapping[Version, Sequence[str]],
    start: float,
    end: float,
    words: Texts,
    *,
    first: str = "",
    names: Mapping[str, str] | None = None,
    playing: Sequence[Mapping[str, Any]] = (),
) -> str:
    """The player of a page, for all its blocks of music.

    `start`, `end`: the page's stretch of the verset, in seconds at full speed. `audio_links`: for each
    version its recordings, the likeliest to play first. `first`: the version that sounds at the start.
    `names`: what each note is called, by its id, for readers who want names beside the notes. `playing`:
    recordings of one's own playing, as `playing.play_data` gives them.
    """
    data = {
        "play": play_data,
        "versions": [v for v in versions if v in play_data["versions"]],
        "first": first or (Version.PLAIN if Version.PLAIN in versions else versions[0]),
        "names": dict(names or {}),
        "playing": [{k: v for k, v in each.items() if k != "source"} for each in playing],
        "span": {"start": round(start, 4), "end": round(end, 4)},
    }
    whole = start <= 0 and end >= play_data["end"] - 0.05
    title = escape(words("reader.title"))
    return (
        f'<section class="verset-player" lang="{words.language}" aria-label="{title}">'
        f"{_own_playing(playing, start, end, whole, words)}"
        f"{_recordings(audio_links, '' if whole else f'#t={start:.2f},{end:.2f}', words)}"
        f'<script src="{ROOT}{words_uri(words.language)}"></script>'
        f'<script type="application/json" class="verset-play">{_inline(data)}</script></section>'
    )


def _recordings(links: Mapping[Version, Sequence[str]], fragment: str, words: Texts) -> str:
    """Recordings of a page, open until the script offers its own sound."""
    rows = []
    for version, sources in links.items():
        label = escape(words("listen.recording", version=words(f"versions.{version}")))
        inside = "".join(
            f'<source src="{escape(source)}{fragment}" type="{_type(source)}"/>' for source in sources
        )
        rows.append(
            f'<p class="verset-recording"><span>{label}</span> '
            f'<audio controls preload="none" aria-label="{label}">{inside}</audio></p>'
        )
    if not rows:
        return ""
    return (
        f'<details class="verset-recordings" open><summary>{escape(words("listen.heading"))}</summary>'
        f"{''.join(rows)}</details>"
    )


def _own_playing(
    playing: Sequence[Mapping[str, Any]], start: float, end: float, whole: bool, words: Texts
) -> str:
    """Recordings of one's own playing, with the browser's own controls; the script lets the music follow."""
    rows = []
    for each in playing:
        name, kind = escape(each["name"]), "video" if each["picture"] else "audio"
        times = [second for moment, second in each["points"] if start - 0.01 <= moment <= end + 0.01]
        part = "" if whole or not times else f"#t={times[0]:.2f},{times[-1]:.2f}"
        source = f'data-playing="{escape(each["key"])}" src="{escape(each["source"])}{part}"'
        rows.append(
            f'<p class="verset-recording"><span>{name}</span> '
            f'<{kind} controls preload="none" aria-label="{name}" {source}></{kind}></p>'
        )
    if not rows:
        return ""
    return (
        '<details class="verset-recordings verset-playing" open>'
        f"<summary>{escape(words('listen.playing'))}</summary>"
        f"{''.join(rows)}</details>"
    )


def _type(source: str) -> str:
    return next((kind for ending, kind in _TYPES.items() if source.endswith(ending)), "audio/mpeg")


def _inline(data: Mapping[str, Any]) -> str:
    """JSON that may stand inside a script element: no `<` can close it."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")
