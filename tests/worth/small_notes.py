"""How well the page judges a voice in small notes: lines of the patterns that it offers, right ones and ones
with a wrong key, by synthetic performers in a real browser, at every step of a built site.

    .venv/bin/python tests/worth/small_notes.py site 12 3

What is right or wrong is what the page says of the same line in exact time. Prints the share of right lines
in which an error was found once hands played them (jitter 30 ms, speed wandering by 15 %), and of wrong keys
that were not. The second number is how many lines are drawn for a voice, the third where the dice begin; 2
was looked at while the reading was made.
"""

from __future__ import annotations

import math
import random
import sys
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

sys.path[:0] = [str(Path(__file__).parents[1] / "browser"), str(Path(__file__).parents[1])]
from browsers import chromium  # noqa: E402
from performers import midi  # noqa: E402
from waiting import until  # noqa: E402

OWN = "document.querySelector('.verset-player')?.verset?.own"
JUDGED = f"""([voice, lines]) => lines.map((notes) => {OWN}.taking
  .gracedOf({{ voice, work: {OWN}.exercise.ours }}, notes).judged().some(({{ rules }}) => rules.length))"""
PATTERNS = "JSON.parse(document.querySelector('.verset-gracing').textContent)"

Keys = list[dict[str, float]]


def line(exercise: Any, voice: str, notes: Any, dice: random.Random) -> Keys:
    """A voice of our plain setting as keys in exact time, most notes broken by patterns without a fault."""
    broken = {round(note["start"], 2): note for note in notes if note["voice"] == voice}
    heads: list[tuple[float, int]] = []
    until_ = -1.0
    for event, pitch in zip(exercise["events"], exercise["ours"][voice], strict=True):
        if not pitch or voice not in event["upper"] or event["start"] < until_ - 0.01:
            continue
        note = broken.get(round(event["start"], 2), {"patterns": [], "end": 0})
        patterns = [each for each in note["patterns"] if not each["met"]]
        if patterns and dice.random() < 0.7:
            heads += [(at, midi([step, alter])) for at, _, step, alter, _ in dice.choice(patterns)["notes"]]
            until_ = note["end"]
        elif not heads or heads[-1][1] != midi(pitch):
            heads.append((event["start"], midi(pitch)))
    ends = [at for at, _ in heads[1:]] + [exercise["events"][-1]["end"]]
    return [{"key": key, "on": at, "off": end - 0.02} for (at, key), end in zip(heads, ends, strict=True)]


def by_hand(keys: Keys, dice: random.Random) -> Keys:
    """The same keys in the time of hands."""
    phase, played = dice.random() * 6, []
    for key in keys:
        wave = math.sin(phase + key["on"] * 2 * math.pi / 20) - math.sin(phase)
        on = key["on"] + 0.15 * wave * 20 / (2 * math.pi) + max(-0.09, min(0.09, dice.gauss(0, 0.03)))
        played.append(max(0, on, played[-1] + 0.02) if played else max(0, on))
    offs = [*played[1:], played[-1] + keys[-1]["off"] - keys[-1]["on"]]
    return [
        {"key": key["key"], "on": on, "off": max(on + 0.03, off - 0.01)}
        for key, on, off in zip(keys, played, offs, strict=True)
    ]


def spoiled(keys: Keys, dice: random.Random) -> Keys:
    """The line with one other key up to a third away."""
    n = dice.randrange(1, len(keys) - 1) if len(keys) > 3 else 0
    return [
        {**key, "key": key["key"] + (k == n) * dice.choice((-3, -2, -1, 1, 2, 3))}
        for k, key in enumerate(keys)
    ]


def main(site: Path, count: int, first: int) -> None:
    right = false = wrong = missed = 0
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium(), args=["--no-sandbox"])
        page = browser.new_page()
        for path in sorted(site.rglob("versets/*/*.html")):
            if "verset-gracing" not in path.read_text("utf-8"):
                continue
            page.goto(path.as_uri())
            until(page, f"!!{OWN}")
            exercise, notes = page.evaluate(f"[{OWN}.exercise, {PATTERNS}]")
            for voice in sorted({note["voice"] for note in notes}):
                dice = random.Random(f"{path.parent.name}/{path.stem} {voice} {first}")
                lines = [line(exercise, voice, notes, dice) for _ in range(count)]
                lines += [spoiled(each, dice) for each in lines for _ in range(6)]
                exact = page.evaluate(JUDGED, [voice, lines])
                heard = page.evaluate(JUDGED, [voice, [by_hand(each, dice) for each in lines]])
                for n, (asked, found) in enumerate(zip(exact, heard, strict=True)):
                    if n < count and not asked:
                        right, false = right + 1, false + found
                    elif n >= count and asked:
                        wrong, missed = wrong + 1, missed + (not found)
        browser.close()
    print(f"right lines in small notes with an error found: {false} of {right} ({false / right:.1%})")
    print(f"lines with a wrong key in which none was found: {missed} of {wrong} ({missed / wrong:.1%})")


if __name__ == "__main__":
    main(Path(sys.argv[1]).resolve(), *(int(each) for each in sys.argv[2:4]))
