"""Corners of a stem: where its inner side is a sharp, hollow corner, the middle follows the outer side.

Circles that touch both sides all touch a hollow corner while they go round it, and their centres would cut across the
bend. The cloth is a strip that follows the outer side there: its middle lies at half the width from the outer side,
and is looked for on rays out of the hollow corner.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Self

import numpy as np

from bias_drafting.curve import bezier
from bias_drafting.curve.spine_stations import (
    Stations,
    begun_at,
    between,
    centred_between,
    chosen,
    joined,
    safe,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from bias_drafting.curve.spine_sides import Side

    Array = NDArray[np.float64]
    IntArray = NDArray[np.intp]
    BoolArray = NDArray[np.bool_]

__all__ = ["clear_of_corners", "cornered", "mitre_beyond", "with_kinks"]

# A corner of the outline turns by this much; or by this much less if it makes at least this share of all that
# the corners within half a width of it turn. Below that it moves the centres by less than a thousandth of the width.
_TURN, _TURN_ALONE, _ALONE = np.radians(10.0), np.radians(2.0), 0.5
# The centreline has a corner where it turns by this much within this share of the width.
_CORNER, _CORNER_SIZE = np.radians(10.0), 0.004
# Rays out of a hollow corner are laid between others that differ by this much in direction, in so many rounds, after
# at most so many to begin with on either half.
_RAY_TURN, _RAY_ROUNDS, _MOST_RAYS = np.radians(6.0), 8, 400
# No stem turns back on itself by more than this at one corner; a half turn would send its outer side to infinity.
_MOST_CORNER = np.radians(179.0)
# The outer side of a corner may be drawn to a point where it turns no more than this.
_MOST_MITRE = np.radians(150.0)
# Halvings that find where feet jump over an outward corner.
_HALVINGS = 24
# Steps in looking for the centre on a ray: Newton's where they stay in bounds, else halving.
_MOST_STEPS = 60


def corners_of(side: Side, typical: float, outward: bool) -> BoolArray:
    """Return which joints of a side ``(m,)`` are outward or hollow corners; ``typical`` is the usual width in mm.

    The many small ones of a curve drawn as straight pieces are not, unless they turn much.
    """
    turn, s = side.corners[:-1] * (-1 if outward else 1), side.s[:-1]
    m, length = len(s), side.s[-1] - side.s[0]
    around = np.concatenate([s - length, s, s + length]) if side.closed else s
    run = np.append(0, np.cumsum(np.abs(np.tile(turn, len(around) // m))))
    first, last = (np.searchsorted(around, s + k * typical / 2) for k in (-1, 1))
    alone = -turn >= _ALONE * (run[last] - run[first])
    found: BoolArray = (turn <= -_TURN) | ((turn <= -_TURN_ALONE) & alone)
    return found


def _hollow_at(side: Side, hollow: BoolArray, foot: Array) -> IntArray:
    """Return the number of the hollow corner each foot lies on, or -1."""
    length = side.s[-1] - side.s[0]
    within = side.s[0] + (foot - side.s[0]) % length if side.closed else foot
    slack = 1e-11 * length
    after = np.searchsorted(side.s, within - slack) % len(side.steps)
    miss = np.abs(within - side.s[after])
    at_joint = np.minimum(miss, np.abs(miss - length) if side.closed else miss) <= slack
    return np.where(at_joint & hollow[after], after, -1)


def touched(sides: tuple[Side, Side], stations: Stations, typical: float) -> tuple[IntArray, IntArray]:
    """Return the hollow corner that each circle touches, on either side: its number there, or -1."""
    feet = stations.a, stations.b
    first, second = (
        _hollow_at(side, corners_of(side, typical, False), foot)
        for side, foot in zip(sides, feet, strict=True)
    )
    return first, second


def mitre_beyond(sides: tuple[Side, Side], stations: Stations, typical: float) -> Array:
    """Return how far, in radii, a mitre may reach beyond each circle: 0 but for those that touch a hollow corner."""
    beyond = np.zeros(len(stations.centre))
    for side, at in zip(sides, touched(sides, stations, typical), strict=True):
        turn = np.where(at >= 0, np.minimum(-side.corners[at], _MOST_MITRE), 0)
        beyond = np.maximum(beyond, 1 / np.cos(turn / 2) - 1)
    return beyond


def clear_of_corners(sides: tuple[Side, Side], ring: Stations, typical: float) -> Stations:
    """Return stations round a ring begun where neither foot lies on a hollow corner, so that none is cut in two."""
    first, second = touched(sides, ring, typical)
    return begun_at(sides, ring, int(np.argmin((first >= 0) | (second >= 0))))


def with_kinks(sides: tuple[Side, Side], stations: Stations, typical: float) -> Stations:
    """Return the stations with one more wherever the feet jump over an outward corner: the middle bends sharply.

    No circle that touches both sides touches the corner itself. The place is found by halving.
    """
    before = []
    for side, foot in zip(sides, (stations.a, stations.b), strict=True):
        at = side.s[:-1][corners_of(side, typical, True)]
        least, most = np.minimum(foot[:-1], foot[1:]), np.maximum(foot[:-1], foot[1:])
        length = side.s[-1] - side.s[0]
        laps = range(-2, 3) if side.closed else (0,)
        over = [(least < s + k * length) & (s + k * length < most) for s in at for k in laps]
        before.append(np.flatnonzero(np.any(over, axis=0)) if over else np.empty(0, dtype=np.intp))
    first = np.unique(np.concatenate(before))
    if not first.size:
        return stations
    low, high = stations[first], stations[first + 1]
    for _ in range(_HALVINGS):
        rough = between(low, high)
        middle = centred_between(sides, rough, 4 * rough.radius, rounds=3)
        # The jump is in whichever half the feet move farther.
        moved = np.abs(middle.a - low.a) + np.abs(middle.b - low.b)
        later = moved < np.abs(high.a - middle.a) + np.abs(high.b - middle.b)
        low, high = chosen(later, middle, low), chosen(later, high, middle)
    kinks = replace(between(low, high), corner=np.ones(len(first), dtype=bool))
    everything = joined([stations, kinks])
    return everything[np.argsort(np.append(np.arange(len(stations.a)), first + 0.5), kind="stable")]


def cornered(sides: tuple[Side, Side], stations: Stations, typical: float) -> Stations:
    """Replace the stations whose circles touch a hollow corner by those that follow the other side.

    ``typical`` is the typical width in mm: the new ones lie a sixteenth of it apart, or nearer.
    """
    parts, keep = [], np.ones(len(stations.centre), dtype=bool)
    feet = (stations.a, stations.b), (stations.b, stations.a)
    for k, corner in enumerate(touched(sides, stations, typical)):
        own, other, (foot, far) = sides[k], sides[1 - k], feet[k]
        for at in np.unique(corner[corner >= 0]):
            touching = corner == at
            rays = _Rays.out_of(own, other, int(at), stations.radius[touching], far[touching])
            found = rays.stations(typical / 16, k == 0, float(foot[touching][0]))
            if found is not None:
                parts.append(found)
                keep &= ~touching
    if not parts:
        return stations
    everything = joined([stations[keep], *parts])
    # Feet move on along both sides; from one corner the rays are in order already.
    return everything[np.argsort(everything.a - everything.b, kind="stable")]


@dataclass(frozen=True, slots=True, eq=False)
class _Rays:
    """Rays out of a hollow corner of one side toward the other side.

    Attributes
    ----------
    tip, first, turn
        The corner, the direction square to what leads into it (as a complex number), and how far it turns (rad).
    own, at
        The side it lies on and its arc length there.
    other, near, reach
        The other side, and where on it to look for feet.
    radius
        The typical half width there, in mm.
    """

    tip: Array
    first: complex
    turn: float
    own: Side
    at: float
    other: Side
    near: Array
    reach: Array
    radius: float

    @classmethod
    def out_of(cls, own: Side, other: Side, at: int, radius: Array, far: Array) -> Self:
        """Lay rays out of a corner that circles of these radii touch, whose other feet lie at ``far``."""
        # The stem lies to the right of the boundary; at a hollow corner what is square to it swings to the left.
        arriving = complex(bezier.end_directions(own.steps[[at - 1]])[1][0])
        turn, size = min(-float(own.corners[at]), float(_MOST_CORNER)), float(radius.mean())
        near, reach = (far.max() + far.min()) / 2, (far.max() - far.min()) / 2 + 4 * size
        where = float(own.s[at])
        return cls(
            own.steps[at, 0],
            1j * arriving,
            turn,
            own,
            where,
            other,
            np.array([near]),
            np.array([reach]),
            size,
        )

    def solved(self, angle: Array, radius: Array | None) -> tuple[Array, Array, Array, Array]:
        """Return centre, radius, foot and its arc length on each ray.

        The centre lies ``radius`` from the other side; without one, as far from it as from the corner.
        """
        way = self.first * np.exp(-1j * angle)
        unit = np.stack([way.real, way.imag], axis=1)
        n = len(angle)
        along, low, high = np.full(n, self.radius), np.zeros(n), np.full(n, np.inf)
        point, s, busy = np.empty((n, 2)), np.empty(n), np.arange(n)
        for _ in range(_MOST_STEPS):
            centre = self.tip + along[busy, None] * unit[busy]
            feet = self.other.feet(centre, np.tile(self.near, len(busy)), np.tile(self.reach, len(busy)))
            point[busy], s[busy] = feet.point, feet.s
            miss = feet.distance - (along if radius is None else radius)[busy]
            low[busy] = np.where(miss >= 0, along[busy], low[busy])
            high[busy] = np.where(miss < 0, along[busy], high[busy])
            up = (centre - feet.point) / safe(feet.distance)[:, None]
            slope = np.minimum((unit[busy] * up).sum(axis=1) - (radius is None), -0.01)
            # Within its distance from the other side a centre cannot get across it.
            step = along[busy] + np.minimum(-miss / slope, 0.9 * feet.distance)
            inside = (step > low[busy]) & (step < high[busy])
            middle = np.where(np.isfinite(high[busy]), (low[busy] + high[busy]) / 2, step)
            rest = np.abs(miss) > 1e-12 * self.radius
            along[busy[rest]] = np.where(inside, step, middle)[rest]
            busy = busy[rest]
            if not busy.size:
                break
        return self.tip + along[:, None] * unit, along if radius is None else radius, point, s

    def stations(self, spacing: float, own_first: bool, foot: float) -> Stations | None:
        """Return the stations across this corner in order, or None where it is none or another is in the way."""
        _, radius, _, _ = self.solved(np.array([0.0, self.turn]), None)
        # Widths run evenly along both arms of the stem, which are equally long from here to the corner.
        arm = radius.mean() * np.tan(self.turn / 2)
        x = np.linspace(-1, 1, 2 * int(np.clip(np.ceil(arm / spacing), 1, _MOST_RAYS)) + 2)
        for _ in range(_RAY_ROUNDS):
            width = np.interp(x, [-1, 1], radius)
            angle = np.arctan((1 - np.abs(x)) * arm / width)
            centre, _, point, s = self.solved(np.where(x <= 0, angle, self.turn - angle), width)
            bend = np.abs(np.diff(np.unwrap(np.angle((centre - point) @ np.array([1, 1j])))))
            gap = np.hypot(*np.diff(centre, axis=0).T)
            small = gap <= _CORNER_SIZE * 2 * self.radius
            split = (bend > min(_RAY_TURN, self.turn / 2)) & ~small
            if not split.any():
                break
            x = np.sort(np.append(x, (x[1:] + x[:-1])[split] / 2))
        if not self._is_clear(centre, width):
            return None
        # What is left of a hollow corner that turns little is a corner of the centreline too.
        least = min(_CORNER, self.turn / 2)
        found = _with_corners(centre, width, s, np.where((bend >= least) & small, bend, 0))
        own = np.full(len(found.centre), foot)
        if own_first:
            return Stations(found.centre, found.radius, own, found.b, found.corner)
        return Stations(found.centre, found.radius, found.b, own, found.corner)[slice(None, None, -1)]

    def _is_clear(self, centre: Array, radius: Array) -> bool:
        """Whether the side of the corner itself keeps out of the circles."""
        n = len(centre)
        feet = self.own.feet(centre, np.full(n, self.at), np.full(n, 4 * self.radius))
        return bool((feet.distance >= radius * (1 - 1e-3)).all())


def _with_corners(centre: Array, radius: Array, s: Array, bend: Array) -> Stations:
    """Return rays as stations, with one more at each corner between two of them; feet on the other side as ``b``.

    ``bend`` says by how much (rad) the centreline turns sharply from each ray to the next.
    """
    corner, sharp = np.zeros(len(centre), dtype=bool), np.flatnonzero(bend)
    # A ray that happens to meet a corner has it on either side: one corner all the same.
    for run in reversed(np.split(sharp, np.flatnonzero(np.diff(sharp) > 1) + 1) if sharp.size else []):
        first, last = int(run[0]), int(run[-1]) + 1
        beside = max(first - 1, 0), first, last, min(last + 1, len(centre) - 1)
        tip = _meeting(centre[list(beside)], float(bend[run].sum()))
        inner = slice(first + 1, last)
        centre = np.insert(np.delete(centre, inner, axis=0), first + 1, tip, axis=0)
        radius, s = (np.insert(np.delete(x, inner), first + 1, (x[first] + x[last]) / 2) for x in (radius, s))
        corner = np.insert(np.delete(corner, inner), first + 1, True)
    return Stations(centre, radius, np.zeros(len(s)), s, corner)


def _meeting(along: Array, bend: float) -> Array:
    """Return where two lines meet, from the first to the second of four points and from the last to the third.

    They turn by ``bend``; if they do not meet near there, return the middle between the second and the third.
    """
    before, first, last, after = along
    one, other, gap = first - before, last - after, last - first
    area = one[0] * other[1] - one[1] * other[0]
    middle: Array = (first + last) / 2
    if abs(area) <= 1e-6 * np.hypot(*one) * np.hypot(*other):
        return middle
    meet: Array = first + one * ((gap[0] * other[1] - gap[1] * other[0]) / area)
    # From the middle of two arms that turn so it lies half their gap times this tangent away, or a little more.
    near = np.hypot(*gap) * (0.5 + np.tan(min(bend, _MOST_CORNER) / 2))
    return meet if np.hypot(*(meet - middle)) <= near else middle
