"""Twenty-four versets in odd shapes, invented: for measuring how the book lies on its pages."""

from __future__ import annotations

from collections.abc import Iterator

THEME = "D5/2 A4/4. B4/8 | C5/4 B4/4 A4/2"
ANSWER = "A4/2 D4/4. E4/8 | F4/4{6} E4/4{7 #6} D4/2"
BELOW = "D4/2 A3/4. B3/8 | C4/4 B3/4{7 #6} A3/2"
LAST = "A3/2 D3/4. E3/8 | F3/4{6} E3/4{7 #6} D3/2"
CLOSE = "A2/1{#:4 6/4:4 5/4:4 #:4} | D3/breve{#}"
WALK = ("D3/4 E3/4{6} F3/4 G3/4", "A3/4 F3/4 G3/4 A3/4", "Bb3/4 A3/4{6} G3/4 F3/4", "E3/4{6} F3/4 D3/2")


def _source(
    title: str, given: str, front: str = "", intro: str = "", metre: str = "C", more: str = ""
) -> str:
    head = f'---\ntitle: "{title}"\nverset:\n  metre: {metre}\n  signature: none\n{front}---\n\n'
    return f"{head}{intro}\n\n```given\n{given}\n```\n{more}"


def _walking(bars: int) -> str:
    return " | ".join(WALK[n % len(WALK)] for n in range(bars))


def _witnesses(count: int) -> str:
    rows = "".join(
        f"    - {{siglum: {'ABC'[n]}, library: A parish library, shelfmark: Ms. {n}, folio: {n}r, "
        f"description: A book of organ music in one hand.}}\n"
        for n in range(count)
    )
    return f"  witnesses:\n{rows}"


def _editors(count: int) -> str:
    return "  editors: [" + ", ".join(f'"Person {n}, Quite Long Named"' for n in range(count)) + "]\n"


READINGS = """
```readings
cantus 1:1 A   | D5/4 D5/4 "the note is struck twice"
cantus 1:3 B   | A4/4 B4/4
cantus 2:1 A B | C#5/4
altus  3:1 C4 C | A4/2
altus  4:1 A   | F4/4
altus  4:2 B   | E4/4{7}
altus  4:3 C   | _
```
"""


def odd_versets() -> Iterator[tuple[str, str]]:
    """Names and sources."""
    two = f"cantus C1 | {THEME}\naltus C3 | {ANSWER}"
    three = f"{two}\ntenor C4 | {BELOW}"
    four = f"{three}\nbassus F4 | {LAST}"
    yield "two-bars", _source("Two bars", "cantus C1 | D5/2 A4/4. B4/8\naltus C3 | D4/1")
    yield "three-bars", _source("Three bars", f"cantus C1 | {THEME} | D5/1")
    yield "duo", _source("A duo", f"{two} | D4/1")
    yield "trio", _source("A trio", f"{three} | D4/1")
    yield "quartet", _source("A quartet", f"{four} | {CLOSE}")
    for bars in (4, 8, 12, 16, 24, 32, 46):
        yield f"bars-{bars + 10}", _source(f"{bars + 10} bars", f"{four} | {_walking(bars)} | {CLOSE}")
    yield (
        "long-title",
        _source(
            "A verset for the second verse of the Magnificat in the first tone, which is to be played slowly",
            f"{four} | {CLOSE}",
        ),
    )
    yield "editors", _source("Five editors", f"{four} | {CLOSE}", _editors(5))
    yield "witnesses", _source("Three witnesses", f"{four} | {CLOSE}", _witnesses(3), more=READINGS)
    yield (
        "everything",
        _source(
            "Everything at once",
            f"{four} | {_walking(8)} | {CLOSE}",
            _witnesses(3) + _editors(5),
            more=READINGS,
        ),
    )
    words = "These words go on about the theme and its answer. " * 12
    yield "words", _source("Many words before it", f"{four} | {CLOSE}", intro=words)
    yield (
        "triple",
        _source(
            "In triple time",
            "cantus C1 | D5/2 A4/2 B4/2 | C5/1.\naltus C3 | A4/2 D4/2 E4/2 | D4/1.",
            metre="3/2",
        ),
    )
    yield (
        "breves",
        _source(
            "Breves",
            "cantus C1 | D5/1 | C5/1\naltus C3 | A4/1 | G4/1\nbassus F4 | D3/1 | A2/1{#} | D3/breve{#}",
        ),
    )
    yield (
        "sixths",
        _source(
            "In six", "cantus C1 | D5/2. C5/2. | B4/2. A4/2.\naltus C3 | D4/2. E4/2.{6} | D4/1.", metre="6/4"
        ),
    )
    yield "editorial", _source("One editorial sharp", f"{two} | E4/4{{6}} F(#)4/4{{6}} G4/2 | D4/1")
    yield (
        "low",
        _source("Low clefs", f"tenor C4 | {BELOW.replace('{7 #6}', '')}\nbassus F4 | {LAST} | {CLOSE}"),
    )
    yield "figures", _source("Many figures", f"{four} | A2/2{{7/5/3 6/4}} A2/2{{5/4 #}} | D3/breve{{#}}")
    yield "moved", _source("Moved", f"{four} | {CLOSE}", "  move: a tone lower\n")
