"""The curve itself: a frozen chain of cubic Beziers, in millimetres."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Self

import numpy as np

from bias_drafting.curve import bezier, measure
from bias_drafting.curve.arc_length import lengths
from bias_drafting.curve.bends import (
    CORNER,
    Turning,
    inflection_lengths,
    least_radii,
    sharpest_point,
    sharpest_window,
    tight_stretches,
    total_turning,
    windowed_turn,
)
from bias_drafting.curve.curvature import sharpest_of_each
from bias_drafting.curve.given import given_array, given_count, given_mm
from bias_drafting.curve.outline import Outline
from bias_drafting.curve.path_text import svg_path
from bias_drafting.errors import CurveError
from bias_drafting.units import positive_mm

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from bias_drafting.curve.measure import Chain
    from bias_drafting.curve.meetings import Meetings
    from bias_drafting.curve.nodes import Nodes

    Array = NDArray[np.float64]

__all__ = ["Bend", "Corner", "Curve"]

# The finest tolerance in mm that fits and polygons are asked for: far finer than any thread, and it
# keeps the work bounded.
_FINEST = 1e-6
# A tolerance larger than the distance divided by this says little: work is done that fine at least.
_COARSEST = 8.0


@dataclass(frozen=True, slots=True)
class Bend:
    """Where a curve bends most, and how tightly.

    Attributes
    ----------
    radius
        Radius in mm, averaged over ``window``; infinite where nothing bends, 0 at a corner seen without a window.
    s
        Arc length from the start, in mm, at the middle of the window.
    point
        The point on the curve there, in mm.
    side
        ``"left"`` or ``"right"``: the side of the inner edge, as seen on the page along the direction of travel;
        ``"none"`` on a straight line.
    window
        The length in mm over which the bend was averaged; 0 for the point value.
    """

    radius: float
    s: float
    point: tuple[float, float]
    side: str
    window: float


@dataclass(frozen=True, slots=True)
class Corner:
    """A joint at which a curve changes direction by a degree or more.

    Attributes
    ----------
    s
        Arc length from the start, in mm; 0 for the closing joint of a closed curve.
    point
        Where it is, in mm.
    turn
        By how much the direction changes, in degrees from -180 to 180: positive to the right of travel.
    """

    s: float
    point: tuple[float, float]
    turn: float


@dataclass(frozen=True, eq=False, repr=False)
class Curve:
    """A plane curve: a frozen chain of cubic Beziers, in millimetres, x right and y down.

    Parameters
    ----------
    controls
        Control points, shape ``(n, 4, 2)``: each segment starts where the one before it ended. Pieces of no length
        are left out. The array is copied and cannot be changed afterwards.
    closed
        Whether the curve runs back into its start. The last segment must end where the first begins.

    Raises
    ------
    CurveError
        Wrong shape, a coordinate that is not finite or larger than 1e30 mm, segments that do not meet, or no length
        at all (less than 1e-30 mm).

    Examples
    --------
    >>> import bias_drafting as bd
    >>> stem = bd.Curve.from_svg_path("M0 0 C20 0 40 20 40 40")
    >>> round(stem.length, 3)
    61.955
    >>> stem
    Curve(1 segment, 61.95 mm, open)
    """

    controls: Array
    closed: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "controls", bezier.joined_up(self.controls, bool(self.closed)))
        object.__setattr__(self, "closed", bool(self.closed))

    # Making curves

    @classmethod
    def from_svg_path(cls, d: str) -> Self:
        """Return the curve of SVG path data with one subpath; user units are taken as millimetres.

        Raises
        ------
        CurveError
            Path data that is broken, draws nothing, or has more than one subpath.

        Examples
        --------
        >>> import bias_drafting as bd
        >>> bd.Curve.from_svg_path("M0 0H30V40Z").length
        120.0
        """
        from bias_drafting.curve.path_data import read_path_data

        found = read_path_data(d)
        if found.error is not None:
            raise CurveError(found.error)
        if len(found.subpaths) != 1:
            msg = f"a curve is one subpath; this path data draws {len(found.subpaths)}"
            raise CurveError(msg)
        return cls(found.subpaths[0].controls, found.subpaths[0].closed)

    @classmethod
    def from_points(cls, xy: ArrayLike, closed: bool = False) -> Self:
        """Return the polyline through points ``(m, 2)`` in mm, as it is: straight pieces with corners.

        A closed polyline may give its first point again at the end or not. For a smooth curve through traced
        points a polyline is the wrong thing: each of its joints is a corner.

        Raises
        ------
        CurveError
            Fewer than two different points, or coordinates that are not finite.

        Examples
        --------
        >>> import bias_drafting as bd
        >>> bd.Curve.from_points([(0, 0), (30, 0), (30, 40)], closed=True).length
        120.0
        """
        try:
            points = np.array(xy, dtype=np.float64)
        except (TypeError, ValueError) as error:
            msg = f"a polyline needs points as (m, 2) numbers; {error}"
            raise CurveError(msg) from error
        if points.ndim != 2 or points.shape[1] != 2 or len(points) < 2:
            msg = f"a polyline needs two points or more as (m, 2); got shape {points.shape}"
            raise CurveError(msg)
        if closed and (points[0] != points[-1]).any():
            points = np.vstack([points, points[:1]])
        with np.errstate(invalid="ignore"):  # what is not finite is refused by name
            lines = bezier.from_lines(points)
        return cls(lines, closed)

    @classmethod
    def through(cls, xy: ArrayLike, closed: bool = False, tolerance: float | str = 0.25) -> Self:
        """Return a smooth curve through traced points ``(m, 2)`` in mm, within ``tolerance`` of every one.

        For hand tracings and scans: points a fraction of a millimetre apart, in order, each a little off the line
        that was meant. The jitter is estimated from the points themselves and smoothed away; corners that stand out
        from it stay corners. Between them the direction and the curvature run on without a break. A tracing that
        backs up by a few points and goes on is one line; one that goes back further has two hairpins.

        Parameters
        ----------
        xy
            The points in order, ``(m, 2)``.
        closed
            Whether the line runs back into its start.
        tolerance
            In mm: no point lies further from the curve (guaranteed, measured on the result). Where jitter is so large
            that single points would lie further, the curve bends toward them by the least possible, and where no
            smooth curve can, it jogs; so give three times the jitter or more.

        Raises
        ------
        CurveError
            Fewer than two different points (three for a closed curve), coordinates that are not finite or beyond
            1e30 mm, a tolerance that is not positive, or a single point off the line by more than the tolerance,
            than jitter explains and than its neighbours lie apart.

        Notes
        -----
        Measured on circles, arcs, ellipses and S-curves of least radius 10 to 30 mm, with a jitter of 0.1 mm
        (standard deviation of each coordinate) on points 0.5 mm apart: with a tolerance of 0.6 mm the tightest
        working radius over 6 mm is right to 1 % in the middle of 20 tracings, and 5 to 7 % too tight on an S of arcs,
        whose curvature leaps. With 0.25 mm, which some points exceed, the middle is 1 % lower, and one tracing in a
        hundred is off by 20 % or more; with 0.1 mm the radius means nothing. Errors are mostly to the tight side. A
        single point that is off by much more than the jitter, but not refused, makes a tight bend of its own.

        Large radii are told from straight lines only by their sagitta over the length they fill. With that jitter
        and a tolerance of 0.6 mm, four in five arcs 30 mm long of radius 100 mm come out at 84 to 101 mm, and of
        500 mm at 264 to 525; a straight line at 117 mm or more. Over 60 mm it is 99 to 100, 470 to 511, and 1900 or
        more.

        A corner of 45 degrees or more is nearly always found at that jitter, mostly to 0.1 mm and always to 0.25; of
        30 degrees to 0.4 mm; of 20 degrees half the time. A bend of radius 3 mm or more is seldom taken for one.

        Examples
        --------
        >>> import bias_drafting as bd
        >>> import numpy as np
        >>> angle = np.linspace(0, np.pi, 95)
        >>> traced = 15 * np.stack([np.cos(angle), np.sin(angle)], axis=1)
        >>> round(bd.Curve.through(traced).tightest(window=6).radius)
        15
        """
        from bias_drafting.curve.through import through_points

        reach = given_mm(tolerance, "the tolerance of a curve through points")
        return cls(through_points(xy, bool(closed), reach), bool(closed))

    # Measures

    @cached_property
    def _chain(self) -> Chain:
        return measure.build_chain(self.controls, self.closed)

    @cached_property
    def _turning(self) -> Turning:
        return Turning.of(self._chain, self.closed)

    @cached_property
    def _nodes(self) -> Nodes:
        from bias_drafting.curve.nodes import build_nodes

        # A handle a millionth of a millimetre long turns the line on the spot, in steps too small for floats. Lengths
        # and radii are true to it; parallel curves and bands take it as drawn in, which moves them as little.
        drawn_in = bezier.with_handles_drawn_in(self.controls, 1e-9)
        same = np.array_equal(drawn_in, self.controls)
        return build_nodes(self._chain if same else measure.build_chain(drawn_in, self.closed))

    @property
    def length(self) -> float:
        """Arc length in mm, to about 1e-14 of itself."""
        return self._chain.length

    @cached_property
    def turning(self) -> float:
        """Total absolute turning in degrees: all bends, left and right, and all corners."""
        return float(np.degrees(total_turning(self._chain)))

    @cached_property
    def segment_lengths(self) -> Array:
        """Arc length of each segment in mm, ``(n,)``, each to about 1e-14 of itself."""
        return _frozen(lengths(self.controls))

    @cached_property
    def segment_least_radii(self) -> Array:
        """Least radius of curvature on each segment in mm, ``(n,)``: all extremes, no sampling; infinite if straight.

        It is 0 where a segment stands still while it turns: at a cusp, a fold, or the end of a bent piece whose
        handle is drawn in to its end point. The last is an artefact of drawing when the working radius there is fine.
        Corners between segments are not looked at: see :attr:`corners`.
        """
        with np.errstate(divide="ignore"):
            return _frozen(1 / np.abs(sharpest_of_each(self.controls)[0]))

    @cached_property
    def corners(self) -> tuple[Corner, ...]:
        """The corners in order: joints, cusps and folds at which the direction changes by a degree or more.

        Examples
        --------
        >>> import bias_drafting as bd
        >>> [(c.s, round(c.turn)) for c in bd.Curve.from_points([(0, 0), (50, 0), (50, 50)]).corners]
        [(50.0, 90)]
        """
        chain = self._chain
        sharp = np.flatnonzero(np.abs(chain.corners[:-1]) >= CORNER)
        points = chain.controls[sharp, 0]
        return tuple(
            Corner(float(chain.s[k]), (float(x), float(y)), float(np.degrees(chain.corners[k])))
            for k, (x, y) in zip(sharp, points, strict=True)
        )

    @cached_property
    def inflections(self) -> Array:
        """Arc lengths in mm, in order, at which the curve passes from bending one way to bending the other.

        Within segments and at smooth joints; a straight stretch between two bends counts once, at its start. Where
        there is a corner between two bends, in the bend or at either end of a straight stretch between them, there is
        none. On a closed curve they do not depend on where it begins.

        Examples
        --------
        >>> import bias_drafting as bd
        >>> wave = bd.Curve.from_svg_path("M0 0C20 -20 20 20 40 0")
        >>> wave.inflections.round(6).tolist() == [round(wave.length / 2, 6)]
        True
        """
        return _frozen(inflection_lengths(self._chain, self.closed))

    @property
    def start(self) -> tuple[float, float]:
        """The first point, in mm."""
        return float(self.controls[0, 0, 0]), float(self.controls[0, 0, 1])

    @property
    def end(self) -> tuple[float, float]:
        """The last point, in mm; on a closed curve the first again."""
        return float(self.controls[-1, 3, 0]), float(self.controls[-1, 3, 1])

    @cached_property
    def bounds(self) -> tuple[float, float, float, float]:
        """The exact box round the curve: ``xmin, ymin, xmax, ymax`` in mm."""
        low, high = bezier.bounds(self.controls)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    def __len__(self) -> int:
        """Return the number of segments."""
        return len(self.controls)

    def _arc_lengths(self, s: ArrayLike) -> Array:
        """Return arc lengths as an array within the curve: wrapped on a closed curve, checked on an open one."""
        single = isinstance(s, str) or np.ndim(s) == 0
        values = np.array(given_mm(s, "an arc length")) if single else given_array(s, "arc lengths in mm")
        if not np.isfinite(values).all():
            msg = "an arc length must be a finite number of mm"
            raise CurveError(msg)
        if self.closed:
            wrapped: Array = np.where((values < 0) | (values > self.length), values % self.length, values)
            return wrapped
        slack = 1e-9 * self.length
        if (values < -slack).any() or (values > self.length + slack).any():
            worst = values.flat[np.argmax(np.maximum(-values, values - self.length))]
            msg = f"arc length {worst:g} mm is off the curve, which runs from 0 to {self.length:g} mm"
            raise CurveError(msg)
        return np.clip(values, 0, self.length)

    def point_at(self, s: ArrayLike) -> Array:
        """Return the points at arc lengths ``s`` mm from the start: shape of ``s`` plus ``(2,)``.

        On a closed curve ``s`` wraps round.

        Raises
        ------
        CurveError
            An arc length that is not finite or, on an open curve, off the curve.

        Examples
        --------
        >>> import bias_drafting as bd
        >>> line = bd.Curve.from_points([(0, 0), (30, 40)])
        >>> line.point_at([0, 25]).round(9).tolist()
        [[0.0, 0.0], [15.0, 20.0]]
        """
        values = self._arc_lengths(s)
        piece, t = self._chain.locate(values.ravel())
        return bezier.evaluate(self._chain.controls[piece], t).reshape(*values.shape, 2)

    def tangent_at(self, s: ArrayLike) -> Array:
        """Return the unit directions of travel at arc lengths ``s``; at a corner, of the piece after it.

        Examples
        --------
        >>> import bias_drafting as bd
        >>> bd.Curve.from_points([(0, 0), (30, 40)]).tangent_at(10).round(9).tolist()
        [0.6, 0.8]
        """
        values = self._arc_lengths(s)
        values = values % self.length if self.closed else values  # at the very end the first piece comes next
        piece, t = self._chain.locate(values.ravel())
        direction = measure.directions(self._chain.controls[piece], t)
        return np.stack([direction.real, direction.imag], axis=-1).reshape(*values.shape, 2)

    def curvature_at(self, s: ArrayLike) -> Array:
        """Return the curvature in 1/mm at arc lengths ``s``: positive where the path bends to the right of travel.

        Right is meant as seen on the page, where y runs down. It is the true second-order curvature: infinite where
        a handle is drawn in to its end on a bent piece. At a joint it is that of the piece after it.

        Examples
        --------
        >>> import bias_drafting as bd
        >>> arc = bd.Curve.from_svg_path("M0 0A50 50 0 0 1 100 0")   # over the top, clockwise: to the right
        >>> arc.curvature_at([30, 60]).round(6).tolist()
        [0.02, 0.02]
        """
        values = self._arc_lengths(s)
        values = values % self.length if self.closed else values  # at the very end the first piece comes next
        piece, t = self._chain.locate(values.ravel())
        return measure.curvature(self._chain.controls[piece], t).reshape(values.shape)

    def tightest(self, window: float | str = 0.0) -> Bend:
        """Return the tightest bend, averaged over ``window`` mm of arc length.

        With a window it is what a strip of that width feels: the working radius, ``window / |turn|`` over the
        window that turns most, corners included. Without one it is the least radius of curvature, exactly; a
        corner (a joint that turns by a degree or more) then has radius 0, and so has the end of a bent piece whose
        handle is drawn in to its end point. Such an end is an artefact of drawing when the working radius is fine.

        Raises
        ------
        CurveError
            A window that is negative or not finite.

        Notes
        -----
        The sharpest window is searched for with its middle at even steps (an eighth of the window; on a curve longer
        than 5000 windows a 40 000th of the curve) and with its middle or an edge at every joint. The six highest
        places are polished, and the turn is evaluated exactly there.

        Examples
        --------
        >>> import bias_drafting as bd
        >>> corner = bd.Curve.from_points([(0, 0), (50, 0), (50, 50)])
        >>> round(corner.tightest(window=6).radius, 2), corner.tightest(window=6).side
        (3.82, 'right')
        >>> corner.tightest().radius
        0.0
        """
        window = given_mm(window, "the window of a bend")
        if not (np.isfinite(window) and window >= 0):
            msg = f"the window of a bend must be 0 or a length in mm, not {window!r}"
            raise CurveError(msg)
        if window == 0:
            curvature, s = sharpest_point(self._chain)
            return self._bend(curvature, s, 0.0)
        turn, s = sharpest_window(self._turning, window)
        return self._bend(turn / window, s, window)

    def _bend(self, curvature: float, s: float, window: float) -> Bend:
        # Turns this small are the rounding of straight lines.
        straight = abs(curvature) * max(window, 1e-3 * self.length) < 1e-12
        radius = np.inf if straight else abs(1 / curvature)
        side = "none" if straight else "right" if curvature > 0 else "left"
        x, y = self.point_at(s)
        return Bend(float(radius), float(s), (float(x), float(y)), side, window)

    def bend_at(self, s: float | str, window: float | str) -> Bend:
        """Return the bend at arc length ``s``, averaged over ``window`` mm: its working radius and inner side.

        Examples
        --------
        >>> import bias_drafting as bd
        >>> bd.Curve.from_points([(0, 0), (50, 0), (50, 50)]).bend_at(10, window=6).side
        'none'
        """
        window = given_mm(window, "the window of a bend")
        if not (np.isfinite(window) and window > 0):
            msg = f"the window of a bend must be a length in mm, more than 0, not {window!r}"
            raise CurveError(msg)
        at = self._arc_lengths([given_mm(s, "an arc length")])
        return self._bend(float(windowed_turn(self._turning, at, window)[0]) / window, at[0], window)

    def working_radius_at(self, s: ArrayLike, window: float | str) -> Array:
        """Return the working radius in mm at arc lengths ``s``, averaged over ``window`` mm; infinite if straight.

        On an open curve the window is moved inward where it would pass an end; a curve shorter than the window is
        taken whole.

        Examples
        --------
        >>> import bias_drafting as bd
        >>> corner = bd.Curve.from_points([(0, 0), (50, 0), (50, 50)])
        >>> corner.working_radius_at([10, 50], window=6).round(2).tolist()
        [inf, 3.82]
        """
        with np.errstate(divide="ignore"):
            radius: Array = 1 / np.abs(self.working_curvature_at(s, window))
        return radius

    def working_curvature_at(self, s: ArrayLike, window: float | str) -> Array:
        """Return the curvature in 1/mm that a strip feels at arc lengths ``s``: its turn over ``window`` mm, by that.

        Positive where it bends to the right of travel, 0 where it is straight; windows lie as for
        :meth:`working_radius_at`, whose inverse it is but for the sign.

        Examples
        --------
        >>> import bias_drafting as bd
        >>> ring = bd.Curve.from_svg_path("M0 0A50 50 0 0 1 100 0A50 50 0 0 1 0 0Z")
        >>> ring.working_curvature_at([30, 60], window=6).round(6).tolist()
        [0.02, 0.02]
        """
        window = given_mm(window, "the window of a working radius")
        if not (np.isfinite(window) and window > 0):
            msg = f"the window of a working radius must be a length in mm, more than 0, not {window!r}"
            raise CurveError(msg)
        values = self._arc_lengths(s)
        turn = windowed_turn(self._turning, values.ravel(), window)
        curvature: Array = np.where(np.abs(turn) < 1e-12, 0.0, turn / window)
        return curvature.reshape(values.shape)

    def least_working_radii(self, windows: ArrayLike) -> Array:
        """Return the least working radius for each of several windows (mm): quick, for searching.

        By interpolation: the turn over a window is right to about 1e-6 radians (the worst found is 1.4e-5, beside a
        cusp), so the radius is right to that many times radius by window, as a share of itself: 1e-5 where it is ten
        windows. For one window to full precision, and where the bend is, ask :meth:`tightest`.
        """
        sizes = np.atleast_1d(given_array(windows, "windows in mm"))
        if not (sizes.ndim == 1 and np.isfinite(sizes).all() and (sizes > 0).all()):
            msg = "the windows of working radii must be lengths in mm, more than 0"
            raise CurveError(msg)
        return least_radii(self._turning, sizes)

    def stretches_tighter_than(
        self, radius: float | str, window: float | str
    ) -> tuple[tuple[float, float], ...]:
        """Return the stretches ``(s0, s1)`` of arc length whose working radius over ``window`` is below ``radius``.

        On a closed curve a stretch that runs over the start has ``s1 < s0``. Whenever :meth:`tightest` is below
        ``radius``, its place lies in one of the stretches, however short. The ends are right to about a thousandth of
        the window; where the radius hardly differs from ``radius`` along a length, to a few millionths of the radius
        instead.

        Examples
        --------
        >>> import bias_drafting as bd
        >>> corner = bd.Curve.from_points([(0, 0), (50, 0), (50, 50)])
        >>> [(round(a), round(b)) for a, b in corner.stretches_tighter_than(24, window=6)]
        [(47, 53)]
        """
        radius, window = given_mm(radius, "a radius"), given_mm(window, "the window of a working radius")
        if not (radius > 0 and np.isfinite(window) and window > 0):
            msg = f"needs a radius and a window more than 0 mm, not {radius!r} and {window!r}"
            raise CurveError(msg)
        return tuple(tight_stretches(self._turning, radius, window))

    # Places

    def locate(self, xy: ArrayLike) -> tuple[Array, Array]:
        """Return the nearest point of the curve to each point: its arc length, and how far away it is, both in mm.

        Parameters
        ----------
        xy
            Points in mm, of shape ``(..., 2)``; one point may be given as ``(x, y)``.

        Returns
        -------
        s, distance
            Arrays of the shape of ``xy`` without its last axis. The point itself is ``point_at(s)``. Among equally
            near points it is the first along the curve; so on a closed curve the start is ``s = 0``.

        Raises
        ------
        CurveError
            Points of another shape, or with a coordinate that is not finite.

        Notes
        -----
        The nearest of all, not of some: every minimum of the distance along every piece that could hold it is found.
        The distance is right to the rounding of the coordinates, far below 1e-9 mm on drawings of any size. So is
        ``s`` where the question has one clear answer; near the centre of a bend many points are almost equally near.

        Examples
        --------
        >>> import bias_drafting as bd
        >>> path = bd.Curve.from_points([(0, 0), (30, 0), (30, 40)])  # along the bean rows, then down
        >>> s, distance = path.locate([(12, 5), (33, -4), (26, 25)])
        >>> s.tolist(), distance.tolist()
        ([12.0, 30.0, 55.0], [5.0, 5.0, 4.0])
        """
        points = given_array(xy, "points (x, y) in mm")
        if points.ndim == 0 or points.shape[-1] != 2:
            msg = f"points to be located are (x, y) or arrays of them of shape (..., 2), not {points.shape}"
            raise CurveError(msg)
        from bias_drafting.curve.nearest import locate_points

        s, distance = locate_points(self._chain, points.reshape(-1, 2))
        return s.reshape(points.shape[:-1]), distance.reshape(points.shape[:-1])

    def intersections(self, other: Curve, tolerance: float | str = 1e-6) -> Meetings:
        """Return every place where this curve and another cross or touch, and every stretch they share.

        Parameters
        ----------
        other
            The other curve.
        tolerance
            How far apart in mm two lines may be and still count as meeting. Where coordinates are so large that
            their rounding is more (some 3e-14 of the largest), that.

        Returns
        -------
        Meetings
            ``points``: crossings and touchings, each an ``Intersection(point, s, other_s, angle)``, in their order
            along this curve. ``overlaps``: stretches along which the two are one line, each an
            ``Overlap(s0, s1, other_s0, other_s1, same_way)``; what happens inside a shared stretch is no point.

        Raises
        ------
        CurveError
            A tolerance that is not more than 0, or two tangles that meet in some millions of places.

        Notes
        -----
        Each place counts once, also where joints, ends, corners or cusps of either curve lie on it, or a closed
        curve starts, where ``s`` is 0. Ends that touch the other curve count. Where the curves cross, ``s`` and the
        point are right to about 1e-10 mm, divided by the sine of the angle. At a corner the angle is the smallest
        of those between the lines that meet.

        Meetings between which the lines part by no more than the tolerance are one. Of meetings that are only a few
        tolerances apart along both curves, two may be taken for one.

        A shared stretch is an overlap from about 1 mm (``2 sqrt(2 R tolerance)`` with ``R`` = 125 m: longer than
        any circle touches a line), and a shorter one if the two run together, nearer than a sixteenth of the
        tolerance but for its outer tenths; else it is a touching. So where the tangent of an inflection touches, it
        is a point. Curves that part smoothly overlap until they are the tolerance apart, a little beyond the place
        where one leaves the other.

        Both curves are cut into arcs that turn by 30 degrees at most; of arcs that come near each other the gap,
        seen across the line half way between their directions, is bounded from both sides and halved until
        everything is decided. The time grows little faster than the number of pieces and of meetings.

        Examples
        --------
        >>> import bias_drafting as bd
        >>> hops = bd.Curve.from_svg_path("M0 0A25 25 0 0 1 50 0")
        >>> wire = bd.Curve.from_points([(-10, -15), (60, -15)])
        >>> for meeting in hops.intersections(wire).points:
        ...     print([round(x, 3) for x in meeting.point], round(meeting.s, 3), round(meeting.angle, 2))
        [5.0, -15.0] 16.088 53.13
        [45.0, -15.0] 62.452 53.13
        >>> row = bd.Curve.from_points([(0, 0), (30, 0), (30, 40)])
        >>> found = row.intersections(bd.Curve.from_points([(50, 0), (20, 0)]))
        >>> (shared,) = found.overlaps
        >>> [round(x, 6) for x in (shared.s0, shared.s1, shared.other_s0, shared.other_s1)], shared.same_way
        ([20.0, 30.0, 30.0, 20.0], False)
        >>> found.points
        ()
        """
        from bias_drafting.curve.meetings import meetings_between

        apart = given_mm(tolerance, "the tolerance of meetings")
        chain = getattr(other, "_chain", None)
        if chain is None:
            msg = f"a curve meets another curve, not a value of type {type(other).__name__}"
            raise CurveError(msg)
        return meetings_between(self._chain, self.closed, chain, other.closed, apart)

    def self_intersections(self, tolerance: float | str = 1e-6) -> Meetings:
        """Return every place where the curve crosses or touches itself, and every stretch it runs along twice.

        Each pair of places is given once, the smaller arc length as ``s``. Joints, corners and cusps are no meetings
        of a curve with itself, nor is the start of a closed curve; where an open curve ends on its own start it is
        one. Where the curve folds back on itself the retraced stretch is an overlap, ``same_way`` false. A loop no
        wider than the tolerance is not told from a cusp. For the rest see :meth:`intersections`.

        Parameters
        ----------
        tolerance
            How far apart in mm two lines may be and still count as meeting.

        Raises
        ------
        CurveError
            A tolerance that is not more than 0, or a tangle that meets itself in some millions of places.

        Examples
        --------
        >>> import bias_drafting as bd
        >>> tendril = bd.Curve.from_svg_path("M0 0C60 40 -20 40 40 0")
        >>> (crossing,) = tendril.self_intersections().points
        >>> [round(x, 3) for x in crossing.point], round(crossing.s, 3), round(crossing.other_s, 3)
        ([20.0, 17.143], 26.45, 58.292)
        >>> bd.Curve.from_points([(0, 0), (30, 0), (10, 0)]).self_intersections().overlaps
        (Overlap(s0=10.0, s1=30.0, other_s0=50.0, other_s1=30.0, same_way=False),)
        """
        from bias_drafting.curve.meetings import meetings_with_itself

        return meetings_with_itself(
            self._chain, self.closed, given_mm(tolerance, "the tolerance of meetings")
        )

    # New curves from this one

    def section(self, s0: float | str, s1: float | str) -> Self:
        """Return the open stretch from arc length ``s0`` to ``s1``.

        On a closed curve ``s1`` may lie before ``s0``: the stretch then runs over the start; where both are the
        same it is one whole round.

        Raises
        ------
        CurveError
            On an open curve, a stretch of no length, off the curve, or backwards.

        Examples
        --------
        >>> import bias_drafting as bd
        >>> round(bd.Curve.from_points([(0, 0), (60, 0)]).section(10, 25).length, 9)
        15.0
        """
        s0, s1 = given_mm(s0, "an arc length"), given_mm(s1, "an arc length")
        a, b = (float(x) for x in self._arc_lengths([s0, s1]))
        if self.closed and b <= a:
            # A hair before or after the start is rounding, and would make no curve.
            hair = 1e-12 * self.length
            a, b = (0.0 if a > self.length - hair else a), (0.0 if b < hair else b)
            if a == 0:
                return self.section(0, b or self.length)
            head = self.section(a, self.length).controls
            return type(self)(np.concatenate([head, self.section(0, b).controls]) if b else head)
        if not b > a:
            msg = f"a section runs forward along the curve; from {s0:g} to {s1:g} mm it has no length"
            raise CurveError(msg)
        return type(self)(self._chain.between(a, b)[0])

    def reversed(self) -> Self:
        """Return the same curve travelled the other way."""
        return type(self)(self.controls[::-1, ::-1], self.closed)

    def transformed(self, matrix: ArrayLike) -> Self:
        """Return the image under an affine map ``[[a, c, e], [b, d, f]]`` (2 x 3, or 3 x 3 with 0 0 1 below).

        Raises
        ------
        CurveError
            A matrix of another shape or with entries that are not finite, or one that leaves the curve no length.

        Examples
        --------
        >>> import bias_drafting as bd
        >>> mirror = [[-1, 0, 0], [0, 1, 0]]
        >>> bd.Curve.from_points([(0, 0), (3, 4)]).transformed(mirror).end
        (-3.0, 4.0)
        """
        m = given_array(matrix, "the 2 x 3 numbers of an affine map")
        if (
            m.shape not in ((2, 3), (3, 3))
            or not np.isfinite(m).all()
            or (m.shape == (3, 3) and (m[2] != (0, 0, 1)).any())
        ):
            msg = "an affine map is a finite 2 x 3 matrix, or 3 x 3 with 0 0 1 as its last row"
            raise CurveError(msg)
        return type(self)(self.controls @ m[:2, :2].T + m[:2, 2], self.closed)

    def extended(self, before: float | str, after: float | str) -> Self:
        """Return the curve run on straight along its end directions by ``before`` and ``after`` mm (0 or more).

        Raises
        ------
        CurveError
            A closed curve, which has no ends, or a length that is negative or not finite.
        """
        before, after = (given_mm(x, "what a curve is run on by") for x in (before, after))
        if self.closed or not (np.isfinite([before, after]).all() and min(before, after) >= 0):
            msg = "only an open curve can be run on, by lengths of 0 mm or more"
            raise CurveError(msg)
        first, last = self.tangent_at([0, self.length])
        start, end = self.controls[0, 0], self.controls[-1, 3]
        parts = [self.controls]
        if before > 0:
            parts.insert(0, bezier.from_lines(np.stack([start - before * first, start])))
        if after > 0:
            parts.append(bezier.from_lines(np.stack([end, end + after * last])))
        return type(self)(np.concatenate(parts))

    def _worked_to(self, tolerance: float, distance: float) -> float:
        """Return the tolerance to work to for a band reaching so far: as asked, or finer where that says little.

        Refused is what coordinates this large cannot hold (they carry about 1e-16 of their own size), and a band so
        narrow that no tolerance suits it.
        """
        reach = abs(distance)
        far = float(np.abs(self.controls).max()) + reach
        if tolerance < 1e-12 * far:
            least = f"a tolerance of {1e-12 * far:.3g} mm or more"
            msg = f"coordinates and distances as large as {far:.3g} mm need {least}, not {tolerance:g}"
            raise CurveError(msg)
        worked_to = min(tolerance, max(reach / _COARSEST, 1e-12 * far))
        if worked_to < _FINEST:
            shortest = max(_FINEST, 1e-12 * far) * _COARSEST
            msg = f"a distance of {reach:.3g} mm is too short to draft; wanted {shortest:.3g} mm or more"
            raise CurveError(msg)
        return worked_to

    def parallel(self, distance: float | str, tolerance: float | str = 0.01) -> tuple[Self, ...]:
        """Return the parallel curve: every point at ``distance`` mm from the curve on one side, and none nearer.

        Positive lies to the right of travel as seen on the page. What would come nearer to any part of the curve is
        trimmed, so the answer may be one curve, several, or none; each runs along the direction of travel. Round
        the outer side of a corner it follows an arc.

        ``tolerance`` bounds the two-sided distance in mm to the exact parallel curve, but for holes of a band smaller
        than a square of it, which are left out as rounding. Fits are measured at many points and refined until they
        hold; crossings are found to a fiftieth of it.

        Raises
        ------
        CurveError
            A distance of 0 or not finite, or a tolerance that is not positive.

        Examples
        --------
        >>> import bias_drafting as bd
        >>> circle = bd.Curve.from_svg_path("M50 0A50 50 0 0 1 -50 0A50 50 0 0 1 50 0Z")   # clockwise
        >>> [round(c.length / 2 / 3.14159265, 2) for c in circle.parallel(10)]
        [40.0]
        >>> circle.parallel(60)
        ()
        """
        distance = given_mm(distance, "the distance of a parallel curve")
        tolerance = given_mm(tolerance, "the tolerance of a parallel curve")
        if not (np.isfinite(distance) and distance != 0 and np.isfinite(tolerance) and tolerance >= _FINEST):
            wanted = "a distance not 0 and a tolerance of 1e-6 or more"
            msg = f"a parallel curve needs {wanted}, not {distance} and {tolerance}"
            raise CurveError(msg)
        worked_to = self._worked_to(tolerance, distance)
        from bias_drafting.curve.parallel import parallel_chains

        found = parallel_chains(self._nodes, self.closed, distance, worked_to)
        return tuple(type(self)(controls, closed) for controls, closed in found)

    def band(
        self,
        width: float | str | None = None,
        ends: str = "square",
        tolerance: float | str = 0.01,
        *,
        widths: ArrayLike | None = None,
    ) -> Outline:
        """Return the outline of the band of ``width`` along the curve: a stem as it lies.

        Where the band meets itself, and in bends tighter than half its width, what lies inside is left out; corners
        are rounded on their outer side. A closed curve has no ends, and its band a hole.

        Parameters
        ----------
        width
            In mm, or text such as ``"1/4 in"``.
        ends
            ``"square"``, ``"round"``, or ``"taper"``: the band runs out in a point at each end, over twice its width
            (or half its length, if that is less).
        tolerance
            In mm, as for :meth:`parallel`.
        widths
            Instead of one width, pairs ``(s, width)`` in mm, ``s`` growing: the width across the centreline at those
            arc lengths, smooth between them, and the same beyond the first and the last. Such a band's edges lie
            square across the centreline; where it meets itself or has corners they come as short straight lines. An
            arc length off the curve is refused, and so is a band whose width comes to nothing on its way, where it
            would be in two parts; a ring may come to nothing once.

        Raises
        ------
        CurveError
            Another kind of ends, a tolerance that is not positive, not one of ``width`` and ``widths``, or pairs
            that are not in order, not finite or off the curve, or whose width comes to nothing on the way.
        LengthError
            A width that is not more than 0.

        Notes
        -----
        A square end within a curl tighter than half the width is swept round, so that the outline there reaches
        beyond the end line like a fishtail: such a stem cannot lie flat in any case.

        Examples
        --------
        >>> import bias_drafting as bd
        >>> bend = bd.Curve.from_svg_path("M0 0A50 50 0 0 1 100 0")
        >>> round(bend.band(10).area / bend.length, 3)      # a strip's area is its width times its length
        10.0
        >>> round(bend.band(widths=[(0, 4), (bend.length, 8)]).area / bend.length, 3)
        6.0
        """
        tolerance = given_mm(tolerance, "the tolerance of a band")
        if ends not in ("square", "round", "taper") or not (np.isfinite(tolerance) and tolerance >= _FINEST):
            wanted = "'square', 'round' or 'taper' ends and a tolerance of 1e-6 or more"
            msg = f"a band has {wanted}, not {ends!r} and {tolerance!r}"
            raise CurveError(msg)
        if (width is None) == (widths is None):
            msg = "a band has one width, or widths along the curve: give one of the two"
            raise CurveError(msg)
        if width is not None and (ends != "taper" or self.closed):
            from bias_drafting.curve.parallel import band_rings

            mm = positive_mm(width, "the width of a band")
            worked_to = self._worked_to(tolerance, mm / 2)
            rings = band_rings(self._nodes, self.closed, mm, ends == "round", worked_to)
        else:
            from bias_drafting.curve.tapered import Profile, checked_widths, tapered_rings

            pairs = widths if width is None else [(0.0, positive_mm(width, "the width of a band"))]
            table = checked_widths(pairs)
            worked_to = self._worked_to(tolerance, float(table[1].max()) / 2)
            profile = Profile.of(*table, self.length, ends == "taper" and not self.closed)
            rings = tapered_rings(self._nodes, self.closed, profile, ends == "round", worked_to)
        exterior, *holes = (Curve(controls, closed=True) for controls in rings)
        return Outline(exterior, tuple(holes))

    def flattened(self, tolerance: float | str = 0.01) -> Array:
        """Return points ``(m, 2)`` whose joining lines stay within ``tolerance`` mm of the curve (guaranteed)."""
        tolerance = given_mm(tolerance, "the tolerance of a flattened curve")
        if not tolerance >= _FINEST:
            msg = f"the tolerance must be {_FINEST:g} mm or more, not {tolerance!r}"
            raise CurveError(msg)
        return bezier.flatten(self.controls, tolerance)

    def to_svg_path(self, decimals: int = 4) -> str:
        """Return SVG path data in mm, absolute, rounded to ``decimals``; straight pieces as lines.

        Examples
        --------
        >>> import bias_drafting as bd
        >>> bd.Curve.from_points([(0, 0), (30, 0), (30, 40.5)], closed=True).to_svg_path()
        'M0 0L30 0L30 40.5Z'
        """
        return svg_path(self.controls, self.closed, given_count(decimals, "the decimals of path data", 15))

    # Being a value

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Curve):
            return NotImplemented
        return self.closed == other.closed and np.array_equal(self.controls, other.controls)

    def __hash__(self) -> int:
        return hash((self.closed, (self.controls + 0.0).tobytes()))

    def __repr__(self) -> str:
        many = "segment" if len(self) == 1 else "segments"
        return f"Curve({len(self)} {many}, {self.length:.2f} mm, {'closed' if self.closed else 'open'})"


def _frozen(values: Array) -> Array:
    """Return an array that is kept, so that nobody can change it."""
    values.flags.writeable = False
    return values
