"""The nearest point of a curve: for many points and many segments at once, and never a merely local minimum.

Boxes round runs of neighbouring pieces, eight by eight, are opened from the largest down; a box further away than
some point of the curve already seen is left shut. On the few pieces that remain the foot of the perpendicular
solves ``(B(t) - p) . B'(t) = 0``, a quintic. Its roots are isolated in Bernstein form, where the number of sign
changes of the coefficients bounds the number of roots (Descartes' rule of signs in that form; Farouki and Rajan,
Computer Aided Geometric Design 4, 1987, from memory), and then closed in on by Newton's steps that may not leave
their bracket. So every minimum is seen, and the least of them is the answer.
"""

from __future__ import annotations

from math import comb
from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve import bezier
from bias_drafting.curve.arc_length import partial_lengths
from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from bias_drafting.curve.measure import Chain

    Array = NDArray[np.float64]
    BoolArray = NDArray[np.bool_]
    ComplexArray = NDArray[np.complex128]
    IntArray = NDArray[np.intp]
    Boxes = tuple[Array, Array, Array]

__all__ = ["locate_points"]

# How many boxes go into the next larger one.
_BRANCH = 8
# Into how many parts a bent piece is cut.
_PARTS = 4
# Points are worked on by so many at once, and by fewer where they are equally near to too many pieces (the centre
# of a circle is near to all of them): memory stays bounded.
_BLOCK = 4096
_MOST_PAIRS = 2_000_000
# A bracket halved this often is narrower than a parameter can be told.
_HALVINGS = 48
# Differences of distance below this share of the coordinates are rounding.
_ROUNDING = 8 * float(np.finfo(np.float64).eps)

# Bernstein coefficients of a product: of degree 3 with degree 2, and of one quintic restricted to either half.
_PRODUCT = np.zeros((6, 4, 3))
for _i in range(4):
    for _k in range(3):
        _PRODUCT[_i + _k, _i, _k] = comb(3, _i) * comb(2, _k) / comb(5, _i + _k)
_LEFT = np.array([[comb(j, i) / 2**j for i in range(6)] for j in range(6)])
_RIGHT = _LEFT[::-1, ::-1]


def locate_points(chain: Chain, xy: ArrayLike) -> tuple[Array, Array]:
    """Return arc length and distance in mm, each ``(m,)``, of the point of the curve nearest to each of ``xy``.

    Parameters
    ----------
    chain
        The measured curve.
    xy
        Points ``(m, 2)`` in mm.

    Returns
    -------
    s, distance
        Among equally near points (to the rounding of the coordinates) the first along the curve; so on a closed
        curve its start is ``s = 0``.

    Raises
    ------
    CurveError
        Points of another shape, or with a coordinate that is not finite.

    Notes
    -----
    The distance is right to the rounding of the coordinates. So is ``s`` as far as the question has one answer:
    near the centre of a bend many points are almost equally near.
    """
    points = np.asarray(xy, dtype=np.float64)
    if points.ndim != 2 or points.shape[1] != 2 or not np.isfinite(points).all():
        msg = f"points to be located must be finite and of shape (m, 2); got shape {points.shape}"
        raise CurveError(msg)
    s, distance = np.empty(len(points)), np.empty(len(points))
    controls, owner, t0, width = _parts(chain.controls)
    tree = _tree(controls)
    work = [np.arange(k, min(k + _BLOCK, len(points))) for k in range(0, len(points), _BLOCK)]
    while work:
        rows = work.pop()
        tie = _ROUNDING * np.maximum(np.abs(points[rows]).max(axis=1), np.abs(chain.controls).max())
        pairs = _near_pairs(tree, points[rows], tie)
        if pairs is None:
            work += np.array_split(rows, 2)
            continue
        part, t, distance[rows] = _nearest(controls, points[rows], tie, *pairs)
        piece, t = owner[part], t0[part] + t * width[part]
        run = partial_lengths(chain.controls[piece], np.zeros(len(rows)), t)
        s[rows] = np.where(t == 1, chain.s[piece + 1], np.minimum(chain.s[piece] + run, chain.s[piece + 1]))
    return s, distance


