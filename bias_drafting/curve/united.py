"""Uniting: the boundary of a band whose rails do not settle it, from the union of all its strips.

Which parts of the parallel curves remain is a question of topology, and is answered on fine polygons: the band is
laid out as strips between neighbouring normals, with fans at corners and round ends, and all are united. Every
corner of those polygons lies on a parallel curve at a known place, on a fine grid, and the union keeps it; so each
stretch of the united boundary is recognised and fitted to the exact curve, not to the polygon.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from bias_drafting.curve import bezier
from bias_drafting.curve.fitting import fit_stretches, offset_points
from bias_drafting.curve.loops import without_loops
from bias_drafting.curve.rings import END, LEFT, RIGHT, STRAIGHT, Ring, circle_arcs, met
from bias_drafting.curve.sampled import FIT_SHARE, Branch, sampled
from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from bias_drafting.curve.measure import Chain
    from bias_drafting.curve.nodes import Nodes

    Array = NDArray[np.float64]
    IntArray = NDArray[np.intp]
    Marks = dict[tuple[int, ...], list[tuple[int, int]]]

__all__ = ["united_rings"]

# Of the tolerance, this is what the polygons may stray from the exact parallel curves.
_POLYGON_SHARE = 0.25
# Two polygons that stray differ by twice that.
_HAIR = 2.0
# Polygons are laid out on a grid this share of the tolerance fine.
_GRID = 1e-4


@dataclass(frozen=True, slots=True)
class _Run:
    """A stretch of boundary: along a branch between two places, or straight (``branch`` -1) between two points."""

    branch: int
    begin: float
    finish: float
    points: tuple[tuple[float, float], tuple[float, float]]


def united_rings(nodes: Nodes, closed: bool, half: float, round_ends: bool, tolerance: float) -> list[Ring]:
    """Return the boundary rings of the band of half width ``half``, the outermost first."""
    import shapely

    chain, stray = nodes.chain, _POLYGON_SHARE * tolerance
    branches = sampled(chain, half, stray)
    fans = _fans(chain, closed, branches, half, round_ends, stray)
    grid = _GRID * tolerance
    corners = np.rint(np.concatenate([_strips(b) for b in branches]) / grid) * grid
    strips = shapely.make_valid(shapely.polygons(corners))
    filled = [shapely.Polygon(np.rint(np.vstack([f.centre[:1], f.points]) / grid) * grid) for f in fans]
    largest = _united([*strips, *filled], chain, closed, half, stray, grid)
    holes = _holes(largest, tolerance**2)
    everything = [*branches, *fans]
    marks, edges = _marks(everything, grid), _Edges.of(everything)
    rings = []
    for loop in (largest.exterior, *holes):
        runs = _runs(np.asarray(loop.coords)[:-1, :2], marks, everything, edges, grid)
        rings.append(without_loops(_fitted(runs, nodes, everything, tolerance), tolerance))
    return rings


def _holes(polygon: Any, least: float) -> list[Any]:
    """Return the holes of a polygon but for slivers: rounding, nothing a person could find."""
    import shapely

    parts = shapely.get_parts(polygon)
    return [hole for part in parts for hole in part.interiors if shapely.Polygon(hole).area > least]


def _strips(branch: Branch) -> Array:
    """Return the quadrilaterals ``(m, 5, 2)`` between neighbouring normals on one side."""
    c, e = branch.centre, branch.points
    return np.stack([c[:-1], c[1:], e[1:], e[:-1], c[:-1]], axis=1)


def _fans(
    chain: Chain, closed: bool, branches: list[Branch], half: float, round_ends: bool, stray: float
) -> list[Branch]:
    """Return the arcs that fill the outer sides of corners and round the ends, rim points met to the last bit."""
    rights = [b for b in branches if b.side == RIGHT]
    lefts = [b for b in branches if b.side == LEFT]
    jobs: list[tuple[int, Array, Array, Array, float]] = []  # side, centre, first and last point, turn
    after = list(range(1, len(rights))) + ([0] if closed else [])
    for k in after:
        turn = float(chain.corners[int(rights[k].place[0])])
        side, stretch = (LEFT, lefts) if turn > 0 else (RIGHT, rights)
        if turn != 0:
            jobs.append((side, stretch[k].centre[0], stretch[k - 1].points[-1], stretch[k].points[0], turn))
    if round_ends and not closed:
        jobs.append((END, rights[-1].centre[-1], rights[-1].points[-1], lefts[-1].points[-1], -np.pi))
        jobs.append((END, rights[0].centre[0], lefts[0].points[0], rights[0].points[0], -np.pi))
    step = np.sqrt(8 * stray / half)
    fans = []
    for side, centre, begin, finish, turn in jobs:
        first = float(np.arctan2(*(begin - centre)[::-1]))
        angle = first + turn * np.linspace(0, 1, max(int(np.ceil(abs(turn) / step)), 1) + 1)
        rim = centre + half * np.stack([np.cos(angle), np.sin(angle)], axis=1)
        rim[0], rim[-1] = begin, finish
        fans.append(Branch(side, half, angle, rim, np.tile(centre, (len(angle), 1)), is_arc=True))
    return fans


def _marks(branches: list[Branch], grid: float) -> Marks:
    """Map each polygon corner, as its place on the grid, to the branches it lies on and its number along each."""
    marks: Marks = defaultdict(list)
    for k, branch in enumerate(branches):
        for i, place in enumerate(_grid_places(branch.points, grid)):
            marks[place].append((k, i))
    return marks


def _grid_places(points: Array, grid: float) -> list[tuple[int, ...]]:
    return [tuple(place) for place in np.rint(points / grid).astype(np.int64).tolist()]


def _united(shapes: list[Any], chain: Chain, closed: bool, half: float, stray: float, grid: float) -> Any:
    """Return the union of strips and fans, checked against the buffer of the centreline.

    Where thousands of normals meet in nearly one point a union in floating point can lose parts. The buffer is made
    another way; if the areas differ by more than both may stray, the union is made again on the grid, which cannot
    fail so, and is several times slower.
    """
    import shapely

    centre = bezier.flatten(chain.controls, stray)
    # The buffer of a closed line can lose what lies round its middle; the buffers of its halves do not.
    cut = len(centre) // 2 if closed else 0
    lines = [shapely.LineString(line) for line in (centre[: cut + 1], centre[cut:]) if len(line) > 1]
    around = _buffer(lines, half)
    ends = [shapely.Point(p).buffer(half, quad_segs=64) for p in (() if closed else (centre[0], centre[-1]))]
    allowed = 4 * stray * around.length + 0.002 * half * half
    for size in (None, grid):
        united = shapely.union_all(shapes, grid_size=size)
        whole = max(shapely.get_parts(united), key=lambda part: part.area)
        rounded = shapely.union_all([whole, *ends])
        if rounded.geom_type != "Polygon":
            continue  # parts were lost, and an end has come apart
        if abs(rounded.area - around.area) <= allowed and _as_many_holes(rounded, around, lines, half, stray):
            return whole
    msg = f"the band of half width {half:g} mm cannot be trimmed; the curve is too intricate for its width"
    raise CurveError(msg)


def _as_many_holes(rounded: Any, around: Any, lines: list[Any], half: float, stray: float) -> bool:
    """Whether a union has the holes of the buffer ``around`` lines, or of one a hair wider or narrower.

    Where the band all but closes round a hole, or all but fills one, either answer is right within the tolerance.
    """
    found = len(_holes(rounded, stray * half))
    if found == len(_holes(around, stray * half)):
        return True
    beside = (_buffer(lines, half + more) for more in (_HAIR * stray, -_HAIR * stray))
    return any(found == len(_holes(buffer, stray * half)) for buffer in beside)


def _buffer(lines: list[Any], half: float) -> Any:
    import shapely

    return shapely.union_all(shapely.buffer(lines, half, quad_segs=64))


def _runs(loop: Array, marks: Marks, branches: list[Branch], edges: _Edges, grid: float) -> list[_Run]:
    """Read a closed polygon as runs along branches, with straight edges between."""
    found = [marks.get(place, []) for place in _grid_places(loop, grid)]
    steps = [
        _step(found[i], found[(i + 1) % len(loop)], loop[[i, (i + 1) % len(loop)]], branches, edges, grid)
        for i in range(len(loop))
    ]
    runs: list[_Run] = []
    for step in steps:
        if runs and _continues(runs[-1], step):
            runs[-1] = _Run(step.branch, runs[-1].begin, step.finish, (runs[-1].points[0], step.points[1]))
        else:
            runs.append(step)
    if len(runs) > 1 and _continues(runs[-1], runs[0]):
        last = runs.pop()
        runs[0] = _Run(last.branch, last.begin, runs[0].finish, (last.points[0], runs[0].points[1]))
    return runs


def _continues(run: _Run, step: _Run) -> bool:
    if run.branch < 0 or run.branch != step.branch or run.finish != step.begin:
        return False
    return (run.finish - run.begin) * (step.finish - step.begin) > 0


def _step(
    here: list[tuple[int, int]],
    there: list[tuple[int, int]],
    edge: Array,
    branches: list[Branch],
    edges: _Edges,
    grid: float,
) -> _Run:
    """Recognise one polygon edge: along a branch, part of a branch's edge up to a crossing, or plain straight."""
    p, q = edge
    points = ((float(p[0]), float(p[1])), (float(q[0]), float(q[1])))
    for branch, i in here:
        for other, j in there:
            if branch == other and abs(i - j) == 1:
                place = branches[branch].place
                return _Run(branch, float(place[i]), float(place[j]), points)
    if here and not there:
        for branch, i in here:
            at = _partway(branches[branch], i, q, grid)
            if at is not None:
                return _Run(branch, float(branches[branch].place[i]), at, points)
    if there and not here:
        for branch, j in there:
            at = _partway(branches[branch], j, p, grid)
            if at is not None:
                return _Run(branch, at, float(branches[branch].place[j]), points)
    return edges.along(p, q, branches, grid) or _Run(-1, 0.0, 0.0, points)


