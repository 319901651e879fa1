"""Bends: turning, corners, the least radius, and the working radius a strip of a given width feels.

What a strip feels is a bend averaged over its own width. With window ``w`` the working radius at ``s`` is
``w / |turn|``, where ``turn`` is the change of direction from ``s - w/2`` to ``s + w/2``, corners included. On an
open curve the window stays inside; on a closed one it wraps; a curve shorter than the window is taken whole.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from bias_drafting.curve import arc_length, bezier, measure
from bias_drafting.curve.curvature import sharpest_of_each

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    ComplexArray = NDArray[np.complex128]
    IntArray = NDArray[np.intp]

    from bias_drafting.curve.measure import Chain

__all__ = [
    "CORNER",
    "Turning",
    "between_inflections",
    "inflection_lengths",
    "least_radii",
    "sharpest_point",
    "sharpest_window",
    "tight_stretches",
    "total_turning",
    "turns_between_inflections",
    "windowed_turn",
]

# A joint that turns by less than this is a smooth joint whose handles were rounded when the file was written (two
# decimals on a 1 mm handle give up to 0.8 degrees); it counts in every turning, but is not called a corner.
CORNER = np.radians(1.0)
# A turn of less, in radians, is the rounding of a straight line.
_NO_TURN = 1e-9
# Nodes per piece in the table of headings. Between nodes a cubic Hermite through headings and curvatures is used
# to find the sharpest window; what is reported is then evaluated exactly.
_NODES = 16
# At most this many window positions are tried, whatever the ratio of curve to window: bounded work.
_MOST_POSITIONS = 40_000
# Of the local maxima this many are polished, the highest by the table, each taken at its own top. The table tells
# heights to about 1e-6 rad; so of dozens that are equally high those left out turn by no more than that in excess.
_MOST_PEAKS = 6
# A local maximum at the positions tried may be lower by less than this share than its own top.
_NEAR = 0.02
# Rounds of polishing: where the best window ends on a sudden change of bend, each brings it 2.5 times nearer.
_ROUNDS = 14


def total_turning(chain: Chain) -> float:
    """Return the total absolute turning in radians: every bend either way, and every corner."""
    inside = np.abs(turns_between_inflections(chain)).sum()
    corners = np.abs(chain.corners[:-1]).sum()  # the first is the closing joint, or 0
    return float(inside + corners)


def turns_between_inflections(chain: Chain) -> Array:
    """Return by how much each piece turns (rad, signed) in each of its up to three parts of one bend: ``(3, m)``."""
    edges = between_inflections(chain)
    turns = [measure.turn_within(chain.u, chain.v, edges[:, k], edges[:, k + 1]) for k in range(3)]
    return np.stack(turns)


def between_inflections(chain: Chain) -> Array:
    """Return the parameters ``(n, 4)`` between which each piece bends one way only, 0 and 1 included."""
    d0, d1, d2 = np.diff(bezier.as_complex(chain.controls), axis=1).T
    # B' x B'' as a polynomial in t / (1 - t): so roots close to either end lose no figures.
    crosses = (np.conj(d1) * d2).imag, (np.conj(d0) * d2).imag, (np.conj(d0) * d1).imag
    ratio = bezier.quadratic_roots(*crosses)
    with np.errstate(invalid="ignore", divide="ignore"):
        t = ratio / (1 + ratio)
    inside = np.where((ratio > 0) & (t < 1), t, 1.0)
    return np.sort(np.concatenate([np.zeros((len(t), 1)), inside, np.ones((len(t), 1))], axis=1), axis=1)


def inflection_lengths(chain: Chain, closed: bool) -> Array:
    """Return the arc lengths at which a chain passes from bending one way to bending the other."""
    edges = between_inflections(chain)
    turn = turns_between_inflections(chain)
    piece, part = np.nonzero((np.abs(turn) > _NO_TURN).T)
    way = np.sign(turn[part, piece])
    # Bends that follow one another, the first after the last on a closed chain.
    before = np.roll(np.arange(len(piece)), 1)
    changed = way != way[before]
    over_start = np.arange(len(piece)) == 0
    # A corner between two bends, at the end of either or of a straight stretch between them, is no inflection.
    corners = np.cumsum(np.abs(chain.corners) >= CORNER)
    between = corners[piece] - corners[piece[before]] + np.where(over_start, corners[-1] - corners[0], 0)
    changed &= (between == 0) & (closed | ~over_start)
    # Where the bend before ended; a straight stretch may lie between.
    piece, t = piece[before], edges[piece[before], part[before] + 1]
    run = arc_length.partial_lengths(chain.controls[piece], np.zeros(len(piece)), t)
    ended = np.where(t < 1, chain.s[piece] + run, chain.s[piece + 1])
    return np.sort((ended % chain.length if closed else ended)[changed])


def sharpest_point(chain: Chain) -> tuple[float, float]:
    """Return the curvature (signed, 1/mm) at the sharpest single point, and its arc length.

    A corner has infinite curvature. Where nothing bends the curvature is 0 at ``s = 0``.
    """
    corner = int(np.argmax(np.abs(chain.corners)))
    if abs(chain.corners[corner]) >= CORNER:
        return float(np.copysign(np.inf, chain.corners[corner])), float(chain.s[corner])
    bend, at = sharpest_of_each(chain.controls)
    best = int(np.argmax(np.abs(bend)))
    if bend[best] == 0:
        return 0.0, 0.0
    run = arc_length.partial_lengths(chain.controls[best : best + 1], np.zeros(1), at[best : best + 1])
    return float(bend[best]), float(chain.s[best] + run[0])


@dataclass(frozen=True, slots=True, eq=False)
class Turning:
    """A table of headings along a curve, to ask about windows of any size cheaply.

    Attributes
    ----------
    chain
        The measured curve.
    closed
        Whether windows wrap round.
    s, heading
        Arc length and running direction (rad) at the nodes, piece after piece; a joint appears twice, with the
        direction before it and after it.
    leaving, arriving
        By how much the direction would turn from each node to the next at the rate it has at the one, and at the
        other.
    piece, t
        Which piece each node lies on, and where on it.
    regular
        Whether arc length from each node to the next follows from one quadrature rule.
    """

    chain: Chain
    closed: bool
    s: Array
    heading: Array
    leaving: Array
    arriving: Array
    piece: IntArray
    t: Array
    regular: NDArray[np.bool_]

    @classmethod
    def of(cls, chain: Chain, closed: bool) -> Turning:
        """Tabulate a measured curve."""
        steps = measure.followed_steps(chain, _NODES)
        piece, t, s, heading = measure.along_steps(chain, *steps)
        bend, span = measure.curvature(chain.controls[piece], t), np.diff(s)
        with np.errstate(invalid="ignore"):  # an infinite curvature over no length, at a joint
            slopes = np.stack([bend[:-1] * span, bend[1:] * span])
        # At a cusp or a drawn-in handle, where the curvature is infinite, go straight: a step of next to no length.
        leaving, arriving = np.where(np.isfinite(slopes).all(axis=0), slopes, np.diff(heading))
        # The end of a piece begins no step.
        regular = np.zeros(len(t), dtype=bool)
        regular[t < 1] = arc_length.regular(chain.controls[steps[0]], *steps[1:])
        return cls(chain, closed, s, heading, leaving, arriving, piece, t, regular)

    @property
    def once_round(self) -> float:
        """By how much the direction has turned after one round of a closed curve, in radians."""
        return float(self.chain.heading[-1, 1] + self.chain.corners[-1] - self.chain.heading[0, 0])

    def _wrapped(self, s: Array, before: bool) -> tuple[Array, Array]:
        """Return arc lengths put on the curve, and what the rounds taken off have turned."""
        length, joints = self.chain.length, self.chain.s
        rounds = np.floor(s / length) if self.closed else np.zeros_like(s)
        inside = s - rounds * length if self.closed else np.clip(s, 0, length)
        near = np.searchsorted(joints, inside)
        for k in (near - 1, near):
            joint = joints[np.clip(k, 0, len(joints) - 1)]
            # s - w/2 + w/2 need not give s back: a window edge meant to lie on a joint is put there.
            inside = np.where(np.abs(inside - joint) <= 1e-11 * length, joint, inside)
        if self.closed:
            over = inside == 0 if before else inside >= length
            inside = np.where(over, length - inside, inside)
            rounds = np.where(over, rounds - 1 if before else rounds + 1, rounds)
        return inside, rounds * self.once_round if self.closed else rounds

    def heading_near(self, s: Array, before: bool) -> Array:
        """Return the running direction by interpolation in the table."""
        inside, extra = self._wrapped(s, before)
        side: Literal["left", "right"] = "left" if before else "right"
        k = np.clip(np.searchsorted(self.s, inside, side=side) - 1, 0, len(self.s) - 2)
        span = self.s[k + 1] - self.s[k]
        x = np.clip((inside - self.s[k]) / np.where(span > 0, span, 1), 0, 1)
        h0, rise = self.heading[k], self.heading[k + 1] - self.heading[k]
        turn = measure.hermite(x, rise, self.leaving[k], self.arriving[k])
        at_joint = h0 if before else self.heading[k + 1]
        return np.where(span > 0, h0 + turn, at_joint) + extra

    def piece_and_parameter(self, s: Array, before: bool) -> tuple[IntArray, Array]:
        """Return piece and parameter at each arc length, by way of the table where that is exact."""
        side: Literal["left", "right"] = "left" if before else "right"
        k = np.clip(np.searchsorted(self.s, s, side=side) - 1, 0, len(self.s) - 2)
        k -= self.t[k] == 1  # beyond the last joint
        piece, t, quick = self.piece[k], np.zeros(len(s)), self.regular[k]
        at = k[quick]
        span = self.s[at + 1] - self.s[at]
        t[quick] = arc_length.inverse_regular(
            self.chain.controls[self.piece[at]],
            self.t[at],
            self.t[at + 1],
            np.clip(s[quick] - self.s[at], 0, span),
            span,
        )
        if not quick.all():
            t[~quick] = self.chain.locate(s[~quick], before)[1]
        return piece, t

    def heading_exact(self, s: Array, before: bool) -> Array:
        """Return the running direction exactly (slower)."""
        inside, extra = self._wrapped(s, before)
        piece, t = self.piece_and_parameter(inside, before)
        chain = self.chain
        turn = measure.turn_within(chain.u[piece], chain.v[piece], np.zeros(len(t)), t)
        heading: Array = chain.heading[piece, 0] + turn + extra
        return heading

    def over(self, s: Array, window: float, exact: bool = False) -> Array:
        """Return the turn in radians (right positive) over the window centred at each ``s``.

        Where an edge of the window lies on a corner, the corner counts or not, whichever turns more.
        """
        heading = self.heading_exact if exact else self.heading_near
        low, high = s - window / 2, s + window / 2
        edges = np.concatenate([low, high])
        after = heading(edges, False).reshape(2, -1)
        turn: Array = after[1] - after[0]
        at = self._at_kink(edges).reshape(2, -1).any(axis=0)
        if at.any():
            before = heading(np.concatenate([low[at], high[at]]), True).reshape(2, -1)
            options = np.stack([h - b for h in (after[1, at], before[1]) for b in (after[0, at], before[0])])
            turn[at] = options[np.abs(options).argmax(axis=0), np.arange(options.shape[1])]
        return turn

    def _at_kink(self, s: Array) -> NDArray[np.bool_]:
        """Whether each arc length lies on a joint that turns at all."""
        length = self.chain.length
        joints = self.chain.s[np.abs(self.chain.corners) > 1e-9]  # below that it is rounding
        if not joints.size:
            return np.zeros(len(s), dtype=bool)
        inside = s % length if self.closed else s
        k = (
            np.clip(np.searchsorted(joints, inside), 1, len(joints) - 1)
            if len(joints) > 1
            else np.zeros(len(s), int)
        )
        gap = np.minimum(np.abs(inside - joints[k]), np.abs(inside - joints[k - 1]))
        if self.closed:
            gap = np.minimum(gap, np.minimum(inside, length - inside))
        near: NDArray[np.bool_] = gap <= 1e-10 * length
        return near

    def positions(self, window: float) -> Array:
        """Return the window centres worth trying, in order: edges on nodes, and an even spread.

        The spread is in eighths of a window, or coarser where the curve is longer than thousands of windows.
        """
        length = self.chain.length
        low, high = (0.0, length) if self.closed else (window / 2, length - window / 2)
        count = int(min(max(8 * length / window, 64), _MOST_POSITIONS))
        joints = self.chain.s
        spread = [np.linspace(low, high, count), joints - window / 2, joints + window / 2, self.s]
        if len(self.s) < _MOST_POSITIONS:
            spread += [self.s - window / 2, self.s + window / 2]
        s = np.concatenate(spread)
        return np.unique(s % length if self.closed else np.clip(s, low, high))


def sharpest_window(turning: Turning, window: float) -> tuple[float, float]:
    """Return the largest turn (rad, signed) over any window of that length, and the ``s`` at its middle."""
    if window >= turning.chain.length:
        return _whole(turning, window)
    return _sharpest(turning, window, *_rough(turning, window))


def _rough(turning: Turning, window: float) -> tuple[Array, Array]:
    """Return the window centres worth trying, and the size of the turn at each by interpolation."""
    s = turning.positions(window)
    return s, np.abs(turning.over(s, window))


def _sharpest(turning: Turning, window: float, s: Array, rough: Array) -> tuple[float, float]:
    """Return the largest turn and its place, from the turns at the positions tried."""
    peaks, centre, height = _highest(turning, window, s, rough)
    best = np.argsort(-height, kind="stable")[:_MOST_PEAKS]
    # The best of a smooth maximum lies between the neighbours of the best position.
    reach = np.maximum(np.diff(s, prepend=s[0] - window), np.diff(s, append=s[-1] + window))[peaks[best]]
    centre = np.concatenate([centre[best], _tie_middles(turning, s, rough)])
    turn = turning.over(centre, window, exact=True)
    step = np.full(len(centre), window / 16)
    step[: len(best)] = np.clip(reach, 1e-3 * window, window / 16)
    quiet = 0
    for _ in range(_ROUNDS):
        most = np.abs(turn).max()
        centre, turn, step = _polished(turning, window, centre, turn, step)
        # On a smooth maximum two or three rounds do; only an edge on a sudden change of bend takes them all.
        quiet = quiet + 1 if np.abs(turn).max() <= most * (1 + 1e-13) else 0
        if quiet == 3:
            break
    # Of equals the last: the middle of the longest stretch that turns alike, or the corner itself.
    top = int(np.flatnonzero(np.abs(turn) >= np.abs(turn).max() * (1 - 1e-9))[-1])
    return float(turn[top]), float(centre[top] % turning.chain.length if turning.closed else centre[top])


def _highest(turning: Turning, window: float, s: Array, rough: Array) -> tuple[IntArray, Array, Array]:
    """Return every local maximum that could win once it is evaluated exactly: its position, its top, its height."""
    peaks, centre = _peaks(turning, window, s, rough)
    close = rough[peaks] >= rough.max() * (1 - _NEAR) - 1e-9
    peaks, centre = peaks[close], centre[close]
    height, moved = rough[peaks], np.flatnonzero(centre != s[peaks])
    height[moved] = np.abs(turning.over(centre[moved], window))
    worse = height < rough[peaks]
    return peaks, np.where(worse, s[peaks], centre), np.where(worse, rough[peaks], height)


def _peaks(turning: Turning, window: float, s: Array, size: Array) -> tuple[IntArray, Array]:
    """Return the positions of local maxima, and the top of the parabola through each and positions beside it.

    Where that is no higher the top is the position itself. At an end of an open curve the parabola is its
    neighbour's.
    """
    outer, outer_size = _continued(turning, s), _continued(turning, size, 0.0)
    peaks = np.flatnonzero((size >= outer_size[:-2]) & (size >= outer_size[2:]))
    # Positions nearer together than this tell no slope.
    gap = 1e-6 * window
    if outer[-1] - outer[0] < 4 * gap:  # a curve hardly longer than the window
        return peaks, s[peaks]
    first, last = np.searchsorted(outer, outer[0] + gap), np.searchsorted(outer, outer[-1] - gap, "right") - 1
    k = np.clip(peaks + 1, first, last)
    left = np.maximum(np.searchsorted(outer, outer[k] - gap, "right") - 1, 0)
    right = np.minimum(np.searchsorted(outer, outer[k] + gap), len(outer) - 1)
    before, after = outer[k] - outer[left], outer[right] - outer[k]
    up, down = (outer_size[k] - outer_size[left]) / before, (outer_size[k] - outer_size[right]) / after
    bow = (up + down) / (before + after)
    slope = up - bow * before
    higher = (bow > 0) & (slope**2 > 4e-9 * bow * np.abs(outer_size[k]))
    top = outer[k] + slope / np.where(higher, 2 * bow, 1)
    return peaks, np.where(higher, np.clip(top, outer[left], outer[right]), s[peaks])


def _tie_middles(turning: Turning, s: Array, rough: Array) -> Array:
    """Return where to report a bend that is equally tight over a stretch: its middle, or the corner in it."""
    level = rough >= rough.max() * (1 - 1e-6)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], level, [False]])))
    starts, ends = edges[::2], edges[1::2] - 1
    longest = int(np.argmax(s[ends] - s[starts]))
    low, high = s[starts[longest]], s[ends[longest]]
    sharpest = int(np.argmax(np.abs(turning.chain.corners)))
    corner = turning.chain.s[sharpest]
    if abs(turning.chain.corners[sharpest]) >= CORNER and s[0] <= corner <= s[-1]:
        return np.array([(low + high) / 2, corner])
    return np.array([(low + high) / 2])


def _polished(
    turning: Turning, window: float, centre: Array, turn: Array, step: Array
) -> tuple[Array, Array, Array]:
    """Move each centre to the top of the parabola through its neighbours, where that is higher."""
    low, high = (-np.inf, np.inf) if turning.closed else (window / 2, turning.chain.length - window / 2)
    left, right = np.clip(centre - step, low, high), np.clip(centre + step, low, high)
    beside = turning.over(np.concatenate([left, right]), window, exact=True).reshape(2, -1)
    rise, fall = np.abs(turn) - np.abs(beside)
    both = rise + fall
    top = centre + np.where(both > 0, step * (rise - fall) / np.where(both > 0, 2 * both, 1), 0.0)
    top = np.clip(top, low, high)
    trial = np.stack([centre, top, left, right])
    turns = np.vstack([turn, turning.over(top, window, exact=True), beside])
    # Where all turn alike, but for rounding, stay.
    size = np.abs(turns) * np.array([[1 + 1e-13], [1], [1], [1]])
    pick = size.argmax(axis=0), np.arange(len(centre))
    # Where the parabola told the top it is nearly there; else go on in small steps.
    return trial[pick], turns[pick], step / np.where(pick[0] == 1, 10.0, 2.5)


def _whole(turning: Turning, window: float) -> tuple[float, float]:
    """Return the turn of a curve no longer than its window, scaled so that ``window / turn`` is its radius."""
    chain = turning.chain
    turn = turning.once_round if turning.closed else chain.heading[-1, 1] - chain.heading[0, 0]
    turn = turn if abs(turn) > 1e-12 else 0.0  # rounding of straight lines
    return float(turn * window / chain.length), chain.length / 2


def windowed_turn(turning: Turning, s: Array, window: float) -> Array:
    """Return the turn (rad, signed, scaled like the window) felt at each ``s``; windows stay inside an open curve."""
    length = turning.chain.length
    if window >= length:
        return np.full(len(s), _whole(turning, window)[0])
    centre = s if turning.closed else np.clip(s, window / 2, length - window / 2)
    return turning.over(centre, window, exact=True)


def least_radii(turning: Turning, windows: Array) -> Array:
    """Return the least working radius for each window by interpolation in the table, infinite where straight."""
    radii = np.empty(len(windows))
    for k, window in enumerate(windows.tolist()):
        if window >= turning.chain.length:
            turn = abs(_whole(turning, window)[0])
        else:
            turn = _highest(turning, window, *_rough(turning, window))[2].max()
        radii[k] = window / turn if turn > 1e-12 else np.inf
    return radii


def tight_stretches(turning: Turning, radius: float, window: float) -> list[tuple[float, float]]:
    """Return the stretches ``(s0, s1)`` whose working radius is below ``radius``; over the start, ``s1 < s0``."""
    length = turning.chain.length
    limit = window / radius
    if window >= length:
        return [(0.0, length)] if abs(_whole(turning, window)[0]) > limit else []
    s, over = _told_apart(turning, window, limit)
    if not over.any():
        return []
    if over.all():
        return [(0.0, length)]
    edges = np.flatnonzero(np.diff(np.concatenate([[False], over, [False]])))
    first, last, outer = edges[::2], edges[1::2] - 1, _continued(turning, s)
    inside, outside = np.append(s[first], s[last]), np.append(outer[first], outer[last + 2])
    starts, ends = _limits(turning, inside, outside, window, limit).reshape(2, -1)
    if not turning.closed:
        # Up to half a window from an end, the window there stands for what is nearer to the end.
        starts, ends = np.where(first == 0, 0.0, starts), np.where(last == len(s) - 1, length, ends)
    elif over[0] and over[-1]:
        starts, ends = np.append(starts[-1], starts[1:-1]), ends[:-1]
    if turning.closed:
        starts, ends = starts % length, np.where(ends > length, ends - length, ends)
    return list(zip(starts.tolist(), ends.tolist(), strict=True))


def _told_apart(turning: Turning, window: float, limit: float) -> tuple[Array, NDArray[np.bool_]]:
    """Return positions in order, and which of them turn by more than the limit.

    Among them are the sharpest window, and the tops of what rises over the limit, or falls below it, only between two
    of the positions tried.
    """
    s, rough = _rough(turning, window)
    over = rough > limit
    sharpest = _sharpest(turning, window, s, rough)[1]
    near = np.abs(rough - limit) <= _NEAR * limit
    more = np.array([sharpest])
    for way in (1, -1):
        peaks, tops = _peaks(turning, window, s, way * rough)
        missed = near[peaks] & (over[peaks] != (way == 1)) & (tops != s[peaks])
        more = np.append(more, tops[missed])
    more = more % turning.chain.length if turning.closed else more
    more_over = np.abs(turning.over(more, window, exact=True)) > limit
    s, over = np.concatenate([more, s]), np.concatenate([more_over, over])
    s, order = np.unique(s, return_index=True)
    return s, over[order]


def _continued(turning: Turning, values: Array, once_round: float | None = None) -> Array:
    """Return values at positions with one more at either end: the next round's, or the last again on an open curve.

    ``once_round`` is by how much the values grow in a round; for arc lengths by the length.
    """
    if not turning.closed:
        return np.concatenate([values[:1], values, values[-1:]])
    rise = turning.chain.length if once_round is None else once_round
    return np.concatenate([values[-1:] - rise, values, values[:1] + rise])


def _limits(turning: Turning, inside: Array, outside: Array, window: float, limit: float) -> Array:
    """Return where the turn passes the limit between positions that are over it and positions that are not.

    By halving, because at a corner the turn jumps; to a millionth of their distance.
    """
    for _ in range(20):
        middle = (inside + outside) / 2
        over = np.abs(turning.over(middle, window, exact=True)) > limit
        inside, outside = np.where(over, middle, inside), np.where(over, outside, middle)
    return inside
