"""The findings of a verset as a page tells them: places, names and sentences in the page's language."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from math import ceil
from typing import Any

from builder.analysis import Entry, Step
from builder.counterpoint import Finding, Sonority
from builder.counterpoint.rules.phrases import worded
from builder.diminution import Choice
from builder.edition.pdf.data import minutes, spoken_time
from builder.language.markup import Marked
from builder.language.texts import EditionTexts, Texts, edition_texts, opened
from builder.music import Note, Place, Version, clipped
from builder.plan import in_words
from builder.setting.setting import Setting
from builder.source import Verset

ASTERISK = "*"


def where(place: Place, words: Texts) -> str:
    """Bar and beat in words.

    >>> from builder.language.texts import page_texts
    >>> where(Place(3, Fraction(5, 2)), page_texts("en"))
    'bar 3, beat 2 1/2'
    """
    whole, rest = divmod(place.beat, 1)
    beat = f"{whole}" if not rest else f"{whole} {rest}"
    return words("pages.place", bar=place.bar, beat=beat)


def bars(verset: Verset, start: Fraction, end: Fraction, words: Texts) -> str:
    """The bars of a stretch (quarter notes), with beats where it begins or ends inside one.

    >>> from builder.language.texts import page_texts
    >>> from builder.source import parse
    >>> source = "---\\ntitle: T\\nverset: {metre: C, signature: none}\\n---\\n\\n" + chr(96) * 3
    >>> source += "given\\ncantus C1 | D5/1 | D5/1 | D5/1\\n" + chr(96) * 3
    >>> verset, en = parse(source), page_texts("en")
    >>> bars(verset, Fraction(0), Fraction(8), en), bars(verset, Fraction(6), Fraction(8), en)
    ('bars 1 to 2', 'bar 2, beat 3, to bar 2, beat 4')
    """
    cut = clipped(verset.bars, start, end)
    first, last = cut[0], cut[-1]
    beats = (last.end - last.line) / verset.metre.beat
    if first.skipped or beats < verset.metre.count:
        place = Place(last.number, Fraction(ceil(beats)))
        return words("bars.fromTo", start=where(verset.place(start), words), end=where(place, words))
    if first is last:
        return words("bars.one", bar=first.number)
    return words("bars.span", first=first.number, last=last.number)


def listed(items: Iterable[str], words: Texts) -> str:
    """`a`, `a and b`, `a, b and c`."""
    all_items = list(items)
    if len(all_items) < 2:
        return "".join(all_items)
    return f"{', '.join(all_items[:-1])} {words('pages.recurs')} {all_items[-1]}"


def voice(name: str, words: Texts) -> str:
    return words(f"voices.{name}")


def step_title(step: Step, words: Texts) -> str:
    """What a step is called: who enters, or which cadence.

    >>> from builder.analysis import analyse
    >>> from builder.language.texts import page_texts
    >>> from builder.source import EXAMPLE, parse
    >>> [step_title(step, page_texts("en")) for step in analyse(parse(EXAMPLE)).steps]
    ['Cantus alone', 'Altus enters', 'The cadence']
    """
    name, _, count = step.name.partition("-")
    if step.kind == "cadence":
        return words("pages.cadenceOf", n=count) if count else words("pages.cadence")
    key = "entersAgain" if count else "enters" if len(step.voices) > 1 or step.start > 0 else "begins"
    return opened(words(f"pages.{key}", voice=voice(name, words)))


def overview(setting: Setting, words: Texts) -> dict[str, Any]:
    """Everything the overview says of the music."""
    verset, analysis = setting.verset, setting.analysis
    notes = words.as_written_row(analysis.theme.pitches)
    imitated = any(e.kind not in ("theme", "free") for e in analysis.entries)
    return {
        "final": words.written(analysis.final),
        "voices": words(
            "pages.voicesCount",
            n=analysis.voices,
            names=", ".join(voice(v, words) for v in verset.voices),
        ),
        "metre": verset.metre.symbol,
        "length": words("pages.lengthOf", bars=len(verset.bars), time=spoken_time(minutes(verset))),
        "theme": words("pages.themeOf", n=analysis.theme.notes, notes=notes)
        if imitated
        else words("pages.noTheme"),
        "tuning": words(
            "pages.tuningOf",
            tuning=words.as_tuning(verset.settings.tuning),
            pitch=f"{verset.settings.pitch:g}",
        ),
        "registration": _registration(setting, edition_texts(words.language)),
        "tone": _tone(setting, words),
        "warnings": list(setting.warnings(words.language)),
        "entries": [
            {
                "head": _entry_head(e, words),
                "kind": words(f"pages.kind{e.kind.capitalize()}"),
                "evidence": e.evidence,
            }
            for e in analysis.entries
        ],
        "cadences": [
            {
                "head": opened(
                    words("pages.cadenceHead", where=where(c.place, words), degree=words.written(c.degree))
                ),
                "kind": words(f"pages.cadence{c.kind.capitalize()}"),
                "evidence": c.evidence,
            }
            for c in analysis.cadences
        ],
        "readings": [
            words(
                "pages.reading",
                bar=r.bar,
                voice=f", {voice(r.voice, words)}" if r.voice else "",
                source=r.source,
                adopted=r.adopted,
            )
            for r in verset.readings
        ],
    }


def _entry_head(entry: Entry, words: Texts) -> str:
    return opened(
        words(
            "pages.entryHead",
            voice=voice(entry.voice, words),
            where=where(entry.place, words),
            note=words.written(entry.pitch),
            clef=entry.clef.name,
        )
    )


def _registration(setting: Setting, w: EditionTexts) -> str:
    """The ranks drawn and, where pipes are recorded, by whom and under which licence."""
    told = setting.registration_told(w)
    return f"{told}. {w('practice.pipes', whose=setting.recorded)}" if setting.recorded else told


def _tone(setting: Setting, words: Texts) -> dict[str, Any]:
    analysis = setting.analysis
    chosen = analysis.chosen
    evidence = list(chosen.told) if chosen else []
    if chosen and chosen.against:
        evidence.append(words("pages.toneAgainst", reasons=listed(chosen.against, words)))
    if setting.verset.tone:
        evidence.append(words("pages.toneGiven"))
    others = [t for t in analysis.tones if t.tone != analysis.tone]
    second = ""
    if others:
        likelier = others[0] is analysis.tones[0]
        second = words(
            "pages.toneMusic" if likelier else "pages.toneSecond",
            tone=words(f"tones.t{others[0].tone}"),
            reasons="; ".join(others[0].told),
        )
    name = words("pages.toneName", tone=words(f"tones.t{analysis.tone}"))
    return {"name": name, "evidence": evidence, "second": second}


def lead(setting: Setting, step: Step, words: Texts) -> str:
    """The sentence under a step's title: what happens here."""
    if step.kind == "cadence":
        closing = [c for c in setting.analysis.cadences if step.start < c.onset < step.end]
        if not closing:
            return words("pages.leadClose")
        told = (
            words(
                "pages.leadCadence",
                bars=where(c.place, words),
                degree=words.written(c.degree),
                kind=words(f"pages.cadence{c.kind.capitalize()}"),
                evidence=c.evidence,
            )
            for c in closing
        )
        return " ".join(opened(sentence) for sentence in told)
    entry = _entry_of(setting, step)
    if entry is None:
        return ""
    name = step.name.partition("-")[0]
    if len(step.voices) == 1 and step.start == 0:
        return words("pages.leadAlone", voice=voice(name, words))
    above = [voice(v, words) for v in step.voices if v != name]
    return words(
        "pages.leadEntry" if above else "pages.leadEntryNone",
        voice=voice(name, words),
        note=words.written(entry.pitch),
        clef=entry.clef.name,
        kind=words(f"pages.kind{entry.kind.capitalize()}"),
        evidence=entry.evidence,
        above=listed(above, words),
    )


