"""Fairing, judged by closed forms, by what no smooth line can do, and by distances measured another way."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree

import bias_drafting as bd
from bias_drafting.curve import fair, fair_drawn, fair_programme, fair_solver, fair_stretches
from bias_drafting.curve.fair import FairedCurve, fair_curve
from bias_drafting.curve.fair_arcs import ArcLine
from bias_drafting.curve.fair_fit import Limits, fitted
from bias_drafting.curve.measure import build_chain

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

# --- the judges -----------------------------------------------------------------------------------------------


def dense(curve: bd.Curve, step: float = 0.004) -> Array:
    return curve.point_at(np.linspace(0, curve.length, int(curve.length / step) + 2))


def two_sided(one: Array, other: Array) -> float:
    """The two-sided distance of two lines given by points so close together that joining them changes nothing.

    The nearest point of a row ``step`` apart is further than the line by ``step / 2`` at most where they touch, and
    by ``step^2 / 8d`` at a distance ``d``.
    """
    return max(both_ways(one, other))


def both_ways(one: Array, other: Array) -> tuple[float, float]:
    """How far the second line is from the first at most, and the first from the second."""
    there, back = np.asarray(cKDTree(one).query(other)[0]), np.asarray(cKDTree(other).query(one)[0])
    return float(there.max()), float(back.max())


def sharpest_joint(curve: bd.Curve) -> float:
    """The largest turn at a joint, in radians."""
    corners = build_chain(curve.controls, curve.closed).corners
    return float(np.abs(corners[:-1] if not curve.closed else corners).max())


def check_sound(drawn: bd.Curve, faired: FairedCurve, radius: float, window: float = 0.0) -> None:
    """All that is promised of every result."""
    new = faired.curve
    assert new.closed == drawn.closed
    assert new.tightest(window).radius >= radius * (1 - 1e-6)
    if window == 0:
        # Another way: the angles of a fine polyline, each over the arc about it.
        way = np.diff(dense(new, radius / 400), axis=0)
        run = np.hypot(*way.T)
        turn = np.abs(np.angle(np.exp(1j * np.diff(np.arctan2(way[:, 1], way[:, 0])))))
        assert (turn / (run[1:] + run[:-1]) * 2).max() <= 1.001 / radius
    assert faired.largest_shift == pytest.approx(two_sided(dense(drawn), dense(new)), abs=0.004)
    assert faired.largest_shift == max(bend.shift for bend in faired.bends)
    if not drawn.closed:
        assert new.start == drawn.start
        assert new.end == drawn.end
        ends = drawn.tangent_at([0, drawn.length]) - new.tangent_at([0, new.length])
        assert np.abs(ends).max() < 1e-9
    for bend in faired.bends:
        assert bend.radius_after >= radius * (1 - 1e-6)
        assert drawn.point_at(bend.s) == pytest.approx(bend.point, abs=1e-9)
        # The place that moved most is that far from the new line, or a place of the new line that far from it.
        points = dense(new)
        away = np.hypot(*(points - bend.point).T)
        moved, _ = both_ways(dense(drawn), points[away < bend.shift + 0.01])
        assert away.min() == pytest.approx(bend.shift, abs=0.01) or moved > bend.shift - 0.01


def corner(angle: float, arm: float = 100.0) -> bd.Curve:
    """Two arms of that length, the second turned by so many degrees."""
    turn = np.radians(angle)
    return bd.Curve.from_points([(-arm, 0), (0, 0), (arm * np.cos(turn), arm * np.sin(turn))])


def u_turn(width: float, arm: float = 60.0) -> bd.Curve:
    half = width / 2
    return bd.Curve.from_svg_path(f"M0 0H{arm}A{half} {half} 0 0 1 {arm} {width}H0")


def rounded_square(side: float, radius: float) -> bd.Curve:
    a, r = side - radius, radius
    arcs = f"A{r} {r} 0 0 1"
    return bd.Curve.from_svg_path(
        f"M{r} 0H{a}{arcs} {side} {r}V{a}{arcs} {a} {side}H{r}{arcs} 0 {a}V{r}{arcs} {r} 0Z"
    )


# --- corners: the closed form ---------------------------------------------------------------------------------
#
# A corner that turns by x, on long arms, to bends of radius R. Let the new line turn round the corner along an arc of
# radius R whose centre lies on the bisector, d inside the corner. It passes the corner at d - R, and its circle
# reaches R - d cos(x/2) beyond each arm (the angle between bisector and arm is (pi - x)/2). Nothing is gained by
# making one less than the other: with both h,
#
#     d = R + h  and  R - (R + h) c = h,  c = cos(x/2),   so   h = R (1 - c) / (1 + c) = R tan^2(x/4).
#
# From where the circle is furthest beyond an arm, a reverse arc leads back to it: the two centres are 2R apart, the
# one R - h inside the arm, the other R outside, so cos y = 1 - h / 2R for the angle y it turns by, and it meets the
# arm d sin(x/2) + 2R sin y from the corner. It stays within h of the arm all along.
#
# For a right angle h = (3 - 2 sqrt 2) R = 0.171573 R. A fillet passes the corner at (sqrt 2 - 1) R.
# That nothing does better: a line bending by 1/R at most turns from along one arm to along the other. Where it runs
# square to the bisector, lay the circle of radius R that touches it there from within. A line bending less stays
# outside that circle until it has turned to an arm's direction, and there it is at least as far beyond the arm as the
# circle is. So a circle of radius R keeps within h of both arms and passes within h of the corner: the h above.


def least_shift(angle: float, radius: float) -> float:
    return float(radius * np.tan(np.radians(angle) / 4) ** 2)


def best_corner(angle: float, radius: float, arm: float) -> Array:
    """Points on the line of arcs above, laid out by walking along it."""
    x = np.radians(angle)
    h = least_shift(angle, radius)
    y = np.arccos(1 - h / (2 * radius))
    straight = arm - ((radius + h) * np.sin(x / 2) + 2 * radius * np.sin(y))
    points, heading = [np.array([[-arm, 0.0]])], 0.0
    for length, bend in ((straight, 0), (y, -1), (x + 2 * y, 1), (y, -1), (straight, 0)):
        run = np.linspace(0, length * (radius if bend else 1), 20_000)
        way = heading + bend * run / radius
        middle = (way[1:] + way[:-1]) / 2
        steps = np.diff(run)[:, None] * np.stack([np.cos(middle), np.sin(middle)], axis=1)
        points.append(points[-1][-1] + np.cumsum(steps, axis=0))
        heading = float(way[-1])
    return np.concatenate(points)


def test_the_right_angle_is_three_minus_two_root_two() -> None:
    assert least_shift(90, 1) == pytest.approx(3 - 2 * np.sqrt(2), rel=1e-14)


@pytest.mark.parametrize("angle", [30, 90, 150])
def test_the_closed_form_describes_a_line_that_exists(angle: float) -> None:
    drawn, line = dense(corner(angle, 50)), best_corner(angle, 10, 50)
    assert line[-1] == pytest.approx(drawn[-1], abs=1e-5)
    assert two_sided(drawn, line) == pytest.approx(least_shift(angle, 10), abs=2e-3)


@pytest.mark.parametrize("angle", [5, 30, 60, 90, -90, 135, 170])
def test_a_corner_on_long_arms_comes_near_the_least_shift(angle: float) -> None:
    drawn = corner(angle)
    faired = fair_curve(drawn, 10)
    check_sound(drawn, faired, 10)
    best = least_shift(abs(angle), 10)
    assert 0.995 * best <= faired.largest_shift <= 1.01 * best
    (bend,) = faired.bends
    assert bend.radius_before == 0
    assert bend.start < 100 < bend.end
    # Away from the corner the arms are as drawn; the optimum needs this much of them, and a little more is taken.
    x, h = np.radians(abs(angle)), best / 10
    reach = 10 * ((1 + h) * np.sin(x / 2) + 2 * np.sin(np.arccos(1 - h / 2)))
    assert 0.9 * reach < 100 - bend.start < 1.6 * reach + 6
    assert len(faired.curve) <= 25


def test_a_cusp_moves_by_one_radius() -> None:
    # tan(45 degrees) = 1: no line that turns back is narrower than 2 R, and the spike has no width at all.
    drawn = corner(180)
    faired = fair_curve(drawn, 10)
    check_sound(drawn, faired, 10)
    assert 9.95 <= faired.largest_shift <= 10.1


def test_a_rounded_corner_moves_by_what_its_radius_lacks() -> None:
    # As above, but the drawn line passes its corner at r (1/c - 1) already, and swings beyond no arm:
    # d = R + h + r (1/c - 1) and R - d c = h give h = (R - r) tan^2(x/4).
    drawn = rounded_square(100, 10)
    faired = fair_curve(drawn, 20)
    check_sound(drawn, faired, 20)
    assert len(faired.bends) == 4
    for bend in faired.bends:
        assert least_shift(90, 10) * 0.995 <= bend.shift <= least_shift(90, 10) * 1.01
        assert bend.radius_before == pytest.approx(10, rel=1e-5)
    # The corner of the square at its start lies in a bend that runs over it.
    assert [bend.end < bend.start for bend in faired.bends] == [False, False, False, True]


# --- other shapes ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("width", "radius"), [(1, 8), (5, 8), (14, 8)])
def test_a_u_turn_swings_out_by_what_its_width_lacks(width: float, radius: float) -> None:
    # A line bending by 1/R at most, on its way from going out to coming back, is 2 R wide at least; the drawn one is
    # `width` wide: so on one side or the other the new one is R - width / 2 beyond it.
    drawn = u_turn(width)
    faired = fair_curve(drawn, radius)
    check_sound(drawn, faired, radius)
    best = radius - width / 2
    assert best <= faired.largest_shift <= 1.02 * best


def test_a_ring_grows_about_its_middle() -> None:
    # A closed line that nowhere bends more than a circle of radius R holds such a circle (Pestov and Ionin 1959, from
    # memory); to lie within h of a ring of radius r its circle must fit in one of radius r + h: h = R - r at least.
    ring = bd.Curve.from_svg_path("M3 0A3 3 0 0 1 -3 0A3 3 0 0 1 3 0Z")
    faired = fair_curve(ring, 8)
    check_sound(ring, faired, 8)
    assert 5 <= faired.largest_shift <= 5.05
    (bend,) = faired.bends
    assert bend.start == 0
    assert bend.end == pytest.approx(ring.length)


def test_an_s_keeps_its_shape() -> None:
    drawn = bd.Curve.from_svg_path("M0 0H40A5 5 0 0 1 40 10H20A5 5 0 0 0 20 20H60")
    faired = fair_curve(drawn, 9)
    check_sound(drawn, faired, 9)
    # Each of its two half turns is 10 wide and must become 18: at least 4 mm; half a millimetre more was measured
    # when both were faired as one.
    assert 4 <= faired.largest_shift <= 4.2
    assert faired.curve.turning > 360
    # Seen from the other end it is the same.
    turned = fair_curve(drawn.reversed(), 9)
    assert turned.largest_shift == pytest.approx(faired.largest_shift, rel=0.02)


def test_a_tendril_of_radius_3_becomes_one_of_8() -> None:
    drawn = bd.Curve.from_svg_path(
        "M0 40C10 20 25 0 45 0A20 20 0 0 1 65 20A12 12 0 0 1 53 32A3 3 0 0 1 53 26H56"
    )
    assert drawn.tightest().radius == pytest.approx(3, rel=1e-5)
    faired = fair_curve(drawn, 8)
    check_sound(drawn, faired, 8)
    # Half a turn 6 wide becomes one 16 wide, and its end stays.
    assert 5 <= faired.largest_shift <= 16
    # What is wide enough far from its tip is drawn as it was.
    kept = faired.bends[0].start
    assert kept > 20
    s = np.linspace(0, kept, 50)
    assert np.abs(faired.curve.point_at(s) - drawn.point_at(s)).max() < 1e-9


def test_a_row_of_half_circles_can_be_flattened() -> None:
    # No small move makes every one of its bends wider: the search must begin from elsewhere.
    arcs = "".join(f"A5 5 0 0 {k % 2} {10 * (k + 1)} 0" for k in range(4))
    drawn = bd.Curve.from_svg_path("M0 0" + arcs)
    faired = fair_curve(drawn, 5.5)
    check_sound(drawn, faired, 5.5)
    assert faired.largest_shift < 5


def test_what_is_drawn_counts_too() -> None:
    # A spike, narrow and 6 mm high, on a straight line: the new line is never far from it, but its tip from the line.
    drawn = bd.Curve.from_points([(0, 0), (60, 0), (60.5, 6), (61, 0), (121, 0)])
    faired = fair_curve(drawn, 20)
    check_sound(drawn, faired, 20)
    there, back = both_ways(dense(drawn), dense(faired.curve))
    assert there < 0.95 * back
    assert back < 5


def test_many_small_corners_are_one_large_bend() -> None:
    # A quarter of a circle of radius 5 drawn as a polyline of corners of 5 degrees, on long arms.
    angle = np.radians(np.arange(0, 91, 5))
    arc = np.stack([5 * np.sin(angle), 5 - 5 * np.cos(angle)], axis=1)
    drawn = bd.Curve.from_points(np.vstack([[(-60, 0)], arc, [(5, 65)]]))
    faired = fair_curve(drawn, 12)
    check_sound(drawn, faired, 12)
    assert len(faired.bends) == 1
    assert faired.largest_shift <= 1.03 * least_shift(90, 12 - 5)


@pytest.mark.parametrize("scale", [1e-3, 1e4])
def test_size_and_place_do_not_matter(scale: float) -> None:
    drawn = corner(100, 40)
    far = drawn.transformed([[0, -scale, 1e3 * scale], [scale, 0, -2e3 * scale]])
    here, there = fair_curve(drawn, 10), fair_curve(far, 10 * scale)
    assert there.largest_shift == pytest.approx(here.largest_shift * scale, rel=5e-3)
    assert there.curve.tightest().radius >= 10 * scale * (1 - 1e-6)


def test_what_need_not_move_is_drawn_as_it_was() -> None:
    drawn = bd.Curve.from_points([(0, 0), (50, 0), (100, 0), (150, 0), (150, 50), (150, 100), (150, 150)])
    faired = fair_curve(drawn, 10)
    for kept in (0, 1, 4, 5):
        assert any(np.array_equal(drawn.controls[kept], new) for new in faired.curve.controls)
    assert sharpest_joint(faired.curve) < 1e-9


def test_a_curve_that_is_wide_enough_comes_back_itself() -> None:
    drawn = bd.Curve.from_svg_path("M0 0A50 50 0 0 1 100 0")
    assert fair_curve(drawn, 49) == FairedCurve(drawn, 0.0, ())
    assert fair_curve(drawn, 49).curve is drawn
    # A corner too, where the window is long enough.
    assert fair_curve(corner(90), 3.8, window=6).curve.tightest(6).radius == pytest.approx(6 / (np.pi / 2))


def test_lengths_may_be_text() -> None:
    drawn = corner(90)
    inches = fair_curve(drawn, "1/2 in", window="0 mm", hold=[("0 mm", "2 in")])
    assert inches == fair_curve(drawn, 12.7, hold=[(0, 50.8)])


def test_asking_twice_gives_the_same() -> None:
    drawn = u_turn(5)
    assert fair_curve(drawn, 8) == fair_curve(drawn, 8)


# --- windows --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("radius", "window"), [(20, 6), (6, 6), (6, 2)])
def test_over_a_window(radius: float, window: float) -> None:
    drawn = corner(90)
    faired = fair_curve(drawn, radius, window=window)
    check_sound(drawn, faired, radius, window)
    assert faired.largest_shift <= 1.03 * least_shift(90, radius)
    (bend,) = faired.bends
    assert bend.radius_before == pytest.approx(window / (np.pi / 2))


def test_a_window_counts_where_there_is_no_other_room() -> None:
    # With arms of 5 mm no line bends by 1/5.2 at most everywhere (see the elbow below), but one can over 6 mm.
    drawn = corner(90, 5)
    with pytest.raises(bd.UnfeasibleError):
        fair_curve(drawn, 5.2)
    faired = fair_curve(drawn, 5.2, window=6)
    check_sound(drawn, faired, 5.2, 6)


def test_a_corner_a_window_forgives_is_left_alone_outside_the_bend() -> None:
    # 8 degrees over 6 mm are a radius of 43 mm.
    drawn = bd.Curve.from_points([(0, 0), (80, 0), (160, 80 * np.tan(np.radians(8))), (150, 90)])
    faired = fair_curve(drawn, 20, window=6)
    check_sound(drawn, faired, 20, 6)
    assert any(np.array_equal(drawn.controls[0], new) for new in faired.curve.controls)


def test_a_curve_shorter_than_its_window_is_taken_whole() -> None:
    # 10 mm turn by a right angle: on the whole a radius of 6.366 mm. For 7 mm the line would have to be longer.
    drawn = corner(90, 5)
    assert fair_curve(drawn, 6.3, window=30).curve is drawn
    with pytest.raises(bd.UnfeasibleError, match=r"widest possible is about 6\.366 mm"):
        fair_curve(drawn, 7, window=30)


# --- holding --------------------------------------------------------------------------------------------------


def assert_held(drawn: bd.Curve, faired: FairedCurve, s0: float, s1: float) -> None:
    """The held stretch is part of the new curve: the same points, the same directions."""
    points = drawn.point_at(np.linspace(s0 + 1e-6, s1 - 1e-6, 200))
    whole = bd.Curve(drawn.section(s0, s1).controls)
    at = np.array([np.hypot(*(faired.curve.controls[:, 0] - whole.controls[0, 0]).T).argmin()])
    start = float(np.cumsum([0.0, *(bd.Curve(c[None]).length for c in faired.curve.controls)])[at[0]])
    same = faired.curve.point_at(start + np.linspace(1e-6, s1 - s0 - 1e-6, 200))
    assert np.abs(same - points).max() < 1e-9


def test_an_arm_that_is_held_leaves_all_the_swing_to_the_other() -> None:
    # From the corner the line must turn by a right angle within the bends allowed, so it goes R beyond the other arm.
    drawn = corner(90)
    faired = fair_curve(drawn, 10, hold=[(0, 100)])
    check_sound(drawn, faired, 10)
    assert_held(drawn, faired, 0, 100)
    assert 10 <= faired.largest_shift <= 10.1
    assert faired.bends[0].start == 100


def test_holding_both_sides() -> None:
    drawn = corner(90)
    free = fair_curve(drawn, 10).largest_shift
    faired = fair_curve(drawn, 10, hold=[(0, 88), (112, 200)])
    check_sound(drawn, faired, 10)
    assert_held(drawn, faired, 0, 88)
    assert_held(drawn, faired, 112, 200)
    assert sharpest_joint(faired.curve) < 1e-9
    assert faired.largest_shift > free
    assert (faired.bends[0].start, faired.bends[0].end) == (88, 112)


def test_holding_a_stretch_over_the_start_of_a_closed_curve() -> None:
    square = bd.Curve.from_points([(20, 0), (100, 0), (100, 100), (0, 100), (0, 0)], closed=True)
    # The corner at (0, 0) is the last 20 mm before the start; hold it, and it cannot be faired.
    with pytest.raises(
        bd.UnfeasibleError, match=r"held stretch from 370 to 410 mm itself bends to a radius of 0 mm"
    ):
        fair_curve(square, 10, hold=[(370, 10)])
    faired = fair_curve(square, 10, hold=[(395, 60)])
    check_sound(square, faired, 10)
    assert len(faired.bends) == 4
    assert_held(square, faired, 0, 60)


# --- when it cannot be done -----------------------------------------------------------------------------------


def test_an_elbow_says_how_wide_it_can_be() -> None:
    # Arms of 5 mm, turning by a right angle between ends and directions that stay. An arc of radius 5 does it. Wider,
    # a reverse arc by y first must lead out, and back at the end; the centre of the arc between the two then lies at
    # (2R sin y, 2R cos y - R), so by symmetry 2 (sin y + cos y) = 1 + 5/R: for R > 5 only with y beyond a right
    # angle, which is a loop.
    with pytest.raises(bd.UnfeasibleError, match=r"least radius of 100 mm.*near s = 5 mm its ends") as caught:
        fair_curve(corner(90, 5), 100)
    found = re.search(r"widest possible is about ([0-9.]+) mm", str(caught.value))
    assert found is not None
    widest = float(found[1])
    assert 4.9 <= widest <= 5
    check_sound(corner(90, 5), fair_curve(corner(90, 5), widest), widest)


def test_held_stretches_too_near_each_other() -> None:
    with pytest.raises(
        bd.UnfeasibleError, match=r"what is held leave too little room.*about (4\.9[0-9]*|5) mm"
    ):
        fair_curve(corner(90), 10, hold=[(0, 95), (105, 200)])


def test_what_is_held_may_be_too_tight_itself() -> None:
    drawn = u_turn(8)
    with pytest.raises(
        bd.UnfeasibleError, match=r"held stretch from 40 to 90 mm itself bends to a radius of 4 mm"
    ):
        fair_curve(drawn, 10, hold=[(40, 90)])


def test_a_closed_curve_held_altogether() -> None:
    drop = bd.Curve.from_svg_path("M0 0C40 -60 40 60 0 0Z")
    whole = drop.length / (2 * np.pi)
    with pytest.raises(bd.UnfeasibleError, match="itself bends to a radius of 0 mm at s = 0 mm"):
        fair_curve(drop, 5, hold=[(0, drop.length)])
    with pytest.raises(
        bd.UnfeasibleError, match=f"what is held leave.* widest possible is about {whole:.4g} mm"
    ):
        fair_curve(drop, 20, window=200, hold=[(0, drop.length)])


def test_loops_are_no_fairing(monkeypatch: pytest.MonkeyPatch) -> None:
    # What counts as a loop: a shift of over two radii that is also more than the height of all that is drawn there.
    elbow = fair_drawn.DrawnLine.of(corner(90, 5), 0.0, ())
    assert fair_stretches.furthest(fair_drawn.task_of(elbow, 0, 10, 100, 0.1)) == 2
    tall = fair_drawn.DrawnLine.of(bd.Curve.from_points([(0, 0), (5, 60), (10, 0)]), 0.0, ())
    height = fair_stretches.furthest(fair_drawn.task_of(tall, 0, tall.chain.length, 10, 0.1))
    assert height == pytest.approx(6, rel=1e-3)
    # This narrow hairpin could be led round by 17 mm, 2.8 radii, to bends of 6 mm; one radius tried is enough here.
    monkeypatch.setattr(fair, "_TRIALS", 1)
    hairpin = bd.Curve.from_svg_path("M36.56 22.17C33.53 21.39 58.69 4.7 23.14 25.86")
    with pytest.raises(bd.UnfeasibleError, match="too little room; the widest possible is about 3"):
        fair_curve(hairpin, 6)


def test_a_search_that_takes_too_long_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    tried: list[float] = []
    faired = fair._faired

    def counted(curve: bd.Curve, held: Any, radius: float, window: float) -> object:
        tried.append(radius)
        return faired(curve, held, radius, window)

    monkeypatch.setattr(fair, "_faired", counted)
    hairpin = bd.Curve.from_svg_path("M36.56 22.17C33.53 21.39 58.69 4.7 23.14 25.86")
    # All of it is made anew: at the second radius tried that is some seven radii.
    monkeypatch.setattr(fair, "_MOST_RADII", 5)
    with pytest.raises(
        bd.UnfeasibleError,
        match=r"the widest possible is between 3\.031 and 6 mm, where the search for it was given up",
    ):
        fair_curve(hairpin, 6)
    assert tried == [6, pytest.approx(3.031, abs=1e-3)]
    assert hairpin.length / tried[1] > 5


def test_what_is_made_anew_is_measured_also_over_the_start() -> None:
    square = fair_curve(rounded_square(100, 10), 20)
    assert square.bends[3].end < square.bends[3].start
    each = [
        fair._made_anew(FairedCurve(square.curve, 0, (bend,)), 400 - 80 + 20 * np.pi) for bend in square.bends
    ]
    assert each == pytest.approx([each[0]] * 4, rel=0.1)
    ring = bd.Curve.from_svg_path("M3 0A3 3 0 0 1 -3 0A3 3 0 0 1 3 0Z")
    assert fair._made_anew(fair_curve(ring, 4), ring.length) == ring.length


@pytest.mark.parametrize("radius", [0, -1, np.nan, np.inf, "wide"])
def test_radii_that_are_none(radius: float | str) -> None:
    with pytest.raises(bd.LengthError, match="the least radius"):
        fair_curve(corner(90), radius)


@pytest.mark.parametrize("window", [-1, np.nan, "6"])
def test_windows_that_are_none(window: float | str) -> None:
    with pytest.raises(bd.LengthError):
        fair_curve(corner(90), 10, window=window)


@pytest.mark.parametrize(
    ("hold", "message"),
    [
        ([(10, 300)], "at 300 mm is off the curve, which is 200 mm long"),
        ([(30, 10)], "runs forward along the curve; from 30 to 10 mm"),
        ([(30, 30)], "it has no length"),
        ([(10, 30), (20, 50)], "10 to 30 mm and 20 to 50 mm overlap"),
        ([5], "stretches"),
        ([(1, 2, 3)], "stretches"),
    ],
)
def test_holds_that_make_no_sense(hold: list[tuple[float, float]], message: str) -> None:
    with pytest.raises(bd.CurveError, match=message):
        fair_curve(corner(90), 10, hold=hold)


def test_holds_that_overlap_over_the_start() -> None:
    square = rounded_square(100, 10)
    with pytest.raises(bd.CurveError, match="overlap"):
        fair_curve(square, 20, hold=[(350, 20), (10, 60)])


# --- any line -------------------------------------------------------------------------------------------------


# A turn of a degree or less is no corner and stays as it was drawn, which the check of every result would not see.
TURNS = st.floats(-150, 150).filter(lambda turn: turn == 0 or abs(turn) > 1.1)


@settings(max_examples=8, deadline=None, derandomize=True)
@given(
    turns=st.lists(TURNS, min_size=1, max_size=3),
    arms=st.lists(st.floats(10, 60), min_size=4, max_size=4),
    radius=st.sampled_from([3.0, 8.0]),
)
def test_any_polyline_is_faired_or_refused(turns: list[float], arms: list[float], radius: float) -> None:
    ways = np.radians(np.concatenate([[0.0], np.cumsum(turns)]))
    steps = np.array(arms[: len(ways)])[:, None] * np.stack([np.cos(ways), np.sin(ways)], axis=1)
    drawn = bd.Curve.from_points(np.vstack([[(0, 0)], np.cumsum(steps, axis=0)]))
    try:
        faired = fair_curve(drawn, radius)
    except bd.UnfeasibleError as error:
        assert "widest" in str(error) or "no wider" in str(error)  # noqa: PT017
        return
    if faired.bends:
        check_sound(drawn, faired, radius)


def test_the_work_for_one_bend_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    programmes, largest = [], []
    solve = fair_programme.next_line

    def counted(*given: object) -> object:
        programmes.append(1)
        largest.append(given[1].count)  # type: ignore[attr-defined]
        return solve(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(fair_solver, "next_line", counted)
    fair_curve(corner(90), 10)
    assert 0 < len(programmes) < 60
    assert max(largest) < 150


def test_a_sloppy_fit_is_not_believed(monkeypatch: pytest.MonkeyPatch) -> None:
    margins = []

    def sloppy(line: ArcLine, limits: Limits) -> Array:
        margins.append(limits.bend)
        return fitted(line, Limits(0.05, 1.01, np.inf))

    monkeypatch.setattr(fair_stretches, "fitted", sloppy)
    faired = fair_curve(corner(90), 10)
    assert len(margins) > 1
    assert margins == sorted(margins)
    assert faired.curve.tightest().radius >= 10 * (1 - 1e-6)
    # Where no margin will do, nothing is returned.
    monkeypatch.setattr(fair, "_TRIALS", 1)
    monkeypatch.setattr(fair_stretches, "fitted", lambda line, _limits: fitted(line, Limits(0.5, 10, np.inf)))
    with pytest.raises(bd.UnfeasibleError):
        fair_curve(corner(90), 10)


# --- the parts ------------------------------------------------------------------------------------------------


def test_a_line_of_arcs_is_exact() -> None:
    # Three quarters of a circle of radius 2 about (0, 2), in unequal to no arc's favour: seven.
    heading = np.linspace(0, 1.5 * np.pi, 8)
    line = ArcLine(np.zeros(2), heading, 1.5 * np.pi * 2 / 7)
    circle = np.stack([2 * np.sin(heading), 2 - 2 * np.cos(heading)], axis=1)
    assert np.abs(line.nodes - circle).max() < 1e-14


def test_cubics_fitted_to_arcs_keep_their_limits() -> None:
    # Straight, a right turn of radius 1, a left one, straight.
    bend = np.repeat([0.0, 1.0, -1.0, 0.0], 30)
    line = ArcLine(np.zeros(2), np.concatenate([[0.0], np.cumsum(bend * 0.05)]), 0.05)
    few = bd.Curve(fitted(line, Limits(1e-3, 1.002, np.inf)))
    assert len(few) <= 10
    assert few.tightest().radius >= 1 / 1.002
    assert sharpest_joint(few) < 1e-9
    fine = line.resampled(12_000).nodes
    assert two_sided(fine, dense(few, 5e-4)) < 1.3e-3
    finer = bd.Curve(fitted(line, Limits(1e-6, 1.002, np.inf)))
    assert len(finer) > len(few)
    assert two_sided(fine, dense(finer, 5e-4)) < 4e-4
