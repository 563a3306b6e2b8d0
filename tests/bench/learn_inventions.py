"""Learns what new versets are drawn by, for `builder/invention/learned/palestrina.json`:
`python tests/bench/learn_inventions.py OUT [EVERY]` (needs scikit-learn).

From files at even places of Palestrina's list in music21's corpus (those at odd places are kept to report
on), values halved. Counted: the interval that follows an interval, in the first notes after a rest and in
the lowest voice. Learned: which sonority stands over a note of the lowest voice, with one, two and three
voices above, by a multinomial logistic regression on `builder.invention.figures.features`."""

from __future__ import annotations

import json
import sys
from collections import Counter
from collections.abc import Sequence
from itertools import groupby, pairwise
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1] / "worth"))

from passages import Passage, passages, pieces

from builder.invention.figures import features, place_of, sonority_of
from builder.invention.melody import WIDEST
from builder.music import Metre, Note, Score
from builder.source.verset import GivenNote

PUBLISHED = "G. P. da Palestrina, masses, as music21's corpus has them, files at even places of its list"
THEME = 8
"""Notes of a voice that enters which count as its theme."""
METRE = Metre.parse("C")


def observed(passage: Passage) -> list[tuple[int, tuple[str, ...], str]]:
    """Voices above, features and sonority of each note of the lowest voice of a passage."""
    verset = passage.verset
    own: list[GivenNote] = [g for g in verset.given if g.voice == verset.given[-1].voice and g.note.pitch]
    found = []
    for n in range(1, len(own) - 1):
        before, here, after = (g.note.pitch for g in own[n - 1 : n + 2])
        assert before is not None and here is not None and after is not None
        sonority = sonority_of(own[n].figures)
        if sonority is not None and here == verset.signature.pitch(here.diatonic):
            note = own[n].note
            seen = features(
                here.diatonic - before.diatonic,
                after.diatonic - here.diatonic,
                note.duration,
                METRE.weight(note.onset),
                place_of(here, verset.signature),
            )
            found.append((len(verset.voices) - 1, seen, sonority))
    return found


def moves(notes: Sequence[Note], counts: Counter[str], *, most: int | None = None) -> None:
    """Counts what follows each interval between notes without a rest; of the first `most` notes after a rest
    alone, if that is given."""
    for sung, run in groupby(notes, key=lambda n: n.pitch is not None):
        if not sung:
            continue
        steps = [n.pitch.diatonic for n in run if n.pitch is not None][:most]
        for before, after in pairwise(["none", *(b - a for a, b in pairwise(steps))]):
            if abs(int(after)) <= WIDEST and (before == "none" or abs(int(before)) <= WIDEST):
                counts[f"{before},{after}"] += 1


def regression(rows: Sequence[tuple[tuple[str, ...], str]]) -> dict[str, dict[str, float]]:
    """Weights of each sonority by feature."""
    from sklearn.feature_extraction import DictVectorizer
    from sklearn.linear_model import LogisticRegression

    vectors = DictVectorizer()
    x = vectors.fit_transform([dict.fromkeys(seen, 1.0) for seen, _ in rows])
    model = LogisticRegression(C=0.5, max_iter=500, fit_intercept=False).fit(x, [s for _, s in rows])
    names = vectors.get_feature_names_out()
    return {
        str(s): {str(f): round(float(w), 3) for f, w in zip(names, row) if abs(w) >= 0.005}
        for s, row in zip(model.classes_, model.coef_)
    }


def gather(scores: Sequence[tuple[str, Score]]) -> tuple[Counter[str], Counter[str], list[Any]]:
    themes: Counter[str] = Counter()
    line: Counter[str] = Counter()
    rows = []
    for name, score in scores:
        for part in score.parts:
            moves(part.sounding(), themes, most=THEME)
        moves(score.parts[-1].sounding(), line)
        for passage in passages(name, score):
            rows += observed(passage)
    return themes, line, rows


def main(out: str, every: int) -> None:
    scores = list(pieces("palestrina", odd=False, every=every))
    themes, line, rows = gather(scores)
    figures = {
        str(above): regression([(seen, s) for a, seen, s in rows if a == above]) for above in (1, 2, 3)
    }
    found = {
        "source": PUBLISHED,
        "pieces": len(scores),
        "notes": {str(above): sum(a == above for a, _, _ in rows) for above in (1, 2, 3)},
        "moves": {
            "about": "interval before and after, in staff steps: how often",
            "themes": dict(sorted(themes.items())),
            "line": dict(sorted(line.items())),
        },
        "figures": figures,
    }
    Path(out).write_text(json.dumps(found, indent=0, ensure_ascii=False) + "\n", "utf-8")


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 1)
