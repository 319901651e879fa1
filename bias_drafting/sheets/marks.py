"""The marks on the placement picture: how verdicts are drawn, the stems' numbers, the tight spots and labels."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from bias_drafting.cloth.bend import Verdict
from bias_drafting.pattern.table import length_text
from bias_drafting.sheets.labels import CLEAR, Label, LabelPlacer
from bias_drafting.sheets.markup import INK, element, line, path, text

if TYPE_CHECKING:
    from bias_drafting.cloth.bend import TightSpot
    from bias_drafting.curve.curve import Curve
    from bias_drafting.pattern.pattern import Pattern
    from bias_drafting.pattern.piece import Piece

__all__ = [
    "BODY",
    "STYLES",
    "Marks",
    "marks",
    "outline_style",
    "placed_marks",
    "stem_numbers",
    "tight_line",
    "tight_ring",
]

# Letter heights in mm: of text, of the stems' numbers, and of numbers on narrow stems (less is hard to read).
BODY: Final = 3.2
_NUMBER: Final = 3.0
_SMALLEST: Final = 2.0
# Width in mm of the line along a tight spot, and radius of the ring round its tightest point.
_SPOT_LINE: Final = 1.2
_RING: Final = 1.1
# Outlines are taken as polygons this fine, in mm, to find room for labels.
_FINE: Final = 0.05


@dataclass(frozen=True, slots=True)
class _Style:
    """How a verdict is drawn: colours after Okabe and Ito (2008), and a line pattern of its own."""

    line: str
    fill: str
    width: float
    dashes: str


STYLES: Final = {
    Verdict.LIES_FLAT: _Style("#009E73", "#E6F5F0", 0.35, ""),
    Verdict.NEEDS_EASING: _Style("#0072B2", "#DDEBF5", 0.45, "3 1.2"),
    Verdict.TOO_TIGHT: _Style("#D55E00", "#F9E1D2", 0.8, "0.9 0.9"),
}


def outline_style(verdict: Verdict) -> dict[str, str | float]:
    """Return the attributes a stem of this verdict is drawn with."""
    style = STYLES[verdict]
    dashes = {"stroke_dasharray": style.dashes} if style.dashes else {}
    return {"fill": style.fill, "stroke": style.line, "stroke_width": style.width, **dashes}


def stem_numbers(pattern: Pattern) -> dict[str, int]:
    """Return the number of each stem: its turn among the stems in the order of laying."""
    stems = {piece.stem for piece in pattern.pieces}
    return {name: k for k, name in enumerate((n for n in pattern.order if n in stems), start=1)}


@dataclass(frozen=True, slots=True)
class Marks:
    """Where marks go, in mm on the drawing.

    Attributes
    ----------
    numbers
        The label of each stem's number.
    spots
        Each tight spot with its piece and its label.
    unplaced
        What there was no room to write: words for the foot of the sheet.
    """

    numbers: dict[str, Label]
    spots: tuple[tuple[Piece, TightSpot, Label | None], ...]
    unplaced: tuple[str, ...]


def placed_marks(pattern: Pattern, unit: str = "in") -> Marks:
    """Find room for all labels, clear of every line and of one another.

    A number sits on its stem where that is wide enough and seen; else beside it, with a leader.
    """
    import shapely

    numbers = stem_numbers(pattern)
    pieces = {piece.stem: piece for piece in pattern.pieces}
    lines = [shapely.LineString(c.flattened(_FINE)) for c in _drawn_curves(pattern)]
    stretches = [stretch for piece in pattern.pieces for stretch in _tight_stretches(piece)]
    lines += [shapely.LineString(c.flattened(_FINE)).buffer(_SPOT_LINE) for c in stretches]
    lines += [shapely.Point(s.bend.point).buffer(1.5 * _RING) for p in pattern.pieces for s in p.check.spots]
    bands = [piece.finished.polygon for piece in pattern.pieces]
    placer = LabelPlacer((0, 0, *pattern.drawing.size), lines, bands)
    spots = tuple(
        (
            piece,
            spot,
            placer.beside(_spot_lines(piece, spot, numbers, unit), BODY, spot.bend.point, bold=True),
        )
        for piece in pattern.pieces
        for spot in piece.check.spots
    )
    found = {
        name: _number_label(pieces[name], str(k), placer, _seen(pattern, name)) for name, k in numbers.items()
    }
    unplaced = [f"{numbers[name]} is {name}" for name, label in found.items() if label is None]
    unplaced += [", ".join(_spot_lines(p, spot, numbers, unit)) for p, spot, label in spots if label is None]
    return Marks({name: label for name, label in found.items() if label is not None}, spots, tuple(unplaced))


def _drawn_curves(pattern: Pattern) -> list[Curve]:
    outlines = [piece.finished for piece in pattern.pieces]
    outlines += [piece.cutting for piece in pattern.pieces if piece.strip_length is None]
    curves = [curve for outline in outlines for curve in (outline.exterior, *outline.holes)]
    curves += [motif.outline for motif in pattern.drawing.motifs]
    return curves if pattern.drawing.frame is None else [*curves, pattern.drawing.frame.outline]


def _tight_stretches(piece: Piece) -> list[Curve]:
    return [piece.centreline.section(s.start, s.end) for s in piece.check.spots if s.start != s.end]


def _seen(pattern: Pattern, name: str) -> Any:
    """Return the part of a stem that nothing laid later hides."""
    import shapely

    pieces = {piece.stem: piece for piece in pattern.pieces}
    motifs = {motif.name: motif for motif in pattern.drawing.motifs}
    later = pattern.order[pattern.order.index(name) + 1 :]
    covers = [pieces[n].finished.polygon for n in later if n in pieces]
    covers += [
        shapely.make_valid(shapely.Polygon(motifs[n].outline.flattened(_FINE))) for n in later if n in motifs
    ]
    own = pieces[name].finished.polygon
    return shapely.difference(own, shapely.union_all([cover for cover in covers if cover.intersects(own)]))


def _number_label(piece: Piece, number_text: str, placer: LabelPlacer, seen: Any) -> Label | None:
    import shapely

    curve = piece.centreline
    shares = sorted((k / 40 for k in range(2, 39)), key=lambda share: abs(share - 0.5))
    s = np.array(shares) * curve.length
    points = curve.point_at(s)
    visible = [(float(x), float(y)) for x, y in points[shapely.intersects_xy(seen, points)]]
    # The centreline is no obstacle: it is interrupted where a number stands on it.
    size = min(_NUMBER, piece.check.width * 0.5)
    label = placer.on_place(number_text, size, visible) if size >= _SMALLEST else None
    if label is not None:
        return label
    # Well inside of what is seen of the stem, a leader cannot be taken to point at a neighbour.
    across = curve.tangent_at(s)[:, ::-1] * (-1, 1) * piece.check.width / 4
    points = np.concatenate([points, points - across, points + across])
    depth = shapely.distance(seen.boundary, shapely.points(points)).round(1)
    x, y = points[np.argmax(np.where(shapely.intersects_xy(seen, points), depth, -1))]
    return placer.beside([number_text], _NUMBER, (float(x), float(y)))


def _spot_lines(piece: Piece, spot: TightSpot, numbers: dict[str, int], unit: str) -> list[str]:
    radius = length_text(spot.bend.radius, unit, "down")
    least = piece.check.least_radius
    needs = "goes straight only" if math.isinf(least) else f"needs {length_text(least, unit, 'up')}"
    return [f"{numbers[piece.stem]} · {piece.stem}: too tight", f"radius {radius}, {needs}"]


def marks(pattern: Pattern, unit: str) -> tuple[list[str], tuple[str, ...]]:
    """Return the marks as SVG elements in mm on the drawing, and what there was no room to write."""
    placed = placed_marks(pattern, unit)
    parts = [
        tight_line(stretch.to_svg_path(3), data_stem=piece.stem)
        for piece in pattern.pieces
        for stretch in _tight_stretches(piece)
    ]
    for piece, spot, label in placed.spots:
        if label is not None:
            parts += _label(label, weight="bold")
        parts.append(tight_ring(*spot.bend.point, data_stem=piece.stem))
    for name, label in placed.numbers.items():
        if label.leader is None:
            wide, high = (label.box[k + 2] - label.box[k] for k in (0, 1))
            x, y = label.anchor
            fill = STYLES[pattern[name].check.verdict].fill
            parts.append(element("ellipse", cx=x, cy=y, rx=wide / 2, ry=high / 2, fill=fill))
        else:
            x, y = label.anchor
            parts.append(element("circle", cx=x, cy=y, r=0.45, fill=INK))
        parts += _label(label)
    return parts, placed.unplaced


def tight_line(d: str, **attributes: str) -> str:
    """Return the line along a tight spot."""
    return path(d, stroke=STYLES[Verdict.TOO_TIGHT].line, stroke_width=_SPOT_LINE, **attributes)


def tight_ring(x: float, y: float, **attributes: str) -> str:
    """Return the ring round the tightest point of a tight spot."""
    style: dict[str, str | float] = {"fill": "#FFFFFF", "stroke": STYLES[Verdict.TOO_TIGHT].line}
    return element("circle", cx=x, cy=y, r=_RING, stroke_width=0.5, **style, **attributes)


def _label(label: Label, weight: str = "normal") -> list[str]:
    parts = []
    xmin, ymin, xmax, ymax = label.box
    x, anchor = (xmin + xmax) / 2, "middle"
    if label.leader is not None:
        parts.append(line(label.leader, stroke_width=0.2))
        # The box is as wide as the text may be; it starts or ends where the leader comes to it.
        foot = label.leader[1][0]
        if foot <= xmin:
            x, anchor = xmin + CLEAR, "start"
        elif foot >= xmax:
            x, anchor = xmax - CLEAR, "end"
    high = 1.3 * label.size * len(label.lines) - 0.3 * label.size
    # Letters reach from the baseline up to about 0.73 of their size, and a little below it.
    y = (ymin + ymax) / 2 - high / 2 + 0.87 * label.size
    parts.append(text(label.lines, x, y, label.size, text_anchor=anchor, font_weight=weight))
    return parts
