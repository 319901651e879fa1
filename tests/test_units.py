"""Lengths, read and written: closed forms in exact fractions, then properties, then everything refused."""

from __future__ import annotations

import math
import re
from decimal import Decimal
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bias_drafting.errors import DraftingError, LengthError
from bias_drafting.units import format_length, format_width, positive_mm, to_mm

# Millimetres in one unit, written as a person would look them up, not as the library derives them.
MM = {
    "in": Fraction("25.4"),
    "ft": Fraction("304.8"),
    "yd": Fraction("914.4"),
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
}
METRIC = ("mm", "cm", "m")
VULGAR = {
    "½": (1, 2), "⅓": (1, 3), "⅔": (2, 3), "¼": (1, 4), "¾": (3, 4), "⅕": (1, 5), "⅖": (2, 5), "⅗": (3, 5),
    "⅘": (4, 5), "⅙": (1, 6), "⅚": (5, 6), "⅐": (1, 7), "⅛": (1, 8), "⅜": (3, 8), "⅝": (5, 8), "⅞": (7, 8),
    "⅑": (1, 9), "⅒": (1, 10),
}  # fmt: skip


def nearest_float(exact: Fraction) -> float:
    return exact.numerator / exact.denominator  # true division of ints rounds correctly


# --- reading -----------------------------------------------------------------


READINGS = {
    "6.35": [
        "1/4 in", "1/4in", "1 / 4 in", '1/4"', "1/4 IN", "1/4 Inch", "1/4 inches", "1/4 in.", "1/4″", "1/4”",
        "1⁄4 in", "1∕4 in", "¼ in", "¼in", "⅟4 in", "0.25 in", ".25in", "2.5e-1 in",
    ],
    "12.7": [".5in", "1/2 in", "8/16 in"],
    "34.925": [
        "1 3/8 in", "1-3/8 in", "1‑3/8 in", '1 3/8"', "1⅜ in", "1 ⅜ in", "1-⅜ in", "11/8 in",
        "  1\u00a03/8\t in\n", "1.375 in",
    ],
    "31.75": ["1¼ in", "1 ¼ in", "1.25 in"],
    "1117.6": ["44 in"],
    "304.8": ["1 ft", "1 foot", "1'", "1′"],
    "609.6": ["2 feet", "2 FT"],
    "457.2": [
        "1 ft 6 in", "1ft6in", "1 ft. 6 in.", "1' 6\"", "1'6\"", "1′ 6″", "1’ 6”", "1/2 yd",
        "1/2 yard", "½ yards",
    ],
    "317.5": ["1 ft .5 in"],
    "1016": ["1 yd 4 in"],
    "1384.3": ["1 yd 1 ft 6 1/2 in"],
    "2743.2": ["3 yards", "3 yd."],
    "6": ["6 mm", "6MM", "+6 mm", "0.6 cm"],
    "1200": ["1 m 20 cm"],
    "100": ["1e2 mm", "0.1 m"],
    "0.00001": ["1e-05 mm"],
    "0": ["0 in", "0/8 in"],
    "9" * 97: ["9" * 97 + " mm"],
}  # fmt: skip


@pytest.mark.parametrize(("text", "mm"), [(text, mm) for mm, texts in READINGS.items() for text in texts])
def test_reads_text_exactly(text: str, mm: str) -> None:
    assert to_mm(text) == float(Decimal(mm))


@pytest.mark.parametrize(("sign", "parts"), VULGAR.items())
def test_reads_every_fraction_that_is_one_character(sign: str, parts: tuple[int, int]) -> None:
    exact = Fraction(*parts) * MM["in"]
    assert to_mm(f"{sign} in") == nearest_float(exact)
    assert to_mm(f"7{sign}″") == nearest_float(exact + 7 * MM["in"])


@pytest.mark.parametrize(
    "number", [6, 6.0, np.float64(6), np.float32(6), np.int64(6), np.uint8(6), Fraction(6)]
)
def test_a_number_is_millimetres(number: Any) -> None:
    mm = to_mm(number)
    assert mm == 6
    assert type(mm) is float


def test_minus_zero_becomes_zero() -> None:
    assert math.copysign(1, to_mm(-0.0)) == 1


