"""A mold that must not be shot says so first wherever it is shown; it is released only for a told reason."""

from __future__ import annotations

import html
import io
import json
import re
import zipfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from builder import build
from builder.base.problems import Faults
from builder.base.store import Store
from builder.model import Figure, Finding, MoldRecord, Tables, no_temperature
from builder.release import freeze
from builder.site import page_data, public_data, site_map
from builder.site.catalogue import Catalogue
from builder.site.pages import CollectionPages, Words
from builder.spec import earlier, versions
from tests import small_mold
from tests.changed_tables import changed

REASON = "For a test of the release alone."
STOP = "Do not shoot this mold with soft plastisol in PLA"


def c(value: float) -> Figure:
    return Figure(value=value, low=value - 5, high=value + 5, unit="c", because="", origin="computed")


def order(despite: str = "") -> freeze.Order:
    return freeze.Order(notes="First.", date="2026-03-01", texts=site_map.texts("en"), despite=despite)


@pytest.fixture(scope="module")
def shut(tables: Tables) -> Tables:
    """Tables with a soft plastisol that must stay below 150 °C: no temperature of the trade suits it."""
    return changed(tables, "soft", "limit", 150.0, 0.002)


@pytest.fixture(scope="module")
def released(tmp_path_factory: pytest.TempPathFactory, shut: Tables, kept: Path) -> MoldRecord:
    """A mold with a stop that was released despite it."""
    folder = small_mold.write(tmp_path_factory.mktemp("molds"))
    freeze.release(folder, order(REASON), shut, Store(kept))
    return build.build_mold(folder, shut, Store(kept))


@pytest.fixture(scope="module")
def site(released: MoldRecord, shut: Tables, kept: Path) -> dict[str, str]:
    catalogue = Catalogue(molds=(released,), tables=shut, colours={}, store=Store(kept))
    return {uri: text for uri, text in site_map.generate(catalogue).items() if isinstance(text, str)}


def data(script: str) -> Any:  # noqa: ANN401 - any JSON value
    return json.loads(script[script.index("(") + 1 : script.rindex(")")])


def first_text(page: str) -> str:
    """The text of a page from its first element on."""
    body = re.sub(r"^---.*?---", "", page, flags=re.S)
    body = body.partition("<body>")[2] or body
    return re.sub(r"\s+", " ", re.sub(r"<(form|head).*?</\1>|<[^>]*>", " ", body, flags=re.S)).strip()


def test_a_mold_with_a_stop_is_refused_with_the_stop_and_the_way_out(
    tmp_path: Path, shut: Tables, store: Store
) -> None:
    folder = small_mold.write(tmp_path)
    with pytest.raises(Faults) as found:
        freeze.release(folder, order(), shut, store)
    (problem,) = found.value.problems
    assert f"small-bar has a stop. {STOP}" in problem.what
    assert "--despite" in problem.remedy
    assert versions.places(folder) == ()


@pytest.mark.parametrize("blank", ["", " ", "\n"])
def test_a_blank_reason_is_none(tmp_path: Path, shut: Tables, store: Store, blank: str) -> None:
    with pytest.raises(Faults, match="has a stop"):
        freeze.release(small_mold.write(tmp_path), order(blank), shut, store)


def test_a_reason_where_nothing_stops_is_refused_for_it_would_be_printed(
    tmp_path: Path, tables: Tables, store: Store
) -> None:
    with pytest.raises(Faults, match="a reason is given to release it despite a stop, but it has no stop"):
        freeze.release(small_mold.write(tmp_path), order(REASON), tables, store)


def test_page_and_version_page_begin_with_the_stop_and_the_reason(site: dict[str, str]) -> None:
    for uri in ("molds/small-bar.md", "molds/small-bar/v1.md"):
        assert re.match(rf"Stop\. +{STOP}.*?{REASON}", first_text(site[uri])), uri


def test_the_first_thing_on_the_catalogues_card_is_the_stop_and_the_reason(site: dict[str, str]) -> None:
    card = site["index.md"].partition('<article class="sb-card">')[2]
    told = first_text(card)
    assert told.startswith("Stop: do not shoot it with soft plastisol in PLA.")
    assert REASON in told
    (entry,) = data(site["data/index.js"])
    assert entry["stop"] in told


def test_scripts_of_card_bench_and_compare_get_the_stop_of_each_shut_pair_and_the_reason(
    site: dict[str, str],
) -> None:
    told = data(site["data/molds/small-bar.js"])
    assert REASON in told["despite"]
    for pair in told["w"]["soft"].values():
        assert pair["point"] is None
        assert str(pair["stop"][0]).startswith("Do not shoot this mold with soft plastisol in ")
    for pair in (pair for plastisol in told["w"].values() for pair in plastisol.values()):
        assert (pair["stop"] is None) == (pair["point"] is not None)


