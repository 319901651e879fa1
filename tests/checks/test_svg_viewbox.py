"""Viewports against SVG 2, section 8.2 (the transform of a viewport) and its figures.

The figures are the example in 8.2's text (viewBox 0 0 1500 1000), PreserveAspectRatio.svg (viewBox 0 0 30 40) and
the files arcs01.svg and arcs02.svg; units are those of CSS Values and Units Level 3, section 5.2.
"""

from __future__ import annotations

import io

import pytest

from bias_drafting.drawing.read import read_drawing
from bias_drafting.drawing.viewport import ViewBox, parse_view_box, view_box_matrix

SPEC = ViewBox(0, 0, 1500, 1000)
FACE = ViewBox(0, 0, 30, 40)
OWN = ViewBox(-50, -20, 200, 100)
ARCS01, ARCS02 = ViewBox(0, 0, 1200, 400), ViewBox(0, 0, 1200, 525)
PX_ARCS = (12 * 96 / 2.54, 5.25 * 96 / 2.54)


@pytest.mark.parametrize(
    ("box", "width", "height", "aspect", "expected"),
    [
        (SPEC, 300, 200, "none", (0, 0, 0.2, 0.2)),
        (SPEC, 150, 200, "none", (0, 0, 0.1, 0.2)),
        (SPEC, 150, 200, "", (0, 50, 0.1, 0.1)),
        (FACE, 50, 30, "xMinYMid meet", (0, 0, 0.75, 0.75)),
        (FACE, 50, 30, "xMidYMid meet", (13.75, 0, 0.75, 0.75)),
        (FACE, 50, 30, "xMaxYMid meet", (27.5, 0, 0.75, 0.75)),
        (FACE, 30, 60, "xMidYMin", (0, 0, 1, 1)),
        (FACE, 30, 60, "xMidYMid", (0, 10, 1, 1)),
        (FACE, 30, 60, "xMidYMax", (0, 20, 1, 1)),
        (FACE, 30, 60, "xMinYMid slice", (0, 0, 1.5, 1.5)),
        (FACE, 30, 60, "xMidYMid slice", (-7.5, 0, 1.5, 1.5)),
        (FACE, 30, 60, "xMaxYMid slice", (-15, 0, 1.5, 1.5)),
        (FACE, 50, 30, "xMidYMin slice", (0, 0, 5 / 3, 5 / 3)),
        (FACE, 50, 30, "xMidYMid slice", (0, -55 / 3, 5 / 3, 5 / 3)),
        (FACE, 50, 30, "xMidYMax slice", (0, -110 / 3, 5 / 3, 5 / 3)),
        (ARCS01, *PX_ARCS, "", (0, 23.6220472441, 0.377952755906, 0.377952755906)),
        (ARCS02, *PX_ARCS, "", (0, 0, 0.377952755906, 0.377952755906)),
        (OWN, 300, 300, "", (75, 105, 1.5, 1.5)),
        (OWN, 300, 300, "defer xMinYMax slice", (150, 60, 3, 3)),
    ],
)
def test_transform_of_a_viewport(
    box: ViewBox, width: float, height: float, aspect: str, expected: tuple[float, float, float, float]
) -> None:
    matrix = view_box_matrix(box, width, height, aspect)
    found = (matrix[0, 2], matrix[1, 2], matrix[0, 0], matrix[1, 1])
    assert found == pytest.approx(expected, rel=1e-11, abs=1e-9)
    assert matrix[[0, 1, 2, 2], [1, 0, 0, 1]].tolist() == [0, 0, 0, 0]
    assert matrix[2, 2] == 1


@pytest.mark.parametrize("text", ["0 0 10 10", "0,0,10,10", " 0 , 0\n10,\t10 ", "-0 +0 1e1 10."])
def test_view_boxes_as_people_write_them(text: str) -> None:
    assert parse_view_box(text) == (0, 0, 10, 10)


@pytest.mark.parametrize(
    ("unit", "mm"),
    [
        ("in", 25.4),
        ("cm", 10),
        ("mm", 1),
        ("Q", 0.25),
        ("pt", 25.4 / 72),
        ("pc", 25.4 / 6),
        ("px", 25.4 / 96),
    ],
)
def test_the_page_in_every_css_unit(unit: str, mm: float) -> None:
    """CSS Values and Units Level 3, section 5.2."""
    text = (
        f'<svg width="8{unit}" height="4{unit}" viewBox="0 0 80 40"><path d="M0 0L80 40" stroke="red"/></svg>'
    )
    drawing = read_drawing(io.StringIO(text))
    assert drawing.size == pytest.approx((8 * mm, 4 * mm), rel=1e-15)
    assert drawing.stems[0].centreline.end == pytest.approx((8 * mm, 4 * mm), rel=1e-15)
    assert drawing.notes == ()


def test_figure_arcs01_at_true_size() -> None:
    """The file's own root: 12 cm by 5.25 cm, one unit is 0.1 mm, shifted down by 6.25 mm."""
    text = (
        '<svg width="12cm" height="5.25cm" viewBox="0 0 1200 400" xmlns="http://www.w3.org/2000/svg">'
        '<path id="pie" d="M300,200 h-150 a150,150 0 1,0 150,-150 z" fill="red" stroke="blue"/></svg>'
    )
    (pie,) = read_drawing(io.StringIO(text)).motifs
    assert pie.outline.start == pytest.approx((30, 26.25))
    assert pie.outline.length == pytest.approx(100.685834706, rel=1e-10)
    assert pie.outline.bounds == pytest.approx((15, 11.25, 45, 41.25))
