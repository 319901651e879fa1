"""B-splines, rational or not, as cubic Beziers.

One span of a B-spline of degree 1 to 3 without weights is one cubic, exactly: its control points are values of
the span's blossom, which de Boor's scheme gives with one argument a step (L. Ramshaw, Computer Aided Geometric
Design 6, 1989, 323-358, from memory). Spans of a higher degree, and rational ones, are Beziers found in the same
way, in homogeneous coordinates, to which cubics are then fitted.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from bias_drafting.curve.fitting import fit_track
from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    ComplexArray = NDArray[np.complex128]
    IntArray = NDArray[np.intp]

__all__ = ["FIT", "BSpline", "spline_cubics", "through_fit_points"]

# Largest distance of a fitted cubic from its curve, as a share of the curve's size: 1e-6 mm at 10 m. The radii decide
# it: a circle fitted so closely has its radius right to 2e-6 of itself everywhere.
FIT: Final = 1e-10
# The size to which curves are brought for fitting, near the sizes the fit is tuned for.
_SIZE: Final = 100.0
# Knots this close, as a share of the parameter's run, are one knot: files round them.
_SAME_KNOT: Final = 1e-9
# Places on each span at which the curve is tabulated: evenly, and closer and closer to its ends, where points that
# coincide make it start slowly. The fit is given the even ones.
_STEPS: Final = 64
_CLOSER: Final = 2.0 ** -np.arange(7, 40)
_TABLE: Final = np.unique(np.concatenate([np.arange(_STEPS + 1) / _STEPS, _CLOSER, 1 - _CLOSER]))
_INTERVALS: Final = len(_TABLE) - 1
# A fit may look the curve up at so many places, and at so many more for each span; some tens of times what it needs.
_LOOKS: Final = 100_000
_LOOKS_A_SPAN: Final = 20_000
# A weight less than this share of the largest leaves its point no pull that numbers could hold.
_LEAST_WEIGHT: Final = 1e-9
# Directions either side of a knot whose sine of the angle between is more than this make a corner.
_CORNER: Final = 1e-6
# Ends of neighbouring spans further apart than this share of the size are a gap.
_GAP: Final = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class BSpline:
    """A B-spline: ``points`` ``(n, 2)``, ``knots`` ``(n + degree + 1,)``, ``weights`` ``(n,)`` or None.

    It is drawn from knot ``degree`` to knot ``n``, counted from 0, whether or not it is clamped there.
    """

    degree: int
    points: Array
    knots: Array
    weights: Array | None = None


def spline_cubics(spline: BSpline) -> tuple[Array, bool]:
    """Return a B-spline as a chain of cubics ``(k, 4, 2)``, and whether that is exact.

    Without weights that differ, and of degree 3 or less, it is; otherwise it is fitted, to ``FIT`` of its size.

    Raises
    ------
    CurveError
        Knots of the wrong number or order, weights that are not positive, too few points, gaps, or a curve that
        stands still on its way, so that no fit serves. The message says which, and begins in the middle of a
        sentence: "it has 5 knots ...".

    Examples
    --------
    >>> parabola = BSpline(2, np.array([[0.0, 0], [2, 4], [4, 0]]), np.array([0.0, 0, 0, 1, 1, 1]))
    >>> cubics, exact = spline_cubics(parabola)
    >>> cubics[0, 1].round(9).tolist(), exact
    ([1.3333..., 2.6666...], True)
    """
    _check(spline)
    weights = spline.weights
    if weights is not None and np.ptp(weights) == 0:
        weights = None
    share = np.ones(len(spline.points)) if weights is None else weights / weights.max()
    beziers = _bezier_spans(spline, np.column_stack([spline.points * share[:, None], share]))
    if weights is None and spline.degree <= 3:
        return _joined(_as_cubics(beziers[..., :2])), True
    return _fitted(beziers), False


def through_fit_points(
    points: Array, closed: bool, tangents: tuple[Array | None, Array | None]
) -> Array | None:
    """Return the cubic spline through points ``(n, 2)``, its parameter the length of the chords between them.

    At an end with a tangent it leaves in that direction, at unit speed; at one without, its second derivative is 0.
    Closed, without tangents, it runs on round its start without a break. None if all the points coincide.

    Raises
    ------
    CurveError
        Points so far apart that numbers do not hold the way between them.
    """
    from scipy.interpolate import CubicSpline

    if closed:
        points = np.concatenate([points, points[:1]])
    chords = np.hypot(*np.diff(points, axis=0).T)
    points = points[np.concatenate([[True], chords > 1e-12 * np.abs(points).max()])]
    if len(points) < 2:
        return None
    if closed:
        points[-1] = points[0]
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    if not (np.isfinite(at).all() and (np.diff(at) > 0).all()):
        msg = "its fit points reach further than numbers do"
        raise CurveError(msg)
    round_its_start = closed and tangents == (None, None) and len(points) > 2
    ends: Any = tuple((2, np.zeros(2)) if tangent is None else (1, tangent) for tangent in tangents)
    try:
        slopes = CubicSpline(at, points, bc_type="periodic" if round_its_start else ends)(at, 1)
    except ValueError as error:  # slopes between points hardly apart may overflow
        msg = "its fit points lie so close or so far that no spline goes through them"
        raise CurveError(msg) from error
    third = (np.diff(at) / 3)[:, None]
    before, after = points[:-1], points[1:]
    return np.stack([before, before + third * slopes[:-1], after - third * slopes[1:], after], axis=1)


def _check(spline: BSpline) -> None:
    count, degree, knots = len(spline.points), spline.degree, spline.knots
    if degree < 1:
        msg = f"its degree is {degree}"
    elif count < degree + 1:
        msg = f"it has {count} control points, and degree {degree} wants {degree + 1} at least"
    elif len(knots) != count + degree + 1:
        msg = f"it has {len(knots)} knots where {count + degree + 1} are wanted"
    elif (np.diff(knots) < 0).any() or knots[degree] == knots[count]:
        msg = "its knots do not rise"
    elif spline.weights is not None and len(spline.weights) != count:
        msg = f"it has {len(spline.weights)} weights for {count} control points"
    elif spline.weights is not None and (spline.weights <= 0).any():
        msg = "its weights are not all positive"
    elif spline.weights is not None and spline.weights.min() < _LEAST_WEIGHT * spline.weights.max():
        msg = f"its weights run from {spline.weights.min():g} to {spline.weights.max():g}"
    else:
        return
    raise CurveError(msg)


def _bezier_spans(spline: BSpline, points: Array) -> Array:
    """Return the control points ``(spans, degree + 1, d)`` of the Beziers of a spline's points ``(n, d)``."""
    degree, count = spline.degree, len(spline.points)
    knots = _merged(spline.knots, spline.knots[count] - spline.knots[degree])
    spans = np.arange(degree, count)
    spans = spans[knots[spans + 1] > knots[spans]]
    window = points[spans[:, None] + np.arange(-degree, 1)]
    beziers = []
    for at_end in range(degree + 1):
        rows = window
        for step in range(1, degree + 1):
            # The blossom takes the end of the span so many times, and its start otherwise.
            at = knots[spans + 1] if step <= at_end else knots[spans]
            low = spans[:, None] + np.arange(step - degree, 1)
            left, right = knots[low], knots[low + degree + 1 - step]
            share = ((at[:, None] - left) / (right - left))[..., None]
            rows = rows[:, :-1] * (1 - share) + rows[:, 1:] * share
        beziers.append(rows[:, 0])
    return np.stack(beziers, axis=1)


