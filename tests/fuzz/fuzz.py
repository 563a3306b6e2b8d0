"""Feeds damaged, random and hostile inputs to everything that reads what a teacher or a stranger sends in.

    python tests/fuzz/fuzz.py 2000000 [SEED]

prints as JSON how many inputs were read and how many refused in words, every failure that was not in words,
the slowest input in seconds, and the most memory that the process took. The same number and seed give the
same inputs.
"""

from __future__ import annotations

import io
import json
import random
import re
import resource
import sys
import time
import zipfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from mkdocs.config.base import ValidationError
from mkdocs.exceptions import PluginError

from builder.edition.exchange.mei import mei
from builder.edition.exchange.musicxml import given_musicxml
from builder.edition.service.order import is_order, parse_order
from builder.language.texts import languages
from builder.music import notated
from builder.plugin.config import VersetConfig, course_options
from builder.setting.text_warnings import text_warnings
from builder.source import SourceErrors, Verset, is_source, page_front, parse, write
from builder.source.files import decode
from builder.source.mei import parse_mei
from builder.source.musicxml import parse_musicxml, unpacked
from builder.source.wording import knows

GIVEN = """cantus C1 | D5/2 A4/4. B4/8 | C5/4 B4/4 A4/2
tenor  C4 | A3/2 D3/4. E3/8 | F3/4{6} E3/4{7 #6} D3/2"""
SOURCE = f"""---
title: A verset
verset:
  metre: C
  signature: none
  tone: 1
  beat: half = 52
  pitch: 440
  allow:
    - {{rule: direct-fifth, bar: 1, voices: [cantus], because: "a horn"}}
  readings:
    - {{bar: 1, voice: cantus, source: "F", adopted: "F sharp"}}
---

Words.

```given
{GIVEN}
```

```plain
cantus 3 | D5/2 _/2
```

## tenor

Words.
"""
SERVICE = """---
title: Evening
service:
  sung: {tone: 1, begins: A, ends: D, minutes: 0.4}
  order:
    - choir: First verse
    - {organ: first, for: Second verse, move: a tone lower}
---
"""
OPTIONS: dict[str, object] = {
    "language": "it",
    "tuning": "ours",
    "tunings": {"ours": "0 76 193 310 386 503 580 697 773 890 1007 1083"},
    "pitch": 466,
    "registration": "principale",
    "level": 3,
    "breathing": {"entry": 0.1},
    "articulation": {"beat": 0.1},
    "book": {"title": "A", "authors": ["B"]},
    "edition": {"print": {"score": "open"}},
    "processes": 2,
}
TOKENS = (
    *"ABCDEFGHR_|{}~.%/-=:;,#bn()[]<>&*!?'\"`\\ \n\t\r",
    *(
        "D5/2",
        "A4/4.",
        "R/1",
        "_/2",
        "{6}",
        "{7 6}",
        "{5/3:4 6/4:4}",
        "{-}",
        "F(#)4/4",
        "breve",
        "/16",
        "cantus",
    ),
    *(
        "altus C3 |",
        "tenor",
        "bassus F4",
        "C1",
        "```given",
        "```plain",
        "```",
        "~~~",
        "---",
        "## tenor",
        "% x",
    ),
    *(
        "verset:",
        "title:",
        "metre: 3/2",
        "signature: Bb",
        "&a ",
        "*a",
        "!!x ",
        "<<: ",
        "[[[[",
        "{{{{",
        "- - - -",
    ),
    *("2024-02-30", ".inf", ".nan", "1e999", "0x" + "f" * 80, "1:2:3:4", "? ", "|\n  ", ">-\n", "9" * 5000),
    *(
        "\x00",
        "\x1b[2J",
        "\u202e",
        "\ufeff",
        "é",
        "讃",
        "😀",
        "\u0301",
        "\x85",
        "\u2028",
        "♯",
        "𝄪",
        "½",
        "\ue000",
    ),
)
"""What a source is damaged with."""
VALUES = (
    *(
        None,
        True,
        False,
        0,
        -1,
        3,
        10**400,
        1e308,
        float("inf"),
        float("nan"),
        "",
        "x",
        "\x1b[2J",
        "讃",
        [],
        {},
    ),
    *(
        [[]],
        {"x": {}},
        ["a", 1, None],
        {"entry": float("nan")},
        "quarter-comma",
        "none",
        b"x",
        ("a",),
        object,
    ),
)
"""What an option is set to."""


def most_memory() -> int:
    """The most memory of this process in MiB. The system's own account of a process counts what its parent
    had before it became this one; the kernel's status file, where there is one, does not."""
    status = Path("/proc/self/status")
    if status.exists():
        line = next(x for x in status.read_text().splitlines() if x.startswith("VmHWM"))
        return int(line.split()[1]) // 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024


def good_score(form: str) -> bytes:
    verset = parse(SOURCE.replace("  tone: 1\n", ""))
    score = notated(verset.score())
    return (given_musicxml(verset, score) if form == "musicxml" else mei(verset, score)).encode()


SCORES = {form: good_score(form) for form in ("musicxml", "mei")}


def damaged(text: str, dice: random.Random) -> str:
    """A text with a few places cut, doubled, moved, or filled with something else."""
    for _ in range(dice.choice((0, 1, 1, 2, 3, 8))):
        at = dice.randrange(len(text) + 1)
        end = min(len(text), at + dice.choice((0, 0, 1, 1, 3, 20, 200)))
        put = dice.choice(
            ("", text[at:end] * 2, dice.choice(TOKENS), dice.choice(TOKENS) * dice.choice((1, 3, 60)))
        )
        text = text[:at] + put + text[end:]
    return text


