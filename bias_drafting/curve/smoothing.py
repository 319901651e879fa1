"""The smooth line that explains a run of traced points: as little change of curvature as the points allow.

Among all lines the one is sought that makes

    sum of (distance to each point)^2  +  lambda * integral of w(s) (d curvature / d s)^2 ds

least. Straight lines and circles cost nothing, so neither is bent towards the other: a penalty on curvature itself
would widen every bend. The weight ``w`` lets the curvature change where it changes in truth (an arc that joins a
straight) and holds it elsewhere. ``lambda`` and ``w`` are chosen by restricted maximum likelihood: the curvature's
changes are read as white noise of unknown strength, and the strength is chosen under which the points are likeliest
(Wahba 1985, "A comparison of GCV and GML for choosing the smoothing parameter", Annals of Statistics 13; Wood 2017,
"Generalized additive models"; both from memory).

The problem is not linear. It is solved by Gauss-Newton steps: each moves the line along its own normals by a spline
``d``, under which the change of curvature becomes ``k' + d''' + k^2 d' + 3 k k' d``. One step is one banded system.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from bias_drafting.curve.splines import Rows, Splines, added, solve

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Array = NDArray[np.float64]

__all__ = ["HELD", "Line", "Run", "relaid", "smooth_line"]

# Spans of this share of the smoothing length follow all that the smoothing leaves.
_SPANS_A_LENGTH = 5.0
_FEWEST = 12
# Samples a span when a line is laid out anew.
_SAMPLES = 3
# A longer smoothing length than this many spans would leave the system without figures (its condition grows with
# the sixth power), and holds a whole drawing as stiff as one arc.
_LONGEST = 60.0
# The prior guess of the noise counts as much as this many points; one that is known, as so many times all points.
_PRIOR = 4.0
_KNOWN = 4.0
# Weights follow the change of curvature averaged over this many smoothing lengths, and never fall under this
# share of its mean.
_WIDTH = 1.0
_LEAST_CHANGE = 1e-3
# A weighting must make the points likelier by this much in -2 log likelihood to be taken over the one before.
_GAIN = 2.0
_ROUNDS = 6
# The smoothing length is chosen to this share of itself.
_NEAR = 0.05
# A line about which nothing is known but its first two derivatives has three: what no penalty decides.
_FREE = 3
# Weight of an end that is held: a thousandth of the distance a point would leave.
HELD = 1e5


@dataclass(frozen=True, slots=True)
class Run:
    """The points of a stretch without corners.

    Attributes
    ----------
    points
        ``(n, 2)`` in mm; with held ends the first and the last are these.
    closed
        Whether the line runs back into its start.
    held
        Whether the line must begin at the first point and end at the last one.
    noise
        A guess at the jitter, in mm: the standard deviation of each coordinate.
    known
        Whether that is no guess: points of a scan that miss the line by less do so by chance.
    finest
        What counts as exact, in mm: jitter below it is not looked for.
    reach
        How far from its points the line may run, in mm.
    """

    points: Array
    closed: bool
    held: tuple[bool, bool]
    noise: float
    known: bool
    finest: float
    reach: float

    @property
    def weights(self) -> Array:
        """Weight of each point: 1, but for held ends."""
        weights = np.ones(len(self.points))
        for end, held in zip((0, -1), self.held, strict=True):
            weights[end] = HELD if held else 1.0
        return weights


@dataclass(frozen=True, slots=True)
class Line:
    """A smooth line and where on it each point of its run belongs.

    Attributes
    ----------
    splines, coefficients
        The line, by arc length to well within what its points could show.
    u
        The foot ``(n,)`` of each point: the parameter at which the line is nearest to it.
    ell
        The smoothing length in mm: what is shorter was smoothed away.
    weight
        The weight of the penalty in each span.
    """

    splines: Splines
    coefficients: Array
    u: Array
    ell: float
    weight: Array

    def at(self, u: Array, derivative: int = 0) -> Array:
        """Return points ``(n, 2)`` or derivatives at parameters ``u``."""
        return self.splines.rows(u, derivative).dot(self.coefficients)

    def misses(self, points: Array) -> Array:
        """Return how far each point lies from the line, along the normal at its foot."""
        normal, _, _ = self.bends(self.u)
        away: Array = ((points - self.at(self.u)) * normal).sum(axis=1)
        return away

    def bends(self, u: Array) -> tuple[Array, Array, Array]:
        """Return unit normals ``(n, 2)``, curvature and its change along the line, at parameters ``u``."""
        first, second, third = (self.at(u, k) for k in (1, 2, 3))
        speed = np.maximum(np.hypot(first[:, 0], first[:, 1]), 1e-300)
        normal = np.stack([-first[:, 1], first[:, 0]], axis=1) / speed[:, None]
        bend = (normal * second).sum(axis=1) / speed**2
        along = (first * second).sum(axis=1)
        change = ((normal * third).sum(axis=1) - 3 * bend * along) / speed**3
        return normal, bend, change


@dataclass(frozen=True, slots=True)
class _System:
    """A penalised least-squares problem: matrices as bands, and what points and penalty pull towards.

    ``pull`` and ``relief`` have one column for each coordinate that is sought.
    """

    data: Array
    penalty: Array
    pull: Array
    relief: Array
    misfit: float
    roughness: float

    def solve(self, stiffness: float) -> tuple[Array, float]:
        """Return coefficients and the logarithm of the determinant."""
        return solve(added(self.data, stiffness * self.penalty), self.pull + stiffness * self.relief)

    def left(self, stiffness: float, solution: Array) -> float:
        """Return the least value of what is minimised, which the solution gives."""
        reached = float((solution * (self.pull + stiffness * self.relief)).sum())
        return max(self.misfit + stiffness * self.roughness - reached, 0.0)


def _likeliest(run: Run, splines: Splines, system: _System, near: float | None = None) -> tuple[float, float]:
    """Return the smoothing length under which the points are likeliest, and -2 log of how likely that is."""
    n, sought = len(run.points), system.pull.shape[1]
    prior = _KNOWN * n if run.known else _PRIOR
    known = sought * (prior * run.noise**2 + n * run.finest**2)
    freedom = sought * (max(n - _FREE, 0) + prior)

    def unlikely(log_ell: float) -> float:
        stiffness = _stiffness(run, splines, float(np.exp(log_ell)))
        try:
            solution, determinant = system.solve(stiffness)
        except np.linalg.LinAlgError:
            return np.inf
        spread = determinant - (splines.count - _FREE) * np.log(stiffness)
        return float(freedom * np.log(system.left(stiffness, solution) + known) + sought * spread)

    low, high = np.log(0.5 * splines.length / n), np.log(min(splines.length, _LONGEST * splines.step))
    if near is None:
        grid = np.linspace(low, max(high, low + 1e-3), 10)
        best = int(np.argmin([unlikely(x) for x in grid]))
        low, high = grid[max(best - 1, 0)], grid[min(best + 1, len(grid) - 1)]
    else:
        low, high = max(low, np.log(near / 2)), min(high, np.log(near * 3))
    log_ell, value = _lowest(unlikely, low, max(high, low + 1e-3))
    return float(np.exp(log_ell)), value


def _lowest(value: Callable[[float], float], low: float, high: float) -> tuple[float, float]:
    """Return where between two places a function is lowest, and its value there, by the golden section."""
    golden = (np.sqrt(5) - 1) / 2
    inner, outer = high - golden * (high - low), low + golden * (high - low)
    at_inner, at_outer = value(inner), value(outer)
    while high - low > _NEAR:
        if at_inner <= at_outer:
            high, outer, at_outer = outer, inner, at_inner
            inner = high - golden * (high - low)
            at_inner = value(inner)
        else:
            low, inner, at_inner = inner, outer, at_outer
            outer = low + golden * (high - low)
            at_outer = value(outer)
    return (inner, at_inner) if at_inner <= at_outer else (outer, at_outer)


def _stiffness(run: Run, splines: Splines, ell: float) -> float:
    """Return the factor of the penalty that smooths away what is shorter than ``ell`` mm."""
    return float(len(run.points) / splines.length * ell**6)


def _first_line(run: Run, u: Array, length: float, spans: int) -> Line:
    """Return a line to begin with: each coordinate smoothed by itself over the parameters ``u``."""
    splines = Splines(length, spans, run.closed)
    rows, weights = splines.rows(u), run.weights
    nodes, measure = splines.quadrature()
    pull = np.stack([splines.moments(rows, weights * run.points[:, k]) for k in (0, 1)], axis=1)
    misfit = float((weights[:, None] * run.points**2).sum())
    penalty = splines.integral(splines.rows(nodes, 3), measure)
    system = _System(splines.gram(rows, weights), penalty, pull, np.zeros_like(pull), misfit, 0.0)
    ell, _ = _likeliest(run, splines, system)
    coefficients, _ = system.solve(_stiffness(run, splines, ell))
    line = Line(splines, coefficients, u, ell, np.ones(spans))
    return replace(line, u=_feet(line, run.points))


def _step_system(run: Run, line: Line) -> tuple[_System, Rows, Array]:
    """Linearise about a line: the displacement along its normals is sought.

    Returns the system, and the rows and the value at no displacement of the change of curvature.
    """
    splines, weights = line.splines, run.weights
    miss, rows = line.misses(run.points), splines.rows(line.u)
    nodes, measure = splines.quadrature()
    measure = measure * splines.on_nodes(line.weight)
    _, bend, change = line.bends(nodes)
    plain, first, third = (splines.rows(nodes, k) for k in (0, 1, 3))
    values = third.values + bend**2 * first.values + 3 * bend * change * plain.values
    change_rows = Rows(plain.places, values)
    system = _System(
        splines.gram(rows, weights),
        splines.integral(change_rows, measure),
        splines.moments(rows, weights * miss)[:, None],
        splines.moments(change_rows, -measure * change)[:, None],
        float((weights * miss * miss).sum()),
        float((measure * change * change).sum()),
    )
    return system, change_rows, change


def _feet(line: Line, points: Array) -> Array:
    """Return the feet of points: from where they are, by Newton's steps, at most a span at a time."""
    splines, u = line.splines, line.u
    for _ in range(4):
        gap, first, second = line.at(u) - points, line.at(u, 1), line.at(u, 2)
        square = (first * first).sum(axis=1)
        slope = square + (gap * second).sum(axis=1)
        # Where the point lies beyond the centre of the bend Newton would climb; Gauss-Newton does not.
        slope = np.where(slope > 0.3 * square, slope, square)
        step = (gap * first).sum(axis=1) / np.maximum(slope, 1e-300)
        u = u - np.clip(step, -splines.step, splines.step)
        if np.abs(step).max() < 1e-6 * splines.step:
            break
    if splines.closed:
        return u % splines.length
    reach = 2 * splines.step
    return np.clip(u, -reach, splines.length + reach)


