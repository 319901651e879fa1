"""The two ends of a stem drawn as an outline: square, round or pointed, and the two sides between them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve import bezier
from bias_drafting.curve.spine_sides import Side
from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from bias_drafting.curve.measure import Chain
    from bias_drafting.curve.spine_sides import Facing

    Array = NDArray[np.float64]
    IntArray = NDArray[np.intp]

__all__ = ["End", "arc_length_of", "found_ends", "sides_between"]

# Two boundary points that face each other belong to the body of a stem, clear of its ends, where the way round
# either end is at least this many times as long as the way across. On a square it is 2 at most, on a circle 1.57, on
# an ellipse twice as long as wide 2.42, on a rectangle twice as long as wide 3.
_CLEAR = 2.4
# The end itself is looked for up to where the way round it is this many times the way across.
_CAP = 3.0
# A corner of an end turns by this much, in radians, within this share of the width: a round end turns 5 degrees.
_CORNER, _CORNER_WINDOW = np.radians(30.0), 1 / 24
# One corner that turns so far is a point; two that turn so far together are a cut.
_POINT, _CUT = np.radians(75.0), np.radians(90.0)
# The direction of a stem at its end is taken over this many pairs.
_ROW = 6
# A corner begins where this share of it is turned: a bend of the side before it may be seen as part of it.
_BEGUN = 0.2
# A cut end may bulge by this share over the distance of its corners from its middle.
_BULGE = 1.1


@dataclass(frozen=True, slots=True, eq=False)
class End:
    """One end of a stem.

    Attributes
    ----------
    kind
        ``"square"``, ``"round"`` or ``"pointed"``.
    a, b
        Numbers of the boundary points at which the two sides end; the same one unless the end is square.
    point
        The tip of a pointed end, the middle of a square one; on a round one where the boundary is half way round.
    across
        The distance in mm between the sides just clear of the end.
    reach
        Half the boundary's way round the end, from where it is clear of it, in mm.
    """

    kind: str
    a: int
    b: int
    point: Array
    across: float
    reach: float


def arc_length_of(chain: Chain, number: IntArray) -> Array:
    """Return the arc length at boundary points, counted on past the start of a closed chain."""
    m = len(chain.controls)
    s: Array = chain.s[number % m] + chain.length * (number // m)
    return s


def found_ends(chain: Chain, row: Facing) -> tuple[End, End]:
    """Return the end at the beginning of a row of facing points, and the one at its end.

    Raises
    ------
    CurveError
        A shape that is nowhere clearly longer than wide.
    """
    points, n = chain.controls[:, 0], len(chain.controls)
    s_a, s_b = arc_length_of(chain, row.a), arc_length_of(chain, row.b)
    across = np.hypot(*(points[row.a % n] - points[row.b % n]).T)
    round_far = s_b - s_a
    round_near = chain.length - round_far
    body = np.minimum(round_near, round_far) / across
    if body.max() < _CLEAR:
        x, y = points.mean(axis=0)
        size = np.ptp(points, axis=0)
        msg = (
            f"not the outline of a stem: the shape round ({x:.2f}, {y:.2f}), {size[0]:.2f} mm by {size[1]:.2f} mm,"
            " has no two long sides; a stem is at least about twice as long as it is wide"
        )
        raise CurveError(msg)
    middle = int(np.argmax(np.minimum(round_near, round_far)))
    middle = middle if body[middle] >= _CLEAR else int(np.argmax(body))
    near = _clear_of_end(round_near / across, np.arange(middle, -1, -1))
    far = _clear_of_end(round_far / across, np.arange(middle, len(across)))
    centre = (points[row.a % n] + points[row.b % n]) / 2
    onward = centre[near] - centre[min(near + _ROW, middle)], centre[far] - centre[max(far - _ROW, middle)]
    across_a = points[row.a % n] - points[row.b % n]
    # Pairs stand askew by up to a step: the way round an end is half done where both its halves reach as far.
    skew = [
        float(across_a[k] @ way) / max(float(np.hypot(*way)), 1e-300)
        for k, way in zip((near, far), onward, strict=True)
    ]
    return (
        _end_within(chain, s_b[near] - chain.length, s_a[near], across[near], skew[0] / 2),
        _end_within(chain, s_a[far], s_b[far], across[far], -skew[1] / 2, swapped=True),
    )


def _clear_of_end(ratio: Array, order: IntArray) -> int:
    """Return the last of the pairs, from the middle outward, that is clear of the end."""
    wanted = min(_CAP, float(ratio[order[0]]))
    return int(order[np.flatnonzero(ratio[order] >= wanted)[-1]])


def _end_within(
    chain: Chain, first: float, last: float, across: float, skew: float, swapped: bool = False
) -> End:
    """Return the end on the stretch of boundary from arc length ``first`` to ``last``, found by its corners.

    Without corners, it is half done ``skew`` mm after the middle.
    """
    corners = _corners_within(chain, first - across / 2, last + across / 2, across * _CORNER_WINDOW)
    n, reach = len(chain.controls), (last - first) / 2
    if len(corners) == 1 and corners[0][2] >= _POINT:
        tip = _turned(chain, *corners[0], 0.5)
        return End("pointed", tip, tip, chain.controls[tip % n, 0], across, reach)
    if len(corners) >= 2 and sum(turn for _, _, turn in corners) >= _CUT:
        # A corner may be cut off or rounded a little: the sides end where it begins, the cut lies within.
        one, other = _turned(chain, *corners[0], _BEGUN), _turned(chain, *corners[-1], 1 - _BEGUN)
        low, high = arc_length_of(chain, np.array([one, other]))
        middle = _point_at(chain, (low + high) / 2)
        if _is_cut(chain, one, other, middle):
            return End("square", *((one, other) if swapped else (other, one)), middle, across, reach)
    apex = _nearest_number(chain, (first + last) / 2 + skew)
    return End("round", apex, apex, chain.controls[apex % n, 0], across, reach)


def _is_cut(chain: Chain, first: int, last: int, middle: Array) -> bool:
    """Whether the boundary between two corners runs across, not out into a shape of its own."""
    n = len(chain.controls)
    reach = np.hypot(*(chain.controls[np.arange(first, last + 1) % n, 0] - middle).T)
    return bool(reach.max() <= _BULGE * max(reach[0], reach[-1]))


def _point_at(chain: Chain, s: float) -> Array:
    piece, t = chain.locate(np.array([s % chain.length]))
    point: Array = bezier.evaluate(chain.controls[piece], t)[0]
    return point


def _nearest_number(chain: Chain, s: float) -> int:
    """Return the number of the boundary point nearest to an arc length, which may lie a round before or after."""
    lap = int(s // chain.length)
    return int(np.argmin(np.abs(chain.s - s % chain.length))) + lap * len(chain.controls)


def _corners_within(
    chain: Chain, first: float, last: float, window: float
) -> list[tuple[float, float, float]]:
    """Return the outward corners between two arc lengths: where each begins and ends, and how far it turns."""
    grid = np.arange(first, last, window / 4)
    turn = _heading(chain, grid + window / 2) - _heading(chain, grid - window / 2)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], turn >= _CORNER, [False]])))
    begin, end = grid[edges[::2]] - window / 2, grid[edges[1::2] - 1] + window / 2
    total = _heading(chain, end) - _heading(chain, begin)
    return [(float(x), float(y), float(z)) for x, y, z in zip(begin, end, total, strict=True)]


def _heading(chain: Chain, s: Array) -> Array:
    """Return the running direction in radians at arc lengths that may lie up to a round before or after."""
    joints, heading = np.repeat(chain.s, 2)[1:-1], chain.heading.ravel()
    length = chain.length
    value: Array = np.interp(
        s,
        np.concatenate([joints - length, joints, joints + length]),
        np.concatenate([heading - 2 * np.pi, heading, heading + 2 * np.pi]),
    )
    return value


def _turned(chain: Chain, begin: float, end: float, total: float, share: float) -> int:
    """Return the number of the boundary point at which a corner has turned by a share of the whole."""
    numbers = np.arange(_nearest_number(chain, begin), _nearest_number(chain, end) + 1)
    s, beside = arc_length_of(chain, numbers), 1e-6 * (end - begin)
    wanted = _heading(chain, np.array([begin]))[0] + share * total
    before, after = _heading(chain, s - beside) - wanted, _heading(chain, s + beside) - wanted
    # At a sharp joint the direction jumps past what is wanted; else the nearest will do.
    miss = np.where((before <= 0) & (after >= 0), -1.0, np.minimum(np.abs(before), np.abs(after)))
    return int(numbers[np.argmin(miss)])


def sides_between(chain: Chain, start: End, finish: End) -> tuple[Side, Side]:
    """Return both sides of a stem, each running with the boundary; beyond a square end they go on straight."""
    n = len(chain.controls)
    first, last = start.a, finish.a
    back, front = finish.b, start.b + n
    if not (first < last <= back < front):
        x, y = chain.controls[first % n, 0]
        msg = f"not the outline of a stem: its ends, near ({x:.2f}, {y:.2f}), leave no two sides between them"
        raise CurveError(msg)
    return (
        _stretch(chain, first, last, _run_on(start), _run_on(finish)),
        _stretch(chain, back, front, _run_on(finish), _run_on(start)),
    )


def _run_on(end: End) -> float:
    # Far enough for a cut at 45 degrees, and a foot of a circle beyond it.
    return 3 * end.across if end.kind == "square" else 0.0


def _stretch(chain: Chain, first: int, last: int, before: float, after: float) -> Side:
    """Return the boundary from one point to another, run on straight at its ends by these lengths."""
    n, numbers = len(chain.controls), np.arange(first, last + 1)
    steps, s = chain.controls[numbers[:-1] % n], arc_length_of(chain, numbers)
    corners = np.concatenate([[0.0], chain.corners[numbers[1:-1] % n], [0.0]])
    leaving, arriving = (np.array([way.real, way.imag]).T for way in bezier.end_directions(steps[[0, -1]]))
    if before > 0:
        line = bezier.from_lines(np.stack([steps[0, 0] - before * leaving[0], steps[0, 0]]))
        steps, s, corners = (
            np.concatenate([line, steps]),
            np.append(s[0] - before, s),
            np.append(0.0, corners),
        )
    if after > 0:
        line = bezier.from_lines(np.stack([steps[-1, 3], steps[-1, 3] + after * arriving[1]]))
        steps, s, corners = (
            np.concatenate([steps, line]),
            np.append(s, s[-1] + after),
            np.append(corners, 0.0),
        )
    return Side(steps, s, corners, False)