@given(
    whole=st.integers(0, 999),
    top=st.integers(0, 200),
    bottom=st.integers(1, 200),
    joint=st.sampled_from([" ", "-", "\u00a0", "  "]),
    slash=st.sampled_from(["/", "⁄", " / "]),
    gap=st.sampled_from(["", " "]),
    unit=st.sampled_from(sorted(MM)),
)
def test_reads_mixed_numbers_exactly(
    whole: int, top: int, bottom: int, joint: str, slash: str, gap: str, unit: str
) -> None:
    top %= bottom
    exact = (whole + Fraction(top, bottom)) * MM[unit]
    assert to_mm(f"{whole}{joint}{top}{slash}{bottom}{gap}{unit}") == nearest_float(exact)


@given(st.decimals(0, 10**6, places=5), st.sampled_from(sorted(MM)))
def test_reads_decimals_exactly(number: Decimal, unit: str) -> None:
    assert to_mm(f"{number:f} {unit}") == nearest_float(Fraction(number) * MM[unit])


@given(st.integers(0, 50), st.integers(0, 2), st.integers(0, 11), st.integers(0, 15))
def test_a_sum_is_the_sum_of_its_parts(yards: int, feet: int, inches: int, sixteenths: int) -> None:
    exact = 36 * yards + 12 * feet + inches + Fraction(sixteenths, 16)
    assert to_mm(f"{yards} yd {feet} ft {inches} {sixteenths}/16 in") == nearest_float(exact * MM["in"])


@given(st.text(max_size=20) | st.text("0123456789 /-.,'\"⁄½inftcmydpxqe+″", max_size=20))
def test_any_text_is_a_length_or_refused(text: str) -> None:
    try:
        mm = to_mm(text)
    except LengthError as error:
        assert repr(text) in str(error)  # noqa: PT017 - most text is refused, some is not
    else:
        assert 0 <= mm < math.inf


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("1/4", r"'1/4' has no unit; write '1/4 in' or '1/4 mm'"),
        ("¼", r"'¼' has no unit; write '¼ in'"),
        ("6", r"'6' has no unit; write '6 in' or '6 mm'"),
        ("+6", r"'\+6' has no unit"),
        ("1 3/8", r"'1 3/8' has no unit; write '1 3/8 in'"),
        ("1 ft 6", r"'1 ft 6' has no unit after '6'"),
        ('1"1/2', r"has no unit after '1/2'"),
        ("", r"'' cannot be read as a length; write a number and its unit, such as '1 3/8 in'"),
        (" \t", r"' \\t' cannot be read"),
        ("+", r"'\+' cannot be read"),
        ("1/0 in", r"'1/0 in' divides by zero"),
        ("2 0/0 in", r"'2 0/0 in' divides by zero"),
        ("0x10 mm", r"unknown unit 'x'"),
        ("1 ell", r"'1 ell' has the unknown unit 'ell'; use in, ft, yd, mm, cm, m, pt, pc, px or Q"),
        ("1 mm.", r"unknown unit 'mm\.'"),
        ("2 em", r"unknown unit 'em'"),
        ("-1 in", r"'-1 in' is negative"),
        ("- ¼ in", r"'- ¼ in' is negative"),
        ("−.5 in", r"'−.5 in' is negative"),
        ("0,25 in", r"'0,25 in' has a comma; write decimals with a point \('0.25 in'\)"),
        ("1,000 mm", r"'1,000 mm' has a comma.* thousands unmarked"),
        ("1 ft, 6 in", r"has a comma"),
        ("1 9/8 in", r"'1 9/8 in' has a fraction of 1 or more after a whole number"),
        ("1 4/4 in", r"has a fraction of 1 or more"),
        ("6 in 1 ft", r"'6 in 1 ft' does not go from a larger unit to a smaller one"),
        ("1 in 1 in", r"does not go from a larger unit to a smaller one"),
        ("1 ft.6 in", r"'1 ft\.6 in' cannot be read"),
        ("1e999 mm", r"'1e999 mm' is too long"),
        ("1e9999 mm", r"'1e9999 mm' has the unknown unit 'e'"),
        ("1" * 98 + " in", r"'1{40}'\.\.\. has 101 characters, too many"),
        pytest.param("1/" * 50_000, r"has 100000 characters", id="100000 characters"),
    ],
)
def test_refuses_text(text: str, why: str) -> None:
    with pytest.raises(LengthError, match=why):
        to_mm(text)


JUNK = [
    "+-1 in", "1 in -2 mm", "1' - 6\"", "1-2 in", "1 2 in", "1.5 3/8 in", "1.5/2 in", "1/2/4 in",
    "½/4 in", "¼4 in", "¼½ in", "1³⁄₈ in", "1. in", "1.2.3 in", "² in", "1_000 mm", "1 in; 2 in",
    "a finger's width", "in", "٣ in", "nan mm", "inf", "50 %",
]  # fmt: skip


