"""Lengths: between the text a person writes or reads and the millimetres the library counts in.

Text is read exactly, as fractions, and turned into a float once, at the end; 1 in = 25.4 mm exactly. Lengths
for people are written in the parts a ruler has: ``"1 3/8 in"``, ``"3.5 cm"``.

Examples
--------
>>> from bias_drafting.units import format_length, to_mm
>>> to_mm("1 3/8 in")
34.925
>>> format_length(34.925, unit="in", step=16)
'1 3/8 in'
"""

from __future__ import annotations

import math
import numbers
import re
import unicodedata
from fractions import Fraction
from typing import TYPE_CHECKING, Final

from bias_drafting.errors import LengthError

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

__all__ = ["checked_unit", "format_length", "format_width", "positive_mm", "to_mm"]

_INCH: Final = Fraction(254, 10)

# Every spelling of a unit, in lower case, and how many millimetres it is. The CSS units follow CSS Values and
# Units Level 3, section 5.2: 96 px, 72 pt or 6 pc to the inch, 40 Q to the centimetre.
_UNITS: Final[Mapping[str, Fraction]] = {
    **dict.fromkeys(("in", "in.", "inch", "inches", '"', "″", "”"), _INCH),
    **dict.fromkeys(("ft", "ft.", "foot", "feet", "'", "′", "’"), 12 * _INCH),
    **dict.fromkeys(("yd", "yd.", "yard", "yards"), 36 * _INCH),
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "pt": _INCH / 72,
    "pc": _INCH / 6,
    "px": _INCH / 96,
    "q": Fraction(1, 4),
}
_UNIT_NAMES: Final = "in, ft, yd, mm, cm, m, pt, pc, px or Q"

# The units a length is written in, and how many parts one has on the ruler when nobody says. Common practice:
# inches in sixteenths, feet in inches, yards in eighths, metres in centimetres, centimetres in millimetres.
_RULERS: Final[Mapping[str, int]] = {"in": 16, "ft": 12, "yd": 8, "mm": 1, "cm": 10, "m": 100}
_METRIC: Final = ("mm", "cm", "m")
_ROUNDINGS: Final = ("nearest", "up", "down")
_FINEST_STEP: Final = 1000  # no ruler is finer, and sums of lengths stay far above float noise

_LONGEST_TEXT: Final = 100
_SLACK: Final = Fraction(1, 10**9)  # float noise is some 1e-16 a sum; a 1e-9 part of a length cannot be cut

_NUMBER: Final = (
    r"(?:(?:(?P<whole>[0-9]+)(?: |- ?))?(?P<top>[0-9]+) ?/ ?(?P<bottom>[0-9]+)"
    r"|(?P<decimal>(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)(?:e[-+]?[0-9]{1,3})?))"
)
_BARE: Final = re.compile(_NUMBER)
# After a unit comes a blank, the end, or a digit (1'6"), never a point: "1 ft.6 in" could mean 6 or 0.6.
_TERM: Final = re.compile(_NUMBER + r""" ?(?P<unit>[a-z]+(?:\.(?= |$))?|["″”'′’])(?: |$|(?=[0-9]))""")
_NEGATIVE: Final = re.compile(r"[-−] ?[0-9.]")
_SAME_SIGN: Final = str.maketrans({"⁄": "/", "∕": "/", "‐": "-", "‑": "-"})  # fraction slashes, hyphens

_WANTED: Final = "write a number and its unit, such as '1 3/8 in', '0.25 in', '6 mm' or '1 ft 6 in'"


