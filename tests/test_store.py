"""The store: found again, made again when damaged, shared by builds at once, free to delete."""

from __future__ import annotations

import ast
import os
import shutil
import subprocess
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import builder
from builder.base import disk
from builder.base import store as stores
from builder.base.problems import Faults
from builder.base.store import Store, digest_of, stage_version
from builder.model import Runner

RUNNER = Runner(volume_ml=1.25, modulus_mm=0.5)


def make(folder: Path) -> Runner:
    (folder / "picture.png").write_bytes(b"\x89PNG")
    (folder / "views").mkdir()
    (folder / "views" / "open.png").write_bytes(b"\x89PNG open")
    return RUNNER


def must_not_run(folder: Path) -> Runner:
    raise AssertionError(f"made again in {folder}")


def test_a_result_is_made_once_and_found_by_the_next_store(tmp_path: Path) -> None:
    first, second = Store(tmp_path), Store(tmp_path)
    assert first.keep("pictures", "k1", Runner, make)[0] == RUNNER
    record, folder = second.keep("pictures", "k1", Runner, must_not_run)
    assert record == RUNNER
    assert (folder / "views" / "open.png").read_bytes() == b"\x89PNG open"
    assert (first.misses, first.hits) == (Counter(pictures=1), Counter())
    assert (second.misses, second.hits) == (Counter(), Counter(pictures=1))


@pytest.mark.parametrize("name", ["record.json", "SHA256SUMS", "picture.png", "views/open.png"])
@pytest.mark.parametrize("damage", ["flip", "cut", "delete", "empty"])
def test_a_damaged_entry_is_noticed_and_made_again(tmp_path: Path, name: str, damage: str) -> None:
    _, folder = Store(tmp_path).keep("pictures", "k1", Runner, make)
    file = folder / name
    data = file.read_bytes()
    match damage:
        case "flip":
            file.write_bytes(bytes([data[0] ^ 1]) + data[1:])
        case "cut":
            file.write_bytes(data[:-1])
        case "empty":
            file.write_bytes(b"")
        case "delete":
            file.unlink()
    again = Store(tmp_path)
    assert again.keep("pictures", "k1", Runner, make)[0] == RUNNER
    assert again.misses == Counter(pictures=1)
    assert stores.is_intact(folder)


def test_a_file_that_nobody_wrote_makes_an_entry_suspect(tmp_path: Path) -> None:
    _, folder = Store(tmp_path).keep("pictures", "k1", Runner, make)
    (folder / "stray.png").touch()
    Store(tmp_path).keep("pictures", "k1", Runner, make)
    assert not (folder / "stray.png").exists()


def poison(folder: Path) -> None:
    """Put a script into an entry, and sums that are right."""
    (folder / "views" / "open.png").write_bytes(b"<script>ran=1</script>")
    (folder / stores.SUMS).write_text(stores.sums(folder))


def test_an_entry_with_right_sums_that_this_store_did_not_write_is_made_again(tmp_path: Path) -> None:
    _, folder = Store(tmp_path).keep("pictures", "k1", Runner, make)
    poison(folder)
    assert stores.is_intact(folder)
    again = Store(tmp_path)
    again.keep("pictures", "k1", Runner, make)
    assert again.misses == Counter(pictures=1)
    assert (folder / "views" / "open.png").read_bytes() == b"\x89PNG open"
    assert Store(tmp_path).has("pictures", "k1")


def test_a_sealed_entry_under_another_name_is_made_again(tmp_path: Path) -> None:
    _, folder = Store(tmp_path).keep("pictures", "k1", Runner, make)
    shutil.copytree(folder, tmp_path / "pictures" / "k2")
    shutil.copytree(folder, tmp_path / "pages" / "k1")
    assert not Store(tmp_path).has("pictures", "k2")
    assert not Store(tmp_path).has("pages", "k1")


def test_a_store_that_came_with_a_strangers_files_is_not_believed(tmp_path: Path) -> None:
    """A copy has the same secret bytes, but the system made its file at another moment."""
    theirs = Store(tmp_path / "theirs")
    theirs.keep("pictures", "k1", Runner, make)
    shutil.copytree(theirs.folder, tmp_path / "here")
    assert theirs.has("pictures", "k1")
    here = Store(tmp_path / "here")
    assert not here.has("pictures", "k1")
    here.keep("pictures", "k1", Runner, make)
    assert Store(tmp_path / "here").has("pictures", "k1")


