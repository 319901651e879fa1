"""Reading a traced polyline: how far along the line its points lie, and how jittery they are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

__all__ = ["Tracing", "fits_of", "read_tracing"]

# Points on each side through which quartics are laid to read the jitter off.
_AROUND = 4
# Jitter smaller than this share of it leaves steps that cross a corner to be seen; in hairpins a step counts at most
# four times: this is the least square of the sum of two directions.
_CRISP, _HAIRPIN = 1 / 12, 0.25
# The most steps whose chord tells the way the line runs.
_MOST_STEPS = 25


@dataclass(frozen=True, slots=True)
class Tracing:
    """A polyline read as points along a line.

    Attributes
    ----------
    points
        ``(n, 2)`` in mm, in order along the line.
    u
        About how far along the line each lies, in mm.
    length
        About how long the line is; on a closed one once round.
    noise
        About the standard deviation of each coordinate, in mm.
    closed
        Whether the line runs back into its start.
    known
        Whether the noise is known, as that of a scan is, and not read off the points.
    """

    points: Array
    u: Array
    length: float
    noise: float
    closed: bool
    known: bool = False


def read_tracing(points: Array, closed: bool) -> Tracing:
    """Return how far along a line the points of a polyline lie.

    Each step counts along the way the line runs, which the chords over several points before it and after it tell:
    so jitter across the line adds nothing, and a step back counts back. Of the two, and of the chord over both, the
    one along which the step counts most is right: so corners are not cut.
    """
    ring = np.vstack([points, points[:1]]) if closed else points
    steps = np.diff(ring, axis=0)
    n, at = len(steps), np.arange(len(steps))
    reach, crisp = _steps_to_average(points, steps)

    def chord(before: int, after: int) -> Array:
        first, last = at - before, at + after
        first, last = (first % n, last % n) if closed else (np.maximum(first, 0), np.minimum(last, n))
        return _unit(ring[last] - ring[first], steps)

    ways = [chord(reach, reach + 1), chord(reach, 1), chord(0, reach + 1)]
    along = np.maximum.reduce([(steps * way).sum(axis=1) for way in ways])
    if crisp:
        # Over a corner a step is a stretch along the one chord and another along the other.
        both = chord(reach, 0) + chord(-1, reach + 1)
        over = 2 * (steps * both).sum(axis=1) / np.maximum((both * both).sum(axis=1), _HAIRPIN)
        along = np.maximum(along, over)
    u = np.concatenate([[0.0], np.cumsum(along)])
    u -= u[: len(points)].min()
    length = float(u[-1] - u[0]) if closed else float(u.max())
    u = u[: len(points)] % length if closed else u
    return Tracing(points, u, length, _jitter(points, u, length), closed)


def _unit(chord: Array, steps: Array) -> Array:
    """Return chords made one mm long; where one runs back into its beginning, the step instead."""
    size = np.hypot(chord[:, 0], chord[:, 1])[:, None]
    step = np.hypot(steps[:, 0], steps[:, 1])[:, None]
    unit: Array = np.where(size > 0, chord / np.where(size > 0, size, 1), steps / np.where(step > 0, step, 1))
    return unit


def _steps_to_average(points: Array, steps: Array) -> tuple[int, bool]:
    """Return over how many steps to either side a chord must run for jitter to turn it little, and if it need not."""
    if len(points) < 5:
        return 0, False
    second, across = np.diff(points, n=2, axis=0), points[2:] - points[:-2]
    size = np.hypot(across[:, 0], across[:, 1])
    off = (across[:, 0] * second[:, 1] - across[:, 1] * second[:, 0]) / np.where(size > 0, size, 1)
    # Second differences of jitter have six times its variance; the median of a normal's size is 0.674.
    jitter = np.median(np.abs(off)) / (np.sqrt(6) * 0.674)
    spacing = np.sqrt(np.median((steps**2).sum(axis=1)))
    # What jitter adds to a step's length; of a spacing it swamps, a third is a fair guess.
    spacing = max(np.sqrt(max(spacing**2 - 2.8 * jitter**2, 0)), 0.3 * spacing)
    reach = np.clip(np.ceil(8 * jitter / spacing), 1, min(_MOST_STEPS, max(len(steps) // 8, 1)))
    return int(reach), bool(jitter < _CRISP * spacing)


def _jitter(points: Array, u: Array, length: float) -> float:
    """Return the standard deviation of points from the quartics through their neighbours; 0 for too few to tell.

    What lies across the line counts: along it, the places ``u`` share the jitter.
    """
    if len(points) < 2 * _AROUND + 1:
        return 0.0
    order = np.argsort(u, kind="stable")
    window = np.arange(2 * _AROUND + 1)
    first = np.arange(0, len(points) - len(window) + 1, max(len(points) // 2000, 1))
    at = order[first[:, None] + window]
    x = u[at] - u[at[:, _AROUND]][:, None]
    x = x / np.maximum(np.abs(x).max(axis=1), 1e-12 * length)[:, None]
    left, _, _ = fits_of(x[..., None] ** np.arange(5), np.ones(x.shape), points[at])
    # The median of four squared normals is 3.357.
    return float(np.sqrt(np.median(left) / 3.357))


def fits_of(columns: Array, weights: Array, xy: Array) -> tuple[Array, Array, Array]:
    """Fit many windows at once by least squares.

    ``columns`` ``(n, points, k)``, ``weights`` ``(n, points)``, ``xy`` ``(n, points, 2)``. Returns what is left
    ``(n,)``, the coefficients ``(n, k, 2)`` and their variances for unit noise ``(n, k)``.
    """
    weighted = columns * weights[..., None]
    gram = np.einsum("npk,npl->nkl", weighted, columns)
    # Points that coincide leave a column undecided; then the least of coefficients is meant.
    inverse = np.linalg.inv(gram + 1e-10 * np.eye(columns.shape[-1]))
    xy = xy - xy[:, :1]
    found = inverse @ np.einsum("npk,npd->nkd", weighted, xy)
    left = ((xy - columns @ found) ** 2 * weights[..., None]).sum(axis=(1, 2))
    return left, found, np.diagonal(inverse, axis1=1, axis2=2)
