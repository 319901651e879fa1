"""The sheet as a file: its size, its layers, and whether what is drawn on it is what was drafted."""

from __future__ import annotations

import io
import math
import re
import xml.etree.ElementTree as ET
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely
from sheet_drawings import drafted, page, real_width
from svgpathtools import parse_path

import bias_drafting as bd
from bias_drafting.sheets import markup
from bias_drafting.sheets.svg import MARGIN, pattern_svg

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

NS = "{http://www.w3.org/2000/svg}"
LAYERS = ("finished-outlines", "drawing", "cutting-outlines", "templates", "marks", "sheet")
NAMES = ("bean-wreath", "herb-spray", "hop-poles", "pea-curls", "cress", "pumpkin")


def layer(root: ET.Element, name: str) -> ET.Element:
    [found] = [g for g in root.findall(f"{NS}g") if g.get("id") == name]
    return found


def shift(moved: ET.Element) -> NDArray[np.float64]:
    """Return the translation of a group that is moved and nothing else."""
    found = re.fullmatch(r"translate\((\S+) (\S+)\)", moved.get("transform", ""))
    assert found is not None
    return np.array([float(found[1]), float(found[2])])


def corners(d: str) -> NDArray[np.float64]:
    """Return all control points of path data, by svgpathtools, joined ends once for each segment."""
    points = [point for segment in parse_path(d) for point in segment.bpoints()]
    return np.array([[p.real, p.imag] for p in points])


def texts(root: ET.Element) -> Iterator[tuple[str, float, float, float, str, bool]]:
    """Yield each line of text: words, x, baseline, letter height, anchor, whether bold."""
    for one in root.iter(f"{NS}text"):
        size, anchor = float(one.get("font-size", "nan")), one.get("text-anchor", "start")
        bold = one.get("font-weight") == "bold"
        for line in one.findall(f"{NS}tspan") or [one]:
            yield (
                line.text or "",
                float(line.get("x", "nan")),
                float(line.get("y", "nan")),
                size,
                anchor,
                bold,
            )


def all_words(root: ET.Element) -> str:
    """Return all text without blanks: where a line or a long name is broken makes no difference."""
    return "".join("".join(text for text, *_ in texts(root)).split())


@pytest.mark.parametrize("name", NAMES)
def test_page_is_at_true_size(name: str) -> None:
    root = page(name)
    width, height = (re.fullmatch(r"([\d.]+)mm", root.get(side, "")) for side in ("width", "height"))
    assert width is not None
    assert height is not None
    # One user unit is one millimetre, upright and not scaled.
    assert root.get("viewBox") == f"0 0 {width[1]} {height[1]}"
    assert all(e.get("transform", "translate(").startswith("translate(") for e in root.iter())
    # The drawing with its margins fits on the page.
    assert float(width[1]) >= drafted(name).drawing.size[0] + 2 * MARGIN
    assert float(height[1]) > drafted(name).drawing.size[1] + 2 * MARGIN


@pytest.mark.parametrize("name", NAMES)
def test_layers_are_there_with_titles(name: str) -> None:
    root = page(name)
    groups = root.findall(f"{NS}g")
    assert tuple(g.get("id") for g in groups) == LAYERS
    titles = [(g[0].tag, (g[0].text or "").strip()) for g in groups]
    assert all(tag == f"{NS}title" and len(title) > 8 for tag, title in titles)
    assert len({title for _, title in titles}) == len(LAYERS)
    assert root[0].tag == f"{NS}title"
    assert root[0].text == drafted(name).drawing.source


@pytest.mark.parametrize("name", NAMES)
def test_test_squares(name: str) -> None:
    sheet = layer(page(name), "sheet")
    sides = {(r.get("width"), r.get("height")): r for r in sheet.findall(f"{NS}rect")}
    for side, words in (("25.4", "1 in"), ("50", "5 cm")):
        square = sides[side, side]
        x, y = float(square.get("x", "nan")), float(square.get("y", "nan"))
        # Its words stand inside of it.
        [(tx, ty)] = [(tx, ty) for text, tx, ty, *_ in texts(sheet) if text == words]
        assert x < tx < x + float(side)
        assert y < ty < y + float(side)


