"""What figures mean: bass note, signature, accidentals in force and figure to the tones, row by row.

The figures are those that the handbooks explain one after another: C. P. E. Bach, Versuch über die wahre Art
das Clavier zu spielen, part II (Berlin 1762), chapters on the common chord, the sixth, the sixth and fifth,
the fourth and third, the second, the seventh, the fourth, the ninth; F. Gasparini, L'armonico pratico al
cimbalo (Venice 1708), chapters 4 to 7, for the older writing. All rows are quoted from memory of the trade as
those books teach it, not copied from their plates.
"""

import pytest

from builder.counterpoint.figured_bass.sonority import read_figure
from builder.music import FigureSign, Pitch, Signature
from builder.source.stacks import read_groups

ROWS = """
# the common chord: the signature's third and fifth
none    C3  -      C E G
none    D3  -      D F A
none    E3  -      E G B
none    F3  -      F A C
none    G3  -      G B D
none    A3  -      A C E
Bb      G3  -      G Bb D
Bb      Bb2 -      Bb D F
Bb_Eb   C3  -      C Eb G
F#      D3  -      D F# A
F#_C#   A2  -      A C# E
none    C3  5      C E G
none    E3  5/3    E G B
none    A2  8      A C E
none    A2  8/5/3  A C E
none    B2  5      B D F
none    B2  5/3    B D F
Bb      E3  5      E G Bb
F#      F#3 5      F# A C
# a lone sign is the third's; over a major third the fifth is perfect
none    A3  #      A C# E
none    D3  #      D F# A
none    E3  #      E G# B
none    B2  #      B D# F#
none    G3  b      G Bb D
none    C3  b      C Eb G
none    F3  b      F Ab C
Bb      G3  n      G B D
Bb      G3  #      G B D
Bb      E3  #      E G# B
Bb      E3  n      E G C
Bb      A3  #      A C# E
Bb_Eb   C3  n      C E G
Bb_Eb   F3  b      F Ab C
F#      B2  #      B D# F#
F#      E3  #      E G# B
F#      D3  n      D F A
F#_C#   F#3 #      F# A# C#
F#_C#_G#_D# D#3 #  D# F## A#
# a sign that says what is so already confirms it
none    C3  #      C E G
none    A3  b      A C E
none    D3  #6     D F B
none    F3  #4     F G B D
none    C3  #4     C D F# A
none    B2  b5     B D F
none    E3  b3     E G B
none    G3  b7     G B D F
none    C3  #7     C E G B
none    E3  #5     E G B
# the sixth
none    E3  6      E G C
none    B2  6      B D G
none    D3  6      D F B
none    A2  6      A C F
none    F#3 6      F# A D
none    C#3 6      C# E A
none    G#2 6      G# B E
none    D#3 6      D# F# B
Bb      D3  6      D F Bb
Bb      A2  6      A C F
Bb      E3  6      E G C
Bb_Eb   G3  6      G Bb Eb
F#      B2  6      B D G
none    D3  6/3    D F B
none    D3  b6     D F Bb
none    A2  b6     A C F
none    A2  #6     A C F#
none    E3  #6     E G C#
none    E3  #6/#   E G# C#
none    F3  #6     F A D#
Bb      Bb2 #6     Bb D G#
none    A2  #6/3   A C F#
none    E3  6/#    E G# C
Bb      G3  #6     G Bb E
Bb      G3  n6     G Bb E
Bb      C3  6/b    C Eb A
none    G3  6/b    G Bb E
# the sixth and fifth
none    E3  6/5    E G B C
none    B2  6/5    B D F G
none    F3  6/5    F A C D
none    F#3 6/5    F# A C D
none    C#3 6/5    C# E G A
none    G#2 6/5    G# B D E
none    B2  6/b5   B D F G
none    E3  6/b5   E G Bb C
Bb      E3  6/5    E G Bb C
Bb_Eb   A2  6/5    A C Eb F
F#      A2  6/5    A C E F#
none    D3  #6/5   D F A B
none    B2  #6/5   B D F G#
# the fourth and third
none    D3  4/3    D F G B
none    D3  6/4/3  D F G B
none    A2  #6/4/3 A C D F#
none    E3  #6/4/3 E G A C#
none    F3  4/3    F A B D
Bb      F3  4/3    F A Bb D
none    A2  6/#4/3 A C D# F
Bb      G2  #6/4/3 G Bb C E
# the second and fourth under the sixth
none    C3  2      C D F A
none    C3  4/2    C D F A
none    F3  4/2    F G B D
none    F3  2      F G B D
none    F3  6/4/2  F G B D
none    D3  4/2    D E G B
none    Bb2 4/2    Bb C E G
Bb      F3  4/2    F G Bb D
Bb      Bb2 4/2    Bb C E G
F#      G3  4/2    G A C E
F#      C3  4/2    C D F# A
none    C3  #4/2   C D F# A
none    D3  #4/2   D E G# B
none    G3  #4/2   G A C# E
Bb      D3  #4/2   D E G# Bb
none    C3  4/b2   C Db F A
none    A2  5/2    A B E
# six and four
none    G2  6/4    G C E
none    A2  6/4    A D F
none    D3  6/4    D G B
none    D3  6/b4   D Gb B
Bb      D3  6/4    D G Bb
none    A2  #6/4   A D F#
none    F3  6/4    F B D
# the seventh
none    G3  7      G B D F
none    D3  7      D F A C
none    A2  7      A C E G
none    B2  7      B D F A
none    C3  7      C E G B
none    F3  7      F A C E
none    E3  7/#    E G# B D
none    A2  7/#    A C# E G
none    D3  7/#    D F# A C
none    C3  b7     C E G Bb
none    F3  b7     F A C Eb
none    B2  b7     B D F Ab
none    C#3 7      C# E G B
none    C#3 b7     C# E G Bb
Bb_Eb   C#3 7/5    C# E G Bb
Bb      C#3 7      C# E G Bb
Bb_Eb   F#3 7      F# A C Eb
none    G#2 7      G# B D F
none    F#3 7/5    F# A C E
Bb      D3  7/#    D F# A C
Bb      E3  7      E G Bb D
Bb      G2  7      G Bb D F
Bb_Eb   F2  7      F A C Eb
F#      A2  7      A C E G
F#      A2  7/#    A C# E G
F#      D3  7      D F# A C
Bb_Eb_Ab G2 b7/b5  G Bb Db Fb
none    A2  7/b5   A C Eb G
none    D3  #7     D F A C#
# the fourth held, and its fall
none    C3  4      C F G
none    G3  4      G C D
none    A2  4      A D E
none    A2  5/4    A D E
none    D3  4      D G A
none    F3  4      F B C
none    F3  b4     F Bb C
Bb      F3  4      F Bb C
Bb      C3  4      C F G
none    B2  4      B E F
none    E3  5/4    E A B
F#      D3  5/4    D G A
Bb      A2  5/4    A D E
# the ninth
none    C3  9      C E G D
none    A2  9      A C E B
none    E3  9      E G B F
none    D3  9      D F A E
none    C3  9/4    C F G D
none    C3  9/7    C E G B D
none    D3  9/7    D F A C E
none    F3  9/6    F A D G
Bb      A2  9      A C E Bb
Bb      D3  b9     D F A Eb
none    E3  9/#    E G# B F
# above a pedal
none    D3  7/4/2  D E G C
none    C3  7/4/2  C D F B
none    A2  #7/4/2 A B D G#
none    G2  7/4    G C D F
# accidentals in force (after the bar): the line had the altered note a moment ago
none    G3  -      G Bb D    | Bb
none    E3  5      E G Bb    | Bb
none    C3  7      C E G Bb  | Bb
none    F3  4/2    F G Bb D  | Bb
none    G3  n      G B D     | Bb
none    G3  #      G B D     | Bb
none    D3  -      D F# A    | F#
none    D3  n      D F A     | F#
none    A2  6      A C F#    | F#
none    C3  4/2    C D F# A  | F#
F#      D3  -      D F A     | F
F#      D3  #      D F# A    | F
Bb      G3  -      G B D     | B
Bb      G3  b      G Bb D    | B
none    E3  6      E G C     | G#
"""


