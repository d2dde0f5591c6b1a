"""What a maker shows beside a mold: photos, links, hardware, print settings, prices."""

from __future__ import annotations

import io
import json
import re
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image

from builder.advice import printing
from builder.base.problems import Faults
from builder.model import (
    Figure,
    Finding,
    FromMaker,
    Link,
    MoldRecord,
    Picture,
    Prices,
    PrintedWith,
    Sourced,
    Tables,
    Unit,
)
from builder.release import bundle
from builder.site import page_data, public_data
from builder.site.pages import MoldPages
from builder.spec import mold_file, print_table
from tests.measurement_for_pages import part
from tests.records_for_pages import mold
from tests.test_pages import words
from tests.test_pictures_files import photo

FULL = """\
title: Test bar
parts: [a.stl, b.stl]
cavities: 1
plastisol: soft
photos: [one.jpg, {file: two.jpg, caption: Two of them.}]
video: https://example.org/video?v=1
links: [{title: How I rig it, url: "https://example.org/rig"}]
contact: mailto:jo.reed@example.org
thanks: https://example.org/thanks
ask: https://example.org/issues/new
credits: Tail after a sketch by Sam
hardware: [2 dowel pins 5 × 20]
eyes: 3D eyes 5 mm
print: {walls: 5, infill_share: 0.3, layer_inch: 0.008, orientation: on edge, note: Slowly.}
prices: {currency: EUR, filament_per_kg: 22, plastisol_per_l: 18}
"""
ALL = FromMaker(
    captions=("", "Two of them."),
    video="https://example.org/video?v=1",
    links=(Link(title="How I rig it", url="https://example.org/rig"),),
    contact="mailto:jo.reed@example.org",
    thanks="https://example.org/thanks",
    ask="https://example.org/issues/new",
    credits=("Tail after a sketch by Sam",),
    hardware=("2 dowel pins 5 × 20",),
    eyes="3D eyes 5 mm",
    printed=PrintedWith(walls=5, infill_share=0.3, layer_mm=0.2032, orientation="on edge", note="Slowly."),
    prices=Prices(currency="EUR", filament_per_kg=22.0, plastisol_per_l=18.0),
)


def laid_out(folder: Path, text: str) -> Path:
    folder.mkdir()
    for name in ("a.stl", "b.stl"):
        (folder / name).touch()
    for name in ("one.jpg", "two.jpg"):
        photo(folder / name, orientation=1)
    (folder / "mold.yaml").write_text(text, encoding="utf-8")
    return folder


def test_everything_that_a_maker_shows_is_read(tmp_path: Path, tables: Tables) -> None:
    spec = mold_file.load(laid_out(tmp_path / "test-bar", FULL), tables)
    assert spec.photos == ("one.jpg", "two.jpg")
    assert spec.maker == ALL


@pytest.mark.parametrize(
    "address",
    [
        "http://example.org", "javascript:alert(1)", "https://example.org@evil.org", "//example.org",
        "https://example.org:8443/", "https://EXAMPLE.org", "https://exa mple.org", "https://example.org/\"x",
        "https://example.org/<b>", "https://localhost/", "data:text/html,x", f"https://a.org/{'a' * 300}",
        "mailto:a@example.org", "ftp://example.org", "https://example.org/a'b",
    ],
)  # fmt: skip
def test_a_video_is_an_https_address_and_nothing_else(address: str, tmp_path: Path, tables: Tables) -> None:
    text = FULL.replace("https://example.org/video?v=1", json.dumps(address))
    with pytest.raises(Faults, match=r"mold.yaml:6:8, key video: .* is not an address for a link"):
        mold_file.load(laid_out(tmp_path / "test-bar", text), tables)


def test_a_video_s_address_cannot_turn_the_direction_of_text(tmp_path: Path, tables: Tables) -> None:
    text = FULL.replace("https://example.org/video?v=1", '"https://example.org/\\u202e"')
    with pytest.raises(
        Faults, match=r"mold.yaml:6:8, key video: the character U\+202E is not allowed in text"
    ):
        mold_file.load(laid_out(tmp_path / "test-bar", text), tables)


def test_a_mail_address_takes_no_subject(tmp_path: Path, tables: Tables) -> None:
    text = FULL.replace("jo.reed@example.org", "jo.reed@example.org?subject=x")
    with pytest.raises(Faults, match=r"key contact: .* is not an address for a link; .*mailto:NAME"):
        mold_file.load(laid_out(tmp_path / "test-bar", text), tables)


def shown(record: MoldRecord) -> str:
    return MoldPages(words()).mold(record)


def photographed() -> MoldRecord:
    told = Finding(level="note", code="test.note")
    photos = tuple(
        Picture(name=f"photo-{n}", files={400: f"photo-{n}-400.webp"}, width_px=400, height_px=300, alt=told)
        for n in (1, 2)
    )
    record = mold()
    drawn = Picture(name="bait", files={400: "bait-400.webp"}, width_px=400, height_px=300, alt=told)
    spec = replace(record.spec, maker=ALL, bolts="3 × M5")
    return replace(record, spec=spec, photos=photos, pictures=(*record.pictures, drawn))


def test_a_page_shows_what_the_maker_says() -> None:
    page = shown(photographed())
    rel = 'rel="nofollow noopener noreferrer ugc"'
    for address in (ALL.video, ALL.contact, ALL.thanks, ALL.ask, ALL.links[0].url):
        assert f'<a href="{address}" {rel}>' in page
    for text in (*ALL.credits, *ALL.hardware, ALL.eyes, "on edge", "Slowly.", "How I rig it"):
        assert text in page