def to_mm(length: str | float) -> float:
    """Give a length in millimetres.

    Parameters
    ----------
    length
        A number of millimetres (int, float or a numpy scalar, not a bool), or text: one or more numbers with
        their units. A number may be whole, a decimal with a point (``".5 in"``), a fraction (``"1/4 in"``,
        ``"¼ in"``) or a whole number and a fraction with a blank or a hyphen between (``"1 3/8 in"``,
        ``"1-3/8 in"``). Units are in, inch, inches, ``"``, ft, foot, feet, ``'``, yd, yard, yards, mm, cm, m
        and those of CSS: pt (72 to the inch), pc (6), px (96) and Q (1/4 mm); capitals make no difference.
        Several are added, the largest unit first: ``"1 yd 4 in"``.

    Returns
    -------
    float
        Millimetres, finite and not negative: the float nearest to the exact length.

    Raises
    ------
    LengthError
        If the length is negative, not finite, has no unit, or cannot be read.

    Notes
    -----
    Left unread, because they could be taken two ways: a comma, a bare number in text, a mixed number whose
    fraction is 1 or more, a point between two units (``"1 ft.6 in"``). Text over 100 characters is refused.
    Source of the units: 1 in = 25.4 mm exactly (yard of 1 July 1959) and CSS Values and Units Level 3, 5.2.

    Examples
    --------
    >>> from bias_drafting.units import to_mm
    >>> to_mm("1 3/8 in"), to_mm("1⅜″"), to_mm("6 mm"), to_mm(6)
    (34.925, 34.925, 6.0, 6.0)
    >>> to_mm("1 ft 6 in")
    457.2
    >>> to_mm("1/4")
    Traceback (most recent call last):
    ...
    bias_drafting.errors.LengthError: '1/4' has no unit; write '1/4 in' or '1/4 mm'
    """
    if isinstance(length, str):
        return _read(length)
    return _checked_mm(length, f"a number of millimetres or text; {_WANTED}")


def positive_mm(length: str | float, what: str) -> float:
    """Give a length in millimetres that must be more than 0.

    Parameters
    ----------
    length
        As :func:`to_mm` takes it.
    what
        What the length is, for the message: ``"the finished width"``.

    Returns
    -------
    float
        Millimetres, finite and more than 0.

    Raises
    ------
    LengthError
        If the length is 0, or :func:`to_mm` refuses it; the message begins with `what`.

    Examples
    --------
    >>> from bias_drafting.units import positive_mm
    >>> positive_mm("1/4 in", "the finished width")
    6.35
    >>> positive_mm("0 in", "the finished width")
    Traceback (most recent call last):
    ...
    bias_drafting.errors.LengthError: the finished width must be more than 0, not '0 in'
    """
    try:
        mm = to_mm(length)
    except LengthError as error:
        message = f"{what}: {error}"
        raise LengthError(message) from error
    if mm == 0:
        given = repr(str(length)) if isinstance(length, str) else "0 mm"
        message = f"{what} must be more than 0, not {given}"
        raise LengthError(message)
    return mm


def format_length(mm: float, unit: str = "in", step: int | None = None, rounding: str = "nearest") -> str:
    """Write a length as a ruler shows it.

    Parameters
    ----------
    mm
        The length in millimetres, finite and not negative.
    unit
        ``"in"``, ``"ft"``, ``"yd"``, ``"mm"``, ``"cm"`` or ``"m"``.
    step
        How many parts one unit is divided into, 1 to 1000; 16 gives sixteenths. If not given: in 16, ft 12,
        yd 8, mm 1, cm 10, m 100. A metric length is written in decimals, so there the step must divide a
        power of ten (1, 2, 4, 5, 8, 10, 20, ...).
    rounding
        ``"nearest"`` (a half goes away from zero), ``"up"`` or ``"down"``.

    Returns
    -------
    str
        For in, ft and yd a whole number and a reduced fraction (``"1 3/8 in"``, ``"0 in"``); for metric units
        a decimal with always as many digits as the step needs (``"2.0 cm"``). :func:`to_mm` reads it back.

    Raises
    ------
    LengthError
        If the length is negative, not finite or no number, or the unit, step or rounding is not one of these.

    Notes
    -----
    A length that misses a step, or the middle between two, by no more than a billionth (1e-9) of itself or of
    one step, whichever is more, counts as on it: that is float noise, so ``"up"`` and ``"down"`` leave
    34.925000000000004 mm at 1 3/8 in, and ``"nearest"`` takes 1/32 in as a true half of 1/16 in.

    Examples
    --------
    >>> from bias_drafting.units import format_length
    >>> format_length(34.925), format_length(35, step=8, rounding="up"), format_length(0, step=8)
    ('1 3/8 in', '1 1/2 in', '0 in')
    >>> format_length(457.2, unit="yd"), format_length(34.925, unit="cm"), format_length(34.925, unit="mm")
    ('1/2 yd', '3.5 cm', '35 mm')
    """
    mm = _checked_mm(mm, "a number of millimetres")
    _check_choice(unit, _RULERS, "unit")
    _check_choice(rounding, _ROUNDINGS, "rounding")
    parts = _RULERS[unit] if step is None else _checked_step(step, unit)
    count = _whole_steps(mm, unit, parts, rounding)
    return f"{_decimal(count, parts) if unit in _METRIC else _mixed(count, parts)} {unit}"


