"""The boundary of a shape in short steps, the nearest points on one of its sides, and which steps face each other.

The boundary is triangulated between points that lie closely on it (Delaunay). In a shape like a stem nearly every
triangle reaches across from one side to the other, so the triangles form a row: that row says, without any guess
about corners or ends, which stretch of boundary faces which.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from bias_drafting.curve import bezier, measure
from bias_drafting.curve.arc_length import partial_lengths
from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from bias_drafting.curve.measure import Chain

    Array = NDArray[np.float64]
    IntArray = NDArray[np.intp]
    BoolArray = NDArray[np.bool_]

__all__ = ["SLIT", "Facing", "Feet", "Side", "facing_round", "facing_row", "in_short_steps", "triangulated"]

# What to do about the likeliest reason for an outline that touches itself.
SLIT = "; a ring is drawn as an outline with a hole, not as one curve with a slit"
# A step of boundary turns by no more than this many radians: its chord then finds the right step for a foot.
_MOST_TURN = 0.15
# Never more steps than this on one boundary: bounded work (a shape some five thousand times as long as wide).
_MOST_STEPS = 150_000
# Rounds in which steps are halved until the triangulation keeps every one of them.
_ROUNDS = 14
# Steps of Newton's method for the foot of a perpendicular: each doubles the figures of a guess right to a hundredth.
_NEWTON = 4


def in_short_steps(chain: Chain, longest: float) -> Chain:
    """Return a closed chain cut into steps no longer than ``longest`` mm that turn little.

    Raises
    ------
    CurveError
        Where that would take an unreasonable number of steps.
    """
    whole = np.arange(len(chain.controls))
    piece, begin, finish = whole, np.zeros(len(whole)), np.ones(len(whole))
    done: list[tuple[IntArray, Array, Array]] = []
    count = 0
    while len(piece):
        turn = np.abs(measure.turn_within(chain.u[piece], chain.v[piece], begin, finish))
        arc = partial_lengths(chain.controls[piece], begin, finish)
        coarse = ((arc > longest) | (turn > _MOST_TURN)) & (arc > 1e-7 * chain.length)
        done.append((piece[~coarse], begin[~coarse], finish[~coarse]))
        count += len(piece)
        if count > _MOST_STEPS:
            msg = (
                f"the outline is too long and thin, or too intricate: it takes more than {_MOST_STEPS} steps"
            )
            raise CurveError(msg)
        middle = (begin[coarse] + finish[coarse]) / 2
        piece = np.concatenate([piece[coarse], piece[coarse]])
        begin, finish = np.concatenate([begin[coarse], middle]), np.concatenate([middle, finish[coarse]])
    pieces, begins, ends = (np.concatenate(parts) for parts in zip(*done, strict=True))
    order = np.lexsort((begins, pieces))
    steps = bezier.subsegments(chain.controls[pieces[order]], begins[order], ends[order])
    return measure.build_chain(bezier.joined_up(steps, True), True)


def _halved(chain: Chain, which: BoolArray) -> Chain:
    """Return the chain with the steps ``which`` cut in half."""
    half, zero, one = np.full(which.sum(), 0.5), np.zeros(which.sum()), np.ones(which.sum())
    parts = chain.controls[which]
    first, second = bezier.subsegments(parts, zero, half), bezier.subsegments(parts, half, one)
    row = np.flatnonzero(which)
    steps = np.concatenate([chain.controls[~which], first, second])
    order = np.argsort(np.concatenate([np.flatnonzero(~which), row, row + 0.5]), kind="stable")
    return measure.build_chain(steps[order], True)


# Feet: nearest points on one side.


@dataclass(frozen=True, slots=True, eq=False)
class Feet:
    """Nearest points on a side: where ``(n, 2)``, how far ``(n,)``, and at which arc length of the boundary."""

    point: Array
    distance: Array
    s: Array


@dataclass(frozen=True, slots=True, eq=False)
class Side:
    """One side of a stem: a stretch of its boundary in short steps, or a closed boundary whole.

    Attributes
    ----------
    steps
        Cubics ``(m, 4, 2)`` along the boundary, the stem on their right.
    s
        ``(m + 1,)`` arc length at the joints, in mm along the boundary.
    corners
        ``(m + 1,)`` turn in radians at each joint; negative where the shape is hollow.
    closed
        Whether the side runs back into its start; arc lengths then wrap.
    """

    steps: Array
    s: Array
    corners: Array
    closed: bool

    def feet(self, centres: Array, near: Array, reach: Array) -> Feet:
        """Return the nearest points to each of ``centres`` within ``reach`` mm of arc length from ``near``."""
        m, rounds = len(self.steps), range(-2, 3) if self.closed else (0,)
        length = self.s[-1] - self.s[0]
        joints = np.concatenate([self.s[:-1] + k * length for k in rounds])
        first = np.maximum(np.searchsorted(joints, near - reach) - 1, 0)
        last = np.maximum(np.searchsorted(joints, near + reach), first + 1)
        first = np.minimum(first, last - 1)
        owner, step = _ranges(first, last)
        chords = self.steps[step % m][:, [0, 3]]
        best = _least(_gaps(centres[owner], chords)[0], last - first)
        rough = step[best]
        # The neighbours of the nearest chord too: the curve bulges a little where its chord does not.
        trial = np.clip(rough[:, None] + np.array([-1, 0, 1]), first[:, None], last[:, None] - 1)
        which = trial.ravel() % m
        points, gaps, t = _on_cubics(self.steps[which], np.repeat(centres, 3, axis=0))
        row = np.arange(len(centres)), gaps.reshape(-1, 3).argmin(axis=1)
        at = row[0] * 3 + row[1]
        k, lap = which[at], trial[row] // m + rounds[0]
        s = np.where(t[at] == 1, self.s[k + 1], self.s[k] + t[at] * (self.s[k + 1] - self.s[k]))
        return Feet(points[at], gaps[at], s + lap * length)


def _ranges(first: IntArray, last: IntArray) -> tuple[IntArray, IntArray]:
    """Return all numbers of the ranges ``first:last``, one after the other, and whose each is."""
    count = last - first
    owner = np.repeat(np.arange(len(first)), count)
    return owner, np.arange(len(owner)) - np.repeat(np.cumsum(count) - count - first, count)


def _least(values: Array, count: IntArray) -> IntArray:
    """Return where the least of each group of consecutive values stands."""
    start = np.cumsum(count) - count
    least = np.flatnonzero(values == np.repeat(np.minimum.reduceat(values, start), count))
    return least[np.searchsorted(least, start)]


def _gaps(points: Array, chords: Array) -> tuple[Array, Array]:
    """Return the distance of each point from its chord, and the share of the chord at which it is reached."""
    along, reach = chords[:, 1] - chords[:, 0], points - chords[:, 0]
    size = (along * along).sum(axis=1)
    share = np.clip((reach * along).sum(axis=1) / np.where(size > 0, size, 1), 0, 1)
    return np.hypot(*(reach - share[:, None] * along).T), share


def _on_cubics(cubics: Array, points: Array) -> tuple[Array, Array, Array]:
    """Return the nearest point on each short cubic to its point, the distance, and the parameter."""
    t = _gaps(points, cubics[:, [0, 3]])[1]
    for _ in range(_NEWTON):
        first, second = _derivatives(cubics, t)
        gap = bezier.evaluate(cubics, t) - points
        speed = (first * first).sum(axis=1)
        # Kept positive: near a centre of curvature every point of the step is as near as any other.
        slope = np.maximum(speed + (gap * second).sum(axis=1), 0.05 * speed)
        t = np.clip(t - (gap * first).sum(axis=1) / np.where(slope > 0, slope, 1), 0, 1)
    at = bezier.evaluate(cubics, t)
    return at, np.hypot(*(at - points).T), t


def _derivatives(cubics: Array, t: Array) -> tuple[Array, Array]:
    d, u, w = 3 * np.diff(cubics, axis=1), t[:, None], 1 - t[:, None]
    first = d[:, 0] * w * w + 2 * d[:, 1] * w * u + d[:, 2] * u * u
    second = 2 * ((d[:, 1] - d[:, 0]) * w + (d[:, 2] - d[:, 1]) * u)
    return first, second


# Triangles: what faces what.


@dataclass(frozen=True, slots=True, eq=False)
class Facing:
    """Pairs of boundary points that face each other across the shape, in order along it.

    Attributes
    ----------
    a, b
        Numbers of boundary points: ``a`` never falls, ``b`` never rises. On a shape without a hole both are counted
        from the tip at the beginning of the row, ``b`` all round and back; round a ring ``a`` counts along the
        outside and ``b`` along the hole, past its start where it must.
    """

    a: IntArray
    b: IntArray


def triangulated(chains: list[Chain]) -> tuple[list[Chain], Any, BoolArray]:
    """Return the boundaries, their steps halved where needed, the triangulation of their points, and what is inside.

    Raises
    ------
    CurveError
        Where two stretches of boundary lie so near that no reasonable number of steps keeps them apart.
    """
    from scipy.spatial import Delaunay

    for _ in range(_ROUNDS):
        rings = [chain.controls[:, 0] for chain in chains]
        points, sizes = _shaken(rings), [len(ring) for ring in rings]
        triangles: Any = Delaunay(points)
        lost = _lost_steps(triangles.simplices, sizes)
        if not lost.any():
            return chains, triangles, _inside(points, triangles, sizes)
        if len(points) + lost.sum() > 2 * _MOST_STEPS:
            break
        parts = np.split(lost, np.cumsum(sizes)[:-1])
        chains = [_halved(chain, part) for chain, part in zip(chains, parts, strict=True)]
    x, y = np.concatenate(rings)[int(np.argmax(lost))]
    msg = f"the outline comes too near itself at ({x:.2f}, {y:.2f}) to tell its sides apart{SLIT}"
    raise CurveError(msg)


def _shaken(rings: list[Array]) -> Array:
    """Return the points of all rings, each moved by up to a thousandth of the shorter step beside it.

    Points in straight rows, or evenly along both sides, lie on common circles by the dozen; triangulating them takes
    time that grows with the square of their number. Moved a little it is quick, and the row of triangles the same.
    """
    points, number = np.concatenate(rings), np.arange(sum(len(ring) for ring in rings))
    after = [np.hypot(*(np.roll(ring, -1, axis=0) - ring).T) for ring in rings]
    step = np.concatenate([np.minimum(size, np.roll(size, 1)) for size in after])
    # An even spread that never repeats: multiples of powers of the plastic number (M. Roberts, 2018, from memory).
    spread = np.outer(number, [0.7548776662466927, 0.5698402909980532]) % 1 - 0.5
    moved: Array = points - points.mean(axis=0) + 1e-3 * step[:, None] * spread
    return moved


def _next_on_ring(sizes: list[int]) -> IntArray:
    """Return the number of the point after each on its ring."""
    starts = np.cumsum([0, *sizes[:-1]])
    return np.concatenate([np.roll(np.arange(n), -1) + start for n, start in zip(sizes, starts, strict=True)])


def _lost_steps(simplices: IntArray, sizes: list[int]) -> BoolArray:
    """Whether each step, from its point to the next on its ring, is missing from the edges of the triangles.

    Where chords cross although the curves they belong to only come near each other, at least one is.
    """
    n = sum(sizes)
    step = np.sort(np.stack([np.arange(n), _next_on_ring(sizes)], axis=1), axis=1)
    edges = np.concatenate([simplices[:, [0, 1]], simplices[:, [1, 2]], simplices[:, [2, 0]]])
    edges = np.sort(edges.astype(np.int64), axis=1)
    lost: BoolArray = ~np.isin(step @ np.array([n, 1]), edges @ np.array([n, 1]))
    return lost


def _inside(points: Array, triangles: Any, sizes: list[int]) -> BoolArray:
    """Whether each triangle lies inside the outline.

    Triangles that can be reached from one another without crossing the boundary lie on one side of it, and any of
    them that stands on a step of it says on which: the inside is to the right of travel.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    following, corner = _next_on_ring(sizes), triangles.simplices
    # The edge opposite each corner, by its ends.
    first, second = np.roll(corner, -1, axis=1), np.roll(corner, -2, axis=1)
    forward, backward = following[first] == second, following[second] == first
    begin, end = np.where(forward, first, second), np.where(forward, second, first)
    along, reach = points[end] - points[begin], points[corner] - points[begin]
    on_right = along[..., 0] * reach[..., 1] > along[..., 1] * reach[..., 0]
    step, n = forward | backward, len(corner)
    here, there = np.repeat(np.arange(n), 3), triangles.neighbors.ravel()
    open_edge = (there >= 0) & ~step.ravel()
    graph = coo_array((np.ones(open_edge.sum()), (here[open_edge], there[open_edge])), shape=(n, n))
    part = connected_components(graph, directed=False)[1]
    votes = np.bincount(part, np.where(step, np.where(on_right, 1, -1), 0).sum(axis=1))
    inside: BoolArray = votes[part] > 0
    return inside


