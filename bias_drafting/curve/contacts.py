"""Where two gentle arcs come within a tolerance of each other: crossings, and stretches run together.

Along the line half way between their directions both arcs are graphs, and the gap between the graphs is a function
of one variable. On a stretch that both share, the difference of the two cubics bounds the gap from both sides: for
the gap is that difference, less what the slope of one arc makes of the slip along the line. Where the bounds leave
it open whether the arcs cross, run together or stay apart, the stretch is halved. The bounds close in with the
fourth power of the stretch for curves that run alongside each other, so neither lines drawn twice nor lines a hair
apart cost much.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve import bezier, touches
from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from bias_drafting.curve.arcs import Arcs

    Array = NDArray[np.float64]
    BoolArray = NDArray[np.bool_]
    ComplexArray = NDArray[np.complex128]
    IntArray = NDArray[np.intp]

__all__ = ["Contacts", "find_contacts"]

# Slopes that differ by less are too nearly the same for a crossing to be told from running together.
_STEEP = 1e-3
# No slope is more than tan 60 degrees, and across such a slope the gap is twice the distance.
_SLANT = 2.0
# Stretches are halved this often at most, and so many are looked at in one go at most. Each halving settles all but
# the few that straddle a tolerance, so only an error of ours comes this far.
_LEVELS = 100
_MOST_STRETCHES = 5_000_000


@dataclass(frozen=True, slots=True, eq=False)
class Contacts:
    """Where arcs of one curve ``a`` meet arcs of another ``b``, or come near enough to be looked at: arrays ``(n,)``.

    Attributes
    ----------
    i, j
        The arcs.
    a0, a1, b0, b1
        Between which parameters of their pieces the two are near; ``a0 <= a1``, and ``b0`` belongs to ``a0``. Equal
        for a crossing.
    same_way
        Whether the two arcs run the same way, within 90 degrees.
    sine
        Of the angle at a crossing, or a little less; NaN for a stretch along which the two are near.
    """

    i: IntArray
    j: IntArray
    a0: Array
    a1: Array
    b0: Array
    b1: Array
    same_way: BoolArray
    sine: Array

    def take(self, which: IntArray | BoolArray) -> Contacts:
        """Return some of them."""
        return Contacts(*(getattr(self, f.name)[which] for f in fields(self)))

    @classmethod
    def joined(cls, parts: list[Contacts]) -> Contacts:
        """Return several lots as one."""
        return cls(*(np.concatenate([getattr(part, f.name) for part in parts]) for f in fields(cls)))


@dataclass(frozen=True, slots=True, eq=False)
class _Stretches:
    """Stretches that two graphs share: which pair ``(n,)``, and both ranges of parameters."""

    pair: IntArray
    a0: Array
    a1: Array
    b0: Array
    b1: Array

    def take(self, which: IntArray | BoolArray) -> _Stretches:
        return _Stretches(self.pair[which], self.a0[which], self.a1[which], self.b0[which], self.b1[which])

    @classmethod
    def joined(cls, parts: list[_Stretches]) -> _Stretches:
        return cls(*(np.concatenate([getattr(part, f.name) for part in parts]) for f in fields(cls)))


def find_contacts(a: Arcs, b: Arcs, i: IntArray, j: IntArray, tolerance: float, noise: float) -> Contacts:
    """Return the contacts of pairs of arcs, each within ``tolerance`` mm.

    ``noise`` is what the rounding of the coordinates comes to, in mm. Nothing nearer than the tolerance is left out;
    what is some two times as far may be reported too.

    Raises
    ------
    CurveError
        More work than any two curves should make.
    """
    graph_a, graph_b, same_way = _graphs(a, b, i, j)
    stretches, misses = _shared(graph_a, graph_b, tolerance)
    found = [(misses, np.full(len(misses.pair), np.nan))]
    for _ in range(_LEVELS):
        if not len(stretches.pair):
            break
        if len(stretches.pair) > _MOST_STRETCHES:
            msg = f"the curves run near each other along more than {_MOST_STRETCHES} stretches; nothing was decided"
            raise CurveError(msg)
        settled, sine, stretches = _sorted_out(graph_a, graph_b, stretches, tolerance, noise)
        found.append((settled, sine))
    else:
        msg = f"whether two curves meet could not be decided in {_LEVELS} halvings"
        raise CurveError(msg)
    return Contacts.joined([_of_pieces(a, b, i, j, same_way, part, sine) for part, sine in found])


def _of_pieces(
    a: Arcs, b: Arcs, i: IntArray, j: IntArray, same_way: BoolArray, found: _Stretches, sine: Array
) -> Contacts:
    """Return stretches of pairs of graphs as stretches of the pieces they were cut from."""
    i, j, same = i[found.pair], j[found.pair], same_way[found.pair]

    def on_piece(arcs: Arcs, k: IntArray, t: Array) -> Array:
        inside = arcs.t0[k] + (arcs.t1[k] - arcs.t0[k]) * t
        return np.where(t == 1, arcs.t1[k], inside)

    b0, b1 = (np.where(same, t, 1 - t) for t in (found.b0, found.b1))
    return Contacts(
        i,
        j,
        on_piece(a, i, found.a0),
        on_piece(a, i, found.a1),
        on_piece(b, j, b0),
        on_piece(b, j, b1),
        same,
        sine,
    )


def _graphs(a: Arcs, b: Arcs, i: IntArray, j: IntArray) -> tuple[Array, Array, BoolArray]:
    """Return both arcs of each pair ``(n, 4, 2)`` seen along the line half way between them, x running forward.

    An arc of ``b`` that runs against its partner is turned round.
    """
    first, second = a.heading[i], b.heading[j]
    same_way = (np.conj(first) * second).real >= 0
    axis = first + np.where(same_way, second, -second)
    turn = np.conj(axis / np.abs(axis))[:, None]
    origin = a.controls[i][:, :1]
    seen_a = (a.controls[i] - origin) * turn
    seen_b = (b.controls[j] - origin) * turn
    seen_b = np.where(same_way[:, None], seen_b, seen_b[:, ::-1])
    graph_a, graph_b = (np.stack([z.real, z.imag], axis=-1) for z in (seen_a, seen_b))
    return graph_a, graph_b, same_way


def _shared(a: Array, b: Array, tolerance: float) -> tuple[_Stretches, _Stretches]:
    """Return the stretches that both graphs of each pair share, and pairs of ends that only just miss each other."""
    low = np.maximum(a[:, 0, 0], b[:, 0, 0])
    high = np.minimum(a[:, 3, 0], b[:, 3, 0])
    pair = np.flatnonzero(low <= high)
    low_here, high_here = low[pair], high[pair]
    shared = _Stretches(
        pair,
        _parameter_at(a[pair, :, 0], low_here),
        _parameter_at(a[pair, :, 0], high_here),
        _parameter_at(b[pair, :, 0], low_here),
        _parameter_at(b[pair, :, 0], high_here),
    )
    miss = np.flatnonzero((low > high) & (low <= high + _SLANT * tolerance))
    a_first = (a[miss, 3, 0] < b[miss, 0, 0]).astype(float)  # 1 where a ends before b begins
    gap = np.where(a_first[:, None] == 1, a[miss, 3] - b[miss, 0], a[miss, 0] - b[miss, 3])
    near = np.hypot(*gap.T) <= _SLANT * tolerance
    miss, a_first = miss[near], a_first[near]
    return shared, _Stretches(miss, a_first, a_first, 1 - a_first, 1 - a_first)


def _parameter_at(x: Array, target: Array) -> Array:
    """Return where each rising cubic with Bernstein coefficients ``x`` ``(n, 4)`` takes its target, within [0, 1].

    Newton's steps from the straight line, kept inside a shrinking bracket; exact at both ends.
    """
    span = x[:, 3] - x[:, 0]
    t = np.clip((target - x[:, 0]) / np.where(span > 0, span, 1.0), 0.0, 1.0)
    t = np.where(target >= x[:, 3], 1.0, np.where(target <= x[:, 0], 0.0, t))
    close = 4e-16 * np.abs(x).max(axis=1, initial=0.0)
    low, high = np.zeros_like(t), np.ones_like(t)
    active = np.flatnonzero((t > 0) & (t < 1))
    for _ in range(100):
        here, p = t[active], x[active]
        u = 1 - here
        d0, d1, d2 = p[:, 1] - p[:, 0], p[:, 2] - p[:, 1], p[:, 3] - p[:, 2]
        miss = u * u * u * p[:, 0] + 3 * u * here * (u * p[:, 1] + here * p[:, 2]) + here**3 * p[:, 3]
        miss -= target[active]
        slope = 3 * (d0 * u * u + 2 * d1 * u * here + d2 * here * here)
        low[active] = np.where(miss < 0, here, low[active])
        high[active] = np.where(miss < 0, high[active], here)
        open_ = (np.abs(miss) > close[active]) & (high[active] - low[active] > 1e-16)
        active, here, miss, slope = active[open_], here[open_], miss[open_], slope[open_]
        if not active.size:
            break
        with np.errstate(divide="ignore", invalid="ignore"):
            step = here - miss / slope
        inside = (step > low[active]) & (step < high[active])
        t[active] = np.where(inside, step, (low[active] + high[active]) / 2)
    return t


def _sorted_out(
    graph_a: Array, graph_b: Array, where: _Stretches, tolerance: float, noise: float
) -> tuple[_Stretches, Array, _Stretches]:
    """Return the contacts settled among stretches, the sines of their angles, and halves of what is open."""
    a = bezier.subsegments(graph_a[where.pair], where.a0, where.a1)
    b = bezier.subsegments(graph_b[where.pair], where.b0, where.b1)
    slopes_a, slopes_b = _slopes(a, noise), _slopes(b, noise)
    low, high = _gap_bounds(a, b, slopes_a, slopes_b)
    parting = np.maximum(slopes_b[0] - slopes_a[1], slopes_a[0] - slopes_b[1])
    steep = parting > _STEEP
    # The gap then grows or shrinks all along, and its ends bound it.
    ends = b[:, [0, 3], 1] - a[:, [0, 3], 1]
    low, high = np.where(steep, ends.min(axis=1), low), np.where(steep, ends.max(axis=1), high)
    # Across slopes the gap is wider than the distance.
    steepest = np.abs([*slopes_a, *slopes_b]).max(axis=0)
    reach = tolerance * np.hypot(1.0, steepest)
    apart = (low > reach) | (high < -reach)
    crosses = steep & (low <= 0) & (high >= 0)
    together = ~apart & ~crosses & (low >= -2 * reach) & (high <= 2 * reach)
    at = np.flatnonzero(crosses)
    t, u, sine, met = _crossings(a[at], b[at], ends[at], noise)
    settled = [where.take(together), _at(where, at[met], t[met], u[met])]
    sines = [np.full(np.count_nonzero(together), np.nan), np.maximum(sine, parting[at] / 4)[met]]
    still_open = ~(apart | crosses | together)
    still_open[at[~met]] = True
    return (
        _Stretches.joined(settled),
        np.concatenate(sines),
        _halved(a[still_open], b[still_open], where.take(still_open)),
    )


def _slopes(graph: Array, noise: float) -> tuple[Array, Array]:
    """Return the least and the greatest slope of each graph: its tangents lie between the legs of its polygon."""
    dx, dy = np.moveaxis(np.diff(graph, axis=1), 2, 0)
    sized = dx > noise
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = dy / dx
    low = np.where(sized, slope, np.inf).min(axis=1)
    high = np.where(sized, slope, -np.inf).max(axis=1)
    # Of a graph too short to have a slope it is known that it is gentle.
    short = ~sized.any(axis=1)
    return np.where(short, -_SLANT, low), np.where(short, _SLANT, high)


def _gap_bounds(
    a: Array, b: Array, slopes_a: tuple[Array, Array], slopes_b: tuple[Array, Array]
) -> tuple[Array, Array]:
    """Return bounds of the gap ``b - a`` over the stretch that both graphs share."""
    difference = b - a
    calmer = (slopes_a[1] - slopes_a[0]) < (slopes_b[1] - slopes_b[0])
    low = np.where(calmer, slopes_a[0], slopes_b[0])
    high = np.where(calmer, slopes_a[1], slopes_b[1])
    slip = difference[..., 0]
    gap = difference[..., 1] - ((low + high) / 2)[:, None] * slip
    stray = (high - low) / 2 * np.abs(slip).max(axis=1)
    return gap.min(axis=1) - stray, gap.max(axis=1) + stray


def _at(where: _Stretches, which: IntArray, t: Array, u: Array) -> _Stretches:
    """Return single places on some of the stretches, given by parameters from 0 to 1 along each."""
    a0, a1, b0, b1 = where.a0[which], where.a1[which], where.b0[which], where.b1[which]
    at_a = np.where(t == 1, a1, a0 + (a1 - a0) * t)
    at_b = np.where(u == 1, b1, b0 + (b1 - b0) * u)
    return _Stretches(where.pair[which], at_a, at_a, at_b, at_b)


def _crossings(a: Array, b: Array, ends: Array, noise: float) -> tuple[Array, Array, Array, BoolArray]:
    """Return both parameters of each crossing, the sine of its angle, and whether it was met.

    Where it was not, the stretch is still too bent for the straight line between the gaps at its ``ends`` ``(n, 2)``
    to be a good start.
    """
    p, q = bezier.as_complex(a), bezier.as_complex(b)
    change = ends[:, 0] - ends[:, 1]
    guess = np.clip(ends[:, 0] / np.where(change == 0, 1.0, change), 0.0, 1.0)
    t, u = touches.crossing(p, q, guess, guess, (0.0, 1.0), (0.0, 1.0))
    (at_a, along_a, _), (at_b, along_b, _) = touches.followed(p, t), touches.followed(q, u)
    size = np.abs(along_a) * np.abs(along_b)
    sine = np.abs((np.conj(along_a) * along_b).imag) / np.where(size > 0, size, 1.0)
    return t, u, sine, np.abs(at_a - at_b) <= 16 * noise


def _halved(a: Array, b: Array, where: _Stretches) -> _Stretches:
    """Return both halves of each stretch, cut at the same place of both graphs."""
    half = np.full(len(where.pair), 0.5)
    u = _parameter_at(b[..., 0], bezier.evaluate(a, half)[:, 0])
    mid = _at(where, np.arange(len(half)), half, u)
    return _Stretches(
        np.tile(where.pair, 2),
        np.concatenate([where.a0, mid.a0]),
        np.concatenate([mid.a0, where.a1]),
        np.concatenate([where.b0, mid.b0]),
        np.concatenate([mid.b0, where.b1]),
    )
