"""Where the generated pages will stand: their addresses, as MkDocs gives them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from urllib.parse import urlsplit

ONCE = (
    "index",
    "bench",
    "compare",
    "colours",
    "materials",
    "ladder",
    "safety",
    "method",
    "glossary",
    "requests",
)
"""Pages that there are once, in the order of the menu."""
_EXAMPLE = re.compile(r"(?:.*\.)?(?:example\.(?:org|com|net)|example|invalid)")
"""Names that RFC 2606 keeps for examples."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A site, or the part of it that is ours."""

    root: str = ""
    """Address of the first of our pages, with a stroke at its end; empty where it is not known."""
    folders: bool = False
    """Whether a page's address is a folder (`molds/a/`) instead of a file (`molds/a.html`)."""
    alone: bool = True
    """Whether the theme is ours and the whole site is ours, which then has a worker and a manifest."""

    def page(self, name: str) -> str:
        """The address of a page.

        >>> Place(root="https://example.org/").page("molds/a"), Place(folders=True).page("molds/a")
        ('https://example.org/molds/a.html', 'molds/a/')
        """
        return f"{self.root}{name}{'/' if self.folders else '.html'}"

    def file(self, name: str) -> str:
        """The file that a page becomes.

        >>> Place(folders=True).file("molds/a"), Place(folders=True).file("index"), Place().file("a")
        ('molds/a/index.html', 'index.html', 'a.html')
        """
        first = name == "index" or name.endswith("/index")
        return f"{name}/index.html" if self.folders and not first else f"{name}.html"

    def is_unset(self) -> bool:
        """Whether the address leads nowhere: there is none, or it is one for examples.

        >>> [Place(root=r).is_unset() for r in ("", "https://example.org/", "https://molds.test/")]
        [True, True, False]
        """
        host = urlsplit(self.root).hostname or ""
        return not host or _EXAMPLE.fullmatch(host) is not None
