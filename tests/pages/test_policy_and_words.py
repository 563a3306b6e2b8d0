"""What a site allows its pages to run, what failures say, how recordings are offered."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from pathlib import Path

import pytest

from builder.language.texts import page_texts
from builder.music import Version
from builder.pages import assets, player, trouble
from builder.pages.lesson import FORMATS, fill, relative, slot
from builder.pages.policy import inline_scripts, policy, with_policy
from builder.pages.trouble import Failure, log_of, told_together, tried

EN = page_texts("en")


def test_the_policy_lets_nothing_in_from_elsewhere() -> None:
    """W3C, Content Security Policy Level 3: names of directives and of sources."""
    assert policy() == (
        "default-src 'self'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; "
        "media-src 'self' data: blob:; font-src 'self' data:; object-src 'none'; base-uri 'none'; "
        "form-action 'self'"
    )
    assert policy(header=True) == policy() + "; frame-ancestors 'self'"


def test_an_inline_script_is_let_run_by_its_digest_once() -> None:
    digest = base64.b64encode(hashlib.sha256(b"a()\nb()\nc()").digest()).decode()
    rules = policy(["a()\r\nb()\rc()", "a()\nb()\nc()"])
    assert f"; script-src 'self' 'sha256-{digest}'; style-src" in rules


def test_scripts_of_a_page_that_run_are_found_and_data_is_not() -> None:
    html = (
        "<SCRIPT>one\n()</SCRIPT><script type='module' async>two</script><script\nsrc = 'x.js'></script>"
        '<script TYPE="application/json">3</script><script type=application/ld+json>4</script>'
        "<script data-src-of='x'>five</script><script type='text/javascript'>six</script>"
    )
    assert inline_scripts(html) == ["one\n()", "two", "five", "six"]
    assert inline_scripts("<script></script>") == [""]


def test_the_policy_stands_before_all_it_rules() -> None:
    html = "<html><HEAD lang='en'><title>x</title></head><header></header></html>"
    assert with_policy(html, "p \\1") == (
        '<html><HEAD lang=\'en\'><meta http-equiv="Content-Security-Policy" content="p \\1">'
        "<title>x</title></head><header></header></html>"
    )
    assert with_policy("<head><head>", "p").count("<meta") == 1


# --- failures


def test_a_failure_is_told_once_with_its_file() -> None:
    assert Failure("a.md", "full").told() == "a.md: full" == str(Failure("a.md", "full"))
    assert Failure("a.md", "a.md: line 1: wrong").told() == "a.md: line 1: wrong"
    assert (
        Failure("a.md", "there is not enough memory for it").told("it") != "a.md: there is not enough memory"
    )


@pytest.mark.parametrize(
    ("problem", "text", "trace"),
    [
        (OSError(28, "No space left", "x.pdf"), "No space left (x.pdf)", False),
        (OSError("odd"), "odd", False),
        (MemoryError(), "there is not enough memory for it", False),
        (KeyError("k\nl"), "something that nobody foresaw: KeyError: 'k\\nl'", True),
        (RuntimeError("x" * 500), ("something that nobody foresaw: RuntimeError: " + "x" * 500)[:300], True),
        (RuntimeError("one\ntwo"), "something that nobody foresaw: RuntimeError: one", True),
    ],
)
def test_why_a_call_failed_is_said_in_a_line(problem: Exception, text: str, trace: bool) -> None:
    def fails() -> None:
        raise problem

    found = tried("a.md", fails)
    assert isinstance(found, Failure) and (found.name, found.text, found.refused) == ("a.md", text, ())
    assert bool(found.trace) == trace and (not trace or "in fails" in found.trace)
    assert tried("a.md", lambda: 3) == 3


def test_a_refused_source_is_told_in_the_language_of_the_course() -> None:
    from builder.source import parse

    found = tried("a.md", lambda: parse("---\nverset: {metre: 9}\n---\n", "a.md"))
    assert isinstance(found, Failure) and found.refused
    assert found.told() == "\n".join(error.told("en") for error in found.refused) == found.text
    assert found.told("de") != found.told("en") and found.told("de").startswith("a.md:")


def test_only_what_nobody_foresaw_has_a_log(tmp_path: Path) -> None:
    plain = Failure("a.md", "full")
    assert told_together([plain], tmp_path) == ["a.md: full"]
    assert list(tmp_path.iterdir()) == [] and told_together([]) == []
    odd = [Failure("b.md", "odd", "Trace 1"), Failure("c.md", "odd", "Trace 2")]
    lines = told_together([plain, *odd], tmp_path)
    log = tmp_path / "verset-builder.log"
    assert lines == [
        *("a.md: full", "b.md: odd", "c.md: odd"),
        f"please report it with the file it names and the log: {log}",
    ]
    first, *rest = log.read_text("utf-8").splitlines()
    assert re.match(r"verset-builder \d\S*, Python 3\.\d+\.\d+\S*, \S", first)
    assert rest == ["b.md", "Trace 1", "c.md", "Trace 2"]
    assert log_of(["only"], tmp_path) == log and "Trace" not in log.read_text("utf-8")
    assert (
        told_together(odd, tmp_path, "it")[-1].endswith(f"{log}")
        and "segnal" in told_together(odd, tmp_path, "it")[-1]
    )


def test_a_log_goes_where_it_can_be_written(tmp_path: Path, monkeypatch) -> None:
    there = tmp_path / "there"
    there.mkdir()
    monkeypatch.setattr(trouble.tempfile, "gettempdir", lambda: str(there))
    assert log_of(["\udc80"], tmp_path / "missing") == there / "verset-builder.log"
    assert log_of(["x"]) == there / "verset-builder.log"
    monkeypatch.setattr(trouble.tempfile, "gettempdir", lambda: str(tmp_path / "gone"))
    assert log_of(["x"], tmp_path / "missing") is None
    assert (
        trouble.asked_for(None)
        == "no log could be written; please report it, with the words above and the file"
    )


# --- the player's HTML


def test_each_recording_has_the_type_of_its_ending() -> None:
    """RFC 3003 (audio/mpeg), RFC 5334 (audio/ogg), RFC 9639 (audio/flac); audio/wav is common practice."""
    types = {"a.mp3": "audio/mpeg", "a.flac": "audio/flac", "a.ogg": "audio/ogg", "a.wav": "audio/wav"}
    for name, kind in {**types, "a.unknown": "audio/mpeg"}.items():
        assert player._type(name) == kind


PLAY = {"voices": ["cantus"], "end": 20.0, "versions": {"given": [], "plain": []}, "bars": [[1, 0.0]]}


def data(versions: list[str], **more: object) -> tuple[str, dict[str, object]]:
    html = player.player(PLAY, versions, {}, 1.23456, 20.0, EN, **more)  # type: ignore[arg-type]
    return html, json.loads(re.search(r'class="verset-play">(.*?)</script>', html)[1])


def test_the_player_has_versions_first_names_and_span() -> None:
    html, found = data(["given", "plain", "none"])
    assert html.startswith(f'<section class="verset-player" lang="en" aria-label="{EN("reader.title")}">')
    assert html.endswith("</script></section>") and "<details" not in html
    assert set(found) == {"play", "versions", "first", "names", "playing", "span"}
    assert found["versions"] == ["given", "plain"] and found["first"] == "plain"
    assert found["span"] == {"start": 1.2346, "end": 20.0} and found["names"] == {}
    assert data(["given"])[1]["first"] == "given" and data(["plain"], first="given")[1]["first"] == "given"
    assert data(["plain"], names={"n": "A"})[1]["names"] == {"n": "A"}
    assert "\\u003c" in player._inline({"a": "<"}) and "\u2028" not in player._inline({"a": "\u2028\u2029"})
    assert json.loads(player._inline({"a": "è\u2029<"})) == {"a": "è\u2029<"} and "è" in player._inline(
        {"a": "è"}
    )


def test_recordings_of_a_whole_have_no_fragment_and_of_a_part_one() -> None:
    links = {Version.PLAIN: ["a&b.mp3"]}
    whole = player.player(PLAY, ["plain"], links, 0.0, 19.96, EN)
    assert (
        '<details class="verset-recordings" open><summary>' + EN("listen.heading") + "</summary>"
        '<p class="verset-recording"><span>Recording, plain</span> <audio controls preload="none" '
        'aria-label="Recording, plain"><source src="a&amp;b.mp3" type="audio/mpeg"/></audio></p></details>'
    ) in whole
    for start, end in ((0.0, 19.9), (0.01, 20.0)):
        assert f"#t={start:.2f},{end:.2f}" in player.player(PLAY, ["plain"], links, start, end, EN)


def test_music_is_marked_for_its_clefs_and_for_waiting() -> None:
    one = player.music("<defs/>", {"wide": ["<svg/>"]}, "plain", "A & b", EN)
    assert one == (
        '<defs/><figure class="verset-music" data-version="plain"><figcaption>A &amp; b</figcaption>'
        '<div class="verset-systems verset-wide verset-only" role="group" tabindex="0" '
        f'aria-label="{EN("music.label", label="A &amp; b")}"><svg/></div></figure>'
    )
    rows = {"narrow": ["<a/>", "<b/>"], "wide": ["<c/>"]}
    two = player.music("", rows, "given", "L", EN, clefs="modern", later=True, remark="R <")
    assert two.startswith(
        '<figure class="verset-music verset-later" data-version="given" data-clefs="modern" hidden>'
        f'<figcaption>L ({EN("music.modern")})<span class="verset-remark">R &lt;</span></figcaption>'
        '<div class="verset-systems verset-narrow" role="group" tabindex="0" '
    )
    assert "<a/><b/></div>" in two and "verset-only" not in two
    old = player.music("", rows, "given", "L", EN, clefs="original")
    assert ' data-clefs="original">' in old and "hidden" not in old and "<figcaption>L<" in old


# --- slots, ways, what ships to readers


def test_slots_are_filled_from_the_root_of_the_site() -> None:
    html = f"<p>{slot('a')}{slot('b')}</p>"
    assert fill(html, {"a": "x verset-root:f.mp3 verset-root:g"}, "../../") == "<p>x ../../f.mp3 ../../g</p>"
    assert slot("a") == '<div data-verset-slot="a"></div>'
    assert relative("a.md", "b.md") == "a.md" and relative("a.md", "v/b.md") == "../a.md"
    assert FORMATS == (".pdf", ".musicxml", ".mei", ".mid", ".mp3", ".flac", ".brf", ".json")


def test_each_file_of_the_readers_page_is_one_and_has_its_name() -> None:
    found = {a.uri: a.content.decode() for a in assets.all_assets('{"kept":1}')}
    home = "assets/verset"
    names = ["reader.js", "reader.css", "glyphs.js", "verdicts.js", "own.js", "licences.txt"]
    assert {f"{home}/{n}" for n in [*names, "rules-en.js", "rules-it.js", "rules-de.js"]} <= set(found)
    assert found[f"{home}/verdicts.js"] == 'window.versetVerdicts={"kept":1};\n'
    assert assets.own_uris("it") == tuple(f"{home}/{n}.js" for n in ("glyphs", "verdicts", "rules-it", "own"))
    assert assets.own_uris()[2] == f"{home}/rules-en.js"
    for name in ("reader", "own"):
        text = found[f"{home}/{name}.js"]
        assert text.startswith('(() => {\n"use strict";\n') and text.endswith("\n})();\n")
        assert not re.search(r"^\s*(//|/\*\*)|^$|^\s+\S", text.removesuffix("\n"), re.M)
    rules = re.fullmatch(r"window\.versetRules=(\{.*\});\n", found[f"{home}/rules-de.js"])[1]
    assert "Quint" in rules and json.loads(rules)
    glyphs = re.fullmatch(r"window\.versetGlyphs=(\{.*\});\n", found[f"{home}/glyphs.js"])[1]
    shapes = json.loads(glyphs)
    assert tuple(shapes) == assets.GLYPHS and all(len(shape) == 2 for shape in shapes.values())
    style = found[f"{home}/reader.css"]
    sheets = sorted((assets.source_folder() / "style").glob("*.css"))
    at = [style.index(path.read_text("utf-8").strip()) for path in sheets]
    assert len(at) > 1 and at == sorted(at)
    shims = sorted((assets.source_folder() / "shims").glob("*.js"))
    assert shims and all(found[f"{home}/{p.name}"] == p.read_text("utf-8") for p in shims)


def test_signs_of_an_exercise_are_clefs_metres_heads_flags_accidentals_and_figures() -> None:
    """SMuFL 1.4: gClef E050, cClef E05C, fClef E062, time signatures E080 to E08B, heads E0A0 to E0A4, flags
    E240 to E243, accidentals E260 to E26D, figured bass from EA50."""
    wanted = ["E050", "E05C", "E062", "E08A", "E08B", "E0A0", "E0A2", "E0A3", "E0A4"]
    wanted += [*(f"E24{n}" for n in range(4)), "E260", "E261", "E262", "E26C", "E26D"]
    wanted += [f"E08{n}" for n in range(10)]
    assert set(wanted) <= set(assets.GLYPHS) and len(set(assets.GLYPHS)) == len(assets.GLYPHS)
    figures = set(assets.GLYPHS) - set(wanted)
    assert all(0xEA50 <= int(code, 16) <= 0xEA66 for code in figures) and len(figures) == 13
    assert len(assets.GLYPHS) == 18 + 10 + 13


def test_licences_name_what_ships_where_and_from_which_package() -> None:
    lines = assets.licences().splitlines()
    assert len(lines) > 3
    for line in lines:
        assert re.fullmatch(r".+: [\w.+-]+( (?:AND|OR|WITH) [\w.+-]+)*; .+; from .+", line), line
    assert any(re.search(r"from verovio \d", line) for line in lines)