@pytest.mark.parametrize("name", [*NAMES, "turned"])
def test_finished_outlines_in_the_file_are_the_drafted_ones(name: str) -> None:
    name, making = ("pea-curls", "turned-template") if name == "turned" else (name, "folded-strip")
    pattern, root = drafted(name, making=making), page(name, making=making)
    [moved] = layer(root, "finished-outlines").findall(f"{NS}g")
    by = shift(moved)
    found = [p for p in moved.findall(f"{NS}path") if p.get("data-stem")]
    stems = [n for n in pattern.order if n in {piece.stem for piece in pattern.pieces}]
    assert [p.get("data-stem") for p in found] == stems
    for path in found:
        finished = pattern[path.get("data-stem", "")].finished
        drawn = corners(path.get("d", "")) + by
        exact = corners(finished.to_svg_path(9)) + by
        # Two cubics whose control points differ by so much nowhere differ by more.
        assert drawn.shape == exact.shape
        assert np.hypot(*(drawn - exact).T).max() <= 0.001
        # And the control points of to_svg_path are the outline's own.
        curves = (finished.exterior, *finished.holes)
        ends = np.concatenate([curve.controls[:, [0, 3]].reshape(-1, 2) for curve in curves])
        assert np.abs(exact[[0, -1]] - by - ends[[0, -1]]).max() < 1e-6
    # In the middle of the page, side by side.
    width = float(root.get("width", "0mm").removesuffix("mm"))
    assert by[0] == pytest.approx((width - pattern.drawing.size[0]) / 2, abs=1e-4)


@pytest.mark.parametrize("name", ["bean-wreath", "pumpkin", "pea-curls"])
def test_file_reads_back_as_a_drawing(name: str) -> None:
    pattern = drafted(name)
    text = pattern_svg(pattern)
    [moved] = layer(ET.fromstring(text), "finished-outlines").findall(f"{NS}g")
    by = shift(moved)
    # A bare path is called by its tag and number; the order of the file is the order of laying.
    drawing = bd.read_drawing(io.StringIO(text))
    outlines = [s for s in drawing.shapes if "finished-outlines" in s.layers and s.stroke_width is not None]
    stems = [n for n in pattern.order if n in {piece.stem for piece in pattern.pieces}]
    assert len(outlines) == len(stems)
    for shape, stem in zip(outlines, stems, strict=True):
        finished = pattern[stem].finished
        read = shape.curves[0]
        s = np.linspace(0, read.length, 400)
        boundary = shapely.LinearRing(finished.exterior.flattened(1e-5) + by)
        assert shapely.distance(boundary, shapely.points(read.point_at(s))).max() <= 0.001
        assert read.length == pytest.approx(finished.exterior.length, abs=0.02)
    ground = next(s for s in drawing.shapes if s.tag == "rect")
    assert ground.curves[0].bounds == pytest.approx((0, 0, *drawing.size))


@pytest.mark.parametrize("name", ["bean-wreath", "pumpkin"])
def test_the_drawing_itself_is_on_the_page(name: str) -> None:
    pattern, root = drafted(name), page(name)
    [moved] = layer(root, "drawing").findall(f"{NS}g")
    [finished] = layer(root, "finished-outlines").findall(f"{NS}g")
    assert np.array_equal(shift(moved), shift(finished))
    drawn = {p.get("data-motif") or p.get("data-centreline"): p.get("d", "") for p in moved}
    exact: dict[str | None, bd.Curve] = {m.name: m.outline for m in pattern.drawing.motifs}
    exact |= {s.name: s.centreline for s in pattern.drawing.stems}
    if pattern.drawing.frame is not None:
        exact[None] = pattern.drawing.frame.outline
    assert drawn.keys() == exact.keys()
    for key, curve in exact.items():
        difference = corners(drawn[key]) - corners(curve.to_svg_path(9))
        assert np.abs(difference).max() <= 0.00051


def test_picture_is_stacked_in_the_order_of_laying() -> None:
    pattern = drafted("pumpkin")
    [moved] = layer(page("pumpkin"), "finished-outlines").findall(f"{NS}g")
    stacked = [p.get("data-stem") or p.get("data-cover") for p in moved]
    assert tuple(stacked) == pattern.order
    # The vines were drawn over the pumpkin, the stalk ends under one: covers hide what is below and only that.
    assert stacked.index("pumpkin-2") < stacked.index("vine-1") < stacked.index("vine-2")
    assert stacked.index("stalk") < stacked.index("pumpkin-1")
    covers = [p for p in moved if p.get("data-cover")]
    assert all(p.get("fill") == "#FFFFFF" and float(p.get("fill-opacity", 0)) > 0.5 for p in covers)
    # Nothing above this layer hides it.
    above = layer(page("pumpkin"), "drawing").iter(f"{NS}path")
    assert all(p.get("fill") == "none" for p in above)


