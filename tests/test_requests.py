"""molds/requests.yaml is taken exactly or refused with a sentence for each fault."""

from __future__ import annotations

from pathlib import Path

import pytest
from jsonschema import Draft7Validator

from builder.base.problems import Faults
from builder.model import Request
from builder.site import site_map
from builder.site.pages import CollectionPages, Words
from builder.spec import requests, yaml_reader

SLUGS = ("pond-stick", "reed-minnow")


def load(tmp_path: Path, text: str) -> tuple[Request, ...]:
    (tmp_path / "requests.yaml").write_text(text, encoding="utf-8")
    return requests.load(tmp_path, SLUGS)


def refused(tmp_path: Path, text: str) -> list[str]:
    with pytest.raises(Faults) as caught:
        load(tmp_path, text)
    return [str(problem).removeprefix(f"{tmp_path}/") for problem in caught.value.problems]


def test_without_the_file_nothing_was_asked(tmp_path: Path) -> None:
    assert requests.load(tmp_path, SLUGS) == ()


def test_requests_come_in_the_order_of_the_file_with_their_state(tmp_path: Path) -> None:
    text = """\
requests:
  - {asked: A slim minnow, date: 2026-01-05, by: a visitor, state: done, mold: reed-minnow}
  - {asked: A frog, date: 2026-02-01, state: declined, note: Two hollow legs cannot be shot}
  - {asked: A leech, date: 2026-02-03}
"""
    first, second, third = load(tmp_path, text)
    assert first == Request(
        asked="A slim minnow", date="2026-01-05", by="a visitor", state="done", mold="reed-minnow"
    )
    assert (second.state, third.state) == ("declined", "open")
    schema = requests.schema()
    Draft7Validator.check_schema(schema)
    Draft7Validator(schema).validate(yaml_reader.read_plain(text, "requests.yaml"))


def test_a_request_that_is_done_names_its_mold(tmp_path: Path) -> None:
    assert refused(tmp_path, "requests:\n  - {asked: A frog, date: 2026-02-01, state: done}\n") == [
        "requests.yaml:2:5, key requests[0]: "
        "this request is done, but names no mold; expected mold: its folder name."
    ]


def test_a_mold_that_there_is_not_gets_a_suggestion(tmp_path: Path) -> None:
    text = "requests:\n  - {asked: A minnow, date: 2026-02-01, state: done, mold: reed-minow}\n"
    assert refused(tmp_path, text) == [
        "requests.yaml:2:60, key requests[0].mold: there is no mold reed-minow; "
        "expected one of pond-stick, reed-minnow; did you mean reed-minnow?"
    ]


def test_all_faults_are_told_at_once(tmp_path: Path) -> None:
    text = "requests:\n  - {asked: A frog, date: soon}\n  - {what: A leech, date: 2026-02-03, state: maybe}\n"
    assert [line.split(": ")[0] for line in refused(tmp_path, text)] == [
        "requests.yaml:2:27, key requests[0].date",
        "requests.yaml:3:6, key requests[1].what",
        "requests.yaml:3:46, key requests[1].state",
    ]


def test_an_empty_file_is_told_what_it_needs(tmp_path: Path) -> None:
    assert refused(tmp_path, "") == [
        "requests.yaml:1:1: nothing is given; expected a group of keys with requests."
    ]


def test_a_way_to_ask_is_read_and_shown(tmp_path: Path) -> None:
    text = "requests: []\nask: mailto:molds@example.org\n"
    assert load(tmp_path, text) == ()
    assert requests.ask(tmp_path) == "mailto:molds@example.org"
    pages = CollectionPages(Words(site_map.texts("en")))
    assert '<a href="mailto:molds@example.org"' in pages.requests((), {}, requests.ask(tmp_path))
    assert "javascript" not in pages.requests((), {}, "javascript:a")


def test_nobody_is_asked_where_nothing_is_told(tmp_path: Path) -> None:
    assert requests.ask(tmp_path) == ""
    assert "href" not in CollectionPages(Words(site_map.texts("en"))).requests((), {})
