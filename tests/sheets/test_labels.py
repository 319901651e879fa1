"""Labels cover nothing: checked by computation, on the samples and on drawings made to be awkward."""

from __future__ import annotations

import string
import xml.etree.ElementTree as ET
from itertools import combinations, pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import shapely
from sheet_drawings import drafted, page, placed, real_width

from bias_drafting.sheets.labels import CLEAR, LabelPlacer, text_width, wrapped
from bias_drafting.sheets.marks import Marks, marks

if TYPE_CHECKING:
    import bias_drafting as bd
    from bias_drafting.sheets.labels import Label

NS = "{http://www.w3.org/2000/svg}"
CASES = [
    ("bean-wreath", "1/8 in", "folded-strip"),
    ("bean-wreath", "1/4 in", "folded-strip"),
    ("bean-wreath", "3/8 in", "sewn-tube"),
    ("bean-wreath", "1/2 in", "folded-strip"),
    ("bean-wreath", "1/4 in", "turned-template"),
    ("herb-spray", "1/8 in", "rolled-strip"),
    ("herb-spray", "1/4 in", "folded-strip"),
    ("herb-spray", "1/2 in", "folded-strip"),
    ("herb-spray", "1/4 in", "turned-template"),
    ("hop-poles", "1/8 in", "folded-strip"),
    ("hop-poles", "1/4 in", "folded-strip"),
    ("pea-curls", "1/8 in", "folded-strip"),
    ("pea-curls", "1/4 in", "folded-strip"),
    ("pea-curls", "1/4 in", "turned-template"),
    ("pea-curls", "1/2 in", "folded-strip"),
    ("cress", "1/8 in", "folded-strip"),
    ("cress", "1/4 in", "folded-strip"),
    ("pumpkin", "1/8 in", "folded-strip"),
    ("pumpkin", "1/4 in", "folded-strip"),
    ("pumpkin", "1 in", "folded-strip"),
]


def labels_of(placed: Marks) -> list[Label]:
    return [*placed.numbers.values(), *(label for *_, label in placed.spots if label is not None)]


def line_of(curve: bd.Curve) -> Any:
    """Return a curve as a polyline through points of it a tenth of a millimetre apart, by arc length."""
    return shapely.LineString(curve.point_at(np.linspace(0, curve.length, int(curve.length / 0.1) + 2)))


def drawn_lines(pattern: bd.Pattern) -> list[Any]:
    """Return all that is drawn on the picture but centrelines and labels, as wide as it is drawn at least."""
    outlines = [piece.finished for piece in pattern.pieces]
    outlines += [piece.cutting for piece in pattern.pieces if piece.template is not None]
    curves = [curve for outline in outlines for curve in (outline.exterior, *outline.holes)]
    curves += [motif.outline for motif in pattern.drawing.motifs]
    curves += [pattern.drawing.frame.outline] if pattern.drawing.frame is not None else []
    lines = [line_of(curve) for curve in curves]
    for piece in pattern.pieces:
        for spot in piece.check.spots:
            if spot.start != spot.end:
                lines.append(line_of(piece.centreline.section(spot.start, spot.end)).buffer(0.6))
            lines.append(shapely.Point(spot.bend.point).buffer(1.1 + 0.25))
    return lines


@pytest.mark.parametrize(("name", "width", "making"), CASES)
def test_labels_cover_nothing(name: str, width: str, making: str) -> None:
    pattern = drafted(name, width=width, making=making)
    labels = labels_of(placed(name, width=width, making=making))
    boxes = [shapely.box(*label.box) for label in labels]
    leaders = [shapely.LineString(label.leader) for label in labels if label.leader is not None]
    page = shapely.box(0, 0, *pattern.drawing.size)
    assert all(page.contains(box) for box in boxes)
    assert not any(one.intersects(other) for one, other in combinations(boxes, 2))
    tree = shapely.STRtree(drawn_lines(pattern))
    assert not len(tree.query(boxes, predicate="intersects")[0])
    # A leader ends at its own label and crosses no other, nor another leader.
    for label, box in zip(labels, boxes, strict=True):
        crossing = [k for k in leaders if k.intersects(box)]
        assert len(crossing) == (label.leader is not None)
    assert not any(one.intersects(other) for one, other in combinations(leaders, 2))


