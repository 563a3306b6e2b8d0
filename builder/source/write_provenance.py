"""Writes what a verset says of its sources, and what witnesses have, in the form in which it is read."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from builder.source.playing import Playing
from builder.source.printing import USUAL, Printing
from builder.source.provenance import ROLES, Composer, Editor, Facsimile, Provenance, Publication, Witness
from builder.source.verset import GivenNote, Variant, Verset

Text = Callable[[str], str]
"""How a text is written in YAML."""


def provenance_lines(said: Provenance, text: Text) -> Iterator[str]:
    """The keys of sources and edition under `verset`, a line each or more."""
    if said.composer:
        yield f"  composer: {_composer(said.composer, text)}"
    for key, value in (("place", said.place), ("date", said.date)):
        if value:
            yield f"  {key}: {text(value)}"
    if said.witnesses:
        yield "  witnesses:"
        yield from (f"    - {_witness(witness, text)}" for witness in said.witnesses)
    for key, value in (("relation", said.relation), ("method", said.method)):
        if value:
            yield f"  {key}: {text(value)}"
    if said.editors:
        yield "  editors:"
        yield from (f"    - {_editor(editor, text)}" for editor in said.editors)
    if said.published != Publication():
        yield f"  published: {_published(said.published, text)}"
    if said.printing != USUAL:
        yield f"  print: {_printing(said.printing, text)}"


def _flow(pairs: Sequence[tuple[str, str]]) -> str:
    return "{" + ", ".join(f"{key}: {value}" for key, value in pairs if value) + "}"


def _composer(composer: Composer, text: Text) -> str:
    name = text(composer.name or "anonymous")
    return _flow([("name", name), ("attributed", "true")]) if composer.attributed else name


def _witness(w: Witness, text: Text) -> str:
    pairs = [
        ("siglum", w.siglum),
        ("library", w.library),
        ("shelfmark", w.shelfmark),
        ("folio", w.folio),
        ("date", w.date),
        ("description", w.description),
        ("link", w.link),
    ]
    written = [(key, text(value)) for key, value in pairs if value]
    pictures = f"[{', '.join(_picture(p, text) for p in w.pictures)}]" if w.pictures else ""
    return _flow([*written, ("copy-text", "true" if w.copy_text else ""), ("pictures", pictures)])


def _picture(picture: Facsimile, text: Text) -> str:
    zones = [_flow([("bars", text(f"{z.first}-{z.last}")), ("box", str(list(z.box)))]) for z in picture.zones]
    pairs = [("file", picture.file), ("licence", picture.licence), ("credit", picture.credit)]
    written = [(key, text(value)) for key, value in pairs if value]
    return _flow([*written, ("zones", f"[{', '.join(zones)}]" if zones else "")])


def _editor(editor: Editor, text: Text) -> str:
    if editor.role == ROLES[0] and not editor.orcid:
        return text(editor.name)
    pairs = [("name", editor.name), ("role", editor.role), ("orcid", editor.orcid)]
    return _flow([(key, text(value)) for key, value in pairs if value])


def _published(p: Publication, text: Text) -> str:
    pairs = [("publisher", p.publisher), ("place", p.place), ("date", p.date), ("series", p.series)]
    pairs += [("isbn", p.isbn), ("ismn", p.ismn), ("doi", p.doi)]
    return _flow([(key, text(value)) for key, value in pairs if value])


def _printing(p: Printing, text: Text) -> str:
    words = {
        "clefs": p.clefs,
        "values": p.values,
        "figures": p.figures,
        "score": p.score,
        "barring": p.barring,
        "words": p.words,
    }
    told = [(key, text(value)) for key, value in words.items() if value]
    stave = [("stave", f"{p.stave:g}")] if p.stave else []
    paper = [("paper", text(p.paper))] if p.paper else []
    return _flow([*paper, *stave, *told, ("parts", "true" if p.parts else "")])


def playing_lines(playing: Sequence[Playing], text: Text, number: Callable[[float], str]) -> Iterator[str]:
    """The key `playing` as it is written under `verset`."""
    if playing:
        yield "  playing:"
    for each in playing:
        named = [("file", each.file), ("of", each.of), ("by", each.by)]
        named += [("title", each.title), ("sound", each.sound)]
        pairs = [(key, text(value)) for key, value in named if value]
        points = (f"{{bar: {p.bar}, beat: {number(p.beat)}, at: {number(p.at)}}}" for p in each.points)
        pairs.append(("points", f"[{', '.join(points)}]" if each.points else ""))
        yield f"    - {_flow(pairs)}"


def variant_lines(verset: Verset, symbol: Callable[[GivenNote], str]) -> list[str]:
    """The lines of the block `readings`; `symbol` writes a note with its figures."""
    return [_variant(variant, verset, symbol) for variant in verset.variants]


def _variant(variant: Variant, verset: Verset, symbol: Callable[[GivenNote], str]) -> str:
    lemma = verset.lemma(variant)
    at = verset.place(variant.start)
    place = f"{at.bar}:{at.beat}"
    tells = variant.length == variant.end - variant.start if variant.notes else len(lemma) == 1
    if not tells:
        last = verset.place(lemma[-1].note.onset)
        place += f"-{last.bar}:{last.beat}"
    own = [variant.notes[0].clef.name] if variant.notes and variant.notes[0].clef != lemma[0].clef else []
    head = " ".join((variant.voice, place, *own, *variant.sigla))
    notes = " ".join(map(symbol, variant.notes)) or "_"
    remark = f' "{variant.remark}"' if variant.remark else ""
    return f"{head} | {notes}{remark}"
