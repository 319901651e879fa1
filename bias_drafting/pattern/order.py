"""Crossings, and the order in which everything is laid."""

from __future__ import annotations

import heapq
from dataclasses import dataclass
from itertools import count
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from bias_drafting.pattern.ends import TOUCH

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from bias_drafting.drawing.drawing import Stem
    from bias_drafting.pattern.piece import Piece

__all__ = ["Crossing", "find_crossings", "laying_order"]

_FINE: Final = 0.002


@dataclass(frozen=True, slots=True)
class Crossing:
    """A place where one stem passes over another.

    Attributes
    ----------
    over, under
        Names of the stems.
    s_over, s_under
        Where it is, as arc length in mm along each, to 0.01 mm.
    point
        Where it is on the drawing, in mm.
    angle
        At which the two cross, in degrees from 0 to 90.
    """

    over: str
    under: str
    s_over: float
    s_under: float
    point: tuple[float, float]
    angle: float


def laying_order(drawn: Sequence[str], under: Iterable[tuple[str, str]]) -> tuple[list[str], list[str]]:
    """Return the order of laying, and the names left over in rings that lie over one another.

    Parameters
    ----------
    drawn
        Names in the order of drawing: the first lies lowest.
    under
        Pairs (lower, upper): the lower is laid before the upper.

    Notes
    -----
    As near to the order of drawing as the pairs allow. Where they run in a ring, the one of the ring that was drawn
    first is laid first; its name is returned, so that it can be told.
    """
    place = {name: k for k, name in enumerate(drawn)}
    above: dict[str, set[str]] = {name: set() for name in drawn}
    waiting = dict.fromkeys(drawn, 0)
    for lower, upper in under:
        if lower in place and upper in place and upper not in above[lower]:
            above[lower].add(upper)
            waiting[upper] += 1
    ready = [place[name] for name in drawn if waiting[name] == 0]
    heapq.heapify(ready)
    order: list[str] = []
    forced: list[str] = []
    laid: set[str] = set()
    while len(order) < len(drawn):
        if ready:
            name = drawn[heapq.heappop(ready)]
            if name in laid:
                continue
        else:
            name = _first_of_ring([n for n in drawn if n not in laid], above)
            forced.append(name)
        order.append(name)
        laid.add(name)
        for upper in above[name]:
            waiting[upper] -= 1
            if waiting[upper] == 0 and upper not in laid:
                heapq.heappush(ready, place[upper])
    return order, forced


def _first_of_ring(left: Sequence[str], above: Mapping[str, set[str]]) -> str:
    """Return the first of those left that has nothing below it but what also lies above it: a ring."""

    def over(name: str) -> set[str]:
        found: set[str] = set()
        look = [name]
        while look:
            new = above[look.pop()] - found
            found |= new
            look += new
        return found

    all_over = {name: over(name) for name in left}
    return next(n for n in left if all(m in all_over[n] for m in left if n in all_over[m]))


def find_crossings(
    stems: Sequence[Stem], pieces: Sequence[Piece], order: Sequence[str]
) -> tuple[Crossing, ...]:
    """Return where stems cross, along each under stem; the one laid later lies over.

    Where a stem's end is tucked under another is no crossing.
    """
    import shapely

    lines = [shapely.LineString(stem.centreline.flattened(_FINE)) for stem in stems]
    tucked = {piece.stem: piece for piece in pieces}
    place = {name: k for k, name in enumerate(order)}
    found = []
    a, b = shapely.STRtree(lines).query(lines, predicate="intersects")
    for i, j in zip(a, b, strict=True):
        if place[stems[i].name] <= place[stems[j].name]:
            continue  # each pair once, the upper first; and no stem with itself
        for point in _points(lines[i].intersection(lines[j])):
            crossing = _crossing(stems[i], stems[j], lines[i], lines[j], point)
            upper, lower = tucked[stems[i].name], tucked[stems[j].name]
            if not (
                _at_tuck(upper, crossing.s_over, lower, lines[j])
                or _at_tuck(lower, crossing.s_under, upper, lines[i])
            ):
                found.append(crossing)
    drawn = count()
    number = {stem.name: next(drawn) for stem in stems}
    return tuple(sorted(found, key=lambda c: (number[c.under], c.s_under, number[c.over])))


def _points(shape: Any) -> list[Any]:
    """Return the points where lines meet; of a stretch they share, its middle."""
    import shapely

    parts = shapely.get_parts(shape)
    lines = shapely.get_type_id(parts) == shapely.GeometryType.LINESTRING
    shared = shapely.get_parts(shapely.line_merge(shapely.union_all(parts[lines])))
    parts = [part for part in (*parts[~lines], *shared) if not part.is_empty]
    return [p if p.geom_type == "Point" else p.interpolate(0.5, normalized=True) for p in parts]


def _crossing(upper: Stem, lower: Stem, upper_line: Any, lower_line: Any, point: Any) -> Crossing:
    # Fine polylines are shorter than their curves by a few parts in a million.
    s = upper_line.project(point) * upper.centreline.length / upper_line.length
    t = lower_line.project(point) * lower.centreline.length / lower_line.length
    across = upper.centreline.tangent_at(s), lower.centreline.tangent_at(t)
    cosine = abs(float(across[0] @ across[1]))
    angle = float(np.degrees(np.arccos(min(cosine, 1.0))))
    return Crossing(upper.name, lower.name, float(s), float(t), (float(point.x), float(point.y)), angle)


def _at_tuck(piece: Piece, s: float, other: Piece, other_line: Any) -> bool:
    """Whether a place on a piece is a covered end of it: the very end, or one that runs out under ``other``."""
    import shapely

    for tuck in piece.tucks:
        end = 0.0 if tuck.end == "start" else piece.centreline.length
        if abs(end - s) <= TOUCH:
            return True
        if tuck.under == other.stem:
            rest = shapely.points(piece.centreline.point_at(np.linspace(s, end, 16)))
            if (shapely.distance(rest, other_line) <= other.check.width / 2 + TOUCH).all():
                return True
    return False
