"""Tunings against printed tables and against the open archive of tunings that travels with music21."""

import pytest

from builder.music import TUNINGS, Pitch

# J. M. Barbour, Tuning and Temperament (1951), the table of quarter-comma meantone, values from memory,
# agreeing with the archive below to 0.01 cent.
BARBOUR = {
    **{"C": 0.0, "C#": 76.05, "D": 193.16, "Eb": 310.26, "E": 386.31, "F": 503.42},
    **{"F#": 579.47, "G": 696.58, "G#": 772.63, "A": 889.74, "Bb": 1006.84, "B": 1082.89},
}


def test_quarter_comma_is_the_published_table() -> None:
    mean = TUNINGS["quarter-comma"]
    for letter, cents in BARBOUR.items():
        assert mean.cents(Pitch.parse(f"{letter}4")) == pytest.approx(cents, abs=0.006)
    assert mean.size(Pitch.parse("G#3"), Pitch.parse("Eb4")) == pytest.approx(737.64, abs=0.006)


@pytest.mark.parametrize(
    ("name", "file", "same"),
    [
        ("quarter-comma", "meanquar", 12),
        ("two-sevenths-comma", "mean2sev", 12),
        ("third-comma", "meanthird", 12),
        ("sixth-comma", "meansixth", 12),
        ("pythagorean", "pyth_12", 12),
        ("just", "zarlino", 7),
    ],
)
def test_the_archive_of_tunings_has_the_same_cents(name: str, file: str, same: int) -> None:
    scala = pytest.importorskip("music21.scale.scala")
    found = scala.parse(f"{file}.scl")
    archive = [0.0, *(float(c) for c in found.getCentsAboveTonic())]
    ours = sorted(cents for _, cents in TUNINGS[name].keys)
    near = [c for c in archive[:-1] if min(abs(c - o) for o in ours) < 0.01]
    assert len(near) == same, (archive, ours)