def read_source(text: str) -> None:
    is_source(text)
    verset = parse(text)
    list(text_warnings(verset))


def grammar(dice: random.Random) -> Callable[[], object]:
    lines = [damaged(line, dice) if dice.random() < 0.4 else line for line in GIVEN.split("\n")]
    text = SOURCE.replace(
        GIVEN, "\n".join(lines) if dice.random() < 0.7 else "".join(dice.choices(TOKENS, k=60))
    )
    return lambda: read_source(text)


def whole_file(dice: random.Random) -> Callable[[], object]:
    data = bytearray(damaged(SOURCE, dice).encode("utf-8", "surrogatepass"))
    for _ in range(dice.choice((0, 0, 1, 4, 40)) if data else 0):
        data[dice.randrange(len(data))] = dice.randrange(256)
    if dice.random() < 0.05:
        data = bytearray(dice.randbytes(dice.randrange(400)))
    return lambda: read_source(decode(bytes(data), "a.md"))


def front(dice: random.Random) -> Callable[[], object]:
    head, rest = SOURCE[:330], SOURCE[330:]
    text = damaged(head, dice) + rest
    return lambda: (page_front(text, "a.md", dates=dice.random() < 0.5), read_source(text))


def service(dice: random.Random) -> Callable[[], object]:
    text = damaged(SERVICE, dice)
    return lambda: (is_order(text), parse_order(text, "a.md"))


def score(dice: random.Random) -> Callable[[], object]:
    form = dice.choice(tuple(SCORES))
    text = damaged(SCORES[form].decode(), dice)
    if dice.random() < 0.3:  # a value of an element or an attribute
        text = text.replace(
            dice.choice((">1<", ">4<", '"1"', '"4"', ">C<")), dice.choice((">-1<", '"999999"', ">x<")), 1
        )
    data = text.encode("utf-8", "surrogatepass")
    read: Callable[[bytes], Verset] = parse_mei if form == "mei" else parse_musicxml
    if form == "musicxml" and dice.random() < 0.2:
        return lambda: write(read(unpacked(packed(data, dice), "a.mxl")))
    return lambda: write(read(data))


def packed(data: bytes, dice: random.Random) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as made:
        name = dice.choice(("a.xml", "../a.xml", ""))
        made.writestr("META-INF/container.xml", damaged(f'<c><rootfile full-path="{name}"/></c>', dice))
        made.writestr("a.xml", data)
    broken = bytearray(file.getvalue())
    for _ in range(dice.choice((0, 1, 4))):
        broken[dice.randrange(len(broken))] = dice.randrange(256)
    return bytes(broken)


def options(dice: random.Random) -> Callable[[], object]:
    chosen = dict(OPTIONS)
    for _ in range(dice.choice((0, 1, 1, 2))):
        key = dice.choice(tuple(chosen))
        inner = chosen[key]
        if isinstance(inner, dict) and dice.random() < 0.6:
            chosen[key] = inner | {dice.choice((*inner, "stray", 3)): dice.choice(VALUES)}
        else:
            chosen[key] = dice.choice(VALUES)

    def read() -> None:
        config = VersetConfig()
        config.load_dict(chosen)
        errors, _ = config.validate()
        if errors:
            raise ValidationError(str(errors))
        course_options(config, Path())

    return read


KINDS = (grammar, grammar, whole_file, front, front, service, score, options)
REFUSALS = (SourceErrors, PluginError, ValidationError)
MOST_TOLD = 20


def halves(refused: SourceErrors) -> dict[str, str]:
    """What was found and what was expected, by what is the same in all such phrases."""
    texts = (half for error in refused.errors for half in (error.found, error.expected))
    return {re.sub(r"[0-9]+", "1", re.sub(r'"[^"]*"', '""', text)): text for text in texts}


def run(count: int, seed: int = 0) -> dict[str, object]:
    """Read so many inputs and tell what became of them."""
    became: Counter[str] = Counter()
    uncaught: list[str] = []
    told: dict[str, str] = {}
    slowest, slow = 0.0, ""
    for n in range(count):
        dice = random.Random(f"{seed}-{n}")
        kind = KINDS[n % len(KINDS)]
        read = kind(dice)
        began = time.process_time()
        try:
            read()
            became[f"{kind.__name__} read"] += 1
        except REFUSALS as refused:
            became[f"{kind.__name__} refused"] += 1
            if isinstance(refused, SourceErrors):
                told.update(halves(refused))
            if set(str(refused)) & set("\x00\x1b\x9b\u202e"):
                uncaught.append(f"{seed}-{n} {kind.__name__}: a character that steers a terminal")
        except Exception as error:
            uncaught.append(f"{seed}-{n} {kind.__name__}: {type(error).__name__}: {error}"[:300])
        took = time.process_time() - began
        if took > slowest:
            slowest, slow = took, f"{seed}-{n} {kind.__name__}"
    return {
        "inputs": count,
        "became": dict(sorted(became.items())),
        "uncaught": len(uncaught),
        "told": uncaught[:MOST_TOLD],
        "phrases": len(told),
        "untranslated": [text for text in told.values() if not all(knows(text, x) for x in languages()[1:])],
        "slowest": round(slowest, 3),
        "slow": slow,
        "memory": most_memory(),
    }


if __name__ == "__main__":
    asked = [int(word) for word in sys.argv[1:]] or [20_000]
    print(json.dumps(run(*asked), indent=2, ensure_ascii=False))
