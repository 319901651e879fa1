"""Files good and bad, and the drawing as a value."""

from __future__ import annotations

import io
import re
import tracemalloc
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bias_drafting.drawing.drawing import Drawing, Motif, Note, nearest_names
from bias_drafting.drawing.read import read_drawing
from bias_drafting.errors import DraftingError, DrawingError

if TYPE_CHECKING:
    from pathlib import Path

GARDEN = """<?xml version="1.0" encoding="UTF-8"?>
<svg xmlns="http://www.w3.org/2000/svg" width="12in" height="6 in" viewBox="0 0 12 6">
  <rect id="block" width="12" height="6" fill="none" stroke="grey" stroke-width=".01"/>
  <g id="stems" stroke="green" stroke-width=".25" fill="none">
    <path id="bean vine" d="M1 1C4 0 8 6 11 5"/>
    <circle id="wreath ring" cx="6" cy="3" r="2"/>
  </g>
  <ellipse id="leaf" cx="3" cy="2" rx="1" ry=".5"/>
  <text x="1" y="1">beans</text>
</svg>
"""


def test_a_file_by_path_by_bytes_and_by_text(tmp_path: Path) -> None:
    path = tmp_path / "garden.svg"
    path.write_text(GARDEN, encoding="utf-8")
    with path.open("rb") as binary, path.open(encoding="utf-8") as text:
        drawings = [read_drawing(path), read_drawing(str(path)), read_drawing(binary), read_drawing(text)]
    assert [drawing.source for drawing in drawings] == ["garden.svg"] * 4
    assert read_drawing(
        io.BytesIO(GARDEN.encode("utf-16").replace(b"U\0T\0F\0-\08\0", b"U\0T\0F\0-\x001\x006\0"))
    ).stems
    for drawing in drawings:
        assert drawing.size == (304.8, 152.4)
        assert [stem.name for stem in drawing.stems] == ["bean vine", "wreath ring"]
        assert [motif.name for motif in drawing.motifs] == ["leaf"]
        assert drawing.frame is not None
        assert drawing.frame.outline.bounds == pytest.approx((0, 0, 304.8, 152.4))
        assert drawing["wreath ring"].centreline.length == pytest.approx(101.6 * np.pi, rel=1e-10)
        assert drawing["bean vine"].drawn_width == pytest.approx(6.35)


def test_reading_is_deterministic() -> None:
    one, other = read_drawing(io.StringIO(GARDEN)), read_drawing(io.StringIO(GARDEN))
    assert [s.centreline for s in one.stems] == [s.centreline for s in other.stems]
    assert one.notes == other.notes
    assert str(one) == str(other)
    assert one._repr_svg_() == other._repr_svg_()


def test_the_table() -> None:
    drawing = read_drawing(io.StringIO(GARDEN))
    assert str(drawing) == (
        "drawing: 12 x 6 in (304.8 x 152.4 mm)\n"
        "  stems   2\n"
        "    bean vine     11 1/8 in (283.2 mm) long, drawn 1/4 in wide\n"
        "    wreath ring   12 5/8 in (319.2 mm) round, drawn 1/4 in wide\n"
        "  motifs  1\n"
        "    leaf\n"
        "  frame   block\n"
        "  notes   1\n"
        "    line 9, text 1: left out, because lettering is not read"
    )
    assert repr(drawing) == "Drawing('drawing', 2 stems, 1 motif, a frame)"


def test_the_picture() -> None:
    picture = read_drawing(io.StringIO(GARDEN))._repr_svg_()
    assert picture is not None
    root = ET.fromstring(picture)
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("320", "160", "0 0 304.8 152.4")
    assert len(root) == 4
    assert len(picture) < 6000
    again = read_drawing(io.StringIO(picture))
    assert again.shapes[1].curves[0].length == pytest.approx(283.236 * 320 / 304.8 * 25.4 / 96, rel=1e-3)


def test_a_picture_of_anything_is_none_rather_than_an_error() -> None:
    broken: Any = Motif("leaf", None)  # type: ignore[arg-type]
    assert Drawing("x", (0.0, 0.0))._repr_svg_() is None
    assert Drawing("x", (9.0, 9.0), motifs=(broken,))._repr_svg_() is None
    assert read_drawing(io.StringIO("<svg/>"))._repr_svg_() is not None


