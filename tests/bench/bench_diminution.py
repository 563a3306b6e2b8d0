"""Time to diminish: `python tests/bench/bench_diminution.py`.

A four-voice verset of 14 bars, warm, should take below 150 ms; time should grow with the number of
bars and no faster.
"""

from __future__ import annotations

from pathlib import Path
from time import perf_counter, process_time

from builder.analysis import analyse
from builder.counterpoint import check, realise
from builder.diminution import diminish
from builder.source import parse, read

CONTENT = Path(__file__).parents[2] / "content" / "versets"


def times(args, level: int) -> tuple[float, float]:  # type: ignore[no-untyped-def]
    """The best of five in milliseconds: by the clock, and of this process alone."""
    walls, own = [], []
    for _ in range(5):
        wall, cpu = perf_counter(), process_time()
        diminish(*args, level=level)
        walls.append(1000 * (perf_counter() - wall))
        own.append(1000 * (process_time() - cpu))
    return min(walls), min(own)


def longer(bars: int):  # type: ignore[no-untyped-def]
    """The first verset with more bars between the last entry and the cadence."""
    text = (CONTENT / "first.md").read_text(encoding="utf-8")
    line = next(row for row in text.splitlines() if row.startswith("bassus"))
    cells = line.split(" | ")
    middle = cells[3:5]
    extra = (bars - 14) // len(middle)
    verset = parse(
        text.replace(line, " | ".join([*cells[:3], *middle * (extra + 1), *cells[5:]])), path="long.md"
    )
    analysis = analyse(verset)
    return verset, analysis, realise(verset, analysis)


def main() -> None:
    for name in ("first", "fourth", "sixth"):
        verset = read(CONTENT / f"{name}.md")
        analysis = analyse(verset)
        args = verset, analysis, realise(verset, analysis)
        bars = len(verset.bars)
        print(
            f"{name} ({bars} bars)",
            *(f"level {n}: %.0f ms (own %.0f)" % times(args, n) for n in (1, 2, 3)),
            sep="  ",
        )
    for bars in (14, 28, 56, 112):
        args = longer(bars)
        for level in (2, 3):
            _, own = times(args, level)
            score = diminish(*args, level=level).score
            start = process_time()
            check(score, verset=args[0], analysis=args[1])
            checking = 1000 * (process_time() - start)
            alone = (own - checking) / bars
            print(f"{bars} bars, level {level}: {own:.0f} ms, {checking:.0f} of it the check;", end=" ")
            print(f"{alone:.1f} ms a bar without")


if __name__ == "__main__":
    main()
