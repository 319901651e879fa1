from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bias_drafting.cloth.cloth import Cloth
from bias_drafting.errors import ClothError, LengthError

stretches = st.floats(0.001, 0.414)
eases = st.floats(0.0, 0.95)
cloths = st.builds(Cloth, st.just("any cloth"), stretches, eases)
widths = st.floats(0.5, 200)
off_bias = st.floats(-44.5, 44.5)
shares = st.floats(0.05, 1)
HAIR = 1 + 1e-12  # rounding, where two ways to one number are compared


# --- the value ----------------------------------------------------------------------------------------------


def test_the_default_cloth() -> None:
    assert Cloth() == Cloth("quilting cotton", stretch=0.20, ease=0.08)
    assert Cloth().limits() == pytest.approx((0.20, 0.08), rel=1e-15)


def test_a_cloth_cannot_be_changed() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        Cloth().stretch = 0.3  # type: ignore[misc]
    assert hash(Cloth()) == hash(Cloth())
    assert dataclasses.replace(Cloth(), stretch=0.1).stretch == 0.1


def test_numbers_of_other_kinds_become_floats() -> None:
    cloth = Cloth("linen", stretch=np.float64(0.1), ease=0)
    assert type(cloth.stretch) is float
    assert type(cloth.ease) is float


@pytest.mark.parametrize(
    "bad", [-0.01, math.sqrt(2) - 1, 0.5, 20, math.inf, -math.inf, math.nan, "0.2", None, True]
)
def test_impossible_stretch(bad: Any) -> None:
    with pytest.raises(ClothError, match=r"stretch must be a share .*0 to less than 0\.4142: threads keep"):
        Cloth("odd cloth", stretch=bad)


@pytest.mark.parametrize("bad", [-0.01, 1, 8, math.inf, math.nan, "0.08", None, False])
def test_impossible_ease(bad: Any) -> None:
    with pytest.raises(ClothError, match=r"ease must be a share .*0 to less than 1: no strip"):
        Cloth("odd cloth", ease=bad)


@pytest.mark.parametrize("bad", ["", "  ", None, 0.2])
def test_a_cloth_needs_a_name(bad: Any) -> None:
    with pytest.raises(ClothError, match="a cloth needs a name"):
        Cloth(bad)


# --- off the bias -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("bad", [45.1, -45.1, 90, math.inf, math.nan, "10", None, True])
def test_impossible_off_bias(bad: Any) -> None:
    for ask in (
        lambda: Cloth().limits(bad),
        lambda: Cloth().least_radius(6, off_bias=bad),
        lambda: Cloth().widest(60, off_bias=bad),
    ):
        with pytest.raises(ClothError, match=r"off_bias must be from 0 \(true bias\) to 45 degrees"):
            ask()


@given(cloths, off_bias)
def test_either_side_of_the_bias_is_the_same(cloth: Cloth, degrees: float) -> None:
    assert cloth.limits(degrees) == cloth.limits(-degrees)


@given(cloths, st.floats(0, 45), st.floats(0, 45))
def test_further_off_the_bias_never_gives_more(cloth: Cloth, one: float, other: float) -> None:
    near, far = sorted((one, other))
    assert all(f <= n * HAIR for f, n in zip(cloth.limits(far), cloth.limits(near), strict=True))
    assert cloth.least_radius(6, far) >= cloth.least_radius(6, near) / HAIR


@given(cloths)
def test_the_straight_grain_gives_nothing(cloth: Cloth) -> None:
    assert cloth.limits(45) == (0, 0)
    assert cloth.limits(-45) == (0, 0)
    assert cloth.least_radius(6, 45) == math.inf
    assert cloth.widest(1e6, 45) == 0


@given(cloths)
def test_on_the_bias_the_limits_are_the_cloth_s_own(cloth: Cloth) -> None:
    assert cloth.limits(0) == pytest.approx((cloth.stretch, cloth.ease), rel=1e-14)


@given(cloths)
def test_shear_angles_are_those_of_the_limits(cloth: Cloth) -> None:
    closing, opening = (math.sin(math.radians(angle)) for angle in cloth.shear_angles())
    assert math.sqrt(1 + closing) == pytest.approx(1 + cloth.stretch, rel=1e-12)
    assert math.sqrt(1 - opening) == pytest.approx(1 - cloth.ease, rel=1e-9)


def test_shear_angles_at_the_very_limit_stay_within_90_degrees() -> None:
    limp = Cloth("limp", stretch=math.nextafter(math.sqrt(2) - 1, 0), ease=math.nextafter(1, 0))
    assert limp.shear_angles() == pytest.approx((90, 90))
    assert limp.limits() == pytest.approx((math.sqrt(2) - 1, 1))
    assert limp.least_radius(1) == pytest.approx(0.5)  # the inner edge is a point


