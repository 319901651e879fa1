"""Where curves meet: closed forms, other libraries, brute force, and the cases that go wrong elsewhere."""

from __future__ import annotations

from dataclasses import astuple
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from reference_curves import parabola, random_vine, sine
from svgpathtools import CubicBezier, Line

from bias_drafting.curve import arcs, contacts, meetings, overlaps
from bias_drafting.curve.curve import Curve
from bias_drafting.curve.measure import build_chain
from bias_drafting.curve.meetings import (
    Intersection,
    Meetings,
    Overlap,
    meetings_between,
    meetings_with_itself,
)
from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from types import ModuleType

    from numpy.typing import NDArray

    Array = NDArray[np.float64]

VINE = Curve.from_svg_path("M0 100C40 0 80 0 120 60S200 100 240 20")
CUSP = Curve.from_svg_path("M0 0C40 40 0 40 40 0")  # its tip at (20, 30) points down the page


def met(a: Curve, b: Curve, tolerance: float = 1e-6) -> Meetings:
    chains = [build_chain(c.controls, c.closed) for c in (a, b)]
    return meetings_between(chains[0], a.closed, chains[1], b.closed, tolerance)


def self_met(a: Curve, tolerance: float = 1e-6) -> Meetings:
    return meetings_with_itself(build_chain(a.controls, a.closed), a.closed, tolerance)


def path(d: str) -> Curve:
    return Curve.from_svg_path(d)


def line(*xy: tuple[float, float]) -> Curve:
    return Curve.from_points(xy)


def ring(centre: Any, radius: float, start: float = 0.0, pieces: int = 100) -> Curve:
    """A circle as a closed chain of cubics with handles ``4/3 tan(angle/4)``: right to 1e-12 of its radius."""
    angle = start + np.linspace(0, 2 * np.pi, pieces + 1)
    p = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    p[-1] = p[0]
    handle = 4 / 3 * np.tan(np.pi / 2 / pieces) * np.stack([-p[:, 1], p[:, 0]], axis=1)
    controls = np.stack([p[:-1], p[:-1] + handle[:-1], p[1:] - handle[1:], p[1:]], axis=1)
    return Curve(np.asarray(centre) + radius * controls, closed=True)


def places(found: Meetings) -> Array:
    return np.array([p.point for p in found.points]).reshape(-1, 2)


def the_point(found: Meetings) -> Intersection:
    assert found.overlaps == ()
    (point,) = found.points
    return point


def the_overlap(found: Meetings) -> Overlap:
    assert found.points == ()
    (overlap,) = found.overlaps
    return overlap


def about(s0: float, s1: float, other_s0: float, other_s1: float, same_way: bool) -> Any:
    """What an overlap is to be, to rounding."""
    return pytest.approx((s0, s1, other_s0, other_s1, same_way), abs=1e-12)


def check_places(found: Meetings, a: Curve, b: Curve, exact: float = 1e-10) -> None:
    """The point of each crossing is where both curves are at the arc lengths given, and the angle is theirs."""
    for p in found.points:
        assert a.point_at(p.s) == pytest.approx(p.point, abs=exact)
        assert b.point_at(p.other_s) == pytest.approx(p.point, abs=max(exact, 1e-6 if p.angle < 1e-3 else 0))
        one, other = a.tangent_at(p.s), b.tangent_at(p.other_s)
        between = np.degrees(np.arctan2(abs(one[0] * other[1] - one[1] * other[0]), abs(one @ other)))
        assert p.angle == pytest.approx(between, abs=1e-5)


# --- closed forms ---------------------------------------------------------------------------------------------


def test_two_lines() -> None:
    p = the_point(met(line((0, 0), (10, 0)), line((2, -3), (6, 1))))
    assert p.point == pytest.approx((5, 0), abs=1e-14)
    assert (p.s, p.other_s) == pytest.approx((5, 3 * np.sqrt(2)), abs=1e-14)
    assert p.angle == pytest.approx(45, abs=1e-12)
    assert met(line((0, 0), (10, 0)), line((2, -3), (4.9, -0.1))) == Meetings((), ())


def test_a_line_and_a_circle() -> None:
    # y = 10 and x^2 + y^2 = 30^2.
    found = met(ring((0, 0), 30), line((-50, 10), (50, 10)))
    x = np.sqrt(800)
    assert places(found) == pytest.approx(np.array([[x, 10], [-x, 10]]), abs=1e-9)
    angle = np.arcsin(1 / 3)
    assert [p.s for p in found.points] == pytest.approx([30 * angle, 30 * (np.pi - angle)], abs=1e-8)
    assert [p.other_s for p in found.points] == pytest.approx([50 + x, 50 - x], abs=1e-9)
    assert [p.angle for p in found.points] == pytest.approx([np.degrees(np.pi / 2 - angle)] * 2, abs=1e-6)