@pytest.mark.parametrize("text", JUNK)
def test_refuses_what_could_mean_anything(text: str) -> None:
    with pytest.raises(
        LengthError, match=f"^{re.escape(repr(text))} cannot be read as a length; write a number"
    ):
        to_mm(text)


@pytest.mark.parametrize(
    ("number", "why"),
    [
        (-1, "must not be negative, not -1"),
        (-1e-12, "must not be negative, not -1e-12"),
        (math.inf, "must be finite, not inf"),
        (-math.inf, "must be finite, not -inf"),
        (math.nan, "must be finite, not nan"),
        (np.float64("nan"), "must be finite, not nan"),
        (10**400, "too large"),
        pytest.param(10**5000, "too large", id="5001 digits"),
    ],
)
@pytest.mark.parametrize("use", [to_mm, format_length, format_width])
def test_refuses_numbers_that_are_no_length(use: Any, number: float, why: str) -> None:
    with pytest.raises(LengthError, match=why):
        use(number)


@pytest.mark.parametrize(
    ("value", "kind"),
    [
        (True, "bool"),
        (np.True_, "bool"),
        (None, "NoneType"),
        (b"1 in", "bytes"),
        ([1], "list"),
        (np.array([1.0, 2.0]), "ndarray"),
        (1j, "complex"),
    ],
)
@pytest.mark.parametrize("use", [to_mm, format_length, format_width])
def test_refuses_values_of_other_types(use: Any, value: Any, kind: str) -> None:
    with pytest.raises(LengthError, match=f"must be a number of millimetres.*; not a value of type {kind}"):
        use(value)


def test_the_error_is_also_the_builtin_one() -> None:
    with pytest.raises(ValueError, match="has no unit") as caught:
        to_mm("3")
    assert isinstance(caught.value, DraftingError)


# --- positive lengths --------------------------------------------------------


def test_positive_mm_gives_the_length() -> None:
    assert positive_mm("1/4 in", "the finished width") == 6.35
    assert positive_mm(1e-9, "the finished width") == 1e-9


@pytest.mark.parametrize(
    ("length", "why"),
    [
        ("0 in", r"^the finished width must be more than 0, not '0 in'$"),
        (0, r"^the finished width must be more than 0, not 0 mm$"),
        (np.float64(-0.0), r"^the finished width must be more than 0, not 0 mm$"),
        ("1e-999 mm", r"^the finished width must be more than 0, not '1e-999 mm'$"),
        ("-1 in", r"^the finished width: '-1 in' is negative"),
        (-1, r"^the finished width: a number of millimetres must not be negative, not -1$"),
        ("1/4", r"^the finished width: '1/4' has no unit; write '1/4 in'"),
        (None, r"^the finished width: a length must be .* not a value of type NoneType$"),
    ],
)
def test_positive_mm_names_what_it_refuses(length: Any, why: str) -> None:
    with pytest.raises(LengthError, match=why):
        positive_mm(length, "the finished width")


# --- writing on a ruler ------------------------------------------------------


@pytest.mark.parametrize(
    ("mm", "unit", "step", "rounding", "text"),
    [
        (34.925, "in", 16, "nearest", "1 3/8 in"),
        (34.925, "in", 8, "nearest", "1 3/8 in"),
        (34.925, "in", 4, "nearest", "1 1/2 in"),  # 11/8 is 5 1/2 quarters: the half goes up
        (34.925, "in", 4, "down", "1 1/4 in"),
        (34.925, "in", 1, "nearest", "1 in"),
        (34.925, "in", 10, "up", "1 2/5 in"),
        (6.35, "in", 16, "nearest", "1/4 in"),
        (0.79375, "in", 16, "nearest", "1/16 in"),  # 1/32 in, a true half
        (0.79374, "in", 16, "nearest", "0 in"),
        (0.79374, "in", 16, "up", "1/16 in"),
        (1.58, "in", 16, "down", "0 in"),
        (0, "in", 8, "up", "0 in"),
        (25.3, "in", 8, "nearest", "1 in"),
        (304.8, "ft", None, "nearest", "1 ft"),
        (457.2, "ft", None, "nearest", "1 1/2 ft"),
        (431.8, "ft", None, "nearest", "1 5/12 ft"),
        (457.2, "yd", None, "nearest", "1/2 yd"),
        (460, "yd", None, "up", "5/8 yd"),
        (609.6, "yd", 3, "nearest", "2/3 yd"),
        (34.925, "in", None, "nearest", "1 3/8 in"),
        (34.925, "mm", None, "nearest", "35 mm"),
        (34.925, "mm", 10, "nearest", "34.9 mm"),
        (34.925, "mm", 2, "down", "34.5 mm"),
        (34.925, "mm", 8, "up", "35.000 mm"),
        (34.925, "cm", None, "nearest", "3.5 cm"),
        (20, "cm", None, "nearest", "2.0 cm"),
        (20.05, "cm", 100, "up", "2.01 cm"),
        (34.925, "cm", 4, "nearest", "3.50 cm"),
        (34.925, "cm", 1, "up", "4 cm"),
        (1066.8, "m", None, "nearest", "1.07 m"),
        (1066.8, "m", 20, "up", "1.10 m"),
        (1, "mm", 512, "nearest", "1.000000000 mm"),
        (0, "mm", None, "nearest", "0 mm"),
    ],
)
def test_writes_what_the_ruler_shows(
    mm: float, unit: str, step: int | None, rounding: str, text: str
) -> None:
    assert format_length(mm, unit=unit, step=step, rounding=rounding) == text


