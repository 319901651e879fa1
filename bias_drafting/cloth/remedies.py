"""What to do about a bend that is too tight: what each remedy changes, those that change the design least first."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from bias_drafting.cloth.making import TurnedTemplate
from bias_drafting.curve.fair import fair_curve
from bias_drafting.errors import CurveError, UnfeasibleError
from bias_drafting.units import format_length, format_width

if TYPE_CHECKING:
    from collections.abc import Iterator

    from bias_drafting.cloth.cloth import Cloth
    from bias_drafting.cloth.making import Making
    from bias_drafting.curve.curve import Curve
    from bias_drafting.curve.fair import FairedCurve

__all__ = ["Remedy", "find_remedies"]

Kind = Literal["bias", "cloth", "making", "redraw", "width"]

# A line that is to pass is redrawn for a radius larger by this share, so that rounding does not fail it.
_CLEAR: Final = 1e-4
# A stem narrower than this, in mm, is none.
_NARROWEST: Final = 1.0


@dataclass(frozen=True, slots=True)
class Remedy:
    """One way to make a stem go round its bends after all.

    Attributes
    ----------
    kind
        ``"bias"``: cut it on the true bias. ``"making"``: make it another way, at the same width. ``"redraw"``: move
        the line. ``"width"``: make it narrower. ``"cloth"``: take a cloth that gives more.
    change
        By how much the design changes, for ranking: 0 for what does not show; for a line that moves the largest
        shift, and for a narrower stem the width it loses, both as a share of the width asked for; infinite where it
        takes another cloth.
    text
        What to do, in plain words, lengths in inches and mm.
    width
        The width in mm at which the stem is then made.
    making
        The way of making it then.
    faired
        The line redrawn, and how far it moves where; only for ``"redraw"``.
    needed
        Stretch and ease that it takes, as shares of the length; only for ``"cloth"``.
    """

    kind: Kind
    change: float
    text: str
    width: float
    making: Making
    faired: FairedCurve | None = None
    needed: tuple[float, float] | None = None


def find_remedies(
    curve: Curve, width: float, making: Making, cloth: Cloth, off_bias: float, widest: float
) -> tuple[Remedy, ...]:
    """Return what helps a stem that is too tight at a width, the least change of the design first.

    Parameters
    ----------
    curve, width
        The stem's centreline, and its finished width in mm.
    making, cloth, off_bias
        How and from what it is to be made.
    widest
        The widest width in mm that passes.
    """
    radius = curve.tightest(window=width).radius
    found = [
        *_true_bias(width, making, cloth, off_bias, radius),
        *_over_a_template(width, making, cloth, radius),
        *_redrawn(curve, width, making, cloth, off_bias),
        *_narrower(width, making, widest),
        *_another_cloth(width, making, cloth, off_bias, radius),
    ]
    return tuple(sorted(found, key=lambda remedy: remedy.change))


def _both(mm: float) -> str:
    return f"{format_length(mm, 'in', 16)} ({format_width(mm, 'mm')})"


def _true_bias(
    width: float, making: Making, cloth: Cloth, off_bias: float, radius: float
) -> Iterator[Remedy]:
    if off_bias != 0 and making.least_radius(width, cloth) <= radius:
        yield Remedy("bias", 0.0, "Cut the strip on the true bias.", width, making)


def _over_a_template(width: float, making: Making, cloth: Cloth, radius: float) -> Iterator[Remedy]:
    template = TurnedTemplate()
    if making.from_strip and template.least_radius(width, cloth) <= radius:
        text = f"Make it over a {template.name}: its edge is turned, and nothing need stretch."
        yield Remedy("making", 0.0, text, width, template)


def _redrawn(curve: Curve, width: float, making: Making, cloth: Cloth, off_bias: float) -> Iterator[Remedy]:
    least = making.least_radius(width, cloth, off_bias)
    if least == math.inf:
        return
    try:
        faired = fair_curve(curve, least * (1 + _CLEAR), window=width)
    except (UnfeasibleError, CurveError):
        return
    shift = faired.largest_shift
    text = f"Draw its tight bends wider: the line moves by {_both(shift)} at most."
    yield Remedy("redraw", shift / width, text, width, making, faired=faired)


def _narrower(width: float, making: Making, widest: float) -> Iterator[Remedy]:
    if _NARROWEST <= widest < width:
        shown = f"{format_length(widest, 'in', 16, 'down')} ({format_length(widest, 'mm', 2, 'down')})"
        yield Remedy("width", 1 - widest / width, f"Make it {shown} wide or narrower.", widest, making)


def _another_cloth(
    width: float, making: Making, cloth: Cloth, off_bias: float, radius: float
) -> Iterator[Remedy]:
    """Say what a cloth would have to do, if any could."""
    if not making.from_strip or radius <= width / 2:
        return
    bent = cloth.bent(width, radius, off_bias)
    if not bent.stretched < math.sqrt(2) - 1:
        return
    needed = (bent.stretched, bent.eased)
    has = cloth.limits(off_bias)
    text = (
        f"Take a cloth that stretches by {_per_cent(needed[0])} and eases by {_per_cent(needed[1])}; "
        f"{cloth.name} does {_per_cent(has[0], down=True)} and {_per_cent(has[1], down=True)}."
    )
    yield Remedy("cloth", math.inf, text, width, making, needed=needed)


def _per_cent(share: float, *, down: bool = False) -> str:
    per_cent = math.floor(100 * share + 1e-9) if down else math.ceil(100 * share - 1e-9)
    return f"{per_cent} %"