@pytest.mark.parametrize("offset", [0.0, 1e6])
def test_two_circles_cross(offset: float) -> None:
    rng = np.random.default_rng(2)
    for _ in range(10):
        r1, r2, towards = *rng.uniform(2, 60, 2), rng.uniform(0, 2 * np.pi)
        apart = abs(r1 - r2) + (r1 + r2 - abs(r1 - r2)) * rng.uniform(0.1, 0.9)
        along = (apart**2 + r1**2 - r2**2) / (2 * apart)
        across = np.sqrt(r1**2 - along**2)
        u = np.array([np.cos(towards), np.sin(towards)])
        expected = np.stack([along * u + k * across * np.array([-u[1], u[0]]) for k in (1, -1)]) + offset
        a = ring((offset, offset), r1, rng.uniform(0, 6))
        b = ring(offset + apart * u, r2, rng.uniform(0, 6))
        found = met(a, b)
        assert len(found.points) == 2
        gap = np.hypot(*(places(found)[:, None] - expected[None]).transpose(2, 0, 1)).min(axis=1)
        assert gap.max() < 1e-7
        # The triangle of the two centres and a crossing: its angle there, or the rest to 180 degrees.
        cosine = (r1**2 + r2**2 - apart**2) / (2 * r1 * r2)
        assert [p.angle for p in found.points] == pytest.approx(
            [np.degrees(np.arccos(abs(cosine)))] * 2, abs=1e-4
        )


@pytest.mark.parametrize("offset", [0.0, 1e6])
@pytest.mark.parametrize("inside", [False, True])
def test_circles_that_touch(inside: bool, offset: float) -> None:
    rng = np.random.default_rng(4)
    for _ in range(15):
        r1, r2 = 10 ** rng.uniform(-1, 2.5, 2)
        towards = rng.uniform(0, 2 * np.pi)
        u = np.array([np.cos(towards), np.sin(towards)])
        a = ring((offset, offset), r1, rng.uniform(0, 6))
        b = ring(offset + (r1 - r2 if inside else r1 + r2) * u, r2, rng.uniform(0, 6))
        p = the_point(met(a, b))
        assert p.angle < 0.01
        # Near the touch the circles are hardly further apart; where they are closest is known less well than that.
        assert np.hypot(*(np.array(p.point) - offset - r1 * u)) < 1e-3 * np.sqrt(max(r1, r2))


def test_a_line_touches_a_circle() -> None:
    p = the_point(met(ring((0, 0), 30, 0.3), line((-20, 30), (50, 30))))
    assert p.point == pytest.approx((0, 30), abs=1e-5)
    assert p.other_s == pytest.approx(20, abs=1e-5)
    assert p.angle == pytest.approx(0, abs=1e-4)
    # The tolerance is what it says: just within, touching; just beyond, not.
    assert len(met(ring((0, 0), 30), line((-20, 30 + 0.9e-6), (50, 30 + 0.9e-6))).points) == 1
    assert met(ring((0, 0), 30), line((-20, 30 + 1.1e-6), (50, 30 + 1.1e-6))) == Meetings((), ())
    assert len(met(ring((0, 0), 30), line((-20, 30.009), (50, 30.009)), tolerance=0.01).points) == 1
    assert met(ring((0, 0), 30), line((-20, 30.011), (50, 30.011)), tolerance=0.01) == Meetings((), ())


def test_a_line_and_a_parabola() -> None:
    # y = x^2/20 and y = m x + 3: x = 10 m +- sqrt(100 m^2 + 60).
    for slope in (-1.5, 0.0, 0.4, 1.0):
        bowl, cut = parabola(0.05, -60, 60), line((-50, 3 - 50 * slope), (50, 3 + 50 * slope))
        x = 10 * slope + np.array([-1, 1]) * np.sqrt(100 * slope**2 + 60)
        found = met(bowl, cut)
        assert places(found) == pytest.approx(np.stack([x, slope * x + 3], axis=1), abs=1e-10)
        check_places(found, bowl, cut)


def test_nine_crossings_of_two_cubics() -> None:
    # y = T3(x) and x = T3(y), T3 = 4x^3 - 3x: with x = cos a they meet where cos 9a = cos a: 9 places in the square.
    x = np.array([-1, -1 / 3, 1 / 3, 1])
    y = np.array([-1, 5, -5, 1])
    a = Curve(np.stack([x, y], axis=1)[None])
    b = Curve(np.stack([y, x], axis=1)[None])
    k = np.concatenate([np.arange(0, 5) * np.pi / 4, np.arange(1, 5) * np.pi / 5])
    expected = np.cos(k)
    found = met(a, b)
    assert np.sort(places(found)[:, 0]) == pytest.approx(np.sort(expected), abs=1e-10)
    assert len(found.points) == 9
    assert places(found)[:, 1] == pytest.approx(
        4 * places(found)[:, 0] ** 3 - 3 * places(found)[:, 0], abs=1e-10
    )


def loop_of(c: Array) -> tuple[float, float] | None:
    """The parameters at which a cubic crosses itself, in closed form.

    B(t1) = B(t2) with B = a t^3 + b t^2 + c t + d, divided by t1 - t2: a (S^2 - P) + b S + c = 0 for the sum S and
    the product P of the two. Crossed with a it gives S, dotted with a it gives P.
    """
    z = c[:, 0] + 1j * c[:, 1]
    a3, a2, a1 = z[3] - 3 * z[2] + 3 * z[1] - z[0], 3 * (z[2] - 2 * z[1] + z[0]), 3 * (z[1] - z[0])
    total = -(np.conj(a3) * a1).imag / (np.conj(a3) * a2).imag
    product = total**2 + ((a2 * total + a1) * np.conj(a3)).real / abs(a3) ** 2
    if total**2 <= 4 * product:
        return None
    t1, t2 = np.sort(np.roots([1, -total, product]).real)
    return (float(t1), float(t2)) if t1 >= 0 and t2 <= 1 else None


