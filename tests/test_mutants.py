"""Each planted fault still finds its place; `python -m tests.mutants` shows that each is noticed."""

from __future__ import annotations

import ast
from collections import Counter

from tests import mutants

FAULTS = mutants.everything()


def test_each_fault_finds_its_text_just_once_and_changes_it() -> None:
    lost = []
    for one in FAULTS:
        try:
            text = one.planted()
        except ValueError as error:
            lost.append(str(error))
            continue
        if one.file.endswith(".py"):
            ast.parse(text)
        assert one.find != one.put
    assert lost == []


def test_there_are_at_least_sixty_unlike_faults_and_some_in_every_kind_of_file() -> None:
    assert len({(one.file, one.find, one.put) for one in FAULTS}) == len(FAULTS) >= 60
    kinds = Counter(one.file.rpartition("/")[2] for one in FAULTS)
    wanted = {"mold.md.jinja", "card.html.jinja", "bench.md.jinja", "version.md.jinja", "index.md.jinja"}
    wanted |= {"mold.py", "collection.py", "page_data.py", "data_tables.py", "public_data.py", "compare.py"}
    wanted |= {
        "leaflet.py",
        "report.py",
        "shotbook.js",
        "bench.js",
        "batch.js",
        "card.js",
        "compare.js",
        "catalogue.js",
    }
    assert wanted <= set(kinds)


def test_each_fault_that_only_a_script_shows_is_one_of_them() -> None:
    assert set(mutants.SEEN_BY_SCRIPTS) <= {one.breaks for one in FAULTS}
