"""All rules, by id, in the order in which a teacher would go through them; and which of them to ask."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache
from types import MappingProxyType

from builder.counterpoint.rules.context import FEATURES, Feature, Of, When
from builder.counterpoint.rules.dissonances import CLASH_RULES
from builder.counterpoint.rules.figures import FIGURE_RULES
from builder.counterpoint.rules.keyboard import KEYBOARD_RULES
from builder.counterpoint.rules.melody import MELODY_RULES
from builder.counterpoint.rules.motion import MOTION_RULES
from builder.counterpoint.rules.rule import Rule


def checked(rules: Iterable[Rule]) -> Mapping[str, Rule]:
    """Rules by id, when every judge can ask those that are its to ask; `TypeError` names one that it cannot.

    >>> from dataclasses import replace
    >>> def loud(*, motion: Number, loudness: Number) -> Number: ...
    >>> checked([replace(MOTION_RULES[0], predicate=loud)])
    Traceback (most recent call last):
    ...
    TypeError: the rule parallel-fifths depends on loudness, which no judge knows
    """
    found: dict[str, Rule] = {}
    for rule in rules:
        unknown = [name for name in rule.features if name not in FEATURES]
        if unknown:
            raise TypeError(f"the rule {rule.id} depends on {unknown[0]}, which no judge knows")
        if judge := rule.refused_by():
            features = " and ".join(rule.features)
            raise TypeError(f"the rule {rule.id}: {judge} cannot ask it of {rule.of}, by {features}")
        if rule.id in found:
            raise TypeError(f"there are two rules {rule.id}")
        found[rule.id] = rule
    return MappingProxyType(found)


RULES: Mapping[str, Rule] = checked(
    (*MOTION_RULES, *CLASH_RULES, *MELODY_RULES, *FIGURE_RULES, *KEYBOARD_RULES)
)


@lru_cache(maxsize=256)
def asked(when: When, *of: Of) -> tuple[Rule, ...]:
    """The rules that are asked then, of any of these.

    >>> [r.id for r in asked(When.STEP, Of.OUTER)]
    ['direct-fifth', 'direct-octave']
    """
    return tuple(r for r in RULES.values() if r.when == when and r.of in of)


def met(when: When, of: Of, **features: Feature) -> tuple[Rule, ...]:
    """The rules that one case meets, by its features (plain numbers, those that are left out are 0).

    >>> [r.id for r in met(When.ONSET, Of.CADENCE, minor=1)]
    ['minor-close']
    """
    return tuple(
        r for r in asked(when, of) if r.predicate(**{name: features.get(name, 0) for name in r.features})
    )
