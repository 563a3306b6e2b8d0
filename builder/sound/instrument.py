"""The organ a verset is heard on: its tuning, its pitch and the ranks drawn, with the reason."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from builder.analysis import Analysis
from builder.music import Tuning, read_tuning
from builder.music.temperament import A4, HIGHEST_A4, LOWEST_A4
from builder.sound.registration import Registration, Stops, advise_registration
from builder.source import Verset


@dataclass(frozen=True, slots=True)
class Instrument:
    """Tuning, hertz of A above middle C, registration, and why it is drawn."""

    tuning: Tuning
    a4: float
    registration: Registration
    reason: str


def instrument(
    verset: Verset,
    analysis: Analysis | None = None,
    *,
    tuning: Tuning | str | None = None,
    a4: float | None = None,
    registration: Registration | str | None = None,
    own: Mapping[str, str] = MappingProxyType({}),
    character: str = "",
    place: str = "",
) -> Instrument:
    """What is asked for here, else what the verset asks for, else the usual: quarter-comma, 440 Hz and
    the registration advised from place, character and tone. `own` holds a course's tunings by name.
    `ValueError` says what does not exist and what does.

    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> found = instrument(verset, a4=415.0)
    >>> found.tuning.name, found.a4, str(found.registration)
    ('quarter-comma', 415.0, "Registration(names=('principale',))")
    """
    chosen = tuning if tuning is not None else (verset.settings.tuning or "quarter-comma")
    if isinstance(chosen, str):
        chosen = read_tuning(chosen, own)
    pitch = a4 if a4 is not None else (verset.settings.pitch or A4)
    if not LOWEST_A4 <= pitch <= HIGHEST_A4:
        raise ValueError(f"A at {pitch:g} Hz is not between {LOWEST_A4:g} and {HIGHEST_A4:g} Hz")
    reason = "asked for in the source" if verset.settings.registration else "asked for by the course"
    asked = registration if registration is not None else verset.settings.registration
    # Words that name no rank are the player's: what is heard is what they name, or what is advised.
    drawn = Stops.read(asked).drawn if isinstance(asked, str) else asked
    if drawn is None:
        tone = analysis.tone if analysis else verset.tone
        drawn, reason = advise_registration(tone, character, place)
    return Instrument(chosen, pitch, drawn, reason)
