"""MkDocs: options, hooks, and the two commands that run it. What is published is decided in site.py."""

from __future__ import annotations

import os
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

from builder.base import disk, problems, workers
from builder.base.store import Store
from builder.site import catalogue, site_map

os.environ.setdefault("NO_MKDOCS_2_WARNING", "1")  # the theme's own switch for its notice


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
        ours, store, language = self.config, Store(Path(self.config.store)), config.theme["language"]
        where = workers.choose(ours.workers, ours.cluster)
        molds = catalogue.build_all(Path(ours.molds), store, progress, where)
        self.generated = site_map.generate(molds, language, config.site_url or "", config.site_name)
        self.fresh = True

    def on_config(self, config: MkDocsConfig) -> MkDocsConfig:
        """Watch the molds, word the frame, and date the build by nothing that changes between builds."""
        os.environ.setdefault("SOURCE_DATE_EPOCH", site_map.FIXED_DATE)
        config.watch.append(self.config.molds)
        config.extra["shell"] = site_map.shell(config.theme["language"], config.theme.dirs, self.preview)
        return config

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
            source = {"abs_src_path": str(thing)} if isinstance(thing, Path) else {"content": thing}
            file = File.generated(config, uri, inclusion=InclusionLevel.NOT_IN_NAV, **source)
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
        """Give a generated page its body."""
        return str(page.meta.get("html", html))


def build_site(config_file: Path, site_dir: Path | None, progress: catalogue.Progress) -> Path:
    """Build the site beside its place and swap it in whole; Faults, or MkDocs' abort, leave the old one."""
    config = load_config(str(config_file), strict=True, site_dir=str(site_dir) if site_dir else None)
    place, plugin = Path(config.site_dir), config.plugins["shotbook"]
    assert isinstance(plugin, ShotbookPlugin)
    plugin.generate(config, progress)
    with disk.replacing(place) as folder:
        config.site_dir = str(folder)
        mkdocs.commands.build.build(config)
    return place


def serve(config_file: Path, address: str | None = None) -> None:
    """Serve the site, built again whenever a page, a spec or an STL changes, until interrupted."""
    mkdocs.commands.serve.serve(config_file=str(config_file), dev_addr=address)