def test_a_store_from_a_cache_is_believed_by_who_has_the_hosts_key(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A build host makes every folder anew and puts the store back as a copy."""
    monkeypatch.setenv("SHOTBOOK_STORE_KEY", "a secret of the host")
    Store(tmp_path / "first").keep("pictures", "k1", Runner, make)
    shutil.copytree(tmp_path / "first", tmp_path / "second")
    assert Store(tmp_path / "second").has("pictures", "k1")
    monkeypatch.setenv("SHOTBOOK_STORE_KEY", "another")
    assert not Store(tmp_path / "second").has("pictures", "k1")
    monkeypatch.setenv("SHOTBOOK_STORE_KEY", "")
    assert not Store(tmp_path / "second").has("pictures", "k1")


def link_home(store: Path, home: Path) -> None:
    (store / "pictures").symlink_to(home)


def file_for_stage(store: Path, home: Path) -> None:  # noqa: ARG001
    (store / "pictures").write_text("x")


def folder_for_sums(store: Path, home: Path) -> None:  # noqa: ARG001
    (store / "pictures" / "k1" / "SHA256SUMS").mkdir(parents=True)


def pipe_for_sums(store: Path, home: Path) -> None:  # noqa: ARG001
    (store / "pictures" / "k1").mkdir(parents=True)
    os.mkfifo(store / "pictures" / "k1" / "SHA256SUMS")


def file_for_entry(store: Path, home: Path) -> None:  # noqa: ARG001
    (store / "pictures").mkdir()
    (store / "pictures" / "k1").write_text("x")


def link_for_entry(store: Path, home: Path) -> None:
    (store / "pictures").mkdir()
    (store / "pictures" / "k1").symlink_to(home)


def folder_for_secret(store: Path, home: Path) -> None:  # noqa: ARG001
    (store / ".secret" / "key").mkdir(parents=True)


def link_for_secret(store: Path, home: Path) -> None:
    (store / ".secret").mkdir()
    (store / ".secret" / "key").symlink_to(home / "thesis.txt")


def link_for_secrets_folder(store: Path, home: Path) -> None:
    (store / ".secret").symlink_to(home)


TRAPS = (
    link_home, file_for_stage, folder_for_sums, pipe_for_sums, file_for_entry, link_for_entry,
    folder_for_secret, link_for_secret, link_for_secrets_folder,
)  # fmt: skip


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes here")
@pytest.mark.parametrize("trap", TRAPS)
def test_what_is_no_store_in_its_place_heals_and_nothing_outside_is_touched(
    tmp_path: Path, trap: Callable[[Path, Path], None]
) -> None:
    home, store = tmp_path / "home", tmp_path / "store"
    home.mkdir()
    store.mkdir()
    (home / "thesis.txt").write_text("years of work, longer than a secret is, so that it is none at all")
    trap(store, home)
    assert Store(store).keep("pictures", "k1", Runner, make)[0] == RUNNER
    assert Store(store).has("pictures", "k1")
    assert sorted(path.name for path in home.rglob("*")) == ["thesis.txt"]
    assert (home / "thesis.txt").read_text().startswith("years of work")


def test_a_link_is_followed_only_to_what_is_a_store_already(tmp_path: Path) -> None:
    (tmp_path / "home").mkdir()
    (tmp_path / "store").symlink_to(tmp_path / "home")
    with pytest.raises(
        Faults, match="this is a link to a folder that is not a store; name the folder itself"
    ):
        Store(tmp_path / "store")
    Store(tmp_path / "home").keep("pictures", "k1", Runner, make)
    assert Store(tmp_path / "store").has("pictures", "k1")


def test_a_store_works_in_a_folder_that_its_builder_has_locked() -> None:
    """As a worker's is, which lies in a folder that no other run may sweep."""
    with disk.scratch() as folder:
        Store(folder).keep("pictures", "k1", Runner, make)
        assert set(Store(folder).files()) >= {"pictures/k1/record.json", "pictures/k1/views/open.png"}


def test_what_fails_is_not_kept_and_leaves_nothing(tmp_path: Path) -> None:
    def fail(folder: Path) -> Runner:
        (folder / "half.png").touch()
        raise ValueError("no such mold")

    with pytest.raises(ValueError, match="no such mold"):
        Store(tmp_path).keep("pictures", "k1", Runner, fail)
    assert [path for path in tmp_path.rglob("*") if path.name != "pictures"] == []


def test_a_deleted_store_is_filled_again(tmp_path: Path) -> None:
    store = Store(tmp_path / "store")
    store.keep("pictures", "k1", Runner, make)
    shutil.rmtree(tmp_path / "store")
    assert store.keep("pictures", "k1", Runner, make)[0] == RUNNER
    assert store.misses == Counter(pictures=2)


def test_the_sums_are_those_of_the_coreutils(tmp_path: Path) -> None:
    _, folder = Store(tmp_path).keep("pictures", "k1", Runner, make)
    tool = shutil.which("sha256sum")
    if tool is None:
        pytest.skip("no sha256sum here")
    subprocess.run([tool, "--check", "--strict", "SHA256SUMS"], cwd=folder, check=True, capture_output=True)


def test_two_builds_at_once_fill_one_store_without_harm(tmp_path: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from builder.base.store import Store, is_intact\n"
        "from builder.model import Runner\n"
        "def make(folder):\n"
        "    (folder / 'big.bin').write_bytes(b'x' * 200_000); return Runner(volume_ml=1.0, modulus_mm=2.0)\n"
        "store = Store(Path(sys.argv[1]))\n"
        "for n in range(40):\n"
        "    record, folder = store.keep('pictures', f'k{n}', Runner, make)\n"
        "    assert record.volume_ml == 1.0 and is_intact(folder)"
    )
    builds = [subprocess.Popen([sys.executable, "-c", code, tmp_path]) for _ in range(2)]
    assert [build.wait() for build in builds] == [0, 0]
    assert len(list(tmp_path.glob("pictures/k*/big.bin"))) == 40
    assert list(tmp_path.glob("pictures/.*")) == []


@given(st.lists(st.text(max_size=4), max_size=4), st.lists(st.text(max_size=4), max_size=4))
def test_other_parts_give_another_key(some: list[str], others: list[str]) -> None:
    assert (digest_of(*some) == digest_of(*others)) == (some == others)


def test_a_digest_is_sha256_of_length_and_part() -> None:
    """FIPS 180-4, by an independent program's value for the 8 + 3 bytes 00 00 00 00 00 00 00 03 'abc'."""
    tool = shutil.which("sha256sum")
    if tool is None:
        pytest.skip("no sha256sum here")
    text = (3).to_bytes(8, "big") + b"abc"
    out = subprocess.run([tool], input=text, check=True, capture_output=True).stdout
    assert digest_of("abc") == out.split()[0].decode()


@pytest.mark.slow
def test_what_a_source_imports_is_found_by_its_text_as_its_syntax_has_it() -> None:
    sources = sorted(Path(builder.__file__).parent.rglob("*.py"))
    assert len(sources) > 150
    for source in sources:
        tree = ast.parse(source.read_bytes())
        named = {
            f"{node.module}.{alias.name}"
            for node in ast.walk(tree)
            if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "builder"
            for alias in node.names
        }
        assert stores._imports(source) == named, source
        modules = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
        modules |= {a.name for node in ast.walk(tree) if isinstance(node, ast.Import) for a in node.names}
        assert stores._outside(source) == {str(name).split(".")[0] for name in modules}, source


def test_imports_over_several_lines_with_remarks_and_other_names_are_found(tmp_path: Path) -> None:
    source = tmp_path / "one.py"
    source.write_text(
        "from builder.base import (\n    disk,  # as it is\n    units as u,\n)\n"
        "import json\n\n\ndef late():\n    from builder.mesh import cuts, sections as s  # noqa: F401\n"
    )
    assert stores._imports(source) == {
        "builder.base.disk",
        "builder.base.units",
        "builder.mesh.cuts",
        "builder.mesh.sections",
    }


def test_a_stages_version_covers_what_it_imports_and_nothing_else() -> None:
    versions = {stage_version(stage) for stage in ("measure", "advice", "pictures")}
    assert len(versions) == 3


def test_a_stages_version_changes_with_a_line_of_a_module_it_imports(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, text in {
        "measure/__init__.py": "",
        "measure/closing/planes.py": "from builder import mesh\n",
        "mesh/__init__.py": "from builder.mesh.solids import A\n",
        "mesh/solids.py": "from builder.model import A\n",
        "model/__init__.py": "A = 1\n",
        "site/pages.py": "B = 1\n",
    }.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text)
    monkeypatch.setattr(builder, "__file__", str(tmp_path / "__init__.py"))

    def version() -> str:
        forget()
        return stage_version("measure")

    before = version()
    (tmp_path / "site" / "pages.py").write_text("B = 2\n")
    assert version() == before
    (tmp_path / "model" / "__init__.py").write_text("A = 2\n")
    assert version() != before
    forget()


installed = stores.library_version


def forget() -> None:
    named = (stores.libraries_of, stores._reached, stores._imports, stores._outside)
    for found in (stage_version, stores.sources_version, *named):
        found.cache_clear()


def test_only_a_library_that_a_stage_imports_changes_its_version(monkeypatch: pytest.MonkeyPatch) -> None:
    stages = ("measure", "advice", "pictures")
    before = {stage: stage_version(stage) for stage in stages}
    moved = {}
    for library in stores.LIBRARIES:
        with monkeypatch.context() as patch:
            patch.setattr(
                stores, "library_version", lambda name, new=library: "9" if name == new else installed(name)
            )
            forget()
            moved[library] = {stage for stage in stages if stage_version(stage) != before[stage]}
    forget()
    assert moved["pillow"] == {"pictures"}
    assert moved["numpy"] == set(stages)
    assert all(
        moved[library] == {s for s in stages if library in stores.libraries_of(s)} for library in moved
    )
