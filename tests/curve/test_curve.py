"""The curve as a value: making it, places along it, curves made from it, and what it refuses."""

from __future__ import annotations

import pickle
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from reference_curves import circle_arc, random_vine

import bias_drafting as bd
from bias_drafting.curve.curve import Bend, Curve

VINE = Curve.from_svg_path("M0 100C40 0 80 0 120 60S200 100 240 20")
RING = Curve.from_svg_path("M30 0A30 30 0 0 1 -30 0A30 30 0 0 1 30 0Z")
BENT_LINE = Curve.from_points([(0, 0), (30, 0), (30, 40)])
CORNER_RING = Curve.from_points([(0, 0), (30, 0), (30, 40)], closed=True)


# --- making ---------------------------------------------------------------------------------------------------


def test_from_points_is_the_polyline_itself() -> None:
    assert BENT_LINE.length == 70
    assert len(BENT_LINE) == 2
    assert (BENT_LINE.start, BENT_LINE.end) == ((0, 0), (30, 40))
    assert not BENT_LINE.closed
    assert BENT_LINE.turning == pytest.approx(90, rel=1e-14)


def test_a_closed_polyline_may_give_its_first_point_again() -> None:
    again = Curve.from_points([(0, 0), (30, 0), (30, 40), (0, 0)], closed=True)
    assert again == CORNER_RING
    assert (len(again), again.length, again.closed) == (3, 120, True)
    assert again.start == again.end == (0, 0)


def test_repeated_points_are_left_out() -> None:
    assert Curve.from_points([(0, 0), (0, 0), (30, 0), (30, 0), (30, 40)]) == BENT_LINE


def test_from_svg_path_takes_user_units_as_millimetres() -> None:
    assert Curve.from_svg_path("M0 0h30v40") == BENT_LINE
    assert Curve.from_svg_path("M0 0H30V40Z") == CORNER_RING
    assert RING.length == pytest.approx(60 * np.pi, rel=1e-9)


def test_the_path_it_writes_reads_back() -> None:
    for curve in (VINE, BENT_LINE, CORNER_RING, RING):
        back = Curve.from_svg_path(curve.to_svg_path(decimals=12))
        assert back.closed == curve.closed
        assert len(back) == len(curve)
        assert back.controls == pytest.approx(curve.controls, abs=1e-10)
    assert Curve.from_svg_path(VINE.to_svg_path()).controls == pytest.approx(VINE.controls, abs=5.1e-5)


def test_paths_are_written_short() -> None:
    assert BENT_LINE.to_svg_path() == "M0 0L30 0L30 40"
    assert CORNER_RING.to_svg_path() == "M0 0L30 0L30 40Z"
    assert Curve.from_points([(-0.00001, 1 / 3), (2, 2)]).to_svg_path(3) == "M0 0.333L2 2"


def test_controls_are_copied() -> None:
    controls = np.array([[[0.0, 0], [10, 0], [20, 10], [20, 20]]])
    curve = Curve(controls)
    controls[:] = 7
    assert curve.end == (20, 20)


def test_hair_wide_gaps_are_closed() -> None:
    # A billionth of the size: rounding of a file, not a break. The start and the end stay where they were drawn.
    controls = np.array([[[0.0, 0], [1, 0], [2, 0], [3, 0]], [[3 + 1e-10, 0], [4, 0], [5, 0], [6, 0]]])
    curve = Curve(controls)
    assert (curve.controls[1, 0] == curve.controls[0, 3]).all()


# --- being a value --------------------------------------------------------------------------------------------


def test_controls_cannot_be_changed() -> None:
    with pytest.raises(ValueError, match="read-only"):
        VINE.controls[0, 0, 0] = 1
    for name in ("controls", "closed", "length", "bounds"):
        with pytest.raises(AttributeError):
            setattr(VINE, name, 0)


def test_results_are_not_the_curve_itself() -> None:
    VINE.point_at([0.0])[:] = 99
    VINE.flattened()[:] = 99
    assert VINE.start == (0, 100)


