"""An independent judge of the times by the shot's number: own elements, own time steps, none of the product.

Setting. A body of half thickness (plane) or radius (round) L lies in a wall of thickness w. With x from the
body's middle and n = 0 (plane) or 1 (round), temperatures as shares θ = (T − T_room)/(T_shot − T_room):

    ρc ∂θ/∂t = x⁻ⁿ ∂/∂x (xⁿ k ∂θ/∂x)        in the body (0 < x < L) and in the wall (L < x < L + w)
    ∂θ/∂x = 0 at x = 0;  θ and k ∂θ/∂x continuous at x = L;  −k ∂θ/∂x = h θ at x = L + w      (mold closed)
    k ∂θ/∂x = h θ at x = L,  −k ∂θ/∂x = h θ at x = L + w                      (mold open, the wall alone)

Every shot starts with θ = 1 in the body and the wall as the rest left it (0 before the first); the mold is
opened when the middle falls to the share of the demold temperature. Equations: Carslaw & Jaeger, Conduction
of Heat in Solids, 2nd ed., §1.6–1.9 (film, contact), §12.8 (two layers).

Space. Linear finite elements (Galerkin, weight xⁿ, consistent mass), geometric towards the contact face:
Strang & Fix, An Analysis of the Finite Element Method, 2nd ed., ch. 1 and 7. The broken profile of a new shot
enters through its L² projection, which keeps the heat.

Time. TR-BDF2 with γ = 2 − √2, second order and L-stable: Bank and others, IEEE Trans. Electron Devices 32
(1985) 1992; Hosea & Shampine, Appl. Numer. Math. 20 (1996) 21. Steps grow with the time since the shot.

Steady cycle. Shot after shot, quickened by reduced rank extrapolation: Smith, Ford, Sidi, SIAM Review 29
(1987) 199; accepted only where one more real shot changes nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack
from scipy.optimize import brentq

Array = NDArray[np.float64]
GAMMA = 2.0 - np.sqrt(2.0)
STRETCH = 60.0
"""The largest element over the one at the contact face."""
LONGEST_S = 1e6
"""A body that is still hot after this long is taken never to cool."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stuff:
    """What conducts, SI."""

    conductivity_w_mk: float
    density_kg_m3: float
    heat_capacity_j_kgk: float

    @property
    def volumetric(self) -> float:
        """Heat capacity of a volume, J/m³·K."""
        return self.density_kg_m3 * self.heat_capacity_j_kgk

    @property
    def diffusivity(self) -> float:
        """k/(ρc), m²/s."""
        return self.conductivity_w_mk / self.volumetric

    @property
    def effusivity(self) -> float:
        """√(kρc), W·s½/m²·K."""
        return float(np.sqrt(self.conductivity_w_mk * self.volumetric))


@dataclass(frozen=True, slots=True, kw_only=True)
class Elements:
    """Tridiagonal mass and conduction of a chain of elements, as upper bands of shape (2, nodes)."""

    mass: Array
    conduction: Array

    def step(self, state: Array, seconds: float) -> tuple[Array, Array]:
        """State after one TR-BDF2 step and the mean state over it (its Runge–Kutta weights)."""
        matrix = _factored(self.mass + GAMMA / 2 * seconds * self.conduction)
        held, pull = _times(self.mass, state), _times(self.conduction, state)
        between = _solve(matrix, held - GAMMA / 2 * seconds * pull)
        share = 1 / (GAMMA * (2 - GAMMA))
        mixed = share * _times(self.mass, between) - (share - 1) * held
        after = _solve(matrix, mixed)
        mean = np.sqrt(2) / 4 * (state + between) + GAMMA / 2 * after
        return after, mean


def _times(bands: Array, vector: Array) -> Array:
    product: Array = bands[1] * vector
    product[1:] += bands[0, 1:] * vector[:-1]
    product[:-1] += bands[0, 1:] * vector[1:]
    return product


def _factored(bands: Array) -> tuple[Array, Array]:
    """L D Lᵀ of a positive definite tridiagonal matrix, by LAPACK itself: a step solves with it twice."""
    diagonal, beside, failed = lapack.dpttrf(bands[1], bands[0, 1:])
    assert failed == 0
    return diagonal, beside


