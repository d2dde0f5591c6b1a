"""Conduction between plastisol and mold in two layers: temperatures, set times, the growing skin.

The heat equation is discretized in space only and solved exactly in time through its modes: one small
eigenproblem gives every time at once, conserves energy to rounding and needs no time step to choose, so
that an implicit march would answer no better.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.interpolate import RegularGridInterpolator
from scipy.linalg.lapack import dstevd
from scipy.special import erfinv

from builder.physics.heat import Array, Medium, Numbers, Shape


@dataclass(frozen=True, slots=True, kw_only=True)
class Layers:
    """Half a section and the wall behind it, cut into cells from the middle outwards, ready for any time.

    Arrays have the shape (..., cells). Temperatures are differences to the surroundings.
    """

    centres_m: Array
    sizes_m: Array
    capacity: Array
    """J/K of each cell: per m² of face (plane) or per 2π m of length (round)."""
    inner: int
    """How many cells are plastisol."""
    rates: Array
    """Decay of each mode, 1/s."""
    modes: Array
    """(..., cells, modes), orthonormal after scaling by √capacity."""

    def after(self, first: Array, seconds: Numbers) -> Array:
        """Temperatures `seconds` after the cells had the temperatures `first`; times broadcast in front."""
        root = np.sqrt(self.capacity)
        amounts = np.einsum("...cm,...c->...m", self.modes, first * root)
        decay = np.exp(-self.rates * np.asarray(seconds, dtype=np.float64)[..., None])
        return np.asarray(np.einsum("...cm,...m->...c", self.modes, amounts * decay) / root)

    def middle(self, first: Array, times: Array) -> Array:
        """Temperature of the innermost cell at each of `times`, shape (..., times)."""
        root = np.sqrt(self.capacity)
        amounts = np.einsum("...cm,...c->...m", self.modes, first * root) * self.modes[..., 0, :]
        decay = np.exp(-self.rates[..., None, :] * times[:, None])
        return np.asarray(np.einsum("...tm,...m->...t", decay, amounts) / root[..., :1])

    def hot_inside(self) -> Array:
        """1 in the plastisol, 0 in the wall: the moment of the shot."""
        start = np.zeros_like(self.capacity)
        start[..., : self.inner] = 1.0
        return start


def layers(
    inside: Medium,
    wall: Medium,
    half_mm: Numbers,
    wall_mm: Numbers,
    shape: Shape = "plane",
    *,
    film_w_m2k: Numbers = 0.0,
    cells: tuple[int, int] = (24, 36),
) -> Layers:
    """Plastisol from the middle to `half_mm`, wall behind it, a film to the surroundings at the back.

    Finite volumes, second order in the cell size; cells are finest at the contact face. A film of 0
    insulates the back.
    """
    faces = _faces(half_mm, wall_mm, cells)
    is_inside = np.arange(sum(cells)) < cells[0]
    conductivity = np.where(is_inside, _column(inside.conductivity_w_mk), _column(wall.conductivity_w_mk))
    volumetric = np.where(is_inside, _column(inside.volumetric), _column(wall.volumetric))
    return _cut(faces, conductivity, volumetric, shape, inner=cells[0], films=(0.0, film_w_m2k))


def bare_wall(
    wall: Medium,
    half_mm: Numbers,
    wall_mm: Numbers,
    shape: Shape = "plane",
    *,
    film_w_m2k: Numbers = 0.0,
    cells: tuple[int, int] = (24, 36),
) -> Layers:
    """The wall of `layers` in the same cells after the bait is out, a film on its face and its back."""
    faces = _faces(half_mm, wall_mm, cells)[..., cells[0] :]
    conductivity, volumetric = _column(wall.conductivity_w_mk), _column(wall.volumetric)
    return _cut(faces, conductivity, volumetric, shape, inner=0, films=(film_w_m2k, film_w_m2k))


def washed_wall(
    wall: Medium,
    half_mm: Numbers,
    wall_mm: Numbers,
    shape: Shape = "plane",
    *,
    film_w_m2k: Numbers,
    cells: tuple[int, int] = (24, 36),
) -> Layers:
    """The wall of `layers` in the same cells while plastisol streams past: a film on its face, none behind.

    Temperatures are differences to the stream.
    """
    faces = _faces(half_mm, wall_mm, cells)[..., cells[0] :]
    conductivity, volumetric = _column(wall.conductivity_w_mk), _column(wall.volumetric)
    return _cut(faces, conductivity, volumetric, shape, inner=0, films=(film_w_m2k, 0.0))


def _column(values: Numbers) -> Array:
    return np.asarray(values, dtype=np.float64)[..., None]


def _faces(half_mm: Numbers, wall_mm: Numbers, cells: tuple[int, int]) -> Array:
    """Radii or depths of the cells' faces in m, closest together at the contact face."""
    half, thick = np.broadcast_arrays(_column(half_mm) * 1e-3, _column(wall_mm) * 1e-3)
    graded = np.sin(np.linspace(0, np.pi / 2, cells[0] + 1))
    spread = np.log(np.maximum(thick / half, 1.0)) + 2.0
    widening = np.sinh(spread * np.linspace(0, 1, cells[1] + 1)) / np.sinh(spread)
    return np.concatenate([half * graded, half + thick * widening[..., 1:]], axis=-1)


