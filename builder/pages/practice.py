"""The music of a page and the player that plays it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from html import escape
from typing import Any

from builder.engraving import flow, given_mei, keyboard_mei, page_svg
from builder.engraving.aids import with_aids
from builder.engraving.given import given_notes
from builder.engraving.page import unnamed
from builder.language.texts import Texts
from builder.music import Clef, Score, Version
from builder.pages.exercise import exercise
from builder.pages.facts import bars as told_bars
from builder.pages.gracing import Graces
from builder.pages.lesson import ROOT
from builder.pages.player import music, player
from builder.pages.playing import Played
from builder.pages.playing import play_data as played_data
from builder.pages.side_by_side import side_by_side
from builder.pages.told import note_name, told
from builder.setting.setting import Setting
from builder.sound import play_data

_MODERN = {"cantus": Clef("G", 2), "altus": Clef("G", 2), "tenor": Clef("F", 4), "bassus": Clef("F", 4)}
WIDTHS: Mapping[str, tuple[float, float]] = {"narrow": (340, 38), "wide": (690, 42)}
"""Widths in pixels, and scales in percent, at which a page carries its music."""

BESIDE: Mapping[str, tuple[float, float]] = {"beside": (300, 34)}
"""The same for two bars that stand beside others."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """What a page shows of a verset: from `start` to `end` in quarter notes, in these versions."""

    start: Fraction
    end: Fraction
    versions: tuple[Version, ...]


def practice(
    setting: Setting,
    stretch: Stretch,
    audio: Mapping[str, Sequence[str]],
    words: Texts,
    remarks: Mapping[str, str] | None = None,
    played: Sequence[Played] = (),
    graces: Graces | None = None,
) -> str:
    """HTML of a page's music, in each version, and of its player. `audio`: the site's recordings of
    each version, as uris from the root of the site; `remarks`: a sentence under the label of a version;
    `played`: recordings of one's own playing; `graces`: the verset's, where pages share them."""
    step = {Version.GIVEN, Version.PLAIN} <= set(stretch.versions)
    play = _play(setting, stretch)
    stretch = replace(stretch, versions=told_apart(play["versions"]))
    pieces = _pieces(setting, stretch, words)
    levels = side_by_side(setting, stretch.start, stretch.end) if step else []
    engraved = [flow(mei, label=label, widths=WIDTHS) for _, label, _, mei in pieces]
    engraved += [_level(setting, level, score, words) for level, score in levels]
    graces = graces or Graces(setting, words)
    own = exercise(setting, stretch.start, stretch.end, words, graces, root=ROOT) if step else ""
    # Where the reader has voices to put in, ours wait until they are asked for.
    first = Version.GIVEN if own or Version.PLAIN not in stretch.versions else Version.PLAIN
    first = first if first in stretch.versions else stretch.versions[0]
    defs, blocks = _shared(engraved)
    music_of = [
        music(
            defs if n == 0 else "",
            block,
            version,
            label,
            words,
            clefs=clefs,
            later=version not in (Version.GIVEN, first),
            remark=(remarks or {}).get(version, ""),
        )
        for n, ((version, label, clefs, _), block) in enumerate(zip(pieces, blocks))
    ]
    tempo = setting.tempo
    controls = player(
        play,
        stretch.versions,
        {v: [ROOT + uri for uri in audio[v]] for v in stretch.versions if v in audio},
        tempo.seconds(stretch.start),
        tempo.seconds(stretch.end),
        words,
        first=first,
        names=_names(setting, stretch, words),
        playing=[played_data(each, f"playing-{n}", words) for n, each in enumerate(played, 1)],
    )
    span = (stretch.start, stretch.end, words)
    bars = told(setting.verset, setting.scores, stretch.versions, *span, "ours" if own else "heading")
    # Who hears the page reads the line first, as those do who see it, and our setting only when asked.
    line = told(setting.verset, {}, (Version.GIVEN,), *span, "line") if own else ""
    beside = _beside(levels, blocks[len(pieces) :], words)
    return "".join(music_of) + controls + line + own + beside + bars


def _pieces(setting: Setting, stretch: Stretch, words: Texts) -> list[tuple[Version, str, str, str]]:
    """Each piece of a page's music: its version, its label, its clefs and its MEI."""
    found = []
    for version in stretch.versions:
        score = setting.scores[version].excerpt(stretch.start, stretch.end)
        label = words(
            "pages.pieceLabel",
            title=setting.verset.title,
            version=words(f"versions.{version}"),
            bars=told_bars(setting.verset, stretch.start, stretch.end, words),
        )
        found += [(version, label, clefs, mei) for clefs, mei in _written(setting, version, score)]
    return found