def format_width(mm: float, unit: str = "in") -> str:
    """Write a width without pretending it is a ruler's fraction when it is not.

    Parameters
    ----------
    mm
        The width in millimetres, finite and not negative.
    unit
        ``"in"`` or ``"mm"``.

    Returns
    -------
    str
        In inches, the exact reduced fraction when the width is a whole number of 64ths (``"9/16 in"``,
        whole to within 1e-9 as in :func:`format_length`), else three decimals (``"0.236 in"``). In
        millimetres, at most two decimals (``"12.7 mm"``). A width above float noise that
        these would show as 0 is written to one significant digit.

    Raises
    ------
    LengthError
        If the width is negative, not finite or no number, or the unit is another one.

    Examples
    --------
    >>> from bias_drafting.units import format_width
    >>> format_width(14.2875), format_width(6), format_width(12.7, unit="mm")
    ('9/16 in', '0.236 in', '12.7 mm')
    """
    mm = _checked_mm(mm, "a number of millimetres")
    _check_choice(unit, ("in", "mm"), "unit")
    if unit == "in" and _in_steps(mm, unit, 64).denominator == 1:
        return format_length(mm, unit, step=64)
    parts = 1000 if unit == "in" else 100
    count = _whole_steps(mm, unit, parts, "nearest")
    if count == 0 and mm > 0:
        return f"{float(Fraction(mm) / _UNITS[unit]):.1g} {unit}"
    text = _decimal(count, parts)
    return f"{text if unit == 'in' else text.rstrip('0').rstrip('.')} {unit}"


def _read(text: str) -> float:
    """Give the millimetres of text, exact until the last step."""
    if len(text) > _LONGEST_TEXT:
        message = f"{text[:40]!r}... has {len(text)} characters, too many for a length; {_WANTED}"
        raise LengthError(message)
    plain = _plain(text)
    if _NEGATIVE.match(plain):
        message = f"{text!r} is negative, which a length cannot be; {_WANTED}"
        raise LengthError(message)
    if "," in plain:
        message = f"{text!r} has a comma; write decimals with a point ('0.25 in') and thousands unmarked"
        raise LengthError(message)
    try:
        return float(_sum_of_terms(plain.removeprefix("+"), text))
    except OverflowError as error:
        message = f"{text!r} is too long to count in millimetres; {_WANTED}"
        raise LengthError(message) from error


def _plain(text: str) -> str:
    """Spell text with plain fractions, slashes, hyphens and single blanks, in lower case."""
    return " ".join("".join(map(_spelt, text)).translate(_SAME_SIGN).lower().split())


def _spelt(sign: str) -> str:
    """Spell a fraction that is one character with digits and a slash; leave any other character."""
    # Blanks on both sides keep "1¼" from becoming 11/4 and "¼4" from becoming 1/44. The character's own
    # decomposition is exact where its numeric value, a float, is not (thirds, sixths, sevenths, ninths).
    is_fraction = unicodedata.decomposition(sign).startswith("<fraction>")
    return f" {unicodedata.normalize('NFKC', sign)} " if is_fraction else sign


def _sum_of_terms(plain: str, text: str) -> Fraction:
    """Add up numbers with units, the largest unit first, in millimetres; `text` is what was written."""
    total, position, above = Fraction(0), 0, None
    while position < len(plain) or above is None:
        term = _TERM.match(plain, position)
        if term is None:
            raise LengthError(_why_unreadable(plain, position, text))
        unit = _UNITS.get(term["unit"])
        if unit is None:
            message = f"{text!r} has the unknown unit {term['unit']!r}; use {_UNIT_NAMES}"
            raise LengthError(message)
        if above is not None and unit >= above:
            message = f"{text!r} does not go from a larger unit to a smaller one; write it as in '1 ft 6 in'"
            raise LengthError(message)
        total += _value(term, text) * unit
        position, above = term.end(), unit
    return total


def _value(term: re.Match[str], text: str) -> Fraction:
    """Give the number of one term."""
    if term["decimal"]:
        return Fraction(term["decimal"])
    top, bottom = int(term["top"]), int(term["bottom"])
    if bottom == 0:
        message = f"{text!r} divides by zero; write a fraction such as '1/4 in'"
        raise LengthError(message)
    if term["whole"] and top >= bottom:
        message = f"{text!r} has a fraction of 1 or more after a whole number; write it as in '1 3/8 in'"
        raise LengthError(message)
    return int(term["whole"] or 0) + Fraction(top, bottom)


