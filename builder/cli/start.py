"""The command init: a catalogue of one's own in a folder that may hold anything already."""

from __future__ import annotations

import gzip
import json
import shlex
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from importlib.metadata import version
from importlib.resources import files as resources
from pathlib import Path
from typing import Literal

import click

from builder.base import disk
from builder.base.problems import Where
from builder.cli.common import example, main, reporting_faults, say, texts_in
from builder.site.place import ONCE
from builder.spec import material_tables, mold_file
from builder.spec.types import fault

Look = Literal["own", "material"]
Language = Literal["en", "de"]
HOSTS: Mapping[str, str] = {
    "github": ".github/workflows/site.yml",
    "gitlab": ".gitlab-ci.yml",
    "netlify": "netlify.toml",
}
"""Where each static host looks for how to build the site."""
DEMO = "pond-stick"
_STARTER = "starter"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What the catalogue is to be."""

    name: str = "My molds"
    language: Language = "en"
    look: Look = "own"
    address: str = ""
    """Where the site will stand; empty when that is not known yet."""
    hosts: tuple[str, ...] = ()
    demo: bool = False


def files(wish: Wish) -> Mapping[str, bytes]:
    """The files of a new catalogue, by path.

    >>> sorted(files(Wish()))[:4]
    ['.gitattributes', '.gitignore', 'mkdocs.yml', 'mold.schema.json']
    """
    words = _words(wish)
    made = {
        "mkdocs.yml": _filled("mkdocs.yml", words),
        "requirements.txt": _filled("requirements.txt", words),
        "site_src/index.md": _filled(f"{wish.language}/index.md", words),
        "molds/README.md": _filled(f"{wish.language}/molds.md", words),
        "mold.schema.json": f"{json.dumps(mold_file.schema(material_tables.load()), indent=1)}\n".encode(),
        ".gitignore": _filled("gitignore", words),
        ".gitattributes": _filled("gitattributes", words),
    }
    for host in wish.hosts:
        made[HOSTS[host]] = _filled(f"hosts/{host}{Path(HOSTS[host]).suffix}", words)
    if wish.demo:
        made |= {f"molds/{DEMO}/{name}": data for name, data in _demo()}
    return made


def write(folder: Path, made: Mapping[str, bytes]) -> tuple[list[str], list[str]]:
    """Write each file that is not there yet; which were written, and which were there and stay."""
    written, kept = [], []
    for name, data in made.items():
        place = folder / name
        if place.exists() or place.is_symlink():
            kept.append(name)
            continue
        disk.write_atomically(place, data)
        written.append(name)
    return written, kept


def _words(wish: Wish) -> dict[str, str]:
    """What the files' places in @ are filled with."""
    now = version("shotbook")
    major, minor = now.split(".")[:2]
    own, path = wish.look == "own", "" if wish.look == "own" else "catalogue/"
    first = ["  - index.md"] if own else ["  - index.md", "  - catalogue/index.md"]
    menu = [f"  - {path}{name}.md" for name in ONCE if name != "index"]
    name = "The molds" if wish.language == "en" else "Die Formen"
    return {
        "name": wish.name,
        "address": f"site_url: {wish.address}" if wish.address else "# site_url: https://example.org/",
        "theme": _theme(wish),
        "plugins": "  - shotbook" if own else "  - search\n  - shotbook:\n      path: catalogue",
        "nav": "\n".join(["nav:", *first, *menu]),
        "catalogue": "<!-- shotbook -->" if own else f"[{name}](catalogue/index.md)",
        "version": now,
        "next": f"{major}.{int(minor) + 1}",
    }


def _theme(wish: Wish) -> str:
    """The section of mkdocs.yml on the look."""
    name = "shotbook" if wish.look == "own" else "material"
    quiet = "" if wish.look == "own" else "\n  font: false # nothing is asked of another host"
    return f"theme:\n  name: {name}\n  language: {wish.language}{quiet}"


def _filled(name: str, words: Mapping[str, str]) -> bytes:
    """One of the files in builder/starter with its places filled."""
    text = resources("builder").joinpath(_STARTER, *name.split("/")).read_text(encoding="utf-8")
    quoted = json.dumps(words["name"], ensure_ascii=False)
    text = text.replace("name: @name@", f"name: {quoted}").replace("title: @name@", f"title: {quoted}")
    for word, value in words.items():
        text = text.replace(f"@{word}@", value)
    return text.encode()


