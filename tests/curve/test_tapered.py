"""Bands whose width changes along the curve.

The outside references are closed forms: a trapezium along a straight line; and, because what one edge gains in a bend
the other loses, an area of the integral of the width along the centreline, whatever the bends (Pappus-Guldin, from
memory).
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from reference_curves import clothoid

import bias_drafting as bd

WAVE = bd.Curve.from_svg_path("M0 0C30 -40 60 40 90 0S120 -60 150 -10")
LINE = bd.Curve.from_points([(0, 0), (100, 0)])
CIRCLE = bd.Curve.from_svg_path("M50 0A50 50 0 0 1 -50 0A50 50 0 0 1 50 0Z")


def test_along_a_straight_line_it_is_a_trapezium() -> None:
    outline = LINE.band(widths=[(0, 4), (100, 10)])
    trapezium = shapely.Polygon([(0, 2), (100, 5), (100, -5), (0, -2)])
    assert outline.polygon.symmetric_difference(trapezium).area < 1e-6
    assert len(outline.exterior) == 4


def test_widths_stay_the_same_beyond_the_first_and_the_last() -> None:
    outline = LINE.band(widths=[(30, 4), (70, 10)])
    assert outline.area == pytest.approx(30 * 4 + 40 * 7 + 30 * 10, abs=0.1)


@pytest.mark.parametrize("start", [1.0, 4.0])
def test_the_area_is_the_mean_width_times_the_length(start: float) -> None:
    outline = WAVE.band(widths=[(0, start), (WAVE.length, 11)], tolerance=1e-4)
    assert outline.area == pytest.approx((start + 11) / 2 * WAVE.length, rel=1e-5)


def test_both_edges_are_half_the_width_from_the_centreline_measured_square_across() -> None:
    widths = [(0, 3), (80, 9), (WAVE.length, 5)]
    outline = WAVE.band(widths=widths)
    for s in np.linspace(1, WAVE.length - 1, 60):
        (x, y), (tx, ty) = WAVE.point_at(s), WAVE.tangent_at(s)
        across = shapely.LineString([(x + 30 * ty, y - 30 * tx), (x - 30 * ty, y + 30 * tx)])
        cut = shapely.get_parts(across.intersection(outline.polygon))
        here = min(cut, key=lambda part: part.distance(shapely.Point(x, y)))
        # Monotone cubics through the pairs, by the reference library itself.
        from scipy.interpolate import PchipInterpolator

        assert here.length == pytest.approx(float(PchipInterpolator(*np.array(widths).T)(s)), abs=0.03)


def test_a_tapered_band_runs_out_in_points_over_twice_its_width() -> None:
    outline = LINE.band(6, ends="taper")
    assert outline.bounds == pytest.approx((0, -3, 100, 3), abs=0.01)
    assert outline.polygon.contains(shapely.Point(0.05, 0))
    assert not outline.polygon.contains(shapely.Point(0.05, 0.1))
    # From the point, half the width is 3 x (2 - x) at the share x of the taper: two thirds of it is filled.
    assert outline.area == pytest.approx(6 * (100 - 24) + 2 * 12 * 6 * 2 / 3, abs=0.05)
    assert outline.polygon.intersection(shapely.box(12, -9, 88, 9)).area == pytest.approx(76 * 6, abs=0.5)


def test_a_short_band_tapers_to_its_middle() -> None:
    outline = bd.Curve.from_points([(0, 0), (10, 0)]).band(8, ends="taper")
    assert outline.bounds == pytest.approx((0, -4, 10, 4), abs=0.01)
    assert outline.area == pytest.approx(8 * 10 * 2 / 3, abs=0.05)


def test_round_ends_are_half_circles() -> None:
    square, rounded = (LINE.band(widths=[(0, 4), (100, 10)], ends=ends) for ends in ("square", "round"))
    assert rounded.area - square.area == pytest.approx(np.pi * (2**2 + 5**2) / 2, abs=0.05)


def test_a_closed_band_has_a_hole_and_its_width_comes_round() -> None:
    length = CIRCLE.length
    outline = CIRCLE.band(widths=[(0, 4), (length / 2, 10), (length, 4)])
    assert len(outline.holes) == 1
    # Through three pairs it swells as a parabola does, to two thirds of the way from 4 to 10 mm in the mean.
    assert outline.area == pytest.approx(8 * length, rel=1e-3)
    assert CIRCLE.band(6, ends="taper") == CIRCLE.band(6)  # a closed curve has no ends
    with pytest.raises(bd.CurveError, match="come round to itself, not from 4 to 10 mm"):
        CIRCLE.band(widths=[(0, 4), (length, 10)])


def test_where_it_bends_too_tightly_or_has_corners_the_strips_are_united() -> None:
    corner = bd.Curve.from_points([(0, 0), (60, 0), (60, 60)])
    outline = corner.band(widths=[(0, 6), (120, 6)])
    alike = corner.band(6).polygon
    assert outline.polygon.symmetric_difference(alike).buffer(-0.011).is_empty
    wide = WAVE.band(widths=[(0, 2), (WAVE.length, 40)])
    assert wide.polygon.is_valid
    # It holds every centre of the strip and its edges, and nothing further away than half the width.
    s = np.linspace(0, WAVE.length, 400)
    half = 1 + s / WAVE.length * 19
    (x, y), (tx, ty) = WAVE.point_at(s).T, WAVE.tangent_at(s).T
    for side in (-0.999, 0, 0.999):
        points = shapely.points(x - side * half * ty, y + side * half * tx)
        assert shapely.dwithin(wide.polygon, points, 0.02).all()
    assert all(WAVE.locate(p)[1] <= 20.01 for p in np.asarray(wide.polygon.exterior.coords)[::7])


def test_the_outline_stays_within_its_tolerance() -> None:
    fine, coarse = (WAVE.band(widths=[(0, 3), (WAVE.length, 9)], tolerance=t) for t in (1e-4, 0.05))
    a, b = (np.asarray(o.exterior.flattened(1e-4)) for o in (fine, coarse))
    for one, other in ((fine, b), (coarse, a)):
        assert one.exterior.locate(other)[1].max() <= 0.0501
    assert len(coarse.exterior) < len(fine.exterior)


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({}, "one width, or widths along the curve"),
        ({"width": 4, "widths": [(0, 4)]}, "one width, or widths along the curve"),
        ({"widths": [(0, 4), (0, 5)]}, "growing arc lengths"),
        ({"widths": [(0, -1), (5, 5)]}, "widths of 0 or more"),
        ({"widths": [(0, 0), (5, 0)]}, "not all 0"),
        ({"widths": [0, 4]}, r"pairs \(s, width\)"),
        ({"widths": [(0, np.nan)]}, "finite"),
        ({"widths": "wide"}, r"pairs \(s, width\)"),
        ({"width": 4, "ends": "pointed"}, "'square', 'round' or 'taper'"),
    ],
)
def test_what_is_no_band_is_refused(options: dict[str, object], message: str) -> None:
    with pytest.raises(bd.CurveError, match=message):
        LINE.band(**options)  # type: ignore[arg-type]


def test_a_profile_finer_than_can_be_held_is_refused() -> None:
    spiky = [(k * 1e-4, 1 + k % 2) for k in range(2000)]
    with pytest.raises(bd.CurveError, match="ask for a larger tolerance"):
        bd.Curve.from_points([(0, 0), (50, 0), (0, 9)]).band(widths=spiky, tolerance=1e-6)


@pytest.mark.parametrize("width", [6.0, 20.0, 40.0])
def test_a_tapering_band_that_lies_upon_itself_loses_nothing(width: float) -> None:
    # Three times round: wherever the tapered ends lie, the whole ring is covered by the middle round.
    curve = bd.Curve.from_svg_path("M50 0" + "A50 50 0 0 1 -50 0A50 50 0 0 1 50 0" * 3)
    outline = curve.band(width, ends="taper")
    assert outline.area == pytest.approx(100 * np.pi * width, rel=1e-4)
    assert len(outline.exterior.self_intersections().points) == 0


# --- bands that come apart, or close on themselves --------------------------------------------------------------


def swept(curve: bd.Curve, half: float, count: int = 1200) -> shapely.Geometry:
    """What normals reaching ``half`` to either side sweep: triangles between them, united."""
    s = np.linspace(0, curve.length, count + 1)
    centre, across = curve.point_at(s), curve.tangent_at(s)[:, ::-1] * [-half, half]
    shapes = []
    for edge in (centre + across, centre - across):
        shapes.append(np.stack([centre[:-1], centre[1:], edge[1:]], axis=1))
        shapes.append(np.stack([centre[:-1], edge[1:], edge[:-1]], axis=1))
    return shapely.union_all(shapely.polygons(np.concatenate(shapes)), grid_size=1e-6)


@pytest.mark.parametrize("ends", ["square", "round", "taper"])
@pytest.mark.parametrize(
    ("widths", "s"),
    [
        ([(0, 8), (50, 0), (100, 8)], 50),
        ([(0, 1), (30, 0), (60, 8)], 30),
        ([(0, 8), (40, 0), (60, 0), (100, 8)], 40),
        ([(0, 8), (50, 1e-9), (100, 8)], 50),
    ],
)
def test_a_band_whose_width_comes_to_nothing_on_its_way_is_refused(
    widths: list[tuple[float, float]], s: float, ends: str
) -> None:
    with pytest.raises(
        bd.CurveError, match=rf"comes apart near s = {s} mm, where its width comes to (0|1e-09) mm"
    ):
        LINE.band(widths=widths, ends=ends)


@pytest.mark.parametrize("ends", ["square", "taper"])
def test_a_band_that_is_narrow_on_its_way_is_whole(ends: str) -> None:
    outline = LINE.band(widths=[(0, 8), (50, 1e-3), (100, 8)], ends=ends)
    assert outline.polygon.is_valid
    assert outline.bounds == pytest.approx((0, -4, 100, 4) if ends == "square" else outline.bounds)
    assert outline.bounds[2] == pytest.approx(100)


def test_a_ring_may_come_to_nothing_once() -> None:
    length = CIRCLE.length
    once = CIRCLE.band(widths=[(0, 8), (length / 2, 0), (length, 8)])
    # Through three such pairs it runs as a parabola does: in the mean a third of 8 mm.
    assert once.area == pytest.approx(8 / 3 * length, rel=1e-3)
    assert once.polygon.is_valid
    with pytest.raises(bd.CurveError, match=r"comes apart near s = 78\.5398 mm"):
        CIRCLE.band(widths=[(0, 8), (length / 4, 0), (length / 2, 3), (3 * length / 4, 0), (length, 8)])


def test_a_taper_where_alone_the_band_has_its_width_leaves_nothing() -> None:
    with pytest.raises(bd.CurveError, match="nothing is left of a band that tapers over 16 mm"):
        LINE.band(widths=[(99.9999, 0), (100, 8)], ends="taper")


def test_round_ends_that_meet_close_the_band_to_a_ring() -> None:
    # Three millimetres are left open of a circle of radius 20; its ends are half circles of radius 4.
    angle = 2 * np.pi - 3 / 20
    ring = bd.Curve.from_svg_path(f"M20 0A20 20 0 1 1 {20 * np.cos(angle)} {20 * np.sin(angle)}")
    outline = ring.band(widths=[(0, 8), (ring.length, 8)], ends="round")
    assert outline.polygon.is_valid
    assert len(outline.holes) == 1
    line = shapely.LineString(ring.flattened(1e-4)).buffer(4, quad_segs=200)
    assert outline.area == pytest.approx(line.area, rel=1e-4)
    assert outline.polygon.symmetric_difference(line).area < 0.01 * line.length


def test_a_bend_that_tightens_below_half_the_width_at_the_end_keeps_what_was_swept() -> None:
    # The radius falls to 20 mm at the end; half the width is 22: there the inner edge turns back, crossing nothing.
    bend = clothoid(20, 100, pieces=12)
    half = 22.0
    outline = bend.band(widths=[(0, 2 * half), (bend.length, 2 * half)])
    wanted = swept(bend, half)
    assert outline.polygon.symmetric_difference(wanted).area < 0.01 * outline.exterior.length
    # What lies beyond the line across the end is far more than that.
    (x, y), (tx, ty) = bend.end, bend.tangent_at(bend.length)
    corners = np.array([(0, 40), (40, 40), (40, -40), (0, -40)])
    beyond = shapely.Polygon(np.array([x, y]) + corners @ np.array([(tx, ty), (-ty, tx)]))
    assert wanted.intersection(beyond).area > 0.05 * outline.exterior.length


def test_a_ring_that_fills_its_own_middle_has_no_hole() -> None:
    # Its inner edge has turned about into a circle of radius 10, which the outer one holds.
    outline = CIRCLE.band(widths=[(0, 120), (CIRCLE.length, 120)])
    assert outline.holes == ()
    assert outline.area == pytest.approx(np.pi * 110**2, rel=1e-4)


@pytest.mark.parametrize(
    ("widths", "off"), [([(-500, 4), (-400, 8)], -500), ([(0, 4), (100.1, 8)], 100.1), ([(-1e-3, 4)], -0.001)]
)
def test_widths_off_the_curve_are_refused(widths: list[tuple[float, float]], off: float) -> None:
    message = f"widths along a curve of 100 mm cannot be given at {off:g} mm"
    with pytest.raises(bd.CurveError, match=message):
        LINE.band(widths=widths)


def test_widths_may_be_off_the_curve_by_rounding() -> None:
    hair = 1e-11
    outline = LINE.band(widths=[(-hair, 4), (100 + hair, 10)])
    assert outline.area == pytest.approx(700, rel=1e-9)