def _merged(knots: Array, whole: float) -> Array:
    """Return knots with those that differ by rounding made equal; the curve is drawn over ``whole``."""
    apart = np.diff(knots) > _SAME_KNOT * whole
    first = np.concatenate([[0], np.cumsum(apart)])
    merged: Array = knots[np.concatenate([[True], apart])][first]
    return merged


def _as_cubics(beziers: Array) -> Array:
    """Return Beziers of degree 1 to 3 as cubics, by raising their degree."""
    while (degree := beziers.shape[1] - 1) < 3:
        share = (np.arange(degree + 2) / (degree + 1))[None, :, None]
        before = np.concatenate([beziers[:, :1], beziers], axis=1)
        after = np.concatenate([beziers, beziers[:, -1:]], axis=1)
        beziers = before * share + after * (1 - share)
    return beziers


def _joined(cubics: Array) -> Array:
    """Return cubics with neighbours' ends made equal, if they meet."""
    gaps = np.abs(cubics[:-1, 3] - cubics[1:, 0]).max(initial=0)
    if gaps > _GAP * np.ptp(cubics, axis=(0, 1)).max():
        msg = "its knots cut it in pieces that do not meet"
        raise CurveError(msg)
    cubics[1:, 0] = cubics[:-1, 3]
    return cubics


# Fitting


