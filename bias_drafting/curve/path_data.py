"""SVG path data read into cubic Beziers, to the letter of the grammar of SVG 2, section 9.3.9.

The scan here is strict: it finds where each subpath begins, what closes it and where the data first break the
grammar; what was drawn up to there is kept, as the standard asks. The cubics of straight and curved commands
come from svgpathtools, called in one place (:func:`_cubics_of_run`). Elliptical arcs are converted in
:mod:`bias_drafting.curve.ellipses`: svgpathtools 1.8 measures a rotated arc wrongly once it has been
transformed, and refuses one whose ends coincide.

Numbers are taken as they stand: this module knows nothing of units or files.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple, NoReturn

import numpy as np

from bias_drafting.curve import bezier
from bias_drafting.curve.ellipses import ellipse_arc
from bias_drafting.curve.plain_path import plain_subpaths

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

__all__ = ["PathData", "Subpath", "read_path_data"]

# How many numbers each command takes; Z takes none.
_COUNTS = {"M": 2, "Z": 0, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7}
_COMMANDS = frozenset(_COUNTS) | frozenset(letter.lower() for letter in _COUNTS)
# A dot must be followed by a digit (SVG 2 dropped the "23." that SVG 1.1 allowed).
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_NOT_FINITE = re.compile(r"[+-]?(?:nan|inf(?:inity)?)(?![a-z])", re.IGNORECASE)
_BLANK = re.compile(r"[\t\n\f\r ]*")
_SEPARATOR = re.compile(r"[\t\n\f\r ]*,?[\t\n\f\r ]*")
# Relative coordinates come back to the start with rounding noise: about 1e-16 of their size at each step.
_NOISE = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Subpath:
    """One run of the pen.

    Attributes
    ----------
    controls
        Control points ``(n, 4, 2)``, read-only, n at least 1; each cubic starts where the one before ended.
    closed
        Whether the data close it with Z; the last point is then the first, exactly.
    """

    controls: Array
    closed: bool


@dataclass(frozen=True, slots=True, eq=False)
class PathData:
    """What path data draw, and what is wrong with them.

    Attributes
    ----------
    subpaths
        Every subpath that has a length, in order.
    error
        What was wrong and at which character (counted from 1), or None. ``subpaths`` then holds what was
        drawn up to the last good segment (SVG 2, section 9.5.4).
    without_length
        How many subpaths were left out because all their points coincide; a move that nothing follows is none.
    not_finite
        Whether the error is a number that is not finite, or a sum of numbers that overflows.
    """

    subpaths: tuple[Subpath, ...]
    error: str | None = None
    without_length: int = 0
    not_finite: bool = False


class _Command(NamedTuple):
    letter: str
    values: tuple[float, ...]
    at: int


class _PathError(Exception):
    """Raised at the first character that breaks the data."""

    def __init__(self, what: str, at: int, *, not_finite: bool = False) -> None:
        super().__init__(f"{what} at character {at + 1}")
        self.not_finite = not_finite


def read_path_data(d: str) -> PathData:
    """Return the cubics drawn by SVG path data.

    Parameters
    ----------
    d
        Path data: all commands, absolute and relative, with implicit repeats and packed arc flags. Empty text
        draws nothing and is no error.

    Returns
    -------
    PathData
        Never raises for bad data: see ``PathData.error``. A straight cubic back to the start is added where
        Z is given and the end differs from the start by more than rounding noise (1e-12 of the coordinates'
        size). Arcs are as close as :mod:`bias_drafting.curve.ellipses` says; everything else is exact. The
        work grows in proportion to the length of the text.

    Examples
    --------
    >>> data = read_path_data("M 10,10 L 20,20,30")
    >>> data.subpaths[0].controls[0, 3]
    array([20., 20.])
    >>> data.error
    'the data end where a number is wanted at character 19'
    """
    plain = plain_subpaths(d)
    if plain is not None and (found := _of_plain(plain)) is not None:
        return found
    commands, broken = _scan(d)
    pen = _Pen()
    try:
        for command in commands:
            pen.follow(command)
        pen.lift()
    except _PathError as earlier:  # all commands stand before the place where the scan stopped
        broken = earlier
        pen.lift()
    return PathData(
        subpaths=tuple(pen.subpaths),
        error=None if broken is None else str(broken),
        without_length=pen.without_length,
        not_finite=broken is not None and broken.not_finite,
    )


def _of_plain(plain: list[tuple[Array, bool]]) -> PathData | None:
    """Return what plain data draw, which has neither errors nor arcs; None where a closing line overflows."""
    pen = _Pen()
    if not all(pen.finish(cubics, closed=closed) for cubics, closed in plain):
        return None
    return PathData(tuple(pen.subpaths), without_length=pen.without_length)


def _scan(d: str) -> tuple[list[_Command], _PathError | None]:
    """Return the commands, repeats spelled out, up to the first that breaks the grammar."""
    commands: list[_Command] = []
    scanner = _Scanner(d)
    try:
        while (letter := scanner.command()) is not None:
            if not commands and letter not in "Mm":
                return commands, _PathError(f"path data begin with M or m, not {letter!r},", scanner.at - 1)
            scanner.arguments(letter, commands)
    except _PathError as broken:
        return commands, broken
    return commands, None


def _past(pattern: re.Pattern[str], text: str, at: int) -> int:
    match = pattern.match(text, at)
    return match.end() if match else at


class _Scanner:
    """A place in path data, moving forward only."""

    def __init__(self, d: str) -> None:
        self.d = d
        self.at = 0

    def blanks(self) -> None:
        self.at = _past(_BLANK, self.d, self.at)

    def separator(self) -> bool:
        """Pass blanks and at most one comma; return whether there was a comma."""
        before = self.at
        self.at = _past(_SEPARATOR, self.d, before)
        return "," in self.d[before : self.at]

    def stop(self, wanted: str) -> NoReturn:
        found = self.d[self.at : self.at + 12]
        if match := _NOT_FINITE.match(self.d, self.at):
            raise _not_finite(match[0], self.at)
        what = f"{wanted} is wanted, not {found!r}," if found else f"the data end where {wanted} is wanted"
        raise _PathError(what, self.at)

    def command(self) -> str | None:
        self.blanks()
        if self.at == len(self.d):
            return None
        letter = self.d[self.at]
        if letter not in _COMMANDS:
            self.stop("a command or a number")
        self.at += 1
        return letter

    def arguments(self, letter: str, commands: list[_Command]) -> None:
        """Read what follows a command letter and add one command for each full set of numbers."""
        count, at = _COUNTS[letter.upper()], self.at - 1
        if not count:
            commands.append(_Command(letter, (), at))
            return
        self.blanks()
        while True:
            commands.append(_Command(letter, self.values(letter, count), at))
            # Pairs after the first of a moveto are linetos.
            letter = {"M": "L", "m": "l"}.get(letter, letter)
            comma = self.separator()
            at = self.at
            if not comma and self.d[at : at + 1] not in tuple("+-.0123456789"):
                return

    def values(self, letter: str, count: int) -> tuple[float, ...]:
        values = []
        for k in range(count):
            if k:
                self.separator()
            values.append(self.flag() if letter in "Aa" and k in {3, 4} else self.number())
        return tuple(values)

    def number(self) -> float:
        match = _NUMBER.match(self.d, self.at)
        if match is None:
            self.stop("a number")
        value = float(match[0])
        if not math.isfinite(value):
            raise _not_finite(match[0], self.at)
        self.at = match.end()
        return value

    def flag(self) -> float:
        """Read one character: flags may be packed against what follows them."""
        if self.d[self.at : self.at + 1] not in {"0", "1"}:
            self.stop("a flag, 0 or 1,")
        self.at += 1
        return float(self.d[self.at - 1])


class _Pen:
    """Follows commands and collects subpaths."""

    def __init__(self) -> None:
        self.subpaths: list[Subpath] = []
        self.without_length = 0
        self.start = self.point = 0j
        self.down = False
        self.run: list[_Command] = []
        self.pieces: list[Array] = []

    def follow(self, command: _Command) -> None:
        letter = command.letter.upper()
        if letter == "M":
            self.lift()
            self.point = self.start = self.target(command)  # by itself it draws nothing
        elif letter == "Z":
            self.down = True  # "z z": the second closes a subpath of no length
            self.lift(closing=command)
            self.point = self.start
        else:
            self.down = True
            if letter == "A":
                self.draw_run()
                self.draw_arc(command)
            else:
                self.run.append(command)

    def target(self, command: _Command) -> complex:
        """Return where a moveto or an arc ends."""
        target = complex(*command.values[-2:])
        if command.letter.islower():
            target += self.point
        if not (math.isfinite(target.real) and math.isfinite(target.imag)):
            raise _overflow(command)
        return target

    def draw_run(self) -> None:
        """Draw the commands put by since the last move or arc."""
        run, self.run = self.run, []
        if not run:
            return
        cubics = _cubics_of_run(self.point, run)
        good = np.isfinite(cubics).all(axis=(1, 2))
        first_bad = len(run) if good.all() else int(np.argmin(good))
        if first_bad:
            self.pieces.append(cubics[:first_bad])
            self.point = complex(*cubics[first_bad - 1, 3])
        if first_bad < len(run):
            raise _overflow(run[first_bad])

    def draw_arc(self, command: _Command) -> None:
        rx, ry, rotation, large, sweep = command.values[:5]
        end = self.target(command)
        ends = (self.point.real, self.point.imag), (end.real, end.imag)
        cubics = ellipse_arc(ends[0], rx, ry, rotation, bool(large), bool(sweep), ends[1])
        if not np.isfinite(cubics).all():
            raise _overflow(command)
        self.pieces.append(cubics)
        self.point = end

    def lift(self, closing: _Command | None = None) -> None:
        """Finish the subpath being drawn, if any."""
        self.draw_run()
        pieces, self.pieces = self.pieces, []
        down, self.down = self.down, False
        if not down:
            return
        controls = np.concatenate([np.empty((0, 4, 2)), *pieces])
        if not self.finish(controls, closed=closing is not None) and closing is not None:
            raise _overflow(closing)

    def finish(self, controls: Array, *, closed: bool) -> bool:
        """Add a subpath without its pieces of no length; return whether it could be closed, if it was to be."""
        controls = controls[(controls != controls[:, :1]).any(axis=(1, 2))]
        if len(controls) == 0:
            self.without_length += 1
            return True
        if closed:
            controls = _closed(controls)
            if not np.isfinite(controls).all():
                self.add(controls[:-1], closed=False)
                return False
        self.add(controls, closed=closed)
        return True

    def add(self, controls: Array, *, closed: bool) -> None:
        controls.flags.writeable = False
        self.subpaths.append(Subpath(controls, closed))


def _not_finite(number: str, at: int) -> _PathError:
    short = number if len(number) <= 24 else number[:21] + "..."
    return _PathError(f"{short!r} is not a finite number,", at, not_finite=True)


def _overflow(command: _Command) -> _PathError:
    what = f"{command.letter!r} leads to a place that is not a finite number,"
    return _PathError(what, command.at, not_finite=True)


def _closed(controls: Array) -> Array:
    """Return the chain with its end brought back to its start, straight."""
    ends = controls[[-1, 0], [3, 0]]
    with np.errstate(over="ignore", invalid="ignore"):
        if np.abs(ends[1] - ends[0]).max() > _NOISE * np.abs(controls).max():
            return np.concatenate([controls, bezier.from_lines(ends)])
    controls[-1, 3] = ends[1]
    return controls


def _cubics_of_run(point: complex, run: list[_Command]) -> Array:
    """Return one cubic for each command; no moves, arcs or closings. The one call to svgpathtools."""
    from svgpathtools import parse_path

    # repr gives back each float exactly.
    words = [f"M{point.real!r},{point.imag!r}"]
    words += [command.letter + " ".join(map(repr, command.values)) for command in run]
    cubics = np.array([_raised(*segment.bpoints()) for segment in parse_path(" ".join(words))])
    return cubics.view(np.float64).reshape(-1, 4, 2)


def _raised(*points: complex) -> tuple[complex, complex, complex, complex]:
    """Return a line (2 points), quadratic (3) or cubic (4) as a cubic."""
    if len(points) == 4:
        return points
    start, *handle, end = points
    if handle:
        return start, start + 2 * (handle[0] - start) / 3, end + 2 * (handle[0] - end) / 3, end
    return start, start + (end - start) / 3, end - (end - start) / 3, end
