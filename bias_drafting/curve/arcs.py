"""Gentle arcs: a curve cut so finely that no part turns by more than 30 degrees, and which of them come near.

Two gentle arcs, seen along the line half way between their directions, are both graphs over that line: each meets
every perpendicular to it once at most. What happens between them is then a question about one function of one
variable, the gap between two graphs, and no arc can cross itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve import bezier
from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    BoolArray = NDArray[np.bool_]
    ComplexArray = NDArray[np.complex128]
    IntArray = NDArray[np.intp]

__all__ = ["Arcs", "gentle_arcs", "near_pairs"]

# The most an arc turns. Lines of two arcs are at most 90 degrees apart; half of that and half of this leave the
# slopes of both graphs below tan 60 degrees.
_SPREAD = float(np.radians(30.0))
# Two neighbours whose directions differ by no more than 120 degrees run on in one direction together, give or take
# 75 degrees, and so meet at their joint alone.
_ONWARD = -0.5
# Pairs are handed out so many at a time; more than the most in all is refused rather than worked on for minutes.
_BATCH = 100_000
# No drawing has as many arcs; where rounding alone is left to be cut, halves beget halves without end.
_MOST_ARCS = 2_000_000
_MOST_PAIRS = 20_000_000


@dataclass(frozen=True, slots=True, eq=False)
class Arcs:
    """The gentle arcs of a curve in their order along it.

    Attributes
    ----------
    controls
        ``(k, 4)`` complex control points.
    piece, t0, t1
        The piece of the curve each is cut from, and between which parameters.
    heading
        ``(k,)`` the middle direction of each, complex of size 1; no tangent is further than 15 degrees from it.
    """

    controls: ComplexArray
    piece: IntArray
    t0: Array
    t1: Array
    heading: ComplexArray


def gentle_arcs(controls: Array, noise: float) -> Arcs:
    """Cut pieces ``(n, 4, 2)`` into gentle arcs; what is no longer than ``noise`` mm is left out.

    Raises
    ------
    CurveError
        More arcs than any drawing has.
    """
    piece, t0, t1 = np.arange(len(controls)), np.zeros(len(controls)), np.ones(len(controls))
    done: list[tuple[ComplexArray, IntArray, Array, Array, ComplexArray]] = []
    count = 0
    while len(piece):
        count += len(piece)
        if count > _MOST_ARCS:
            msg = f"the curve takes more than {_MOST_ARCS} gentle arcs, too many to look at"
            raise CurveError(msg)
        part = bezier.as_complex(bezier.subsegments(controls[piece], t0, t1))
        gentle, heading, sized = _directions(part, noise)
        kept = gentle & sized
        done.append((part[kept], piece[kept], t0[kept], t1[kept], heading[kept]))
        rest = ~gentle
        piece, t0, t1 = piece[rest], t0[rest], t1[rest]
        half = (t0 + t1) / 2
        piece, t0, t1 = np.tile(piece, 2), np.concatenate([t0, half]), np.concatenate([half, t1])
    part, piece, t0, t1, heading = (np.concatenate(columns) for columns in zip(*done, strict=True))
    order = np.lexsort((t0, piece))
    return Arcs(part[order], piece[order], t0[order], t1[order], heading[order])


def _directions(part: ComplexArray, noise: float) -> tuple[BoolArray, ComplexArray, BoolArray]:
    """Return whether each part is gentle, its middle direction, and whether it is longer than ``noise``.

    The direction of travel is a mean of the directions of the legs of the control polygon.
    """
    legs = np.diff(part, axis=1)
    size = np.abs(legs)
    sized = size > noise
    chord = part[:, 3] - part[:, 0]
    off = np.where(sized, np.angle(legs * np.conj(chord)[:, None]), 0.0)
    low, high = off.min(axis=1), off.max(axis=1)
    # Legs within 30 degrees of each other add up to nearly their whole length; the chord of a loop does not.
    along = np.abs(chord) >= 0.8 * size.sum(axis=1)
    any_sized: BoolArray = size.max(axis=1) > noise
    gentle = ~any_sized | (along & (high - low <= _SPREAD))
    length = np.where(np.abs(chord) > 0, np.abs(chord), 1.0)
    return gentle, chord / length * np.exp(0.5j * (low + high)), any_sized


def near_pairs(a: Arcs, b: Arcs | None, closed: bool, reach: float) -> Iterator[tuple[IntArray, IntArray]]:
    """Yield batches, one at least, of pairs of arcs, ``i`` of ``a`` and ``j`` of ``b``, maybe within ``reach`` mm.

    Without ``b`` the pairs are those of ``a`` with itself, ``i < j``, but for neighbours that meet at their joint
    alone; ``closed`` says whether the last arc and the first are neighbours too.

    Raises
    ------
    CurveError
        More pairs than can be gone through in reasonable time.
    """
    import shapely

    other = a if b is None else b
    low, high = _box(a.controls)
    tree = shapely.STRtree(shapely.box(*_box(other.controls)[0].T, *_box(other.controls)[1].T))
    boxes = shapely.box(*(low - reach).T, *(high + reach).T)
    step = int(np.clip(10_000_000 // len(other.piece), 1, 4096))
    waiting: list[tuple[IntArray, IntArray]] = []
    total = 0
    for begin in range(0, len(boxes), step):
        i, j = tree.query(boxes[begin : begin + step])
        i = i + begin
        total += len(i)
        if total > _MOST_PAIRS:
            msg = f"the curves come near each other in more than {_MOST_PAIRS} places, too many to look at"
            raise CurveError(msg)
        if b is None:
            keep = (i < j) & ~_meet_at_their_joint(a, i, j, closed)
            i, j = i[keep], j[keep]
        keep = ~(
            _beside(a.controls[i], other.controls[j], reach)
            | _beside(other.controls[j], a.controls[i], reach)
        )
        waiting.append((i[keep], j[keep]))
        if sum(len(k) for k, _ in waiting) >= _BATCH or begin + step >= len(boxes):
            first, second = (np.concatenate(columns) for columns in zip(*waiting, strict=True))
            waiting = []
            for k in range(0, max(len(first), 1), _BATCH):
                yield first[k : k + _BATCH], second[k : k + _BATCH]


def _box(controls: ComplexArray) -> tuple[Array, Array]:
    xy = np.stack([controls.real, controls.imag], axis=-1)
    return xy.min(axis=1), xy.max(axis=1)


def _meet_at_their_joint(a: Arcs, i: IntArray, j: IntArray, closed: bool) -> BoolArray:
    next_to: BoolArray = j == i + 1
    if closed:
        next_to |= (i == 0) & (j == len(a.piece) - 1)
    onward: BoolArray = (np.conj(a.heading[i]) * a.heading[j]).real > _ONWARD
    return np.logical_and(next_to, onward)


def _beside(p: ComplexArray, q: ComplexArray, reach: float) -> BoolArray:
    """Whether all of ``q`` lies more than ``reach`` to one side of the strip between whose long sides ``p`` lies."""
    chord = p[:, 3] - p[:, 0]
    normal = np.conj(1j * chord / np.where(np.abs(chord) > 0, np.abs(chord), 1.0))[:, None]
    mine, its = ((z - p[:, :1]) * normal for z in (p, q))
    above: BoolArray = its.real.min(axis=1) > mine.real.max(axis=1) + reach
    below: BoolArray = its.real.max(axis=1) < mine.real.min(axis=1) - reach
    return np.logical_or(above, below)
