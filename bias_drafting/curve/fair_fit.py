"""A chain of arcs as few cubics, their bends no tighter than a limit.

Cubics are laid greedily, each over as many arcs as one can span. Each has the exact ends and end directions of its
run, and the two handles that bring it nearest; it is taken only if it stays within the tolerance and its curvature,
at all its extremes, within the limit.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve import bezier, measure
from bias_drafting.curve.curvature import sharpest_of_each

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from bias_drafting.curve.fair_arcs import ArcLine

    Array = NDArray[np.float64]

__all__ = ["Limits", "fitted"]

# Points of the chain per arc that a cubic is measured against, and rounds of moving their parameters to the feet.
_SAMPLES = 2
_ROUNDS = 4


@dataclass(frozen=True, slots=True)
class Limits:
    """What a fit must keep: a distance, a curvature at most, and a direction to within an angle (rad)."""

    distance: float
    bend: float
    angle: float


def fitted(line: ArcLine, limits: Limits) -> Array:
    """Return a chain of arcs as cubics ``(m, 4, 2)``.

    One arc alone is always taken: over so short a piece a cubic differs from the arc by rounding only.
    """
    cubics, first = [], 0
    while first < line.count:
        last, cubic = _longest(line, first, limits)
        cubics.append(cubic)
        first = last
    return np.stack(cubics)


def _longest(line: ArcLine, first: int, limits: Limits) -> tuple[int, Array]:
    """Return the furthest node that one cubic reaches, and the cubic: by doubling, then by halving."""
    good, cubic = first + 1, _like_arc(_Run(line, first, first + 1))
    bad, stride = line.count + 1, 2
    while good < bad - 1:
        trial = min(first + stride, line.count) if bad > line.count else (good + bad) // 2
        if trial <= good:
            break
        run = _Run(line, first, trial)
        found = next((c for c in (_like_arc(run), _nearest(run)) if _keeps(run, c, limits)), None)
        if found is None:
            bad = trial
        else:
            good, cubic, stride = trial, found, 2 * stride
    return good, cubic


class _Run:
    """Points of a chain of arcs from one node to another, exactly on the arcs, their places and headings."""

    def __init__(self, line: ArcLine, first: int, last: int) -> None:
        at = np.linspace(first, last, _SAMPLES * (last - first) + 1)
        k = np.clip(np.floor(at), first, last - 1).astype(np.intp)
        part = at - k
        turn = (line.heading[k + 1] - line.heading[k]) * part
        chord = line.step * part * np.sinc(turn / (2 * np.pi))
        way = line.heading[k] + turn / 2
        self.points = line.nodes[k] + np.stack([chord * np.cos(way), chord * np.sin(way)], axis=1)
        self.t = (at - first) / (last - first)
        self.heading = line.heading[k] + turn
        self.length = (last - first) * line.step
        self.leave, self.arrive = (
            np.array([np.cos(self.heading[j]), np.sin(self.heading[j])]) for j in (0, -1)
        )

    def cubic(self, handles: Array) -> Array:
        """Return the cubic with the run's ends and end directions and these handles."""
        start, end = self.points[0], self.points[-1]
        return np.stack([start, start + handles[0] * self.leave, end - handles[1] * self.arrive, end])


def _like_arc(run: _Run) -> Array:
    """Return the cubic with the handles of an arc that long and turning so much: for an arc the best there is."""
    turn = run.heading[-1] - run.heading[0]
    quarter = turn / 4
    bow = np.tan(quarter) / quarter if 1e-6 < abs(quarter) < 1 else 1.0
    return run.cubic(np.full(2, run.length / 3 * bow))


def _nearest(run: _Run) -> Array:
    """Return the cubic that lies nearest to its run, by least squares."""
    points, t = run.points, run.t
    cubic = points[:4]
    for _ in range(_ROUNDS):
        w = 1 - t
        b0, b1, b2, b3 = w**3, 3 * w * w * t, 3 * w * t * t, t**3
        rest = points - np.outer(b0 + b1, points[0]) - np.outer(b2 + b3, points[-1])
        basis = np.stack([np.outer(b1, run.leave).ravel(), -np.outer(b2, run.arrive).ravel()], axis=1)
        cubic = run.cubic(np.linalg.lstsq(basis, rest.ravel(), rcond=None)[0])
        t = _projected(cubic, points, t)
    return cubic


def _projected(cubic: Array, points: Array, t: Array) -> Array:
    """Move each parameter toward the foot of its point on the cubic, by one of Newton's steps."""
    rows = np.broadcast_to(cubic, (len(t), 4, 2))
    d = 3 * np.diff(cubic, axis=0)
    w = 1 - t
    velocity = np.outer(w * w, d[0]) + np.outer(2 * w * t, d[1]) + np.outer(t * t, d[2])
    speed = (velocity * velocity).sum(axis=1)
    step = ((bezier.evaluate(rows, t) - points) * velocity).sum(axis=1) / np.where(speed > 0, speed, 1)
    t = np.clip(t - step, 0, 1)
    t[[0, -1]] = 0, 1
    return t


def _keeps(run: _Run, cubic: Array, limits: Limits) -> bool:
    """Whether a cubic keeps the limits."""
    points, t = run.points, run.t
    ahead, behind = (cubic[1] - cubic[0]) @ run.leave, (cubic[3] - cubic[2]) @ run.arrive
    if min(ahead, behind) < 0.05 * run.length or max(ahead, behind) > 0.8 * run.length:
        return False
    for _ in range(_ROUNDS):
        t = _projected(cubic, points, t)
    rows = np.broadcast_to(cubic, (len(t), 4, 2))
    miss = np.hypot(*(bezier.evaluate(rows, t) - points).T).max()
    off = np.abs(np.angle(measure.directions(rows, t) * np.exp(-1j * run.heading))).max()
    if miss > limits.distance or off > limits.angle:
        return False
    return bool(np.abs(sharpest_of_each(cubic[None])[0][0]) <= limits.bend)
