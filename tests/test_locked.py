"""What CI installs is locked by digest, covers what pyproject.toml names, and tells its licences."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

ROOT = Path(__file__).parent.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
LINES = (ROOT / ".ci" / "locked.txt").read_text(encoding="utf-8").splitlines()
LINE = re.compile(r"([a-z0-9-]+)==(\S+) --hash=sha256:([0-9a-f]{64})")
LOCKED = {match[1]: Version(match[2]) for line in LINES if (match := LINE.fullmatch(line))}
LICENCES = (ROOT / ".ci" / "licences.md").read_text(encoding="utf-8")
ROWS = dict(re.findall(r"^\| ([a-z0-9-]+) \| (.*?) \|", LICENCES.partition("|---|")[2], flags=re.M))
CI = {"python_version": "3.11", "sys_platform": "linux", "platform_machine": "x86_64", "extra": ""}


def named() -> list[Requirement]:
    """Everything that pyproject.toml names for CI: for use, for all extras, and to build."""
    project = PROJECT["project"]
    extras = [text for texts in project["optional-dependencies"].values() for text in texts]
    found = map(Requirement, (*project["dependencies"], *extras, *PROJECT["build-system"]["requires"]))
    return [wanted for wanted in found if not wanted.marker or wanted.marker.evaluate(CI)]


def test_each_line_is_one_package_with_its_version_and_the_digest_of_its_file() -> None:
    head, *lines = LINES
    assert head.startswith("#")
    assert all(LINE.fullmatch(line) for line in lines)
    assert len(LOCKED) == len(lines) > 100
    assert lines == sorted(lines)


@pytest.mark.parametrize("wanted", named(), ids=str)
def test_what_the_project_names_is_locked_in_its_range(wanted: Requirement) -> None:
    assert LOCKED[canonicalize_name(wanted.name)] in wanted.specifier


def test_ci_takes_the_locked_files_by_digest_and_nothing_else_afterwards() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    locked, _, after = script.partition("export PIP_NO_INDEX=1 PIP_NO_BUILD_ISOLATION=0")
    assert locked.count("pip install") == 1
    assert "-m pip install -q --require-hashes)" in locked
    assert '"${pip[@]}" --no-build-isolation -r .ci/locked.txt' in locked
    (other,) = re.findall(r"pip install -q -e '\.\[(.*?)\]'\nfi", after)
    assert set(other.split(",")) == set(PROJECT["project"]["optional-dependencies"])


def test_each_locked_package_stands_in_the_list_of_licences_with_one() -> None:
    assert set(ROWS) == set(LOCKED)
    assert all(told.strip() and told != "not told" for told in ROWS.values())


def test_what_comes_with_shotbook_is_marked_in_the_list() -> None:
    marked = set(re.findall(r"^\| (\S+) \|.*\| with Shotbook \|$", LICENCES, flags=re.M))
    ours = {canonicalize_name(Requirement(text).name) for text in PROJECT["project"]["dependencies"]}
    assert ours <= marked < set(ROWS)
    assert {"pytest", "cadquery", "ruff"}.isdisjoint(marked)


def test_nothing_that_comes_with_shotbook_asks_for_its_own_terms_of_the_whole() -> None:
    """Each lets a program under MIT carry the package: permissive, or bound to the files of the package."""
    marked = re.findall(r"^\| (\S+) \| (.*?) \| with Shotbook \|$", LICENCES, flags=re.M)
    fine = r"MIT|BSD|Apache|ISC|PSF|Python Software Foundation|MPL|Mozilla|Unlicense|HPND|0BSD|Zlib"
    assert [(name, told) for name, told in marked if not re.search(fine, told)] == []
