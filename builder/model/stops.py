"""Why a mold must not be shot: one sentence, made once, shown wherever the mold is."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from builder.model.numbers import Figure, Finding


def no_temperature(
    plastisol: str, mold_material: str, fill_c: Figure | None, limits_c: Sequence[Figure | None]
) -> Finding:
    """The stop of a pair whose window is shut; it names the lowest limit, and no temperature above it.

    `stop.too_cold` says that the mold fills only above that limit. Where only the ranges close the window,
    or plastisol is not fused below the limit, `stop.unlikely` claims no more than that nothing is likely.
    """
    limit = min((limit for limit in limits_c if limit is not None), key=lambda figure: figure.value)
    code = "stop.too_cold" if fill_c is None or fill_c.value > limit.value else "stop.unlikely"
    values: dict[str, Figure | str] = {"plastisol": plastisol, "mold_material": mold_material, "limit": limit}
    return Finding(level="stop", code=code, values=values)


def first_stop(findings: Iterable[Finding]) -> Finding | None:
    """The first finding that forbids shooting, if there is one."""
    return next((finding for finding in findings if finding.level == "stop"), None)
