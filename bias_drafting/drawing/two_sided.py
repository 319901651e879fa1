"""Stems drawn as two sides: closed thin outlines, read by the line between their sides."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from bias_drafting.curve.outline import Outline
from bias_drafting.curve.spine import find_spine
from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from bias_drafting.curve.curve import Curve
    from bias_drafting.curve.spine import Spine
    from bias_drafting.drawing.drawing import Shape

__all__ = ["TwoSided", "even", "find_two_sided", "thin"]

# The square of the way round over the area: 36 is a strip 7 times as long as wide (a circle has 12.6, a square 16).
_THIN = 36.0
# A line is no outline if it is drawn wider than this share of what it would enclose.
_WIDEST_LINE = 0.5
# Bounded work: no stem is over a thousand times as long as wide. (Way round over root of area: 63.)
_MOST_LONG = 63.0
# A shape that nobody named is a stem if it is so many times as long as wide, and keeps to its width in its middle
# half.
_LONG, _EVEN = 8.0, 0.2


class TwoSided(NamedTuple):
    """What a closed shape is as a stem: the spine of each of its outlines, or why it is none."""

    spines: tuple[Spine, ...]
    why_not: str = ""


def thin(shape: Shape) -> bool:
    """Whether a closed shape is so long for its area that it may be the outline of a stem."""
    if not all(curve.closed for curve in shape.curves):
        return False
    area = sum(outline.area for outline in _outlines(shape.curves))
    way_round = sum(curve.length for curve in shape.curves)
    return bool(way_round**2 / len(shape.curves) >= _THIN * area)


def find_two_sided(shape: Shape) -> TwoSided:
    """Return the spines of a closed shape's outlines, or why one of them is no stem."""
    spines = []
    for outline in _outlines(shape.curves):
        if outline.exterior.length > _MOST_LONG * np.sqrt(max(outline.area, 0.0)):
            return TwoSided(
                (), f"it is {outline.exterior.length:.3g} mm round, too long for its width to be a stem"
            )
        try:
            spine = find_spine(outline)
        except CurveError as error:
            return TwoSided((), str(error))
        if shape.stroke_width is not None and shape.stroke_width > _WIDEST_LINE * spine.width:
            return TwoSided((), "its line is so wide that it is the stem itself")
        spines.append(spine)
    return TwoSided(tuple(spines))


def even(spine: Spine) -> bool:
    """Whether a spine is so long and its width so even that it is a stem though nobody says so: no leaf, no pod."""
    middle = spine.width_at(np.linspace(0.25, 0.75, 33) * spine.centreline.length)
    return bool(
        spine.centreline.length >= _LONG * middle.max()
        and middle.max() - middle.min() <= _EVEN * middle.max()
    )


def _outlines(curves: Sequence[Curve]) -> list[Outline]:
    """Put closed curves together as outlines: what lies directly inside another is its hole."""
    plain = [Outline(curve) for curve in curves]
    if len(curves) == 1:
        return plain
    from shapely import STRtree

    shapes = [outline.polygon for outline in plain]
    inner, outer = STRtree(shapes).query(shapes, predicate="within")
    inner, outer = inner[inner != outer], outer[inner != outer]
    around = np.bincount(inner, minlength=len(curves))
    # A hole lies within an odd number of others, and within one fewer than its own exterior has round it.
    own = (around[inner] % 2 == 1) & (around[inner] == around[outer] + 1)
    holes: dict[int, list[Curve]] = defaultdict(list)
    for hole, exterior in zip(inner[own].tolist(), outer[own].tolist(), strict=True):
        holes[exterior].append(curves[hole])
    return [Outline(curves[k], tuple(holes[k])) for k in np.flatnonzero(around % 2 == 0).tolist()]
