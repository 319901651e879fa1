"""The three verdicts on a bend, and the line between them."""

from __future__ import annotations

from enum import Enum
from typing import Final

__all__ = ["EASY_SHARE", "SLACK", "Verdict", "judged"]

# "Lies flat" asks at most this share of what the cloth can do; all of it is "needs easing".
EASY_SHARE: Final = 0.5
# A bend that meets the limit to this share of itself meets it: what is left is rounding.
SLACK: Final = 1e-9


class Verdict(Enum):
    """Whether a stem goes round its bends; the value is the word to print."""

    LIES_FLAT = "lies flat"
    NEEDS_EASING = "needs easing"
    TOO_TIGHT = "too tight"


def judged(radius: float, least: float, easy: float) -> Verdict:
    """Return the verdict on a working radius, from the least that passes and the least that lies flat."""
    if radius < least * (1 - SLACK):
        return Verdict.TOO_TIGHT
    return Verdict.NEEDS_EASING if radius < easy * (1 - SLACK) else Verdict.LIES_FLAT
