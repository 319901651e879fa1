"""What to do about a bend that is too tight: what each remedy changes, those that change the design least first."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final, Literal

from bias_drafting.curve.fair import fair_curve
from bias_drafting.errors import CurveError, DraftingError, UnfeasibleError
from bias_drafting.units import format_length, format_width

if TYPE_CHECKING:
    from collections.abc import Iterator

    from matplotlib.axes import Axes

    from bias_drafting.cloth.bend import StemCheck
    from bias_drafting.cloth.making import Making
    from bias_drafting.curve.curve import Curve
    from bias_drafting.curve.fair import FairedCurve

__all__ = ["Remedy", "find_remedies"]

Kind = Literal["bias", "cloth", "making", "mitre", "redraw", "split", "width"]

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
        ``"mitre"``: fold it to a mitre at its corners. ``"bias"``: cut it on the true bias. ``"split"``: cut it in
        two where it is hidden. ``"making"``: make it another way, at the same width. ``"redraw"``: move the line.
        ``"width"``: make it narrower. ``"cloth"``: take a cloth that gives more.
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
    places
        Arc lengths in mm of the corners to be mitred, or of where to cut it in two.
    drawn
        The line as it is drawn; only for ``"redraw"``.
    """

    kind: Kind
    change: float
    text: str
    width: float
    making: Making
    faired: FairedCurve | None = None
    needed: tuple[float, float] | None = None
    places: tuple[float, ...] = ()
    drawn: Curve | None = field(default=None, repr=False)

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the stem as it is and as it would be redrawn; needs matplotlib.

        Raises
        ------
        DraftingError
            Of a remedy that does not redraw the line, or where matplotlib is not installed.
        """
        from bias_drafting.cloth.plots import plot_redrawn

        if self.faired is None or self.drawn is None:
            msg = f"only a line redrawn has a before and an after; this remedy is {self.kind!r}"
            raise DraftingError(msg)
        return plot_redrawn(self.drawn, self.faired.curve, self.width, ax)


def find_remedies(check: StemCheck) -> tuple[Remedy, ...]:
    """Return what helps a stem that is too tight, the least change of the design first."""
    found = [
        *_mitred(check),
        *_true_bias(check),
        *_in_two(check),
        *_over_a_template(check),
        *_redrawn(check),
        *_narrower(check),
        *_another_cloth(check),
    ]
    return tuple(sorted(found, key=lambda remedy: remedy.change))


def _mitred(check: StemCheck) -> Iterator[Remedy]:
    if check.making.from_strip and check.goes_mitred:
        places = tuple(corner.s for corner in check.corners)
        where = "its corner" if len(places) == 1 else f"each of its {len(places)} corners"
        text = f"Fold the strip to a mitre at {where}; the rest goes round."
        yield Remedy("mitre", 0.0, text, check.width, check.making, places=places)


def _in_two(check: StemCheck) -> Iterator[Remedy]:
    s = check.split
    if s is not None:
        shown = f"{format_length(s, 'in', 8)} ({format_length(s, 'mm', 1)})"
        text = f"Cut it in two where it is hidden, {shown} from its start: each part goes round."
        yield Remedy("split", 0.0, text, check.width, check.making, places=(s,))


def _true_bias(check: StemCheck) -> Iterator[Remedy]:
    if check.goes_on_true_bias:
        yield Remedy("bias", 0.0, "Cut the strip on the true bias.", check.width, check.making)


def _over_a_template(check: StemCheck) -> Iterator[Remedy]:
    if check.template is not None:
        text = f"Make it over a {check.template.name}: its edge is turned, and nothing need stretch."
        yield Remedy("making", 0.0, text, check.width, check.template)


def _redrawn(check: StemCheck) -> Iterator[Remedy]:
    if check.least_radius == math.inf:
        return
    try:
        faired = fair_curve(check.curve, check.least_radius * (1 + _CLEAR), window=check.width)
    except (UnfeasibleError, CurveError):
        return
    shift = faired.largest_shift
    shown = f"{format_length(shift, 'in', 16)} ({format_width(shift, 'mm')})"
    text = f"Draw its tight bends wider: the line moves by {shown} at most."
    yield Remedy(
        "redraw", shift / check.width, text, check.width, check.making, faired=faired, drawn=check.curve
    )


def _narrower(check: StemCheck) -> Iterator[Remedy]:
    widest = check.widest
    if _NARROWEST <= widest < check.width:
        shown = f"{format_length(widest, 'in', 16, 'down')} ({format_length(widest, 'mm', 2, 'down')})"
        change = 1 - widest / check.width
        yield Remedy("width", change, f"Make it {shown} wide or narrower.", widest, check.making)


def _another_cloth(check: StemCheck) -> Iterator[Remedy]:
    """Say what a cloth would have to do, if any could."""
    if not check.making.from_strip or check.tightest.radius <= check.width / 2:
        return
    bent = check.cloth.bent(check.width, check.tightest.radius, check.off_bias)
    if not bent.stretched < math.sqrt(2) - 1:
        return
    needed = (bent.stretched, bent.eased)
    has = check.cloth.limits(check.off_bias)
    text = (
        f"Take a cloth that stretches by {_per_cent(needed[0])} and eases by {_per_cent(needed[1])}; "
        f"{check.cloth.name} does {_per_cent(has[0], down=True)} and {_per_cent(has[1], down=True)}."
    )
    yield Remedy("cloth", math.inf, text, check.width, check.making, needed=needed)


def _per_cent(share: float, *, down: bool = False) -> str:
    per_cent = math.floor(100 * share + 1e-9) if down else math.ceil(100 * share - 1e-9)
    return f"{per_cent} %"