def _cut(
    faces: Array,
    conductivity: Array,
    volumetric: Array,
    shape: Shape,
    *,
    inner: int,
    films: tuple[Numbers, Numbers],
) -> Layers:
    """Cells between the faces, with a film to the surroundings at the front and at the back."""
    low, high = faces[..., :-1], faces[..., 1:]
    middle = (low + high) / 2
    if shape == "plane":
        content, first, last = high - low, np.ones(()), np.ones(())
        towards, onwards = (middle - low) / conductivity, (high - middle) / conductivity
    else:
        content, first, last = (high**2 - low**2) / 2, faces[..., 0], faces[..., -1]
        towards = np.log(middle / np.maximum(low, 1e-12)) / conductivity
        onwards = np.log(high / middle) / conductivity
    capacity, towards, onwards = np.broadcast_arrays(volumetric * content, towards, onwards)
    front, back = np.asarray(films[0] * first), np.asarray(films[1] * last)
    rates, modes = _modes(
        capacity,
        passing=1 / (onwards[..., :-1] + towards[..., 1:]),
        front=front / (1 + front * towards[..., 0]),
        back=back / (1 + back * onwards[..., -1]),
    )
    return Layers(
        centres_m=middle, sizes_m=high - low, capacity=capacity, inner=inner, rates=rates, modes=modes
    )


def _modes(capacity: Array, *, passing: Array, front: Array, back: Array) -> tuple[Array, Array]:
    """Decay rates and modes of cells that pass heat to their neighbours and, at both ends, away.

    The matrix is tridiagonal; a solver for that kind is as fast as the batched dense one and, unlike it,
    starts no threads for matrices this small. LAPACK is called as scipy's eigh_tridiagonal does, for what
    that looks up each time takes as long again.
    """
    leaving = np.zeros_like(capacity)
    leaving[..., :-1] += passing
    leaving[..., 1:] += passing
    leaving[..., 0] += front
    leaving[..., -1] += back
    root = np.sqrt(capacity)
    diagonal = leaving / capacity
    beside = -passing / (root[..., :-1] * root[..., 1:])
    count = capacity.shape[-1]
    rates, modes = np.empty_like(diagonal), np.empty((*diagonal.shape, count))
    found: dict[bytes, tuple[Array, Array]] = {}  # many cases differ in what their walls do not depend on
    for case in np.ndindex(diagonal.shape[:-1]):
        key = diagonal[case].tobytes() + beside[case].tobytes()
        if key not in found:
            values, vectors, failed = dstevd(diagonal[case], beside[case])
            if failed:
                raise np.linalg.LinAlgError(f"modes of a wall: LAPACK dstevd gives {failed}")
            found[key] = values, vectors
        rates[case], modes[case] = found[key]
    return np.maximum(rates, 0.0), modes