def _ends(line: Line, run: Run, reach: float) -> tuple[float, float]:
    """Return where an open line should begin and end: at its first and last point, or further if others need it.

    A point beyond the end of the line is no further from it than ``reach`` mm.
    """
    u = line.u
    slack = np.sqrt(np.maximum(reach**2 - line.misses(run.points) ** 2, 0))
    begin, end = float(u[0]), float(u[-1])
    if not run.held[0]:
        begin = min(begin, float((u + slack).min()))
    if not run.held[1]:
        end = max(end, float((u - slack).max()))
    return (begin, end) if end > begin else (0.0, line.splines.length)


def relaid(line: Line, run: Run, spans: int, shift: Array | None = None, of: Splines | None = None) -> Line:
    """Return the line moved along its normals, laid out anew by arc length, with the feet of its points.

    ``shift`` are the coefficients of the displacement, in the line's own splines or those given.
    """
    from scipy.interpolate import CubicSpline

    old = line.splines
    begin, end = (0.0, old.length) if old.closed else _ends(line, run, run.reach)
    g = np.linspace(begin, end, _SAMPLES * max(spans, old.spans) + 1)
    xy = line.at(g)
    if shift is not None:
        xy = xy + (of or old).rows(g).dot(shift)[:, None] * line.bends(g)[0]
    if old.closed:
        xy[-1] = xy[0]
    through = CubicSpline(g, xy, bc_type="periodic" if old.closed else "not-a-knot")
    x, weight = np.polynomial.legendre.leggauss(4)
    velocity = through(g[:-1, None] + np.diff(g)[:, None] * (1 + x) / 2, 1)
    arc = (np.hypot(velocity[..., 0], velocity[..., 1]) @ weight) * np.diff(g) / 2
    s = np.concatenate([[0.0], np.cumsum(arc)])
    splines = Splines(float(s[-1]), spans, old.closed)
    # Feet beyond an end stay as far beyond it.
    u = np.interp(line.u, g, s) + np.minimum(line.u - begin, 0) + np.maximum(line.u - end, 0)
    middles = np.interp(splines.middles(), s, g)
    changes = np.interp(middles, old.middles(), line.weight)
    new = Line(splines, _followed(splines, s, xy), u, line.ell, changes / np.exp(np.log(changes).mean()))
    return replace(new, u=_feet(new, run.points))


