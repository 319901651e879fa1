"""Bending a smooth line to run within reach of every point, so that its working radii change least.

A smooth line leaves the points of a jittery tracing where they are: the furthest of 400 lies three standard
deviations off. Where that is further than allowed the line must give way. It is displaced along its normals by the
spline under which the turn over a short window of arc length (what a strip feels) changes least at its worst place,
with a little of the plain bend so that nothing is bent sharply for nothing. The worst place counts because it becomes
the tightest bend: a few rounds of least squares, each with more weight where the one before turned more. Each is a
quadratic program with bounds from both sides at every point, solved by an interior-point method (Mehrotra 1992, "On
the implementation of a primal-dual interior point method", SIAM Journal on Optimization 2; from memory): each of its
rounds is one banded system.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve.smoothing import HELD, relaid
from bias_drafting.curve.splines import Rows, Splines, added, solve

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from bias_drafting.curve.smoothing import Line, Run

    Array = NDArray[np.float64]

__all__ = ["within_reach"]

# Windows in mm over which the turn is kept: about the finished width of a quarter-inch strip. One alone would be
# blind to ripples that fit into it.
_WINDOWS = (6.0, 6.35)
# What is tried in turn: splines so many times finer, and what a unit of curvature counts against one of turn over a
# window. The less it counts, the more the line may wriggle between the points, where windows do not see it.
_TRIALS = ((1, 1e-3), (1, 0.03), (2, 0.03))
# Rounds in which windows that turn most get more weight, and the least weight, as a share of the most.
_REWEIGHTED = 3
_LEAST_WEIGHT = 0.1
# Splines of the displacement in a window: enough to bend between two points, few enough to stay quick.
_STEPS_A_WINDOW = 12
# A line bent to reach a point comes back over this length, in mm: longer than a bend.
_WANDER = 20.0
_MOST_ROUNDS = 40
# A displacement so many times larger than what it should mend is nonsense: two points at one place on the line ask
# for opposite things.
_NONSENSE = 2.0
# Reach is kept a little inside what is allowed; this much over it is no loss.
_CLOSE_ENOUGH = 1.001


def within_reach(run: Run, line: Line) -> Line:
    """Return the line bent, as little as may be, to run within ``reach`` of every point; as near as it gets."""
    for finer, plain in _TRIALS:
        miss = line.misses(run.points)
        furthest = float(np.abs(miss).max())
        if furthest <= _CLOSE_ENOUGH * run.reach:
            break
        step = _WINDOWS[0] / _STEPS_A_WINDOW / finer
        spans = int(np.clip(line.splines.length / step, 12, max(line.splines.spans, 2 * len(miss))))
        splines = Splines(line.splines.length, spans, run.closed)
        try:
            shift = _least_bend(run, line, splines, miss, plain)
        except np.linalg.LinAlgError:
            continue
        left = np.abs(miss - splines.rows(line.u).dot(shift)).max()
        # Where so few splines cannot reach all points the answer is nonsense; more of them may.
        if left < furthest and np.abs(shift).max() < _NONSENSE * furthest:
            line = relaid(line, run, max(line.splines.spans, spans), shift, splines)
    return line


def _least_bend(run: Run, line: Line, splines: Splines, miss: Array, plain: float) -> Array:
    """Return the displacement that brings every miss within ``reach`` and changes the turn over windows least."""
    nodes, measure = splines.quadrature()
    bend = splines.integral(splines.rows(nodes, 2), plain * measure)
    bend = added(bend, splines.integral(splines.rows(nodes), measure / _WANDER**4))
    rows, firm = splines.rows(line.u), np.flatnonzero([*run.held])
    # A held end stays: to move it costs more than all the rest.
    held = splines.gram(splines.rows(line.u[[0, -1]][firm]), np.full(len(firm), HELD))
    turns = _turns(splines)
    weights = np.ones(turns.values.shape[1])
    for _ in range(_REWEIGHTED):
        cost = added(bend, splines.gram(turns, weights * splines.step / len(_WINDOWS)))
        shift = _bounded(splines, added(cost / cost[0].mean(), held), rows, miss, run.reach)
        turned = np.abs(turns.dot(shift))
        if not turned.size or np.abs(shift).max() > _NONSENSE * np.abs(miss).max():
            break
        weights = weights * (turned + _LEAST_WEIGHT * turned.max())
        weights /= weights.mean()
    return shift


def _turns(splines: Splines) -> Rows:
    """Return the rows that give the change of turn over windows all along, as a change of curvature in 1/mm."""
    places, values = [], []
    for window in _WINDOWS:
        centre = splines.middles()
        if not splines.closed:
            centre = centre[(centre > window / 2) & (centre < splines.length - window / 2)]
        turn = splines.rows(centre + window / 2, 1).minus(splines.rows(centre - window / 2, 1))
        places.append(turn.places)
        values.append(turn.values / window)
    return Rows(np.concatenate(places, axis=1), np.concatenate(values, axis=1))


def _bounded(splines: Splines, cost: Array, rows: Rows, miss: Array, reach: float) -> Array:
    """Return the x of least cost with ``abs(miss - rows x) <= reach``; as near as it gets in bounded work."""
    side = np.array([[1.0], [-1.0]])
    x = np.zeros(splines.count)
    slack = np.maximum(reach - side * miss, 0.1 * reach)
    force = np.full(slack.shape, reach)

    def newton(bands: Array, unbalance: Array, gap: Array, excess: Array) -> tuple[Array, Array, Array]:
        pressed = (side * (excess + force * gap) / slack).sum(axis=0)
        step, _ = solve(bands, -unbalance - splines.moments(rows, pressed))
        more = side * rows.dot(step) + gap
        return step, more, -(excess + force * more) / slack

    for _ in range(_MOST_ROUNDS):
        unbalance = _times(cost, x) - splines.moments(rows, (side * force).sum(axis=0))
        gap = reach - side * (miss - rows.dot(x)) - slack
        level = float((slack * force).mean())
        if np.abs(gap).max() <= 1e-4 * reach and level <= 1e-9 * reach**2:
            break
        bands = added(cost, splines.gram(rows, (force / slack).sum(axis=0)))
        _, more, harder = newton(bands, unbalance, gap, slack * force)
        far = min(_longest(slack, more), _longest(force, harder))
        ahead = float(((slack + far * more) * (force + far * harder)).mean())
        excess = slack * force + more * harder - level * (ahead / level) ** 3
        step, more, harder = newton(bands, unbalance, gap, excess)
        far = 0.99 * min(_longest(slack, more), _longest(force, harder))
        x, slack, force = x + far * step, slack + far * more, force + far * harder
    return x


def _longest(value: Array, step: Array) -> float:
    """Return the largest share of a step, at most 1, under which no value turns negative."""
    shrinking = step < 0
    return float(min(1.0, (-value[shrinking] / step[shrinking]).min(initial=np.inf)))


def _times(bands: Array, x: Array) -> Array:
    """Return the product of a symmetric matrix, given by its lower bands, with a vector."""
    product: Array = bands[0] * x
    for k in range(1, len(bands)):
        product[k:] += bands[k, :-k] * x[:-k]
        product[:-k] += bands[k, :-k] * x[k:]
    return product
