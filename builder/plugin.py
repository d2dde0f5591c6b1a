"""MkDocs: options, hooks, and the two commands that run it. What is published is decided in site.py."""

from __future__ import annotations

import logging
import os
from collections.abc import Callable, Mapping
from pathlib import Path

from mkdocs.commands.build import build
from mkdocs.commands.serve import serve as mkdocs_serve
from mkdocs.config import Config, load_config
from mkdocs.config import config_options as option
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import PluginError
from mkdocs.plugins import BasePlugin
from mkdocs.structure.files import File, Files, InclusionLevel

from builder import catalogue, disk, site
from builder.problems import Faults
from builder.store import Store

FIXED_DATE = "315532800"
"""1980-01-01, the date that a build carries when SOURCE_DATE_EPOCH is not set: same inputs, same bytes."""


class Options(Config):  # type: ignore[no-untyped-call]
    """The plugin's options in mkdocs.yml."""

    molds = option.Dir(exists=True, default="molds")
    """Folder that holds one folder for each mold."""

    store = option.Dir(default=".shotbook")
    """Folder where results are kept between builds; safe to delete."""


class ShotbookPlugin(BasePlugin[Options]):  # type: ignore[no-untyped-call]
    """Adds the generated pages and files to the site."""

    progress: Callable[[int, int, str], None] = staticmethod(lambda *_: None)
    generated: Mapping[str, str | Path] | None = None

    def generate(self, config: MkDocsConfig) -> None:
        """Compute the generated site; Faults of all molds together."""
        molds = catalogue.build_all(Path(self.config.molds), Store(Path(self.config.store)), self.progress)
        self.generated = site.generate(
            molds, config.theme["language"], config.site_url or "", config.site_name
        )

    def on_config(self, config: MkDocsConfig) -> MkDocsConfig:
        """Watch the molds, word the frame, and date the build by nothing that changes between builds."""
        os.environ.setdefault("SOURCE_DATE_EPOCH", FIXED_DATE)
        config.watch.append(self.config.molds)
        config.extra["shell"] = site.shell(config.theme["language"])
        return config

    def on_pre_build(self, *, config: MkDocsConfig) -> None:
        """Compute before MkDocs empties the site's folder, so that faults leave the old site untouched."""
        try:
            if self.generated is None:
                self.generate(config)
        except Faults as faults:
            raise PluginError(str(faults)) from None

    def on_files(self, files: Files, *, config: MkDocsConfig) -> Files:
        """Add what was generated: text by content, files by path, all of it outside the navigation."""
        for uri, thing in (self.generated or {}).items():
            if isinstance(thing, Path):
                file = File.generated(config, uri, abs_src_path=str(thing))
            else:
                file = File.generated(config, uri, content=thing, inclusion=InclusionLevel.NOT_IN_NAV)
            file.edit_uri = self.edit_uri(uri, config)
            files.append(file)
        return files

    def edit_uri(self, uri: str, config: MkDocsConfig) -> str | None:
        """Where the mold.yaml of a mold's page lies, seen from docs_dir; None for other pages."""
        kind, _, rest = uri.partition("/")
        spec = Path(self.config.molds, rest.partition("/")[0].removesuffix(".md"), "mold.yaml")
        made = kind == "molds" and spec.exists()
        return Path(os.path.relpath(spec, config.docs_dir)).as_posix() if made else None


def build_site(config_file: Path, site_dir: Path | None, progress: Callable[[int, int, str], None]) -> Path:
    """Build the site beside its place and swap it in whole; Faults, or MkDocs' abort, leave the old one."""
    os.environ.setdefault("NO_MKDOCS_2_WARNING", "1")
    logging.basicConfig(level=logging.WARNING, format="%(message)s")
    config = load_config(str(config_file), strict=True, site_dir=str(site_dir) if site_dir else None)
    place, plugin = Path(config.site_dir), config.plugins["shotbook"]
    assert isinstance(plugin, ShotbookPlugin)
    plugin.progress = progress
    plugin.generate(config)
    disk.mend_swap(place)
    with disk.making_beside(place) as folder:
        config.site_dir = str(folder / "site")
        build(config)
        disk.swap_in(folder / "site", place)
    return place


def serve(config_file: Path, address: str | None = None) -> None:
    """Serve the site, built again whenever a page, a spec or an STL changes, until interrupted."""
    os.environ.setdefault("NO_MKDOCS_2_WARNING", "1")
    mkdocs_serve(config_file=str(config_file), dev_addr=address)