def _solve(factored: tuple[Array, Array], right: Array) -> Array:
    found, failed = lapack.dpttrs(*factored, right)
    assert failed == 0
    return np.asarray(found)


def elements(nodes: Array, conductivity: Array, volumetric: Array, round_: bool) -> Elements:
    """Assemble the elements between `nodes`; integrals by three Gauss points, exact for their degree."""
    low, size = nodes[:-1], np.diff(nodes)
    points, weights = np.polynomial.legendre.leggauss(3)
    place = (points[:, None] + 1) / 2
    weight = weights[:, None] / 2 * size * (low + place * size if round_ else 1.0)
    mass = np.zeros((2, nodes.size))
    conduction = np.zeros((2, nodes.size))
    mass[1, :-1] += volumetric * (weight * (1 - place) ** 2).sum(axis=0)
    mass[1, 1:] += volumetric * (weight * place**2).sum(axis=0)
    mass[0, 1:] = volumetric * (weight * place * (1 - place)).sum(axis=0)
    passing = conductivity * weight.sum(axis=0) / size**2
    conduction[1, :-1] += passing
    conduction[1, 1:] += passing
    conduction[0, 1:] = -passing
    return Elements(mass=mass, conduction=conduction)


@dataclass(frozen=True, kw_only=True)
class Setting:
    """A body in its wall. `fineness` multiplies elements and steps; 1 is good to some 1e-3."""

    body: Stuff
    wall: Stuff
    half_mm: float
    wall_mm: float
    film_w_m2k: float
    demold_share: float
    round_: bool = True
    fineness: int = 2

    @cached_property
    def nodes(self) -> Array:
        """Places of the nodes in m, from the body's middle to the back of the wall."""
        half, wall = self.half_mm * 1e-3, self.wall_mm * 1e-3
        inner = half * (1 - _graded(24 * self.fineness)[::-1])
        return np.concatenate([inner, half + wall * _graded(32 * self.fineness)[1:]])

    @property
    def contact(self) -> int:
        """Index of the node in the contact face."""
        return 24 * self.fineness

    def _film(self, node: int) -> float:
        return self.film_w_m2k * (float(self.nodes[node]) if self.round_ else 1.0)

    def _part(self, stuff: Stuff, nodes: Array) -> Elements:
        ones = np.ones(nodes.size - 1)
        return elements(nodes, stuff.conductivity_w_mk * ones, stuff.volumetric * ones, self.round_)

    @cached_property
    def body_alone(self) -> Elements:
        """The body between insulated faces."""
        return self._part(self.body, self.nodes[: self.contact + 1])

    @cached_property
    def wall_alone(self) -> Elements:
        """The wall between insulated faces."""
        return self._part(self.wall, self.nodes[self.contact :])

    @cached_property
    def closed(self) -> Elements:
        """Body and wall in contact, a film at the back."""
        mass, conduction = (np.zeros((2, self.nodes.size)) for _ in range(2))
        for bands, name in ((mass, "mass"), (conduction, "conduction")):
            bands[:, : self.contact + 1] += getattr(self.body_alone, name)
            bands[:, self.contact :] += getattr(self.wall_alone, name)
        conduction[1, -1] += self._film(-1)
        return Elements(mass=mass, conduction=conduction)

    @cached_property
    def open(self) -> Elements:
        """The wall alone, a film on both faces."""
        conduction = self.wall_alone.conduction.copy()
        conduction[1, 0] += self._film(self.contact)
        conduction[1, -1] += self._film(-1)
        return Elements(mass=self.wall_alone.mass, conduction=conduction)

    def cold(self) -> Array:
        """The wall before the first shot."""
        return np.zeros(self.nodes.size - self.contact)

    def poured(self, wall: Array) -> Array:
        """The closed mold at the moment of a shot into `wall`: L² projection of the broken profile."""
        right = np.zeros(self.nodes.size)
        right[: self.contact + 1] += _times(self.body_alone.mass, np.ones(self.contact + 1))
        right[self.contact :] += _times(self.wall_alone.mass, wall)
        return _solve(_factored(self.closed.mass), right)

    def march(self, state: Array, seconds: float) -> tuple[Array, float]:
        """The closed mold after `seconds`, and the heat that went through the film (in the mass's unit)."""
        lost, now = 0.0, 0.0
        while now < seconds * (1 - 1e-12):
            span = min(self._span(now), seconds - now)
            state, mean = self.closed.step(state, span)
            now += span
            lost += span * self._film(-1) * float(mean[-1])
        return state, lost

    def _span(self, now: float) -> float:
        """The next step: some percent of the time since the shot."""
        first = 1e-5 * (self.half_mm * 1e-3) ** 2 / self.body.diffusivity
        return max(first, 0.06 * now) / self.fineness

    def shot(self, wall: Array) -> tuple[float, Array]:
        """Seconds until the middle is down to `demold_share` after a shot into `wall`, and the wall then.

        RuntimeError if it never is.
        """
        state, now = self.poured(wall), 0.0
        while True:
            span = self._span(now)
            after, _ = self.closed.step(state, span)
            if after[0] < self.demold_share and now > 0:
                break
            state, now = after, now + span
            if now > LONGEST_S:
                raise RuntimeError("the body never cools to its demold temperature")
        last = float(brentq(lambda s: self._over(state, s), 0.0, span, xtol=1e-9 * (now + span)))
        after, _ = self.closed.step(state, last)
        return now + last, after[self.contact :]

    def _over(self, state: Array, seconds: float) -> float:
        after = state if seconds == 0 else self.closed.step(state, seconds)[0]
        return float(after[0]) - self.demold_share

    def rested(self, wall: Array, seconds: float) -> Array:
        """The wall after standing open."""
        if seconds == 0:
            return wall
        times = seconds * np.linspace(0, 1, 60 * self.fineness + 1) ** 2
        for span in np.diff(times):
            wall, _ = self.open.step(wall, float(span))
        return wall

    def open_after_s(self, shots: int, rest_s: float) -> list[float]:
        """Seconds in the closed mold for each of the first `shots`."""
        wall, times = self.cold(), []
        for _ in range(shots):
            seconds, wall = self.shot(wall)
            times.append(seconds)
            wall = self.rested(wall, rest_s)
        return times

    def steady_s(self, rest_s: float, tolerance: float = 1e-6, depth: int = 4) -> float:
        """Seconds in the closed mold once every shot is like the one before; RuntimeError if none comes."""
        wall = self.cold()
        for _ in range(60):
            walls, before = [wall], 0.0
            for _ in range(depth + 1):
                seconds, wall = self.shot(walls[-1])
                walls.append(self.rested(wall, rest_s))
                change, before = abs(seconds - before), seconds
            if change < tolerance * seconds and np.ptp([walls[-1], walls[-2]], axis=0).max() < tolerance:
                return seconds
            wall = np.clip(_extrapolated(walls), 0.0, 1.0)
        raise RuntimeError("no steady cycle was reached")

    def rest_for_s(self, allowed: float, longest_s: float = 24 * 3600.0) -> float:
        """Shortest rest with which the steady cycle opens within `allowed` times the first shot."""
        first = self.open_after_s(1, 0.0)[0]

        def over(log_rest: float) -> float:
            return self.steady_s(float(np.exp(log_rest)), tolerance=1e-5) / first - allowed

        if over(0.0) <= 0:
            return 0.0
        return float(np.exp(brentq(over, 0.0, np.log(longest_s), xtol=1e-3)))


def _graded(count: int) -> Array:
    """Places from 0 to 1 whose gaps grow geometrically."""
    gaps = np.geomspace(1.0, STRETCH, count)
    return np.concatenate([[0.0], np.cumsum(gaps) / gaps.sum()])


def _extrapolated(states: Sequence[Array]) -> Array:
    """Reduced rank extrapolation: the mix of states (weights sum to 1) that would change least."""
    rows = np.stack(states)
    steps = np.diff(rows, axis=0)
    bends = np.diff(steps, axis=0)
    amounts = np.linalg.lstsq(bends.T, -steps[0], rcond=1e-12)[0]
    return np.asarray(rows[0] + amounts @ steps[:-1])
