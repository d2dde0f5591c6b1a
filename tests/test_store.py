"""The store: found again, made again when damaged, shared by builds at once, free to delete."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import builder
from builder.base import store as stores
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
        stage_version.cache_clear()
        stores._imports.cache_clear()
        return stage_version("measure")

    before = version()
    (tmp_path / "site" / "pages.py").write_text("B = 2\n")
    assert version() == before
    (tmp_path / "model" / "__init__.py").write_text("A = 2\n")
    assert version() != before
    stage_version.cache_clear()
