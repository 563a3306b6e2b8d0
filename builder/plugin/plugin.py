"""The plugin `verset`: a verset source in a course becomes its pages and files."""

from __future__ import annotations

import logging
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Literal

from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import PluginError
from mkdocs.plugins import BasePlugin, event_priority
from mkdocs.structure.files import File, Files
from mkdocs.structure.pages import Page
from mkdocs.utils import CountHandler, get_relative_url

from builder.pages import assets
from builder.pages.course import Course, build_course
from builder.plugin.config import VersetConfig, course_options
from builder.plugin.nav import expanded, in_order

log = logging.getLogger("mkdocs.plugins.verset")


class VersetPlugin(BasePlugin[VersetConfig]):
    """Turns every Markdown file whose front matter has the key `verset` into a lesson."""

    course: Course
    site: Path | None = None
    published: bool = False
    warnings: CountHandler

    def on_startup(self, *, command: Literal["build", "gh-deploy", "serve"], dirty: bool) -> None:
        """Remember the command: only a real build is published by exchange of folders."""
        self.published = command != "serve" and not dirty

    @event_priority(100)
    def on_config(self, config: MkDocsConfig) -> MkDocsConfig:
        """Read and build all versets before the generator touches the site folder, so that bad
        music never replaces a good site; then build into a folder beside it."""
        root = Path(config.config_file_path or ".").resolve().parent
        options = replace(course_options(self.config, root, config.site_name), order=in_order(config.nav))
        self.course = build_course(Path(config.docs_dir), options)
        self._tell(config)
        self._speak(config)
        config.extra_css = [*(a.uri for a in assets.styles()), *config.extra_css]
        config.extra_javascript = [*(a.uri for a in assets.scripts()), *config.extra_javascript]
        config.extra.setdefault("polyfills", []).extend(a.uri for a in assets.shims())
        if not config.site_url:
            # Only a server shows this page, and its links need to know where on the server the site stands.
            config.theme.static_templates.discard("404.html")
        if self.published:
            self.site = Path(config.site_dir)
            config.site_dir = f"{self.site}.partial"
            self.warnings = CountHandler()
            self.warnings.setLevel(logging.WARNING)
            logging.getLogger("mkdocs").addHandler(self.warnings)
        return config

    def on_files(self, files: Files, *, config: MkDocsConfig) -> Files:
        """Put the generated pages in place of the sources, and add the files of the edition."""
        for page in self.course.pages:
            self._replace(files, File.generated(config, page.uri, content=page.markdown))
        for download in self.course.downloads:
            self._replace(files, File.generated(config, download.uri, abs_src_path=str(download.path)))
        for asset in assets.all_assets():
            self._replace(files, File.generated(config, asset.uri, content=asset.content))
        config.nav = expanded(config.nav, files, self.course.sections)
        return files

    def on_page_markdown(self, markdown: str, *, page: Page, config: MkDocsConfig, files: Files) -> str:
        """Expand the places where a page of the course's own asks for generated text."""
        return self.course.expand(markdown, page.file.src_uri)

    def on_post_page(self, output: str, *, page: Page, config: MkDocsConfig) -> str:
        """Set music and player in: after Markdown and search have run, so that neither carries them."""
        root = get_relative_url(".", page.url).rstrip("/") + "/"
        return self.course.fill(output, page.file.src_uri, root)

    @event_priority(-1000)
    def on_post_build(self, *, config: MkDocsConfig) -> None:
        """Publish: last of all events, exchange the finished folder for the old one."""
        if self.site is None:
            return
        logging.getLogger("mkdocs").removeHandler(self.warnings)
        counts = self.warnings.get_counts()
        if config.strict and counts:
            raise PluginError(f"Nothing is published: warnings in strict mode ({counts}).")
        partial, old = Path(config.site_dir), Path(f"{self.site}.old")
        shutil.rmtree(old, ignore_errors=True)
        if self.site.exists():
            self.site.rename(old)
        partial.rename(self.site)
        shutil.rmtree(old, ignore_errors=True)
        config.site_dir = str(self.site)

    def on_build_error(self, *, error: Exception) -> None:
        """Leave nothing half-written behind."""
        if self.site is not None:
            shutil.rmtree(f"{self.site}.partial", ignore_errors=True)

    def _speak(self, config: MkDocsConfig) -> None:
        """The theme's own words follow the language of the course, unless the teacher chose another."""
        if config.theme.get("language") == "en":
            config.theme["language"] = self.config.language

    def _tell(self, config: MkDocsConfig) -> None:
        """Log what the musician should read; stop where nothing may be published."""
        for warning in self.course.warnings:
            log.info(warning)
        if self.course.source_errors:
            raise PluginError("\n".join(map(str, self.course.source_errors)))
        for error in self.course.errors:
            log.error(error)
        if config.strict and self.course.errors:
            raise PluginError(f"Nothing is published: {len(self.course.errors)} errors against the rules.")

    @staticmethod
    def _replace(files: Files, file: File) -> None:
        existing = files.get_file_from_path(file.src_uri)
        if existing is not None:
            files.remove(existing)
        files.append(file)
