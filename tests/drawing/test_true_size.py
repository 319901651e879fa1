"""True size: a block whose size is known, and doubts where another reading of the units gives whole numbers."""

from __future__ import annotations

import gzip
import io
import re
from typing import TYPE_CHECKING, Any

import pytest

from bias_drafting.drawing.read import read_drawing
from bias_drafting.errors import DrawingError

if TYPE_CHECKING:
    from pathlib import Path

    from bias_drafting.drawing.drawing import Drawing


def block(root: str, side: float, tall: float | None = None, **options: Any) -> Drawing:
    body = f'<rect id="frame" x="1" y="1" width="{side}" height="{tall or side}" fill="none" stroke="red"/>'
    return read_drawing(io.StringIO(f'<svg {root}>{body}<path d="M2 2h9" stroke="red"/></svg>'), **options)


def doubts(drawing: Drawing) -> list[str]:
    return [str(note) for note in drawing.notes if "scale=" in note.why]


@pytest.mark.parametrize(
    ("root", "side", "words"),
    [
        # 12 in at 72 to the inch: 864 units, read as 9 in.
        (
            'width="1000" height="1001"',
            864,
            ["read as 9 x 9 in", "if 72 were meant it is 12 x 12 in", "scale=1.33333"],
        ),
        # 12 in at 90 to the inch: 1080 units, read as 11 1/4 in.
        (
            'width="2000" height="2001"',
            1080,
            ["read as 11 1/4 x 11 1/4 in", "if 90 were meant it is 12 x 12 in"],
        ),
        # 30 cm at 72 to the inch.
        (
            'width="1000" height="1001"',
            850.3937,
            ["if 72 were meant it is 11 3/4 x 11 3/4 in (300.0 x 300.0 mm)"],
        ),
    ],
)
def test_a_frame_that_may_be_meant_larger_is_told(root: str, side: float, words: list[str]) -> None:
    (note,) = doubts(block(root, side))
    assert note.startswith("line 1, frame: ")
    for word in words:
        assert word in note
    # What it says to pass does what it says.
    dots, factor = re.findall(r"if (\d+) were meant it is [^:]*mm\): pass scale=([0-9.]+)", note)[-1]
    drawing = block(root, side, scale=float(factor))
    assert drawing.frame is not None
    left, _, right, _ = drawing.frame.outline.bounds
    assert right - left == pytest.approx(side / float(dots) * 25.4, rel=1e-5)


def test_a_page_without_units_is_told_too() -> None:
    drawing = read_drawing(io.StringIO('<svg viewBox="0 0 612 792"><path d="M2 2h9" stroke="red"/></svg>'))
    (note,) = doubts(drawing)
    assert note.startswith("page: read as 6 3/8 x 8 1/4 in (161.9 x 209.6 mm), because")
    assert "if 72 were meant it is 8 1/2 x 11 in" in note


@pytest.mark.parametrize(
    ("root", "side"),
    [
        ('width="12in" height="12in" viewBox="0 0 13 13"', 9),  # it says how large it is, and is whole
        ('width="13in" height="13in" viewBox="0 0 13 13"', 12),
        ('width="1003" height="1007"', 500),  # neither reading is whole
    ],
)
def test_no_doubt_where_there_is_none(root: str, side: float) -> None:
    assert doubts(block(root, side)) == []


def test_a_frame_of_odd_size_is_told_though_the_page_has_units() -> None:
    # 12 in drawn at 72, set in a page of which a program said the units later.
    drawing = block('width="500mm" height="500mm" viewBox="0 0 500 500"', 333.3 + 0.04)
    assert doubts(drawing) == []
    (note,) = doubts(block('width="500mm" height="500mm" viewBox="0 0 500 500"', 304.8 * 90 / 96))
    assert "if 90 were meant it is 12 x 12 in" in note


@pytest.mark.parametrize(
    ("size", "width", "height"),
    [("12 in", 304.8, 304.8), (300, 300, 300), (("12 in", '6"'), 304.8, 152.4), (["30 cm", 150], 300, 150)],
)
def test_a_block_of_known_size(size: Any, width: float, height: float) -> None:
    drawing = block('width="77" height="99"', 40, 40 * height / width, block_size=size)
    assert drawing.frame is not None
    left, top, right, bottom = drawing.frame.outline.bounds
    assert (right - left, bottom - top) == pytest.approx((width, height))
    assert drawing.size == pytest.approx((77 * width / 40, 99 * width / 40))
    assert "block_size says how large its frame, 'frame', is" in str(drawing.notes[0])
    assert doubts(drawing) == []
    assert drawing.shapes[0].stroke_width == pytest.approx(width / 40)


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"block_size": "12 in", "scale": 2}, "scale and block_size both set the size"),
        ({"block_size": "twelve"}, "block_size: "),
        ({"block_size": 0}, "more than 0"),
        ({"block_size": (1, 2, 3)}, "or a pair of them"),
        ({"block_size": ()}, "or a pair of them"),
        ({"block_size": ("12 in", "9 in")}, "other proportions"),
        ({"block_size": "12 in", "roles": {"frame": "ignore"}}, "block_size needs a frame"),
    ],
)
def test_block_sizes_that_cannot_be(options: dict[str, Any], message: str) -> None:
    with pytest.raises(DrawingError, match=message):
        block('width="77" height="99"', 40, **options)


