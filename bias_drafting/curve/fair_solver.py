"""The line nearest to a drawn one whose bends are wide enough, by sequential linear programming.

The new line is a smooth chain of equally long arcs. Its unknowns are the headings at the nodes and the length of a
step; that no bend is tighter than asked is then linear: ``|heading[i + 1] - heading[i]| <= step / radius``, and so is
the turn over a window. Where the nodes lie, and how far they are from the drawn line and the drawn line from them,
is made linear about the line at hand; the linear programme finds the step that brings the largest distance down
most, within a limit on how far any heading may change, and is set up anew from there. A bend that is too tight
counts as a fault with a price (an exact penalty), so the drawn line itself, a little smoothed, is guess enough to
begin with.

Everything here is in units of the least radius, so that every constant is a pure number.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from bias_drafting.curve.fair_arcs import ArcLine, excess_of, feet_of_drawn, off_drawn
from bias_drafting.curve.fair_programme import NEARNESS, SMOOTHNESS, Aim, next_line

if TYPE_CHECKING:
    from bias_drafting.curve.fair_arcs import Task

__all__ = ["MILD", "STERN", "Solution", "first_guess", "polished", "solved"]

# What a bend too tight costs: the shift it may be traded for. A wider radius moves a corner on long arms by at most
# as much again, so a price of a little over 1 will do; where the ends press, it is raised.
MILD: Final = (1.5, 6.0, 24.0)
# There are lines, rows of half circles for one, that must move by much before a small move helps at all. A price so
# high as to count nothing else gets past that.
STERN: Final = (100.0,)
# A bend within this part of the limit is wide enough: the radius asked of the solver carries a margin for it.
_SOUND: Final = 2e-4
# What smoothing may add to the largest shift.
_SLACK: Final = 1.003
# When the headings may hardly change any more, the search is over.
_LEAST_REACH: Final = 2e-3


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """A line found.

    Attributes
    ----------
    line
        The line.
    shift, mean
        The largest distance between it and the drawn one, both ways, and the mean one of its nodes.
    excess
        By what share its tightest bend is too tight.
    """

    line: ArcLine
    shift: float
    mean: float
    excess: float

    def cost(self, price: float) -> float:
        """Return what is to be brought down."""
        return self.shift + NEARNESS * self.mean + price * self.excess

    def unevenness(self, cap: float) -> float:
        """Return what is to be brought down once the shift is capped."""
        bend = np.diff(self.line.heading) / self.line.step
        return self.mean + SMOOTHNESS * cap * float(np.abs(np.diff(bend)).sum())

    @property
    def sound(self) -> bool:
        """Whether its bends are wide enough."""
        return self.excess <= _SOUND


def first_guess(task: Task, count: int, width: float) -> ArcLine:
    """Return the drawn line as a chain of arcs, each heading the mean over a width (at most a third of the line)."""
    s, way = task.run - task.run[0], task.way
    whole = float(s[-1])
    width = min(max(width, whole / count), whole / 3)
    if task.ring:
        turn = task.arrive - task.leave
        s = np.concatenate([s[:-1] - whole, s, s[1:] + whole])
        way = np.concatenate([way - turn, way, way + turn])
    else:
        s = np.concatenate([[-width], s, [whole + width]])
        way = np.concatenate([[task.leave], way, [task.arrive]])
    summed = np.concatenate([[0.0], np.cumsum(way * np.diff(s))])
    at = np.linspace(0, whole, count + 1)
    rise = np.interp(at + width / 2, s, summed) - np.interp(at - width / 2, s, summed)
    return _put(task, ArcLine(task.drawn[0], rise / width, whole / count))


def _measured(task: Task, line: ArcLine) -> Solution:
    """Measure a line at its nodes and at the drawn points."""
    there = off_drawn(task, line)
    back = feet_of_drawn(task, line).distance
    return Solution(line, float(max(there.max(), back.max())), float(there.mean()), excess_of(task, line))


def solved(
    task: Task, line: ArcLine, prices: tuple[float, ...], rounds: int, reach: float, enough: float
) -> Solution:
    """Return the best line found from a first one, in at most ``rounds`` programmes for each price.

    The prices are those of a bend too tight, tried in turn until none is. No heading may change by more than
    ``reach`` at first; a programme that foresees a gain of less than the share ``enough`` of the cost is the last.
    """
    best = _measured(task, _put(task, line))
    for price in prices:
        best = _descended(task, best, price, rounds, reach, enough)
        if best.sound:
            break
    return best


def _put(task: Task, line: ArcLine) -> ArcLine:
    """Return a line that starts and ends as the task says; a ring has no ends."""
    if task.ring:
        return _met(task, line)
    heading = line.heading.copy()
    heading[0], heading[-1] = task.leave, task.arrive
    return _met(task, replace(line, start=task.drawn[0], heading=heading))


def _descended(
    task: Task, best: Solution, price: float, rounds: int, reach: float, enough: float
) -> Solution:
    """Follow programmes down while they help, the change allowed to a heading growing and shrinking with them."""
    for _ in range(rounds):
        found = next_line(task, best.line, Aim(price), reach)
        if found is None:
            break
        trial, cost = _measured(task, _met(task, found[0])), best.cost(price)
        gain, foreseen = cost - trial.cost(price), cost - found[1]
        if foreseen <= enough * cost:
            break
        if gain > 0:
            best = trial
        reach = (
            min(2 * reach, 1.0) if gain > 0.7 * foreseen else 0.4 * reach if gain < 0.25 * foreseen else reach
        )
        if reach < _LEAST_REACH:
            break
    return best


def polished(task: Task, best: Solution, rounds: int) -> Solution:
    """Return a line hardly further away that is as near to the drawn one, and as evenly bent, as it can be."""
    cap = best.shift * _SLACK + 1e-9
    current, reach = best, 0.1
    for _ in range(rounds):
        found = next_line(task, current.line, Aim(MILD[-1], cap), reach)
        if found is None:
            break
        trial, unevenness = _measured(task, _met(task, found[0])), current.unevenness(cap)
        if trial.sound and trial.shift <= cap * 1.002 and trial.unevenness(cap) < unevenness:
            current = trial
            if trial.unevenness(cap) > 0.98 * unevenness:
                break
        else:
            reach *= 0.3
    return current


def _met(task: Task, line: ArcLine) -> ArcLine:
    """Return the line nearest in its headings that ends where it should (or, a ring, where it starts)."""
    for _ in range(8):
        goal = line.start if task.ring else task.drawn[-1]
        miss = goal - line.nodes[-1]
        if np.abs(miss).max() < 1e-13 * (1 + line.length):
            break
        middle = (line.heading[1:] + line.heading[:-1]) / 2
        swing = line.step / 2 * np.stack([-np.sin(middle), np.cos(middle)])
        by_heading = np.zeros((2, line.count + 1))
        by_heading[:, :-1] += swing
        by_heading[:, 1:] += swing
        # The ends' headings stay; on a ring they are one and go with the others' mean anyway.
        by_heading[:, [0, -1]] = 0
        by_scale = (line.nodes[-1] - line.start)[:, None]
        jacobian = np.concatenate([by_heading, by_scale], axis=1)
        change = np.linalg.lstsq(jacobian, miss, rcond=1e-10)[0]
        line = ArcLine(line.start, line.heading + change[:-1], line.step * float(np.exp(change[-1])))
    return line
