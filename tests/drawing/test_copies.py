"""Copies, symbols and alternatives (SVG 2, sections 5.5 to 5.8)."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import numpy as np
import pytest

from bias_drafting.drawing.read import read_drawing
from bias_drafting.errors import DrawingError

if TYPE_CHECKING:
    from bias_drafting.drawing.drawing import Drawing, Shape


def drawn(body: str) -> Drawing:
    root = 'width="90mm" height="90mm" viewBox="0 0 90 90" xmlns:xlink="http://www.w3.org/1999/xlink"'
    return read_drawing(io.StringIO(f"<svg {root}>{body}</svg>"))


def box(shape: Shape) -> tuple[float, float, float, float]:
    return shape.curves[0].bounds


RECT = '<rect id="r" x="1" y="2" width="4" height="3" stroke="red"/>'


@pytest.mark.parametrize(
    ("use", "bounds"),
    [
        ('<use href="#r"/>', (1, 2, 5, 5)),
        ('<use xlink:href="#r" x="10"/>', (11, 2, 15, 5)),
        ('<use href="#r" xlink:href="#none" y="10%"/>', (1, 11, 5, 14)),
        ('<use href="#r" x="1" transform="scale(2)"/>', (4, 4, 12, 10)),
        ('<use href="#r" width="50" height="50"/>', (1, 2, 5, 5)),  # of no effect on a shape
        ('<use href=" #r " style="transform: translate(3px, 4px)"/>', (4, 6, 8, 9)),
        ('<use href="#r" transform="rotate(90)"/>', (-5, 1, -2, 5)),
    ],
)
def test_a_copy_of_a_shape(use: str, bounds: tuple[float, ...]) -> None:
    (shape,) = drawn(f"<defs>{RECT}</defs>{use}").shapes
    assert box(shape) == pytest.approx(bounds)


@pytest.mark.parametrize(
    ("target", "use", "bounds"),
    [
        # A symbol fills what the copy gives it, else all of the viewport it stands in.
        ('<symbol id="t" viewBox="0 0 10 10">{}</symbol>', 'width="20" height="20"', (2, 4, 10, 10)),
        ('<symbol id="t" viewBox="0 0 10 10">{}</symbol>', "", (9, 18, 45, 45)),
        ('<symbol id="t" viewBox="0 0 10 10" width="30" height="30">{}</symbol>', "", (3, 6, 15, 15)),
        (
            '<symbol id="t" viewBox="0 0 10 10" width="3" height="3">{}</symbol>',
            'width="20" height="20" x="5"',
            (7, 4, 15, 10),
        ),
        ('<symbol id="t">{}</symbol>', 'x="5" y="6"', (6, 8, 10, 11)),
        (
            '<symbol id="t" viewBox="0 0 10 10" preserveAspectRatio="xMaxYMid">{}</symbol>',
            'width="40" height="20"',
            (22, 4, 30, 10),
        ),
        ('<svg id="t" viewBox="0 0 10 10" width="10" height="10" x="50">{}</svg>', "", (51, 2, 55, 5)),
        ('<svg id="t" viewBox="0 0 10 10" width="10" height="10">{}</svg>', 'width="30"', (11, 2, 15, 5)),
        ('<g id="t" transform="translate(0 7)">{}</g>', 'x="1" transform="scale(2)"', (4, 18, 12, 24)),
        ('<a id="t">{}</a>', 'x="1"', (2, 2, 6, 5)),
        ('<switch id="t">{}</switch>', 'x="1"', (2, 2, 6, 5)),
        ('<g id="u">{}</g><use id="t" href="#u" x="3"/>', 'x="1"', (5, 2, 9, 5)),
    ],
)
def test_a_copy_of_what_holds_shapes(target: str, use: str, bounds: tuple[float, ...]) -> None:
    body = f'<defs>{target.format(RECT)}</defs><use href="#t" {use}/>'
    (shape,) = drawn(body).shapes
    assert box(shape) == pytest.approx(bounds)


def test_copies_take_their_paint_from_where_they_are_drawn() -> None:
    body = """<style>.wide{stroke-width:3} g.bed path{stroke-width:5} #far path{stroke-width:7}</style>
    <defs><path id="p" d="M0 0h9"/><path id="q" d="M0 0h9" stroke-width="2"/>
    <g id="far"><path id="w" d="M0 0h9"/></g></defs>
    <g stroke="green"><use href="#p" class="wide"/><use href="#q" class="wide"/><use href="#w"/></g>
    <g class="bed" stroke="red"><use href="#p"/></g>"""
    # In a copy a rule sees neither what is round the original nor what is round the copy (SVG 2, section 5.6.3).
    assert [shape.stroke_width for shape in drawn(body).shapes] == [3, 2, 1, 1]


def test_copies_bear_their_own_names() -> None:
    body = """<defs><path id="pod" d="M0 0h9" stroke="red"/><g id="spray"><path id="stem a" d="M0 0h5" stroke="red"/>
    <path d="M0 0v5" stroke="red"/></g></defs>
    <use id="left pod" href="#pod"/><use href="#pod" x="9"/><g id="bed"><use id="first spray" href="#spray"/></g>
    <use id="second spray" href="#spray" data-cloth="green"/>"""
    drawing = drawn(body)
    assert [shape.name for shape in drawing.shapes] == [
        "left pod",
        "pod",
        "stem a",
        "path 4",
        "stem a 2",
        "path 6",
    ]
    assert drawing.shapes[2].layers == ("bed", "first spray", "spray")
    assert drawing.shapes[2].words == ("stem a", "spray", "first spray", "bed")
    assert drawing.shapes[4].settings == {"cloth": "green"}
    assert drawing.shapes[0].line == 1


@pytest.mark.parametrize(
    ("body", "note"),
    [
        ('<use id="u"/>', "u: left out, because it does not say what it copies"),
        ('<use id="u" href="#pod"/>', "u: left out, because nothing in the drawing has the id 'pod'"),
        ('<use id="u" href="beds.svg#pod"/>', "u: left out, because it refers to another file"),
        (
            '<use id="u" href="#c"/><clipPath id="c"/>',
            "u: left out, because it copies <clipPath>, which is not drawn",
        ),
        (
            '<symbol id="s" viewBox="0 0 9 9"><path d="M0 0h1"/></symbol><use id="u" href="#s" width="0"/>',
            "u: left out with the shape in it, because its width or height is 0",
        ),
        (
            '<symbol id="s" display="none"><path d="M0 0h1"/></symbol><use id="u" href="#s"/>',
            "u: left out with the shape in it, because its display is none",
        ),
        (
            (
                '<symbol id="s"><path id="p" d="M0 0h99" stroke="red"/></symbol>'
                '<use id="u" href="#s" width="5" height="5"/>'
            ),
            "u: read whole, because what lies beyond its edges would not be seen, and is not cut off here: p",
        ),
        ('<text id="t">peas</text><use id="u" href="#t"/>', "t: left out, because lettering is not read"),
    ],
)
def test_copies_that_draw_nothing_or_too_much_are_told(body: str, note: str) -> None:
    assert any(str(found).endswith(note) for found in drawn(body).notes), drawn(body).notes


@pytest.mark.parametrize(
    ("body", "way"),
    [
        ('<g id="a"><use href="#a"/></g>', "#a > #a"),
        (
            '<defs><g id="a"><use id="u" href="#b"/></g><g id="b"><use href="#a"/></g></defs><use href="#a"/>',
            "#a > #b > #a",
        ),
        ('<use id="u" href="#u"/>', "#u > #u"),
    ],
)
def test_copies_of_themselves_are_an_error(body: str, way: str) -> None:
    with pytest.raises(DrawingError, match=f"leads back to itself by way of {way}"):
        drawn(body)


def test_bombs_of_copies_are_refused() -> None:
    layers = "".join(f'<g id="b{k}">{f"""<use href="#b{k - 1}"/>""" * 10}</g>' for k in range(1, 12))
    with pytest.raises(DrawingError, match="more than 50,000 elements"):
        drawn(f'<defs><path id="b0" d="M0 0h1"/>{layers}</defs><use href="#b11"/>')
    chain = "".join(f'<use id="c{k}" href="#c{k - 1}"/>' for k in range(1, 200))
    with pytest.raises(DrawingError, match="copies of copies go more than 50 deep"):
        drawn(f'<defs><path id="c0" d="M0 0h1"/>{chain}</defs><use href="#c199"/>')


@pytest.mark.parametrize(
    ("inside", "width"),
    [
        ('<g systemLanguage="de">{1}</g><g systemLanguage="en">{2}</g>{3}', 2),
        ('<g systemLanguage="en-GB, fr">{1}</g>{2}', 1),
        ('<g systemLanguage="">{1}</g>{2}', 2),
        ('<g requiredExtensions="urn:beans">{1}</g>{2}', 2),
        ('<foreignObject requiredExtensions="urn:beans"/><g>{1}</g>', 1),
        ('<title>x</title><desc/><path requiredExtensions="" d="M0 0h1" stroke="red"/>{2}', 2),
        ('<g systemLanguage="de">{1}</g>', None),
    ],
)
def test_a_switch_draws_the_first_that_fits(inside: str, width: float | None) -> None:
    for k in (1, 2, 3):
        inside = inside.replace(f"{{{k}}}", f'<path d="M0 0h{k}" stroke="red"/>')
    found = [shape.curves[0].length for shape in drawn(f"<switch>{inside}</switch>").shapes]
    assert found == ([] if width is None else [width])


def test_what_is_for_others_is_left_out_anywhere() -> None:
    drawing = drawn('<path id="p" systemLanguage="de" d="M0 0h1" stroke="red"/>')
    assert drawing.shapes == ()
    assert "p: left out, because it is for readers of another language" in str(drawing.notes[0])


def test_any_chain_of_places_is_one_affine_map() -> None:
    random = np.random.default_rng(7)
    for _ in range(40):
        whole, opening, closing = np.eye(3), "", ""
        for _ in range(int(random.integers(1, 6))):
            kind = random.integers(3)
            if kind == 0:
                a, b, c, d, e, f = random.uniform(-2, 2, 6)
                step, tag = np.array([[a, c, e], [b, d, f], [0, 0, 1]]), "g"
                text = f'transform="matrix({" ".join(repr(float(v)) for v in (a, b, c, d, e, f))})"'
            elif kind == 1:
                x, y, w, h, bx, by, bw, bh = (float(v) for v in random.uniform(1, 50, 8))
                tag, text = (
                    "svg",
                    (
                        f'x="{x!r}" y="{y!r}" width="{w!r}" height="{h!r}" viewBox="{bx!r} {by!r} {bw!r} {bh!r}" '
                        'preserveAspectRatio="none"'
                    ),
                )
                step = np.array([[w / bw, 0, x - bx * w / bw], [0, h / bh, y - by * h / bh], [0, 0, 1]])
            else:
                x, y, turn = (float(v) for v in random.uniform(-20, 20, 3))
                tag, text = "g", f'style="transform-origin:{x!r}px {y!r}px;transform:rotate({turn!r}deg)"'
                cosine, sine = np.cos(np.radians(turn)), np.sin(np.radians(turn))
                step = np.array(
                    [
                        [cosine, -sine, x - cosine * x + sine * y],
                        [sine, cosine, y - sine * x - cosine * y],
                        [0, 0, 1],
                    ]
                )
            whole, opening, closing = whole @ step, opening + f"<{tag} {text}>", f"</{tag}>" + closing
        points = random.uniform(0, 50, (4, 2))
        data = "M{} {}C{} {} {} {} {} {}".format(*(repr(float(v)) for v in points.ravel()))
        drawing = drawn(f'{opening}<path d="{data}" stroke="red" fill="none"/>{closing}')
        expected = points @ whole[:2, :2].T + whole[:2, 2]
        controls = drawing.shapes[0].curves[0].controls[0]
        assert controls == pytest.approx(expected, rel=1e-9, abs=1e-9)


def test_a_copy_of_a_copy_is_called_as_the_outermost() -> None:
    leaf = '<path id="leaf" d="M0 0h9v9z"/><use id="second" href="#leaf" x="20"/>'
    drawing = drawn(f'{leaf}<use id="third" href="#second" y="20"/><use href="#second" y="40"/>')
    assert [motif.name for motif in drawing.motifs] == ["leaf", "second", "third", "second 2"]
    assert [shape.layers for shape in drawing.shapes] == [()] * 4
    assert drawing.shapes[2].words == ("leaf", "second", "third")


def test_a_copy_of_a_copy_of_a_group_is_called_as_the_outermost() -> None:
    sprig = '<g id="sprig"><path id="leaf" d="M0 0h9v9z"/></g><use id="second" href="#sprig" x="20"/>'
    *_, shape = drawn(f'{sprig}<use id="third" href="#second" y="20"/>').shapes
    assert shape.name == "leaf 3"
    assert shape.layers == ("third", "sprig")


def test_notes_are_on_the_shape_of_the_name_they_give() -> None:
    bad = '<path id="stem" d="M0 0H9L" stroke="red"/><path id="stem" d="M0 9H9 9L" stroke="red"/>'
    told = [note.element for note in drawn(bad).notes if "drawn only up to" in note.what]
    assert told == ["stem", "stem 2"]
