"""A smooth curve through traced points: hand tracings and scans, jittery, with corners.

The tracing is looked over (:mod:`.strays`) and read (:mod:`.tracing`): how far along each point lies, how jittery it
is; and its corners are found (:mod:`.corners`). Each stretch between corners is smoothed (:mod:`.smoothing`), bent to
run within the tolerance of every point where it does not yet (:mod:`.reaching`), and written as few cubics
(:mod:`.cubics`). The distances are measured on those.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve import bezier
from bias_drafting.curve.corners import Corner, find_corners
from bias_drafting.curve.cubics import interpolated, line_cubics
from bias_drafting.curve.reaching import within_reach
from bias_drafting.curve.smoothing import Run, smooth_line
from bias_drafting.curve.strays import grid_pitch, in_order, refuse_strays
from bias_drafting.curve.tracing import read_tracing
from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from bias_drafting.curve.smoothing import Line
    from bias_drafting.curve.tracing import Tracing

    Array = NDArray[np.float64]

__all__ = ["through_points"]

# Shares of the tolerance: what the smooth line may use, what the cubics may add to it, and what counts as exact.
_REACH, _FIT, _EXACT = 0.995, 0.003, 0.002
# Where no smooth line is within reach of all points, jogs go this share of the tolerance near to those left out.
_JOG = 0.99
# A tolerance of more than this many spacings is room for the points, not leave to draw coarsely.
_COARSEST = 2.0
# A line this much longer than the polyline it follows has run wild: jitter makes polylines longer, not shorter.
_LONGER = 1.35
# Sizes in mm whose sixth powers still are numbers, upward and downward.
_LARGEST = 1e30
# Coordinates hold about 1e-16 of their own size: a tolerance finer than this share of them is none.
_HELD = 1e-12


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Points between two corners (or ends), about how far along each lies, and about how long the stretch is.

    ``held`` tells whether the first and the last point are corners, at which the line must begin and end.
    """

    points: Array
    u: Array
    length: float
    held: tuple[bool, bool]
    closed: bool


def through_points(xy: ArrayLike, closed: bool, tolerance: float) -> Array:
    """Return the cubics ``(n, 4, 2)`` of a smooth curve within ``tolerance`` mm of every point ``(m, 2)``.

    See :meth:`bias_drafting.Curve.through`.

    Raises
    ------
    CurveError
        Coordinates that are not finite, fewer than two different points (three for a closed curve), or a tolerance
        that is not more than 0.
    """
    points = _checked(xy, closed, tolerance)
    refuse_strays(points, closed, tolerance)
    centre = (points.min(axis=0) + points.max(axis=0)) / 2
    points = points - centre
    if len(points) == 2:
        line: Array = bezier.from_lines(points) + centre
        return line
    tracing = read_tracing(in_order(points, closed, tolerance), closed)
    pitch = grid_pitch(points)
    if 0 < pitch < 2 * tolerance:
        # Roundings to a grid are spread evenly over its pitch.
        tracing = replace(tracing, noise=max(tracing.noise, pitch / np.sqrt(12)), known=True)
    corners = find_corners(tracing)
    cubics = np.concatenate([_fit(stretch, tracing, tolerance) for stretch in _stretches(tracing, corners)])
    # What one stretch ends with the next begins with, to the last bit.
    cubics[1:, 0] = cubics[:-1, 3]
    if closed:
        cubics[-1, 3] = cubics[0, 0]
    result: Array = cubics + centre
    return result


def _checked(xy: ArrayLike, closed: bool, tolerance: float) -> Array:
    """Return the points as an array, each different from the one before."""
    if not (np.isfinite(tolerance) and tolerance > 0):
        msg = f"the tolerance of a curve through points must be more than 0 mm, not {tolerance!r}"
        raise CurveError(msg)
    try:
        points = np.array(xy, dtype=np.float64)
    except (TypeError, ValueError) as error:
        msg = f"a curve goes through points given as (m, 2) numbers; {error}"
        raise CurveError(msg) from error
    if points.ndim != 2 or points.shape[1] != 2:
        msg = f"a curve goes through points given as (m, 2); got shape {points.shape}"
        raise CurveError(msg)
    if not np.isfinite(points).all():
        where = int(np.argmin(np.isfinite(points).all(axis=1)))
        msg = f"point {where} has a coordinate that is not a finite number: {tuple(points[where].tolist())}"
        raise CurveError(msg)
    largest, span = np.abs(points).max(initial=0), np.ptp(points, axis=0).max(initial=0)
    if largest > _LARGEST or 0 < span < 1 / _LARGEST:
        msg = f"points that reach {largest:g} mm from the origin and {span:g} mm from one another are no tracing"
        raise CurveError(msg)
    if tolerance < _HELD * largest:
        finest = f"a tolerance of {_HELD * largest:.3g} mm or more"
        msg = f"coordinates as large as {largest:.3g} mm need {finest}, not {tolerance:g}"
        raise CurveError(msg)
    points = _distinct(points, closed)
    least = 3 if closed else 2
    if len(np.unique(points, axis=0)) < least:
        kind, word = ("a closed curve", "three") if closed else ("a curve", "two")
        at = f" at ({points[0, 0]:g}, {points[0, 1]:g})" if len(points) == 1 else ""
        msg = f"{kind} needs {word} different points or more; got {len(np.unique(points, axis=0))}{at}"
        raise CurveError(msg)
    return points