@pytest.mark.parametrize("page", ["bench.md", "card.html"])
def test_bench_and_card_have_the_place_for_the_stop_before_everything_else(
    site: dict[str, str], page: str
) -> None:
    text = site[page]
    assert text.index("data-stop>") < text.index("<h1>")


def test_the_zip_says_it_first_in_readme_card_changes_and_record(released: MoldRecord) -> None:
    archive = zipfile.ZipFile(io.BytesIO(released.versions[0].downloads[0].path.read_bytes()))
    read = {name: archive.read(f"small-bar-1/{name}").decode() for name in ("README.txt", "shot-card.html")}
    assert read["README.txt"].startswith(f"Stop. {STOP}")
    assert REASON in read["README.txt"].partition("\n")[0]
    assert re.match(rf"Stop\. +{STOP}.*?{REASON}", first_text(read["shot-card.html"]))
    assert REASON in archive.read("small-bar-1/CHANGES.md").decode()
    record = json.loads(archive.read("small-bar-1/record.json"))
    assert (record["stop"]["level"], record["despite"]) == ("stop", REASON)


def test_posts_and_feed_say_it(released: MoldRecord, site: dict[str, str]) -> None:
    place = released.spec.folder / "versions" / "1"
    for name in ("post.txt", "post.md"):
        assert (place / name).read_text(encoding="utf-8").startswith(f"Stop. {STOP}")
    assert "Stop: do not shoot it." in site["feed.xml"]


def test_the_record_as_data_has_the_one_stop(released: MoldRecord) -> None:
    told = json.loads(public_data.as_json(released))
    stop = released.stop
    assert stop is not None
    assert told["stop"]["code"] == stop.code == released.versions[0].stop.code  # type: ignore[union-attr]
    assert told["despite"] == REASON


def test_a_mold_that_may_be_shot_shows_no_stop_anywhere(tmp_path: Path, tables: Tables, store: Store) -> None:
    record = build.build_mold(small_mold.write(tmp_path), tables, store)
    assert record.stop is None
    generated = site_map.generate(Catalogue(molds=(record,), tables=tables, colours={}))
    assert re.search(r"data-stopped hidden>", str(generated["molds/small-bar.md"]))
    assert data(str(generated["data/index.js"]))[0]["stop"] == ""
    assert page_data.mold_data(record, site_map.texts("en"))["despite"] == ""


def test_a_version_page_carries_the_warnings_it_was_frozen_with(released: MoldRecord) -> None:
    version = released.versions[0]
    assert version.findings == released.findings != ()
    page = CollectionPages(Words(site_map.texts("en"))).version(version, [version])
    said = site_map.texts("en")
    for finding in version.findings:
        assert f'<li class="sb-{finding.level}">' in page
        assert said.entries[finding.code].partition("{")[0] in page
    assert said.say("page.shell.caution") in html.unescape(page)


def test_a_frozen_warning_whose_words_are_gone_is_still_told(released: MoldRecord) -> None:
    gone = (Finding(level="warn", code="findings.of_old"), Finding(level="warn", code="findings.short"))
    version = replace(released.versions[0], findings=gone)
    page = CollectionPages(Words(site_map.texts("en"))).version(version, [version])
    assert "its wording is gone: findings.of_old." in page
    assert "its wording is gone: findings.short." in page


def test_a_version_frozen_before_stops_were_kept_has_the_one_of_its_record(
    released: MoldRecord,
) -> None:
    (told,) = released.versions
    record = json.loads((released.spec.folder / "versions" / "1" / "record.json").read_bytes())
    made = earlier.completed(replace(told, findings=(), stop=None), record)
    assert made.stop is not None
    assert told.stop is not None
    assert made.stop.code == told.stop.code
    assert [one.code for one in made.findings] == [
        *(one.code for one in released.advice.windows[0].findings),
        *(one.code for one in (*released.advice.findings, *released.measurement.findings)),
    ]


@pytest.mark.parametrize("record", [{}, {"advice": {"windows": []}}, {"advice": {"windows": 1}}])
def test_a_version_without_a_known_record_has_no_findings(
    record: dict[str, Any], released: MoldRecord
) -> None:
    made = earlier.completed(released.versions[0], record)
    assert (made.stop, made.findings) == (None, ())


def test_every_released_demo_version_whose_window_was_shut_shows_its_stop() -> None:
    first = versions.load(Path(__file__).parent.parent / "molds" / "reed-minnow")[-1]
    assert "shoot" not in first.figures
    assert first.stop is not None
    page = CollectionPages(Words(site_map.texts("en"))).version(first, [first])
    assert re.match(r"Stop\. +Do not shoot this mold with medium plastisol in PETG", first_text(page))


def test_the_stop_names_the_lowest_limit_and_claims_no_more_than_the_middle_values_say() -> None:
    hot = no_temperature("soft", "pla", c(190), (c(220), c(177)))
    assert (hot.code, hot.values["limit"]) == ("stop.too_cold", c(177))
    assert no_temperature("soft", "pla", c(170), (c(172), c(177))).code == "stop.unlikely"
