"""What mkdocs.yml says, as the plugin takes it; a setting that our pages cannot live with is a fault."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any

from mkdocs.config.defaults import MkDocsConfig

from builder.base import problems
from builder.site import sentences, site_map
from builder.site.place import ONCE, Place

_PRIMARY = re.compile(r'data-primary="([a-z-]+)"')
_PATH = re.compile(r"(?:[a-z0-9][a-z0-9_-]*/)*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Where and in what language our pages stand on the site."""

    path: str
    """Folder of our pages in the site, with a stroke at its end; empty for the first."""
    locale: str
    """Folder of the language that is being built, where a plugin builds several; empty for the first."""
    language: str
    place: Place
    primary: str = ""
    """Name of the colour that leads on in our own look, as CSS has it; empty for ours."""

    @property
    def root(self) -> str:
        """Folder of our pages as the visitor sees it."""
        return f"{self.locale}{self.path}"


def read(config: MkDocsConfig, path: str, language: str) -> Settings:
    """The settings; Faults when the theme cannot carry our pages, or when there are no sentences for them.

    `path` and `language` are the plugin's options.
    """
    folder, locale = _path(config, path), _locale(config)
    alone = is_ours(config)
    if not alone and not is_material(config):
        name = config.theme.name or "without a name"
        what = f"the theme {name} has no place for these pages, which need what Material for MkDocs brings"
        raise fault(
            config, "theme.name", what, "write name: material, or name: shotbook for a site of its own"
        )
    root = f"{config.site_url}{locale}{folder}" if config.site_url else ""
    return Settings(
        path=folder,
        locale=locale,
        language=_language(config, language),
        place=Place(root=root, folders=config.use_directory_urls, alone=alone and not f"{locale}{folder}"),
        primary=_primary(config) if alone else "",
    )


def is_ours(config: MkDocsConfig) -> bool:
    """Whether the theme is our own."""
    return any((Path(folder) / "assets" / "shotbook.js").is_file() for folder in config.theme.dirs)


def is_material(config: MkDocsConfig) -> bool:
    """Whether the theme is Material, or a child of it."""
    return bool(site_map.typography(config.theme.dirs))


def with_our_pages(nav: list[Any], title: str, path: str) -> list[Any]:
    """The user's menu; with a section for our pages at its end if none of it leads to any of them."""
    ours = [f"{path}{name}.md" for name in ONCE]
    if set(ours) & set(_leaves(nav)):
        return nav
    return [*nav, {title: ours}]


def fault(config: MkDocsConfig, key: str, what: str, remedy: str) -> problems.Faults:
    """A fault of mkdocs.yml."""
    where = problems.Where(file=config.config_file_path or "mkdocs.yml", key=key)
    return problems.Faults([problems.Problem(where=where, what=what, remedy=remedy)])


def _path(config: MkDocsConfig, given: str) -> str:
    path = f"{given.strip('/')}/".removeprefix("/")
    if not _PATH.fullmatch(path):
        what = f"{given!r} cannot be the address of a folder of pages"
        raise fault(
            config, "plugins.shotbook.path", what, "write small letters, digits and -, such as catalogue"
        )
    return path


def _locale(config: MkDocsConfig) -> str:
    """Folder of the language, if mkdocs-static-i18n builds one after the other."""
    i18n: Any = config.plugins.get("i18n")
    if i18n is None or getattr(i18n, "is_default_language_build", True):
        return ""
    return f"{i18n.current_language}/"


def _language(config: MkDocsConfig, chosen: str) -> str:
    known = sentences.languages()
    language = str(chosen or config.theme.get("language") or config.theme.locale.language)
    if language in known:
        return language
    key = "plugins.shotbook.language" if chosen else "theme.language"
    what = f"there is no translation for the language {language}"
    others = " or ".join(f"language: {one}" for one in known)
    raise fault(
        config, key, what, f"choose the language of these pages with {others} under plugins: shotbook"
    )


def _primary(config: MkDocsConfig) -> str:
    """The colour named by the theme's palette, the first if it has several; Faults when we know none."""
    told: Any = config.theme.get("palette")
    first = told[0] if isinstance(told, list) and told else told
    name = str(first.get("primary") or "") if isinstance(first, dict) else ""
    if name in ("", "custom"):
        return ""
    named = name.replace(" ", "-")
    if named in colours():
        return named
    what = f"there is no colour {name}"
    remedy = f"write one of {', '.join(colours())}, or give your own in a file of extra_css"
    raise fault(config, "theme.palette.primary", what, remedy)


@cache
def colours() -> tuple[str, ...]:
    """The names that our own look knows colours by."""
    sheet = resources.files("builder").joinpath("theme", "assets", "palette.css")
    return tuple(dict.fromkeys(_PRIMARY.findall(sheet.read_text(encoding="utf-8"))))


def _leaves(nav: Any) -> Iterator[str]:  # noqa: ANN401 - as YAML has it
    """The addresses in a menu."""
    if isinstance(nav, str):
        yield nav
    elif isinstance(nav, dict):
        for value in nav.values():
            yield from _leaves(value)
    elif isinstance(nav, list):
        for value in nav:
            yield from _leaves(value)
