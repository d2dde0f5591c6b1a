"""MkDocs: options, hooks, and the two commands that run it. What is published is decided in site.py."""

from __future__ import annotations

import os
import re
import sys
from pathlib import Path

import mkdocs.commands.build
import mkdocs.commands.serve
from mkdocs.config import Config, config_options, load_config
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import PluginError
from mkdocs.plugins import BasePlugin
from mkdocs.structure.files import File, Files, InclusionLevel
from mkdocs.structure.pages import Page

from builder.base import disk, problems, site_folder, workers
from builder.base.contained import Checked
from builder.base.store import Store
from builder.site import catalogue, site_map
from builder.spec import own_tables

_ANCHOR = re.compile(r'\bid="([^"]+)"')
os.environ.setdefault("NO_MKDOCS_2_WARNING", "1")  # the theme's own switch for its notice


class CheckedFile(File):
    """A file of a mold's folder: the site gets the bytes that were looked at, or the build ends."""

    checked: Checked

    def copy_file(self, dirty: bool = False) -> None:  # noqa: ARG002 - MkDocs passes it
        """Write the file into the site."""
        place = Path(self.abs_dest_path)
        place.parent.mkdir(parents=True, exist_ok=True)
        try:
            self.checked.copy_to(place)
        except problems.Faults as faults:
            raise PluginError(str(faults)) from None


class Options(Config):  # type: ignore[no-untyped-call]
    """The plugin's options in mkdocs.yml: where molds and kept results lie, and where molds are read."""

    molds = config_options.Dir(exists=True, default="molds")
    store = config_options.Dir(default=".shotbook")
    workers = config_options.Type(int, default=1)
    cluster = config_options.Type(str, default="")


class ShotbookPlugin(BasePlugin[Options]):  # type: ignore[no-untyped-call]
    """Adds the generated pages and files to the site."""

    generated: site_map.Generated | None = None
    fresh = False
    """Whether what is generated is of this build."""

    preview = False
    """Whether pages are shown while they are written, by `shotbook serve`."""

    def on_startup(self, *, command: str, **_: object) -> None:
        """Note what runs. With this hook one plugin lives through all builds while the site is served."""
        self.preview = command == "serve"

    def generate(self, config: MkDocsConfig, progress: catalogue.Progress = lambda *_: None) -> None:
        """Compute the generated site; Faults of all molds together."""
        ours, store, language = self.config, Store(Path(self.config.store)), _language(config)
        where = workers.choose(ours.workers, ours.cluster)
        molds = catalogue.build_all(Path(ours.molds), store, progress, where)
        self.generated = site_map.generate(molds, language, config.site_url or "", config.site_name)
        self.fresh = True

    def on_config(self, config: MkDocsConfig) -> MkDocsConfig:
        """Watch the molds, word the frame, and date the build by nothing that changes between builds."""
        os.environ.setdefault("SOURCE_DATE_EPOCH", site_map.FIXED_DATE)
        try:
            self.refuse_to_replace(config)
            config.extra["shell"] = site_map.shell(_language(config), config.theme.dirs, self.preview)
        except problems.Faults as faults:
            raise PluginError(str(faults)) from None
        beside = Path(self.config.molds).parent
        own = (str(own) for kind in own_tables.KINDS if (own := beside / kind.folder).is_dir())
        config.watch += [self.config.molds, *own]
        return config

    def refuse_to_replace(self, config: MkDocsConfig, given: Path | None = None) -> Path:
        """Where the site's folder really lies; Faults, which call it as given, when it may not be emptied."""
        read = (config.config_file_path, config.docs_dir, *config.theme.dirs[:1], self.config.molds)
        sources = (Path(source).absolute() for source in (*read, self.config.store, ".") if source)
        return site_folder.refuse(Path(config.site_dir), sources, given)

    def on_pre_build(self, *, config: MkDocsConfig) -> None:
        """Compute before MkDocs empties the site's folder, so that faults leave the old site untouched.

        While the site is served, faults are told and the last good pages stay.
        """
        try:
            if not self.fresh:
                self.generate(config)
        except problems.Faults as faults:
            if self.generated is None:
                raise PluginError(str(faults)) from None
            sys.stderr.write(f"{faults}\n")
        self.fresh = False

    def on_files(self, files: Files, *, config: MkDocsConfig) -> Files:
        """Add what was generated: text by content, files by path, all of it outside the navigation."""
        for uri, thing in (self.generated or {}).items():
            file = _file(config, uri, thing)
            file.edit_uri = site_map.edit_uri(uri, Path(self.config.molds), Path(config.docs_dir))
            files.append(file)
        return files

    def on_page_markdown(self, markdown: str, *, page: Page, **_: object) -> str:
        """Take a generated page's body aside: it is HTML already, and nothing in it is Markdown."""
        if not page.file.generated_by:
            return markdown
        page.meta["html"] = markdown
        return ""

    def on_page_content(self, html: str, *, page: Page, **_: object) -> str:
        """Give a generated page its body, and MkDocs the places in it that links may lead to."""
        if "html" not in page.meta:
            return html
        body = str(page.meta["html"])
        page.present_anchor_ids = set(_ANCHOR.findall(body))
        return body

    def on_post_build(self, *, config: MkDocsConfig) -> None:
        """Leave the mark by which the next build knows the folder as its own."""
        site_folder.mark(Path(config.site_dir))


