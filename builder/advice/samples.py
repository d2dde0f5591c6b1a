"""The constants with their ranges, as one fixed set of samples: the same every time, spread evenly.

Every constant falls once into each of its equal slices, so that some sixty samples give the 5 % and 95 %
limits of the window within a few kelvin of a thousand random ones (a test compares them).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from builder.base import figures
from builder.model import Declared, Figure, MoldMaterial, Origin, Plastisol, Sourced, Unit
from builder.physics import injector
from builder.physics.heat import Array, Medium

SAMPLES = 61
_ON_LOGS = frozenset({"viscosity", "injection", "pressure", "air_film"})
"""Constants known by their order of magnitude."""
_PLASTISOL = (
    "conductivity",
    "heat_capacity",
    "density",
    "set",
    "viscosity",
    "exponent",
    "expansion",
    "limit",
)
_MOLD = ("conductivity", "heat_capacity", "density", "deflection", "modulus")
_PRACTICE = (
    *("injection", "pressure", "room", "later", "on_the_way", "cling"),
    *("soft_share", "air_film", "creep", "flash_gap", "dent", "air_share"),
)
NAMES = tuple(sorted([*_PLASTISOL, "demold", *(f"mold_{name}" for name in _MOLD), *_PRACTICE]))
"""Every constant that the window stands on."""
exact = figures.exact
_FOLLOWS = {"cold": "demold", "rim": "dent"}
"""A constant that is high where the other one is; the rim's and the dents' figures never meet."""
_DECLARED_SHARE = 0.1
"""A maker's own value is trusted to this share."""