def test_loops_within_one_cubic() -> None:
    rng, loops = np.random.default_rng(5), 0
    for _ in range(250):
        controls = rng.uniform(0, 40, (4, 2))
        curve, found, expected = Curve(controls[None]), None, loop_of(controls)
        found = self_met(curve)
        if expected is None:
            assert found == Meetings((), ())
            continue
        loops += 1
        p = the_point(found)
        t = np.array(expected)
        s = [curve.length - Curve(cut[None]).length for cut in _tails(controls, t)]
        assert (p.s, p.other_s) == pytest.approx(s, abs=1e-9)
    assert loops > 15


def _tails(controls: Array, t: Array) -> list[Array]:
    """What is left of a cubic after each parameter, by de Casteljau's construction."""
    tails = []
    for u in t:
        rows = [controls]
        while len(rows[-1]) > 1:
            rows.append(rows[-1][:-1] * (1 - u) + rows[-1][1:] * u)
        tails.append(np.array([row[-1] for row in rows[::-1]]))
    return tails


def test_loops_next_to_a_cusp() -> None:
    # The symmetric cubic with handles past each other by e: a loop for e > 0, a cusp at 0, none below.
    for e in (1e-2, 1e-3, 3e-4):
        controls = np.array([[0, 0], [40 * (1 + e), 40], [-40 * e, 40], [40, 0.0]])
        curve, expected = Curve(controls[None]), loop_of(controls)
        assert expected is not None
        p = the_point(self_met(curve))
        s = [curve.length - Curve(cut[None]).length for cut in _tails(controls, np.array(expected))]
        assert (p.s, p.other_s) == pytest.approx(s, abs=1e-8)
    for e in (1e-9, 0.0, -1e-12, -1e-9, -1e-6, -1e-3):
        controls = np.array([[0, 0], [40 * (1 + e), 40], [-40 * e, 40], [40, 0.0]])
        assert self_met(Curve(controls[None])) == Meetings((), ())


@pytest.mark.parametrize("e", np.geomspace(1e-9, 1e-3, 31))
def test_a_thin_loop_is_one_crossing_or_none(e: float) -> None:
    controls = np.array([[0, 0], [40 * (1 + e), 40], [-40 * e, 40], [40, 0.0]])
    expected = loop_of(controls)
    assert expected is not None
    t = np.linspace(*expected, 1001)
    x = 3 * t * (1 - t) ** 2 * controls[1, 0] + 3 * t**2 * (1 - t) * controls[2, 0] + t**3 * controls[3, 0]
    across, found = np.ptp(x), self_met(Curve(controls[None]))
    assert found.overlaps == ()
    assert len(found.points) <= 1
    # Half as wide as the tolerance it is a cusp, three times as wide a loop.
    if not 0.5e-6 < across < 3e-6:
        assert len(found.points) == (across > 1e-6)


def test_lines_just_inside_a_cusp() -> None:
    # x(t) = 40 (3t(1-t)^2 + t^3), y = 120 t(1-t): y = 30 - h is met at t = 1/2 +- sqrt(h/120).
    for below in np.geomspace(1e-5, 20, 23):
        t = 0.5 + np.sqrt(below / 120) * np.array([-1, 1])
        x = 40 * (3 * t * (1 - t) ** 2 + t**3)
        found = met(CUSP, line((-10, 30 - below), (50, 30 - below)))
        if abs(x[1] - x[0]) > 1e-5:
            assert np.sort(places(found)[:, 0]) == pytest.approx(np.sort(x), abs=1e-8)
        else:
            assert 1 <= len(found.points) <= 2


def test_lines_at_a_small_angle() -> None:
    for angle in (1e-2, 1e-3, 1e-4, 1e-5):
        rise = np.array([np.cos(angle), np.sin(angle)])
        p = the_point(met(line((-7, 0), (5, 0)), line(tuple(-6 * rise), tuple(9 * rise))))
        assert (p.s, p.other_s) == pytest.approx((7, 6), abs=1e-9)
        assert p.angle == pytest.approx(np.degrees(angle), rel=1e-6)
    # So flat that they are within a millionth for 20 mm: they run together.
    o = the_overlap(met(line((-30, 0), (30, 0)), line((-30, -3e-6), (30, 3e-6))))
    assert (o.s0, o.s1) == pytest.approx((20, 40), abs=1e-3)


# --- against other libraries ----------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(12))
def test_crossings_against_flattened_lines(seed: int) -> None:
    rng = np.random.default_rng(seed)
    a, b = (Curve(random_vine(rng, 4, 60, seed % 3 / 2)) for _ in range(2))
    found = met(a, b)
    flat_a, flat_b = (shapely.LineString(c.flattened(1e-5)) for c in (a, b))
    crossings = shapely.get_coordinates(flat_a.intersection(flat_b))
    assert len(found.points) == len(crossings)
    assert found.overlaps == ()
    gap = np.hypot(*(places(found)[:, None] - crossings[None]).transpose(2, 0, 1))
    assert gap.min(axis=1, initial=1e9).max(initial=0) < 1e-3
    check_places(found, a, b)


@pytest.mark.parametrize("seed", range(12))
def test_self_crossings_against_flattened_lines(seed: int) -> None:
    rng = np.random.default_rng(100 + seed)
    curve = Curve(random_vine(rng, 5, 60, seed % 3 / 2))
    found = self_met(curve)
    corners = curve.flattened(1e-5)
    pieces = shapely.linestrings(np.stack([corners[:-1], corners[1:]], axis=1))
    i, j = shapely.STRtree(pieces).query(pieces, predicate="crosses")
    assert len(found.points) == np.count_nonzero(i < j - 1)
    assert all(p.s < p.other_s for p in found.points)
    check_places(found, curve, curve)


