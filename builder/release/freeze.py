"""Freezes a version: files, results, zip and lock, put in place in one step."""

from __future__ import annotations

import base64
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from importlib import resources
from pathlib import Path

from builder import build, pictures
from builder.base import contained, disk, site_folder
from builder.base.problems import Faults, Problem, Where
from builder.base.store import Store, sha256
from builder.base.texts import Texts
from builder.history import compare
from builder.model import CARD, Download, MoldRecord, Picture, Reading, Tables, Version
from builder.release import bundle, leaflet
from builder.site import parts, public_data
from builder.site.pages import MoldPages, Words
from builder.spec import mold_file, releases, versions


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """A release order: notes, date (YYYY-MM-DD), texts, and the address of the published page."""

    notes: str
    date: str
    texts: Texts
    address: str = ""
    despite: str = ""
    """Why it is released although it must not be shot."""


def release(folder: Path, order: Order, tables: Tables, store: Store) -> Version:
    """Freeze the mold in `folder` as the version that its spec names; Faults when it may not be.

    The tree is as before until the last step, a rename, and as after from then on.
    """
    refuse_link(folder)
    with disk.locked(folder):
        record = build.build_mold(folder, tables, store)
        refuse(record, order)
        place = folder / versions.FOLDER / record.spec.version
        with disk.making_beside(place.with_name("release")) as new:
            freeze(new, record, order, tables)
            disk.put_new(new, place)
        made = versions.load(folder)[0]
    releases.record(folder.parent, folder)
    return made


def preview(folder: Path, order: Order, tables: Tables, store: Store, place: Path) -> None:
    """Write what a release would freeze into `place`, and freeze nothing; Faults as a release would have."""
    record = build.build_mold(folder, tables, store)
    refuse(record, order)
    with disk.replacing(place) as new:
        new.mkdir()
        freeze(new, record, order, tables)
        site_folder.mark(new)


def refuse_link(folder: Path) -> None:
    """Raise Faults when what is written into the mold's folder would end up elsewhere."""
    for place in (folder, folder / versions.FOLDER):
        if contained.exists(place) and not contained.is_folder(place):
            what = "this is not a folder, or is a link"
            raise Faults([Problem(where=Where(file=str(place)), what=what, remedy="remove it")])


def refuse(record: MoldRecord, order: Order) -> None:
    """Raise Faults when nothing is said of the version, it is not newer, or it must not be shot."""
    where = Where(file=str(record.spec.folder / "mold.yaml"), key="version")
    problems = []
    numbers = [_number(version.version) for version in record.versions]
    if not order.notes.strip():
        what = "nothing is said about this version"
        problems.append(Problem(where=where, what=what, remedy='say what changed: --notes "..."'))
    if numbers and _number(record.spec.version) <= max(numbers):
        newest = record.versions[0].version
        problems.append(
            Problem(
                where=where,
                what=f"version {record.spec.version} is not newer than {newest}, which is released",
                expected=f"a version after {newest}",
                remedy="write the new version in mold.yaml, then release it",
            )
        )
    if record.withdrawn:
        what = f"these are the files of version {record.withdrawn.version}, which was withdrawn"
        remedy = "change what was wrong with them first"
        problems.append(Problem(where=where, what=what, remedy=remedy))
    problems.extend(_unstopped(record, order, where))
    if problems:
        raise Faults(problems)


def _unstopped(record: MoldRecord, order: Order, where: Where) -> Iterator[Problem]:
    """A problem when a stop has no reason to be passed over, or a reason has no stop."""
    reason, texts = order.despite.strip(), order.texts.of_kind(record.spec.kind)
    if record.stop and not reason:
        yield Problem(
            where=where,
            what=f"{record.spec.slug} has a stop. {texts.finding(record.stop).rstrip('.')}",
            expected="a mold that can be shot with its own plastisol in its own mold material",
            remedy='change the mold, or say why it is released despite that: --despite "..."',
        )
    if reason and not record.stop:
        what = "a reason is given to release it despite a stop, but it has no stop"
        yield Problem(where=where, what=what, remedy="leave --despite out")


def freeze(folder: Path, record: MoldRecord, order: Order, tables: Tables) -> None:
    """Write everything of the version into `folder`, the lock last."""
    mold = record.spec
    files = bundle.own_files(mold)
    contents = tuple(files[f"{mold.slug}/{part.file}"] for part in mold.parts)
    refuse_changed(record, contents)
    drawn_files = ("mold.yaml", *(part.file for part in mold.parts), *mold.maker.sources)
    reading = build.read(mold, contents)
    designed = bundle.as_designed(mold, contents)
    shown, drawn = drawings(record, reading, tables)
    version = version_record(record, order, shown)
    made = {
        "shot-card.html": shot_card(record, order).encode(),
        "record.json": public_data.as_json(record, order.despite.strip()).encode(),
        "CHANGES.md": leaflet.changes(version, order.texts).encode(),
    }
    given = {
        **bundle.under("as-designed", {one: files[f"{mold.slug}/{one}"] for one in drawn_files}),
        **bundle.under("as-designed", designed),
        **bundle.under("to-print", bundle.to_print(mold, reading)),
        **bundle.under("pictures", pictures.to_give(shown, drawn, order.texts)),
        **made,
    }
    zipped = {f"{mold.slug}-{mold.version}.zip": bundle.zip_of(version, given, order.texts)}
    posts = {
        "post.txt": leaflet.post(version, order.texts, order.address, markdown=False).encode(),
        "post.md": leaflet.post(version, order.texts, order.address, markdown=True).encode(),
    }
    offered = {
        **zipped,
        **{f"{mold.slug}/{name}": files[f"{mold.slug}/{name}"] for name in drawn_files[1:]},
    }
    bundle.write_all({**files, **made, **bundle.under("pictures", drawn), **posts, **offered}, folder)
    downloads = tuple(download(name, data) for name, data in offered.items())
    versions.freeze(
        folder, replace(version, downloads=downloads), build.tools(), build.tables_digests(tables)
    )


