"""Our style sheets for another's page: every rule holds inside our own element only, in the page's own unit.

On our own theme the sheets stand as they are. Elsewhere a page is ours only inside an element of the class
`sb-book`; whatever the sheets say of the whole document is said of that element, and a size in `rem`, which
Material makes 20 px, becomes a multiple of `--sb-rem`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

BOOK = ".sb-book"
PAGE = ".sb-page"
_COMMENT = re.compile(r"/\*.*?\*/", re.S)
_REM = re.compile(r"(?<![\w.-])(-?\d*\.?\d+)rem\b")
_MOTION = re.compile(r"(animation: )(?!none)")
_FIRST = re.compile(r"(?:[^\s>+~\[(]|\[[^]]*]|\((?:[^()]|\([^()]*\))*\))+")
_DARK = '[data-light="dark"]'
_NOT_LIGHT = ':not([data-light="light"])'
_OF_DOCUMENT = re.compile(r"(?::root|\.js|\.no-js)")
_OF_FRAME = ("html", "body", "main")

MATERIAL = """
.sb-book, [data-md-color-scheme] .sb-book { --sb-rem: .8rem; --paper: var(--md-default-bg-color);
  --panel: var(--md-code-bg-color); --ink: var(--md-typeset-color); }
.sb-book .sb-bar { display: flex; justify-content: flex-end; }
.sb-book .sb-field, .sb-book .sb-choose label { min-width: 0; grid-template-columns: minmax(0, 1fr); }
"""
"""What our pages take over from a Material site: its ground, its ink, its size."""
PLAIN = """
.sb-book { --sb-rem: 1rem; max-width: 78rem; margin: 0 auto; padding: 1rem; background: var(--paper);
  color: var(--ink); font: 1.0625rem/1.55 system-ui, "Segoe UI", "Noto Sans", sans-serif; }
.sb-book .sb-bar { display: flex; justify-content: flex-end; }
.sb-book, .sb-book * { box-sizing: border-box; }
.sb-book a { color: var(--water); }
.sb-book figure { margin: 1rem 0; }
.sb-book button { color: inherit; background: none; font: inherit; }
"""
"""What our pages need where no theme gives them anything."""


def scoped(sheet: str, *, material: bool) -> str:
    """The style sheet for inside `.sb-book`; `material` is for a site of that theme, else for a bare page.

    >>> scoped(":root { --ink: red } main { margin: 1rem } .md-typeset h2 { gap: 1rem }", material=True)
    '.sb-book { --ink: red }\\n.sb-book.md-typeset h2 { gap: calc(1 * var(--sb-rem)) }\\n'
    """
    return "".join(f"{rule}\n" for rule in _rules(_COMMENT.sub("", sheet), material))


def sheet(text: str, *, material: bool) -> str:
    """A whole style sheet for inside `.sb-book`, with what it needs round it."""
    return scoped(text, material=material) + (MATERIAL if material else PLAIN)


def _rules(text: str, material: bool) -> Iterator[str]:
    for head, body in _blocks(text):
        if head.startswith("@keyframes"):
            yield f"{head.replace('@keyframes ', '@keyframes sb-')} {{{body}}}"
        elif head.startswith("@"):
            inside = list(_rules(body, material))
            if inside and not (material and "prefers-color-scheme" in head):
                yield f"{head} {{\n{chr(10).join(inside)}\n}}"
        elif selectors := [one for each in _listed(head) if (one := _selector(each, material))]:
            sized = _REM.sub(r"calc(\1 * var(--sb-rem))", body)
            named = _MOTION.sub(r"\1sb-", sized)
            yield f"{', '.join(selectors)} {{{named}}}"


def _blocks(text: str) -> Iterator[tuple[str, str]]:
    """Each rule of a sheet: what stands before its braces, and what stands in them."""
    start = 0
    while (opened := text.find("{", start)) >= 0:
        depth, at = 1, opened + 1
        while depth:
            depth += {"{": 1, "}": -1}.get(text[at], 0)
            at += 1
        yield text[start:opened].strip(), text[opened + 1 : at - 1]
        start = at


def _listed(head: str) -> list[str]:
    """The selectors of a list; a comma in brackets separates none."""
    return [one.strip() for one in re.split(r",(?![^()]*\))", head)]


def _selector(selector: str, material: bool) -> str:
    """The selector inside our element; empty for what is said of the frame alone."""
    found = _FIRST.match(selector)
    first, rest = (found[0], selector[found.end() :]) if found else ("", selector)
    if _DARK in first:
        return f'[data-md-color-scheme="slate"] {BOOK}{rest}' if material else ""
    if first.startswith(":root") and (first == ":root" or _NOT_LIGHT in first):
        return f"{BOOK}{rest}"
    if _OF_DOCUMENT.match(first):
        return f"{first} {BOOK}{rest}"
    if first.startswith("main"):
        whole = f"{PAGE}{first.removeprefix('main').replace('.md-typeset', '')}{rest}"
        return f"{BOOK} {whole}" if whole != PAGE else ""
    if first in _OF_FRAME:
        return ""
    return f"{BOOK}{selector}" if first.startswith(".md-typeset") else f"{BOOK} {selector}"