# --- bends --------------------------------------------------------------------------------------------------


@given(cloths, widths, off_bias, shares)
def test_the_edges_are_at_their_limits_at_the_least_radius(
    cloth: Cloth, width: float, degrees: float, share: float
) -> None:
    stretch, ease = (share * limit for limit in cloth.limits(degrees))
    radius = cloth.least_radius(width, degrees, share)
    assert (radius + width / 2) * (1 - ease) == pytest.approx((radius - width / 2) * (1 + stretch), rel=1e-9)


@given(cloths, widths, off_bias, shares)
def test_widest_is_the_inverse_of_least_radius(
    cloth: Cloth, width: float, degrees: float, share: float
) -> None:
    assert cloth.widest(cloth.least_radius(width, degrees, share), degrees, share) == pytest.approx(
        width, rel=1e-12
    )


@given(cloths, widths, widths)
def test_wider_is_never_easier(cloth: Cloth, one: float, other: float) -> None:
    assert cloth.least_radius(max(one, other)) >= cloth.least_radius(min(one, other))
    assert cloth.widest(max(one, other)) >= cloth.widest(min(one, other))


@given(stretches, stretches, eases, eases, off_bias)
def test_more_give_is_never_harder(s0: float, s1: float, c0: float, c1: float, degrees: float) -> None:
    stiff = Cloth("stiff", min(s0, s1), min(c0, c1))
    soft = Cloth("soft", max(s0, s1), max(c0, c1))
    assert soft.least_radius(6, degrees) <= stiff.least_radius(6, degrees) * HAIR
    assert soft.widest(60, degrees) >= stiff.widest(60, degrees) / HAIR


@given(cloths, off_bias, shares, shares)
def test_using_less_of_the_give_is_never_easier_on_the_width(
    cloth: Cloth, degrees: float, one: float, other: float
) -> None:
    less, more = sorted((one, other))
    assert cloth.least_radius(6, degrees, less) >= cloth.least_radius(6, degrees, more) / HAIR


def test_half_a_share_is_half_the_stretch_and_half_the_ease() -> None:
    half = Cloth("half", stretch=0.10, ease=0.04)
    assert Cloth().least_radius(6, share=0.5) == pytest.approx(half.least_radius(6), rel=1e-13)
    assert Cloth().widest(60, share=0.5) == pytest.approx(half.widest(60), rel=1e-13)


def test_a_cloth_without_give_goes_round_no_bend() -> None:
    board = Cloth("starched stiff", stretch=0, ease=0)
    assert board.least_radius("1/4 in") == math.inf
    assert board.widest("10 in") == 0
    assert board.widest(math.inf) == math.inf
    assert board.shear_angles() == (0, 0)


@pytest.mark.parametrize("give", [1e-3, 1e-6, 1e-9, 1e-12])
def test_as_the_give_goes_to_nothing_the_radius_is_the_width_over_the_give(give: float) -> None:
    # rho = 1 + stretch + ease to first order, so (w/2)(rho + 1)/(rho - 1) goes to w / (stretch + ease).
    for stretch, ease in ((give, 0), (0, give), (give / 2, give / 2)):
        radius = Cloth("nearly stiff", stretch, ease).least_radius(6)
        assert radius == pytest.approx(6 / give, rel=give)


def test_a_corner_and_a_straight_line() -> None:
    assert Cloth().widest(0) == 0
    assert Cloth().widest(math.inf) == math.inf
    assert Cloth().widest(math.inf, off_bias=45) == math.inf


def test_lengths_as_text() -> None:
    assert Cloth().least_radius("1/4 in") == Cloth().least_radius(6.35)
    assert Cloth().widest("2 in") == Cloth().widest(50.8)


@pytest.mark.parametrize("bad", [0, -6, math.nan, math.inf, "0 in", "-1/4 in", "wide", "1/4", "", None])
def test_impossible_widths(bad: Any) -> None:
    with pytest.raises(LengthError, match="the finished width"):
        Cloth().least_radius(bad)


@pytest.mark.parametrize("bad", [-6, math.nan, -math.inf, "-1 in", "tight", "2", None])
def test_impossible_radii(bad: Any) -> None:
    with pytest.raises(LengthError, match="the radius of the bend"):
        Cloth().widest(bad)


@pytest.mark.parametrize("bad", [0, -0.5, 1.01, math.nan, math.inf, "0.5", None, True])
def test_impossible_shares(bad: Any) -> None:
    with pytest.raises(ClothError, match="share must be more than 0 and at most 1"):
        Cloth().least_radius(6, share=bad)
    with pytest.raises(ClothError, match="share must be more than 0 and at most 1"):
        Cloth().widest(60, share=bad)


# --- tests with a scrap -------------------------------------------------------------------------------------


