"""MkDocs: options, hooks, and the two commands that run it. `builder.site` decides what is published."""

from __future__ import annotations

import os
import re
import sys
import tempfile
import threading
from collections.abc import Mapping
from importlib import import_module
from pathlib import Path

import mkdocs.commands.build
import mkdocs.commands.serve
from mkdocs.config import Config, config_options, load_config
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import PluginError
from mkdocs.plugins import BasePlugin, CombinedEvent, event_priority
from mkdocs.structure.files import Files
from mkdocs.structure.pages import Page
from mkdocs.utils import get_relative_url
from mkdocs.utils.meta import get_data

from builder.base import disk, problems, site_folder, workers
from builder.base.store import Store
from builder.plugin import files as published
from builder.plugin import settings
from builder.plugin.last_site import LastSite
from builder.site import catalogue, embedding, site_map
from builder.site.offline import Generated
from builder.spec import own_tables

_ANCHOR = re.compile(r'\bid="([^"]+)"')
_LAST = -200
"""Priority of what must see the work of all other plugins; those that translate say -100."""
os.environ.setdefault("NO_MKDOCS_2_WARNING", "1")  # the theme's own switch for its notice


class Options(Config):  # type: ignore[no-untyped-call]
    """The plugin's options in mkdocs.yml."""

    molds = config_options.Dir(exists=True, default="molds")
    """Where the molds lie."""
    store = config_options.Dir(default=".shotbook")
    """Where results are kept."""
    path = config_options.Type(str, default="")
    """Folder of the site that our pages stand in; the whole site without it."""
    language = config_options.Type(str, default="")
    """Language of our pages; the theme's without it."""
    workers = config_options.Type(int, default=0)
    """Processes that read and draw; below 1 one on each core, as far as the memory reaches."""
    cluster = config_options.Type(str, default="")


