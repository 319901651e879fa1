"""The algebra of many cubic Beziers at once: arrays in, arrays out.

Everything here takes ``controls``, an ``(n, 4, 2)`` float64 array of control points, and works on all ``n``
segments together. Parameters ``t`` run from 0 to 1 along a segment. Coordinates are page coordinates: x runs
right, y runs down.

For turning angles and arc length the plane is read as the complex numbers, ``z = x + iy``. The derivative of a
cubic is then one complex quadratic, ``B'(t) = a t^2 + b t + c``, and it factors: that is where the exact angles
and the error bounds known beforehand come from.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve.given import given_array
from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]
    ComplexArray = NDArray[np.complex128]

__all__ = [
    "as_complex",
    "bounds",
    "derivative_coefficients",
    "end_directions",
    "evaluate",
    "evaluate_complex",
    "factor_roots",
    "flatten",
    "from_lines",
    "hodograph_factors",
    "joined_up",
    "quadratic_factors",
    "quadratic_roots",
    "subsegments",
    "with_handles_drawn_in",
]

# Beyond this (mm), and below its inverse, products of lengths run over or vanish.
_LARGEST = 1e30


# Bounded work: no drawing of cloth needs more points.
_MOST_POINTS = 20_000_000


def from_lines(points: Array) -> Array:
    """Return the cubics of the straight lines joining ``points`` ``(m, 2)`` one after another."""
    start, end = points[:-1], points[1:]
    return np.stack([start, start + (end - start) / 3, end - (end - start) / 3, end], axis=1)


def as_complex(controls: Array) -> ComplexArray:
    """Return control points ``(n, 4, 2)`` as complex numbers ``(n, 4)``."""
    return controls[..., 0] + 1j * controls[..., 1]


def evaluate(controls: Array, t: Array) -> Array:
    """Return the points ``(n, 2)`` at one parameter ``t`` ``(n,)`` for each segment."""
    t = t[:, None]
    u = 1 - t
    points: Array = controls[:, 0] * (u * u * u) + controls[:, 1] * (3 * u * u * t)
    points += controls[:, 2] * (3 * u * t * t) + controls[:, 3] * (t * t * t)
    return points


def evaluate_complex(coefficients: ComplexArray, t: Array) -> ComplexArray:
    """Return ``a t^2 + b t + c`` for coefficients ``(n, 3)`` and parameters ``(n,)`` or ``(n, m)``."""
    shape = (-1,) + (1,) * (t.ndim - 1)
    a, b, c = (coefficients[:, k].reshape(shape) for k in range(3))
    result: ComplexArray = (a * t + b) * t + c
    return result


def derivative_coefficients(controls: Array) -> ComplexArray:
    """Return ``a, b, c`` of ``B'(t) = a t^2 + b t + c`` as complex ``(n, 3)``."""
    p = as_complex(controls)
    d0, d1, d2 = (3 * (p[:, k + 1] - p[:, k]) for k in range(3))
    return np.stack([d0 - 2 * d1 + d2, 2 * (d1 - d0), d0], axis=1)


def hodograph_factors(controls: Array) -> tuple[ComplexArray, ComplexArray]:
    """Factor the derivative of each segment into two linear pieces ``u(t) v(t)``, up to a constant.

    Returns
    -------
    u, v
        Complex arrays ``(n, 2)``: the value of each piece at ``t = 0`` and at ``t = 1``. Kept so, a root close to
        either end (a handle all but drawn in) loses no figures. Equal values have no root.
    """
    p = as_complex(controls)
    d0, d1, d2 = np.diff(p, axis=1).T  # B' / 3 = d0 (1-t)^2 + 2 d1 t (1-t) + d2 t^2
    # What the rounding of coordinates leaves of a double root is a double root; it would come out as two, 1e-8 apart.
    noise = 1e-15 * np.abs(p).max(axis=1) * (np.abs(d0) + 2 * np.abs(d1) + np.abs(d2))
    return quadratic_factors(d0, d1, d2, noise)


