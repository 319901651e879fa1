"""Stations along the middle of a stem: centres of the circles that touch both its sides.

A centre is found by Newton's method on the difference of its distances to the two sides, all stations at once; the
distances are exact (feet on the cubics of the boundary).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from bias_drafting.curve.spine_ends import End
    from bias_drafting.curve.spine_sides import Side

    Array = NDArray[np.float64]
    IntArray = NDArray[np.intp]
    BoolArray = NDArray[np.bool_]

__all__ = [
    "Stations",
    "begun_at",
    "between",
    "centred_between",
    "chosen",
    "first_stations",
    "joined",
    "round_end",
    "safe",
    "square_end",
]

# Stations lie a sixteenth of the local width apart, and not closer than a quarter of that where a stem narrows.
_PER_WIDTH, _NARROW = 16, 1 / 4
# Toward a round end: no more steps than this; the end is where both feet lie within 45 degrees of the way.
_MOST_WALK, _AHEAD = 200, np.cos(np.radians(45.0))
# Rounds of moving a station to the middle and back to the line of a cut: each brings it nearer by a tenth or more.
_SETTLING = 12


@dataclass(frozen=True, slots=True, eq=False)
class Stations:
    """Circles that touch both sides, in order along a stem.

    Attributes
    ----------
    centre, radius
        ``(n, 2)`` and ``(n,)``, in mm.
    a, b
        ``(n,)`` arc length of the boundary at the feet on either side: ``a`` rises along the stem and ``b`` falls.
    corner
        ``(n,)`` whether the centreline has a corner there.
    """

    centre: Array
    radius: Array
    a: Array
    b: Array
    corner: BoolArray

    def __getitem__(self, which: IntArray | BoolArray | slice) -> Stations:
        return Stations(*(getattr(self, name)[which] for name in ("centre", "radius", "a", "b", "corner")))


def joined(parts: list[Stations]) -> Stations:
    """Return stations one after the other."""
    names = ("centre", "radius", "a", "b", "corner")
    return Stations(*(np.concatenate([getattr(part, name) for part in parts]) for name in names))


def between(low: Stations, high: Stations) -> Stations:
    """Return rough stations half way between others."""
    centre, radius = (low.centre + high.centre) / 2, (low.radius + high.radius) / 2
    return Stations(centre, radius, (low.a + high.a) / 2, (low.b + high.b) / 2, low.corner & high.corner)


def chosen(which: BoolArray, one: Stations, other: Stations) -> Stations:
    """Return stations of ``one`` where ``which`` holds, of ``other`` elsewhere."""
    names = ("centre", "radius", "a", "b", "corner")
    pairs = ((getattr(one, name), getattr(other, name)) for name in names)
    return Stations(*(np.where(which[:, None] if x.ndim > 1 else which, x, y) for x, y in pairs))


def begun_at(sides: tuple[Side, Side], ring: Stations, first: int) -> Stations:
    """Return stations round a ring begun at one of them; arc lengths of feet go on past the start."""
    once = ring[slice(None, first)]
    length_a, length_b = (side.s[-1] - side.s[0] for side in sides)
    return joined([ring[slice(first, None)], replace(once, a=once.a + length_a, b=once.b - length_b)])


def centred_between(sides: tuple[Side, Side], rough: Stations, reach: Array, rounds: int = 6) -> Stations:
    """Move rough centres until both sides are equally far; feet are looked for within ``reach`` of the rough ones."""
    centre, near = rough.centre, (rough.a, rough.b)
    for _ in range(rounds):
        feet = [side.feet(centre, s, reach) for side, s in zip(sides, near, strict=True)]
        (up, far), (down, near_by) = ((centre - f.point, f.distance) for f in feet)
        unit = up / safe(far)[:, None] - down / safe(near_by)[:, None]
        slope = (unit * unit).sum(axis=1)
        gap = far - near_by
        # Where both feet lie almost the same way there is no telling; such centres are not moved far.
        step = np.clip(gap / np.maximum(slope, 0.1), -near_by / 2, far / 2)
        centre = centre - step[:, None] * unit
        near = (feet[0].s, feet[1].s)
        if np.abs(gap).max() <= 1e-12 * np.abs(centre).max():
            break
    feet = [side.feet(centre, s, reach) for side, s in zip(sides, near, strict=True)]
    radius = (feet[0].distance + feet[1].distance) / 2
    return Stations(centre, radius, feet[0].s, feet[1].s, rough.corner)


def safe(size: Array) -> Array:
    """Return sizes to divide by: 1 in place of 0."""
    return np.where(size > 0, size, 1.0)


def first_stations(
    sides: tuple[Side, Side],
    facing: tuple[Array, Array, Array, Array],
    ends: tuple[Stations, ...],
    typical: float,
) -> Stations:
    """Return stations along a stem between its ends, or once round a ring.

    Parameters
    ----------
    sides
        Both sides.
    facing
        Points on either side that face each other, ``(n, 2)`` each, and their arc lengths.
    ends
        The first and the last station; none for a ring.
    typical
        The typical width in mm.
    """
    point_a, point_b, s_a, s_b = facing
    middle, across = (point_a + point_b) / 2, np.hypot(*(point_a - point_b).T)
    table = np.column_stack([middle, s_a, s_b, across])
    if ends:
        # What lies past the feet of the last circle, or within it, is no longer body.
        start, finish = ends
        inside = (s_a >= start.a) & (s_b <= start.b) & (s_a <= finish.a) & (s_b >= finish.b)
        for end in ends:
            inside &= np.hypot(*(middle - end.centre[0]).T) > end.radius[0]
        first, last = (np.concatenate([end.centre[0], end.a, end.b, 2 * end.radius])[None] for end in ends)
        table = np.concatenate([first, table[inside], last])
    else:
        length_a, length_b = (side.s[-1] - side.s[0] for side in sides)
        table = np.concatenate([table, table[:1] + np.array([0, 0, length_a, -length_b, 0])])
    run = np.hypot(*np.diff(table[:, :2], axis=0).T)
    width = np.maximum(table[:, 4], _NARROW * typical)
    density = np.append(0, np.cumsum(run * _PER_WIDTH / np.minimum(width[:-1], width[1:])))
    # No more than some dozens to each step of the boundary, which are bounded.
    count = max(int(np.ceil(density[-1])), 16)
    at = np.linspace(0, density[-1], count + 1)
    x, y, a, b, wide = (np.interp(at, density, column) for column in table.T)
    rough = Stations(np.stack([x, y], axis=1), wide / 2, a, b, np.zeros(count + 1, dtype=bool))
    found = centred_between(sides, rough, 2 * wide + typical / 4)
    found = found[slice(1, -1)]
    return joined([ends[0], found, ends[1]]) if ends else found


# Ends.


def round_end(sides: tuple[Side, Side], end: End, body: Stations, forward: int) -> Stations:
    """Return the last station toward a round end: that of the last circle that touches both sides, not the cap.

    From a station ``body`` clear of the end the centre walks on along the middle (``forward`` 1, or -1 against it)
    until both feet lie ahead; the step is then halved until it is nothing.
    """
    here, way, _ = _on_the_way(sides, body, end, forward)
    step, bracketed = max(end.across / 8, end.reach / 40), False
    for _ in range(_MOST_WALK):
        trial, onward, past = _on_the_way(sides, replace(here, centre=here.centre + step * way), end, forward)
        if not past:
            here, way = trial, onward
        bracketed |= past
        step /= 2 if bracketed else 1
        if step <= 1e-7 * end.across:
            break
    for _ in range(3):
        trial, _, past = _on_the_way(sides, here, end, forward)
        here = here if past else trial
    return here


def square_end(sides: tuple[Side, Side], end: End, rough: Stations, forward: int, cut: Array) -> Stations:
    """Return the last station toward a square end: on the line through its middle in the direction ``cut``."""
    here = rough
    for _ in range(_SETTLING):
        here, way, _ = _on_the_way(sides, here, end, forward)
        slant, gap = way[0] * cut[1] - way[1] * cut[0], end.point - here.centre[0]
        here = replace(here, centre=here.centre + (gap[0] * cut[1] - gap[1] * cut[0]) / slant * way)
    return here


def _on_the_way(
    sides: tuple[Side, Side], rough: Stations, end: End, forward: int
) -> tuple[Stations, Array, bool]:
    """Return a rough station moved to the middle, the direction onward, and whether it is past a round end."""
    reach = np.array([2 * end.across + end.reach])
    feet = [side.feet(rough.centre, s, reach) for side, s in zip(sides, (rough.a, rough.b), strict=True)]
    up, down = (foot.point[0] - rough.centre[0] for foot in feet)
    far, near = float(feet[0].distance[0]), float(feet[1].distance[0])
    # The first side lies to the left of travel as seen on the page, the second to the right.
    across = down - up
    apart = float(np.hypot(*across))
    if apart <= 1e-9 * (far + near):
        return rough, np.zeros(2), True
    way = forward * np.array([across[1], -across[0]]) / apart
    past = float((up + down) @ way) > _AHEAD * (far + near)
    centre = rough.centre + (near - far) / 2 * across / apart
    return (
        replace(rough, centre=centre, radius=np.array([(far + near) / 2]), a=feet[0].s, b=feet[1].s),
        way,
        past,
    )
