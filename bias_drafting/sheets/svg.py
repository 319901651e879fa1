"""The pattern as one true-size SVG page: the placement picture, what to cut, and how to check the print."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final
from xml.sax.saxutils import escape

from bias_drafting.cloth.bend import Verdict
from bias_drafting.curve.path_text import number
from bias_drafting.pattern.table import CAUTION_LINE, grain_lines, length_text, totals_lines
from bias_drafting.sheets.cut_list import cut_list
from bias_drafting.sheets.labels import text_width, wrapped
from bias_drafting.sheets.marks import BODY, marks, outline_style, stem_numbers, tight_line, tight_ring
from bias_drafting.sheets.markup import (
    CENTRELINE,
    CUT_LINE,
    clean,
    element,
    group,
    line,
    path,
    rectangle,
    text,
)
from bias_drafting.units import format_width

if TYPE_CHECKING:
    from bias_drafting.pattern.pattern import Pattern

__all__ = ["pattern_svg"]

MARGIN: Final = 12.0
_TITLE: Final = 6.0
# The narrowest page: room for the legend and the test squares side by side.
_NARROWEST: Final = 170.0
# Height of a row of the key.
_KEY_ROW: Final = 6.6


def pattern_svg(pattern: Pattern, unit: str = "in") -> str:
    """Return the pattern as one SVG document whose user unit is the millimetre, at true size.

    Layers, from below: ``finished-outlines`` (stems in the order of laying), ``drawing`` (frame, motifs and
    centrelines), ``cutting-outlines``, ``templates``, ``marks`` (numbers and tight spots) and ``sheet`` (title, key,
    test squares, cautions).
    """
    drawn_width, drawn_height = pattern.drawing.size
    width = max(drawn_width, _NARROWEST) + 2 * MARGIN
    top = MARGIN + _TITLE + 2.2 * BODY + 4
    left = MARGIN + (width - 2 * MARGIN - drawn_width) / 2
    marked, unplaced = marks(pattern, unit)
    head = _head(pattern, unit, width)
    below = top + drawn_height + 10
    key, key_height = _key(below, width)
    cuts = cut_list(pattern, stem_numbers(pattern), unit, MARGIN, below + key_height + 6, width - 2 * MARGIN)
    foot, foot_height = _foot(pattern, unit, unplaced, below + key_height + 6 + cuts.height + 4, width)
    height = below + key_height + 6 + cuts.height + 4 + foot_height + MARGIN
    place = f"translate({number(left)} {number(top)})"
    layers = [
        group(
            "finished-outlines",
            "Finished outlines, in the order of laying",
            _moved(place, _finished(pattern)),
        ),
        group("drawing", "The drawing: edge, motifs, centrelines", _moved(place, _drawing(pattern))),
        group("cutting-outlines", "What to cut", [*_moved(place, _cut_in_place(pattern)), *cuts.strips]),
        group("templates", "Paper templates, mirrored", cuts.templates),
        group("marks", "Numbers and tight spots", _moved(place, marked)),
        group("sheet", "Title, key, test squares, cautions", [*head, *key, *cuts.words, *foot]),
    ]
    ground = element("rect", width=width, height=height, fill="#FFFFFF")
    body = "\n".join(
        [
            element("title", escape(clean(pattern.drawing.source))),
            ground,
            *layers,
        ]
    )
    size = f'width="{number(width)}mm" height="{number(height)}mm" viewBox="0 0 {number(width)} {number(height)}"'
    fonts = 'font-family="sans-serif"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size} {fonts}>\n{body}\n</svg>\n'


def _moved(place: str, children: list[str]) -> list[str]:
    return [element("g", "\n  " + "\n  ".join(children) + "\n  ", transform=place)] if children else []


def _finished(pattern: Pattern) -> list[str]:
    """Draw stems in the order of laying; motifs between them only cover, and let what is tucked shimmer through."""
    stems = {
        piece.stem: path(
            piece.finished.to_svg_path(3),
            data_stem=piece.stem,
            fill_rule="evenodd",
            **outline_style(piece.check.verdict),
        )
        for piece in pattern.pieces
    }
    covers = {
        motif.name: path(
            motif.outline.to_svg_path(3),
            data_cover=motif.name,
            fill="#FFFFFF",
            fill_opacity=0.82,
            stroke="none",
        )
        for motif in pattern.drawing.motifs
    }
    return [{**covers, **stems}[name] for name in pattern.order]


def _drawing(pattern: Pattern) -> list[str]:
    drawing = pattern.drawing
    parts = [path(p.centreline.to_svg_path(3), data_centreline=p.stem, **CENTRELINE) for p in pattern.pieces]
    parts += [
        path(m.outline.to_svg_path(3), data_motif=m.name, stroke="#555555", stroke_width=0.2)
        for m in drawing.motifs
    ]
    if drawing.frame is not None:
        parts.append(path(drawing.frame.outline.to_svg_path(3), stroke="#555555", stroke_width=0.5))
    return parts


def _cut_in_place(pattern: Pattern) -> list[str]:
    """Cutting outlines that follow the stem are shown where it lies."""
    return [
        path(piece.cutting.to_svg_path(3), data_stem=piece.stem, **CUT_LINE)
        for piece in pattern.pieces
        if piece.strip_length is None
    ]


# Title, key and foot


def _head(pattern: Pattern, unit: str, width: float) -> list[str]:
    drawing = pattern.drawing
    tight = sum(not check.passes for check in pattern.checks)
    verdict = "every stem goes round its bends" if not tight else f"{tight} too tight: see the marked bends"
    widths = ", ".join(dict.fromkeys(format_width(check.width, unit) for check in pattern.checks))
    makings = ", ".join(dict.fromkeys(check.making.name for check in pattern.checks))
    sides, what = drawing.size, "page"
    if drawing.frame is not None:
        x0, y0, x1, y1 = drawing.frame.outline.bounds
        sides, what = (x1 - x0, y1 - y0), "block"
    size = " x ".join(length_text(side, unit) for side in sides)
    stems = "1 stem" if len(pattern.pieces) == 1 else f"{len(pattern.pieces)} stems"
    under = f"{what} {size}; {stems}, {makings}, finished {widths}; {verdict}"
    name = clean(drawing.source).removesuffix(".svg")
    room = width - 2 * MARGIN
    large = _TITLE * min(1.0, room / max(text_width(name, _TITLE, bold=True), 1.0))
    small = BODY * min(1.0, room / text_width(under, BODY))
    return [
        text([name], MARGIN, MARGIN + large * 0.8, large, font_weight="bold"),
        text([under], MARGIN, MARGIN + _TITLE + 1.6 * BODY, small),
    ]


def _key(top: float, width: float) -> tuple[list[str], float]:
    """Return the key to the lines and the two test squares, and their height."""
    parts = [text(["Lines"], MARGIN, top + BODY, BODY, font_weight="bold")]
    y = top + 2.3 * BODY
    for sample, meaning in _key_rows(y):
        parts += [*sample, text([meaning], MARGIN + 19, y + 3.6, BODY)]
        y += _KEY_ROW
    right = width - MARGIN
    parts.append(rectangle(right - 50, top, 50, 50))
    parts.append(text(["5 cm"], right - 25, top + 26, BODY, text_anchor="middle"))
    parts.append(rectangle(right - 50 - 6 - 25.4, top, 25.4, 25.4))
    parts.append(text(["1 in"], right - 56 - 12.7, top + 13.7, BODY, text_anchor="middle"))
    advice = ["Print at 100 %,", "no fitting to the page.", "Measure both squares", "before you cut."]
    parts.append(text(advice, right - 56 - 12.7, top + 32, 2.8, text_anchor="middle"))
    return parts, max(y - top, 50.0) + 2


def _key_rows(y: float) -> list[tuple[list[str], str]]:
    """Return the samples of the key, each drawn where its row falls, with their meanings."""
    words = {
        Verdict.LIES_FLAT: "lies flat",
        Verdict.NEEDS_EASING: "needs easing: steam its inner edge",
        Verdict.TOO_TIGHT: "too tight at this width",
    }
    rows: list[tuple[list[str], str]] = []
    for verdict, meaning in words.items():
        sample = rectangle(MARGIN, y + len(rows) * _KEY_ROW, 16, 5, **outline_style(verdict))
        rows.append(([sample], meaning))
    tight, cut, middle, numbers = (y + k * _KEY_ROW + 2.5 for k in range(3, 7))
    stretch = tight_line(f"M{number(MARGIN)} {number(tight)}h16")
    rows.append(([stretch, tight_ring(MARGIN + 8, tight)], "tight bend, ringed where tightest"))
    rows.append(([line([(MARGIN, cut), (MARGIN + 16, cut)], **CUT_LINE)], "cut here"))
    rows.append(([line([(MARGIN, middle), (MARGIN + 16, middle)], **CENTRELINE)], "centreline, as drawn"))
    sample = text(["1, 2, 3"], MARGIN + 8, numbers + 1.1, BODY, text_anchor="middle")
    rows.append(([sample], "order of laying the stems"))
    return rows


def _foot(
    pattern: Pattern, unit: str, unplaced: tuple[str, ...], top: float, width: float
) -> tuple[list[str], float]:
    """Return totals, tight spots, notes and cautions as wrapped text, and their height."""
    blocks = [("In all", [*totals_lines(pattern, unit), *grain_lines(pattern)])]
    tight = [f"{check.stem}: {check.advice_in(unit)}" for check in pattern.checks if not check.passes]
    blocks.append(("Too tight", tight))
    blocks.append(("No room to write on the picture", list(unplaced)))
    for making, w in dict.fromkeys((check.making, check.width) for check in pattern.checks):
        steps = [f"{k}. {step}" for k, step in enumerate(making.steps(w), start=1)]
        blocks.append((f"Steps: {making.name}, {format_width(w, unit)} finished", steps))
    blocks.append(("Notes", [str(note) for note in pattern.notes]))
    cautions = dict.fromkeys(line for check in pattern.checks for line in check.making.cautions())
    blocks.append(("Take care", [*cautions] or [CAUTION_LINE]))
    parts, y = [], top
    for heading, sentences in blocks:
        if not sentences:
            continue
        parts.append(text([heading], MARGIN, y + BODY, BODY, font_weight="bold"))
        y += 1.6 * BODY
        for sentence in sentences:
            lines = wrapped(clean(sentence), BODY, width - 2 * MARGIN)
            parts.append(text(lines, MARGIN, y + BODY, BODY))
            y += 1.3 * BODY * len(lines) + 0.3 * BODY
        y += 0.9 * BODY
    return parts, math.ceil(y - top)
