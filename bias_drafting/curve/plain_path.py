"""A fast way through path data that are plain lists of numbers: moves, lines and Beziers, run by run.

What it reads, it reads as :mod:`bias_drafting.curve.path_data` does, to the last bit, and the tests hold it to that;
what has arcs, smooth quadratics, errors or numbers without end it leaves to that module.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Array = NDArray[np.float64]

__all__ = ["plain_subpaths"]

_BLANK: Final = r"[\t\n\f\r ]*+"
_NUMBER_TEXT: Final = r"[+-]?+(?>[0-9]++(?:\.[0-9]++)?|\.[0-9]++)(?>[eE][+-]?[0-9]++)?+"
_NUMBER: Final = re.compile(_NUMBER_TEXT)
# Atomic groups and possessive counts: the work grows with the length of the text, whatever is in it.
_NUMBERS: Final = rf"(?>{_NUMBER_TEXT}(?>{_BLANK},?+{_BLANK}{_NUMBER_TEXT})*+{_BLANK})?+"
_PLAIN: Final = re.compile(rf"{_BLANK}[Mm]{_BLANK}{_NUMBERS}(?>[MLHVCSQZmlhvcsqz]{_BLANK}{_NUMBERS})*+")
_RUN: Final = re.compile(r"([MLHVCSQZmlhvcsqz])([^MLHVCSQZmlhvcsqz]*+)")
_COUNTS: Final = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4}


def plain_subpaths(d: str) -> list[tuple[Array, bool]] | None:
    """Return the cubics ``(n, 4, 2)`` of each subpath and whether Z closes it; None for data that are not plain.

    Pieces of no length are still in it, and no line is added where Z closes.
    """
    if _PLAIN.fullmatch(d) is None:
        return None
    pen = _Pen()
    with np.errstate(over="ignore", invalid="ignore"):
        for letter, text in _RUN.findall(d):
            numbers, kind = _numbers(text), letter.upper()
            if kind == "Z":
                if numbers:
                    return None
                pen.lift(closed=True)
                continue
            if not numbers or len(numbers) % _COUNTS[kind]:
                return None
            pen.draw(kind, np.array(numbers), relative=letter.islower())
        pen.lift(closed=False)
    finite = all(np.isfinite(cubics).all() for cubics, _ in pen.subpaths) and np.isfinite(pen.point).all()
    return pen.subpaths if finite else None


def _numbers(text: str) -> list[float]:
    """Return the numbers of a text that matches the grammar."""
    try:
        return [float(word) for word in text.replace(",", " ").split()]
    except ValueError:  # numbers set against each other, as in "1-2" or ".5.5"
        return [float(word) for word in _NUMBER.findall(text)]


class _Pen:
    """Follows runs of one command each, and collects subpaths."""

    def __init__(self) -> None:
        self.subpaths: list[tuple[Array, bool]] = []
        self.start = self.point = np.zeros(2)
        self.handle: Array | None = None  # the last handle of a cubic just drawn, for S
        self.runs: list[Array] = []
        self.down = False

    def lift(self, *, closed: bool) -> None:
        if self.down or closed:
            cubics = np.concatenate(self.runs) if self.runs else np.empty((0, 4, 2))
            self.subpaths.append((cubics, closed))
        self.runs, self.down, self.handle = [], False, None
        if closed:
            self.point = self.start

    def draw(self, kind: str, values: Array, *, relative: bool) -> None:
        if kind == "M":
            self.lift(closed=False)
            self.point = self.start = values[:2] + self.point if relative else values[:2]
            values = values[2:]
            if not len(values):  # a move by itself draws nothing
                return
            kind = "L"
        self.down = True
        cubics = _DRAWN[kind](self, values, relative)
        self.handle = cubics[-1, 2] if kind in "CS" else None
        self.runs.append(cubics)
        self.point = cubics[-1, 3]

    def lines(self, points: Array, relative: bool) -> Array:
        if relative:
            points = np.cumsum(np.concatenate([self.point[None], points]), axis=0)[1:]
        starts = np.concatenate([self.point[None], points[:-1]])
        step = (points - starts) / 3
        return np.stack([starts, starts + step, points - step, points], axis=1)

    def straight(self, values: Array, relative: bool) -> Array:
        return self.lines(values.reshape(-1, 2), relative)

    def along(self, axis: int) -> Callable[[Array, bool], Array]:
        def drawn(values: Array, relative: bool) -> Array:
            points = np.zeros((len(values), 2)) if relative else np.tile(self.point, (len(values), 1))
            points[:, axis] = values
            return self.lines(points, relative)

        return drawn

    def placed(self, points: Array, relative: bool) -> tuple[Array, Array]:
        """Return the starts of segments, and all their points ``(n, k, 2)``, the last of each being its end."""
        if relative:
            ends = np.cumsum(np.concatenate([self.point[None], points[:, -1]]), axis=0)
            starts = ends[:-1]
            points = points + starts[:, None]
            points[:, -1] = ends[1:]
            return starts, points
        return np.concatenate([self.point[None], points[:-1, -1]]), points

    def curves(self, values: Array, relative: bool) -> Array:
        starts, points = self.placed(values.reshape(-1, 3, 2), relative)
        return np.concatenate([starts[:, None], points], axis=1)

    def smooth(self, values: Array, relative: bool) -> Array:
        starts, points = self.placed(values.reshape(-1, 2, 2), relative)
        before = np.concatenate([(starts[0] if self.handle is None else self.handle)[None], points[:-1, 0]])
        handles = starts + starts - before
        if self.handle is None:
            handles[0] = starts[0]
        return np.concatenate([starts[:, None], handles[:, None], points], axis=1)

    def quadratics(self, values: Array, relative: bool) -> Array:
        starts, points = self.placed(values.reshape(-1, 2, 2), relative)
        middle, ends = points[:, 0], points[:, 1]
        handles = [starts + 2 * (middle - starts) / 3, ends + 2 * (middle - ends) / 3]
        return np.stack([starts, *handles, ends], axis=1)


_DRAWN: Final[dict[str, Callable[[_Pen, Array, bool], Array]]] = {
    "L": _Pen.straight,
    "H": lambda pen, values, relative: pen.along(0)(values, relative),
    "V": lambda pen, values, relative: pen.along(1)(values, relative),
    "C": _Pen.curves,
    "S": _Pen.smooth,
    "Q": _Pen.quadratics,
}
