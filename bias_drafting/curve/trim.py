"""Trimming: which stretches of a band's rails are its edge, and how they join up.

Rails are cut where they cross. Between two crossings a stretch either is edge from end to end, or lies within the
band: some place of it is then nearer to the centreline than half the width. What is left joins up at the crossings.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from bias_drafting.curve import bezier
from bias_drafting.curve.rail_crossings import rail_crossings
from bias_drafting.curve.rails import build_rails
from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from bias_drafting.curve.nodes import Nodes
    from bias_drafting.curve.rails import Rails

    Array = NDArray[np.float64]
    IntArray = NDArray[np.intp]
    BoolArray = NDArray[np.bool_]

__all__ = ["Edge", "find_edge"]

# Shares of the tolerance: gaps that do not break a rail off; the accuracy of crossings, and that of the line from
# which distances are measured; how much nearer than half the width a place must be to lie within the band.
_SLACK: Final = 0.05
_CROSSING: Final = 0.02
_FLAT: Final = 0.05
_WITHIN: Final = 0.1
# Where stretches do not join up, all is done once more so much finer: two edges may lie nearer together than that.
_FINENESS: Final = (1.0, 0.02)
# Points of the centreline in one line of the tree.
_SHORT_LINE: Final = 24
# Stretches this many times as long as the tolerance may be left out for being loose.
_LOOSE: Final = 20.0
# Shares of a stretch at which it is tried, besides the middles of all its steps.
_TRIED: Final = np.array([0.03, 0.25, 0.5, 0.75, 0.97])


@dataclass(frozen=True, slots=True, eq=False)
class Edge:
    """The edge of a band: stretches of its rails, joined up.

    Attributes
    ----------
    rails
        What they are stretches of.
    begin, finish
        ``(k,)`` where each stretch runs: number of the step and share of it, ``begin < finish``.
    kind, side
        ``(k,)`` as of the rails.
    rings
        Numbers of the stretches of each closed ring, in order.
    """

    rails: Rails
    begin: Array
    finish: Array
    kind: IntArray
    side: IntArray
    rings: tuple[tuple[int, ...], ...]

    @property
    def ends_are_whole(self) -> bool:
        """Whether the half circles round both ends are edge from one side of the band to the other."""
        rails = self.rails
        used = np.array([k for ring in self.rings for k in ring])
        ends = used[self.side[used] == 0]
        first = self.begin[ends].astype(np.intp)
        # One stretch for each end, begun with a step; finished before its last, it would be short of the sum.
        begun = bool((self.begin[ends] == first).all())
        steps = int((self.finish[ends] - first).sum())
        return len(ends) in (0, 2) and begun and steps == int((rails.side == 0).sum())


@dataclass(frozen=True, slots=True, eq=False)
class _Stretches:
    """Rails cut at crossings and where they change: positions, and numbers that say what joins what (-1: nothing)."""

    begin: Array
    finish: Array
    from_link: IntArray
    to_link: IntArray


def find_edge(nodes: Nodes, closed: bool, half: float, tolerance: float) -> Edge | None:
    """Return the edge of a band with round ends, or None where its rails do not settle it."""
    rails = build_rails(nodes, closed, half, _SLACK * tolerance)
    if not len(rails.a):
        return None
    for fineness in _FINENESS:
        try:
            crossings = rail_crossings(rails, _CROSSING * fineness * tolerance)
        except CurveError:
            return None
        stretches = _stretches(rails, *crossings)
        kept = _on_the_edge(rails, stretches, fineness * tolerance)
        rings = _joined(stretches, _without_loose(rails, stretches, kept, tolerance))
        if rings is not None:
            break
    else:
        return None
    step = stretches.begin.astype(np.intp)
    return Edge(rails, stretches.begin, stretches.finish, rails.kind[step], rails.side[step], rings)


def _stretches(rails: Rails, one: Array, other: Array) -> _Stretches:
    """Cut the rails at their crossings, where they break off, and where one kind passes into another."""
    m = len(rails.a)
    every = np.arange(m)
    same = (rails.follows[:-1] == every[1:]) & (rails.kind[:-1] == rails.kind[1:])
    same &= (rails.side[:-1] == rails.side[1:]) & (rails.origin[:-1] == rails.origin[1:])
    start = np.append(True, ~same)
    group = np.cumsum(start) - 1
    first = np.flatnonzero(start)
    last = np.append(first[1:], m) - 1
    preceded = np.zeros(m, dtype=bool)
    preceded[rails.follows[rails.follows >= 0]] = True
    # Links: the number of a step stands for the place where it begins; crossings are numbered on from there.
    crossing = m + np.arange(len(one))
    at = np.concatenate([one, other])
    cut_group = group[np.minimum(at.astype(np.intp), m - 1)]
    begin = np.concatenate([first.astype(np.float64), at])
    from_link = np.concatenate([np.where(preceded[first], first, -1), crossing, crossing])
    order = np.lexsort(
        (
            np.concatenate([np.zeros(len(first)), np.ones(len(at))]),
            begin,
            np.concatenate([group[first], cut_group]),
        )
    )
    begin, from_link = begin[order], from_link[order]
    owner = np.concatenate([group[first], cut_group])[order]
    ends = np.append(owner[1:] != owner[:-1], True)
    finish = np.where(ends, last[owner] + 1.0, np.append(begin[1:], 0))
    to_link = np.where(ends, rails.follows[last[owner]], np.append(from_link[1:], -1))
    return _Stretches(begin, finish, from_link, to_link)


def _on_the_edge(rails: Rails, stretches: _Stretches, tolerance: float) -> BoolArray:
    """Return which stretches no place of which is nearer to the centreline than half the width."""
    import shapely

    begin, finish = stretches.begin, stretches.finish
    number = np.arange(len(begin))
    tried = (begin[:, None] + (finish - begin)[:, None] * _TRIED).ravel()
    middles = np.arange(len(rails.a)) + 0.5
    owner = np.concatenate(
        [np.repeat(number, len(_TRIED)), np.searchsorted(begin, middles, side="right") - 1]
    )
    position = np.concatenate([tried, middles])
    step = np.minimum(position.astype(np.intp), len(rails.a) - 1)
    points = rails.at(step, position - step)[0]
    places = shapely.points(points.real, points.imag)
    lines = _short_lines(bezier.flatten(rails.nodes.chain.controls, _FLAT * tolerance))
    tree = shapely.STRtree(lines)
    near = tree.query(places, predicate="dwithin", distance=rails.half - _WITHIN * tolerance)[0]
    within = np.zeros(len(places), dtype=bool)
    within[near] = True
    kept = np.ones(len(begin), dtype=bool)
    kept[owner[within]] = False
    return kept


def _short_lines(points: Array) -> NDArray[np.object_]:
    """Cut a polyline into short ones, which a tree tells apart."""
    import shapely

    at = np.arange(len(points))
    # Each joint belongs to two lines.
    owner = at // _SHORT_LINE
    joint = np.flatnonzero((at % _SHORT_LINE == 0) & (at > 0))
    rows, owner = np.insert(at, joint, joint), np.insert(owner, joint, owner[joint] - 1)
    if owner[-1] > 0 and (owner == owner[-1]).sum() == 1:
        rows, owner = rows[:-1], owner[:-1]
    return np.asarray(shapely.linestrings(points[rows], indices=owner), dtype=object)


def _without_loose(rails: Rails, stretches: _Stretches, kept: BoolArray, tolerance: float) -> BoolArray:
    """Leave out stretches so little within the band that it did not show: what is edge joins up at both ends.

    Only short ones: a long one that is loose tells of a crossing missed.
    """
    step, until = stretches.begin.astype(np.intp), np.ceil(stretches.finish).astype(np.intp) - 1
    begin, finish = rails.at(step, stretches.begin - step)[0], rails.at(until, stretches.finish - until)[0]
    short = (np.abs(finish - begin) < _LOOSE * tolerance) & (until - step <= 1)
    while True:
        joins = np.isin(stretches.from_link, stretches.to_link[kept]) & (stretches.from_link >= 0)
        joins &= np.isin(stretches.to_link, stretches.from_link[kept]) & (stretches.to_link >= 0)
        loose = kept & short & ~joins
        if not loose.any():
            return kept
        kept = kept & ~loose


def _joined(stretches: _Stretches, kept: BoolArray) -> tuple[tuple[int, ...], ...] | None:
    """Return the rings that stretches on the edge join up to, or None where they do not."""
    number = np.flatnonzero(kept)
    begins = dict(zip(stretches.from_link[number].tolist(), number.tolist(), strict=True))
    if -1 in begins or len(begins) < len(number):
        return None
    rings = []
    while begins:
        link, first = begins.popitem()
        ring, at = [first], int(stretches.to_link[first])
        while at != link:
            after = begins.pop(at, None)
            if after is None:
                return None
            ring.append(after)
            at = int(stretches.to_link[after])
        rings.append(tuple(ring))
    return tuple(rings)
