"""MkDocs publishes what was generated: whole or not at all, and the same bytes everywhere."""

from __future__ import annotations

import logging
import os
import re
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest
from mkdocs.config import load_config
from mkdocs.exceptions import Abort

from builder import plugin
from builder.base.problems import Faults
from builder.base.store import Store, sums
from builder.model import Tables
from builder.release import freeze
from builder.site import site_map
from tests import killing, small_mold, small_site

os.environ["NO_MKDOCS_2_WARNING"] = "1"


def build(config: Path, out: Path | None = None) -> Path:
    return plugin.build_site(config, out, lambda *_: None)


def mkdocs(config: Path, *options: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "mkdocs", "build", "-q", "-f", str(config), *options]
    return subprocess.run(command, capture_output=True, text=True, check=False)


@pytest.fixture
def config(tmp_path: Path, kept: Path) -> Path:
    small_mold.write(tmp_path / "molds")
    return small_site.configure(tmp_path, kept)


def test_a_mold_becomes_a_page_with_its_files_and_pictures(config: Path) -> None:
    out = build(config)
    page = (out / "molds" / "small-bar.html").read_text(encoding="utf-8")
    assert "Small bar" in page
    assert (out / "molds" / "small-bar" / "block.stl").read_bytes() == small_mold.stl()
    shown = set(re.findall(r'src="?(small-bar/[^" >]+)', page))
    assert len(shown) >= 4
    assert all((out / "molds" / name).stat().st_size > 0 for name in shown)


@pytest.mark.slow
def test_mkdocs_alone_builds_the_same_site(config: Path, tmp_path: Path) -> None:
    ours = build(config, tmp_path / "ours")
    done = mkdocs(config, "--strict", "-d", str(tmp_path / "alone"))
    assert (done.returncode, done.stderr) == (0, "")
    assert sums(tmp_path / "alone") == sums(ours)


