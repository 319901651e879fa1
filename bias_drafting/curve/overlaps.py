"""Overlaps: stretches along which two curves, or two stretches of one, run as a single line."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve import touches
from bias_drafting.curve.patches import linked

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from bias_drafting.curve.contacts import Contacts
    from bias_drafting.curve.patches import Side, Spans

    Array = NDArray[np.float64]
    BoolArray = NDArray[np.bool_]
    IntArray = NDArray[np.intp]

__all__ = ["Overlap", "find_overlaps"]

# The radius in mm of the flattest bend that touches a straight line in a point. Its arc is within a millionth of a
# millimetre of the line for 1 mm; what is near for longer runs together.
_FLATTEST = 125_000.0
# Shorter stretches are overlaps too if all but their tenths at both ends are this share of the tolerance apart or
# less: lines that touch or cross part much sooner.
_CLOSE = 1 / 16
# Along each stretch the gap is looked at so far along it.
_SHARES = np.array([0.0, 0.25, 0.5, 0.75, 1.0])
# Halving a stretch this often leaves no more than rounding of its end open.
_HALVINGS = 40
# In tolerances, how far past a corner at which two lines part they may still be within the tolerance.
_PAST = 4.0
# In tolerances, the length below which nothing is called a stretch.
_SHORTEST = 100.0


@dataclass(frozen=True, slots=True)
class Overlap:
    """A stretch along which two curves are one line, within the tolerance.

    Attributes
    ----------
    s0, s1
        Arc length in mm along this curve at which it begins and ends. On a closed curve a stretch that runs over
        the start has ``s1 < s0``; the whole of it is ``s0 = s1``, or from 0 to its length.
    other_s0, other_s1
        The places on the other curve that belong to ``s0`` and ``s1``.
    same_way
        Whether the other curve runs along the stretch the same way: from ``other_s0`` forward to ``other_s1``. Where
        it does not, from ``other_s1`` forward to ``other_s0``.
    """

    s0: float
    s1: float
    other_s0: float
    other_s1: float
    same_way: bool

    def mirrored(self) -> Overlap:
        """Return the same stretch seen from the other curve."""
        if self.same_way:
            return Overlap(self.other_s0, self.other_s1, self.s0, self.s1, True)
        return Overlap(self.other_s1, self.other_s0, self.s1, self.s0, False)


def find_overlaps(
    a: Side, b: Side, contacts: Contacts, spans: Spans, tolerance: float, itself: bool
) -> tuple[tuple[Overlap, ...], BoolArray]:
    """Return the overlaps, and which contacts ``(n,)`` are part of one."""
    stretches = np.isnan(contacts.sine)
    if itself:
        # Between pieces shorter than the tolerance a curve runs along beside itself.
        stretches &= ~(contacts.same_way & spans.beside_itself(a.around))
    gaps = np.full((len(_SHARES), len(stretches)), np.inf)
    gaps[:, stretches] = [_beside(a, b, contacts.take(stretches), share)[2] for share in _SHARES]
    stretches &= gaps.min(axis=0) <= tolerance
    part = np.zeros(len(stretches), dtype=bool)
    found: list[Overlap] = []
    for same_way in (True, False):
        some = np.flatnonzero(stretches & (contacts.same_way == same_way))
        if not len(some):
            continue
        label = linked(spans.boxes[some], np.arange(len(some)), len(some), spans.pad)
        kept = _run_together(spans, gaps, some, label, tolerance)[label]
        part[some[kept]] = True
        first, last = _outermost(spans, some[kept], label[kept])
        starts = _trimmed(a, b, contacts.take(first), gaps[:, first], tolerance)
        ends = _trimmed(a, b, contacts.take(last), gaps[::-1, last], tolerance, backward=True)
        rows = zip(*(column.tolist() for column in (starts[0], ends[0], starts[1], ends[1])), strict=True)
        found += [Overlap(s0, s1, o0, o1, same_way) for s0, s1, o0, o1 in rows]
    found = _joined_at_seams(found, (a.around, b.around), 2 * spans.pad, itself)
    return tuple(sorted(found, key=lambda o: (o.s0, o.other_s0))), part


def _beside(a: Side, b: Side, contacts: Contacts, share: Array | float) -> tuple[Array, Array, Array]:
    """Return both parameters and the gap between the curves, a given share of the way along each contact."""
    p, q = a.moved[a.arcs.piece[contacts.i]], b.moved[b.arcs.piece[contacts.j]]
    t = contacts.a0 + share * (contacts.a1 - contacts.a0)
    place = touches.followed(p, t)[0]
    guess = contacts.b0 + share * (contacts.b1 - contacts.b0)
    within = np.minimum(contacts.b0, contacts.b1), np.maximum(contacts.b0, contacts.b1)
    u = touches.foot(q, place, guess, within)
    return t, u, np.abs(place - touches.followed(q, u)[0])


def _run_together(spans: Spans, gaps: Array, some: IntArray, label: IntArray, tolerance: float) -> BoolArray:
    """Whether each chain of stretches, by its label, is an overlap."""
    count = int(label.max()) + 1
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, label, spans.s0[some])
    np.maximum.at(high, label, spans.s1[some])
    length, middle = high - low, (low + high) / 2
    s = spans.s0[some] + _SHARES[:, None] * (spans.s1 - spans.s0)[some]
    central = np.abs(s - middle[label]) <= 0.4 * length[label]
    loose = np.zeros(count, dtype=bool)
    loose[label[(central & (gaps[:, some] > _CLOSE * tolerance)).any(axis=0)]] = True
    long = length > 2 * np.sqrt(2 * _FLATTEST * tolerance)
    together: BoolArray = long | (~loose & (length > _SHORTEST * tolerance))
    return together


def _outermost(spans: Spans, some: IntArray, label: IntArray) -> tuple[IntArray, IntArray]:
    """Return the first and the last contact of each chain along this curve."""
    forward = np.lexsort((spans.s0[some], label))
    first = some[forward[np.unique(label[forward], return_index=True)[1]]]
    backward = np.lexsort((-spans.s1[some], label))
    last = some[backward[np.unique(label[backward], return_index=True)[1]]]
    return first, last


def _trimmed(
    a: Side, b: Side, contacts: Contacts, gaps: Array, tolerance: float, *, backward: bool = False
) -> tuple[Array, Array]:
    """Return the arc lengths on both curves at which stretches come within the tolerance, from their outer ends."""
    inner = _SHARES[np.argmax(gaps <= tolerance, axis=0)]
    outer = np.zeros_like(inner)
    settled = gaps[0] <= tolerance
    for _ in range(_HALVINGS):
        if settled.all():
            break
        half = (inner + outer) / 2
        near = _beside(a, b, contacts, 1 - half if backward else half)[2] <= tolerance
        inner, outer = np.where(near, half, inner), np.where(near, outer, half)
    share = np.where(settled, 0.0, inner)
    t, u, _ = _beside(a, b, contacts, 1 - share if backward else share)
    if settled.any():
        t0, u0 = (contacts.a1, contacts.b1) if backward else (contacts.a0, contacts.b0)
        t, u = np.where(settled, t0, t), np.where(settled, u0, u)
    return _at_corners(a, b, contacts, t, u, _PAST * tolerance)


def _at_corners(
    a: Side, b: Side, contacts: Contacts, t: Array, u: Array, close: float
) -> tuple[Array, Array]:
    """Return ends of overlaps as arc lengths, moved to the joint where either curve turns off, if one is close.

    A little past a corner the curves are still within the tolerance.
    """
    piece, other_piece = a.arcs.piece[contacts.i], b.arcs.piece[contacts.j]
    s, joint = a.at_joints(a.s_at(piece, t), close)
    other_s, other_joint = b.at_joints(b.s_at(other_piece, u), close)
    here, there = np.isfinite(joint), np.isfinite(other_joint)
    # The place on the other curve that belongs to the joint.
    beside = touches.foot(b.moved[other_piece], np.where(here, joint, 0), u, (0.0, 1.0))
    other_beside = touches.foot(a.moved[piece], np.where(there, other_joint, 0), t, (0.0, 1.0))
    return (
        np.where(there & ~here, a.at_joints(a.s_at(piece, other_beside))[0], s),
        np.where(here & ~there, b.at_joints(b.s_at(other_piece, beside))[0], other_s),
    )


def _joined_at_seams(
    found: list[Overlap], rounds: tuple[float, float], pad: float, itself: bool
) -> list[Overlap]:
    """Join overlaps that run on over the start of a closed curve, whose lengths are ``rounds``; inf if open."""

    def at_start(s: float, around: float) -> bool:
        return bool(np.isfinite(around)) and min(abs(s), abs(s - around)) <= pad

    def reaches_start(o: Overlap) -> bool:
        here, there = rounds
        return any(at_start(s, here) for s in (o.s0, o.s1)) or any(
            at_start(s, there) for s in (o.other_s0, o.other_s1)
        )

    # The others, however many, join nothing.
    some = [o for o in found if reaches_start(o)]
    return [o for o in found if not reaches_start(o)] + _joined(some, rounds, pad, itself)


def _joined(found: list[Overlap], rounds: tuple[float, float], pad: float, itself: bool) -> list[Overlap]:
    """Join overlaps of which one begins, along both curves, where another ends."""

    def same(x: float, y: float, around: float) -> bool:
        return min(abs(x - y), abs(abs(x - y) - around)) <= pad

    def whole(o: Overlap) -> bool:
        return abs(o.s1 - o.s0) >= rounds[0] - pad or abs(o.other_s1 - o.other_s0) >= rounds[1] - pad

    def follows(one: Overlap, other: Overlap) -> bool:
        if whole(one) or whole(other):
            return False
        on = same(one.s1, other.s0, rounds[0]) and same(one.other_s1, other.other_s0, rounds[1])
        return on and one.same_way == other.same_way

    left, joined = sorted(found, key=lambda o: (o.s0, o.other_s0)), []
    while left:
        run = left.pop(0)
        grown = True
        while grown:
            grown = False
            for other in left:
                for way in (other, other.mirrored()) if itself else (other,):
                    if follows(run, way):
                        run = replace(run, s1=way.s1, other_s1=way.other_s1)
                    elif follows(way, run):
                        run = replace(run, s0=way.s0, other_s0=way.other_s0)
                    else:
                        continue
                    grown = True
                    break
                if grown:
                    left.remove(other)
                    break
        joined.append(run)
    return joined
