"""The closest places of two cubics near each other: where they cross, run parallel, or one of them ends.

Newton's steps from a place already near, kept within given ranges of the parameters. All arrays run over the same
``n`` pairs of cubics, control points ``(n, 4)`` complex.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    ComplexArray = NDArray[np.complex128]
    Range = tuple[Array | float, Array | float]

__all__ = ["closest_places", "crossing", "followed", "foot"]

# From a start right to a tenth, Newton's steps double the figures each time.
_STEPS = 8


def followed(p: ComplexArray, t: Array) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """Return point, first and second derivative of each cubic at its ``t`` ``(n,)``."""
    u = 1 - t
    d0, d1, d2 = (3 * (p[:, k + 1] - p[:, k]) for k in range(3))
    point = u * u * (u * p[:, 0] + 3 * t * p[:, 1]) + t * t * (3 * u * p[:, 2] + t * p[:, 3])
    first = u * u * d0 + 2 * u * t * d1 + t * t * d2
    return point, first, 2 * (u * (d1 - d0) + t * (d2 - d1))


def _cross(z: ComplexArray, w: ComplexArray) -> Array:
    turn: Array = (np.conj(z) * w).imag
    return turn


def _dot(z: ComplexArray, w: ComplexArray) -> Array:
    along: Array = (np.conj(z) * w).real
    return along


def _stepped(t: Array, rise: Array, slope: Array, within: Range) -> Array:
    """Return ``t`` less ``rise / slope``, kept within its range; unmoved where the slope says nothing."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        step = rise / slope
    moved: Array = np.clip(t - np.where(np.isfinite(step), step, 0.0), *within)
    return moved


def crossing(
    p: ComplexArray, q: ComplexArray, t: Array, u: Array, t_in: Range, u_in: Range
) -> tuple[Array, Array]:
    """Return the parameters at which ``p`` and ``q`` cross near ``t`` and ``u``, if they do."""
    for _ in range(_STEPS):
        (at_p, along_p, _), (at_q, along_q, _) = followed(p, t), followed(q, u)
        across, gap = _cross(along_p, along_q), at_p - at_q
        t = _stepped(t, _cross(gap, along_q), across, t_in)
        u = _stepped(u, _cross(gap, along_p), across, u_in)
    return t, u


def foot(p: ComplexArray, z: ComplexArray, t: Array, within: Range) -> Array:
    """Return the parameter near ``t`` at which ``p`` is closest to the point ``z``."""
    for _ in range(_STEPS):
        point, first, second = followed(p, t)
        slope = np.abs(first) ** 2
        bent = slope + _dot(point - z, second)
        t = _stepped(t, _dot(first, point - z), np.where(bent > 0.1 * slope, bent, slope), within)
    return t


def _parallel(
    p: ComplexArray, q: ComplexArray, t: Array, u: Array, t_in: Range, u_in: Range
) -> tuple[Array, Array]:
    """Return the parameters near ``t`` and ``u`` at which the tangents are parallel and square to the gap between.

    Where two curves touch this is found to full precision; that the gap itself vanishes, only to half of it.
    """
    for _ in range(_STEPS):
        (at_p, first_p, second_p), (at_q, first_q, second_q) = followed(p, t), followed(q, u)
        gap = at_p - at_q
        turn, lean = _cross(first_p, first_q), _dot(first_p, gap)
        turn_t, turn_u = _cross(second_p, first_q), _cross(first_p, second_q)
        lean_t, lean_u = np.abs(first_p) ** 2 + _dot(second_p, gap), -_dot(first_p, first_q)
        both = turn_t * lean_u - turn_u * lean_t
        t, u = (
            _stepped(t, turn * lean_u - turn_u * lean, both, t_in),
            _stepped(u, turn_t * lean - lean_t * turn, both, u_in),
        )
    return t, u


def closest_places(
    p: ComplexArray, q: ComplexArray, t_near: Range, u_near: Range, t_in: Range, u_in: Range
) -> tuple[Array, Array]:
    """Return seven candidates ``(7, n)`` for where ``p`` and ``q`` are closest, better kinds before worse.

    Parameters
    ----------
    t_near, u_near
        The stretches looked at: ``u_near[0]`` belongs to ``t_near[0]``, and may be the greater of the two.
    t_in, u_in
        How far the foot on one curve of an end of the other may lie along it.

    Returns
    -------
    t, u
        Parallel tangents; a crossing; the middle of ``p``'s stretch; its ends, and the ends of ``q``'s.
    """
    t0, t1 = (np.asarray(t) for t in t_near)
    u0, u1 = (np.asarray(u) for u in u_near)
    u_range = np.minimum(u0, u1), np.maximum(u0, u1)
    t_mid, u_mid = (t0 + t1) / 2, (u0 + u1) / 2
    places = [
        _parallel(p, q, t_mid, u_mid, t_near, u_range),
        crossing(p, q, t_mid, u_mid, t_near, u_range),
    ]
    places += [(t, foot(q, followed(p, t)[0], u, u_in)) for t, u in ((t_mid, u_mid), (t0, u0), (t1, u1))]
    places += [(foot(p, followed(q, u)[0], t, t_in), u) for t, u in ((t0, u0), (t1, u1))]
    return np.stack([t for t, _ in places]), np.stack([u for _, u in places])
