"""The guide for a new rule, followed to the letter on a copy of the package: an entry and its words, and
every judge asks it."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[3] / "builder"

MOTION = '''
def fifth_from_afar(*, before: Number, after: Number, motion: Number, leaps: Number) -> Truth:
    """A fifth reached by contrary motion while the upper voice leaps."""
    return (after == Perfect.FIFTH) & (before == Perfect.NONE) & (motion == CONTRARY) & (leaps == 1)


MOTION_RULES = (
    Rule(
        "fifth-from-afar",
        "Fifth from afar",
        "A fifth is better reached by step.",
        "Let the upper voice go by step.",
        COMMON,
        Of.PAIR,
        When.STEP,
        severities(WARNING, WARNING),
        "cantus E4/2 A4/2\\ntenor G4/2 D4/2",
        "cantus G4/2 A4/2\\ntenor G4/2 D4/2",
        fifth_from_afar,
    ),'''
SONORITY = '''
def sixth(*, numbers: Number) -> Truth:
    """A sixth over the lowest note."""
    return (numbers & 0b100000) != 0


FIGURE_RULES = (
    Rule(
        "no-sixths",
        "Sixth",
        "Nothing sounds a sixth above the lowest voice.",
        "Take the fifth.",
        COMMON,
        Of.SONORITY,
        When.ONSET,
        ALWAYS_ERROR,
        "cantus C5/1\\naltus G4/1\\nbassus E3/1",
        "cantus B4/1\\naltus G4/1\\nbassus E3/1",
        sixth,
    ),'''
MELODY = '''
def fifth_up(*, move: Intervals) -> Truth:
    """A leap of a fifth upwards."""
    return move.steps == 4


MELODY_RULES = (
    Rule(
        "fifth-up",
        "Leap of a fifth up",
        "A voice does not leap a fifth upwards.",
        "Leap down by a fourth.",
        COMMON,
        Of.MELODY,
        When.STEP,
        ALWAYS_ERROR,
        "cantus D4/2 A4/2",
        "cantus D5/2 A4/2",
        fifth_up,
    ),'''
BEATS = """
MOTION_RULES = (
    Rule(
        "fifths-on-beats",
        "Fifths from beat to beat",
        "Short notes between do not hide two fifths.",
        "Let one of the beats have another interval.",
        COMMON,
        Of.PAIR,
        When.BEAT,
        ALWAYS_ERROR,
        "cantus A4/4 B4/4\\ntenor D4/8 C4/8 E4/4",
        "cantus A4/4 G4/4\\ntenor D4/8 C4/8 E4/4",
        parallel_fifths,
    ),"""
NEW = {
    "fifth-from-afar": ("motion", MOTION),
    "no-sixths": ("figures", SONORITY),
    "fifth-up": ("melody", MELODY),
    "fifths-on-beats": ("motion", BEATS),
}
ASKS = """
import json
from fractions import Fraction

from builder.analysis import analyse
from builder.counterpoint import RULES, check
from builder.counterpoint.figured_bass.sonority import read_figure
from builder.counterpoint.rules.example import example
from builder.counterpoint.rules.page_tables import rule_words, tables
from builder.counterpoint.search.arcs import broken
from builder.counterpoint.search.costs import Weights
from builder.counterpoint.search.joints import Conditions, Joint
from builder.counterpoint.search.shape import Meeting, Shape
from builder.counterpoint.search.step_costs import Steps, named
from builder.counterpoint.search.voicing import voicings
from builder.music import FigureSign, Pitch, Signature

new = NEW
found = {}
for name in new:
    rule = RULES[name]
    faults, mends = (
        [f.rule for f in check(example(text), keyboard=False)] for text in (rule.fault, rule.mend)
    )
    found[name] = {"fault": name in faults, "mend": name in mends, "it": rule_words("it")[name][0]}
table = tables()
found["page"] = {
    "motion": any("fifth-from-afar" in rules for rules in table["motion"].values()),
    "sonority": any("no-sixths" in rules for rules in table["stack"]["numbers"].values()),
    "melody": table["melody"].get("4,7", []),
    "severity": table["rules"]["fifth-from-afar"]["severity"],
}

def shape(bass, figure=()):
    variant = read_figure(Pitch.parse(bass), figure, Signature())
    return Shape(Pitch.parse(bass), "bassus", ("cantus", "altus"), (variant,))

weights = Weights.of({})
sixth = voicings(shape("E3", (FigureSign(6),)), weights)
fifth = voicings(shape("D3"), weights)
masks = dict(broken(fifth, voicings(shape("C3"), weights), Joint()))
meeting = Meeting.of(fifth.shape, fifth.shape)
notes = [
    {"cantus": (30, 64), "altus": (30, 64), "bassus": (25, 55)},
    {"cantus": (33, 69), "altus": (29, 62), "bassus": (22, 50)},
]
conditions = Conditions.of([Joint()], [fifth.shape])
costs = named(Steps.along(meeting, [tuple(notes)], conditions), weights.above(2))
found["search"] = {
    "voicings with a sixth": len(sixth),
    "other voicings": len(fifth),
    "steps with a fifth up": int(masks["fifth-up"].sum()),
    "price of a fifth from afar": float(costs["warned"][0]),
}
print(json.dumps(found))
"""


@pytest.fixture
def house(tmp_path: Path) -> Path:
    shutil.copytree(PACKAGE, tmp_path / "builder", ignore=shutil.ignore_patterns("__pycache__"))
    return tmp_path


def enter(house: Path, name: str, entry: str) -> None:
    """The guide: the entry at the head of its tuple, and its words in each other language."""
    room, _ = NEW[name]
    path = house / f"builder/counterpoint/rules/{room}.py"
    text = path.read_text("utf-8")
    opening = f"\n{ {'motion': 'MOTION', 'melody': 'MELODY', 'figures': 'FIGURE'}[room] }_RULES = ("
    assert text.count(opening) == 1
    path.write_text(text.replace(opening, entry), "utf-8")
    for language in ("it", "de"):
        words = house / f"builder/language/texts/{language}.yaml"
        entry = f"  {name}:\n    title: {name} {language}\n    sentence: ein Satz\n    advice: ein Rat\n"
        words.write_text(words.read_text("utf-8").replace("\nrules:\n", f"\nrules:\n{entry}", 1), "utf-8")


def python(house: Path, code: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-c", code], cwd=house, capture_output=True, text=True)


def test_a_new_rule_is_one_entry_and_its_words_and_every_judge_asks_it(house: Path) -> None:
    for name, (_, entry) in NEW.items():
        enter(house, name, entry)
    done = python(house, ASKS.replace("NEW", repr(sorted(NEW)), 1))
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    for name in NEW:
        assert found[name] == {"fault": True, "mend": False, "it": f"{name} it"}
    assert found["page"] == {
        "motion": True,
        "sonority": True,
        "melody": ["fifth-up"],
        "severity": ["warning"] * 6,
    }
    search = found["search"]
    assert search["voicings with a sixth"] == 0 and search["other voicings"] > 0
    assert search["steps with a fifth up"] > 0
    assert search["price of a fifth from afar"] == 2.0


@pytest.mark.parametrize(
    "entry, told",
    [
        (MELODY.replace("*, move:", "*, loudness:").replace("move.steps == 4", "loudness > 1"), "loudness"),
        (MELODY.replace("When.STEP", "When.BEAT"), "every judge cannot ask it of melody"),
        (MELODY.replace('"fifth-up"', '"leap-of-seventh"'), "there are two rules leap-of-seventh"),
    ],
)
def test_a_rule_that_a_judge_cannot_ask_is_told_by_name_as_soon_as_the_rules_are_read(
    house: Path, entry: str, told: str
) -> None:
    enter(house, "fifth-up", entry)
    done = python(house, "import builder.counterpoint")
    assert done.returncode and "TypeError: " in done.stderr
    assert told in done.stderr.splitlines()[-1]
    assert ("fifth-up" in done.stderr.splitlines()[-1]) or "two rules" in told


def test_a_rule_that_the_search_cannot_ask_says_so_or_leaves_it_to_the_check(house: Path) -> None:
    """Two voices together, by the tuning: the search hears no tuning."""
    entry = MOTION.replace("When.STEP", "When.ONSET").replace("fifth_from_afar,\n", "howls,\n")
    entry = entry.replace(
        "MOTION_RULES = (", "def howls(*, wolf: Truth) -> Truth:\n    return wolf\n\n\nMOTION_RULES = ("
    )
    enter(house, "fifth-from-afar", entry)
    done = python(house, "import builder.counterpoint")
    assert "the rule fifth-from-afar: search cannot ask it of pair, by wolf" in done.stderr
    path = house / "builder/counterpoint/rules/motion.py"
    path.write_text(
        path.read_text("utf-8").replace("howls,\n", 'howls,\n        cost="unasked",\n', 1), "utf-8"
    )
    assert python(house, "import builder.counterpoint").returncode == 0
