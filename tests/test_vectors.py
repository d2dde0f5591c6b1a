"""Another version of a library makes kept results void where it changes what a stage makes of a mold."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import manifold3d
import numpy as np
import pytest
import shapely
from PIL import Image

from builder import build
from builder.advice import samples
from builder.base import store as stores
from builder.base.store import Store
from builder.pictures.render import rays
from builder.site import batch
from builder.spec import material_tables
from builder.stages import vectors
from tests import small_mold
from tests.test_store import forget, installed

STAGES = ("measure", "advice", "pictures")
pytestmark = pytest.mark.slow
"""A mold is read, advised on and drawn, several times."""


def anew() -> None:
    """Forget what this process knows of versions and vectors, as a new one would."""
    forget()
    for found in (vectors._made, vectors._read, vectors._advice):
        found.cache_clear()


@pytest.fixture(autouse=True)
def _as_installed() -> Iterator[None]:
    yield
    anew()


@pytest.fixture(scope="module")
def before() -> dict[str, str]:
    anew()
    return {stage: vectors.version(stage) for stage in STAGES}


def upgrade(patch: pytest.MonkeyPatch, versions: Mapping[str, str]) -> None:
    for module in (stores, vectors):
        patch.setattr(module, "library_version", lambda name: versions.get(name) or installed(name))
    anew()


def test_mere_upgrades_of_all_libraries_leave_every_key(
    before: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    series = {one: ".".join(installed(one).split(".")[:2]) for one in vectors.GEOMETRY}
    mended = {one: f"{number}.999" for one, number in series.items()}
    upgrade(monkeypatch, dict.fromkeys(stores.LIBRARIES, "99.0.0") | mended)
    assert {stage: vectors.version(stage) for stage in STAGES} == before


@pytest.mark.parametrize(
    "versions", [{one: "99.0.0"} for one in vectors.GEOMETRY] + [{"embreex": "absent"}, {"scipy": "absent"}]
)
def test_another_series_of_a_geometry_kernel_counts_and_whether_a_library_is_there_at_all(
    versions: dict[str, str], before: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(vectors, "vector", lambda *_: "the same")
    same = {stage: vectors.version(stage) for stage in STAGES}
    upgrade(monkeypatch, versions)
    moved = {stage for stage in STAGES if vectors.version(stage) != same[stage]}
    assert moved == {stage for stage in STAGES if set(versions) & set(stores.libraries_of(stage))}
    assert moved
    assert same != before


def scaled(work: Callable[..., Any]) -> Callable[..., Any]:
    return lambda *given, **named: work(*given, **named) * (1 + 1e-9)


def nearer(work: Callable[..., rays.Hits]) -> Callable[..., rays.Hits]:
    def first(*given: Any, **named: Any) -> rays.Hits:  # noqa: ANN401 - what a caster is given
        hits = work(*given, **named)
        return replace(hits, distance=hits.distance * np.float32(0.999))

    return first


PLANTED: dict[str, tuple[Any, str, Callable[[Any], Any], str]] = {
    "numpy": (np.linalg, "norm", scaled, "measure"),
    "manifold3d": (manifold3d.Manifold, "volume", scaled, "measure"),
    "shapely": (shapely, "build_area", lambda work: lambda one: work(one).buffer(1e-6), "measure"),
    "scipy": (samples, "ndtri", lambda work: lambda at: work(at) ** 3, "advice"),
    "pillow": (
        Image.Image,
        "resize",
        lambda work: lambda image, size, *_, **__: work(image, size),
        "pictures",
    ),
    "embreex": (rays.FastCaster, "first", nearer, "pictures"),
}
"""Of each library a function, the same with another result, and the stage whose vector tells it."""


@pytest.mark.parametrize("library", PLANTED)
def test_an_upgrade_that_changes_a_result_changes_the_key(
    library: str, before: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    place, name, fault, stage = PLANTED[library]
    monkeypatch.setattr(place, name, fault(getattr(place, name)))
    upgrade(monkeypatch, {library: f"{'.'.join(installed(library).split('.')[:2])}.999"})
    assert vectors.version(stage) != before[stage]


def test_vectors_are_worked_out_once_for_a_store_and_again_for_other_versions(
    tmp_path: Path, before: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert vectors.version("measure", Store(tmp_path)) == before["measure"]
    anew()
    worked_out: list[str] = []
    real = vectors._MAKERS["measure"]

    def counted() -> str:
        worked_out.append("measure")
        return real()

    monkeypatch.setitem(vectors._MAKERS, "measure", counted)
    assert vectors.version("measure", Store(tmp_path)) == before["measure"]
    assert not worked_out, "the store has it"
    upgrade(monkeypatch, {"numpy": "99.0.0"})
    assert vectors.version("measure", Store(tmp_path)) == before["measure"]
    assert worked_out == ["measure"]


def test_a_worker_is_sent_the_vectors_and_sends_none_back(tmp_path: Path) -> None:
    folder = small_mold.write(tmp_path / "molds")
    tables, store = material_tables.load(), Store(tmp_path / "store")
    draft = build.load_draft(folder, tables, store=store)
    job = batch.job_of(draft, stores.canonical(tables), store)
    assert {name.partition("/")[0] for name in job.known} == {vectors.STAGE}
    assert len({name.split("/")[1] for name in job.known}) == len(STAGES)
    assert not [name for name in batch.work(job).files if name.startswith(vectors.STAGE)]
