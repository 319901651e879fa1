"""Single cubics against two other routes: svgpathtools, and mpmath's quadrature at 30 digits.

svgpathtools 1.8 (github.com/mathandy/svgpathtools) measures by adaptive quadrature of its own Bezier segments. The
nasty cubics, with cusps, folds and drawn-in handles, are integrated by mpmath instead, split at the places
where the speed all but vanishes.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import mpmath
import numpy as np
import pytest
from svgpathtools import CubicBezier, Line

from bias_drafting.curve.curve import Curve

mp = mpmath.MPContext()
mp.dps = 30

Segment = tuple[tuple[float, float], ...]

PLAIN: dict[str, Segment] = {
    "arch": ((0, 0), (1, 2), (3, 2), (4, 0)),
    "letter s": ((0, 0), (4, 0), (0, 3), (4, 3)),
    "raised quadratic": ((0, 0), (2 / 3, 4 / 3), (4 / 3, 4 / 3), (2, 0)),
}
NASTY: dict[str, Segment] = {
    "cusp": ((0, 0), (10, 10), (0, 10), (10, 0)),
    "cusp of decimals": ((0, 0.01), (3, 2.99), (0.01, 2.99), (2.99, 0.01)),
    "nearly a cusp": ((0, 0), (10, 10.001), (0, 10), (10, 0)),
    "very nearly a cusp": ((0, 0), (10 + 1e-6, 10), (0, 10), (10, 0)),
    "hairpin": ((0, 0), (100, 1e-3), (100, -1e-3), (0, 0)),
    "fold": ((0, 0), (30, 0), (-20, 0), (10, 0)),
    "slanting fold": ((1, 2), (31, 32), (-19, -18), (11, 12)),
    "nearly a fold": ((0, 0), (30, 1e-9), (-20, 0), (10, 0)),
    "out and back": ((0, 0), (20, 0), (20, 0), (0, 0)),
    "loop": ((0, 0), (40, 20), (-30, 20), (10, 0)),
    "closed drop": ((0, 0), (10, 20), (-10, 20), (0, 0)),
    "first handle drawn in": ((0, 0), (0, 0), (5, 10), (10, 0)),
    "last handle drawn in": ((0, 0), (5, 10), (10, 0), (10, 0)),
    "both handles drawn in": ((0, 0), (0, 0), (10, 3), (10, 3)),
    "both handles on the start": ((0, 0), (0, 0), (0, 0), (10, 3)),
    "handle nearly drawn in": ((0, 0), (1e-7, 1e-7), (5, 10), (10, 0)),
    "handle all but drawn in": ((0, 0), (1e-13, -1e-13), (5, 10), (10, 0)),
    "standing still half way": ((-1, 0), (1, 0), (-1, 0), (1, 0)),
    "far from the origin": ((1e6, 1e6), (1e6 + 1, 1e6 + 2), (1e6 + 3, 1e6 + 2), (1e6 + 4, 1e6)),
    "very small": ((0, 0), (1e-9, 2e-9), (3e-9, 2e-9), (4e-9, 0)),
    "straight, uneven": ((0, 0), (1, 0), (2, 0), (30, 0)),
}


def velocity(segment: Segment) -> tuple[Any, Any, Any]:
    p = [mp.mpc(*point) for point in segment]
    d = [3 * (p[k + 1] - p[k]) for k in range(3)]
    return d[0] - 2 * d[1] + d[2], 2 * (d[1] - d[0]), d[0]


@cache
def integrated(segment: Segment, end: float = 1.0) -> Any:
    """The length by quadrature, split wherever the curve goes slowest, ever finer towards it."""
    a, b, c = velocity(segment)
    if a != 0:
        root = mp.sqrt(b * b - 4 * a * c)
        slow = [(-b + root) / (2 * a), (-b - root) / (2 * a)]
    else:
        slow = [-c / b] if b != 0 else []
    cuts = {mp.mpf(0), mp.mpf(end)}
    for z in slow:
        cuts |= {z.real + k * z.imag for k in (-100, -10, -1, 0, 1, 10, 100)}
    inside = sorted(t for t in cuts if 0 <= t <= end)
    return mp.quad(lambda t: abs((a * t + b) * t + c), inside)


def tool(segment: Segment) -> CubicBezier:
    return CubicBezier(*(complex(*point) for point in segment))


def random_segments(count: int) -> list[Segment]:
    rng = np.random.default_rng(20260101)
    return [tuple(map(tuple, rng.uniform(-50, 150, (4, 2)).tolist())) for _ in range(count)]


@pytest.mark.parametrize("segment", PLAIN.values(), ids=PLAIN)
def test_plain_cubics(segment: Segment) -> None:
    length = Curve(np.array([segment])).length
    assert length == pytest.approx(float(integrated(segment)), rel=1e-14)
    assert length == pytest.approx(tool(segment).length(), rel=1e-12)


def test_known_bends_of_the_arch() -> None:
    # B' x B'' / |B'|^3 is -16/27 half way along. With y down the arch hangs, and is travelled bending left.
    arch = Curve(np.array([PLAIN["arch"]]))
    assert arch.curvature_at(arch.length / 2) == pytest.approx(-16 / 27, rel=1e-12)
    assert arch.curvature_at(0) == pytest.approx(-0.238513917599978, rel=1e-12)


@pytest.mark.parametrize("segment", NASTY.values(), ids=NASTY)
def test_nasty_cubics(segment: Segment) -> None:
    assert Curve(np.array([segment])).length == pytest.approx(float(integrated(segment)), rel=1e-12)


def test_a_hundred_random_cubics() -> None:
    for segment in random_segments(100):
        assert Curve(np.array([segment])).length == pytest.approx(tool(segment).length(), rel=1e-9), segment


def test_straight_lines() -> None:
    rng = np.random.default_rng(7)
    for a, b in rng.uniform(-100, 100, (50, 2, 2)):
        assert Curve.from_points([a, b]).length == pytest.approx(
            Line(complex(*a), complex(*b)).length(), rel=1e-15
        )


def test_handles_drawn_in_by_every_power_of_ten() -> None:
    # The nearest a root of the speed may come to its piece, decade by decade: nothing may fall between two rules.
    for k in range(1, 17):
        segment = ((0.0, 0.0), (10.0**-k, 10.0**-k), (5.0, 10.0), (10.0, 0.0))
        near_cusp = ((0.0, 0.0), (10.0, 10.0 + 10.0**-k), (0.0, 10.0), (10.0, 0.0))
        for case in (segment, near_cusp):
            assert Curve(np.array([case])).length == pytest.approx(float(integrated(case)), rel=1e-12), case


@pytest.mark.parametrize("share", [0.05, 0.3, 0.5, 0.9])
def test_points_tangents_and_curvatures_against_svgpathtools(share: float) -> None:
    for segment in random_segments(12):
        curve, other = Curve(np.array([segment])), tool(segment)
        s = share * curve.length
        t = other.ilength(s, s_tol=1e-12)
        point, tangent = other.point(t), other.unit_tangent(t)
        x, y = curve.point_at(s)
        assert abs(complex(x, y) - point) < 1e-8 * curve.length
        x, y = curve.tangent_at(s)
        assert abs(complex(x, y) - tangent) < 1e-6
        # Its curvature has no sign; ours is positive to the right of travel on the page.
        assert abs(curve.curvature_at(s)) == pytest.approx(other.curvature(t), rel=1e-5)


@pytest.mark.parametrize("name", ["arch", "letter s"])
def test_points_tangents_and_curvatures_against_mpmath(name: str) -> None:
    segment = PLAIN[name]
    curve = Curve(np.array([segment]))
    p = [mp.mpc(*point) for point in segment]
    a, b, c = velocity(segment)
    for t in (0.1, 0.35, 0.77):
        u = 1 - mp.mpf(t)
        point = u**3 * p[0] + 3 * u * u * t * p[1] + 3 * u * t * t * p[2] + mp.mpf(t) ** 3 * p[3]
        first, second = (a * t + b) * t + c, 2 * a * t + b
        s = float(integrated(segment, t))
        assert curve.point_at(s) == pytest.approx([float(point.real), float(point.imag)], abs=1e-13)
        unit = first / abs(first)
        assert curve.tangent_at(s) == pytest.approx([float(unit.real), float(unit.imag)], abs=1e-12)
        bend = (mp.conj(first) * second).imag / abs(first) ** 3
        assert curve.curvature_at(s) == pytest.approx(float(bend), abs=1e-11)


@pytest.mark.parametrize(
    "name", ["cusp", "fold", "loop", "first handle drawn in", "hairpin", "nearly a cusp"]
)
def test_arc_length_gives_the_point_back_on_nasty_cubics(name: str) -> None:
    segment = NASTY[name]
    curve = Curve(np.array([segment]))
    p = np.array(segment)
    for t in (0.03, 0.25, 0.49, 0.61, 0.98):
        weights = np.array([(1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3])
        s = float(integrated(segment, t))
        assert curve.point_at(s) == pytest.approx(weights @ p, abs=1e-10 * curve.length)
