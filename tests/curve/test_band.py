"""Bands and parallel curves, judged point by point and by shapely.

The outline of a band of width w is right to a tolerance when it strays by no more than that either way: every
point of the outline lies w/2 from the centreline, and every point w/2 from the centreline lies on the outline. Both
are measured here, densely, on fine polylines, by nearest distances that shapely finds.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import shapely
from reference_curves import circle_arc, clothoid, ellipse, random_vine, sine

import bias_drafting as bd
from bias_drafting.curve.curve import Curve

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from bias_drafting.curve.outline import Outline

    Array = NDArray[np.float64]

TOLERANCE = 0.01


# --- the judges -----------------------------------------------------------------------------------------------


def nearest(points: Array, lines: list[Array]) -> Array:
    """The distance of each point from the nearest of the polylines."""
    pieces = np.concatenate([np.stack([line[:-1], line[1:]], axis=1) for line in lines])
    tree = shapely.STRtree(shapely.linestrings(pieces))
    index, distance = tree.query_nearest(shapely.points(points), return_distance=True, all_matches=False)
    result = np.full(len(points), np.nan)
    result[index[0]] = distance
    return result


def dense(line: Array, step: float) -> Array:
    return np.asarray(shapely.get_coordinates(shapely.segmentize(shapely.LineString(line), step)))


def rim(curve: Curve, half: float, round_ends: bool) -> Array:
    """Points at ``half`` from points of the curve: square to it, round its corners and cusps, and round its ends."""
    s = np.linspace(0, curve.length, 3001)
    point, travel = curve.point_at(s), curve.tangent_at(s)
    across = half * np.stack([-travel[:, 1], travel[:, 0]], axis=1)
    centres = [curve.controls[k, 0] for k in range(0 if round_ends else 1, len(curve))]
    if round_ends:
        centres.append(curve.controls[-1, 3])
    angle = np.linspace(0, 2 * np.pi, 721)
    circle = half * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    return np.vstack([point + across, point - across, *(centre + circle for centre in centres)])


def excess(curve: Curve, width: float, outline: Outline, ends: str, tolerance: float) -> float:
    """By how much the outline strays from the exact one, either way, in mm."""
    half, centre = width / 2, curve.flattened(tolerance / 100)
    loops = [ring.flattened(tolerance / 40) for ring in (outline.exterior, *outline.holes)]
    points = np.vstack([dense(loop, half / 20) for loop in loops])
    gap = nearest(points, [centre])
    out = np.abs(gap - half)
    if ends == "square" and not curve.closed:
        # Beyond the line across a square end nothing is asked: the half disc there is not part of the band.
        for s, way in ((0.0, -1), (curve.length, 1)):
            reach = points - curve.point_at(s)
            beyond = (reach @ curve.tangent_at(s) * way > -tolerance) & (
                np.hypot(*reach.T) <= half + tolerance
            )
            out = np.where(beyond & (gap <= half + tolerance), 0, out)
    exact = rim(curve, half, ends == "round" or curve.closed)
    exact = exact[nearest(exact, [centre]) >= half - tolerance / 50]
    return float(max(out.max(), nearest(exact, loops).max()))


def judge(curve: Curve, width: float, ends: str = "square", tolerance: float = TOLERANCE) -> Outline:
    """Draft a band and check it in every way; return it."""
    outline = curve.band(width, ends=ends, tolerance=tolerance)
    loops = [ring.flattened(tolerance / 40) for ring in (outline.exterior, *outline.holes)]
    polygon = shapely.Polygon(loops[0], loops[1:])
    assert polygon.is_valid, shapely.is_valid_reason(polygon)
    # Counter-clockwise with y up is clockwise on the page: the outside so, holes the other way.
    assert [shapely.LinearRing(loop).is_ccw for loop in loops] == [True] + [False] * len(outline.holes)
    assert outline.exterior.closed
    assert all(hole.closed for hole in outline.holes)
    assert outline.area == pytest.approx(polygon.area, abs=tolerance / 20 * polygon.length)
    assert excess(curve, width, outline, ends, tolerance) <= tolerance
    return outline


# --- curves of every temper -----------------------------------------------------------------------------------

GENTLE = {
    "vine": Curve.from_svg_path("M0 100C40 0 80 0 120 60S200 100 240 20"),
    "wave": sine(20, 120, 0, 240, pieces=24),
    "clothoid": clothoid(20, 100, pieces=12),
    "arc": Curve.from_svg_path("M0 0A50 50 0 0 1 100 0"),
    "straight": Curve.from_points([(0, 0), (70, 20)]),
    "one cubic": Curve.from_svg_path("M0 0C60 0 80 40 80 100"),
}
TIGHT = {
    "bend of radius 2": Curve.from_svg_path("M0 0H30A2 2 0 0 1 32 2V40"),
    "hairpin": Curve.from_svg_path("M0 0H60A2 2 0 0 1 60 4H0"),
    "narrow hairpin": Curve.from_svg_path("M0 0C80 1 80 9 0 12"),
    "square corner": Curve.from_points([(0, 0), (40, 0), (40, 40)]),
    "sharp corner": Curve.from_points([(0, 0), (60, 0), (5, 12)]),
    "zigzag": Curve.from_points([(0, 0), (30, 25), (60, 0), (90, 25), (120, 0)]),
    "corner between curves": Curve.from_svg_path("M0 0C20 0 40 10 40 30C40 20 60 0 90 10"),
    "loop": Curve.from_svg_path("M0 60C100 60 90 0 50 0S0 60 100 60"),
    "small loop": Curve.from_svg_path("M0 30C70 30 40 5 35 12S20 30 90 30"),
    "curl": Curve.from_svg_path("M0 0C60 0 60 40 30 40S10 14 28 14 40 30 31 29"),
    "cusp": Curve.from_svg_path("M0 0C60 60 0 60 60 0"),
    "nearly a cusp": Curve.from_svg_path("M0 0C60 60.01 0 60 60 0"),
    "drawn-in handles": Curve.from_svg_path("M0 0C0 0 50 0 50 40C50 40 60 70 100 70"),
    "figure of eight": Curve.from_svg_path("M0 0C60 60 120 -60 120 0S60 60 0 0"),
}
RINGS = {
    "circle": Curve.from_svg_path("M30 0A30 30 0 0 1 -30 0A30 30 0 0 1 30 0Z"),
    "the other way": Curve.from_svg_path("M30 0A30 30 0 0 0 -30 0A30 30 0 0 0 30 0Z"),
    "ellipse": ellipse(40, 25, pieces=32),
    "ellipse with tight ends": ellipse(50, 10, pieces=64),
    "square": Curve.from_points([(0, 0), (40, 0), (40, 40), (0, 40)], closed=True),
    "drop": Curve.from_svg_path("M0 0C50 20 50 80 0 80S-50 20 0 0Z"),
    "closed eight": Curve.from_svg_path("M0 0C60 60 120 -60 60 -60S-60 60 0 60 60 0 0 0Z"),
}


@pytest.mark.parametrize("curve", GENTLE.values(), ids=GENTLE)
@pytest.mark.parametrize("ends", ["square", "round"])
def test_gentle_bends(curve: Curve, ends: str) -> None:
    outline = judge(curve, 6.35, ends)
    assert outline.holes == ()
    area = 6.35 * curve.length + (np.pi * 6.35**2 / 4 if ends == "round" else 0)
    assert outline.area == pytest.approx(area, abs=2 * TOLERANCE * curve.length)


@pytest.mark.parametrize("curve", TIGHT.values(), ids=TIGHT)
def test_tight_bends_corners_and_crossings(curve: Curve) -> None:
    judge(curve, 6.35, "round")
    # Square ends: run on straight, so that no bend sweeps past the end itself.
    judge(curve.extended(8, 8), 6.35, "square")


@pytest.mark.parametrize("curve", RINGS.values(), ids=RINGS)
@pytest.mark.parametrize("width", [3.0, 12.7])
def test_rings(curve: Curve, width: float) -> None:
    assert len(judge(curve, width).holes) >= 1


def test_a_ring_that_fills_its_own_middle_has_no_hole() -> None:
    # Thousands of normals meet in one point here, and cross it: the union of the strips must not lose any.
    for path in ("M5 0A5 5 0 0 1 -5 0A5 5 0 0 1 5 0Z", "M50 0A50 50 0 0 1 -50 0A50 50 0 0 1 50 0Z"):
        circle = Curve.from_svg_path(path)
        radius = circle.length / (2 * np.pi)
        outline = circle.band(2.4 * radius)
        assert outline.holes == ()
        assert outline.area == pytest.approx(np.pi * (2.2 * radius) ** 2, rel=1e-3)
        assert circle.parallel(1.2 * radius) == ()


@pytest.mark.parametrize(
    ("path", "width", "tolerance"),
    [
        # The buffer of a closed line, against which the union is checked, may itself lose its middle.
        (
            "M29.7 18.1C26.6 16.5 16.6 14.3 16.1 18.5C15.5 22.9 32.7 8.2 28.3 15.9C27.9 16.6 31.4 19 29.7 18.1Z",
            12.7,
            0.01,
        ),
        # At a crossing the polygons leave runs shorter than what they stray: kept, they would make tiny loops.
        ("M14.2 52.2C12.5 53.5 17.5 60.2 21 55.9C24.4 51.8 15.9 50.9 14.2 52.2Z", 6.35, 0.002),
        (
            "M44.7 27.2C38.7 28.2 39 11.7 38 0.4C34.3 -40 73.6 55.8 45.8 57.7C37.7 58.2 51.3 26.1 44.7 27.2Z",
            1.0,
            0.01,
        ),
    ],
    ids=["ring that fills its middle", "small leaf", "ring with a spur"],
)
def test_rings_that_once_went_wrong(path: str, width: float, tolerance: float) -> None:
    judge(Curve.from_svg_path(path), width, tolerance=tolerance)


# A tendril that all but closes round a hole of a fifth of a square millimetre where its band is 12 mm wide.
TENDRIL = (
    "M1.793318 18.346597C19.245686 44.847544 40.83644 44.835515 23.566017 25.712289"
    "C1.279904 1.012258 49.015896 31.067475 41.693264 39.21098"
)


@pytest.mark.parametrize(
    ("path", "width", "tolerance"),
    [
        (TENDRIL, 11, 0.01),
        (
            "M96.763 16.609C61.759 34.661 93.746 48.862 93.746 48.862C93.746 48.862 -32.071 34.671 3.237 39.13",
            6.55336,
            0.003,
        ),
        (
            "M23.672 32.347C-17.111 16.129 40.702 57.468 76.866 30.951C134.601 -11.383 83.512 54.386 83.512 54.386",
            20.787,
            0.003,
        ),
    ],
    ids=["tendril", "hook", "end turned in"],
)
def test_where_square_ends_are_covered_no_tiny_loops_are_left(
    path: str, width: float, tolerance: float
) -> None:
    outline = judge(Curve.from_svg_path(path), width, tolerance=tolerance)
    for ring in (outline.exterior, *outline.holes):
        found = ring.self_intersections()
        assert (found.points, found.overlaps) == ((), ())


@pytest.mark.parametrize(("ends", "holes"), [("square", 0), ("round", 1)])
def test_a_band_that_all_but_closes_round_a_hole_is_drafted(ends: str, holes: int) -> None:
    # What closes the hole is the round end, by less than what polygons stray: some have the hole, some have not.
    assert len(judge(Curve.from_svg_path(TENDRIL), 12, ends).holes) == holes


def test_loops_leave_holes() -> None:
    loop = TIGHT["loop"]
    assert len(judge(loop, 6.35).holes) == 1
    assert judge(loop, 60.0, "round").holes == ()


@pytest.mark.parametrize("seed", range(12))
def test_vines_that_wander(seed: int) -> None:
    rng = np.random.default_rng(seed)
    curve = Curve(random_vine(rng, 1 + seed % 4, kinks=0.5 * (seed % 3 == 2)))
    width = float(rng.choice([1.0, 3.0, 6.35, 12.7]))
    if seed % 2:
        judge(curve.extended(width, width), width)
    else:
        judge(curve, width, "round")


@pytest.mark.parametrize("name", ["vine", "wave", "one cubic"])
def test_finer_is_closer(name: str) -> None:
    # Measured against the same fine centreline each time: the error must follow the tolerance down.
    curve, found = GENTLE[name], []
    for tolerance in (1.0, 0.1, 0.01, 0.001):
        outline = curve.band(12.7, tolerance=tolerance)
        found.append(excess(curve, 12.7, outline, "square", tolerance))
        assert found[-1] <= tolerance
    # A gentle curve may be met far better than asked; but the finest must be the best by far.
    assert found[-1] < 0.1 * found[0] or found[0] < 1e-3


def test_finer_is_closer_where_it_is_trimmed() -> None:
    curve, found = TIGHT["small loop"], []
    for tolerance in (0.3, 0.03, 0.003):
        found.append(excess(curve, 8.0, curve.band(8.0, "round", tolerance), "round", tolerance))
        assert found[-1] <= tolerance
    assert found[2] < 0.2 * found[0]


# --- shapely's buffer as judge --------------------------------------------------------------------------------


@pytest.mark.parametrize("curve", [*GENTLE.values(), *TIGHT.values()], ids=[*GENTLE, *TIGHT])
def test_against_the_buffer_of_a_fine_polyline(curve: Curve) -> None:
    outline = curve.band(8.0, ends="round")
    buffer = shapely.LineString(curve.flattened(1e-4)).buffer(4.0, quad_segs=200)
    loops = [ring.flattened(1e-4) for ring in (outline.exterior, *outline.holes)]
    polygon = shapely.Polygon(loops[0], loops[1:])
    # Twice the tolerance all round, for whatever strays either way, is far less than any part left out.
    assert polygon.symmetric_difference(buffer).area <= TOLERANCE * polygon.length
    assert len(polygon.interiors) == len(buffer.interiors)


def test_the_buffer_would_tell_a_wrong_width() -> None:
    curve = GENTLE["vine"]
    buffer = shapely.LineString(curve.flattened(1e-4)).buffer(4.0, quad_segs=200)
    polygon = curve.band(8.05, ends="round").polygon
    assert polygon.symmetric_difference(buffer).area > TOLERANCE * polygon.length


def test_the_judge_would_tell_a_wrong_width_and_a_missing_part() -> None:
    curve = GENTLE["vine"]
    assert excess(curve, 8.0, curve.band(8.03), "square", TOLERANCE) == pytest.approx(0.015, abs=0.01)
    part = curve.section(0, curve.length - 5)
    assert excess(curve, 8.0, part.band(8.0), "square", TOLERANCE) > 1


# --- parallel curves ------------------------------------------------------------------------------------------


def sides(curve: Curve, distance: float, count: int = 2001) -> tuple[Array, Array]:
    """Points of the curve, its ends left out, and the points square to them at the distance."""
    s = np.linspace(0, curve.length, count)[1:-1]
    travel = curve.tangent_at(s)
    return curve.point_at(s), curve.point_at(s) + distance * np.stack([-travel[:, 1], travel[:, 0]], axis=1)


@pytest.mark.parametrize("name", [*GENTLE, *TIGHT])
@pytest.mark.parametrize("distance", [-3.0, 3.0])
def test_every_point_of_a_parallel_curve_is_at_its_distance(name: str, distance: float) -> None:
    curve = (GENTLE | TIGHT)[name]
    centre = curve.flattened(2e-5)
    found = curve.parallel(distance)
    for part in found:
        points = dense(part.flattened(2e-4), 0.2)
        assert np.abs(nearest(points, [centre]) - 3.0).max() <= TOLERANCE
    # And nothing is missing: exact points square to the curve on that side that nothing else comes nearer to.
    _, exact = sides(curve, distance)
    exact = exact[nearest(exact, [centre]) >= 3.0 - 5e-5]
    assert bool(found) == bool(len(exact))
    if found:
        assert nearest(exact, [part.flattened(2e-4) for part in found]).max() <= TOLERANCE


@pytest.mark.parametrize("name", [*GENTLE, *RINGS])
@pytest.mark.parametrize("distance", [-3.0, 3.0])
def test_parallel_curves_run_along_the_curve(name: str, distance: float) -> None:
    curve = (GENTLE | RINGS)[name]
    s = np.linspace(0, curve.length, 4001)
    for part in curve.parallel(distance):
        for share in (0.21, 0.47, 0.83):
            point, travel = part.point_at(share * part.length), part.tangent_at(share * part.length)
            foot = s[np.argmin(np.hypot(*(curve.point_at(s) - point).T))]
            along = curve.tangent_at(foot)
            if np.hypot(*(curve.controls[:, 0] - point).T).min() < 3.01:
                continue  # round the outer side of a corner nothing runs along the foot
            assert travel @ along > 0.99
            # On the side asked for: right of travel is (-y, x) of the direction, with y down.
            assert (point - curve.point_at(foot)) @ (-along[1], along[0]) * distance > -1e-6


@pytest.mark.parametrize(("distance", "tolerance"), [(9.6, 1.0), (9.9, 0.1), (9.99, 0.01), (9.999, 0.005)])
def test_a_parallel_curve_no_longer_than_some_tolerances_is_one_still(
    distance: float, tolerance: float
) -> None:
    circle = Curve.from_svg_path("M10 0A10 10 0 0 1 -10 0A10 10 0 0 1 10 0Z")
    (found,) = circle.parallel(distance, tolerance)
    assert found.closed
    assert found.length == pytest.approx(2 * np.pi * (10 - distance), rel=0.01)
    # Of the inside of a corner with arms of 5.02 mm two fiftieths of a millimetre are 5 mm away from both.
    corner = Curve.from_points([(0, 0), (5.02, 0), (5.02, 5.02)])
    assert [part.length for part in corner.parallel(5.0)] == pytest.approx([0.04], abs=1e-6)


def test_parallel_curve_of_a_zigzag_comes_in_one_part_a_side() -> None:
    left, right = TIGHT["zigzag"].parallel(-3), TIGHT["zigzag"].parallel(3)
    assert (len(left), len(right)) == (1, 1)


def test_a_long_straight_side_between_two_crossings_is_still_a_side() -> None:
    # Inside a square every part of the boundary begins and ends at a crossing.
    square = Curve.from_points([(0, 0), (40, 0), (40, 40), (0, 40)], closed=True)
    (inside,) = square.parallel(5)
    assert inside.closed
    assert inside.length == pytest.approx(120, rel=1e-6)


# --- outlines as values ---------------------------------------------------------------------------------------


def test_an_outline_mirrored_runs_the_right_way_round() -> None:
    outline = RINGS["drop"].band(6.0)
    mirrored = outline.transformed([[-1, 0, 0], [0, 1, 0]])
    assert mirrored.area == pytest.approx(outline.area, rel=1e-12)
    assert shapely.LinearRing(mirrored.exterior.flattened()).is_ccw
    assert not any(shapely.LinearRing(hole.flattened()).is_ccw for hole in mirrored.holes)
    moved = outline.transformed([[1, 0, 10], [0, 1, -4]])
    assert moved.bounds == pytest.approx(np.add(outline.bounds, (10, -4, 10, -4)))


def test_an_outline_knows_its_area_bounds_and_polygon() -> None:
    outline = Curve.from_points([(0, 0), (100, 0)]).band(10)
    assert outline.area == pytest.approx(1000, rel=1e-12)
    assert outline.bounds == pytest.approx((0, -5, 100, 5))
    assert outline.polygon.equals(shapely.box(0, -5, 100, 5))
    assert repr(outline) == "Outline(1000 mm², no holes)"
    assert "1 hole" in repr(RINGS["circle"].band(5))


def test_the_path_of_an_outline_reads_back() -> None:
    outline = RINGS["circle"].band(5)
    path = outline.to_svg_path()
    assert path.count("M") == path.count("Z") == 2
    exterior = Curve.from_svg_path(path[: path.index("M", 1)])
    assert exterior.length == pytest.approx(outline.exterior.length, rel=1e-6)


def test_outlines_are_frozen() -> None:
    outline = GENTLE["arc"].band(5)
    with pytest.raises(AttributeError):
        outline.holes = ()  # type: ignore[misc]


# --- refusals -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("width", [0, -1, float("nan"), float("inf"), "0 in", "wide"])
def test_a_width_that_is_none(width: Any) -> None:
    with pytest.raises(bd.LengthError, match=r"width of a band|wide"):
        GENTLE["arc"].band(width)


@pytest.mark.parametrize("ends", ["flat", "", "Square", None])
def test_ends_that_are_none(ends: Any) -> None:
    with pytest.raises(bd.CurveError, match="'square', 'round' or 'taper' ends"):
        GENTLE["arc"].band(5, ends=ends)


@pytest.mark.parametrize("tolerance", [0, -0.01, 1e-7, float("nan"), float("inf")])
def test_a_tolerance_that_is_none(tolerance: float) -> None:
    with pytest.raises(bd.CurveError, match="tolerance of 1e-6 or more"):
        GENTLE["arc"].band(5, tolerance=tolerance)
    with pytest.raises(bd.CurveError, match="tolerance of 1e-6 or more"):
        GENTLE["arc"].parallel(5, tolerance=tolerance)


@pytest.mark.parametrize("distance", [0, float("nan"), float("-inf")])
def test_a_distance_that_is_none(distance: float) -> None:
    with pytest.raises(bd.CurveError, match="distance not 0"):
        GENTLE["arc"].parallel(distance)


def test_coordinates_too_large_for_the_tolerance_are_refused() -> None:
    with pytest.raises(
        bd.CurveError, match=r"as large as 2.04e\+09 mm need a tolerance of 0.00204 mm or more"
    ):
        circle_arc(2e9, 300, pieces=8).band(5, ends="round", tolerance=1e-6)


def test_more_points_than_can_be_held_are_refused() -> None:
    with pytest.raises(bd.CurveError, match="ask for a larger tolerance"):
        circle_arc(2e9, 300, pieces=8).flattened(1e-6)


@pytest.mark.parametrize("distance", [50.0, -50.0])
def test_a_circle_at_its_own_radius_is_a_point_or_a_circle_twice_as_large(distance: float) -> None:
    ring = bd.Curve.from_svg_path("M50 0A50 50 0 0 1 -50 0A50 50 0 0 1 50 0Z")
    found = ring.parallel(distance)
    assert [c.length for c in found] == ([] if distance > 0 else [pytest.approx(200 * np.pi, rel=1e-4)])
    assert ring.band(100).holes == ()
    assert ring.band(100).area == pytest.approx(np.pi * 100**2, rel=1e-4)


@pytest.mark.parametrize("closed", [True, False])
@pytest.mark.parametrize("rounds", [2, 3, 12])
@pytest.mark.parametrize("width", [3.0, 20.0])
def test_a_circle_gone_round_often_is_a_ring_still(rounds: int, width: float, closed: bool) -> None:
    path = "M10 0" + rounds * "A10 10 0 0 1 -10 0A10 10 0 0 1 10 0" + ("Z" if closed else "")
    outline = bd.Curve.from_svg_path(path).band(width)
    # Where the band fills the middle its outside is the circle of twice the radius.
    wanted = 2 * np.pi * 10 * width if width < 20 else np.pi * 20**2
    assert outline.area == pytest.approx(wanted, rel=2e-3)
    assert len(outline.holes) == (1 if width < 20 else 0)


HOP_LOOP = bd.Curve.from_svg_path("M0 0C60 90 90 -40 40 10S70 60 110 10S60 -40 20 30")


@pytest.mark.parametrize("ends", ["square", "round", "taper"])
@pytest.mark.parametrize("tolerance", [3.0, 1e3, 1e6, 1e300])
def test_a_tolerance_larger_than_the_band_is_held_to_what_the_band_needs(tolerance: float, ends: str) -> None:
    wanted = HOP_LOOP.band(4, ends, 0.01)
    outline = HOP_LOOP.band(4, ends, tolerance)
    assert outline.area == pytest.approx(wanted.area, rel=0.05)
    assert len(outline.holes) == len(wanted.holes) > 0
    assert len(HOP_LOOP.parallel(2, tolerance)) == len(HOP_LOOP.parallel(2))


@pytest.mark.parametrize("ends", ["square", "round", "taper"])
@pytest.mark.parametrize("width", [2e-5, 1e-3])
def test_a_hair_of_a_band_has_its_area(width: float, ends: str) -> None:
    bend = bd.Curve.from_svg_path("M0 0A50 50 0 0 1 100 0")
    assert bend.band(width, ends).area == pytest.approx(width * bend.length, rel=2e-4)


@pytest.mark.parametrize("width", [1e-5, 1e-9, 1e-300])
def test_a_band_finer_than_can_be_drafted_is_refused(width: float) -> None:
    for ends in ("square", "round", "taper"):
        with pytest.raises(bd.CurveError, match="too short to draft; wanted 8e-06 mm or more"):
            GENTLE["arc"].band(width, ends)
    with pytest.raises(bd.CurveError, match="too short to draft"):
        GENTLE["arc"].parallel(-width / 2)


def test_a_corner_far_out_is_where_both_sides_cross() -> None:
    # At a thousand kilometres the coordinates carry a ten-thousandth of a millimetre.
    outline = Curve.from_points([(0, 0), (1e9, 0), (1e9, 1e9)]).band(0.01)
    assert outline.area == pytest.approx(2e9 * 0.01, rel=1e-4)


def test_cracks_between_the_strips_of_a_tapering_band_are_not_holes() -> None:
    outline = HOP_LOOP.band(6, "taper", 1e-5)
    assert len(outline.holes) == len(HOP_LOOP.band(6, "taper", 0.01).holes)
    assert min(bd.Outline(hole).area for hole in outline.holes) > 0.1


@pytest.mark.parametrize(
    ("width", "tolerance", "controls"),
    [
        (
            2.3955775433990705,
            0.003,
            [
                [
                    [71.212374065, 11.424089227],
                    [33.476795224, -35.774460223],
                    [39.477459336, 45.230850499],
                    [78.779644969, 42.47654468],
                ],
                [
                    [78.779644969, 42.47654468],
                    [132.138290086, 38.737159087],
                    [1.940631837, 19.185445426],
                    [1.940631837, 19.185445426],
                ],
            ],
        ),
        (
            2.7850130052170967,
            0.01,
            [
                [
                    [46.539008791, 58.245676406],
                    [46.539008791, 58.245676406],
                    [98.864257031, 13.426663171],
                    [98.276804447, 26.095161229],
                ],
                [
                    [98.276804447, 26.095161229],
                    [98.276804447, 26.095161229],
                    [59.687140209, 61.50648358],
                    [97.201060253, 45.71687158],
                ],
                [
                    [97.201060253, 45.71687158],
                    [119.358231983, 36.390916194],
                    [80.544517388, 35.129846013],
                    [80.544517388, 35.129846013],
                ],
            ],
        ),
    ],
)
def test_parts_of_a_boundary_that_are_all_but_straight_do_not_run_back_and_forth(
    width: float, tolerance: float, controls: list[list[list[float]]]
) -> None:
    outline = Curve(np.array(controls)).band(width, "round", tolerance)
    for ring in (outline.exterior, *outline.holes):
        meetings = ring.self_intersections()
        assert meetings.points == ()
        assert meetings.overlaps == ()
    assert outline.polygon.is_valid
