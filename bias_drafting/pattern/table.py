"""A pattern as rows: a table to read, an HTML table for a notebook, plain mappings for files."""

from __future__ import annotations

import math
from html import escape
from typing import TYPE_CHECKING, Any, Final

from bias_drafting.errors import LengthError
from bias_drafting.units import format_length, format_width, to_mm

if TYPE_CHECKING:
    from bias_drafting.cloth.bend import StemCheck
    from bias_drafting.pattern.pattern import Pattern
    from bias_drafting.pattern.piece import Piece

__all__ = [
    "CAUTION_LINE",
    "grain_lines",
    "html_table",
    "length_text",
    "pattern_table",
    "piece_row",
    "radius_texts",
    "totals_lines",
]

# Parts of a unit that lengths are rounded to: eighths of an inch, whole millimetres.
_STEP: Final = {"in": 8, "mm": 1}
# Widths that pass are rounded down to what a ruler shows.
_WIDTH_STEP: Final = {"in": 16, "mm": 2}

_HEADINGS: Final = (
    "stem", "finished", "made as", "length", "cut", "tightest bend", "least radius", "verdict", "passes up to"
)  # fmt: skip

CAUTION_LINE: Final = (
    "Rotary cutters, irons, steam, pins and needles can hurt: follow their makers' instructions and local rules, "
    "count pins and needles back, and keep small parts from children."
)


def length_text(mm: float, unit: str, rounding: str = "nearest") -> str:
    """Return a length as the tables write it: to 1/8 in, or to 1 mm."""
    return format_length(mm, unit, _STEP[unit], rounding)


def _check_unit(unit: str) -> None:
    if unit not in _STEP:
        msg = f"tables are in 'in' or 'mm', not {unit!r}"
        raise LengthError(msg)


def _bend(check: StemCheck, unit: str) -> str:
    if math.isinf(check.tightest.radius):
        return "straight"
    return f"radius {radius_texts(check, unit)[0]} at {length_text(check.tightest.s, unit)}"


def _widest(check: StemCheck, unit: str) -> str:
    if math.isinf(check.widest):
        return "any"
    text = format_length(check.widest, unit, _WIDTH_STEP[unit], "down")
    return "none" if text in ("0 in", "0.0 mm") else text


def _least(check: StemCheck, unit: str) -> str:
    return radius_texts(check, unit)[1]


def radius_texts(check: StemCheck, unit: str) -> tuple[str, str]:
    """Return the tightest radius, rounded down, and the least radius, rounded up.

    To 1/8 in or 1 mm; finer where a stem that passes would look as if it did not.
    """
    if math.isinf(check.least_radius):
        return length_text(check.tightest.radius, unit, "down"), "no bend"
    step = _STEP[unit]
    for _ in range(6):
        # A radius drawn as a whole inch comes out short by the last of seven figures: that is no reason for 7/8.
        shown = format_length(check.tightest.radius * (1 + 1e-6), unit, step, "down")
        least = format_length(check.least_radius, unit, step, "up")
        if not check.passes or to_mm(shown) >= to_mm(least):
            break
        step *= 2 if unit == "in" else 10
    return shown, least


def _cells(piece: Piece, unit: str) -> tuple[str, ...]:
    check = piece.check
    cut = "to its outline"
    if piece.strip_length is not None:
        cut = f"{format_width(piece.cut_width, unit)} x {length_text(piece.strip_length, unit, 'up')}"
    least = "-" if math.isinf(check.tightest.radius) else _least(check, unit)
    return (
        piece.stem,
        format_width(check.width, unit),
        check.making.name,
        length_text(check.length, unit),
        cut,
        _bend(check, unit),
        least,
        check.verdict.value,
        _widest(check, unit),
    )


def totals_lines(pattern: Pattern, unit: str) -> list[str]:
    """Return a line for each cut width: how much bias it takes in all."""
    return [
        f"Bias to cut {format_width(width, unit)} wide: {length_text(total, unit, 'up')} in all, "
        "before joins and waste"
        for width, total in pattern.bias_length.items()
    ]


def _title(pattern: Pattern, unit: str) -> list[str]:
    width, height = pattern.drawing.size
    size = f"{length_text(width, unit).removesuffix(f' {unit}')} x {length_text(height, unit)}"
    clothes = dict.fromkeys(check.cloth for check in pattern.checks)
    described = [f"{c.name} (stretches {c.stretch:.3g}, eases {c.ease:.3g} on the bias)" for c in clothes]
    return [
        f"{pattern.drawing.source}: {size}, {len(pattern.pieces)} stem{'s' * (len(pattern.pieces) != 1)}",
        f"Cloth: {'; '.join(described)}",
    ]