def _level(setting: Setting, level: int, score: Score, words: Texts) -> dict[str, tuple[str, ...]]:
    """Two bars at one level, engraved to stand beside the other levels."""
    label = words("pages.levelLabel", level=words(f"pages.levels.{level}"), bars=_bars_of(score, words))
    return flow(keyboard_mei(score, full=_full(setting, score)), label=label, widths=BESIDE)


def _beside(
    levels: Sequence[tuple[int, Score]], blocks: Sequence[Mapping[str, Sequence[str]]], words: Texts
) -> str:
    """The levels of two bars beside one another."""
    if not levels:
        return ""
    bars = _bars_of(levels[0][1], words)
    figures = "".join(
        f"<figure><figcaption>{escape(words(f'pages.levels.{level}'))}</figcaption>"
        f"{unnamed(''.join(block['beside']))}</figure>"
        for (level, _), block in zip(levels, blocks, strict=True)
    )
    told = escape(words("pages.levelsLead", bars=bars))
    return f'<div class="verset-beside"><p>{told}</p><div>{figures}</div></div>'


def _bars_of(score: Score, words: Texts) -> str:
    first, last = score.bars[0].number, score.bars[-1].number
    return words("pages.twoBars", first=first, last=last)


def told_apart(played: Mapping[Version, Sequence[Sequence[Any]]]) -> tuple[Version, ...]:
    """The versions that can be told apart by ear, in their order, from the notes of each as play data has
    them (start, end, hertz, voice, …): of those that sound the same the first.

    >>> low, high = [0, 1, 220.0, 0, []], [0, 1, 440.0, 0, []]
    >>> [str(v) for v in told_apart({Version.GIVEN: [low], Version.PLAIN: [low], Version.DIMINISHED: [high]})]
    ['given', 'diminished']
    """
    heard: dict[tuple[tuple[Any, ...], ...], Version] = {}
    for version, notes in played.items():
        heard.setdefault(tuple(sorted(tuple(note[:4]) for note in notes)), version)
    return tuple(heard.values())


def _play(setting: Setting, stretch: Stretch) -> dict[str, Any]:
    """The play data of a page: its versions in its stretch. A note held over from before is struck anew,
    so that the stretch can be heard by itself."""
    return play_data(
        setting.verset,
        {v: setting.scores[v].excerpt(stretch.start, stretch.end) for v in stretch.versions},
        setting.tempo,
        registration=setting.registration,
        articulation=setting.articulation,
        recorded=setting.pipes,
    )


def _full(setting: Setting, score: Score) -> frozenset[str] | None:
    """The notes at full size, where those that are not the source's are small."""
    return frozenset(n.id for _, n in given_notes(setting.verset, score)) if setting.small else None


def _written(setting: Setting, version: Version, score: Score) -> list[tuple[str, str]]:
    """How a version is written: kind of clefs and MEI. The given line also in modern clefs, for the
    reader who still learns the others."""
    verset = setting.verset
    whole = setting.scores[version]
    if version != Version.GIVEN:
        mei = keyboard_mei(score, figured=True, full=_full(setting, score))
        return [("", with_aids(mei, verset, whole))]
    modern = replace(verset, given=tuple(replace(g, clef=_MODERN[g.voice]) for g in verset.given))
    drawn = [("original", given_mei(verset, score, signed=True)), ("modern", given_mei(modern, score))]
    both = [(clefs, with_aids(mei, verset, whole)) for clefs, mei in drawn]
    # In this stretch the original clefs may be the modern ones.
    return both if given_mei(verset, score) != drawn[1][1] else [("", both[0][1])]


def _names(setting: Setting, stretch: Stretch, words: Texts) -> dict[str, str]:
    """The name of each note a page shows, by its id."""
    return {
        note.id: note_name(note, words)
        for version in stretch.versions
        for part in setting.scores[version].excerpt(stretch.start, stretch.end).parts
        for note in part.notes
        if note.pitch
    }


def _shared(
    engraved: Sequence[Mapping[str, Sequence[str]]],
) -> tuple[str, list[dict[str, tuple[str, ...]]]]:
    """The signs of all a page's music, once, and the pictures without them."""
    defs, bodies = page_svg(svg for block in engraved for row in block.values() for svg in row)
    left = iter(bodies)
    return defs, [{w: tuple(next(left) for _ in row) for w, row in block.items()} for block in engraved]