def test_a_cloth_from_a_swatch() -> None:
    lawn = Cloth.from_swatch("lawn", marked="10 in", stretched="11 3/4 in", eased="9 1/4 in")
    assert lawn.name == "lawn"
    assert lawn.stretch == pytest.approx(0.175, rel=1e-12)
    assert lawn.ease == pytest.approx(0.075, rel=1e-12)


@given(cloths, st.floats(50, 500))
def test_a_swatch_measured_exactly_gives_the_cloth_back(cloth: Cloth, marked: float) -> None:
    again = Cloth.from_swatch(
        "again", marked=marked, stretched=marked * (1 + cloth.stretch), eased=marked * (1 - cloth.ease)
    )
    assert (again.stretch, again.ease) == pytest.approx((cloth.stretch, cloth.ease), rel=1e-9, abs=1e-12)


def test_a_swatch_that_does_not_move() -> None:
    assert Cloth.from_swatch("canvas", marked=100, stretched=100, eased=100) == Cloth("canvas", 0, 0)


@pytest.mark.parametrize(
    ("marked", "stretched", "eased"),
    [
        ("10 in", "9 1/4 in", "11 3/4 in"),
        ("10 in", "9 in", "8 in"),
        ("10 in", "12 in", "11 in"),
        ("12 in", "10 in", "9 in"),
    ],
)
def test_swatch_lengths_in_the_wrong_order(marked: str, stretched: str, eased: str) -> None:
    with pytest.raises(ClothError, match=r"from eased over marked to stretched, shortest first; not .* mm"):
        Cloth.from_swatch("muddled", marked=marked, stretched=stretched, eased=eased)


def test_a_swatch_stretched_past_what_threads_allow() -> None:
    with pytest.raises(ClothError, match=r"stretch must be .* less than 0\.4142: threads keep"):
        Cloth.from_swatch("knitted", marked="10 in", stretched="15 in", eased="9 in")


@pytest.mark.parametrize("which", ["marked", "stretched", "eased"])
@pytest.mark.parametrize("bad", [0, -1, math.nan, "10", "long"])
def test_impossible_swatch_lengths(which: str, bad: Any) -> None:
    lengths = {"marked": "10 in", "stretched": "12 in", "eased": "9 in"} | {which: bad}
    with pytest.raises(LengthError, match=f"the {which} length"):
        Cloth.from_swatch("unmeasured", **lengths)


@given(widths, st.floats(1.94, 1000))
def test_a_bend_test_gives_its_own_radius_back(width: float, times: float) -> None:
    radius = width * times
    cloth = Cloth.from_bend_test("ring", width=width, radius=radius)
    assert cloth.least_radius(width) == pytest.approx(radius, rel=1e-12)
    assert cloth.stretch / cloth.ease == pytest.approx(0.20 / 0.08, rel=1e-12)


def test_a_bend_test_at_the_default_s_own_radius_gives_the_default() -> None:
    cloth = Cloth.from_bend_test("quilting cotton", width=1, radius=Cloth().least_radius(1))
    assert (cloth.stretch, cloth.ease) == pytest.approx((0.20, 0.08), rel=1e-12)


@pytest.mark.parametrize("radius", ["1/16 in", "1/4 in", "3/8 in", "15/16 in", 0.0001])
def test_rings_no_strip_can_lie_on(radius: str | float) -> None:
    wanted = (
        r"no strip 12\.7 mm wide lies flat on a ring of radius .* mm: .* ask for more than 24\.62 mm; measure"
    )
    with pytest.raises(ClothError, match=wanted):
        Cloth.from_bend_test("hopeful", width="1/2 in", radius=radius)


def test_the_tightest_ring_a_bend_test_takes_stretches_the_net_almost_to_its_limit() -> None:
    assert Cloth.from_bend_test("limp", width=12.7, radius=24.63).stretch == pytest.approx(0.4142, abs=2e-4)


@pytest.mark.parametrize("which", ["width", "radius"])
@pytest.mark.parametrize("bad", [0, -1, math.inf, math.nan, "2", "round"])
def test_impossible_bend_test_lengths(which: str, bad: Any) -> None:
    lengths = {"width": "1/2 in", "radius": "2 in"} | {which: bad}
    with pytest.raises(LengthError, match=rf"the {which} of the (strip|ring)"):
        Cloth.from_bend_test("unmeasured", **lengths)


def test_the_instructions_ask_for_the_arguments_and_give_the_cautions() -> None:
    text = Cloth.swatch_instructions()
    for word in ("marked", "stretched", "eased", "radius", "width"):
        assert f'"{word}"' in text
    for word in (
        "true bias",
        "45 degrees",
        "steam burn",
        "switch the iron off",
        "children",
        "makers",
        "safety rules",
    ):
        assert word in " ".join(text.split())
    assert max(map(len, text.splitlines())) <= 110