Constants = Mapping[str, Array]
"""Name to values of shape (pairs, samples)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """A plastisol in a mold material."""

    plastisol: Plastisol
    mold: MoldMaterial

    @property
    def values(self) -> dict[str, Sourced]:
        """All values by name, those of the mold material with `mold_` before it."""
        mold = {f"mold_{name}": value for name, value in self.mold.values.items()}
        return {**self.plastisol.values, **mold}


def with_declared(practice: Mapping[str, Sourced], declared: Declared) -> dict[str, Sourced]:
    """The table of practice with what the maker declared in place of it, known to 10 %."""
    own = {
        "injection": declared.injection_ml_s,
        "pressure": declared.pressure_mpa or _pushed_mpa(declared),
        "room": declared.room_c,
        "spare": declared.spare_share,
    }
    return {**practice, **{name: _narrowed(practice[name], x) for name, x in own.items() if x is not None}}


def _pushed_mpa(declared: Declared) -> float | None:
    """The pressure under a declared plunger and push; None without both."""
    if declared.bore_mm is None or declared.push_kg is None:
        return None
    return float(injector.plunger_mpa(declared.push_kg, declared.bore_mm))


def with_own(plastisol: Plastisol, declared: Declared) -> Plastisol:
    """The plastisol with the density and the limit that the maker declared, where they are."""
    values = dict(plastisol.values)
    if declared.density_g_ml is not None:
        values["density"] = _narrowed(values["density"], declared.density_g_ml, 0.01)
    if declared.limit_c is not None and declared.limit_c < values["limit"].value:
        least = declared.limit_c
        values["limit"] = replace(values["limit"], value=least, low=least, high=least, grade="vendor")
    return replace(plastisol, values=values)


def limited(plastisol: Plastisol) -> Plastisol:
    """The plastisol with its one-sided limit: the lowest of all that is known, which no temperature passes.

    The trade's range to shoot at ends there.
    """
    shoot, limit = plastisol.values["shoot"], plastisol.values["limit"]
    least = min(limit.low, limit.value, shoot.high)
    top = max(least, shoot.low)
    values = {
        **plastisol.values,
        "limit": replace(limit, value=least, low=least, high=least),
        "shoot": replace(shoot, value=min(shoot.value, top), high=top),
    }
    return replace(plastisol, values=values)


def _narrowed(known: Sourced, value: float, share: float = _DECLARED_SHARE) -> Sourced:
    width = 2.0 if known.unit == "c" else share * abs(value)
    return Sourced(
        value=value,
        low=value - width,
        high=value + width,
        unit=known.unit,
        source=known.source,
        grade="recalled",
    )


def quantiles(names: Sequence[str], count: int = SAMPLES) -> dict[str, Array]:
    """Evenly spread numbers in (0, 1) for each name, hardly correlated between names.

    A Latin hypercube (one number in each of `count` equal slices) with a fixed seed, whose correlations
    are taken out through its normal scores: Iman & Conover, Commun. Stat. B 11 (1982) 311.

    >>> [round(float(x), 3) for x in np.sort(quantiles(["a", "b"], 5)["b"])]
    [0.1, 0.3, 0.5, 0.7, 0.9]
    """
    stream = np.random.RandomState(7)  # its stream is frozen (NEP 19), that of newer generators is not
    columns = [stream.permutation(count) for _ in names]
    for _ in range(2):
        scores = ndtri((np.stack(columns) + 0.5) / count)
        upright = np.linalg.solve(np.linalg.cholesky(np.corrcoef(scores)), scores)
        columns = list(np.argsort(np.argsort(upright, axis=1), axis=1))
    return {name: (column + 0.5) / count for name, column in zip(sorted(names), columns, strict=True)}


def spread(known: Sourced, at: Array, on_logs: bool = False) -> Array:
    """Values of a triangular distribution from low over value to high at the quantiles `at`.

    >>> ten = Sourced(value=10.0, low=0.0, high=20.0, unit="s", source="", grade="recalled")
    >>> spread(ten, np.array([0.0, 0.5, 1.0])).tolist()
    [0.0, 10.0, 20.0]
    """
    low, mode, high = (np.log(x) if on_logs else x for x in (known.low, known.value, known.high))
    if high <= low:
        return np.full_like(at, known.value)
    rising = (mode - low) / (high - low)
    with np.errstate(invalid="ignore"):
        values = np.where(
            at <= rising,
            low + np.sqrt(at * (high - low) * (mode - low)),
            high - np.sqrt((1 - at) * (high - low) * (high - mode)),
        )
    return np.exp(values) if on_logs else values


def draw(pairs: Sequence[Pair], practice: Mapping[str, Sourced], count: int = SAMPLES) -> dict[str, Array]:
    """All constants of all pairs at the same quantiles, arrays of shape (pairs, count)."""
    at = quantiles(NAMES, count)
    at |= {name: at[other] for name, other in _FOLLOWS.items()}
    return {
        name: np.stack([spread(known(pair, practice, name), at[name], name in _ON_LOGS) for pair in pairs])
        for name in (*NAMES, *_FOLLOWS)
    }


def drawn(name: str, table: Sourced, count: int = SAMPLES) -> Array:
    """The values of one constant as `draw` has them, in the order of its samples."""
    return spread(table, quantiles(NAMES, count)[name], name in _ON_LOGS)


def central(pairs: Sequence[Pair], practice: Mapping[str, Sourced]) -> dict[str, Array]:
    """All constants at their best guess, arrays of shape (pairs, 1)."""
    names = (*NAMES, *_FOLLOWS)
    return {name: np.array([[known(pair, practice, name).value] for pair in pairs]) for name in names}


def known(pair: Pair, practice: Mapping[str, Sourced], name: str) -> Sourced:
    """A constant by name, of the pair or of practice."""
    return pair.values.get(name) or practice[name]


def weighted(values: Array, weight: Array, unit: Unit, because: str) -> Figure:
    """The weighted middle of the values with the range that holds 90 % of the weight, both (n,).

    >>> ten = weighted(np.arange(10.0), np.ones(10), "s", "")
    >>> ten.low, ten.value, ten.high
    (0.0, 4.5, 9.0)
    """
    order = np.argsort(values)
    share = (np.cumsum(weight[order]) - weight[order] / 2) / weight.sum()
    low, middle, high = (float(np.interp(at, share, values[order])) for at in (0.05, 0.5, 0.95))
    return Figure(value=middle, low=low, high=high, unit=unit, because=because, origin="computed")


def inside(constants: Constants) -> Medium:
    """The plastisol as a conducting medium."""
    return Medium(
        conductivity_w_mk=constants["conductivity"],
        density_kg_m3=constants["density"] * 1e3,
        heat_capacity_j_kgk=constants["heat_capacity"],
    )


def wall(constants: Constants) -> Medium:
    """The mold material as a conducting medium."""
    return Medium(
        conductivity_w_mk=constants["mold_conductivity"],
        density_kg_m3=constants["mold_density"] * 1e3,
        heat_capacity_j_kgk=constants["mold_heat_capacity"],
    )


def figure(
    samples: Array, unit: Unit, because: str, origin: Origin = "computed", value: float | None = None
) -> Figure:
    """A figure from samples: the middle one (or `value`), with the range that holds 90 % of them."""
    low, middle, high = percentiles(samples)
    middle = middle if value is None else value
    return Figure(
        value=middle, low=min(low, middle), high=max(high, middle), unit=unit, because=because, origin=origin
    )


def percentiles(samples: Array, shares: Sequence[float] = (0.05, 0.5, 0.95)) -> list[float]:
    """Values below which such shares of some finite samples lie: as numpy's, without what that makes ready.

    >>> percentiles(np.array([3.0, 1.0, 2.0]), [0.5, 0.75])
    [2.0, 2.5]
    """
    ordered = np.sort(samples, axis=None).tolist()
    found = []
    for share in shares:
        below, between = divmod(share * (len(ordered) - 1), 1.0)
        one, two = ordered[int(below)], ordered[min(int(below) + 1, len(ordered) - 1)]
        step = two - one
        found.append(two - step * (1 - between) if between >= 0.5 else one + step * between)
    return found


def each_figure(rows: Array, unit: Unit, because: str) -> list[Figure]:
    """A figure for each row of samples."""
    return [
        Figure(value=middle, low=low, high=high, unit=unit, because=because, origin="computed")
        for low, middle, high in np.percentile(rows, [5, 50, 95], axis=-1).T.tolist()
    ]


def chance(hits: NDArray[np.bool_]) -> Figure:
    """Share of samples with a hit, with the 95 % interval of so many samples (Wilson 1927)."""
    low, high = wilson(int(hits.sum()), hits.size)
    return Figure(
        value=float(hits.mean()),
        low=low,
        high=high,
        unit="share",
        because="advice.because.chance",
        origin="computed",
    )


def wilson(hits: int, count: int, z: float = 1.959964) -> tuple[float, float]:
    """95 % score interval of a share. Source: Wilson, J. Am. Stat. Assoc. 22 (1927) 209.

    >>> [round(x, 3) for x in wilson(81, 263)]  # Newcombe, Stat. Med. 17 (1998) 857, table I
    [0.255, 0.366]
    """
    share = hits / count
    middle = (share + z * z / (2 * count)) / (1 + z * z / count)
    half = z / (1 + z * z / count) * np.sqrt(share * (1 - share) / count + z * z / (4 * count**2))
    low, high = float(max(0.0, middle - half)), float(min(1.0, middle + half))
    return min(low, share), max(high, share)
