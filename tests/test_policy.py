"""What pages may load and run: names, drawings and the scripts' own ways, without a browser."""

from __future__ import annotations

import base64
import hashlib
import re
from dataclasses import replace
from importlib import resources
from pathlib import Path

import pytest

import builder
from builder.base.problems import Faults
from builder.model import Download
from builder.site import drawings, page_data, policy, site_map
from builder.site.catalogue import Catalogue, load_colours
from builder.spec import material_tables
from tests.records_for_pages import mold
from tests.test_site import real_texts

SOURCES = Path(builder.__file__).parent
SCRIPTS = [*(SOURCES / "theme" / "assets").glob("*.js"), *(SOURCES / "templates").glob("*.js*")]
MARKUP = re.compile(
    r"\b(innerHTML|outerHTML|insertAdjacentHTML|setHTML\w*|createContextualFragment|parseFromString|srcdoc)\b"
    r"|document\.write|\beval\(|new Function|setAttribute\(\s*.on|javascript:"
)


def test_no_script_of_ours_makes_markup_or_code_of_text() -> None:
    assert len(SCRIPTS) >= 9
    found = [(s.name, m[0]) for s in SCRIPTS for m in MARKUP.finditer(s.read_text(encoding="utf-8"))]
    assert found == []


def test_the_address_of_a_script_is_written_in_one_place_only() -> None:
    given = [
        (script.name, line.strip())
        for script in SCRIPTS
        for line in script.read_text(encoding="utf-8").splitlines()
        if re.search(r"createElement\(.script|\bimportScripts\(|\bimport\(|new Worker|\.register\(", line)
    ]
    assert {name for name, _ in given} == {"shotbook.js"}
    assert len(given) == 2  # the loader, and the worker's registration, which asks the same function
    assert all("trusted.createScriptURL" in line for _, line in given if "register" in line)


def test_no_template_carries_a_handler_a_style_or_a_script_beside_ours() -> None:
    pages = [*(SOURCES / "templates").glob("*.jinja"), *(SOURCES / "theme").glob("*.html")]
    text = "\n".join(page.read_text(encoding="utf-8") for page in pages)
    assert re.findall(r"<[a-z][^>]*\s(?:on\w+|style)=", text) == []
    assert re.findall(r"<script(?![^>]*\bsrc=)[^>]*>", text) == [
        '<script type="application/ld+json">',
        "<script>",
    ]
    assert "<script>{{ t.first }}</script>" in text


def test_the_policy_allows_the_frames_own_script_and_nothing_written_into_a_page() -> None:
    shell = site_map.shell("en", [str(SOURCES / "theme" / "nowhere"), *themes()])
    sources = dict(one.split(" ", 1) for one in directives(shell["policy"]))
    sum256 = base64.b64encode(hashlib.sha256(shell["first"].encode()).digest()).decode()
    assert sources["script-src"] == f"'self' 'sha256-{sum256}'"
    assert sources["default-src"] == sources["base-uri"] == sources["form-action"] == "'none'"
    assert "unsafe" not in shell["policy"]
    assert not re.search(r"https?:|\*", shell["policy"].partition("content=")[2])
    preview = site_map.shell("en", themes(), preview=True)["policy"]
    assert dict(one.split(" ", 1) for one in directives(preview))["script-src"] == "'self' 'unsafe-inline'"


def themes() -> list[str]:
    return [str(resources.files("material").joinpath("templates"))]


def directives(meta: str) -> list[str]:
    (content,) = re.findall(r'content="([^"]*)"', meta)
    return str(content).split("; ")


HOSTILE = [
    "<script>alert(1)</script>",
    '<a href="javascript:alert(1)"/>',
    '<image href="https://example.com/x.png"/>',
    "<foreignObject/>",
    "<style>*{}</style>",
    "<use href='#x'/>",
    "<animate/>",
    '<path d="M0 0" onclick="alert(1)"/>',
    '<path d="M0 0" style="background:url(https://example.com)"/>',
    '<path fill="url(https://example.com/#a)"/>',
    '<path d="M0 0&quot; onload=&quot;x"/>',
    '<path class="a&#34;b"/>',
    '<x:script xmlns:x="http://www.w3.org/2000/svg"/>',
    "</drawing><drawing>",
    "<!DOCTYPE a [<!ENTITY b 'c'>]>&b;",
    "<path",
    "<path><script/></path>",
    "<svg>" * 4 + "</svg>" * 4,
    "\ud800",
]


@pytest.mark.parametrize("markup", HOSTILE)
def test_a_drawing_with_anything_that_the_builder_does_not_draw_is_refused(markup: str) -> None:
    with pytest.raises(Faults, match="cut: this drawing"):
        drawings.nodes(markup, "cut")


def test_a_drawing_of_too_many_elements_is_refused() -> None:
    with pytest.raises(Faults, match="more than 20000 elements"):
        drawings.nodes("<path/>" * 20_000, "cut")


def test_text_in_a_drawing_stays_text() -> None:
    (node,) = drawings.nodes('<text x="1" y="2" class="m">&lt;script&gt;</text>', "cut")
    assert node == ["text", {"x": "1", "y": "2", "class": "m"}, "<script>"]


def test_a_line_in_the_pages_ground_carries_a_class_for_no_page_may_carry_a_style() -> None:
    style = 'style="stroke:var(--md-default-bg-color,Canvas)"'
    (node,) = drawings.nodes(f'<path d="M1 2L3.5 -4e-3" {style}/>', "cut")
    assert node == ["path", {"d": "M1 2L3.5 -4e-3", "class": drawings.GROUND}]


def test_every_drawing_of_a_mold_passes_and_keeps_its_elements() -> None:
    record = mold()
    data = page_data.mold_data(record, real_texts("en"))
    plots = [*data["plots"]["window"], *data["plots"]["ways"]]
    assert [plot[0] for plot in plots] == ["svg"] * len(plots)
    assert plots
    assert data["over"].keys() == {p.name for p in record.pictures if p.overlay_svg or p.labels}


@pytest.mark.parametrize(
    "name", ["../sw.js", "../../index.html", "a.js", "a.svg", "a.stl/../../b.stl", "a\n.stl"]
)
def test_a_file_under_a_name_that_leads_elsewhere_or_runs_is_not_published(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(site_map, "texts", real_texts)
    offered = Download(name=name, path=Path("a.stl"), size_bytes=1, sha256="0" * 64)
    record = replace(mold(), downloads=(offered,))
    wanted = Catalogue(molds=(record,), tables=material_tables.load(), colours=load_colours())
    with pytest.raises(Faults, match=r"a\.stl: no file can be offered under the name"):
        site_map.generate(wanted)


def test_an_address_that_climbs_is_refused_whatever_it_comes_from() -> None:
    with pytest.raises(Faults, match=r"published under the name 'molds/x/\.\./\.\./y\.webp'"):
        site_map.refuse_addresses({"index.md": "", "molds/x/../../y.webp": Path("y.webp")})


def test_a_card_that_stands_alone_allows_its_own_style_and_no_script() -> None:
    text = policy.of_file("p{}")
    assert "script-src" not in text
    assert text.startswith(f"default-src 'none'; style-src {policy.digest('p{}')};")
