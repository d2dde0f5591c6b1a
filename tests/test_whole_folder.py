"""`shotbook pages` gives a folder that needs nothing else: to open, or for another generator."""

from __future__ import annotations

from pathlib import Path

import markdown  # type: ignore[import-untyped]
import pytest
from click.testing import CliRunner

from builder.cli import main
from tests import small_mold
from tests.test_existing_sites import dead_links


@pytest.mark.slow
@pytest.mark.parametrize("html", [True, False], ids=["whole pages", "Markdown, through another generator"])
def test_the_folder_has_all_that_its_pages_need(html: bool, tmp_path: Path, kept: Path) -> None:
    small_mold.write(tmp_path / "molds", more="renamed_from: [tiny-bar]\n")
    out = tmp_path / "pages"
    options = ["--molds", str(tmp_path / "molds"), "--store", str(kept), "--out", str(out)]
    done = CliRunner().invoke(main, ["pages", *options, *(["--html"] if html else [])])
    assert done.exit_code == 0, done.output
    for page in [] if html else list(out.rglob("*.md")):  # the generator of a few lines that another would be
        _, _, body = page.read_text(encoding="utf-8").split("---\n", 2)
        page.with_suffix(".html").write_text(markdown.markdown(body), encoding="utf-8")
    assert (out / "molds" / "small-bar.html").is_file()
    assert dead_links(out) == []
    told = (out / "molds" / "small-bar.html").read_text(encoding="utf-8")
    assert told.count("assets/shotbook.js") == 1
    assert "<p>&lt;" not in told
    assert 'data-n="w.point"' in told