def test_a_repeated_build_makes_nothing(config: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    stores: list[Store] = []

    def counted(folder: Path) -> Store:
        stores.append(Store(folder))
        return stores[-1]

    build(config)
    monkeypatch.setattr(plugin, "Store", counted)
    build(config)
    (store,) = stores
    assert store.misses == Counter()


@pytest.mark.slow
def test_the_site_is_the_same_bytes_in_another_folder_zone_locale_and_umask(
    config: Path, tmp_path: Path, kept: Path
) -> None:
    here = sums(build(config))
    there = tmp_path / "an other place ü"
    small_mold.write(there / "molds")
    other = small_site.configure(there, kept)
    code = (
        "import os, sys; os.umask(0o077); from pathlib import Path; from builder import plugin\n"
        "plugin.build_site(Path(sys.argv[1]), None, lambda *_: None)"
    )
    env = {**os.environ, "TZ": "Pacific/Kiritimati", "LC_ALL": "de_DE.UTF-8", "PYTHONHASHSEED": "5"}
    env.pop("SOURCE_DATE_EPOCH", None)
    subprocess.run([sys.executable, "-c", code, other], env=env, check=True)
    assert sums(there / "site") == here


def test_a_fault_in_a_mold_leaves_the_old_site_and_is_told(config: Path, tmp_path: Path) -> None:
    old = sums(build(config))
    (tmp_path / "molds" / "small-bar" / "block.stl").write_bytes(small_mold.stl()[:-9])
    with pytest.raises(Faults, match=r"block\.stl"):
        build(config)
    assert sums(tmp_path / "site") == old


@pytest.mark.slow
def test_a_fault_under_mkdocs_alone_is_one_sentence_and_leaves_the_old_site(
    config: Path, tmp_path: Path
) -> None:
    old = sums(build(config))
    (tmp_path / "molds" / "small-bar" / "mold.yaml").write_text("title: x\n")
    done = mkdocs(config)
    assert done.returncode == 1
    assert "mold.yaml:1:1: parts is missing" in done.stderr
    assert "Traceback" not in done.stderr
    assert sums(tmp_path / "site") == old


def test_a_warning_of_mkdocs_leaves_the_old_site(config: Path, tmp_path: Path) -> None:
    old = sums(build(config))
    (tmp_path / "site_src" / "mold-file.md").write_text("[nowhere](nowhere.md)\n")
    with pytest.raises(Abort, match="strict mode"):
        build(config)
    assert sums(tmp_path / "site") == old
    assert not list(tmp_path.glob(".site.*"))


def test_a_flipped_bit_in_a_frozen_file_stops_the_build(config: Path, tmp_path: Path, kept: Path) -> None:
    mold = tmp_path / "molds" / "small-bar"
    killing.release_now(mold, kept)
    old = sums(build(config))
    frozen = mold / "versions" / "1" / "small-bar" / "block.stl"
    data = bytearray(frozen.read_bytes())
    data[200] ^= 1
    frozen.write_bytes(data)
    with pytest.raises(Faults, match="this file of the frozen version 1 has changed"):
        build(config)
    assert sums(tmp_path / "site") == old


@pytest.mark.slow
def test_an_older_version_keeps_its_address_and_says_that_a_newer_exists(
    config: Path, tmp_path: Path, kept: Path, tables: Tables
) -> None:
    mold = tmp_path / "molds" / "small-bar"
    killing.release_now(mold, kept)
    first = build(config) / "molds" / "small-bar" / "v1.html"
    before = first.read_text(encoding="utf-8")
    small_mold.write(tmp_path / "molds", depth=7.0, version="2", more="renamed_from: [tiny-bar]\n")
    order = freeze.Order(notes="Shallower.", date="2026-03-02", texts=site_map.texts("en"))
    freeze.release(mold, order, tables, Store(kept))
    out = build(config)
    after = first.read_text(encoding="utf-8")
    assert ("newer version exists" in before, "newer version exists" in after) == (False, True)
    zipped = mold / "versions" / "1" / "small-bar-1.zip"
    assert (out / "molds" / "small-bar" / "v1" / zipped.name).read_bytes() == zipped.read_bytes()
    assert "small-bar.html" in (out / "molds" / "tiny-bar.html").read_text(encoding="utf-8")
    freeze.withdraw(mold, "1", "The bar is too hot.", "2026-03-03")
    out = build(config)
    assert "The bar is too hot." in first.read_text(encoding="utf-8")
    assert not (out / "molds" / "small-bar" / "v1" / zipped.name).exists()


def test_the_edit_link_of_a_mold_leads_to_its_spec(tmp_path: Path) -> None:
    small_mold.write(tmp_path / "molds")
    docs, molds = tmp_path / "site_src", tmp_path / "molds"
    assert site_map.edit_uri("molds/small-bar.md", molds, docs) == "../molds/small-bar/mold.yaml"
    assert site_map.edit_uri("molds/small-bar/v1.md", molds, docs) == "../molds/small-bar/mold.yaml"
    assert site_map.edit_uri("molds/unknown.md", molds, docs) is None
    assert site_map.edit_uri("materials.md", molds, docs) is None


def test_the_molds_are_watched_and_the_store_is_not(config: Path, tmp_path: Path) -> None:
    loaded = load_config(str(config))
    loaded.plugins.on_config(loaded)
    assert str(tmp_path / "molds") in loaded.watch
    assert not [path for path in loaded.watch if ".shotbook" in path]


@pytest.mark.slow
def test_a_changed_stl_is_served_again_and_a_fault_is_told_while_the_last_good_pages_stay(
    config: Path, tmp_path: Path
) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    code = "import sys; from builder import plugin; plugin.serve(sys.argv[1], sys.argv[2])"
    told = tmp_path / "told.txt"
    command = [sys.executable, "-c", code, str(config), f"127.0.0.1:{port}"]
    with told.open("w") as errors:
        server = subprocess.Popen(command, stderr=errors)
    try:
        address = f"http://127.0.0.1:{port}/molds/small-bar/block.stl"
        assert until(lambda: fetched(address) == small_mold.stl())
        small_mold.write(tmp_path / "molds", depth=7.0)
        assert until(lambda: fetched(address) == small_mold.stl(7.0))
        small_mold.write(tmp_path / "molds", depth=7.0, more="nonsense: 1\n")
        assert until(lambda: "key nonsense" in told.read_text(encoding="utf-8"))
        assert until(lambda: fetched(address) == small_mold.stl(7.0))
        small_mold.write(tmp_path / "molds", depth=8.0)
        assert until(lambda: fetched(address) == small_mold.stl(8.0))
    finally:
        server.terminate()
        server.wait()


def until(true: Callable[[], bool], seconds: float = 120) -> bool:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if true():
            return True
        time.sleep(0.3)
    return False


def fetched(address: str) -> bytes:
    try:
        with urllib.request.urlopen(address, timeout=5) as answer:
            return bytes(answer.read())
    except OSError:
        return b""


@pytest.mark.slow
def test_a_build_killed_at_any_moment_leaves_the_old_site_or_the_new_one(tmp_path: Path, kept: Path) -> None:
    store = tmp_path.parent / f"{tmp_path.name}-store"
    shutil.copytree(kept, store, ignore=shutil.ignore_patterns("pages", "tests"))
    killing.builds(tmp_path, store, count=4, seed=3)


def test_building_does_not_print(config: Path, capfd: pytest.CaptureFixture[str]) -> None:
    logging.getLogger("mkdocs").setLevel(logging.WARNING)
    build(config)
    captured = capfd.readouterr()
    assert captured.out + captured.err == ""
