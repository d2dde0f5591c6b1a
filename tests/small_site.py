"""A site of its own folder: the catalogue's configuration and hand-written pages, molds to be put beside."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import yaml

ROOT = Path(__file__).parent.parent


def configure(root: Path, store: Path | None = None, **other: Any) -> Path:  # noqa: ANN401 - any setting
    """Write mkdocs.yml and site_src into `root`; `other` are settings in place of the catalogue's own."""
    shutil.copytree(ROOT / "site_src", root / "site_src", dirs_exist_ok=True)
    config = yaml.safe_load((ROOT / "mkdocs.yml").read_text(encoding="utf-8"))
    config["plugins"] = [
        {"shotbook": {"molds": "molds", "store": str(store or root / ".shotbook"), "workers": 1}}
    ]
    file = root / "mkdocs.yml"
    file.write_text(yaml.safe_dump(config | {"watch": []} | other, sort_keys=False), encoding="utf-8")
    return file
