"""A smooth chain of arcs, and how it compares with a drawn line: distances both ways, and how tightly it bends.

Lengths are in units of the least radius.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    IntArray = NDArray[np.intp]

    from scipy.spatial import cKDTree

__all__ = [
    "ArcLine",
    "Feet",
    "Headings",
    "Task",
    "Turns",
    "excess_of",
    "feet_of_drawn",
    "feet_on_drawn",
    "foot_near",
    "headings_at",
    "off_drawn",
    "windows",
]


@dataclass(frozen=True, eq=False)
class ArcLine:
    """A smooth chain of equally long arcs.

    Attributes
    ----------
    start
        The first node ``(2,)``.
    heading
        Direction of travel at the nodes in radians ``(n + 1,)``, running on; between nodes it changes evenly.
    step
        Length of each arc.
    """

    start: Array
    heading: Array
    step: float

    @cached_property
    def nodes(self) -> Array:
        """The nodes ``(n + 1, 2)``, exactly on the arcs."""
        turn, middle = np.diff(self.heading), (self.heading[1:] + self.heading[:-1]) / 2
        chord = self.step * np.sinc(turn / (2 * np.pi))
        steps = np.stack([chord * np.cos(middle), chord * np.sin(middle)], axis=1)
        return np.concatenate([self.start[None], self.start + np.cumsum(steps, axis=0)])

    @property
    def count(self) -> int:
        """How many arcs there are."""
        return len(self.heading) - 1

    @property
    def length(self) -> float:
        """Arc length of the whole."""
        return self.count * self.step

    def resampled(self, count: int) -> ArcLine:
        """Return about the same line with another number of arcs."""
        at = np.linspace(0, self.count, count + 1)
        heading = np.interp(at, np.arange(self.count + 1), self.heading)
        return ArcLine(self.start, heading, self.length / count)

    def between(self, first: int, last: int) -> ArcLine:
        """Return the part from one node to another."""
        return ArcLine(self.nodes[first], self.heading[first : last + 1], self.step)


@dataclass(frozen=True, eq=False)
class Task:
    """A stretch of a drawn line to be faired.

    Attributes
    ----------
    drawn
        Points ``(m, 2)`` on the drawn stretch, close together, its ends included.
    run, way
        Arc length at each of the points ``(m,)``, and the drawn heading half way between them ``(m - 1,)``.
    leave, arrive
        Headings at the two ends, in radians; their difference is the stretch's whole turning.
    ring
        Whether the stretch is a whole closed line, without fixed ends.
    bend
        The most that the line may bend at any point, in units of one over the radius.
    window
        Over how much arc length it may bend by no more than 1 on the mean; 0 for none.
    before, after
        What a window sees beyond the ends: arc lengths from that end, ascending (negative before it), and headings.
        Empty where the line ends.
    """

    drawn: Array
    run: Array
    way: Array
    leave: float
    arrive: float
    ring: bool
    bend: float
    window: float
    before: tuple[Array, Array]
    after: tuple[Array, Array]

    @cached_property
    def tree(self) -> cKDTree:
        """The drawn points, ready to be searched."""
        from scipy.spatial import cKDTree

        return cKDTree(self.drawn)


# Distances


@dataclass(frozen=True, slots=True, eq=False)
class Feet:
    """The nearest points of a chain of chords: on which, how far along it, where, and how far away."""

    chord: IntArray
    along: Array
    point: Array
    distance: Array


def _feet_on(points: Array, line: Array, tree: cKDTree) -> Feet:
    """Find the feet of points on a line of evenly close points: on the chords beside the nearest of them."""
    nearest = np.asarray(tree.query(points)[1], dtype=np.intp)
    found = []
    for chord in (np.maximum(nearest - 1, 0), np.minimum(nearest, len(line) - 2)):
        base, way = line[chord], line[chord + 1] - line[chord]
        square = (way * way).sum(axis=1)
        along = ((points - base) * way).sum(axis=1) / np.where(square > 0, square, 1)
        along = np.clip(along, 0, 1)
        foot = base + along[:, None] * way
        found.append(Feet(chord, along, foot, np.hypot(*(points - foot).T)))
    one, two = found
    first = one.distance <= two.distance
    return Feet(
        np.where(first, one.chord, two.chord),
        np.where(first, one.along, two.along),
        np.where(first[:, None], one.point, two.point),
        np.where(first, one.distance, two.distance),
    )


def feet_on_drawn(task: Task, line: ArcLine) -> Feet:
    """Find the feet of a line's nodes on the drawn stretch."""
    return _feet_on(line.nodes, task.drawn, task.tree)