def test_a_stem_that_is_not_there() -> None:
    drawing = read_drawing(io.StringIO(GARDEN))
    with pytest.raises(DrawingError) as error:
        drawing["Bean vines"]
    assert str(error.value) == "drawing: there is no stem 'Bean vines'; the nearest: 'bean vine'"
    with pytest.raises(DrawingError, match="there is no stem 'x'; there are none at all"):
        read_drawing(io.StringIO("<svg/>"))["x"]
    assert nearest_names("zzz", list("abcdefgh")) == "there are: 'a', 'b', 'c', 'd', 'e', 'f' and 2 more"


def test_a_drawing_cannot_be_changed() -> None:
    drawing = read_drawing(io.StringIO(GARDEN))
    with pytest.raises(AttributeError):
        drawing.stems = ()  # type: ignore[misc]
    with pytest.raises(AttributeError):
        drawing.notes[0].line = 1  # type: ignore[misc]


def test_notes_are_in_the_order_of_the_file() -> None:
    text = '<svg>\n<path d="M0 0h5"/>\n<text/>\n<path id="leaf" d="M0 0h5" stroke="red" fill="none"/><use/></svg>'
    assert [note.line for note in read_drawing(io.StringIO(text)).notes] == [1, 2, 3, 4, 4, None]
    assert Note("a", 1, "left out", "b") == Note("a", 1, "left out", "b")


# Bad input: one line that names the file


def complaint(path_or_file: Any, **options: Any) -> str:
    with pytest.raises(DrawingError) as error:
        read_drawing(path_or_file, **options)
    message = str(error.value)
    assert "\n" not in message
    assert isinstance(error.value, DraftingError)
    assert isinstance(error.value, ValueError)
    return message


def test_files_that_are_not_there(tmp_path: Path) -> None:
    missing = tmp_path / "missing.svg"
    assert complaint(missing) == f"{missing}: there is no such file"
    assert complaint(tmp_path) == f"{tmp_path}: it is a folder, not a drawing"
    assert complaint("bean\0vine.svg").startswith("bean\0vine.svg: it cannot be read (")
    assert complaint("x" * 5000).endswith("it cannot be read (File name too long)")
    assert complaint("a\nb.svg") == "a b.svg: there is no such file"
    assert complaint(None) == "drawing: a path or an open file is wanted, not a value of type NoneType"
    closed = io.BytesIO(b"<svg/>")
    closed.close()
    assert complaint(closed).startswith("drawing: it cannot be read (")


def test_files_that_may_not_be_read(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_arguments: object) -> None:
        raise PermissionError(13, "Permission denied", "secret.svg")

    monkeypatch.setattr("pathlib.Path.open", refuse)
    assert complaint("secret.svg") == "secret.svg: it cannot be read (Permission denied)"


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "it is empty"),
        (b" \n\t ", "it is empty"),
        (b"\xef\xbb\xbf\n", "it is empty"),
        (b"%PDF-1.7 ...", "it looks like a PDF"),
        (b"\x89PNG\r\n\x1a\n", "it looks like a PNG picture"),
        (b"\xff\xd8\xff\xe0", "it looks like a JPEG picture"),
        (b"PK\x03\x04", "it looks like a zip archive; unpack it first"),
        (b"a vine, four inches long", "it looks like text"),
        (b"\x01\x00\x02", "it looks like data of a kind unknown here"),
        (b"<!DOCTYPE HTML><p>", "it looks like an HTML page"),
        (b"<kml/>", "it is XML, but its root is <kml>, not the <svg> of an SVG drawing"),
        (b'<svg xmlns="urn:other"/>', "it is XML, but its root is <svg>, not the <svg> of an SVG drawing"),
        (b"<svg>", "it is not well-formed XML: no element found (line 1)"),
        (b"<svg>\xff</svg>", "it is not well-formed XML: not well-formed (invalid token) (line 1)"),
        (
            b'<!DOCTYPE svg [<!ENTITY a "b">]><svg/>',
            "it declares the entity 'a' (line 1); save it without entities",
        ),
    ],
)
def test_files_that_are_no_svg(tmp_path: Path, content: bytes, message: str) -> None:
    path = tmp_path / "vine.svg"
    path.write_bytes(content)
    found = complaint(path)
    assert found.startswith(f"{path}: it ")
    assert found.endswith(message)


