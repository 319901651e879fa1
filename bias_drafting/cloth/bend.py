"""Judging a stem: whether it goes round every bend, made this way at this width from this cloth."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum
from typing import TYPE_CHECKING, Final, Protocol

import numpy as np

from bias_drafting.cloth.cloth import Cloth
from bias_drafting.cloth.making import FoldedStrip, Making, TurnedTemplate, making_named
from bias_drafting.curve.curve import Bend, Curve
from bias_drafting.errors import ClothError, LengthError
from bias_drafting.units import format_length, format_width, positive_mm

if TYPE_CHECKING:
    from collections.abc import Callable

    from bias_drafting.cloth.remedies import Remedy

    _Radius = Callable[[float], float]

__all__ = ["StemCheck", "TightSpot", "Verdict", "check_stem"]

# "Lies flat" asks at most this share of what the cloth can do; all of it is "needs easing".
EASY_SHARE: Final = 0.5
# A bend that meets the limit to this share of itself meets it: what is left is rounding.
_SLACK: Final = 1e-9
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


class Verdict(Enum):
    """Whether a stem goes round its bends; the value is the word to print."""

    LIES_FLAT = "lies flat"
    NEEDS_EASING = "needs easing"
    TOO_TIGHT = "too tight"


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

    @property
    def advice(self) -> str:
        """What to do, in a sentence or two, lengths in inches; see :meth:`advice_in`."""
        return self.advice_in("in")

    def advice_in(self, unit: str) -> str:
        """Return what to do, in plain words, with lengths in ``"in"`` or ``"mm"``; else LengthError."""
        if unit not in ("in", "mm"):
            msg = f"advice is in 'in' or 'mm', not {unit!r}"
            raise LengthError(msg)
        return _ADVICE[self.verdict](self, unit)


def check_stem(
    stem_or_curve: HasCentreline | Curve,
    width: str | float,
    making: Making | str = FoldedStrip(),
    cloth: Cloth = Cloth(),
    off_bias: float = 0.0,
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
        curve,
    )  # fmt: skip


def judged(radius: float, least: float, easy: float) -> Verdict:
    """Return the verdict on a working radius, from the least that passes and the least that lies flat."""
    if radius < least * (1 - _SLACK):
        return Verdict.TOO_TIGHT
    return Verdict.NEEDS_EASING if radius < easy * (1 - _SLACK) else Verdict.LIES_FLAT


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
        return 1.0 if radius == np.inf else radius / least(width) - 1 - _SLACK / 2

    low, high, at_low, at_high = 0.0, np.inf, np.inf, -np.inf
    at, reach = margin(width), 1.5
    for k in range(40):
        if at >= 0:
            low, at_low = width, at
        else:
            high, at_high = width, at
        if 0 <= at <= _SLACK / 2 or high <= low * (1 + _SLACK):
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


def _place(check: StemCheck, unit: str) -> str:
    """Say where the tightest bend is and how tight, in words."""
    step = 8 if unit == "in" else 1
    return (
        f"The bend {format_length(check.tightest.s, unit, step)} from its start has a radius of "
        f"{format_length(check.tightest.radius, unit, step, 'down')}"
    )


def _easing(check: StemCheck, unit: str) -> str:
    if not check.making.from_strip:
        return f"{_place(check, unit)}: clip its inner edge closely, and it will turn.{_wiggle(check, unit)}"
    easing = "steam and ease its inner edge as you lay it, and it will go flat."
    return f"{_place(check, unit)}: {easing}{_wiggle(check, unit)}"


def _too_tight(check: StemCheck, unit: str) -> str:
    bends_at_all = check.least_radius < np.inf
    last = "draw the bend wider" if bends_at_all else "draw it straight"
    remedies = _remedies(check, unit)
    return (
        f"{_place(check, unit)}; {_needs(check, unit)}. "
        f"What helps: {'; '.join([*remedies, f'or {last}' if remedies else last])}."
    )


def _needs(check: StemCheck, unit: str) -> str:
    """Say what radius it would take, in words."""
    if check.least_radius == np.inf:
        return "cut so, this cloth does not bend at all"
    made = "this cloth" if check.making.from_strip else "the turned edge"
    needs = format_length(check.least_radius, unit, 8 if unit == "in" else 1, "up")
    return f"at this width {made} needs {needs}"


def _remedies(check: StemCheck, unit: str) -> list[str]:
    """Return what helps short of drawing another stem, in words."""
    remedies = []
    narrower = format_length(check.widest, unit, 16 if unit == "in" else 2, "down")
    if not narrower.startswith(("0 ", "0.0 ")):
        remedies.append(f"it goes round at {narrower} or narrower")
    if check.goes_on_true_bias:
        remedies.append("it goes round if it is cut on the true bias")
    if check.template is not None:
        remedies.append(f"at {format_width(check.width, unit)} it can be made over a {check.template.name}")
    return remedies


def _flat(check: StemCheck, unit: str) -> str:
    if check.widest == np.inf and check.making.from_strip:
        return "Straight: it can be cut on the straight grain, and saves the bias."
    return f"Lies flat as it is.{_wiggle(check, unit)}"


def _wiggle(check: StemCheck, unit: str) -> str:
    """Say so where narrower widths fail: averaged over this one, the bends of a wiggle cancel."""
    if check.widest >= check.width * (1 - _SLACK):
        return ""
    narrow = format_length(check.widest, unit, 16 if unit == "in" else 2, "down")
    return (
        f" But stems just wider than {narrow} are too tight: its bends to and fro are shorter than it is wide, "
        "and it will cut across them."
    )


_ADVICE: Final = {
    Verdict.LIES_FLAT: _flat,
    Verdict.NEEDS_EASING: _easing,
    Verdict.TOO_TIGHT: _too_tight,
}
