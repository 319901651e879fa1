"""A strip lying round a bend: how far its edges are stretched and eased, and how much narrower it has grown.

A strip bent in its plane lies in arcs round one centre, and each line along it has the length ratio ``R / R0``,
``R`` being its radius and ``R0`` that of the line that keeps its length. Where that line lies the cloth does not say:
pull while laying and it moves inward. We put it where the outer edge uses the same share ``k`` of the stretch the
cloth has as the inner edge uses of its ease, so ``outer = R0 (1 + stretch k)`` and ``inner = R0 (1 - ease k)``:

    k = w / (outer ease + inner stretch),  R0 = outer / (1 + stretch k).

That is the division which asks least of the cloth: 1 at the least radius, a half where the strip lies flat.

**Narrower.** The net of threads keeps its area in the ratio ``cos(g)`` under the shear ``g``, and across the strip
the ratio is ``cos(g) / q`` where it is ``q`` along it. With ``q^2 = 1 + c sin(g)``, ``c`` the sine of twice the angle
to the warp, a strip that lies from ``inner`` to ``outer`` was before

    integral of q / cos(g) dR = (R0 c / 2) [asin((q^2 - 1) / c)] from inner to outer

wide. On the true bias, where ``c = 1``, this is ``R0 (asin(q2 / sqrt2) - asin(q1 / sqrt2))``, the inverse of
``R = sqrt2 R0 sin(pi/4 + t/R0)`` for a thread at rest distance ``t``. The derivation is our own; the tests hold it
against a net of stiff threads relaxed by a computer.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from bias_drafting.errors import ClothError
from bias_drafting.units import format_width

__all__ = ["BentStrip", "bent"]


@dataclass(frozen=True, slots=True)
class BentStrip:
    """What a bend asks of a strip.

    Attributes
    ----------
    width, radius
        Of the strip as it lies on the quilt, in mm; the radius is that of its middle, infinite where it is straight.
    share
        The share of what the cloth can do that is asked: 1 at the limit, more where it does not go round.
    stretched, eased
        By which share of its length the outer edge is stretched and the inner edge eased (shortened).
    kept
        How far the line that keeps its length lies from the inner edge, in mm; half the width where it is straight.
    pressed_width
        How wide the strip must be when it is pressed, in mm, to be as wide as it should on the bend: a little wider.
        NaN where the cloth does not go round.
    """

    width: float
    radius: float
    share: float
    stretched: float
    eased: float
    kept: float
    pressed_width: float

    @property
    def passes(self) -> bool:
        """Whether the strip goes round."""
        return self.share <= 1

    @property
    def narrowed(self) -> float:
        """The width on the bend as a share of the pressed width: 1 where it is straight, more if easing outweighs."""
        return self.width / self.pressed_width


def bent(width: float, radius: float, stretch: float, ease: float, sine: float) -> BentStrip:
    """Return what a bend asks of a strip.

    Parameters
    ----------
    width, radius
        Of the strip on the quilt, in mm.
    stretch, ease
        What the cloth can do at this angle to its threads.
    sine
        Of twice the angle between the strip and the warp.

    Raises
    ------
    ClothError
        A radius below half the width: the inner edge has none.
    """
    if radius < width / 2:
        wide, bend = format_width(width, "mm"), format_width(radius, "mm")
        msg = (
            f"a strip {wide} wide has no inner edge on a radius of {bend}; the radius is that of its middle, half "
            "the width or more"
        )
        raise ClothError(msg)
    if radius == math.inf:
        return BentStrip(width, radius, 0.0, 0.0, 0.0, width / 2, width)
    inner, outer = radius - width / 2, radius + width / 2
    asked = outer * ease + inner * stretch
    if asked == 0:  # along the threads nothing gives
        return BentStrip(width, radius, math.inf, math.nan, math.nan, math.nan, math.nan)
    share = width / asked
    kept = outer / (1 + stretch * share)
    stretched, eased = stretch * share, ease * share
    pressed = (
        kept * sine / 2 * (_turned(1 + stretched, sine) - _turned(1 - eased, sine))
        if share <= 1 + 1e-12
        else math.nan
    )
    return BentStrip(width, radius, share, stretched, eased, kept - inner, pressed)


def _turned(ratio: float, sine: float) -> float:
    """Return the shear in radians that changes lengths in this ratio; signed, opening threads negative."""
    return math.asin(max(-1.0, min(1.0, (ratio * ratio - 1) / sine)))
