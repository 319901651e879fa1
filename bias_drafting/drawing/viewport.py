"""Lengths, viewBoxes and transforms of SVG: how numbers in a file become millimetres on the page.

Sources: CSS Values and Units Level 3, section 5.2 (absolute lengths); SVG 2, sections 8.2 (the transform of a
viewport), 8.5 (transform lists), 8.6 (viewBox) and 8.9 (units: 96 user units to the inch).
"""

from __future__ import annotations

import math
import re
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from bias_drafting.errors import DrawingError
from bias_drafting.units import to_mm

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    Array = NDArray[np.float64]

__all__ = [
    "LARGEST",
    "PX",
    "Length",
    "ViewBox",
    "chain",
    "diagonal",
    "extreme_scales",
    "mean_scale",
    "named_length",
    "parse_length",
    "parse_numbers",
    "parse_transform",
    "parse_view_box",
    "shorten",
    "translation",
    "turned",
    "view_box_matrix",
]

PX = to_mm("1 px")
# No drawing, and nothing in one, is larger than this in mm: beyond, squares overflow and digits are lost.
LARGEST = 1e9
_UNITS = ("px", "pt", "pc", "in", "cm", "mm", "q")
# As numerator and denominator: 6 in is then 152.4 mm to the last digit. A number without a unit counts px.
_MM_PER_UNIT = {
    unit: Fraction(to_mm(f"1 {unit or 'px'}")).limit_denominator(1000).as_integer_ratio()
    for unit in (*_UNITS, "")
}

_NUMBER_TEXT = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_NUMBER = re.compile(_NUMBER_TEXT)
_LENGTH = re.compile(rf"\s*+({_NUMBER_TEXT})\s*+(%|[a-zA-Z]*+)\s*+")
_BLANK = re.compile(r"\s*")
_COMMA = re.compile(r"\s*,?\s*")
_NOT_FINITE = re.compile(r"\s*[+-]?(?:nan|inf(?:inity)?)", re.IGNORECASE)
_FUNCTION = re.compile(r"\s*(matrix|translate|scale|rotate|skewX|skewY)\s*\(([^()]*)\)\s*,?")
_COUNTS = {"matrix": {6}, "translate": {1, 2}, "scale": {1, 2}, "rotate": {1, 3}, "skewX": {1}, "skewY": {1}}
_ASPECT = re.compile(r"(?:defer\s+)?(?:none|x(Min|Mid|Max)Y(Min|Mid|Max))(?:\s+(meet|slice))?")
_SHARE = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}


def shorten(text: str) -> str:
    """Return text of a file as one short quoted line, fit for a message."""
    line = " ".join(text.split())
    return repr(line if len(line) <= 40 else line[:37] + "...")


class Length(NamedTuple):
    """A CSS length: a number and its unit in lower case, ``""`` for none."""

    value: float
    unit: str

    @property
    def mm(self) -> float:
        """Millimetres; a number without a unit counts px. Not for percentages."""
        top, bottom = _MM_PER_UNIT[self.unit]
        return self.value * top / bottom

    def user_units(self, whole: float) -> float:
        """User units, 96 to the inch; a percentage is of ``whole``."""
        if self.unit == "%":
            return self.value / 100 * whole
        return self.value if self.unit in {"", "px"} else self.mm / PX


@lru_cache(maxsize=4096)
def parse_length(text: str) -> Length:
    """Read a CSS length in px, pt, pc, in, cm, mm or Q, without a unit, or in per cent.

    Raises
    ------
    DrawingError
        Text that is no such length, or not finite. Units that hang on a font or a screen are no lengths here.

    Examples
    --------
    >>> parse_length("12cm").mm, parse_length("1in").user_units(0), parse_length("25%").user_units(80)
    (120.0, 96.0, 20.0)
    """
    match = _LENGTH.fullmatch(text)
    if match is None or not (match[2] == "%" or match[2].lower() in _MM_PER_UNIT):
        problem = "is not a finite number" if _NOT_FINITE.match(text) else "cannot be read as a length"
        msg = f"{shorten(text)} {problem}; use a number with px, pt, pc, in, cm, mm, Q or %"
        raise DrawingError(msg)
    value = float(match[1])
    if not math.isfinite(value):
        msg = f"{shorten(text)} is not a finite number"
        raise DrawingError(msg)
    return Length(value, match[2].lower())


