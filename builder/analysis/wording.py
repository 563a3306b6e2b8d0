"""What the findings say, as format strings: one table for each language.

Another language is another table with the same keys in `LANGUAGES`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from builder.music import Place

Say = Callable[..., str]
"""Fills the format string of a key: `say("cadence.degree", degree="D")`."""

ENGLISH: Mapping[str, str] = MappingProxyType(
    {
        "and": "and",
        "bend.step": "bent by a step at note {note} ({theme} answered by {answer})",
        "bend.exchange": "bent so that final and fifth change places ({pairs})",
        "bend.pair": "{theme} answered by {answer}",
        "bend.semitone": "the same steps, but the semitones fall elsewhere (note {note})",
        "entry.theme": "the first voice to sound: {notes} notes that the other entries imitate",
        "entry.alone": "the first voice to sound; no other entry imitates it",
        "entry.exact": "the first {matched} of {notes} notes with the same intervals, {level}",
        "entry.exact.whole": "all {notes} notes with the same intervals, {level}",
        "entry.tonal": "{matched} of {notes} notes, {level}",
        "entry.tonal.whole": "all {notes} notes, {level}",
        "entry.free": "a new voice that does not take up the theme (notes that agree: {matched})",
        "entry.mirror": "the theme's steps in contrary motion ({matched} notes)",
        "entry.longer": "in values {times} times as long",
        "entry.shorter": "in values {times} times as short",
        "entry.rhythm": "in another rhythm",
        "entry.first-value": "the first note has another value",
        "entry.without-first": "begun without the theme's first note",
        "entry.extra-first": "begun with a note before the theme",
        "entry.other-first": "begun on another first note",
        "entry.cut": "then it goes its own way",
        "entry.accidental.editorial": "{pitch} in {place} is set aside: an editorial accidental",
        "entry.accidental.leading": "{pitch} in {place} is set aside: a raised leading note",
        "level.same": "at the same pitch",
        "level.above": "{interval} above",
        "level.below": "{interval} below",
        "interval.0": "an octave",
        "interval.1": "a second",
        "interval.2": "a third",
        "interval.3": "a fourth",
        "interval.4": "a fifth",
        "interval.5": "a sixth",
        "interval.6": "a seventh",
        "interval.octave-and": "an octave and {interval}",
        "interval.octaves": "{count} octaves",
        "interval.octaves-and": "{count} octaves and {interval}",
        "tone.1": "first",
        "tone.2": "second",
        "tone.3": "third",
        "tone.4": "fourth",
        "tone.5": "fifth",
        "tone.6": "sixth",
        "tone.7": "seventh",
        "tone.8": "eighth",
        "tone.transposed": "read as the {tone} tone {interval} {way}",
        "tone.higher": "higher",
        "tone.lower": "lower",
        "tone.last.final": "the last note, {letter}, is the final",
        "tone.last.close": "the last note, {letter}, is where this tone closes",
        "tone.last.half": "the last note, {letter}, is the fifth above the final",
        "tone.last.no": "the last note, {letter}, is not the final {final}",
        "tone.signature": "the signature ({signature}) is this tone's",
        "tone.signature.no": "the signature is {signature}, this tone has {wanted}",
        "tone.entries": "entries on {letters}: {count} of {all}",
        "tone.entries.no": "no entry begins on {letters}",
        "tone.cadences": "cadences on its degrees ({letters}): {count} of {all}",
        "tone.cadences.no": "no cadence stands on its degrees ({letters})",
        "tone.mi": "it closes with the cadence of mi",
        "none": "none",
        "cadence.dominant": "the bass {motion} from {fifth} to {degree}",
        "cadence.motion.fall": "falls a fifth",
        "cadence.motion.rise": "rises a fourth",
        "cadence.semplice": "third and fifth over {fifth}, then the close",
        "cadence.composta": "over {fifth} the fourth is held and falls to the third",
        "cadence.doppia": "over {fifth} third and fifth, sixth and fourth, fifth and fourth, third and fifth",
        "cadence.six-four": "sixth and fourth over {fifth} fall to fifth and third, then the close",
        "cadence.unequal": "the four parts are not of the same length",
        "cadence.no-sign": "the leading note is raised although no sign stands",
        "cadence.mi": "the bass falls a semitone from {start} to {degree}, with the sixth above it",
        "cadence.tenor": "the clausula of the tenor in the lowest voice: it falls a tone from {start} to "
        "{degree}, with the major sixth above it",
        "cadence.cantus": "the clausula of the cantus in the lowest voice: it rises a semitone from {start} "
        "to {degree}",
        "cadence.seventh": "the seventh is held and falls to the sixth",
        "cadence.unsuspended": "without a suspension",
        "cadence.bass-suspended": "the lowest voice is itself held as the suspension and falls",
        "cadence.half": "the line comes to rest on {degree}, the fifth above the final, and breaks off",
        "cadence.half.end": "the line ends on {degree}, the fifth above the final",
        "cadence.half.raised": "with a major third over it",
        "cadence.evaded": "the formula over {fifth} promises {degree}, but the bass goes to {goal}",
        "cadence.evaded.figure": "the bass goes from {fifth} to {degree}, but {figure} over it withholds "
        "the close",
        "cadence.alone": "one voice alone",
        "warn.tone": "the source gives tone {given}, but the music speaks for tone {found}: {reasons}",
        "warn.tone.table": "final {final} with signature {signature} is not in the table of tones; "
        "the nearest is tone {tone}",
        "warn.close": "the last notes make no cadence known here",
        "warn.silent": "no note sounds",
        "words.voices.1": "One voice, alone.",
        "words.voices": "{count} voices enter in this order: {voices}.",
        "words.theme": "The theme has {notes} notes ({pitches}).",
        "words.entry": "{voice}, {place}, on {pitch}: {kind}; {evidence}.",
        "words.kind.theme": "the theme",
        "words.kind.exact": "an exact answer",
        "words.kind.tonal": "a tonal answer",
        "words.kind.free": "a free entry",
        "words.tone": "The {tone} tone: {reasons}.",
        "words.tone.other": "The {tone} tone is near: {reasons}.",
        "words.tone.given": "The source names the {tone} tone.",
        "words.final": "The line closes on {final}.",
        "words.cadence": "{place}, on {degree}: {kind}; {evidence}.",
        "words.cadence.none": "No cadence is found.",
        "words.kind.semplice": "simple cadence (semplice)",
        "words.kind.composta": "compound cadence (composta)",
        "words.kind.doppia": "double cadence (doppia)",
        "words.kind.mi": "cadence of mi",
        "words.kind.half": "half cadence",
        "words.kind.evaded": "evaded cadence",
        "number.1": "One",
        "number.2": "Two",
        "number.3": "Three",
        "number.4": "Four",
        "sharp": "sharp",
        "flat": "flat",
        "double-sharp": "double sharp",
        "double-flat": "double flat",
        "place": "bar {bar}, beat {beat}",
    }
)

LANGUAGES: Mapping[str, Mapping[str, str]] = MappingProxyType({"en": ENGLISH})


def wording(language: str = "en") -> Say:
    """What fills the format strings of a language; `KeyError` when there is no such table.

    >>> wording()("tone.last.final", letter="D")
    'the last note, D, is the final'
    """
    table = LANGUAGES[language]

    def say(key: str, **values: object) -> str:
        return table[key].format(**values)

    return say


_SIGNS = (("##", "double-sharp"), ("bb", "double-flat"), ("#", "sharp"), ("b", "flat"))


def letter(say: Say, name: str) -> str:
    """A letter as it is spoken; an octave number is kept.

    >>> letter(wording(), "Bb"), letter(wording(), "F#4")
    ('B flat', 'F sharp 4')
    """
    for sign, word in _SIGNS:
        if name[1:].startswith(sign):
            return f"{name[0]} {say(word)} {name[1 + len(sign) :]}".rstrip()
    return name


def listing(say: Say, words: tuple[str, ...] | list[str]) -> str:
    """Words in a row.

    >>> listing(wording(), ["D", "A", "F"])
    'D, A and F'
    """
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {say('and')} {words[-1]}"


def where(say: Say, place: Place) -> str:
    """Bar and beat in words.

    >>> from fractions import Fraction
    >>> where(wording(), Place(3, Fraction(5, 2)))
    'bar 3, beat 2 1/2'
    """
    whole, rest = divmod(place.beat, 1)
    return say("place", bar=place.bar, beat=f"{whole} {rest}" if rest else f"{whole}")


def distance(say: Say, steps: int) -> str:
    """How far a number of staff steps reaches, in words.

    >>> distance(wording(), -10), distance(wording(), 7), distance(wording(), 14)
    ('an octave and a fourth', 'an octave', '2 octaves')
    """
    octaves, rest = divmod(abs(steps), 7)
    if not rest:
        return say("interval.0") if octaves == 1 else say("interval.octaves", count=octaves)
    name = say(f"interval.{rest}")
    if not octaves:
        return name
    if octaves == 1:
        return say("interval.octave-and", interval=name)
    return say("interval.octaves-and", count=octaves, interval=name)