def test_equality_and_hash() -> None:
    same = Curve.from_svg_path("M0 100C40 0 80 0 120 60S200 100 240 20")
    assert same == VINE
    assert hash(same) == hash(VINE)
    assert len({same, VINE, BENT_LINE}) == 2
    assert VINE.reversed() != VINE
    assert VINE != "M0 100"
    ring = Curve.from_points([(0, 0), (30, 0), (30, 40), (0, 0)])
    assert ring != CORNER_RING  # open, though it comes back


def test_measuring_leaves_it_equal() -> None:
    measured = Curve(VINE.controls)
    assert measured.length > 0
    assert measured.tightest(5).radius > 0
    assert measured == VINE
    assert hash(measured) == hash(VINE)


def test_repr() -> None:
    assert repr(BENT_LINE) == "Curve(2 segments, 70.00 mm, open)"
    assert repr(Curve.from_points([(0, 0), (3, 4)])) == "Curve(1 segment, 5.00 mm, open)"
    assert repr(CORNER_RING) == "Curve(3 segments, 120.00 mm, closed)"


def test_pickles() -> None:
    back = pickle.loads(pickle.dumps(VINE))
    assert back == VINE


def test_the_public_name_is_this_class() -> None:
    assert bd.Curve is Curve
    assert bd.Bend is Bend


# --- places along it ------------------------------------------------------------------------------------------


def test_arrays_in_arrays_out() -> None:
    s = np.linspace(0, VINE.length, 6).reshape(2, 3)
    assert VINE.point_at(s).shape == (2, 3, 2)
    assert VINE.tangent_at(s).shape == (2, 3, 2)
    assert VINE.curvature_at(s).shape == (2, 3)
    assert VINE.working_radius_at(s, 5).shape == (2, 3)
    assert VINE.point_at(5).shape == (2,)
    assert VINE.curvature_at(5).shape == ()
    assert VINE.point_at([]).shape == (0, 2)


def test_places_are_even_in_arc_length() -> None:
    # Chords of 2000 even steps are all alike, but for the bend within each.
    points = VINE.point_at(np.linspace(0, VINE.length, 2001))
    steps = np.hypot(*np.diff(points, axis=0).T)
    assert steps == pytest.approx(VINE.length / 2000, rel=1e-5)


def test_ends_and_tangents() -> None:
    assert tuple(VINE.point_at(0)) == VINE.start
    assert VINE.point_at(VINE.length) == pytest.approx(VINE.end, abs=1e-12)
    assert np.hypot(*VINE.tangent_at(np.linspace(0, VINE.length, 50)).T) == pytest.approx(1, abs=1e-14)
    assert VINE.tangent_at(0) == pytest.approx(np.array([40, -100]) / np.hypot(40, 100), abs=1e-14)


def test_at_a_corner_the_piece_after_it_speaks() -> None:
    assert BENT_LINE.tangent_at([29, 30, 31]) == pytest.approx(np.array([[1, 0], [0, 1], [0, 1]]), abs=1e-12)
    assert CORNER_RING.tangent_at([120, 0]) == pytest.approx(np.array([[1, 0], [1, 0]]), abs=1e-12)


def test_curvature_is_positive_to_the_right_of_travel_on_the_page() -> None:
    # From left to right over the top is clockwise, and bends right; y runs down, so the top has the lower y.
    over_the_top = Curve.from_svg_path("M0 0A50 50 0 0 1 100 0")
    assert over_the_top.point_at(over_the_top.length / 2) == pytest.approx([50, -50], abs=1e-6)
    assert over_the_top.curvature_at(60) == pytest.approx(1 / 50, rel=1e-5)
    under = Curve.from_svg_path("M0 0A50 50 0 0 0 100 0")
    assert under.curvature_at(60) == pytest.approx(-1 / 50, rel=1e-5)
    assert (over_the_top.tightest().side, under.tightest().side) == ("right", "left")
    # Right of travel going right is down.
    assert over_the_top.parallel(5)[0].bounds[1] > over_the_top.bounds[1]


def test_a_closed_curve_wraps() -> None:
    length = RING.length
    s = np.array([-0.25, 0.75, 1.75, 7.75]) * length
    assert RING.point_at(s) == pytest.approx(np.array([[0, -30]] * 4), abs=1e-6)
    assert RING.point_at(length) == pytest.approx((30, 0), abs=1e-9)


