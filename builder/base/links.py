"""Addresses that a page may lead to: a maker's text becomes a link only in one of these forms."""

from __future__ import annotations

import re

LONGEST = 300
_HOST = r"(?:[a-z0-9](?:[a-z0-9-]{0,61}[a-z0-9])?\.)+[a-z]{2,24}"
WEB = rf"https://{_HOST}(?:/[A-Za-z0-9._~!$*+,;=:@%/?#&-]*)?"
MAIL = rf"mailto:[A-Za-z0-9._+-]{{1,64}}@{_HOST}"
"""Small letters in the host; no user, no port, no quotes, no blanks; a mail without subject or text."""


def is_web(text: str) -> bool:
    """Whether the text is a page's address by https.

    >>> is_web("https://example.org/a?b=1"), is_web("http://example.org"), is_web("https://u@example.org")
    (True, False, False)
    """
    return len(text) <= LONGEST and re.fullmatch(WEB, text) is not None


def is_link(text: str) -> bool:
    """Whether the text is a page's address by https, or a mail address with mailto.

    >>> is_link("mailto:a@example.org"), is_link("javascript:alert(1)")
    (True, False)
    """
    return is_web(text) or (len(text) <= LONGEST and re.fullmatch(MAIL, text) is not None)
