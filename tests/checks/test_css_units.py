"""Lengths against two open standards: the absolute units of CSS, and the international inch.

Sources:

- CSS Values and Units Module Level 3 (W3C), section 5.2 "Absolute lengths": 1cm = 96px/2.54, 1mm = 1/10th of
  1cm, 1Q = 1/40th of 1cm, 1in = 2.54cm = 96px, 1pc = 1/6th of 1in, 1pt = 1/72nd of 1in, 1px = 1/96th of 1in.
- SVG 2 (W3C), section 8.9 "Units": one inch is 96 user units.
- Federal Register, 1 July 1959, "Refinement of Values for the Yard and the Pound", as cited by sizes.com,
  "international yard": 1 yard = 0.9144 metre exactly.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from bias_drafting.units import to_mm

# CSS Values 3, section 5.2: every unit in CSS pixels, computed here from the pixel and not from the inch.
CM_PX = Fraction(96) / Fraction("2.54")
CSS_PIXELS = {
    "cm": CM_PX,
    "mm": CM_PX / 10,
    "Q": CM_PX / 40,
    "in": Fraction(96),
    "pc": Fraction(96, 6),
    "pt": Fraction(96, 72),
    "px": Fraction(1),
}


def as_float(exact: Fraction) -> float:
    return exact.numerator / exact.denominator


@pytest.mark.parametrize("count", ["1", "0.5", "7", "96", "1200", ".125", "1e2"])
@pytest.mark.parametrize(("unit", "pixels"), CSS_PIXELS.items())
def test_css_absolute_units(unit: str, pixels: Fraction, count: str) -> None:
    mm = Fraction(count) * pixels / CSS_PIXELS["mm"]
    assert to_mm(f"{count}{unit}") == as_float(mm)
    assert to_mm(f"{count} {unit.upper()}") == as_float(mm)  # CSS units are ASCII case-insensitive


@pytest.mark.parametrize(
    ("text", "pixels"),
    [("1mm", 3.77952755906), ("1cm", 37.7952755906), ("1pt", 1.33333333333), ("1Q", 0.944881889764)],
)
def test_css_units_in_pixels_as_decimals(text: str, pixels: float) -> None:
    """The same table as decimals, worked to twelve digits with multiple-precision arithmetic."""
    assert to_mm(text) / to_mm("1px") == pytest.approx(pixels, rel=5e-12)


def test_css_relations_that_are_whole_numbers() -> None:
    assert to_mm("96px") == to_mm("72pt") == to_mm("6pc") == to_mm("2.54cm") == to_mm("1in") == 25.4
    assert to_mm("40Q") == to_mm("10mm") == to_mm("1cm") == 10


def test_svg_user_units_to_the_inch() -> None:
    """SVG 2, section 8.9: one inch is 96 user units; 90 (older files, common practice) is 16/15 off."""
    assert to_mm("1in") / to_mm("1px") == pytest.approx(96, rel=1e-15)
    assert to_mm("90px") * 16 / 15 == pytest.approx(25.4, rel=1e-15)


def test_international_yard() -> None:
    """1 yard = 0.9144 m exactly (1 July 1959), so 1 in = 0.9144 m / 36 = 25.4 mm."""
    yard_mm = Fraction("0.9144") * 1000
    assert to_mm("1 yd") == as_float(yard_mm)
    assert to_mm("1 ft") == as_float(yard_mm / 3)
    assert to_mm("1 in") == as_float(yard_mm / 36)
    assert to_mm("1 yd") == to_mm("0.9144 m")