def test_bounds_are_exact() -> None:
    assert RING.bounds == pytest.approx((-30, -30, 30, 30), abs=1e-9)
    # The extremes of one cubic lie inside it, where its derivative vanishes; found here on dense points.
    for seed in range(10):
        curve = Curve(random_vine(np.random.default_rng(seed), 3))
        points = curve.flattened(1e-6)
        low, high = points.min(axis=0), points.max(axis=0)
        assert curve.bounds == pytest.approx((*low, *high), abs=1e-6)
        assert (np.array(curve.bounds[:2]) <= low).all()
        assert (np.array(curve.bounds[2:]) >= high).all()


@pytest.mark.parametrize("tolerance", [1.0, 0.1, 0.001])
def test_flattened_stays_within_its_tolerance(tolerance: float) -> None:
    import shapely

    line = shapely.LineString(VINE.flattened(tolerance))
    dense = shapely.points(VINE.point_at(np.linspace(0, VINE.length, 3000)))
    assert shapely.distance(dense, line).max() <= tolerance
    assert len(line.coords) < 60 / np.sqrt(tolerance)


# --- curves made from it --------------------------------------------------------------------------------------


def test_sections_add_up() -> None:
    cuts = [0, 10, 10.5, 120, 200, VINE.length]
    parts = [VINE.section(a, b) for a, b in pairwise(cuts)]
    assert [part.length for part in parts] == pytest.approx(np.diff(cuts), rel=1e-9)
    for part, s in zip(parts, cuts, strict=False):
        assert part.start == pytest.approx(tuple(VINE.point_at(s)), abs=1e-9)
    assert sum(part.turning for part in parts) == pytest.approx(VINE.turning, rel=1e-9)
    assert not any(part.closed for part in parts)


def test_a_section_is_the_curve_there() -> None:
    part = VINE.section(60, 190)
    s = np.linspace(0, part.length, 30)
    assert part.point_at(s) == pytest.approx(VINE.point_at(60 + s), abs=1e-9)
    assert part.curvature_at(s) == pytest.approx(VINE.curvature_at(60 + s), abs=1e-9)


def test_a_section_at_joints_has_no_splinters() -> None:
    assert len(BENT_LINE.section(0, 30)) == 1
    assert len(BENT_LINE.section(30, 70)) == 1
    assert BENT_LINE.section(0, 70).controls == pytest.approx(BENT_LINE.controls, abs=1e-12)


@pytest.mark.parametrize("hair", [0.0, 1e-14, 1e-12])
def test_a_hair_over_the_start_of_a_closed_curve_is_no_stretch(hair: float) -> None:
    length = RING.length
    assert RING.section(0.25 * length, hair).length == pytest.approx(0.75 * length)
    assert RING.section(length - hair, 0.25 * length).length == pytest.approx(0.25 * length)
    assert RING.section(length - hair, hair).length == pytest.approx(length)


def test_a_section_of_a_closed_curve_may_run_over_the_start() -> None:
    part = RING.section(0.9 * RING.length, 0.1 * RING.length)
    assert part.length == pytest.approx(0.2 * RING.length, rel=1e-9)
    assert not part.closed
    assert part.point_at(part.length / 2) == pytest.approx((30, 0), abs=1e-6)
    whole = RING.section(0, RING.length)
    assert whole.length == pytest.approx(RING.length, rel=1e-12)
    once_round = RING.section(20, 20)
    assert once_round.length == pytest.approx(RING.length, rel=1e-9)


def test_reversed() -> None:
    back = VINE.reversed()
    assert (back.start, back.end) == (VINE.end, VINE.start)
    assert back.reversed() == VINE
    s = np.linspace(0, VINE.length, 20)
    assert back.point_at(VINE.length - s) == pytest.approx(VINE.point_at(s), abs=1e-9)
    assert back.tangent_at(VINE.length - s) == pytest.approx(-VINE.tangent_at(s), abs=1e-9)
    assert RING.reversed().closed


