"""All rules, by id, in the order in which a teacher would go through them."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from builder.counterpoint.clash_rules import CLASH_RULES
from builder.counterpoint.figure_rules import FIGURE_RULES
from builder.counterpoint.keyboard import KEYBOARD_RULES
from builder.counterpoint.melody import MELODY_RULES
from builder.counterpoint.motion import MOTION_RULES
from builder.counterpoint.rule import Rule

RULES: Mapping[str, Rule] = MappingProxyType(
    {r.id: r for r in (*MOTION_RULES, *CLASH_RULES, *MELODY_RULES, *FIGURE_RULES, *KEYBOARD_RULES)}
)
