"""Coarse pictures for tests that do not look at them: a sixth of the pixels each way, a tenth of the time.

Importing this module makes `pictures.draw` and `draw_changes` coarse in this process. Molds of the catalogue
are drawn in full.
`python -m tests.coarse build` is the `shotbook` command with it.
"""

from __future__ import annotations

from functools import partial
from pathlib import Path

import builder
from builder import pictures
from builder.model import Deciding, Picture, Reading
from builder.pictures import picture_set, version_diff
from builder.site import batch

ROOT = Path(builder.__file__).parent.parent
KEPT = ROOT / ".shotbook" / "coarse"
"""The store of such molds: in that of `shotbook build` pictures are whole."""
COARSE = 6

_full = pictures.draw
_catalogue = ROOT / "molds"


def draw(
    slug: str, reading: Reading, deciding: Deciding | None, folder: Path, *, coarse: int | None = None
) -> tuple[Picture, ...]:
    """As `pictures.draw`, but coarse unless the caller says how, or the mold is one of the catalogue."""
    whole = (_catalogue / slug).is_dir()
    return _full(slug, reading, deciding, folder, coarse=coarse or (None if whole else COARSE))


def work(job: batch.Job) -> batch.Answer:
    """As `batch.work`, for processes that import this module to run it."""
    return batch.work(job)


pictures.draw = draw
version_diff.drawn = partial(picture_set.drawn, coarse=2)  # type: ignore[attr-defined]

if __name__ == "__main__":
    _catalogue = Path("no catalogue")  # a test's copy may have molds of its own
    from builder.base import workers
    from builder.cli import main

    workers.choose = lambda *_: workers.here  # other processes would draw in full
    main()