@dataclass(frozen=True, slots=True, eq=False)
class _Edges:
    """All edges of all branches, in a tree: whose each is, its number there, and its two ends ``(n, 2, 2)``."""

    branch: IntArray
    number: IntArray
    ends: Array
    tree: Any

    @classmethod
    def of(cls, branches: list[Branch]) -> _Edges:
        import shapely

        sizes = [len(branch.points) - 1 for branch in branches]
        ends = np.concatenate([np.stack([b.points[:-1], b.points[1:]], axis=1) for b in branches])
        number = np.concatenate([np.arange(size) for size in sizes])
        whose = np.repeat(np.arange(len(branches)), sizes)
        return cls(whose, number, ends, shapely.STRtree(shapely.linestrings(ends)))

    def along(self, p: Array, q: Array, branches: list[Branch], grid: float) -> _Run | None:
        """Recognise a polygon edge that is part of one long edge of a branch: both its ends are crossings."""
        import shapely

        near = np.sort(self.tree.query(shapely.Point(p), predicate="dwithin", distance=3 * grid))
        edge = self.ends[near, 1] - self.ends[near, 0]
        size = np.maximum(np.hypot(*edge.T), grid)
        reach = np.stack([p, q])[:, None] - self.ends[near, 0]
        share = (reach * edge).sum(axis=2) / size**2
        aside = np.abs(edge[:, 0] * reach[..., 1] - edge[:, 1] * reach[..., 0]) / size
        beyond = np.maximum(-share, share - 1) * size
        on = np.flatnonzero(((aside <= 2 * grid) & (beyond <= 2 * grid)).all(axis=0))
        if not on.size:
            return None
        k = on[np.argmax(size[on])]
        branch, i = int(self.branch[near[k]]), int(self.number[near[k]])
        low, high = branches[branch].place[i : i + 2]
        place = low + np.clip(share[:, k], 0, 1) * (high - low)
        return _Run(branch, float(place[0]), float(place[1]), ((p[0], p[1]), (q[0], q[1])))


