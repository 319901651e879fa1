"""What people draw that a pattern cannot use as it is: lines drawn twice, and lines that just fail to meet."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve.curve import Curve
from bias_drafting.drawing.chains import find_runs, laid_end_to_end
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


def checked_gap(join_within: object) -> float | None:
    """Return the widest gap to be joined in mm, None if nothing is said of it.

    Raises
    ------
    DrawingError
        What is no length from 0 to 3 mm.
    """
    if join_within is None:
        return None
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
    reach = 3 * _SAME
    cells = np.array([_place_of(curve) for curve in curves]).reshape(-1, 2) // reach
    measures = np.array([(curve.length, *curve.bounds) for curve in curves]).reshape(-1, 5)
    # How much each of these may differ in two drawings of one line.
    slack = 2 * _SAME + measures * [0.01, 0, 0, 0, 0]
    firsts: dict[tuple[float, float], list[int]] = {}
    found: dict[int, int] = {}
    for k, (x, y) in enumerate(cells.tolist()):
        near = [i for dx in (-1, 0, 1) for dy in (-1, 0, 1) for i in firsts.get((x + dx, y + dy), ())]
        rows = np.array(sorted(near), dtype=np.intp)
        alike = (np.abs(measures[rows] - measures[k]) <= np.minimum(slack[rows], slack[k])).all(axis=1)
        first = next((i for i in rows[alike].tolist() if _same(curves[i], curves[k])), None)
        if first is None:
            firsts.setdefault((x, y), []).append(k)
        else:
            found[k] = first
    return found


def _place_of(curve: Curve) -> tuple[float, float]:
    """Return a place that two drawings of one line share, whichever way and in whatever pieces they run."""
    if curve.closed:
        return curve.bounds[:2]
    (x0, y0), (x1, y1) = curve.start, curve.end
    return (x0 + x1) / 2, (y0 + y1) / 2


def _same(one: Curve, other: Curve) -> bool:
    """Whether two curves of about one length and extent are one line."""
    if one == other:
        return True
    return all(
        bool((b.locate(a.point_at(_TRIED * a.length))[1] <= _SAME).all())
        for a, b in ((one, other), (other, one))
    )


def join_stems(
    stems: Sequence[Stem], gap: float, lines: dict[str, int | None]
) -> tuple[list[Stem], list[Note]]:
    """Join stems where two ends, and no third, lie within ``gap`` mm of each other.

    Both ends move to the middle between them, and their handles with them, so that their directions stay. The stem
    drawn first gives its name, width, layer and settings.
    """
    opened = [stem for stem in stems if not stem.centreline.closed]
    ends = np.array([(stem.centreline.start, stem.centreline.end) for stem in opened]).reshape(-1, 2, 2)
    runs, crowds = find_runs(ends, np.array([stem.centreline.length for stem in opened]), gap)
    notes = []
    for crowd in crowds:
        names = sorted(opened[k].name for k in crowd)
        why = f"more than two ends meet there: {', '.join(names)}"
        first = opened[min(crowd)].name
        notes.append(Note(first, lines.get(first), "not joined", why))
    became: dict[str, Stem | None] = {}
    for run in runs:
        one, *others = (opened[k] for k in sorted(run.lines))
        controls, widest = laid_end_to_end([stem.centreline.controls for stem in opened], run)
        became |= {stem.name: None for stem in others}
        became[one.name] = replace(one, centreline=Curve(controls, closed=run.ring))
        notes.append(Note(one.name, lines.get(one.name), *_joining(one, others, run.ring, widest)))
    left = [became.get(stem.name, stem) for stem in stems]
    return [stem for stem in left if stem is not None], notes


def _joining(one: Stem, others: Sequence[Stem], ring: bool, widest: float) -> tuple[str, str]:
    """Say which stems were joined, and over what."""
    names = ", ".join(repr(stem.name) for stem in others[:3])
    names += f" and {len(others) - 3} more" if len(others) > 3 else ""
    what = f"joined with {names}" if others else "its two ends are joined"
    what += " to a ring" if others and ring else ""
    up_to = "up to " if len(others) + ring > 1 else ""
    why = f"their ends are {up_to}{widest:.2g} mm apart"
    if any(stem.drawn_width != one.drawn_width for stem in others):
        why += f"; they were not all drawn equally wide, and {one.name!r} says how wide it is"
    return what, why
