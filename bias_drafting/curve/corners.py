"""Reading a traced polyline: how far along the line its points lie, how jittery they are, and where it has corners.

A corner is told from jitter by fitting: to the points within a window about a place, once two arcs (parabolas) that
meet there at an angle, once lines that bend round there over a short way or a long one, with as many free numbers.
It is a corner where the kink explains the points better than any bend, by more than chance, and turns enough.
Windows of several sizes are tried: a slight corner shows only over a long stretch, and in a long stretch two corners
spoil each other.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    IntArray = NDArray[np.intp]

__all__ = ["Corner", "Tracing", "find_corners", "read_tracing"]

# Points on each side of a place that are looked at: from the fewest that show two parabolas to what tells a turn of
# 30 degrees at jitter of a fifth of the spacing.
_SIDES = (4, 6, 9, 13, 19, 28, 40)
_FEWEST = 4
# The least turn of a corner, in radians (19 degrees), and by how many standard deviations it must be seen.
_LEAST_TURN = 0.33
_SURE = 5.0
# A kink must explain the points better than any long bend by this, and may do so worse than a short one by that:
# sums of squares over the squared standard deviation, so twice a log likelihood.
_BETTER = 5.0
_DOUBT = 4.0
# A bend of this radius in mm, or more, is a long one.
_GENTLE = 10.0
# A kink that leaves more than chance would, by so many standard deviations, explains nothing.
_BY_CHANCE = 3.0
# The turn of a kink is at least this share of what the lines on both sides turn within the window: less is a bend
# that parabolas do not follow.
_STANDS_OUT = 0.5
# Short bends tried, as shares of the window's half, and places of the kink, in points either way.
_BENDS = np.array([0.06, 0.09, 0.13, 0.18, 0.25, 0.35, 0.5, 0.7])
_PLACES = np.linspace(-1.5, 1.5, 13)
# Bends are tried over a wider stretch: shares of the window's half.
_MIDDLES = np.linspace(-0.5, 0.5, 11)
# Jitter smaller than this share of the spacing is nothing a polyline could show.
_STEADY = 0.02
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
    """

    points: Array
    u: Array
    length: float
    noise: float
    closed: bool


