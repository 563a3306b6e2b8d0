"""All rules, by id, in the order in which a teacher would go through them."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from builder.counterpoint.rules.dissonances import CLASH_RULES
from builder.counterpoint.rules.figures import FIGURE_RULES
from builder.counterpoint.rules.keyboard import KEYBOARD_RULES
from builder.counterpoint.rules.melody import MELODY_RULES
from builder.counterpoint.rules.motion import MOTION_RULES
from builder.counterpoint.rules.rule import Rule

RULES: Mapping[str, Rule] = MappingProxyType(
    {r.id: r for r in (*MOTION_RULES, *CLASH_RULES, *MELODY_RULES, *FIGURE_RULES, *KEYBOARD_RULES)}
)
