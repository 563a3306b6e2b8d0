"""How long sound takes and how much memory: `python tests/bench/bench_sound.py [minutes]`.

Four voices on four ranks with the room, on one core. Prints times real time of rendering and of
encoding, and the most memory that the process has held.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

from builder.music import Bar, Metre, Note, Part, Pitch, Score, Signature, Version, notated
from builder.sound import TempoMap, blocks, encode, perform
from builder.sound.pipes import key_sound

CHORDS = (
    "D5 A4 F4 D3",
    "C5 G4 E4 C3",
    "D5 G4 Bb3 G2",
    "C#5 A4 E4 A2",
    "D5 A4 D4 F3",
    "E5 B4 G4 E3",
    "F5 C5 A4 F2",
)
DRAWN = "principale, ottava, quintadecima and decimanona"


def piece(minutes: float) -> Score:
    """Four voices in half notes at half = 60, each a quarter later than the one above."""
    count = round(minutes * 60)
    parts = []
    for voice, name in enumerate(("cantus", "altus", "tenor", "bassus")):
        notes = [
            Note(Fraction(2 * n), Fraction(2), Pitch.parse(CHORDS[(n * (voice + 1)) % 7].split()[voice]))
            for n in range(count)
        ]
        parts.append(Part(name, tuple(notes)))
    bars = tuple(Bar(n + 1, Fraction(4 * n), Fraction(4)) for n in range((count + 1) // 2))
    return notated(Score("bench", Version.PLAIN, Metre.parse("C"), Signature(), bars, tuple(parts)))


def timed(minutes: float) -> Iterator[str]:
    played = perform(piece(minutes), TempoMap(((Fraction(0), 500_000),)))
    key_sound.cache_clear()
    for run in ("first", "again (pipes at hand)"):
        start = time.process_time()
        samples = sum(len(block) for block in blocks(played, DRAWN))
        spent = time.process_time() - start
        seconds = samples / 44100
        yield f"render, {run}: {seconds:.0f} s of sound in {spent:.2f} s, {seconds / spent:.0f} x real time"
    with tempfile.TemporaryDirectory() as folder:
        for ending in (".flac", ".mp3"):
            start = time.process_time()
            (made,) = encode(blocks(played, DRAWN), Path(folder) / f"bench{ending}")
            spent = time.process_time() - start
            yield f"render and encode {ending}: {spent:.2f} s, {made.seconds / spent:.0f} x real time"
    yield f"most memory: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB"


if __name__ == "__main__":
    for line in timed(float(sys.argv[1]) if len(sys.argv) > 1 else 1.0):
        print(line, flush=True)
