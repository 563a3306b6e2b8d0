"""The page of rules, made from the registry that the realiser and the check use."""

from __future__ import annotations

from builder.counterpoint import RULES
from builder.counterpoint.rules.example import example
from builder.counterpoint.rules.phrases import worded
from builder.counterpoint.rules.rule import Rule
from builder.engraving import flow
from builder.language.texts import Texts
from builder.music import notated
from builder.pages.lesson import slot
from builder.pages.pieces.piece import Asked, Piece, open_score, with_shared_signs

SMALL = {"wide": (320.0, 34.0)}


def rules(asked: Asked) -> Piece:
    """Every rule with its sentence, source, severity, and a small example of the fault and its mend."""
    w = asked.words
    lines: list[str] = []
    pictures: dict[str, str] = {}
    for name in RULES:
        rule = worded(name, w.language)
        lines += [
            f'<span id="{rule.id}"></span>',
            "",
            f"## {rule.title}",
            "",
            rule.sentence,
            "",
            rule.advice,
            "",
            _severity(rule, w),
            "",
            f"*{w('pages.ruleSource')}: {w.cited(rule.source)}*",
            "",
        ]
        shown = [(key, text) for key, text in (("Fault", rule.fault), ("Mend", rule.mend)) if text]
        if shown:
            name = f"rules-{rule.id}"
            lines += [slot(name), ""]
            pictures[name] = "".join(_figure(w(f"pages.rule{key}"), rule.title, text) for key, text in shown)
    return Piece("\n".join(lines), with_shared_signs(pictures))


def _severity(rule: Rule, w: Texts) -> str:
    told = {n: w(f"pages.severity{rule.severity[n].capitalize()}") for n in (2, 3, 4)}
    return w("pages.ruleSeverity", two=told[2], three=told[3], four=told[4])


def _figure(caption: str, title: str, text: str) -> str:
    score = notated(example(text))
    drawn = flow(open_score(score), label=f"{title}: {caption}", widths=SMALL)["wide"]
    return f'<figure class="verset-example"><figcaption>{caption}</figcaption>{"".join(drawn)}</figure>'