@pytest.mark.parametrize("seed", range(10))
def test_a_curve_and_itself_shifted_a_hair(seed: int) -> None:
    # Uneven handles, so that equal places have unequal parameters; nearly parallel all along.
    rng = np.random.default_rng(200 + seed)
    curve = Curve(rng.uniform(0, 60, (1, 4, 2)))
    part = curve.section(0.13 * curve.length, 0.93 * curve.length)
    turn = rng.normal(0, 1e-4, (2, 2)) + np.eye(2)
    moved = part.transformed(np.hstack([turn, rng.normal(0, 5e-3, (2, 1))]))
    found = met(curve, moved)
    flat_a, flat_b = (shapely.LineString(c.flattened(1e-6)) for c in (curve, moved))
    crossings = shapely.get_coordinates(flat_a.intersection(flat_b))
    assert len(found.points) == len(crossings)
    check_places(found, curve, moved)


def test_cubics_and_lines_against_svgpathtools() -> None:
    # Of a cubic and a line it solves one cubic equation, which is sound.
    rng = np.random.default_rng(9)
    for _ in range(40):
        c, (p, q) = rng.uniform(0, 50, (4, 2)), rng.uniform(0, 50, (2, 2))
        other = CubicBezier(*(c @ [1, 1j])).intersect(Line(*(np.array([p, q]) @ [1, 1j])))
        found = met(Curve(c[None]), line(tuple(p), tuple(q)))
        assert len(found.points) == len(other)
        expected = sorted(
            (CubicBezier(*(c @ [1, 1j])).point(t) for t, _ in other), key=lambda z: (z.real, z.imag)
        )
        ours = sorted((complex(*x) for x in places(found)), key=lambda z: (z.real, z.imag))
        assert ours == pytest.approx(expected, abs=1e-7)


def test_thirty_thousand_lines_against_as_many() -> None:
    rng = np.random.default_rng(1)
    a, b = (np.cumsum(rng.normal(0, 1, (30_001, 2)), axis=0) for _ in range(2))
    found = met(Curve.from_points(a), Curve.from_points(b))
    crossings = shapely.get_coordinates(shapely.LineString(a).intersection(shapely.LineString(b)))
    assert len(crossings) > 20
    assert np.sort(places(found), axis=0) == pytest.approx(np.sort(crossings, axis=0), abs=1e-9)


# --- joints, ends, corners, cusps -----------------------------------------------------------------------------


@pytest.mark.parametrize("offset", [0.0, 1e6])
def test_crossings_at_joints_of_both_count_once(offset: float) -> None:
    shift = [[1, 0, offset], [0, 1, offset]]
    smooth = path("M-30 -10C-20 -10 -10 -5 0 0S20 10 30 10").transformed(shift)
    steep = path("M-10 30C-10 20 -5 10 0 0S10 -20 10 -30").transformed(shift)
    straight = line((-9, -4), (9, 4)).transformed(shift)
    for a in (smooth, steep, straight):
        for b in (smooth, steep, straight):
            if a is not b:
                p = the_point(met(a, b))
                assert p.point == pytest.approx((offset, offset), abs=1e-9)


def test_three_curves_through_one_point() -> None:
    star = [line((np.cos(t), np.sin(t)), (-np.cos(t), -np.sin(t))) for t in (0.1, 1.2, 2.5)]
    for i in range(3):
        p = the_point(met(star[i], star[i - 1]))
        assert (p.s, p.other_s) == pytest.approx((1, 1), abs=1e-12)
    # One curve that passes twice through a point of another meets it there twice; and itself once.
    twice = line((-5, 0), (5, 0), (5, 5), (0, 5), (0, -5))
    found = met(line((-4, -4), (4, 4)), twice)
    assert [p.other_s for p in found.points if p.s == pytest.approx(np.sqrt(32))] == pytest.approx([5, 25])
    assert the_point(self_met(twice)).s == pytest.approx(5)


def test_an_end_that_touches() -> None:
    circle = ring((0, 0), 30)
    for angle in np.linspace(0.05, 6.2, 9):
        n = np.array([np.cos(angle), np.sin(angle)])
        for lean in (0.0, 0.5, -1.2, np.pi / 2):  # from square to the circle to along it
            c, s = np.cos(lean), np.sin(lean)
            away = np.array([c * n[0] - s * n[1], s * n[0] + c * n[1]])
            spoke = line(tuple(30 * n), tuple(30 * n + 12 * away))
            p = the_point(met(circle, spoke))
            assert p.point == pytest.approx(30 * n, abs=1e-6)
            assert p.other_s == pytest.approx(0, abs=1e-5)
            assert p.angle == pytest.approx(90 - abs(np.degrees(lean)), abs=1e-4)
    assert the_point(met(line((0, 0), (9, 0)), line((9, 0), (20, 0)))) == Intersection(
        (9.0, 0.0), 9.0, 0.0, 0.0
    )
    assert the_point(met(line((0, 0), (9, 0)), line((9 + 5e-7, 0), (20, 0)))).other_s == 0
    assert met(line((0, 0), (9, 0)), line((9 + 2e-6, 0), (20, 0))) == Meetings((), ())


