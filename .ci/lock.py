"""Choose and lock what CI installs, and list the licences: `.venv/bin/python .ci/lock.py`.

Run it on Linux x86_64 with Python 3.11, as CI does.

pip chooses the newest packages that pyproject.toml allows. `locked.txt` names each with its version and the
SHA-256 of its file; `licences.md` names the licence that each tells of itself.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
import tempfile
import tomllib
import venv
from importlib.metadata import Distribution, distributions
from pathlib import Path

HERE = Path(__file__).parent
ROOT = HERE.parent
LOCKED, LICENCES = HERE / "locked.txt", HERE / "licences.md"
EXTRAS = "test,kernel,cluster,sites"
HEAD = "# What CI installs, made by .ci/lock.py: each file by its SHA-256. Linux x86_64, Python 3.11.\n"
TOLD = """# Licences of what CI installs

Made by `.ci/lock.py` from what each package tells of itself. `with Shotbook` marks what
`pip install` brings to everyone; the rest serves tests, checks and the cluster.

| package | licence | |
|---|---|---|
"""

TEXTS = {
    "Redistribution and use in source and binary forms": "BSD",
    "Permission is hereby granted, free of charge": "MIT",
}
"""By what a licence is known that a package gives as its whole text."""


def canonical(name: str) -> str:
    """A package's name in the one spelling (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def pip(python: Path, *words: str) -> None:
    """Run pip of a virtual environment."""
    subprocess.run([python, "-m", "pip", *words], check=True, cwd=ROOT)


def lock(python: Path, report: Path) -> str:
    """The packages that pip would install into an empty environment, a line each."""
    build = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["build-system"]["requires"]
    plan = ("install", "-q", "--dry-run", "--ignore-installed", "--report", str(report))
    pip(python, *plan, f".[{EXTRAS}]", *build)
    lines = []
    for package in json.loads(report.read_text(encoding="utf-8"))["install"]:
        name, version = package["metadata"]["name"], package["metadata"]["version"]
        if name != "shotbook":
            digest = package["download_info"]["archive_info"]["hashes"]["sha256"]
            lines.append(f"{canonical(name)}=={version} --hash=sha256:{digest}\n")
    return HEAD + "".join(sorted(lines))


def install(python: Path) -> None:
    """Install what is locked; the builder of packages first, for two of them come as source."""
    locked = LOCKED.read_text(encoding="utf-8").splitlines(keepends=True)
    with tempfile.NamedTemporaryFile("w", suffix=".txt") as first:
        first.writelines(line for line in locked if line.startswith("setuptools=="))
        first.flush()
        pip(python, "install", "-q", "--require-hashes", "-r", first.name)
    pip(python, "install", "-q", "--require-hashes", "--no-build-isolation", "-r", str(LOCKED))


def licence(package: Distribution) -> str:
    """What a package says of its licence: an expression (PEP 639), else classifiers, else its words."""
    told = package.metadata
    lines = told.get_all("Classifier") or ()
    classes = ", ".join(line.rpartition(" :: ")[2] for line in lines if line.startswith("License ::"))
    words = told.get("License", "").strip()
    if told.get("License-Expression"):
        return str(told["License-Expression"])
    if classes.removeprefix("OSI Approved"):
        return classes
    known = (name for text, name in TEXTS.items() if text in " ".join(words.split()))
    return next(known, (words.splitlines() or ["not told"])[0].replace("|", "/"))


def brought_along(found: dict[str, Distribution]) -> set[str]:
    """The packages that come with Shotbook itself: what it names, what those name, and so on."""
    from packaging.requirements import Requirement

    todo, names = list(tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["dependencies"]), set()
    while todo:
        wanted = Requirement(todo.pop())
        name = canonical(wanted.name)
        if (
            name in found
            and name not in names
            and (not wanted.marker or wanted.marker.evaluate({"extra": ""}))
        ):
            names.add(name)
            todo += found[name].requires or ()
    return names


def licences(site: Path) -> str:
    """The table of licences of what is installed in a folder and locked."""
    locked = {line.partition("==")[0] for line in LOCKED.read_text().splitlines() if "==" in line}
    found = {canonical(one.metadata["Name"]): one for one in distributions(path=[str(site)])}
    ours = brought_along(found)
    rows = (
        f"| {name} | {licence(found[name])} | {'with Shotbook' if name in ours else ''} |\n"
        for name in sorted(locked)
    )
    return TOLD + "".join(rows)


def main() -> None:
    """Write both files anew, after what is locked was installed once."""
    with tempfile.TemporaryDirectory() as folder:
        venv.create(folder, with_pip=True)
        python = Path(folder) / "bin" / "python"
        LOCKED.write_text(lock(python, Path(folder) / "report.json"), encoding="utf-8")
        install(python)
        version = f"python{sys.version_info.major}.{sys.version_info.minor}"
        LICENCES.write_text(licences(Path(folder) / "lib" / version / "site-packages"), encoding="utf-8")


if __name__ == "__main__":
    main()
