"""Few cubics, all within the tolerance: parallel curves measured again, far denser than they were fitted."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely
from scipy.interpolate import CubicSpline
from scipy.spatial import cKDTree
from scipy.special import fresnel

from bias_drafting.curve.curve import Curve
from bias_drafting.curve.fitting import fit_stretches, fit_track, offset_points
from bias_drafting.curve.measure import build_chain
from bias_drafting.curve.nodes import build_nodes
from bias_drafting.curve.rings import circle_arcs, met, signed_area
from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from collections.abc import Callable

    Track = Callable[[np.ndarray], tuple[np.ndarray, np.ndarray]]
    Tracks = Callable[[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]]


def vine(seed: int, segments: int = 30, length: float = 694.0, least: float = 3.9) -> Curve:
    """Return the first smooth vine through scattered points, from ``seed`` on, as long and as tight as asked."""
    for k in range(seed, seed + 5000):
        random = np.random.default_rng(k)
        x = np.cumsum(np.append(0, random.uniform(12, 24, segments)))
        y = np.cumsum(random.normal(0, 7, segments + 1))
        points = np.stack([x, y - np.linspace(y[0], y[-1], segments + 1)], axis=1)
        u = np.append(0, np.cumsum(np.hypot(*np.diff(points, axis=0).T) ** 0.5))
        slope, step = CubicSpline(u, points)(u, 1), np.diff(u)[:, None] / 3
        handles = points[:-1] + slope[:-1] * step, points[1:] - slope[1:] * step
        curve = Curve(np.stack([points[:-1], *handles, points[1:]], axis=1))
        curve = Curve(curve.controls * (length / curve.length))
        if abs(curve.tightest().radius - least) < 0.1:
            return curve
    pytest.fail("no such vine")


VINES = [vine(100 * k) for k in range(2)]


def exact(curve: Curve, distance: float) -> np.ndarray:
    """Return points of the exact parallel curve, those of them that are no nearer to any part of the curve."""
    s = np.linspace(0, curve.length, 40_001)
    (tx, ty), points = curve.tangent_at(s).T, curve.point_at(s)
    offset = points + distance * np.stack([-ty, tx], axis=1)
    line = shapely.LineString(curve.flattened(1e-4))
    shapely.prepare(line)
    far: np.ndarray = offset[~shapely.dwithin(line, shapely.points(offset), abs(distance) - 2e-4)]
    return far


@pytest.mark.parametrize("distance", [3, -3, 9.35, -9.35])
@pytest.mark.parametrize("curve", VINES)
def test_a_vine_is_paralleled_to_a_hundredth_of_a_millimetre_both_ways(curve: Curve, distance: float) -> None:
    found, wanted = curve.parallel(distance, 0.01), exact(curve, distance)
    dense = np.concatenate([c.point_at(np.linspace(0, c.length, 12_000)) for c in found])
    # No point of the output further from the curve or nearer to it than the distance.
    assert np.abs(curve.locate(dense)[1] - abs(distance)).max() <= 0.01
    # No point of the exact parallel curve further from the output.
    near = np.min([c.locate(wanted)[1] for c in found], axis=0)
    assert near.max() <= 0.01
    # Few nodes: at most 1.4 a segment, and a twentieth of those of a polygon as fine.
    nodes = sum(map(len, found))
    assert nodes <= 1.4 * len(curve)
    line = shapely.LineString(curve.flattened(0.01))
    ring = shapely.get_num_coordinates(line.buffer(abs(distance), quad_segs=32))
    assert 2 * 20 * nodes <= 1.1 * ring


@pytest.mark.parametrize("tolerance", [0.1, 0.01, 1e-3, 1e-5])
def test_finer_is_closer_and_takes_more(tolerance: float) -> None:
    curve = VINES[0].section(0, 200)
    (found,) = curve.parallel(3, tolerance)
    (finer,) = curve.parallel(3, tolerance / 10)
    dense = found.point_at(np.linspace(0, found.length, 5000))
    assert np.abs(curve.locate(dense)[1] - 3).max() <= tolerance
    assert len(finer) > len(found)


def test_a_straight_stretch_takes_one_cubic() -> None:
    line = Curve.from_points([(0, 0), (20, 0), (50, 0), (90, 0)])
    assert [len(c) for c in line.parallel(4)] == [1]


@pytest.mark.parametrize("turn", [0.01, 0.5, 1.5, 3.1, 6.2])
@pytest.mark.parametrize("tolerance", [0.1, 0.01, 1e-6])
def test_arcs_keep_to_their_circle(turn: float, tolerance: float) -> None:
    begin = np.array([0.3, 2.0])
    cubics, owner = circle_arcs(np.array([[5.0, 7.0], [-3.0, 1.0]]), 9.0, begin, begin - turn, tolerance)
    for k, centre in enumerate([(5.0, 7.0), (-3.0, 1.0)]):
        arc = Curve(cubics[owner == k])
        away = np.hypot(*(arc.point_at(np.linspace(0, arc.length, 999)) - centre).T)
        assert np.abs(away - 9).max() <= tolerance
        assert arc.length == pytest.approx(9 * turn, rel=tolerance / 9 + 1e-9)


# --- exact curves of our own ------------------------------------------------------------------------------------

# By how much the polylines that are compared here stray from their curves.
CHORDS = 2e-6

# Each by its arc length: points, and unit directions, as complex numbers.


def on_circle(run: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    turned = np.exp(1j * run / 12)
    return 12 * turned + 3 + 4j, 1j * turned


def on_clothoid(run: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    # Straight at 0, of radius 8 at 30 mm.
    scale = np.sqrt(np.pi * 8 * 30)
    y, x = fresnel(run / scale)
    return scale * (x + 1j * y), np.exp(1j * run * run / (2 * 8 * 30))


def on_line_into_arc(run: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    # 20 mm straight, then at once a circle of radius 5: curvature jumps.
    angle = np.maximum(run - 20, 0) / 5
    return np.minimum(run, 20) + 5 * np.sin(angle) + 5j * (1 - np.cos(angle)), np.exp(1j * angle)


def on_straight_line(run: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    way = np.exp(0.3j)
    return run * way, np.full(run.shape, way)


# Curve, length, and at most so many cubics at a hundredth of a millimetre.
TRACKS: dict[str, tuple[Track, float, int]] = {
    "circle": (on_circle, 24 * np.pi, 5),
    "clothoid": (on_clothoid, 40.0, 3),
    "line into arc": (on_line_into_arc, 32.0, 5),
    "straight line": (on_straight_line, 50.0, 1),
}


def fitted(track: Track, length: float, tolerance: float) -> np.ndarray:
    knots = np.linspace(0, length, 60)
    cubics, owner = fit_track(lambda _, run: track(run), knots, np.array([0]), np.array([59]), tolerance)
    assert (owner == 0).all()
    return cubics


def densely(cubics: np.ndarray) -> np.ndarray:
    t = np.linspace(0, 1, 601)[:, None, None]
    p, u = np.moveaxis(cubics, 1, 0), 1 - t
    points: np.ndarray = p[0] * u**3 + 3 * p[1] * u * u * t + 3 * p[2] * u * t * t + p[3] * t**3
    return np.moveaxis(points, 1, 0).reshape(-1, 2)


def apart(one: np.ndarray, other: np.ndarray) -> float:
    """The two-sided distance of polylines this fine, each measured from the nearest chords of the other."""

    def furthest(points: np.ndarray, line: np.ndarray) -> float:
        line = line[np.append(True, np.abs(np.diff(line, axis=0)).max(axis=1) > 0)]
        _, nearest = cKDTree(line).query(points)
        best = np.full(len(points), np.inf)
        for shift in (-2, -1, 0, 1):  # the chords on either side of the nearest point
            k = np.clip(nearest + shift, 0, len(line) - 2)
            start, chord = line[k], line[k + 1] - line[k]
            share = np.clip(((points - start) * chord).sum(axis=1) / (chord * chord).sum(axis=1), 0, 1)
            best = np.minimum(best, np.hypot(*(points - start - share[:, None] * chord).T))
        return float(best.max())

    return max(furthest(one, other), furthest(other, one))


def exactly(track: Track, begin: float, end: float) -> np.ndarray:
    points, _ = track(np.linspace(begin, end, 12_001))
    return np.stack([points.real, points.imag], axis=1)


@pytest.mark.parametrize("tolerance", [0.3, 0.01, 1e-4, 1e-5])
@pytest.mark.parametrize("name", TRACKS)
def test_fits_are_within_the_tolerance_both_ways(name: str, tolerance: float) -> None:
    track, length, _ = TRACKS[name]
    cubics = fitted(track, length, tolerance)
    assert apart(densely(cubics), exactly(track, 0, length)) <= tolerance + CHORDS
    # Laid end to end, from the exact start to the exact end.
    assert (cubics[1:, 0] == cubics[:-1, 3]).all() or np.abs(cubics[1:, 0] - cubics[:-1, 3]).max() < 1e-12
    ends, ways = track(np.array([0.0, length]))
    for point, way, row, pair in ((ends[0], ways[0], 0, (0, 1)), (ends[1], ways[1], -1, (2, 3))):
        corner = cubics[row, pair[0] if row == 0 else pair[1]]
        assert complex(*corner) == pytest.approx(point, abs=1e-12)
        handle = complex(*(cubics[row, pair[1]] - cubics[row, pair[0]]))
        assert handle / abs(handle) == pytest.approx(way, abs=1e-9)


@pytest.mark.parametrize("name", TRACKS)
def test_fits_are_few_and_smooth(name: str) -> None:
    track, length, most = TRACKS[name]
    cubics = fitted(track, length, 0.01)
    assert len(cubics) <= most
    arrive, leave = cubics[:-1, 3] - cubics[:-1, 2], cubics[1:, 1] - cubics[1:, 0]
    across = arrive[:, 0] * leave[:, 1] - arrive[:, 1] * leave[:, 0]
    assert (np.abs(across) < 1e-9 * np.hypot(*arrive.T) * np.hypot(*leave.T)).all()
    # No cubic runs backward.
    assert ((arrive * leave).sum(axis=1) > 0).all()


@pytest.mark.parametrize(
    ("cubic", "most"),
    [
        (np.array([[0.0, 0], [30, 5], [50, 20], [60, 50]]), 1),
        (np.array([[0.0, 0], [20, 30], [45, -20], [60, 10]]), 2),
        (np.array([[0.0, 0], [10, 0], [35, 0], [60, 0]]), 1),
    ],
    ids=["arch", "wave", "straight"],
)
def test_a_cubic_is_given_back_as_a_cubic_or_two(cubic: np.ndarray, most: int) -> None:
    curve = Curve(cubic[None])

    def track(run: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        along = np.clip(run, 0, curve.length)
        return tuple(xy @ np.array([1, 1j]) for xy in (curve.point_at(along), curve.tangent_at(along)))

    found = fitted(track, curve.length, 0.01)
    assert len(found) <= most
    assert apart(densely(found), densely(cubic[None])) <= 0.01
    assert found[[0, -1], [0, 3]] == pytest.approx(cubic[[0, 3]], abs=1e-12)


def one_of(at: Tracks, k: int) -> Track:
    return lambda run: at(np.full(len(run), k), run)


def laid_end_to_end() -> tuple[Tracks, np.ndarray]:
    """Five curves in one run of arc lengths, each far from the one before: how far along each begins and ends."""
    tracks: list[Track] = [on_circle, on_clothoid, on_straight_line, on_line_into_arc, on_circle]
    edges = np.array([0.0, 30, 55, 55.3, 85, 160])
    away = np.array([0, 200 + 10j, -70j, 400, 800j])

    def at(owner: np.ndarray, run: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        both = [track(run - edges[k]) for k, track in enumerate(tracks)]
        points, ways = (np.choose(owner, [pair[j] for pair in both]) for j in (0, 1))
        return points + away[owner], ways

    return at, edges


@pytest.mark.parametrize("tolerance", [0.1, 1e-3, 1e-5])
def test_curves_laid_end_to_end_in_one_run_that_end_elsewhere_than_the_next_begin(tolerance: float) -> None:
    at, edges = laid_end_to_end()
    count = np.array([9, 14, 2, 30, 45])
    knots = np.concatenate([np.linspace(edges[k], edges[k + 1], n) for k, n in enumerate(count)])
    last = np.cumsum(count) - 1
    cubics, owner = fit_track(at, knots, last - count + 1, last, tolerance)
    assert (np.diff(owner) >= 0).all()
    assert {*owner} == set(range(5))
    for k in range(5):
        wanted = exactly(one_of(at, k), edges[k], edges[k + 1])
        mine = cubics[owner == k]
        assert np.abs(mine[1:, 0] - mine[:-1, 3]).max(initial=0) < 1e-9
        assert apart(densely(mine), wanted) <= tolerance + CHORDS
        assert mine[[0, -1], [0, 3]] == pytest.approx(wanted[[0, -1]], abs=1e-9)


def test_a_curve_of_no_length_between_others_is_one_cubic_in_its_place() -> None:
    away = np.array([0, 7, 50 + 3j])

    def at(owner: np.ndarray, run: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        points, ways = on_circle(run)
        return points + away[owner], ways

    knots = np.concatenate([np.linspace(0, 10, 6), [10, 10], np.linspace(10, 20, 6)])
    cubics, owner = fit_track(at, knots, np.array([0, 6, 8]), np.array([5, 7, 13]), 1e-3)
    assert owner.tolist() == [0, 1, 2]
    place = on_circle(np.array([10.0]))[0] + 7
    assert cubics[1] == pytest.approx(np.tile([place.real[0], place.imag[0]], (4, 1)), abs=1e-12)
    for k in (0, 2):
        points = exactly(one_of(at, k), 5.0 * k, 5.0 * k + 10)
        assert apart(densely(cubics[[k]]), points) <= 1e-3


def test_a_curve_that_cannot_be_fitted_is_refused() -> None:
    # Toward its start it swings a millimetre to either side, ever faster: every part that begins there misses.
    def swinging(run: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        phase = 3 * np.log(np.maximum(run, 1e-300))
        slope = np.where(run > 0, 3 * np.cos(phase), 0.0)
        way = run + 1j * slope  # dy/dx = slope / run
        return run + 1j * np.where(run > 0, np.sin(phase), 0.0), np.where(
            run > 0, way / np.abs(way + (run == 0)), 1
        )

    with pytest.raises(CurveError, match=r"cannot be fitted to within 0\.1 mm; ask for a larger tolerance"):
        fitted(swinging, 50, 0.1)
    # From a thousandth of a millimetre on it is fitted, halved over and over.
    run = np.geomspace(1e-3, 50 + 1e-3, 12_001)
    points, _ = swinging(run)
    cubics = fitted(lambda along: swinging(along + 1e-3), 50, 0.1)
    assert apart(densely(cubics), np.stack([points.real, points.imag], axis=1)) <= 0.1 + CHORDS
    # A tolerance wider than the swing is met.
    cubics = fitted(swinging, 50, 2.5)
    assert np.abs(densely(cubics)[:, 1]).max() < 3.5


def test_what_shows_at_a_knot_alone_is_seen() -> None:
    # A bump of a tenth of a millimetre, 0.3 mm long, on a straight line of 40 mm: wherever the line is looked at
    # evenly, it lies between.
    knots = np.linspace(0, 40, 27)
    top = knots[10]

    def bumped(run: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        x = np.clip((run - top) / 0.15, -1, 1)
        way = 1 + 1j * np.where(np.abs(x) < 1, -0.4 / 0.15 * x * (1 - x * x), 0.0)
        return run + 0.1j * (1 - x * x) ** 2, way / np.abs(way)

    cubics, _ = fit_track(lambda _, run: bumped(run), knots, np.array([0]), np.array([26]), 0.01)
    assert np.hypot(*(densely(cubics) - [top, 0.1]).T).min() <= 0.01 + 1e-3


# --- stretches of a chain ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("distance", [-4.0, 2.5])
def test_stretches_of_a_chain_against_offsets_by_curve(distance: float) -> None:
    curve = VINES[0].section(0, 160)
    nodes = build_nodes(build_chain(curve.controls, False))
    # From within one segment to within another, out of order, and one that ends and one that begins at a joint.
    begin, finish = np.array([2.3, 0.2, 4.0, 3.1]), np.array([3.9, 1.0, 5.5, 3.2])
    assert len(curve) >= 6
    cubics, owner = fit_stretches(nodes, begin, finish, np.full(4, distance), 0.005)
    assert (np.diff(owner) >= 0).all()
    for k in range(4):
        at = np.linspace(begin[k], finish[k], 8001)
        piece = np.minimum(at.astype(int), int(np.ceil(finish[k])) - 1)
        c, t = curve.controls[piece], (at - piece)[:, None]
        d = np.diff(c, axis=1)
        way = d[:, 0] * (1 - t) ** 2 + 2 * d[:, 1] * t * (1 - t) + d[:, 2] * t * t
        point = (
            c[:, 0] * (1 - t) ** 3
            + 3 * c[:, 1] * t * (1 - t) ** 2
            + 3 * c[:, 2] * t * t * (1 - t)
            + c[:, 3] * t**3
        )
        wanted = point + distance * np.stack([-way[:, 1], way[:, 0]], axis=1) / np.hypot(*way.T)[:, None]
        assert apart(densely(cubics[owner == k]), wanted) <= 0.005 + CHORDS
        assert cubics[owner == k][0, 0] == pytest.approx(wanted[0], abs=1e-9)
        assert cubics[owner == k][-1, 3] == pytest.approx(wanted[-1], abs=1e-9)


def test_no_stretches_are_no_cubics() -> None:
    nodes = build_nodes(build_chain(VINES[0].controls, False))
    none = np.empty(0)
    cubics, owner = fit_stretches(nodes, none, none, none, 0.01)
    assert (cubics.shape, owner.shape) == ((0, 4, 2), (0,))


def test_points_at_a_distance_lie_to_the_right_of_travel() -> None:
    # Travel along x, y down: right is down.
    line = np.array([[[0.0, 0], [10, 0], [20, 0], [30, 0]]])
    assert offset_points(line, np.array([0.5]), np.array([4.0])) == pytest.approx(np.array([[15, 4]]))


# --- rings ------------------------------------------------------------------------------------------------------


def square_with_gaps(gap: float) -> np.ndarray:
    corners = np.array([[0.0, 0], [40, 0], [40, 40], [0, 40]])
    after = np.roll(corners, -1, axis=0)
    sides = np.stack([corners + (after - corners) * k / 3 for k in range(4)], axis=1)
    random = np.random.default_rng(4)
    shifted: np.ndarray = sides + random.uniform(-gap, gap, (4, 1, 2))
    return shifted


def test_gaps_between_neighbours_are_closed_to_the_last_bit_by_half_of_each() -> None:
    loose = square_with_gaps(0.01)
    closed, chain = met(loose, ring=True), met(loose, ring=False)
    assert (closed[:, 0] == np.roll(closed[:, 3], 1, axis=0)).all()
    assert (chain[1:, 0] == chain[:-1, 3]).all()
    # Each joint lies half way; handles keep to their ends, so that straight lines stay straight.
    assert closed[:, 0] == pytest.approx((loose[:, 0] + np.roll(loose[:, 3], 1, axis=0)) / 2, abs=1e-12)
    assert closed[:, 1] == pytest.approx((2 * closed[:, 0] + closed[:, 3]) / 3, abs=1e-12)
    assert closed[:, 2] == pytest.approx((closed[:, 0] + 2 * closed[:, 3]) / 3, abs=1e-12)
    # An open chain keeps its own two ends.
    assert (chain[0, 0] == loose[0, 0]).all()
    assert (chain[-1, 3] == loose[-1, 3]).all()


def test_joints_are_met_to_the_last_bit_whatever_the_coordinates() -> None:
    random = np.random.default_rng(8)
    # Some so near the origin that the gap itself is rounded.
    joints = random.uniform(-300, 300, (500, 2)) * 10 ** random.uniform(-7, 0, (500, 1))
    cubics = np.stack(
        [joints, joints + 1, np.roll(joints, -1, axis=0) - 1, np.roll(joints, -1, axis=0)], axis=1
    )
    cubics += random.normal(0, 1e-3, cubics.shape)
    closed = met(cubics, ring=True)
    assert (closed[:, 0] == np.roll(closed[:, 3], 1, axis=0)).all()


def test_areas_by_their_sign_and_against_polygons() -> None:
    right_round = square_with_gaps(0.0)  # along x, then down: clockwise on the page
    assert signed_area(right_round) == pytest.approx(1600, rel=1e-14)
    assert signed_area(right_round[::-1, ::-1]) == pytest.approx(-1600, rel=1e-14)
    bulged = right_round + np.random.default_rng(1).normal(0, 3, (4, 4, 2)) * np.array([0, 1, 1, 0])[:, None]
    polygon = shapely.Polygon(densely(bulged))
    assert signed_area(bulged) == pytest.approx(polygon.area, rel=1e-5)
    # Far from the origin no figures are lost.
    assert signed_area(bulged + 1e8) == pytest.approx(signed_area(bulged), rel=1e-6)


@pytest.mark.parametrize("turn", [1.0, np.pi / 2, 3.0])
def test_a_cubic_of_an_arc_strays_outward_only_and_by_what_algebra_says(turn: float) -> None:
    # With handles of 4/3 tan(a/4), x^2 + y^2 - 1 reaches 4/27 sin^6(a/4) / cos^2(a/4), and is nowhere negative.
    cubics, _ = circle_arcs(np.zeros((1, 2)), 1.0, np.zeros(1), np.array([turn]), 1.0)
    step = turn / len(cubics)
    square = (densely(cubics) ** 2).sum(axis=1) - 1
    assert square.max() == pytest.approx(4 / 27 * np.sin(step / 4) ** 6 / np.cos(step / 4) ** 2, rel=1e-3)
    assert square.min() > -1e-14
    # And no more cubics than it takes: one in ten fewer would stray too far.
    for tolerance in (1e-3, 1e-5, 1e-7):
        count = len(circle_arcs(np.zeros((1, 2)), 1.0, np.zeros(1), np.array([6.2]), tolerance)[0])
        fewer = 6.2 / int(0.9 * count)
        assert 2 / 27 * np.sin(fewer / 4) ** 6 / np.cos(fewer / 4) ** 2 > tolerance or count <= 4
