"""Where two curves meet, or one meets itself: crossings, touchings, and stretches along which two lines are one.

All places ``(s, other_s)`` at which two curves are within a tolerance of each other form patches in the plane of the
two arc lengths. Each patch is one meeting, however many pieces and joints it takes part in: a short one is a point,
a long one, or one along which the gap all but vanishes, is an overlap. Of a curve and itself the patch round
``s = other_s`` is the curve and no meeting; only an overlap may grow out of it, where the curve folds back on itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve import bezier, measure, touches
from bias_drafting.curve.arcs import gentle_arcs, near_pairs
from bias_drafting.curve.contacts import Contacts, find_contacts
from bias_drafting.curve.overlaps import Overlap, find_overlaps
from bias_drafting.curve.patches import JOINT, Side, Spans, linked, spans_of
from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from bias_drafting.curve.measure import Chain

    Array = NDArray[np.float64]
    BoolArray = NDArray[np.bool_]
    ComplexArray = NDArray[np.complex128]
    IntArray = NDArray[np.intp]

__all__ = ["Intersection", "Meetings", "Overlap", "meetings_between", "meetings_with_itself"]

# Places this much further apart than the closest, in tolerances, are as good; of those the best kind is taken.
_AS_GOOD = 1e-3


# More than any drawing has; a tangle of so many would fill the memory.
_MOST_CONTACTS = 2_000_000


@dataclass(frozen=True, slots=True)
class Intersection:
    """A place where two curves, or two stretches of one, cross or touch.

    Attributes
    ----------
    point
        Where it is, in mm: the point of this curve at ``s``.
    s, other_s
        Arc length in mm along this curve and along the other. Where a curve meets itself, ``s`` is the smaller.
    angle
        Between the two lines there, in degrees from 0 (they touch) to 90. At a corner it is the smallest of the
        angles between the lines that meet.
    """

    point: tuple[float, float]
    s: float
    other_s: float
    angle: float


@dataclass(frozen=True, slots=True)
class Meetings:
    """All places where two curves, or two stretches of one, meet.

    Attributes
    ----------
    points
        Crossings and touchings, each once, in their order along this curve.
    overlaps
        Stretches along which the two are one line, in their order along this curve.
    """

    points: tuple[Intersection, ...]
    overlaps: tuple[Overlap, ...]


def meetings_between(
    chain: Chain, closed: bool, other: Chain, other_closed: bool, tolerance: float = 1e-6
) -> Meetings:
    """Return where two curves meet, within ``tolerance`` mm.

    Raises
    ------
    CurveError
        A tolerance that is not more than 0, or curves near each other in more places than can be gone through.
    """
    middle, noise = _common_ground([chain, other])
    a, b = (_side(c, shut, middle, noise) for c, shut in ((chain, closed), (other, other_closed)))
    return _meetings(a, b, False, _checked(tolerance, noise), noise)


def meetings_with_itself(chain: Chain, closed: bool, tolerance: float = 1e-6) -> Meetings:
    """Return where a curve meets itself, within ``tolerance`` mm; its own joints do not count.

    Raises
    ------
    CurveError
        A tolerance that is not more than 0, or a curve near itself in more places than can be gone through.
    """
    middle, noise = _common_ground([chain])
    side = _side(chain, closed, middle, noise)
    return _meetings(side, side, True, _checked(tolerance, noise), noise)


def _checked(tolerance: float, noise: float) -> float:
    """Return the tolerance, or the rounding of the coordinates where that is more."""
    if not (np.isfinite(tolerance) and tolerance > 0):
        msg = f"the tolerance of a meeting must be a length in mm, more than 0, not {tolerance!r}"
        raise CurveError(msg)
    return max(float(tolerance), 64 * noise)


def _common_ground(chains: list[Chain]) -> tuple[Array, float]:
    """Return an origin in the middle of the curves, and what the rounding of their coordinates comes to, in mm."""
    xy = np.concatenate([chain.controls.reshape(-1, 2) for chain in chains])
    middle: Array = (xy.min(axis=0) + xy.max(axis=0)) / 2
    return middle, 4e-16 * float(np.abs(xy).max())


def _side(chain: Chain, closed: bool, middle: Array, noise: float) -> Side:
    moved = chain.controls - middle
    return Side(chain, closed, bezier.as_complex(moved), gentle_arcs(moved, noise))


def _meetings(a: Side, b: Side, itself: bool, tolerance: float, noise: float) -> Meetings:
    contacts = _contacts(a, b, itself, tolerance, noise)
    if not len(contacts.i):
        return Meetings((), ())
    spans = spans_of(a, b, contacts, tolerance)
    overlaps, part = find_overlaps(a, b, contacts, spans, tolerance, itself)
    patch = _patches(a, b, spans, itself)
    spent = np.zeros(len(contacts.i), dtype=bool)
    spent[patch[part]] = True
    if itself:
        spent[patch[spans.beside_itself(a.around)]] = True
    left = np.flatnonzero(~spent[patch])
    points = _points(a, b, contacts.take(left), patch[left], tolerance, itself)
    return Meetings(tuple(sorted(points, key=lambda p: (p.s, p.other_s))), overlaps)


def _contacts(a: Side, b: Side, itself: bool, tolerance: float, noise: float) -> Contacts:
    lots, total = [], 0
    for i, j in near_pairs(a.arcs, None if itself else b.arcs, a.closed, tolerance):
        lots.append(find_contacts(a.arcs, b.arcs, i, j, tolerance, noise))
        total += len(lots[-1].i)
        if total > _MOST_CONTACTS:
            msg = f"the curves meet in more than {_MOST_CONTACTS} places, too many to tell apart"
            raise CurveError(msg)
    return Contacts.joined(lots)


def _patches(a: Side, b: Side, spans: Spans, itself: bool) -> IntArray:
    """Return the number of the patch each contact belongs to, also across the start of closed curves."""
    boxes, owner = [spans.boxes], [np.arange(len(spans.boxes))]
    if a.closed:
        over = np.flatnonzero(spans.boxes[:, 2] >= a.chain.length)
        boxes.append(spans.boxes[over] - a.chain.length * np.array([1, 0, 1, 0]))
        owner.append(over)
    if b.closed:
        boxes_now, owner_now = np.concatenate(boxes), np.concatenate(owner)
        over = np.flatnonzero(boxes_now[:, 3] >= b.chain.length)
        moved = boxes_now[over] - b.chain.length * np.array([0, 1, 0, 1])
        # What a curve meets at its end, it meets at its start, and counts from there.
        boxes.append(moved[:, [1, 0, 3, 2]] if itself else moved)
        owner.append(owner_now[over])
    return linked(np.concatenate(boxes), np.concatenate(owner), len(spans.boxes), spans.pad)


def _points(
    a: Side, b: Side, contacts: Contacts, patch: IntArray, tolerance: float, itself: bool
) -> list[Intersection]:
    """Return the one place of each patch: the closest, and of places as close as that the best kind."""
    if not len(patch):
        return []
    which, t, u, kind = _candidates(a, b, contacts)
    piece, other_piece = a.arcs.piece[contacts.i[which]], b.arcs.piece[contacts.j[which]]
    gap = np.abs(a.moved_at(piece, t) - b.moved_at(other_piece, u))
    least = np.full(int(patch.max()) + 1, np.inf)
    np.minimum.at(least, patch[which], gap)
    good = np.flatnonzero((gap <= least[patch[which]] + _AS_GOOD * tolerance) & (gap <= tolerance))
    order = good[np.lexsort((t[good], piece[good], kind[good], patch[which[good]]))]
    chosen = order[np.unique(patch[which[order]], return_index=True)[1]]
    return _intersections(a, b, piece[chosen], t[chosen], other_piece[chosen], u[chosen], itself)


def _candidates(a: Side, b: Side, contacts: Contacts) -> tuple[IntArray, Array, Array, IntArray]:
    """Return places worth looking at: which contact, both parameters, and the kind, lower numbers being better."""
    crossing = np.flatnonzero(~np.isnan(contacts.sine))
    near = np.flatnonzero(np.isnan(contacts.sine))
    some = contacts.take(near)
    p, q = a.moved[a.arcs.piece[some.i]], b.moved[b.arcs.piece[some.j]]
    t, u = touches.closest_places(
        p,
        q,
        (some.a0, some.a1),
        (some.b0, some.b1),
        (a.arcs.t0[some.i], a.arcs.t1[some.i]),
        (b.arcs.t0[some.j], b.arcs.t1[some.j]),
    )
    kind = np.repeat(np.arange(len(t)), len(near))
    return (
        np.concatenate([crossing, np.tile(near, len(t))]),
        np.concatenate([contacts.a0[crossing], t.ravel()]),
        np.concatenate([contacts.b0[crossing], u.ravel()]),
        np.concatenate([np.ones(len(crossing), dtype=np.intp), kind]),
    )


def _intersections(
    a: Side, b: Side, piece: IntArray, t: Array, other_piece: IntArray, u: Array, itself: bool
) -> list[Intersection]:
    angle = _angles(_directions(a, piece, t), _directions(b, other_piece, u))
    xy = bezier.evaluate(a.chain.controls[piece], t)
    s, other_s = _counted(a, a.s_at(piece, t)), _counted(b, b.s_at(other_piece, u))
    if itself:
        s, other_s = np.minimum(s, other_s), np.maximum(s, other_s)
    rows = zip(xy.tolist(), s.tolist(), other_s.tolist(), angle.tolist(), strict=True)
    return [Intersection((x, y), s_here, s_there, degrees) for (x, y), s_here, s_there, degrees in rows]


def _counted(side: Side, s: Array) -> Array:
    """Return arc lengths as they are reported: joints exactly, and the end of a closed curve as its start."""
    s, _ = side.at_joints(s)
    return np.where(side.closed & (s >= side.chain.length), 0.0, s)


def _directions(side: Side, piece: IntArray, t: Array) -> ComplexArray:
    """Return the directions ``(2, n)`` just before and just after each place; at an end twice the same."""
    chain, last = side.chain, len(side.chain.controls) - 1
    leaving, arriving = bezier.end_directions(chain.controls)
    here = measure.directions(chain.controls[piece], t)
    s = side.s_at(piece, t)
    starts, ends = s - chain.s[piece] <= JOINT, chain.s[piece + 1] - s <= JOINT
    here = np.where(starts, leaving[piece], np.where(ends, arriving[piece], here))
    before = np.where(starts & ((piece > 0) | side.closed), arriving[piece - 1], here)
    after = np.where(ends & ((piece < last) | side.closed), leaving[(piece + 1) % (last + 1)], here)
    return np.stack([before, after])


def _angles(lines: ComplexArray, others: ComplexArray) -> Array:
    """Return the smallest angle in degrees between any of the lines ``(2, n)`` and any of the others."""
    product = np.conj(lines[:, None]) * others[None]
    angle: Array = np.degrees(np.arctan2(np.abs(product.imag), np.abs(product.real))).min(axis=(0, 1))
    return angle
