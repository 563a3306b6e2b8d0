"""Score, tuning and registration to notes in seconds and hertz, rendered audio and the reader's play
data. Knows nothing of mkdocs."""

from builder.sound.encode import Encoded, encode
from builder.sound.instrument import Instrument, instrument
from builder.sound.performance import LEGATO, NON_LEGATO, Articulation, Performance, Sounded, perform
from builder.sound.play_data import keyboard_frequencies, play_data, rank_data, voicing_data
from builder.sound.ranks import RANKS, Rank
from builder.sound.recorded import PipesError, RecordedPipes, read_pipes
from builder.sound.registration import Registration, Stops, advise_registration
from builder.sound.render import Wind, blocks, render
from builder.sound.room import CHURCH, Room, room_data
from builder.sound.tempo import PLAYED, STRICT, Breathing, TempoMap, tempo_map
from builder.sound.tuning_chart import describe
from builder.sound.warnings import advice, keyboard_warnings, tuning_warnings

__all__ = [
    "CHURCH",
    "LEGATO",
    "NON_LEGATO",
    "PLAYED",
    "RANKS",
    "STRICT",
    "Articulation",
    "Breathing",
    "Encoded",
    "Instrument",
    "Performance",
    "PipesError",
    "Rank",
    "RecordedPipes",
    "Registration",
    "Room",
    "Sounded",
    "Stops",
    "TempoMap",
    "Wind",
    "advice",
    "advise_registration",
    "blocks",
    "describe",
    "encode",
    "instrument",
    "keyboard_frequencies",
    "keyboard_warnings",
    "perform",
    "play_data",
    "rank_data",
    "read_pipes",
    "render",
    "room_data",
    "tempo_map",
    "tuning_warnings",
    "voicing_data",
]
