"""Stems that run into themselves, against shapes of which it is known, and a polygon's own overlap."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

import bias_drafting as bd

HAIRPIN = bd.Curve.from_svg_path("M0 0H60A4 4 0 0 1 60 8H0")


def ring(radius: float) -> bd.Curve:
    r = radius
    return bd.Curve.from_svg_path(f"M{r} 0A{r} {r} 0 0 1 {-r} 0A{r} {r} 0 0 1 {r} 0Z")


def test_the_legs_of_a_hairpin_overlap_once_it_is_wider_than_they_are_apart() -> None:
    assert bd.check_stem(HAIRPIN, 7.9).too_near == ()
    (near,) = bd.check_stem(HAIRPIN, 9).too_near
    assert near.kind == "legs"
    assert near.gap == pytest.approx(-1, abs=1e-6)
    # The legs run from 0 to 60 and from 60 + 4 pi to the end.
    assert near.start == pytest.approx(0, abs=1.2)
    assert near.other_end == pytest.approx(HAIRPIN.length, abs=1.2)
    assert near.end == pytest.approx(60, abs=1.2)
    assert near.other_start == pytest.approx(60 + 4 * math.pi, abs=1.2)
    assert "by 1.0 mm: draw the two further apart" in bd.check_stem(HAIRPIN, 9).advice_in("mm")
    assert "by 3/64" not in near.text("in")


@pytest.mark.parametrize("angle", [3, 10, 40, 90])
def test_a_plain_crossing_is_none(angle: float) -> None:
    x, y = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    # Out along one line, and back over it at an angle, well apart elsewhere.
    out = [(-200, 0), (200, 0), (600, -200), (900, 600), (300 * x, 300 * y), (-200 * x, -200 * y)]
    curve = bd.Curve.from_points(out)
    (crossing,) = curve.self_intersections().points
    assert crossing.point == pytest.approx((0, 0), abs=1e-9)
    assert bd.check_stem(curve, 6).too_near == ()


@pytest.mark.parametrize("turn", [60, 120, 150])
def test_a_corner_is_none_but_a_needle_is(turn: float) -> None:
    a = math.radians(turn)
    corner = bd.Curve.from_points([(-90, 0), (0, 0), (90 * math.cos(a), 90 * math.sin(a))])
    assert bd.check_stem(corner, 6).too_near == ()
    closed = bd.Curve.from_svg_path("M0 0L90 0L45 80Z")
    assert bd.check_stem(closed, 6).too_near == ()
    needle = bd.Curve.from_points([(-90, 0), (0, 0), (-90, 9)])
    assert [near.kind for near in bd.check_stem(needle, 6).too_near] == ["legs"]
    # Two corners make a hairpin.
    hairpin = bd.Curve.from_points([(0, 0), (60, 0), (60, 8), (0, 8)])
    assert [round(near.gap, 3) for near in bd.check_stem(hairpin, 9).too_near] == [-1]


def test_rings_and_loops_that_close_up() -> None:
    assert bd.check_stem(ring(5), 9.9).too_near == ()
    (near,) = bd.check_stem(ring(5), 11).too_near
    assert near.kind == "loop"
    assert near.gap == pytest.approx(-1, abs=0.02)
    assert "The ring closes up" in near.text()
    loop = bd.Curve.from_svg_path("M0 0C60 40 -20 40 40 0")
    (crossing,) = loop.self_intersections().points
    inside = shapely.Polygon(loop.section(crossing.s, crossing.other_s).flattened(0.001))
    assert [near.kind for near in bd.check_stem(loop, 25).too_near] == ["loop"]
    for width in np.linspace(2, 12, 11).tolist():
        # Whether a hole is left, seen by the finished outline itself.
        left = inside.buffer(-width / 2)
        assert bool(bd.check_stem(loop, width).too_near) == left.is_empty


def test_a_spiral_too_close_to_itself() -> None:
    a = np.linspace(0, 6 * np.pi, 600)
    # Whorls 2 pi apart.
    spiral = bd.Curve.through(np.c_[(9 + a) * np.cos(a), (9 + a) * np.sin(a)], tolerance=0.01)
    assert bd.check_stem(spiral, 5.9).too_near == ()
    (near,) = bd.check_stem(spiral, 8).too_near
    line = shapely.LineString(spiral.flattened(0.005))
    # The nearest of the inner whorl and of what lies a whorl and more outward.
    whorl = spiral.length / 6
    apart = min(
        shapely.LineString(spiral.section(s + whorl, spiral.length).flattened(0.005)).distance(
            shapely.Point(spiral.point_at(s))
        )
        for s in np.linspace(0, 60, 200)
    )
    assert line.is_simple
    assert near.gap == pytest.approx(apart - 8, abs=0.05)


def test_a_line_run_along_twice() -> None:
    there_and_back = bd.Curve.from_points([(0, 0), (50, 0), (10, 0)])
    (near,) = bd.check_stem(there_and_back, 5).too_near
    assert near.gap == pytest.approx(-5)


@pytest.mark.parametrize("name", bd.sample_names())
def test_samples_keep_clear_of_themselves(name: str) -> None:
    assert [check.too_near for check in bd.draft_pattern(bd.read_sample(name)).checks if check.too_near] == []


def test_a_scribble_is_bounded_work() -> None:
    rng = np.random.default_rng(0)
    scribble = bd.Curve.from_points(np.cumsum(rng.normal(0, 1, (300, 2)), axis=0))
    check = bd.check_stem(scribble, 5)
    assert len(check.too_near) > 3
    assert "more places" in check.advice