def _partway(branch: Branch, i: int, point: Array, grid: float) -> float | None:
    """Return the place of a point on one of the two edges of a branch that meet at its ``i``-th point, or None."""
    for j in (i - 1, i + 1):
        if not 0 <= j < len(branch.points):
            continue
        edge = branch.points[j] - branch.points[i]
        reach = point - branch.points[i]
        size = float(edge @ edge)
        share = float(edge @ reach) / size if size > 0 else -1.0
        aside = abs(float(edge[0] * reach[1] - edge[1] * reach[0]))
        if 0 < share < 1 and aside <= 2 * grid * np.sqrt(size):
            return float(branch.place[i] + share * (branch.place[j] - branch.place[i]))
    return None


def _fitted(runs: list[_Run], nodes: Nodes, branches: list[Branch], tolerance: float) -> Ring:
    """Fit every run to its exact curve and join them up."""
    runs = [_settled(run, branches, nodes.chain) for run in runs]
    along = [k for k, run in enumerate(runs) if run.branch >= 0 and not branches[run.branch].is_arc]
    places = np.array([sorted((runs[k].begin, runs[k].finish)) for k in along]).reshape(-1, 2)
    distance = np.array([branches[runs[k].branch].distance for k in along])
    fits, owner = fit_stretches(nodes, places[:, 0], places[:, 1], distance, tolerance * FIT_SHARE)
    parts: list[Array] = [np.empty((0, 4, 2))] * len(runs)
    for k, run in enumerate(runs):
        if run.branch < 0:
            parts[k] = bezier.from_lines(np.array(run.points))
        elif branches[run.branch].is_arc:
            arc, begin, finish = branches[run.branch], np.array([run.begin]), np.array([run.finish])
            parts[k] = circle_arcs(arc.centre[:1], arc.distance, begin, finish, tolerance * FIT_SHARE)[0]
    for number, k in enumerate(along):
        cubics = fits[owner == number]
        parts[k] = cubics if runs[k].finish > runs[k].begin else cubics[::-1, ::-1]
    sides = [STRAIGHT if run.branch < 0 else branches[run.branch].side for run in runs]
    # What is shorter than the polygons are exact is noise of a crossing, and would only make a kink.
    sizes = [float(bezier.polygon_lengths(part).sum()) for part in parts]
    kept = [k for k, size in enumerate(sizes) if size > _POLYGON_SHARE * tolerance / 2]
    side = np.repeat([sides[k] for k in kept], [len(parts[k]) for k in kept])
    return Ring(met(np.concatenate([parts[k] for k in kept]), ring=True), side)