def _demo() -> Iterator[tuple[str, bytes]]:
    """The files of the demo mold."""
    for file in resources("builder").joinpath(_STARTER, "demo").iterdir():
        data = file.read_bytes()
        yield file.name.removesuffix(".gz"), gzip.decompress(data) if file.name.endswith(".gz") else data


def _asked(wish: Wish, told: Sequence[str]) -> Wish:
    """The wish with answers to what the command line leaves open."""
    if "name" not in told:
        wish = replace(wish, name=click.prompt("Name of the site", default=wish.name))
    if "language" not in told:
        chosen: Language = click.prompt(
            "Language of its pages", default="en", type=click.Choice(["en", "de"])
        )
        wish = replace(wish, language=chosen)
    if "demo" not in told:
        wish = replace(wish, demo=click.confirm("With a demo mold to look at", default=True))
    return wish


@main.command(
    short_help="Start a catalogue of your own.",
    epilog=example(
        '  shotbook init my-molds --demo\n  shotbook init my-molds a.stl b.stl --name "Willow Bench"'
    ),
)
@click.argument("folder", type=click.Path(path_type=Path))
@click.argument("stl", nargs=-1, type=click.Path(path_type=Path))
@click.option("--name", help="Name of the site.")
@click.option("--language", type=click.Choice(["en", "de"]), help="Language of its pages.")
@click.option(
    "--look",
    type=click.Choice(["own", "material"]),
    default="own",
    show_default=True,
    help="Shotbook's own design, or Material for MkDocs unchanged.",
)
@click.option(
    "--address", default="", metavar="URL", help="Address the site will have, for QR codes and the feed."
)
@click.option(
    "--host",
    "hosts",
    type=click.Choice(list(HOSTS)),
    multiple=True,
    help="Write what this host needs to build and publish the site; may be given several times.",
)
@click.option("--demo/--no-demo", default=None, help="Add a demo mold to look at.")
@click.option(
    "--slug", default="my-first-mold", show_default=True, help="Folder of the mold made from the STL files."
)
def init(
    *,
    folder: Path,
    stl: tuple[Path, ...],
    name: str | None,
    language: Language | None,
    look: Look,
    address: str,
    hosts: tuple[str, ...],
    demo: bool | None,
    slug: str,
) -> None:
    """Start a catalogue in FOLDER: settings of the site and of git, a first page, a folder for molds.

    STL files become its first mold. In a terminal it asks for what is not given. Files that exist are left
    alone, so a second run changes nothing of yours.
    """
    given = {"name": name, "language": language, "demo": demo}
    told = [key for key, value in given.items() if value is not None]
    wish = Wish(
        name=name or Wish().name,
        language=language or "en",
        look=look,
        address=address,
        hosts=hosts,
        demo=bool(demo),
    )
    with reporting_faults():
        if folder.exists() and not folder.is_dir():
            raise fault(Where(file=str(folder)), "this is a file", "a folder, or a name that is free")
        there = (folder / "mkdocs.yml").exists()
        ours = not there or "shotbook" in (folder / "mkdocs.yml").read_text(encoding="utf-8")
        if sys.stdin.isatty() and not there:
            wish = _asked(wish, told)
        made = dict(files(wish))
        if there:  # a site of the user's: ours goes beside it, and its pages are left alone
            made.pop("site_src/index.md")
        written, kept = write(folder, made)
        _tell(folder, written, kept, wish.language)
        if stl:
            _first_mold(folder / "molds" / slug, stl, wish.language)
        texts = texts_in(wish.language)
        click.echo(texts.say("cli.init.next" if ours else "cli.init.add", folder=shlex.quote(str(folder))))


def _first_mold(place: Path, stl: Sequence[Path], language: str) -> None:
    """Make the first mold from its files, unless it is there."""
    from builder.cli import scaffold

    if (place / "mold.yaml").exists():
        say(language, "file_kept", file=str(place))
        return
    scaffold.write(place, stl, None, material_tables.load(place.parent))
    say(language, "file_written", file=str(place / "mold.yaml"))


def _tell(folder: Path, written: Sequence[str], kept: Sequence[str], language: str) -> None:
    """Say of each file whether it was written."""
    for name in written:
        say(language, "file_written", file=str(folder / name))
    for name in kept:
        say(language, "file_kept", file=str(folder / name))