def named_length(properties: Mapping[str, str], name: str, default: str, least: float = -math.inf) -> Length:
    """Return the length one property gives, or its default if that is missing or ``auto``.

    Raises
    ------
    DrawingError
        A length that cannot be read, or is less than ``least``; the message names the property.
    """
    text = properties.get(name, "").strip()
    try:
        length = parse_length(default if text in {"", "auto"} else text)
    except DrawingError as error:
        msg = f"{name}: {error}"
        raise DrawingError(msg) from error
    if length.value < least:
        msg = f"{name}: {shorten(text)} is negative"
        raise DrawingError(msg)
    return length


def diagonal(width: float, height: float) -> float:
    """Return what 100% is of, for lengths that run neither across nor down (SVG 2, section 8.9)."""
    return math.hypot(width, height) / math.sqrt(2)


def parse_numbers(text: str, where: str) -> tuple[list[float], str | None]:
    """Read numbers separated by blanks or single commas, up to the first thing that is not one.

    Parameters
    ----------
    text
        The numbers.
    where
        What they belong to, for the message: ``"its points"``.

    Returns
    -------
    numbers, error
        ``error`` says what stands where a number is wanted, or is None.

    Raises
    ------
    DrawingError
        A number that is not finite.

    Examples
    --------
    >>> parse_numbers("1,2 .5-3 x", "its points")
    ([1.0, 2.0, 0.5, -3.0], "a number is wanted, not 'x', at character 10")
    """
    numbers: list[float] = []
    at = _end(_BLANK, text, 0)
    while at < len(text):
        match = _NUMBER.match(text, at)
        if match is None and not _NOT_FINITE.match(text, at):
            return numbers, f"a number is wanted, not {text[at : at + 12]!r}, at character {at + 1}"
        value = float(match[0]) if match else math.nan
        if not math.isfinite(value):
            found = shorten(text[at : at + 40])
            msg = f"in {where}, {found} is not a finite number, at character {at + 1}"
            raise DrawingError(msg)
        numbers.append(value)
        separator = match.end() if match else at
        at = _end(_COMMA, text, separator)
        if at == len(text) and "," in text[separator:]:
            return numbers, f"a number is wanted after the last comma, at character {at + 1}"
    return numbers, None


def _end(pattern: re.Pattern[str], text: str, at: int) -> int:
    match = pattern.match(text, at)
    return match.end() if match else at


class ViewBox(NamedTuple):
    """The rectangle of user space that fills a viewport."""

    x: float
    y: float
    width: float
    height: float


def parse_view_box(text: str) -> ViewBox:
    """Read a ``viewBox`` attribute.

    Raises
    ------
    DrawingError
        Not four finite numbers, or a width or height that is not more than 0.
    """
    numbers, error = parse_numbers(text, "its viewBox")
    if error is not None or len(numbers) != 4:
        msg = f"the viewBox {shorten(text)} is not four numbers"
        raise DrawingError(msg)
    box = ViewBox(*numbers)
    if not (box.width > 0 and box.height > 0):
        msg = f"the viewBox {shorten(text)} has no size: its width and height must be more than 0"
        raise DrawingError(msg)
    return box


def view_box_matrix(box: ViewBox, width: float, height: float, aspect: str) -> Array:
    """Return the 3 x 3 map from the user space of ``box`` into a viewport of this size at the origin.

    Parameters
    ----------
    aspect
        The ``preserveAspectRatio`` attribute; empty for its default, ``"xMidYMid meet"``.

    Raises
    ------
    DrawingError
        A ``preserveAspectRatio`` that is none.

    Examples
    --------
    >>> view_box_matrix(ViewBox(-50, -20, 200, 100), 300, 300, "").tolist()
    [[1.5, 0.0, 75.0], [0.0, 1.5, 105.0], [0.0, 0.0, 1.0]]
    """
    match = _ASPECT.fullmatch(aspect.strip() or "xMidYMid")
    if match is None:
        msg = (
            f"the preserveAspectRatio {shorten(aspect)} cannot be read; use such as 'xMidYMid meet' or 'none'"
        )
        raise DrawingError(msg)
    scale_x, scale_y = width / box.width, height / box.height
    if match[1] is None:  # none: each way by its own scale
        share_x = share_y = 0.0
    else:
        share_x, share_y = _SHARE[match[1]], _SHARE[match[2]]
        scale_x = scale_y = (max if match[3] == "slice" else min)(scale_x, scale_y)
    shift_x = share_x * (width - scale_x * box.width) - scale_x * box.x
    shift_y = share_y * (height - scale_y * box.height) - scale_y * box.y
    return np.array([[scale_x, 0, shift_x], [0, scale_y, shift_y], [0, 0, 1]])