def grain_lines(pattern: Pattern) -> list[str]:
    """Return a line for each angle off the true bias that strips are cut at, and one for what needs no bias."""
    angles: dict[float, list[str]] = {}
    for piece in pattern.pieces:
        if piece.strip_length is not None and piece.check.off_bias != 0:
            angles.setdefault(abs(piece.check.off_bias), []).append(piece.stem)
    lines = [
        f"Cut {angle:g} degrees off the true bias: {', '.join(names)}" for angle, names in angles.items()
    ]
    straight = [p.stem for p in pattern.pieces if p.strip_length is not None and math.isinf(p.check.widest)]
    if straight:
        lines.append(f"Straight, so they may be cut on the straight grain instead: {', '.join(straight)}")
    return lines


def _tight_lines(pattern: Pattern, unit: str) -> list[str]:
    tight = [check for check in pattern.checks if not check.passes]
    if not tight:
        return ["Every stem goes round its bends."]
    many = "1 stem is" if len(tight) == 1 else f"{len(tight)} stems are"
    return [f"{many} too tight:", *(f"  {check.stem}: {check.advice_in(unit)}" for check in tight)]


def pattern_table(pattern: Pattern, unit: str = "in") -> str:
    """Return the pattern as lines of text, columns aligned; see :meth:`Pattern.table`."""
    _check_unit(unit)
    rows = [_HEADINGS, *(_cells(piece, unit) for piece in pattern.pieces)]
    widths = [max(len(row[k]) for row in rows) for k in range(len(_HEADINGS))]
    lines = ["  ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)).rstrip() for row in rows]
    lines.insert(1, "  ".join("-" * w for w in widths))
    parts = [
        _title(pattern, unit),
        lines,
        [*totals_lines(pattern, unit), *grain_lines(pattern)],
        _tight_lines(pattern, unit),
    ]
    if pattern.notes:
        parts.append([f"Notes ({len(pattern.notes)}):", *(f"  {note}" for note in pattern.notes)])
    parts.append([CAUTION_LINE])
    return "\n\n".join("\n".join(part) for part in parts if part)


def html_table(pattern: Pattern, unit: str = "in") -> str:
    """Return the pattern as an HTML table with its totals."""
    _check_unit(unit)
    head = "".join(f"<th>{escape(cell)}</th>" for cell in _HEADINGS)
    body = "".join(
        "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in _cells(piece, unit)) + "</tr>"
        for piece in pattern.pieces
    )
    below = [
        *totals_lines(pattern, unit),
        *grain_lines(pattern),
        *_tight_lines(pattern, unit),
        *map(str, pattern.notes),
    ]
    lines = "".join(f"<p>{escape(line)}</p>" for line in below)
    caption = " - ".join(escape(line) for line in _title(pattern, unit))
    return f"<table><caption>{caption}</caption><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>{lines}"


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def piece_row(pattern: Pattern, piece: Piece) -> dict[str, Any]:
    """Return one stem as a plain mapping: lengths in mm, None where there is no limit or no strip."""
    check, tightest = piece.check, piece.check.tightest
    covered = {tuck.end: tuck.under for tuck in piece.tucks}
    return {
        "stem": piece.stem,
        "verdict": check.verdict.value,
        "finished_width_mm": check.width,
        "making": check.making.key,
        "cloth": check.cloth.name,
        "off_bias_deg": check.off_bias,
        "length_mm": check.length,
        "cut_width_mm": piece.cut_width,
        "strip_length_mm": piece.strip_length,
        "tightest_radius_mm": _finite(tightest.radius),
        "tightest_at_mm": tightest.s,
        "tightest_x_mm": tightest.point[0],
        "tightest_y_mm": tightest.point[1],
        "inner_side": tightest.side,
        "least_radius_mm": _finite(check.least_radius),
        "widest_mm": _finite(check.widest),
        "tight_spots": len(check.spots),
        "start_under": covered.get("start"),
        "end_under": covered.get("end"),
        "start_added_mm": piece.ends[0],
        "end_added_mm": piece.ends[1],
        "laid": pattern.order.index(piece.stem) + 1,
        "advice": check.advice,
    }
