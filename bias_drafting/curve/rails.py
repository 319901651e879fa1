"""The rails of a band: all that can be part of its edge, step by step round it.

A band's edge is made of its two parallel curves where they run forward (where the centreline bends tighter than the
distance its parallel curve runs backward, and lies within the band), arcs round the outer sides of corners, and the
ends. They are put down here as one sequence of small steps round the band, each of which bends one way only. Which
parts of them are the edge is found in :mod:`bias_drafting.curve.trim`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from bias_drafting.curve import bezier, curvature, measure

if TYPE_CHECKING:
    from collections.abc import Iterable
    from typing import Any

    from numpy.typing import NDArray

    from bias_drafting.curve.nodes import Nodes

    Array = NDArray[np.float64]
    ComplexArray = NDArray[np.complex128]
    IntArray = NDArray[np.intp]

__all__ = ["ALONG", "ARC", "Rails", "build_rails"]

# What a step is: part of a parallel curve, or of an arc round a corner or an end.
ALONG, ARC = 0, 1

# Arcs are put down in steps of this many radians at most.
_ARC_STEP: Final = 0.2
# Steps to find where a parallel curve turns back: what lies near it is trimmed in any case.
_STEPS: Final = 40
_STILL: Final = 1e-7
# A parallel curve this many times as short as its centreline is a point: the curvature of arcs is right to 1e-7.
_COLLAPSED: Final = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Rails:
    """Steps round a band, in order: the right side forward, the end, the left side back, the start.

    Attributes
    ----------
    nodes
        The centreline.
    half
        Half the band's width in mm.
    kind, side
        ``(m,)`` ALONG or ARC; and 1 on the right of the centreline, -1 on its left, 0 at an end.
    piece, a, b
        ``(m,)`` for ALONG the piece and the parameters from and to; for ARC the angles in radians.
    origin
        ``(m,)`` complex: for ARC the centre.
    follows
        ``(m,)`` number of the step that begins where each step ends; -1 where the rail breaks off.
    turn
        ``(m,)`` radians by which each step turns.
    """

    nodes: Nodes
    half: float
    kind: IntArray
    side: IntArray
    piece: IntArray
    a: Array
    b: Array
    origin: ComplexArray
    follows: IntArray
    turn: Array

    def at(self, step: IntArray, share: Array) -> tuple[ComplexArray, ComplexArray]:
        """Return points and unit directions of travel at shares 0 to 1 of given steps, as complex numbers."""
        kind, value = self.kind[step], self.a[step] + (self.b - self.a)[step] * share
        points, heading = np.empty((2, len(step)), dtype=np.complex128)
        on = kind == ALONG
        controls, side = self.nodes.chain.controls[self.piece[step[on]]], self.side[step[on]]
        travel = measure.directions(controls, value[on])
        xy = bezier.evaluate(controls, value[on])
        points[on] = xy[:, 0] + 1j * xy[:, 1] + 1j * travel * (side * self.half)
        heading[on] = travel * side
        on = kind == ARC
        rim = np.exp(1j * value[on])
        points[on] = self.origin[step[on]] + self.half * rim
        heading[on] = 1j * rim * np.sign(self.b - self.a)[step[on]]
        return points, heading


class _Steps(NamedTuple):
    """Columns of steps as they are put down; see :class:`Rails`."""

    kind: IntArray
    side: IntArray
    piece: IntArray
    a: Array
    b: Array
    origin: ComplexArray
    turn: Array


def _columns(columns: Iterable[Any]) -> _Steps:
    return _Steps(*columns)


def build_rails(nodes: Nodes, closed: bool, half: float, slack: float) -> Rails:
    """Put down the rails of the band of half width ``half`` round a chain, with round ends.

    Gaps of up to ``slack`` mm do not break a rail off.
    """
    right, left = (_one_side(nodes, half, side, slack) for side in (1, -1))
    left = _columns(column[::-1] for column in left)
    left = left._replace(a=left.b, b=left.a, turn=-left.turn)
    rings = [[right], [left]] if closed else [[right, _end(nodes, True), left, _end(nodes, False)]]
    steps = _Steps(
        *(np.concatenate(columns) for columns in zip(*(part for ring in rings for part in ring), strict=True))
    )
    follows = np.arange(1, len(steps.kind) + 1)
    edge = 0
    for ring in rings:
        size = sum(len(part.kind) for part in ring)
        if size:
            follows[edge + size - 1] = edge
        edge += size
    rails = Rails(nodes, half, *steps[:-1], follows, np.abs(steps.turn))
    every = np.arange(len(follows))
    gap = np.abs(rails.at(every, np.ones(len(every)))[0] - rails.at(follows, np.zeros(len(every)))[0])
    return replace(rails, follows=np.where(gap <= slack, follows, -1))


def _one_side(nodes: Nodes, half: float, side: int, slack: float) -> _Steps:
    """Return the steps of one side in the direction of the centreline: forward parts, and arcs at outer corners."""
    piece, t0, t1, turn = _forward(nodes, side * half)
    zero = np.zeros(len(piece), dtype=np.complex128)
    along = _Steps(np.full(len(piece), ALONG), np.full(len(piece), side), piece, t0, t1, zero, turn)
    arcs = _corner_arcs(nodes, half, side, slack)
    steps = _columns(map(np.concatenate, zip(along, arcs, strict=True)))
    # An arc before piece k comes before all of piece k; its own steps are in order already.
    place = np.where(steps.kind == ALONG, steps.piece + steps.a, steps.piece)
    order = np.lexsort((steps.kind == ALONG, place))
    return _columns(column[order] for column in steps)


def _forward(nodes: Nodes, distance: float) -> tuple[IntArray, Array, Array, Array]:
    """Return the steps between nodes on which the parallel curve at ``distance`` runs forward."""
    with np.errstate(invalid="ignore"):
        pace = 1 - distance * nodes.bend
    # Where it all but stands still, as that of a circle does at its centre, there is nothing to be edge.
    ahead = pace > _COLLAPSED
    step = np.flatnonzero((nodes.piece[1:] == nodes.piece[:-1]) & (ahead[1:] | ahead[:-1]))
    piece, t0, t1 = nodes.piece[step], nodes.t[step].copy(), nodes.t[step + 1].copy()
    turn = nodes.heading[step + 1] - nodes.heading[step]
    stops, starts = ~ahead[step + 1], ~ahead[step]
    mixed = np.flatnonzero(stops | starts)
    if mixed.size:
        front, back = step[mixed], step[mixed] + 1
        t = _turning_back(nodes, distance, piece[mixed], nodes.t[[front, back]], pace[[front, back]])
        t1[mixed] = np.where(stops[mixed], t, t1[mixed])
        t0[mixed] = np.where(starts[mixed], t, t0[mixed])
    return piece, t0, t1, turn


def _turning_back(nodes: Nodes, distance: float, piece: IntArray, ends: Array, pace: Array) -> Array:
    """Return where between two nodes each (rows of ``ends``) a parallel curve's pace passes through 0.

    By false position; an end kept twice counts half (the Illinois rule), so that neither stays behind.
    """
    (low, high), (p, q) = ends, pace
    t: Array = (low + high) / 2
    before = np.zeros(len(t), dtype=np.intp)  # which end moved last
    for _ in range(_STEPS):
        bend = curvature.by_factors(nodes.chain.controls, nodes.chain.u, nodes.chain.v, piece, t)
        with np.errstate(invalid="ignore"):
            now = 1 - distance * bend
            upper = (now > 0) == (q > 0)
            low, p = np.where(upper, low, t), np.where(upper, np.where(before == 1, p / 2, p), now)
            high, q = np.where(upper, t, high), np.where(upper, now, np.where(before == -1, q / 2, q))
            share, before = p / (p - q), np.where(upper, 1, -1)
        if np.abs(now).max() <= _STILL:
            break
        # Where it stands still its pace may be without bound: there, the middle.
        t = low + (high - low) * np.where((share > 0) & (share < 1), share, 0.5)
    return t


def _corner_arcs(nodes: Nodes, half: float, side: int, slack: float) -> _Steps:
    """Return the steps of the arcs round the corners whose outer side this is."""
    chain = nodes.chain
    corners = chain.corners[:-1]
    piece = np.flatnonzero(corners * side * half < -slack)
    turn = corners[piece]
    count = np.ceil(np.abs(turn) / _ARC_STEP).astype(np.intp)
    start = chain.heading[piece, 0] - turn + side * np.pi / 2  # from the normal of the piece before
    number = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    step, start = np.repeat(turn / count, count), np.repeat(start, count)
    piece = np.repeat(piece, count)
    centre = bezier.as_complex(chain.controls)[piece, 0]
    a = start + number * step
    return _Steps(np.full(len(a), ARC), np.full(len(a), side), piece, a, a + step, centre, step)


def _end(nodes: Nodes, last: bool) -> _Steps:
    """Return the steps round the last end of an open chain, from its right to its left, or back round the first."""
    leaving, arriving = bezier.end_directions(nodes.chain.controls[[0, -1]])
    p = bezier.as_complex(nodes.chain.controls)
    point, travel = (p[-1, 3], arriving[1]) if last else (p[0, 0], -leaving[0])
    count = int(np.ceil(np.pi / _ARC_STEP))
    a = float(np.angle(1j * travel)) - np.pi * np.arange(count) / count
    none, step = np.zeros(count, dtype=np.intp), np.full(count, -np.pi / count)
    return _Steps(none + ARC, none, none, a, a + step, np.full(count, point), step)
