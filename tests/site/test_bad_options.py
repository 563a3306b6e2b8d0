"""Options and front matter that no course can mean are told in words, before anything is built."""

from __future__ import annotations

import pytest
from mkdocs.exceptions import Abort, ConfigurationError, PluginError


def refused(course, caplog) -> str:
    with pytest.raises((PluginError, Abort)) as told:
        course.build()
    assert not course.site.exists()
    assert "Traceback" not in caplog.text
    return caplog.text + str(told.value)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("pitch: .inf", "pitch: inf; a number from 392 to 520"),
        ("pitch: 3", "pitch: 3; a number from 392 to 520"),
        ("breathing: {final: .nan}", "final: nan; a number from 0 to 2"),
        ("articulation: {beat: -1}", "beat: -1; a number from 0 to 2"),
        ("processes: 100000", "processes: 100000"),
        ("tunings: {ours: 2024-02-03}", "tunings: ours"),
        ("tunings: {ours: nonsense}", "tuning 'ours'"),
        ("book: {title: [a]}", "book: title"),
        ("book: {title: 2024-02-03}", "book: title"),
        ('book: {authors: ["a\\u001b[2J"]}', "book: authors: a␛[2J"),
        ("book: {open_score: true}", "open_score"),
        ("edition: {print: {score: maybe}}", "maybe"),
    ],
)
def test_an_option_is_refused_with_what_may_stand_there(course, caplog, line: str, words: str) -> None:
    path = course.root / "mkdocs.yml"
    config = path.read_text().replace(", processes: 1", "")
    path.write_text(config.replace("audio: false", f"audio: false, {line}"))
    assert words in refused(course, caplog)


def test_one_author_may_stand_without_a_list(course) -> None:
    from mkdocs.config import load_config

    from builder.plugin.config import course_options

    path = course.root / "mkdocs.yml"
    path.write_text(path.read_text().replace("audio: false", "audio: false, book: {authors: Anna}"))
    config = load_config(str(path))
    assert course_options(config.plugins["verset"].config, course.root).book.authors == ("Anna",)


@pytest.mark.parametrize("page", ["index.md", "versets/duo.md", "plain.md"])
@pytest.mark.parametrize(
    ("front", "words"),
    [("a: &a [1]\nb: *a", "the anchor &a"), ("weight: .inf", "weight"), ("x: " + "[" * 3000, "too deeply")],
)
def test_front_matter_of_every_page_is_read_before_the_generator_reads_it(
    course, caplog, page: str, front: str, words: str
) -> None:
    path = course.root / "content" / page
    text = path.read_text() if path.exists() else "# Plain\n"
    body = text.partition("---\n")[2] if text.startswith("---\n") else f"---\n{text}"
    course.write(page, f"---\n{front}\n{body}")
    told = refused(course, caplog)
    assert words in told and f"{page}:" in told


@pytest.mark.parametrize("language", ["xx", "[en]", "1"])
def test_a_language_that_is_not_there_is_told_with_its_place(course, caplog, language: str) -> None:
    path = course.root / "content/versets/duo.md"
    path.write_text(path.read_text().replace("title: A duo", f"title: A duo\nlanguage: {language}"))
    told = refused(course, caplog)
    assert "duo.md:3:1" in told and "en, de or it" in told


def test_an_option_that_is_none_is_told_by_its_name(course, caplog) -> None:
    path = course.root / "mkdocs.yml"
    path.write_text(path.read_text().replace("audio: false", "audio: false, volume: 3"))
    with pytest.raises((Abort, ConfigurationError)):
        course.build(strict=True)
    assert "'verset'" in caplog.text and "volume" in caplog.text and not course.site.exists()


def test_what_a_course_says_of_its_sources_is_told_with_line_and_column(course, caplog) -> None:
    path = course.root / "mkdocs.yml"
    said = "edition: {editors: [{name: A, orcid: 0000-0002-1825-0098}], plaice: B}"
    path.write_text(path.read_text().replace("audio: false", f"audio: false, {said}"))
    words = refused(course, caplog)
    line = next(n for n, text in enumerate(path.read_text().splitlines(), 1) if "orcid" in text)
    column = path.read_text().splitlines()[line - 1].index("0000-0002") + 1
    assert f'mkdocs.yml:{line}:{column}: found the ORCID "0000-0002-1825-0098"' in words
    assert 'the key "plaice"' in words and "did you mean place?" in words
