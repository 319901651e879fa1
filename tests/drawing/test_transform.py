"""Transforms as CSS writes them, against maps put together by hand (CSS Transforms Level 1, sections 6 and 8)."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bias_drafting.drawing.transform import Box, own_matrix
from bias_drafting.errors import DrawingError

VIEW = (200.0, 100.0)


def moved(point: tuple[float, float], css: dict[str, str], bounds: Box | None = None) -> tuple[float, float]:
    """Return where a point goes under properties, with - for _ in their names."""
    given = {name.replace("_", "-"): value for name, value in css.items()}
    matrix = own_matrix(given, given, VIEW, lambda: bounds)
    x, y, _ = matrix @ [*point, 1]
    return float(x), float(y)


@pytest.mark.parametrize(
    ("transform", "end"),
    [
        ("translate(3px, 4px)", (13, 24)),
        ("translate(10%)", (30, 20)),
        ("translate(0, 10%)", (10, 30)),
        ("translateX(1in)", (106, 20)),
        ("translateY(-5px)", (10, 15)),
        ("scale(2)", (20, 40)),
        ("scale(2, 50%)", (20, 10)),
        ("scaleX(-1)", (-10, 20)),
        ("scaleY(3)", (10, 60)),
        ("rotate(90deg)", (-20, 10)),
        ("rotate(100grad)", (-20, 10)),
        ("rotate(.25turn)", (-20, 10)),
        (f"rotate({math.pi / 2}rad)", (-20, 10)),
        ("rotate(0)", (10, 20)),
        ("skewX(45deg)", (30, 20)),
        ("skewY(45deg)", (10, 30)),
        ("skew(45deg)", (30, 20)),
        ("skew(45deg, 45deg)", (30, 30)),
        ("matrix(1, 2, 3, 4, 5, 6)", (75, 106)),
        ("translate(3px,4px) scale(2)", (23, 44)),
        ("scale(2)translate(3px,4px)", (26, 48)),
        ("none", (10, 20)),
    ],
)
def test_functions(transform: str, end: tuple[float, float]) -> None:
    assert moved((10, 20), {"transform": transform}) == pytest.approx(end, abs=1e-9)


@pytest.mark.parametrize(
    ("origin", "fixed"),
    [
        ("center", (100, 50)),
        ("left", (0, 50)),
        ("top", (100, 0)),
        ("bottom right", (200, 100)),
        ("right bottom", (200, 100)),
        ("10px 20px", (10, 20)),
        ("25% 50%", (50, 50)),
        ("10px", (10, 50)),
        ("right 20px", (200, 20)),
        ("1in 0 3px", (96, 0)),
        ("", (0, 0)),
    ],
)
def test_the_origin_stays_where_it_is(origin: str, fixed: tuple[float, float]) -> None:
    turn = {"transform": "rotate(33deg) scale(2)", "transform_origin": origin}
    assert moved(fixed, turn) == pytest.approx(fixed)
    plain = np.subtract(moved((fixed[0] + 1, fixed[1]), turn), fixed)
    assert np.hypot(*plain) == pytest.approx(2)


def test_the_fill_box_is_the_box_round_the_shape_itself() -> None:
    turn = {"transform": "rotate(90deg)", "transform_origin": "50% 50%", "transform_box": "fill-box"}
    assert moved((30, 40), turn, Box(10, 20, 40, 40)) == pytest.approx((30, 40))
    assert moved((30, 41), turn, Box(10, 20, 40, 40)) == pytest.approx((29, 40))
    with pytest.raises(DrawingError, match="fill-box is not read on a group"):
        moved((0, 0), turn)


def test_single_properties_come_before_the_list() -> None:
    # CSS Transforms Level 2, section 5: translate, then rotate, then scale, then transform, about one origin.
    every = {"transform": "translate(1px)", "scale": "2 3", "rotate": "90deg", "translate": "10px 5px"}
    assert moved((4, 7), every) == pytest.approx((10 - 3 * 7, 5 + 2 * (4 + 1)))


@pytest.mark.parametrize(
    ("css", "message"),
    [
        ({"transform": "spin(9deg)"}, "'spin\\(9deg\\)' is not read here"),
        ({"transform": "rotate(9deg, 1, 2)"}, "is not read here"),
        ({"transform": "rotate(9)"}, "'9' is not an angle"),
        ({"transform": "scale(x)"}, "'x' is not a number"),
        ({"transform": "translate(3em)"}, "'3em' cannot be read as a length"),
        ({"transform": "rotate(9deg"}, "cannot be read, at character 1"),
        ({"transform": "scale(1e999)"}, "not a finite number"),
        ({"transform": "scale(2)", "transform_origin": "up"}, "'up' cannot be read as a length"),
        (
            {"transform": "scale(2)", "transform_box": "stroke-box", "transform_origin": "left"},
            "stroke-box is not",
        ),
        ({"rotate": "1 0 0 9deg"}, "its rotate '1 0 0 9deg' is not read"),
        ({"scale": "1 2 3"}, "its scale '1 2 3' is not read"),
        ({"translate": "1px 2px 3px"}, "its translate '1px 2px 3px' is not read"),
        ({"zoom": "2"}, "'zoom', which is not read"),
        ({"offset_path": "path('M0 0')"}, "'offset-path', which is not read"),
    ],
)
def test_what_is_not_read_is_an_error(css: dict[str, str], message: str) -> None:
    with pytest.raises(DrawingError, match=message):
        moved((0, 0), css)
