"""A smooth line as few cubics, and a curve through given points."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve import bezier

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from bias_drafting.curve.smoothing import Line

    Array = NDArray[np.float64]

__all__ = ["interpolated", "line_cubics"]

# The share of its curvature, or of that of the gentlest bend looked at (in 1/mm), that cubics may leave out.
_BEND_LEFT = 0.02
_GENTLEST = 0.02
# More cubics are tried so many times, two fifths more each time.
_ROUNDS = 8


def line_cubics(line: Line, allowed: float, ends: tuple[Array | None, Array | None]) -> tuple[Array, Array]:
    """Return a smooth line as cubics joined with the same curvature, and how far ``(n,)`` its points lie from them.

    Parameters
    ----------
    line
        The line with the feet of its points.
    allowed
        How far in mm the cubics may stray from the line; measured at many places.
    ends
        Points put at the two ends exactly, where they are given.

    Returns
    -------
    cubics
        ``(m, 4, 2)``: a cubic spline by arc length, with more pieces where the bend changes faster.
    places
        Where on them each point of the line has its foot: the number of the piece and the share of it, added up.
    """
    from scipy.interpolate import CubicSpline

    splines = line.splines
    dense = np.linspace(0, splines.length, 8 * splines.spans + 1)
    exact = line.at(dense)
    if splines.closed:
        exact[-1] = exact[0]
    need = np.concatenate([[0.0], np.cumsum(_pieces_needed(line, dense, allowed))])
    count = max(int(np.ceil(need[-1])), 4 if splines.closed else 1)
    for _ in range(_ROUNDS):
        knots = np.interp(np.linspace(0, need[-1], count + 1), need, dense)
        at = line.at(knots)
        if splines.closed:
            at[-1] = at[0]
            fit = CubicSpline(knots, at, bc_type="periodic")
        else:
            slopes = line.at(knots[[0, -1]], 1)
            at = _with_ends(at, ends)
            fit = CubicSpline(knots, at, bc_type=((1, slopes[0]), (1, slopes[1])))
        strays = np.hypot(*(fit(dense) - exact).T).max()
        if strays <= allowed:
            break
        count = int(1.4 * count) + 1
    steps = np.diff(knots)
    u = line.u % splines.length if splines.closed else np.clip(line.u, 0, splines.length)
    piece = np.clip(np.searchsorted(knots, u, side="right") - 1, 0, len(steps) - 1)
    places = piece + (u - knots[piece]) / steps[piece]
    return _hermite(at, fit(knots, 1), steps), np.minimum(places, np.nextafter(piece + 1.0, 0))


def _pieces_needed(line: Line, dense: Array, allowed: float) -> Array:
    """Return how many cubics each step between dense places asks for.

    A cubic spline over steps h strays from its line by the fourth derivative times h^4 / 384, and leaves out of
    the curvature that times h^2 / 12.
    """
    middle = (dense[1:] + dense[:-1]) / 2
    x, y = line.at(middle, 4).T
    fourth = np.maximum(np.hypot(x, y), 1e-300)
    _, bend, _ = line.bends(middle)
    bend = np.maximum(np.abs(bend), _GENTLEST)
    step = np.minimum((384 * allowed / fourth) ** 0.25, np.sqrt(12 * _BEND_LEFT * bend / fourth))
    shortest, longest = line.splines.step / 2, line.splines.length
    pieces: Array = np.diff(dense) / np.clip(step, min(shortest, longest), longest)
    return pieces


def _with_ends(at: Array, ends: tuple[Array | None, Array | None]) -> Array:
    """Return points with the first and the last put where they are held."""
    for k, point in zip((0, -1), ends, strict=True):
        if point is not None:
            at[k] = point
    return at


def _hermite(at: Array, slopes: Array, steps: Array) -> Array:
    """Return the cubics through points with given slopes over given steps of the parameter."""
    reach = steps[:, None] / 3
    return np.stack([at[:-1], at[:-1] + reach * slopes[:-1], at[1:] - reach * slopes[1:], at[1:]], axis=1)


def interpolated(points: Array, closed: bool) -> Array:
    """Return the smooth curve through every one of the points in turn: the cubic spline over their distances."""
    from scipy.interpolate import CubicSpline

    if closed:
        points = np.vstack([points, points[:1]])
    step = np.hypot(*np.diff(points, axis=0).T)
    # A corner may have been put on one of its points, and two feet may be one place.
    apart = step > 1e-12 * step.sum()
    points, step = points[np.append(True, apart)], step[apart]
    if len(points) < 3:
        return bezier.from_lines(points)
    u = np.concatenate([[0.0], np.cumsum(step)])
    fit = CubicSpline(u, points, bc_type="periodic" if closed else "natural")
    return _hermite(points, fit(u, 1), np.diff(u))