def test_one_length_is_not_enough_for_a_border() -> None:
    with pytest.raises(DrawingError, match="not square; give block_size as a pair"):
        block('width="77" height="99"', 40, 20, block_size="12 in")


SVG = b'<svg width="4in" height="2in" viewBox="0 0 4 2"><path id="vine" d="M0 1h4" stroke="green"/></svg>'


def test_a_packed_drawing_is_read(tmp_path: Path) -> None:
    path = tmp_path / "vine.svgz"
    path.write_bytes(gzip.compress(SVG, mtime=0))
    assert read_drawing(path)["vine"].centreline.length == pytest.approx(101.6)


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (gzip.compress(SVG, mtime=0)[:40], "cut short"),
        (gzip.compress(SVG, mtime=0)[:12] + b"beans and hops", "cannot be unpacked|cut short"),
        (b"\x1f\x8b", "cut short"),
        (gzip.compress(bytes(65 * 2**20), mtime=0), "unpacked it is larger than 64 MB"),
        (gzip.compress(gzip.compress(SVG, mtime=0), mtime=0), "it is no drawing"),
        (gzip.compress(b"", mtime=0), "it is empty"),
    ],
)
def test_packed_files_that_cannot_be_read(content: bytes, message: str) -> None:
    with pytest.raises(DrawingError, match=message):
        read_drawing(io.BytesIO(content))


# Paper, and files that count otherwise


@pytest.mark.parametrize(
    ("root", "meant"),
    [
        ('width="744.09448819" height="1052.3622047"', {90}),  # A4 at 90 to the inch
        ('width="1052" height="744"', {90}),
        ('width="595" height="842"', {72}),
        ('width="2384" height="3370"', {72}),  # A0
        ('width="793.7" height="1122.5"', set()),  # A4 at 96
        ('width="744" height="1060"', set()),
        ('width="210mm" height="297mm"', set()),
    ],
)
def test_a_page_of_the_a_series_that_may_be_meant_larger_is_told(root: str, meant: set[int]) -> None:
    told = [note for note in doubts(block(root, 77)) if ", page: " in f", {note}"]
    assert {int(dots) for note in told for dots in re.findall(r"if (\d+) were meant", note)} == meant


EDITOR = 'xmlns:e="http://www.inkscape.org/namespaces/inkscape" width="210mm" height="297mm"'


@pytest.mark.parametrize(
    ("root", "told"),
    [
        ('e:version="0.48.4 r9939"', True),
        ('e:version="0.91"', True),
        ('e:version="0.92.5"', False),
        ('e:version="1.2.2 (b0a8486541, 2022-12-01)"', False),
        ('e:version="0.48.4" viewBox="0 0 210 297"', False),  # which says itself how large its units are
        ('e:version="unknown"', False),
        ('version="0.48"', False),
    ],
)
def test_a_file_of_an_editor_that_counted_90_is_told(root: str, told: bool) -> None:
    found = [str(note) for note in block(f"{EDITOR} {root}", 77).notes if "94 %" in note.why]
    assert len(found) == told
    assert all("pass scale=1.06667" in note for note in found)
    # 96 / 90 of what was read.
    assert pytest.approx(96 / 90, abs=1e-5) == 1.06667


PAPER = '<rect id="{0}" width="200" height="200" fill="white"/>'
BLOCK = '<rect x="25" y="25" width="150" height="150" fill="none" stroke="black"/>'
STEM = '<path d="M40 100H160" stroke="green"/>'


@pytest.mark.parametrize(
    ("body", "side"),
    [
        (PAPER.format("rect1") + BLOCK + STEM, 150),
        (BLOCK + PAPER.format("background") + STEM, 150),
        (PAPER.format("rect1") + STEM, 200),
        (PAPER.format("frame") + BLOCK + STEM, 200),  # it says so itself
        (PAPER.format("rect1").replace("/>", ' stroke="red"/>') + BLOCK + STEM, 200),
        (PAPER.format("rect1").replace('"200"', '"190"', 1) + BLOCK + STEM, 190),
    ],
)
def test_the_paper_is_not_the_block(body: str, side: float) -> None:
    root = 'width="200mm" height="200mm" viewBox="0 0 200 200"'
    drawing = read_drawing(io.StringIO(f"<svg {root}>{body}</svg>"))
    assert drawing.frame is not None
    left, _, right, _ = drawing.frame.outline.bounds
    assert right - left == side
    if side == 150:
        assert any("the ground behind the drawing" in str(note) for note in drawing.notes)