def facing_row(points: Array, triangles: Any, inside: BoolArray) -> tuple[Facing, int]:
    """Return what faces what along the longest row of triangles from tip to tip, and the point at the first tip."""
    row = _longest_row(points, triangles, inside)
    simplices, n = triangles.simplices, len(points)
    # Neighbouring triangles share an edge: it is opposite the one corner they do not share.
    slot = (triangles.neighbors[row[:-1]] == row[1:, None]).argmax(axis=1)
    tip = int(simplices[row[0], slot[0]])
    edge = np.stack([simplices[row[:-1], (slot + k) % 3] for k in (1, 2)], axis=1)
    ahead = np.sort((edge - tip) % n, axis=1)
    return Facing(ahead[:, 0], ahead[:, 1]), tip


def _longest_row(points: Array, triangles: Any, inside: BoolArray) -> IntArray:
    """Return the triangles from tip to tip along the longest way through the inside, which is a tree of triangles."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import dijkstra

    here = np.repeat(np.arange(len(inside)), 3)
    there = triangles.neighbors.ravel()
    both = (there >= 0) & inside[here] & inside[there]
    here, there = here[both], there[both]
    middle = points[triangles.simplices].mean(axis=1)
    gap = np.maximum(np.hypot(*(middle[here] - middle[there]).T), 1e-300)
    graph = coo_array((gap, (here, there)), shape=(len(inside), len(inside))).tocsr()
    ends, back = [int(here[0]) if len(here) else 0], np.empty((1, 0), dtype=np.int32)
    for _ in range(2):
        distance, back = dijkstra(graph, indices=ends[-1:], return_predecessors=True)
        ends.append(int(np.argmax(np.where(np.isfinite(distance[0]), distance[0], -1))))
    row = [ends[2]]
    while row[-1] != ends[1]:
        row.append(int(back[0, row[-1]]))
    return np.array(row)


def facing_round(outer: int, triangles: Any, inside: BoolArray) -> Facing:
    """Return what faces what round a ring; ``outer`` points lie on its outside, the others round its hole."""
    simplices = triangles.simplices[inside]
    edges = np.sort(
        np.concatenate([simplices[:, [0, 1]], simplices[:, [1, 2]], simplices[:, [2, 0]]]), axis=1
    )
    across = np.unique(edges[(edges[:, 0] < outer) & (edges[:, 1] >= outer)], axis=0)
    a, b, inner = across[:, 0], across[:, 1] - outer, int(triangles.npoints) - outer
    # The hole is run the other way round: counted from the last point that faces the first outside point, its
    # points fall; that point itself faces the last outside points too, at the end of the round.
    top = _last_in_turn(b[a == a[0]], inner)
    b = (b - top - 1) % inner
    order = np.lexsort((-b, a))
    under_way = np.cumsum(b[order] < inner - 1) > 0
    b[order] = np.where(under_way & (b[order] == inner - 1), -1, b[order])
    order = np.lexsort((-b, a))
    return Facing(a[order], b[order] + top + 1)


def _last_in_turn(numbers: IntArray, count: int) -> int:
    """Return the highest of consecutive numbers round a ring of ``count``: the one before the widest gap."""
    ordered = np.sort(numbers)
    gaps = np.diff(np.append(ordered, ordered[0] + count))
    return int(ordered[np.argmax(gaps)])
