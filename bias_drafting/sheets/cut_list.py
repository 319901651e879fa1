"""What to cut, drawn at true size in rows: strips as rectangles, paper templates as mirrored outlines."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from bias_drafting.pattern.table import length_text
from bias_drafting.sheets.labels import text_width, wrapped
from bias_drafting.sheets.markup import CUT_LINE, clean, line, path, text
from bias_drafting.units import format_width

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from bias_drafting.pattern.pattern import Pattern
    from bias_drafting.pattern.piece import Piece

__all__ = ["CutList", "cut_list"]

_SIZE: Final = 2.8
_GAP: Final = 6.0


@dataclass(frozen=True, slots=True)
class CutList:
    """The drawn parts of a cut list, and the height in mm it takes."""

    strips: list[str]
    templates: list[str]
    words: list[str]
    height: float


@dataclass(frozen=True, slots=True)
class _Cell:
    """One thing to draw: its words, the size the thing takes below them, and the piece."""

    words: list[str]
    width: float
    height: float
    piece: Piece

    @property
    def words_height(self) -> float:
        """Height the words take, with the space below them."""
        return (1.3 * len(self.words) - 0.3) * _SIZE + 1.5


def cut_list(
    pattern: Pattern, numbers: Mapping[str, int], unit: str, left: float, top: float, width: float
) -> CutList:
    """Lay out everything to cut in rows within ``width`` mm, from ``left, top`` down.

    A strip longer than the width is drawn shortened, with break lines; its words give its length.
    """
    strips = [p for p in pattern.pieces if p.strip_length is not None]
    shapes = [p for p in pattern.pieces if p.template is not None]
    strips.sort(key=lambda p: (p.cut_width, -(p.strip_length or 0)))
    result = CutList([], [], [], 0.0)
    y = top
    if strips:
        heading = "Strips to cut, true size (dashed: cut; across a break: longer than drawn)"
        result.words.append(text([heading], left, y + 3.2, 3.2, font_weight="bold"))
        y = _rows([_strip_cell(p, numbers[p.stem], unit, width) for p in strips], left, y + 8, width, result)
    if shapes:
        heading = "Paper templates, true size, mirrored: iron them to the wrong side of the cloth"
        result.words.append(text([heading], left, y + 3.2, 3.2, font_weight="bold"))
        y = _rows(
            [_template_cell(p, numbers[p.stem], unit, width) for p in shapes], left, y + 8, width, result
        )
    return CutList(result.strips, result.templates, result.words, y - top)


def _strip_cell(piece: Piece, number: int, unit: str, width: float) -> _Cell:
    length = piece.strip_length or 0.0
    size = f"{format_width(piece.cut_width, unit)} x {length_text(length, unit, 'up')}"
    return _cell(f"{number} · {piece.stem}: {size}", min(length, width), piece.cut_width, piece, width)


def _template_cell(piece: Piece, number: int, unit: str, width: float) -> _Cell:
    x0, y0, x1, y1 = (piece.template or piece.finished).bounds
    words = f"{number} · {piece.stem}: {format_width(piece.check.width, unit)} finished"
    return _cell(words, x1 - x0, y1 - y0, piece, width)


def _cell(words: str, wide: float, high: float, piece: Piece, width: float) -> _Cell:
    lines = wrapped(clean(words), _SIZE, width)
    return _Cell(lines, max(wide, *(text_width(one, _SIZE) for one in lines)), high, piece)


def _rows(cells: Sequence[_Cell], left: float, top: float, width: float, into: CutList) -> float:
    """Draw cells side by side, row under row; return where the next thing may start."""
    x, y, tallest = left, top, 0.0
    for cell in cells:
        if x > left and x + cell.width > left + width:
            x, y, tallest = left, y + tallest, 0.0
        into.words.append(text(cell.words, x, y + _SIZE, _SIZE))
        below = y + cell.words_height
        if cell.piece.template is None:
            into.strips.extend(_strip(cell.piece, x, below, left + width - x))
        else:
            x0, y0, *_ = cell.piece.template.bounds
            d = cell.piece.template.transformed([[1, 0, x - x0], [0, 1, below - y0]]).to_svg_path(3)
            into.templates.append(path(d, data_stem=cell.piece.stem, stroke_width=0.25, fill_rule="evenodd"))
        tallest = max(tallest, cell.words_height + cell.height + _GAP)
        x += cell.width + _GAP
    return y + tallest


def _strip(piece: Piece, x: float, y: float, room: float) -> list[str]:
    """Draw a strip's rectangle at true size, or with a break where it is longer than the room."""
    length, high = piece.strip_length or 0.0, piece.cut_width
    style = {**CUT_LINE, "data_stem": piece.stem}
    if length <= room + 1e-9:
        d = piece.cutting.transformed([[1, 0, x], [0, 1, y]]).to_svg_path(3)
        return [path(d, **style)]
    middle, gap = x + room / 2, 3.0
    parts = []
    for near, far in ((x, middle - gap), (x + room, middle + gap)):
        parts.append(line([(far, y), (near, y), (near, y + high), (far, y + high)], **style))
        lean = min(2.0, high / 4)
        parts.append(
            line(
                [
                    (far, y - 1.5),
                    (far, y + high / 2 - lean),
                    (far + lean, y + high / 2 - lean / 2),
                    (far - lean, y + high / 2 + lean / 2),
                    (far, y + high / 2 + lean),
                    (far, y + high + 1.5),
                ],
                stroke_width=0.2,
            )
        )
    return parts
