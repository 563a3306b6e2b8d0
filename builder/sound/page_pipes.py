"""Recorded pipes for the reader's page: a few of each rank, short, compressed, as data in a script.

A page from a disk may fetch nothing but may run a script of the site, so that a rank is one script, which the
page loads when a note is to sound. A sample is the pipe's speech, a loop of about a second, and its beginning
again, so that a decoder may begin a little late.
"""

from __future__ import annotations

import base64
import hashlib
import io
import json
from collections.abc import Mapping
from typing import Any

import numpy as np

from builder.sound.looping import JOIN, at_pitch, head_and_loop
from builder.sound.pipes import RATE
from builder.sound.ranks import RANKS
from builder.sound.recorded import RecordedPipe, RecordedPipes, Wave, share_of

MOST_PIPES = 7
"""Pipes of a rank that the page has: one in about seven keys."""
LOOP = 1.0
"""Seconds of the loop."""
LARGEST_SCRIPT = 300_000
"""Bytes that the script of a rank may have."""
_AGAIN = 0.1
_COMPRESSION = 0.4


def script_name(pipes: RecordedPipes, rank: str) -> str:
    """The name of a rank's script, another one whenever its samples are others.

    >>> script_name(RecordedPipes("pipes", "A. Reader", "CC0-1.0", ()), "flauto in duodecima")[:26]
    'pipes-flauto-in-duodecima-'
    """
    said = repr((pipes.by, pipes.licence, pipes.of(rank)))
    return f"pipes-{rank.replace(' ', '-')}-{hashlib.sha256(said.encode()).hexdigest()[:8]}.js"


def chosen(pipes: RecordedPipes, rank: str) -> tuple[RecordedPipe, ...]:
    """The samples of a rank that the page has, evenly over its compass."""
    there = pipes.of(rank)
    if len(there) <= MOST_PIPES:
        return there
    wanted = np.linspace(there[0].key, there[-1].key, MOST_PIPES)
    picked = {min(there, key=lambda p: (abs(p.key - at), p.key)) for at in wanted}
    return tuple(sorted(picked, key=lambda p: p.key))


def page_pipes(pipes: RecordedPipes, rank: str) -> str:
    """The samples of a rank as JSON: `by`, `licence`, and for each pipe its `hertz`, the `gain` that brings
    it to an RMS of 1 (its own strength in its rank counted), the seconds `start` and `end` of its loop, and
    its `sound`, an MP3 in base64. `ValueError` where a rank becomes larger than a page should load.

    >>> json.loads(page_pipes(RecordedPipes("pipes", "A. Reader", "CC0-1.0", ()), "ottava"))["pipes"]
    []
    """
    made = [_for_the_page(pipes, pipe) for pipe in chosen(pipes, rank)]
    text = json.dumps({"by": pipes.by, "licence": pipes.licence, "pipes": made}, ensure_ascii=False)
    if len(text) > LARGEST_SCRIPT:
        raise ValueError(f"pipes: the samples of the {rank} take {len(text)} bytes in a page, too many")
    return text


def _for_the_page(pipes: RecordedPipes, pipe: RecordedPipe) -> Mapping[str, Any]:
    turns = max(1, round(pipe.hertz * LOOP))
    length = round(turns * RATE / pipe.hertz)
    hertz = turns * RATE / length
    sound, steady, _ = at_pitch(pipes, pipe, hertz, RATE)
    head, loop = head_and_loop(sound, min(steady, int(0.3 * RATE)), RATE / hertz, length)
    count = len(head)
    again = np.take(loop, np.arange(count, count + length + int(_AGAIN * RATE)), mode="wrap")
    whole = np.concatenate((head, again))
    whole *= np.float32(0.5 / max(1e-6, float(np.abs(whole).max())))
    rms = float(np.sqrt(np.mean(whole[count : count + length].astype(float) ** 2)))
    rank = RANKS[pipe.rank]
    strength = share_of(pipes, rank) * pipe.level / rank.gain(pipe.key)
    start = (count + JOIN * RATE / 2) / RATE
    return {
        "hertz": round(hertz, 5),
        "gain": round(strength / rms, 4),
        "start": round(start, 6),
        "end": round(start + length / RATE, 6),
        "sound": base64.b64encode(_mp3(whole)).decode("ascii"),
    }


def _mp3(sound: Wave) -> bytes:
    import soundfile

    out = io.BytesIO()
    with soundfile.SoundFile(
        out, "w", RATE, 1, subtype="MPEG_LAYER_III", format="MP3", compression_level=_COMPRESSION
    ) as file:
        file.write(sound)
    return out.getvalue()
