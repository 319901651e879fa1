"""A pattern as values for other programs: comma-separated rows, and JSON."""

from __future__ import annotations

import csv
import io
import json
import math
from typing import TYPE_CHECKING, Any, Final

from bias_drafting.curve.path_text import number
from bias_drafting.pattern.table import piece_row

if TYPE_CHECKING:
    from bias_drafting.pattern.pattern import Pattern

__all__ = ["JSON_VERSION", "pattern_csv", "pattern_json", "pattern_values"]

JSON_VERSION: Final = 1
# A spreadsheet takes a cell that starts so for a formula; a name in a drawing is never one.
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r", "\n")


def _cell(value: object) -> object:
    if value is None:
        return ""
    if isinstance(value, str):
        return f"'{value}" if value.startswith(_FORMULA) else value
    if isinstance(value, float):
        return number(value)
    return value


def pattern_csv(pattern: Pattern) -> str:
    """Return one row for each stem, lengths in mm to 0.0001, units in the column names.

    Empty where there is no limit, no strip, no cover. A text that a spreadsheet would take for a formula gets an
    apostrophe before it.
    """
    rows = [piece_row(pattern, piece) for piece in pattern.pieces]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")  # RFC 4180
    writer.writerow(rows[0])
    writer.writerows([_cell(value) for value in row.values()] for row in rows)
    return out.getvalue()


def pattern_values(pattern: Pattern) -> dict[str, Any]:
    """Return the pattern as plain values, as they are written to JSON.

    Keys, version 1; every length is in mm, every point is ``[x, y]`` on the drawing, y down:

    - ``format`` ``"bias_drafting pattern"``, ``version`` 1
    - ``drawing``: ``source``, ``size_mm``
    - ``passes``: whether every stem goes round its bends
    - ``stems``: for each stem, in the order of drawing, the columns of the CSV, and ``tight_spot_list``
      (``start_mm``, ``end_mm``, ``radius_mm``, ``excess_mm``, ``point``), and as SVG path data in mm ``centreline``,
      ``finished``, ``cutting`` and ``template`` (null for strips); ``least_radius_mm`` and ``excess_mm`` are null
      where no bend at all will do
    - ``order``: names in the order of laying
    - ``crossings``: ``over``, ``under``, ``over_at_mm``, ``under_at_mm``, ``point``, ``angle_deg``
    - ``bias``: ``cut_width_mm``, ``length_mm`` for each cut width
    - ``notes``: ``element``, ``line``, ``what``, ``why``
    """
    return {
        "format": "bias_drafting pattern",
        "version": JSON_VERSION,
        "drawing": {"source": pattern.drawing.source, "size_mm": list(pattern.drawing.size)},
        "passes": pattern.passes,
        "stems": [_stem_values(pattern, k) for k in range(len(pattern.pieces))],
        "order": list(pattern.order),
        "crossings": [
            {
                "over": c.over,
                "under": c.under,
                "over_at_mm": c.s_over,
                "under_at_mm": c.s_under,
                "point": list(c.point),
                "angle_deg": c.angle,
            }
            for c in pattern.crossings
        ],
        "bias": [{"cut_width_mm": w, "length_mm": total} for w, total in pattern.bias_length.items()],
        "notes": [
            {"element": n.element, "line": n.line, "what": n.what, "why": n.why} for n in pattern.notes
        ],
    }


def _stem_values(pattern: Pattern, k: int) -> dict[str, Any]:
    piece = pattern.pieces[k]
    spots = [
        {
            "start_mm": spot.start,
            "end_mm": spot.end,
            "radius_mm": spot.bend.radius,
            "excess_mm": spot.excess if math.isfinite(spot.excess) else None,
            "point": list(spot.bend.point),
        }
        for spot in piece.check.spots
    ]
    return {
        **piece_row(pattern, piece),
        "tight_spot_list": spots,
        "centreline": piece.centreline.to_svg_path(),
        "finished": piece.finished.to_svg_path(),
        "cutting": piece.cutting.to_svg_path(),
        "template": None if piece.template is None else piece.template.to_svg_path(),
    }


def pattern_json(pattern: Pattern) -> str:
    """Return :func:`pattern_values` as JSON text."""
    return json.dumps(pattern_values(pattern), indent=1, ensure_ascii=False, allow_nan=False) + "\n"