_EFFUSIVITIES = np.array(
    [0.01, 0.02, 0.04, 0.08, 0.16, 0.3, 0.45, 0.6, 0.7, 0.8, 0.9, 1.0, 1.12, 1.25, 1.4, 1.6, 2.0, 3.0, 4.5]
)
_DIFFUSIVITIES = {
    "plane": np.array([0.5, 2.0]),
    "round": np.array([5e-4, 5e-3, 0.1, 0.4, 0.7, 1.0, 1.5, 3.0]),
}
"""A plane section's set time depends on the effusivities alone."""
_SHARES = np.linspace(0.05, 0.97, 93)
FEW = 1000
"""Points of fewer numbers are kept with what was found for them."""


@lru_cache(maxsize=2)
def _set_table(shape: Shape) -> RegularGridInterpolator:
    """ln Fo at which the middle of a section in a thick wall has fallen to a share of its heat.

    Axes: ln effusivity ratio, ln diffusivity ratio (plastisol over wall), share.
    """
    times = np.geomspace(0.02, 60.0, 120)
    grid = np.meshgrid(_EFFUSIVITIES, _DIFFUSIVITIES[shape], indexing="ij")
    effusivity, diffusivity = (axis.ravel() for axis in grid)
    inside = Medium(conductivity_w_mk=1.0, density_kg_m3=1.0, heat_capacity_j_kgk=1.0)
    wall = Medium(
        conductivity_w_mk=1 / (effusivity * np.sqrt(diffusivity)),
        density_kg_m3=np.sqrt(diffusivity) / effusivity,
        heat_capacity_j_kgk=1.0,
    )
    depth_mm = 1e3 * np.clip(12 * np.sqrt(times[-1] / diffusivity) ** 0.8, 20.0, 400.0)
    body = layers(inside, wall, np.full_like(effusivity, 1e3), depth_mm, shape, cells=(24, 40))
    middles = body.middle(body.hot_inside(), times)
    falling = -np.minimum.accumulate(middles, axis=-1)
    table = np.array([np.interp(-_SHARES, row, np.log(times)) for row in falling])
    axes = (np.log(_EFFUSIVITIES), np.log(_DIFFUSIVITIES[shape]), _SHARES)
    return RegularGridInterpolator(axes, table.reshape(*map(len, axes)), bounds_error=False, fill_value=None)


def set_fourier(shape: Shape, inside: Medium, wall: Medium, share: Numbers) -> Array:
    """Fourier number (on half the thickness) at which the middle is down to `share` of its first heat.

    The share is (T_set − T_mold)/(T_shot − T_mold). Interpolated in a table of the two-material solution
    by `layers`, good to 1 %. Limits of the table: share 0.05–0.97, beyond them the nearest value.

    >>> same = Medium(conductivity_w_mk=0.15, density_kg_m3=1000.0, heat_capacity_j_kgk=1900.0)
    >>> round(float(set_fourier("plane", same, same, 0.682689)), 2)  # erf(1/(2√Fo)), as slab_centre
    0.5
    """
    ratios = inside.effusivity / wall.effusivity, inside.diffusivity / wall.diffusivity
    points = np.stack(np.broadcast_arrays(*ratios, share), axis=-1)
    fourier = _looked_up(shape, points.tobytes()) if points.size < FEW else _interpolated(shape, points)
    return np.reshape(fourier, points.shape[:-1])


@lru_cache(maxsize=512)
def _looked_up(shape: Shape, points: bytes) -> Array:
    """As `_interpolated`, for points that are asked for again and again: one window asks for many things."""
    found = _interpolated(shape, np.frombuffer(points).reshape(-1, 3))
    found.flags.writeable = False
    return found