def test_groups_may_nest_as_deep_as_the_file_may() -> None:
    text = "<svg>" + '<g id="hop">' * 198 + '<path d="M9 9h9" stroke="red"/>' + "</g>" * 198 + "</svg>"
    assert len(read_drawing(io.StringIO(text)).shapes[0].layers) == 198


def test_a_file_takes_no_more_room_than_some_times_its_size(tmp_path: Path) -> None:
    # Of drawings of very small things, some 70 bytes each, it is 30 to 60 times.
    vine = " ".join(f"3.1256,2.5 5.25,{9 + k % 3}.7512 10.0625,4.5" for k in range(25))
    bed = "".join(f'<path id="p{k}" d="M0 {k * 3}c{vine}" stroke="red"/>' for k in range(200))
    file = tmp_path / "bed.svg"
    file.write_text(f'<svg xmlns="http://www.w3.org/2000/svg" width="9in" height="9in">{bed}</svg>')
    read_drawing(file)
    tracemalloc.start()
    try:
        read_drawing(file)
        assert tracemalloc.get_traced_memory()[1] < 40 * file.stat().st_size
    finally:
        tracemalloc.stop()


def test_a_file_that_comes_in_parts_is_read_whole() -> None:
    long = GARDEN.replace("</svg>", f"<!--{' ' * 3_000_000}--></svg>")
    whole = read_drawing(io.StringIO(GARDEN)).to_svg()
    assert read_drawing(io.StringIO(long)).to_svg() == whole
    assert read_drawing(io.BytesIO(long.encode())).to_svg() == whole