def _distinct(points: Array, closed: bool) -> Array:
    """Return the points without those that repeat the one before, round the seam as well."""
    # Coordinates carry about 1e-16 of their own size; what differs by less is the same place.
    near = 1e-14 * float(np.abs(points).max(initial=0))
    keep = np.ones(len(points), dtype=bool)
    keep[1:] = np.abs(np.diff(points, axis=0)).max(axis=1, initial=0) > near
    points = points[keep]
    while closed and len(points) > 1 and np.abs(points[-1] - points[0]).max() <= near:
        points = points[:-1]
    return points


def _stretches(tracing: Tracing, corners: list[Corner]) -> list[_Stretch]:
    """Return the stretches between the corners of a tracing, with the corners as their first and last points."""
    count, round_it = len(corners), tracing.length
    if not corners:
        return [_Stretch(tracing.points, tracing.u, round_it, (False, False), tracing.closed)]
    at = np.array([corner.u for corner in corners])
    which = np.searchsorted(at, tracing.u)  # the stretch that ends with corner k, or the last one
    stretches = []
    for k in range(1 if tracing.closed else 0, count + 1):
        mine = np.flatnonzero(which == k)
        if tracing.closed and k == count:
            mine = np.concatenate([mine, np.flatnonzero(which == 0)])
        first = k - 1 if k > 0 else None
        last = k % count if tracing.closed or k < count else None
        begin = at[first] if first is not None else 0.0
        end = at[last] if last is not None else round_it
        length, u = end - begin, tracing.u[mine] - begin
        if tracing.closed:
            length, u = length if length > 0 else length + round_it, u % round_it
        points = tracing.points[mine]
        if first is not None:
            points, u = np.vstack([corners[first].point, points]), np.append(0.0, u)
        if last is not None:
            points, u = np.vstack([points, corners[last].point]), np.append(u, length)
        stretches.append(_Stretch(points, u, length, (first is not None, last is not None), False))
    return stretches


def _fit(stretch: _Stretch, tracing: Tracing, tolerance: float) -> Array:
    """Return the cubics of one stretch: smooth if the tolerance leaves room for it, with jogs where it does not.

    Where smoothing fails altogether the line runs through one point after another.
    """
    points, held = stretch.points, stretch.held
    if len(points) == 2:
        return bezier.from_lines(points)
    guess = min(tracing.noise, tolerance / 2)
    fine = min(tolerance, _COARSEST * stretch.length / len(points))
    run = Run(points, stretch.closed, held, guess, tracing.known, _EXACT * fine, _REACH * tolerance)
    try:
        line = within_reach(run, smooth_line(run, stretch.u, stretch.length))
    except np.linalg.LinAlgError:
        return interpolated(points, stretch.closed)
    steps = np.diff(points, axis=0, append=points[:1] if stretch.closed else points[-1:])
    if line.splines.length > _LONGER * np.hypot(steps[:, 0], steps[:, 1]).sum():
        return interpolated(points, stretch.closed)
    ends = (points[0] if held[0] else None, points[-1] if held[1] else None)
    cubics, places = line_cubics(line, _FIT * fine, ends)
    if (_misses(cubics, places, points) > tolerance).any():
        return interpolated(_within(line, run, _JOG * tolerance), stretch.closed)
    return cubics


def _within(line: Line, run: Run, reach: float) -> Array:
    """Return the feet of the points, in order along the line, each drawn to within ``reach`` of its point."""
    u = line.u.copy()
    for end, held, last in zip((0, -1), run.held, (-np.inf, np.inf), strict=True):
        u[end] = last if held else u[end]
    feet = line.at(line.u if run.closed else np.clip(line.u, 0, line.splines.length))
    gap = feet - run.points
    size = np.hypot(gap[:, 0], gap[:, 1])[:, None]
    drawn: Array = run.points + gap * np.minimum(1, reach / np.maximum(size, 1e-300))
    return drawn[np.argsort(u, kind="stable")]


def _misses(cubics: Array, places: Array, points: Array) -> Array:
    """Return how far each point lies from its place on the cubics: at least as far as from the nearest."""
    piece = places.astype(np.intp)
    gap = bezier.evaluate(cubics[piece], places - piece) - points
    miss: Array = np.hypot(gap[:, 0], gap[:, 1])
    return miss
