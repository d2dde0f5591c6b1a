"""Our pages on another's site: an element of our own brings styles and scripts; links lead where they should.

A generated page links to others as if the site were ours alone: `../bench.html`, seen from where the
generator put it. `relinked` makes each of these the address that the site really gives its target.
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Callable, Mapping, Sequence
from html import escape
from pathlib import Path
from urllib.parse import unquote

from builder.site import scoped_style

MARK = "<!-- shotbook -->"
"""Where a page of the user's has our page of the same address put in."""
ASSETS = Path(__file__).parent.parent / "theme" / "assets"
STYLED = ("bench", "compare")
"""Scripts that bring a style sheet, which has their name."""
SHEETS = {
    "shotbook.css": scoped_style.sheet,
    **{f"{name}.css": scoped_style.scoped for name in (*STYLED, "viewer")},
}
_LINK = re.compile(r'\b(href|src|srcset)="([^"]*)"')
_ELSEWHERE = re.compile(r"[a-zA-Z][\w+.-]*:|//|#|$")
_HEAD = re.compile(r"<h1\b[^>]*>.*?</h1>\s*", re.S)
_DATA = re.compile(r'<script type="application/ld\+json">.*?</script>', re.S)
SHELL = ("units", "metric", "us", "both", "theme")
"""Words of the frame that assets/shotbook.js takes, in its order."""


def wrapped(
    body: str, base: str, shell: Mapping[str, str], *, scripts: Sequence[str] = (), folders: bool = False
) -> str:
    """A page's body in its own element, with style sheet, switches, caution and scripts.

    `base` is the way from the page to the first of ours, `shell` the words of the frame, `scripts` the names
    of those that the page needs beside the shared one, `folders` true where a page's address is a folder.
    """
    words = "|".join(shell[name] for name in SHELL)
    shown = body.replace(" hidden>", " hidden data-search-exclude>")
    data = {"base": base, "words": words, "taken-back": shell["withdrawn"], "then": " ".join(scripts)}
    told = "".join(f' data-{name}="{escape(value)}"' for name, value in data.items() if value)
    told += " data-folders" if folders else ""
    sheets = "".join(
        f'<link rel="stylesheet" href="{escape(base)}/assets/{name}.css">\n'
        for name in ("shotbook", *(script for script in scripts if script in STYLED))
    )
    return (
        f'<div class="sb-book md-typeset" lang="{shell["language"]}">\n'
        f'{sheets}<div class="sb-bar"></div>\n'
        f'<div class="sb-page">\n{shown}\n</div>\n'
        f'<p class="sb-caution">{escape(shell["caution"])}</p>\n</div>\n'
        f'<script src="{escape(base)}/assets/shotbook.js"{told}></script>\n'
    )


def without_head(body: str) -> str:
    """A page's body without its heading, for a page that has one of its own.

    >>> without_head('<div><h1 id="a">Molds</h1> <p>Four.</p></div>')
    '<div><p>Four.</p></div>'
    """
    return _HEAD.sub("", body, count=1)


def apart(body: str) -> tuple[str, str]:
    """A page's body, and what it tells search engines, which a theme that exchanges pages would run.

    >>> apart('<p>a</p><script type="application/ld+json">{}</script>')
    ('<p>a</p>', '<script type="application/ld+json">{}</script>')
    """
    found = _DATA.search(body)
    return (body.replace(found[0], ""), found[0]) if found else (body, "")


def relinked(body: str, uri: str, find: Callable[[str], str | None]) -> str:
    """The body of the page that the generator calls `uri` (`molds/a.md`), its links as the site has them.

    `find` gives the address of what the generator calls so, seen from the page; None for what is not ours.

    >>> relinked('<a href="../bench.html#a">', "molds/a.md", {"bench.md": "../../bench/"}.get)
    '<a href="../../bench/#a">'
    """
    folder = posixpath.dirname(uri)

    def one(address: str) -> str:
        if _ELSEWHERE.match(address):
            return address
        path, mark, place = address.partition("#")
        named = posixpath.normpath(posixpath.join(folder, unquote(path)))
        page = find(f"{named.removesuffix('.html')}.md") if named.endswith(".html") else None
        found = page or find(named)
        return f"{found}{mark}{place}" if found else address

    def link(match: re.Match[str]) -> str:
        name, value = match.groups()
        if name != "srcset":
            return f'{name}="{one(value)}"'
        sized = (part.rpartition(" ") for part in value.split(", "))
        return 'srcset="{}"'.format(", ".join(f"{one(address)} {width}" for address, _, width in sized))

    return _LINK.sub(link, body)


def assets(*, material: bool) -> dict[str, str | Path]:
    """Styles, scripts and icons by address, for a site whose theme is not ours."""
    found: dict[str, str | Path] = {f"assets/{file.name}": file for file in sorted(ASSETS.iterdir())}
    for name, whole in SHEETS.items():
        found[f"assets/{name}"] = whole((ASSETS / name).read_text(encoding="utf-8"), material=material)
    return found