@pytest.mark.parametrize(("name", "width", "making"), CASES)
def test_labels_say_whose_they_are(name: str, width: str, making: str) -> None:
    pattern = drafted(name, width=width, making=making)
    found = placed(name, width=width, making=making)
    finished = {piece.stem: piece.finished.polygon for piece in pattern.pieces}
    motifs = {
        motif.name: shapely.make_valid(shapely.Polygon(motif.outline.flattened(0.01)))
        for motif in pattern.drawing.motifs
    }
    areas = motifs | finished
    for stem, label in found.numbers.items():
        # It stands on, or its leader starts from, its own stem.
        assert finished[stem].buffer(0.01).contains(shapely.Point(label.anchor))
        if label.leader is None:
            # And there nothing laid later hides the stem.
            later = pattern.order[pattern.order.index(stem) + 1 :]
            assert not any(shapely.box(*label.box).intersects(areas[other]) for other in later)
        else:
            # Beside it, the label stands on no stem that it could seem to name.
            assert not any(shapely.box(*label.box).intersects(area) for area in finished.values())
            assert label.leader[0] == label.anchor
    for piece, spot, named in found.spots:
        if named is not None:
            assert named.anchor == spot.bend.point
            assert piece.stem in named.lines[0]
            assert not any(shapely.box(*named.box).intersects(area) for area in finished.values())


@pytest.mark.parametrize(("name", "width", "making"), CASES)
def test_what_has_no_room_is_told_in_the_foot(
    name: str,
    width: str,
    making: str,
) -> None:
    pattern = drafted(name, width=width, making=making)
    found = placed(name, width=width, making=making)
    wanted = len(pattern.pieces) + sum(len(check.spots) for check in pattern.checks)
    assert len(labels_of(found)) + len(found.unplaced) == wanted
    root = page(name, width=width, making=making)
    [sheet] = [g for g in root.findall(f"{NS}g") if g.get("id") == "sheet"]
    words = "".join("".join(sheet.itertext()).split())
    for sentence in found.unplaced:
        assert "".join(sentence.split()) in words
    assert ("Noroomtowriteonthepicture" in words) == bool(found.unplaced)


def test_there_is_room_where_there_is_room() -> None:
    """Nothing of the samples at the width they are drawn for is left to the foot of the sheet."""
    for name in ("bean-wreath", "herb-spray"):
        assert placed(name).unplaced == ()
    # The tiny drawing has no room for words.
    assert placed("cress").unplaced


@pytest.mark.parametrize("name", ["bean-wreath", "hop-poles"])
def test_numbers_too_wide_for_their_stem_stand_beside_it(name: str) -> None:
    numbers = placed(name, width="1/8 in").numbers
    assert numbers
    assert all(label.leader is not None for label in numbers.values())
    # Letters stay large enough to read: 2 mm is 5.7 points.
    for width in ("1/8 in", "1/4 in"):
        assert min(label.size for label in labels_of(placed(name, width=width))) >= 2


@pytest.mark.parametrize(("name", "width", "making"), [case for case in CASES if case[0] != "herb-spray"])
def test_words_keep_inside_their_boxes(
    name: str,
    width: str,
    making: str,
) -> None:
    """Where the words stand in the file, by the widths of real letters."""
    pattern = drafted(name, width=width, making=making)
    boxes = [
        shapely.box(*label.box).buffer(1e-3) for label in labels_of(placed(name, width=width, making=making))
    ]
    found = 0
    for part in marks(pattern, "in")[0]:
        element = ET.fromstring(part)
        if element.tag != "text":
            continue
        found += 1
        size, bold = float(element.get("font-size", "nan")), element.get("font-weight") == "bold"
        extents = []
        for one in element.findall("tspan") or [element]:
            x, y = float(one.get("x", "nan")), float(one.get("y", "nan"))
            wide = real_width(one.text or "", bold=bold) * size
            left = x - wide * {"start": 0, "middle": 0.5, "end": 1}[element.get("text-anchor", "start")]
            extents.append(shapely.box(left, y - 0.76 * size, left + wide, y + 0.24 * size))
        assert any(all(box.contains(extent) for extent in extents) for box in boxes)
    assert found == len(boxes)


