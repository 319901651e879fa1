"""The corners of a traced polyline.

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

from bias_drafting.curve.tracing import fits_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from bias_drafting.curve.tracing import Tracing

    Array = NDArray[np.float64]
    IntArray = NDArray[np.intp]

__all__ = ["Corner", "find_corners"]

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
# Windows of so many sizes more are asked whether a corner found in one is still one there.
_WIDER = 2
# A bend of this radius in mm, or more, is a long one.
_GENTLE = 10.0
# A kink that leaves more than chance would, by so many standard deviations, explains nothing.
_BY_CHANCE = 5.0
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


@dataclass(frozen=True, slots=True)
class Corner:
    """A corner of a tracing: where along it, in mm, and its place."""

    u: float
    point: Array


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
    found, seen = np.empty(0), list[int]()
    for k, side in enumerate(_SIDES):
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
                seen.append(k)
    wider = [_SIDES[size + 1 :][:_WIDER] for size in seen]
    real = [_still_kinked(tracing, found, k, sides, noise) for k, sides in enumerate(wider)]
    return _placed(tracing, found[np.array(real, dtype=bool)], noise)


def _still_kinked(tracing: Tracing, found: Array, k: int, sides: tuple[int, ...], noise: float) -> bool:
    """Tell whether a kink explains the points in wider windows too, up to the next corner.

    A tight bend looks like a kink in a window that it fills.
    """
    windows, pad = _windows(tracing, np.delete(found, k))
    at = pad + int(np.argmin(np.abs(windows.u[pad : pad + len(tracing.u)] - found[k])))
    looks = [_Look.at(windows, at, side) for side in sides]
    return all(look.kink <= look.bend + _DOUBT * max(noise**2, look.bend / look.freedom) for look in looks)


def _kinked(windows: _Windows, at: IntArray, side: int, noise: float) -> IntArray:
    """Return the points at which a kink is seen for sure, the surest of each neighbourhood."""
    at = at[(windows.before[at] >= _FEWEST) & (windows.after[at] >= _FEWEST)]
    sure = np.zeros(len(windows.u))
    for part in np.array_split(at, max(len(at) * side // 40000, 1)):
        if not part.size:
            continue
        x, weights, xy = windows.about(part, side)
        scale = _half(x, weights)
        _, found, variance = fits_of(_kink(x / scale, np.zeros((len(part), 1)), 0.0), weights, xy)
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


@dataclass(frozen=True, slots=True)
class _Look:
    """How well a kink and bends explain the points of a window: the sums of squares they leave.

    ``bend`` is left by the best bend of any width, ``long`` by the best that is long; ``place`` is where the kink is,
    ``stands_out`` whether it turns enough against what the line turns within the window.
    """

    place: float
    kink: float
    bend: float
    long: float
    freedom: float
    stands_out: bool

    @classmethod
    def at(cls, windows: _Windows, at: int, side: int) -> _Look:
        """Look at the points about point ``at``, up to ``side`` on each side."""
        x, weights, xy = windows.about(np.array([at]), side)
        scale = float(_half(x, weights)[0, 0])
        place = _PLACES * float(np.diff(np.sort(x[0][weights[0] > 0])).mean()) / scale
        x = x / scale

        def fits(columns: Array) -> tuple[Array, Array]:
            shape = (len(columns), x.shape[1])
            return fits_of(columns, np.broadcast_to(weights, shape), np.broadcast_to(xy, (*shape, 2)))[:2]

        kinks, kinked = fits(_kink(np.broadcast_to(x, (len(place), x.shape[1])), place[:, None], 0.0))
        best = int(np.argmin(kinks))
        legs = _turn_of_legs(kinked[best], place[best], x[weights > 0])
        middle, bend = (grid.reshape(-1, 1) for grid in np.meshgrid(np.append(place, _MIDDLES), _BENDS))
        bends, found = fits(_kink(np.broadcast_to(x, (len(bend), x.shape[1])), middle, bend))
        gentle = 2 * bend[:, 0] * scale >= _GENTLE * _turn(found)
        quartic = float(fits(x[..., None] ** np.arange(5))[0][0])
        return cls(
            float(windows.u[at] + place[best] * scale),
            float(kinks[best]),
            float(bends.min()),
            min(quartic, float(bends[gentle].min(initial=np.inf))),
            max(float(weights.sum()) - 5, 1),
            bool(_turn(kinked)[best] >= _STANDS_OUT * legs),
        )


def _corner_place(windows: _Windows, at: int, side: int, noise: float) -> float | None:
    """Return where about a point there is a corner, or None if a bend explains the points as well or better."""
    look = _Look.at(windows, at, side)
    by_chance = look.freedom + _BY_CHANCE * np.sqrt(2 * look.freedom)
    seen = (
        look.stands_out
        and look.kink <= noise**2 * by_chance
        and look.kink <= look.bend + noise**2 * _DOUBT
        and look.kink <= look.long - noise**2 * _BETTER
    )
    return look.place if seen else None


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
    left, found, _ = fits_of(columns, np.broadcast_to(weights, shape), np.broadcast_to(xy, (*shape, 2)))
    best = int(np.argmin(left))
    at = trial[best]
    point = xy[0, 0] + found[best, 0] + found[best, 1] * at + found[best, 2] * at * at
    return float(left[best] / max(weights.sum() - 5, 1)), float(u + at * scale), point
