"""What a search has found of a verset, as plain data that can be kept: the notes of each level, and the
plan.

All else that is said of the levels (each grace, why it is there, what the check finds) is worked out from
these and the plain setting in a thirtieth of the time.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from fractions import Fraction
from functools import cache
from types import UnionType
from typing import Any, get_args, get_origin, get_type_hints

from builder.analysis import Analysis
from builder.counterpoint import Realisation
from builder.diminution.ground import Ground
from builder.diminution.harmony import natural
from builder.diminution.pattern import Pattern
from builder.diminution.result import Diminution
from builder.diminution.tables import patterns
from builder.diminution.weave import Tone, Weave
from builder.music import QUARTER_COMMA, Tuning
from builder.plan import Plan
from builder.source import Verset

Json = dict[str, Any]


def kept_levels(made: Mapping[int, Diminution]) -> Json:
    """The levels of a verset, as `diminutions` gives them, as data.

    >>> from builder.analysis import analyse
    >>> from builder.counterpoint import realise
    >>> from builder.diminution import diminutions
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> analysis = analyse(verset)
    >>> plain = realise(verset, analysis)
    >>> made = diminutions(verset, analysis, plain)
    >>> data = kept_levels(made)
    >>> data["levels"]["1"]["voices"][0][:2]
    [[0, 8, 36, 74], [8, 14, 33, 69]]
    >>> len(data["plan"])
    6
    """
    levels = {}
    for level, one in made.items():
        weave = Weave(one.score)
        rows = [[list(tone) for tone in row] for row in weave.tones]
        levels[str(level)] = {
            "unit": weave.unit,
            "voices": rows,
            "cost": one.cost,
            "otherwise": list(one.otherwise),
        }
    return {"levels": levels, "plan": _data(next(iter(made.values())).plan)}


def levels_again(
    data: Json,
    verset: Verset,
    analysis: Analysis,
    realisation: Realisation,
    *,
    seed: int | None = None,
    tables: Sequence[Pattern] | None = None,
    tuning: Tuning = QUARTER_COMMA,
) -> dict[int, Diminution]:
    """The levels that were kept as data, as `diminutions` gave them for the same verset, plain setting, seed,
    tables and tuning. `ValueError` for data of another form, or that cannot be of this verset.

    >>> from builder.analysis import analyse
    >>> from builder.counterpoint import realise
    >>> from builder.diminution import diminutions
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> analysis = analyse(verset)
    >>> plain = realise(verset, analysis)
    >>> made = diminutions(verset, analysis, plain)
    >>> levels_again(kept_levels(made), verset, analysis, plain) == made
    True
    """
    seed = verset.settings.seed if seed is None else seed
    ground = Ground(
        verset, analysis, realisation, patterns() if tables is None else tables, tuning, seed, None
    )
    plan = _typed(Plan, data.get("plan"))
    sung = {each.voice for each in (*plan.statements, *plan.rests, *plan.countersubject, *plan.clausulae)}
    levels = _typed(dict[str, dict[str, Any]], data.get("levels"))
    if not sung <= {*verset.voices} or [*levels] != [str(n + 1) for n in range(len(levels))]:
        raise ValueError("voices or levels of another verset")
    found = {}
    for level, one in levels.items():
        weave = ground.laid()
        weave.lay_all(_rows(one, weave))
        other = _typed(tuple[int, ...], one.get("otherwise"))
        found[int(level)] = ground.told(weave, int(level), plan, _typed(float, one.get("cost")), other)
    return found


def _rows(one: Json, weave: Weave) -> list[list[Tone]]:
    """The notes of each voice in the ticks of a weave."""
    unit = _typed(int, one.get("unit"))
    rows = _typed(tuple[tuple[tuple[int, ...], ...], ...], one.get("voices"))
    if unit < 1 or len(rows) != len(weave.voices):
        raise ValueError("the voices of another verset")
    found = []
    for row in rows:
        tones = [Tone(*tone) for tone in row if len(tone) == 4]
        times = [Fraction(t * weave.unit, unit) for tone in tones for t in tone[:2]]
        if not all(abs(m - natural(d)) < 3 and 0 <= d < 70 for _, _, d, m in tones):
            raise ValueError("notes that no voice sings")
        if len(tones) < len(row) or times != sorted(times) or any(t.denominator > 1 for t in times):
            raise ValueError("notes that stand at no time of this verset")
        if times and not 0 <= times[0] < times[-1] <= weave.size:
            raise ValueError("notes beyond the verset")
        ticks = iter([int(t) for t in times])
        found.append([tone._replace(start=a, end=b) for tone, a, b in zip(tones, ticks, ticks)])
    return found


def _data(value: Any) -> Any:
    """Values of the plan as JSON: an object is the list of its fields."""
    if is_dataclass(value) and not isinstance(value, type):
        return [_data(getattr(value, name)) for name, _ in _fields(type(value))]
    if isinstance(value, tuple):
        return [_data(each) for each in value]
    return str(value) if isinstance(value, Fraction) else value


def _typed(kind: Any, data: Any) -> Any:
    """A value of a type out of JSON; `ValueError` for what is none."""
    if kind is Any:
        return data
    if isinstance(kind, UnionType):
        return None if data is None else _typed(next(t for t in get_args(kind) if t is not type(None)), data)
    origin = get_origin(kind)
    if origin is dict and isinstance(data, dict):
        return {_typed(str, key): _typed(get_args(kind)[1], each) for key, each in data.items()}
    if origin is tuple and isinstance(data, list):
        return tuple(_typed(get_args(kind)[0], each) for each in data)
    if kind is Fraction and isinstance(data, str) and not re.search("/0*$", data):
        return Fraction(data)
    if kind is float and type(data) in (int, float):
        return float(data)
    if kind in (int, str, bool) and type(data) is kind:
        return data
    if is_dataclass(kind) and isinstance(kind, type) and isinstance(data, list):
        parts = _fields(kind)
        if len(parts) == len(data):
            return kind(*(_typed(of, each) for (_, of), each in zip(parts, data)))
    raise ValueError(f"no {kind}")


@cache
def _fields(kind: type) -> tuple[tuple[str, Any], ...]:
    """The fields of an object, and their types."""
    hints = get_type_hints(kind)
    return tuple((field.name, hints[field.name]) for field in fields(kind))
