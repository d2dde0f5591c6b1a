"""Released versions of a mold for benchmarks: copies of one that was released, each with its own lock.

To release each in earnest would read its meshes again and again. What a build does with them is the same.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path

from builder import build
from builder.base import contained
from builder.base.store import file_digest
from builder.model import Tables
from builder.spec import versions

DATE = "2026-03-20"


def give(folder: Path, source: Path, count: int, tables: Tables) -> None:
    """Give the mold in `folder` so many versions, from 1, each a copy of the released one in `source`.

    The mold as it is now is the newest of them.
    """
    file = folder / "mold.yaml"
    newest = versions.unseal(versions.Lock, source / versions.LOCK).version
    told = file.read_text(encoding="utf-8").replace(f'version: "{newest}"', f'version: "{count}"')
    file.write_text(told, encoding="utf-8")
    before = ""
    for number in range(1, count + 1):
        place = folder / versions.FOLDER / str(number)
        shutil.copytree(source, place)
        renamed(place, versions.unseal(versions.Lock, source / versions.LOCK), folder.name, number)
        (place / versions.LOCK).unlink()
        lock = versions.Lock(
            slug=folder.name,
            version=str(number),
            order=number,
            previous=before,
            date=DATE,
            tools=build.tools(),
            tables=build.tables_digests(tables),
            files={file: file_digest(place / file) for file in contained.files(place)},
        )
        (place / versions.LOCK).write_bytes(versions.seal(lock))
        before = file_digest(place / versions.LOCK)


def renamed(place: Path, lock: versions.Lock, slug: str, number: int) -> None:
    """Call the copy of a version by the mold that it is given to, and by its number."""
    (place / lock.slug).rename(place / slug)
    zipped = f"{lock.slug}-{lock.version}.zip", f"{slug}-{number}.zip"
    (place / zipped[0]).rename(place / zipped[1])
    for name in (versions.VERSION, versions.RECORD):
        text = (place / name).read_text(encoding="utf-8").replace(*zipped)
        text = text.replace(f'"{lock.slug}/', f'"{slug}/')
        told = {**json.loads(text), "slug": slug, "version": str(number)}
        told |= {"order": number, "date": DATE} if name == versions.VERSION else {}
        (place / name).write_text(json.dumps(told, ensure_ascii=False), encoding="utf-8")
