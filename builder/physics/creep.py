"""How far hot plastisol creeps into a cold slit or channel under constant pressure, before it sets there."""

from __future__ import annotations

from functools import cache

import numpy as np
from scipy.interpolate import RegularGridInterpolator

from builder.physics.heat import Array, Medium, Numbers

SHARES = np.array([0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.88, 0.95])
"""(T_set − T_mold)/(T_first − T_mold)"""
RATIOS = np.array([0.02, 0.1, 0.3, 0.6, 0.8, 1.0, 1.25, 1.6, 2.2])
"""Effusivity of the plastic over that of the mold."""
EXPONENTS = np.array([1.0, 1.5, 2.0])
REACH = np.array(
    [
        [
            [0.3044, 0.2808, 0.2422, 0.2113, 0.1853, 0.1627, 0.1423, 0.1231, 0.1065, 0.08889],
            [0.3367, 0.3074, 0.2609, 0.2246, 0.1947, 0.1694, 0.1469, 0.1261, 0.1086, 0.09013],
            [0.4258, 0.3839, 0.3147, 0.2619, 0.2205, 0.1869, 0.1587, 0.1338, 0.1135, 0.09304],
            [0.545, 0.4947, 0.4069, 0.3297, 0.2662, 0.2158, 0.1771, 0.1453, 0.1207, 0.09705],
            [0.6156, 0.5602, 0.4646, 0.379, 0.3018, 0.2363, 0.1895, 0.153, 0.1253, 0.09954],
            [0.6816, 0.6213, 0.5181, 0.4264, 0.3398, 0.2634, 0.2018, 0.1608, 0.1299, 0.1019],
            [0.7595, 0.693, 0.5803, 0.4813, 0.3877, 0.2984, 0.2208, 0.1704, 0.1356, 0.1048],
            [0.8621, 0.787, 0.6612, 0.5523, 0.4504, 0.3495, 0.2505, 0.1835, 0.1436, 0.1086],
            [1.027, 0.9395, 0.791, 0.6647, 0.5484, 0.4344, 0.3172, 0.2114, 0.1571, 0.1148],
        ],
        [
            [0.2502, 0.2343, 0.2072, 0.1846, 0.165, 0.1474, 0.131, 0.115, 0.1008, 0.08525],
            [0.2727, 0.2531, 0.2207, 0.1945, 0.1722, 0.1527, 0.1348, 0.1176, 0.1026, 0.08636],
            [0.3385, 0.3087, 0.2598, 0.2221, 0.1917, 0.1664, 0.1443, 0.124, 0.1069, 0.08897],
            [0.4368, 0.3985, 0.3307, 0.2724, 0.2255, 0.1888, 0.1591, 0.1335, 0.113, 0.09253],
            [0.4974, 0.4546, 0.3789, 0.3111, 0.2521, 0.2051, 0.1694, 0.1398, 0.1169, 0.09473],
            [0.5548, 0.5078, 0.4249, 0.3503, 0.2817, 0.2228, 0.18, 0.1462, 0.1208, 0.09683],
            [0.6228, 0.5708, 0.4796, 0.3976, 0.3206, 0.2498, 0.1924, 0.1544, 0.1255, 0.09933],
            [0.7125, 0.6541, 0.5515, 0.4602, 0.3741, 0.2908, 0.2148, 0.166, 0.1322, 0.1027],
            [0.8557, 0.7873, 0.667, 0.5601, 0.4602, 0.3623, 0.2653, 0.1857, 0.1436, 0.108],
        ],
        [
            [0.2165, 0.2048, 0.1845, 0.167, 0.1513, 0.1369, 0.1231, 0.1093, 0.09673, 0.08257],
            [0.233, 0.2189, 0.1949, 0.1748, 0.1572, 0.1413, 0.1264, 0.1115, 0.09832, 0.0836],
            [0.2822, 0.2604, 0.2245, 0.1962, 0.1727, 0.1526, 0.1344, 0.1171, 0.1021, 0.08599],
            [0.3629, 0.3329, 0.2796, 0.2347, 0.1991, 0.1707, 0.1467, 0.1252, 0.1075, 0.08924],
            [0.4147, 0.3808, 0.3196, 0.2652, 0.2194, 0.1838, 0.1552, 0.1306, 0.111, 0.09124],
            [0.4645, 0.4269, 0.359, 0.2976, 0.2425, 0.1977, 0.1641, 0.136, 0.1143, 0.09313],
            [0.5239, 0.4822, 0.4067, 0.338, 0.2741, 0.2174, 0.1755, 0.1429, 0.1185, 0.09539],
            [0.6027, 0.5556, 0.4705, 0.3928, 0.3196, 0.2503, 0.1912, 0.1528, 0.1241, 0.09838],
            [0.7286, 0.6733, 0.5732, 0.4818, 0.3951, 0.3107, 0.2278, 0.17, 0.1338, 0.1032],
        ],
    ]
)
"""`creep_march.reach`, in a √(p a²/(η α)), by exponent, ratio and share: on 40 and on 80 cells along,
carried on to cells of no size (2–5 % below the 40). A test works some of it out anew."""


