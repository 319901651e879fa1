"""What callers give a curve: lengths as numbers or text, and arrays of numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.errors import CurveError
from bias_drafting.units import to_mm

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

__all__ = ["given_array", "given_count", "given_mm"]


def given_mm(length: object, what: str) -> float:
    """Return a length in mm, of either sign, given as a number or as text such as ``"1/4 in"``.

    Whether it is finite is left to be checked.

    Raises
    ------
    CurveError
        What is neither; ``what`` it is begins the message.
    LengthError
        Text that is no length.
    """
    if isinstance(length, str):
        return to_mm(length)
    try:
        if not isinstance(length, bool) and np.ndim(length) == 0:  # type: ignore[arg-type]  # of anything
            return float(length)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        pass
    msg = f"{what} is a number of mm or text such as '1/4 in', not {_short(length)}"
    raise CurveError(msg)


def given_array(values: ArrayLike, what: str) -> Array:
    """Return numbers as an array of floats.

    Raises
    ------
    CurveError
        What is not made of numbers, or not in even rows; ``what`` is wanted ends the message.
    """
    try:
        if not isinstance(values, str):
            return np.array(values, dtype=np.float64)
    except (TypeError, ValueError):
        pass
    msg = f"{_short(values)} is no array of numbers; wanted are {what}"
    raise CurveError(msg)


def given_count(count: object, what: str, most: int) -> int:
    """Return a whole number from 0 to ``most``.

    Raises
    ------
    CurveError
        Anything else; ``what`` it is begins the message.
    """
    if isinstance(count, (int, np.integer)) and not isinstance(count, bool) and 0 <= count <= most:
        return int(count)
    msg = f"{what} are a whole number from 0 to {most}, not {_short(count)}"
    raise CurveError(msg)


def _short(given: object) -> str:
    text = " ".join(repr(given).split())
    return text if len(text) <= 60 else f"{text[:57]}..."
