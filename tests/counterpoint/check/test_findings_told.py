"""A finding is told in full in every language: what is met, what would mend it, why it is allowed."""

from __future__ import annotations

import re

import pytest

from builder.analysis import analyse
from builder.counterpoint import RULES, Finding, check, realise
from builder.counterpoint.rules.example import example
from builder.counterpoint.rules.phrases import finding_texts, said, worded
from builder.language.texts import Phrase
from builder.source import parse

FRONT = "---\ntitle: Example\nverset:\n  metre: C\n  signature: none\n---\n\n```given\n"


def met(rule: str, music: str, given: str = "") -> Finding:
    verset = parse(f"{FRONT}{given}\n```\n") if given else None
    found = check(example(music), verset=verset, analysis=analyse(verset) if verset else None)
    return next(f for f in found if f.rule == rule)


def english() -> set[str]:
    """Words of three letters and more that English tells findings with: phrases, titles and advice."""
    texts = [*finding_texts("en").texts.values()]
    for rule in RULES.values():
        texts += [rule.title, rule.advice]
    return words(re.sub(r"\{\{.*\}\}|\{.*?\}", " ", " ".join(texts)))


def words(text: str) -> set[str]:
    return {w.lower() for w in re.findall(r"[^\W\d_]{3,}", text)}


SHARED = {"it": {"note", "comma"}, "de": {"hand", "wolf", "bass"}}
"""Words that two languages spell alike."""
NOTES = {
    "it": r"\b(do|re|mi|fa|sol|la|si)([♯♭]?\d|♯ )",
    "de": r"\b([A-H]|[a-h])(is|e?s)?[′″₁]*(?=[ ,;:.–?)])",
}


@pytest.mark.parametrize("language", ["it", "de"])
@pytest.mark.parametrize("rule", [r for r in RULES.values() if r.fault], ids=lambda r: r.id)
def test_the_fault_of_every_rule_is_told_without_a_word_of_english(rule, language: str) -> None:
    what, mend, reason = met(rule.id, rule.fault, rule.given).told(language)
    assert what.startswith(f"{worded(rule.id, language).title}: ") and what.endswith(".")
    assert re.search(NOTES[language], what), what
    assert mend == worded(rule.id, language).advice and not reason
    assert "{" not in what and "None" not in what
    assert words(what) & english() <= SHARED[language]


@pytest.mark.parametrize(
    ("rule", "music", "italian", "german"),
    [
        (
            "false-relation",
            "cantus F4/2 C5/2\ntenor A3/1\nbassus D3/2 F#3/2",
            "Falsa relazione: basso e canto vanno da re3–fa4 a fa♯3–do5.",
            "Querstand: Bassus und Cantus gehen von d–f′ nach fis–c″.",
        ),
        (
            "two-leaps",
            "cantus C4/4 F4/4 B4/4 A4/4\ntenor A3/1",
            "Due salti che fanno una dissonanza: canto do4–fa4–si4.",
            "Zwei Sprünge, die eine Dissonanz umspannen: Cantus c′–f′–h′.",
        ),
        (
            "not-in-tuning",
            "cantus D#5/1",
            "Nota che il temperamento non ha: canto re♯5: nel temperamento mesotonico a un quarto di comma "
            "il tasto suona mi♭5.",
            "Ton, den die Stimmung nicht hat: Cantus dis″: in der Stimmung „mitteltönig (Viertelkomma)“ "
            "klingt auf der Taste es″.",
        ),
        (
            "weak-suspension",
            "cantus E4/2 D4/4 F4/4\ntenor G3/4 F3/2 A3/4",
            "Ritardo sulla parte debole: canto mi4 e tenore fa3 fanno una settima (ritardo sulla parte "
            "debole).",
            "Vorhalt auf leichtem Taktteil: Cantus e′ und Tenor f bilden eine Septime (Vorhalt auf "
            "leichtem Taktteil).",
        ),
    ],
)
def test_interval_key_and_notes_are_named(rule: str, music: str, italian: str, german: str) -> None:
    found = met(rule, music)
    assert (found.told("it")[0], found.told("de")[0]) == (italian, german)


@pytest.mark.parametrize(
    ("figure", "pins", "italian", "german"),
    [
        ("6", "cantus 3 | G4/1\naltus 3 | E4/1", "deve suonare do♯ (6)", "soll Cis (6) erklingen"),
        (
            "6/5",
            "cantus 3 | E4/1\naltus 3 | E4/1",
            "devono suonare do♯ (6), si (5)",
            "sollen Cis (6), H (5) erklingen",
        ),
    ],
)
def test_the_figure_that_is_missing_is_named(figure: str, pins: str, italian: str, german: str) -> None:
    given = f"cantus C1 | D5/1\naltus C3 | A4/1\nbassus F4 | E3/1{{{figure}}} | D3/1"
    verset = parse(f"{FRONT}{given}\n```\n\n```plain\n{pins}\n```\n")
    found = next(f for f in realise(verset, analyse(verset)).findings if f.rule == "figure-not-sounded")
    assert found.told("it")[0] == f"Numero non suonato: su mi3 con {figure} {italian}."
    assert found.told("de")[0] == f"Ziffer nicht gespielt: über e mit {figure} {german}."


