"""Fitting cubics to the exact curve at a distance from a cubic, to a measured tolerance.

A parallel curve of a cubic is no cubic. Each stretch is replaced by one cubic with the exact ends and end
directions, its two handles found by least squares against the exact curve (alternating with projecting the exact
points onto the fit); where the largest distance is over the tolerance the stretch is halved, and so on.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve import bezier, measure

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    IntArray = NDArray[np.intp]

__all__ = ["fit_offsets", "offset_points"]

# Exact points per stretch that a fit is measured against: dense enough that a cubic cannot stray unseen between
# two of them (the tests measure again, ten times denser).
_SAMPLES = 25
# A sharp bend may lie between two of them whole: then the fit was not measured, and the stretch is halved.
_MOST_TURN = 0.3
_ROUNDS = 4
_DEEPEST = 24


def normals(controls: Array, t: Array) -> Array:
    """Return the unit normals ``(n, 2)`` to the right of travel at each segment's ``t``."""
    direction = measure.directions(controls, t)
    return np.stack([-direction.imag, direction.real], axis=-1)


def offset_points(controls: Array, t: Array, distance: Array) -> Array:
    """Return the points ``(n, 2)`` at a signed distance (right of travel positive) from each segment's ``t``."""
    return bezier.evaluate(controls, t) + distance[:, None] * normals(controls, t)


def fit_offsets(
    controls: Array, t0: Array, t1: Array, distance: Array, tolerance: float
) -> tuple[Array, IntArray]:
    """Fit the curves at ``distance`` from the stretches ``[t0, t1]`` of segments.

    Parameters
    ----------
    controls, t0, t1, distance
        Segments ``(n, 4, 2)``, and for each the stretch and the signed distance in mm.
    tolerance
        Largest distance in mm between a fit and the exact curve, measured at many points after fitting.

    Returns
    -------
    fits, owner
        Cubics ``(m, 4, 2)`` in the order of the stretches and along each, and which stretch each belongs to.
    """
    which = np.arange(len(controls))
    begin, finish = t0.copy(), t1.copy()
    done: list[tuple[Array, IntArray, Array]] = []
    for depth in range(_DEEPEST + 1):
        fits, miss = _fit_once(controls[which], begin, finish, distance[which])
        good = (miss <= tolerance) | (depth == _DEEPEST)
        done.append((fits[good], which[good], begin[good]))
        if good.all():
            break
        bad = ~good
        middle = (begin[bad] + finish[bad]) / 2
        which = np.concatenate([which[bad], which[bad]])
        begin, finish = np.concatenate([begin[bad], middle]), np.concatenate([middle, finish[bad]])
    fits, owner, place = (np.concatenate(parts) for parts in zip(*done, strict=True))
    order = np.lexsort((place, owner))
    return fits[order], owner[order]


def _fit_once(controls: Array, t0: Array, t1: Array, distance: Array) -> tuple[Array, Array]:
    """Fit one cubic to each stretch; return the fits and the largest distance of each from its exact points."""
    n = len(controls)
    x = np.linspace(0, 1, _SAMPLES)
    rows = np.repeat(np.arange(n), _SAMPLES)
    t = (t0[:, None] + (t1 - t0)[:, None] * x).ravel()
    exact = offset_points(controls[rows], t, distance[rows]).reshape(n, _SAMPLES, 2)
    first, last = exact[:, 0], exact[:, -1]
    leave, arrive = (
        _travel(controls, t0, distance, exact[:, 1] - first),
        _travel(controls, t1, distance, last - exact[:, -2]),
    )
    steps = np.hypot(*np.moveaxis(np.diff(exact, axis=1), -1, 0))
    run = np.concatenate([np.zeros((n, 1)), np.cumsum(steps, axis=1)], axis=1)
    whole = np.where(run[:, -1:] > 0, run[:, -1:], 1)
    tau = run / whole
    fits = np.empty((n, 4, 2))
    for _ in range(_ROUNDS):
        handles = _handles(exact, tau, first, last, leave, arrive, whole[:, 0])
        fits = np.stack([first, first + handles[:, :1] * leave, last - handles[:, 1:] * arrive, last], axis=1)
        tau = _projected(fits, exact, tau)
    at = bezier.evaluate(np.repeat(fits, _SAMPLES, axis=0), tau.ravel()).reshape(exact.shape)
    miss = np.hypot(*np.moveaxis(at - exact, -1, 0)).max(axis=1)
    heading = measure.directions(controls[rows], t).reshape(n, _SAMPLES)
    turn = np.abs(np.angle(heading[:, 1:] * np.conj(heading[:, :-1]))).max(axis=1)
    return fits, np.where(turn > _MOST_TURN, np.inf, miss)


def _travel(controls: Array, t: Array, distance: Array, chord: Array) -> Array:
    """Return the unit direction of the offset at ``t``: the curve's own, turned about where the offset runs back."""
    direction = measure.directions(controls, t)
    unit = np.stack([direction.real, direction.imag], axis=-1)
    bend = measure.curvature(controls, t)
    # At a drawn-in handle the curvature is infinite; the neighbouring points then say which way the offset runs.
    backward = np.where(np.isfinite(bend), 1 - distance * bend < 0, (unit * chord).sum(axis=1) < 0)
    return np.where(backward[:, None], -unit, unit)


def _handles(
    exact: Array, tau: Array, first: Array, last: Array, leave: Array, arrive: Array, whole: Array
) -> Array:
    """Return the two handle lengths ``(n, 2)`` that bring each cubic nearest to its points, by least squares."""
    b0, b1 = (1 - tau) ** 3, 3 * tau * (1 - tau) ** 2
    b2, b3 = 3 * tau**2 * (1 - tau), tau**3
    rest = exact - (b0 + b1)[..., None] * first[:, None] - (b2 + b3)[..., None] * last[:, None]
    p, q = b1[..., None] * leave[:, None], -b2[..., None] * arrive[:, None]
    pp, qq, pq = (p * p).sum((1, 2)), (q * q).sum((1, 2)), (p * q).sum((1, 2))
    pr, qr = (p * rest).sum((1, 2)), (q * rest).sum((1, 2))
    det = pp * qq - pq * pq
    sound = det > 1e-12 * pp * qq
    safe = np.where(sound, det, 1)
    alpha, beta = (pr * qq - qr * pq) / safe, (qr * pp - pr * pq) / safe
    third = whole / 3
    # A handle that points backward or runs away makes a loop; a third of the length is the plain choice.
    sound &= (alpha > 0.02 * third) & (beta > 0.02 * third) & (alpha < 3 * whole) & (beta < 3 * whole)
    return np.stack([np.where(sound, alpha, third), np.where(sound, beta, third)], axis=1)


def _projected(fits: Array, exact: Array, tau: Array) -> Array:
    """Move each parameter toward the foot of its point on the fit, by two of Newton's steps."""
    n, m = tau.shape
    rows, points, t = np.repeat(fits, m, axis=0), exact.reshape(-1, 2), tau.ravel()
    d = 3 * np.diff(rows, axis=1)
    for _ in range(2):
        w = (1 - t)[:, None]
        s = t[:, None]
        velocity = d[:, 0] * w * w + 2 * d[:, 1] * w * s + d[:, 2] * s * s
        gap = bezier.evaluate(rows, t) - points
        speed = (velocity * velocity).sum(axis=1)
        step = (gap * velocity).sum(axis=1) / np.where(speed > 0, speed, 1)
        t = np.clip(t - step, 0, 1)
    result = t.reshape(n, m)
    result[:, 0], result[:, -1] = 0, 1
    return result
