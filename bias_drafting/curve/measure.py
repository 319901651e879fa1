"""Measuring along a curve: direction, curvature, turning, and the running totals of a whole chain.

The direction of travel turns between two parameters by ``arg((t1 - r1)/(t0 - r1)) + arg((t1 - r2)/(t0 - r2))``,
exactly and without ambiguity, because ``t - r`` moves along a straight line.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from bias_drafting.curve import bezier
from bias_drafting.curve.arc_length import inverse_length, lengths, partial_lengths

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    ComplexArray = NDArray[np.complex128]
    IntArray = NDArray[np.intp]

__all__ = [
    "Chain",
    "along_steps",
    "build_chain",
    "curvature",
    "directions",
    "followed_steps",
    "hermite",
    "turn_within",
]

# Nearer than this to the real line, a root of B' is a cusp: the curve stands still there and is split. Not so near
# to an end: what would be cut off is shorter than the coordinates can tell.
_CUSP = 1e-11
_OFF_THE_ENDS = 1e-7


def directions(controls: Array, t: Array) -> ComplexArray:
    """Return the unit direction of travel of each segment at its ``t`` ``(n,)``, as complex numbers.

    Where the segment stands still (a handle drawn in to its end) this is the limit along the curve.
    """
    p = bezier.as_complex(controls)
    d = p[:, 1:] - p[:, :-1]
    w = 1 - t
    velocity = d[:, 0] * (w * w) + d[:, 1] * (2 * w * t) + d[:, 2] * (t * t)
    speed = np.abs(velocity)
    still = speed <= 1e-12 * np.abs(d).max(axis=1)
    if still.any():
        leaving, arriving = bezier.end_directions(controls[still])
        velocity[still] = np.where(t[still] < 0.5, leaving, arriving)
        speed[still] = 1
    unit: ComplexArray = velocity / speed
    return unit


def curvature(controls: Array, t: Array) -> Array:
    """Return the signed curvature in 1/mm of each segment at its ``t`` ``(n,)``.

    Positive where the path bends to the right of travel as seen on the page (y down). Infinite where the segment
    stands still while it turns; 0 on straight segments.
    """
    coefficients = bezier.derivative_coefficients(controls)
    first = bezier.evaluate_complex(coefficients, t)
    second = 2 * coefficients[:, 0] * t + coefficients[:, 1]
    across = (np.conj(first) * second).imag
    speed = np.abs(first)
    # Straight lines leave rounding noise in the cross product; noise is not a bend.
    noise = 1e-14 * np.abs(coefficients).max(axis=1) ** 2
    across = np.where(np.abs(across) <= noise * 0.1, 0.0, across)
    with np.errstate(divide="ignore", invalid="ignore"):
        value = np.where(across == 0, 0.0, across / speed**3)
    still = speed <= 1e-12 * np.abs(coefficients).max(axis=1)
    if still.any():
        value[still] = _bend_where_still(coefficients[still], t[still])
    return value


def _bend_where_still(coefficients: ComplexArray, t: Array) -> Array:
    """Return the limit of the curvature at ends whose handle is drawn in: infinite, or 0 on a straight segment."""
    beside = np.where(t < 0.5, t + 1e-3, t - 1e-3)
    first = bezier.evaluate_complex(coefficients, beside)
    second = 2 * coefficients[:, 0] * beside + coefficients[:, 1]
    across = (np.conj(first) * second).imag
    straight = np.abs(across) <= 1e-12 * np.abs(first) * np.abs(second)
    return np.where(straight, 0.0, np.copysign(np.inf, across))


def turn_within(u: ComplexArray, v: ComplexArray, t0: Array, t1: Array) -> Array:
    """Return by how much the direction turns from ``t0`` to ``t1 >= t0`` within a piece, in radians.

    ``u`` and ``v`` are the factors of the piece's derivative. The piece must not stand still strictly between its
    ends (see :func:`build_chain`).
    """

    def along(factor: ComplexArray) -> Array:
        slope = factor[:, 1] - factor[:, 0]
        begin = factor[:, 0] * (1 - t0) + factor[:, 1] * t0
        finish = factor[:, 0] * (1 - t1) + factor[:, 1] * t1
        # At a root the direction is the limit from within the piece.
        begin = np.where(begin == 0, slope, begin)
        finish = np.where(finish == 0, -slope, finish)
        angle: Array = np.angle(finish * np.conj(begin))
        return angle

    return np.where(t1 > t0, along(u) + along(v), 0.0)


def _cusps(controls: Array) -> Array:
    """Return the parameters ``(n, 2)`` at which each segment stands still inside, NaN for none."""
    u, v = bezier.hodograph_factors(controls)
    roots = []
    for factor in (u, v):
        root = bezier.factor_roots(factor)
        inside = (np.abs(root.imag) < _CUSP) & (np.abs(root.real - 0.5) < 0.5 - _OFF_THE_ENDS)
        roots.append(np.where(inside, root.real, np.nan))
    cusps = np.sort(np.stack(roots, axis=1), axis=1)
    # Between two so close lies nothing that coordinates could show.
    cusps[cusps[:, 1] - cusps[:, 0] < _OFF_THE_ENDS, 1] = np.nan
    return cusps


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """A curve made ready for measuring: its segments, split where they stand still, with all running totals.

    Attributes
    ----------
    controls
        ``(m, 4, 2)``, the pieces: the curve's segments, each cusp inside one made into a joint.
    u, v
        ``(m, 2)`` complex, factors of each piece's derivative.
    s
        ``(m + 1,)`` arc length at the start of each piece, and at the very end.
    heading
        ``(m, 2)`` direction at the start and the end of each piece in radians, running on without jumps of 2 pi.
    corners
        ``(m + 1,)`` turn in radians at the joint before each piece, in (-pi, pi]; the first and last are the closing
        joint's on a closed curve, 0 on an open one.
    """

    controls: Array
    u: ComplexArray
    v: ComplexArray
    s: Array
    heading: Array
    corners: Array

    @property
    def length(self) -> float:
        """Arc length of the whole, in mm."""
        return float(self.s[-1])

    def locate(self, s: Array, before: bool = False) -> tuple[IntArray, Array]:
        """Return piece and parameter at each arc length; at a joint the piece after it, or ``before`` it."""
        last = len(self.controls) - 1
        side: Literal["left", "right"] = "left" if before else "right"
        piece = np.clip(np.searchsorted(self.s, s, side=side) - 1, 0, last)
        return piece, inverse_length(self.controls[piece], s - self.s[piece], np.diff(self.s)[piece])

    def between(self, low: float, high: float) -> tuple[Array, IntArray]:
        """Return the cubics from one arc length on to a higher one, and which pieces they are part of."""
        first, t0 = self.locate(np.array([low]))
        last, t1 = self.locate(np.array([high]), before=True)
        pieces = np.arange(int(first[0]), int(last[0]) + 1)
        begin, finish = np.zeros(len(pieces)), np.ones(len(pieces))
        begin[0], finish[-1] = t0[0], t1[0]
        return bezier.subsegments(self.controls[pieces], begin, finish), pieces


def build_chain(controls: Array, closed: bool) -> Chain:
    """Measure a curve once, for all that is asked of it later."""
    controls = bezier.with_handles_drawn_in(controls)
    cusps = _cusps(controls)
    if np.isfinite(cusps).any():
        controls = _split_at(controls, cusps)
    u, v = bezier.hodograph_factors(controls)
    s = np.concatenate([[0.0], np.cumsum(lengths(controls))])
    zero, one = np.zeros(len(controls)), np.ones(len(controls))
    turn = turn_within(u, v, zero, one)
    leaving, arriving = bezier.end_directions(controls)
    corners = np.zeros(len(controls) + 1)
    corners[1:-1] = np.angle(leaving[1:] * np.conj(arriving[:-1]))
    if closed:
        corners[[0, -1]] = np.angle(leaving[0] * np.conj(arriving[-1]))
    steps = np.concatenate([[np.angle(leaving[0])], turn[:-1] + corners[1:-1]])
    begin = np.cumsum(steps)
    return Chain(controls, u, v, s, np.stack([begin, begin + turn], axis=1), corners)


def _split_at(controls: Array, cuts: Array) -> Array:
    """Split segments at their cusps, the sorted parameters ``cuts`` ``(n, k)``, NaN where there is none."""
    n = len(controls)
    edges = np.concatenate(
        [np.zeros((n, 1)), np.where(np.isfinite(cuts), cuts, 1.0), np.ones((n, 1))], axis=1
    )
    start, end = edges[:, :-1], edges[:, 1:]
    which, piece = np.nonzero(end - start > 0)
    begin, finish = start[which, piece], end[which, piece]
    pieces = bezier.subsegments(controls[which], begin, finish)
    # The curve stands still where it is split; rounding would leave handles that point anywhere.
    pieces[:, 1] = np.where((begin > 0)[:, None], pieces[:, 0], pieces[:, 1])
    pieces[:, 2] = np.where((finish < 1)[:, None], pieces[:, 3], pieces[:, 2])
    return bezier.with_handles_drawn_in(pieces)


def followed_steps(chain: Chain, even: int) -> tuple[IntArray, Array, Array]:
    """Return steps ``piece, t0, t1`` along which a cubic through headings and curvatures follows the heading.

    ``even`` steps a piece are halved where it does not, to 1e-6 rad half way: a bend may fill a billionth of its
    piece.
    """
    n, grid = len(chain.controls), np.linspace(0, 1, even + 1)
    piece, t0, t1 = np.repeat(np.arange(n), even), np.tile(grid[:-1], n), np.tile(grid[1:], n)
    done: list[tuple[IntArray, Array, Array]] = []
    while len(piece):
        c, u, v, half = chain.controls[piece], chain.u[piece], chain.v[piece], (t0 + t1) / 2
        arc = partial_lengths(c, t0, half)
        span = arc + partial_lengths(c, half, t1)
        turn, rise = turn_within(u, v, t0, half), turn_within(u, v, t0, t1)
        with np.errstate(invalid="ignore"):
            guess = hermite(arc / span, rise, curvature(c, t0) * span, curvature(c, t1) * span)
            coarse = ~(np.abs(guess - turn) <= 1e-6) & (t1 - t0 > 1e-9) & (span > 0)
        done.append((piece[~coarse], t0[~coarse], t1[~coarse]))
        piece = np.concatenate([piece[coarse], piece[coarse]])
        t0, t1 = np.concatenate([t0[coarse], half[coarse]]), np.concatenate([half[coarse], t1[coarse]])
    piece, t0, t1 = (np.concatenate(parts) for parts in zip(*done, strict=True))
    order = np.lexsort((t0, piece))
    return piece[order], t0[order], t1[order]


def along_steps(chain: Chain, piece: IntArray, t0: Array, t1: Array) -> tuple[IntArray, Array, Array, Array]:
    """Return ``piece, t, s, heading`` of the nodes between which steps ``piece, t0, t1`` lead, in order.

    The steps fill each piece from its start to its end. So each joint is two nodes, the end of one piece and the
    start of the next; ``t`` is 1 at ends alone.
    """
    every = np.arange(len(chain.controls))
    arc = partial_lengths(chain.controls[piece], t0, t1)
    arc *= (np.diff(chain.s) / np.bincount(piece, arc))[piece]
    run = np.cumsum(arc) - arc
    first = np.searchsorted(piece, every)
    # After the last start on each piece comes its end, the joint itself to the last bit; rounding must lead no start
    # beyond it.
    last = np.append(first[1:], len(piece))
    s = np.minimum(chain.s[piece] + (run - run[first][piece]), chain.s[piece + 1])
    s = np.insert(s, last, chain.s[1:])
    t, piece = np.insert(t0, last, 1.0), np.insert(piece, last, every)
    turn = turn_within(chain.u[piece], chain.v[piece], np.zeros(len(t)), t)
    return piece, t, s, chain.heading[piece, 0] + turn


def hermite(x: Array, rise: Array, m0: Array, m1: Array) -> Array:
    """Return the cubic from 0 to ``rise`` over the unit interval whose slopes at its ends are ``m0`` and ``m1``."""
    cubic: Array = rise * x * x * (3 - 2 * x) + m0 * x * (1 - x) ** 2 - m1 * x * x * (1 - x)
    return cubic