class ShotbookPlugin(BasePlugin[Options]):  # type: ignore[no-untyped-call]
    """Adds the generated pages and files to the site."""

    molds: catalogue.Catalogue | None = None
    fresh = False
    """Whether the molds were read for this build."""
    here: settings.Settings
    shell: Mapping[str, str]
    files: published.Published
    last: LastSite | None = None
    """The site that is replaced; None where MkDocs has emptied its folder before."""

    preview = False
    """Whether pages are shown while they are written, by `shotbook serve`."""

    def on_startup(self, *, command: str, **_: object) -> None:
        """Note what runs. With this hook one plugin lives through all builds while the site is served."""
        self.preview = command == "serve"

    def read(self, progress: catalogue.Progress = lambda *_: None) -> Store:
        """Read the molds; the store that has them; Faults of all of them together."""
        ours, store = self.config, Store(Path(self.config.store))
        where = workers.choose(ours.workers, ours.cluster)
        self.molds = catalogue.build_all(Path(ours.molds), store, progress, where)
        self.fresh = True
        return store

    def check(self, config: MkDocsConfig) -> settings.Settings:
        """What mkdocs.yml says; Faults when our pages cannot live with it."""
        molds, docs = Path(self.config.molds).resolve(), Path(config.docs_dir).resolve()
        if docs in (molds, *molds.parents):
            what = f"the molds lie in {Path(config.docs_dir).name}, which MkDocs publishes as it is"
            remedy = f"move {molds.name} beside it"
            raise settings.fault(config, "plugins.shotbook.molds", what, remedy)
        return settings.read(config, self.config.path, self.config.language)

    @event_priority(_LAST)
    def on_config(self, config: MkDocsConfig) -> MkDocsConfig:
        """Watch the molds, word the frame, and date the build by nothing that changes between builds."""
        os.environ.setdefault("SOURCE_DATE_EPOCH", site_map.FIXED_DATE)
        try:
            self.refuse_to_replace(config)
            self.here = self.check(config)
        except problems.Faults as faults:
            raise PluginError(str(faults)) from None
        self.shell = site_map.shell(self.here.language, config.theme.dirs, self.preview)
        config.extra["shotbook"] = {**self.shell, "path": self.here.root, "styled": embedding.STYLED}
        config.extra["shotbook"]["primary"] = self.here.primary
        if self.here.place.alone:
            config.extra["shotbook"]["worker"] = "yes"
        if config.nav is not None:
            config.nav = settings.with_our_pages(config.nav, self.shell["catalogue"], self.here.path)
        beside = Path(self.config.molds).parent
        own = (str(own) for kind in own_tables.KINDS if (own := beside / kind.folder).is_dir())
        config.watch += [folder for folder in (self.config.molds, *own) if folder not in config.watch]
        return config

    def refuse_to_replace(self, config: MkDocsConfig, given: Path | None = None) -> Path:
        """Where the site's folder really lies; Faults, which call it as given, when it may not be emptied."""
        read = (config.config_file_path, config.docs_dir, *config.theme.dirs[:1], self.config.molds)
        sources = (Path(source).absolute() for source in (*read, self.config.store, ".") if source)
        return site_folder.refuse(Path(config.site_dir), sources, given)

    def on_pre_build(self, **_: object) -> None:
        """Read before MkDocs empties the site's folder, so that faults leave the old site untouched.

        While the site is served, faults are told and the last good pages stay.
        """
        try:
            if not self.fresh:
                self.read()
        except problems.Faults as faults:
            if self.molds is None:
                raise PluginError(str(faults)) from None
            sys.stderr.write(f"{faults}\n")
        self.fresh = False

    def generate(self, config: MkDocsConfig) -> Generated:
        """Everything of ours, by address seen from our first page."""
        if self.molds is None:
            return {}
        found = site_map.generate(self.molds, self.here.language, self.here.place, config.site_name)
        if settings.is_ours(config) and not self.here.root:
            return found
        return {**embedding.assets(material=not settings.is_ours(config)), **found}

    def put(self, files: Files, config: MkDocsConfig) -> Files:
        """Add what was generated to the site; nothing of the user's is replaced."""
        sources = Path(self.config.molds), Path(config.docs_dir)
        try:
            found = self.generate(config)
            self.files = published.put(files, found, config, self.here, sources, last=self.last)
        except problems.Faults as faults:
            raise PluginError(str(faults)) from None
        return files

    @event_priority(100)
    def _put_first(self, files: Files, *, config: MkDocsConfig) -> Files:
        """Add ours before other plugins look for pages, which is where they expect them."""
        return files if "i18n" in config.plugins else self.put(files, config)

    @event_priority(_LAST)
    def _put_last(self, files: Files, *, config: MkDocsConfig) -> Files:
        """Add ours after a plugin that makes each file anew from what lies in docs_dir, where ours do not.

        A plugin that has listed all pages before, to lead from old addresses to them, lists them again.
        """
        if "i18n" not in config.plugins:
            return files
        files = self.put(files, config)
        if redirects := config.plugins.get("redirects"):
            redirects.on_files(files, config=config)
        return files

    on_files = CombinedEvent(_put_first, _put_last)

    @event_priority(100)
    def on_page_markdown(self, markdown: str, *, page: Page, config: MkDocsConfig, **_: object) -> str:
        """Take a generated page's body aside: it is HTML already, and nothing in it is Markdown."""
        uri = self.files.ours.get(page.file.src_uri)
        if uri is None:
            return markdown
        self.files.bodies[page.file.src_uri] = markdown
        if "image" in page.meta:
            page.meta["image"] = f"{self.here.place.root}{page.meta['image']}"
        if not settings.is_ours(config):
            page.meta.setdefault("hide", ["toc"])
        return ""

    @event_priority(-100)
    def on_page_content(self, html: str, *, page: Page, config: MkDocsConfig, **_: object) -> str:
        """Give a generated page its body, and MkDocs the places in it that links may lead to."""
        src = page.file.src_uri
        uri = self.files.ours.get(src)
        if uri is not None:
            body = self.body(self.files.bodies.pop(src), uri, page, config)
            page.present_anchor_ids = set(_ANCHOR.findall(body))
            return body
        if src not in self.files.guests:
            return html
        uri, text = self.files.guests[src]
        markdown, meta = get_data(text)
        page.meta.setdefault("scripts", meta.get("scripts", []))
        body = self.body(embedding.without_head(markdown), uri, page, config)
        return html.replace(embedding.MARK, body, 1)

    def body(self, text: str, uri: str, page: Page, config: MkDocsConfig) -> str:
        """A generated page's body as this site shows it."""
        linked = embedding.relinked(text, uri, lambda name: self.files.address(name, page))
        if settings.is_ours(config):
            return linked
        linked, self.files.structured[page.file.src_uri] = embedding.apart(linked)
        base = get_relative_url(self.here.root or ".", page.url).rstrip("/") or "."
        scripts, folders = page.meta.get("scripts", []), self.here.place.folders
        return embedding.wrapped(linked, base, self.shell, scripts=scripts, folders=folders)

    def on_post_page(self, output: str, *, page: Page, config: MkDocsConfig) -> str:
        """Tell search engines of a mold in the head of its page, where no theme runs what it finds."""
        told = "" if settings.is_ours(config) else self.files.structured.pop(page.file.src_uri, "")
        return output.replace("</head>", f"{told}</head>", 1)

    def on_post_build(self, *, config: MkDocsConfig) -> None:
        """Leave the mark by which the next build knows the folder as its own."""
        site_folder.mark(Path(config.site_dir))


def build_site(config_file: Path, site_dir: Path | None, progress: catalogue.Progress) -> Path:
    """Build the site beside its place and swap it in whole; Faults, or MkDocs' abort, leave the old one."""
    config = load_config(str(config_file), strict=True, site_dir=str(site_dir) if site_dir else None)
    plugin = config.plugins.get("shotbook")
    if not isinstance(plugin, ShotbookPlugin):
        raise settings.fault(config, "plugins", "the plugin shotbook is not listed", "add - shotbook")
    place = Path(config.site_dir)
    really = plugin.refuse_to_replace(config, site_dir)
    if "i18n" not in config.plugins:  # which chooses the language later
        plugin.check(config)
    plugin.last = LastSite(really, plugin.read(progress))
    with disk.replacing(really) as folder:
        config.site_dir = str(folder)
        mkdocs.commands.build.build(config)
    plugin.last.keep()
    return place


def serve(config_file: Path, address: str | None = None) -> None:
    """Serve the site, built again whenever a page, a spec or an STL changes, until interrupted."""
    threading.Thread(target=_made_ready, daemon=True).start()
    with disk.scratch() as folder:
        tempfile.tempdir = str(folder)  # MkDocs builds there; a killed run's folder is swept by the next
        mkdocs.commands.serve.serve(config_file=str(config_file), dev_addr=address)


def _made_ready() -> None:
    """Import the stages, which a build that changes nothing does without, so that no save waits for it."""
    for stage in ("advice", "pictures"):
        import_module(f"builder.{stage}")
