"""The guides of DEVELOPERS.md are true: each is followed in a copy, and touches the files that it lists."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from fnmatch import fnmatch
from pathlib import Path

import pytest

from builder.base.store import file_digest
from tests import small_mold

ROOT = Path(__file__).parent.parent
PACKAGE = ("builder", "site_src", "tests", "mkdocs.yml", "pyproject.toml", "DEVELOPERS.md")
MADE = (".shotbook", "site", ".hypothesis")
"""Folders at the top that a build or a test writes: no source of anything."""
OWN_TESTS = (
    "texts.py",
    "docs.py",
    "floors.py",
    "mold_file.py",
    "material_tables.py",
    "advice_wrong.py::test_everything_that_can_be_said_has_its_sentence_in_both_languages[few]",
    "pages.py",
    "site.py",
    "heat.py",
)
"""Tests of the copy that would notice a list that an addition has not reached."""


def listed_files(guide: str) -> tuple[str, ...]:
    """The files under the heading of a guide; none where it has no list."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    _, _, rest = text.partition(f"\n### {guide}\n")
    head = re.match(r"\s*Files: (.*?)\n\n", re.split(r"\n##+ ", rest)[0], re.S)
    return tuple(re.findall(r"`(.*?)`", head[1])) if head else ()


def guides() -> tuple[str, ...]:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    chapter = text.partition("\n## How to add\n")[2].partition("\n## ")[0]
    return tuple(re.findall(r"^### (.*)$", chapter, re.M))


