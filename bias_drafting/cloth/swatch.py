"""Measurements of a swatch, and how far their mean may be off."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, cast

from bias_drafting.errors import ClothError
from bias_drafting.units import positive_mm

if TYPE_CHECKING:
    from collections.abc import Sequence

    Given = str | float | Sequence[str | float]

__all__ = ["mean_and_doubt", "swatch_tries"]


def swatch_tries(marked: Given, stretched: Given, eased: Given) -> list[tuple[float, float, float]]:
    """Return the lengths in mm of each time a swatch was measured: at rest, stretched, eased.

    Raises
    ------
    ClothError
        As many of one as of another are wanted, or one for all.
    LengthError
        What is no length more than 0.
    """
    columns = [
        _lengths(given, f"the {what} length")
        for given, what in ((marked, "marked"), (stretched, "stretched"), (eased, "eased"))
    ]
    count = max(len(column) for column in columns)
    if any(len(column) not in {1, count} for column in columns):
        had = ", ".join(str(len(column)) for column in columns)
        message = f"each time a swatch is tried gives one length of each kind; there are {had} of them"
        raise ClothError(message)
    whole = [column * count if len(column) == 1 else column for column in columns]
    return list(zip(*whole, strict=True))


def _lengths(given: Given, what: str) -> list[float]:
    several = not isinstance(given, str) and hasattr(given, "__len__")
    tries: list[Any] = list(cast("Any", given)) if several else [given]
    lengths = [positive_mm(one, what) for one in tries]
    if not lengths:
        message = f"{what} is missing: a swatch is measured once at least"
        raise ClothError(message)
    return lengths


def mean_and_doubt(values: Sequence[float]) -> tuple[float, float]:
    """Return the mean of measurements, and how far it may be off: the half of its 95 % interval by Student's t.

    Of one measurement nothing is known, and its doubt is 0.

    Examples
    --------
    >>> [round(x, 4) for x in mean_and_doubt([1.0, 2.0, 3.0])]
    [2.0, 2.4841]
    """
    mean = math.fsum(values) / len(values)
    if len(values) == 1:
        return mean, 0.0
    from scipy.special import stdtrit

    spread = math.sqrt(math.fsum((value - mean) ** 2 for value in values) / (len(values) - 1))
    return mean, float(stdtrit(len(values) - 1, 0.975)) * spread / math.sqrt(len(values))
