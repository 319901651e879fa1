"""What people draw that a pattern cannot use as it is: lines drawn twice, and lines that just fail to meet."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve.curve import Curve
from bias_drafting.drawing.drawing import Motif, Note, Stem
from bias_drafting.errors import DrawingError, LengthError
from bias_drafting.units import to_mm

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Array = NDArray[np.float64]

__all__ = ["checked_gap", "join_stems", "merge_motifs", "merge_stems"]

# Two lines are one drawn twice where neither strays further from the other than this, in mm.
_SAME = 0.05
_TRIED = np.linspace(0, 1, 65)
# Ends are joined over no more than this: further apart they are not meant to be one.
_WIDEST_GAP = 3.0


def checked_gap(join_within: object) -> float:
    """Return the widest gap to be joined in mm, 0 for none.

    Raises
    ------
    DrawingError
        What is no length from 0 to 3 mm.
    """
    if join_within is None:
        return 0.0
    try:
        gap = to_mm(join_within)  # type: ignore[arg-type]  # what is no length is refused there
    except LengthError as error:
        msg = f"join_within: {error}"
        raise DrawingError(msg) from error
    if not 0 <= gap <= _WIDEST_GAP:
        msg = f"join_within is a length from 0 to {_WIDEST_GAP:g} mm, not {gap:g} mm"
        raise DrawingError(msg)
    return gap


def merge_stems(stems: Sequence[Stem], lines: dict[str, int | None]) -> tuple[list[Stem], list[Note]]:
    """Leave out stems drawn again over themselves; of two widths the wider stays. ``lines`` are those of the file."""
    again = _doubles([stem.centreline for stem in stems])
    merged = list(stems)
    for left_out, kept in again.items():
        one, other = merged[kept], stems[left_out]
        widths = [stem.drawn_width for stem in (one, other) if stem.drawn_width is not None]
        settings = MappingProxyType({**other.settings, **one.settings})
        merged[kept] = replace(one, drawn_width=max(widths, default=None), settings=settings)
    notes = [_told(stems[k].name, stems[kept].name, lines) for k, kept in again.items()]
    return [stem for k, stem in enumerate(merged) if k not in again], notes


def merge_motifs(motifs: Sequence[Motif], lines: dict[str, int | None]) -> tuple[list[Motif], list[Note]]:
    """Leave out motifs drawn again over themselves, such as a fill and its line."""
    again = _doubles([motif.outline for motif in motifs])
    notes = [_told(motifs[k].name, motifs[kept].name, lines) for k, kept in again.items()]
    return [motif for k, motif in enumerate(motifs) if k not in again], notes


def _told(name: str, kept: str, lines: dict[str, int | None]) -> Note:
    why = f"it runs along {kept!r} within {_SAME:g} mm: the same line drawn twice"
    return Note(name, lines.get(name), f"merged with {kept!r}", why)


def _doubles(curves: Sequence[Curve]) -> dict[int, int]:
    """Return which curves are drawn again over an earlier one: the number of each, and of the first such."""
    import shapely

    if len(curves) < 2:
        return {}
    places = shapely.points([_place_of(curve) for curve in curves])
    near = shapely.STRtree(places).query(places, predicate="dwithin", distance=3 * _SAME)
    found: dict[int, int] = {}
    for first, second in sorted(zip(*near.tolist(), strict=True)):
        if (
            first < second
            and first not in found
            and second not in found
            and _same(curves[first], curves[second])
        ):
            found[second] = first
    return found


def _place_of(curve: Curve) -> tuple[float, float]:
    """Return a place that two drawings of one line share, whichever way and in whatever pieces they run."""
    if curve.closed:
        return curve.bounds[:2]
    (x0, y0), (x1, y1) = curve.start, curve.end
    return (x0 + x1) / 2, (y0 + y1) / 2


def _same(one: Curve, other: Curve) -> bool:
    if abs(one.length - other.length) > 0.01 * one.length + 2 * _SAME:
        return False
    if np.abs(np.subtract(one.bounds, other.bounds)).max() > 2 * _SAME:
        return False
    return all(
        bool((b.locate(a.point_at(_TRIED * a.length))[1] <= _SAME).all())
        for a, b in ((one, other), (other, one))
    )


def join_stems(
    stems: Sequence[Stem], gap: float, lines: dict[str, int | None]
) -> tuple[list[Stem], list[Note]]:
    """Join stems where two ends, and no third, lie within ``gap`` mm of each other.

    Both ends move to the middle between them, and their handles with them, so that their directions stay.
    """
    stems = list(stems)
    notes: list[Note] = []
    told: set[tuple[str, ...]] = set()
    while True:
        pair = _meeting(stems, gap, lines, notes, told)
        if pair is None:
            return stems, notes
        (i, at_i), (j, at_j) = pair
        one, other = stems[i], stems[j]
        distance = float(np.hypot(*np.subtract(_end(one, at_i), _end(other, at_j))))
        if i == j:
            stems[i] = replace(one, centreline=_ring(one.centreline))
            what = "its two ends are joined"
        else:
            stems[i] = replace(one, centreline=_joined(one.centreline, at_i, other.centreline, at_j))
            del stems[j]
            what = f"joined with {other.name!r}"
        notes.append(Note(one.name, lines.get(one.name), what, f"their ends are {distance:.2g} mm apart"))


def _end(stem: Stem, last: int) -> tuple[float, float]:
    return stem.centreline.end if last else stem.centreline.start


def _meeting(
    stems: Sequence[Stem],
    gap: float,
    lines: dict[str, int | None],
    notes: list[Note],
    told: set[tuple[str, ...]],
) -> tuple[tuple[int, int], tuple[int, int]] | None:
    """Return the first two ends that meet and no third; where more meet it is told, once."""
    ends = [(k, last) for k, stem in enumerate(stems) if not stem.centreline.closed for last in (0, 1)]
    if len(ends) < 2:
        return None
    places = np.array([_end(stems[k], last) for k, last in ends])
    apart = np.hypot(*np.moveaxis(places[:, None] - places, -1, 0))
    near = apart <= gap
    for row, (k, last) in enumerate(ends):
        others = [ends[column] for column in np.flatnonzero(near[row]) if column != row]
        # A stem hardly longer than the gap has both ends near: that is no ring.
        others = [end for end in others if end[0] != k or stems[k].centreline.length > 4 * gap]
        if len(others) > 1:
            names = tuple(sorted({stems[k].name, *(stems[number].name for number, _ in others)}))
            if names not in told:
                told.add(names)
                why = f"more than two ends meet there: {', '.join(names)}"
                notes.append(Note(stems[k].name, lines.get(stems[k].name), "not joined", why))
        elif others:
            return ((k, last), others[0]) if (k, last) < others[0] else (others[0], (k, last))
    return None


def _moved_end(controls: Array, to: Array, last: bool) -> Array:
    """Return a chain with one end moved, and its handle with it."""
    moved = controls.copy()
    rows = (-1, slice(2, 4)) if last else (0, slice(0, 2))
    moved[rows] += to - controls[(-1, 3) if last else (0, 0)]
    return moved


def _joined(one: Curve, at_one: int, other: Curve, at_other: int) -> Curve:
    """Return two curves joined at ends, in the direction of the first."""
    if at_one:
        head, tail = one, other if at_other == 0 else other.reversed()
    else:
        head, tail = other if at_other == 1 else other.reversed(), one
    middle = (np.array(head.end) + np.array(tail.start)) / 2
    parts = [_moved_end(head.controls, middle, True), _moved_end(tail.controls, middle, False)]
    return Curve(np.concatenate(parts))


def _ring(curve: Curve) -> Curve:
    middle = (np.array(curve.start) + np.array(curve.end)) / 2
    return Curve(_moved_end(_moved_end(curve.controls, middle, True), middle, False), closed=True)