def _strips(root: ET.Element) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for path in layer(root, "cutting-outlines").findall(f"{NS}path"):
        if path.get("data-stem") is not None:
            found.setdefault(path.get("data-stem", ""), []).append(path.get("d", ""))
    return found


@pytest.mark.parametrize("unit", ["in", "mm"])
@pytest.mark.parametrize("name", NAMES)
def test_strips_have_their_true_size_or_are_broken_and_say_it(name: str, unit: str) -> None:
    pattern, root = drafted(name), page(name, unit)
    room = float(root.get("width", "0mm").removesuffix("mm")) - 2 * MARGIN
    strips = _strips(root)
    words = [text for text, *_ in texts(layer(root, "sheet"))]
    assert strips.keys() == {piece.stem for piece in pattern.pieces}
    for piece in pattern.pieces:
        assert piece.strip_length is not None
        boxes = [np.concatenate([corners(d).min(0), corners(d).max(0)]) for d in strips[piece.stem]]
        assert all(box[3] - box[1] == pytest.approx(piece.cut_width, abs=0.001) for box in boxes)
        left, right = min(box[0] for box in boxes), max(box[2] for box in boxes)
        if piece.strip_length <= room:
            [d] = strips[piece.stem]
            assert d.endswith("Z")
            assert right - left == pytest.approx(piece.strip_length, abs=0.001)
        else:
            assert len(boxes) == 2
            assert right - left == pytest.approx(room, abs=0.001)
        # Number, name, width x length: the length is rounded up, by less than a step.
        pattern_of_words = rf"\d+ · {re.escape(piece.stem)}: (.+) x (.+)"
        [found] = [m for w in words if (m := re.fullmatch(pattern_of_words, w))]
        step = 25.4 / 8 if unit == "in" else 1.0
        assert found[2].endswith(f" {unit}")
        assert piece.strip_length - 1e-6 <= bd.to_mm(found[2]) < piece.strip_length + step
        assert bd.to_mm(found[1]) == pytest.approx(piece.cut_width, abs=0.01)


def test_strips_longer_than_the_page_are_the_only_broken_ones() -> None:
    broken = {
        name: {stem for stem, parts in _strips(page(name)).items() if len(parts) > 1}
        for name in ("bean-wreath", "herb-spray")
    }
    # 12 1/2 in and 240 mm of page hold strips of 317.5 mm and 240 mm.
    assert broken == {
        "bean-wreath": {"bean-vine-1", "bean-vine-2", "bean-vine-3"},
        "herb-spray": {"chive-stem-1", "chive-stem-2", "thyme-stem"},
    }


@pytest.mark.parametrize("name", NAMES)
def test_cut_list_keeps_on_the_page_and_nothing_in_it_overlaps(
    name: str,
) -> None:
    # Templates of 60 stems would only take longer than those of 12.
    for making in ("folded-strip", "turned-template")[: 1 if name == "hop-poles" else 2]:
        root = page(name, making=making)
        size = [float(root.get(side, "").removesuffix("mm")) for side in ("width", "height")]
        shapes = []
        templates = layer(root, "templates").findall(f"{NS}path")
        for parts in [*_strips(root).values(), *([p.get("d", "")] for p in templates)]:
            boxes = np.array([parse_path(d).bbox() for d in parts])  # xmin, xmax, ymin, ymax of the curves
            (left, right), (top, bottom) = ((boxes[:, k].min(), boxes[:, k + 1].max()) for k in (0, 2))
            shapes.append(shapely.box(left, top, right, bottom))
        for text, x, y, height, anchor, bold in texts(layer(root, "sheet")):
            wide = real_width(text, bold=bold) * height
            left = x - {"start": 0, "middle": wide / 2, "end": wide}[anchor]
            shapes.append(shapely.box(left, y - 0.76 * height, left + wide, y + 0.22 * height))
        everything = np.array(shapes)
        assert shapely.contains(
            shapely.box(MARGIN - 0.01, 0, size[0] - MARGIN + 0.01, size[1]), everything
        ).all()
        a, b = shapely.STRtree(everything).query(everything, predicate="intersects")
        assert (a == b).all()