def test_the_size_of_a_file_is_limited(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bias_drafting.drawing.read._LARGEST", 2**20)
    small = "<svg>" + " " * (2**20 - 11) + "</svg>"
    assert read_drawing(io.StringIO(small)).shapes == ()
    assert complaint(io.StringIO(small + " ")) == "drawing: it is larger than 1 MB"
    assert complaint(io.BytesIO(small.encode() + b" ")) == "drawing: it is larger than 1 MB"


@pytest.mark.parametrize(
    ("body", "message"),
    [
        (
            '<path id="pea" d="M0 0 L nan 5"/>',
            "pea (<path>, line 2): in its path data 'nan' is not a finite number",
        ),
        (
            '<path d="M0 0 L 1e999 5"/>',
            "path 1 (<path>, line 2): in its path data '1e999' is not a finite number",
        ),
        (
            '<path id="path9" label="pea" d="M0 0h1e308h1e308"/>',
            "pea (<path>, id 'path9', line 2): in its path data 'h'",
        ),
        (
            '<circle id="ring" r="12 furlongs"/>',
            "ring (<circle>, line 2): r: '12 furlongs' cannot be read as a length",
        ),
        ('<rect width="5" height="-5"/>', "rect 1 (<rect>, line 2): height: '-5' is negative"),
        ('<g id="hops" transform="turn(3)"/>', "hops (<g>, line 2): the transform 'turn(3)' cannot be read"),
        ('<svg id="in" viewBox="0 0 0 5"/>', "in (<svg>, line 2): the viewBox '0 0 0 5' has no size"),
        (
            '<polygon id="a&#10;b" points="1 inf"/>',
            "a b (<polygon>, line 2): in its points, 'inf' is not a finite number",
        ),
        (
            '<g transform="scale(1e300)"><path d="M0 0h1e300" stroke="red"/></g>',
            "path 1 (<path>, line 2): its transforms lead to numbers that are not finite",
        ),
        (
            '<g transform="scale(1e150)"><path d="M0 0h1e200" stroke="red"/></g>',
            "path 1 (<path>, line 2): its transforms lead to places that are not finite numbers",
        ),
    ],
)
def test_drawings_that_cannot_be_read_name_the_element(tmp_path: Path, body: str, message: str) -> None:
    path = tmp_path / "vine.svg"
    path.write_text(f'<svg width="9in" height="9in">\n{body}</svg>', encoding="utf-8")
    assert complaint(path).startswith(f"{path}: {message}")


@pytest.mark.parametrize("scale", [0, -1, float("nan"), float("inf"), "2", True, 1 + 2j, [2]])
def test_scales_that_cannot_be(scale: object) -> None:
    assert complaint(io.StringIO(GARDEN), scale=scale).startswith(
        "drawing: scale must be a finite number more than 0"
    )


def test_scale_may_be_any_real_number() -> None:
    assert read_drawing(io.StringIO(GARDEN), scale=np.float64(0.5)).size == (152.4, 76.2)


fragments = st.sampled_from(re.findall(r"<[^>]*>|[^<]+", GARDEN)) | st.text(max_size=8)


@given(st.lists(fragments, max_size=12), st.binary(max_size=30))
def test_anything_at_all_is_read_or_refused_in_one_line(parts: list[str], data: bytes) -> None:
    for content in ("".join(parts).encode("utf-8", "replace"), b"<svg>" + data, data):
        try:
            message = str(read_drawing(io.BytesIO(content)).size)
        except DrawingError as error:
            message = str(error)
            if not message.startswith("drawing: "):
                raise
        assert len(message.splitlines()) == 1


def test_a_dxf_drawing_is_told_by_its_content(tmp_path: Path) -> None:
    ezdxf = pytest.importorskip("ezdxf")
    document = ezdxf.new(units=4)  # mm
    document.layers.add("stems")
    document.modelspace().add_line((0, 0), (30, 40), dxfattribs={"layer": "stems"})
    document.saveas(tmp_path / "hops.svg")
    drawing = read_drawing(tmp_path / "hops.svg", scale=2)
    assert [stem.centreline.length for stem in drawing.stems] == [pytest.approx(100)]
    with (tmp_path / "hops.svg").open("rb") as file:
        assert len(read_drawing(file).stems) == 1
    with pytest.raises(DrawingError, match="broken or cut short"):
        read_drawing(io.BytesIO(b"999\nhops\n  0\nSECTION\n  2\nHEADER"))


@pytest.mark.parametrize(
    ("body", "options", "message"),
    [
        (
            '<path id="frame" d="M0 0H90Z"/>',
            {"block_size": "12 in"},
            "the frame 'frame' is a line, .* and no block",
        ),
        ("", {"scale": 10**400}, "scale must be a finite number more than 0"),
        ("", {"roles": {1: "stem"}}, "roles: 1 is no name of a shape or group, but of type int"),
        ('<path d="M0 0H9" stroke="red"/>', {"roles": lambda _: np.array([1, 2])}, "roles: .* is none of"),
    ],
)
def test_arguments_that_cannot_be(body: str, options: dict[str, Any], message: str) -> None:
    with pytest.raises(DrawingError, match=message):
        read_drawing(io.StringIO(f'<svg width="9in" height="9in">{body}</svg>'), **options)


def test_a_file_that_gives_no_text() -> None:
    class Odd:
        def read(self, _size: int) -> None:
            return None

    odd: Any = Odd()
    with pytest.raises(DrawingError, match="gives a value of type NoneType, not text or bytes"):
        read_drawing(odd)


@pytest.mark.parametrize("style", ["fill:" + "(" * 100_000, "fill:" + "rgb(" * 5000])
def test_style_nested_without_end_is_refused(style: str) -> None:
    text = f'<svg width="9in" height="9in"><path style="{style}" d="M0 0H9" stroke="red"/></svg>'
    with pytest.raises(DrawingError, match="nested too deep"):
        read_drawing(io.StringIO(text))


def test_attributes_by_default_are_none() -> None:
    bomb = f'<!DOCTYPE svg [<!ATTLIST g foo CDATA "{"x" * 100_000}">]><svg width="9in" height="9in">'
    tracemalloc.start()
    try:
        read_drawing(io.StringIO(bomb + "<g/>" * 1000 + '<path d="M0 0H9" stroke="red"/></svg>'))
        assert tracemalloc.get_traced_memory()[1] < 20_000_000
    finally:
        tracemalloc.stop()
