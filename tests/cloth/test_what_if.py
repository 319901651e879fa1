"""Stems at several widths, ways of making and cloths: every row against a check of its own."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from reference_curves import random_vine

import bias_drafting as bd

WIDTHS: list[str | float] = ["1/8 in", "3/16 in", "1/4 in", 8.0, "3/8 in", "1/2 in", "1 in"]
MAKINGS: list[bd.Making | str] = ["folded-strip", bd.TurnedTemplate(), bd.RolledStrip()]
CLOTHS: list[bd.Cloth | str] = [bd.Cloth(), "linen", bd.Cloth("board", stretch=0, ease=0)]


def vines() -> list[bd.Curve]:
    lines = [bd.Curve(random_vine(np.random.default_rng(seed), 8, 400.0)) for seed in range(3)]
    lines.append(bd.Curve.from_svg_path("M0 0A30 30 0 0 1 60 0A60 60 0 0 0 180 0"))
    return [
        *lines,
        bd.Curve.from_points([(0, 0), (90, 0)]),
        bd.Curve.from_points([(0, 0), (60, 0), (60, 60)]),
    ]


@pytest.mark.parametrize("off_bias", [0.0, 12.0])
def test_every_row_is_what_a_check_says(off_bias: float) -> None:
    curves = vines()
    table = bd.width_table(curves, WIDTHS, MAKINGS, CLOTHS, off_bias)
    assert len(table) == len(curves) * len(WIDTHS) * len(MAKINGS) * len(CLOTHS)
    assert len({row.verdict for row in table}) == 3
    for row in table:
        curve = curves[int(row.stem.removeprefix("curve ")) - 1]
        check = bd.check_stem(curve, row.width, row.making, row.cloth, off_bias)
        assert row.verdict is check.verdict
        assert row.least_radius == check.least_radius
        assert row.radius == pytest.approx(check.tightest.radius, rel=2e-3)


def test_widths_beside_a_limit_are_measured_exactly() -> None:
    for curve in vines()[:3]:
        widest = bd.check_stem(curve, 6).widest
        near = [widest * (1 + share) for share in (-1e-4, -1e-6, 1e-6, 1e-4)]
        verdicts = [row.verdict for row in bd.width_table(curve, near)]
        assert verdicts == [bd.check_stem(curve, width).verdict for width in near]
        assert bd.Verdict.TOO_TIGHT in verdicts
        assert verdicts[0] is not bd.Verdict.TOO_TIGHT


def test_a_drawing_and_its_stems() -> None:
    drawing = bd.read_sample("bean-wreath")
    table = bd.width_table(drawing, ["1/4 in"])
    assert [row.stem for row in table] == [stem.name for stem in drawing.stems]
    assert table == bd.width_table(drawing.stems, [6.35], [bd.FoldedStrip()], ["quilting cotton"])


def test_the_order_of_rows_and_stems_too_short() -> None:
    short = bd.Curve.from_points([(0, 0), (10, 0)])
    rows = bd.width_table(short, [6, 12], ["folded-strip", "sewn-tube"])
    assert [(row.making.key, row.width, row.verdict) for row in rows] == [
        ("folded-strip", 6, bd.Verdict.LIES_FLAT),
        ("folded-strip", 12, None),
        ("sewn-tube", 6, bd.Verdict.LIES_FLAT),
        ("sewn-tube", 12, None),
    ]
    assert rows[0].radius == math.inf


@pytest.mark.parametrize(
    ("given", "message"),
    [
        (([], [6]), "one stem, width, way of making and cloth at least"),
        ((vines()[:1], []), "one stem, width"),
        ((vines()[:1], [6], []), "one stem, width"),
        ((vines()[:1], [0]), "the finished width must be more than 0"),
        ((vines()[:1], [6], ["knitted"]), "not a way of making"),
        ((vines()[:1], [6], ["sewn-tube"], ["velvet"]), "not a cloth known here"),
        ((vines()[:1], [6], ["sewn-tube"], ["silk"], 50), "off_bias must be from 0"),
    ],
)
def test_tables_that_cannot_be(given: tuple[Any, ...], message: str) -> None:
    with pytest.raises(bd.DraftingError, match=message):
        bd.width_table(*given)


def test_as_a_frame_and_the_widest() -> None:
    drawing = bd.read_sample("bean-wreath")
    widths = [3.0, 6.0, 9.0, 12.0]
    table = bd.width_table(drawing, widths, ["folded-strip", "turned-template"], ["linen", "lawn"])
    frame = table.to_frame()
    assert len(frame) == len(table) == len(drawing.stems) * 16
    assert frame["verdict"].tolist() == [row.verdict and row.verdict.value for row in table]
    assert frame["width_mm"].tolist() == [row.width for row in table]
    assert table[:2] == table.rows[:2]
    # By another way: the widest width of each check.
    widest = {(row.stem, row.making.key, row.cloth.name): row.width for row in table.widest()}
    for stem in drawing.stems:
        for making in ("folded-strip", "turned-template"):
            for cloth in (bd.cloth_named("linen"), bd.cloth_named("lawn")):
                limit = bd.check_stem(stem, 3, making, cloth).widest
                passing = [width for width in widths if width <= limit and width < stem.centreline.length]
                assert widest.get((stem.name, making, cloth.name)) == (max(passing) if passing else None)


@pytest.mark.parametrize("scale_width", [False, True])
@pytest.mark.parametrize("making", ["folded-strip", "turned-template"])
def test_a_block_scaled_is_judged_as_the_scaled_drawing_is(making: str, scale_width: bool) -> None:
    drawing = bd.read_sample("bean-wreath")
    assert drawing.frame is not None
    left, top, right, bottom = drawing.frame.outline.bounds
    own = max(right - left, bottom - top)
    sizes = ["8 in", "12 in", "18 in"]
    rows = iter(bd.block_table(drawing, sizes, width=6, making=making, scale_width=scale_width))
    for stem in drawing.stems:
        for inches in (8, 12, 18):
            row, scale = next(rows), inches * 25.4 / own
            curve = stem.centreline.transformed([[scale, 0, 0], [0, scale, 0]])
            check = bd.check_stem(curve, 6 * scale if scale_width else 6, making)
            assert row.stem == stem.name
            assert row.block == pytest.approx(inches * 25.4)
            assert row.width == pytest.approx(check.width)
            assert row.radius == pytest.approx(check.tightest.radius, rel=1e-4)
            assert row.verdict is check.verdict
    assert next(rows, None) is None


def test_blocks_there_are_not() -> None:
    drawing = bd.read_sample("bean-wreath")
    with pytest.raises(bd.LengthError, match="the size of the block"):
        bd.block_table(drawing, ["0 in"])
    with pytest.raises(bd.ClothError, match="one size at least"):
        bd.block_table(drawing, [])
