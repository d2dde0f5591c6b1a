"""Numbers of a measurement as figures for the words under a picture."""

from __future__ import annotations

from builder.model import Figure, Measurement


def length(value_mm: float, measurement: Measurement) -> Figure:
    """A length read off the mesh, as far off as the mesh's facets let it be."""
    off = measurement.length_error_mm
    return Figure(
        value=value_mm,
        low=max(0.0, value_mm - off),
        high=value_mm + off,
        unit="mm",
        because="pictures.because.measured",
        origin="measured",
    )


def count(value: int) -> Figure:
    """A number of things found in the mesh."""
    why = "pictures.because.counted"
    return Figure(value=value, low=value, high=value, unit="count", because=why, origin="measured")


def volume(value_ml: float, measurement: Measurement) -> Figure:
    """A volume read off the mesh, as far off as the mesh's facets let it be."""
    return Figure(
        value=value_ml,
        low=value_ml * (1 - measurement.volume_share),
        high=value_ml * (1 + measurement.volume_share),
        unit="ml",
        because="pictures.because.measured",
        origin="measured",
    )


def exact(value_mm: float) -> Figure:
    """A length that was chosen, as the ticks of a scale."""
    why = "pictures.because.chosen"
    return Figure(value=value_mm, low=value_mm, high=value_mm, unit="mm", because=why, origin="computed")