def _followed(splines: Splines, s: Array, xy: Array) -> Array:
    """Return the coefficients of the line through dense samples."""
    s, xy = (s[:-1], xy[:-1]) if splines.closed else (s, xy)
    rows = splines.rows(s)
    nodes, measure = splines.quadrature()
    # Just enough stiffness to decide what the samples might not.
    stiff = splines.integral(splines.rows(nodes, 3), 1e-9 * splines.step**5 * measure)
    bands = added(splines.gram(rows, np.ones(len(s))), stiff)
    return solve(bands, np.stack([splines.moments(rows, xy[:, k]) for k in (0, 1)], axis=1))[0]


def _reweighted(line: Line, change_rows: Rows, change: Array, shift: Array) -> Array:
    """Return the penalty's weight in each span: one over how much the curvature changes about there."""
    from scipy.ndimage import gaussian_filter1d

    splines = line.splines
    _, measure = splines.quadrature()
    square = splines.per_span(measure * (change + change_rows.dot(shift)) ** 2) / splines.step
    mode: Literal["wrap", "nearest"] = "wrap" if splines.closed else "nearest"
    width = max(_WIDTH * line.ell / splines.step, 0.5)
    level = gaussian_filter1d(square, width, mode=mode)
    level += _LEAST_CHANGE * level.mean() + 1e-300
    # With a geometric mean of 1 the likelihoods under different weights can be compared.
    weight: Array = np.exp(np.log(level).mean()) / level
    return weight