@pytest.mark.parametrize("name", ["bean-wreath", "herb-spray", "pea-curls"])
def test_templates_are_mirrored_at_true_size(name: str) -> None:
    pattern, root = drafted(name, making="turned-template"), page(name, making="turned-template")
    found = {p.get("data-stem"): p.get("d", "") for p in layer(root, "templates").findall(f"{NS}path")}
    assert found.keys() == {piece.stem for piece in pattern.pieces}
    for piece in pattern.pieces:
        drawn = _polygon(found[piece.stem])
        assert drawn.area == pytest.approx(piece.finished.area, rel=1e-3)
        mirrored = shapely.affinity.scale(piece.finished.polygon, -1, 1)
        assert _apart(drawn, mirrored) <= 0.03
        # A stem that is its own mirror image could not tell; these can.
        if name == "bean-wreath":
            assert _apart(drawn, piece.finished.polygon) > 0.5
    # What is cut from the cloth lies in place, not mirrored.
    [moved] = layer(root, "cutting-outlines").findall(f"{NS}g")
    for path in moved.findall(f"{NS}path"):
        cutting = pattern[path.get("data-stem", "")].cutting
        assert np.abs(corners(path.get("d", "")) - corners(cutting.to_svg_path(9))).max() <= 0.00051


def _polygon(d: str) -> shapely.Polygon:
    rings = parse_path(d).continuous_subpaths()
    t = np.linspace(0, 1, 97)[:-1]
    points = [np.array([p for segment in ring for p in segment.poly()(t)]) for ring in rings]
    outer, *holes = sorted((np.column_stack([p.real, p.imag]) for p in points), key=lambda xy: -np.ptp(xy))
    return shapely.Polygon(outer, holes)


def _apart(a: shapely.Polygon, b: shapely.Polygon) -> float:
    """Return the Hausdorff distance of two shapes with their boxes laid on one another."""
    ax, ay, *_ = a.bounds
    bx, by, *_ = b.bounds
    return float(shapely.hausdorff_distance(a, shapely.affinity.translate(b, ax - bx, ay - by), densify=0.2))


@pytest.mark.parametrize("unit", ["in", "mm"])
def test_lengths_are_in_the_unit_asked_for(unit: str) -> None:
    root = page("bean-wreath", unit)
    # Steps give sizes both ways, for any ruler: "1/4 in (6.35 mm)".
    words = [
        re.sub(r"[\d/ ]+in \([\d.]+ mm\)", "", text)
        for text, *_ in texts(root)
        if text not in ("1 in", "5 cm")
    ]
    inches = [w for w in words if re.search(r"\d in\b", w)]
    metric = [w for w in words if re.search(r"\d mm\b", w)]
    assert (bool(inches), bool(metric)) == (unit == "in", unit == "mm")
    size = {"in": "block 12 in x 12 in", "mm": "block 305 mm x 305 mm"}[unit]
    assert any(w.startswith(size) for w in words)


@pytest.mark.parametrize("making", ["folded-strip", "sewn-tube", "rolled-strip", "turned-template"])
def test_cautions_and_totals_are_on_the_sheet(making: str) -> None:
    pattern = drafted("pea-curls", making=making)
    words = all_words(page("pea-curls", making=making))
    cautions = pattern.checks[0].making.cautions()
    assert len(cautions) >= 4
    for caution in cautions:
        assert "".join(caution.split()) in words
    for total in pattern.bias_length.values():
        up = bd.format_length(total, "in", 8, "up")
        assert f"{up}inall,beforejoinsandwaste".replace(" ", "") in words
    assert ("Biastocut" in words) == (making != "turned-template")
    for check in pattern.checks:
        if not check.passes:
            assert "".join(f"{check.stem}: {check.advice}".split()) in words


def test_notes_are_on_the_sheet() -> None:
    text = (
        '<svg width="100mm" height="50mm" viewBox="0 0 100 50"><text>beans</text>'
        '<path id="vine" d="M5 20h80" stroke="green" fill="none" data-finished-width="8 mm"/></svg>'
    )
    pattern = bd.draft_pattern(bd.read_drawing(io.StringIO(text)))
    assert len(pattern.notes) >= 2
    words = all_words(ET.fromstring(pattern_svg(pattern)))
    for note in pattern.notes:
        assert "".join(str(note).split()) in words