def test_corners_that_touch_and_corners_that_cross() -> None:
    level = line((-20, 0), (20, 0))
    for tip, count in ((0.0, 1), (0.5e-6, 1), (3e-6, 0), (-1e-3, 2)):
        found = met(level, line((-5, -5 - tip), (0, -tip), (5, -5 - tip)))
        assert len(found.points) == count
    p = the_point(met(level, line((-5, -2), (0, 0), (2, 5))))
    assert (p.s, p.angle) == pytest.approx((20, np.degrees(np.arctan(0.4))))  # the smaller of two angles


def test_a_cusp_on_another_curve() -> None:
    tip = CUSP.length / 2
    p = the_point(met(CUSP, line((0, 30), (50, 30))))
    assert (p.s, p.other_s, p.angle) == pytest.approx((tip, 20, 90), abs=1e-6)
    p = the_point(met(CUSP, line((20, 60), (20, 0))))  # along the axis, into the cusp
    assert (p.s, p.other_s) == pytest.approx((tip, 30), abs=1e-4)
    nose_to_nose = CUSP.transformed([[1, 0, 0], [0, -1, 60]])
    assert the_point(met(CUSP, nose_to_nose)).point == pytest.approx((20, 30), abs=1e-4)


def test_own_joints_do_not_count() -> None:
    for d in (
        "M0 0H10V10H0Z",
        "M0 0L10 1V-1Z",
        "M0 0L10 0.01V-0.01Z",
        "M0 0L10 0.001L0 0.002",
        "M0 0C40 40 0 40 40 0S90 50 20 60",
        "M0 0C0 0 30 30 30 30L60 0",
    ):
        assert self_met(path(d)) == Meetings((), ())
    assert self_met(ring((0, 0), 50)) == Meetings((), ())
    assert self_met(VINE) == Meetings((), ())


def test_an_open_curve_that_ends_on_itself() -> None:
    p = the_point(self_met(path("M0 0H10V10H0V0")))
    assert (p.s, p.other_s, p.angle) == (0, 40, 90)
    p = the_point(self_met(path("M0 0H20V10H8V0")))
    assert (p.s, p.other_s) == (8, 52)


def test_the_seam_of_a_closed_curve_counts_once() -> None:
    square = path("M0 0H10V10H0Z")
    p = the_point(met(square, line((-3, -4), (3, 4))))
    assert (p.s, p.other_s) == (0, 5)
    assert p.angle == pytest.approx(
        np.degrees(np.arctan(3 / 4))
    )  # with the last side; with the first it is more
    for angle in np.linspace(0.1, 1.5, 8):
        c, s = np.cos(angle), np.sin(angle)
        p = the_point(met(line((-3 * c, -3 * s), (2 * c, 2 * s)), square))
        assert (p.s, p.other_s) == pytest.approx((3, 0), abs=1e-12)
    eight = path("M0 0L10 10H-10L10 -10H-10Z")  # crosses itself where it starts
    p = the_point(self_met(eight))
    assert p.s == 0
    assert 0 < p.other_s < eight.length


# --- overlaps -------------------------------------------------------------------------------------------------


def test_lines_that_share_a_stretch() -> None:
    assert astuple(the_overlap(met(line((0, 0), (10, 0)), line((2, 0), (8, 0))))) == about(2, 8, 0, 6, True)
    assert astuple(the_overlap(met(line((0, 0), (10, 0)), line((14, 0), (8, 0))))) == about(
        8, 10, 6, 4, False
    )
    found = met(line((0, 0), (10, 0), (10, 10)), line((5, -5), (5, 0), (10, 0), (13, 3)))
    assert astuple(the_overlap(found)) == about(5, 10, 5, 10, True)
    # One turns off at a corner, and is within the tolerance a little longer: the overlap ends at the corner.
    for other in (line((2, 0), (50, 0)), line((50, 0), (2, 0))):
        o = the_overlap(met(line((0, 0), (10, 0), (10, 10)), other))
        ends = (2, 10, 0, 8) if o.same_way else (2, 10, 48, 40)
        assert (o.s0, o.s1, o.other_s0, o.other_s1) == pytest.approx(ends, abs=1e-12)
        o = the_overlap(met(other, line((0, 0), (10, 0), (10, 10))))
        ends = (0, 8, 2, 10) if o.same_way else (40, 48, 10, 2)
        assert (o.s0, o.s1, o.other_s0, o.other_s1) == pytest.approx(ends, abs=1e-12)
    # Both go on from there, in other directions: no further meeting.
    found = met(line((0, 0), (10, 0), (20, 0)), line((-5, -5), (0, 0), (10, 0), (15, 5)))
    assert (the_overlap(found).s0, the_overlap(found).s1) == pytest.approx((0, 10), abs=1e-12)


def test_straight_lines_within_the_tolerance() -> None:
    turn = [[np.cos(0.5), -np.sin(0.5), 3], [np.sin(0.5), np.cos(0.5), 1]]
    for gap, count in ((0.9e-6, 1), (1.1e-6, 0), (-0.9e-6, 1), (-1.1e-6, 0)):
        found = met(line((0, 0), (10, 0)).transformed(turn), line((2, gap), (7, gap)).transformed(turn))
        assert found.points == ()
        assert [(o.s0, o.s1) for o in found.overlaps] == [pytest.approx((2, 7), abs=1e-5)] * count


