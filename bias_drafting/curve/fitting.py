"""Fitting cubics to the exact curve at a distance from a chain: few of them, to a measured tolerance.

A parallel curve of a cubic is no cubic. A stretch of it is replaced by cubics with exact ends and end directions, the
two handles of each found by least squares against exact points (while each point's parameter moves to its foot on
the fit). Where the cubics begin and end does not depend on the joints of the chain: each reaches as far along the
exact curve as the tolerance lets it. As one can begin only where the one before it ends, a long stretch is cut into
runs of some cubics, and all runs proceed together, each trying several ends at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from bias_drafting.curve import bezier, measure
from bias_drafting.curve.nodes import locate_places
from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from bias_drafting.curve.nodes import Nodes

    Array = NDArray[np.float64]
    ComplexArray = NDArray[np.complex128]
    IntArray = NDArray[np.intp]
    _Exact = Callable[[IntArray, Array], tuple[ComplexArray, ComplexArray]]

__all__ = ["fit_stretches", "offset_points"]

# Exact points per fit; the tests measure again, far denser.
_SAMPLES: Final = 17
# Rounds of finding handles and feet.
_FEET: Final = 5
# The first look takes so many knots at a time, and so many rounds; the share of what is needed that goes by the turn.
_LOOK: Final = 12
_LOOK_FEET: Final = 3
_BY_TURN: Final = 0.6
# Damping of the handles, and the largest share by which one may change in a round.
_DAMPING: Final = 1e-3
_MOST_STEP: Final = 0.5
# No handle is longer than this share of what it fits (the half circle's is 0.42): lines so short that they are all
# but straight say nothing of their handles, which would run away, so that the fit goes back and forth along them.
_LONGEST: Final = 2 / 3
# Points at which each finished fit is measured, besides the knots, and steps toward their feet.
_DENSE: Final = 33
_SLIDES: Final = 4
# From which control points to which a cubic's two handles and its chord run.
_HANDLES: Final = ((1, 0), (3, 2), (3, 0))
# Entries of the table of exact points per cubic that is expected, and at least per stretch.
_FINE: Final = 32
_FEWEST: Final = 16
# Cubics in one run, and runs handled together (more would not fit the processor's cache).
_RUN: Final = 12
_TOGETHER: Final = 128
# Ends tried at once, as multiples of the length expected; a fit over fewer entries than this is not tried.
_TRIED: Final = np.array([0.5, 0.62, 0.72, 0.8, 0.87, 0.94, 1.0, 1.07, 1.15, 1.25, 1.4, 1.6])
_SHORTEST: Final = 4
# What is tried must keep to this share of the tolerance: measured more closely, it may turn out a little worse.
_CLOSE: Final = 0.93
# Parts that were not fitted are halved where they miss; so often at most.
_MOST_HALVINGS: Final = 40
_MOST_PARTS: Final = 500_000
# Errors much smaller than the tolerance say little about how long a fit might be.
_LEAST_ERROR: Final = 1e-4


def normals(controls: Array, t: Array) -> Array:
    """Return the unit normals ``(n, 2)`` to the right of travel at each segment's ``t``."""
    direction = measure.directions(controls, t)
    return np.stack([-direction.imag, direction.real], axis=-1)


def offset_points(controls: Array, t: Array, distance: Array) -> Array:
    """Return the points ``(n, 2)`` at a signed distance (right of travel positive) from each segment's ``t``."""
    return bezier.evaluate(controls, t) + distance[:, None] * normals(controls, t)


@dataclass(frozen=True, slots=True, eq=False)
class _Track:
    """The exact curves to be fitted, as tables: where along the chain lies what is ``run`` mm along the curves.

    ``run`` grows from stretch to stretch without a gap; ``first`` and ``last`` are the numbers of each stretch's
    first and last entry.
    """

    nodes: Nodes
    distance: Array
    piece: IntArray
    t: Array
    run: Array
    first: IntArray
    last: IntArray

    def at(self, owner: IntArray, run: Array) -> tuple[ComplexArray, ComplexArray]:
        """Return the exact points, and the unit directions of the chain, at ``run`` mm; arrays ``(n,)``."""
        k = np.clip(np.searchsorted(self.run, run, side="right") - 1, self.first[owner], self.last[owner] - 1)
        span = self.run[k + 1] - self.run[k]
        share = np.clip((run - self.run[k]) / np.where(span > 0, span, 1), 0, 1)
        piece, t = self.piece[k], self.t[k]
        t = np.where(self.piece[k + 1] == piece, t + share * (self.t[k + 1] - t), t)
        controls = self.nodes.chain.controls[piece]
        heading = measure.directions(controls, t)
        points = bezier.evaluate(controls, t)
        return points[:, 0] + 1j * points[:, 1] + 1j * heading * self.distance[owner], heading


