"""Every bar told in words, for readers who hear the page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from html import escape
from typing import Literal

from builder.language.texts import Texts
from builder.music import Bar, FigureSign, Note, Score, Version, clipped
from builder.source import GivenNote, Verset


def told(
    verset: Verset,
    scores: Mapping[Version, Score],
    versions: Sequence[Version],
    start: Fraction,
    end: Fraction,
    words: Texts,
    heading: Literal["heading", "line", "ours"] = "heading",
) -> str:
    """HTML that tells the bars from `start` to `end` (quarter notes) of these versions under a heading: the
    given line with its figures, what stands above it in the plain version, and where the diminished one
    differs."""
    bars = clipped(verset.bars, start, end)
    lines = "".join(f"<li>{escape(bar_told(verset, scores, versions, bar, words))}</li>" for bar in bars)
    summary = escape(words(f"told.{heading}"))
    return f'<details class="verset-told"><summary>{summary}</summary><ul>{lines}</ul></details>'


def bar_told(
    verset: Verset, scores: Mapping[Version, Score], versions: Sequence[Version], bar: Bar, words: Texts
) -> str:
    """One bar as a sentence.

    >>> from builder.language.texts import page_texts
    >>> from builder.source import parse
    >>> source = "---\\ntitle: T\\nverset: {metre: C, signature: none}\\n---\\n\\n" + chr(96) * 3
    >>> source += "given\\ncantus C1 | D5/2 A4/2 | D5/2\\naltus C3 | A4/2{6 5}\\n" + chr(96) * 3
    >>> verset = parse(source)
    >>> bar_told(verset, {}, (Version.GIVEN,), verset.bars[0], page_texts("en"))
    'Bar 1: cantus enters on D, then A.'
    >>> bar_told(verset, {}, (Version.GIVEN,), verset.bars[1], page_texts("en"))
    'Bar 2: cantus has D; altus enters on A (6, then 5).'
    """
    parts = _line(verset, bar, words) or [words("told.silence")]
    plain = _voices(verset, scores[Version.PLAIN], bar, words) if Version.PLAIN in versions else {}
    if plain:
        parts.append(words("told.above", voices="; ".join(plain.values())))
    if Version.DIMINISHED in versions:
        graced = _voices(verset, scores[Version.DIMINISHED], bar, words)
        changed = [text for voice, text in graced.items() if text != plain.get(voice)]
        if changed:
            parts.append(words("told.diminished", voices="; ".join(changed)))
    return words("told.bar", bar=bar.number, events="; ".join(parts))


def _line(verset: Verset, bar: Bar, words: Texts) -> list[str]:
    """The given line of a bar, voice by voice as it goes through them."""
    runs: list[tuple[str, list[GivenNote]]] = []
    for given in verset.given:
        if given.note.pitch is None or not bar.onset <= given.note.onset < bar.end:
            continue
        if not runs or runs[-1][0] != given.voice:
            runs.append((given.voice, []))
        runs[-1][1].append(given)
    return [_run(verset, voice, run, words) for voice, run in runs]


def _run(verset: Verset, voice: str, run: Sequence[GivenNote], words: Texts) -> str:
    name = words(f"voices.{voice}")
    notes = [_figured(given, words) for given in run]
    if not _enters(verset, voice, run[0]):
        return words("told.has", voice=name, notes=", ".join(notes))
    text = words("told.enters", voice=name, note=notes[0])
    return f"{text}{words('told.then', notes=', '.join(notes[1:]))}" if notes[1:] else text


def _enters(verset: Verset, voice: str, first: GivenNote) -> bool:
    """Whether the line comes to this voice here: from another voice, or out of a silence."""
    before = [g for g in verset.given if g.note.onset < first.note.onset]
    return not before or before[-1].voice != voice or before[-1].note.pitch is None


def _figured(given: GivenNote, words: Texts) -> str:
    assert given.note.pitch is not None
    name = note_name(given.note, words)
    stacks = [
        words("told.held") if figure.dash else " ".join(_sign(sign, words) for sign in figure.signs)
        for figure in given.figures
    ]
    return words("told.figured", note=name, figures=words("told.and_then").join(stacks)) if stacks else name


def _sign(sign: FigureSign, words: Texts) -> str:
    if not sign.sign:
        return str(sign.number)
    key = {"#": "told.raised", "b": "told.lowered", "n": "told.natural"}[sign.sign[0]]
    return words(key, number=words("told.third") if sign.lone else sign.number)


def _voices(verset: Verset, score: Score, bar: Bar, words: Texts) -> dict[str, str]:
    """What each voice above the line has in a bar; notes held from before are not told again."""
    found = {}
    for part in score.parts:
        notes = [
            n
            for n in part.notes
            if n.pitch and bar.onset <= n.onset < bar.end and not _is_given(verset, part.voice, n)
        ]
        if notes:
            held = _held(part.notes, notes[0])
            names = [note_name(n, words) for k, n in enumerate(notes) if not _held(part.notes, n) or k == 0]
            if held:
                names[0] = words("told.holds", note=names[0])
            found[part.voice] = words(
                "told.sounds", voice=words(f"voices.{part.voice}"), notes=", ".join(names)
            )
    return found


def _is_given(verset: Verset, voice: str, note: Note) -> bool:
    given = verset.given_at(note.onset)
    return given is not None and given.voice == voice


def _held(notes: Sequence[Note], note: Note) -> bool:
    return any(n.tied and n.end == note.onset and n.pitch == note.pitch for n in notes)


def note_name(note: Note, words: Texts) -> str:
    """A note's name in the page's language, without its octave.

    >>> from builder.language.texts import page_texts
    >>> from builder.music import Pitch
    >>> note = Note(Fraction(0), Fraction(1), Pitch.parse("Bb4"))
    >>> [note_name(note, page_texts(language)) for language in ("en", "it", "de")]
    ['B♭', 'si♭', 'B']
    """
    assert note.pitch is not None
    return words.written(note.pitch.letter)