def _interpolated(shape: Shape, points: Array) -> Array:
    """Fourier number at ratios of effusivity and diffusivity and a share, (..., 3), from the table."""
    table = _set_table(shape)
    places = np.log(points[..., 0]), np.log(points[..., 1]), points[..., 2]
    inside_table = [np.clip(x, axis[0], axis[-1]) for x, axis in zip(places, table.grid, strict=True)]
    return np.asarray(np.exp(table(np.stack(inside_table, axis=-1))))


def flatness(area_mm2: Numbers, perimeter_mm: Numbers, thickness_mm: Numbers) -> Array:
    """How far a section cools like a slit, 0 round to 1 wide: twice (4 area/(perimeter · thickness) − 1).

    With it, `set_time_s` is within 11 % of the exact solution for ellipses of all proportions in a wall of
    their own kind, and up to 1.4 times too short for rectangles, whose corners cool last (see the tests).

    >>> flatness(np.pi / 4, np.pi, 1.0).round(9).tolist(), flatness(20.0, 42.0, 1.0).tolist()
    (0.0, 1.0)
    """
    hydraulic = 4 * np.asarray(area_mm2) / perimeter_mm
    return np.asarray(np.clip(2 * (hydraulic / thickness_mm - 1), 0.0, 1.0))


def set_time_s(
    thickness_mm: Numbers,
    flat: Numbers,
    inside: Medium,
    wall: Medium,
    share: Numbers,
) -> Array:
    """Seconds until the middle of a section sets: between the round and the plane solution.

    `flat` is its `flatness`. A share of 1 or more has set already. How far real sections differ is in the
    table of practice (`later`); the caller carries that range.

    >>> vinyl = Medium(conductivity_w_mk=0.155, density_kg_m3=960.0, heat_capacity_j_kgk=2000.0)
    >>> float(set_time_s(2.0, 1.0, vinyl, vinyl, 85 / 140).round(1))
    8.5
    """
    flat = np.clip(flat, 0.0, 1.0)
    fourier = np.exp(
        flat * np.log(set_fourier("plane", inside, wall, share))
        + (1 - flat) * np.log(set_fourier("round", inside, wall, share))
    )
    seconds = fourier * (np.asarray(thickness_mm) * 0.5e-3) ** 2 / inside.diffusivity
    return np.where(np.asarray(share) < 1, seconds, 0.0)


def skin_rate(inside: Medium, wall: Medium, share: Numbers) -> Array:
    """Growth constant λ of the solid skin, δ = 2λ√(αt), right after contact.

    0 where the contact face stays above it. Source: Carslaw & Jaeger §2.16 (profile erf between the
    contact temperature and the first one).

    >>> same = Medium(conductivity_w_mk=0.15, density_kg_m3=1000.0, heat_capacity_j_kgk=1900.0)
    >>> float(skin_rate(same, same, 0.5)), float(skin_rate(same, same, 0.75).round(4))
    (0.0, 0.4769)
    """
    face = inside.effusivity / (inside.effusivity + wall.effusivity)
    return np.asarray(erfinv(np.clip((np.asarray(share) - face) / (1 - face), 0.0, 1 - 1e-9)))


def open_share(elapsed: Numbers, early: Numbers, flat: Numbers) -> Array:
    """Share of a section's thickness still open after `elapsed` (0–1) of its set time.

    (1 − c√y) √(1 − yᵐ): the first skin with c = 2λ√Fo_set (`early`), then the closing, with m = 3 for a
    slit and 1.6 for a round section fitted to the two-material solution by `layers`: within 0.1 of it,
    where a table of profiles would cost three more dimensions.

    >>> open_share([0.0, 0.5, 1.0], 0.5, 1.0).round(2).tolist()
    [1.0, 0.6, 0.0]
    """
    y = np.clip(elapsed, 0.0, 1.0)
    power = 1.6 + 1.4 * np.clip(flat, 0.0, 1.0)
    return np.asarray((1 - np.clip(early, 0.0, 1.0) * np.sqrt(y)) * np.sqrt(1 - y**power))
