"""What a version.json did not tell yet when it was frozen, read from the record frozen beside it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from builder.base import serialize
from builder.model import Figure, Finding, MadeBy, no_temperature

RECORD = "record.json"


def completed(told: Mapping[str, Any], place: Path) -> dict[str, Any]:
    """The values of version.json with those that it lacks: its findings and its stop as they were frozen."""
    if "stop" in told:
        return dict(told)
    findings, stop = _found(place / RECORD)
    lacking = {"findings": findings, "stop": stop, "despite": "", "made_by": MadeBy()}
    return {**told, **{name: serialize.to_json(value) for name, value in lacking.items()}}


def _found(record: Path) -> tuple[tuple[Finding, ...], Finding | None]:
    """Findings and stop of a frozen record; nothing where there is none of the form that is known."""
    try:
        data = json.loads(record.read_bytes())
        own = data["advice"]["windows"][0]
        listed = [*own["findings"], *data["advice"]["findings"], *data["measurement"]["findings"]]
        findings = serialize.from_json(tuple[Finding, ...], listed)
        fill, *limits = (
            serialize.from_json(Figure, own[name]) for name in ("fill_c", "mold_limit_c", "plastisol_limit_c")
        )
    except (FileNotFoundError, KeyError, IndexError, TypeError, ValueError):
        return (), None
    if own["shoot_c"] is None:
        return findings, no_temperature(own["plastisol"], own["mold_material"], fill, limits)
    return findings, next((one for one in findings if one.level == "stop"), None)
