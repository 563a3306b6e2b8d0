"""Every file of one verset's edition, written into a folder."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cache, partial
from pathlib import Path
from typing import Any

from builder.edition.exchange.braille import embossed
from builder.edition.exchange.braille_keyboard import Tempo, keyboard_braille
from builder.edition.exchange.braille_line import brf, given_brf
from builder.edition.exchange.mei import mei
from builder.edition.exchange.midi import midi
from builder.edition.exchange.musicxml import given_musicxml, musicxml
from builder.edition.exchange.musicxml_keyboard import keyboard_musicxml
from builder.edition.imprint import UNSIGNED, Imprint
from builder.edition.pdf.parts import part_book
from builder.edition.pdf.sheet import pdf, single
from builder.edition.pdf.student import student_sheet
from builder.engraving import clefs_of
from builder.engraving.aids import fingers
from builder.language.texts import edition_texts, opened
from builder.music import Score, Version
from builder.setting.report import report_json
from builder.setting.setting import Setting
from builder.sound import blocks, encode

AUDIO = (".flac", ".mp3")
Recordings = Mapping[Version, Sequence[str]]
"""Which versions are recorded, and in which formats (endings of files)."""


def write_files(
    setting: Setting,
    folder: Path,
    *,
    audio: Recordings | None = None,
    sheets: bool = True,
    imprint: Imprint = UNSIGNED,
) -> tuple[Path, ...]:
    """Write the edition of one verset and name what was written, in order.

    For each version `given`, `plain`, `diminished`: MusicXML, MEI, MIDI (keys only, and `-tuned` with the
    tuning as bends), and the recordings of `audio`, all in FLAC and MP3 when it says nothing; PDF of the
    verset, single sheets and the student's sheet; braille music; `report.json`. Each says as much of the
    `imprint` as its format has words for.

    >>> from tempfile import TemporaryDirectory
    >>> from builder.setting.setting import set_verset
    >>> from builder.source import EXAMPLE, parse
    >>> setting = set_verset(parse(EXAMPLE))
    >>> with TemporaryDirectory() as folder:
    ...     names = [path.name for path in write_files(setting, Path(folder), audio={}, sheets=False)]
    >>> [name.removeprefix("verset-") for name in names if "given" in name]
    ['given.brf', 'given.musicxml', 'given.mei', 'given.mid', 'given-tuned.mid']
    >>> [name for name in names if "-" not in name]
    ['verset.brf', 'report.json']
    """
    folder.mkdir(parents=True, exist_ok=True)
    written: list[Path] = []
    for name, make in _texts(setting, sheets, imprint):
        path = folder / name
        path.write_bytes(make())
        written.append(path)
    return (*written, *write_recordings(setting, folder, audio, imprint))


def file_names(
    setting: Setting, *, audio: Recordings | None = None, sheets: bool = True, imprint: Imprint = UNSIGNED
) -> tuple[str, ...]:
    """The names of what `write_files` would write, in its order.

    >>> from builder.setting.setting import set_verset
    >>> from builder.source import EXAMPLE, parse
    >>> names = file_names(set_verset(parse(EXAMPLE)), audio={Version.PLAIN: (".mp3",)})
    >>> names[0], names[-1]
    ('verset.pdf', 'verset-plain.mp3')
    """
    sounds = (name for _, names in _recorded(setting, audio) for name in names)
    return (*(name for name, _ in _texts(setting, sheets, imprint)), *sounds)


def _recorded(setting: Setting, audio: Recordings | None) -> Iterator[tuple[Score, list[str]]]:
    """The scores that are recorded, each with the names of its files."""
    wanted = dict.fromkeys(setting.scores, AUDIO) if audio is None else audio
    for version, score in setting.scores.items():
        if names := [f"{setting.verset.name}-{version}{ending}" for ending in wanted.get(version, ())]:
            yield score, names


def write_recordings(
    setting: Setting, folder: Path, audio: Recordings | None, imprint: Imprint
) -> tuple[Path, ...]:
    """Write recordings of one verset, those of `audio` or all, and name them in order. `audio` gives for
    each version the endings of the files that are wanted.

    >>> from tempfile import TemporaryDirectory
    >>> import soundfile
    >>> from builder.setting.setting import set_verset
    >>> from builder.source import parse
    >>> front = "---\\ntitle: Two notes\\nverset: {metre: C, signature: none, beat: half = 120}\\n---\\n"
    >>> setting = set_verset(parse(front + "```given\\nbassus F4 | D3/2 A3/2\\n```\\n"))
    >>> with TemporaryDirectory() as folder:
    ...     (path,) = write_recordings(setting, Path(folder), {Version.GIVEN: (".flac",)}, UNSIGNED)
    ...     print(path.name, soundfile.info(path).samplerate, soundfile.info(path).channels)
    verset-given.flac 44100 2
    """
    written: list[Path] = []
    for score, names in _recorded(setting, audio):
        paths = [folder / name for name in names]
        _sound(setting, score, paths, imprint)
        written += paths
    return tuple(written)


def _texts(setting: Setting, sheets: bool, imprint: Imprint) -> Iterator[tuple[str, Callable[[], bytes]]]:
    verset, name = setting.verset, setting.verset.name
    clefs = clefs_of(verset)
    own = verset.settings
    performance = cache(setting.performance)
    signed: dict[str, Any] = {
        "rights": imprint.rights,
        "editors": imprint.authors,
        "edition": imprint.version,
    }
    if sheets:
        yield from _prints(setting, imprint)
    for version, score in setting.scores.items():

        def as_musicxml(score: Score = score, version: Version = version) -> bytes:
            if version == Version.GIVEN:
                return given_musicxml(verset, score, **signed).encode()
            said = verset.provenance
            return musicxml(
                score, clefs=clefs, tempo=verset.tempo, said=said, fingering=fingers(verset, score), **signed
            ).encode()

        def as_mei(score: Score = score) -> bytes:
            return mei(verset, score, by=imprint, tone=setting.analysis.tone).encode()

        def as_midi(score: Score = score, tuning: str | None = None) -> bytes:
            played = performance(score.version)
            a4 = own.pitch or 440.0
            return midi(score, setting.tempo, tuning=tuning, a4=a4, rights=imprint.licence, played=played)

        def as_keyboard_xml(score: Score = score) -> bytes:
            return keyboard_musicxml(
                score, tempo=verset.tempo, said=verset.provenance, fingering=fingers(verset, score), **signed
            ).encode()

        def as_keyboard_mei(score: Score = score) -> bytes:
            return mei(verset, score, by=imprint, tone=setting.analysis.tone, keyboard=True).encode()

        if version == Version.GIVEN:
            yield f"{name}-{version}.brf", partial(given_brf, verset, score, language=imprint.lang)
        else:
            yield f"{name}-{version}-keyboard.musicxml", as_keyboard_xml
            yield f"{name}-{version}-keyboard.mei", as_keyboard_mei
            bar_over_bar = partial(keyboard_brf, score, language=imprint.lang, tempo=verset.tempo)
            yield f"{name}-{version}-keyboard.brf", bar_over_bar
        yield f"{name}-{version}.musicxml", as_musicxml
        yield f"{name}-{version}.mei", as_mei
        yield f"{name}-{version}.mid", as_midi
        yield f"{name}-{version}-tuned.mid", lambda make=as_midi: make(tuning=own.tuning)  # type: ignore[misc]
        if version not in (Version.GIVEN, Version.PLAIN):
            yield f"{name}-{version}.brf", partial(brf, score, language=imprint.lang, tempo=verset.tempo)
    plain = setting.scores[Version.PLAIN]
    yield f"{name}.brf", partial(brf, plain, language=imprint.lang, tempo=verset.tempo)
    yield "report.json", lambda: report_json(setting.report()).encode()


def keyboard_brf(score: Score, *, language: str = "en", tempo: Tempo | None = None) -> bytes:
    """A notated score in braille music, bar over bar, as embossers read it.

    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> keyboard_brf(notated(parse(EXAMPLE).score())).splitlines()[0]
    b',TWO VOICES'
    """
    return embossed(keyboard_braille(score, language=language, tempo=tempo))


def _prints(setting: Setting, imprint: Imprint) -> Iterator[tuple[str, Callable[[], bytes]]]:
    """The edition of a verset, the student's sheet, a sheet of each version, and part books where they are
    chosen."""
    verset, name = setting.verset, setting.verset.name
    yield f"{name}.pdf", lambda: pdf(setting, imprint=imprint)
    yield f"{name}-student.pdf", lambda: student_sheet(setting, imprint=imprint)
    for version in setting.scores:
        yield f"{name}-{version}.pdf", partial(single, setting, version, imprint=imprint)
    for voice in verset.voices if verset.provenance.printing.parts else ():
        yield f"{name}-part-{voice}.pdf", partial(part_book, setting, voice, imprint=imprint)


def _sound(setting: Setting, score: Score, paths: list[Path], imprint: Imprint) -> None:
    """One version as sound, rendered once for all formats."""
    w = edition_texts(imprint.lang)
    said, own = setting.verset.provenance, setting.verset.settings
    people = imprint.people(said)
    tuned = ", ".join((opened(w.as_tuning(own.tuning)), w("practice.a4", hertz=f"{own.pitch or 440.0:g}")))
    version = w("label.edition", version=imprint.version) if imprint.version else ""
    pipes = w("practice.pipes", whose=setting.recorded) if setting.recorded else ""
    told = (f"{tuned}.", f"{version}." if version else "", w("caution.ears"), pipes, imprint.terms)
    year = said.published.date if re.fullmatch(r"[0-9]{4}", said.published.date) else ""
    holder = said.published.publisher or imprint.publisher or "; ".join(e.name for e in people)
    tags = {
        "title": f"{setting.verset.title} ({w.version(score.version)})",
        "genre": "Organ",
        # The licence in words too: few players show its own field.
        "comment": " ".join(text for text in told if text),
        "artist": ", ".join(e.name for e in people),
        "album": ", ".join(text for text in (imprint.title, version) if text),
        "copyright": f"{year} {holder}. {imprint.rights}" if year and holder else imprint.rights,
        "date": year,
        "license": imprint.licence_url or imprint.licence,
    }
    tags = {key: text for key, text in tags.items() if text}
    played = setting.performance(score.version)
    encode(blocks(played, setting.registration, recorded=setting.pipes), paths, tags)
