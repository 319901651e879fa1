"""Checks and patterns against figures from outside: lengths, areas and bends that others have worked out.

Each test names its source. The widest strip that goes round a bend needs one more step, which is our own: a strip
of width w passes where its working radius ``w / turn`` is at least k widths, so where no stretch as long as the
strip is wide turns by more than 1 / k radians. The widest is therefore as long as the shortest stretch that turns by
1 / k, and round a single peak of curvature that stretch has a closed form. For stretch 0.20 and ease 0.08,
k = 3.785714.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import mpmath
import numpy as np
import pytest
from scipy.special import fresnel

import bias_drafting as bd

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

RHO = 1.20 / 0.92
K = (RHO + 1) / (RHO - 1) / 2


def pattern_of(curve: bd.Curve, width: float) -> bd.Pattern:
    drawing = bd.Drawing("garden wall", (400, 400), stems=(bd.Stem("hop", curve),))
    return bd.draft_pattern(drawing, width, tuck=0, end_allowance=0)


def ellipse(a: float, b: float) -> bd.Curve:
    """An ellipse from its long end, in cubics of 3 degrees of its parameter: right to about 1e-9."""
    t = np.radians(np.arange(0, 361, 3))
    handle = 4 / 3 * math.tan(math.radians(3) / 4)
    points = np.stack([a * np.cos(t), b * np.sin(t)], axis=1)
    along = handle * np.stack([-a * np.sin(t), b * np.cos(t)], axis=1)
    points[-1] = points[0]
    controls = np.stack([points[:-1], (points + along)[:-1], (points - along)[1:], points[1:]], axis=1)
    return bd.Curve(controls, closed=True)


def through(xy: Array, slopes: Array) -> bd.Curve:
    """Cubics through points with the derivatives by an even parameter of one unit a piece."""
    a, b = xy[:-1], xy[1:]
    return bd.Curve(np.stack([a, a + slopes[:-1] / 3, b - slopes[1:] / 3, b], axis=1))


def sine_wave(amplitude: float, wave: float, periods: float) -> bd.Curve:
    x = np.linspace(0, periods * wave, int(periods * 80) + 1)
    k, step = 2 * math.pi / wave, x[1] - x[0]
    xy = np.stack([x, amplitude * np.sin(k * x)], axis=1)
    return through(xy, np.stack([np.full_like(x, step), step * amplitude * k * np.cos(k * x)], axis=1))


# --- how long a strip is ------------------------------------------------------------------------------------


@pytest.mark.parametrize(("a", "b", "perimeter"), [(5, 3, 25.5269988633981), (10, 5, 48.4422411027384)])
def test_a_strip_round_an_ellipse(a: float, b: float, perimeter: float) -> None:
    # NIST Digital Library of Mathematical Functions, 19.30(i): the perimeter is 4 a E(k), k^2 = 1 - b^2 / a^2.
    assert float(4 * a * mpmath.ellipe(1 - (b / a) ** 2)) == pytest.approx(perimeter, rel=1e-14)
    pattern = pattern_of(ellipse(10 * a, 10 * b), 4)
    assert pattern["hop"].strip_length == pytest.approx(10 * perimeter, rel=1e-8)
    assert pattern.bias_length[8] == pytest.approx(10 * perimeter, rel=1e-8)


@pytest.mark.parametrize(
    ("amplitude", "wave", "length"), [(1, 8, 9.11870931495539), (2, 12, 14.8110575259869)]
)
def test_a_strip_along_a_sine_wave(amplitude: float, wave: float, length: float) -> None:
    # One period by the complete elliptic integral of the second kind, NIST Digital Library of Mathematical Functions,
    # 19.2(ii): (4 / k) sqrt(1 + A^2 k^2) E(m), with m = A^2 k^2 / (1 + A^2 k^2).
    ak = (amplitude * 2 * math.pi / wave) ** 2
    exact = 4 * wave / (2 * math.pi) * math.sqrt(1 + ak) * float(mpmath.ellipe(ak / (1 + ak)))
    assert exact == pytest.approx(length, rel=1e-13)
    pattern = pattern_of(sine_wave(10 * amplitude, 10 * wave, 2), 3)
    assert pattern["hop"].strip_length == pytest.approx(2 * 10 * length, rel=1e-7)


# --- what a finished stem covers, and how long its edges are ------------------------------------------------


@pytest.mark.parametrize(("a", "b", "width"), [(50, 30, 6.35), (50, 30, 20), (100, 50, 12)])
def test_the_edges_and_the_area_of_a_ring(a: float, b: float, width: float) -> None:
    # H. Weyl, "On the volume of tubes", Amer. J. Math. 61 (1939) 461-472 (from memory): area = width x length.
    finished = pattern_of(ellipse(a, b), width)["hop"].finished
    perimeter = float(4 * a * mpmath.ellipe(1 - (b / a) ** 2))
    assert finished.area == pytest.approx(width * perimeter, abs=1e-3 * perimeter)
    # W. Wong, "Lengths of Parallel Curves" (2020), qnlw.info/post/parallel-curves-2020-2: a curve parallel at a
    # distance d to a closed one is longer or shorter by 2 pi d.
    (hole,) = finished.holes
    assert finished.exterior.length == pytest.approx(perimeter + math.pi * width, rel=1e-4)
    assert hole.length == pytest.approx(perimeter - math.pi * width, rel=1e-4)


@pytest.mark.parametrize("width", [2.0, 6.35])
def test_the_area_of_a_wavy_stem(width: float) -> None:
    # H. Weyl, "On the volume of tubes", Amer. J. Math. 61 (1939) 461-472 (from memory): bends left and right cancel.
    finished = pattern_of(sine_wave(10, 80, 1), width)["hop"].finished
    assert finished.area == pytest.approx(width * 91.1870931495539, abs=0.1)
    assert finished.exterior.length == pytest.approx(2 * 91.1870931495539 + 2 * width, rel=1e-4)


@pytest.mark.parametrize(("finished", "cut"), [("1/4 in", "1/2 in"), ("1/2 in", "1 in"), ("1 in", "2 in")])
def test_folded_strips_of_the_usual_widths(finished: str, cut: str) -> None:
    # Common practice: a folded strip is cut twice as wide as it finishes.
    (found,) = pattern_of(bd.Curve.from_points([(20, 20), (320, 20)]), bd.to_mm(finished)).bias_length
    assert bd.format_length(found, "in", 64) == cut


# --- how wide a strip goes round a bend ---------------------------------------------------------------------


@pytest.mark.parametrize(("a", "b"), [(50, 30), (100, 50), (80, 20)])
def test_the_widest_strip_round_an_ellipse(a: float, b: float) -> None:
    # The stretch round the long end that turns by 1 / K. Its length: the incomplete elliptic integral of the second
    # kind, NIST Digital Library of Mathematical Functions, 19.30(i), from parameter 0 to t on both sides. There the
    # direction has turned by atan(a tan(t) / b).
    t = math.atan(b / a * math.tan(1 / (2 * K)))
    widest = 2 * b * float(mpmath.ellipe(t, 1 - (a / b) ** 2))
    check = bd.check_stem(ellipse(a, b), "1/8 in")
    assert check.widest == pytest.approx(widest, rel=1e-6)
    # The radius at that end is b^2 / a; a strip of some width feels a little less of it.
    assert ellipse(a, b).tightest().radius == pytest.approx(b * b / a, rel=1e-6)
    at = bd.check_stem(ellipse(a, b), widest * (1 - 1e-6))
    assert b * b / a < at.tightest.radius == pytest.approx(K * widest, rel=1e-5)
    ends = [(a, 0), (-a, 0)]
    assert min(math.dist(at.tightest.point, end) for end in ends) < 0.05


@pytest.mark.parametrize("c", [1 / 8, 1 / 30])
def test_the_widest_strip_round_a_parabola(c: float) -> None:
    # Arc length of y = c x^2 from its vertex, M. R. Spiegel, Mathematical Handbook of Formulas and Tables (1968), 11
    # (from memory): x sqrt(1 + u^2) / 2 + asinh(u) / (4 c), with u = 2 c x the tangent of the direction.
    def length(x: float) -> float:
        u = 2 * c * x
        return x * math.sqrt(1 + u * u) / 2 + math.asinh(u) / (4 * c)

    curve = bd.Curve.from_svg_path(f"M-60 {c * 3600}Q0 {-c * 3600} 60 {c * 3600}")  # exactly a parabola
    widest = 2 * length(math.tan(1 / (2 * K)) / (2 * c))
    check = bd.check_stem(curve, 3)
    assert check.widest == pytest.approx(widest, rel=1e-7)
    again = bd.check_stem(curve, widest * 1.2)
    assert again.verdict is bd.Verdict.TOO_TIGHT
    assert again.tightest.point == pytest.approx((0, 0), abs=1e-3)
    (spot,) = again.spots
    assert spot.start < curve.length / 2 < spot.end
    # Over a paper template the widest solves w / turn(w) = w / 2 + 1/8 in: found by halving an interval here.
    low, high = 0.01, 60.0
    for _ in range(60):
        x = (low + high) / 2
        w = 2 * length(x)
        low, high = (x, high) if w / (2 * math.atan(2 * c * x)) >= w / 2 + 3.175 else (low, x)
    template = bd.check_stem(curve, 3, bd.TurnedTemplate())
    if low < 59:
        assert template.widest == pytest.approx(2 * length(low), rel=1e-6)
    else:
        assert template.widest >= curve.length * (1 - 1e-9)


@pytest.mark.parametrize(("radius", "run"), [(20.0, 60.0), (30.0, 100.0)])
def test_the_widest_strip_on_a_clothoid(radius: float, run: float) -> None:
    # The clothoid by Fresnel integrals, M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions (1964),
    # 7.3.1 and 7.3.2 (from memory): its curvature grows from 0 to 1 / R along the run L.
    scale = math.sqrt(math.pi * radius * run)
    s = np.linspace(0, run, 241)
    y, x = fresnel(s / scale)
    turned = s**2 / (2 * radius * run)
    xy = scale * np.stack([x, y], axis=1)
    curve = through(xy, (s[1] - s[0]) * np.stack([np.cos(turned), np.sin(turned)], axis=1))
    assert curve.length == pytest.approx(run, rel=1e-8)
    # Tightest is the last stretch: over its last w the direction turns by (L^2 - (L - w)^2) / (2 R L).
    widest = run - math.sqrt(run**2 - 2 * radius * run / K)
    check = bd.check_stem(curve, 2)
    assert check.widest == pytest.approx(widest, rel=1e-6)
    for w in (2.0, 5.0, 12.0):
        found = bd.check_stem(curve, w).tightest
        assert found.radius == pytest.approx(w * 2 * radius * run / (run**2 - (run - w) ** 2), rel=1e-6)
        assert found.s == pytest.approx(run - w / 2, abs=1e-3)
        assert found.side == "right"


def test_the_widest_strip_round_a_ring() -> None:
    # A strip bent flat, its inner and outer edge as 1 to rho (the model of the pin-jointed net: C. Mack and H. M.
    # Taylor, J. Textile Inst. 47 (1956) T477-T488, from memory): widest 2 R (rho - 1) / (rho + 1).
    check = bd.check_stem(ellipse(40, 40), 5)
    assert check.widest == pytest.approx(80 * (RHO - 1) / (RHO + 1), rel=1e-7)
    assert pytest.approx(3.785714, abs=1e-6) == K
    edges = 40 + check.widest / 2, 40 - check.widest / 2
    assert edges[0] / edges[1] == pytest.approx(1.304348, abs=1e-6)