def test_the_first_photo_stands_first_and_the_drawing_among_the_details() -> None:
    page = shown(photographed())
    places = [page.index(f"photo-{n}-400.webp") for n in (1, 2)]
    assert places[0] < page.index("sb-four") < places[1] < page.index('id="print"')
    assert page.index('id="details"') < page.index("bait-400.webp")
    assert "<figcaption>Two of them.</figcaption>" in page


def test_the_first_photo_is_the_catalogues_picture_and_without_one_the_bait_is() -> None:
    record = photographed()
    assert page_data.card_picture(record) == ("photo-1-400.webp", 400, 300)
    assert page_data.card_picture(replace(record, photos=())) == ("bait-400.webp", 400, 300)


def test_without_photos_the_drawing_of_the_bait_stands_first() -> None:
    record = photographed()
    page = shown(replace(record, photos=(), spec=replace(record.spec, maker=FromMaker())))
    assert page.index("bait-400.webp") < page.index("sb-four")


def test_a_link_that_did_not_come_through_the_reader_is_not_shown() -> None:
    record = mold()
    bad = FromMaker(video="javascript:alert(1)", links=(Link(title="<b>", url="https://a.org/'\"><script>"),))
    page = shown(replace(record, spec=replace(record.spec, maker=bad)))
    assert "alert(1)" not in page
    assert "<script>" not in page.partition("</dl>")[2]


def test_a_photo_in_the_zip_has_nothing_but_its_pixels(tmp_path: Path, tables: Tables) -> None:
    folder = laid_out(tmp_path / "test-bar", FULL)
    assert b"SECRET-CAMERA" in (folder / "one.jpg").read_bytes()
    files = bundle.own_files(mold_file.load(folder, tables))
    for name in ("one.jpg", "two.jpg"):
        data = files[f"test-bar/{name}"]
        for secret in (b"SECRET", b"Exif", b"ICC_PROFILE", b"xmpmeta"):
            assert secret not in data
        with Image.open(io.BytesIO(data)) as image:
            assert (image.format, image.size) == ("JPEG", (400, 300))


def test_the_published_record_tells_it_too() -> None:
    told = json.loads(public_data.as_json(photographed()))["maker"]
    assert told["links"] == [{"title": "How I rig it", "url": "https://example.org/rig"}]
    assert told["printed"]["layer_mm"] == 0.2032
    assert told["prices"] == {"currency": "EUR", "filament_per_kg": 22.0, "plastisol_per_l": 18.0}


def sure(value: float, unit: Unit) -> Sourced:
    return Sourced(value=value, low=value, high=value, unit=unit, source="own", grade="recalled")


def just(value: float, unit: Unit) -> Figure:
    return Figure(value=value, low=value, high=value, unit=unit, because="", origin="computed")


def test_a_printed_cube_takes_its_shell_and_half_of_the_rest() -> None:
    """Cube of 20 mm: 8 mL, 24 cm2; 2 lines of 0.5 mm: 2.4 mL of shell and half of 5.6 mL."""
    cube = replace(part("cube", "cube.stl", 1.0), volume_ml=8.0, area_mm2=2400.0)
    used = printing.used_ml([cube], just(2, "count"), just(0.5, "share"), sure(0.5, "mm"))
    assert used == pytest.approx((5.2, 5.2, 5.2))


def test_a_thin_part_never_takes_more_than_its_volume() -> None:
    thin = replace(part("plate", "plate.stl", 1.0), volume_ml=2.0, area_mm2=9000.0)
    assert printing.used_ml([thin], just(4, "count"), just(0.4, "share"), sure(0.45, "mm"))[0] == 2.0


def test_a_kilogram_of_filament_has_the_length_that_is_written_on_spools(tables: Tables) -> None:
    """1 kg of PLA of 1.75 mm at 1.24 g/cm3: 335 m by pi d^2 / 4, as spools say (330 to 340 m)."""
    record = mold()
    spec = replace(record.spec, maker=FromMaker(printed=PrintedWith(walls=40, infill_share=1.0)))
    pla = next(one for one in tables.mold_materials if one.id == "pla")
    made = printing.settings(spec, record.measurement, pla, print_table.load(), 5.0)
    assert made.length_m is not None
    assert made.used_g is not None
    assert made.length_m.value / made.used_g.value * 1000 == pytest.approx(335, abs=6)


@pytest.mark.parametrize(
    ("material", "process"), [("pla", "filament"), ("heat-resin", "resin"), ("aluminium", "cut")]
)
def test_each_material_has_its_own_rows(material: str, process: str) -> None:
    record = mold()
    page = shown(replace(record, spec=replace(record.spec, mold_material=material)))
    section = page.partition('id="print"')[2].partition("<h2")[0]
    rows = ("walls", "layer", "filament", "resin")
    labels = {name: str(words().say(f"page.print.{name}")) for name in rows}
    there = {name for name, label in labels.items() if f"<dt>{label}</dt>" in section}
    assert there == {
        "filament": {"walls", "layer", "filament"}, "resin": {"layer", "resin"}, "cut": set(),
    }[process]  # fmt: skip


def test_costs_follow_the_makers_prices() -> None:
    page = shown(photographed())
    costs = [float(one) for one in re.findall(r">(\d+\.\d\d)\u00a0EUR", page)]
    advised = mold().advice.amounts[0].batch[0].heat_ml
    assert len(costs) == 2
    assert costs[1] == pytest.approx(advised.value * 18 / 1000, abs=0.006)
    grams = re.search(r"<dt>Filament</dt><dd><var[^>]*>([\d.]+)\u00a0g", page)
    assert grams is not None
    assert costs[0] == pytest.approx(float(grams[1]) * 22 / 1000, rel=0.01)