@dataclass(frozen=True, slots=True, eq=False)
class _Exact:
    """Rational Beziers laid end to end, looked up by how far along they are.

    ``run`` is a length along the chords between the places of the table; ``edges`` are the numbers of the Beziers
    with which stretches without corners begin, and of all of them.
    """

    points: ComplexArray  # (n, degree + 1), times the weights
    weights: Array
    run: Array
    edges: IntArray

    def at(self, owner: IntArray, run: Array) -> tuple[ComplexArray, ComplexArray]:
        """Return points and unit directions at ``run`` on a stretch."""
        first, last = self.edges[owner] * _INTERVALS, self.edges[owner + 1] * _INTERVALS - 1
        k = np.clip(np.searchsorted(self.run, run, side="right") - 1, first, last)
        span = self.run[k + 1] - self.run[k]
        share = np.where(span > 0, np.clip((run - self.run[k]) / np.where(span > 0, span, 1), 0, 1), 1)
        piece, step = np.divmod(k, _INTERVALS)
        return self.on(piece, _TABLE[step] * (1 - share) + _TABLE[step + 1] * share)

    def on(self, piece: IntArray, t: Array) -> tuple[ComplexArray, ComplexArray]:
        point, velocity = self.evaluate(piece, t)
        # Where it stands still, at an end with its handle drawn in, its direction is that a little way on.
        _, beside = self.evaluate(piece, t + 1e-7 * np.sign(0.5 - t))
        size = np.abs(velocity)
        velocity = np.where(size > 1e-9 * _SIZE, velocity, beside)
        size = np.abs(velocity)
        return point, velocity / np.where(size > 0, size, 1)

    def evaluate(self, piece: IntArray, t: Array) -> tuple[ComplexArray, ComplexArray]:
        """Return the points and velocities at ``t``, by de Casteljau's scheme."""
        p, w, degree = self.points[piece], self.weights[piece], self.weights.shape[1] - 1
        t = t[:, None]
        while p.shape[1] > 2:
            p, w = p[:, :-1] * (1 - t) + p[:, 1:] * t, w[:, :-1] * (1 - t) + w[:, 1:] * t
        t = t[:, 0]
        whole = w[:, 0] * (1 - t) + w[:, 1] * t
        point = (p[:, 0] * (1 - t) + p[:, 1] * t) / whole
        velocity = degree * (p[:, 1] * w[:, 0] - p[:, 0] * w[:, 1]) / (whole * whole)
        return point, velocity


def _fitted(beziers: Array) -> Array:
    """Return cubics fitted to rational Beziers ``(n, degree + 1, 3)`` in homogeneous coordinates."""
    weights = beziers[..., 2]
    plane = beziers[..., :2] / weights[..., None]
    low = plane.min(axis=(0, 1))
    size = float(np.ptp(plane, axis=(0, 1)).max())
    if not 0 < size < np.inf:
        msg = "it has no length" if size == 0 else "it reaches further than numbers do"
        raise CurveError(msg)
    plane = (plane - low) * (_SIZE / size)
    if np.abs(plane[:-1, -1] - plane[1:, 0]).max(initial=0) > _GAP * _SIZE:
        msg = "its knots cut it in pieces that do not meet"
        raise CurveError(msg)
    # Pieces of no length have no direction: neighbours that meet close over them.
    plane, weights = (part[np.ptp(plane, axis=1).max(axis=1) > 1e-10 * _SIZE] for part in (plane, weights))
    exact = _laid_out((plane[..., 0] + 1j * plane[..., 1]) * weights, weights)
    even = np.flatnonzero(_TABLE * _STEPS % 1 == 0)[:-1]
    knots = np.append(exact.run[:-1].reshape(-1, _INTERVALS)[:, even].ravel(), exact.run[-1])
    edges = exact.edges * _STEPS
    fits, _ = fit_track(_counted(exact), knots, edges[:-1], edges[1:], FIT * _SIZE)
    return _joined(fits * (size / _SIZE) + low)


def _counted(exact: _Exact) -> Callable[[IntArray, Array], tuple[ComplexArray, ComplexArray]]:
    """Return ``exact.at``, which gives up when it is asked too often: where a curve turns back, no cubics fit."""
    left = _LOOKS + _LOOKS_A_SPAN * len(exact.points)

    def at(owner: IntArray, run: Array) -> tuple[ComplexArray, ComplexArray]:
        nonlocal left
        left -= len(run)
        if left < 0:
            msg = "it turns back or bends so sharply that no cubics can be fitted to it"
            raise CurveError(msg)
        return exact.at(owner, run)

    return at


def _laid_out(points: ComplexArray, weights: Array) -> _Exact:
    count = len(points)
    exact = _Exact(points, weights, np.empty(0), np.empty(0, dtype=np.intp))
    starts, _ = exact.evaluate(np.repeat(np.arange(count), _INTERVALS), np.tile(_TABLE[:-1], count))
    end = points[-1:, -1] / weights[-1:, -1]
    run = np.append(0.0, np.cumsum(np.abs(np.diff(np.concatenate([starts, end])))))
    inner = np.arange(1, count)
    _, arriving = exact.on(inner - 1, np.ones(count - 1))
    _, leaving = exact.on(inner, np.zeros(count - 1))
    turn = np.conj(arriving) * leaving
    corners = inner[(np.abs(turn.imag) > _CORNER) | (turn.real < 0)]
    return replace(exact, run=run, edges=np.concatenate([[0], corners, [count]]).astype(np.intp))
