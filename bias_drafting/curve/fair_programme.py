"""One linear programme: the step that brings a line of arcs nearest to a drawn one, as seen from where it is.

Its unknowns are by how much the headings at the nodes, the nodes themselves and the length of a step change. How they
hang together, how far the nodes are from the drawn line and the drawn points from the new one, and how much the line
bends, is made linear about the line at hand.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from bias_drafting.curve.fair_arcs import ArcLine, feet_of_drawn, feet_on_drawn, headings_at, windows

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    IntArray = NDArray[np.intp]

    from bias_drafting.curve.fair_arcs import Task

__all__ = ["NEARNESS", "SMOOTHNESS", "Aim", "next_line"]

# Weight of the mean distance beside the largest: enough to keep all that does not bind near the drawn line.
NEARNESS: Final = 0.01
# Weight of changes of bend in a smoothing programme.
SMOOTHNESS: Final = 2e-3
# From so many unknowns on an interior point method is quicker than the simplex method.
_LARGE: Final = 1000
# Some ten times what the longest programme takes: nothing hangs.
_MOST_ITERATIONS: Final = 50_000
# Distances below this are taken across the line, not along the (then meaningless) way to the foot.
_TOUCHING: Final = 1e-6


class _Rows:
    """Rows of a sparse matrix with their right-hand sides, gathered block by block."""

    def __init__(self) -> None:
        self.count = 0
        self._parts: list[tuple[IntArray, IntArray, Array]] = []
        self._right: list[Array] = []

    def add(self, right: Array, *terms: tuple[IntArray | int, Array | float]) -> None:
        """Add one row for each value of ``right``; each term is a column and a factor for every row."""
        rows = np.arange(self.count, self.count + len(right))
        for column, factor in terms:
            columns = np.broadcast_to(np.asarray(column, dtype=np.intp), rows.shape)
            factors = np.broadcast_to(np.asarray(factor, dtype=np.float64), rows.shape)
            self._parts.append((rows, columns, factors))
        self._right.append(right)
        self.count += len(right)

    def matrix(self, columns: int) -> tuple[Any, Array]:
        """Return the matrix and the right-hand side."""
        from scipy.sparse import csr_array

        row, column, value = (np.concatenate(part) for part in zip(*self._parts, strict=True))
        return csr_array((value, (row, column)), shape=(self.count, columns)), np.concatenate(self._right)


class _Columns:
    """Which unknown of the programme is which column."""

    def __init__(self, n: int) -> None:
        self.heading = 0
        self.x, self.y = n + 1, 2 * (n + 1)
        self.step = 3 * (n + 1)
        self.near = self.step + 1  # distance of each node from the drawn line, at least
        self.shift = self.near + n + 1
        self.excess = self.shift + 1
        self.change = self.excess + 1  # change of bend at each inner node, at least
        self.count = self.change + n - 1


def _follow(line: ArcLine, at: _Columns) -> _Rows:
    """Tie the moves of the nodes to the changes of the headings and of the step."""
    rows, i = _Rows(), np.arange(line.count)
    turn, middle = np.diff(line.heading), (line.heading[1:] + line.heading[:-1]) / 2
    bow = np.sinc(turn / (2 * np.pi))
    by_turn = -line.step * turn / 12  # the chord shrinks as its arc turns
    cos, sin = np.cos(middle), np.sin(middle)
    for column, along, across in ((at.x, cos, -sin), (at.y, sin, cos)):
        swing = line.step * bow * across / 2
        rows.add(
            np.zeros(line.count),
            (column + i + 1, 1.0),
            (column + i, -1.0),
            (at.step, -bow * along),
            (at.heading + i, by_turn * along - swing),
            (at.heading + i + 1, -by_turn * along - swing),
        )
    return rows


def _limit_bends(rows: _Rows, task: Task, line: ArcLine, at: _Columns) -> None:
    """Keep the turn over every step below its limit, which moves with the step, but for the excess."""
    turn, i = np.diff(line.heading), np.arange(line.count)
    for sign in (1.0, -1.0):
        rows.add(
            task.bend * line.step - sign * turn,
            (at.heading + i + 1, sign),
            (at.heading + i, -sign),
            (at.step, -task.bend),
            (at.excess, -task.bend * line.step),
        )


def _limit_windows(rows: _Rows, task: Task, line: ArcLine, at: _Columns) -> None:
    """Keep the turn over every window below its limit, but for the excess."""
    turns = windows(task, line)
    begin, finish = (headings_at(task, line, turns.node[:, k], turns.extra[:, k]) for k in (0, 1))
    turn = finish.value - begin.value
    for sign in (1.0, -1.0):
        rows.add(
            task.window - sign * turn,
            (at.heading + finish.node[:, 0], sign * finish.weight[:, 0]),
            (at.heading + finish.node[:, 1], sign * finish.weight[:, 1]),
            (at.heading + begin.node[:, 0], -sign * begin.weight[:, 0]),
            (at.heading + begin.node[:, 1], -sign * begin.weight[:, 1]),
            (at.step, sign * (finish.by_step - begin.by_step)),
            (at.excess, -task.window),
        )


def _limit_distances(rows: _Rows, task: Task, line: ArcLine, at: _Columns) -> None:
    """Keep every node near the drawn line, and every drawn point near the new one."""
    k = np.arange(line.count + 1)
    feet = feet_on_drawn(task, line)
    way = task.drawn[feet.chord + 1] - task.drawn[feet.chord]
    reach, ux, uy = _directed(
        line.nodes - feet.point, feet.distance, np.stack([-way[:, 1], way[:, 0]], axis=1)
    )
    for sign in (1.0, -1.0):
        rows.add(-sign * reach, (at.x + k, sign * ux), (at.y + k, sign * uy), (at.near + k, -1.0))
    rows.add(np.zeros(len(k)), (at.near + k, 1.0), (at.shift, -1.0))
    feet = feet_of_drawn(task, line)
    i, x = feet.chord, feet.along
    middle = line.heading[i] * (1 - x) + line.heading[i + 1] * x
    across = np.stack([-np.sin(middle), np.cos(middle)], axis=1)
    reach, ux, uy = _directed(feet.point - task.drawn, feet.distance, across)
    for sign in (1.0, -1.0):
        rows.add(
            -sign * reach,
            (at.x + i, sign * ux * (1 - x)),
            (at.x + i + 1, sign * ux * x),
            (at.y + i, sign * uy * (1 - x)),
            (at.y + i + 1, sign * uy * x),
            (at.shift, -1.0),
        )


def _directed(gap: Array, distance: Array, across: Array) -> tuple[Array, Array, Array]:
    """Return each distance with its unit direction: along the gap, or across the line where the two touch."""
    far = distance > _TOUCHING
    size = np.hypot(*across.T)
    across = across / np.where(size > 0, size, 1)[:, None]
    unit = np.where(far[:, None], gap / np.where(far, distance, 1)[:, None], across)
    return (gap * unit).sum(axis=1), unit[:, 0], unit[:, 1]


def _smooth(rows: _Rows, line: ArcLine, at: _Columns) -> None:
    """Measure the change of bend at every inner node."""
    i = np.arange(line.count - 1)
    change = np.diff(line.heading, n=2) / line.step
    for sign in (1.0, -1.0):
        rows.add(
            -sign * change,
            (at.heading + i, sign / line.step),
            (at.heading + i + 1, -2 * sign / line.step),
            (at.heading + i + 2, sign / line.step),
            (at.change + i, -1.0),
        )


def _bounds(task: Task, line: ArcLine, at: _Columns, reach: float) -> Array:
    """Return the least and largest value of every unknown."""
    n = line.count
    low, high = np.full(at.count, -np.inf), np.full(at.count, np.inf)
    low[: n + 1], high[: n + 1] = -reach, reach
    low[at.step], high[at.step] = -0.3 * line.step, 0.3 * line.step
    low[at.near :] = 0
    if not task.ring:
        for k in (0, n):
            for column in (at.heading, at.x, at.y):
                low[column + k] = high[column + k] = 0
    return np.stack([low, high], axis=1)


def _tie_ring(rows: _Rows, line: ArcLine, at: _Columns) -> None:
    """Tie the last node of a ring to its first, and keep that from sliding along."""
    for column in (at.heading, at.x, at.y):
        rows.add(np.zeros(1), (column + line.count, 1.0), (column, -1.0))
    along = float(line.heading[0])
    rows.add(np.zeros(1), (at.x, np.cos(along)), (at.y, np.sin(along)))


@dataclass(frozen=True, slots=True)
class Aim:
    """What a programme is to bring down: the shift and the excess, or, below a cap on the shift, all unevenness."""

    price: float
    cap: float = np.inf

    def costs(self, at: _Columns, n: int) -> Array:
        """Return the cost of each unknown."""
        cost = np.zeros(at.count)
        smoothing = np.isfinite(self.cap)
        cost[at.near : at.near + n + 1] = (1.0 if smoothing else NEARNESS) / (n + 1)
        cost[at.shift] = 0.0 if smoothing else 1.0
        cost[at.excess] = self.price
        cost[at.change :] = SMOOTHNESS * self.cap if smoothing else 0.0
        return cost


def next_line(task: Task, line: ArcLine, aim: Aim, reach: float) -> tuple[ArcLine, float] | None:
    """Solve one linear programme: the line it leads to and the cost it foresees, or None where it fails.

    No heading changes by more than ``reach``. The line need not end where it should, but for how far making it linear
    was wrong.
    """
    n, at = line.count, _Columns(line.count)
    ties, limits = _follow(line, at), _Rows()
    if task.ring:
        _tie_ring(ties, line, at)
    _limit_bends(limits, task, line, at)
    if task.window > 0:
        _limit_windows(limits, task, line, at)
    _limit_distances(limits, task, line, at)
    bounds = _bounds(task, line, at, reach)
    if np.isfinite(aim.cap):
        _smooth(limits, line, at)
        bounds[at.shift, 1] = aim.cap
    else:
        bounds[at.change :, 1] = 0
    found = _least(aim.costs(at, n), limits.matrix(at.count), ties.matrix(at.count), bounds)
    if found is None:
        return None
    x, cost = found
    start = line.start + np.array([x[at.x], x[at.y]])
    return ArcLine(start, line.heading + x[: n + 1], line.step + float(x[at.step])), cost


def _least(
    cost: Array, limits: tuple[Any, Array], ties: tuple[Any, Array], bounds: Any
) -> tuple[Array, float] | None:
    """Return the unknowns that cost least, and what they cost; None if they were not found."""
    from scipy.optimize import linprog

    method: Literal["highs-ds", "highs-ipm"] = "highs-ds" if len(cost) < _LARGE else "highs-ipm"
    found = linprog(
        cost,
        A_ub=limits[0],
        b_ub=limits[1],
        A_eq=ties[0],
        b_eq=ties[1],
        bounds=bounds,
        method=method,
        # Presolving gains nothing here, and now and then leaves the simplex method thirty times the work.
        options={"presolve": False, "maxiter": _MOST_ITERATIONS},
    )
    return None if found.x is None or found.fun is None else (np.asarray(found.x), float(found.fun))
