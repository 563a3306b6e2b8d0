"""How near the lines are to the masters': `python tests/bench/bench_lines.py [versets|random|both] [N]`.

For the versets of the course, or N invented lines that nothing was tuned on (those of the random tests): at
level 1 what is heard in the voices (imitation, chance, rests, suspensions, rhythm), at levels 2 and 3 how
many of sixteen measures lie inside the bands of real pieces, with new errors, warnings and seconds of this
process. Chance: figures that another verset had, counted in the same way. For comparison (G. Frescobaldi,
Kyries of the Fiori musicali, 1635): imitated 44, silent 12, suspensions .48; real pieces lie inside 13 of 16
bands."""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Iterator
from pathlib import Path
from statistics import fmean
from time import process_time

from builder.analysis import Analysis, analyse
from builder.counterpoint import Realisation, realise
from builder.diminution import diminutions
from builder.diminution.florid import Florid
from builder.diminution.habits import bands
from builder.diminution.hearing import Heard, figures, hear
from builder.diminution.weave import Weave, given_voices
from builder.source import Verset, read

HERE = Path(__file__).parent
CONTENT = HERE.parents[1] / "content" / "versets"
HEARD = ("imitated", "silent", "suspensions", "with_given", "density", "repeated", "leaps")


def versets(kind: str, many: int) -> Iterator[Verset]:
    """The versets to measure."""
    if kind in ("versets", "both"):
        yield from (read(path) for path in sorted(CONTENT.glob("*.md")))
    if kind in ("random", "both"):
        path = HERE.parent / "outside" / "test_diminution_random.py"
        spec = importlib.util.spec_from_file_location("random_lines", path)
        assert spec and spec.loader
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
        yield from (module.random_verset(seed) for seed in range(1000, 1000 + many))


def inside(weave: Weave, level: int) -> list[str]:
    """The measures that lie outside their bands."""
    found = Florid(weave, level).measures()
    return [k for k, (low, _, high) in bands(level).items() if not low <= found[k] <= high]


def main(kind: str, many: int) -> None:
    heard: list[tuple[Heard, Weave, int]] = []
    outside: dict[int, list[list[str]]] = {2: [], 3: []}
    for verset in versets(kind, many):
        analysis: Analysis = analyse(verset)
        plain: Realisation = realise(verset, analysis)
        start = process_time()
        made = diminutions(verset, analysis, plain)
        seconds = process_time() - start
        had = {(f.rule, f.voices, f.place.bar) for f in plain.findings if f.severity == "error"}
        new = [
            (level, f.rule)
            for level, d in made.items()
            for f in d.findings
            if f.severity == "error" and not f.allowed and (f.rule, f.voices, f.place.bar) not in had
        ]
        warned = [sum(f.severity == "warning" for f in x.findings) for x in (plain, *made.values())]
        weave = Weave(made[1].score)
        h = hear(weave, given_voices(weave, verset))
        heard.append((h, weave, len(verset.voices)))
        row = " ".join(f"{k} {getattr(h, k):.2f}" for k in HEARD)
        for level in (2, 3):
            outside[level].append(inside(Weave(made[level].score), level))
        met = [16 - len(outside[level][-1]) for level in (2, 3)]
        print(f"{verset.name:12} {len(verset.voices)} voices {seconds:5.2f} s  {row}  bands {met}", end="  ")
        print(f"warnings {warned}  new errors {new}", flush=True)
    several = [h for h, _, voices in heard if voices > 2]
    free = sum(h.free for h in several) or 1
    print("three and four voices:", end=" ")
    print(" ".join(f"{k} {sum(getattr(h, k) * h.free for h in several) / free:.3f}" for k in HEARD), end=" ")
    print(f"chance {chance([w for _, w, voices in heard if voices > 2]):.3f}")
    for level, rows in outside.items():
        print(f"level {level}: bands met of 16, mean {16 - fmean(map(len, rows)):.1f}; outside most often:")
        names = [name for row in rows for name in row]
        for name in sorted(set(names), key=lambda n: (-names.count(n), n))[:6]:
            print(f"  {names.count(name):3} of {len(rows)}  {name}")


def chance(weaves: list[Weave]) -> float:
    """Share of notes in a figure that the next verset has, too, in another voice and earlier."""
    hit = total = 0
    for one, two in zip(weaves, [*weaves[1:], *weaves[:1]]):
        had = {(f, w, two.tones[w][i].start) for w in range(len(two.tones)) for i, f in figures(two.tones[w])}
        for v, tones in enumerate(one.tones):
            places = {
                t.start
                for i, f in figures(tones)
                if any(f == g and w != v and s < tones[i].start for g, w, s in had)
                for t in tones[i : i + 4]
            }
            hit, total = hit + len(places), total + len(tones)
    return hit / max(1, total)


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "versets", int(sys.argv[2]) if len(sys.argv) > 2 else 20)
