"""Curve lengths against complete elliptic integrals: NIST Digital Library of Mathematical Functions, 19.30.

Ellipse, DLMF 19.30(i): P = 4 a E(k), k^2 = 1 - (b/a)^2 (the section was read, its equation is quoted from memory).
Lemniscate, DLMF 19.30.13: the curve r^2 = 2 a^2 cos(2 angle) has length 4 a K(1/sqrt 2). The integrals are computed
by mpmath at 30 digits, and each again by quadrature, so that nothing here rests on a copied figure.
"""

from __future__ import annotations

from typing import Any

import mpmath
import numpy as np
import pytest
from reference_curves import circle_arc, ellipse, polar, sine

from bias_drafting.curve.curve import Curve

mp = mpmath.MPContext()
mp.dps = 30

AXES = [(2.0, 1.0), (3.0, 2.0), (5.0, 3.0), (10.0, 5.0)]


def perimeter(a: float, b: float) -> Any:
    return 4 * a * mp.ellipe(1 - mp.mpf(b) ** 2 / mp.mpf(a) ** 2)


@pytest.mark.parametrize(("a", "b"), AXES)
def test_elliptic_integral_and_quadrature_agree(a: float, b: float) -> None:
    by_quadrature = 4 * mp.quad(lambda u: mp.hypot(a * mp.sin(u), b * mp.cos(u)), [0, mp.pi / 4, mp.pi / 2])
    assert abs(by_quadrature / perimeter(a, b) - 1) < 1e-25


@pytest.mark.parametrize(("a", "b"), AXES)
def test_perimeter_of_an_ellipse(a: float, b: float) -> None:
    curve = ellipse(a, b)
    assert curve.length == pytest.approx(float(perimeter(a, b)), rel=1e-12)
    quarter = curve.section(0, curve.length / 4)
    assert quarter.length == pytest.approx(float(perimeter(a, b)) / 4, rel=1e-12)
    assert quarter.end == pytest.approx((0, b), abs=1e-9)


def test_the_fit_and_not_the_measure_sets_the_error() -> None:
    # Halving the steps of a cubic Hermite fit makes its length 16 times better; an error of measuring would stay.
    exact = float(perimeter(5, 3))
    errors = [abs(ellipse(5, 3, pieces).length / exact - 1) for pieces in (40, 80, 160, 320)]
    ratios = np.divide(errors[:-1], errors[1:])
    assert np.abs(ratios - 16).max() < 1.5


@pytest.mark.parametrize(("a", "b"), AXES)
def test_perimeter_of_an_ellipse_drawn_with_arcs(a: float, b: float) -> None:
    curve = Curve.from_svg_path(f"M{a} 0A{a} {b} 0 0 1 {-a} 0A{a} {b} 0 0 1 {a} 0Z")
    assert curve.length == pytest.approx(float(perimeter(a, b)), rel=1e-9)


@pytest.mark.parametrize(("a", "b"), AXES)
def test_least_radius_of_an_ellipse_is_at_the_end_of_its_long_axis(a: float, b: float) -> None:
    bend = ellipse(a, b).tightest()
    assert bend.radius == pytest.approx(b * b / a, rel=1e-6)
    assert abs(bend.point[0]) == pytest.approx(a, rel=1e-5)
    assert bend.side == "right"  # clockwise on the page
    assert ellipse(a, b, 100).reversed().tightest().side == "left"


@pytest.mark.parametrize(("a", "b"), AXES)
def test_curvature_of_an_ellipse_at_both_axes(a: float, b: float) -> None:
    curve = ellipse(a, b, 800)
    quarter = curve.length / 4
    radii = 1 / curve.curvature_at([quarter, 2 * quarter, 3 * quarter])
    assert radii == pytest.approx([a * a / b, b * b / a, a * a / b], rel=2e-5)


def test_lemniscate() -> None:
    # Half of one loop, from the middle outward and back: each loop is half the length.
    a = 3.0
    exact = 4 * a * mp.ellipk(mp.mpf(1) / 2)
    closed_form = a * mp.sqrt(2) * mp.gamma(mp.mpf(1) / 4) ** 2 / mp.sqrt(2 * mp.pi)
    assert abs(exact / closed_form - 1) < 1e-25
    loop = polar(
        lambda u: np.sqrt(2) * a * np.sqrt(np.cos(2 * u)),
        lambda u: -np.sqrt(2) * a * np.sin(2 * u) / np.sqrt(np.cos(2 * u)),
        -0.7,
        0.7,
    )
    # The polar form has infinite slope in the middle, so the last bit of each loop is added by the integral.
    rest = mp.quad(lambda u: mp.sqrt(2) * a / mp.sqrt(mp.cos(2 * u)), [mp.mpf(0.7), mp.pi / 4])
    assert 2 * (loop.length + 2 * float(rest)) == pytest.approx(float(exact), rel=1e-10)
    # The outer end of the loop bends most: there r = sqrt(2) a and the radius is r / 3.
    assert loop.tightest().radius == pytest.approx(np.sqrt(2) * a / 3, rel=1e-6)


@pytest.mark.parametrize(("amplitude", "wavelength"), [(1.0, 2 * np.pi), (1.0, 8.0), (0.5, 4.0), (2.0, 12.0)])
def test_sine_wave(amplitude: float, wavelength: float) -> None:
    # One period is (4/k) sqrt(1 + A^2 k^2) E(m), m = A^2 k^2 / (1 + A^2 k^2): the same integral as the ellipse's.
    k = 2 * mp.pi / mp.mpf(wavelength)
    square = (amplitude * k) ** 2
    exact = 4 / k * mp.sqrt(1 + square) * mp.ellipe(square / (1 + square))
    by_quadrature = 4 * mp.quad(
        lambda x: mp.sqrt(1 + square * mp.cos(k * x) ** 2), [0, mp.mpf(wavelength) / 4]
    )
    assert abs(by_quadrature / exact - 1) < 1e-20
    curve = sine(amplitude, wavelength, 0, wavelength)
    assert curve.length == pytest.approx(float(exact), rel=1e-11)
    assert curve.tightest().radius == pytest.approx(float(1 / (amplitude * k**2)), rel=1e-6)
    assert curve.turning == pytest.approx(float(mp.degrees(4 * mp.atan(amplitude * k))), rel=1e-9)


def test_the_widest_ellipse_is_a_circle() -> None:
    assert ellipse(4, 4).length == pytest.approx(8 * np.pi, rel=1e-12)
    assert circle_arc(4, 360).length == pytest.approx(8 * np.pi, rel=1e-10)