def _file(config: MkDocsConfig, uri: str, thing: str | Path | Checked) -> File:
    """What is generated, as MkDocs takes it."""
    kind = CheckedFile if isinstance(thing, Checked) else File
    where = thing.folder / thing.file if isinstance(thing, Checked) else thing
    source = {"abs_src_path": str(where)} if isinstance(where, Path) else {"content": where}
    file: File = kind.generated(config, uri, inclusion=InclusionLevel.NOT_IN_NAV, **source)
    if isinstance(file, CheckedFile) and isinstance(thing, Checked):
        file.checked = thing
    return file


def build_site(config_file: Path, site_dir: Path | None, progress: catalogue.Progress) -> Path:
    """Build the site beside its place and swap it in whole; Faults, or MkDocs' abort, leave the old one."""
    config = load_config(str(config_file), strict=True, site_dir=str(site_dir) if site_dir else None)
    plugin = config.plugins.get("shotbook")
    if not isinstance(plugin, ShotbookPlugin):
        raise _misconfigured(config_file, "plugins", "the plugin shotbook is not listed", "add - shotbook")
    place = Path(config.site_dir)
    really = plugin.refuse_to_replace(config, site_dir)
    plugin.generate(config, progress)
    with disk.replacing(really) as folder:
        config.site_dir = str(folder)
        mkdocs.commands.build.build(config)
    return place


def _language(config: MkDocsConfig) -> str:
    """The language of the site; Faults when the theme is another, or the language has no sentences."""
    file = Path(config.config_file_path or "mkdocs.yml")
    if config.theme.name != "material":
        what = f"the theme {config.theme.name} has no place for these pages"
        raise _misconfigured(file, "theme.name", what, "write name: material")
    language = config.theme["language"]
    if language not in site_map.languages():
        what = f"there are no sentences in the language {language}"
        raise _misconfigured(file, "theme.language", what, f"choose {' or '.join(site_map.languages())}")
    return str(language)


def _misconfigured(file: Path, key: str, what: str, remedy: str) -> problems.Faults:
    """A fault of mkdocs.yml."""
    where = problems.Where(file=str(file), key=key)
    return problems.Faults([problems.Problem(where=where, what=what, remedy=remedy)])


def serve(config_file: Path, address: str | None = None) -> None:
    """Serve the site, built again whenever a page, a spec or an STL changes, until interrupted."""
    mkdocs.commands.serve.serve(config_file=str(config_file), dev_addr=address)