def test_a_numpy_whole_number_is_a_step() -> None:
    assert format_length(np.float64(34.925), step=np.int64(8)) == "1 3/8 in"  # type: ignore[arg-type]


@pytest.mark.parametrize("noise", [34.925000000000004, 34.92499999999999, 34.925 * (1 + 5e-10)])
@pytest.mark.parametrize("rounding", ["nearest", "up", "down"])
def test_float_noise_does_not_move_a_length_off_its_step(noise: float, rounding: str) -> None:
    assert noise != 34.925
    assert format_length(noise, rounding=rounding) == "1 3/8 in"


def test_float_noise_about_nothing_is_nothing() -> None:
    assert format_length(1.5e-9, rounding="up") == "0 in"  # a step is 1.5875 mm
    assert format_length(1.6e-9, rounding="up") == "1/16 in"


def test_more_than_noise_moves_a_length_to_the_next_step() -> None:
    assert format_length(34.925 * (1 + 2e-9), rounding="up") == "1 7/16 in"
    assert format_length(34.925 * (1 - 2e-9), rounding="down") == "1 5/16 in"


@pytest.mark.parametrize("sixteenths", range(1, 200, 2))
def test_halves_go_up_whatever_their_float_noise(sixteenths: int) -> None:
    mm = sixteenths / 16 * 25.4
    for half in (np.nextafter(mm, 0), mm, np.nextafter(mm, 1e9)):
        eighths = Fraction((sixteenths + 1) // 2, 8)
        assert to_mm(format_length(float(half), step=8)) == nearest_float(eighths * MM["in"])


lengths = st.floats(0, 1e5) | st.integers(0, 4000).map(lambda n: n / 16 * 25.4)
units_and_steps = st.one_of(
    st.tuples(st.sampled_from(["in", "ft", "yd"]), st.integers(1, 1000)),
    st.tuples(st.sampled_from(METRIC), st.sampled_from([1, 2, 4, 5, 8, 10, 16, 25, 64, 100, 512, 1000])),
)


@given(lengths, units_and_steps)
def test_nearest_reads_back_within_half_a_step(mm: float, unit_and_step: tuple[str, int]) -> None:
    unit, step = unit_and_step
    back = Fraction(to_mm(format_length(mm, unit=unit, step=step)))
    one = MM[unit] / step
    assert abs(back - Fraction(mm)) <= one / 2 + Fraction(1, 10**9) * max(Fraction(mm), one)


@given(lengths, units_and_steps)
def test_up_is_never_less_and_down_never_more(mm: float, unit_and_step: tuple[str, int]) -> None:
    unit, step = unit_and_step
    up = Fraction(to_mm(format_length(mm, unit=unit, step=step, rounding="up")))
    down = Fraction(to_mm(format_length(mm, unit=unit, step=step, rounding="down")))
    one = MM[unit] / step
    slack = Fraction(1, 10**9) * max(Fraction(mm), one)
    assert mm - slack <= up < mm + one + slack
    assert mm - one - slack < down <= mm + slack


@given(lengths, units_and_steps, st.sampled_from(["nearest", "up", "down"]))
def test_what_was_written_stays_as_it_is(mm: float, unit_and_step: tuple[str, int], rounding: str) -> None:
    unit, step = unit_and_step
    text = format_length(mm, unit=unit, step=step, rounding=rounding)
    for again in ("nearest", "up", "down"):
        assert format_length(to_mm(text), unit=unit, step=step, rounding=again) == text


@given(st.integers(0, 10**5), st.integers(1, 1000), st.sampled_from(["in", "ft", "yd"]))
def test_fractions_are_reduced_and_below_one(count: int, step: int, unit: str) -> None:
    text = format_length(float(Fraction(count, step) * MM[unit]), unit=unit, step=step)
    number = text.removesuffix(f" {unit}")
    assert sum(map(Fraction, number.split())) == Fraction(count, step)
    if "/" in number:
        top, bottom = map(int, number.split()[-1].split("/"))
        assert 0 < top < bottom
        assert math.gcd(top, bottom) == 1


@pytest.mark.parametrize(
    "unit", ["pt", "inch", "IN", "", None, 3, ["in"], np.array(["in", "in"]), "x" * 10**4]
)
def test_format_length_lists_the_units_it_writes(unit: Any) -> None:
    with pytest.raises(LengthError, match=r"unit must be one of in, ft, yd, mm, cm, m; not .{0,70}$"):
        format_length(1, unit=unit)


@pytest.mark.parametrize("rounding", ["half", "UP", None, 0, ["up"]])
def test_format_length_lists_the_roundings(rounding: Any) -> None:
    with pytest.raises(LengthError, match="rounding must be one of nearest, up, down; not "):
        format_length(1, rounding=rounding)


STEPS_THAT_ARE_NOT = [0, -8, 1001, 16.0, "16", True, math.nan, [16], 10**5000]


@pytest.mark.parametrize("step", STEPS_THAT_ARE_NOT, ids=range(9))
def test_format_length_says_which_steps_there_are(step: Any) -> None:
    with pytest.raises(
        LengthError, match="step must be a whole number from 1 to 1000, the parts of one in; not "
    ):
        format_length(1, step=step)


@pytest.mark.parametrize("step", [3, 12, 15, 999])
@pytest.mark.parametrize("unit", METRIC)
def test_a_metric_step_must_have_a_decimal_that_ends(unit: str, step: int) -> None:
    with pytest.raises(LengthError, match=f"of one {unit}, that divides a power of ten .*; not {step}"):
        format_length(1, unit=unit, step=step)


def test_format_length_does_not_take_text() -> None:
    with pytest.raises(LengthError, match="must be a number of millimetres; not a value of type str"):
        format_length("1 in")  # type: ignore[arg-type]


# --- writing widths ----------------------------------------------------------


@pytest.mark.parametrize(
    ("mm", "unit", "text"),
    [
        (14.2875, "in", "9/16 in"),
        (6.35, "in", "1/4 in"),
        (31.75, "in", "1 1/4 in"),
        (25.4, "in", "1 in"),
        (0.396875, "in", "1/64 in"),
        (0, "in", "0 in"),
        (6, "in", "0.236 in"),
        (0.1984375, "in", "0.008 in"),  # 1/128 in, half of a 64th
        (6.3501, "in", "0.250 in"),  # not quite a quarter, so no fraction is claimed
        (1000, "in", "39.370 in"),
        (0.0127, "in", "0.001 in"),  # half a thousandth goes up
        (0.01, "in", "0.0004 in"),
        (12.7, "mm", "12.7 mm"),
        (6.35, "mm", "6.35 mm"),
        (34.925, "mm", "34.93 mm"),  # a half goes up
        (10, "mm", "10 mm"),
        (100.001, "mm", "100 mm"),
        (0, "mm", "0 mm"),
        (0.001, "mm", "0.001 mm"),
    ],
)
def test_writes_widths(mm: float, unit: str, text: str) -> None:
    assert format_width(mm, unit) == text


@given(st.integers(0, 64 * 100))
def test_a_whole_number_of_64ths_is_written_exactly(count: int) -> None:
    exact = Fraction(count, 64) * MM["in"]
    text = format_width(float(exact), "in")
    assert "." not in text
    assert to_mm(text) == nearest_float(exact)


@given(st.just(0.0) | st.floats(1e-9, 1e4), st.sampled_from(["in", "mm"]))
def test_a_width_reads_back_within_half_its_last_digit(mm: float, unit: str) -> None:
    half = {"in": Fraction("0.0127"), "mm": Fraction("0.005")}[unit]
    back = Fraction(to_mm(format_width(mm, unit)))
    assert abs(back - Fraction(mm)) <= half + Fraction(1, 10**9) * max(Fraction(mm), 2 * half)
    assert (back > 0) == (mm > 0)


@pytest.mark.parametrize("unit", ["cm", "ft", "", None])
def test_format_width_lists_its_units(unit: Any) -> None:
    with pytest.raises(LengthError, match="unit must be one of in, mm; not "):
        format_width(1, unit)
