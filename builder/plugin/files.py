"""Generated files among the user's: none of them takes the address of a page that somebody wrote."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import PluginError
from mkdocs.structure.files import File, Files, InclusionLevel
from mkdocs.structure.pages import Page

from builder.base import problems
from builder.base.contained import Checked
from builder.plugin.last_site import LastSite
from builder.plugin.settings import Settings
from builder.site import embedding, site_map
from builder.site.offline import Generated, Kept, Thing
from builder.site.place import ONCE


class OurFile(File):
    """A file that does not change from build to build unless what it is made from does."""

    checked: Checked | None
    """Set for a file of a mold's folder: the site gets the bytes that were looked at, or the build ends."""
    made_from: str | Path
    last: LastSite | None

    def copy_file(self, dirty: bool = False) -> None:
        """Write the file into the site, or take it from the last one."""
        place = Path(self.abs_dest_path)
        place.parent.mkdir(parents=True, exist_ok=True)
        if self.last and self.last.link(self.dest_uri, self.made_from, place):
            return
        try:
            self.checked.copy_to(place) if self.checked else super().copy_file(dirty)
        except problems.Faults as faults:
            raise PluginError(str(faults)) from None
        if self.last:
            self.last.wrote(self.dest_uri, self.made_from, place)


@dataclass(slots=True, kw_only=True)
class Published:
    """What of the site's files is ours, by MkDocs' name of each."""

    ours: dict[str, str] = field(default_factory=dict)
    """Our own name of each of our pages."""
    guests: dict[str, tuple[str, str]] = field(default_factory=dict)
    """Pages of the user's that ours are put into: our own name and our text."""
    bodies: dict[str, str] = field(default_factory=dict)
    """HTML of our pages, from when MkDocs has read them until it shows them."""
    structured: dict[str, str] = field(default_factory=dict)
    """What our pages tell search engines."""
    by_name: dict[str, File] = field(default_factory=dict)
    """The file of the site that is behind each of our own names."""

    def address(self, name: str, page: Page) -> str | None:
        """The address of what we call `name`, seen from a page; None when there is no such thing."""
        file = self.by_name.get(name)
        return file.url_relative_to(page.file) if file else None


def put(
    files: Files,
    generated: Generated,
    config: MkDocsConfig,
    here: Settings,
    sources: tuple[Path, Path],
    *,
    last: LastSite | None,
) -> Published:
    """Add what was generated: text by content, files by path. Faults where the user has a page already.

    `sources` are the folders of the molds and of the user's pages, for the links to edit a page; `last` is
    the site that this one will replace.
    """
    taken = {file.dest_uri: file for file in files if file.inclusion.value > InclusionLevel.DRAFT.value}
    done, held = Published(), []
    for uri, thing in generated.items():
        file = _file(config, here, uri, thing, last)
        if uri.endswith(".md"):
            file.edit_uri = site_map.edit_uri(uri, *sources)
        theirs = taken.get(file.dest_uri)
        if theirs is None or theirs.src_dir not in (config.docs_dir, None):
            if theirs is not None:
                files.remove(theirs)
            files.append(file)
            if uri.endswith(".md"):
                done.ours[file.src_uri] = uri
        elif uri.endswith(".md") and embedding.MARK in theirs.content_string:
            done.guests[theirs.src_uri] = uri, str(thing)
        else:
            held.append((uri, theirs))
            continue
        done.by_name[uri] = theirs if theirs is not None and theirs.src_uri in done.guests else file
    if held:
        raise problems.Faults(_held(config, here, held))
    return done


def _file(config: MkDocsConfig, here: Settings, uri: str, thing: Thing, last: LastSite | None) -> File:
    """What is generated, as MkDocs takes it."""
    kind = File if isinstance(thing, str) else OurFile
    source = {"content": thing} if isinstance(thing, str) else {"abs_src_path": str(_path(thing))}
    shown = config.nav is None and uri.removesuffix(".md") in ONCE
    level = InclusionLevel.INCLUDED if shown else InclusionLevel.NOT_IN_NAV
    file: File = kind.generated(config, f"{here.path}{uri}", inclusion=level, **source)
    if isinstance(file, OurFile) and not isinstance(thing, str):
        file.checked = thing if isinstance(thing, Checked) else None
        file.made_from = thing if isinstance(thing, Path) else thing.sha256
        file.last = last
    if "i18n" in config.plugins:
        _translate(file, config, here)
    return file


def _path(thing: Kept | Path | Checked) -> Path:
    """Where a thing lies."""
    if isinstance(thing, Checked):
        return thing.folder / thing.file
    return thing.path if isinstance(thing, Kept) else thing


def _translate(file: File, config: MkDocsConfig, here: Settings) -> None:
    """Put the file into its language's folder, with the notes that mkdocs-static-i18n leaves on each."""
    language = getattr(config.plugins["i18n"], "current_language", here.language)
    file.dest_uri = f"{here.locale}{file.dest_uri}"
    notes: Mapping[str, object] = {
        "locale": language,
        "locale_alternate_of": language,
        "localization": None,
        "norm_src_uri": file.src_uri,
        "alternates": {language: file},
    }
    for name, value in notes.items():
        setattr(file, name, value)


def _held(config: MkDocsConfig, here: Settings, held: list[tuple[str, File]]) -> list[problems.Problem]:
    """A problem for each page of the user's that one of ours would take the address of."""
    path = here.path or "catalogue/"
    other = "another path" if here.path else f"path: {path.rstrip('/')}"
    docs = Path(config.docs_dir).name
    return [
        problems.Problem(
            where=problems.Where(file=f"{docs}/{theirs.src_uri}"),
            what=f"your file and {'the catalogue' if uri == 'index.md' else uri} want the same address",
            remedy=(
                f"write {embedding.MARK} where ours is to stand in yours, or " if uri.endswith(".md") else ""
            )
            + f"give ours a folder with {other} under plugins: shotbook",
        )
        for uri, theirs in held
    ]
