"""Friction of laminar flow in ducts of any common section: one function for each published formula."""

from __future__ import annotations

import numpy as np

from builder.physics.heat import Array, Numbers


def duct_constant(aspect: Numbers) -> Array:
    """Darcy friction factor times Reynolds number of a rectangle, height over width `aspect` (0–1).

    Source: Shah & London, Laminar Flow Forced Convection in Ducts (1978), eq. 341 (there as Fanning, 24…).

    >>> duct_constant(np.array([0.0, 0.5, 1.0])).round(2).tolist()
    [96.0, 62.23, 56.92]
    """
    a = np.clip(aspect, 0.0, 1.0)
    series = 1 - 1.3553 * a + 1.9467 * a**2 - 1.7012 * a**3 + 0.9564 * a**4 - 0.2537 * a**5
    return np.asarray(96 * series)


def ellipse_perimeter(height: Numbers, width: Numbers) -> Array:
    """Perimeter of an ellipse from its two diameters, within 0.05 %. Source: Ramanujan 1914, the second.

    >>> float(ellipse_perimeter(1.0, 1.0).round(6))
    3.141593
    """
    one, two = np.asarray(height), np.asarray(width)
    flat = 3 * ((one - two) / (one + two)) ** 2
    return np.asarray(np.pi / 2 * (one + two) * (1 + flat / (10 + np.sqrt(4 - flat))))


def ellipse_constant(aspect: Numbers) -> Array:
    """Darcy friction factor times Reynolds number of an ellipse, height over width `aspect` (0–1).

    From the exact pressure loss, 4 η Q (a² + b²)/(π a³ b³) on the half axes a and b: 128 π² (a² + b²)/P² on
    the perimeter P. Source: Shah & London 1978, ch. VIII.

    >>> ellipse_constant(np.array([1.0, 0.5, 1e-4])).round(1).tolist()
    [64.0, 67.3, 79.0]
    """
    a = np.clip(aspect, 1e-6, 1.0)
    return np.asarray(32 * np.pi**2 * (1 + a**2) / ellipse_perimeter(a, 1.0) ** 2)


def section_constant(area_mm2: Numbers, perimeter_mm: Numbers, thickness_mm: Numbers) -> Array:
    """Darcy friction factor times Reynolds number of a measured section: between ellipse and rectangle.

    The ellipse and the rectangle with its area and thickness have known perimeters; the nearer its own lies
    to one of them, the more of that one's constant it gets.

    >>> section_constant(np.pi / 4, np.pi, 1.0).round(2), section_constant(1.0, 4.0, 1.0).round(2)
    (np.float64(64.0), np.float64(56.92))
    """
    area, thickness = np.asarray(area_mm2), np.asarray(thickness_mm)
    oval, slit = 4 * area / (np.pi * thickness), area / thickness
    off_oval = np.abs(perimeter_mm - ellipse_perimeter(thickness, np.maximum(oval, thickness)))
    off_slit = np.abs(perimeter_mm - 2 * (slit + thickness))
    squareness = off_oval / np.maximum(off_oval + off_slit, 1e-12)
    rounded = ellipse_constant(thickness / np.maximum(oval, thickness))
    cornered = duct_constant(thickness / np.maximum(slit, thickness))
    return np.asarray((1 - squareness) * rounded + squareness * cornered)
