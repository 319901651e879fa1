from __future__ import annotations

import dataclasses
import math
import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bias_drafting.cloth.cloth import Cloth
from bias_drafting.cloth.making import (
    FoldedStrip,
    Making,
    RolledStrip,
    SewnTube,
    TurnedTemplate,
    making_named,
)
from bias_drafting.errors import ClothError, LengthError
from bias_drafting.units import to_mm

STRIPS: list[Making] = [FoldedStrip(), SewnTube(), RolledStrip()]
ALL: list[Making] = [*STRIPS, TurnedTemplate()]
each = pytest.mark.parametrize("making", ALL, ids=lambda making: making.key)
each_strip = pytest.mark.parametrize("making", STRIPS, ids=lambda making: making.key)
widths = st.floats(0.5, 200)
shares = st.floats(0.05, 1)


# --- the values ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("making", "name", "key", "from_strip"),
    [
        (FoldedStrip(), "folded strip", "folded-strip", True),
        (SewnTube(), "sewn tube", "sewn-tube", True),
        (RolledStrip(), "rolled strip", "rolled-strip", True),
        (TurnedTemplate(), "turned template", "turned-template", False),
    ],
)
def test_names(making: Making, name: str, key: str, from_strip: bool) -> None:
    assert (making.name, making.key, making.from_strip) == (name, key, from_strip)
    assert making_named(key) == making


@pytest.mark.parametrize("bad", ["", "Folded-Strip", "folded strip", "knitted", None, 3])
def test_unknown_ways_of_making(bad: Any) -> None:
    possible = "folded-strip, sewn-tube, rolled-strip, turned-template"
    with pytest.raises(ClothError, match=f"is not a way of making a stem; possible are {possible}"):
        making_named(bad)


def test_lengths_as_text_or_mm() -> None:
    assert SewnTube("1/4 in") == SewnTube(6.35) == SewnTube()
    assert type(SewnTube(7).seam) is float
    template = TurnedTemplate(allowance="3/16 in", least_concave=2)
    assert (template.allowance, template.least_concave) == (4.7625, 2.0)
    assert TurnedTemplate() == TurnedTemplate("1/4 in", "1/8 in")


def test_a_way_of_making_cannot_be_changed() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        SewnTube().seam = 3  # type: ignore[misc]
    with pytest.raises(dataclasses.FrozenInstanceError):
        TurnedTemplate().allowance = 3  # type: ignore[misc]
    assert dataclasses.replace(TurnedTemplate(), allowance="5 mm") == TurnedTemplate("5 mm")  # type: ignore[arg-type]
    assert len({SewnTube(), SewnTube("1/4 in"), FoldedStrip(), RolledStrip(), TurnedTemplate()}) == 4


@pytest.mark.parametrize("bad", [0, -1, math.nan, math.inf, "1/4", "0 in", None])
def test_impossible_allowances(bad: Any) -> None:
    with pytest.raises(LengthError, match="the seam allowance"):
        SewnTube(seam=bad)
    with pytest.raises(LengthError, match="the allowance"):
        TurnedTemplate(allowance=bad)
    with pytest.raises(LengthError, match="the least concave radius"):
        TurnedTemplate(least_concave=bad)


@each
@pytest.mark.parametrize("bad", [0, -6, math.nan, math.inf, "0 in", "1/4", "wide", None])
def test_impossible_widths(making: Making, bad: Any) -> None:
    for ask in (
        lambda: making.cut_width(bad),
        lambda: making.steps(bad),
        lambda: making.least_radius(bad, Cloth()),
    ):
        with pytest.raises(LengthError, match="the finished width"):
            ask()


def test_impossible_width_for_an_allowance() -> None:
    with pytest.raises(LengthError, match="the finished width must be more than 0"):
        TurnedTemplate().allowance_at(0)


# --- bends --------------------------------------------------------------------------------------------------


@each_strip
@given(width=widths, off_bias=st.floats(-45, 45), share=shares)
def test_the_cloth_limits_the_bends_of_strips(
    making: Making, width: float, off_bias: float, share: float
) -> None:
    cloth = Cloth("lawn", stretch=0.15, ease=0.05)
    assert making.least_radius(width, cloth, off_bias, share) == cloth.least_radius(width, off_bias, share)
    assert making.widest(width, cloth, off_bias, share) == cloth.widest(width, off_bias, share)


@each
@given(width=widths, share=shares)
def test_widest_is_the_inverse_of_least_radius(making: Making, width: float, share: float) -> None:
    radius = making.least_radius(width, Cloth(), share=share)
    assert making.widest(radius, Cloth(), share=share) == pytest.approx(width, rel=1e-12, abs=1e-12)


@each
@given(one=widths, other=widths, share=shares)
def test_wider_is_never_easier(making: Making, one: float, other: float, share: float) -> None:
    narrow, wide = sorted((one, other))
    assert making.least_radius(narrow, Cloth(), 0, share) <= making.least_radius(wide, Cloth(), 0, share)
    assert making.cut_width(narrow) <= making.cut_width(wide)