def refuse_changed(record: MoldRecord, contents: tuple[bytes, ...]) -> None:
    """Raise Faults when the files are no longer those that were measured."""
    for part, content in zip(record.spec.parts, contents, strict=True):
        if sha256(content) not in {one.vouch.sha256 for one in record.measurement.parts}:
            what = "this file changed while it was read"
            raise Faults([Problem(where=Where(file=str(part.path)), what=what, remedy="run it again")])


def version_record(record: MoldRecord, order: Order, shown: tuple[Picture, ...]) -> Version:
    """The version's record, still without its files."""
    mold = record.spec
    last = record.versions[:1]
    before = compare.without_hold(last[0], mold.kind).figures if last else {}
    figures = compare.numbers(record.measurement, record.advice)
    return Version(
        slug=mold.slug,
        version=mold.version,
        order=len(record.versions) + 1,
        date=order.date,
        title=mold.title,
        summary=mold.summary,
        author=mold.author,
        licence=mold.licence,
        notes=order.notes.strip(),
        figures=figures,
        changes=compare.changes(before, figures) if before else (),
        pictures=shown,
        assets=Path("pictures"),
        downloads=(),
        findings=record.findings,
        stop=record.stop,
        despite=order.despite.strip(),
        kind=mold.kind,
        made_by=record.made_by,
    )


def drawings(
    record: MoldRecord, reading: Reading, tables: Tables
) -> tuple[tuple[Picture, ...], bundle.Files]:
    """The version's pictures, what changed since the version before first, and their files by name."""
    shown = tuple(replace(widest(one), turnable=None) for one in record.pictures if one.name != CARD)
    files = {name: record.place_of(name).read_bytes() for name in names(shown)}
    if not record.versions:
        return shown, files
    before = record.versions[0]
    with disk.scratch() as folder:
        place = record.spec.folder / versions.FOLDER / before.version
        old = frozen_reading(versions.frozen_mold(place), tables)
        drawn = pictures.draw_changes(record.spec, old, reading, before.version, folder)
        changed = tuple(widest(one) for one in drawn)
        files |= {name: (folder / name).read_bytes() for name in names(changed)}
        return (*changed, *shown), files


def widest(picture: Picture) -> Picture:
    """The picture with its largest file alone: the smaller ones are no more than that."""
    width = max(picture.files)
    return replace(picture, files={width: picture.files[width]})


def names(shown: Iterable[Picture]) -> list[str]:
    """The names of the pictures' files."""
    return [name for picture in shown for name in picture.files.values()]


def frozen_reading(folder: Path, tables: Tables) -> Reading:
    """The reading of a mold folder, frozen or not, made anew for its solids."""
    mold = mold_file.load(folder, tables)
    return build.read(mold, build.part_contents(mold))


def shot_card(record: MoldRecord, order: Order) -> str:
    """The shot card as one file that needs no other; with a code when the mold's address is known."""
    style = resources.files("builder").joinpath("theme", "assets", "card.css").read_text(encoding="utf-8")
    drawn = base64.b64encode(parts.code(order.address).encode()).decode() if order.address else ""
    code = f"data:image/svg+xml;base64,{drawn}" if drawn else ""
    words = Words(order.texts.of_kind(record.spec.kind))
    return MoldPages(words).card(record, style, code, order.despite.strip())


def download(name: str, data: bytes) -> Download:
    """A file of the version as a visitor takes it; `name` is its path in the version's folder."""
    return Download(name=Path(name).name, path=Path(name), size_bytes=len(data), sha256=sha256(data))


def withdraw(folder: Path, version: str, reason: str, date: str) -> None:
    """Mark a released version as dangerous: it stays listed with its reason, without its files."""
    refuse_link(folder)
    place = folder / versions.FOLDER / version
    if place not in versions.places(folder):
        known = ", ".join(sorted(found.name for found in versions.places(folder))) or "none"
        what = f"version {version} of {folder.name} is not released"
        raise Faults([Problem(where=Where(file=str(folder)), what=what, expected=f"one of: {known}")])
    if not reason.strip():
        what = "no reason is given"
        raise Faults([Problem(where=Where(file=str(place)), what=what, remedy='say why: --reason "..."')])
    if contained.exists(place / versions.WITHDRAWN):
        what = f"version {version} of {folder.name} is withdrawn already"
        raise Faults([Problem(where=Where(file=str(place / versions.WITHDRAWN)), what=what)])
    note = versions.Withdrawal(reason=reason.strip(), date=date)
    disk.write_atomically(place / versions.WITHDRAWN, versions.seal(note), beside=place)
    releases.record(folder.parent, folder)


def _number(version: str) -> tuple[int, ...]:
    return tuple(int(part) for part in version.split("."))
