"""Sites that people have already, each with pages of their own, into which a catalogue is to go."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from tests import small_mold

PAGES: Mapping[str, str] = {
    "index.md": "# Roach club\n\nFounded on a jetty. See [the trips](trips/spring.md).\n",
    "trips/spring.md": "---\ntags: [spring]\n---\n# Spring\n\nCold water, <var>slow</var> baits.\n",
    "trips/autumn.md": "# Autumn\n\nLeaves in the line.\n",
    "safety.md": "# Club rules\n\nNobody wades alone.\n",
}
"""The pages of every site, unless it says otherwise."""
MATERIAL = {"name": "material", "font": False}
CATALOGUE = {"path": "catalogue"}
NO_PLACE = (
    "has no place for these pages, which need what Material for MkDocs brings; "
    "write name: material, or name: shotbook for a site of its own."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """One site: its name, its settings, what must come of it."""

    name: str
    theme: Any = field(default_factory=lambda: MATERIAL)
    """The theme."""
    ours: Mapping[str, Any] = field(default_factory=lambda: CATALOGUE)
    """The plugin's options."""
    others: tuple[Any, ...] = ("search",)
    """The other plugins."""
    more: Mapping[str, Any] = field(default_factory=dict)
    """More settings."""
    pages: Mapping[str, str] = field(default_factory=lambda: PAGES)
    files: Mapping[str, str] = field(default_factory=dict)
    """Files beside the pages."""
    needs: tuple[str, ...] = ()
    """Packages that are not ours and must be there."""
    refused: str = ""
    """The sentence with which the build must end; empty where it must not."""
    first: bool = False
    """Whether the plugin is listed before the others."""