def _settled(run: _Run, branches: list[Branch], chain: Chain) -> _Run:
    """Return the run with its places moved from the polygon to the exact curve."""
    branch = branches[run.branch]
    if run.branch < 0 or branch.is_arc:
        return run
    begin, finish = (
        _level_with(np.array(point), at, branch, chain)
        for point, at in zip(run.points, (run.begin, run.finish), strict=True)
    )
    return replace(run, begin=begin, finish=finish)


def _level_with(point: Array, at: float, branch: Branch, chain: Chain) -> float:
    """Return where a parallel curve comes level with a crossing found on its polygon, at about the place ``at``.

    Places run unevenly along a chord, so the bracket is narrowed on the curve itself.
    """
    k = int(np.searchsorted(branch.place, at))
    if k in (0, len(branch.place)) or branch.place[k] == at:
        return at
    begin, finish = float(branch.place[k - 1]), float(branch.place[k])
    chord, piece = branch.points[k] - branch.points[k - 1], int((begin + finish) / 2)
    for _ in range(6):
        place = np.linspace(begin, finish, 33)
        rows = np.repeat(chain.controls[piece : piece + 1], len(place), axis=0)
        curve = offset_points(rows, place - piece, np.full(len(place), branch.distance))
        before = int(((curve - point) @ chord < 0).sum())
        last = min(max(before, 1), len(place) - 1)
        begin, finish = float(place[last - 1]), float(place[last])
    return (begin + finish) / 2