def quadratic_factors(
    d0: ComplexArray, d1: ComplexArray, d2: ComplexArray, noise: Array | float = 0.0
) -> tuple[ComplexArray, ComplexArray]:
    """Factor complex quadratics given by Bezier controls; a discriminant no larger than ``noise`` counts as 0."""
    square = d1 * d1 - d0 * d2
    square = np.where(np.abs(square) <= noise, 0, square)
    root = np.sqrt(square)
    # Of the two signs, the one that adds rather than cancels.
    root = np.where((np.conj(d1) * root).real < 0, -root, root)
    q = -(d1 + root)
    # q = 0 only where d1 = 0 and d0 d2 = 0: both handles drawn in to one end, and a double root there.
    double = q == 0
    at_start, at_end = double & (d0 == 0), double & (d0 != 0)
    u = np.stack([np.where(at_start, 0, np.where(at_end, 1, -q)), np.where(at_start, 1, d2)], axis=1)
    v = np.stack([np.where(at_start, 0, np.where(at_end, 1, -d0)), np.where(at_start, 1, q)], axis=1)
    return u, v


def factor_roots(factor: ComplexArray) -> ComplexArray:
    """Return the root of each linear piece given by its values at 0 and 1; infinite or NaN where it has none."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        root: ComplexArray = factor[:, 0] / (factor[:, 0] - factor[:, 1])
    return root


def subsegments(controls: Array, t0: Array, t1: Array) -> Array:
    """Return the pieces of each segment between its parameters ``t0`` and ``t1``, both ``(n,)``."""

    def blossom(r: Array, s: Array, t: Array) -> Array:
        q = controls
        for parameter in (r, s, t):
            x = parameter[:, None, None]
            q = q[:, :-1] * (1 - x) + q[:, 1:] * x
        point: Array = q[:, 0]
        return point

    return np.stack(
        [blossom(t0, t0, t0), blossom(t0, t0, t1), blossom(t0, t1, t1), blossom(t1, t1, t1)], axis=1
    )


def _drawn_in(p: ComplexArray, share: float = 1e-12) -> Array:
    """Return how near ``(n,)`` to an end a handle counts as drawn in to it: ``share`` of the segment's size.

    Never closer than rounding can tell apart: the coordinates carry about 1e-16 of their own size.
    """
    scale = np.abs(p - p[:, :1]).max(axis=1)
    near: Array = np.maximum(share * scale, 4e-16 * np.abs(p).max(axis=1))
    return near


def with_handles_drawn_in(controls: Array, share: float = 1e-12) -> Array:
    """Return the segments with every handle that all but lies on an end put there exactly.

    That is one no longer than ``share`` of its segment's size.
    """
    p = as_complex(controls)
    tiny = _drawn_in(p, share)[:, None]
    result = controls.copy()
    for end in (0, 3):
        near = np.abs(p[:, 1:3] - p[:, end, None]) <= tiny
        result[:, 1:3] = np.where(near[..., None], controls[:, end, None], result[:, 1:3])
    return result


def end_directions(controls: Array) -> tuple[ComplexArray, ComplexArray]:
    """Return the unit directions ``(n,)`` in which each segment leaves its start and reaches its end.

    Where a handle is drawn in (its point lies on the end), the direction is the limit along the curve: it comes
    from the next control point that differs.
    """
    p = as_complex(controls)
    tiny = _drawn_in(p)

    def first_step(chain: ComplexArray) -> ComplexArray:
        steps = chain[:, 1:] - chain[:, :1]
        which = np.argmax(np.abs(steps) > tiny[:, None], axis=1)
        step = steps[np.arange(len(chain)), which]
        size = np.abs(step)
        return np.where(size > 0, step / np.where(size > 0, size, 1), 1)

    return first_step(p), -first_step(p[:, ::-1])


def polygon_lengths(controls: Array) -> Array:
    """Return the lengths ``(n,)`` of the control polygons: no segment is longer than its own."""
    legs = np.diff(controls, axis=1)
    lengths: Array = np.hypot(legs[..., 0], legs[..., 1]).sum(axis=1)
    return lengths


def quadratic_roots(a: Array, b: Array, c: Array) -> Array:
    """Return the real roots of ``a t^2 + b t + c`` as ``(n, 2)``, NaN where there is none."""
    with np.errstate(divide="ignore", invalid="ignore"):
        root = np.sqrt(b * b - 4 * a * c)  # NaN where the roots are not real
        q = -(b + np.where(b < 0, -root, root)) / 2
        return np.stack([q / a, c / q], axis=1)


def bounds(controls: Array) -> tuple[Array, Array]:
    """Return the exact lowest and highest coordinates ``(2,)`` reached by any segment."""
    d = np.diff(controls, axis=1)
    a, b, c = d[:, 0] - 2 * d[:, 1] + d[:, 2], 2 * (d[:, 1] - d[:, 0]), d[:, 0]
    low, high = controls[:, [0, 3]].min(axis=(0, 1)), controls[:, [0, 3]].max(axis=(0, 1))
    for axis in (0, 1):
        roots = quadratic_roots(a[:, axis], b[:, axis], c[:, axis])
        row, column = np.nonzero((roots > 0) & (roots < 1))
        if row.size:
            turned = evaluate(controls[row], roots[row, column])[:, axis]
            low[axis], high[axis] = min(low[axis], turned.min()), max(high[axis], turned.max())
    return low, high


def flatten(controls: Array, tolerance: float) -> Array:
    """Return points ``(m, 2)`` along the chain whose straight joints stay within ``tolerance`` of it.

    Each segment is cut into equal steps of ``t``; how many follows from its largest second difference
    (a chord over a step ``h`` strays at most ``|B''| h^2 / 8``), so the bound is guaranteed.

    Raises
    ------
    CurveError
        More points than any drawing needs.
    """
    second = 6 * np.abs(np.diff(controls, n=2, axis=1))
    reach = np.hypot(second[..., 0], second[..., 1]).max(axis=1)
    steps = np.maximum(np.ceil(np.sqrt(reach / (8 * tolerance))), 1)
    if steps.sum() > _MOST_POINTS:
        many = f"takes {steps.sum():.3g} points, more than {_MOST_POINTS:,}"
        msg = f"to keep within {tolerance:g} mm {many}; ask for a larger tolerance"
        raise CurveError(msg)
    steps = steps.astype(np.intp)
    which = np.repeat(np.arange(len(controls)), steps)
    t = (np.arange(len(which)) - np.repeat(np.cumsum(steps) - steps, steps)) / steps[which]
    return np.vstack([evaluate(controls[which], t), controls[-1:, 3]])


def joined_up(controls: ArrayLike, closed: bool) -> Array:
    """Return the control points as a clean chain: finite, joined up, without pieces of no length."""
    p = given_array(controls, "control points of shape (n, 4, 2)")
    if p.ndim != 3 or p.shape[1:] != (4, 2) or len(p) == 0:
        msg = f"a curve needs control points of shape (n, 4, 2) with n at least 1, not {p.shape}"
        raise CurveError(msg)
    far = float(np.abs(p).max())
    if not far <= _LARGEST:
        raise _out_of_bounds(p)
    # Coordinates carry about 1e-16 of their own size, so a piece shorter than this has no direction of its own.
    slack, shortest = 1e-9 * far, max(1e-12 * far, 1 / _LARGEST)
    gaps = np.abs(p[:-1, 3] - p[1:, 0])
    if gaps.max(initial=0) > slack:
        where = int(np.argmax(gaps.max(axis=1) > slack))
        gap = f"there are {gaps[where].max():g} mm between them"
        msg = f"segments {where} and {where + 1} of the curve do not meet: {gap}"
        raise CurveError(msg)
    first, last = p[0, 0].copy(), p[-1, 3].copy()
    # Most pieces are longer from end to end than is asked of them; only where one is not all points are looked at.
    if not (np.abs(p[:, 3] - p[:, 0]).max(axis=1) > shortest).all():
        p = p[np.ptp(p, axis=1).max(axis=1) > shortest]
        if not len(p):
            msg = f"a curve needs some length; all its points are at ({first[0]:g}, {first[1]:g})"
            raise CurveError(msg)
    if closed and np.abs(last - first).max() > slack:
        msg = f"a closed curve ends where it starts; this one stops {np.hypot(*(last - first)):g} mm away"
        raise CurveError(msg)
    p[1:, 0] = p[:-1, 3]
    p[0, 0] = first
    p[-1, 3] = first if closed else last
    p.flags.writeable = False
    chain: Array = p
    return chain


def _out_of_bounds(p: Array) -> CurveError:
    bad = ~np.isfinite(p).all(axis=(1, 2))
    if bad.any():
        return CurveError(
            f"segment {np.argmax(bad)} of the curve has a coordinate that is not a finite number"
        )
    return CurveError(f"a curve reaches {_LARGEST:g} mm at most, not {np.abs(p).max():g}")