def _track(nodes: Nodes, begin: Array, finish: Array, distance: Array) -> _Track:
    """Tabulate the stretches from place ``begin`` to place ``finish`` of the chain."""
    count = len(nodes.chain.controls)
    place = nodes.place
    low, high = np.searchsorted(place, begin, side="right"), np.searchsorted(place, finish, side="left")
    # One entry for each end, and all the nodes between.
    size = np.maximum(high - low, 0) + 2
    last = np.cumsum(size) - 1
    first = last - size + 1
    inner = np.arange(size.sum()) - np.repeat(first, size) + np.repeat(low, size) - 1
    inner = np.clip(inner, 0, len(place) - 1)
    piece, t = nodes.piece[inner], nodes.t[inner]
    piece[first], t[first] = locate_places(begin, count, before=False)
    piece[last], t[last] = locate_places(finish, count, before=True)
    points = offset_points(nodes.chain.controls[piece], t, np.repeat(distance, size))
    chord = np.hypot(*np.diff(points, axis=0, prepend=points[:1]).T)
    chord[first] = 0
    return _Track(nodes, distance, piece, t, np.cumsum(chord), first, last)


def fit_stretches(
    nodes: Nodes, begin: Array, finish: Array, distance: Array, tolerance: float
) -> tuple[Array, IntArray]:
    """Fit the curves at ``distance`` from stretches of a chain that is smooth there.

    Parameters
    ----------
    nodes
        The chain.
    begin, finish, distance
        For each of ``k`` stretches the places (piece + parameter) it runs between, ``begin < finish``, and the signed
        distance in mm, right of travel positive.
    tolerance
        Largest distance in mm between a fit and the exact curve, measured at many points after fitting.

    Returns
    -------
    fits, owner
        Cubics ``(m, 4, 2)`` in the order of the stretches and along each, and which stretch each belongs to.
    """
    if not len(begin):
        return np.empty((0, 4, 2)), np.empty(0, dtype=np.intp)
    track = _track(nodes, begin, finish, distance)
    return fit_track(track.at, track.run, track.first, track.last, tolerance)


def fit_track(
    at: _Exact, knots: Array, first: IntArray, last: IntArray, tolerance: float
) -> tuple[Array, IntArray]:
    """Fit exact curves laid end to end: ``at(owner, run)`` are their points and directions.

    Curve ``k`` runs from ``knots[first[k]]`` to ``knots[last[k]]``; from knot to knot it simply bends one way, by
    little. For what is returned see :func:`fit_stretches`.
    """
    table = _tabulated(at, knots, first, last, tolerance)
    begin, finish = _runs(table)
    groups = range(0, len(begin), _TOGETHER)
    parts = [_reached(table, begin[k : k + _TOGETHER], finish[k : k + _TOGETHER], tolerance) for k in groups]
    whole = _halved(_Check(at, knots, first, last), _Parts.in_order(parts), tolerance)
    return whole.fits, whole.owner


@dataclass(frozen=True, slots=True, eq=False)
class _Parts:
    """Parts of stretches: whose each is, its two ends, the cubic fitted to it, and how far that misses."""

    owner: IntArray
    edge: Array
    fits: Array
    miss: Array

    def where(self, kept: NDArray[np.bool_]) -> _Parts:
        return _Parts(self.owner[kept], self.edge[kept], self.fits[kept], self.miss[kept])

    @classmethod
    def in_order(cls, several: list[_Parts]) -> _Parts:
        """Put parts together in the order of their stretches, and along each."""
        owner = np.concatenate([p.owner for p in several])
        edge = np.concatenate([p.edge for p in several])
        order = np.lexsort((edge[:, 0], owner))
        fits, miss = (np.concatenate([getattr(p, name) for p in several])[order] for name in ("fits", "miss"))
        return cls(owner[order], edge[order], fits, miss)