def _parts(controls: Array) -> tuple[Array, IntArray, Array, Array]:
    """Cut what is bent into short parts, round which boxes lie close: parts, their piece, its ``t0``, and width."""
    legs = np.diff(bezier.as_complex(controls), axis=1)
    across = np.abs((np.conj(legs[:, :2]) * legs[:, 1:]).imag).max(axis=1)
    many = np.where(across > 1e-3 * np.abs(legs).max(axis=1) ** 2, _PARTS, 1)
    owner = np.repeat(np.arange(len(controls)), many)
    width = 1 / many[owner]
    t0 = (np.arange(len(owner)) - np.repeat(np.cumsum(many) - many, many)) * width
    return bezier.subsegments(controls[owner], t0, t0 + width), owner, t0, width


def _tree(controls: Array) -> list[Boxes]:
    """Return boxes round runs of pieces as lowest and highest corner and one point inside, the largest first."""
    low, high, start = controls.min(axis=1), controls.max(axis=1), controls[:, 0]
    levels = [(low, high, start)]
    while len(low) > _BRANCH:
        # What fills up the last box lies infinitely far away.
        fill = ((0, -len(low) % _BRANCH), (0, 0))
        low, high, start = (np.pad(x, fill, constant_values=np.inf) for x in (low, high, start))
        levels[-1] = (low, high, start)
        low = low.reshape(-1, _BRANCH, 2).min(axis=1)
        high = np.where(np.isinf(high), -np.inf, high).reshape(-1, _BRANCH, 2).max(axis=1)
        start = start[::_BRANCH]
        levels.append((low, high, start))
    return levels[::-1]


def _near_pairs(tree: list[Boxes], xy: Array, tie: Array) -> tuple[IntArray, IntArray] | None:
    """Return pairs of point and piece, sorted by point, among which every nearest piece is; None if too many."""
    top = len(tree[0][0])
    row, box = np.repeat(np.arange(len(xy)), top), np.tile(np.arange(top), len(xy))
    least = np.full(len(xy), np.inf)
    for depth, (low, high, start) in enumerate(tree):
        p = xy[row]
        off = np.maximum(np.maximum(low[box] - p, p - high[box]), 0)
        first = np.searchsorted(row, np.arange(len(xy)))
        known = np.hypot(*(start[box] - p).T)
        least = np.minimum(least, np.minimum.reduceat(known, first))
        keep = np.hypot(*off.T) <= (least + tie)[row]
        row, box = row[keep], box[keep]
        if depth + 1 < len(tree):
            if len(row) * _BRANCH > _MOST_PAIRS and len(xy) > 1:
                return None
            row = np.repeat(row, _BRANCH)
            box = (box[:, None] * _BRANCH + np.arange(_BRANCH)).ravel()
    return row, box


def _nearest(
    controls: Array, xy: Array, tie: Array, row: IntArray, piece: IntArray
) -> tuple[IntArray, Array, Array]:
    """Return piece, parameter and distance of the nearest point for each of ``xy``, among pairs with pieces."""
    seen = controls[piece] - xy[row, None]
    which, at = _feet(seen)
    ends = np.arange(len(row))
    pair = np.concatenate([ends, ends, which])
    t = np.concatenate([np.zeros(len(row)), np.ones(len(row)), at])
    stands = np.concatenate([*_standing_ends(controls, seen, piece, tie[row]), np.ones(len(at), bool)])
    away = bezier.evaluate(seen[pair], t)
    distance = np.hypot(away[:, 0], away[:, 1])
    least = np.full(len(xy), np.inf)
    np.minimum.at(least, row[pair], distance)
    equal = np.flatnonzero(distance <= (least + tie)[row[pair]])
    pair, t = pair[equal], t[equal]
    order = np.lexsort((t, piece[pair], ~stands[equal], row[pair]))
    chosen = order[np.searchsorted(row[pair][order], np.arange(len(xy)))]
    return piece[pair[chosen]], t[chosen], distance[equal][chosen]


