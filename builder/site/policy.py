"""What a page may load and run, told to the browser in the page itself (Content Security Policy, level 3).

No text of a mold is ever code: the builder escapes it, the scripts place it as text, and should both fail,
the browser refuses by this policy. Scripts come from the site's own files; of those written into a page
only the one whose digest is told runs. Where a browser knows Trusted Types, it also refuses every markup
made of text, and every script address that has not passed assets/shotbook.js.
"""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Sequence
from html import escape

_SITE = (
    "default-src 'none'",
    "script-src 'self'",
    "style-src 'self'",
    "img-src 'self' data:",
    "font-src 'self'",
    "connect-src 'self'",
    "worker-src 'self'",
    "manifest-src 'self'",
    "object-src 'none'",
    "frame-src 'none'",
    "base-uri 'none'",
    "form-action 'none'",
    "require-trusted-types-for 'script'",
    "trusted-types shotbook",
)
_SEGMENT = r"(?!\.)[\w .,()+=@'-]+(?<![ .])"
_ADDRESS = re.compile(rf"{_SEGMENT}(?:/{_SEGMENT})*")
DOWNLOADS = (".stl", ".3mf", ".zip", ".yaml", ".step", ".stp", ".iges", ".igs", ".brep", ".dxf")
"""What a visitor may take: kinds of file that no browser runs or shows."""
_LONGEST = 200


def of_page(scripts: Sequence[str] = (), preview: bool = False) -> str:
    """The policy of a page of the site; `scripts` are those that stand in the page itself.

    `preview` is for `shotbook serve`, which writes a script of its own into each page it shows.

    >>> of_page(["go()"]).split("; ")[1]
    "script-src 'self' 'sha256-5KYv+PUboo5h+0+YAtGRPbwv5d/QxzHslP4YGnUaxRw='"
    """
    allowed = ["'unsafe-inline'"] if preview else [digest(script) for script in scripts]
    return "; ".join(_SITE).replace("script-src 'self'", " ".join(["script-src 'self'", *allowed]))


def of_file(style: str = "") -> str:
    """The policy of a page that needs no other file: its own style sheet, and pictures that stand in it.

    >>> of_file()
    "default-src 'none'; style-src 'none'; img-src data:; base-uri 'none'; form-action 'none'"
    """
    styles = digest(style) if style else "'none'"
    return f"default-src 'none'; style-src {styles}; img-src data:; base-uri 'none'; form-action 'none'"


def digest(text: str) -> str:
    """A source expression for exactly this script or style sheet (CSP 3, section 2.3.1)."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def meta(policy: str) -> str:
    """The element that tells the policy.

    >>> meta("default-src 'none'")
    '<meta http-equiv="Content-Security-Policy" content="default-src \\'none\\'">'
    """
    return f'<meta http-equiv="Content-Security-Policy" content="{escape(policy, quote=False)}">'


def is_address(uri: str) -> bool:
    r"""True when a file of the site may have this address, seen from its first page.

    Letters of every script; no climbing, no hidden file, nothing that means more in an address or a shell.

    >>> [is_address(uri) for uri in ("molds/reed-minnow/half a (2).stl", "molds/x/köder.stl", "sw.js")]
    [True, True, True]
    >>> [is_address(uri) for uri in ("../x", "/x", "a//b", "a/./b", ".git/x", "a\\b", "a#b", "a?b", "a%2e")]
    [False, False, False, False, False, False, False, False, False]
    >>> is_address("a.stl\n") or is_address("a\u202elts.js") or is_address("")
    False
    """
    return len(uri) <= _LONGEST and _ADDRESS.fullmatch(uri) is not None


def is_download(name: str) -> bool:
    """True when a visitor may be offered a file under this name: a plain one, of a kind that no browser runs.

    >>> [is_download(name) for name in ("half-a.stl", "stl/half-a.STL", "pond-stick-2.zip", "mold.yaml")]
    [True, True, True, True]
    >>> [is_download(name) for name in ("../a.stl", "a.js", "a.stl.html", "a.stl.", ".stl", "a.js?.stl")]
    [False, False, False, False, False, False]
    """
    return is_address(name) and name.lower().endswith(DOWNLOADS)
