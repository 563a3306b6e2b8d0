"""What the chooser likes, in numbers: one set of weights for each level of density."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class Weights:
    """Costs are added, rewards are negative costs. Times are in quarter notes."""

    figure: float
    """Cost of any figure at all: how much it must earn."""
    attack: float
    """Reward for each note added, before growth."""
    alone: float
    """Added reward for a note struck while all other voices hold."""
    room: Fraction
    """Figures nearer to each other than this cost `crowd`."""
    crowd: float
    density: int
    """Patterns up to this density."""
    layers: int
    """How many voices may move at once."""
    ideas: bool
    """Whether figures are made into ideas that several voices take up."""
    line: float
    """Cost of a figure in the given line after its entry, or in the lowest voice."""
    second: float
    """Added cost of a figure in a second voice at the same time."""
    fastest: float
    """Notes a second that a hand plays with grace."""


LEVELS: dict[int, Weights] = {
    1: Weights(0.9, 0.7, 0.5, Fraction(3), 2.2, 1, 1, False, 1.5, 0.0, 8.0),
    2: Weights(1.2, 0.8, 0.45, Fraction(1), 0.0, 2, 1, True, 0.9, 0.0, 8.0),
    3: Weights(1.1, 1.05, 0.5, Fraction(1), 0.0, 3, 2, True, 0.4, 1.6, 12.0),
}

QUICK = 0.8
"""What a note quicker than an eighth earns, to one: as many again take the same time."""
FUSS = 0.3
"""... on a plain note no longer than a quarter, which moves already."""
TIRATA = -0.4
"""Each step, after the third, of a run that goes straight into the next plain note."""
LEAP = 0.45
"""A leap of a third inside a figure; a wider one costs more by the step; in
notes quicker than an eighth three times as much."""
UNTURNED = 1.0
"""A leap after which the line does not turn back by step."""
ARRIVE_STEP = -0.5
"""The next plain note is reached by step."""
ARRIVE_LEAP = 0.9
ANTICIPATED = 0.8
REACH = 0.15
"""Each step by which a figure leaves the plain notes' own compass beyond a third."""
WALK = -2.0
"""The bass, or the given line, goes by step where its plain notes leap."""
SNAP = 1.0
"""Two notes or more in less than a quarter, at the end of a plain note: soon a mannerism."""
SAME_VOICE = 0.5
"""The same voice goes on; doubled when it has done so twice."""
EXCHANGE = -0.35
"""Another voice takes over at once."""
IMITATION = -1.3
"""Another voice answers with the same figure."""
TAKEN_UP = -2.0
"""Another voice takes up an idea, at the same distance as the one before."""
TAKEN_UP_FREELY = -1.4
"""... its rhythm and its ups and downs, but not all its steps."""
TAKEN_UP_INVERTED = -1.0
"""... turned upside down."""
SEQUENCE = -1.6
"""The same voice has the figure again on another step, where its plain line is sequential."""
AGAIN = 0.5
"""The same figure twice in the same voice, where the plain line is not sequential."""
GROPPO = -3.0
"""The groppo on the leading note of a cadence."""
HUSH = 1.2
"""Each note added while the leading note of a cadence sounds, or its suspension: the others rest."""
OUT_OF_PLACE = 1.0
"""A figure in a place its table does not name."""
TOGETHER = 0.35
"""A second voice moves while the first does, note against note."""
PARALLEL = -0.4
"""... unless in thirds, sixths or tenths."""
OFF_BEAT = 0.35
"""A figure that begins to move off its own pulse."""
USED_OFTEN = 0.7
"""A figure heard more often than its share; for each time."""


WIGGLE = 0.6
"""Each turn of a figure that goes by steps to and fro, after the first."""
TREMOLO = 1.4
EARLY_RUN = 0.4
"""Each quick note where the movement has not yet grown, by how much it has not."""
OVER_ENTRY = 0.25
"""Each note added while another voice enters with the theme."""


def growth(place: float, to_cadence: float | None) -> float:
    """How much movement is wanted, about 1: less at the beginning, more towards the end and in the
    two bars before a cadence. `place` from 0 to 1; `to_cadence` in bars.

    >>> growth(0, None) < growth(0.5, None) < growth(0.5, 0.5)
    True
    """
    near = 0.0 if to_cadence is None else max(0.0, 1 - to_cadence / 2)
    return 0.6 + 0.5 * place + 0.5 * near
