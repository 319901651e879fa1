"""Whether a drawing came out at the size that was meant: the scale from a known block, and doubts about units.

A file without units is read at 96 to the inch, as CSS says. Some programs meant 72 (a typographer's points) or 90
(the older habit of vector editors): a block of 12 in then comes out at 9 or 11 1/4 in. That cannot be known from the
file; but where the other reading gives whole inches or whole centimetres, it is said.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from bias_drafting.drawing.drawing import Note
from bias_drafting.errors import DrawingError, LengthError
from bias_drafting.units import format_length, to_mm

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from bias_drafting.drawing.drawing import Frame

    Size = tuple[float, float]

__all__ = ["block_scale", "checked_block", "size_doubts"]

_READ_AT = 96
_MAY_BE_MEANT = (72, 90)
# Nearer than this to a whole number counts as whole; as a share of the size, where that is more than one.
_WHOLE = 1e-4
# Widths and heights of ISO 216, A0 first, and by how much (mm) a page in whole px may differ.
_A_SERIES = (1189, 841, 594, 420, 297, 210, 148, 105)
_SHEET = 0.3
# A block drawn by hand is rarely square to the last hair; beyond this share its two sides differ.
_ALIKE = 0.01


def checked_block(block_size: object) -> Size | None:
    """Return the wanted size of the frame in mm: width and height, the height 0 if one length is given.

    Raises
    ------
    DrawingError
        What is not a length or a pair of lengths, each more than 0.
    """
    if block_size is None:
        return None
    pair = block_size if isinstance(block_size, (tuple, list)) else (block_size,)
    try:
        sides = [to_mm(side) for side in pair]
    except LengthError as error:
        msg = f"block_size: {error}"
        raise DrawingError(msg) from error
    if len(sides) not in {1, 2} or min(sides) <= 0:
        msg = f"block_size is a length such as '12 in', or a pair of them, more than 0; not {block_size!r}"
        raise DrawingError(msg)
    return sides[0], sides[1] if len(sides) == 2 else 0.0


def block_scale(frame: Frame | None, block: Size) -> float:
    """Return by what to multiply a drawing so that its frame has the size of the block.

    Raises
    ------
    DrawingError
        No frame; a frame that is not square where one length is given, or of other proportions than the block.
    """
    if frame is None:
        msg = (
            "block_size needs a frame to measure, and none was found; call the block's edge frame, block or "
            "border, or say which it is with roles="
        )
        raise DrawingError(msg)
    left, top, right, bottom = frame.outline.bounds
    width, height = right - left, bottom - top
    if min(width, height) <= 0:
        msg = f"the frame {frame.name!r} is a line, {width:.4g} x {height:.4g} mm, and no block"
        raise DrawingError(msg)
    asked = (block[0], block[1] or block[0])
    across, down = asked[0] / width, asked[1] / height
    if abs(across / down - 1) <= _ALIKE:
        return across
    was = f"the frame {frame.name!r} is {width:.4g} x {height:.4g} units of its drawing"
    if not block[1]:
        msg = f"{was}, not square; give block_size as a pair, its width and its height"
    else:
        msg = f"{was}, and block_size {asked[0]:.4g} x {asked[1]:.4g} mm has other proportions"
    raise DrawingError(msg)


def size_doubts(size: Size, in_px: bool, frame: Frame | None, frame_line: int | None) -> Iterator[Note]:
    """Yield a note where another reading of the file's units gives whole inches or centimetres.

    Parameters
    ----------
    size, in_px
        Size of the page in mm, and whether it was read from numbers without units.
    frame, frame_line
        The frame and its line in the file.
    """
    if in_px:
        yield from _doubt("page", None, size, 25.4 / 2, papers=True)  # paper comes in half inches, too
    if frame is not None:
        left, top, right, bottom = frame.outline.bounds
        sides = (right - left, bottom - top)
        # A file that says how large it is means it: then only a frame of odd size is in doubt.
        if in_px or not _whole(sides):
            yield from _doubt(frame.name, frame_line, sides)


def _doubt(
    name: str, line: int | None, size: Size, inch: float = 25.4, *, papers: bool = False
) -> Iterator[Note]:
    readings = []
    for dots in _MAY_BE_MEANT:
        factor = _READ_AT / dots
        meant = (size[0] * factor, size[1] * factor)
        if _whole(meant, inch) or (papers and _is_paper(meant)):
            readings.append(f"if {dots} were meant it is {_told(meant)}: pass scale={factor:.6g}")
    if readings:
        why = f"its numbers count {_READ_AT} to the inch; {', or '.join(readings)}, or block_size= with its true size"
        yield Note(name, line, f"read as {_told(size)}", why)


def _whole(size: Sequence[float], inch: float = 25.4) -> bool:
    """Whether both sides are whole inches (or what else ``inch`` is in mm), or whole centimetres."""
    return any(
        all(abs(side / unit - round(side / unit)) <= _WHOLE * max(side / unit, 1) for side in size)
        for unit in (inch, 10.0)
    )


def _is_paper(size: Sequence[float]) -> bool:
    """Whether a page is a sheet of the A series (ISO 216), upright or lying."""
    return any(
        abs(side - a) <= _SHEET and abs(other - b) <= _SHEET
        for side, other in (size, size[::-1])
        for a, b in pairwise(_A_SERIES)
    )


def _told(size: Size) -> str:
    inches = [format_length(side, unit="in", step=8).removesuffix(" in") for side in size]
    return f"{inches[0]} x {inches[1]} in ({size[0]:.1f} x {size[1]:.1f} mm)"