def _standing_ends(controls: Array, seen: Array, piece: IntArray, tie: Array) -> tuple[BoolArray, BoolArray]:
    """Whether start and end of each pair's piece are nearest as far as the curve just beside them goes.

    Without this an end a hair further away than the foot on the next piece would be taken for equally near: far
    from the curve the distance hardly changes along it.
    """
    leaving, arriving = bezier.end_directions(controls)
    ring = (controls[0, 0] == controls[-1, 3]).all()
    before, after = np.roll(arriving, 1), np.roll(leaving, -1)
    if not ring:
        before[0] = after[-1] = 0  # nothing comes before the start or after the end

    def rises(corner: Array, direction: ComplexArray) -> BoolArray:
        # The distance grows in this direction, or changes by no more than rounding.
        along: Array = (np.conj(corner[:, 0] + 1j * corner[:, 1]) * direction).real
        grows: BoolArray = along >= -tie
        return grows

    start = rises(seen[:, 0], leaving[piece]) & rises(seen[:, 0], -before[piece])
    end = rises(seen[:, 3], -arriving[piece]) & rises(seen[:, 3], after[piece])
    return start, end


def _feet(seen: Array) -> tuple[IntArray, Array]:
    """Return where inside each cubic ``(k, 4, 2)`` the distance to the origin has minima: indices and parameters."""
    legs = np.diff(seen, axis=1)
    products = np.einsum("kid,kjd->kij", seen, legs).reshape(len(seen), 12)
    quintic = products @ _PRODUCT.reshape(6, 12).T
    which, t0, width = np.arange(len(seen)), np.zeros(len(seen)), 1.0
    found: list[tuple[IntArray, Array, Array]] = []
    for depth in range(_HALVINGS + 1):
        changes, falls = _sign_changes(quintic)
        # One change from falling to rising: one minimum. Several that cannot be told apart count as one.
        single = (changes == 1) & falls if depth < _HALVINGS else (changes > 0)
        found.append((which[single], t0[single], t0[single] + width))
        several = changes > 1
        if not several.any():
            break
        width /= 2
        left, right = quintic[several] @ _LEFT.T, quintic[several] @ _RIGHT.T
        right[:, 0] = left[:, 5]  # to the last bit, lest a root fall between the halves
        quintic = np.concatenate([left, right])
        which = np.concatenate([which[several], which[several]])
        t0 = np.concatenate([t0[several], t0[several] + width])
    index, low, high = (np.concatenate(parts) for parts in zip(*found, strict=True))
    return index, _closed_in(seen[index], low, high)


def _sign_changes(quintic: Array) -> tuple[IntArray, BoolArray]:
    """Return how often the signs change along each row, and whether the first is negative."""
    negative = quintic < 0
    # A zero takes the sign that follows it, which adds no change; at the very end it counts as positive, so that a
    # minimum just where a piece was halved belongs to the half before it.
    for k in range(4, -1, -1):
        negative[:, k] |= (quintic[:, k] == 0) & negative[:, k + 1]
    changes: IntArray = (negative[:, 1:] != negative[:, :-1]).sum(axis=1)
    return changes, negative[:, 0]


def _closed_in(seen: Array, low: Array, high: Array) -> Array:
    """Return the one minimum in each bracket: Newton's steps, or a halving where they would leave it."""
    legs = 3 * np.diff(seen, axis=1)
    t = (low + high) / 2
    low, high = low.copy(), high.copy()
    active = np.arange(len(t))
    for _ in range(2 * _HALVINGS):
        if not active.size:
            break
        here, d = t[active], legs[active]
        u = 1 - here
        away = bezier.evaluate(seen[active], here)
        w0, w1, w2 = ((u * u)[:, None], (2 * u * here)[:, None], (here * here)[:, None])
        first = d[:, 0] * w0 + d[:, 1] * w1 + d[:, 2] * w2
        second = 2 * ((d[:, 1] - d[:, 0]) * u[:, None] + (d[:, 2] - d[:, 1]) * here[:, None])
        value = (away * first).sum(axis=1)
        slope = (first * first).sum(axis=1) + (away * second).sum(axis=1)
        low[active] = np.where(value < 0, here, low[active])
        high[active] = np.where(value < 0, high[active], here)
        with np.errstate(divide="ignore", invalid="ignore"):
            step = here - value / slope
        inside = (step >= low[active]) & (step <= high[active])
        t[active] = np.where(inside, step, (low[active] + high[active]) / 2)
        still = np.abs(t[active] - here) > 1e-16 + 2e-16 * here
        active = active[still]
    return t