def _settled(run: Run, line: Line) -> Line:
    """Return the line after Gauss-Newton steps with the same weights, the smoothing length chosen at each."""
    for k in range(_ROUNDS):
        system, _, _ = _step_system(run, line)
        ell, _ = _likeliest(run, line.splines, system, None if k == 0 else line.ell)
        shift, _ = system.solve(_stiffness(run, line.splines, ell))
        moved = float(np.abs(line.splines.rows(line.u).dot(shift[:, 0])).max())
        line = relaid(replace(line, ell=ell), run, line.splines.spans, shift[:, 0])
        if moved < 4 * run.finest:
            break
    return line


def _adapted(run: Run, line: Line) -> Line:
    """Return the line with the penalty's weights fitted to it, for as long as that makes the points likelier."""
    system, change_rows, change = _step_system(run, line)
    width = line.ell
    ell, best = _likeliest(run, line.splines, system, line.ell)
    for _ in range(_ROUNDS):
        shift, _ = system.solve(_stiffness(run, line.splines, ell))
        weight = _reweighted(replace(line, ell=width), change_rows, change, shift[:, 0])
        trial = replace(line, weight=weight)
        system, change_rows, change = _step_system(run, trial)
        ell, unlikely = _likeliest(run, line.splines, system)
        if not unlikely < best - _GAIN:
            break
        shift, _ = system.solve(_stiffness(run, line.splines, ell))
        line = relaid(replace(trial, ell=ell), run, line.splines.spans, shift[:, 0])
        system, change_rows, change = _step_system(run, line)
        ell, best = _likeliest(run, line.splines, system, ell)
    return line


def smooth_line(run: Run, u: Array, length: float) -> Line:
    """Return the smooth line of a run of points; where jitter is larger than ``reach`` it is not within it.

    Parameters
    ----------
    run
        The points, three or more.
    u
        About where along the line each point lies, in mm ``(n,)``.
    length
        About how long the line is, in mm.
    """
    n = len(run.points)
    spans = max(_FEWEST, int(0.7 * n))
    line = _first_line(run, u, length, spans)
    line = relaid(line, run, spans)
    line = _first_line(run, line.u, line.splines.length, spans)
    spans = int(np.clip(_SPANS_A_LENGTH * line.splines.length / line.ell, _FEWEST, max(_FEWEST, 1.25 * n)))
    line = _settled(run, relaid(line, run, spans))
    return _adapted(run, line)