def _why_unreadable(plain: str, position: int, text: str) -> str:
    """Say what is wrong with text whose plain spelling could be read only up to a position."""
    if _BARE.fullmatch(plain, position) is None:
        return f"{text!r} cannot be read as a length; {_WANTED}"
    if position > 0:
        return f"{text!r} has no unit after {plain[position:]!r}; write the unit of every number: '1 ft 6 in'"
    tidy = " ".join(text.split())
    return f"{text!r} has no unit; write '{tidy} in' or '{tidy} mm'"


def _checked_mm(value: object, wanted: str) -> float:
    """Give a number as a float of millimetres, finite and not negative."""
    if isinstance(value, bool) or not isinstance(value, numbers.Real):
        message = f"a length must be {wanted}; not a value of type {type(value).__name__}"
        raise LengthError(message)
    try:
        mm = float(value)
    except OverflowError as error:
        message = "a number of millimetres must be finite, not a whole number too large for a float"
        raise LengthError(message) from error
    if not math.isfinite(mm):
        message = f"a number of millimetres must be finite, not {mm}"
        raise LengthError(message)
    if mm < 0:
        message = f"a number of millimetres must not be negative, not {mm:g}"
        raise LengthError(message)
    return mm + 0.0  # turns -0.0 into 0.0


def _check_choice(value: object, choices: Iterable[str], what: str) -> None:
    """Refuse a value that is not one of the choices."""
    possible = list(choices)
    if not isinstance(value, str) or value not in possible:
        message = f"the {what} must be one of {', '.join(possible)}; not {_shown(value)}"
        raise LengthError(message)


def _checked_step(step: object, unit: str) -> int:
    """Give a step as an int, between the limits and such that metric decimals end."""
    parts = int(step) if not isinstance(step, bool) and isinstance(step, numbers.Integral) else 0
    # 10**9 is divided by every step up to 1000 that divides a power of ten: the worst is 512 = 2**9.
    if not 1 <= parts <= _FINEST_STEP or (unit in _METRIC and 10**9 % parts != 0):
        ends = ", that divides a power of ten (1, 2, 4, 5, 8, 10, 20, ...)" if unit in _METRIC else ""
        wanted = f"a whole number from 1 to {_FINEST_STEP}, the parts of one {unit}{ends}"
        message = f"the step must be {wanted}; not {_shown(step)}"
        raise LengthError(message)
    return parts


def _shown(value: object) -> str:
    """Show any value in a message, in at most 60 characters."""
    try:
        return repr(value)[:60]
    except ValueError:  # Python refuses to write out a whole number of more than 4300 digits
        return f"a value of type {type(value).__name__}"


def _in_steps(mm: float, unit: str, step: int) -> Fraction:
    """Give a length in steps of a ruler, with float noise about whole and half steps removed."""
    exact = Fraction(mm) * step / _UNITS[unit]
    half_step = Fraction(round(2 * exact), 2)
    return half_step if abs(exact - half_step) <= _SLACK * max(Fraction(1), exact) else exact


def _whole_steps(mm: float, unit: str, step: int, rounding: str) -> int:
    """Give a length in whole steps of a ruler."""
    steps = _in_steps(mm, unit, step)
    if rounding == "nearest":
        return math.floor(steps + Fraction(1, 2))  # no length is negative, so a half goes away from zero
    return math.ceil(steps) if rounding == "up" else math.floor(steps)


def _mixed(count: int, step: int) -> str:
    """Write count / step as a whole number and a reduced fraction."""
    whole, rest = divmod(count, step)
    if rest == 0:
        return str(whole)
    fraction = str(Fraction(rest, step))
    return f"{whole} {fraction}" if whole else fraction


def _decimal(count: int, step: int) -> str:
    """Write count / step as a decimal, with as many digits as the step needs (it divides a power of ten)."""
    digits = next(digits for digits in range(10) if 10**digits % step == 0)
    whole, rest = divmod(count * 10**digits // step, 10**digits)
    return f"{whole}.{rest:0{digits}d}" if digits else str(whole)


def checked_unit(unit: str, what: str = "a picture") -> str:
    """Return the unit of what is written, if it is one; else LengthError."""
    if unit not in ("in", "mm"):
        msg = f"{what} is in 'in' or 'mm', not {unit!r}"
        raise LengthError(msg)
    return unit
