"""Small loops and spikes cut off a ring: what was put in must be gone, and everything else as it was."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely

from bias_drafting.curve import bezier
from bias_drafting.curve.curve import Curve
from bias_drafting.curve.loops import without_loops
from bias_drafting.curve.rings import END, LEFT, RIGHT, STRAIGHT, Ring, signed_area

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

TOLERANCE = 0.01
SIDES = np.array([RIGHT, END, LEFT, STRAIGHT])
CORNERS = np.array([(0.0, 0), (40, 0), (40, 30), (0, 30)])
# What a ring may run through instead of one place: away from it and back to it, in units to be chosen.
LOOP = np.array([(0.0, 0), (3, 2), (1, 2), (4, 0)])
SPIKE = np.array([(0.0, 0), (2, 3), (0, 0)])
BACK = np.array([(0.0, 0), (4, 0), (1, 0)])


def bed(detour: Array, size: float, side: int, turn: int = 0) -> Ring:
    """A bed of 40 by 30 mm with a detour half way along one side, its pieces counted from another on."""
    along = (np.roll(CORNERS, -1, axis=0) - CORNERS)[side]
    unit = along / np.hypot(*along)
    way = detour * size @ np.array([unit, (-unit[1], unit[0])]) + CORNERS[side] + along / 2
    points = np.insert(np.vstack([CORNERS, CORNERS[:1]]), side + 1, way, axis=0)
    controls = bezier.from_lines(points)
    sides = np.insert(SIDES, side, np.full(len(detour), SIDES[side]))
    return Ring(np.roll(controls, turn, axis=0), np.roll(sides, turn))


@pytest.mark.parametrize("turn", range(8))
@pytest.mark.parametrize("side", range(4))
@pytest.mark.parametrize("detour", [LOOP, SPIKE, BACK], ids=["loop", "spike", "back and forth"])
def test_a_short_detour_is_cut_off(detour: Array, side: int, turn: int) -> None:
    ring = bed(detour, 0.03, side, turn)
    if detour is not LOOP:
        assert Curve(ring.controls, closed=True).self_intersections().overlaps
    mended = without_loops(ring, TOLERANCE)
    assert (mended.controls[:, 3] == np.roll(mended.controls[:, 0], -1, axis=0)).all()
    curve = Curve(mended.controls, closed=True)
    found = curve.self_intersections()
    assert (found.points, found.overlaps) == ((), ())
    # Up to where the loop crosses itself it is a bump, four sizes long and four thirds high.
    bump = 8 / 3 * 0.03**2 if detour is LOOP else 0.0
    assert abs(signed_area(mended.controls) - 1200) == pytest.approx(bump, abs=1e-9)
    assert curve.length == pytest.approx(140 + (2 * np.hypot(2, 4 / 3) - 4) * 0.03 * (bump > 0), abs=1e-9)
    # Each side is still known for what it is.
    middles = bezier.evaluate(mended.controls, np.full(len(mended.controls), 0.5))
    for k, begin in enumerate(CORNERS):
        end = CORNERS[(k + 1) % 4]
        here = shapely.dwithin(shapely.LineString([begin, end]), shapely.points(middles), 0.05)
        assert here.any()
        assert (mended.side[here] == SIDES[k]).all()


# Each edge of a five-pointed star crosses two others, so that no loop lies within another or beside it.
STAR = np.array([(np.sin(k * 0.8 * np.pi) + 2, np.cos(k * 0.8 * np.pi)) for k in range(6)])
STAR = np.vstack([[(0.0, 0)], STAR[:5], [(2.5, -2), (4, 0)]])
NESTED = np.array([(0.0, 0), (3, 2), (1, 2), (4, 0), (2, -1), (2, 1.8), (6, 0)])


@pytest.mark.parametrize("detour", [STAR, NESTED], ids=["star", "nested"])
@pytest.mark.parametrize("turn", [0, 3, 6])
def test_of_loops_that_cross_one_another_nothing_is_left_and_nothing_is_moved(
    detour: Array, turn: int
) -> None:
    ring = bed(detour, 0.02, 2, turn)
    assert len(Curve(ring.controls, closed=True).self_intersections().points) >= 3
    mended = without_loops(ring, TOLERANCE)
    found = Curve(mended.controls, closed=True).self_intersections()
    assert (found.points, found.overlaps) == ((), ())
    assert signed_area(mended.controls) == pytest.approx(1200, abs=0.01)
    line = shapely.LineString(Curve(ring.controls, closed=True).flattened(1e-4))
    points = shapely.get_coordinates(
        shapely.segmentize(shapely.LineString(Curve(mended.controls, closed=True).flattened(1e-4)), 0.002)
    )
    assert shapely.distance(line, shapely.points(points)).max() < 1e-6


def test_sides_are_known_beyond_a_cusp() -> None:
    # The piece is taken in two at its cusp, so that there are more pieces than there were.
    cusp = np.array([[(0.0, 0), (40, -30), (0, -30), (40, 0)]])
    rest = bezier.from_lines(
        np.array([(40.0, 0), (40, 15), (40.06, 15.03), (40, 15), (40, 30), (0, 30), (0, 0)])
    )
    ring = Ring(np.concatenate([cusp, rest]), np.array([END, *[LEFT] * 4, RIGHT, STRAIGHT]))
    mended = without_loops(ring, TOLERANCE)
    assert len(mended.controls) == len(mended.side)
    assert Curve(mended.controls, closed=True).self_intersections().overlaps == ()
    middles = bezier.evaluate(mended.controls, np.full(len(mended.controls), 0.5))
    wanted = np.select(
        [middles[:, 1] < 0, middles[:, 0] > 39.9, middles[:, 0] < 0.1], [END, LEFT, STRAIGHT], RIGHT
    )
    assert mended.side.tolist() == wanted.tolist()


@pytest.mark.parametrize("size", [0.1, 2.0])
def test_a_long_loop_is_no_accident_and_stays(size: float) -> None:
    ring = bed(LOOP, size, 1)
    assert without_loops(ring, TOLERANCE) is ring


def test_a_ring_without_loops_comes_back_itself() -> None:
    ring = Ring(bezier.from_lines(np.vstack([CORNERS, CORNERS[:1]])), SIDES)
    assert without_loops(ring, TOLERANCE) is ring
