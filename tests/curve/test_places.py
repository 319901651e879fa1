"""Corners, inflections, measures of segments, and places found on curves: against sums done by hand."""

from __future__ import annotations

import numpy as np
import pytest

import bias_drafting as bd
from bias_drafting.curve.curve import Corner

SQUARE = bd.Curve.from_points([(0, 0), (50, 0), (50, 50), (0, 50)], closed=True)
WAVE = bd.Curve.from_svg_path("M0 0C20 -20 20 20 40 0")


def test_corners_of_open_and_closed_curves() -> None:
    zigzag = bd.Curve.from_points([(0, 0), (30, 0), (30, 40), (60, 40)])
    first, second = zigzag.corners
    assert first == Corner(30.0, (30.0, 0.0), first.turn)
    assert second == Corner(70.0, (30.0, 40.0), second.turn)
    assert (first.turn, second.turn) == pytest.approx((90, -90))
    assert [c.s for c in SQUARE.corners] == [0, 50, 100, 150]
    assert [c.turn for c in SQUARE.corners] == pytest.approx([90] * 4)
    assert [c.turn for c in SQUARE.reversed().corners] == pytest.approx([-90] * 4)


def test_folds_and_cusps_are_corners_and_rounded_handles_are_not() -> None:
    fold = bd.Curve.from_svg_path("M0 0L30 0L10 0")
    assert [(c.s, abs(round(c.turn))) for c in fold.corners] == [(30.0, 180)]
    cusp = bd.Curve.from_svg_path("M0 0C40 40 0 40 40 0")
    assert [(round(c.s, 6), abs(round(c.turn, 6))) for c in cusp.corners] == [
        (round(cusp.length / 2, 6), 180)
    ]
    slight = bd.Curve.from_points([(0, 0), (50, 0), (100, 0.8)])  # 0.92 degrees
    assert slight.corners == ()
    assert len(bd.Curve.from_points([(0, 0), (50, 0), (100, 1.0)]).corners) == 1


def test_inflections_lie_where_the_curvature_changes_sign() -> None:
    for curve in (WAVE, bd.Curve.from_svg_path("M0 0C30 -40 60 40 90 0S120 -60 150 -10")):
        s = np.linspace(0, curve.length, 20002)[1:-1]
        signs = np.sign(curve.curvature_at(s))
        sampled = s[1:][signs[1:] != signs[:-1]]
        assert curve.inflections == pytest.approx(sampled, abs=2 * curve.length / 20000)
        assert curve.reversed().inflections == pytest.approx(curve.length - curve.inflections[::-1], abs=1e-9)


def test_inflections_at_joints_past_straight_stretches_and_at_corners() -> None:
    # An arc to the right, one to the left; the same with a straight stretch between.
    arcs = "M0 0A20 20 0 0 1 40 0"
    joint = bd.Curve.from_svg_path(arcs + "A20 20 0 0 0 80 0")
    assert joint.inflections == pytest.approx([20 * np.pi], abs=1e-6)
    apart = bd.Curve.from_svg_path(arcs + "V30A20 20 0 0 0 80 30")
    assert apart.inflections == pytest.approx([20 * np.pi], abs=1e-6)
    assert apart.reversed().inflections == pytest.approx([20 * np.pi], abs=1e-6)
    assert SQUARE.inflections.tolist() == []


@pytest.mark.parametrize("between", ["", "v30", "h5", "v30h5", "v30h5v4"])
def test_a_corner_between_two_bends_is_no_inflection(between: str) -> None:
    # An arc to the right that ends going down, one to the left that sets out to the right: the corner where they
    # meet, or at either end of a straight stretch, or between two.
    turned = bd.Curve.from_svg_path(f"M0 0A20 20 0 0 1 40 0{between}a20 20 0 0 0 20 -20")
    assert len(turned.corners) >= 1
    assert turned.inflections.tolist() == []
    assert turned.reversed().inflections.tolist() == []


def test_a_joint_too_slight_for_a_corner_hides_no_inflection() -> None:
    slight = bd.Curve.from_svg_path("M0 0A20 20 0 0 1 40 0v30l0.2 20a20 20 0 0 0 20 20")
    assert slight.corners == ()
    assert slight.inflections == pytest.approx([20 * np.pi], abs=1e-6)
    assert slight.reversed().inflections == pytest.approx([10 * np.pi], abs=1e-6)


def test_a_corner_at_either_end_of_a_straight_stretch() -> None:
    curve = bd.Curve.from_svg_path("M0 0C10 0 20 5 20 15L40 15C50 15 60 10 60 0")
    assert [round(c.s, 1) for c in curve.corners] == [27.9]
    assert curve.inflections.tolist() == []
    assert curve.reversed().inflections.tolist() == []


