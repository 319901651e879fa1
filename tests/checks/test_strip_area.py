"""Areas of strips along a curve: the theorem of Pappus and Guldin in the plane, and Steiner's formula.

H. Weyl, On the volume of tubes, American Journal of Mathematics 61 (1939), 461-472, and J. Steiner (1840), both
from memory: a strip of width w along a curve of length L has area w L exactly while w/2 stays below every radius
and the strip keeps clear of itself; round ends add pi w^2 / 4; round a convex region of area A and perimeter P the
region within d has area A + P d + pi d^2. shapely's buffer, with very fine arcs, is the second judge.
"""

from __future__ import annotations

import mpmath
import numpy as np
import pytest
import shapely
from reference_curves import archimedean, circle_arc, clothoid, ellipse, sine

from bias_drafting.curve.curve import Curve
from bias_drafting.curve.outline import Outline

TOLERANCE = 1e-4


def sine_length(amplitude: float, wavelength: float) -> float:
    k = 2 * np.pi / wavelength
    square = (amplitude * k) ** 2
    return float(4 / k * np.sqrt(1 + square) * mpmath.ellipe(square / (1 + square)))


def buffered_area(curve: Curve, width: float, cap: str) -> float:
    return float(
        shapely.LineString(curve.flattened(1e-6)).buffer(width / 2, quad_segs=400, cap_style=cap).area
    )


def within(outline: Outline, width: float, length: float) -> float:
    """What a boundary that strays by the tolerance may add to the area."""
    return TOLERANCE * (2 * length + np.pi * width)


@pytest.mark.parametrize("width", [0.5, 1.0])
def test_strip_along_a_sine_wave(width: float) -> None:
    length, curve = sine_length(1, 8), sine(1, 8, 0, 8, pieces=60)
    flat = curve.band(width, tolerance=TOLERANCE)
    assert flat.area == pytest.approx(width * length, abs=within(flat, width, length))
    assert flat.area == pytest.approx(buffered_area(curve, width, "flat"), abs=within(flat, width, length))
    # The turns to either side cancel: its perimeter is that of a straight strip.
    assert flat.exterior.length == pytest.approx(2 * length + 2 * width, rel=1e-5)
    rounded = curve.band(width, ends="round", tolerance=TOLERANCE)
    assert rounded.area == pytest.approx(
        width * length + np.pi * width**2 / 4, abs=within(rounded, width, length)
    )
    assert rounded.area == pytest.approx(
        buffered_area(curve, width, "round"), abs=within(rounded, width, length)
    )


@pytest.mark.parametrize(("a", "b", "d"), [(5.0, 3.0, 0.5), (10.0, 5.0, 1.0), (2.0, 1.0, 0.25)])
def test_ring_along_an_ellipse(a: float, b: float, d: float) -> None:
    perimeter = float(4 * a * mpmath.ellipe(1 - (b / a) ** 2))
    ring = ellipse(a, b, pieces=64).band(2 * d, tolerance=TOLERANCE)
    assert ring.area == pytest.approx(2 * d * perimeter, abs=within(ring, 2 * d, perimeter))
    assert len(ring.holes) == 1
    outer = Outline(ring.exterior)
    steiner = np.pi * a * b + perimeter * d + np.pi * d * d
    assert outer.area == pytest.approx(steiner, abs=within(ring, 2 * d, perimeter))


def test_quarter_of_a_ring() -> None:
    assert circle_arc(2, 90, pieces=12).band(0.5, tolerance=TOLERANCE).area == pytest.approx(
        np.pi / 2, abs=1e-3
    )


@pytest.mark.parametrize(
    ("curve", "length", "width"),
    [
        (archimedean(1, np.pi, 3 * np.pi, pieces=200), 40.0222467967, 0.5),
        (clothoid(2, 3, pieces=40), 3.0, 1.0),
        (clothoid(30, 100, pieces=40), 100.0, 12.7),
    ],
)
def test_strips_along_spirals(curve: Curve, length: float, width: float) -> None:
    strip = curve.band(width, tolerance=TOLERANCE)
    assert strip.area == pytest.approx(width * length, abs=within(strip, width, length))
    assert strip.area == pytest.approx(buffered_area(curve, width, "flat"), abs=within(strip, width, length))


def test_a_width_may_be_text() -> None:
    assert Curve.from_points([(0, 0), (100, 0)]).band("1/4 in").area == pytest.approx(635, rel=1e-12)


def test_steiner_round_a_corner() -> None:
    # A right angle: two strips share the square inside the corner, and a quarter disc fills the outside.
    width = 6.0
    corner = Curve.from_points([(0, 0), (40, 0), (40, 50)]).band(width, tolerance=TOLERANCE)
    half = width / 2
    assert corner.area == pytest.approx(width * 90 - half**2 + np.pi * half**2 / 4, abs=1e-2)
