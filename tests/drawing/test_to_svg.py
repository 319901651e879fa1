"""Writing a drawing back: what is read again is the same."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import pytest

import bias_drafting as bd
from bias_drafting.drawing.drawing import Drawing

VINE = bd.Curve.from_svg_path("M10 60C40 10 70 100 100 50S150 40 180 70")
TRACED = " ".join(
    f"{x:.3f},{y:.3f}" for x, y in VINE.transformed([[1, 0, 0], [0, 1, 30]]).point_at(np.arange(0, 200, 0.7))
)
GARDEN = f"""<svg width="8in" height="6in" viewBox="0 0 203.2 152.4">
    <rect id="frame" x="1" y="1" width="190" height="140" fill="none" stroke="black"/>
    <g id="beds"><g id="stems" stroke="green" fill="none" stroke-width="6" data-cloth="lawn">
    <path id="vine" d="{VINE.to_svg_path()}"/><path d="M20 20h30M20 30h30" data-making="sewn tube"/>
    <circle id="ring vine" cx="60" cy="60" r="20"/></g><path id="leaf &amp; bud" d="M5 5h9v9z"/></g>
    <path id="two sides stem" d="{VINE.band(5).to_svg_path()}" transform="translate(0 20)"/>
    <polyline id="tracing" points="{TRACED}" fill="none" stroke="green" stroke-width="4"/>
    <path id="sketch" d="M0 0h50" stroke="red"/><path d="M60 130H90" stroke="red"/>
    <path d="M90.2 130H120" stroke="red"/>
    <path id="pod" d="M100 100h9v9zM120 100h9v9z"/><path id="mixed" d="M1 99h9M20 90h9v9z" stroke="red"/></svg>"""
OPTIONS: dict[str, Any] = {"roles": {"sketch": "ignore"}, "join_within": 0.5, "scale": 1.25}


def same(one: bd.Curve, other: bd.Curve) -> None:
    assert one.closed == other.closed
    assert one.controls.shape == other.controls.shape
    assert np.abs(one.controls - other.controls).max() <= 1e-6


def check_same(drawing: Drawing, again: Drawing) -> None:
    assert again.size == pytest.approx(drawing.size, abs=1e-6)
    assert sorted(stem.name for stem in again.stems) == sorted(stem.name for stem in drawing.stems)
    for stem in drawing.stems:
        found = again[stem.name]
        same(found.centreline, stem.centreline)
        assert (found.layer, dict(found.settings)) == (stem.layer, dict(stem.settings))
        assert found.drawn_width == (
            None if stem.drawn_width is None else pytest.approx(stem.drawn_width, abs=1e-6)
        )
    assert sorted(m.name for m in again.motifs) == sorted(m.name for m in drawing.motifs)
    motifs = {motif.name: motif for motif in again.motifs}
    for motif in drawing.motifs:
        same(motifs[motif.name].outline, motif.outline)
    assert (again.frame is None) == (drawing.frame is None)
    if drawing.frame is not None and again.frame is not None:
        same(again.frame.outline, drawing.frame.outline)
        assert again.frame.name == drawing.frame.name


def test_a_drawing_comes_back_the_same_though_nothing_is_said_again() -> None:
    drawing = bd.read_drawing(io.StringIO(GARDEN), **OPTIONS)
    assert {"vine", "ring vine", "two sides stem", "tracing", "path 2 1", "path 2 2"} <= {
        s.name for s in drawing.stems
    }
    again = bd.read_drawing(io.StringIO(drawing.to_svg()))
    check_same(drawing, again)
    # And once more: nothing creeps.
    assert again.to_svg() == bd.read_drawing(io.StringIO(again.to_svg())).to_svg()


def test_no_shape_gets_lost() -> None:
    drawing = bd.read_drawing(io.StringIO(GARDEN), **OPTIONS)
    again = bd.read_drawing(io.StringIO(drawing.to_svg()))

    # The middle of two sides, the smooth tracing and the joined line are new; what they were made from is kept; and
    # what is a stem in one subpath and a motif in another is two shapes.
    assert len(again.shapes) == len(drawing.shapes) + 4
    by_name = {shape.name: shape for shape in again.shapes}
    assert {"mixed 1", "mixed 2"} <= set(by_name)
    for shape in [shape for shape in drawing.shapes if shape.name != "mixed"]:
        found = by_name.get(f"{shape.name} as drawn") or by_name[shape.name]
        assert (found.filled, found.layers) == (shape.filled, shape.layers)
        assert (found.stroke_width is None) == (shape.stroke_width is None)
        for one, other in zip(found.curves, shape.curves, strict=True):
            same(one, other)


@pytest.mark.parametrize("name", bd.sample_names())
def test_samples_come_back(name: str) -> None:
    drawing = bd.read_sample(name)
    again = bd.read_drawing(io.StringIO(drawing.to_svg()))
    check_same(drawing, again)
    assert [stem.name for stem in again.stems] == [stem.name for stem in drawing.stems]
    assert again.shapes[0].layers == drawing.shapes[0].layers


def test_a_drawing_without_shapes_is_written_by_its_stems() -> None:
    stem = bd.read_sample(bd.sample_names()[0]).stems[0]
    drawing = Drawing("made", (300.0, 200.0), stems=(stem,))
    check_same(drawing, bd.read_drawing(io.StringIO(drawing.to_svg())))


def test_roles_in_the_file() -> None:
    body = """<svg width="90mm" height="90mm" viewBox="0 0 90 90">
    <g data-role="motif"><path id="a stem" d="M5 5h9v9z"/></g>
    <path id="leaf" data-role="stem" d="M20 20h30" stroke="red"/></svg>"""
    drawing = bd.read_drawing(io.StringIO(body))
    assert [motif.name for motif in drawing.motifs] == ["a stem"]
    assert dict(drawing["leaf"].settings) == {}
    # What the caller says comes first.
    assert bd.read_drawing(io.StringIO(body), roles={"leaf": "ignore"}).stems == ()
    with pytest.raises(bd.DrawingError, match="line 3, leaf: its data-role 'twig' is none of stem, motif"):
        bd.read_drawing(io.StringIO(body.replace('"stem"', '"twig"')))


def test_a_line_drawn_twice_keeps_the_wider_width_and_all_settings() -> None:
    body = '<path id="vine" d="M10 10H80" stroke="red" stroke-width="1"/>'
    body += '<path id="under" d="M10 10H80" stroke="red" stroke-width="6" data-cloth="linen"/>'
    text = f'<svg width="99mm" height="99mm" viewBox="0 0 99 99">{body}</svg>'
    first = bd.read_drawing(io.StringIO(text))
    again = bd.read_drawing(io.StringIO(first.to_svg()))
    for drawing in (first, again):
        (stem,) = drawing.stems
        assert (stem.name, stem.drawn_width, dict(stem.settings)) == ("vine", 6, {"cloth": "linen"})


def test_a_drawing_of_dxf_comes_back() -> None:
    ezdxf = pytest.importorskip("ezdxf")
    doc = ezdxf.new("R2010", units=4)
    page = doc.modelspace()
    page.add_line((10, 10), (90, 50), {"layer": "vines \\U+0001x"})
    page.add_circle((50, 60), 8, {"layer": "leaves"})
    page.add_lwpolyline([(0, 0), (100, 0), (100, 100), (0, 100)], close=True, dxfattribs={"layer": "frame"})
    stream = io.StringIO()
    doc.write(stream)
    first = bd.read_drawing(io.BytesIO(stream.getvalue().encode()))
    again = bd.read_drawing(io.StringIO(first.to_svg()))
    for drawing in (first, again):
        assert [(stem.name, stem.drawn_width, dict(stem.settings)) for stem in drawing.stems] == [
            ("vines x", None, {})
        ]
        assert [motif.name for motif in drawing.motifs] == ["leaves"]
        assert drawing.frame is not None
        assert [shape.filled for shape in drawing.shapes] == [False] * 3
    assert again.stems[0].centreline.length == pytest.approx(first.stems[0].centreline.length, abs=1e-6)
    assert again.to_svg() == first.to_svg()


@pytest.mark.parametrize(
    "body",
    [
        # a frame of two outlines, a leaf with an open vein, and tendrils of which one is taken twice
        '<path class="frame" d="M1 1h90v90h-90zM3 3h86v86h-86z" fill="none" stroke="red"/>',
        '<path class="leaf" d="M10 10h9v9zM11 11h5v2" stroke="red"/>',
        '<path class="leaf" d="M10 10h9v9zM11 11h5v2" fill="none" stroke="red"/>',
        '<path id="a 2" d="M1 9h20" stroke="red"/><path id="a" d="M1 5h20M1 15h20M1 25h20" stroke="red"/>',
        '<path id="b" d="M1 5C9 5 9 9 20 9M1 5C9 5 9 9 20 9" stroke="red"/>',
        (
            '<path id="c as drawn" d="M1 5h30"  stroke="red"/><path id="c" d="M1 15h30"  stroke="red"/>'
            '<path id="d" d="M31.2 15h30"  stroke="red"/>'
        ),
        '<g id="frame"><path id="x" d="M3 3h9v9C2 2 2 2 3 3z"/><path id="y" d="M4 4C9 9 9 1 50 1" stroke="red"/></g>',
    ],
)
def test_shapes_of_several_things_come_back(body: str) -> None:
    text = f'<svg width="99mm" height="99mm" viewBox="0 0 99 99">{body}</svg>'
    drawing = bd.read_drawing(io.StringIO(text), join_within=0.5)
    again = bd.read_drawing(io.StringIO(drawing.to_svg()))
    check_same(drawing, again)
    assert again.to_svg() == bd.read_drawing(io.StringIO(again.to_svg())).to_svg()