@pytest.mark.parametrize("s", [(0.0, 349.0), (30.0, 100.0), (150.0, 350.0)])
def test_a_stretch_of_the_curve_itself(s: tuple[float, float]) -> None:
    s0, s1 = s[0], min(s[1], VINE.length)
    part = VINE.section(s0, s1)
    o = the_overlap(met(VINE, part))
    assert (o.s0, o.s1, o.other_s0, o.other_s1) == pytest.approx((s0, s1, 0, s1 - s0), abs=1e-6)
    assert o.same_way
    o = the_overlap(met(VINE.reversed(), part))
    assert (o.s0, o.s1) == pytest.approx((VINE.length - s1, VINE.length - s0), abs=1e-6)
    assert (o.other_s0, o.other_s1, o.same_way) == pytest.approx((s1 - s0, 0, False), abs=1e-6)


def test_one_circle_drawn_twice_in_different_pieces() -> None:
    one, other = ring((0, 0), 50), ring((0, 0), 50, 2.0, 123)
    o = the_overlap(met(one, other))
    assert (o.s0, o.s1, o.same_way) == pytest.approx((0, one.length, True), abs=1e-6)
    assert (o.other_s0, o.other_s1) == pytest.approx(((2 * np.pi - 2) * 50,) * 2, abs=1e-6)
    o = the_overlap(met(one.reversed(), other))
    assert (o.s0, o.s1, o.same_way) == pytest.approx((0, one.length, False), abs=1e-6)


@pytest.mark.parametrize(("gap", "together"), [(0.9e-6, True), (1.2e-6, False), (2e-6, False), (1e-5, False)])
def test_circles_a_hair_apart(gap: float, together: bool) -> None:
    found = met(ring((0, 0), 50), ring((0, 0), 50 + gap, 1.0, 130))
    assert found.points == ()
    assert len(found.overlaps) == together


def test_parallel_curves_a_hair_apart() -> None:
    for distance in (1e-4, -1e-4):
        assert met(VINE, VINE.parallel(distance, tolerance=2e-5)[0]) == Meetings((), ())


def test_a_curve_that_goes_back_on_itself() -> None:
    assert astuple(the_overlap(self_met(path("M0 0H10H0")))) == about(0, 10, 20, 10, False)
    assert astuple(the_overlap(self_met(path("M0 0H10H4")))) == about(4, 10, 16, 10, False)
    assert astuple(the_overlap(self_met(path("M0 0H10Z")))) == about(0, 10, 20, 10, False)
    assert astuple(the_overlap(self_met(path("M5 0H10H0Z")))) == about(15, 5, 15, 5, False)
    there_back_there = Curve(np.concatenate([VINE.controls, VINE.reversed().controls, VINE.controls]))
    found, whole = self_met(there_back_there), VINE.length
    assert found.points == ()
    rows = [(o.s0, o.s1, o.other_s0, o.other_s1) for o in found.overlaps]
    expected = [(0, 1, 2, 1), (0, 1, 2, 3), (1, 2, 3, 2)]
    assert sorted(rows) == [
        pytest.approx(tuple(whole * x for x in row), abs=1e-6) for row in sorted(expected)
    ]


def test_a_ring_drawn_twice_round() -> None:
    once = ring((0, 0), 50)
    twice = Curve(np.concatenate([once.controls, once.controls]), closed=True)
    length = once.length
    o = the_overlap(self_met(twice))
    assert (o.s0, o.s1, o.other_s0, o.other_s1) == pytest.approx((0, length, length, 2 * length))
    found = met(once, twice)
    assert [(o.s0, o.s1) for o in found.overlaps] == [pytest.approx((0, length))] * 2


def test_an_overlap_over_the_start_of_a_closed_curve() -> None:
    o = the_overlap(met(path("M0 0H10V10H0Z"), path("M0 5V0H5")))
    assert astuple(o) == about(35, 5, 0, 10, True)
    o = the_overlap(met(path("M0 5V0H5"), path("M0 0H10V10H0Z")))
    assert astuple(o) == about(0, 10, 35, 5, True)
    assert astuple(o.mirrored()) == about(35, 5, 0, 10, True)
    assert Overlap(1, 2, 9, 8, False).mirrored() == Overlap(8, 9, 2, 1, False)


def comb(teeth: int, depth: float) -> Curve:
    """A closed comb on the line y = 0, on which each of its teeth has 2 mm; it starts half way along one of them."""
    x = 4.0 * np.arange(teeth)[:, None]
    xy = np.stack(
        [np.add(x, [0, 2, 2.5, 3.5]), np.broadcast_to([0, 0, depth, depth], (teeth, 4))], axis=2
    ).reshape(-1, 2)
    back = [(4.0 * teeth, 9 * depth), (-1, 9 * depth), (-1, depth), (0, 0)]
    return Curve.from_points(np.vstack([[(1, 0)], xy[1:], back]), closed=True)


def test_a_thousand_shared_stretches_are_each_looked_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    looked_at = []
    joined = overlaps._joined

    def counted(found: list[Overlap], *given: Any) -> list[Overlap]:
        looked_at.append(len(found))
        return joined(found, *given)

    monkeypatch.setattr(overlaps, "_joined", counted)
    one, other = comb(1000, 3), comb(1000, -3)
    found = met(one, other)
    # The first of them runs over the start of both, and is one.
    assert len(found.overlaps) == 1000
    assert astuple(found.overlaps[-1]) == about(one.length - 1, 1, other.length - 1, 1, True)
    assert sum(looked_at) <= 2