NASTY = (
    "hop <vine> & \"pole\" 'n' pea",
    "</text><script>alert(1)</script>",
    "<![CDATA[ pea ]]> &amp; &#38;",
    "two\nlines\tand\ra tab",
    "bell \x07 null \x00 escape \x1b[31m ￾ ￿",
    "emoji 🌱🫘 and 豆の蔓",
    "half a letter \ud83c",
    "גפן שעועית",
    "W" * 300,
    "bean " * 60,
    "  ",
    "=1+1",
    "--> <!-- %s {0} \\",
)


@pytest.mark.parametrize("name", NASTY, ids=range(len(NASTY)))
@pytest.mark.parametrize("making", ["folded-strip", "turned-template"])
def test_every_name_is_escaped(name: str, making: str) -> None:
    hook = bd.Curve.from_svg_path("M20 20c20 0 30 10 30 20s-10 15 -15 8")
    leaf = bd.Curve.from_svg_path("M10 10h20v20h-20z")
    drawing = bd.Drawing(
        name + ".svg",
        (120.0, 80.0),
        stems=(bd.Stem(name, hook),),
        motifs=(bd.Motif(name + " leaf", leaf),),
        notes=(bd.Note(name, 3, name, name),),
    )
    root = ET.fromstring(pattern_svg(bd.draft_pattern(drawing, "5 mm", making)))
    shown = "".join(c if c >= " " and c not in "\ufffe\uffff\ud83c" else " " for c in name)
    assert root[0].text == shown + ".svg"
    [outline] = [p for p in root.iter(f"{NS}path") if p.get("data-centreline") is not None]
    assert outline.get("data-centreline") == shown
    # Read by a person, all of it is there, in the foot of the sheet if nowhere else.
    words = all_words(root)
    squeezed = "".join(shown.split())
    assert words.count(squeezed) >= 3 or not squeezed
    # Nothing but what we draw.
    assert {e.tag for e in root.iter()} <= {
        f"{NS}{tag}" for tag in ("svg", "title", "rect", "g", "path", "text", "tspan", "circle", "ellipse")
    }
    # Letters of other scripts vary too much to foretell; for those of DejaVu Sans the page is wide enough.
    width = float(root.get("width", "").removesuffix("mm"))
    for text, x, _, size, anchor, bold in texts(layer(root, "sheet")):
        if text.replace("·", "").isascii() and anchor == "start":
            assert x + real_width(text, bold=bold) * size <= width


@pytest.mark.parametrize("name", NASTY, ids=range(len(NASTY)))
def test_markup_keeps_any_text(name: str) -> None:
    shown = "".join(c if c >= " " and c not in "\ufffe\uffff\ud83c" else " " for c in name)
    assert markup.clean(name) == shown
    one = ET.fromstring(markup.text([name], 1, 2, 3.0, data_stem=name))
    assert one.text == shown
    assert one.get("data-stem") == shown
    several = ET.fromstring(markup.text([name, "second"], 1, 2, 3.0))
    assert [span.text for span in several] == [shown, "second"]
    layer = ET.fromstring(markup.group("marks", shown, [markup.element("path", d="M0 0")]))
    assert layer[0].text == shown


def test_markup_writes_numbers_short() -> None:
    assert markup.rectangle(1 / 3, -0.00001, 25.4, 1e6) == (
        '<rect x="0.3333" y="0" width="25.4" height="1000000" fill="none" stroke="#222222" stroke-width="0.25"/>'
    )
    assert 'd="M0 0.1L2.5 3"' in markup.line([(0, 0.1), (2.5, 3)])


def test_numbers_in_the_file_are_plain() -> None:
    for name in NAMES:
        text = pattern_svg(drafted(name))
        assert not re.search(r"[\" ,(](nan|inf|-inf|None|np\.)|\de[+-]?\d", text)
        assert text.endswith("</svg>\n")
        assert "\r" not in text


def test_straight_grain_sheet() -> None:
    """Cut 45 degrees off the bias nothing bends at all: the sheet says so, and holds no infinite number."""
    pattern = drafted("pea-curls", off_bias=45)
    assert all(math.isinf(check.least_radius) for check in pattern.checks)
    root = page("pea-curls", off_bias=45)
    assert all_words(root).count("goesstraightonly") >= len(pattern.pieces)
    assert not any(re.search(r"\b(inf|nan)\b", text) for text, *_ in texts(root))