SETUPS = (
    Setup(name="Material as it comes, and no menu"),
    Setup(
        name="a nested menu that leads to some of ours",
        more={
            "nav": [
                "index.md",
                {"Trips": [{"Past": ["trips/spring.md", "trips/autumn.md"]}, "safety.md"]},
                {"Molds": ["catalogue/index.md", {"Bench": "catalogue/bench.md"}]},
            ]
        },
    ),
    Setup(
        name="a menu that leads to none of ours, and addresses that are files",
        more={"nav": ["index.md", {"Trips": list(PAGES)[1:]}], "use_directory_urls": False},
    ),
    Setup(
        name="palette, instant loading, tabs, and a subpath",
        theme={
            **MATERIAL,
            "features": ["navigation.instant", "navigation.tabs", "navigation.prune", "toc.integrate"],
            "palette": [
                {"scheme": "default", "toggle": {"icon": "material/weather-night", "name": "dark"}},
                {"scheme": "slate", "toggle": {"icon": "material/weather-sunny", "name": "light"}},
            ],
        },
    ),
    Setup(
        name="overrides, own styles and scripts",
        theme={**MATERIAL, "custom_dir": "overrides"},
        files={
            "overrides/main.html": '{% extends "base.html" %}{% block announce %}Friday{% endblock %}',
            "docs/own.css": ".m { color: red } main { outline: 0 }",
            "docs/own.js": "var figures = 1; let words = 2;",
        },
        more={"extra_css": ["own.css"], "extra_javascript": ["own.js"], "extra": {"shell": "mine"}},
    ),
    Setup(
        name="the catalogue in a page of the user's",
        ours={},
        pages={
            **PAGES,
            "index.md": f"{PAGES['index.md']}\n<!-- shotbook -->\n\nAfter it.\n",
            "safety.md": "# Ours\n\n<!-- shotbook -->\n",
        },
    ),
    Setup(
        name="a page of the user's at the catalogue's address",
        ours={},
        refused="docs/index.md: your file and the catalogue want the same address; write "
        "<!-- shotbook --> where ours is to stand in yours, or give ours a folder with path: catalogue "
        "under plugins: shotbook.",
    ),
    Setup(
        name="a file of the user's at the address of one of ours",
        files={"docs/catalogue/feed.xml": "<mine/>"},
        refused="docs/catalogue/feed.xml: your file and feed.xml want the same address; "
        "give ours a folder with another path under plugins: shotbook.",
    ),
    Setup(
        name="the theme readthedocs",
        theme="readthedocs",
        refused=f"key theme.name: the theme readthedocs {NO_PLACE}",
    ),
    Setup(
        name="the theme of MkDocs",
        theme="mkdocs",
        refused=f"key theme.name: the theme mkdocs {NO_PLACE}",
    ),
    Setup(
        name="a language without sentences",
        theme={**MATERIAL, "language": "fr"},
        refused="key theme.language: there is no translation for the language fr; choose the language of "
        "these pages with language: de or language: en under plugins: shotbook.",
    ),
    Setup(
        name="a French site with English molds",
        theme={**MATERIAL, "language": "fr"},
        ours={**CATALOGUE, "language": "en"},
    ),
    Setup(
        name="molds inside the pages",
        ours={**CATALOGUE, "molds": "docs/molds"},
        refused="key plugins.shotbook.molds: the molds lie in docs, which MkDocs publishes as it is; "
        "move molds beside it.",
    ),
    Setup(
        name="a path that is none",
        ours={"path": "../up"},
        refused="key plugins.shotbook.path: '../up' cannot be the address of a folder of pages; "
        "write small letters, digits and -, such as catalogue.",
    ),
    Setup(
        name="awesome-pages",
        others=("search", "awesome-pages"),
        files={
            "docs/.pages": "nav: [index.md, Molds: catalogue, ...]\n",
            "docs/trips/.pages": "title: All trips\norder: desc\n",
        },
        needs=("mkdocs_awesome_pages_plugin",),
    ),
    Setup(
        name="macros",
        others=("search", "macros"),
        pages={**PAGES, "sum.md": "# Sum\n\nTwo and two: {{ 2 + 2 }}\n"},
        needs=("mkdocs_macros",),
    ),
    Setup(
        name="minify", others=("search", {"minify": {"minify_html": True}}), needs=("mkdocs_minify_plugin",)
    ),
    Setup(
        name="redirects to ours and to the user's",
        others=(
            "search",
            {"redirects": {"redirect_maps": {"old.md": "catalogue/bench.md", "gone.md": "trips/spring.md"}}},
        ),
        needs=("mkdocs_redirects",),
    ),
    Setup(
        name="two languages",
        others=(
            "search",
            {
                "i18n": {
                    "languages": [
                        {"locale": "en", "default": True, "name": "English", "build": True},
                        {"locale": "de", "name": "Deutsch", "build": True},
                    ]
                }
            },
        ),
        pages={**PAGES, "index.de.md": "# Rotaugen\n\nAuf einem Steg entstanden.\n"},
        needs=("mkdocs_static_i18n",),
    ),
    Setup(
        name="two languages and redirects",
        others=(
            "search",
            {
                "i18n": {
                    "languages": [
                        {"locale": "en", "default": True, "name": "English", "build": True},
                        {"locale": "de", "name": "Deutsch", "build": True},
                    ]
                }
            },
            {"redirects": {"redirect_maps": {"old.md": "catalogue/bench.md", "gone.md": "trips/spring.md"}}},
        ),
        pages={**PAGES, "index.de.md": "# Rotaugen\n\nAuf einem Steg entstanden.\n"},
        needs=("mkdocs_static_i18n", "mkdocs_redirects"),
    ),
    Setup(
        name="redirects and two languages, and ours listed first",
        others=(
            "search",
            {"redirects": {"redirect_maps": {"old.md": "catalogue/bench.md", "gone.md": "trips/spring.md"}}},
            {
                "i18n": {
                    "languages": [
                        {"locale": "en", "default": True, "name": "English", "build": True},
                        {"locale": "de", "name": "Deutsch", "build": True},
                    ]
                }
            },
        ),
        pages={**PAGES, "index.de.md": "# Rotaugen\n\nAuf einem Steg entstanden.\n"},
        needs=("mkdocs_static_i18n", "mkdocs_redirects"),
        first=True,
    ),
    Setup(
        name="two languages, and ours listed first",
        others=(
            "search",
            {
                "i18n": {
                    "docs_structure": "folder",
                    "languages": [
                        {"locale": "en", "default": True, "name": "English", "build": True},
                        {"locale": "de", "name": "Deutsch", "build": True},
                    ],
                }
            },
        ),
        pages={
            "en/index.md": PAGES["index.md"].replace("trips/", ""),
            "en/spring.md": PAGES["trips/spring.md"],
            "de/index.md": "# Rotaugen\n\nAuf einem Steg entstanden.\n",
        },
        needs=("mkdocs_static_i18n",),
        first=True,
    ),
    Setup(
        name="all neighbours at once",
        others=(
            "search",
            "awesome-pages",
            "macros",
            "tags",
            {"minify": {"minify_html": True}},
            {"redirects": {"redirect_maps": {"old.md": "catalogue/index.md"}}},
        ),
        needs=("mkdocs_awesome_pages_plugin", "mkdocs_macros", "mkdocs_minify_plugin", "mkdocs_redirects"),
        first=True,
    ),
    Setup(
        name="a site of its own, with the user's logo, icon, colours, menu, search and scripts",
        theme={"name": "shotbook", "logo": "logo.svg", "favicon": "logo.svg"},
        ours={},
        pages={
            **{k: v for k, v in PAGES.items() if k != "safety.md"},
            "index.md": f"{PAGES['index.md']}\n<!-- shotbook -->\n",
        },
        files={
            "docs/logo.svg": '<svg xmlns="http://www.w3.org/2000/svg"><path d="M0 0h9v9z"/></svg>',
            "docs/own.css": ":root { --water: #114488 }",
            "docs/own.js": "document.documentElement.dataset.mine = 1;",
        },
        more={
            "extra_css": ["own.css"],
            "extra_javascript": ["own.js"],
            "copyright": "Roach club, on a jetty",
            "repo_url": "https://example.org/repository",
            "nav": ["index.md", {"Trips": [{"Past": ["trips/spring.md", "trips/autumn.md"]}]}, "bench.md"],
            "use_directory_urls": False,
        },
    ),
    Setup(
        name="the theme of ours in a colour of Material's list, with its switch",
        theme={
            "name": "shotbook",
            "palette": [
                {"scheme": "default", "primary": "deep purple", "toggle": {"icon": "x", "name": "dark"}},
                {"scheme": "slate", "primary": "black"},
            ],
        },
    ),
    Setup(
        name="the theme of ours in a colour that there is not",
        theme={"name": "shotbook", "palette": {"primary": "roach"}},
        refused="key theme.palette.primary: there is no colour roach; write one of red, pink, ",
    ),
    Setup(
        name="the theme of ours in a folder, with addresses that are folders",
        theme={"name": "shotbook", "language": "de"},
        pages=PAGES,
    ),
)


def write(setup: Setup, root: Path, store: Path) -> Path:
    """The site's folder with one small mold; its configuration."""
    options = {"store": str(store), **setup.ours}
    molds = root / str(options.get("molds", "molds"))
    small_mold.write(molds, more="renamed_from: [tiny-bar]\n")
    for name, text in (*((f"docs/{name}", text) for name, text in setup.pages.items()), *setup.files.items()):
        file = root / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
    ours = [{"shotbook": options}]
    plugins = [*ours, *setup.others] if setup.first else [*setup.others, *ours]
    config = {
        "site_name": "Roach club",
        "site_url": "https://example.org/club/",
        "theme": setup.theme,
        "plugins": plugins,
        "validation": {"omitted_files": "ignore"},
        **setup.more,
    }
    file = root / "mkdocs.yml"
    file.write_text(yaml.safe_dump(config, sort_keys=False, allow_unicode=True), encoding="utf-8")
    return file
