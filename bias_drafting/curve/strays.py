"""What a traced polyline has beside jitter: slips of the hand, and the steps of a scan.

A slip is a stretch gone over again, or a single point that cannot belong to the line. A scan puts points on a grid: a
line that runs nearly along it comes as long level runs with a step between them, and looks as if it had no jitter.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    IntArray = NDArray[np.intp]

__all__ = ["grid_pitch", "in_order", "refuse_strays"]

# Points on each side that tell where a point should be, and how many times further off than usual a stray one is:
# about nine standard deviations of the jitter.
_NEIGHBOURS = np.array([-3, -2, -1, 1, 2, 3])
_UNUSUAL = 6.0
# Points on each side within which a tracing may back up. This share of the path must be left as way made, and the
# line be this straight, as a share of that way, for "back" to mean something.
_SIDE = 12
_STRAIGHT = 0.15
_WAY_MADE = 0.3
# On a grid so fine that a step takes more than this many of its lines, the grid is not what moved the points.
_LONGEST_STEP = 8.0


def refuse_strays(points: Array, closed: bool, tolerance: float) -> None:
    """Raise if a single point lies far off the line its neighbours tell.

    A curve within ``tolerance`` of it would have a bulge that nobody drew.

    Raises
    ------
    CurveError
        The point is further off than the tolerance, than jitter could explain, and than its neighbours lie apart.
    """
    n = len(points)
    if n < 2 * len(_NEIGHBOURS):
        return
    at = np.arange(n) if closed else np.arange(3, n - 3)
    about = points[(at[:, None] + _NEIGHBOURS) % n]
    # Where the parabola through all six, and the lines through three before or after, would have the point: at a
    # corner one of the lines is right.
    columns = _NEIGHBOURS[:, None] ** np.arange(3.0)
    parabola = np.linalg.pinv(columns)
    line = np.array([-2, 1, 4]) / 3
    guesses = np.stack([parabola[0], np.append(line, [0, 0, 0]), np.append([0, 0, 0], line[::-1])])
    gaps = np.einsum("gp,npd->gnd", guesses, about) - points[at]
    off = np.hypot(gaps[..., 0], gaps[..., 1]).min(axis=0)
    rest = about - np.einsum("pk,kq,nqd->npd", columns, parabola, about)
    steps = np.diff(about, axis=1)
    apart = np.hypot(steps[..., 0], steps[..., 1])
    # A hairpin's tip may well stick out further than its neighbours lie apart; the nearest then lie side by side.
    room = np.maximum(3 * np.delete(apart, 2, axis=1).max(axis=1) - apart[:, 2], apart[:, 2] / 2)
    usual = max(tolerance, _UNUSUAL * float(np.median(off)))
    # Points near a stray one are far off as well, but so are their neighbours.
    stray = (off > np.maximum(usual, room)) & (off > 2 * np.hypot(rest[..., 0], rest[..., 1]).max(axis=1))
    if stray.any():
        k = int(np.argmax(np.where(stray, off, 0)))
        x, y = points[at[k]]
        msg = (
            f"the point at ({x:g}, {y:g}) lies {off[k]:.3g} mm off the line that the points about it tell; leave it "
            f"out, or ask for a tolerance of more than that, not {tolerance:g} mm"
        )
        raise CurveError(msg)


def in_order(points: Array, closed: bool, tolerance: float) -> Array:
    """Return the points in their order along the line where a tracing backs up a little and goes on over itself.

    Looked for within some ten points, where the line is nearly straight; a hairpin does not go on, and stays.
    """
    n = len(points)
    if n < 4 * _SIDE:
        return points
    at = np.arange(n) if closed else np.arange(_SIDE, n - _SIDE)
    window = np.arange(-_SIDE, _SIDE + 1)
    steps = np.diff(points, axis=0, append=points[:1])
    way = points[(at + _SIDE) % n] - points[at - _SIDE]
    made = np.hypot(*way.T)
    # Two steps back one after another, by as much as a step is on the whole: more than jitter does by chance.
    along = steps[(at[:, None] + window[:-1]) % n] @ np.array([1, 1j])
    unit = (way @ np.array([1, 1j])) / np.where(made > 0, made, 1)
    back = (along * unit.conj()[:, None]).real
    path = np.abs(along).sum(axis=1)
    retreat = back[:, _SIDE - 1 : _SIDE + 1]
    folded = (
        (retreat < 0).all(axis=1) & (retreat.sum(axis=1) < -made / (2 * _SIDE)) & (made > _WAY_MADE * path)
    )
    points = points.copy()
    for k in at[folded]:
        _sort(points, (k + window) % n, tolerance)
    return points


def _sort(points: Array, index: IntArray, tolerance: float) -> None:
    """Put the points of a window in order along it, in place, if they lie on one line."""
    z = points[index] @ np.array([1, 1j])
    z = (z - z[0]) / np.exp(1j * np.angle(z[-1] - z[0]))
    inner = np.argsort(z.real[1:-1], kind="stable") + 1
    order = np.concatenate([[0], inner, [len(z) - 1]])
    if (
        np.abs(z.imag).max() <= _STRAIGHT * z.real[-1]
        and np.abs(np.diff(z.imag[order])).max() <= 2 * tolerance
    ):
        points[index] = points[index[order]]


def grid_pitch(points: Array) -> float:
    """Return the pitch in mm of the grid that all points lie on, as those of a scan do; 0 where they lie on none."""
    steps = np.abs(np.diff(points, axis=0))
    # Coordinates on a grid come with the rounding of what made them.
    taken = steps[steps > 1e-9 * np.ptp(points)]
    if len(points) < 4 * _SIDE or not taken.size:
        return 0.0
    pitch = float(taken.min())
    parts = steps / pitch
    return pitch if parts.max() <= _LONGEST_STEP and np.abs(parts - np.round(parts)).max() < 1e-6 else 0.0
