"""Fitting cubics to the exact curve at a distance from a chain: few of them, to a measured tolerance.

A parallel curve of a cubic is no cubic. A stretch of it is replaced by cubics with exact ends and end directions, the
two handles of each found by least squares against exact points (alternating with moving each point's parameter to
its foot on the fit). Where the cubics begin and end does not depend on the joints of the chain: the error of such a
fit grows with the sixth power of its length, so from the errors measured in one round follows how long each fit of
the next may be, until all use up the tolerance and none passes it.
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

# Exact points per fit, evenly spaced along it; the tests measure again, far denser.
_SAMPLES: Final = 17
# Between two exact points that turn by more than this, a fit was not measured; the height of their triangle counts.
_MOST_TURN: Final = 0.3
# Rounds of finding handles and feet within a fit, and of moving the ends of fits.
_FEET: Final = 5
_ROUNDS: Final = 2
# Cells a cubic, to keep count of how many cubics each stretch asks for, and the margin given to each cubic.
_CELLS: Final = 12
_SLACK: Final = 1.0
# At last, of so many neighbouring parts one is saved where the others serve; and when that is worth trying.
_MERGES: Final = (2, 3, 4)
_HOPE: Final = 0.97
# Stretches that are not fitted by then are halved where they miss; so often at most.
_MOST_HALVINGS: Final = 40
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
    pieces = np.ceil(finish).astype(np.intp) - np.floor(begin).astype(np.intp)
    return fit_track(track.at, track.run[track.first], track.run[track.last], pieces, tolerance)


def fit_track(
    at: _Exact, start: Array, end: Array, count: IntArray, tolerance: float
) -> tuple[Array, IntArray]:
    """Fit exact curves ``at(owner, run)``, each from ``start`` to ``end``; begin with ``count`` cubics for each."""
    cells = _Cells.of(start, end, count)
    owner, edge = _evenly(start, end, count)
    fewest, best = np.full(len(start), np.inf), np.zeros(len(start), dtype=np.intp)
    rounds: list[_Parts] = []
    for attempt in range(_ROUNDS):
        parts = _fitted(at, owner, edge)
        rounds.append(parts)
        # A part that misses will take two.
        cost = np.bincount(owner, 1.0 + (parts.miss > tolerance), minlength=len(start))
        best[cost < fewest] = attempt
        fewest = np.minimum(fewest, cost)
        cells.learn(edge, np.clip(parts.miss / tolerance, _LEAST_ERROR, 1e6) ** (1 / 6))
        owner, edge = cells.divided()
    parts = _Parts.in_order([r.where(best[r.owner] == k) for k, r in enumerate(rounds)])
    parts = _halved(at, parts, tolerance)
    for many in _MERGES:
        parts = _fewer(at, parts, many, tolerance)
    return parts.fits, parts.owner


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


def _evenly(start: Array, end: Array, count: IntArray) -> tuple[IntArray, Array]:
    """Divide stretches evenly into ``count`` parts: the stretch of each part, and its two ends ``(m, 2)``."""
    number = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    share = np.stack([number, number + 1], axis=1) / np.repeat(count, count)[:, None]
    return np.repeat(np.arange(len(count)), count), np.repeat(start, count)[:, None] * (
        1 - share
    ) + np.repeat(end, count)[:, None] * share


@dataclass(slots=True, eq=False)
class _Cells:
    """How many cubics each small cell of each stretch asks for, as learnt from the fits so far."""

    owner: IntArray
    edge: Array
    need: Array
    seen: int = 0

    @classmethod
    def of(cls, start: Array, end: Array, count: IntArray) -> _Cells:
        owner, edge = _evenly(start, end, count * _CELLS)
        return cls(owner, edge, np.ones(len(owner)))

    def learn(self, edge: Array, need: Array) -> None:
        """Take in what each part of a division asked for; with what was learnt before, the geometric mean."""
        middle = self.edge.mean(axis=1)
        part = np.clip(np.searchsorted(edge[:, 0], middle, side="right") - 1, 0, len(edge) - 1)
        span = edge[part, 1] - edge[part, 0]
        asked = need[part] * (self.edge[:, 1] - self.edge[:, 0]) / np.where(span > 0, span, 1)
        share = 1 / (self.seen + 1) if self.seen < 2 else 1 / 3
        self.need = self.need ** (1 - share) * asked**share
        self.seen += 1

    def divided(self) -> tuple[IntArray, Array]:
        """Divide each stretch so that all its parts ask for alike, and for no more than one cubic."""
        first = np.flatnonzero(np.diff(self.owner, prepend=-1))
        last = np.append(first[1:], len(self.owner)) - 1
        sums = np.concatenate([[0.0], np.cumsum(self.need)])
        whole = sums[last + 1] - sums[first]
        count = np.maximum(np.ceil(whole * _SLACK), 1).astype(np.intp)
        owner, level = _evenly(sums[first], sums[last + 1], count)
        cell = np.clip(np.searchsorted(sums, level, side="right") - 1, first[owner, None], last[owner, None])
        share = np.clip((level - sums[cell]) / self.need[cell], 0, 1)
        edge = self.edge[cell, 0] * (1 - share) + self.edge[cell, 1] * share
        return owner, edge


def _halved(at: _Exact, parts: _Parts, tolerance: float) -> _Parts:
    """Halve the parts that miss, and what still misses again."""
    done: list[_Parts] = []
    for _ in range(_MOST_HALVINGS):
        good = parts.miss <= tolerance
        done.append(parts.where(good))
        if good.all():
            return _Parts.in_order(done)
        low, high = parts.edge[~good].T
        middle = (low + high) / 2
        edge = np.concatenate([np.stack([low, middle], axis=1), np.stack([middle, high], axis=1)])
        parts = _fitted(at, np.tile(parts.owner[~good], 2), edge)
    msg = f"a parallel curve cannot be fitted to within {tolerance:g} mm; ask for a larger tolerance"
    raise CurveError(msg)


def _fewer(at: _Exact, parts: _Parts, many: int, tolerance: float) -> _Parts:
    """Replace ``many`` neighbouring parts by one part fewer, wherever that many serve."""
    count = len(parts.owner) - many + 1
    if count < 1:
        return parts
    first = np.flatnonzero(parts.owner[: max(count, 0)] == parts.owner[many - 1 :])
    # Where the new parts meet follows from what the old ones needed.
    need = (parts.miss / tolerance + _LEAST_ERROR) ** (1 / 6)
    sums = np.stack([need[first + k] for k in range(many)], axis=1).cumsum(axis=1)
    hopeful = sums[:, -1] < _HOPE * (many - 1)
    first, sums = first[hopeful], sums[hopeful]
    levels = sums[:, -1:] * (np.arange(many) / (many - 1))
    window = first[:, None] + np.arange(many)
    old = np.concatenate([np.zeros((len(first), 1)), sums], axis=1)
    places = np.concatenate([parts.edge[window, 0], parts.edge[window[:, -1:], 1]], axis=1)
    new = np.array([np.interp(*row) for row in zip(levels, old, places, strict=True)]).reshape(-1, many)
    edge = np.stack([new[:, :-1], new[:, 1:]], axis=2).reshape(-1, 2)
    tried = _fitted(at, np.repeat(parts.owner[first], many - 1), edge)
    serves = (tried.miss <= tolerance).reshape(-1, many - 1).all(axis=1)
    taken = _apart(first[serves], many)
    if not taken.size:
        return parts
    kept = np.ones(len(parts.owner), dtype=bool)
    kept[(taken[:, None] + np.arange(many)).ravel()] = False
    return _Parts.in_order([parts.where(kept), tried.where(np.repeat(np.isin(first, taken), many - 1))])


def _apart(first: IntArray, many: int) -> IntArray:
    """Return numbers of those given, in order, that lie at least ``many`` apart."""
    taken: list[int] = []
    for k in first.tolist():
        if not taken or k >= taken[-1] + many:
            taken.append(k)
    return np.array(taken, dtype=np.intp)


def _fitted(at: _Exact, owner: IntArray, edge: Array) -> _Parts:
    """Fit one cubic to each part, and measure the largest distance of each from its exact points."""
    n = len(owner)
    tau = np.tile(np.linspace(0, 1, _SAMPLES), (n, 1))
    run = edge[:, :1] * (1 - tau) + edge[:, 1:] * tau
    exact, heading = at(np.repeat(owner, _SAMPLES), run.ravel())
    exact, heading = exact.reshape(n, _SAMPLES), heading.reshape(n, _SAMPLES)
    first, last, whole = exact[:, 0], exact[:, -1], np.abs(exact[:, -1] - exact[:, 0]) + 1e-300
    leave, arrive = heading[:, 0], heading[:, -1]
    alpha = beta = whole / 3
    for _ in range(_FEET):
        powers = _powers(first, last, alpha * leave, beta * arrive)
        tau, _, _ = _feet(powers, exact, tau)
        foot, gap, velocity = _feet(powers, exact, tau)
        # To the first order the distance across does not change while the point slides to its foot.
        alpha, beta = _handles(gap, velocity, tau, leave, arrive, alpha, beta)
        tau = foot
    leave, arrive = alpha * leave, beta * arrive
    powers = _powers(first, last, leave, arrive)
    tau, _, _ = _feet(powers, exact, tau)
    _, gap, _ = _feet(powers, exact, tau)
    fits = np.stack([first, first + leave, last - arrive, last], axis=1)
    miss = np.abs(gap).max(axis=1)
    turn = np.abs(np.angle(heading[:, 1:] * np.conj(heading[:, :-1])))
    unseen = np.abs(np.diff(exact, axis=1)) * np.tan(np.minimum(turn, 3.0) / 2) / 2
    miss = np.maximum(miss, np.where(turn > _MOST_TURN, unseen, 0).max(axis=1))
    return _Parts(owner, edge, np.stack([fits.real, fits.imag], axis=-1), miss)


def _powers(
    first: ComplexArray, last: ComplexArray, leave: ComplexArray, arrive: ComplexArray
) -> tuple[ComplexArray, ...]:
    """Return the coefficients ``(n, 1)`` of the powers of the parameter, the constant first."""
    chord = last - first
    return tuple(
        c[:, None]
        for c in (first, 3 * leave, 3 * (chord - arrive - 2 * leave), 3 * (leave + arrive) - 2 * chord)
    )


def _feet(
    powers: tuple[ComplexArray, ...], exact: ComplexArray, tau: Array
) -> tuple[Array, ComplexArray, ComplexArray]:
    """Return each parameter moved toward the foot of its point; and the gap and the velocity before that."""
    c0, c1, c2, c3 = powers
    gap = ((c3 * tau + c2) * tau + c1) * tau + (c0 - exact)
    velocity = (3 * c3 * tau + 2 * c2) * tau + c1
    square = velocity.real**2 + velocity.imag**2
    along = gap.real * velocity.real + gap.imag * velocity.imag
    foot = np.minimum(np.maximum(tau - along / (square + 1e-300), 0), 1)
    foot[:, 0], foot[:, -1] = 0, 1
    return foot, gap, velocity


def _handles(
    gap: ComplexArray,
    velocity: ComplexArray,
    tau: Array,
    leave: ComplexArray,
    arrive: ComplexArray,
    alpha: Array,
    beta: Array,
) -> tuple[Array, Array]:
    """Return the two handle lengths moved to where the distances across the fit are least, by one Gauss-Newton step.

    Only what lies across counts: along the fit its points may slide.
    """
    across = np.conj(velocity) / (np.abs(velocity) + 1e-300)
    share = 3 * tau * (1 - tau)
    p = share * (1 - tau) * (leave[:, None] * across).imag
    q = -share * tau * (arrive[:, None] * across).imag
    r = -(gap * across).imag
    pp, qq, pq, pr, qr = (np.einsum("ij,ij->i", x, y) for x, y in ((p, p), (q, q), (p, q), (p, r), (q, r)))
    # A trace of damping keeps straight stretches, where handles may have any length, as they are.
    pp, qq = pp * (1 + 1e-9) + 1e-12, qq * (1 + 1e-9) + 1e-12
    det = pp * qq - pq * pq
    # No handle more than doubles or halves in one step: none turns backward.
    more = np.minimum(np.maximum((pr * qq - qr * pq) / det, -alpha / 2), alpha)
    less = np.minimum(np.maximum((qr * pp - pr * pq) / det, -beta / 2), beta)
    return alpha + more, beta + less
