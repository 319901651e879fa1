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
# At most this many local maxima are polished; the others are lower by more than interpolation can err.
_MOST_PEAKS = 6
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
    if not closed:
        changed[:1] = False
    joint = chain.s[piece]
    run = arc_length.partial_lengths(chain.controls[piece], np.zeros(len(piece)), edges[piece, part])
    # Where a straight stretch lies between, or a corner, the bend before has ended earlier.
    ended = chain.s[piece[before]] + arc_length.partial_lengths(
        chain.controls[piece[before]], np.zeros(len(piece)), edges[piece[before], part[before] + 1]
    )
    at_corner = (part == 0) & (np.abs(chain.corners[piece]) >= CORNER)
    changed &= ~at_corner
    return np.sort(np.where(ended < joint + run, ended, joint + run)[changed])


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
    s, heading, bend
        Arc length, running direction (rad) and curvature (1/mm) at the nodes, piece after piece; a joint appears
        twice, with the direction before it and after it.
    piece, t
        Which piece each node lies on, and where on it.
    regular
        Whether arc length from each node to the next follows from one quadrature rule.
    """

    chain: Chain
    closed: bool
    s: Array
    heading: Array
    bend: Array
    piece: IntArray
    t: Array
    regular: NDArray[np.bool_]

    @classmethod
    def of(cls, chain: Chain, closed: bool) -> Turning:
        """Tabulate a measured curve."""
        piece, t0, t1 = measure.followed_steps(chain, _NODES)
        regular = arc_length.regular(chain.controls[piece], t0, t1)
        arc = arc_length.partial_lengths(chain.controls[piece], t0, t1)
        arc *= (np.diff(chain.s) / np.bincount(piece, arc))[piece]
        run = np.cumsum(arc) - arc
        every = np.arange(len(chain.controls))
        first = np.searchsorted(piece, every)
        # The last node of each piece is the joint itself, to the last bit.
        last = np.append(first[1:], len(piece))
        s = np.insert(chain.s[piece] + (run - run[first][piece]), last, chain.s[1:])
        t, piece = np.insert(t0, last, 1.0), np.insert(piece, last, every)
        turn = measure.turn_within(chain.u[piece], chain.v[piece], np.zeros(len(t)), t)
        bend = measure.curvature(chain.controls[piece], t)
        regular = np.insert(regular, last, False)
        return cls(chain, closed, s, chain.heading[piece, 0] + turn, bend, piece, t, regular)

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
        m0, m1 = self.bend[k] * span, self.bend[k + 1] * span
        # At a cusp or a drawn-in handle the curvature is infinite, or far larger than the turn: go straight there.
        wild = ~(np.maximum(np.abs(m0), np.abs(m1)) <= 4 * np.abs(rise) + 1e-9)
        m0, m1 = np.where(wild, rise, m0), np.where(wild, rise, m1)
        at_joint = h0 if before else self.heading[k + 1]
        return np.where(span > 0, h0 + measure.hermite(x, rise, m0, m1), at_joint) + extra

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
        """Return the window centres worth trying: edges on nodes, and an even spread of eighths of a window."""
        length = self.chain.length
        low, high = (0.0, length) if self.closed else (window / 2, length - window / 2)
        count = int(min(max(8 * length / window, 64), _MOST_POSITIONS))
        joints = self.chain.s
        spread = [np.linspace(low, high, count), joints - window / 2, joints + window / 2, self.s]
        if len(self.s) < _MOST_POSITIONS:
            spread += [self.s - window / 2, self.s + window / 2]
        s = np.concatenate(spread)
        return np.unique(np.clip(s, low, high) if not self.closed else s % length)


def sharpest_window(turning: Turning, window: float) -> tuple[float, float]:
    """Return the largest turn (rad, signed) over any window of that length, and the ``s`` at its middle."""
    length = turning.chain.length
    if window >= length:
        return _whole(turning, window)
    s = turning.positions(window)
    rough = np.abs(turning.over(s, window))
    best = rough.max()
    # Every local maximum that could still win once it is evaluated exactly.
    rising = np.concatenate([[True], rough[1:] >= rough[:-1]])
    falling = np.concatenate([rough[:-1] >= rough[1:], [True]])
    peaks = np.flatnonzero(rising & falling & (rough >= best * 0.98 - 1e-9))
    peaks = peaks[np.argsort(-rough[peaks], kind="stable")][:_MOST_PEAKS]
    centre = np.concatenate([s[peaks], _tie_middles(turning, s, rough)])
    turn = turning.over(centre, window, exact=True)
    # The best of a smooth maximum lies between the neighbours of the best position.
    reach = np.maximum(np.diff(s, prepend=s[0] - window), np.diff(s, append=s[-1] + window))[peaks]
    step = np.full(len(centre), window / 16)
    step[: len(peaks)] = np.clip(reach, 1e-3 * window, window / 16)
    quiet = 0
    for _ in range(_ROUNDS):
        best = np.abs(turn).max()
        centre, turn, step = _polished(turning, window, centre, turn, step)
        # On a smooth maximum two or three rounds do; only an edge on a sudden change of bend takes them all.
        quiet = quiet + 1 if np.abs(turn).max() <= best * (1 + 1e-13) else 0
        if quiet == 3:
            break
    # Of equals the last: the middle of the longest stretch that turns alike, or the corner itself.
    top = int(np.flatnonzero(np.abs(turn) >= np.abs(turn).max() * (1 - 1e-9))[-1])
    return float(turn[top]), float(centre[top] % length if turning.closed else centre[top])


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
    for k, window in enumerate(windows):
        if window >= turning.chain.length:
            turn = abs(_whole(turning, float(window))[0])
        else:
            turn = np.abs(turning.over(turning.positions(float(window)), float(window))).max()
        radii[k] = window / turn if turn > 1e-12 else np.inf
    return radii


def tight_stretches(turning: Turning, radius: float, window: float) -> list[tuple[float, float]]:
    """Return the stretches ``(s0, s1)`` whose working radius is below ``radius``; over the start, ``s1 < s0``."""
    length = turning.chain.length
    limit = window / radius
    if window >= length:
        return [(0.0, length)] if abs(_whole(turning, window)[0]) > limit else []
    s = turning.positions(window)
    turn = np.abs(turning.over(s, window))
    over = turn > limit
    if not over.any():
        return []
    if over.all():
        return [(0.0, length)]
    edges = np.flatnonzero(np.diff(np.concatenate([[False], over, [False]])))
    first, last = edges[::2], edges[1::2] - 1
    starts = list(_limits(turning, s[first], s[np.maximum(first - 1, 0)], window, limit))
    ends = list(_limits(turning, s[last], s[np.minimum(last + 1, len(s) - 1)], window, limit))
    if turning.closed and len(starts) > 1 and over[0] and over[-1]:
        starts[0] = starts.pop()
        ends.pop()
    elif not turning.closed:
        # Up to half a window from an end, the window there stands for what is nearer to the end.
        starts = [0.0 if a <= s[0] else a for a in starts]
        ends = [length if b >= s[-1] else b for b in ends]
    return [(float(a), float(b)) for a, b in zip(starts, ends, strict=True)]


def _limits(turning: Turning, inside: Array, outside: Array, window: float, limit: float) -> Array:
    """Return where the turn passes the limit between positions that are over it and positions that are not.

    By halving, because at a corner the turn jumps; to a millionth of their distance.
    """
    for _ in range(20):
        middle = (inside + outside) / 2
        over = np.abs(turning.over(middle, window)) > limit
        inside, outside = np.where(over, middle, inside), np.where(over, outside, middle)
    return inside
