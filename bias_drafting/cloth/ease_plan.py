"""Where a strip has to be eased, and by how much: what to do between which marks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from bias_drafting.units import format_length

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from bias_drafting.cloth.bend import StemCheck

    Array = NDArray[np.float64]

__all__ = ["EasedBend", "find_ease_plan"]

# A bend is looked at in so many places for each width of its length, and in no fewer than the second.
_PER_WIDTH: Final = 32
_FEWEST: Final = 129


@dataclass(frozen=True, slots=True)
class EasedBend:
    """One bend round which a strip must be eased.

    Attributes
    ----------
    start, end
        Arc length in mm from the start of the centreline: the marks between which to ease; on a closed stem a bend
        over the start has ``end < start``.
    side
        Of travel, on which its inner edge lies: ``"right"`` or ``"left"``.
    turn
        How far the strip turns between the marks, in degrees.
    eased, stretched
        By how many mm the cloth is longer along its inner edge than the edge of the stem, and shorter along its outer
        edge. Together they are the width times the turn in radians; how they divide is said in
        :mod:`bias_drafting.cloth.bent_strip`.
    passes
        Whether it goes round: if not, no easing will do.
    """

    start: float
    end: float
    side: str
    turn: float
    eased: float
    stretched: float
    passes: bool

    def text(self, unit: str = "in") -> str:
        """Say what to do, lengths in ``"in"`` or ``"mm"``; else LengthError.

        Examples
        --------
        >>> import bias_drafting as bd
        >>> bend = bd.Curve.from_svg_path("M0 0H80A30 30 0 0 1 80 60H0")
        >>> for eased in bd.check_stem(bend, "1/4 in").ease_plan:
        ...     print(eased.text("mm"))
        From 81 to 173 mm from the start: ease 5.5 mm into the inner edge, on the right.
        """
        step = 8 if unit == "in" else 1
        start, end = (format_length(s, unit, step) for s in (self.start, self.end))
        fine = 16 if unit == "in" else 2
        least = 25.4 / 16 if unit == "in" else 0.5
        amount = format_length(self.eased, unit, fine) if self.eased > least / 2 else "a hair"
        place = f"From {start.removesuffix(' ' + unit)} to {end} from the start"
        if not self.passes:
            return f"{place}: too tight to be eased; it would take {amount} at the inner edge, on the {self.side}."
        return f"{place}: ease {amount} into the inner edge, on the {self.side}."


def find_ease_plan(check: StemCheck) -> tuple[EasedBend, ...]:
    """Return the bends round which the strip of a stem must be eased, along the stem."""
    stretch, ease = check.cloth.limits(check.off_bias)
    if not check.making.from_strip or (stretch == 0 and ease == 0):
        return ()
    curve, found = check.curve, []
    for start, end in curve.stretches_tighter_than(check.easy_radius, check.width):
        span = (end - start) % curve.length if curve.closed and end != curve.length else end - start
        count = max(int(_PER_WIDTH * span / check.width), _FEWEST)
        along = start + np.linspace(0, span, count)
        places = along % curve.length if curve.closed else along
        curvature = curve.working_curvature_at(places, check.width)
        found += [_bend(check, along[part], curvature[part], stretch, ease) for part in _one_way(curvature)]
    return tuple(sorted(found, key=lambda bend: bend.start))


def _one_way(curvature: Array) -> Iterator[slice]:
    """Yield the parts of a stretch that bend one way; where it jumps from one to the other there is a corner."""
    cuts = np.flatnonzero(np.diff(np.sign(curvature)) != 0) + 1
    for first, last in zip([0, *cuts.tolist()], [*cuts.tolist(), len(curvature)], strict=True):
        if last - first > 1:
            yield slice(first, last)


def _bend(check: StemCheck, s: Array, curvature: Array, stretch: float, ease: float) -> EasedBend:
    size = np.abs(curvature)
    # A strip has no inner edge on less than half its width; then it does not pass, and this is only a figure.
    radius = np.maximum(1 / size, check.width / 2)
    inner, outer = radius - check.width / 2, radius + check.width / 2
    share = check.width / (outer * ease + inner * stretch)
    kept = outer / (1 + stretch * share) - inner
    turn = _integral(size, s)
    eased = _integral(kept * size, s)
    length = check.curve.length
    closed = check.curve.closed
    return EasedBend(
        float(s[0] % length if closed else s[0]),
        float(s[-1] % length if closed and s[-1] > length else s[-1]),
        "right" if curvature[len(curvature) // 2] > 0 else "left",
        float(np.degrees(turn)),
        eased,
        check.width * turn - eased,
        bool(1 / size.max() >= check.least_radius * (1 - 1e-9)),
    )


def _integral(values: Array, s: Array) -> float:
    return float(((values[1:] + values[:-1]) / 2 * np.diff(s)).sum())