def rows():
    for line in ROWS.strip().splitlines():
        if line.startswith("#"):
            continue
        row, _, force = line.partition("|")
        signature, bass, figure, *tones = row.split()
        yield signature.replace("_", " "), bass, figure, tones, force.split()


TABLE = list(rows())


@pytest.mark.parametrize(("signature", "bass", "figure", "tones", "force"), TABLE, ids=lambda x: str(x))
def test_a_figure_means_its_tones(signature, bass, figure, tones, force):
    note, signs = Pitch.parse(bass), ()
    if figure != "-":
        (group,), faults = read_groups(figure, 1)
        assert not faults
        signs = group.signs
    altered = [Pitch.parse(f"{name}4") for name in force]
    nearby = {p.step: p.alter for p in altered}
    if note.alter != Signature.parse(signature).alter(note.step):
        nearby[note.step] = note.alter
    found = read_figure(note, signs, Signature.parse(signature), tuple(sorted(nearby.items())))
    sounding = {Pitch(note.diatonic + m.offset, m.alter).letter for m in found.members} | {note.letter}
    assert sounding == set(tones)


def test_the_table_is_long_and_has_no_row_twice():
    asked = [(s, b, f, *force) for s, b, f, _, force in TABLE]
    assert len(asked) >= 120
    assert len(set(asked)) == len(asked)


def test_a_sign_and_nothing_are_told_apart_in_the_table():
    """A reader that ignored signs, or the signature, would fail many rows."""
    bare = [r for r in TABLE if set("#bn") & set(r[2])]
    assert len(bare) >= 40
    assert len([r for r in TABLE if r[0] != "none"]) >= 40
    plain = read_figure(Pitch.parse("D3"), (FigureSign(3, "#", lone=True),), Signature())
    assert [m.alter for m in plain.members if m.number == 3] == [1]
