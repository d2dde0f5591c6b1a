"""The pages of many molds are written by workers of this machine, the same as one process writes them."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from builder.base import workers
from builder.base.store import Store
from builder.site import catalogue, offline, parts, site_map
from tests import small_mold

pytestmark = pytest.mark.slow
"""Two molds are read and drawn first, and processes are started."""


@pytest.fixture(scope="module")
def read(tmp_path_factory: pytest.TempPathFactory) -> catalogue.Catalogue:
    molds = tmp_path_factory.mktemp("catalogue") / "molds"
    for number, depth in enumerate((7.0, 8.0)):
        small_mold.write(molds, f"bar-{number}", depth=depth)
    return catalogue.build_all(molds, Store(molds.parent / "store"))


def texts(generated: offline.Generated) -> dict[str, str]:
    return {uri: str(thing) for uri, thing in generated.items() if isinstance(thing, str | offline.Kept)}


def test_workers_write_the_pages_that_are_missing_and_the_same_as_here(
    read: catalogue.Catalogue, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    assert read.store
    alone = site_map.generate(replace(read, store=Store(tmp_path)))
    monkeypatch.setattr(parts, "MANY", 2)
    read.store.misses.clear()
    shared = site_map.generate(replace(read, engine=workers.on_cores(2)))
    assert texts(shared) == texts(alone)
    assert read.store.misses["pages"] == 1, "this process writes the pages that there are once, no mold's"


@dataclass(frozen=True, slots=True)
class Killed:
    """An engine whose processes all end before they answer."""

    count: int = 2

    def __call__(
        self,
        work: Callable[[workers.Job], workers.Result],  # noqa: ARG002
        jobs: Iterable[workers.Job],
    ) -> Iterator[workers.Result | workers.Lost]:
        return (workers.Lost() for _ in jobs)


def test_what_workers_could_not_write_is_written_here(
    read: catalogue.Catalogue, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert read.store
    monkeypatch.setattr(parts, "MANY", 2)
    made = site_map.generate(replace(read, engine=Killed()), "de")
    assert {"molds/bar-0.md", "molds/bar-1.md"} <= set(made)


def test_a_mold_that_is_read_and_drawn_has_its_page_written_without_the_libraries_that_compute(
    read: catalogue.Catalogue,
) -> None:
    assert read.store
    folder = read.store.folder
    code = f"""
import sys
from pathlib import Path
from builder.base.store import Store
from builder.site import catalogue, parts
from builder.site.pages import Words
from builder.site.place import Place
from builder.site.sentences import texts
known = catalogue.build_all(Path({str(folder.parent / "molds")!r}), Store(Path({str(folder)!r})))
words = Words(texts("en").with_own(known.tables), known.tables)
made = parts.of_mold(known.molds[0], words, Place(root="https://example.org/another/"), known)
print(len(made.texts), [name for name in ("numpy", "scipy", "trimesh", "PIL") if name in sys.modules])
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "4 []\n"
