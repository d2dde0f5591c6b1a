"""The site without a network: what a worker fetches ahead, and the manifest for a phone to install it."""

from __future__ import annotations

import hashlib
import re
import shutil
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from importlib import resources
from pathlib import Path

from builder.base.contained import Checked
from builder.base.store import sha256
from builder.base.texts import Texts
from builder.site.pages import Words
from builder.site.place import Place

OFFLINE_BYTES = 25_000_000
"""So much is fetched ahead for when there is no network: more than a hundred molds."""
SMALL_PICTURE_BYTES = 10_000
_OF_MOLD = re.compile(r"(?:molds|data/molds|cards)/([^/.]+)")
_SIZED = re.compile(r"(.+)-(\d+)\.webp")


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A text of ours that lies in the store, with its digest: not all of a site's texts fit into memory."""

    path: Path
    size_bytes: int
    sha256: str

    def __str__(self) -> str:
        """The text."""
        return self.path.read_bytes().decode()


Thing = str | Kept | Path | Checked
"""Text, here or in the store; a file of our own; or one from a mold's folder, as what was looked at."""
Generated = Mapping[str, Thing]
"""What is published, by address."""


def written(thing: Thing, place: Path) -> None:
    """Write what is published to `place`; Faults when it is no longer what was looked at."""
    if isinstance(thing, Checked):
        thing.copy_to(place)
    elif isinstance(thing, str):
        place.write_bytes(thing.encode())
    else:
        shutil.copyfile(thing.path if isinstance(thing, Kept) else thing, place)


def app(words: Texts, site_name: str, place: Place) -> dict[str, object]:
    """The web application manifest, so that a phone can install the bench page."""
    icons = [
        {"src": f"assets/icon-{px}.png", "sizes": f"{px}x{px}", "type": "image/png"} for px in (192, 512)
    ]
    return {
        "name": site_name,
        "short_name": site_name,
        "description": words.say("page.catalogue.description"),
        "lang": words.language,
        "start_url": replace(place, root="").page("bench"),
        "scope": ".",
        "display": "standalone",
        "background_color": "#fafbf7",
        "theme_color": "#0b5f56",
        "icons": icons,
    }


def worker(generated: Generated, words: Words, place: Place) -> str:
    """The script that keeps the site for when there is no network."""
    told = [place.file(uri.removesuffix(".md")) if uri.endswith(".md") else uri for uri in ahead(generated)]
    theme = resources.files("builder").joinpath("theme", "assets")
    assets = sorted(f"assets/{file.name}" for file in theme.iterdir())
    digest = hashlib.sha256()
    for uri, thing in generated.items():
        digest.update(f"{uri} {_told(thing)}".encode())
    for file in sorted(theme.iterdir(), key=lambda file: file.name):
        digest.update(file.read_bytes())
    folders = sorted({"assets", *(uri.partition("/")[0] for uri in generated if "/" in uri)})
    version = digest.hexdigest()[:16]
    return words.render("sw.js.jinja", version=version, files=[*told, *assets], folders=folders)


def ahead(generated: Generated) -> list[str]:
    """URLs cached at install: shared pages first, then each mold's up to OFFLINE_BYTES.

    Of each picture its smallest size; the viewer and the files to download come when they are asked for.
    """
    smallest = _smallest(generated)
    groups: dict[str, list[str]] = {"": []}
    for uri in generated:
        if uri in smallest or _is_ahead(uri):
            mold = _OF_MOLD.match(uri)
            groups.setdefault(mold[1] if mold else "", []).append(uri)
    kept, left = list(groups.pop("")), OFFLINE_BYTES
    for group in groups.values():
        left -= sum(_size(generated[uri]) for uri in group)
        if left < 0:
            break
        kept += group
    return kept


def _is_ahead(uri: str) -> bool:
    if uri.startswith("molds/"):
        return uri.endswith(".md")
    return uri.endswith((".md", ".js", ".html")) or uri.startswith("cards/") or uri == "data/withdrawn.json"


def _smallest(uris: Iterable[str]) -> frozenset[str]:
    """The address of each picture's smallest size."""
    found: dict[str, tuple[int, str]] = {}
    for uri in uris:
        if sized := _SIZED.fullmatch(uri):
            this = (int(sized[2]), uri)
            found[sized[1]] = min(found.get(sized[1], this), this)
    return frozenset(uri for _, uri in found.values())


def _size(thing: Thing) -> int:
    if isinstance(thing, Kept):
        return thing.size_bytes
    return len(thing.encode()) if isinstance(thing, str) else SMALL_PICTURE_BYTES


def _told(thing: Thing) -> str:
    """What stands for a thing in the digest of all: that of its text, or its name, which changes with it."""
    if isinstance(thing, Kept):
        return thing.sha256
    return sha256(thing.encode()) if isinstance(thing, str) else thing.name
