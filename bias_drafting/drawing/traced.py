"""Stems traced by hand: lines of many short straight pieces, made smooth through their points."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve import bezier
from bias_drafting.curve.curve import Curve
from bias_drafting.drawing.drawing import Note
from bias_drafting.errors import CurveError, DrawingError, LengthError
from bias_drafting.units import to_mm

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from bias_drafting.drawing.drawing import Stem

    Array = NDArray[np.float64]
    BoolArray = NDArray[np.bool_]
    ComplexArray = NDArray[np.complex128]

__all__ = ["checked_tracing", "is_traced", "smooth_traced"]

# A line of at least so many straight pieces was traced, or is a curve that a program took to pieces, and was not
# constructed so: if half of them are no longer than this (mm), or half of the turns no sharper than this.
_FEWEST = 20
_SHORT = 2.0
_GENTLE = float(np.radians(12))
# A line of fewer pieces, but so many, with half of its turns no sharper than this, may stand for a curve: it is told.
_SOME = 6
_BLUNT = float(np.radians(45))
# A smooth line that strays this many times further from the pieces than it may from the points is not the line that
# was traced: some pieces are too long to tell where it went.
_MOST_SHIFT = 2.0
# Handles that lie this near to the line between the ends, as a share of its length, make a straight piece.
_STRAIGHT = 1e-6


def checked_tracing(tolerance: object) -> float:
    """Return how far a smooth line may keep from traced points, in mm; 0 to leave them as they are.

    Raises
    ------
    DrawingError
        What is no length of 0 or more.
    """
    try:
        reach = to_mm(tolerance)  # type: ignore[arg-type]  # what is no length is refused there
    except LengthError as error:
        msg = f"tracing: {error}"
        raise DrawingError(msg) from error
    if reach < 0:
        msg = f"tracing is a length of 0 or more, not {reach:g} mm"
        raise DrawingError(msg)
    return reach


def is_traced(curve: Curve) -> bool:
    """Whether a curve is a line of many straight pieces, short ones or with gentle turns between them."""
    if len(curve) < _FEWEST or not _straight(bezier.as_complex(curve.controls[:1])).all():
        return False
    chords = bezier.as_complex(curve.controls)
    short = np.median(np.abs(chords[:, 3] - chords[:, 0])) <= _SHORT
    return bool((short or _median_turn(chords) <= _GENTLE) and _straight(chords).all())


def _stands_for_a_curve(curve: Curve) -> bool:
    """Whether a curve is a line of some straight pieces that may stand for a smooth one."""
    if not _SOME <= len(curve) < _FEWEST:
        return False
    chords = bezier.as_complex(curve.controls)
    return bool(_straight(chords).all() and _median_turn(chords) <= _BLUNT)


def _median_turn(chords: ComplexArray) -> float:
    whole = chords[:, 3] - chords[:, 0]
    return float(np.median(np.abs(np.angle(whole[1:] * np.conj(whole[:-1])))))


def _straight(chords: ComplexArray) -> BoolArray:
    """Whether each cubic ``(n, 4)`` is a straight piece."""
    whole = chords[:, 3] - chords[:, 0]
    aside = np.abs(((chords[:, 1:3] - chords[:, :1]) * np.conj(whole)[:, None]).imag)
    near = aside <= _STRAIGHT * (np.abs(whole) ** 2)[:, None]
    return np.asarray(near.all(axis=1))


def smooth_traced(
    stems: Sequence[Stem], tolerance: float, lines: dict[str, int | None]
) -> tuple[list[Stem], list[Note]]:
    """Put a smooth line through the points of every traced stem, and tell by how much it moved."""
    found, notes = [], []
    for stem in stems:
        line, drawn = lines.get(stem.name), stem.centreline
        if not is_traced(drawn):
            if _stands_for_a_curve(drawn):
                why = f"they are too few to say what curve they stand for; draw it as one, or by {_FEWEST} points"
                notes.append(Note(stem.name, line, f"left as its {len(drawn)} straight pieces", why))
            found.append(stem)
            continue
        points = drawn.controls[:, 0] if drawn.closed else np.vstack([drawn.controls[:, 0], [drawn.end]])
        try:
            smooth = Curve.through(points, closed=drawn.closed, tolerance=tolerance)
        except CurveError as error:
            notes.append(
                Note(stem.name, line, "left as its straight pieces", f"no smooth line goes through: {error}")
            )
            found.append(stem)
            continue
        shift = max(_furthest(drawn, smooth), _furthest(smooth, drawn))
        if shift > _MOST_SHIFT * tolerance:
            why = f"a smooth line through its points would lie up to {shift:.2f} mm from its pieces"
            notes.append(Note(stem.name, line, "left as its straight pieces", why))
            found.append(stem)
            continue
        what = f"made smooth through its {len(points)} points, by up to {shift:.2f} mm"
        notes.append(
            Note(stem.name, line, what, "it was traced in short straight pieces, whose bends mean nothing")
        )
        found.append(replace(stem, centreline=smooth))
    return found, notes


def _furthest(one: Curve, other: Curve) -> float:
    """Return how far any point of one curve lies from another."""
    points = one.point_at(np.linspace(0, one.length, 4 * len(one) + 257))
    return float(other.locate(points)[1].max())
