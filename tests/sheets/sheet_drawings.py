"""Drawings for the tests of the sheets, drafted and written once each, and the widths of real letters."""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET
from functools import cache
from typing import Any

import bias_drafting as bd
from bias_drafting.sheets.marks import Marks, placed_marks
from bias_drafting.sheets.svg import pattern_svg

# Advance widths of the letters from " " to "~" in DejaVu Sans 2.37 and its bold face, in thousandths of the letter
# height (table hmtx of the published fonts). Viewers on Linux take it for "sans-serif"; it is the widest of those
# that common systems take.
_REGULAR = (
    318, 401, 460, 838, 636, 950, 780, 275, 390, 390, 500, 838, 318, 361, 318, 337, 636, 636, 636, 636,
    636, 636, 636, 636, 636, 636, 337, 337, 838, 838, 838, 531, 1000, 684, 686, 698, 770, 632, 575, 775,
    752, 295, 295, 656, 557, 863, 748, 787, 603, 787, 695, 635, 611, 732, 684, 989, 685, 611, 685, 390,
    337, 390, 838, 500, 500, 613, 635, 550, 635, 615, 352, 635, 634, 278, 278, 579, 278, 974, 634, 612,
    635, 635, 411, 521, 392, 634, 592, 818, 592, 592, 525, 636, 337, 636, 838,
)  # fmt: skip
_BOLD = (
    348, 456, 521, 838, 696, 1002, 872, 306, 457, 457, 523, 838, 380, 415, 380, 365, 696, 696, 696, 696,
    696, 696, 696, 696, 696, 696, 400, 400, 838, 838, 838, 580, 1000, 774, 762, 734, 830, 683, 683, 821,
    837, 372, 372, 775, 637, 995, 837, 850, 733, 850, 770, 720, 682, 812, 774, 1103, 771, 724, 725, 457,
    365, 457, 838, 500, 500, 675, 716, 593, 716, 678, 435, 716, 712, 343, 343, 665, 343, 1042, 712, 687,
    716, 716, 493, 595, 478, 712, 652, 924, 645, 652, 582, 712, 365, 712, 838,
)  # fmt: skip


def real_width(text: str, *, bold: bool = False) -> float:
    """Return how wide text is in DejaVu Sans, in letter heights; other than ASCII letters count 1.3."""
    table = _BOLD if bold else _REGULAR
    return sum(table[ord(c) - 32] / 1000 if " " <= c <= "~" else 0.38 if c == "·" else 1.3 for c in text)


def _svg(width: float, height: float, stems: str, motifs: str = "", frame: str = "", over: str = "") -> str:
    drawn = 'fill="none" stroke="green" stroke-width="6"'
    return (
        f'<svg width="{width}mm" height="{height}mm" viewBox="0 0 {width} {height}">'
        f'<g id="frame" fill="none" stroke="grey">{frame}</g><g id="stems" {drawn}>{stems}</g>'
        f'<g id="motifs" fill="pink" stroke="red">{motifs}</g><g id="vines" {drawn}>{over}</g></svg>'
    )


def _hop_poles() -> str:
    """60 stems, ten to a row: straight, gently bent, or with a tight hook."""
    kinds = ("l30 12", "c10 -6 20 -6 30 2", "l28 -9", "l20 4c8 2 11 6 7 12", "l31 3")
    stems = "".join(
        f'<path id="hop-{k + 1}" d="M{12 + k % 10 * 42} {15 + k // 10 * 45}{kinds[k * 7 % 5]}"/>'
        for k in range(60)
    )
    return _svg(440, 280, stems, frame='<rect id="edge" x="3" y="3" width="434" height="274"/>')


def _pea_curls() -> str:
    """Several tight spots on one stem, corners, a tight ring, a loop over itself."""
    stems = (
        '<path id="pea-zigzag" d="M20 60l30 -40l30 40l30 -40l30 40"/>'
        '<path id="pea-ring" d="M60 110a14 14 0 1 0 28 0a14 14 0 1 0 -28 0z"/>'
        '<path id="pea-loop" d="M110 130C190 130 190 80 150 80S110 130 190 130"/>'
    )
    edge = '<rect id="edge" x="2" y="2" width="196" height="146"/>'
    return _svg(200, 150, stems, '<circle id="berry-1" cx="20" cy="62" r="9"/>', edge)


def _cress() -> str:
    """Much smaller than the page, no frame, and no room for words."""
    return _svg(40, 20, '<path id="cress" d="M4 10q6 -9 12 0t12 0"/>')


def _pumpkin() -> str:
    """A stem that ends under a pumpkin, and vines drawn later that lie over another one and over each other."""
    motifs = '<circle id="pumpkin-1" cx="60" cy="60" r="25"/><circle id="pumpkin-2" cx="120" cy="90" r="18"/>'
    over = '<path id="vine-1" d="M85 80C110 70 130 95 155 95"/><path id="vine-2" d="M135 20C120 60 115 80 125 115"/>'
    return _svg(160, 120, '<path id="stalk" d="M10 15C20 30 30 45 50 58"/>', motifs, over=over)


_INVENTED = {"hop-poles": _hop_poles, "pea-curls": _pea_curls, "cress": _cress, "pumpkin": _pumpkin}


@cache
def _drawing(name: str) -> bd.Drawing:
    return bd.read_drawing(io.StringIO(_INVENTED[name]())) if name in _INVENTED else bd.read_sample(name)


@cache
def _pattern(name: str, width: str, making: str, off_bias: float) -> bd.Pattern:
    return bd.draft_pattern(_drawing(name), width=width, making=making, off_bias=off_bias)


@cache
def _marks(*asked: Any) -> Marks:
    return placed_marks(_pattern(*asked))


@cache
def _page(unit: str, *asked: Any) -> ET.Element:
    return ET.fromstring(pattern_svg(_pattern(*asked), unit))


def drafted(
    name: str, width: str = "1/4 in", making: str = "folded-strip", off_bias: float = 0.0
) -> bd.Pattern:
    """Return the pattern of a sample or an invented drawing, by name."""
    return _pattern(name, width, making, off_bias)


def placed(name: str, width: str = "1/4 in", making: str = "folded-strip", off_bias: float = 0.0) -> Marks:
    """Return where the labels of that pattern are placed."""
    return _marks(name, width, making, off_bias)


def page(
    name: str, unit: str = "in", width: str = "1/4 in", making: str = "folded-strip", off_bias: float = 0.0
) -> ET.Element:
    """Return the sheet of that pattern as an element."""
    return _page(unit, name, width, making, off_bias)
