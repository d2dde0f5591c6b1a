"""What is wrong with mkdocs.yml is told in a sentence, and the old site stays."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

from builder import plugin
from builder.base import workers
from builder.base.problems import Faults
from tests import small_mold, small_site


def site(root: Path, **other: Any) -> Path:  # noqa: ANN401 - any setting
    small_mold.write(root / "molds")
    return small_site.configure(root, **other)


def said(config: Path) -> str:
    with pytest.raises(Faults) as found:
        plugin.build_site(config, None, lambda *_: None)
    assert not (config.parent / "site").exists()
    return str(found.value)


def test_another_theme_is_told(tmp_path: Path) -> None:
    config = site(tmp_path, theme={"name": "mkdocs"})
    assert said(config) == (
        f"{config}, key theme.name: the theme mkdocs has no place for these pages, which need what Material "
        "for MkDocs brings; write name: material, or name: shotbook for a site of its own."
    )


def test_a_language_without_sentences_is_told(tmp_path: Path) -> None:
    config = site(tmp_path)
    told = yaml.safe_load(config.read_text(encoding="utf-8"))
    told["theme"]["language"] = "fr"
    config.write_text(yaml.safe_dump(told), encoding="utf-8")
    assert (
        "key theme.language: there is no translation for the language fr; choose the language of these pages "
        "with language: de or language: en under plugins: shotbook."
    ) in said(config)


def test_a_site_without_the_plugin_is_told(tmp_path: Path) -> None:
    assert "key plugins: the plugin shotbook is not listed" in said(site(tmp_path, plugins=[]))


def test_a_cluster_that_is_none_is_told(tmp_path: Path) -> None:
    options = {"molds": "molds", "store": str(tmp_path / "store"), "cluster": "no scheduler"}
    told = said(site(tmp_path, plugins=[{"shotbook": options}]))
    assert "key plugins.shotbook.cluster: the cluster 'no scheduler' cannot be reached" in told


@pytest.mark.parametrize("count", [-5, 0, 1, 10**9])
def test_a_number_of_workers_is_always_one_that_can_be_had(count: int) -> None:
    engine = workers.choose(count)
    assert engine is workers.here or callable(engine)
    assert workers.choose(1) is workers.here