@dataclass(frozen=True, slots=True)
class Corner:
    """A corner of a tracing: where along it, in mm, and its place."""

    u: float
    point: Array


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
    if len(points) < 2 * _FEWEST + 1:
        return 0.0
    order = np.argsort(u, kind="stable")
    window = np.arange(2 * _FEWEST + 1)
    first = np.arange(0, len(points) - len(window) + 1, max(len(points) // 2000, 1))
    at = order[first[:, None] + window]
    x = u[at] - u[at[:, _FEWEST]][:, None]
    x = x / np.maximum(np.abs(x).max(axis=1), 1e-12 * length)[:, None]
    left, _, _ = _fits(x[..., None] ** np.arange(5), np.ones(x.shape), points[at])
    # The median of four squared normals is 3.357.
    return float(np.sqrt(np.median(left) / 3.357))


def _fits(columns: Array, weights: Array, xy: Array) -> tuple[Array, Array, Array]:
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


@dataclass(frozen=True, slots=True)
class _Windows:
    """Points about places on a tracing: in order along it, and round again where it is closed.

    ``before`` and ``after`` are how many points there are on either side of each, up to an end or a corner.
    """

    points: Array
    u: Array
    before: IntArray
    after: IntArray

    def about(self, at: IntArray, side: int) -> tuple[Array, Array, Array]:
        """Return place ``(n, points)`` relative to each point, weight 0 or 1, and ``xy`` of the points about it."""
        offset = np.arange(-side, side + 1)
        index = at[:, None] + offset
        weights = (offset >= -self.before[at][:, None]) & (offset <= self.after[at][:, None])
        index = np.clip(index, 0, len(self.u) - 1)
        return self.u[index] - self.u[at][:, None], weights.astype(np.float64), self.points[index]


def _windows(tracing: Tracing, cuts: Array) -> tuple[_Windows, int]:
    """Return the windows of a tracing, none of which run over a cut, and how many points were put before it."""
    order = np.argsort(tracing.u, kind="stable")
    points, u = tracing.points[order], tracing.u[order]
    pad = min(max(_SIDES), len(u) - 1) if tracing.closed else 0
    if pad:
        points = np.vstack([points[-pad:], points, points[:pad]])
        u = np.concatenate([u[-pad:] - tracing.length, u, u[:pad] + tracing.length])
        cuts = np.concatenate([cuts - tracing.length, cuts, cuts + tracing.length])
    # Two points may lie on the two sides of a corner only if they lie in the same stretch.
    stretch = np.searchsorted(np.sort(cuts), u)
    first = np.searchsorted(stretch, stretch, side="left")
    last = np.searchsorted(stretch, stretch, side="right") - 1
    at = np.arange(len(u))
    return _Windows(points, u, at - first, last - at), pad


def find_corners(tracing: Tracing) -> list[Corner]:
    """Return the corners of a tracing in order along it; none within three points of an open end."""
    n = len(tracing.u)
    noise = max(tracing.noise, _STEADY * tracing.length / n)
    found = np.empty(0)
    for side in _SIDES:
        if 2 * side + 1 > n:
            break
        windows, pad = _windows(tracing, found)
        for at in _kinked(windows, np.arange(pad, pad + n), side, noise):
            place = _corner_place(windows, int(at), side, noise)
            if place is None:
                continue
            gap = np.abs(found - place)
            gap = np.minimum(gap % tracing.length, -gap % tracing.length) if tracing.closed else gap
            # Round the seam the same corner may be seen from both sides.
            if (gap > _FEWEST / 2 * tracing.length / n).all():
                found = np.append(found, place % tracing.length if tracing.closed else place)
    return _placed(tracing, found, noise)


def _kinked(windows: _Windows, at: IntArray, side: int, noise: float) -> IntArray:
    """Return the points at which a kink is seen for sure, the surest of each neighbourhood."""
    at = at[(windows.before[at] >= _FEWEST) & (windows.after[at] >= _FEWEST)]
    sure = np.zeros(len(windows.u))
    for part in np.array_split(at, max(len(at) * side // 40000, 1)):
        if not part.size:
            continue
        x, weights, xy = windows.about(part, side)
        scale = _half(x, weights)
        _, found, variance = _fits(_kink(x / scale, np.zeros((len(part), 1)), 0.0), weights, xy)
        kink = np.hypot(found[:, 3, 0], found[:, 3, 1])
        turned = np.where(_turn(found) >= _LEAST_TURN, kink / (noise * np.sqrt(variance[:, 3])), 0)
        sure[part] = turned
    from scipy.ndimage import maximum_filter1d

    top = (sure >= _SURE) & (sure == maximum_filter1d(sure, 2 * side + 1))
    chosen: IntArray = at[top[at]]
    return chosen


def _half(x: Array, weights: Array) -> Array:
    """Return the half width of each window, ``(n, 1)``."""
    half: Array = np.maximum(np.abs(x * weights).max(axis=1), 1e-300)[:, None]
    return half


def _kink(x: Array, place: Array, bend: float | Array) -> Array:
    """Return the columns of two parabolas that meet at ``place``: 1, x, x^2, a turn there, and a change of bend.

    With ``bend`` the turn is made over that much to either side.
    """
    past = x - place
    wide = np.maximum(bend, 1e-12)
    ramp = np.where(np.abs(past) < wide, (past + wide) ** 2 / (4 * wide), np.maximum(past, 0))
    return np.stack([np.ones_like(x), x, x * x, ramp, np.maximum(past, 0) ** 2], axis=-1)


def _turn(found: Array) -> Array:
    """Return the angle in radians between the lines before and after each kink, which lies at or near x = 0."""
    before = found[:, 1, 0] + 1j * found[:, 1, 1]
    kink = found[:, 3, 0] + 1j * found[:, 3, 1]
    angle: Array = np.abs(np.angle((before + kink) * np.conj(before)))
    return angle


def _turn_of_legs(found: Array, place: float, x: Array) -> float:
    """Return by how much, in radians, the two parabolas that meet at ``place`` turn within a window."""
    _, first, second, kink, more = found[:, 0] + 1j * found[:, 1]
    before = np.angle((first + 2 * second * place) * np.conj(first + 2 * second * x.min()))
    end = first + 2 * second * x.max() + kink + 2 * more * (x.max() - place)
    after = np.angle(end * np.conj(first + 2 * second * place + kink))
    return float(abs(before) + abs(after))


def _corner_place(windows: _Windows, at: int, side: int, noise: float) -> float | None:
    """Return where about a point there is a corner, or None if a bend explains the points as well or better."""
    x, weights, xy = windows.about(np.array([at]), side)
    scale = float(_half(x, weights)[0, 0])
    place = _PLACES * float(np.diff(np.sort(x[0][weights[0] > 0])).mean()) / scale
    x = x / scale

    def fits(columns: Array) -> tuple[Array, Array]:
        shape = (len(columns), x.shape[1])
        return _fits(columns, np.broadcast_to(weights, shape), np.broadcast_to(xy, (*shape, 2)))[:2]

    kinks, kinked = fits(_kink(np.broadcast_to(x, (len(place), x.shape[1])), place[:, None], 0.0))
    best = int(np.argmin(kinks))
    if _turn(kinked)[best] < _STANDS_OUT * _turn_of_legs(kinked[best], place[best], x[weights > 0]):
        return None
    middle, bend = (grid.reshape(-1, 1) for grid in np.meshgrid(np.append(place, _MIDDLES), _BENDS))
    columns = _kink(np.broadcast_to(x, (len(bend), x.shape[1])), middle, bend)
    bends, found = fits(columns)
    gentle = 2 * bend[:, 0] * scale >= _GENTLE * _turn(found)
    long_bend = fits(x[..., None] ** np.arange(5))[0][0]
    unlikely = kinks[best] / noise**2
    freedom = max(float(weights.sum()) - 5, 1)
    if (
        unlikely > freedom + _BY_CHANCE * np.sqrt(2 * freedom)
        or unlikely > bends.min() / noise**2 + _DOUBT
        or unlikely > min(long_bend, bends[gentle].min(initial=np.inf)) / noise**2 - _BETTER
    ):
        return None
    return float(windows.u[at] + place[best] * scale)


def _placed(tracing: Tracing, found: Array, noise: float) -> list[Corner]:
    """Return the corners at those places, each put where the lines on both sides of it meet.

    They are taken as long as the neighbours leave room and parabolas explain them.
    """
    windows, _ = _windows(tracing, np.empty(0))
    found = np.sort(found)
    around = np.concatenate([[-np.inf], found, [np.inf]])
    if tracing.closed and len(found):
        around[[0, -1]] = found[-1] - tracing.length, found[0] + tracing.length
    spacing = tracing.length / len(tracing.u)
    corners = []
    for before, place, after in zip(around[:-2], found, around[2:], strict=True):
        best = (np.inf, place, np.zeros(2))
        for side in _SIDES[:-1]:
            trial = _meeting(windows, (before, float(place), after), side, spacing)
            # A longer window is better for as long as it leaves no more than chance would.
            if trial[0] <= max(best[0], 2 * noise**2):
                best = trial
        at = best[1] % tracing.length if tracing.closed else best[1]
        corners.append(Corner(float(at), best[2]))
    return sorted(corners, key=lambda corner: corner.u)


def _meeting(
    windows: _Windows, places: tuple[float, float, float], side: int, spacing: float
) -> tuple[float, float, Array]:
    """Return the mean square left by two parabolas near a corner, where along the line they meet, and the point."""
    before, place, after = places
    nearest = np.array([np.argmin(np.abs(windows.u - place))])
    x, weights, xy = windows.about(nearest, side)
    u = windows.u[nearest[0]]
    weights = weights * ((x + u > before) & (x + u < after))
    if (weights * (x > 0)).sum() < _FEWEST - 1 or (weights * (x < 0)).sum() < _FEWEST - 1:
        return np.inf, place, xy[0, side]
    scale = float(_half(x, weights)[0, 0])
    trial = (place - u + np.linspace(-1, 1, 41) * spacing) / scale
    shape = (len(trial), x.shape[1])
    columns = _kink(np.broadcast_to(x / scale, shape), trial[:, None], 0.0)
    left, found, _ = _fits(columns, np.broadcast_to(weights, shape), np.broadcast_to(xy, (*shape, 2)))
    best = int(np.argmin(left))
    at = trial[best]
    point = xy[0, 0] + found[best, 0] + found[best, 1] * at + found[best, 2] * at * at
    return float(left[best] / max(weights.sum() - 5, 1)), float(u + at * scale), point
