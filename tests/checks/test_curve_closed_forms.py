"""Lengths and radii of the classical plane curves, by their closed forms.

Source: M. R. Spiegel, Mathematical Handbook of Formulas and Tables, chapter 11 (special plane curves), from memory;
every length is also integrated here by mpmath, so that the memory is not trusted.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import mpmath
import numpy as np
import pytest
from reference_curves import archimedean, catenary, circle_arc, hermite_chain, parabola, polar

from bias_drafting.curve.curve import Curve

if TYPE_CHECKING:
    from collections.abc import Callable

mp = mpmath.MPContext()
mp.dps = 30


def integrated(speed: Callable[[Any], Any], start: float, end: float) -> float:
    return float(mp.quad(speed, mp.linspace(start, end, 9)))


@pytest.mark.parametrize(("c", "x"), [(1.0, 1.0), (1.0, 2.0), (0.125, 8.0), (40.0, 1.0), (0.001, 5.0)])
def test_parabola(c: float, x: float) -> None:
    # L = (x/2) sqrt(1 + u^2) + asinh(u) / (4 c) with u = 2 c x; a quadratic is a cubic, so nothing is fitted.
    u = 2 * c * x
    exact = x / 2 * np.sqrt(1 + u * u) + np.arcsinh(u) / (4 * c)
    assert integrated(lambda t: mp.sqrt(1 + (2 * c * t) ** 2), 0, x) == pytest.approx(exact, rel=1e-14)
    curve = parabola(c, 0, x)
    assert curve.length == pytest.approx(exact, rel=1e-13)
    assert parabola(c, -x, x).length == pytest.approx(2 * exact, rel=1e-13)
    # The vertex bends most, with radius 1 / (2 c). With y down it is a hill, and going right it bends right.
    bend = parabola(c, -x, x).tightest()
    assert bend.radius == pytest.approx(1 / (2 * c), rel=1e-12)
    assert bend.side == "right"
    assert bend.point == pytest.approx((0, 0), abs=1e-9 * x)
    assert curve.turning == pytest.approx(np.degrees(np.arctan(u)), rel=1e-12)


def test_quadratic_with_a_known_length() -> None:
    # (0,0) (1,2) (2,0) is y = 2x - x^2: twice the parabola y = x^2 from 0 to 1, which is sqrt(5)/2 + asinh(2)/4.
    curve = Curve.from_svg_path("M0 0Q1 2 2 0")
    assert curve.length == pytest.approx(np.sqrt(5) + np.arcsinh(2) / 2, rel=1e-14)


@pytest.mark.parametrize(("a", "start", "end"), [(1.0, 0.0, 1.0), (2.0, -3.0, 3.0), (0.5, -1.0, 2.0)])
def test_catenary(a: float, start: float, end: float) -> None:
    curve = catenary(a, start, end, pieces=1500)
    assert curve.length == pytest.approx(a * (np.sinh(end / a) - np.sinh(start / a)), rel=1e-11)
    # Radius a cosh^2(x/a): least at the bottom, and at the ends as measured along the curve.
    assert curve.tightest().radius == pytest.approx(a * np.cosh(max(start, 0) / a) ** 2, rel=1e-6)
    ends = 1 / curve.curvature_at([0, curve.length])
    assert ends == pytest.approx([a * np.cosh(x / a) ** 2 for x in (start, end)], rel=1e-5)


@pytest.mark.parametrize("r", [1.0, 2.5])
def test_cycloid(r: float) -> None:
    # One arch is 8 r long. Its ends are cusps, where the curve stands still: handles drawn in.
    arch = hermite_chain(
        lambda u: r * np.stack([u - np.sin(u), 1 - np.cos(u)], axis=-1),
        lambda u: r * np.stack([1 - np.cos(u), np.sin(u)], axis=-1),
        np.linspace(0, 2 * np.pi, 1001),
    )
    assert integrated(lambda u: 2 * r * mp.sin(u / 2), 0, 2 * mp.pi) == pytest.approx(8 * r, rel=1e-14)
    assert arch.length == pytest.approx(8 * r, rel=1e-10)
    assert arch.turning == pytest.approx(180, abs=1e-4)  # beside a cusp the fit wavers a little
    # At the top the radius is 4 r; the arch is symmetric, so the top is half way along.
    assert 1 / abs(arch.curvature_at(arch.length / 2)) == pytest.approx(4 * r, rel=1e-5)
    assert arch.tightest().radius == 0


def test_astroid() -> None:
    # 6 a long, four cusps; its direction turns by a right angle along each arc and by half a round at each cusp.
    a = 3.0
    curve = hermite_chain(
        lambda u: a * np.stack([np.cos(u) ** 3, np.sin(u) ** 3], axis=-1),
        lambda u: 3 * a * np.stack([-(np.cos(u) ** 2) * np.sin(u), np.sin(u) ** 2 * np.cos(u)], axis=-1),
        np.linspace(0, 2 * np.pi, 2001),
        closed=True,
    )
    assert integrated(lambda u: 6 * a * mp.sin(2 * u), 0, mp.pi / 2) == pytest.approx(6 * a, rel=1e-14)
    assert curve.length == pytest.approx(6 * a, rel=1e-10)
    assert curve.turning == pytest.approx(4 * 90 + 4 * 180, abs=1e-4)  # beside a cusp the fit wavers a little


def test_cardioid() -> None:
    # r = a (1 + cos angle): 8 a. Away from its cusp, so that the polar form may be followed.
    a, end = 2.0, 3.0
    half = polar(lambda u: a * (1 + np.cos(u)), lambda u: -a * np.sin(u), -end, end)
    exact = 8 * a * np.sin(end / 2)
    assert integrated(lambda u: 2 * a * mp.cos(u / 2), -end, end) == pytest.approx(exact, rel=1e-14)
    assert half.length == pytest.approx(exact, rel=1e-11)
    # Radius (4/3) a cos(angle/2).
    assert half.tightest().radius == pytest.approx(4 / 3 * a * np.cos(end / 2), rel=1e-5)


@pytest.mark.parametrize(("b", "end"), [(1.0, 2 * np.pi), (1.0, 4 * np.pi), (0.5, 6 * np.pi)])
def test_archimedean_spiral(b: float, end: float) -> None:
    exact = b / 2 * (end * np.sqrt(1 + end**2) + np.arcsinh(end))
    assert integrated(lambda u: b * mp.sqrt(1 + u * u), 0, end) == pytest.approx(exact, rel=1e-14)
    curve = archimedean(b, 0, end, pieces=2000)
    assert curve.length == pytest.approx(exact, rel=1e-10)
    # Radius b (1 + u^2)^1.5 / (2 + u^2): least in the middle.
    middle = archimedean(b, 0, 0.5, pieces=500)
    assert middle.tightest().radius == pytest.approx(b / 2, rel=1e-6)
    assert curve.turning == pytest.approx(np.degrees(end + np.arctan(end)), rel=1e-9)


@pytest.mark.parametrize("angle", [np.pi, 2 * np.pi])
def test_radius_along_an_archimedean_spiral(angle: float) -> None:
    curve = archimedean(1.0, angle, angle + 1, pieces=800)
    radius = (1 + angle**2) ** 1.5 / (2 + angle**2)
    assert curve.tightest().radius == pytest.approx(radius, rel=1e-6)
    assert curve.tightest().s == 0


@pytest.mark.parametrize(("b", "end"), [(0.1, 2 * np.pi), (0.2, 4 * np.pi)])
def test_logarithmic_spiral(b: float, end: float) -> None:
    exact = np.sqrt(1 + b * b) / b * (np.exp(b * end) - 1)
    curve = polar(lambda u: np.exp(b * u), lambda u: b * np.exp(b * u), 0, end, pieces=1500)
    assert integrated(lambda u: mp.sqrt(1 + b * b) * mp.exp(b * u), 0, end) == pytest.approx(exact, rel=1e-14)
    assert curve.length == pytest.approx(exact, rel=1e-10)
    start = polar(lambda u: np.exp(b * u), lambda u: b * np.exp(b * u), 0, 0.5, pieces=500)
    assert start.tightest().radius == pytest.approx(np.sqrt(1 + b * b), rel=1e-6)
    # It turns by its own angle; and the radius at arc length s from the pole is b s.
    assert curve.turning == pytest.approx(np.degrees(end), rel=1e-9)
    at = np.array([0.3, 0.6]) * curve.length
    from_pole = np.sqrt(1 + b * b) / b + at
    assert 1 / curve.curvature_at(at) == pytest.approx(b * from_pole, rel=2e-5)


@pytest.mark.parametrize(("radius", "degrees"), [(2.0, 90.0), (3.0, 60.0), (5.0, 120.0), (10.0, 20.0)])
def test_circular_arcs(radius: float, degrees: float) -> None:
    curve = circle_arc(radius, degrees)
    angle = np.radians(degrees)
    assert curve.length == pytest.approx(radius * angle, rel=1e-11)
    chord = np.hypot(*np.subtract(curve.end, curve.start))
    sagitta = radius - np.hypot(*((np.array(curve.start) + curve.end) / 2))
    # The rule of thumb R = c^2 / (8 h) + h / 2 gives the radius back.
    assert chord == pytest.approx(2 * radius * np.sin(angle / 2), rel=1e-12)
    assert chord**2 / (8 * sagitta) + sagitta / 2 == pytest.approx(radius, rel=1e-10)
    assert 1 / curve.curvature_at(np.linspace(0, curve.length, 7)) == pytest.approx(radius, rel=4e-6)
    assert curve.turning == pytest.approx(degrees, rel=1e-9)


@pytest.mark.parametrize(("radius", "degrees"), [(2.0, 90.0), (3.0, 60.0), (5.0, 120.0), (10.0, 20.0)])
def test_circular_arcs_drawn_as_arcs(radius: float, degrees: float) -> None:
    angle = np.radians(degrees)
    x, y = radius * np.cos(angle), radius * np.sin(angle)
    curve = Curve.from_svg_path(f"M{radius} 0A{radius} {radius} 0 0 1 {x} {y}")
    assert curve.length == pytest.approx(radius * angle, rel=1e-9)
    bend = curve.tightest()
    assert bend.radius == pytest.approx(radius, rel=1e-6)
    assert bend.side == "right"


def test_one_cubic_for_a_quarter_circle_is_too_long_by_what_is_known() -> None:
    # Handles of (4/3)(sqrt 2 - 1): the radius is up to 2.7253e-4 too long, the quarter 2.20371e-4 in length.
    k = 4 / 3 * (np.sqrt(2) - 1)
    curve = Curve(np.array([[[1.0, 0.0], [1.0, k], [k, 1.0], [0.0, 1.0]]]))
    speed = mp.quad(
        lambda t: abs(
            3 * ((1 - t) ** 2 * mp.mpc(0, k) + 2 * (1 - t) * t * mp.mpc(k - 1, 1 - k) + t**2 * mp.mpc(-k, 0))
        ),
        [0, 0.5, 1],
    )
    assert curve.length == pytest.approx(float(speed), rel=1e-14)
    assert curve.length - np.pi / 2 == pytest.approx(2.20371e-4, abs=1e-9)
    radii = np.hypot(*curve.point_at(np.linspace(0, curve.length, 2001)).T)
    assert radii.max() - 1 == pytest.approx(2.72530e-4, abs=1e-8)
    assert radii.min() >= 1 - 1e-12