def feet_of_drawn(task: Task, line: ArcLine) -> Feet:
    """Find the feet of the drawn points on a line."""
    from scipy.spatial import cKDTree

    return _feet_on(task.drawn, line.nodes, cKDTree(line.nodes))


def off_drawn(task: Task, line: ArcLine) -> Array:
    """Return the distance of every node of a line from the drawn stretch."""
    return feet_on_drawn(task, line).distance


def foot_near(task: Task, point: Array, run: float, reach: float) -> float:
    """Return the arc length of a point's foot on the drawn stretch, looked for within ``reach`` of ``run`` only."""
    low, high = np.searchsorted(task.run, [run - reach, run + reach])
    low, high = max(int(low) - 1, 0), min(int(high) + 1, len(task.run))
    base, way = task.drawn[low : high - 1], np.diff(task.drawn[low:high], axis=0)
    along = np.clip(((point - base) * way).sum(axis=1) / (way * way).sum(axis=1), 0, 1)
    best = int(np.argmin(np.hypot(*(base + along[:, None] * way - point).T)))
    return float(task.run[low + best] + along[best] * (task.run[low + best + 1] - task.run[low + best]))


# Turning


@dataclass(frozen=True, slots=True, eq=False)
class Turns:
    """Turns that are limited, each between two places ``node + extra / step`` of the line, ``(m, 2)`` both."""

    node: Array
    extra: Array


def windows(task: Task, line: ArcLine) -> Turns:
    """List the windows that limit them all: the heading is piecewise linear, so those that begin or end on a node."""
    n, window, step = line.count, task.window, line.step
    knots, zero = np.arange(n + 1, dtype=np.float64), np.zeros(n + 1)
    before, after = task.before[0], task.after[0]
    node = [np.stack([knots, knots], axis=1)] * 2
    extra = [np.stack([zero, zero + window], axis=1), np.stack([zero - window, zero], axis=1)]
    for base, places, shift in ((0.0, before, 0.0), (float(n), after, -window)):
        node.append(np.full((len(places), 2), base))
        extra.append(np.stack([places + shift, places + shift + window], axis=1))
    nodes, extras = np.concatenate(node), np.concatenate(extra)
    s = nodes * step + extras
    low = -np.inf if task.ring else before[0] if len(before) else 0.0
    high = np.inf if task.ring else line.length + (after[-1] if len(after) else 0.0)
    tiny = 1e-9 * (1 + line.length)
    inside = (s[:, 0] >= low - tiny) & (s[:, 1] <= high + tiny)
    return Turns(nodes[inside], extras[inside])


@dataclass(frozen=True, slots=True, eq=False)
class Headings:
    """Headings at places of a line, and how they follow the headings of two nodes and the step."""

    value: Array
    node: IntArray
    weight: Array
    by_step: Array


def headings_at(task: Task, line: ArcLine, node: Array, extra: Array) -> Headings:
    """Return the headings at ``node + extra / step``, on the line or beyond its ends."""
    n, step = line.count, line.step
    at = node + extra / step
    turn, rounds = 0.0, np.zeros_like(at)
    if task.ring:
        turn, rounds = task.arrive - task.leave, np.floor(at / n)
        at = at - rounds * n
    k = np.clip(np.floor(at), 0, n - 1).astype(np.intp)
    x = np.clip(at - k, 0, 1)
    rise = line.heading[k + 1] - line.heading[k]
    value = line.heading[k] + x * rise + rounds * turn
    by_step = -extra / step**2 * rise
    weight = np.stack([1 - x, x], axis=1)
    if not task.ring:
        for beyond, sign, (places, headings) in ((-at, -1, task.before), (at - n, 1, task.after)):
            out = beyond > 1e-9
            if out.any() and len(places):
                value[out] = np.interp(sign * beyond[out] * step, places, headings)
                weight[out], by_step[out] = 0, 0
    return Headings(value, np.stack([k, k + 1], axis=1), weight, by_step)


def excess_of(task: Task, line: ArcLine) -> float:
    """Return by what share the tightest bend of a line is too tight."""
    worst = float(np.abs(np.diff(line.heading)).max()) / (line.step * task.bend)
    if task.window > 0:
        turns = windows(task, line)
        begin, finish = (headings_at(task, line, turns.node[:, k], turns.extra[:, k]).value for k in (0, 1))
        worst = max(worst, float(np.abs(finish - begin).max(initial=0)) / task.window)
    return max(0.0, worst - 1)