def _entry_of(setting: Setting, step: Step) -> Entry | None:
    name = step.name.partition("-")[0]
    return next(
        (e for e in setting.analysis.entries if e.voice == name and step.start <= e.onset < step.end), None
    )


def sonorities(setting: Setting, start: Fraction, end: Fraction, words: Texts) -> dict[str, Any]:
    """The table of what sounds above the line: its voices, its rows, whether any is supplied."""
    found = [
        s
        for s in setting.realisation.sonorities
        if s.onset < end and s.onset + s.duration > start and s.voices
    ]
    above = [v for v in setting.verset.voices if any(v == name for s in found for name, _ in s.voices)]
    rows = [_row(setting, s, above, words) for s in found]
    return {
        "above": [voice(v, words) for v in above],
        "sonorities": rows,
        "supplied": any(s.supplied == "editor" for s in found),
    }


def _row(setting: Setting, sonority: Sonority, above: list[str], words: Texts) -> dict[str, Any]:
    sounding = dict(sonority.voices)
    mark = ASTERISK if sonority.supplied == "editor" else ""
    return {
        "where": where(setting.verset.place(sonority.onset), words),
        "bass": words.written(sonority.bass),
        "figures": sonority.figure.shown if sonority.figure else "",
        "voices": [words.written(sounding[v]) if v in sounding else "" for v in above],
        "full": words.as_written_row(sonority.full) + mark,
    }


