"""Where a figure may come again: what is sorted out before any line is drawn, and what comes first."""

from __future__ import annotations

from random import Random
from types import SimpleNamespace

from builder.counterpoint.check.judge import Judge
from builder.diminution.diminished import Diminished
from builder.diminution.draw import Style, draw, frame, shifts
from builder.diminution.harmony import harmony
from builder.diminution.lines import Lines
from builder.diminution.spots import Spots
from builder.diminution.weave import Change, Weave, given_voices


def test_no_step_on_which_a_figure_can_be_drawn_is_left_out(plain) -> None:  # type: ignore[no-untyped-def]
    """Each of nine steps is drawn, and asked beforehand: what can be drawn was let through, and most of what
    cannot was not."""
    verset, analysis, realisation = plain("second")
    weave = Weave(realisation.score)
    asked, given = harmony(weave, Judge(verset, analysis).cut), given_voices(weave, verset)
    dice = Random(5)
    drawn = kept = every = 0
    for _ in range(60):
        v = dice.randrange(len(weave.voices))
        row = weave.tones[v]
        k = dice.randrange(1, len(row) - 1)
        start, end, d = row[k].start, row[k].end, row[k].d
        if given[start] == v or end - start < 4 or row[k + 1].start != end or row[k - 1].end != start:
            continue
        onsets = list(range(start, end, 2))
        figure = {t: d + dice.choice((-1, 0, 1, 2)) for t in onsets}
        spots, joined = Spots(weave, asked, v, given, (start, end)), frame(weave, v, start, end)
        let = shifts(spots, onsets, end, joined, figure, range(-4, 5))
        for by in range(-4, 5):
            joined.must = {t: x + by for t, x in figure.items()}
            found = draw(spots, onsets, end, joined, Style(), Random(1))
            assert found is None or by in let, (v, start, by)
            every, kept, drawn = every + 1, kept + (by in let), drawn + bool(found)
    assert 0 < drawn <= kept < every / 2


def test_a_figure_is_tried_first_where_its_notes_sound_already(plain) -> None:  # type: ignore[no-untyped-def]
    _, _, realisation = plain("first")
    weave = Weave(realisation.score)
    lines = SimpleNamespace(weave=weave, dice=SimpleNamespace(random=lambda: 0.0))
    row = weave.tones[0]
    at = row[2].start
    figure = [(t.start - at, t.d + 3) for t in row[2:6]]
    far = [(0, at + 4 * n) for n in range(1, 9)]
    assert Lines.likeliest(lines, [*far, (0, at)], figure)[0] == (0, at)  # type: ignore[arg-type]


def test_voices_with_few_small_notes_come_first(plain) -> None:  # type: ignore[no-untyped-def]
    _, _, realisation = plain("first")
    weave = Weave(realisation.score)
    long = next(t for t in weave.tones[0] if t.end - t.start >= 8)
    halves = [long._replace(start=t, end=t + 2) for t in range(long.start, long.end, 2)]
    weave.apply(Change(0, long.start, long.end, tuple(halves)))
    asker = SimpleNamespace(weave=weave, unit=4, dice=Random(3))
    drawn = [Diminished.voice(asker) for _ in range(400)]  # type: ignore[arg-type]
    assert 0 < drawn.count(0) < 85 and set(drawn) == set(range(len(weave.voices)))
    assert 1 not in {Diminished.voice(asker, 1) for _ in range(50)}  # type: ignore[arg-type]