def test_transformed() -> None:
    moved = BENT_LINE.transformed([[1, 0, 5], [0, 1, -2]])
    assert (moved.start, moved.end) == ((5, -2), (35, 38))
    assert BENT_LINE.transformed(np.eye(3)) == BENT_LINE
    sheared = VINE.transformed(np.array([[1, 0.5, 0], [0, 2, 0], [0, 0, 1]]))
    points = VINE.controls.reshape(-1, 2)
    assert sheared.controls.reshape(-1, 2) == pytest.approx(points @ np.array([[1, 0], [0.5, 2]]), abs=1e-12)
    assert RING.transformed([[2, 0, 0], [0, 2, 0]]).length == pytest.approx(2 * RING.length, rel=1e-14)


def test_extended() -> None:
    longer = BENT_LINE.extended(7, 11)
    assert longer.length == pytest.approx(88, rel=1e-14)
    assert (*longer.start, *longer.end) == pytest.approx((-7, 0, 30, 51))
    assert VINE.extended(5, 0).turning == pytest.approx(VINE.turning, rel=1e-9)
    assert VINE.extended(0, 0) == VINE
    # A drawn-in handle does not hide the direction.
    stem = Curve.from_svg_path("M0 0C0 0 50 0 50 40")
    assert stem.extended(10, 0).start == pytest.approx((-10, 0), abs=1e-9)


@settings(max_examples=40)
@given(st.integers(0, 10_000), st.lists(st.floats(0.0, 1.0), min_size=2, max_size=6))
def test_any_sections_add_up(seed: int, shares: list[float]) -> None:
    curve = Curve(random_vine(np.random.default_rng(seed), 1 + seed % 4, kinks=0.3))
    cuts = np.unique(np.round([0.0, *shares, 1.0], 6)) * curve.length
    assume(len(cuts) > 2)
    parts = [curve.section(a, b) for a, b in pairwise(cuts)]
    assert sum(part.length for part in parts) == pytest.approx(curve.length, rel=1e-10)
    for before, after in pairwise(parts):
        assert before.end == pytest.approx(after.start, abs=1e-9)


@settings(max_examples=40)
@given(st.integers(0, 10_000), st.floats(0.0, 1.0))
def test_a_place_is_as_far_along_as_it_says(seed: int, share: float) -> None:
    curve = Curve(random_vine(np.random.default_rng(seed), 1 + seed % 4, kinks=0.3))
    assume(share > 1e-6)
    part = curve.section(0, share * curve.length)
    assert part.length == pytest.approx(share * curve.length, rel=1e-9)
    assert part.end == pytest.approx(tuple(curve.point_at(share * curve.length)), abs=1e-9)


# --- refusals -------------------------------------------------------------------------------------------------

NAN, INF = float("nan"), float("inf")


@pytest.mark.parametrize(
    ("xy", "match"),
    [
        ([(0, 0)], "two points or more"),
        ([], "two points or more"),
        ([(0, 0, 0), (1, 1, 1)], "two points or more"),
        ([0, 1, 2], "two points or more"),
        ([(5, 5), (5, 5)], r"needs some length; all its points are at \(5, 5\)"),
        ([(5, 5), (5, 5), (5, 5)], "needs some length"),
        ([(0, 0), (NAN, 1)], "segment 0 of the curve has a coordinate that is not a finite number"),
        ([(0, 0), (1, 1), (INF, 1)], "segment 1 of the curve has a coordinate that is not a finite number"),
    ],
)
def test_points_that_make_no_curve(xy: Any, match: str) -> None:
    with pytest.raises(bd.CurveError, match=match):
        Curve.from_points(xy)


@pytest.mark.parametrize(
    ("controls", "closed", "match"),
    [
        (np.zeros((0, 4, 2)), False, r"shape \(n, 4, 2\) with n at least 1, not \(0, 4, 2\)"),
        (np.zeros((4, 2)), False, r"not \(4, 2\)"),
        (np.zeros((2, 3, 2)), False, r"not \(2, 3, 2\)"),
        (np.zeros((2, 4, 3)), False, r"not \(2, 4, 3\)"),
        (np.full((1, 4, 2), 3.0), False, "needs some length"),
        (
            [[(0, 0), (1, 0), (2, 0), (3, 0)], [(3.1, 0), (4, 0), (5, 0), (6, 0)]],
            False,
            "0 and 1 .* do not meet.* 0.1 mm",
        ),
        ([[(0, 0), (1, 0), (2, 0), (3, 4)]], True, "ends where it starts; this one stops 5 mm away"),
        ([[(0, 0), (1, 0), (2, NAN), (3, 4)]], False, "segment 0 .* not a finite number"),
    ],
)
def test_controls_that_make_no_curve(controls: Any, closed: bool, match: str) -> None:
    with pytest.raises(bd.CurveError, match=match):
        Curve(controls, closed)


