"""The plugin `verset`: a verset source in a course becomes its pages and files."""

from __future__ import annotations

import logging
import traceback
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Literal

from jinja2 import Environment
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import Abort, MkDocsException, PluginError
from mkdocs.livereload import LiveReloadServer
from mkdocs.plugins import BasePlugin, event_priority
from mkdocs.structure.files import File, Files
from mkdocs.structure.nav import Link, Navigation
from mkdocs.structure.pages import Page
from mkdocs.utils import CountHandler, get_relative_url
from mkdocs.utils.templates import TemplateContext

from builder.language.markup import harmless
from builder.language.texts import page_texts
from builder.pages import assets
from builder.pages.course import Course, Options, build_course
from builder.pages.pinning import PinWriter
from builder.pages.policy import inline_scripts, policy, with_policy
from builder.pages.publishing import Publication, PublishingError
from builder.pages.store import Store, StoreError
from builder.pages.trouble import asked_for, log_of, of_the_system, told_together, unforeseen
from builder.plugin.asked_files import AskedFiles, with_files
from builder.plugin.config import VersetConfig, course_options
from builder.plugin.escaping import escape_texts
from builder.plugin.linking import StoredFile
from builder.plugin.nav import expanded, in_order, near
from builder.plugin.progress import Progress
from builder.plugin.rendering import Rendered
from builder.plugin.serving import with_place, with_writer
from builder.source.errors import harmless_lines, visible
from builder.source.wording import told

log = logging.getLogger("mkdocs.plugins.verset")
_TAKEN_OUT = "links that are scripts, or tags that send the page elsewhere, are taken out"
_WAITS = "another build of this course is under way: this one waits for its end"


