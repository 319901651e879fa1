"""A drawn line made ready for fairing: what of it may move, where it bends too tightly, stretches of it as tasks.

Along a closed line arc length may be counted on beyond the length; so every stretch runs forward.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from bias_drafting.curve import arc_length
from bias_drafting.curve.bends import CORNER, Turning
from bias_drafting.curve.curvature import sharpest_of_each
from bias_drafting.curve.fair_arcs import Task
from bias_drafting.curve.measure import build_chain, curvature

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from bias_drafting.curve.curve import Curve
    from bias_drafting.curve.measure import Chain

    Array = NDArray[np.float64]
    Interval = tuple[float, float]

__all__ = ["DrawnLine", "task_of"]

# At most so many points of a stretch, whatever is asked: bounded work.
_MOST_POINTS: Final = 10_000


@dataclass(frozen=True, eq=False)
class DrawnLine:
    """A curve to be faired, made ready.

    Attributes
    ----------
    curve, chain, turning
        The curve and its measures.
    window
        Over how many mm of arc length a bend is averaged; 0 for the point value.
    bend
        The most a new line may bend at any point, in units of one over the radius.
    origin
        The arc length from which stretches count.
    free
        The stretches that may move, in order.
    ring
        Whether the line is closed and nothing of it held.
    """

    curve: Curve
    window: float
    chain: Chain
    turning: Turning
    bend: float = 1.0
    origin: float = 0.0
    free: tuple[Interval, ...] = ()
    ring: bool = False

    @classmethod
    def of(cls, curve: Curve, window: float, hold: tuple[Interval, ...]) -> DrawnLine:
        """Make a curve ready, holding stretches ``(s0, s1)`` in order, ``s1`` beyond the length where they wrap."""
        chain = build_chain(curve.controls, curve.closed)
        drawn = cls(curve, window, chain, Turning.of(chain, curve.closed))
        if not hold:
            return replace(drawn, free=((0.0, chain.length),), ring=curve.closed)
        if curve.closed:
            starts = [b for _, b in hold]
            ends = [a for a, _ in hold[1:]] + [hold[0][0] + chain.length]
            free = [(a, b) for a, b in zip(starts, ends, strict=True) if b > a]
            return replace(drawn, origin=hold[0][1], free=tuple(free))
        edges = [0.0, *(s for pair in hold for s in pair), chain.length]
        free = [(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if b > a]
        return replace(drawn, free=tuple(free))

    def wrapped(self, u: Array) -> Array:
        """Return arc lengths counted on beyond the length, as arc lengths of the curve."""
        if not self.curve.closed:
            return np.clip(u, 0, self.chain.length)
        inside: Array = np.where((u < 0) | (u > self.chain.length), u % self.chain.length, u)
        return inside

    def points(self, u: Array) -> Array:
        """Return points ``(m, 2)`` in mm."""
        return self.curve.point_at(self.wrapped(u))

    def tight_places(self, radius: float) -> list[Interval]:
        """Return where bends are tighter than a radius: intervals in order, on the curve's own arc length."""
        if self.window > 0:
            found = self.curve.stretches_tighter_than(radius, self.window)
            half = self.window / 2
            wide = [(a - half, (b if b >= a else b + self.chain.length) + half) for a, b in found]
        else:
            wide = self._tight_points(radius)
        if not self.curve.closed:
            wide = [(max(a, 0.0), min(b, self.chain.length)) for a, b in wide]
        return _joined(wide, 1e-9 * self.chain.length)

    def _tight_points(self, radius: float) -> list[Interval]:
        """Return intervals about all points whose curvature is over the limit, and all corners."""
        chain = self.chain
        bend, sharpest = sharpest_of_each(chain.controls)
        tight = np.flatnonzero(np.abs(bend) * radius > 1)
        t = np.concatenate([np.tile(np.linspace(0, 1, 33), (len(tight), 1)), sharpest[tight, None]], axis=1)
        t.sort(axis=1)
        piece = np.repeat(tight, t.shape[1])
        run = arc_length.partial_lengths(chain.controls[piece], np.zeros(t.size), t.ravel())
        s = (chain.s[piece] + run).reshape(t.shape)
        over = (np.abs(curvature(chain.controls[piece], t.ravel())) * radius > 1).reshape(t.shape)
        over |= t == sharpest[tight, None]
        row, column = np.nonzero(over)
        low, high = s[row, np.maximum(column - 1, 0)], s[row, np.minimum(column + 1, t.shape[1] - 1)]
        corners = chain.s[np.flatnonzero(np.abs(chain.corners[:-1]) >= CORNER)]
        return [*zip(low.tolist(), high.tolist(), strict=True), *((float(s), float(s)) for s in corners)]


def _joined(intervals: list[Interval], slack: float) -> list[Interval]:
    """Return intervals in order, those that meet made one."""
    found: list[Interval] = []
    for low, high in sorted(intervals):
        if found and low <= found[-1][1] + slack:
            found[-1] = (found[-1][0], max(found[-1][1], high))
        else:
            found.append((low, high))
    return found


def task_of(drawn: DrawnLine, start: float, end: float, radius: float, spacing: float) -> Task:
    """Return a stretch as a task, in units of the radius, from the stretch's start; points ``spacing`` mm apart."""
    chain = drawn.chain
    ring = drawn.ring and end - start >= chain.length * (1 - 1e-9)
    count = int(np.clip(np.ceil((end - start) / spacing), 8, _MOST_POINTS))
    corners = chain.s[np.abs(chain.corners) > 1e-6]
    if drawn.curve.closed:
        corners = np.concatenate([corners + k * chain.length for k in (-1, 0, 1)])
    inside = corners[(corners > start) & (corners < end)]
    u = np.unique(np.concatenate([np.linspace(start, end, count + 1), inside]))
    u = u[np.append(True, np.diff(u) > 1e-9 * (end - start))]
    u[-1] = end
    points = drawn.points(u)
    heading = drawn.turning.heading_exact
    leave, arrive = heading(np.array([start]), True)[0], heading(np.array([end]), False)[0]
    before, after = _beyond(drawn, start, -1, radius, spacing), _beyond(drawn, end, 1, radius, spacing)
    return Task(
        drawn=(points - points[0]) / radius,
        run=(u - start) / radius,
        way=heading((u[1:] + u[:-1]) / 2, False),
        leave=float(leave),
        arrive=float(leave + drawn.turning.once_round) if ring else float(arrive),
        ring=ring,
        bend=drawn.bend,
        window=drawn.window / radius,
        before=before,
        after=after,
    )


def _beyond(drawn: DrawnLine, at: float, sign: int, radius: float, spacing: float) -> tuple[Array, Array]:
    """Return what a window sees of the drawn line beyond an end of a stretch: arc lengths from there, headings."""
    reach = drawn.window
    if not drawn.curve.closed:
        reach = min(reach, at if sign < 0 else drawn.chain.length - at)
    if reach <= 0:
        return np.empty(0), np.empty(0)
    far = np.linspace(0, reach, int(min(np.ceil(reach / spacing), _MOST_POINTS)) + 1)
    far = -far[::-1] if sign < 0 else far
    return far / radius, drawn.turning.heading_exact(at + far, sign < 0)
