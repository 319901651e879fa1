"""Few smooth cubics through many exact points, corners kept."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve import bezier

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    IntArray = NDArray[np.intp]
    BoolArray = NDArray[np.bool_]

__all__ = ["fitted"]

# A direction comes from a polynomial of this degree through so many points on either side.
_DEGREE, _BESIDE = 4, 4
# Points that each fit is made from and measured against, and rounds of making the parameters fit it.
_SAMPLES, _ROUNDS = 33, 5


def fitted(points: Array, corners: BoolArray, closed: bool, tolerance: float) -> tuple[Array, Array]:
    """Return cubics along points, and where on them each point lies.

    Parameters
    ----------
    points, corners
        ``(n, 2)`` in mm, near enough together that the curve between three of them is all but an arc; and ``(n,)``
        whether the direction may jump there. On a closed curve the last point is the first again.
    closed
        Whether the curve is smooth from its end into its start.
    tolerance
        How far in mm a point may lie off the cubics: aimed at, and met wherever a cubic spans several points.

    Returns
    -------
    cubics, place
        ``(m, 4, 2)``, and ``(n,)`` the number of a cubic plus the parameter on it.
    """
    leave, arrive = _directions(points, corners, closed)
    breaks = np.unique(np.concatenate([[0], np.flatnonzero(corners), [len(points) - 1]]))
    first, last = breaks[:-1], breaks[1:]
    done: list[tuple[Array, IntArray, IntArray]] = []
    while len(first):
        cubics, miss = _fits(points, leave[first], arrive[last], first, last)
        good = (miss <= tolerance) | (last - first == 1)
        done.append((cubics[good], first[good], last[good]))
        middle = (first[~good] + last[~good]) // 2
        first, last = np.concatenate([first[~good], middle]), np.concatenate([middle, last[~good]])
    cubics, first, last = (np.concatenate(parts) for parts in zip(*done, strict=True))
    order = np.argsort(first)
    cubics, first = _merged(points, leave, arrive, cubics[order], first[order], corners, tolerance)
    last = np.append(first[1:], len(points) - 1)
    piece = np.repeat(np.arange(len(first)), last - first)
    tau = _foot(cubics[piece], points[:-1], _share(points, first, last)[:-1], rounds=4)
    tau[first] = 0
    return cubics, np.append(piece + tau, float(len(cubics)))


def _merged(
    points: Array,
    leave: Array,
    arrive: Array,
    cubics: Array,
    first: IntArray,
    corners: BoolArray,
    tolerance: float,
) -> tuple[Array, IntArray]:
    """Make one cubic of neighbours wherever it fits: halving leaves more than are needed."""
    quiet, parity = 0, 0
    while quiet < 2:
        pair = np.arange(parity, len(first) - 1, 2)
        pair = pair[~corners[first[pair + 1]]]
        end = np.append(first[1:], len(points) - 1)[pair + 1]
        one, miss = _fits(points, leave[first[pair]], arrive[end], first[pair], end)
        good = miss <= tolerance
        cubics[pair[good]] = one[good]
        cubics, first = np.delete(cubics, pair[good] + 1, axis=0), np.delete(first, pair[good] + 1)
        quiet, parity = (0 if good.any() else quiet + 1), 1 - parity
    return cubics, first


def _share(points: Array, first: IntArray, last: IntArray) -> Array:
    """Return how far along its stretch each point lies, from 0 up to 1, by the lengths of chords."""
    run = np.append(0, np.cumsum(np.hypot(*np.diff(points, axis=0).T)))
    size = last - first
    begin, whole = np.repeat(run[first], size), np.repeat(run[last] - run[first], size)
    return np.append((run[:-1] - begin) / whole, 1.0)


def _directions(points: Array, corners: BoolArray, closed: bool) -> tuple[Array, Array]:
    """Return the unit directions ``(n, 2)`` in which the curve leaves and reaches each point."""
    n = len(points)
    cuts = np.unique(np.concatenate([[0], np.flatnonzero(corners), [n - 1]]))
    number = np.arange(n)
    before = cuts[np.maximum(np.searchsorted(cuts, number, side="right") - 1, 0)]
    after = cuts[np.minimum(np.searchsorted(cuts, number, side="right"), len(cuts) - 1)]
    leave = _tangents(points, number, before, after)
    before = cuts[np.maximum(np.searchsorted(cuts, number, side="left") - 1, 0)]
    after = cuts[np.searchsorted(cuts, number, side="left")]
    arrive = _tangents(points, number, before, after)
    if closed and not corners[0]:
        # Smooth over the start: a few points of either end, side by side.
        few = min(4 * _BESIDE, n - 1)
        around = np.concatenate([points[-1 - few : -1], points[: few + 1]])
        over = _tangents(
            around, np.arange(len(around)), np.zeros(len(around), int), np.full(len(around), 2 * few)
        )
        leave[0] = arrive[-1] = over[few]
    return leave, arrive


def _tangents(points: Array, at: IntArray, low: IntArray, high: IntArray) -> Array:
    """Return the direction at each point of a polynomial through its neighbours between ``low`` and ``high``."""
    run = np.append(0, np.cumsum(np.hypot(*np.diff(points, axis=0).T)))
    first = np.clip(at - _BESIDE, low, np.maximum(high - 2 * _BESIDE, low))
    window = first[:, None] + np.arange(2 * _BESIDE + 1)
    used = window <= high[:, None]
    window = np.minimum(window, high[:, None])
    x = run[window] - run[at][:, None]
    size = np.abs(x).max(axis=1, keepdims=True)
    powers = (x / np.where(size > 0, size, 1))[..., None] ** np.arange(_DEGREE + 1)
    # Few points carry few powers.
    powers *= np.arange(_DEGREE + 1) < np.maximum(used.sum(axis=1) - 1, 2)[:, None, None]
    solve = np.linalg.pinv(powers * used[..., None], rcond=1e-10)
    slope = np.einsum("nk,nkd->nd", solve[:, 1], (points[window] - points[at][:, None]) * used[..., None])
    length = np.hypot(*slope.T)[:, None]
    direction: Array = slope / np.where(length > 0, length, 1)
    return direction


def _fits(points: Array, leave: Array, arrive: Array, first: IntArray, last: IntArray) -> tuple[Array, Array]:
    """Fit one cubic to each stretch of points; return them and how far off the farthest point of each lies."""
    x = np.linspace(0, 1, _SAMPLES)
    window = np.rint(first[:, None] + (last - first)[:, None] * x).astype(np.intp)
    exact = points[window]
    run = np.append(0, np.cumsum(np.hypot(*np.diff(points, axis=0).T)))
    whole = (run[last] - run[first])[:, None]
    tau = (run[window] - run[first][:, None]) / whole
    begin, finish = points[first], points[last]
    handles, rows = np.tile(whole / 3, 2), np.repeat(np.arange(len(first)), _SAMPLES)
    for k in range(_ROUNDS + 1):
        cubics = np.stack(
            [begin, begin + handles[:, :1] * leave, finish - handles[:, 1:] * arrive, finish], axis=1
        )
        tau = _foot(cubics[rows], exact.reshape(-1, 2), tau.ravel(), rounds=2).reshape(tau.shape)
        tau[:, 0], tau[:, -1] = 0, 1
        if k < _ROUNDS:
            handles = _better_handles(cubics, exact, tau, leave, arrive, handles, whole)
    at = bezier.evaluate(cubics[rows], tau.ravel()).reshape(exact.shape)
    return cubics, np.hypot(*np.moveaxis(at - exact, -1, 0)).max(axis=1)


def _better_handles(
    cubics: Array, exact: Array, tau: Array, leave: Array, arrive: Array, handles: Array, whole: Array
) -> Array:
    """Return the lengths ``(n, 2)`` of both handles after one Gauss-Newton step on the distances to the points.

    Only what lies square to the cubic counts as distance: along it a point may slide.
    """
    t, w = tau[..., None], 1 - tau[..., None]
    d = 3 * np.diff(cubics, axis=1)[:, None]
    way = d[:, :, 0] * w * w + 2 * d[:, :, 1] * w * t + d[:, :, 2] * t * t
    square = np.stack([-way[..., 1], way[..., 0]], axis=-1)
    square /= np.maximum(np.hypot(*np.moveaxis(way, -1, 0)), 1e-300)[..., None]
    p0, p1, p2, p3 = (cubics[:, None, k] for k in range(4))
    miss = ((p0 * w**3 + 3 * p1 * w * w * t + 3 * p2 * w * t * t + p3 * t**3 - exact) * square).sum(axis=-1)
    p = 3 * tau * (1 - tau) ** 2 * (leave[:, None] * square).sum(axis=-1)
    q = -3 * tau**2 * (1 - tau) * (arrive[:, None] * square).sum(axis=-1)
    pp, qq, pq = ((x * y).sum(axis=1) for x, y in ((p, p), (q, q), (p, q)))
    pr, qr = (p * miss).sum(axis=1), (q * miss).sum(axis=1)
    # On a straight line handles of any length do: a little damping keeps them where they are.
    damp = 1e-9 * tau.shape[1]
    pp, qq = pp + damp, qq + damp
    det = pp * qq - pq * pq
    step = np.stack([qr * pq - pr * qq, pr * pq - qr * pp], axis=1) / det[:, None]
    # A third of the length is the plain choice, 0.42 makes a half circle; one drawn in or far out makes a cusp.
    better: Array = np.clip(handles + step, 0.05 * whole, 0.7 * whole)
    return better


def _foot(cubics: Array, points: Array, t: Array, rounds: int) -> Array:
    """Return parameters moved toward the feet of the points on their cubics."""
    d = 3 * np.diff(cubics, axis=1)
    for _ in range(rounds):
        u, w = t[:, None], (1 - t)[:, None]
        first = d[:, 0] * w * w + 2 * d[:, 1] * w * u + d[:, 2] * u * u
        gap = bezier.evaluate(cubics, t) - points
        speed = (first * first).sum(axis=1)
        t = np.clip(t - (gap * first).sum(axis=1) / np.where(speed > 0, speed, 1), 0, 1)
    return t