@dataclass(frozen=True, slots=True, eq=False)
class _Table:
    """Exact points so far apart that the same number of them lies on each cubic, as far as a first look tells.

    ``first`` and ``last`` are the numbers of each stretch's first and last point.
    """

    owner: IntArray
    run: Array
    points: ComplexArray
    heading: ComplexArray
    first: IntArray
    last: IntArray


def _tabulated(at: _Exact, knots: Array, first: IntArray, last: IntArray, tolerance: float) -> _Table:
    """Look at the curves some knots at a time, and lay out the table by what each look tells of the cubics needed."""
    looks = -(-(last - first) // _LOOK)
    owner, edge = _evenly(first, last, looks)
    edge = knots[np.rint(edge).astype(np.intp)]
    run, points, heading = _sampled(at, owner, edge, _LOOK + 1)
    _, miss = _shaped(run, points, heading[:, 0], heading[:, -1], _LOOK_FEET)
    # The error of a fit grows about as the sixth power of its length; within a fit, it comes of where that bends.
    need = np.clip(miss / tolerance, _LEAST_ERROR, 1e6) ** (1 / 6)
    turn = np.abs(np.angle(heading[:, 1:] * np.conj(heading[:, :-1]))) + 1e-9
    share = _BY_TURN * turn / turn.sum(axis=1, keepdims=True) + (1 - _BY_TURN) / _LOOK
    sums = np.append(0.0, np.cumsum(need[:, None] * share))
    stop = np.cumsum(looks) * _LOOK
    start = stop - looks * _LOOK
    size = np.maximum(np.ceil((sums[stop] - sums[start]) * _FINE), _FEWEST).astype(np.intp)
    until = np.cumsum(size + 1) - 1
    owner = np.repeat(np.arange(len(first)), size + 1)
    part = (np.arange(len(owner)) - (until - size)[owner]) / size[owner]
    level = sums[start[owner]] * (1 - part) + sums[stop[owner]] * part
    step = np.clip(np.searchsorted(sums, level, side="right") - 1, start[owner], stop[owner] - 1)
    along = np.clip((level - sums[step]) / (sums[step + 1] - sums[step]), 0, 1)
    place = run[:, :-1].ravel()[step] * (1 - along) + run[:, 1:].ravel()[step] * along
    points, heading = at(owner, place)
    return _Table(owner, place, points, heading, until - size, until)


def _evenly(start: IntArray, end: IntArray, count: IntArray) -> tuple[IntArray, Array]:
    """Divide stretches evenly into ``count`` parts: the stretch of each part, and its two ends ``(m, 2)``."""
    owner = np.repeat(np.arange(len(count)), count)
    number = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    share = np.stack([number, number + 1], axis=1) / count[owner, None]
    return owner, start[owner, None] * (1 - share) + end[owner, None] * share


def _runs(table: _Table) -> tuple[IntArray, IntArray]:
    """Divide every stretch of a table into runs of some cubics: numbers of their first and last points."""
    size = table.last - table.first
    count = np.ceil(size / (_FINE * _RUN)).astype(np.intp)
    _, edge = _evenly(table.first, table.last, count)
    begin, finish = np.rint(edge).astype(np.intp).T
    return begin, finish


def _reached(table: _Table, begin: IntArray, finish: IntArray, tolerance: float) -> _Parts:
    """Lay cubics along runs, each as far as it serves; where none serves, one that misses."""
    parts: list[_Parts] = []
    guess = np.full(len(begin), float(_FINE))
    while begin.size:
        ends = np.minimum(begin[:, None] + np.rint(guess[:, None] * _TRIED).astype(np.intp), finish[:, None])
        tried = _fitted(table, np.repeat(begin, len(_TRIED)), ends.ravel())
        serves = (tried.miss <= _CLOSE * tolerance).reshape(ends.shape)
        furthest = len(_TRIED) - 1 - np.argmax(serves[:, ::-1], axis=1)
        found = serves.any(axis=1)
        furthest[~found] = 0
        ready = found | (ends[:, 0] - begin <= _SHORTEST)
        row = np.arange(len(begin))
        parts.append(tried.where((row * len(_TRIED) + furthest)[ready]))
        begin = np.where(ready, ends[row, furthest], begin)
        guess = np.where(ready, float(_FINE), guess * _TRIED[0])
        going = begin < finish
        begin, finish, guess = begin[going], finish[going], guess[going]
    return _Parts.in_order(parts)


def _fitted(table: _Table, begin: IntArray, finish: IntArray) -> _Parts:
    """Fit one cubic to each part of a table, and measure the largest distance of each from its exact points."""
    share = np.linspace(0, 1, _SAMPLES)
    at = begin[:, None] + np.rint((finish - begin)[:, None] * share).astype(np.intp)
    run, points = table.run[at], table.points[at]
    fits, miss = _shaped(run, points, table.heading[begin], table.heading[finish], _FEET)
    return _Parts(table.owner[begin], np.stack([run[:, 0], run[:, -1]], axis=1), fits, miss)


@dataclass(frozen=True, slots=True, eq=False)
class _Check:
    """Where finished fits are measured: evenly along each, and at all the knots."""

    at: _Exact
    knots: Array
    first: IntArray
    last: IntArray

    def misses(self, parts: _Parts) -> Array:
        """Return how far each part strays from the exact curve."""
        # Where one curve ends, at the same run, the next begins elsewhere.
        low = np.maximum(np.searchsorted(self.knots, parts.edge[:, 0]), self.first[parts.owner])
        high = np.minimum(np.searchsorted(self.knots, parts.edge[:, 1]), self.last[parts.owner])
        count = np.maximum(high - low, 0) + _DENSE
        stop = np.cumsum(count)
        who = np.repeat(np.arange(len(count)), count)
        number = np.arange(len(who)) - (stop - count)[who]
        begin, span = parts.edge[who, 0], np.diff(parts.edge, axis=1)[who, 0]
        knot = self.knots[np.clip(low[who] + number - _DENSE, 0, len(self.knots) - 1)]
        share = np.where(
            number < _DENSE, (number + 0.5) / _DENSE, (knot - begin) / np.where(span > 0, span, 1)
        )
        points, _ = self.at(parts.owner[who], begin + share * span)
        fits = parts.fits[who]
        leave, arrive, chord = ((fits[:, k] - fits[:, j]).T for k, j in _HANDLES)
        exact = (np.stack([points.real, points.imag]) - fits[:, 0].T)[:, None]
        tau = share[None]
        for _ in range(_SLIDES):
            tau = _slid(tau, *_gap(leave, arrive, chord, exact, tau))
        gap, _ = _gap(leave, arrive, chord, exact, tau)
        return np.maximum.reduceat(np.hypot(*gap[:, 0]), stop - count)


def _halved(check: _Check, parts: _Parts, tolerance: float) -> _Parts:
    """Halve the parts that miss, and what still misses again."""
    done: list[_Parts] = []
    for _ in range(_MOST_HALVINGS):
        miss = np.maximum(parts.miss, check.misses(parts))
        good = miss <= tolerance
        done.append(parts.where(good))
        if good.all():
            return parts if len(done) == 1 else _Parts.in_order(done)
        if len(good) > _MOST_PARTS:
            break
        low, high = parts.edge[~good].T
        middle = (low + high) / 2
        edge = np.concatenate([np.stack([low, middle], axis=1), np.stack([middle, high], axis=1)])
        owner = np.tile(parts.owner[~good], 2)
        run, points, heading = _sampled(check.at, owner, edge, _SAMPLES)
        parts = _Parts(owner, edge, *_shaped(run, points, heading[:, 0], heading[:, -1], _FEET))
    msg = f"a parallel curve cannot be fitted to within {tolerance:g} mm; ask for a larger tolerance"
    raise CurveError(msg)


def _sampled(
    at: _Exact, owner: IntArray, edge: Array, samples: int
) -> tuple[Array, ComplexArray, ComplexArray]:
    """Return places evenly along each part, the exact points there and the directions; ``(n, samples)`` each."""
    run: Array = np.linspace(edge[:, 0], edge[:, 1], samples, axis=1)
    points, heading = at(np.repeat(owner, samples), run.ravel())
    return run, points.reshape(run.shape), heading.reshape(run.shape)


def _shaped(
    run: Array, points: ComplexArray, leave: ComplexArray, arrive: ComplexArray, rounds: int
) -> tuple[Array, Array]:
    """Fit one cubic ``(4, 2)`` to each row of points, and return also its largest distance from them."""
    span = run[:, -1] - run[:, 0]
    tau = np.ascontiguousarray(((run - run[:, :1]) / np.where(span > 0, span, 1)[:, None]).T)
    # Two numbers a point, then points, then fits: the arithmetic runs along the longest side.
    exact = np.stack([points.real.T, points.imag.T])
    origin = exact[:, 0].copy()
    exact -= origin[:, None]
    chord = exact[:, -1]
    u, v = np.stack([leave.real, leave.imag]), np.stack([arrive.real, arrive.imag])
    # The runs of a table may say little of how long so small a part of it is.
    longest = _LONGEST * np.abs(np.diff(points, axis=1)).sum(axis=1) + 1e-300
    alpha = beta = longest / 2
    for k in range(rounds + 1):
        gap, pace = _gap(alpha * u, beta * v, chord, exact, tau)
        if k < rounds:
            alpha, beta = _handles(gap, pace, tau, u, v, alpha, beta)
            alpha, beta = np.minimum(alpha, longest), np.minimum(beta, longest)
        tau = _slid(tau, gap, pace)
    gap, _ = _gap(alpha * u, beta * v, chord, exact, tau)
    miss = np.sqrt((gap * gap).sum(axis=0).max(axis=0))
    fits = np.stack([origin, origin + alpha * u, origin + chord - beta * v, origin + chord])
    return np.moveaxis(fits, -1, 0), miss


def _gap(leave: Array, arrive: Array, chord: Array, exact: Array, tau: Array) -> tuple[Array, Array]:
    """Return from exact points to the fits' points at ``tau``, and the fits' velocities there; ``(2, m, n)``."""
    c1, c3 = 3 * leave, 3 * (leave + arrive) - 2 * chord
    c1, c2, c3 = c1[:, None], (chord - c1 - c3)[:, None], c3[:, None]
    upper = c3 * tau
    inner = upper + c2
    return (inner * tau + c1) * tau - exact, (2 * inner + upper) * tau + c1


def _slid(tau: Array, gap: Array, pace: Array) -> Array:
    """Return each parameter moved toward the foot of its point."""
    along, square = gap[0] * pace[0] + gap[1] * pace[1], pace[0] * pace[0] + pace[1] * pace[1]
    slid: Array = np.minimum(np.maximum(tau - along / (square + 1e-300), 0), 1)
    return slid


def _handles(
    gap: Array, pace: Array, tau: Array, leave: Array, arrive: Array, alpha: Array, beta: Array
) -> tuple[Array, Array]:
    """Return handle lengths moved to where the distances across the fit are least, by one Gauss-Newton step.

    Only what lies across counts: along the fit its points may slide.
    """
    share = tau - tau * tau
    q = share * tau
    p = (share - q) * (leave[1] * pace[0] - leave[0] * pace[1])
    q = q * (arrive[0] * pace[1] - arrive[1] * pace[0])
    r = gap[0] * pace[1] - gap[1] * pace[0]
    pp, qq, pq, pr, qr = (np.einsum("ij,ij->j", x, y) for x, y in ((p, p), (q, q), (p, q), (p, r), (q, r)))
    # Lengthening one handle and shortening the other hardly moves the fit: without damping they would run away.
    pp, qq = pp * (1 + _DAMPING) + 1e-12, qq * (1 + _DAMPING) + 1e-12
    whole = 3 * (pp * qq - pq * pq)
    more, less = (pr * qq - qr * pq) / whole, (qr * pp - pr * pq) / whole
    # No handle grows or shrinks by more than half in one step, so none turns backward; both are held back alike.
    back = np.maximum(np.maximum(np.abs(more) / alpha, np.abs(less) / beta) / _MOST_STEP, 1)
    return alpha + more / back, beta + less / back