class VersetPlugin(BasePlugin[VersetConfig]):
    """Turns every Markdown file whose front matter has the key `verset` into a lesson."""

    course: Course
    progress: Progress
    pages: int = 0
    store: Store | None = None
    writer: PinWriter | None = None
    files: AskedFiles | None = None
    rendered: Rendered | None = None
    publication: Publication | None = None
    published: bool = False
    serving: bool = False
    release: bool = False
    rest: Callable[[int], Link] | None = None
    warnings: CountHandler | None = None
    nav: Navigation

    def __init__(self) -> None:
        self.inline: dict[str, None] = {}

    def on_startup(self, *, command: Literal["build", "gh-deploy", "serve"], dirty: bool) -> None:
        """Remember the command: only a real build is published by exchange of folders."""
        self.serving = command == "serve"
        self.published = not self.serving and not dirty
        self.writer = PinWriter() if self.serving else None
        self.files = (self.files or AskedFiles()) if self.serving else None
        self.rendered = (self.rendered or Rendered()) if self.serving else None

    def on_serve(
        self, server: LiveReloadServer, *, config: MkDocsConfig, builder: Callable[..., None]
    ) -> LiveReloadServer:
        """Let the server's own pages write what was chosen by ear into the sources, and have files made."""
        if self.writer and (app := server.get_app()):
            app = with_writer(app, self.writer, server.mount_path, self.config.language)
            server.set_app(with_files(app, self.files, server.mount_path) if self.files else app)
        return server

    @event_priority(100)
    def on_config(self, config: MkDocsConfig) -> MkDocsConfig:
        """Read and build all versets before the generator touches the site folder, so that bad
        music never replaces a good site; then build into a folder beside it."""
        root = Path(config.config_file_path or ".").resolve().parent
        options = replace(
            course_options(self.config, root, config.site_name),
            order=in_order(config.nav),
            draft=self.serving,
            release=self.release,
        )
        self.pages = 0
        self._begin(config, root, options)
        assert self.store is not None
        if self.writer:
            self.writer.read(Path(config.docs_dir))
        self.progress = Progress(language=self.config.language)
        self.course = build_course(Path(config.docs_dir), options, self.store, self.progress.tell)
        self.progress.stage("versets")
        self._tell(config, options)
        self._speak(config)
        self._prune(config)
        letters = () if config.theme.get("font") else assets.fonts()
        config.extra_css = [*(a.uri for a in (*letters, *assets.styles())), *config.extra_css]
        config.extra_javascript = [*(a.uri for a in assets.scripts()), *config.extra_javascript]
        config.extra.setdefault("polyfills", []).extend(a.uri for a in assets.shims())
        if "footnotes" not in config.markdown_extensions:
            config.markdown_extensions.append("footnotes")  # as print has them
        if not config.site_url:
            # Only a server shows this page, and its links need to know where on the server the site stands.
            config.theme.static_templates.discard("404.html")
        if self.publication:
            config.site_dir = str(self.publication.new)
            self.warnings = CountHandler()
            self.warnings.setLevel(logging.WARNING)
            logging.getLogger("mkdocs").addHandler(self.warnings)
        return config

    def on_files(self, files: Files, *, config: MkDocsConfig) -> Files:
        """Put the generated pages in place of the sources, and add the files of the edition."""
        for page in self.course.pages:
            self._replace(files, File.generated(config, page.uri, content=page.markdown))
        for download in self.course.downloads:
            self._replace(files, StoredFile.generated(config, download.uri, abs_src_path=str(download.path)))
        for uri in self.course.later:
            self._replace(files, File.generated(config, uri, content=b""))
        for asset in (
            *assets.all_assets(self.course.tables),
            *self.course.drill_files,
            *self.course.pipe_files,
        ):
            self._replace(files, File.generated(config, asset.uri, content=asset.content))
        config.nav = expanded(config.nav, files, self.course.sections)
        if (listing := self.course.listing) and (file := files.get_file_from_path(listing)):
            said, address = page_texts(self.config.language), file.url
            self.rest = lambda count: Link(said("pages.navAll", n=count), address)
        return files

    def on_nav(self, nav: Navigation, *, config: MkDocsConfig, files: Files) -> Navigation:
        self.nav = nav
        if self.rendered:
            self.rendered.begin(config, files)
            for file in files.documentation_pages():
                if file.page:
                    self.rendered.attend(file.page)
        return nav

    def on_page_content(self, html: str, *, page: Page, config: MkDocsConfig, files: Files) -> str:
        """Take links that are scripts out of what Markdown and raw HTML have made; say so."""
        safe = harmless(html)
        if safe != html:
            log.info(f"{visible(page.file.src_uri)}: {self._said(_TAKEN_OUT)}")
        return safe

    @event_priority(-100)
    def on_env(self, env: Environment, *, config: MkDocsConfig, files: Files) -> Environment:
        """All pages are read and none is written: now every title is escaped."""
        pages = [file.page for file in files.documentation_pages() if file.page]
        escape_texts(env, self.nav, pages, config)
        if self.rendered:
            env.bytecode_cache = self.rendered.templates
        return env

    def on_page_markdown(self, markdown: str, *, page: Page, config: MkDocsConfig, files: Files) -> str:
        """Expand the places where a page of the course's own asks for generated text."""
        return self.course.expand(markdown, page.file.src_uri)

    def on_page_context(
        self, context: TemplateContext, *, page: Page, config: MkDocsConfig, nav: Navigation
    ) -> TemplateContext:
        """Give the page what it needs of the navigation: a tree of all pages on every page would outweigh
        all else in a large course."""
        self.pages += 1
        context["nav"] = near(nav, self.rest)
        return context

    @event_priority(-500)
    def on_post_page(self, output: str, *, page: Page, config: MkDocsConfig) -> str:
        """Set music and player in: after Markdown and search have run, so that neither carries them. The
        policy lets the theme's own scripts run, and none of those that stand in the page's words."""
        theme = output.replace(page.content, "") if page.content else output
        root = get_relative_url(".", page.url).rstrip("/") + "/"
        html = self.course.fill(self._ruled(output, theme), page.file.src_uri, root)
        if self.writer:
            source = self.course.source_of(page.file.src_uri)
            html = with_place(html, self.writer.page(source), root)
        return html

    @event_priority(-500)
    def on_post_template(self, output: str, *, template_name: str, config: MkDocsConfig) -> str:
        return self._ruled(output, output) if template_name.endswith(".html") else output

    def _ruled(self, html: str, theme: str) -> str:
        """A page with the policy of the site; without, while it is served for the one who writes it, since
        the server puts a script of its own in."""
        if not self.config.policy or self.publication is None:
            return html
        scripts = inline_scripts(theme)
        self.inline.update(dict.fromkeys(scripts))
        return with_policy(html, policy(scripts))

    @event_priority(-1000)
    def on_post_build(self, *, config: MkDocsConfig) -> None:
        """Publish: last of all events, exchange the finished folder for the old one."""
        if self.publication:
            if self.config.policy:
                self._write_policy(Path(config.site_dir))
            counts = self.warnings.get_counts() if self.warnings else []
            if config.strict and counts:
                raise PluginError(self._said(f"nothing is published: warnings in strict mode ({counts})"))
            self.publication.exchange()
            config.site_dir = str(self.publication.site)
            self.progress.stage("pages")
            for line in self.progress.summary(self.course, self.pages, self.publication.site):
                log.info(line)
        if self.files:
            options = self.course.options
            self.files.begin(Path(config.docs_dir), Path(config.site_dir), options, self.course.later)
        if self.store:
            self.store.close(self.course.options.cache_size, self.course.keys)

    @event_priority(-1000)
    def on_build_error(self, *, error: Exception) -> None:
        """Leave nothing half-written behind, and say what nobody foresaw in words, with a log."""
        self.on_shutdown()
        if isinstance(error, MkDocsException):
            return
        if isinstance(error, OSError):
            why = of_the_system(error)
        else:
            trace = "".join(traceback.format_exception(error))
            place = log_of([trace], self.store.folder if self.store else None)
            met = self._said(f"the build met {unforeseen(error)}")
            why = f"{met}\n{asked_for(place, self.config.language)}"
        raise Abort(f"{why}\n{self._said('nothing is published: the site is as it was')}") from None

    def on_shutdown(self) -> None:
        """Give up what a build holds, however it ended."""
        if self.publication:
            self.publication.abandon()
        if self.store:
            self.store.close()
        if self.warnings:
            logging.getLogger("mkdocs").removeHandler(self.warnings)

    def _begin(self, config: MkDocsConfig, root: Path, options: Options) -> None:
        """Take the place of the new site and the store, or say in words why they cannot be had."""
        site = Path(config.site_dir).resolve()
        try:
            self.publication = Publication(site) if self.published else None
            room = [self.publication.room] if self.publication else []
            self.store = Store(options.cache)
            self.store.check([Path(config.docs_dir), site, *room], within=[root])
            if self.publication:
                self.publication.begin(lambda: log.info(self._said(_WAITS)))
            self.store.open(sum_all=options.release)
        except (StoreError, PublishingError) as problem:
            raise PluginError(str(problem)) from None

    def _write_policy(self, site: Path) -> None:
        """One policy for all pages, for who publishes on a server and sends it as a header."""
        path = site / assets.HOME / "content-security-policy.txt"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(policy(sorted(self.inline), header=True) + "\n", "utf-8")

    def _speak(self, config: MkDocsConfig) -> None:
        """The theme's own words follow the language of the course, unless the teacher chose another."""
        if config.theme.get("language") == "en":
            config.theme["language"] = self.config.language
        if self.config.language != "en":
            config.extra.setdefault("generator", False)  # the theme names itself in English alone

    @staticmethod
    def _prune(config: MkDocsConfig) -> None:
        """What is closed in the navigation is a link to its first page, unless the teacher has all open."""
        features = config.theme.get("features")
        if isinstance(features, list) and "navigation.expand" not in features:
            config.theme["features"] = list(dict.fromkeys([*features, "navigation.prune"]))

    def _tell(self, config: MkDocsConfig, options: Options) -> None:
        """Log what the musician should read; stop where nothing may be published."""
        for warning in self.course.warnings:
            log.info(harmless_lines(warning))
        failed, errors = (
            told_together(self.course.failures, options.cache, options.language),
            self.course.errors,
        )
        if failed and not options.draft:
            raise PluginError(harmless_lines("\n".join(failed)))
        for line in (*failed, *errors):
            log.error(harmless_lines(line))
        if config.strict and errors and not options.draft:
            raise PluginError(self._said(f"nothing is published: {len(errors)} errors against the rules"))

    def _said(self, text: str) -> str:
        """An English phrase in the language of the course."""
        return told(text, self.config.language)

    @staticmethod
    def _replace(files: Files, file: File) -> None:
        existing = files.get_file_from_path(file.src_uri)
        if existing is not None:
            files.remove(existing)
        files.append(file)
