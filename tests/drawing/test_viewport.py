"""Lengths, lists of numbers and transform lists."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bias_drafting.drawing.viewport import (
    diagonal,
    mean_scale,
    named_length,
    parse_length,
    parse_numbers,
    parse_transform,
    parse_view_box,
    shorten,
    view_box_matrix,
)
from bias_drafting.errors import DrawingError


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("1in", 25.4),
        ("-2.5cm", -25),
        ("+.5mm", 0.5),
        ("1e1 Q", 2.5),
        ("72PT", 25.4),
        ("96", 25.4),
        (" 96px ", 25.4),
    ],
)
def test_lengths(text: str, mm: float) -> None:
    assert parse_length(text).mm == pytest.approx(mm, rel=1e-15)
    assert parse_length(text).user_units(1) == pytest.approx(mm / 25.4 * 96, rel=1e-15)


@pytest.mark.parametrize(
    "text", ["12 furlongs", "", "mm", "1em", "2rem", "10vw", "1 2", "1,5mm", "0x10", "1mm;", "٣"]
)
def test_unreadable_lengths_are_named(text: str) -> None:
    with pytest.raises(DrawingError, match="cannot be read as a length") as error:
        parse_length(text)
    assert repr(text) in str(error.value)


@pytest.mark.parametrize("text", ["NaN", "inf", "-Infinity mm", "1e999", "1e400in"])
def test_lengths_that_are_not_finite(text: str) -> None:
    with pytest.raises(DrawingError, match="is not a finite number"):
        parse_length(text)


def test_named_lengths_have_defaults_and_limits() -> None:
    assert named_length({}, "x", "5mm").mm == 5
    assert named_length({"x": " auto "}, "x", "5mm").mm == 5
    with pytest.raises(DrawingError, match="r: '-1' is negative"):
        named_length({"r": "-1"}, "r", "0", least=0)
    with pytest.raises(DrawingError, match="width: '12 furlongs' cannot be read"):
        named_length({"width": "12 furlongs"}, "width", "0")


def test_percentages_of_the_diagonal() -> None:
    """SVG 2, section 8.9: sqrt((width^2 + height^2) / 2)."""
    assert diagonal(30, 40) == pytest.approx(math.sqrt((30**2 + 40**2) / 2), rel=1e-15)
    assert parse_length("10%").user_units(diagonal(100, 100)) == pytest.approx(10)


@pytest.mark.parametrize(
    ("text", "numbers", "error"),
    [
        ("", [], None),
        ("  1 2,3 , 4-5+6.5.5e1\n", [1, 2, 3, 4, -5, 6.5, 5], None),
        ("1,,2", [1], "a number is wanted, not ',2', at character 3"),
        ("1,", [1], "a number is wanted after the last comma, at character 3"),
        (",1", [], "a number is wanted, not ',1', at character 1"),
        ("1 2 x", [1, 2], "a number is wanted, not 'x', at character 5"),
        ("1 2mm", [1, 2], "a number is wanted, not 'mm', at character 4"),
    ],
)
def test_lists_of_numbers(text: str, numbers: list[float], error: str | None) -> None:
    assert parse_numbers(text, "its points") == (numbers, error)


@pytest.mark.parametrize("text", ["1 nan", "1,-inf 3", "1 1e999"])
def test_lists_with_numbers_that_are_not_finite(text: str) -> None:
    with pytest.raises(DrawingError, match=r"in its points, '.*' is not a finite number, at character 3"):
        parse_numbers(text, "its points")


def close(text: str, expected: list[list[float]]) -> bool:
    return np.allclose(parse_transform(text), np.array([*expected, [0, 0, 1]]), rtol=1e-15, atol=1e-15)


def test_transform_functions() -> None:
    """SVG 2, section 8.5 and CSS Transforms Level 1, section 12."""
    r, t = math.sqrt(0.5), math.tan(math.radians(20))
    assert close("", [[1, 0, 0], [0, 1, 0]])
    assert close("none", [[1, 0, 0], [0, 1, 0]])
    assert close("matrix(1 2 3 4 5 6)", [[1, 3, 5], [2, 4, 6]])
    assert close("translate(3)", [[1, 0, 3], [0, 1, 0]])
    assert close("translate(3,-4)", [[1, 0, 3], [0, 1, -4]])
    assert close("scale(3)", [[3, 0, 0], [0, 3, 0]])
    assert close("scale(3 -2)", [[3, 0, 0], [0, -2, 0]])
    assert close("rotate(45)", [[r, -r, 0], [r, r, 0]])
    assert close("rotate(90 10 20)", [[0, -1, 30], [1, 0, 10]])
    assert close("skewX(20)", [[1, t, 0], [0, 1, 0]])
    assert close("skewY(20)", [[1, 0, 0], [t, 1, 0]])


def test_transform_lists_apply_the_last_first() -> None:
    assert close(" translate(10 20),scale(2)\n rotate( 90 ) ", [[0, -2, 10], [2, 0, 20]])


def test_right_angles_are_exact() -> None:
    for turns, expected in [(90, [0, 1]), (180, [-1, 0]), (-90, [0, -1]), (450, [0, 1]), (-720, [1, 0])]:
        assert parse_transform(f"rotate({turns})")[:2, 0].tolist() == expected


@pytest.mark.parametrize(
    "text",
    [
        "rotate(45",
        "rotate 45",
        "rotate()",
        "rotate(1 2)",
        "translate(1 2 3)",
        "scale(1,,2)",
        "scale(a)",
        "matrix(1 2 3 4 5)",
        "spin(3)",
        "Rotate(3)",
        "scale(2) junk",
        "rotate(3rad)",
        "translate(50%)",
        ")",
    ],
)
def test_malformed_transforms(text: str) -> None:
    with pytest.raises(DrawingError, match=r"the transform .* cannot be read, at character"):
        parse_transform(text)


@pytest.mark.parametrize(
    "text", ["scale(nan)", "rotate(1e999)", "scale(1e200) scale(1e200)", "skewX(90)", "skewY(-270)"]
)
def test_transforms_that_are_not_finite(text: str) -> None:
    with pytest.raises(DrawingError, match=r"not finite|not a finite number"):
        parse_transform(text)


def test_mean_scale_is_the_root_of_the_area() -> None:
    assert mean_scale(parse_transform("scale(-2 8)")) == pytest.approx(4)
    assert mean_scale(parse_transform("rotate(33) skewX(50)")) == pytest.approx(1)
    with pytest.raises(DrawingError, match="not finite"):
        mean_scale(parse_transform("scale(1e200)"))


@pytest.mark.parametrize("text", ["", "0 0 10", "0 0 10 10 10", "0 0 ten 10", "0;0;10;10"])
def test_view_boxes_that_are_none(text: str) -> None:
    with pytest.raises(DrawingError, match="is not four numbers"):
        parse_view_box(text)


@pytest.mark.parametrize("text", ["0 0 0 10", "0 0 10 0", "0 0 -10 10", "0 0 10 -0"])
def test_view_boxes_without_a_size(text: str) -> None:
    with pytest.raises(DrawingError, match=r"the viewBox '.*' has no size"):
        parse_view_box(text)


@pytest.mark.parametrize("aspect", ["xMidYmid", "middle", "xMidYMid cut", "meet", "xMidYMid meet meet"])
def test_aspects_that_are_none(aspect: str) -> None:
    with pytest.raises(DrawingError, match="preserveAspectRatio"):
        view_box_matrix(parse_view_box("0 0 1 1"), 1, 1, aspect)


def test_shortened_text_is_one_line() -> None:
    assert shorten("a\n b\tc") == "'a b c'"
    assert shorten("x" * 100) == repr("x" * 37 + "...")
