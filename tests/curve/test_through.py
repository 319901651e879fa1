"""Smooth curves through traced points: radius, length and corners against the exact curves that were traced.

The tracings are made here: points at even steps along a known curve, each coordinate off by a normal deviate of a
fixed seed. The radius is held against that of the exact curve with the same window.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from reference_curves import archimedean, circle_arc, ellipse, sine

from bias_drafting.curve import corners, cubics, reaching, smoothing, strays, through
from bias_drafting.curve.curve import Curve
from bias_drafting.curve.splines import Rows, Splines, added, solve
from bias_drafting.curve.through import through_points
from bias_drafting.curve.tracing import read_tracing
from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

WINDOW = 6.0


def curve_through(xy: ArrayLike, closed: bool = False, tolerance: float = 0.25) -> Curve:
    return Curve(through_points(xy, closed, tolerance), closed)


def traced(curve: Curve, step: float = 0.5, jitter: float = 0.1, seed: int = 0) -> Array:
    """Points at even steps along a curve, each coordinate off by chance."""
    count = round(curve.length / step)
    s = np.arange(count) * curve.length / count if curve.closed else np.linspace(0, curve.length, count + 1)
    points: Array = curve.point_at(s)
    moved: Array = points + np.random.default_rng(seed).normal(0, jitter, points.shape) if jitter else points
    return moved


def furthest(curve: Curve, points: Array) -> float:
    """The largest distance of a point from the curve, by way of a polygon within 1e-5 mm of it."""
    line = curve.flattened(1e-5)
    sides = shapely.STRtree(shapely.linestrings(np.stack([line[:-1], line[1:]], axis=1)))
    _, distance = sides.query_nearest(shapely.points(points), all_matches=False, return_distance=True)
    return float(distance.max())


def corner_points(curve: Curve) -> Array:
    return np.array([corner.point for corner in curve.corners]).reshape(-1, 2)


def s_curve(radius: float) -> Curve:
    """Two arcs of 120 degrees, one after another, to opposite sides."""
    first = circle_arc(radius, 120)
    x, y = first.end
    second = first.transformed([[-1, 0, 2 * x], [0, -1, 2 * y]]).reversed()
    return Curve(np.concatenate([first.controls, second.controls]))


def shape(name: str, radius: float) -> Curve:
    """A circle, an ellipse or an S whose tightest bend has this radius."""
    if name == "circle":
        return ellipse(radius, radius, 400)
    # At the ends of its long axis a the radius of an ellipse is b^2 / a.
    return ellipse(2.25 * radius, 1.5 * radius) if name == "ellipse" else s_curve(radius)


SHAPES = ("circle", "ellipse", "S")


# --- radius and length --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "radius"),
    [("circle", 15.0), ("circle", 30.0), ("ellipse", 10.0), ("S", 10.0), ("S", 30.0)],
)
def test_the_radius_of_a_jittery_tracing_can_be_believed(name: str, radius: float) -> None:
    exact = shape(name, radius)
    true = exact.tightest(WINDOW).radius
    off, longer = [], []
    for seed in range(20):
        points = traced(exact, seed=seed)
        fitted = curve_through(points, exact.closed)
        off.append(fitted.tightest(WINDOW).radius / true - 1)
        longer.append(fitted.length / exact.length - 1)
        assert furthest(fitted, points) <= 0.25
        assert len(corner_points(fitted)) == 0
    assert abs(np.median(off)) <= 0.08
    assert np.abs(off).max() <= 0.20
    assert abs(np.median(longer)) <= 0.003


@pytest.mark.parametrize("radius", [10.0, 20.0, 30.0])
@pytest.mark.parametrize("name", SHAPES)
def test_without_jitter_the_radius_is_right_to_a_hundredth(name: str, radius: float) -> None:
    exact = shape(name, radius)
    fitted = curve_through(traced(exact, jitter=0), exact.closed)
    assert fitted.tightest(WINDOW).radius == pytest.approx(exact.tightest(WINDOW).radius, rel=0.01)
    assert fitted.length == pytest.approx(exact.length, rel=3e-4)
    assert furthest(fitted, traced(exact, 0.1, 0)) < 0.01


@pytest.mark.parametrize(("step", "jitter"), [(0.2, 0.05), (0.2, 0.2), (1.0, 0.05), (1.0, 0.2), (0.5, 0.2)])
def test_other_spacings_and_jitter_with_room_for_it(step: float, jitter: float) -> None:
    exact = sine(8, 60, 0, 120)
    true = exact.tightest(WINDOW).radius
    off = []
    for seed in range(5):
        points = traced(exact, step, jitter, seed)
        fitted = curve_through(points, tolerance=6 * jitter)
        off.append(fitted.tightest(WINDOW).radius / true - 1)
        assert furthest(fitted, points) <= 6 * jitter
    assert np.abs(np.median(off)) <= 0.06
    assert np.abs(off).max() <= 0.15


def test_curvature_is_continuous() -> None:
    fitted = curve_through(traced(sine(8, 60, 0, 120)))
    joints = fitted._chain.s[1:-1]
    before, after = fitted.curvature_at(joints - 1e-7), fitted.curvature_at(joints + 1e-7)
    assert len(joints) > 5
    assert np.abs(after - before).max() < 1e-4
    assert np.abs(fitted._chain.corners).max() < 1e-9


def test_a_closed_curve_joins_as_smoothly_as_it_runs() -> None:
    fitted = curve_through(traced(ellipse(30, 20)), closed=True)
    assert fitted.closed
    assert fitted.start == fitted.end
    at = np.array([1e-7, fitted.length - 1e-7])
    first, last = fitted.curvature_at(at)
    assert first == pytest.approx(last, abs=1e-4)
    assert abs(fitted._chain.corners[0]) < 1e-9


def test_a_closed_tracing_may_begin_anywhere_and_end_where_it_began() -> None:
    points = traced(ellipse(30, 20))
    one = curve_through(points, closed=True)
    again = curve_through(np.vstack([points, points[:1]]), closed=True)
    assert np.array_equal(one.controls, again.controls)
    turned = curve_through(np.roll(points, 100, axis=0), closed=True)
    assert furthest(turned, one.flattened(0.01)) < 0.03
    assert turned.tightest(WINDOW).radius == pytest.approx(one.tightest(WINDOW).radius, rel=0.03)


def test_a_tight_bend_between_straights_keeps_its_radius() -> None:
    exact = Curve.from_svg_path("M0 0H40A5 5 0 0 1 45 5V45")
    true = exact.tightest(4).radius
    off = [curve_through(traced(exact, 0.5, 0.05, seed)).tightest(4).radius / true - 1 for seed in range(7)]
    assert abs(np.median(off)) < 0.1


# --- the tolerance ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("tolerance", [2.0, 0.4, 0.3, 0.25, 0.2, 0.1, 0.03, 0.001])
def test_every_point_is_within_the_tolerance(tolerance: float) -> None:
    points = traced(sine(8, 60, 0, 120), seed=3)
    assert furthest(curve_through(points, tolerance=tolerance), points) <= tolerance + 2e-5


def test_where_there_is_room_the_tolerance_changes_nothing_to_speak_of() -> None:
    points = traced(sine(8, 60, 0, 120))
    one, other = curve_through(points, tolerance=1), curve_through(points, tolerance=4)
    assert furthest(one, other.flattened(0.01)) < 0.03


@pytest.mark.parametrize("seed", range(4))
def test_the_line_gives_way_to_points_by_as_much_as_they_need(seed: int) -> None:
    points = traced(sine(8, 60, 0, 120), seed=seed)
    free, fitted = curve_through(points, tolerance=1), curve_through(points, tolerance=0.25)
    assert furthest(fitted, points) <= 0.25 < furthest(free, points)
    assert furthest(free, fitted.flattened(0.01)) < furthest(free, points) - 0.25 + 0.06
    assert fitted.tightest(WINDOW).radius == pytest.approx(free.tightest(WINDOW).radius, rel=0.1)


def test_a_tolerance_beyond_all_measure_is_no_leave_to_draw_coarsely() -> None:
    points = traced(ellipse(33.75, 22.5))
    one, other = (curve_through(points, closed=True, tolerance=tolerance) for tolerance in (1.0, 1e9))
    assert furthest(one, other.flattened(0.01)) < 0.03


def test_a_finer_tolerance_asks_for_more_cubics_of_exact_points() -> None:
    points = traced(archimedean(5, np.pi, 4 * np.pi), jitter=0)
    counts, misses = [], []
    for tolerance in (1.0, 0.1, 0.01):
        fitted = curve_through(points, tolerance=tolerance)
        counts.append(len(fitted))
        misses.append(furthest(fitted, points))
        assert misses[-1] <= tolerance
    assert counts == sorted(counts)
    assert misses == sorted(misses, reverse=True)
    assert counts[0] < len(points) / 10


# --- corners ------------------------------------------------------------------------------------------------


def kinked(degrees: float, radius: float = np.inf) -> Curve:
    """Two legs of 40 mm from a corner at (0, 0), straight or bent to the left; the turn is to the right."""
    half = 40.0
    if np.isinf(radius):
        leg = Curve.from_points([(-half, 0), (0, 0)])
    else:
        arc = circle_arc(radius, -np.degrees(half / radius))
        (x, y), (dx, dy) = arc.end, arc.tangent_at(arc.length)
        leg = arc.transformed([[dx, dy, -dx * x - dy * y], [-dy, dx, dy * x - dx * y]])
    a = np.radians(180 + degrees)
    # The other leg is the first one the other way round, mirrored so that it bends the same way.
    mirrored = leg.transformed([[1, 0, 0], [0, -1, 0]]).reversed()
    other = mirrored.transformed([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0]])
    return Curve(np.concatenate([leg.controls, other.controls]))


@pytest.mark.parametrize("jitter", [0.0, 0.05, 0.1])
@pytest.mark.parametrize("degrees", [30.0, 60.0, 90.0, 150.0])
def test_a_corner_between_straights_stays_one(degrees: float, jitter: float) -> None:
    exact = kinked(degrees)
    off = []
    for seed in range(6):
        points = traced(exact, jitter=jitter, seed=seed)
        fitted = curve_through(points)
        (place,) = corner_points(fitted)
        off.append(np.hypot(*place))
        assert abs(fitted.corners[0].turn) == pytest.approx(degrees, abs=0.01 if jitter == 0 else 8)
        assert furthest(fitted, points) <= 0.25
    assert np.median(off) <= 0.2
    assert np.max(off) <= 0.4


@pytest.mark.parametrize("degrees", [60.0, 90.0])
def test_a_corner_between_arcs_stays_one(degrees: float) -> None:
    exact = kinked(degrees, radius=30)
    for seed in range(6):
        (place,) = corner_points(curve_through(traced(exact, seed=seed)))
        assert np.hypot(*place) <= 0.35


def test_a_closed_tracing_keeps_all_its_corners() -> None:
    square = Curve.from_points([(0, 0), (50, 0), (50, 50), (0, 50)], closed=True)
    for roll in (0, 50, 137):
        points = np.roll(traced(square), roll, axis=0)
        fitted = curve_through(points, closed=True)
        places = corner_points(fitted)
        assert len(places) == 4
        for corner in ((0, 0), (50, 0), (50, 50), (0, 50)):
            assert np.hypot(*(places - corner).T).min() < 0.4
        assert fitted.length == pytest.approx(200, rel=3e-3)


def test_one_corner_of_a_drop() -> None:
    drop = Curve.from_svg_path("M0 0L40 -15A15.9 15.9 0 1 1 40 15Z")
    (place,) = corner_points(curve_through(traced(drop), closed=True))
    assert np.hypot(*place) < 0.3


@pytest.mark.parametrize("jitter", [0.0, 0.05, 0.1])
def test_jitter_and_bends_are_not_taken_for_corners(jitter: float) -> None:
    for exact in (ellipse(40, 20), sine(8, 60, 0, 120), Curve.from_svg_path("M0 0H30A8 8 0 0 1 30 16H0")):
        for seed in range(6):
            points = traced(exact, jitter=jitter, seed=seed)
            assert corners.find_corners(read_tracing(points, exact.closed)) == []


def test_a_tight_bend_is_seldom_taken_for_a_corner() -> None:
    # In a window of its own length it looks like one; only wider windows tell.
    exact = Curve.from_svg_path("M0 0H30A3 3 0 0 1 33 3V33")
    found = [len(corners.find_corners(read_tracing(traced(exact, seed=seed), False))) for seed in range(60)]
    assert sum(found) <= 3


# --- the ways tracings come ---------------------------------------------------------------------------------


def test_two_points_make_a_line_and_three_an_arc() -> None:
    line = curve_through([(0, 0), (30, 40)])
    assert (len(line), line.length) == (1, 50.0)
    arc = curve_through([(0, 0), (10, 5), (20, 0)])  # of the circle about (10, -7.5)
    assert arc.tightest(WINDOW).radius == pytest.approx(12.5, rel=0.02)
    assert furthest(arc, np.array([[0, 0], [10, 5], [20, 0]])) < 0.01


def test_points_of_a_circle_however_few() -> None:
    for count in (3, 4, 5, 8, 12):
        t = np.linspace(0, 2 * np.pi, count, endpoint=False)
        ring = curve_through(np.stack([20 * np.cos(t), 20 * np.sin(t)], axis=1), closed=True)
        assert ring.tightest(WINDOW).radius == pytest.approx(20, rel=0.01)


def test_straight_lines_stay_straight() -> None:
    points = np.stack([np.linspace(0, 60, 121), np.linspace(0, 80, 121)], axis=1)
    fitted = curve_through(points)
    assert fitted.length == pytest.approx(100, rel=1e-6)
    assert fitted.tightest(WINDOW).radius > 1e4
    noisy = curve_through(points + np.random.default_rng(0).normal(0, 0.1, points.shape), tolerance=0.6)
    assert noisy.tightest(WINDOW).radius > 500
    assert len(noisy) <= 3


def test_points_given_twice_or_out_of_turn_by_a_step() -> None:
    exact = sine(8, 60, 0, 120)
    points = traced(exact)
    once = curve_through(points)
    assert np.array_equal(curve_through(np.repeat(points, 2, axis=0)).controls, once.controls)
    back = points.copy()
    back[20:-20:7], back[21:-19:7] = points[21:-19:7], points[20:-20:7]
    fitted = curve_through(back)
    assert furthest(fitted, back) <= 0.25
    assert fitted.tightest(WINDOW).radius == pytest.approx(exact.tightest(WINDOW).radius, rel=0.1)


@pytest.mark.parametrize("steps", [2, 4, 6])
def test_a_tracing_that_backs_up_a_little_goes_on_along_the_line(steps: int) -> None:
    exact = ellipse(33.75, 22.5)
    at = 120
    index = np.r_[: at + 1, at - 1 : at - steps : -1, at - steps : len(traced(exact))]
    points = traced(exact, jitter=0)[index] + np.random.default_rng(steps).normal(0, 0.1, (len(index), 2))
    fitted = curve_through(points, closed=True)
    assert len(fitted.corners) == 0
    assert fitted.length == pytest.approx(exact.length, rel=3e-3)
    assert fitted.tightest(WINDOW).radius == pytest.approx(exact.tightest(WINDOW).radius, rel=0.1)


def test_a_hairpin_does_not_go_on_and_stays() -> None:
    points = np.array([(0, 0), (40, 0), (20, 0.3), (60, 0.6)])
    traced_points = traced(Curve.from_points(points), jitter=0)
    assert np.array_equal(strays.in_order(traced_points, False, 0.25), traced_points)
    assert len(curve_through(traced_points).corners) == 2


def test_strands_side_by_side_are_not_gone_over_again() -> None:
    # Back by 2.5 mm and on, 0.6 mm beside what was drawn: a fold, since 0.6 mm is more than twice the tolerance.
    points = traced(Curve.from_points([(0, 0), (30, 0), (27.5, 0.6), (57.5, 0.6)]), 0.5, 0)
    assert np.array_equal(strays.in_order(points, False, 0.25), points)
    assert not np.array_equal(strays.in_order(points, False, 0.35), points)


def test_a_point_far_off_the_line_is_refused_unless_the_tolerance_allows_it() -> None:
    points = traced(ellipse(33.75, 22.5))
    points[100] += [3, 4]
    x, y = points[100]
    with pytest.raises(
        CurveError, match=rf"the point at \({x:g}, {y:g}\) lies (4\.[5-9]|5\.[0-5])\d* mm off"
    ):
        curve_through(points, closed=True)
    # The ends of an open tracing are told from one side alone: they stay as they were drawn.
    assert furthest(curve_through(points, closed=True, tolerance=6), points) <= 6


@pytest.mark.parametrize("jitter", [0.0, 0.1, 0.3])
def test_corners_and_bends_are_not_taken_for_slips(jitter: float) -> None:
    square = Curve.from_points([(0, 0), (50, 0), (50, 50), (0, 50)], closed=True)
    hook = Curve.from_svg_path("M0 0H20A1 1 0 0 1 20 2H0")
    for exact in (kinked(170), kinked(90), square, hook, s_curve(10)):
        for step in (0.2, 1.0):
            for seed in range(5):
                strays.refuse_strays(traced(exact, step, jitter, seed), exact.closed, 0.1)


@pytest.mark.parametrize("pitch", [0.1, 0.25])
def test_a_scan_shows_its_line_and_not_the_steps_of_its_grid(pitch: float) -> None:
    def scanned(exact: Curve) -> Array:
        pixels = np.round(traced(exact, pitch, 0) / pitch)
        return pixels * pitch

    assert strays.grid_pitch(scanned(ellipse(30, 20))) == pytest.approx(pitch)
    assert strays.grid_pitch(traced(ellipse(30, 20))) == 0
    for slope in (0.015, 0.03, 0.3):
        line = scanned(Curve.from_points([(0, 0), (60, 60 * slope)]))
        assert curve_through(line).tightest(WINDOW).radius > 30
    for radius in (5.0, 15.0, 50.0):
        exact = shape("ellipse", radius)
        fitted = curve_through(scanned(exact), closed=True)
        assert fitted.tightest(WINDOW).radius == pytest.approx(exact.tightest(WINDOW).radius, rel=0.05)
        assert fitted.length == pytest.approx(exact.length, rel=1e-3)
        assert len(fitted.corners) == 0


def test_uneven_spacing_changes_little() -> None:
    exact = ellipse(33.75, 22.5)
    fine = traced(exact, 0.1, 0)
    half = len(fine) // 2
    points = np.vstack([fine[:half], fine[half::10]])
    points = points + np.random.default_rng(0).normal(0, 0.05, points.shape)
    fitted = curve_through(points, closed=True)
    assert fitted.tightest(WINDOW).radius == pytest.approx(exact.tightest(WINDOW).radius, rel=0.05)
    assert fitted.length == pytest.approx(exact.length, rel=1e-3)


def test_where_no_smooth_line_is_near_every_point_it_jogs_and_the_rest_stays_smooth() -> None:
    exact = sine(8, 60, 0, 120)
    points = traced(exact, jitter=0.05)
    # Two points at one place on the line, further apart than twice the tolerance.
    twin = points[120] + [0, 0.6]
    points = np.insert(points, 121, twin, axis=0)
    fitted = curve_through(points)
    assert furthest(fitted, points) <= 0.25
    assert fitted.length == pytest.approx(exact.length, rel=0.02)
    s, _ = fitted.locate(points[[120, 121]])
    away = np.arange(10.0, fitted.length - 10)
    away = away[np.abs(away - s.mean()) > 15]
    assert fitted.working_radius_at(away, WINDOW).min() > 0.8 * exact.tightest(WINDOW).radius


def test_exact_samples_of_a_cubic_give_it_back() -> None:
    exact = Curve.from_svg_path("M0 0C40 0 0 60 60 60")
    fitted = curve_through(traced(exact, jitter=0))
    assert furthest(fitted, exact.point_at(np.linspace(0, exact.length, 999))) < 0.003
    assert len(fitted) < 40


def test_far_from_the_origin_nothing_changes() -> None:
    points = traced(sine(8, 60, 0, 120))
    near, far = curve_through(points), curve_through(points + 1e6)
    assert len(near) == len(far)
    assert far.controls - 1e6 == pytest.approx(near.controls, abs=1e-4)


def test_there_and_back_on_one_line() -> None:
    x = np.concatenate([np.linspace(0, 30, 60), np.linspace(30, 0, 60)])
    points = np.stack([x, np.zeros(120)], axis=1)
    fitted = curve_through(points)
    assert furthest(fitted, points) <= 0.25
    assert fitted.length == pytest.approx(60, abs=0.5)


def test_points_without_order_are_still_all_reached() -> None:
    points = np.random.default_rng(4).uniform(0, 50, (60, 2))
    for closed in (False, True):
        assert furthest(curve_through(points, closed), points) <= 0.25


def test_a_long_vine_of_many_points() -> None:
    # A matrix of all against all would take half a gigabyte.
    vine = Curve.from_svg_path("M0 0" + "".join(f"A30 30 0 0 {k % 2} {50 * (k + 1)} 0" for k in range(80)))
    points = traced(vine, vine.length / 8000)
    fitted = curve_through(points, tolerance=1)
    assert furthest(fitted, points) <= 1
    assert fitted.length == pytest.approx(vine.length, rel=1e-3)
    assert len(fitted) < len(points) / 4


# --- what must not matter -----------------------------------------------------------------------------------


@settings(max_examples=8)
@given(
    angle=st.floats(0, 360),
    shift=st.tuples(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4)),
    mirror=st.booleans(),
    backward=st.booleans(),
    seed=st.integers(0, 50),
)
def test_moving_turning_mirroring_and_reversing_a_tracing_does_so_to_its_curve(
    angle: float, shift: tuple[float, float], mirror: bool, backward: bool, seed: int
) -> None:
    points = traced(sine(8, 60, 0, 60), seed=seed)
    a = np.radians(angle)
    matrix = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]]) @ np.diag([1, -1 if mirror else 1])
    moved = points @ matrix.T + shift
    one = curve_through(points, tolerance=0.6)
    other = curve_through(moved[::-1] if backward else moved, tolerance=0.6)
    image = one.transformed(np.column_stack([matrix, shift]))
    # What is searched for is found to a share of itself, from the other end by other roundings.
    assert furthest(other, image.flattened(0.01)) < 0.02
    assert other.length == pytest.approx(one.length, abs=0.02)


@settings(max_examples=25)
@given(
    st.lists(st.tuples(st.floats(-100, 100), st.floats(-100, 100)), min_size=2, max_size=12),
    st.booleans(),
    st.sampled_from([0.05, 0.25, 2.0]),
)
def test_any_few_points_are_reached_or_refused(
    xy: list[tuple[float, float]], closed: bool, tolerance: float
) -> None:
    points = np.array(xy)
    if len(np.unique(points, axis=0)) < 4 or np.ptp(points, axis=0).max() < 1e-3:
        return
    fitted = curve_through(points, closed, tolerance)
    assert furthest(fitted, points) <= tolerance + 2e-5


# --- errors -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("xy", "closed", "message"),
    [
        ([(0, 0)], False, r"a curve needs two different points or more; got 1 at \(0, 0\)"),
        ([(3, 4), (3, 4), (3, 4)], False, r"got 1 at \(3, 4\)"),
        ([(0, 0), (1, 0)], True, "a closed curve needs three different points or more; got 2"),
        ([(0, 0), (1, 0), (0, 0), (1, 0)], True, "three different points or more; got 2"),
        (
            [(0, 0), (1, 0), (np.nan, 5), (2, 2)],
            False,
            r"point 2 has a coordinate .* not a finite number: \(nan",
        ),
        ([(0, 0), (np.inf, 0)], False, "point 1 has a coordinate that is not a finite number"),
        ([], False, r"points given as \(m, 2\); got shape \(0,\)"),
        ([(0, 0, 0), (1, 1, 1)], False, r"points given as \(m, 2\); got shape \(2, 3\)"),
        ([(0, 0), (1,)], False, r"points given as \(m, 2\) numbers"),
        ("hops", False, r"points given as \(m, 2\) numbers"),
        ([(0, 0), (1e300, 0), (0, 1e300)], False, r"reach 1e\+300 mm from the origin"),
        ([(0, 0), (1e-200, 0)], False, r"1e-200 mm from one another are no tracing"),
    ],
)
def test_points_that_make_no_curve(xy: ArrayLike, closed: bool, message: str) -> None:
    with pytest.raises(CurveError, match=message):
        through_points(xy, closed, 0.25)


@pytest.mark.parametrize("tolerance", [0, -0.1, np.nan, np.inf])
def test_tolerances_that_make_no_sense(tolerance: float) -> None:
    with pytest.raises(
        CurveError, match="the tolerance of a curve through points must be more than 0 mm, not"
    ):
        through_points([(0, 0), (1, 1)], False, tolerance)


# --- the parts ----------------------------------------------------------------------------------------------


def dense(bands: Array) -> Array:
    """The symmetric matrix of lower bands."""
    full = np.diag(bands[0])
    for k in range(1, len(bands)):
        full += np.diag(bands[k, : len(full) - k], -k) + np.diag(bands[k, : len(full) - k], k)
    return full


def matrix_of(rows: Rows, count: int) -> Array:
    full = np.zeros((rows.values.shape[1], count))
    for places, values in zip(rows.places, rows.values, strict=True):
        np.add.at(full, (np.arange(len(places)), places), values)
    return full


@pytest.mark.parametrize("closed", [False, True])
def test_splines_are_those_of_another_library(closed: bool) -> None:
    from scipy.interpolate import BSpline

    splines = Splines(7.0, 14, closed)
    u = np.random.default_rng(1).uniform(0, 7, 40)
    for derivative in range(5):
        ours = splines.rows(u, derivative).values
        spans = np.floor(u / 0.5)
        for k in range(6):
            knots = (spans[:, None] + k - 5 + np.arange(7)) * 0.5
            theirs = [
                BSpline.basis_element(t, extrapolate=False)(x, nu=derivative)
                for t, x in zip(knots, u, strict=True)
            ]
            assert ours[k] == pytest.approx(np.array(theirs), abs=1e-9 * 2.0**derivative)


@pytest.mark.parametrize("closed", [False, True])
def test_bands_hold_what_the_full_matrices_do(closed: bool) -> None:
    rng = np.random.default_rng(2)
    splines = Splines(9.0, 15, closed)
    u, w = rng.uniform(0, 9, 50), rng.uniform(0.5, 2, 50)
    rows = splines.rows(u)
    full = matrix_of(rows, splines.count)
    gram = splines.gram(rows, w)
    assert dense(gram) == pytest.approx(full.T @ np.diag(w) @ full, abs=1e-12)
    # Rows that take the difference of two places may meet the same spline twice.
    wide = splines.rows(u, 1).minus(splines.rows(u - 0.7, 1))
    full_wide = matrix_of(wide, splines.count)
    assert dense(splines.gram(wide, w)) == pytest.approx(full_wide.T @ np.diag(w) @ full_wide, abs=1e-12)
    nodes, measure = splines.quadrature()
    assert splines.integral(splines.rows(nodes), measure) == pytest.approx(
        splines.gram(splines.rows(nodes), measure), abs=1e-12
    )
    assert measure.sum() == pytest.approx(9.0)
    bands = added(gram, np.ones((1, splines.count)))
    right = rng.normal(size=(splines.count, 2))
    found, logarithm = solve(bands, right)
    assert found == pytest.approx(np.linalg.solve(dense(bands), right), abs=1e-10)
    assert logarithm == pytest.approx(np.linalg.slogdet(dense(bands))[1])
    x = rng.normal(size=splines.count)
    assert rows.dot(x) == pytest.approx(full @ x, abs=1e-12)
    assert reaching._times(bands, x) == pytest.approx(dense(bands) @ x, abs=1e-12)


def test_the_bounded_solution_is_that_of_a_general_solver() -> None:
    from scipy.optimize import LinearConstraint, minimize

    rng = np.random.default_rng(3)
    splines = Splines(12.0, 14, False)
    rows, miss = splines.rows(np.sort(rng.uniform(0, 12, 30))), rng.normal(0, 0.15, 30)
    nodes, measure = splines.quadrature()
    cost = added(
        splines.gram(splines.rows(nodes, 2), measure), splines.gram(splines.rows(nodes), 0.01 * measure)
    )
    found = reaching._bounded(splines, cost, rows, miss, 0.2)
    full, matrix = matrix_of(rows, splines.count), dense(cost)

    def price(x: Array) -> float:
        return float(x @ matrix @ x)

    def slope(x: Array) -> Array:
        rise: Array = 2 * matrix @ x
        return rise

    within = LinearConstraint(full, miss - 0.2, miss + 0.2)
    other = minimize(
        price,
        np.zeros(splines.count),
        jac=slope,
        constraints=[within],
        method="SLSQP",
        options={"maxiter": 500, "ftol": 1e-14},
    )
    assert other.success
    assert np.abs(miss).max() > 0.25
    assert np.abs(miss - full @ found).max() <= 0.2 * 1.0002
    assert price(found) == pytest.approx(other.fun, rel=1e-3)


def test_what_turns_most_counts_most_when_a_line_gives_way(monkeypatch: pytest.MonkeyPatch) -> None:
    points = traced(ellipse(30, 30, 400), seed=15)
    points -= points.mean(axis=0)
    tracing = read_tracing(points, closed=True)
    run = smoothing.Run(points, True, (False, False), tracing.noise, known=False, finest=5e-4, reach=0.2)
    line = smoothing.smooth_line(run, tracing.u, tracing.length)
    splines = Splines(line.splines.length, round(line.splines.length / 0.5), closed=True)
    miss, rows, middles = line.misses(points), splines.rows(line.u), splines.middles()
    worst = []
    for rounds in (1, 3):
        monkeypatch.setattr(reaching, "_REWEIGHTED", rounds)
        shift = reaching._least_bend(run, line, splines, miss, 1e-3)
        assert np.abs(miss - rows.dot(shift)).max() <= 0.2 * 1.001
        slopes = (splines.rows(middles + side, 1).dot(shift) for side in (3.0, -3.0))
        worst.append(np.abs(next(slopes) - next(slopes)).max() / 6)
    assert worst[1] < 0.7 * worst[0]


def test_a_line_that_would_run_wild_runs_through_its_points() -> None:
    points = np.array([[30.2, -31.7], [-98.2, 38.5], [88.4, 83.8]])
    fitted = curve_through(points, tolerance=2.0)
    assert furthest(fitted, points) < 1e-4
    assert fitted.length < 1.3 * Curve.from_points(points).length


@pytest.mark.parametrize("jitter", [0.02, 0.1, 0.2])
def test_the_jitter_is_read_off_the_points(jitter: float) -> None:
    for exact in (ellipse(40, 20), sine(8, 60, 0, 240)):
        tracing = read_tracing(traced(exact, jitter=jitter), exact.closed)
        assert tracing.noise == pytest.approx(jitter, rel=0.2)
        assert tracing.length == pytest.approx(exact.length, rel=0.06)


def test_a_circle_costs_nothing_and_is_found_by_steps() -> None:
    # Circles are not pulled flat, however stiff the line.
    points = traced(ellipse(15, 15, 400), jitter=0.2)
    points -= points.mean(axis=0)
    tracing = read_tracing(points, closed=True)
    run = smoothing.Run(points, True, (False, False), tracing.noise, known=False, finest=1e-3, reach=10.0)
    line = smoothing.smooth_line(run, tracing.u, tracing.length)
    _, bend, _ = line.bends(np.linspace(0, line.splines.length, 200))
    assert line.ell > 8
    assert 1 / np.abs(bend) == pytest.approx(15, rel=0.02)


def test_held_ends_are_met() -> None:
    points = traced(sine(8, 60, 0, 60), jitter=0.1)
    run = smoothing.Run(points, False, (True, True), 0.1, known=False, finest=5e-4, reach=0.2)
    tracing = read_tracing(points, closed=False)
    line = reaching.within_reach(run, smoothing.smooth_line(run, tracing.u, tracing.length))
    ends = line.at(np.array([0.0, line.splines.length]))
    assert ends == pytest.approx(points[[0, -1]], abs=2e-3)
    pieces, places = cubics.line_cubics(line, 1e-3, (points[0], points[-1]))
    assert np.array_equal(pieces[0, 0], points[0])
    assert np.array_equal(pieces[-1, 3], points[-1])
    assert ((places >= 0) & (places < len(pieces))).all()


def test_the_interpolating_curve_runs_through_its_points() -> None:
    points = np.array([(0, 0), (3, 1), (3, 1), (4, 5), (0, 6.0)])
    # Two places may be so near one another that the length so far does not show it.
    points = np.insert(points, 2, points[1] + [0, 2.3e-16], axis=0)
    for closed in (False, True):
        fitted = Curve(cubics.interpolated(points, closed), closed)
        assert furthest(fitted, points) < 2e-5
        assert np.abs(fitted._chain.corners).max() < 1e-9


def test_where_no_smooth_line_will_do_the_points_are_followed(monkeypatch: pytest.MonkeyPatch) -> None:
    points = traced(sine(8, 60, 0, 60))

    def fails(run: object, line: object) -> None:
        raise np.linalg.LinAlgError

    monkeypatch.setattr(through, "within_reach", fails)
    fitted = curve_through(points)
    assert furthest(fitted, points) < 2e-5
    assert len(fitted) == len(points) - 1


def test_a_point_beyond_a_corner_is_reached() -> None:
    points = traced(kinked(150), jitter=0.02)
    apex = int(np.argmax(points[:, 0]))
    points[apex] += [0.6, 0]
    fitted = curve_through(points, tolerance=0.25)
    assert furthest(fitted, points) <= 0.25
    assert len(corner_points(fitted)) >= 1
