"""Fairing: the least change to a curve that makes its bends wide enough."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve.arc_length import lengths
from bias_drafting.curve.curve import Curve
from bias_drafting.curve.fair_drawn import DrawnLine
from bias_drafting.curve.fair_stretches import CrampedError, NewPart, new_parts
from bias_drafting.curve.nearest import locate_points
from bias_drafting.errors import CurveError, UnfeasibleError
from bias_drafting.units import positive_mm, to_mm

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Interval = tuple[float, float]

__all__ = ["FairedBend", "FairedCurve", "fair_curve"]

# Bends this little too tight are the rounding of what was drawn or fitted.
_ROUNDING = 1e-6
# By how much wider than asked the radius is sought, for the fit to use up; the next if the first is not enough.
_MARGINS = (0.0015, 0.004, 0.012, 0.03)
# With a window, bends are first sought that are wide enough at every point as well: a line that bends sharply here
# and there to make the most of its window is hardly nearer (2 per cent where the window is 0.3 radii) and ugly.
# Only where that leaves too little room may it bend this many times as sharply.
_SHARPEST = 4.0
# Attempts in the search for the widest radius that is possible; how near to what the solver got as far as the next
# is made; how much wider one must fail for the search to end; and the share of what was asked below which halving is
# given up.
_TRIALS = 10
_NEARLY = 0.997
_BEYOND = 1.01
_LEAST = 0.05
# How much line that search may make anew, in radii, before it is given up: work grows with that, and where a tangle
# of bends is worked on as one, ten seconds have passed by then.
_MOST_RADII = 20.0
# Places per radius at which a shift is measured first; the part of the radius to which it is known in the end; and
# how many places and rounds of halving that may take.
_SAMPLES = 20
_EXACT = 1e-4
_MOST_SAMPLES = 50_000
_ROUNDS = 20


@dataclass(frozen=True, slots=True)
class FairedBend:
    """A stretch of a curve that was moved to make its bends wide enough.

    Attributes
    ----------
    start, end
        Arc lengths in mm on the curve as drawn, between which the line is new; on a closed curve, a stretch that
        runs over the start has ``end < start``, and one that is the whole curve runs from 0 to its length.
    shift
        The largest distance in mm, both ways, between the new line and the drawn one.
    s, point
        Where on the curve as drawn that is: arc length and point, in mm.
    radius_before, radius_after
        The least radius in mm on the stretch as drawn and as it is now, over the window asked for.
    """

    start: float
    end: float
    shift: float
    s: float
    point: tuple[float, float]
    radius_before: float
    radius_after: float


@dataclass(frozen=True, slots=True)
class FairedCurve:
    """A curve made fair, and what that took.

    Attributes
    ----------
    curve
        The new curve.
    largest_shift
        The largest distance in mm, both ways, between it and the curve as drawn: no point of either is further from
        the other.
    bends
        The stretches that were moved, in order along the curve as drawn.
    """

    curve: Curve
    largest_shift: float
    bends: tuple[FairedBend, ...]


def fair_curve(
    curve: Curve,
    least_radius: float | str,
    window: float | str = 0.0,
    hold: Sequence[tuple[float | str, float | str]] = (),
) -> FairedCurve:
    """Return the curve nearest to a drawn one whose bends are nowhere tighter than a radius.

    Nearest means the smallest largest shift, two-sided: no point of the new curve is further from the drawn one, and
    none of the drawn one further from the new. So a sharp corner is not cut by a fillet: the new line passes inside
    the corner by as much as it swings outside the arms, and moves less than half as far.

    Parameters
    ----------
    curve
        The curve as drawn, open or closed; it may have corners.
    least_radius
        How tight a bend may be: a length in mm, or text such as ``"1 in"``.
    window
        Over how much arc length a bend is averaged, as in :meth:`Curve.tightest`; 0 for the radius at every point.
    hold
        Stretches ``(s0, s1)`` of arc length that stay as drawn; on a closed curve ``s1 < s0`` runs over the start.

    Returns
    -------
    FairedCurve
        The new curve, how far it moved, and where. A curve with no bend too tight comes back itself, with shift 0.

    Raises
    ------
    LengthError
        A radius that is not more than 0, or a length that cannot be read.
    CurveError
        Held stretches off the curve, backward, or overlapping.
    UnfeasibleError
        The ends of the curve, or what is held, leave too little room, or what is held is too tight itself; the
        message gives the widest radius that is possible, found by search, or between which two it lies.

    Notes
    -----
    Guaranteed, because measured on the result: its ``tightest(window).radius`` is the radius asked for or more (to a
    millionth of it), and ``largest_shift`` is the distance between the two curves (to about a ten-thousandth of the
    radius). The ends and end directions stay, a closed curve stays closed, and all but the stretches in ``bends`` is
    as drawn. A closed curve whose start lies in one of them begins where that ends.

    Aimed at: the smallest possible shift. Right-angled corners with room on both sides come within 1 per cent of it.
    The search goes down from the drawn line, so of several ways round it finds the one nearest at hand; it keeps the
    turning of the drawn line (a curl stays a curl), and what could only be reached by a loop of more than two radii
    counts as impossible. With a window, bends are made wide enough at every point if there is room for it, though
    the window would allow a line 2 per cent nearer where it is 0.3 radii, 7 per cent where it is a whole radius.
    A curve shorter than its window is not lengthened to be wide enough; it is faired at every point or refused.
    A corner takes a third of a second, a hairpin one or two; a long row of bends close together is worked on as one
    and takes longer, a tangle of three cubics seven seconds. A refusal takes some fairings more, those of the search
    for the widest radius: half a second where a corner has short arms, ten for a hairpin, fifteen for such a
    tangle. For one so long the search is given up before its end, and the message says between which radii the
    widest lies.

    Examples
    --------
    >>> import bias_drafting as bd
    >>> from bias_drafting.curve.fair import fair_curve
    >>> trellis = bd.Curve.from_points([(0, 0), (60, 0), (60, 60)])
    >>> faired = fair_curve(trellis, least_radius=10)
    >>> faired.curve.tightest().radius >= 10 * (1 - 1e-6)
    True
    >>> round(faired.largest_shift, 1)                  # a fillet would need 4.1 mm
    1.7
    >>> [round(bend.radius_before, 1) for bend in faired.bends]
    [0.0]
    """
    radius = positive_mm(least_radius, "the least radius")
    over = to_mm(window)
    held = _checked_holds(curve, hold)
    if curve.tightest(over).radius >= radius * (1 - _ROUNDING):
        return FairedCurve(curve, 0.0, ())
    _check_held(curve, held, radius, over)
    faired = _faired(curve, held, radius, over)
    if isinstance(faired, FairedCurve):
        return faired
    raise _unfeasible(curve, held, radius, over, faired)


def _length_mm(value: float | str, curve: Curve, what: str) -> float:
    """Return one end of a held stretch in mm."""
    mm = to_mm(value)
    if mm > curve.length * (1 + 1e-9):
        msg = f"{what} at {mm:g} mm is off the curve, which is {curve.length:g} mm long"
        raise CurveError(msg)
    return min(mm, curve.length)


def _checked_holds(curve: Curve, hold: Sequence[tuple[float | str, float | str]]) -> tuple[Interval, ...]:
    """Return the held stretches in order, in mm, those that touch made one; ``s1`` goes beyond the length to wrap."""
    found: list[Interval] = []
    for pair in hold:
        try:
            first, last = pair
        except (TypeError, ValueError) as error:
            msg = f"hold takes stretches (s0, s1) of arc length, not {pair!r}"
            raise CurveError(msg) from error
        s0, s1 = (_length_mm(s, curve, "a held stretch") for s in (first, last))
        if curve.closed and s1 < s0:
            s1 += curve.length
        if not s1 > s0:
            msg = f"a held stretch runs forward along the curve; from {s0:g} to {s1:g} mm it has no length"
            raise CurveError(msg)
        found.append((s0, s1))
    found.sort()
    around = [*found, *((a + curve.length, b + curve.length) for a, b in found[:1] if curve.closed)]
    for (a, b), (c, d) in pairwise(around):
        if c < b:
            msg = f"the held stretches {a:g} to {b:g} mm and {c:g} to {d:g} mm overlap"
            raise CurveError(msg)
    return _touching_joined(found)


def _touching_joined(found: list[Interval]) -> tuple[Interval, ...]:
    joined: list[Interval] = []
    for a, b in found:
        if joined and joined[-1][1] == a:
            joined[-1] = (joined[-1][0], b)
        else:
            joined.append((a, b))
    return tuple(joined)


def _check_held(curve: Curve, held: tuple[Interval, ...], radius: float, window: float) -> None:
    """Refuse held stretches that are too tight themselves."""
    for a, b in held:
        if b - a < window:
            continue
        bend = _section(curve, a, b).tightest(window)
        if bend.radius < radius * (1 - _ROUNDING):
            at = a + bend.s - (curve.length if a + bend.s > curve.length else 0.0)
            msg = (
                f"the held stretch from {a:g} to {b:g} mm itself bends to a radius of {bend.radius:.4g} mm at "
                f"s = {at:.4g} mm; with it held, that is the widest possible, and {radius:g} mm is asked for"
            )
            raise UnfeasibleError(msg)


def _section(curve: Curve, a: float, b: float) -> Curve:
    """Return a stretch whose arc lengths may be counted on beyond the length of a closed curve."""
    if not curve.closed:
        return curve.section(max(a, 0.0), min(b, curve.length))
    if b - a >= curve.length:
        return curve
    a, b = a % curve.length, b % curve.length
    tiny = 1e-9 * curve.length  # rounding: a sliver on the other side of the start is no stretch
    return curve.section(0.0 if a > curve.length - tiny else a, curve.length if b < tiny else b)


def _faired(
    curve: Curve, held: tuple[Interval, ...], radius: float, window: float
) -> FairedCurve | CrampedError:
    """Return the curve made fair, or why not."""
    # Over a window longer than the curve only its whole turn counts; wide bends at every point are enough for that.
    drawn = DrawnLine.of(curve, window if window < curve.length else 0.0, held)
    trouble = CrampedError(0.0, 0.0)
    for margin in _MARGINS:
        try:
            parts = new_parts(drawn, radius, margin)
        except CrampedError as error:
            if drawn.window == 0 or drawn.bend > 1:
                return error
            drawn = replace(drawn, bend=_SHARPEST)
            continue
        parts = sorted((_put_back(part, curve) for part in parts), key=lambda part: part.start)
        new, spans = _assembled(curve, parts)
        tightest = new.tightest(window)
        if tightest.radius >= radius * (1 - _ROUNDING):
            return _measured(drawn, new, parts, spans, window, radius)
        trouble = CrampedError(tightest.s, tightest.radius)
    return trouble


def _put_back(part: NewPart, curve: Curve) -> NewPart:
    """Return a part of a closed curve with its start counted within the length."""
    rounds = np.floor(part.start / curve.length) * curve.length if curve.closed and not part.ring else 0.0
    return replace(part, start=float(part.start - rounds), end=float(part.end - rounds))


def _assembled(curve: Curve, parts: list[NewPart]) -> tuple[Curve, list[Interval]]:
    """Return the curve with its new parts in place, all else as drawn, and where on it the new parts lie."""
    if parts[0].ring:
        new = Curve(parts[0].controls, closed=True)
        return new, [(0.0, new.length)]
    length, pieces, spans = curve.length, [], []
    # A part that runs over the start of a closed curve comes last; the new curve begins where it ends.
    at, run = max(0.0, parts[-1].end - length), 0.0
    for part in parts:
        if part.start - at > 1e-9 * length:
            pieces.append(curve.section(at, part.start).controls)
            run += float(lengths(pieces[-1]).sum())
        pieces.append(part.controls)
        spans.append((run, run + float(lengths(part.controls).sum())))
        run, at = spans[-1][1], part.end
    if length - at > 1e-9 * length:
        pieces.append(curve.section(at, length).controls)
    return Curve(np.concatenate(pieces), curve.closed), spans


# Measuring


def _measured(
    drawn: DrawnLine, new: Curve, parts: list[NewPart], spans: list[Interval], window: float, radius: float
) -> FairedCurve:
    """Return the result, its shifts measured on the curves themselves."""
    new_line = DrawnLine.of(new, window, ())
    bends = tuple(
        _bend(drawn, new_line, part, span, window, radius) for part, span in zip(parts, spans, strict=True)
    )
    return FairedCurve(new, max(b.shift for b in bends), bends)


def _bend(
    drawn: DrawnLine, new: DrawnLine, part: NewPart, span: Interval, window: float, radius: float
) -> FairedBend:
    """Return what became of one stretch."""
    curve, length = drawn.curve, drawn.chain.length
    piece, old = Curve(part.controls, closed=part.ring), _section(curve, part.start, part.end)
    there, s_there = _furthest(piece, drawn, radius)
    back, s_back = _furthest(old, new, radius)
    if there > back:
        s = float(locate_points(drawn.chain, piece.point_at([s_there]))[0][0])
    else:
        s = float(drawn.wrapped(np.array(part.start + s_back)))
    x, y = curve.point_at(s)
    return FairedBend(
        start=0.0 if part.ring else part.start,
        end=length if part.ring else part.end - length if part.end > length else part.end,
        shift=max(there, back),
        s=s,
        point=(float(x), float(y)),
        radius_before=_section(curve, part.start - window / 2, part.end + window / 2).tightest(window).radius,
        radius_after=_section(new.curve, span[0] - window / 2, span[1] + window / 2).tightest(window).radius,
    )


def _furthest(one: Curve, other: DrawnLine, radius: float) -> tuple[float, float]:
    """Return how far from another line the furthest point of a curve is, and where on the curve it is.

    Walking along the curve the distance changes by no more than the way walked. So between two places it is at most
    half the sum of their distances and of the way; where that may pass the furthest yet, places are put closer.
    """
    count = int(np.clip(_SAMPLES * one.length / radius, 100, _MOST_SAMPLES))
    edges = np.linspace(0, one.length, count + 1)
    distance = locate_points(other.chain, one.point_at(edges))[1]
    low, high, at_low, at_high = edges[:-1], edges[1:], distance[:-1], distance[1:]
    best = int(np.argmax(distance))
    furthest, where = float(distance[best]), float(edges[best])
    for _ in range(_ROUNDS):
        open_ = (at_low + at_high + high - low) / 2 > furthest + _EXACT * radius
        low, high, at_low, at_high = low[open_], high[open_], at_low[open_], at_high[open_]
        if not len(low) or len(low) > _MOST_SAMPLES:
            break
        middle = (low + high) / 2
        distance = locate_points(other.chain, one.point_at(middle))[1]
        best = int(np.argmax(distance))
        if distance[best] > furthest:
            furthest, where = float(distance[best]), float(middle[best])
        low, high = np.concatenate([low, middle]), np.concatenate([middle, high])
        at_low, at_high = np.concatenate([at_low, distance]), np.concatenate([distance, at_high])
    return furthest, where


# When it cannot be done


def _unfeasible(
    curve: Curve, held: tuple[Interval, ...], radius: float, window: float, why: CrampedError
) -> UnfeasibleError:
    """Return the error that says how wide the bends can be made."""
    widest, narrowest_not = _widest(curve, held, radius, window, why)
    closed = "what is held" if curve.closed else "its ends and what is held"
    cause = f"{closed} leave" if held else "its ends leave" if not curve.closed else "the line leaves"
    if widest == 0:
        best = "no wider radius was found possible"
    elif narrowest_not is None:
        best = f"the widest possible is about {widest:.4g} mm"
    else:
        best = (
            f"the widest possible is between {widest:.4g} and {narrowest_not:.4g} mm, where the search for it was "
            f"given up for the time it takes"
        )
    where = why.s - curve.length if curve.closed and why.s > curve.length else why.s
    msg = (
        f"the curve cannot be faired to a least radius of {radius:g} mm: near s = {where:.4g} mm {cause} too little "
        f"room; {best}"
    )
    return UnfeasibleError(msg)


def _widest(
    curve: Curve, held: tuple[Interval, ...], radius: float, window: float, why: CrampedError
) -> tuple[float, float | None]:
    """Return the widest radius that the curve can be faired to, by search: what is returned was reached.

    Where the search was given up, the least radius that was not reached comes second.
    """
    spent = 0.0
    low, high = curve.tightest(window).radius, radius
    guess = why.widest * _NEARLY
    for _ in range(_TRIALS):
        guessed = low < guess < high
        trial = guess if guessed else (low + high) / 2
        if trial < _LEAST * radius and not guessed:
            break
        found = _faired(curve, held, trial, window)
        if isinstance(found, FairedCurve):
            low, guess = trial, trial * _BEYOND if guessed else 0.0
            spent += _made_anew(found, curve.length) / trial
        else:
            high, guess = trial, found.widest * _NEARLY
        if high <= low * _BEYOND:
            break
        if spent > _MOST_RADII:
            return low, high
    return low, None


def _made_anew(faired: FairedCurve, length: float) -> float:
    """Return how much of a drawn line is new, in mm."""
    return float(sum((bend.end - bend.start) % length or length for bend in faired.bends))
