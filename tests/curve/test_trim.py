"""Trimming: what is kept of a band's rails is what lies nowhere nearer to the centreline than half the width.

Judged by distances shapely measures from a line hundreds of times finer than the tolerance, at places of our own
choosing along every stretch.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely
from reference_curves import random_vine

from bias_drafting.curve import sampled as sampled_module
from bias_drafting.curve import trim as trim_module
from bias_drafting.curve import united as united_module
from bias_drafting.curve.curve import Curve
from bias_drafting.curve.measure import build_chain
from bias_drafting.curve.nodes import Nodes, build_nodes
from bias_drafting.curve.parallel import band_rings
from bias_drafting.curve.rails import ALONG, build_rails
from bias_drafting.curve.rings import RIGHT, signed_area
from bias_drafting.curve.trim import Edge, find_edge
from bias_drafting.curve.united import united_rings
from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from bias_drafting.curve.sampled import Branch

    Array = NDArray[np.float64]

TOLERANCE = 0.01
FINEST = 2e-5
# A stretch left out although it hardly comes nearer is no longer than this many times the tolerance.
SHORT = 20

OPEN = {
    "straight": Curve.from_points([(0, 0), (70, 20)]),
    "wave": Curve.from_svg_path("M0 100C40 0 80 0 120 60S200 100 240 20"),
    "bend of radius 2": Curve.from_svg_path("M0 0H30A2 2 0 0 1 32 2V40"),
    "hairpin": Curve.from_svg_path("M0 0H60A2 2 0 0 1 60 4H0"),
    "narrow hairpin": Curve.from_svg_path("M0 0C80 1 80 9 0 12"),
    "square corner": Curve.from_points([(0, 0), (40, 0), (40, 40)]),
    "sharp corner": Curve.from_points([(0, 0), (60, 0), (5, 12)]),
    "zigzag": Curve.from_points([(0, 0), (30, 25), (60, 0), (90, 25), (120, 0)]),
    "loop": Curve.from_svg_path("M0 60C100 60 90 0 50 0S0 60 100 60"),
    "small loop": Curve.from_svg_path("M0 30C70 30 40 5 35 12S20 30 90 30"),
    "curl": Curve.from_svg_path("M0 0C60 0 60 40 30 40S10 14 28 14 40 30 31 29"),
    "cusp": Curve.from_svg_path("M0 0C60 60 0 60 60 0"),
    "drawn-in handles": Curve.from_svg_path("M0 0C0 0 50 0 50 40C50 40 60 70 100 70"),
    "its end within itself": Curve.from_points([(0, 0), (60, 0), (60, 12), (30, 4)]),
    **{f"vine {k}": Curve(random_vine(np.random.default_rng(k), 7)) for k in range(3)},
}
RINGS = {
    "square": Curve.from_points([(0, 0), (40, 0), (40, 40), (0, 40)], closed=True),
    "the other way": Curve.from_points([(0, 0), (0, 40), (40, 40), (40, 0)], closed=True),
    "circle": Curve.from_svg_path("M30 0A30 30 0 0 1 -30 0A30 30 0 0 1 30 0Z"),
    "star": Curve.from_points([(50, 0), (10, 62), (95, 30), (5, 28), (88, 66)], closed=True),
    "drop": Curve.from_svg_path("M0 0C50 20 50 80 0 80S-50 20 0 0Z"),
    "eight": Curve.from_svg_path("M0 0C60 60 120 -60 60 -60S-60 60 0 60 60 0 0 0Z"),
}
CURVES = OPEN | RINGS
HALVES = (1.0, 3.175, 9.0)
every_band = pytest.mark.parametrize(("name", "half"), [(name, half) for name in CURVES for half in HALVES])


def nodes_of(curve: Curve) -> Nodes:
    return build_nodes(build_chain(curve.controls, curve.closed))


@cache
def edge_of(name: str, half: float) -> Edge:
    edge = find_edge(nodes_of(CURVES[name]), CURVES[name].closed, half, TOLERANCE)
    assert edge is not None
    return edge


@cache
def tree_of(name: str) -> shapely.STRtree:
    line = CURVES[name].flattened(FINEST)
    return shapely.STRtree(shapely.linestrings(np.stack([line[:-1], line[1:]], axis=1)))


def away(name: str, points: Array) -> Array:
    """The distance of each point from the nearest place of the centreline."""
    _, distance = tree_of(name).query_nearest(shapely.points(points), return_distance=True, all_matches=False)
    nearest: Array = distance
    return nearest


def along(edge: Edge, count: int) -> Array:
    """Points ``(k, count, 2)`` evenly along every stretch, both ends included."""
    share = np.linspace(0, 1, count)
    position = edge.begin[:, None] + (edge.finish - edge.begin)[:, None] * share
    # The end of a stretch is the end of its last step, not the beginning of whatever step comes next.
    step = np.minimum(position.astype(np.intp), np.ceil(edge.finish).astype(np.intp)[:, None] - 1)
    points = edge.rails.at(step.ravel(), (position - step).ravel())[0].reshape(position.shape)
    return np.stack([points.real, points.imag], axis=2)


def kept(edge: Edge) -> NDArray[np.bool_]:
    used = np.zeros(len(edge.begin), dtype=bool)
    used[[k for ring in edge.rings for k in ring]] = True
    return used


@every_band
def test_what_is_kept_is_nowhere_nearer_and_what_is_left_out_is_somewhere(name: str, half: float) -> None:
    edge = edge_of(name, half)
    points = along(edge, 41)
    inside = points[:, 1:-1]
    gap = away(name, inside.reshape(-1, 2)).reshape(inside.shape[:2]) - half
    used = kept(edge)
    assert gap[used].min() > -TOLERANCE / 10
    assert gap[used].max() < 2 * FINEST
    size = np.hypot(*np.moveaxis(np.diff(points, axis=1), -1, 0)).sum(axis=1)
    nearest = gap.min(axis=1)
    assert ((nearest < -FINEST) | (size < SHORT * TOLERANCE))[~used].all()
    # And hardly so only at crossings so slight that what is beyond them is short.
    assert (nearest[~used] < FINEST).all()


@every_band
def test_stretches_are_all_of_the_rails_and_each_of_one_kind(name: str, half: float) -> None:
    edge = edge_of(name, half)
    rails = edge.rails
    assert (edge.begin < edge.finish).all()
    assert (edge.begin[0], edge.finish[-1]) == (0, len(rails.a))
    assert (edge.finish[:-1] == edge.begin[1:]).all()
    for begin, finish, kind, side in zip(edge.begin, edge.finish, edge.kind, edge.side, strict=True):
        steps = np.arange(int(begin), int(np.ceil(finish)))
        assert {*rails.kind[steps]} == {kind}
        assert {*rails.side[steps]} == {side}
        # No break within: the steps of a stretch follow one another.
        assert (rails.follows[steps[:-1]] == steps[1:]).all()
        assert len({*rails.origin[steps]}) == 1


@every_band
def test_rings_are_closed_and_have_the_band_on_their_left(name: str, half: float) -> None:
    edge = edge_of(name, half)
    points = along(edge, 2)
    assert len({k for ring in edge.rings for k in ring}) == sum(map(len, edge.rings))
    for ring in edge.rings:
        for one, other in pairwise([*ring, ring[0]]):
            assert np.hypot(*(points[one, -1] - points[other, 0])) < TOLERANCE / 10
    # As seen on the page, y down: the outermost runs counter-clockwise, holes clockwise.
    areas = [shoelace(loop_of(edge, ring)) for ring in edge.rings]
    outer = int(np.argmax(np.abs(areas)))
    assert areas[outer] < 0
    assert all(area > 0 for k, area in enumerate(areas) if k != outer)


def loop_of(edge: Edge, ring: tuple[int, ...]) -> Array:
    """A ring as a polygon, each step of its rails in ten parts."""
    loop = []
    for k in ring:
        begin, finish = edge.begin[k], edge.finish[k]
        position = np.concatenate([[begin], np.arange(np.floor(begin * 10) + 1, np.ceil(finish * 10)) / 10])
        step = position.astype(np.intp)
        loop.append(edge.rails.at(step, position - step)[0])
    points = np.concatenate(loop)
    return np.stack([points.real, points.imag], axis=1)


def shoelace(loop: Array) -> float:
    """The area within a polygon, positive if it runs clockwise on the page."""
    after = np.roll(loop, -1, axis=0)
    return float((loop[:, 0] * after[:, 1] - loop[:, 1] * after[:, 0]).sum() / 2)


@every_band
def test_rings_enclose_what_a_buffer_does(name: str, half: float) -> None:
    edge, curve = edge_of(name, half), CURVES[name]
    loops = [loop_of(edge, ring) for ring in edge.rings]
    loops.sort(key=lambda loop: -abs(shoelace(loop)))
    polygon = shapely.Polygon(loops[0], [loop for loop in loops[1:] if abs(shoelace(loop)) > TOLERANCE**2])
    # The buffer of a closed line may lose its middle; those of its two halves do not.
    line = np.asarray(
        shapely.get_coordinates(shapely.segmentize(shapely.LineString(curve.flattened(1e-3)), 20))
    )
    halves = [line[: len(line) // 2 + 1], line[len(line) // 2 :]]
    buffer = shapely.union_all([shapely.LineString(part).buffer(half, quad_segs=64) for part in halves])
    assert polygon.buffer(0).symmetric_difference(buffer).area <= TOLERANCE * polygon.length
    # A hole no wider than a crossing is exact may be there or not.
    assert len(polygon.interiors) == sum(
        shapely.Polygon(hole).area > TOLERANCE**2 for hole in buffer.interiors
    )


@pytest.mark.parametrize("half", HALVES)
@pytest.mark.parametrize("name", OPEN)
def test_ends_are_whole_where_no_other_part_of_the_band_covers_them(name: str, half: float) -> None:
    curve, angle = OPEN[name], np.linspace(-np.pi / 2, np.pi / 2, 401)
    caps = []
    for point, travel in (
        (curve.start, -curve.tangent_at(0)),
        (curve.end, curve.tangent_at(curve.length)),
    ):
        out = complex(*travel) * np.exp(1j * angle) * half + complex(*point)
        caps.append(np.stack([out.real, out.imag], axis=1))
    nearest = away(name, np.concatenate(caps)).min() - half
    # The line from which that is measured runs inside of every bend by up to what it is fine.
    if edge_of(name, half).ends_are_whole:
        assert nearest > -2 * FINEST
    else:
        assert nearest < -FINEST / 10


def test_ends_both_whole_and_covered_are_among_the_curves() -> None:
    whole = {name: edge_of(name, 3.175).ends_are_whole for name in OPEN}
    assert whole["straight"]
    assert whole["loop"]
    assert not whole["its end within itself"]
    assert not whole["hairpin"]


@pytest.mark.parametrize("end", [0, 1])
@pytest.mark.parametrize(
    ("late", "early"), [(0.3, 0.0), (0.0, 0.3), (0.3, 0.3), (1.0, 0.0), (0.0, 1.0), (0.0, 1.3)]
)
def test_an_end_of_which_a_little_is_covered_is_not_whole(end: int, late: float, early: float) -> None:
    edge = edge_of("straight", 3.175)
    assert edge.ends_are_whole
    number = np.flatnonzero(kept(edge) & (edge.side == 0))[end]
    begin, finish = edge.begin.copy(), edge.finish.copy()
    begin[number] += late
    finish[number] -= early
    assert not replace(edge, begin=begin, finish=finish).ends_are_whole


@pytest.mark.parametrize("share", [0.5, 1.0])
def test_an_end_in_two_stretches_is_not_whole(share: float) -> None:
    # Put down straight, it would be two lines with a corner between them.
    edge = edge_of("straight", 3.175)
    number = int(np.flatnonzero(kept(edge) & (edge.side == 0))[0])
    cut = edge.begin[number] + share
    begin = np.insert(edge.begin, number + 1, cut)
    finish = np.insert(edge.finish, number, cut)
    kind, side = (np.insert(x, number, x[number]) for x in (edge.kind, edge.side))
    rings = tuple(tuple(range(len(begin))) for _ in edge.rings)
    assert not Edge(edge.rails, begin, finish, kind, side, rings).ends_are_whole


def test_both_ends_within_the_band_are_not_whole() -> None:
    # From inside one ring to inside the other: no part of the half circles round the ends is edge.
    path = "M0 0H10V10H-10V-10H50V10H30V0H40"
    edge = find_edge(nodes_of(Curve.from_svg_path(path)), False, 8.0, TOLERANCE)
    assert edge is not None
    used = kept(edge)
    assert (edge.side[used] != 0).all()
    assert not edge.ends_are_whole


@pytest.mark.parametrize("name", RINGS)
def test_a_ring_has_no_ends_to_lose(name: str) -> None:
    assert all(edge_of(name, half).ends_are_whole for half in HALVES)


@pytest.mark.parametrize("tolerance", [0.3, 0.03, 0.003])
@pytest.mark.parametrize("name", ["small loop", "cusp", "vine 1", "star"])
def test_trimmed_alike_at_every_tolerance(name: str, tolerance: float) -> None:
    edge = find_edge(nodes_of(CURVES[name]), CURVES[name].closed, 3.175, tolerance)
    assert edge is not None
    points = along(edge, 61)[kept(edge), 1:-1]
    assert away(name, points.reshape(-1, 2)).min() > 3.175 - tolerance / 10 - FINEST
    area, same = (sum(shoelace(loop_of(e, ring)) for ring in e.rings) for e in (edge, edge_of(name, 3.175)))
    assert area == pytest.approx(same, abs=2 * tolerance)


@pytest.mark.parametrize(
    "curve",
    [
        Curve.from_points([(0, 0), (40, 0), (10, 0)]),
        Curve.from_svg_path("M0 0C60 60 120 -60 120 0S60 60 0 0"),
    ],
    ids=["there and back", "both ends in one place"],
)
def test_rails_on_top_of_one_another_settle_nothing_and_the_band_is_right_all_the_same(curve: Curve) -> None:
    nodes = nodes_of(curve)
    assert find_edge(nodes, False, 3.0, TOLERANCE) is None
    found = band_rings(nodes, False, 6.0, True, TOLERANCE)
    buffer = shapely.LineString(curve.flattened(1e-4)).buffer(3.0, quad_segs=200)
    loops = [Curve(ring, closed=True).flattened(1e-4) for ring in found]
    polygon = shapely.Polygon(loops[0], loops[1:])
    assert polygon.symmetric_difference(buffer).area <= TOLERANCE * polygon.length
    assert len(polygon.interiors) == len(buffer.interiors)


@pytest.mark.parametrize("across", [25.0, 1.8, 58.2])
def test_a_stretch_is_tried_at_many_places(across: float) -> None:
    # As if no crossing had been found: a leg of 60 mm, crossed by another over 2 mm where one place tried is.
    curve = Curve.from_points([(0, 0), (60, 0), (60, -40), (across, -40), (across, 30)])
    rails, none = build_rails(nodes_of(curve), False, 1.0, TOLERANCE), np.empty(0)
    stretches = trim_module._stretches(rails, none, none)
    clear = trim_module._on_the_edge(rails, stretches, TOLERANCE)
    leg = [
        k
        for k, step in enumerate(stretches.begin.astype(int))
        if rails.side[step] != 0 and rails.piece[step] == 0
    ]
    leg = [k for k in leg if rails.kind[int(stretches.begin[k])] == ALONG]
    assert len(leg) == 2
    assert not clear[leg].any()


@pytest.mark.parametrize("count", [2, 3, 23, 24, 25, 26, 47, 48, 49, 50, 200])
def test_short_lines_are_all_of_the_line(count: int) -> None:
    x = np.arange(count) * 1.0
    lines = trim_module._short_lines(np.stack([x, np.sin(x)], axis=1))
    whole = shapely.LineString(np.stack([x, np.sin(x)], axis=1))
    assert sum(line.length for line in lines) == pytest.approx(whole.length, rel=1e-12)
    assert shapely.union_all(lines).equals(whole)
    assert all(2 <= shapely.get_num_coordinates(line) <= 25 for line in lines)


# --- the sure and slow way, against the quick one ---------------------------------------------------------------


@pytest.mark.parametrize("half", [1.0, 3.175])
@pytest.mark.parametrize(
    "name", ["wave", "hairpin", "sharp corner", "zigzag", "loop", "cusp", "vine 1", "square", "drop"]
)
def test_united_strips_make_the_same_band(name: str, half: float) -> None:
    curve = CURVES[name]
    nodes = nodes_of(curve)
    slow = [ring.controls for ring in united_rings(nodes, curve.closed, half, True, TOLERANCE)]
    quick = band_rings(nodes, curve.closed, 2 * half, True, TOLERANCE)
    assert len(slow) == len(quick)
    polygons = []
    for rings in (slow, quick):
        loops = [Curve(ring, closed=True).flattened(1e-4) for ring in rings]
        polygons.append(shapely.Polygon(loops[0], loops[1:]))
    length = polygons[0].length
    assert polygons[0].symmetric_difference(polygons[1]).area <= TOLERANCE * length
    assert sum(map(signed_area, quick)) == pytest.approx(polygons[0].area, abs=TOLERANCE * length)


def test_square_ends_covered_by_another_part_of_the_band() -> None:
    curve = OPEN["its end within itself"]
    assert not edge_of("its end within itself", 3.175).ends_are_whole
    rings = band_rings(nodes_of(curve), False, 6.35, False, TOLERANCE)
    loops = [Curve(ring, closed=True).flattened(1e-4) for ring in rings]
    polygon = shapely.Polygon(loops[0], loops[1:])
    buffer = shapely.LineString(curve.controls[[0, 1, 2, 2], [0, 0, 0, 3]]).buffer(
        3.175, quad_segs=200, cap_style="flat"
    )
    assert polygon.symmetric_difference(buffer).area <= TOLERANCE * polygon.length


def test_a_union_that_lost_some_strips_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    strips = united_module._strips
    # Every other strip on the right of the line.
    monkeypatch.setattr(
        united_module, "_strips", lambda branch: strips(branch)[:: 1 + (branch.side == RIGHT)]
    )
    with pytest.raises(CurveError, match=r"half width 3 mm cannot be trimmed; the curve is too intricate"):
        united_rings(nodes_of(CURVES["wave"]), False, 3.0, True, TOLERANCE)


@pytest.mark.parametrize("more", [-0.004, -0.002, -5e-4, 0, 1e-4, 5e-4, 0.002, 0.004])
def test_a_ring_that_all_but_closes_is_closed_or_open(more: float) -> None:
    # Of a circle of radius 20, 5 mm are left open: half as wide, the round ends touch, on polygons sooner or later.
    angle = 2 * np.pi - 2 * np.arcsin(5 / 40)
    curve = Curve.from_svg_path(f"M20 0A20 20 0 1 1 {20 * np.cos(angle)} {20 * np.sin(angle)}")
    rings = united_rings(nodes_of(curve), False, 2.5 + more, True, TOLERANCE)
    closed = len(rings) == 2
    assert closed == (more > 0) or abs(more) < 2.5e-3
    # Open, it is one ring that holds the band; closed, two: either way as large as a buffer.
    buffer = shapely.LineString(curve.flattened(1e-4)).buffer(2.5 + more, quad_segs=400)
    area = abs(sum(signed_area(ring.controls) for ring in rings))
    assert area == pytest.approx(buffer.area, rel=1e-4)


def test_a_union_with_a_hole_too_many_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    # Half of one strip of 2 mm^2 is lost: less than all the rest may stray, but for the hole it leaves.
    strips = united_module._strips

    def torn(branch: Branch) -> Array:
        found = strips(branch)
        if branch.side == RIGHT:
            centre, edge = [0, 1, 4], [3, 2, 3]
            found[len(found) // 2, centre] = found[len(found) // 2][[centre, edge]].mean(axis=0)
        return found

    monkeypatch.setattr(united_module, "_strips", torn)
    with pytest.raises(CurveError, match="too intricate"):
        united_rings(nodes_of(CURVES["wave"]), False, 3.0, True, TOLERANCE)


def test_a_union_of_too_many_strips_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sampled_module, "_MOST_SAMPLES", 100)
    with pytest.raises(CurveError, match="takes more than 100 steps; ask for a larger tolerance"):
        united_rings(nodes_of(CURVES["wave"]), False, 3.0, True, TOLERANCE)
