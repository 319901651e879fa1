"""What a maker must be told of a pattern beyond its numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from bias_drafting.drawing.drawing import Note
from bias_drafting.units import format_width

if TYPE_CHECKING:
    from collections.abc import Iterator

    from bias_drafting.drawing.drawing import Drawing
    from bias_drafting.pattern.piece import Piece

__all__ = ["maker_notes"]

# Nearer than this, in mm, lines are in the same place: a pencil line's width.
_TOUCH: Final = 0.5


def maker_notes(drawing: Drawing, pieces: tuple[Piece, ...]) -> list[Note]:
    """Return notes on stems that lie over themselves or beside another, off the block, or made with a snag."""
    return [
        *(note for piece in pieces for note in _of_piece(piece)),
        *_off_the_block(drawing, pieces),
        *_off_the_page(drawing, pieces),
        *_drawn_twice(pieces),
        *_bulk(pieces),
        *_remarks(pieces),
    ]


def _of_piece(piece: Piece) -> Iterator[Note]:
    import shapely

    width = piece.check.width
    length = piece.centreline.length + sum(tuck.hidden for tuck in piece.tucks)
    # A band covers its width times its length unless it lies over itself. Of a long one a single crossing is a small
    # share, but then its line crosses itself.
    crosses = not shapely.LineString(piece.centreline.flattened(0.05)).is_simple
    if crosses or piece.finished.area < 0.995 * width * length:
        what = "its finished outline lies over itself, and is drawn as one shape"
        why = "its line comes nearer to itself than its width, or bends tighter than half of it"
        yield Note(piece.stem, None, what, why)
    if piece.check.passes and piece.check.widest < width * (1 - 1e-6):
        what = "passes at this width, though narrower stems would not"
        why = "its bends to and fro are shorter than it is wide; it will cut across them"
        yield Note(piece.stem, None, what, why)
    under = [tuck.under for tuck in piece.tucks if tuck.kind == "stem"]
    if len(under) == 2 and under[0] == under[1]:
        what = f"both its ends are tucked under {under[0]}"
        yield Note(
            piece.stem, None, what, "both lie under it; look whether the two are drawn on top of each other"
        )


def _off_the_block(drawing: Drawing, pieces: tuple[Piece, ...]) -> Iterator[Note]:
    import shapely

    if drawing.frame is None:
        return
    block = shapely.make_valid(shapely.Polygon(drawing.frame.outline.flattened(0.05)))
    shapely.prepare(block)
    for piece in pieces:
        if not block.intersects(shapely.LineString(piece.centreline.flattened(0.05))):
            why = f"no part of it is within {drawing.frame.name}"
            yield Note(piece.stem, None, "drafted, though it is off the block", why)


def _off_the_page(drawing: Drawing, pieces: tuple[Piece, ...]) -> Iterator[Note]:
    wide, high = drawing.size
    for piece in pieces:
        x0, y0, x1, y1 = piece.centreline.bounds
        if min(x0, y0, wide - x1, high - y1) < -_TOUCH:
            what = "drafted whole, though it runs off the page"
            yield Note(piece.stem, None, what, "the sheet shows only what is on the page of the drawing")


def _drawn_twice(pieces: tuple[Piece, ...]) -> Iterator[Note]:
    """Tell the stems that lie on one another: a copy left in place is easily made and costs its strip."""
    import shapely

    boxes = np.array([piece.centreline.bounds for piece in pieces])
    near = np.abs(boxes[:, None] - boxes[None]).max(axis=2) <= _TOUCH
    for first, second in zip(*np.nonzero(np.triu(near, 1)), strict=True):
        lines = [shapely.LineString(pieces[k].centreline.flattened(0.05)) for k in (first, second)]
        if shapely.hausdorff_distance(*lines, densify=0.05) <= _TOUCH:
            what = f"drafted, though it lies on {pieces[first].stem}"
            yield Note(
                pieces[second].stem,
                None,
                what,
                "the two are drawn in the same place; is one a copy left there?",
            )


def _bulk(pieces: tuple[Piece, ...]) -> Iterator[Note]:
    """Tell once for each width where the allowances turned under from both sides overlap."""
    told = set()
    for piece in pieces:
        width, allowance = piece.check.width, (piece.cut_width - piece.check.width) / 2
        if piece.strip_length is None and allowance > width / 2 and width not in told:
            told.add(width)
            shown, under = format_width(width, "in"), format_width(allowance, "in")
            what = (
                f"trim the allowance that is turned last, on this and all stems {shown} wide over a template"
            )
            yield Note(piece.stem, None, what, f"turned under from both sides, {under} and {under} overlap")


def _remarks(pieces: tuple[Piece, ...]) -> Iterator[Note]:
    """Tell once what a way of making has to say of a width."""
    told = set()
    for piece in pieces:
        for remark in piece.check.making.remarks(piece.check.width):
            if remark not in told:
                told.add(remark)
                what = "look at how it is made, and all stems like it"
                yield Note(piece.stem, None, what, remark[:1].lower() + remark[1:].rstrip("."))
