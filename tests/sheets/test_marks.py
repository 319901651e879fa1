"""The marks on the placement picture: how verdicts look, numbers, tight spots."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from itertools import combinations

import numpy as np
import pytest
import shapely
from sheet_drawings import drafted, page
from svgpathtools import parse_path

import bias_drafting as bd
from bias_drafting.sheets.marks import STYLES, marks, outline_style, placed_marks, stem_numbers
from bias_drafting.sheets.svg import pattern_svg

NS = "{http://www.w3.org/2000/svg}"

# M. Okabe, K. Ito, "Color Universal Design (CUD): how to make figures and presentations that are friendly to
# colorblind people", 2008, https://jfly.uni-koeln.de/color/ : the set of eight colours, RGB from 0 to 255.
OKABE_ITO = {
    "black": (0, 0, 0),
    "orange": (230, 159, 0),
    "sky blue": (86, 180, 233),
    "bluish green": (0, 158, 115),
    "yellow": (240, 228, 66),
    "blue": (0, 114, 178),
    "vermillion": (213, 94, 0),
    "reddish purple": (204, 121, 167),
}


def rgb(colour: str) -> tuple[int, int, int]:
    found = re.fullmatch(r"#([0-9A-F]{2})([0-9A-F]{2})([0-9A-F]{2})", colour)
    assert found is not None
    return int(found[1], 16), int(found[2], 16), int(found[3], 16)


def luminance(colour: str) -> float:
    """Return the relative luminance as WCAG 2.1 defines it (after IEC 61966-2-1)."""
    shares = np.array(rgb(colour)) / 255
    linear = np.where(shares <= 0.04045, shares / 12.92, ((shares + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_by_the_published_extremes() -> None:
    """WCAG 2.1: the contrast of black on white is 21, of a colour with itself 1."""
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)
    assert contrast("#D55E00", "#D55E00") == 1


def test_every_verdict_has_a_style_of_its_own() -> None:
    assert STYLES.keys() == set(bd.Verdict)
    for one, other in combinations(STYLES.values(), 2):
        # Seen without colour, the pattern of the line still tells them apart, and so does its width.
        assert one.dashes != other.dashes
        assert one.width != other.width
        assert one.line != other.line
        assert one.fill != other.fill


def test_colours_are_those_of_okabe_and_ito() -> None:
    colours = {verdict: rgb(style.line) for verdict, style in STYLES.items()}
    assert colours == {
        bd.Verdict.LIES_FLAT: OKABE_ITO["bluish green"],
        bd.Verdict.NEEDS_EASING: OKABE_ITO["blue"],
        bd.Verdict.TOO_TIGHT: OKABE_ITO["vermillion"],
    }


def test_lines_and_words_stand_out() -> None:
    """WCAG 2.1: 3 for graphical objects against what they touch (1.4.11), 4.5 for text (1.4.3)."""
    for style in STYLES.values():
        assert contrast(style.line, "#FFFFFF") >= 3
        assert contrast(style.line, style.fill) >= 3
        assert contrast("#222222", style.fill) >= 4.5
    # The worse the verdict, the bolder the line.
    widths = [STYLES[v].width for v in (bd.Verdict.LIES_FLAT, bd.Verdict.NEEDS_EASING, bd.Verdict.TOO_TIGHT)]
    assert widths == sorted(widths)


@pytest.mark.parametrize("name", ["bean-wreath", "hop-poles"])
def test_each_stem_is_drawn_in_the_style_of_its_verdict(name: str) -> None:
    pattern = drafted(name)
    seen = set()
    for path in page(name).iter(f"{NS}path"):
        stem = path.get("data-stem")
        if stem is None or path.get("fill-rule") is None:
            continue
        style = STYLES[pattern[stem].check.verdict]
        assert path.get("stroke") == style.line
        assert path.get("fill") == style.fill
        assert path.get("stroke-dasharray", "") == style.dashes
        assert float(path.get("stroke-width", "nan")) == style.width
        seen.add(pattern[stem].check.verdict)
    assert seen == {check.verdict for check in pattern.checks}
    assert seen == set(bd.Verdict) or name != "bean-wreath"


def test_key_shows_every_style_with_the_word_of_its_verdict() -> None:
    root = page("bean-wreath")
    samples = {r.get("stroke"): r for r in root.iter(f"{NS}rect") if r.get("stroke-dasharray", "") != "x"}
    for verdict, style in STYLES.items():
        sample = samples[style.line]
        assert {k.replace("_", "-"): str(v) for k, v in outline_style(verdict).items()}.items() <= (
            sample.attrib.items()
        )
        top, high = float(sample.get("y", "nan")), float(sample.get("height", "nan"))
        beside = [t.text or "" for t in root.iter(f"{NS}text") if top < float(t.get("y", "nan")) < top + high]
        assert any(text.startswith(verdict.value) for text in beside)
    words = " ".join(t.text or "" for t in root.iter(f"{NS}text"))
    for meaning in ("cut here", "centreline", "tight bend, ringed", "order of laying"):
        assert meaning in words


def test_numbers_count_the_stems_in_the_order_of_laying() -> None:
    pattern = drafted("pumpkin")
    numbers = stem_numbers(pattern)
    assert sorted(numbers.values()) == [1, 2, 3]
    assert [n for n in pattern.order if n in numbers] == sorted(numbers, key=lambda name: numbers[name])


@pytest.mark.parametrize("name", ["bean-wreath", "herb-spray", "hop-poles", "pea-curls", "cress", "pumpkin"])
def test_every_stem_is_numbered_on_the_picture_or_in_the_foot(name: str) -> None:
    pattern = drafted(name)
    placed = placed_marks(pattern)
    numbers = stem_numbers(pattern)
    for stem, number in numbers.items():
        if stem in placed.numbers:
            assert placed.numbers[stem].lines == (str(number),)
        else:
            assert f"{number} is {stem}" in placed.unplaced
    words = [one.text or "" for part in marks(pattern, "in")[0] for one in ET.fromstring(part).iter("text")]
    assert set(words) >= {str(numbers[stem]) for stem in placed.numbers}


TIGHT = [("bean-wreath", "1/4 in"), ("bean-wreath", "1/2 in"), ("pea-curls", "1/4 in"), ("cress", "1/4 in")]


@pytest.mark.parametrize(("name", "width"), TIGHT)
def test_tight_spots_are_marked(name: str, width: str) -> None:
    pattern, root = drafted(name, width=width), page(name, width=width)
    [layer] = [g for g in root.findall(f"{NS}g") if g.get("id") == "marks"]
    colour = STYLES[bd.Verdict.TOO_TIGHT].line
    lines = [p for p in layer.iter(f"{NS}path") if p.get("stroke") == colour]
    rings = [c for c in layer.iter(f"{NS}circle") if c.get("stroke") == colour]
    spots = [(piece, spot) for piece in pattern.pieces for spot in piece.check.spots]
    assert len(spots) == len(rings) >= 1
    for piece, spot in spots:
        # A ring at the tightest point.
        away = [
            np.hypot(float(r.get("cx", 0)) - spot.bend.point[0], float(r.get("cy", 0)) - spot.bend.point[1])
            for r in rings
        ]
        assert min(away) <= 0.001
        assert rings[int(np.argmin(away))].get("data-stem") == piece.stem
        # A line along the stretch, from end to end on the centreline.
        along = [p for p in lines if p.get("data-stem") == piece.stem]
        ends = piece.centreline.point_at([spot.start, spot.end])
        found = [
            p
            for p in along
            if abs(parse_path(p.get("d", "")).start - complex(*ends[0])) < 0.01
            and abs(parse_path(p.get("d", "")).end - complex(*ends[1])) < 0.01
        ]
        assert len(found) == 1
        whole = piece.centreline.length
        length = whole if spot.end - spot.start == whole else (spot.end - spot.start) % whole
        assert parse_path(found[0].get("d", "")).length() == pytest.approx(length, abs=0.02)
        # Wide enough to be seen over the centreline.
        assert float(found[0].get("stroke-width", "nan")) >= 1
    assert len(lines) == len(spots)


@pytest.mark.parametrize("unit", ["in", "mm"])
@pytest.mark.parametrize(("name", "width"), TIGHT)
def test_tight_spots_are_named(name: str, width: str, unit: str) -> None:
    pattern = drafted(name, width=width)
    placed = placed_marks(pattern, unit)
    numbers = stem_numbers(pattern)
    assert len(placed.spots) == sum(len(check.spots) for check in pattern.checks)
    step = 25.4 / 8 if unit == "in" else 1.0
    for piece, spot, label in placed.spots:
        words = (
            " ".join(label.lines)
            if label
            else next(w for w in placed.unplaced if f"{piece.stem}: too tight" in w)
        )
        assert words.startswith(f"{numbers[piece.stem]} · {piece.stem}: too tight")
        found = re.search(r"radius (.+), needs (.+)$", words)
        assert found is not None
        # What it has is rounded down, what it needs up: never quietly kinder than the truth.
        if label is not None:
            assert bd.to_mm(found[1]) <= spot.bend.radius + 1e-6 < bd.to_mm(found[1]) + step + 2e-6
        assert bd.to_mm(found[2]) >= piece.check.least_radius - 1e-6 > bd.to_mm(found[2]) - step - 2e-6


def test_patterns_without_tight_spots_have_no_tight_marks() -> None:
    [layer] = [g for g in page("herb-spray").findall(f"{NS}g") if g.get("id") == "marks"]
    assert not [e for e in layer.iter() if e.get("stroke") == STYLES[bd.Verdict.TOO_TIGHT].line]


def test_a_tight_ring_is_marked_over_its_start() -> None:
    """A spot on a closed stem may run over its start; the line along it must run there too."""
    egg = bd.Curve.from_svg_path("M50 10C58 10 60 15 60 60S40 90 40 60S42 10 50 10Z")
    drawing = bd.Drawing("egg.svg", (100.0, 100.0), stems=(bd.Stem("egg", egg),))
    pattern = bd.draft_pattern(drawing, "6 mm")
    over = [spot for spot in pattern["egg"].check.spots if spot.end < spot.start]
    assert len(over) == 1
    root = ET.fromstring(pattern_svg(pattern))
    colour = STYLES[bd.Verdict.TOO_TIGHT].line
    paths = [
        p.get("d", "")
        for p in root.iter(f"{NS}path")
        if p.get("stroke") == colour and p.get("stroke-width") == "1.2"
    ]
    near = [
        shapely.Point(50, 10).distance(
            shapely.LineString([(z.real, z.imag) for z in map(parse_path(d).point, np.linspace(0, 1, 99))])
        )
        for d in paths
        if "h16" not in d
    ]
    assert min(near) < 0.05
