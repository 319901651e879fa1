"""Placing labels where they cover nothing: by computation, never by luck."""

from __future__ import annotations

import string
import unicodedata
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

__all__ = ["CLEAR", "Label", "LabelPlacer", "text_width", "wrapped"]

# Widths of letters as shares of the letter height, at most, in wide sans-serif faces: most small letters and digits;
# all other letters; the ideographs and emoji that Unicode calls wide. Bold ones are wider by a share.
_SLIM: Final = frozenset(string.ascii_lowercase + string.digits + string.punctuation + " ") - set(
    "mw%@&#+<=>^~"
)
_SLIM_LETTER: Final = 0.64
_LETTER: Final = 1.0
_WIDE_LETTER: Final = 1.3
_BOLD: Final = 1.13
# Clear space kept round a label, in mm.
CLEAR: Final = 0.7
# Where a label is tried round the place it names: directions in this order, at these distances in mm.
_DIRECTIONS: Final = tuple(
    np.radians([0, 180, 90, 270, 45, 135, 225, 315, 22, 158, 202, 338, 67, 113, 247, 293])
)
_DISTANCES: Final = (4.0, 7.0, 11.0, 16.0, 22.0, 30.0, 40.0, 55.0, 75.0, 100.0)


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Return the width in mm that a line of text takes at most, for a letter height ``size`` in mm."""
    return sum(map(_letter_width, text)) * size * (_BOLD if bold else 1.0)


def _letter_width(letter: str) -> float:
    if letter in _SLIM:
        return _SLIM_LETTER
    return _WIDE_LETTER if unicodedata.east_asian_width(letter) in "WF" else _LETTER


def wrapped(text: str, size: float, width: float) -> list[str]:
    """Break a text into lines no wider than ``width`` mm; a word wider than that is broken too."""
    lines: list[str] = []
    for word in text.split():
        if lines and text_width(f"{lines[-1]} {word}", size) <= width:
            lines[-1] += f" {word}"
        else:
            lines += _broken(word, size, width)
    return lines


def _broken(word: str, size: float, width: float) -> list[str]:
    """Break a word into parts no wider than ``width`` mm, of at least one letter."""
    parts = [""]
    for letter in word:
        if parts[-1] and text_width(parts[-1] + letter, size) > width:
            parts.append("")
        parts[-1] += letter
    return parts


@dataclass(frozen=True, slots=True)
class Label:
    """A placed label.

    Attributes
    ----------
    lines
        Its lines of text.
    size
        Letter height in mm.
    box
        ``xmin, ymin, xmax, ymax`` in mm, text and clear space.
    anchor
        The place it names.
    leader
        Start and end of the line from the place to the label; None where the label sits on its place.
    """

    lines: tuple[str, ...]
    size: float
    box: tuple[float, float, float, float]
    anchor: tuple[float, float]
    leader: tuple[tuple[float, float], tuple[float, float]] | None


class LabelPlacer:
    """Finds room for labels within an area, clear of lines and of the labels placed before.

    Parameters
    ----------
    area
        ``xmin, ymin, xmax, ymax`` in mm that labels stay in.
    lines
        Shapely geometries that no label may touch.
    bands
        Areas that a label beside its place keeps off: there it would seem to name the band it stands on.
    """

    def __init__(
        self, area: tuple[float, float, float, float], lines: Iterable[Any], bands: Iterable[Any] = ()
    ) -> None:
        import shapely

        self._area = shapely.box(*area)
        self._lines = shapely.STRtree([line for line in lines if not line.is_empty])
        self._bands = shapely.STRtree([band for band in bands if not band.is_empty])
        self._taken: list[Any] = []

    def on_place(self, text: str, size: float, places: Sequence[tuple[float, float]]) -> Label | None:
        """Return a label centred on the first of ``places`` with room for it, or None."""
        wide, high = text_width(text, size) + 2 * CLEAR, size + 2 * CLEAR
        for x, y in places:
            box = (x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)
            if self._free(box):
                return self._placed(Label((text,), size, box, (x, y), None))
        return None

    def beside(
        self, lines: Sequence[str], size: float, anchor: tuple[float, float], *, bold: bool = False
    ) -> Label | None:
        """Return a label near ``anchor`` with a leader to it, or None where there is no room at all."""
        import shapely

        wide = max(text_width(line, size, bold=bold) for line in lines) + 2 * CLEAR
        high = 1.3 * size * len(lines) - 0.3 * size + 2 * CLEAR
        for distance in _DISTANCES:
            for angle in _DIRECTIONS:
                dx, dy = np.cos(angle), np.sin(angle)
                # The near edge of the box, not its middle, is to be at the distance.
                x = anchor[0] + dx * (distance + wide / 2)
                y = anchor[1] + dy * (distance + high / 2)
                box = (x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)
                if not self._free(box) or len(self._bands.query(shapely.box(*box), predicate="intersects")):
                    continue
                foot = (
                    float(np.clip(anchor[0], box[0], box[2])),
                    float(np.clip(anchor[1], box[1], box[3])),
                )
                leader = shapely.LineString([anchor, foot])
                if not any(leader.intersects(other) for other in self._taken):
                    self._taken.append(leader)
                    return self._placed(Label(tuple(lines), size, box, anchor, (anchor, foot)))
        return None

    def _free(self, box: tuple[float, float, float, float]) -> bool:
        import shapely

        shape = shapely.box(*box)
        # The drawing's lines first: they are many, in a tree, and rule out most places.
        if not self._area.contains(shape) or len(self._lines.query(shape, predicate="intersects")):
            return False
        return not any(shape.intersects(other) for other in self._taken)

    def _placed(self, label: Label) -> Label:
        import shapely

        self._taken.append(shapely.box(*label.box))
        return label
