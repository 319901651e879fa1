"""Where a strip is eased and by how much: rings, where it is known, and the sum over any bend."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import bias_drafting as bd

# The line that keeps its length, for stretch 0.20 and ease 0.08 at the limit: published in the design as
# R0 = 3.2797 pressed widths with a strip of 0.918 pressed widths (the trellis model; see bent_strip).
KEPT_RADIUS = 3.2797 / 0.918


def ring(radius: float) -> bd.Curve:
    r = radius
    return bd.Curve.from_svg_path(f"M{r} 0A{r} {r} 0 0 1 {-r} 0A{r} {r} 0 0 1 {r} 0Z")


def test_a_ring_at_the_limit() -> None:
    (eased,) = bd.check_stem(ring(3.785714286 * (1 + 1e-6)), 1).ease_plan
    inner = 3.785714286 - 0.5
    assert eased.passes
    assert eased.side == "right"
    assert eased.turn == pytest.approx(360)
    assert eased.eased == pytest.approx(2 * math.pi * (KEPT_RADIUS - inner), rel=1e-2)
    # At the limit the inner edge is eased by all the ease there is: 8 % of the cloth that lies there.
    assert eased.eased == pytest.approx(0.08 * 2 * math.pi * inner / 0.92, rel=1e-5)
    assert eased.stretched == pytest.approx(0.20 * 2 * math.pi * (inner + 1) / 1.2, rel=1e-5)
    assert eased.start == 0
    assert eased.end == pytest.approx(2 * math.pi * 3.785714286, rel=1e-5)


def test_what_lies_flat_needs_no_plan_and_what_does_not_go_round_has_one_that_says_so() -> None:
    assert bd.check_stem(ring(9), 1).ease_plan == ()
    assert bd.check_stem(bd.Curve.from_points([(0, 0), (50, 0)]), 6).ease_plan == ()
    (tight,) = bd.check_stem(ring(2), 1).ease_plan
    assert not tight.passes
    assert "too tight to be eased" in tight.text()
    assert bd.check_stem(ring(12), 6.35, bd.TurnedTemplate()).ease_plan == ()
    assert bd.check_stem(ring(12), 6.35, off_bias=45).ease_plan == ()


def test_marks_and_sides_of_an_s() -> None:
    s = bd.Curve.from_svg_path("M0 0H60A28 28 0 0 1 60 56A28 28 0 0 0 60 112H120")
    check = bd.check_stem(s, "1/4 in")
    first, second = check.ease_plan
    assert (first.side, second.side) == ("right", "left")
    # The bends run from 60 to 60 + 28 pi and on to 60 + 56 pi; where they begin and end the strip feels half of it.
    for eased, begin in ((first, 60.0), (second, 60 + 28 * math.pi)):
        assert eased.start == pytest.approx(begin, abs=check.width / 2)
        assert eased.end == pytest.approx(begin + 28 * math.pi, abs=check.width / 2)
        assert eased.turn == pytest.approx(180, abs=8)
        assert eased.stretched > eased.eased > 0
    assert (
        first.text("mm") == "From 61 to 146 mm from the start: ease 5.5 mm into the inner edge, on the right."
    )
    assert (
        first.text()
        == "From 2 3/8 to 5 3/4 in from the start: ease 3/16 in into the inner edge, on the right."
    )
    with pytest.raises(bd.LengthError):
        first.text("yards")


@pytest.mark.parametrize("off_bias", [0, 8])
def test_a_bend_over_the_start_of_a_closed_stem(off_bias: float) -> None:
    # A long oval that begins in the middle of one of its bends.
    oval = bd.Curve.from_svg_path("M130 30A30 30 0 0 1 100 60H0A30 30 0 0 1 0 0H100A30 30 0 0 1 130 30Z")
    plan = bd.check_stem(oval, 6.35, off_bias=off_bias).ease_plan
    assert len(plan) == 2
    over = plan[1]
    assert over.end < over.start
    assert over.turn == pytest.approx(plan[0].turn, rel=1e-3)
    assert over.eased == pytest.approx(plan[0].eased, rel=1e-3)


@given(
    st.floats(20, 60), st.floats(20, 170), st.floats(4, 7), st.floats(0.05, 0.3), st.floats(0.02, 0.15),
    st.floats(0, 20),
)  # fmt: skip
def test_the_edges_differ_by_the_width_times_the_turn(
    radius: float, degrees: float, width: float, stretch: float, ease: float, off_bias: float
) -> None:
    """Parallel edges of a band differ by its width times its turning (Steiner): the plan divides that."""
    a = math.radians(degrees)
    x, y = radius * math.sin(a), radius * (1 - math.cos(a))
    curve = bd.Curve.from_svg_path(
        f"M-50 0H0A{radius} {radius} 0 0 1 {x} {y}L{x + 50 * math.cos(a)} {y + 50 * math.sin(a)}"
    )
    check = bd.check_stem(curve, width, cloth=bd.Cloth("any", stretch, ease), off_bias=off_bias)
    for eased in check.ease_plan:
        assert eased.eased + eased.stretched == pytest.approx(width * math.radians(eased.turn), rel=1e-9)
        # No more than the edge could be eased anywhere along the bend.
        assert 0 < eased.eased < eased.stretched + width * math.radians(eased.turn)
        assert eased.turn <= degrees + 1e-6
        if eased.passes:
            _, most = check.cloth.limits(off_bias)
            span = eased.end - eased.start
            assert eased.eased <= most / (1 - most) * span * (1 + 1e-6)


def test_how_much_does_not_hang_on_how_finely_it_is_drawn() -> None:
    arc = bd.Curve.from_svg_path("M0 0H60A28 28 0 0 1 60 56H0")
    lines = bd.Curve.from_points(arc.point_at(np.linspace(0, arc.length, 4000)))
    (one,), (other,) = (bd.check_stem(curve, 6.35).ease_plan for curve in (arc, lines))
    assert other.eased == pytest.approx(one.eased, rel=1e-3)
    assert other.start == pytest.approx(one.start, abs=0.05)
    assert other.end == pytest.approx(one.end, abs=0.05)