def graces(setting: Setting, start: Fraction, end: Fraction, words: Texts) -> list[dict[str, str]]:
    """The diminutions of a stretch: plain notes, what they become, and why."""
    return [
        _grace(setting, choice, words) for choice in setting.diminution.choices if start <= choice.onset < end
    ]


def _grace(setting: Setting, choice: Choice, words: Texts) -> dict[str, str]:
    return {
        "where": where(setting.verset.place(choice.onset), words),
        "voice": voice(choice.voice, words),
        "plain": " ".join(_note(n, words) for n in choice.replaced or (choice.plain,)),
        "notes": " ".join(_note(n, words) for n in choice.notes) or "–",
        "why": in_words(choice.reason, words.language) if choice.reason else "",
    }


def _note(note: Note, words: Texts) -> str:
    return words.written(note.pitch) if note.pitch else "–"


def findings(
    setting: Setting, start: Fraction, end: Fraction, words: Texts, rules_link: str
) -> list[dict[str, str]]:
    """What the rules say of a stretch, each finding with its rule's place on the page of rules."""
    return [
        _finding(version, f, words, rules_link)
        for version, f in setting.findings
        if start <= f.onset < end or (f.onset == end == setting.verset.end)
    ]


def _finding(version: Version, finding: Finding, words: Texts, rules_link: str) -> dict[str, str]:
    rule = worded(finding.rule, words.language)
    met, mend, reason = finding.told(words.language)
    # What is allowed wants no mending.
    then = words("pages.allowed", reason=reason.rstrip(".")) if reason else mend
    message = f"{met.removeprefix(f'{rule.title}: ')} {then}".rstrip().replace("\n", " ")
    return {
        "where": opened(where(finding.place, words)),
        "version": words(f"versions.{version}"),
        "voices": listed((voice(v, words) for v in finding.voices), words),
        "rule": rule.title,
        "link": Marked(f"{rules_link}#{finding.rule}") if rules_link else "",
        "severity": words(f"pages.severity{finding.severity.capitalize()}"),
        "message": message,
    }


def summary(setting: Setting, words: Texts) -> Mapping[str, str]:
    """What an index of the course tells of a verset."""
    facts = overview(setting, words)
    last = setting.analysis.cadences[-1:] or ()
    return {
        "tone": facts["tone"]["name"],
        "voices": facts["voices"],
        "cadence": words(f"pages.cadence{last[0].kind.capitalize()}") if last else "",
        "length": facts["length"],
    }
