"""Lengths of parallel curves: W. Wong, Lengths of Parallel Curves, 2020 (qnlw.info/post/parallel-curves-2020-2).

To the outside of a turn by T at distance d the parallel curve is longer by d T, to the inside shorter by d T, as
long as d is less than every radius on that side; round a simple closed curve T = 2 pi. Lengths and turns here come
from the closed forms (elliptic integrals by mpmath), never from the curve that is being measured.
"""

from __future__ import annotations

import mpmath
import numpy as np
import pytest
from reference_curves import archimedean, circle_arc, ellipse, sine

from bias_drafting.curve.curve import Curve

# Lengths take up the errors of fits all along, of one sign on each bend: much finer than they need be.
TOLERANCE = 1e-6


def only(curves: tuple[Curve, ...]) -> Curve:
    assert len(curves) == 1
    return curves[0]


def lengths(curve: Curve, d: float) -> tuple[float, float]:
    """Lengths of the parallel curves to the left and to the right."""
    return only(curve.parallel(-d, TOLERANCE)).length, only(curve.parallel(d, TOLERANCE)).length


@pytest.mark.parametrize(("a", "b", "d"), [(5.0, 3.0, 0.5), (10.0, 5.0, 1.0), (2.0, 1.0, 0.25)])
def test_round_an_ellipse(a: float, b: float, d: float) -> None:
    # Clockwise on the page: the left lies outside.
    perimeter = float(4 * a * mpmath.ellipe(1 - (b / a) ** 2))
    outer, inner = lengths(ellipse(a, b, pieces=64), d)
    assert outer == pytest.approx(perimeter + 2 * np.pi * d, rel=1e-5)
    assert inner == pytest.approx(perimeter - 2 * np.pi * d, rel=1e-5)


def test_parallel_curves_of_an_ellipse_are_closed() -> None:
    assert all(only(ellipse(5, 3, pieces=64).parallel(d)).closed for d in (0.5, -0.5))


@pytest.mark.parametrize("d", [0.25, 0.5])
def test_beside_half_a_sine_wave(d: float) -> None:
    # From crest's foot to foot: it turns one way only, by 2 atan(A k). Drawn with y down it bends to the left.
    k = 2 * np.pi / 8
    length = float(2 / k * mpmath.sqrt(1 + k * k) * mpmath.ellipe(k * k / (1 + k * k)))
    turn = 2 * np.arctan(k)
    left, right = lengths(sine(1, 8, 0, 4, pieces=40), d)
    assert left == pytest.approx(length - d * turn, rel=1e-6)
    assert right == pytest.approx(length + d * turn, rel=1e-6)


def test_beside_a_whole_sine_wave_the_turns_cancel() -> None:
    k = 2 * np.pi / 8
    length = float(4 / k * mpmath.sqrt(1 + k * k) * mpmath.ellipe(k * k / (1 + k * k)))
    for found in lengths(sine(1, 8, 0, 8, pieces=80), 0.5):
        assert found == pytest.approx(length, rel=1e-6)


def test_beside_a_spiral() -> None:
    # r = angle from pi to 3 pi turns by angle + atan(angle) between them; clockwise, so the right lies inside.
    start, end, d = np.pi, 3 * np.pi, 0.25
    length = 0.5 * sum(sign * (u * np.sqrt(1 + u * u) + np.arcsinh(u)) for u, sign in ((end, 1), (start, -1)))
    turn = end + np.arctan(end) - start - np.arctan(start)
    left, right = lengths(archimedean(1, start, end, pieces=200), d)
    assert left == pytest.approx(length + d * turn, rel=1e-6)
    assert right == pytest.approx(length - d * turn, rel=1e-6)


@pytest.mark.parametrize("d", [0.5, 1.9])
def test_beside_an_arc_lies_an_arc(d: float) -> None:
    arc = circle_arc(2, 90, pieces=48)
    right = only(arc.parallel(d, TOLERANCE))
    assert np.hypot(*right.flattened(1e-4).T) == pytest.approx(2 - d, abs=TOLERANCE)
    left = only(arc.parallel(-d, TOLERANCE))
    assert np.hypot(*left.flattened(1e-4).T) == pytest.approx(2 + d, abs=TOLERANCE)
    # Both run along the arc, not against it.
    assert right.start == pytest.approx((2 - d, 0), abs=TOLERANCE)
    assert left.start == pytest.approx((2 + d, 0), abs=TOLERANCE)


def test_right_of_travel_on_the_page() -> None:
    # Going right on the page, right of travel is down, and y runs down.
    line = Curve.from_points([(0, 0), (30, 0)])
    below, above = only(line.parallel(4)), only(line.parallel(-4))
    assert (*below.start, *below.end) == pytest.approx((0, 4, 30, 4))
    assert (*above.start, *above.end) == pytest.approx((0, -4, 30, -4))


@pytest.mark.parametrize("d", [2.001, 3.0, 50.0])
def test_nothing_lies_farther_inside_than_the_radius(d: float) -> None:
    assert ellipse(2, 2, pieces=32).parallel(d) == ()


def test_round_a_square_the_corners_become_arcs() -> None:
    # Steiner again: the corners turn by 2 pi together. Inside they are trimmed instead.
    square = Curve.from_points([(0, 0), (20, 0), (20, 20), (0, 20)], closed=True)
    assert only(square.parallel(-3, TOLERANCE)).length == pytest.approx(80 + 2 * np.pi * 3, rel=1e-6)
    inside = only(square.parallel(3, TOLERANCE))
    assert inside.length == pytest.approx(4 * 14, rel=1e-6)
    assert inside.bounds == pytest.approx((3, 3, 17, 17), abs=1e-4)


def test_past_a_tight_bend_the_parallel_curve_is_trimmed() -> None:
    # A hairpin of radius 2: 5 away on its inside only the straight sides reach, and they cross nowhere near.
    hairpin = Curve.from_svg_path("M0 0H40A2 2 0 0 1 40 4H0")
    assert hairpin.parallel(5) == ()
    left = only(hairpin.parallel(-5, TOLERANCE))
    assert left.length == pytest.approx(80 + np.pi * 7, rel=1e-6)
