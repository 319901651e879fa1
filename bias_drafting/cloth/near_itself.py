"""Where a stem of some width runs into itself: hairpins whose legs overlap, loops and rings that close up."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from bias_drafting.errors import CurveError
from bias_drafting.units import format_length

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from bias_drafting.curve.curve import Curve

    Array = NDArray[np.float64]
    BoolArray = NDArray[np.bool_]
    IntArray = NDArray[np.intp]

__all__ = ["TooNear", "find_too_near"]

# The curve is looked at in so many places for each width, but in no more than these.
_PER_WIDTH: Final = 8
_MOST_PLACES: Final = 100_000
_MOST_PAIRS: Final = 5_000_000
_FEW: Final = 2000
# Two places that lie this many widths apart along the stem are apart; from here to there it can turn right round
# with half its width as radius, and anything nearer in the plane than its width is another leg.
_APART: Final = math.pi / 2 + 0.05
# The arms of a corner of so many degrees or more lie near each other beside it; unless it is a needle, sharper than
# the second.
_CORNER: Final = 30.0
_NEEDLE: Final = 20.0
# What overlaps by less (mm) is rounding; loops are measured this finely.
_HAIR: Final = 0.01
# Each round narrows the nearest places down by half the number of steps tried.
_STEPS: Final = np.linspace(-1, 1, 17)


@dataclass(frozen=True, slots=True)
class TooNear:
    """Where a stem runs into itself at its width.

    Attributes
    ----------
    kind
        ``"legs"``: two stretches lie side by side and overlap, as those of a hairpin. ``"loop"``: the ground inside a
        loop, or inside a closed ring, is covered altogether.
    start, end, other_start, other_end
        Arc lengths in mm: from where to where the one stretch lies, and the other. Of a loop the first two are where
        it begins and ends, and the others the same.
    point
        Where they are nearest, or the middle of the loop.
    gap
        How much ground lies between the edges there, to 0.01 mm: less than 0, that is by how much they overlap.
    """

    kind: Literal["legs", "loop"]
    start: float
    end: float
    other_start: float
    other_end: float
    point: tuple[float, float]
    gap: float

    def text(self, unit: str = "in") -> str:
        """Say what is wrong, lengths in ``"in"`` or ``"mm"``; else LengthError."""
        step, fine = (8, 32) if unit == "in" else (1, 2)
        start, other = (format_length(s, unit, step) for s in (self.start, self.other_start))
        over = format_length(-self.gap, unit, fine, "up")
        if self.kind == "loop" and self.start == 0:
            return f"The ring closes up at this width, by {over}: no ground is left inside it."
        if self.kind == "loop":
            return f"The loop that begins {start} from the start closes up at this width, by {over}."
        return (
            f"At {start.removesuffix(' ' + unit)} and {other} from the start it lies over itself, by {over}: "
            "draw the two further apart."
        )


def find_too_near(curve: Curve, width: float) -> tuple[TooNear, ...]:
    """Return where a stem of this width runs into itself, along the stem; plain crossings are none."""
    crossings, shared = _meetings(curve)
    return tuple(
        sorted(
            [*_legs(curve, width, crossings, shared), *_loops(curve, width, crossings)],
            key=lambda near: near.start,
        )
    )


def _meetings(curve: Curve) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
    """Return where a curve crosses itself, as pairs of arc lengths, and the middles of what it runs along twice."""
    try:
        found = curve.self_intersections()
    except CurveError:  # a tangle in some millions of places; the finished outline is told to lie over itself
        return [], []
    shared = [((o.s0 + o.s1) / 2, (o.other_s0 + o.other_s1) / 2) for o in found.overlaps]
    return [(meeting.s, meeting.other_s) for meeting in found.points], shared


def _legs(
    curve: Curve, width: float, crossings: list[tuple[float, float]], shared: list[tuple[float, float]]
) -> Iterator[TooNear]:
    s, points, pairs = _near_pairs(curve, width)
    step = float(s[1] - s[0])
    along = np.abs(s[pairs[:, 1]] - s[pairs[:, 0]])
    along = np.minimum(along, curve.length - along) if curve.closed else along
    pairs = np.sort(pairs[along > _APART * width], axis=1)
    pairs = pairs[~_about_one_corner(curve, s, pairs)]
    for group in _together(pairs):
        # Where lines cross, they are near each other without more.
        low, high = s[group].min(axis=0) - 2 * step, s[group].max(axis=0) + 2 * step
        if any(low[0] <= a <= high[0] and low[1] <= b <= high[1] for a, b in crossings):
            continue
        apart = np.hypot(*(points[group[:, 0]] - points[group[:, 1]]).T)
        i, j = group[np.argmin(apart)].tolist()
        first, second, distance = _nearest(curve, float(s[i]), float(s[j]), step)
        if any(low[0] <= a <= high[0] and low[1] <= b <= high[1] for a, b in shared):
            distance = 0.0
        if distance < width - _HAIR:
            middle = (curve.point_at(first) + curve.point_at(second)) / 2
            (start, other), (end, other_end) = s[group.min(axis=0)].tolist(), s[group.max(axis=0)].tolist()
            place = (float(middle[0]), float(middle[1]))
            yield TooNear("legs", start, end, other, other_end, place, distance - width)


def _about_one_corner(curve: Curve, s: Array, pairs: IntArray) -> BoolArray:
    """Whether two places lie on the two arms of one corner, which are near each other at the corner without more."""
    sharp = [corner for corner in curve.corners if abs(corner.turn) >= _CORNER]
    if not sharp:
        return np.zeros(len(pairs), dtype=bool)
    heading = curve.tangent_at(s) @ np.array([1, 1j])
    turned = np.append(0, np.cumsum(np.abs(np.degrees(np.angle(heading[1:] * np.conj(heading[:-1]))))))
    corners = np.array([corner.s for corner in sharp])
    turns = np.append(0, np.cumsum([abs(corner.turn) for corner in sharp]))
    passed = np.searchsorted(corners, s)
    whole = (turned[-1] + abs(np.degrees(np.angle(heading[0] * np.conj(heading[-1])))), len(sharp), turns[-1])
    between = [of[pairs[:, 1]] - of[pairs[:, 0]] for of in (turned, passed, turns[passed])]
    if curve.closed:  # the shorter way round
        other = s[pairs[:, 1]] - s[pairs[:, 0]] > curve.length / 2
        between = [np.where(other, total - part, part) for part, total in zip(between, whole, strict=True)]
    turn, many, of_corners = between
    found: BoolArray = (many == 1) & (turn - of_corners < _CORNER) & (of_corners < 180 - _NEEDLE)
    return found


def _near_pairs(curve: Curve, width: float) -> tuple[Array, Array, IntArray]:
    """Return places along a curve, their points, and which pairs of them are nearer than the width."""
    from scipy.spatial import cKDTree

    count = int(min(max(math.ceil(_PER_WIDTH * curve.length / width), 16), _MOST_PLACES))
    while True:
        s: Array = np.arange(0.5, count) * (curve.length / count)
        points = curve.point_at(s)
        tree = cKDTree(points)
        # A scribble within its own width is looked at more coarsely.
        if count <= _FEW or tree.count_neighbors(tree, width) <= _MOST_PAIRS:
            pairs: IntArray = tree.query_pairs(width - _HAIR, output_type="ndarray")
            return s, points, pairs
        count = max(count // 4, _FEW)


def _together(pairs: IntArray) -> Iterator[IntArray]:
    """Yield pairs of places in groups: those whose both places are neighbours belong together.

    Over the start of a closed curve, one pair of legs comes as two groups.
    """
    if not len(pairs):
        return
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    near = cKDTree(pairs).query_pairs(1.5, p=np.inf, output_type="ndarray")
    links = coo_array((np.ones(len(near)), (near[:, 0], near[:, 1])), shape=(len(pairs), len(pairs)))
    number, label = connected_components(links, directed=False)
    order = np.argsort(label, kind="stable")
    yield from np.split(pairs[order], np.cumsum(np.bincount(label, minlength=number))[:-1])


def _nearest(curve: Curve, first: float, second: float, step: float) -> tuple[float, float, float]:
    """Return the places near two given ones that lie nearest to each other, and how far apart they lie."""
    reach = step
    for _ in range(4):
        a, b = (_on(curve, s + reach * _STEPS) for s in (first, second))
        gaps = curve.point_at(a)[:, None] - curve.point_at(b)[None]
        apart = np.hypot(gaps[..., 0], gaps[..., 1])
        i, j = np.unravel_index(np.argmin(apart), apart.shape)
        first, second, reach = float(a[i]), float(b[j]), reach / 6
    return first, second, float(apart[i, j])


def _on(curve: Curve, s: Array) -> Array:
    return s % curve.length if curve.closed else np.clip(s, 0, curve.length)


def _loops(curve: Curve, width: float, crossings: list[tuple[float, float]]) -> Iterator[TooNear]:
    """Yield the loops, and the ring, inside which no ground is left to be seen."""
    import shapely
    from shapely.ops import polylabel

    rings = [(a, b) for a, b in crossings if not any(a < c and d < b for c, d in crossings)]
    loops = [(a, b, curve.section(a, b)) for a, b in rings]
    if curve.closed and not crossings:
        loops.append((0.0, curve.length, curve))
    for start, end, loop in loops:
        area = shapely.make_valid(shapely.Polygon(loop.flattened(_HAIR / 4)))
        if not shapely.buffer(area, -width / 2 + _HAIR).is_empty:
            continue
        largest = max(shapely.get_parts(area).tolist(), key=lambda part: part.area)
        if largest.area > 0:
            middle = polylabel(largest, _HAIR / 4)
            gap = 2 * float(largest.exterior.distance(middle)) - width
            yield TooNear("loop", start, end, start, end, (middle.x, middle.y), gap)