def test_open_curves_have_no_start_to_run_over() -> None:
    two = [Overlap(0, 5, 0, 5, True), Overlap(5, 9, 5, 9, True)]
    assert overlaps._joined_at_seams(two, (np.inf, np.inf), 1e-3, False) == two
    three = [Overlap(0, 5, 4, 9, True), Overlap(7, 9, 2, 4, True), Overlap(6, 7, 0, 1, True)]
    joined = [three[2], Overlap(7, 5, 2, 9, True)]
    assert overlaps._joined_at_seams(three, (9, np.inf), 1e-3, False) == joined


def test_an_overlap_ends_where_the_lines_part_by_the_tolerance() -> None:
    # A line and the fillet it runs into: r (1 - cos a) = tolerance.
    rounded = path("M0 0H50A20 20 0 0 1 70 20")
    o = the_overlap(met(rounded, line((-10, 0), (100, 0))))
    away = 20 * np.arccos(1 - 1e-6 / 20)
    assert (o.s0, o.s1) == pytest.approx((0, 50 + away), abs=1e-4)
    assert (o.other_s0, o.other_s1) == pytest.approx((10, 60 + away), abs=1e-4)


def test_what_only_touches_is_no_overlap() -> None:
    # A tangent at an inflection, and a circle a metre across on a line.
    wave = sine(10, 60, -30, 30)
    p = the_point(met(wave, line((-20, -20 * np.pi / 3), (20, 20 * np.pi / 3))))
    assert p.point == pytest.approx((0, 0), abs=0.05)
    assert p.angle == pytest.approx(0, abs=1e-4)
    assert the_point(met(ring((0, 500), 500), line((-100, 0), (100, 0)))).angle < 0.01
    # A short stretch really shared is one.
    short = met(line((-1, 1), (0, 0), (0.05, 0), (1, 1)), line((-5, 0), (5, 0)))
    o = the_overlap(short)
    assert (o.s0, o.s1, o.other_s0, o.other_s1) == pytest.approx((2**0.5, 2**0.5 + 0.05, 5, 5.05), abs=1e-12)


# --- scales ---------------------------------------------------------------------------------------------------


def test_a_tiny_curve_on_a_huge_one() -> None:
    bean = path("M0 0C1 1 2 -1 3 0").transformed([[1e-3, 0, 0], [0, 1e-3, 0]])
    level = line((-1e6, 1e-4), (1e6, 1e-4))
    found = met(bean, level)
    assert len(found.points) == 2
    check_places(found, bean, level, 1e-9)
    # Through the lowest place of a circle a kilometre in radius, a hair line at 45 degrees.
    p = the_point(met(ring((0, 1e6), 1e6), line((-1e-3, -1e-3), (1e-3, 1e-3))))
    assert p.point == pytest.approx((0, 0), abs=1e-6)
    assert p.angle == pytest.approx(45, abs=1e-3)


def test_coordinates_of_a_million_kilometres() -> None:
    p = the_point(met(path("M0 0L1e12 1e12"), path("M0 1e12L1e12 0")))
    assert p.point == (5e11, 5e11)
    # There the rounding of coordinates is a tenth of a millimetre, and the tolerance no less than that.
    road = line((0, 0), (1e12, 7e11 / 3))
    for s in np.linspace(0.1, 0.9, 9) * road.length:
        fork = road.point_at(s)
        p = the_point(met(road, line(tuple(fork), tuple(fork + np.array([-3e10, 1e11])))))
        assert p.other_s == pytest.approx(0, abs=10)


# --- properties -----------------------------------------------------------------------------------------------


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10**6), kinks=st.sampled_from([0.0, 0.5]), degrees=st.floats(0, 360))
def test_symmetry_reversal_and_rotation(seed: int, kinks: float, degrees: float) -> None:
    rng = np.random.default_rng(seed)
    a, b = (Curve(random_vine(rng, int(rng.integers(1, 5)), 60, kinks)) for _ in range(2))
    found = met(a, b)
    rows = sorted((p.s, p.other_s, p.angle) for p in found.points)

    def same(others: list[tuple[float, float, float]]) -> bool:
        return len(others) == len(rows) and np.allclose(sorted(others), rows, rtol=0, atol=1e-5)

    assert same([(p.other_s, p.s, p.angle) for p in met(b, a).points])
    assert same([(a.length - p.s, p.other_s, p.angle) for p in met(a.reversed(), b).points])
    c, d = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    turn = [[c, -d, 30], [d, c, -7]]
    assert same([(p.s, p.other_s, p.angle) for p in met(a.transformed(turn), b.transformed(turn)).points])
    own = self_met(a)
    back = self_met(a.reversed())
    flipped = sorted((a.length - p.other_s, a.length - p.s, p.angle) for p in back.points)
    assert np.allclose(flipped, sorted((p.s, p.other_s, p.angle) for p in own.points), rtol=0, atol=1e-5)


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10**6), cut=st.floats(0.05, 0.95))
def test_the_crossings_of_two_parts_are_those_of_the_whole(seed: int, cut: float) -> None:
    rng = np.random.default_rng(seed)
    a, b = (Curve(random_vine(rng, 3, 60, 0.3)) for _ in range(2))
    at = cut * a.length
    whole = [p.s for p in met(a, b).points]
    parts = [p.s for p in met(a.section(0, at), b).points]
    parts += [at + p.s for p in met(a.section(at, a.length), b).points]
    assert sorted(parts) == pytest.approx(sorted(whole), abs=1e-6)
    # What two parts do to each other, the whole does to itself, but for the place where it was cut.
    own = [p for p in self_met(a).points if p.s < at < p.other_s]
    between = met(a.section(0, at), a.section(at, a.length)).points
    assert len(between) == len(own) + 1