def mean_scale(matrix: Array) -> float:
    """Return by how much a 3 x 3 map lengthens, as the geometric mean of all directions.

    Raises
    ------
    DrawingError
        A map whose numbers are not finite.
    """
    (a, c), (b, d) = matrix[:2, :2].tolist()
    area = abs(a * d - b * c)
    if not (math.isfinite(area) and np.isfinite(matrix).all()):
        msg = "its transforms lead to numbers that are not finite"
        raise DrawingError(msg)
    return math.sqrt(area)


def extreme_scales(matrix: Array) -> tuple[float, float]:
    """Return by how much a 3 x 3 map lengthens most and least: its singular values.

    Sum and difference of the two are the lengths of ``(a + d, b - c)`` and ``(a - d, b + c)``.

    Examples
    --------
    >>> extreme_scales(np.array([[0, 3, 5], [-2, 0, 5], [0, 0, 1]]))
    (3.0, 2.0)
    """
    (a, c), (b, d) = matrix[:2, :2].tolist()
    one, other = math.hypot(a + d, b - c), math.hypot(a - d, b + c)
    return (one + other) / 2, abs(one - other) / 2


def chain(outer: Array, inner: Array) -> Array:
    """Return the map that applies ``inner``, then ``outer``; it may not be finite."""
    with np.errstate(over="ignore", invalid="ignore"):
        chained: Array = outer @ inner
    return chained


def translation(x: float, y: float) -> Array:
    """Return the 3 x 3 map that shifts by ``x, y``."""
    return np.array([[1, 0, x], [0, 1, y], [0, 0, 1]], dtype=np.float64)


def parse_transform(text: str) -> Array:
    """Return the 3 x 3 map of a ``transform`` attribute; the identity for empty text and ``"none"``.

    Raises
    ------
    DrawingError
        Anything but a list of matrix, translate, scale, rotate, skewX and skewY with their right number of
        finite numbers.

    Examples
    --------
    >>> parse_transform("translate(10 20) scale(2)").tolist()
    [[2.0, 0.0, 10.0], [0.0, 2.0, 20.0], [0.0, 0.0, 1.0]]
    """
    whole = np.eye(3)
    at = 0
    end = len(text.rstrip())
    if text.strip() == "none":
        return whole
    while at < end:
        match = _FUNCTION.match(text, at)
        numbers, error = parse_numbers(match[2], "its transform") if match else ([], None)
        if match is None or error is not None or len(numbers) not in _COUNTS[match[1]]:
            msg = f"the transform {shorten(text)} cannot be read, at character {at + 1}"
            raise DrawingError(msg)
        whole = chain(whole, _function_matrix(match[1], numbers))
        at = match.end()
    if not np.isfinite(whole).all():
        msg = f"the transform {shorten(text)} leads to numbers that are not finite"
        raise DrawingError(msg)
    return whole


def _function_matrix(name: str, numbers: list[float]) -> Array:
    if name == "matrix":
        a, b, c, d, e, f = numbers
        return np.array([[a, c, e], [b, d, f], [0, 0, 1]])
    if name == "translate":
        return translation(numbers[0], numbers[1] if len(numbers) == 2 else 0.0)
    if name == "scale":
        return np.diag([numbers[0], numbers[-1], 1.0])
    cosine, sine = _cosine_and_sine(numbers[0])
    if name == "rotate":
        x, y = numbers[1:] or (0.0, 0.0)
        turn = np.array([[cosine, -sine, x], [sine, cosine, y], [0, 0, 1]])
        return chain(turn, translation(-x, -y))
    if cosine == 0:
        msg = f"the transform {name}({numbers[0]:g}) leads to numbers that are not finite"
        raise DrawingError(msg)
    slope = sine / cosine
    across, down = (slope, 0.0) if name == "skewX" else (0.0, slope)
    return np.array([[1, across, 0], [down, 1, 0], [0, 0, 1]])


def turned(degrees: float) -> Array:
    """Return the 3 x 3 map that turns about the origin, from x toward y."""
    cosine, sine = _cosine_and_sine(degrees)
    return np.array([[cosine, -sine, 0], [sine, cosine, 0], [0, 0, 1]])


def _cosine_and_sine(degrees: float) -> tuple[float, float]:
    """Return cosine and sine, exact at right angles: quarter turns must keep straight edges straight."""
    if not math.isfinite(degrees):
        msg = "its transform turns by an angle that is not finite"
        raise DrawingError(msg)
    turn = math.fmod(degrees, 360)
    if turn % 90 == 0:
        return [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)][int(turn // 90) % 4]
    return math.cos(math.radians(turn)), math.sin(math.radians(turn))