@each
def test_a_corner_takes_no_width_and_a_straight_line_any(making: Making) -> None:
    assert making.widest(0, Cloth()) == 0
    assert making.widest(math.inf, Cloth()) == math.inf


@given(width=widths, concave=st.floats(0.5, 20), share=shares)
def test_the_concave_edge_limits_a_template(width: float, concave: float, share: float) -> None:
    template = TurnedTemplate(least_concave=concave)
    radius = template.least_radius(width, Cloth(), share=share)
    assert radius - width / 2 == pytest.approx(concave / share, rel=1e-9)


def test_a_template_asks_nothing_of_the_cloth() -> None:
    board = Cloth("starched stiff", stretch=0, ease=0)
    template = TurnedTemplate()
    assert template.least_radius("1/4 in", board, off_bias=45) == template.least_radius("1/4 in", Cloth())
    assert template.least_radius("1/4 in", board) == to_mm("1/4 in")  # 1/8 in and half of 1/4 in
    assert template.least_radius("1/4 in", board, share=0.5) == pytest.approx(to_mm("3/8 in"))
    assert template.widest("1/2 in", board, off_bias=45) == pytest.approx(to_mm("3/4 in"))


@pytest.mark.parametrize("radius", [0, 1, "1/8 in"])
def test_under_the_least_concave_radius_no_template_passes(radius: str | float) -> None:
    assert TurnedTemplate().widest(radius, Cloth()) == 0


@each
@pytest.mark.parametrize("bad", [0, -1, 1.5, math.nan, "half", None])
def test_impossible_shares(making: Making, bad: Any) -> None:
    with pytest.raises(ClothError, match="share must be more than 0 and at most 1"):
        making.least_radius(6, Cloth(), share=bad)
    with pytest.raises(ClothError, match="share must be more than 0 and at most 1"):
        making.widest(60, Cloth(), share=bad)


@each
@pytest.mark.parametrize("bad", [-1, math.nan, "tight", None])
def test_impossible_radii(making: Making, bad: Any) -> None:
    with pytest.raises(LengthError, match="the radius of the bend"):
        making.widest(bad, Cloth())


# --- allowances ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("width", "allowance"),
    [("1/8 in", "1/8 in"), ("1/4 in", "1/4 in"), ("1/2 in", "1/4 in"), ("4 in", "1/4 in")],
)
def test_the_allowance_is_never_wider_than_the_stem(width: str, allowance: str) -> None:
    assert TurnedTemplate("1/4 in").allowance_at(width) == to_mm(allowance)


# --- words --------------------------------------------------------------------------------------------------


def sizes(text: str) -> list[float]:
    """The sizes in a step, in mm, from the mm in brackets."""
    return [float(size) for size in re.findall(r"\(([0-9.]+) mm\)", text)]


@each
@pytest.mark.parametrize("width", ["1/8 in", "6 mm", "1/4 in", "1/2 in", "1 in", 0.2])
def test_steps_are_sentences_that_name_the_cut_width(making: Making, width: str | float) -> None:
    steps = making.steps(width)
    assert len(steps) >= 5
    assert all(step[0].isupper() and step.endswith(".") for step in steps)
    assert not any("nan" in step or "0 in" in step.split() for step in steps)
    first = next(step for step in steps if step.startswith("Cut "))
    if width != 0.2:
        assert making.cut_width(width) in [pytest.approx(size, abs=0.006) for size in sizes(first)]


def test_sizes_are_those_of_a_ruler_and_say_when_they_are_not() -> None:
    assert "Cut strips 1/2 in (12.7 mm) wide" in FoldedStrip().steps("1/4 in")[0]
    assert "Cut strips about 15/32 in (12 mm) wide" in FoldedStrip().steps(6)[0]
    assert "Cut strips 0.4 mm wide" in FoldedStrip().steps(0.2)[0]


def test_the_steps_of_a_folded_strip() -> None:
    text = " ".join(FoldedStrip().steps("1/2 in"))
    assert "Turn 1/4 in (6.35 mm) under along both edges" in text
    assert "tape former for 1/2 in (12.7 mm)" in text
    assert text.index("true bias") < text.index("Join") < text.index("Turn") < text.index("Lay")
    assert text.index("inner edge of the bends first") < text.index("then the outer")


def test_a_tube_is_trimmed_only_where_its_seam_would_show() -> None:
    assert "Trim the seam allowance to less than 1/8 in (3.18 mm)" in " ".join(SewnTube().steps("1/4 in"))
    assert "Trim" in " ".join(SewnTube().steps("1/2 in"))  # 1/4 in from the middle reaches the edge
    assert "Trim" not in " ".join(SewnTube().steps("5/8 in"))
    assert "Trim" not in " ".join(SewnTube("1/16 in").steps("1/4 in"))
    assert "Sew 1/4 in (6.35 mm) from the fold" in " ".join(SewnTube().steps("1/4 in"))
    assert "beside that is 3/8 in (9.53 mm)" in " ".join(SewnTube("3/8 in").steps("1/4 in"))


