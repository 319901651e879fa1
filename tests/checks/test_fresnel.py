"""Clothoids, whose bend grows evenly with arc length, against the Fresnel integrals.

Source: M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 7.3.1, 7.3.2 and table 7.7: C(1) =
0.7798934 and S(1) = 0.4382591, as read in public tables that cite it. mpmath computes the integrals again; the
curves themselves are built with another implementation of them (scipy's).
"""

from __future__ import annotations

import mpmath
import numpy as np
import pytest
from reference_curves import clothoid

CASES = [(2.0, 3.0), (1.0, 1.0), (300.0, 100.0)]


def test_the_published_table() -> None:
    assert float(mpmath.fresnelc(1)) == pytest.approx(0.7798934, abs=5e-8)
    assert float(mpmath.fresnels(1)) == pytest.approx(0.4382591, abs=5e-8)
    # The clothoid whose scale sqrt(pi R L) is 1 runs through (C(u), S(u)) at arc length u.
    curve = clothoid(1 / np.pi, 1.0)
    assert curve.point_at(1.0) == pytest.approx([0.7798934, 0.4382591], abs=5e-8)


@pytest.mark.parametrize(("radius", "length"), CASES)
def test_length_end_and_turning(radius: float, length: float) -> None:
    curve = clothoid(radius, length)
    scale = mpmath.sqrt(mpmath.pi * radius * length)
    assert curve.length == pytest.approx(length, rel=1e-12)
    end = [float(scale * f(length / scale)) for f in (mpmath.fresnelc, mpmath.fresnels)]
    assert curve.end == pytest.approx(end, rel=1e-12)
    assert curve.turning == pytest.approx(np.degrees(length / (2 * radius)), rel=1e-10)


@pytest.mark.parametrize(("radius", "length"), CASES)
def test_points_and_bends_along_it(radius: float, length: float) -> None:
    curve = clothoid(radius, length)
    s = np.array([0.1, 0.37, 0.5, 0.93]) * length
    scale = mpmath.sqrt(mpmath.pi * radius * length)
    want = [[float(scale * f(x / scale)) for f in (mpmath.fresnelc, mpmath.fresnels)] for x in s]
    assert curve.point_at(s) == pytest.approx(np.array(want), rel=1e-10)
    angle = s**2 / (2 * radius * length)
    assert curve.tangent_at(s) == pytest.approx(np.stack([np.cos(angle), np.sin(angle)], axis=1), abs=1e-8)
    assert curve.curvature_at(s) == pytest.approx(s / (radius * length), rel=1e-4)


@pytest.mark.parametrize(("radius", "length"), CASES)
def test_it_bends_most_at_its_end(radius: float, length: float) -> None:
    bend = clothoid(radius, length).tightest()
    assert bend.radius == pytest.approx(radius, rel=1e-6)
    assert bend.s == pytest.approx(length, rel=1e-12)
    assert bend.side == "right"


@pytest.mark.parametrize(("radius", "length"), CASES)
@pytest.mark.parametrize("share", [0.01, 0.2, 0.7])
def test_working_radius(radius: float, length: float, share: float) -> None:
    # The last window turns most: from s0 to s1 the direction turns by (s1^2 - s0^2) / (2 R L).
    curve, window = clothoid(radius, length), share * length
    bend = curve.tightest(window)
    turn = (length**2 - (length - window) ** 2) / (2 * radius * length)
    assert bend.radius == pytest.approx(window / turn, rel=1e-8)
    assert bend.s == pytest.approx(length - window / 2, rel=1e-6)
    middle = curve.working_radius_at(length / 2, window)
    assert middle == pytest.approx(2 * radius, rel=1e-8)  # evenly growing: the window's mean is its middle's
