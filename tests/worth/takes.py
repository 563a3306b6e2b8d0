"""How well the page listens: takes by synthetic performers in a real browser, right ones and ones with a
planted fault, at every step of a built site.

    .venv/bin/python tests/worth/takes.py site 500

Prints the share of notes that came back in their voice and place, right takes in which an error was found,
planted faults that were not, and how long the setting took. Time of human hands: jitter 30 ms, chords rolled
up to 80 ms, speed wandering by 15 %; every third performer plays the given line as well. A planted fault
whose keys came back whole, and that is none when the voices share them otherwise, is counted apart.
One take of each step is played to the line on a processor slowed four times, with the time from the last key
of each stroke to its verdict on the paper.
A third number is where the dice begin: the constants of the reading were learned on takes 1000 to 4999.
"""

from __future__ import annotations

import random
import sys
from pathlib import Path
from statistics import median
from typing import Any

from playwright.sync_api import Page, sync_playwright

sys.path[:0] = [str(Path(__file__).parents[1] / "browser"), str(Path(__file__).parents[1])]
from browsers import chromium  # noqa: E402
from performers import (  # noqa: E402
    DRAW,
    ERRORS,
    LIVE,
    READ,
    agreement,
    keys_at,
    ornamented,
    performance,
    planted,
)
from waiting import until  # noqa: E402

OWN = "document.querySelector('.verset-player')?.verset?.own"
JUDGED = f"""
(work) => {{
  const own = {OWN};
  return own.exercise.events.map((_, n) => {{
    own.rulings.known[n].clear();
    const began = performance.now();
    own.judge(n, work);
    return performance.now() - began;
  }});
}}
"""


def steps(page: Page, site: Path) -> list[Path]:
    """The pages of a site with an exercise."""
    return [
        path for path in sorted(site.rglob("versets/*/*.html")) if "verset-try" in path.read_text("utf-8")
    ]


def waits(page: Page, exercise: Any, n: int) -> tuple[list[float], list[float]]:
    """At a quarter of the processor, milliseconds from each stroke of a take to the line to its verdict on
    the paper, and of the judging of each sonority alone."""
    work = page.evaluate(DRAW, n + 1)
    if work is None:
        return [], []
    played = performance(exercise, work, random.Random(f"live {n}"), line=n % 3 == 0)
    devtools = page.context.new_cdp_session(page)
    devtools.send("Emulation.setCPUThrottlingRate", {"rate": 4})
    found = page.evaluate(LIVE, [played, 250])["waits"]
    judged = page.evaluate(JUDGED, work)
    devtools.send("Emulation.setCPUThrottlingRate", {"rate": 1})
    return [float(each) for each in found], judged


def main(site: Path, count: int, first: int = 0) -> None:
    same = notes = right = wrong_right = wrong_graced = faulty = missed = otherwise = undrawn = 0
    took: list[float] = []
    waited: list[float] = []
    judged: list[float] = []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium(), args=["--no-sandbox"])
        page = browser.new_page()
        pages = steps(page, site)
        for k, path in enumerate(pages):
            page.goto(path.as_uri())
            until(page, f"!!{OWN}")
            exercise = page.evaluate(f"{OWN}.exercise")
            for found, more in zip((waited, judged), waits(page, exercise, first + k), strict=True):
                found.extend(more)
            for n in range(first + k, first + count, len(pages)):
                dice = random.Random(f"take {n}")
                work = page.evaluate(DRAW, n + 1)
                if work is None:
                    undrawn += 1
                    continue
                fault = n % 4 == 3
                truth = planted(exercise, work, dice)[0] if fault else work
                played = performance(exercise, truth, dice, line=n % 3 == 0)
                read = page.evaluate(READ, played)
                took.append(read["milliseconds"])
                good, all_ = agreement(exercise, truth, read["work"])
                same, notes = same + good, notes + all_
                asked, met = page.evaluate(ERRORS, truth), page.evaluate(ERRORS, read["work"])
                if fault:
                    faulty += any(asked)
                    lost = any(rules and not found for rules, found in zip(asked, met))
                    shared = keys_at(exercise, truth) == keys_at(exercise, read["work"])
                    missed, otherwise = missed + (lost and not shared), otherwise + (lost and shared)
                    if lost:
                        print(f"  {path.parent.name}/{path.stem} take {n}: missed, keys whole: {shared}")
                else:
                    right += 1
                    wrong_right += any(met)
                    graced = page.evaluate(READ, ornamented(played, dice))
                    wrong_graced += any(page.evaluate(ERRORS, graced["work"]))
                    if any(met) or good < all_:
                        told = [rules for rules in met if rules][:3]
                        print(f"  {path.parent.name}/{path.stem} take {n}: {good}/{all_} {told}")
        browser.close()
    print(f"notes in their voice and place: {same} of {notes} ({same / max(1, notes):.2%})")
    print(f"right takes with an error found: {wrong_right} of {right}")
    print(f"  the same with mordents on one note of eight: {wrong_graced} of {right}")
    print(f"takes with a planted fault in which one was missed: {missed} of {faulty}")
    print(f"  and in which it is none when the same keys are shared otherwise: {otherwise}")
    print(
        f"milliseconds to the setting: median {median(took):.1f}, most {max(took):.1f}; not drawn: {undrawn}"
    )
    for what, times in (("to the verdict on a stroke", waited), ("of judging one sonority", judged)):
        times.sort()
        print(
            f"milliseconds {what}, four times slower: median {median(times):.1f}, "
            f"95 % within {times[int(len(times) * 0.95)]:.1f}, most {times[-1]:.1f} of {len(times)}"
        )


if __name__ == "__main__":
    main(Path(sys.argv[1]).resolve(), *(int(each) for each in sys.argv[2:4]))
