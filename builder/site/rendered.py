"""HTML of generated pages: kept by their Markdown, for turning one into the other is most of a build's cost;
and made small before it is written."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import minify_html

from builder.base.store import Store, digest_of, library_version

STAGE = "html"


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """An entry of a page's table of contents, with those below it."""

    id: str
    name: str
    level: int
    children: tuple[Heading, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Html:
    """A page as the site generator made it of Markdown."""

    text: str
    anchors: tuple[str, ...]
    headings: tuple[Heading, ...]


def compact(page: str) -> str:
    """The page without what a browser does not need: indentation, closing tags and quotes that HTML omits.

    >>> compact("<ul>\\n  <li>one</li>\\n  <li>two</li>\\n</ul>")
    '<ul><li>one<li>two</ul>'
    """
    return minify_html.minify(page)


def headings(links: Iterable[Any]) -> tuple[Heading, ...]:
    """A table of contents as records; each link has an id, a title, a level and children."""
    return tuple(
        Heading(id=link.id, name=link.title, level=link.level, children=headings(link.children))
        for link in links
    )


class Rendered:
    """The pages of one build; `settings` is whatever the HTML depends on beside the Markdown."""

    def __init__(self, store: Store, settings: Iterable[str]) -> None:
        """Nothing is looked up yet."""
        self.store = store
        self.settings = (*settings, *(library_version(name) for name in ("markdown", "mkdocs")))
        self._keys: dict[str, str] = {}

    def known(self, uri: str, markdown: str) -> bool:
        """True when this Markdown was turned into HTML before, so that there is no need to.

        A page with links in Markdown is turned each time, for its links are checked meanwhile.
        """
        self._keys[uri] = digest_of(uri, markdown, *self.settings)
        return "](" not in markdown and self.store.has(STAGE, self._keys[uri])

    def html(self, uri: str, text: str, anchors: Iterable[str], links: Iterable[Any]) -> Html:
        """The page's HTML: what is kept, or what was made now with its anchors and table of contents."""
        made = Html(text=text, anchors=tuple(sorted(anchors)), headings=headings(links))
        if uri not in self._keys:
            return made
        return self.store.keep(STAGE, self._keys[uri], Html, lambda _: made)[0]