def reach_mm(
    gap_mm: Numbers,
    *,
    pressure_pa: Numbers,
    viscosity: Numbers,
    inside: Medium,
    wall: Medium,
    share: Numbers,
    exponent: Numbers,
) -> Array:
    """How far plastic comes in a wide slit whose walls are cold, under a constant pressure.

    a √(p a²/(η α)) times a number from the march of `creep_march`, a half the gap, η at the first
    temperature. Without cooling it were x² = p d² t/(6η) (Washburn 1921, without capillarity). Good to 3 %
    against another march in the tests. Limits: share from 0.15, below it as at 0.15; ratio of effusivities
    0.02–2.2; exponent 1–2.

    >>> vinyl = Medium(conductivity_w_mk=0.14, density_kg_m3=1040.0, heat_capacity_j_kgk=2050.0)
    >>> known = dict(pressure_pa=750.0, viscosity=4.0, inside=vinyl, wall=vinyl, share=0.6, exponent=1.5)
    >>> reach_mm(np.array([2.0, 4.0]), **known).round(1).tolist()
    [11.9, 47.6]
    """
    half_m = np.asarray(gap_mm) * 0.5e-3
    driven = np.sqrt(np.asarray(pressure_pa) / (np.asarray(viscosity) * inside.diffusivity))
    number = reach_number(inside.effusivity / wall.effusivity, share, exponent)
    return np.asarray(1e3 * half_m**2 * driven * number)


def reach_number(ratio: Numbers, share: Numbers, exponent: Numbers) -> Array:
    """`creep_march.reach`, interpolated; 0 where the plastic has set before it begins (share of 1).

    >>> reach_number(1.0, [0.6, 1.0], 1.5).round(3).tolist()
    [0.223, 0.0]
    """
    axes = (np.asarray(exponent, dtype=np.float64), np.log(ratio), np.asarray(share, dtype=np.float64))
    shape = np.broadcast_shapes(*(np.shape(axis) for axis in axes))
    grid = _table()
    inner = [np.clip(axis, known[0], known[-1]) for axis, known in zip(axes, grid.grid, strict=True)]
    points = np.stack([np.broadcast_to(axis, shape) for axis in inner], axis=-1)
    left = np.clip((1 - axes[2]) / (1 - SHARES[-1]), 0.0, 1.0)
    return np.asarray(np.exp(grid(points.reshape(-1, 3))).reshape(shape) * np.sqrt(left))


def beside_walls(gap: Numbers, width: Numbers) -> Array:
    """Flow in a rectangle over that in a wide slit of the same gap and width: 1 − 0.63 gap/width.

    White, Viscous Fluid Flow, 3rd ed., eq. 3-48, its first term; within 1 % up to gap/width = 0.5.

    >>> beside_walls(1.0, 4.0).round(4).tolist()
    0.8425
    """
    return np.asarray(1 - 0.63 * np.asarray(gap) / np.asarray(width))


@cache
def _table() -> RegularGridInterpolator:
    return RegularGridInterpolator((EXPONENTS, np.log(RATIOS), SHARES), np.log(REACH))
