"""Crossings, and the order in which everything is laid."""

from __future__ import annotations

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
    As near to the order of drawing as the pairs allow: each is laid in its turn, and what belongs under it just
    before it, so that what has nothing to do with it keeps its place. Where the pairs run in a ring, the one of the
    ring that was drawn first is laid first; its name is returned, so that it can be told.
    """
    below: dict[str, set[str]] = {name: set() for name in drawn}
    for lower, upper in under:
        if lower in below and upper in below:
            below[upper].add(lower)
    order: list[str] = []
    forced: list[str] = []
    left = dict.fromkeys(drawn)
    while left:
        first = next(iter(left))
        all_below = _all_below(first, below, left)
        wanted = [name for name in left if name == first or name in all_below]
        name = next((n for n in wanted if not below[n] & left.keys()), None)
        if name is None:
            name = _first_of_ring(wanted, below, left)
            forced.append(name)
        order.append(name)
        del left[name]
    return order, forced


def _all_below(name: str, below: Mapping[str, set[str]], left: Mapping[str, None]) -> set[str]:
    """Return what of those left lies below a name, also by way of others: itself too, if in a ring."""
    found: set[str] = set()
    look = [name]
    while look:
        new = (below[look.pop()] & left.keys()) - found
        found |= new
        look += new
    return found


def _first_of_ring(names: Sequence[str], below: Mapping[str, set[str]], left: Mapping[str, None]) -> str:
    """Return the first name that has nothing below it but what it also lies below: a ring."""
    all_below = {name: _all_below(name, below, left) for name in names}
    return next(n for n in names if all(n in all_below[m] for m in all_below[n]))


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
        for point in _points(lines[i], lines[j]):
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


def _points(line: Any, other: Any) -> list[Any]:
    """Return a point for each place where lines meet; of a stretch they share, its middle."""
    import shapely

    met = shapely.points(shapely.get_coordinates(line.intersection(other)))
    if not met.size:
        return []
    s = np.sort(shapely.line_locate_point(line, met))
    between = shapely.line_interpolate_point(line, (s[1:] + s[:-1]) / 2)
    # Along a shared stretch fine polylines may cross at every one of their points.
    apart = np.flatnonzero(shapely.distance(between, other) > 5 * _FINE)
    first, last = np.concatenate([[0], apart + 1]), np.concatenate([apart, [len(s) - 1]])
    return list(shapely.line_interpolate_point(line, (s[first] + s[last]) / 2))


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
