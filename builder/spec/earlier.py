"""What a version.json did not tell yet when it was frozen, read from the record frozen beside it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from builder.base import serialize
from builder.model import Figure, Finding, Version, no_temperature


def completed(told: Version, record: Mapping[str, Any]) -> Version:
    """The version with its findings and its stop as they were frozen; `record` is its record.json."""
    findings, stop = _found(record)
    return replace(told, findings=findings, stop=stop)


def _found(data: Mapping[str, Any]) -> tuple[tuple[Finding, ...], Finding | None]:
    """Findings and stop of a frozen record; nothing where there is none of the form that is known."""
    try:
        own = data["advice"]["windows"][0]
        listed = [*own["findings"], *data["advice"]["findings"], *data["measurement"]["findings"]]
        findings = serialize.from_json(tuple[Finding, ...], listed)
        fill, *limits = (
            serialize.from_json(Figure, own[name]) if own[name] else None
            for name in ("fill_c", "mold_limit_c", "plastisol_limit_c")
        )
    except (KeyError, IndexError, TypeError, ValueError):
        return (), None
    if own["shoot_c"] is None:
        return findings, no_temperature(own["plastisol"], own["mold_material"], fill, limits)
    return findings, next((one for one in findings if one.level == "stop"), None)
