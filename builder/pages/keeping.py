"""What was chosen by ear, as text for the source: another way of setting a step, and graces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from builder.analysis import Step
from builder.music import Note, Score, Version
from builder.setting.setting import Setting
from builder.source.verset import Pin
from builder.source.write import pin_line, pinned_blocks


def other_way(setting: Setting, other: Score, step: Step) -> str:
    """A block `plain` with the notes of a step that are others in another setting. Empty where a verset is
    moved: its source stands at another pitch than the page."""
    if setting.original:
        return ""
    pins = []
    for part in other.parts:
        ours = {(n.onset, n.duration, n.pitch) for n in setting.realisation.score.part(part.voice).notes}
        own = [n for n in part.notes if step.start <= n.onset < step.end and _is_free(setting, part.voice, n)]
        if any((n.onset, n.duration, n.pitch) not in ours for n in own):
            pins.append(Pin(Version.PLAIN, part.voice, tuple(own)))
    return "\n".join(pinned_blocks(replace(setting.verset, pins=tuple(pins))))


def _is_free(setting: Setting, voice: str, note: Note) -> bool:
    """Whether a note is not the given line's."""
    given = setting.verset.given_at(note.onset)
    return note.pitch is not None and not (given is not None and given.voice == voice)


def grace(setting: Setting, voice: str, notes: Sequence[Note]) -> str:
    """The line of a block `diminished` that pins a grace. Empty where a verset is moved."""
    if setting.original:
        return ""
    return pin_line(Pin(Version.DIMINISHED, voice, tuple(notes)), setting.verset)