# --- bounds and refusals --------------------------------------------------------------------------------------


def test_the_bounds_of_a_gap_hold() -> None:
    # Graphs over x from 0 to 1 with handles anywhere; the gap between them at many x, by bisection.
    rng = np.random.default_rng(6)
    x = np.sort(rng.uniform(0, 1, (2, 3000, 4)), axis=2)
    x[..., 0], x[..., 3] = 0, 1
    level = rng.uniform(-0.5, 0.5, (2, 3000, 4)) * [1, 1, 1, 0.2]
    graphs = np.stack([x, np.cumsum(level, axis=2) * np.diff(x, axis=2, prepend=0)], axis=-1)
    graphs[1, :1000] = graphs[0, :1000] + rng.normal(0, 1e-3, (1000, 4, 2)) * [
        [[0, 1], [1, 1], [1, 1], [0, 1]]
    ]
    x = np.moveaxis(graphs[..., 0], 2, 0)
    y = np.moveaxis(graphs[..., 1], 2, 0)
    a, b = graphs
    low, high = contacts._gap_bounds(a, b, contacts._slopes(a, 1e-15), contacts._slopes(b, 1e-15))
    for at in np.linspace(0.02, 0.98, 49):
        begin, end = np.zeros((2, 3000)), np.ones((2, 3000))
        for _ in range(60):
            t = (begin + end) / 2
            short = _bernstein(x, t) < at
            begin, end = np.where(short, t, begin), np.where(short, end, t)
        height = _bernstein(y, begin)
        gap = height[1] - height[0]
        assert (low - 1e-12 <= gap).all()
        assert (gap <= high + 1e-12).all()


def _bernstein(c: Array, t: Array) -> Array:
    u = 1 - t
    value: Array = u**3 * c[0] + 3 * u * u * t * c[1] + 3 * u * t * t * c[2] + t**3 * c[3]
    return value


def test_a_tangle_smaller_than_the_tolerance_is_no_meeting() -> None:
    rng = np.random.default_rng(3)
    knot = np.cumsum(rng.normal(0, 3e-8, (400, 2)), axis=0)
    tied = Curve.from_points(np.vstack([[-10.0, 3.0], knot, [10.0, 4.0]]))
    assert self_met(tied) == Meetings((), ())
    assert len(met(tied, line((-3, -5), (2, 9))).points) == 1
    # Nor are steps shorter than the tolerance an overlap of each with the next but one.
    steps = np.stack([4e-3 * np.arange(30_000), rng.normal(0, 1e-4, 30_000)], axis=1)
    assert self_met(Curve.from_points(steps), tolerance=0.01) == Meetings((), ())


@pytest.mark.parametrize("tolerance", [0.0, -1.0, np.nan, np.inf])
def test_a_tolerance_that_is_none_is_refused(tolerance: float) -> None:
    with pytest.raises(CurveError, match="the tolerance of a meeting must be a length in mm"):
        met(VINE, VINE, tolerance)
    with pytest.raises(CurveError, match="the tolerance of a meeting must be a length in mm"):
        self_met(VINE, tolerance)


@pytest.mark.parametrize(
    ("module", "limit", "value", "message"),
    [
        (arcs, "_MOST_ARCS", 50, "takes more than 50 gentle arcs"),
        (arcs, "_MOST_PAIRS", 50, "near each other in more than 50 places"),
        (meetings, "_MOST_CONTACTS", 50, "meet in more than 50 places"),
        (contacts, "_MOST_STRETCHES", 50, "along more than 50 stretches"),
        (contacts, "_LEVELS", 2, "could not be decided in 2 halvings"),
    ],
)
def test_work_is_bounded(
    monkeypatch: pytest.MonkeyPatch, module: ModuleType, limit: str, value: int, message: str
) -> None:
    rng = np.random.default_rng(0)
    a, b = (Curve(random_vine(rng, 30, 60)) for _ in range(2))
    monkeypatch.setattr(module, limit, value)
    with pytest.raises(CurveError, match=message):
        met(a, b)


def test_rounding_is_not_halved_for_ever(monkeypatch: pytest.MonkeyPatch) -> None:
    # At a cusp hardly off the middle only rounding is left in the end, and that goes all ways.
    monkeypatch.setattr(arcs, "_MOST_ARCS", 5000)
    cusp = np.array([[(-16.444, -16.444), (16.444, 16.444), (-16.444, 16.444), (16.444, -16.443)]])
    assert len(arcs.gentle_arcs(cusp, 1e-13).piece) < 100
    with pytest.raises(CurveError, match="takes more than 5000 gentle arcs"):
        arcs.gentle_arcs(cusp, 0.0)


def test_small_batches_give_the_same_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(0)
    a, b = (Curve(random_vine(rng, 30, 60)) for _ in range(2))
    whole = met(a, b)
    monkeypatch.setattr(arcs, "_BATCH", 100)
    assert len(whole.points) > 200
    assert places(met(a, b)) == pytest.approx(places(whole), abs=1e-11)
