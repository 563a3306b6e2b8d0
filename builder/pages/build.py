"""One verset source becomes a lesson: its pages, with music and player, and its files."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from html import escape
from pathlib import Path
from typing import Any

import yaml
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from builder.analysis import Step
from builder.counterpoint import Finding, alternatives, differences, reasons
from builder.edition.files import AUDIO, Recordings, file_names, write_files
from builder.edition.imprint import UNSIGNED, Imprint
from builder.language.markup import Marked, address, md, md_with_code
from builder.language.parallel import on_page
from builder.language.texts import Texts, opened, page_texts, texts
from builder.music import Version, notated
from builder.pages import facts
from builder.pages.assets import source_folder
from builder.pages.gracing import Graces
from builder.pages.keeping import other_way
from builder.pages.lesson import FORMATS, Download, Lesson, LessonPage, relative, slot
from builder.pages.playing import Played, recordings_of
from builder.pages.playing import told as told_playing
from builder.pages.practice import Stretch, practice
from builder.pages.shelf import shelved
from builder.pages.side_by_side import distinct
from builder.pages.sources import facsimiles, told_readings, told_sources
from builder.plan import picture, told
from builder.setting.reading import read_verset
from builder.setting.setting import Defaults, Keeper, Setting, is_error, set_verset
from builder.source import page_front

HEARD: Recordings = {Version.DIMINISHED: (".mp3",)}
"""What a site lets be heard as a recording: the whole as it is played, once. The page itself sounds every
version and step; what an archive wants is in a release."""


@dataclass(frozen=True, slots=True)
class Making:
    """How a lesson is made: its place in the course, the course's defaults and language, the page of
    rules (or nothing), and which files to write; with `files` off they are only named."""

    uri: str
    defaults: Defaults
    language: str = "en"
    rules_uri: str = ""
    audio: bool = True
    pdf: bool = True
    imprint: Imprint = UNSIGNED
    files: bool = True


def build_lesson(
    path: Path, making: Making, work: Path, keeper: Keeper | None = None
) -> tuple[Lesson, Setting]:
    """Build everything of one verset, and give the setting it was made from. `work` is an empty folder for
    the files. Raises `SourceErrors` when the source is refused."""
    setting, front, w = read_setting(path, making, keeper)
    stem = making.uri.removesuffix(".md")
    files = f"{stem}/files"
    imprint = replace(making.imprint, lang=w.language)
    wanted: dict[str, Any] = {
        "audio": HEARD if making.audio else {},
        "sheets": making.pdf,
        "imprint": imprint,
    }
    if making.files:
        written = write_files(setting, work / "files", **wanted)
    else:
        written = tuple(work / "files" / name for name in file_names(setting, **wanted))
    downloads = tuple(Download(f"{files}/{p.name}", p) for p in written)
    played = recordings_of(setting, path.parent, making.uri)
    maker = _Maker(setting, making.uri, stem, downloads, making.rules_uri, w, played)
    pages = [maker.overview(front), *(maker.step(s) for s in setting.analysis.steps), maker.whole()]
    lesson = Lesson(
        uri=making.uri,
        title=setting.verset.title,
        tone=setting.tone,
        pages=tuple(pages),
        downloads=downloads if making.files else (),
        later=() if making.files else tuple(each.uri for each in downloads),
        errors=tuple(_line(path, version, f, w.language) for version, f in setting.findings if is_error(f)),
        warnings=tuple(f"{path}: {text}" for text in setting.warnings(w.language)),
        summary={**facts.summary(setting, w), **shelved(setting, w)},
    )
    return lesson, setting


def read_setting(
    path: Path, making: Making, keeper: Keeper | None = None
) -> tuple[Setting, Mapping[str, Any], Texts]:
    """A source read and set as the course says, its front matter, and the words of its language. Raises
    `SourceErrors`."""
    verset = read_verset(path, dict(making.defaults.tunings))
    front = page_front(path.read_text("utf-8-sig"), str(path)) if path.suffix == ".md" else {}
    w = page_texts(str(front.get("language", making.language)))
    return set_verset(verset, making.defaults, language=w.language, keeper=keeper), front, w


class _Maker:
    """Makes the pages of one lesson, which share play data and recordings."""

    def __init__(
        self,
        setting: Setting,
        uri: str,
        stem: str,
        downloads: Sequence[Download],
        rules_uri: str,
        w: Texts,
        played: Sequence[Played] = (),
    ) -> None:
        self.setting, self.uri, self.stem, self.w, self.rules_uri = setting, uri, stem, w, rules_uri
        self.downloads, self.played = downloads, played
        self.graces = Graces(setting, w)
        self.audio: dict[str, list[str]] = {}
        for version in setting.scores:
            names = {f"{setting.verset.name}-{version}{ending}" for ending in AUDIO}
            uris = sorted((d.uri for d in downloads if d.path.name in names), reverse=True)
            if uris:
                self.audio[version] = uris

    def overview(self, front: Mapping[str, Any]) -> LessonPage:
        """The overview, in the place of the source; what else its front matter says is kept."""
        verset = self.setting.verset
        steps = [
            {
                "title": facts.step_title(s, self.w),
                "link": address(relative(self._step_uri(s), self.uri)),
                "bars": facts.bars(verset, s.start, s.end, self.w),
            }
            for s in self.setting.analysis.steps
        ]
        steps.append(
            {
                "title": self.w("pages.whole"),
                "link": address(relative(f"{self.stem}/whole.md", self.uri)),
                "bars": facts.bars(verset, Fraction(0), verset.end, self.w),
            }
        )
        kept = {k: v for k, v in front.items() if k != "verset"}
        text = _render(
            "overview.md.jinja",
            self.w,
            title=verset.title,
            intro=Marked(on_page(verset.intro)),
            steps=steps,
            downloads=self._offers(),
            playing=[told_playing(self.setting, each, self.w) for each in self.played],
            findings=self._findings(Fraction(0), verset.end, self.uri),
            numbered=told_readings(self.setting, Fraction(0), verset.end, self.w),
            **facts.overview(self.setting, self.w),
            **told_sources(self.setting, self.w),
        )
        line = Stretch(Fraction(0), verset.end, (Version.GIVEN,))
        return self._page(self.uri, self.w("pages.overview"), with_front(kept, text), line)

    def step(self, step: Step) -> LessonPage:
        """The page of an entry or a cadence."""
        uri = self._step_uri(step)
        title = facts.step_title(step, self.w)
        name = step.name.partition("-")[0]
        said = self.setting.verset.words
        own = said.get(step.name, said.get(name, "") if step.name in (name, f"{name}-1") else "")
        shown, remark, other = self._with_another_way(step)
        text = _render(
            "step.md.jinja",
            self.w,
            title=title,
            bars=opened(facts.bars(self.setting.verset, step.start, step.end, self.w)),
            lead=facts.lead(self.setting, step, self.w),
            words=Marked(on_page(own)),
            graces=facts.graces(self.setting, step.start, step.end, self.w),
            findings=self._findings(step.start, step.end, uri),
            reasons=self._reasons(step),
            other=Marked(escape(other)),
            numbered=told_readings(self.setting, step.start, step.end, self.w),
            **facts.sonorities(self.setting, step.start, step.end, self.w),
        )
        stretch = Stretch(step.start, step.end, distinct(shown.scores, step.start, step.end))
        return self._page(uri, title, text, stretch, shown, {Version.PLAIN_2: remark})

    def _reasons(self, step: Step) -> list[str]:
        """Why some notes of a step stand there and not others."""
        verset, say = self.setting.verset, texts("choice", self.w.language).said
        found = reasons(verset, self.setting.analysis, (step.start, step.end), tuning=verset.settings.tuned)
        return [opened(say(phrase)) for phrase in found]

    def _with_another_way(self, step: Step) -> tuple[Setting, str, str]:
        """The setting with a second plain version in its scores, one that sounds different in this step, how
        it differs, and its notes as text for the source; without, where nothing is added above the line or
        there is but one way."""
        setting = self.setting
        if len(step.voices) == 1:
            return setting, "", ""
        ways = alternatives(
            setting.verset,
            setting.analysis,
            2,
            within=(step.start, step.end),
            tuning=setting.verset.settings.tuned,
        )
        if len(ways) < 2:
            return setting, "", ""
        say = texts("choice", self.w.language).said
        told = differences(setting.verset, ways[0], ways[1], (step.start, step.end))
        scores = {}
        for version, score in setting.scores.items():
            scores[version] = score
            if version == Version.PLAIN:
                scores[Version.PLAIN_2] = notated(replace(ways[1].score, version=Version.PLAIN_2))
        remark = opened("; ".join(map(say, told))) + "." if told else ""
        return replace(setting, scores=scores), remark, other_way(setting, ways[1].score, step)

    def whole(self) -> LessonPage:
        """The whole, plain and diminished."""
        verset = self.setting.verset
        uri = f"{self.stem}/whole.md"
        text = _render(
            "whole.md.jinja",
            self.w,
            title=self.w("pages.whole"),
            lead=self.w("pages.leadWhole", n=self.setting.analysis.voices),
            words=Marked(on_page(verset.words.get("whole", ""))),
            plan=told(self.setting.diminution.plan, self.w.language),
            findings=self._findings(Fraction(0), verset.end, uri),
        )
        settings = tuple(version for version in self.setting.scores if version != Version.GIVEN)
        both = Stretch(Fraction(0), verset.end, settings)
        drawn = picture(
            self.setting.diminution.plan, verset, self.setting.analysis, self.w("pages.planLabel")
        )
        page = self._page(uri, self.w("pages.whole"), text, both)
        return replace(page, slots={**page.slots, "plan": drawn})

    def _page(
        self,
        uri: str,
        title: str,
        text: str,
        stretch: Stretch,
        setting: Setting | None = None,
        remarks: Mapping[str, str] | None = None,
    ) -> LessonPage:
        html = practice(
            setting or self.setting, stretch, self.audio, self.w, remarks, self.played, self.graces
        )
        if Version.GIVEN in stretch.versions:
            html = facsimiles(self.setting, self.uri, stretch.start, stretch.end, self.w) + html
        if uri != self.uri:
            # In the window's title and among bookmarks a step is told from that of another verset.
            text = with_front({"title": f"{title} · {self.setting.verset.title}"}, text)
        return LessonPage(uri, title, text, {"practice": html})

    def _step_uri(self, step: Step) -> str:
        return f"{self.stem}/{step.name}.md"

    def _findings(self, start: Fraction, end: Fraction, uri: str) -> list[dict[str, str]]:
        link = address(relative(self.rules_uri, uri)) if self.rules_uri else ""
        return facts.findings(self.setting, start, end, self.w, link)

    def _offers(self) -> list[dict[str, Any]]:
        """The files, those of the whole edition first, then version by version."""
        offers: dict[str, list[dict[str, str]]] = {"": [], **{version: [] for version in self.setting.scores}}
        for d in sorted(self.downloads, key=lambda d: (FORMATS.index(d.path.suffix), d.path.stem)):
            rest = d.path.stem.removeprefix(self.setting.verset.name).removeprefix("-")
            version, kind = _kind(rest, d.path.suffix[1:])
            voice = self.w.voice(rest.removeprefix("part-")) if kind == "part" else ""
            name = self.w(f"pages.fileKind.{kind}", **({"voice": voice} if voice else {}))
            link = {"name": name, "link": address(relative(d.uri, self.uri))}
            offers[version if version in offers else ""].append(link)
        return [
            {
                "name": opened(self.w(f"versions.{version}" if version else "pages.fileAll")),
                "files": files,
            }
            for version, files in offers.items()
            if files
        ]


def _kind(rest: str, ending: str) -> tuple[str, str]:
    """The version of a file, and which kind it is, by what its name has behind the verset's.

    >>> _kind("plain-keyboard", "mei"), _kind("plain-tuned", "mid"), _kind("part-altus", "pdf")
    (('plain', 'keyboard-mei'), ('plain', 'tuned'), ('part-altus', 'part'))
    """
    if rest == "student" or rest.startswith("part-"):
        return rest, rest.partition("-")[0]
    for mark, kind in (("-tuned", "tuned"), ("-keyboard", f"keyboard-{ending}")):
        if rest.endswith(mark):
            return rest.removesuffix(mark), kind
    return rest, ending


def with_front(front: Mapping[str, Any], text: str) -> str:
    """A page with this front matter."""
    return f"---\n{yaml.safe_dump(dict(front), allow_unicode=True, sort_keys=False)}---\n\n{text}"


@cache
def _templates() -> Environment:
    found = Environment(
        loader=FileSystemLoader(source_folder() / "templates"),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        autoescape=False,
        finalize=md,
    )
    found.filters["coded"] = md_with_code
    return found


def _render(template: str, w: Texts, **values: Any) -> str:
    """A page's Markdown: every value is escaped, but for what is `Marked`."""
    marked = {"w": lambda key, **places: Marked(w(key, **{k: md(v) for k, v in places.items()}))}
    return _templates().get_template(template).render(**marked, slot=lambda n: Marked(slot(n)), **values)


def _line(path: Path, version: Version, finding: Finding, language: str) -> str:
    """What breaks a rule, as a line of the build. The rule keeps the name by which a source allows it."""
    w = texts("report", language)
    voices = ", ".join(map(w.voice, finding.voices))
    met, _, _ = finding.told(language)
    return f"{path}: {w(f'version.{version}')}: {w.where(finding.place)}: {finding.rule} ({voices}): {met}"