def run(tree: Path, *command: str) -> str:
    """What Python prints with the copy as its only source of the package."""
    done = subprocess.run(
        [sys.executable, *command],
        cwd=tree,
        env={**os.environ, "PYTHONPATH": str(tree)},
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def insert(tree: Path, file: str, anchor: str, text: str, *, before: bool = False) -> None:
    """Write a text after the first line that begins with the anchor, or before it."""
    lines = (tree / file).read_text(encoding="utf-8").splitlines(keepends=True)
    at = next(n for n, line in enumerate(lines) if line.startswith(anchor)) + (0 if before else 1)
    (tree / file).write_text("".join([*lines[:at], text, *lines[at:]]), encoding="utf-8")


def say(tree: Path, anchor: str, *, en: str, de: str) -> None:
    """Write a sentence after the first line of this section, in both languages."""
    for language, text in (("en", en), ("de", de)):
        insert(tree, f"builder/texts/{language}.yaml", anchor, text)


def twin_of(tree: Path, file: str, entry: str, twin: str) -> None:
    """A table's entry once more, as another one at the end."""
    text = (tree / file).read_text(encoding="utf-8")
    values = re.split(r"\n(?=\S)", text.partition(f"\n{entry}:\n")[2])[0]
    (tree / file).write_text(f"{text.rstrip()}\n\n{twin}:\n{values}", encoding="utf-8")


# -- the guides, followed ------------------------------------------------------------------------------------


def add_plastisol(tree: Path) -> None:
    twin_of(tree, "builder/tables/plastisols.yaml", "soft", "floating")
    say(tree, "plastisol:", en="  floating: floating plastic\n", de="  floating: Schwimmplastik\n")


def add_material(tree: Path) -> None:
    twin_of(tree, "builder/tables/mold_materials.yaml", "petg", "plaster")
    say(tree, "material:", en="  plaster: sealed plaster\n", de="  plaster: versiegelter Gips\n")


def add_own_plastisol(tree: Path) -> None:
    (tree / "plastisols").mkdir()
    (tree / "plastisols" / "pier-blend.yaml").write_text("name: Pier blend\nlike: medium\n", encoding="utf-8")


def add_mold(tree: Path) -> None:
    stl = tree / "site" / "block.stl"
    stl.parent.mkdir()
    stl.write_bytes(small_mold.stl())
    run(tree, "-m", "builder", "new", "guide-bar", str(stl))


def add_finding(tree: Path) -> None:
    insert(
        tree,
        "builder/advice/findings.py",
        "    if not eye_fits:",
        "    if len(mold.baits) == 1:\n"
        '        found.append(Finding(level="note", code="findings.one_bait"))\n',
        before=True,
    )
    say(tree, "findings:", en="  one_bait: A lone bait.\n", de="  one_bait: Ein einzelner Köder.\n")
    insert(
        tree,
        "tests/test_advice_wrong.py",
        "    careful = advise(spec(declared=Declared(limit_c=150.0)), wide, tables)",
        "    molds = (*molds, replace(wide, baits=wide.baits[:1]))\n",
        before=True,
    )


def add_page(tree: Path) -> None:
    (tree / "builder/templates/tools.md.jinja").write_text(
        '---\ntitle: {{ text("page.tools.title")|tojson }}\n'
        'description: {{ text("page.tools.lead")|tojson }}\n---\n<p>{{ say("page.tools.lead") }}</p>\n'
    )
    insert(
        tree,
        "builder/site/pages/collection.py",
        '            "materials": self.words.render(',
        '            "tools": self.words.render("tools.md.jinja"),\n',
        before=True,
    )
    say(
        tree,
        "page:",
        en="  tools:\n    title: Tools\n    lead: What lies on the bench.\n",
        de="  tools:\n    title: Werkzeug\n    lead: Was auf der Werkbank liegt.\n",
    )
    insert(tree, "mkdocs.yml", "  - materials.md", "  - tools.md\n")


def add_picture(tree: Path) -> None:
    with (tree / "builder/pictures/views/plain.py").open("a", encoding="utf-8") as file:
        file.write(
            "\n\ndef above_view(kit: MoldShapes) -> View:\n"
            '    """The first bait from straight above."""\n'
            "    body = Body(shape=kit.baits[0], colour=palette.BAIT)\n"
            '    words = alt("above", {})\n'
            '    return View(name="above", bodies=(body,), axes=look(0.0, 90.0), alt=words)\n'
        )
    insert(tree, "builder/pictures/picture_set.py", "    annotated.print_view,", "    plain.above_view,\n")
    say(tree, "  alt:", en='    above: "{title} from above."\n', de='    above: "{title} von oben."\n')


def add_key(tree: Path) -> None:
    insert(
        tree,
        "builder/spec/mold_keys.py",
        '        Key("bait_type", Text(60), "What kind of bait it makes.", "paddle-tail minnow"),',
        '        Key("rig", Text(60), "How the bait is rigged.", "drop shot"),\n',
    )
    insert(tree, "builder/model/spec.py", '    hook: str = ""', '    rig: str = ""\n')
    insert(
        tree,
        "builder/templates/mold.md.jinja",
        "{{ y.from_maker() }}",
        '<p>{% if spec.rig %}{{ say("page.glance.rig", rig=spec.rig) }}{% endif %}</p>\n',
        before=True,
    )
    say(tree, "  glance:", en='    rig: "Rig: {rig}"\n', de='    rig: "Montage: {rig}"\n')
    run(tree, "-m", "tests.docs")


def add_formula(tree: Path) -> None:
    with (tree / "builder/physics/heat.py").open("a", encoding="utf-8") as file:
        file.write(
            "\n\ndef fourier_number(diffusivity_m2_s: float, seconds: float, half_m: float) -> float:\n"
            '    """Dimensionless time of conduction.\n\n    >>> fourier_number(1e-7, 10.0, 1e-3)\n    1.0\n'
            '    """\n    return diffusivity_m2_s * seconds / half_m**2\n'
        )
    insert(
        tree,
        "builder/physics/checks.py",
        '    "heat.contact_c": _contact,',
        '    "heat.fourier_number": lambda given: heat.fourier_number(\n'
        '        _n(given, "diffusivity"), _n(given, "seconds"), _n(given, "half_m")\n    ),\n',
    )
    insert(tree, "builder/tables/sources.yaml", "", 'definition: "By definition"\n')
    with (tree / "builder/tables/checks.yaml").open("a", encoding="utf-8") as file:
        file.write(
            '  - name: "Dimensionless time"\n    formula: heat.fourier_number\n'
            "    given: {diffusivity: 1.0e-7, seconds: 10.0, half_m: 0.001}\n"
            "    expected: 1.0\n    tolerance: 1.0e-9\n    source: definition\n"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Followed:
    """One guide: how it is followed, and where in the site what it adds is shown."""

    add: Callable[[Path], None]
    shown: dict[str, tuple[str, ...]]


FOLLOWED = {
    "A plastisol": Followed(
        add=add_plastisol,
        shown={
            "materials.html": ("floating plastic", "plastisol: floating"),
            "data/mold-file.schema.json": ('"floating"',),
            "data/molds/guide-bar.js": ("floating", "floating plastic"),
        },
    ),
    "A mold material": Followed(
        add=add_material,
        shown={
            "materials.html": ("sealed plaster", "mold_material: plaster"),
            "data/molds/guide-bar.js": ("plaster", "sealed plaster"),
            "data/mold-file.schema.json": ('"plaster"',),
        },
    ),
    "A plastisol of one catalogue": Followed(
        add=add_own_plastisol,
        shown={
            "materials.html": ("Pier blend", "plastisols/pier-blend.yaml"),
            "data/mold-file.schema.json": ('"pier-blend"',),
            "data/molds/guide-bar.js": ("pier-blend", "Pier blend"),
        },
    ),
    "A mold": Followed(
        add=add_mold, shown={"molds/guide-bar.html": ("Guide bar",), "index.html": ("guide-bar.html",)}
    ),
    "A finding": Followed(add=add_finding, shown={"molds/guide-bar.html": ("A lone bait.",)}),
    "A page": Followed(
        add=add_page, shown={"tools.html": ("What lies on the bench.",), "index.html": ("tools.html",)}
    ),
    "A picture": Followed(
        add=add_picture, shown={"molds/guide-bar.html": ("guide-bar/above-", "Guide bar from above.")}
    ),
    "A key of mold.yaml": Followed(
        add=add_key,
        shown={
            "molds/guide-bar.html": ("Rig: drop shot",),
            "mold-file.html": ("How the bait is rigged.",),
            "data/mold-file.schema.json": ('"rig"',),
        },
    ),
    "A formula": Followed(add=add_formula, shown={"method.html": ("Dimensionless time", "By definition")}),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Copy:
    """The package with everything added: its folder, and the files that following each guide touched."""

    tree: Path
    touched: dict[str, frozenset[str]]


def contents(tree: Path) -> dict[str, str]:
    """Digest of each source file by its name in the tree."""
    files = (file.relative_to(tree) for file in tree.rglob("*") if file.is_file())
    sources = (file for file in files if file.parts[0] not in MADE and "__pycache__" not in file.parts)
    return {file.as_posix(): file_digest(tree / file) for file in sources}


def changed(before: dict[str, str], after: dict[str, str]) -> frozenset[str]:
    names = before.keys() | after.keys()
    return frozenset(name for name in names if before.get(name) != after.get(name))


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Copy:
    tree = tmp_path_factory.mktemp("guides") / "shotbook"
    for name in PACKAGE:
        source = ROOT / name
        (tree / name).parent.mkdir(parents=True, exist_ok=True)
        if source.is_dir():
            shutil.copytree(source, tree / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(source, tree / name)
    (tree / "molds").mkdir()
    touched = {}
    for guide, followed in FOLLOWED.items():
        before = contents(tree)
        followed.add(tree)
        touched[guide] = changed(before, contents(tree))
    return Copy(tree=tree, touched=touched)


@pytest.fixture(scope="module")
def site(copy: Copy) -> Path:
    """The site of the copy, whose one mold uses the new key."""
    with (copy.tree / "molds" / "guide-bar" / "mold.yaml").open("a", encoding="utf-8") as spec:
        spec.write("rig: drop shot\n")
    shutil.rmtree(copy.tree / "site")
    run(copy.tree, "-m", "tests.coarse", "build")
    return copy.tree / "site"


def test_every_guide_lists_its_files_and_is_followed_here() -> None:
    assert set(guides()) == set(FOLLOWED)
    assert all(listed_files(guide) for guide in FOLLOWED)


@pytest.mark.slow
@pytest.mark.parametrize("guide", FOLLOWED)
def test_following_a_guide_touches_the_files_that_it_lists_and_no_others(guide: str, copy: Copy) -> None:
    patterns = [name.replace("SLUG", "*").replace("NAME", "*") for name in listed_files(guide)]
    unlisted = {name for name in copy.touched[guide] if not any(fnmatch(name, p) for p in patterns)}
    untouched = {p for p in patterns if not any(fnmatch(name, p) for name in copy.touched[guide])}
    assert not unlisted, f"{guide}: files were touched that the guide does not list"
    assert not untouched, f"{guide}: the guide lists files that nothing had to be written to"


@pytest.mark.slow
@pytest.mark.parametrize("guide", FOLLOWED)
def test_what_a_guide_adds_is_shown_by_the_site_that_is_built_then(guide: str, site: Path) -> None:
    for page, words in FOLLOWED[guide].shown.items():
        text = (site / page).read_text(encoding="utf-8")
        if page.endswith(".json"):
            text = json.dumps(json.loads(text))
        assert [word for word in words if word not in text] == [], page


@pytest.mark.slow
def test_the_tests_of_the_copy_pass_with_everything_that_was_added(copy: Copy) -> None:
    shutil.copytree(ROOT / "molds", copy.tree / "molds", dirs_exist_ok=True)
    before = contents(copy.tree)
    tests = (f"tests/test_{name}" for name in OWN_TESTS)
    run(copy.tree, "-m", "pytest", "-q", "-p", "no:cacheprovider", *tests, "builder/spec", "builder/physics")
    assert changed(before, contents(copy.tree)) == frozenset()