def refused(given: str) -> Finding:
    verset = parse(f"{FRONT}{given}\n```\n")
    (found,) = (f for f in realise(verset, analyse(verset)).findings if f.rule == "no-way")
    return found


@pytest.mark.parametrize("language", ["it", "de"])
def test_what_is_said_at_a_place_with_no_way_through_has_no_word_of_english(language: str) -> None:
    what, mend, _ = refused("cantus C1 | G4/1\nbassus F4 | G3/1 | E3/1{4 3} | A3/1").told(language)
    told = re.sub(r"\{rule: [a-z-]+, bar: 3, because: …\}", "", f"{what} {mend}")
    assert "{" not in told and words(told) & english() <= SHARED[language]


def test_a_place_with_no_way_through_is_told_in_italian_in_full() -> None:
    what, mend, _ = refused("cantus C1 | A4/1\nbassus F4 | D3/2. F3/4{6} | E3/1{4 3} | A3/1").told("it")
    assert what == (
        "Nessuna via lecita: su mi3 con 4 non si raggiunge nessuna armonia lecita: la (4) non si può tenere "
        "da fa3, dove è una terza, perché nessuna voce è libera; provate invano: la4 (ritardo non "
        "preparato); la3 (ritardo non preparato, salto oltre l’ottava); la5 (ritardo non preparato, "
        "salto oltre l’ottava)."
    )
    assert mend == (
        "Apre una via la nota prima, fa3, senza numero. Una licenza per «Ritardo non preparato» nella "
        "battuta 3 apre una via: `{rule: suspension-unprepared, bar: 3, because: …}`."
    )


def test_a_place_with_no_way_through_is_told_in_german_in_full() -> None:
    what, mend, _ = refused("cantus C1 | G4/1\nbassus F4 | G3/1 | E3/1{4 3} | A3/1").told("de")
    assert what.startswith(
        "Kein erlaubter Weg: über e mit 4 ist kein erlaubter Zusammenklang zu erreichen: A (4) lässt sich "
        "nicht von g her halten: dort ist es eine Sekunde; versucht: a′ (Unvorbereiteter Vorhalt, "
    )
    assert mend == (
        "Eine Lizenz für „Unvorbereiteter Vorhalt“ in Takt 3 öffnet einen Weg: `{rule: "
        "suspension-unprepared, bar: 3, because: …}`. Der Ton e ohne Ziffer öffnet einen Weg."
    )


def test_what_is_left_untold_is_counted_as_the_language_counts() -> None:
    given = "cantus C1 | A4/1\naltus C3 | E4/1\nbassus F4 | B2/1 | E3/1{8/4 3} | A3/1"
    found = refused(given)
    texts = [found.told(language)[0] for language in ("en", "it", "de")]
    assert [text.rpartition(") ")[2] for text in texts] == ["and 1 more.", "e un’altra.", "und 1 weiterer."]
    more = dict(found.detail.values)["why"][-1]
    assert said(Phrase.of("tried-more", tries=dict(more.values)["tries"], count=4), "it").endswith(
        " e altre 4"
    )


def test_the_licence_of_the_double_cadence_is_told_and_that_of_a_source_stays_in_its_words() -> None:
    given = "cantus C1 | D5/1\naltus C3 | A4/1\nbassus F4 | A2/1{5/3:4 6/4:4 5/4:4 #:4} | D3/1"
    verset = parse(f"{FRONT}{given}\n```\n")
    found = next(f for f in realise(verset, analyse(verset)).findings if f.rule == "fourth-by-step")
    assert found.allowed.startswith("the fourth of the double cadence")
    assert found.told("it")[2].startswith("la quarta della cadenza doppia entra di grado")
    assert found.told("de")[2].startswith("die Quarte der doppelten Kadenz tritt schrittweise ein")
    own = Finding("wolf", "note", found.onset, found.place, ("cantus",), "", reason="on purpose")
    assert own.told("it")[2] == own.allowed == "on purpose"


def test_english_is_what_the_report_says_and_a_finished_text_is_told_as_it_stands() -> None:
    found = met("parallel-fifths", "cantus A4/2 B4/2\ntenor D4/2 E4/2")
    assert found.told() == (found.message, found.mend, found.allowed)
    assert found.mend == RULES["parallel-fifths"].advice
    text = Finding("far-signature", "note", found.onset, found.place, (), "far", ("nearer",))
    assert text.told("de") == ("far", "nearer", "")
