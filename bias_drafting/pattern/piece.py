"""One stem as it is cut and laid: its outlines, its ends, and the strip it takes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve.curve import Curve
from bias_drafting.curve.outline import Outline

if TYPE_CHECKING:
    from bias_drafting.cloth.bend import StemCheck
    from bias_drafting.pattern.ends import Tuck

__all__ = ["Piece", "draft_piece"]

_MIRROR = ((-1.0, 0.0, 0.0), (0.0, 1.0, 0.0))


@dataclass(frozen=True, slots=True, repr=False)
class Piece:
    """What one stem is made from.

    Attributes
    ----------
    stem
        Name of the stem.
    check
        Whether it goes round its bends.
    centreline
        The drawn line, in mm on the drawing.
    finished
        Outline of the stem as it lies, on the drawing; covered ends run on under their covers as far as stays
        hidden. A free end stops where it is drawn.
    cutting
        What is cut from the cloth. For a strip a rectangle with one corner at (0, 0), ``strip_length`` along x and
        ``cut_width`` along y. For a turned template the finished outline and its allowance all round, on the drawing.
    template
        For a turned template the finished outline as a mirror image, because it is ironed to the wrong side of the
        cloth; else None.
    tucks
        The covered ends.
    ends
        What is added at the start and at the end, in mm: a tuck, or the turn-under of a free end.
    cut_width
        Width to cut, in mm.
    strip_length
        Length of strip to cut, in mm: the centreline and what both ends need. None where no strip is used.
    """

    stem: str
    check: StemCheck
    centreline: Curve
    finished: Outline
    cutting: Outline
    template: Outline | None
    tucks: tuple[Tuck, ...]
    ends: tuple[float, float]
    cut_width: float
    strip_length: float | None

    def __repr__(self) -> str:
        made = self.check.making.name
        return f"Piece({self.stem!r}, {made}, {self.check.width:g} mm finished, {self.check.verdict.value})"


def draft_piece(
    centreline: Curve, check: StemCheck, tucks: tuple[Tuck, ...], tuck: float, end_allowance: float
) -> Piece:
    """Draft the outlines of one stem that has been checked, in mm.

    A closed stem has no free end: one end of its strip lies flat under the other, which is turned under, so it takes
    ``tuck`` and ``end_allowance`` once each.
    """
    covered = {t.end: t for t in tucks}
    start, end = (covered[e].length if e in covered else end_allowance for e in ("start", "end"))
    ends = (start, end)
    if centreline.closed:
        ends = (tuck, end_allowance)
    hidden = [covered[e].hidden if e in covered else 0.0 for e in ("start", "end")]
    making, width = check.making, check.width
    cut_width = making.cut_width(width)
    line = centreline if centreline.closed else centreline.extended(*hidden)
    finished = line.band(width)
    if making.from_strip:
        strip_length = centreline.length + sum(ends)
        corners = np.array(
            [(0, 0), (strip_length, 0), (strip_length, cut_width), (0, cut_width)], dtype=float
        )
        cutting = Outline(Curve.from_points(corners, closed=True))
        return Piece(
            check.stem, check, centreline, finished, cutting, None, tucks, ends, cut_width, strip_length
        )
    allowance = (cut_width - width) / 2
    # The allowance goes all round, the ends too: what is turned under at a free end lies flat under a cover.
    longer = line if line.closed else line.extended(allowance, allowance)
    cutting = longer.band(cut_width)
    ends = (0.0, 0.0) if centreline.closed else (hidden[0] + allowance, hidden[1] + allowance)
    template = finished.transformed(_MIRROR)
    return Piece(check.stem, check, centreline, finished, cutting, template, tucks, ends, cut_width, None)
