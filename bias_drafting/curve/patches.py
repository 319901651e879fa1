"""Patches of nearness: the contacts of two curves as arc lengths, and which of them hang together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve import bezier
from bias_drafting.curve.arc_length import partial_lengths

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from bias_drafting.curve.arcs import Arcs
    from bias_drafting.curve.contacts import Contacts
    from bias_drafting.curve.measure import Chain

    Array = NDArray[np.float64]
    BoolArray = NDArray[np.bool_]
    ComplexArray = NDArray[np.complex128]
    IntArray = NDArray[np.intp]

__all__ = ["JOINT", "Side", "Spans", "linked", "spans_of"]

# Within this much of a joint in mm a place is the joint.
JOINT = 1e-9
# Contacts hang together if they are no further apart than this many tolerances along either curve.
_PAD = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Side:
    """One of the two curves: measured, cut into gentle arcs, and moved to where coordinates are small.

    Attributes
    ----------
    chain, closed
        The curve as it was given.
    moved
        ``(n, 4)`` complex, control points of its pieces less a common origin.
    arcs
        Its gentle arcs, of the moved curve.
    """

    chain: Chain
    closed: bool
    moved: ComplexArray
    arcs: Arcs

    @property
    def around(self) -> float:
        """The length once round in mm; infinite if the curve is open."""
        return self.chain.length if self.closed else np.inf

    def s_at(self, piece: IntArray, t: Array) -> Array:
        """Return the arc length at parameter ``t`` of a piece; joints exactly."""
        s = self.chain.s[piece].copy()
        inside = (t > 0) & (t < 1)
        some, at = piece[inside], t[inside]
        s[inside] += partial_lengths(self.chain.controls[some], np.zeros(len(some)), at)
        return np.where(t == 1, self.chain.s[piece + 1], np.minimum(s, self.chain.s[piece + 1]))

    def at_joints(self, s: Array, close: float = JOINT) -> tuple[Array, ComplexArray]:
        """Return arc lengths, with those within ``close`` mm of a joint put there, and where it is; NaN for none."""
        joints = self.chain.s
        corners = np.append(self.moved[:, 0], self.moved[-1, 3])
        place = np.full(len(s), np.nan + 0j)
        after = np.clip(np.searchsorted(joints, s), 1, len(joints) - 1)
        for k in (after - 1, after):
            near = np.abs(s - joints[k]) <= close + 1e-14 * self.chain.length
            s, place = np.where(near, joints[k], s), np.where(near, corners[k], place)
        return s, place

    def moved_at(self, piece: IntArray, t: Array) -> ComplexArray:
        """Return the places on the moved curve."""
        moved = self.moved[piece]
        xy = bezier.evaluate(np.stack([moved.real, moved.imag], axis=-1), t)
        place: ComplexArray = xy[:, 0] + 1j * xy[:, 1]
        return place


@dataclass(frozen=True, slots=True, eq=False)
class Spans:
    """Contacts as arc lengths in mm, arrays ``(n,)``: from ``s0`` and ``o0`` on the other curve to ``s1`` and ``o1``.

    ``boxes`` ``(n, 4)`` bound them, ``s`` and ``o`` from and then to, with ``pad`` mm or more to spare, so that the
    boxes of neighbours overlap.
    """

    s0: Array
    s1: Array
    o0: Array
    o1: Array
    boxes: Array
    pad: float

    def beside_itself(self, around: float) -> BoolArray:
        """Whether each contact of a curve with itself is of one place with itself; ``around`` is a ring's length."""
        s_low, o_low, s_high, o_high = self.boxes.T
        beside: BoolArray = (s_low <= o_high) & (o_low <= s_high)
        beside |= s_low + around <= o_high
        return beside


def spans_of(a: Side, b: Side, contacts: Contacts, tolerance: float) -> Spans:
    """Return contacts as arc lengths of the two curves."""
    ends = []
    for side, arc, t0, t1 in (
        (a, contacts.i, contacts.a0, contacts.a1),
        (b, contacts.j, contacts.b0, contacts.b1),
    ):
        piece = side.arcs.piece[arc]
        start = side.s_at(piece, t0)
        end = start.copy()
        wide = t0 != t1
        end[wide] = side.s_at(piece[wide], t1[wide])
        ends += [start, end]
    s0, s1, o0, o1 = ends
    # A crossing at a small angle is a long patch: the gap takes that long to grow to the tolerance. Twice as long
    # allows for bends, along which it grows more slowly.
    crossing = np.where(np.isnan(contacts.sine), 0.0, 2 * tolerance / np.fmin(contacts.sine, 1.0))
    pad = _PAD * tolerance + 1e-13 * max(a.chain.length, b.chain.length)
    more = pad + crossing
    low, high = np.minimum(o0, o1), np.maximum(o0, o1)
    return Spans(s0, s1, o0, o1, np.stack([s0 - more, low - more, s1 + more, high + more], axis=1), pad)


def linked(boxes: Array, owner: IntArray, count: int, pad: float) -> IntArray:
    """Return the number of the patch that each of ``count`` contacts belongs to.

    A contact may own several boxes ``(m, 4)``; contacts hang together if any two of their boxes overlap. Boxes that
    are equal to within half of ``pad`` count as one: in a tangle smaller than the tolerance each overlaps all others.
    """
    import shapely
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    grid = pad / 2
    outward = np.hstack([np.floor(boxes[:, :2] / grid), np.ceil(boxes[:, 2:] / grid)])
    cells, cell = np.unique(outward, axis=0, return_inverse=True)
    shapes = shapely.box(*(cells * grid).T)
    i, j = shapely.STRtree(shapes).query(shapes)
    rows, columns = np.concatenate([owner, count + i]), np.concatenate([count + cell.ravel(), count + j])
    size = count + len(cells)
    graph = coo_array((np.ones(len(rows), bool), (rows, columns)), shape=(size, size))
    label = connected_components(graph, directed=False)[1][:count]
    number: IntArray = np.unique(label, return_inverse=True)[1].astype(np.intp)
    return number