@pytest.mark.parametrize(
    ("path", "match"),
    [
        ("M0 0H10M0 5H10", "one subpath; this path data draws 2"),
        ("", "draws 0|nothing"),
        ("M0 0", "draws 0|nothing"),
        ("M0 0L10", "number"),
        ("L10 10", "M"),
        ("M0 0LNaN 1", "number"),
        ("a stem", "."),
    ],
)
def test_path_data_that_makes_no_curve(path: str, match: str) -> None:
    with pytest.raises(bd.CurveError, match=match):
        Curve.from_svg_path(path)


@pytest.mark.parametrize("s", [-1, 70.1, [0, 30, 71], 1e9])
def test_places_off_the_curve(s: Any) -> None:
    for ask in (BENT_LINE.point_at, BENT_LINE.tangent_at, BENT_LINE.curvature_at):
        with pytest.raises(bd.CurveError, match="off the curve, which runs from 0 to 70 mm"):
            ask(s)
    with pytest.raises(bd.CurveError, match="off the curve"):
        BENT_LINE.working_radius_at(s, 5)


@pytest.mark.parametrize("s", [NAN, INF, [0, NAN]])
def test_places_that_are_no_numbers(s: Any) -> None:
    for curve in (BENT_LINE, RING):
        with pytest.raises(bd.CurveError, match="finite number of mm"):
            curve.point_at(s)


def test_rounding_at_the_ends_is_no_error() -> None:
    assert BENT_LINE.point_at(70 + 1e-9) == pytest.approx((30, 40))
    assert BENT_LINE.point_at(-1e-9) == pytest.approx((0, 0))


@pytest.mark.parametrize(("s0", "s1"), [(10, 10), (20, 10)])
def test_sections_that_run_backward(s0: float, s1: float) -> None:
    with pytest.raises(bd.CurveError, match="runs forward along the curve"):
        BENT_LINE.section(s0, s1)


@pytest.mark.parametrize(("s0", "s1"), [(-5, 10), (10, 90)])
def test_sections_off_the_curve(s0: float, s1: float) -> None:
    with pytest.raises(bd.CurveError, match="off the curve"):
        BENT_LINE.section(s0, s1)


@pytest.mark.parametrize(
    "matrix",
    [
        np.eye(2),
        np.eye(4),
        [[1, 0, NAN], [0, 1, 0]],
        [[1, 0, 0], [0, 1, 0], [0, 0, 2]],
        [[1, 0, 0], [0, 1, 0], [1, 0, 1]],
    ],
)
def test_matrices_that_are_no_affine_map(matrix: Any) -> None:
    with pytest.raises(bd.CurveError, match="an affine map is a finite 2 x 3 matrix"):
        VINE.transformed(matrix)


def test_a_map_that_leaves_no_length() -> None:
    with pytest.raises(bd.CurveError, match="needs some length"):
        VINE.transformed([[0, 0, 3], [0, 0, 4]])


@pytest.mark.parametrize(("before", "after"), [(-1, 0), (0, -1), (NAN, 0), (0, INF)])
def test_lengths_that_cannot_be_run_on(before: float, after: float) -> None:
    with pytest.raises(bd.CurveError, match="run on"):
        VINE.extended(before, after)


def test_a_closed_curve_has_no_ends_to_run_on() -> None:
    with pytest.raises(bd.CurveError, match="only an open curve"):
        RING.extended(1, 1)


@pytest.mark.parametrize("tolerance", [0, -1, 1e-7, NAN])
def test_a_flattening_tolerance_that_is_none(tolerance: float) -> None:
    with pytest.raises(bd.CurveError, match="tolerance must be"):
        VINE.flattened(tolerance)


def test_every_refusal_is_one_of_ours_and_a_value_error() -> None:
    with pytest.raises(ValueError, match="two points or more"):
        Curve.from_points([(0, 0)])
    with pytest.raises(bd.DraftingError):
        circle_arc(5, 90).section(3, 2)