def test_text_width_is_never_less_than_that_of_real_letters() -> None:
    printed = string.ascii_letters + string.digits + string.punctuation + " "
    for bold in (False, True):
        for letter in printed:
            assert text_width(letter, 1.0, bold=bold) >= real_width(letter, bold=bold)
        assert text_width(printed, 3.0, bold=bold) == pytest.approx(
            sum(text_width(letter, 3.0, bold=bold) for letter in printed)
        )
    # Nor so much more that labels would find no room.
    words = "1 tendril-1: too tight, radius 3/8 in"
    assert text_width(words, 1.0) < 1.4 * real_width(words)
    # Ideographs are as wide as they are high, emoji a quarter wider (from memory).
    assert text_width("豆", 1.0) >= 1
    assert text_width("🌱", 1.0) >= 1.25
    assert text_width("", 3.0) == 0


@pytest.mark.parametrize("width", [5.0, 20.0, 60.0, 500.0])
def test_wrapped_text_fits_and_loses_nothing(width: float) -> None:
    text = f"a vine goes round the pea canes, {'W' * 40} 豆の蔓 and back again past the hop-poles"
    lines = wrapped(text, 3.0, width)
    assert all(text_width(line, 3.0) <= width for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())
    assert all(lines)
    # No line could have taken the next word.
    for line, following in pairwise(lines):
        assert text_width(f"{line} {following.split()[0]}", 3.0) > width
    if width == 500:
        assert lines == [text]


def test_wrapped_nothing_is_no_line() -> None:
    assert wrapped("", 3.0, 50.0) == []
    assert wrapped("  \n ", 3.0, 50.0) == []
    # Wider than the room though it is, a letter is not lost.
    assert wrapped("WW", 3.0, 1.0) == ["W", "W"]


def test_placer_takes_no_place_twice() -> None:
    placer = LabelPlacer((0, 0, 30, 20), [shapely.LineString([(0, 10), (30, 10)])])
    first = placer.on_place("1", 3.0, [(15, 10), (15, 5)])
    assert first is not None
    assert first.anchor == (15.0, 5.0)  # on the line there is no room
    assert first.leader is None
    assert first.box == pytest.approx(
        (15 - 0.96 - CLEAR, 5 - 1.5 - CLEAR, 15 + 0.96 + CLEAR, 5 + 1.5 + CLEAR)
    )
    second = placer.on_place("2", 3.0, [(15, 5), (15.5, 5), (15, 15)])
    assert second is not None
    assert second.anchor == (15.0, 15.0)
    assert placer.on_place("3", 3.0, [(15, 5), (15, 15), (0.5, 3), (40, 5)]) is None
    beside = placer.beside(["4"], 3.0, (15, 10))
    assert beside is not None
    assert beside.leader is not None
    assert beside.leader[0] == (15.0, 10.0)
    assert shapely.box(*beside.box).distance(shapely.Point(beside.leader[1])) == 0
    assert LabelPlacer((0, 0, 3, 3), []).beside(["no room"], 3.0, (1, 1)) is None


def test_placer_keeps_off_bands_only_beside() -> None:
    band = shapely.box(0, 5, 40, 15)
    placer = LabelPlacer((0, 0, 40, 40), [], [band])
    on_place = placer.on_place("1", 3.0, [(20, 10)])
    assert on_place is not None
    beside = placer.beside(["2"], 3.0, (30, 10))
    assert beside is not None
    assert not shapely.box(*beside.box).intersects(band)