# A closed line: a straight stretch, an S that bends to the right and then to the left, and the way back to the left.
BEAN = [
    "M0 0L20 0",
    "C40 0 35 20 55 20",
    "L75 20",
    "C110 20 110 -40 75 -40",
    "L0 -40",
    "C-25 -40 -25 0 0 0",
]


@pytest.mark.parametrize("corner", [False, True])
@pytest.mark.parametrize("first", range(6))
@pytest.mark.parametrize("back", [False, True])
def test_inflections_do_not_depend_on_where_a_closed_curve_begins(
    corner: bool, first: int, back: bool
) -> None:
    # With its last handle slanting the line has a corner before the straight stretch.
    path = "".join(BEAN) + "Z"
    whole = bd.Curve.from_svg_path(path.replace("-25 0 0 0", "-25 -20 0 0") if corner else path)
    assert len(whole.corners) == corner
    wanted = whole.reversed() if back else whole
    # By hand: where the straight stretch between opposite bends begins, from either side, and half way along the S.
    s_bend = 20 + whole.segment_lengths[1] / 2
    by_hand = [whole.length - s_bend, whole.length - 20] if back else [0, s_bend]
    by_hand = [whole.length - s_bend if back else s_bend] if corner else by_hand
    assert wanted.inflections == pytest.approx(by_hand, abs=1e-9)
    shift = wanted.segment_lengths[:first].sum()
    begun = bd.Curve(np.roll(wanted.controls, -first, axis=0), closed=True)
    found = np.sort((begun.inflections + shift + 1e-6) % whole.length) - 1e-6
    assert found == pytest.approx(by_hand, abs=1e-9)
    assert (begun.inflections < begun.length - 1e-6).all()


def test_inflections_of_a_closed_curve_are_even_in_number() -> None:
    peanut = bd.Curve.from_svg_path("M0 -10C20 -30 40 10 60 -10S60 30 60 10S20 -10 0 10S-20 10 0 -10Z")
    assert len(peanut.inflections) % 2 == 0
    assert len(peanut.inflections) >= 2


def test_lengths_and_least_radii_of_segments() -> None:
    curve = bd.Curve.from_svg_path("M0 0H30A20 20 0 0 1 50 20C50 40 50 40 70 40")
    assert curve.segment_lengths.sum() == pytest.approx(curve.length, rel=1e-14)
    assert curve.segment_lengths[0] == 30
    assert np.isinf(curve.segment_least_radii[0])
    assert curve.segment_least_radii[1:-1] == pytest.approx(20, rel=1e-6)
    assert curve.segment_least_radii.min() == curve.tightest().radius
    drawn_in = bd.Curve.from_svg_path("M0 0C0 0 20 30 40 0")
    assert drawn_in.segment_least_radii.tolist() == [0]
    fold = bd.Curve(np.array([[[0, 0], [30, 0], [-20, 0], [10, 0]]], dtype=float))
    assert fold.segment_least_radii.tolist() == [0]


def test_places_found_keep_the_shape_they_were_asked_in() -> None:
    s, distance = WAVE.locate([[(0, 0), (40, 0)], [(20, 0), (-3, 3)]])
    assert s.shape == distance.shape == (2, 2)
    assert s[0] == pytest.approx([0, WAVE.length])
    assert distance[0] == pytest.approx([0, 0], abs=1e-12)
    assert WAVE.point_at(s[1, 0]) == pytest.approx((20, 0), abs=1e-9)
    assert WAVE.locate(np.empty((0, 2)))[0].shape == (0,)


@pytest.mark.parametrize("xy", [(1, 2, 3), 5.0, [(0, np.nan)]])
def test_what_is_no_point_is_refused(xy: object) -> None:
    with pytest.raises(bd.CurveError):
        WAVE.locate(xy)  # type: ignore[arg-type]


def test_a_figure_of_eight_meets_itself_once_and_its_mirror_image_in_two_lobes() -> None:
    loop = bd.Curve.from_svg_path("M0 0C60 40 -20 40 40 0")
    (own,) = loop.self_intersections().points
    assert own.s + own.other_s == pytest.approx(loop.length, abs=1e-9)
    assert loop.point_at(own.s) == pytest.approx(own.point, abs=1e-9)
    level = bd.Curve.from_points([(-10, 20), (60, 20)])
    found = loop.intersections(level)
    assert len(found.points) == 2
    for meeting in found.points:
        assert loop.point_at(meeting.s) == pytest.approx(meeting.point, abs=1e-9)
        assert level.point_at(meeting.other_s) == pytest.approx(meeting.point, abs=1e-9)
    assert loop.intersections(loop.reversed()).overlaps  # the same line drawn twice
