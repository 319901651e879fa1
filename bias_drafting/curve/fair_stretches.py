"""The new line where a drawn one bends too tightly: stretch by stretch, coarsely, then finely.

Along a closed line arc length is counted on from an origin where nothing need move, beyond the length if need be; so
every stretch runs forward. A stretch is first taken generously about each tight place, faired coarsely, widened until
the new line meets the drawn one before its ends, then cut to where it does and faired finely.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from bias_drafting.curve.fair_arcs import foot_near, off_drawn
from bias_drafting.curve.fair_drawn import task_of
from bias_drafting.curve.fair_fit import Limits, fitted
from bias_drafting.curve.fair_solver import MILD, STERN, first_guess, polished, solved
from bias_drafting.errors import UnfeasibleError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from bias_drafting.curve.fair_arcs import ArcLine, Task
    from bias_drafting.curve.fair_drawn import DrawnLine
    from bias_drafting.curve.fair_solver import Solution

    Array = NDArray[np.float64]
    Interval = tuple[float, float]

__all__ = ["CrampedError", "NewPart", "furthest", "new_parts"]

# Steps of the coarse and of the fine line in radii, and how many at least the swing round a corner gets.
_COARSE, _FINE = 0.15, 0.06
_STEPS: Final = 24
# At most so many arcs in one line, whatever is asked: bounded work.
_MOST_ARCS: Final = 2400
# How often a stretch is widened, and by what share of itself on each side.
_WIDENINGS: Final = 6
_WIDER: Final = 0.5
# Widening is worth its while if it brings the shift below this share of itself.
_GAIN: Final = 0.995
# A node this near to the drawn line, as a share of the largest shift, lies on it.
_ON_LINE: Final = 0.02
# So many coarse steps beyond where the lines meet are left to the fine line.
_SPARE: Final = 3
# A shift of so many radii is no fairing any more, but a loop.
_LOOPS: Final = 2.0
# How far a fit may stray from the arcs, as a share of the shift.
_FIT: Final = 3e-3
# The search goes down to the nearest trough, so it is begun twice: from the drawn line smoothed over so many radii.
_WIDTHS: Final = (1.0, 2.5)
_SMOOTHER: Final = (2.5, 5.0)
# A longer row of arcs is begun once only, for the sake of time.
_SHORT: Final = 200
# Programmes for each price, coarsely and finely; and to smooth.
_ROUNDS, _FINE_ROUNDS = 40, 8
# They end where the next promises so small a share of the shift.
_ENOUGH, _FINE_ENOUGH = 3e-3, 4e-4
_SMOOTHING: Final = 5


class CrampedError(UnfeasibleError):
    """Between its ends there is no room for a line with bends so wide: one radius tried, not yet the whole answer.

    ``s`` says where, in mm; ``widest`` how wide the bends got, 0 if that is not known.
    """

    def __init__(self, s: float, widest: float) -> None:
        super().__init__(f"near s = {s:g} mm there is no room for bends so wide")
        self.s, self.widest = s, widest


@dataclass(frozen=True, slots=True)
class _Stretch:
    """A stretch to be faired.

    Attributes
    ----------
    start, end
        Where it begins and ends, in mm.
    low, high
        How far it may reach.
    core, close
        Between where its bends are too tight.
    reach
        How far in mm the new line is expected to leave the drawn one on either side.
    scale
        How fine its steps must be: 1 for a bend that turns by much.
    """

    start: float
    end: float
    low: float
    high: float
    core: float
    close: float
    reach: float
    scale: float

    def widened(self, share: float, left: bool, right: bool) -> _Stretch:
        """Return it reaching out by a share of itself on the sides named, as far as it may."""
        more = share * (self.end - self.start)
        start = max(self.low, self.start - more) if left else self.start
        end = min(self.high, self.end + more) if right else self.end
        return replace(self, start=start, end=end)


@dataclass(frozen=True, slots=True, eq=False)
class NewPart:
    """A new part of a line: cubics in place of the drawn line from ``start`` to ``end`` (mm, counted on)."""

    start: float
    end: float
    controls: Array = field(repr=False)
    ring: bool


def new_parts(drawn: DrawnLine, radius: float, margin: float) -> list[NewPart]:
    """Return the new parts of a line whose bends are to be no tighter than a radius, in order.

    Parameters
    ----------
    drawn
        The line.
    radius
        The least radius in mm.
    margin
        By what share the solver's radius is wider, for the fit to use up.

    Raises
    ------
    CrampedError
        A stretch in which it cannot be done, or nothing that may move.
    """
    waiting = _stretches(drawn, radius)
    if (
        not waiting
    ):  # what is too tight is held, end to end, or tight at no point: joints too slight to be corners
        places = drawn.tight_places(radius)
        raise CrampedError(places[0][0] if places else drawn.curve.tightest(drawn.window).s, 0.0)
    done: list[tuple[_Stretch, NewPart]] = []
    while waiting:
        reached, part = _new_part(drawn, waiting.pop(0), radius, margin)
        # What lies within it was faired with it; what lies across its ends must be faired together with it.
        across = [s for s in waiting if s.core < reached.end < s.close]
        waiting = [replace(s, start=max(s.start, reached.end)) for s in waiting if s.core >= reached.end]
        while done and done[-1][0].end > reached.start:
            last = done.pop()[0]
            across += [last] if last.start < reached.start else []
        if across:
            waiting.insert(0, _together([reached, *across]))
        else:
            done.append((reached, part))
    return [part for _, part in done]


def _together(parts: list[_Stretch]) -> _Stretch:
    """Return the stretch that spans several."""
    return replace(
        parts[0],
        start=min(s.start for s in parts),
        end=max(s.end for s in parts),
        core=min(s.core for s in parts),
        close=max(s.close for s in parts),
        scale=max(s.scale for s in parts),
    )


def _stretches(drawn: DrawnLine, radius: float) -> list[_Stretch]:
    """Return a stretch about each tight place, with room on both sides; those that overlap made one."""
    places, length = drawn.tight_places(radius * (1 - 1e-6)), drawn.chain.length
    free = drawn.free
    if drawn.ring and places:
        origin = _calm(places, length)
        free = ((origin, origin + length),)
    if drawn.curve.closed:
        places = [(a + k * length, b + k * length) for a, b in places for k in (-1, 0, 1)]
    found: list[_Stretch] = []
    for low, high in free:
        for a, b in sorted(places):
            if b < low or a > high:
                continue
            stretch = _roomy(drawn, max(a, low), min(b, high), low, high, radius)
            if found and found[-1].low == low and found[-1].end > stretch.start:
                stretch = _beside(drawn, found, stretch, radius)
            found.append(stretch)
    return found


def _beside(drawn: DrawnLine, found: list[_Stretch], stretch: _Stretch, radius: float) -> _Stretch:
    """Part a stretch from the one before it, half way between their bends, or, if those are near, make them one."""
    last = found.pop()
    if stretch.core - last.close > 1.1 * (last.reach + stretch.reach):
        middle = (stretch.core + last.close) / 2
        found.append(replace(last, end=middle))
        return replace(stretch, start=middle)
    both = _roomy(drawn, last.core, stretch.close, stretch.low, stretch.high, radius)
    both = replace(both, scale=max(both.scale, last.scale, stretch.scale))
    if found and found[-1].low == both.low and found[-1].end > both.start:
        return _beside(drawn, found, both, radius)
    return both


def _calm(places: list[Interval], length: float) -> float:
    """Return the middle of the longest stretch of a closed line without a tight place."""
    starts = np.array([a for a, _ in places])
    ends = np.array([b for _, b in places])
    gaps = np.append(starts[1:], starts[0] + length) - ends
    widest = int(np.argmax(gaps))
    return float((ends[widest] + max(gaps[widest], 0.0) / 2) % length)


def _roomy(drawn: DrawnLine, a: float, b: float, low: float, high: float, radius: float) -> _Stretch:
    """Return the stretch about a tight place from ``a`` to ``b``, with room for the swing its turning asks for.

    A corner that turns by ``x`` on long arms is best rounded by an arc that passes inside it by as much as it swings
    outside the arms, ``h = R tan^2(x / 4)``; reverse arcs that turn by ``y``, ``cos y = 1 - h / 2R``, lead back.
    """
    heading = drawn.turning.heading_exact
    swept = np.append(heading(np.linspace(a, b, 65), False), heading(np.array([a]), True))
    turn = float(np.clip(np.ptp(swept), np.radians(0.5), np.pi))
    h = np.tan(turn / 4) ** 2
    reach = float((1 + h) * np.sin(turn / 2) + 2 * np.sin(np.arccos(1 - h / 2)))
    # On a bend that is an arc already, the corner is about the middle.
    room = max((0.5 * reach + 0.2) * radius, 1.5 * reach * radius - (b - a) / 2)
    start, end = max(low, a - room), min(high, b + room)
    return _Stretch(start, end, low, high, a, b, reach * radius, min(1.0, reach / (_FINE * _STEPS)))


# One stretch


def _new_part(drawn: DrawnLine, stretch: _Stretch, radius: float, margin: float) -> tuple[_Stretch, NewPart]:
    """Fair one stretch; return it as it was widened or cut, and the new part there."""
    unit = radius * (1 + margin)
    rough = _coarse(drawn, stretch, unit)
    cut, line = _cut(rough, unit)
    task, fine = _fine(drawn, cut, line, unit)
    if not (fine.sound and fine.shift <= 1.1 * rough.solution.shift):  # the cut left it too little room
        cut = rough.stretch
        task, fine = _fine(drawn, cut, rough.solution.line, unit)
    if not (fine.sound and fine.shift <= furthest(task)):
        raise _cramped(cut, fine, unit)
    # Bends wide enough at every point are wide enough over any window; else the fit must keep the directions too.
    angle = np.inf if task.bend == 1 else 0.2 * margin * task.window
    bend = task.bend * (1 + margin) - 1e-6
    cubics = fitted(fine.line, Limits(_FIT * fine.shift, bend, angle))
    start, end = drawn.points(np.array([cut.start, cut.end]))
    cubics = start + unit * cubics
    if not task.ring:
        cubics[-1, 3] = end  # but for rounding it was there
    return cut, NewPart(cut.start, cut.end, cubics, task.ring)


@dataclass(frozen=True, slots=True, eq=False)
class _Rough:
    """A stretch faired coarsely."""

    stretch: _Stretch
    task: Task
    solution: Solution

    @property
    def fits(self) -> bool:
        """Whether its bends are wide enough, without loops."""
        return self.solution.sound and self.solution.shift <= furthest(self.task)


def _coarse(drawn: DrawnLine, stretch: _Stretch, unit: float) -> _Rough:
    """Fair a stretch coarsely, widening it while the new line does not fit, or while that brings it nearer."""
    best: _Rough | None = None
    for _ in range(_WIDENINGS):
        rough = _tried(drawn, stretch, unit)
        if best is not None and rough.solution.shift > _GAIN * best.solution.shift:
            break
        best = rough if rough.fits else best
        wider = stretch.widened(_WIDER, *_pressed(rough))
        if wider == stretch and drawn.ring and not rough.task.ring and not rough.fits:
            wider = replace(stretch, start=stretch.low, end=stretch.high)
        if wider == stretch:
            break
        stretch = wider
    if best is None:
        raise _cramped(rough.stretch, rough.solution, unit)
    return best


def _tried(drawn: DrawnLine, stretch: _Stretch, unit: float) -> _Rough:
    """Fair a stretch coarsely as it is."""
    step = _COARSE * stretch.scale
    task = task_of(drawn, stretch.start, stretch.end, unit, step * unit / 2)
    count = int(np.clip(np.ceil(task.run[-1] / step), 16, _MOST_ARCS / 3))
    starts = 2 if count <= _SHORT else 1
    found = [_begun(task, count, width, MILD) for width in _WIDTHS[:starts]]
    if not any(f.sound for f in found):
        found += [_begun(task, count, width, STERN) for width in _SMOOTHER[:starts]]
    best = min(found, key=lambda f: (0.0 if f.sound else f.excess, f.shift))
    rough = _Rough(stretch, task, best)
    return replace(rough, solution=polished(task, best, _SMOOTHING)) if rough.fits else rough


def _begun(task: Task, count: int, width: float, prices: tuple[float, ...]) -> Solution:
    """Return what is found coarsely from the drawn line smoothed over a width."""
    return solved(task, first_guess(task, count, width), prices, _ROUNDS, 0.4, _ENOUGH)


def _cramped(stretch: _Stretch, solution: Solution, unit: float) -> CrampedError:
    widest = 0.0 if solution.sound else unit / (1 + solution.excess)
    return CrampedError((stretch.core + stretch.close) / 2, widest)


def furthest(task: Task) -> float:
    """Return the largest shift that is still fairing, in radii.

    A line can always be led round in great loops. But a corner on long arms, however sharp, asks for one radius at
    most, and where the ends press for little more; and a stretch that is flattened altogether moves by no more than
    its height over its chord.
    """
    if task.ring:
        return np.inf
    chord = task.drawn[-1] - task.drawn[0]
    size = float(chord @ chord)
    along = np.clip(task.drawn @ chord / size, 0, 1) if size > 0 else np.zeros(len(task.drawn))
    height = np.hypot(*(task.drawn - np.outer(along, chord)).T).max()
    return max(_LOOPS, float(height))


def _pressed(rough: _Rough) -> tuple[bool, bool]:
    """Whether the start and the end of a stretch press on the new line: it leaves the drawn one right there."""
    if not rough.fits:
        return True, True
    off = off_drawn(rough.task, rough.solution.line) > _ON_LINE * rough.solution.shift
    return bool(off[:4].any()), bool(off[-4:].any())


def _meeting(rough: _Rough) -> tuple[int, int]:
    """Return the last node up to which, and the first from which, a line lies on the drawn one."""
    solution = rough.solution
    off = np.flatnonzero(off_drawn(rough.task, solution.line) > _ON_LINE * solution.shift)
    if not len(off):
        return 0, solution.line.count
    return max(int(off[0]) - 1, 0), min(int(off[-1]) + 1, solution.line.count)


def _cut(rough: _Rough, unit: float) -> tuple[_Stretch, ArcLine]:
    """Cut a stretch to where the new line leaves the drawn one, and a few steps more."""
    stretch, task, line = rough.stretch, rough.task, rough.solution.line
    if task.ring:
        return stretch, line
    first, last = _meeting(rough)
    first, last = max(first - _SPARE, 0), min(last + _SPARE, line.count)
    nodes, reach, whole = line.nodes, 2 * line.step, float(task.run[-1])
    start, end = stretch.start, stretch.end
    # Up to where they part the two lines are equally long.
    if first > 0:
        start += unit * foot_near(task, nodes[first], first * line.step, reach)
    if last < line.count:
        run = whole - (line.count - last) * line.step
        end = stretch.start + unit * foot_near(task, nodes[last], run, reach)
    if not end > start:
        return stretch, line
    return replace(stretch, start=start, end=end), line.between(first, last)


def _fine(drawn: DrawnLine, stretch: _Stretch, line: ArcLine, unit: float) -> tuple[Task, Solution]:
    """Fair a stretch finely from a line found coarsely."""
    step = _FINE * stretch.scale
    task = task_of(drawn, stretch.start, stretch.end, unit, step * unit / 2)
    count = int(np.clip(np.ceil(line.length / step), 24, _MOST_ARCS))
    fine = solved(task, line.resampled(count), STERN, _FINE_ROUNDS, 0.1, _FINE_ENOUGH)
    return task, polished(task, fine, _SMOOTHING) if fine.sound else fine