def test_the_steps_of_a_rolled_strip() -> None:
    text = " ".join(RolledStrip().steps("1/8 in"))
    words = (
        "right side down, a raw edge on line 2",
        "Sew along line 1",
        "Roll",
        "Turn the last",
        "sew the fold down",
    )
    places = [text.index(word) for word in words]
    assert places == sorted(places)
    assert "1/8 in (3.18 mm) from that raw edge" in text


def test_the_steps_of_a_turned_template() -> None:
    text = " ".join(TurnedTemplate().steps("1 in"))
    assert "mirror image" in text
    assert "wrong side" in text
    assert "Cut the cloth 1/4 in (6.35 mm) outside it all round: 1 1/2 in (38.1 mm) in all" in text
    assert "at concave edges only, up to about 1/16 in (1.5 mm) from the template" in text


@pytest.mark.parametrize(
    ("width", "overlaps"), [("1/8 in", True), ("7/16 in", True), ("1/2 in", False), ("1 in", False)]
)
def test_a_template_warns_where_its_allowances_overlap(width: str, overlaps: bool) -> None:
    text = " ".join(TurnedTemplate("1/4 in").steps(width))
    assert ("overlap behind a stem" in text) == overlaps


@each
def test_cautions(making: Making) -> None:
    text = " ".join(making.cautions())
    for word in (
        "rotary cutter",
        "Iron and steam burn",
        "count them back",
        "children",
        "makers' instructions",
        "safety rules",
    ):
        assert word in text


# --- tools and layers ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("width", "words"),
    [
        ("1/4 in", None),  # 6 mm by its other name
        ("6 mm", None),
        ("3/4 in", None),
        ("25 mm", None),
        ("5/16 in", "the next are for 6 and 9 mm: press it under two pins"),
        ("1/8 in", "the narrowest is for 6 mm"),
        ("3 in", "the widest is for 50 mm"),
        (6.7, "the next are for 6 and 9 mm"),
    ],
)
def test_a_folded_strip_tells_where_no_former_is_made(width: str | float, words: str | None) -> None:
    remarks = FoldedStrip().remarks(width)
    assert len(remarks) == (words is not None)
    assert all(words in remark and remark.endswith(".") for remark in remarks if words)
    assert any("tape former" in step for step in FoldedStrip().steps(width)) is (words is None)


@pytest.mark.parametrize(
    ("width", "bar", "words"),
    [
        ("1/4 in", "1/4 in (6.35 mm) wide", None),
        ("7 mm", "1/4 in (6.35 mm) wide", "keep the folds even by eye"),
        ("1/16 in", "between your fingers", "No pressing bar is made for a tube 1/16 in"),
    ],
)
def test_a_tube_is_pressed_over_the_widest_bar_that_goes_in(width: str, bar: str, words: str | None) -> None:
    assert any(bar in step for step in SewnTube().steps(width))
    assert [words in remark for remark in SewnTube().remarks(width) if words] == [True] * (words is not None)
    assert (SewnTube().remarks(width) == ()) is (words is None)


def test_a_rolled_strip_is_for_narrow_stems() -> None:
    assert RolledStrip().remarks("1/8 in") == RolledStrip().remarks("1/4 in") == ()
    assert "above 1/4 in (6.35 mm) fold the strip instead" in RolledStrip().remarks("3/8 in")[0]


def test_a_template_tells_that_its_allowance_is_narrowed() -> None:
    assert TurnedTemplate().remarks("1/4 in") == ()
    assert "narrowed from 1/4 in (6.35 mm) to 1/8 in" in TurnedTemplate().remarks("1/8 in")[0]


@pytest.mark.parametrize(("width", "web"), [("1/4 in", 5.35), (5, 4), (3, 2.4), ("1 in", 24.4)])
def test_the_fusible_strip_is_narrower_than_the_stem(width: str | float, web: float) -> None:
    fused = FoldedStrip(fusible=True)
    assert fused.fusible_width(width) == pytest.approx(web)
    (step,) = [step for step in fused.steps(width) if "web" in step]
    assert "as its maker says" in step
    assert not any("web" in step for step in FoldedStrip().steps(width))
    assert fused.steps(width).index(step) == 4


@each
def test_each_says_when_to_prefer_it_and_how_it_is_cut(making: Making) -> None:
    assert making.prefer.startswith("For ")
    assert making.prefer.endswith(".")
    assert ("true bias" in making.grain) is making.from_strip
    # A layer for each time the width is folded over itself: the tube has its seam allowances beside.
    layers = {"folded-strip": 2, "sewn-tube": 4, "rolled-strip": 3, "turned-template": 2}
    assert making.layers == layers[making.key]
