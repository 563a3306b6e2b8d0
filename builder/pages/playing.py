"""One's own playing on a lesson's pages: recordings, laid beside the score so that the music follows."""

from __future__ import annotations

import hashlib
import posixpath
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from html import escape
from pathlib import Path
from typing import Any

from builder.language.markup import Marked
from builder.language.texts import Texts
from builder.pages.lesson import ROOT
from builder.setting.setting import Setting
from builder.sound.alignment import Alignment, align, read_sound
from builder.source.pictures import files_of
from builder.source.playing import Playing


@dataclass(frozen=True, slots=True)
class Played:
    """A recording as a page plays it: `uri` from the root of the site, and how it lies beside the score."""

    playing: Playing
    uri: str
    alignment: Alignment

    def title(self, w: Texts) -> str:
        """What a list calls it."""
        said = self.playing
        what = said.title or w(f"pages.playing.{said.of}")
        return w("pages.playing.by", what=what, who=said.by) if said.by else what


def recordings_of(setting: Setting, folder: Path, uri: str) -> tuple[Played, ...]:
    """The recordings that a source names, which lie in its `folder`, on the lesson at `uri`. `ValueError` for
    a file that is no sound."""
    found = []
    for playing in setting.verset.playing:
        sound = read_sound(folder / playing.heard)
        alignment = align(sound, setting.performance(playing.version), tuple(_fixed(setting, playing)))
        found.append(Played(playing, posixpath.join(posixpath.dirname(uri), playing.file), alignment))
    return tuple(found)


def _fixed(setting: Setting, playing: Playing) -> Iterator[tuple[float, float]]:
    """What the teacher has heard, in seconds of the verset and of the recording."""
    bars = {bar.number: bar for bar in setting.verset.bars}
    for point in playing.points:
        beat = Fraction(point.beat).limit_denominator(64)
        onset = bars[point.bar].line + (beat - 1) * setting.verset.metre.beat
        yield setting.tempo.seconds(onset), point.at


def play_data(played: Played, key: str, w: Texts) -> Mapping[str, Any]:
    """What the page is given of a recording: `points` are pairs of seconds, of the verset and of the
    recording; `away`, the bars in which its notes are not those of its version, or True for all."""
    return {
        "key": key,
        "name": played.title(w),
        "of": str(played.playing.version),
        "away": True if played.playing.of == "improvisation" else list(played.alignment.departures),
        "picture": played.playing.is_picture,
        "source": ROOT + played.uri,
        "points": [list(pair) for pair in played.alignment.points],
    }


def told(setting: Setting, played: Played, w: Texts) -> Mapping[str, Any]:
    """How surely a recording is followed: its title, a table of its bars as HTML, and the bars that it does
    not play as they stand."""
    at = dict(played.alignment.points)
    starts = {bar.number: round(setting.tempo.seconds(bar.line), 4) for bar in setting.verset.bars}
    rows = [[w(f"pages.playing.{key}") for key in ("bar", "begins", "sure")]]
    for bar, share in played.alignment.sure:
        rows.append([f"{bar}", w("pages.playing.seconds", n=f"{at.get(starts[bar], 0):.1f}"), f"{share:.0%}"])
    lines = [f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>" for row in rows]
    away = played.alignment.departures
    return {
        "title": played.title(w),
        "table": Marked(f"<table>{''.join(lines)}</table>".replace("td>", "th>", 2 * len(rows[0]))),
        "away": w("pages.playing.away", bars=w.listing([str(bar) for bar in away])) if away else "",
    }


def digests(text: str, folder: Path) -> tuple[str, ...]:
    """What tells the pictures and recordings that a source names from others, for the key of its lesson."""
    files = (folder / name for name in files_of(text))
    return tuple(hashlib.sha256(path.read_bytes()).hexdigest() for path in files if path.is_file())
