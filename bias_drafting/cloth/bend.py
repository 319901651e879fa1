"""Judging a stem: whether it goes round every bend, made this way at this width from this cloth."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Final, Protocol

import numpy as np

from bias_drafting.cloth.cloth import Cloth
from bias_drafting.cloth.making import FoldedStrip, Making, TurnedTemplate, making_named
from bias_drafting.cloth.verdict import EASY_SHARE, SLACK, Verdict, judged
from bias_drafting.curve.curve import Bend, Corner, Curve
from bias_drafting.errors import ClothError
from bias_drafting.units import checked_unit, format_width, positive_mm

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from matplotlib.axes import Axes

    from bias_drafting.cloth.bent_strip import BentStrip
    from bias_drafting.cloth.ease_plan import EasedBend
    from bias_drafting.cloth.near_itself import TooNear
    from bias_drafting.cloth.remedies import Remedy

    _Radius = Callable[[float], float]

__all__ = ["StemCheck", "TightSpot", "Verdict", "check_stem"]

# A corner of so many degrees or more is folded to a mitre (common practice); a strip is eased round a lesser one.
MITRE: Final = 30.0
# Where in a hidden stretch it is tried to cut a stem in two: from the middle out.
_CUTS: Final = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.1, 0.9)
# A stem that turns by less, in degrees, is straight: what is left is rounding.
_STRAIGHT: Final = 1e-9
# No stem is narrower than this, in mm; the widest width is searched for from here.
_NARROWEST: Final = 0.1


class HasCentreline(Protocol):
    """A stem as a drawing gives it: a name and a centreline."""

    @property
    def name(self) -> str:
        """What the stem is called."""
        ...

    @property
    def centreline(self) -> Curve:
        """Its middle line, in mm."""
        ...


@dataclass(frozen=True, slots=True)
class TightSpot:
    """A stretch of a stem that is too tight for its width.

    Attributes
    ----------
    start, end
        Arc length in mm from the start of the centreline; on a closed stem a spot over the start has
        ``end < start``.
    bend
        The tightest bend within it.
    excess
        By how many mm of radius it is too tight: the least radius less the bend's.
    """

    start: float
    end: float
    bend: Bend
    excess: float


@dataclass(frozen=True, slots=True)
class StemCheck:
    """What :func:`check_stem` found.

    Attributes
    ----------
    stem
        Name of the stem; empty where a bare curve was checked.
    width, making, cloth, off_bias
        What was asked: finished width in mm, way of making, cloth, degrees off the true bias.
    length
        Length of the centreline in mm.
    verdict
        ``LIES_FLAT``, ``NEEDS_EASING`` or ``TOO_TIGHT``.
    tightest
        The tightest bend, averaged over the finished width, and where it is.
    least_radius
        The tightest centreline radius in mm that passes at this width.
    easy_radius
        The radius in mm from which it lies flat without easing.
    widest
        The finished width in mm up to which every width passes along the whole stem; 0 if none does, infinite on a
        straight stem. (A wider one may pass again by averaging a wiggle away, but that is no reason to choose it.)
    spots
        The stretches that are too tight, along the stem.
    curve
        The centreline that was checked.
    hidden
        Stretches ``(start, end)`` of it in mm that nothing will show of, as was said.
    """

    stem: str
    width: float
    making: Making
    cloth: Cloth
    off_bias: float
    length: float
    verdict: Verdict
    tightest: Bend
    least_radius: float
    easy_radius: float
    widest: float
    spots: tuple[TightSpot, ...]
    curve: Curve = field(repr=False)
    hidden: tuple[tuple[float, float], ...] = ()

    @property
    def corners(self) -> tuple[Corner, ...]:
        """The corners of 30 degrees or more: a strip does not bend there, it is folded to a mitre."""
        return tuple(corner for corner in self.curve.corners if abs(corner.turn) >= MITRE)

    @property
    def goes_mitred(self) -> bool:
        """Whether a stem that is too tight goes round if the strip is folded to a mitre at every corner."""
        places = [corner.s for corner in self.corners]
        return not self.passes and bool(places) and self.goes_in_parts(places)

    def goes_in_parts(self, places: Sequence[float]) -> bool:
        """Return whether all parts go round if the stem is cut, or folded, at these arc lengths."""
        return all(
            part.length > self.width
            and part.tightest(window=self.width).radius >= self.least_radius * (1 - SLACK)
            for part in parts_between(self.curve, places)
        )

    @property
    def split(self) -> float | None:
        """Where it can be cut in two, at an arc length in mm that is hidden, so that both parts go round; or None."""
        if self.passes:
            return None
        tried = [corner.s for corner in self.curve.corners] + [spot.bend.s for spot in self.spots]
        for start, end in self.hidden:
            span = (end - start) % self.length or self.length
            within = [s for s in tried if (s - start) % self.length <= span]
            for s in (*within, *(start + share * span for share in _CUTS)):
                cut = s % self.length if self.curve.closed else s
                if (self.curve.closed or 0 < cut < self.length) and self.goes_in_parts([cut]):
                    return cut
        return None

    @property
    def bent(self) -> BentStrip | None:
        """What its tightest bend asks of the strip: how far the edges are stretched and eased, how much it narrows.

        None over a template, and where the bend is tighter than half the width: the strip has no inner edge there.
        """
        radius = self.tightest.radius
        if not self.making.from_strip or radius < self.width / 2:
            return None
        return self.cloth.bent(self.width, radius, self.off_bias)

    @property
    def ease_plan(self) -> tuple[EasedBend, ...]:
        """The bends round which the strip must be eased: between which marks, and by how much; along the stem."""
        from bias_drafting.cloth.ease_plan import find_ease_plan

        return find_ease_plan(self)

    @property
    def too_near(self) -> tuple[TooNear, ...]:
        """Where it runs into itself at this width: legs of hairpins that overlap, loops that close up."""
        from bias_drafting.cloth.near_itself import find_too_near

        return find_too_near(self.curve, self.width)

    @property
    def remedies(self) -> tuple[Remedy, ...]:
        """What helps where it is too tight, the least change of the design first; empty where it passes.

        Another way of making, a line drawn wider (which takes a second or more to find), a narrower width, another
        cloth: each with what it changes, in words and as values.
        """
        if self.passes:
            return ()
        from bias_drafting.cloth.remedies import find_remedies

        return find_remedies(self)

    @property
    def goes_on_true_bias(self) -> bool:
        """Whether it would go round if the strip, cut off the true bias now, were cut on it."""
        return self.off_bias != 0 and self.making.least_radius(self.width, self.cloth) <= self.tightest.radius

    @property
    def template(self) -> TurnedTemplate | None:
        """The way of making over a template, if that goes round and the stem is to be made of a strip."""
        over = TurnedTemplate()
        goes = over.least_radius(self.width, self.cloth) <= self.tightest.radius
        return over if self.making.from_strip and goes else None

    @property
    def passes(self) -> bool:
        """Whether the stem can be made so: anything but too tight."""
        return self.verdict is not Verdict.TOO_TIGHT

    def plot(self, ax: Axes | None = None, *, unit: str = "in") -> Axes:
        """Draw the stem painted by verdict, with its tight spots; needs matplotlib.

        Parameters
        ----------
        ax
            Where to draw; without it a new figure, with the radius along the stem below it.
        unit
            ``"in"`` or ``"mm"``.

        Raises
        ------
        DraftingError
            Where matplotlib is not installed; a LengthError for another unit.
        """
        from bias_drafting.cloth.plots import plot_check

        return plot_check(self, ax, checked_unit(unit))

    def plot_radius(self, ax: Axes | None = None, *, unit: str = "in") -> Axes:
        """Draw the working radius along the stem, and the least that passes and lies flat; as :meth:`plot`."""
        from bias_drafting.cloth.plots import plot_radius

        return plot_radius(self, ax, checked_unit(unit))

    @property
    def advice(self) -> str:
        """What to do, in a sentence or two, lengths in inches; see :meth:`advice_in`."""
        return self.advice_in("in")

    def advice_in(self, unit: str) -> str:
        """Return what to do, in plain words, with lengths in ``"in"`` or ``"mm"``; else LengthError."""
        from bias_drafting.cloth.advice import advice

        return advice(self, checked_unit(unit, "advice"))


def check_stem(
    stem_or_curve: HasCentreline | Curve,
    width: str | float,
    making: Making | str = FoldedStrip(),
    cloth: Cloth = Cloth(),
    off_bias: float = 0.0,
    *,
    hidden: Sequence[tuple[float, float]] = (),
) -> StemCheck:
    """Judge whether a stem of this width goes round its bends.

    What a strip feels is the bend averaged over its own width (``Curve.tightest(window=width)``). It is held
    against the least radius the way of making allows in this cloth: within all of what the cloth can do the stem
    needs easing, within half of it it lies flat.

    Parameters
    ----------
    stem_or_curve
        A stem of a drawing, or a bare curve.
    width
        Finished width as it lies on the quilt: mm, or text such as ``"1/4 in"``.
    making, cloth
        The way of making, or its key such as ``"sewn-tube"``, and the cloth.
    off_bias
        Degrees by which the strip is cut off the true bias, 0 to 45.
    hidden
        Stretches ``(start, end)`` of arc length in mm that lie under something: there it may be cut in two.

    Raises
    ------
    LengthError
        A width that is not more than 0.
    ClothError
        A stem no longer than it is wide, or ``off_bias`` out of range.

    Examples
    --------
    >>> import bias_drafting as bd
    >>> bend = bd.Curve.from_svg_path("M0 0A30 30 0 0 1 60 0")
    >>> check = bd.check_stem(bend, "1/4 in")
    >>> check.verdict
    <Verdict.NEEDS_EASING: 'needs easing'>
    >>> round(check.least_radius, 2), round(check.widest, 2)
    (24.04, 7.92)
    """
    name = "" if isinstance(stem_or_curve, Curve) else stem_or_curve.name
    curve = stem_or_curve if isinstance(stem_or_curve, Curve) else stem_or_curve.centreline
    w = positive_mm(width, "the finished width")
    making = making_named(making) if isinstance(making, str) else making
    if curve.length <= w:
        msg = (
            f"{name or 'the stem'} is {format_width(curve.length, 'mm')} long and no longer than its finished "
            f"width of {format_width(w, 'mm')}; a stem must be longer than it is wide"
        )
        raise ClothError(msg)
    least = making.least_radius(w, cloth, off_bias)
    easy = making.least_radius(w, cloth, off_bias, EASY_SHARE)
    tightest = curve.tightest(window=w)
    verdict = judged(tightest.radius, least, easy)
    spots = _spots(curve, w, least, tightest) if verdict is Verdict.TOO_TIGHT else ()
    widest = _widest(
        curve,
        w,
        verdict is Verdict.TOO_TIGHT,
        lambda v: making.least_radius(v, cloth, off_bias),
        lambda r: making.widest(r, cloth, off_bias),
    )
    return StemCheck(
        name, w, making, cloth, float(off_bias), curve.length, verdict, tightest, least, easy, widest, spots,
        curve, tuple((float(start), float(end)) for start, end in hidden),
    )  # fmt: skip


def parts_between(curve: Curve, places: Sequence[float]) -> tuple[Curve, ...]:
    """Return the parts of a curve between places on it, in order; cut once, a closed one is one whole round."""
    cuts = sorted(places)
    if not curve.closed:
        cuts = [0.0, *(s for s in cuts if 0 < s < curve.length), curve.length]
        return tuple(curve.section(a, b) for a, b in pairwise(cuts))
    return tuple(curve.section(a, b) for a, b in zip(cuts, [*cuts[1:], cuts[0]], strict=True))


def _spots(curve: Curve, width: float, least: float, tightest: Bend) -> tuple[TightSpot, ...]:
    """Return the stretches tighter than ``least``, each with its own tightest bend."""
    spots = []
    for start, end in curve.stretches_tighter_than(least, width):
        bend = _tightest_between(curve, start, end, width)
        inside = start <= tightest.s <= end if start <= end else not end < tightest.s < start
        if inside:
            bend = tightest
        slight = bend.radius >= least or bend.radius > width / np.radians(_STRAIGHT)
        if slight and not inside:
            continue  # where no bend at all will do, rounding beside a corner is none
        spots.append(TightSpot(start, end, bend, least - bend.radius))
    return tuple(sorted(spots, key=lambda spot: spot.start))


def _tightest_between(curve: Curve, start: float, end: float, width: float) -> Bend:
    """Return the tightest bend of a stretch, tried at every sixteenth of a width."""
    span = (end - start) % curve.length if curve.closed else end - start
    s = start + np.linspace(0, 1, max(int(16 * span / width), 16)) * span
    s = s % curve.length if curve.closed else np.clip(s, 0, curve.length)
    return curve.bend_at(float(s[np.argmin(curve.working_radius_at(s, width))]), width)


def _widest(curve: Curve, width: float, fails: bool, least: _Radius, widest_at: _Radius) -> float:
    """Return the widest width that passes together with every narrower one.

    ``least`` gives the least radius of a width, ``widest_at`` is its inverse; ``fails`` says whether ``width``,
    already checked, fails.
    """
    if curve.turning < _STRAIGHT:
        return np.inf
    margin = _margin(curve, least)
    # No working radius is below the least radius of curvature, so widths that pass there pass everywhere: unless
    # joints too slight to be called corners add to it. Then the search begins with the narrowest.
    everywhere = widest_at(curve.tightest().radius)
    low = everywhere * (1 - 1e-3)
    most = width if fails else curve.length
    if low in (0.0, np.inf) or (fails and low >= most) or (low < most and margin(low) < 0):
        low = min(_NARROWEST, width / 2)
    if low < most:
        if margin(low) < 0:
            return 0.0  # a corner sharper than any width goes round
        low, high = _bracket(margin, low, most, fails)
        if high < np.inf:
            return _refined(curve, least, _crossing(margin, low, high))
    # Everything up to its own length passes; beyond, the window is the whole stem and its radius the same. A stem
    # whose bends cancel over its whole length has no limit there; then its length is one.
    whole = widest_at(float(curve.least_working_radii([curve.length])[0]))
    return max(min(everywhere, whole), curve.length)


def _margin(curve: Curve, least: _Radius) -> _Radius:
    """Return the function of the width that is 0 or more where it passes: working radius by least radius, less 1.

    It is right to a few parts in 100 000.
    """

    def margin(width: float) -> float:
        radius = float(curve.least_working_radii([width])[0])
        return 1.0 if radius == np.inf else min(radius / least(width) - 1, 1.0)

    return margin


def _bracket(margin: _Radius, low: float, most: float, fails: bool) -> tuple[float, float]:
    """Step up from ``low`` to the first width that fails: the last that passed and that one, or infinity.

    ``fails`` says that ``most`` is known to fail, even if by less than the margin is right to.
    """
    here = margin(low)
    while low < most:
        # The nearer to failing, the smaller the steps: the margin may dip between two widths and rise again.
        step = min(low * (1.15 if here > 0.3 else 1.04 if here > 0.1 else 1.01), most)
        here = margin(step)
        if here < 0 or (fails and step == most):
            return low, step
        low = step
    return low, np.inf


def _crossing(margin: _Radius, low: float, high: float) -> float:
    """Return the width at which the margin comes down to 0, from a bracket, by bisection and secants in turn."""
    at_low, at_high = margin(low), min(margin(high), 0.0)
    for k in range(12):
        if high - low <= 1e-5 * high or at_low <= 1e-5:
            break
        share = at_low / (at_low - at_high) if k % 3 else 0.5
        middle = low + (high - low) * min(max(share, 0.01), 0.99)
        value = margin(middle)
        if value < 0:
            high, at_high = middle, value
        else:
            low, at_low = middle, value
    return low


def _refined(curve: Curve, least: _Radius, width: float) -> float:
    """Return the widest that passes by the exact radius, starting at one found by interpolated radii."""

    def margin(width: float) -> float:
        radius = curve.tightest(window=width).radius
        return 1.0 if radius == np.inf else radius / least(width) - 1 - SLACK / 2

    low, high, at_low, at_high = 0.0, np.inf, np.inf, -np.inf
    at, reach = margin(width), 1.5
    for k in range(40):
        if at >= 0:
            low, at_low = width, at
        else:
            high, at_high = width, at
        if 0 <= at <= SLACK / 2 or high <= low * (1 + SLACK):
            break
        if low == 0 or high == np.inf:
            # One side is still missing; on it the margin falls about as fast as 1 / width.
            width *= 1 + min(max(reach * at, -0.05), 0.05)
            reach *= 2
        else:
            share = at_low / (at_low - at_high) if k % 4 else 0.5
            width = low + (high - low) * min(max(share, 0.001), 0.999)
        at = margin(width)
    return low
