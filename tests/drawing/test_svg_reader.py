"""Painting, hiding, naming, layers, settings, and a note for everything left out."""

from __future__ import annotations

import io

import numpy as np
import pytest

from bias_drafting.drawing.drawing import Drawing, Note
from bias_drafting.drawing.read import read_drawing
from bias_drafting.errors import DrawingError

LINE = 'd="M1 1h5"'


def drawn(body: str, root: str = 'width="90mm" height="90mm" viewBox="0 0 90 90"') -> Drawing:
    return read_drawing(io.StringIO(f"<svg {root}>{body}</svg>"))


def notes_on(body: str) -> list[str]:
    return [str(note) for note in drawn(body).notes if note.what != "no stem found"]


# Painting


@pytest.mark.parametrize(
    ("paint", "width", "filled"),
    [
        ('stroke="red"', 1.0, True),
        ('stroke="red" fill="none"', 1.0, False),
        ('stroke="red" stroke-width="6.35" fill="none"', 6.35, False),
        ('stroke="red" stroke-width="10mm"', 10 / 25.4 * 96, True),
        ('stroke="red" stroke-width="10%"', 9.0, True),
        ('stroke="red" stroke-width="0"', None, True),
        ('style="stroke:red;stroke-width:2;fill:none"', 2.0, False),
        ('stroke="none" style="stroke : red ; /* fill: red; */ fill : NONE !important"', 1.0, False),
        ('stroke="red" style="stroke:none"', None, True),
        ('stroke="red" stroke-opacity="0"', None, True),
        ('stroke="red" fill-opacity="0.0"', 1.0, False),
        ('stroke="transparent"', None, True),
        ('stroke="red" style="fill:currentColor;stroke-width:"', 1.0, True),
        ('stroke="red" stroke-opacity="50%"', 1.0, True),
        ('stroke="initial"', None, True),
        ("", None, True),
    ],
)
def test_painting(paint: str, width: float | None, filled: bool) -> None:
    """SVG 2, sections 6.6 and 13.1: a style outweighs the attribute; fill is black, stroke none, its width 1."""
    (shape,) = drawn(f'<path d="M1 1h5v5" {paint}/>').shapes
    assert shape.stroke_width == (None if width is None else pytest.approx(width))
    assert shape.filled is filled


def test_painting_is_inherited() -> None:
    body = f"""<g stroke="red" style="stroke-width:3" fill="none"><g stroke="inherit">
        <path {LINE}/><path {LINE} stroke-width="5"/><path {LINE} stroke="initial" fill="blue"/></g></g>"""
    assert [(shape.stroke_width, shape.filled) for shape in drawn(body).shapes] == [
        (3, False),
        (5, False),
        (None, True),
    ]


@pytest.mark.parametrize(
    ("transform", "width"),
    [
        ("scale(3)", 6),
        ("scale(-3 12)", 12),
        ("rotate(30)", 2),
        ("skewX(45) scale(2)", 4),
        ("matrix(0 2 -8 0 1 1)", 8),
    ],
)
def test_stroke_width_grows_with_the_root_of_the_area(transform: str, width: float) -> None:
    (shape,) = drawn(f'<g transform="{transform}"><path {LINE} stroke="red" stroke-width="2"/></g>').shapes
    assert shape.stroke_width == pytest.approx(width)


def test_a_width_that_does_not_scale_is_in_css_px() -> None:
    style = 'style="vector-effect:non-scaling-stroke" stroke="red" stroke-width="48"'
    text = (
        f'<svg width="9in" height="9in" viewBox="0 0 9 9"><path {LINE} {style} transform="scale(3)"/></svg>'
    )
    assert read_drawing(io.StringIO(text)).shapes[0].stroke_width == pytest.approx(12.7)
    assert read_drawing(io.StringIO(text), scale=2).shapes[0].stroke_width == pytest.approx(25.4)


@pytest.mark.parametrize("width", ["-1", "12 furlongs", "NaN", "thick"])
def test_stroke_widths_that_cannot_be(width: str) -> None:
    with pytest.raises(DrawingError, match=r"drawing: pea \(<path>, line 1\): stroke-width: "):
        drawn(f'<path id="pea" {LINE} stroke="red" stroke-width="{width}"/>')


# Hiding


def test_hidden_shapes_are_noted() -> None:
    body = f"""<g stroke="red">
        <path id="a" {LINE} display="none"/>
        <path id="b" {LINE} style="visibility:hidden"/>
        <g id="c" style="display : none"><path {LINE}/><g><rect/></g></g>
        <g id="d" visibility="hidden"><path id="e" {LINE}/><path id="f" {LINE} visibility="visible"/></g>
        <path id="g" {LINE} opacity="0"/>
        <path id="h" {LINE} stroke="none" fill="none"/>
        <line id="i" x2="5" fill="red" stroke="none"/></g>"""
    assert [shape.name for shape in drawn(body).shapes] == ["f"]
    assert notes_on(body) == [
        "line 2, a: left out, because its display is none",
        "line 3, b: left out, because its visibility is hidden",
        "line 4, c: left out with the 2 shapes in it, because its display is none",
        "line 5, e: left out, because its visibility is hidden",
        "line 6, g: left out, because its opacity is 0",
        "line 7, h: left out, because it is neither stroked nor filled",
        "line 8, i: left out, because it is neither stroked nor filled",
    ]


def test_a_drawing_hidden_whole() -> None:
    text = f'<svg width="9mm" height="9mm" viewBox="0 0 9 9" display="none"><path {LINE}/></svg>'
    drawing = read_drawing(io.StringIO(text))
    assert drawing.shapes == ()
    assert drawing.notes[0] == Note("svg", 1, "left out whole", "its display is none")


def test_definitions_are_not_drawn_and_need_no_note() -> None:
    names = ("defs", "clipPath", "mask", "marker", "pattern", "symbol", "metadata", "linearGradient")
    body = "".join(f'<{name}><path {LINE} stroke="red"/></{name}>' for name in names)
    drawing = drawn(body + "<title>t</title><desc>d</desc><style> </style>")
    assert drawing.shapes == ()
    assert [note.what for note in drawing.notes] == ["no stem found"]


def test_what_would_draw_but_is_not_read_is_noted() -> None:
    body = """<text>beans</text>
        <image/>
        <foreignObject/>
        <hop/>"""
    assert notes_on(body) == [
        "line 1, text 1: left out, because lettering is not read",
        "line 2, image 1: left out, because pictures are not read, only lines and shapes",
        "line 3, foreignObject 1: left out, because only the shapes of SVG are read",
        "line 4, hop 1: left out, because <hop> is no shape of SVG",
    ]


def test_elements_of_other_namespaces_draw_nothing() -> None:
    drawing = drawn(
        f'<e:path xmlns:e="urn:editor" {LINE} stroke="red"/><e:g xmlns:e="urn:editor"><path/></e:g>'
    )
    assert drawing.shapes == ()
    assert len(drawing.notes) == 1


def test_clips_masks_and_markers_are_noted() -> None:
    body = f"""<g stroke="red" id="vines" clip-path="url(#c)" mask="none">
        <path id="pea" {LINE} style="marker-start:url(#m);marker-end:url(#m)" mask="url(#k)"/></g>"""
    assert notes_on(body) == [
        "line 1, vines: read whole, because its clip-path is not applied",
        "line 2, pea: read whole, because its mask is not applied",
        "line 2, pea: read without its markers, because they are not read",
    ]


def test_shapes_off_the_page_are_noted() -> None:
    body = """<g stroke="red"><path id="a" d="M-9 5h8"/><path id="b" d="M-9 5h10"/><path id="c" d="M5 91h9"/>
        <circle id="d" cx="95" cy="95" r="6"/></g>"""
    assert notes_on(body) == [
        "line 1, a: read like the rest, because it lies off the page but is not hidden",
        "line 1, c: read like the rest, because it lies off the page but is not hidden",
    ]


# Places


def test_links_and_inner_drawings_are_groups() -> None:
    body = f"""<a id="stems"><svg id="corner" x="10" y="20" width="20" height="40" viewBox="0 0 2 4">
        <path {LINE} stroke="red"/></svg></a><svg id="none" width="0"><rect/></svg>"""
    drawing = drawn(body)
    assert drawing.shapes[0].curves[0].start == (20.0, 30.0)
    assert drawing.shapes[0].layers == ("stems", "corner")
    assert notes_on(body) == [
        (
            "line 1, corner: read whole, because what lies beyond its edges would not be seen, "
            "and is not cut off here: path 1"
        ),
        "line 2, none: left out with the shape in it, because its width or height is 0",
    ]


def test_percentages_in_an_inner_drawing_are_of_its_own_viewport() -> None:
    body = '<svg x="10%" width="50%" height="50%" viewBox="0 0 10 10"><line x2="100%" stroke="red"/></svg>'
    assert drawn(body).shapes[0].curves[0].bounds == pytest.approx((9, 0, 54, 0))


def test_transforms_in_a_style() -> None:
    body = f'<path {LINE} stroke="red" transform="scale(9)" style="transform: translate(10px, 5px) rotate(90deg)"/>'
    assert drawn(body).shapes[0].curves[0].end == pytest.approx((9, 11))


@pytest.mark.parametrize(
    ("attribute", "message"),
    [
        ('transform="rotate(45"', "the transform 'rotate(45' cannot be read, at character 1"),
        ('transform="scale(nan)"', "in its transform, 'nan' is not a finite number, at character 1"),
        ('transform="rotate(9)" transform-origin="1em 2px"', "'1em' cannot be read as a length"),
        ('style="transform: rotate(9)"', "'9' is not an angle"),
        ('style="transform: rotate3d(1,0,0,9deg)"', "the transform 'rotate3d(1,0,0,9deg)' is not read here"),
        ('style="rotate: x 30deg"', "its rotate 'x 30deg' is not read"),
        ('style="offset-path: circle()"', "its style says 'offset-path', which is not read"),
        ('transform="scale(1e200)"', "its transforms lead to numbers that are not finite"),
    ],
)
def test_transforms_that_cannot_be_read_name_the_element(attribute: str, message: str) -> None:
    with pytest.raises(DrawingError) as error:
        drawn(f'<g>\n<path id="pea" {LINE} stroke="red" {attribute}/></g>')
    assert str(error.value).startswith(f"drawing: pea (<path>, line 2): {message}")
    with pytest.raises(DrawingError) as error:
        drawn(f'\n<g id="hops" {attribute}><path {LINE} stroke="red"/></g>')
    assert "finite" in message or str(error.value).startswith(f"drawing: hops (<g>, line 2): {message}")


@pytest.mark.parametrize("origin", ["0 0", "0px 0px", "left top", "top left"])
def test_an_origin_at_zero_is_the_usual_one(origin: str) -> None:
    body = f'<path {LINE} stroke="red" transform="scale(2)" style="transform-origin:{origin}"/>'
    assert drawn(body).shapes[0].curves[0].start == (2, 2)


def test_ends_that_meet_close_a_curve() -> None:
    body = """<g stroke="red" fill="none"><path id="exact" d="M5 5h9v9L5 5"/><path id="near" d="M5 5h9v9L5 5.0005"/>
        <path id="apart" d="M5 5h9v9L5 5.01"/><path id="tiny" d="M5 5h.01v.01L5 5.0005"/></g>"""
    drawing = drawn(body)
    assert [shape.curves[0].closed for shape in drawing.shapes] == [True, True, False, False]
    assert [str(note) for note in drawing.notes if "closed" in note.what] == [
        "line 1, exact: read as closed, because its ends meet",
        "line 1, near: read as closed, because its ends meet",
    ]


def test_a_closing_line_of_rounding_has_no_direction() -> None:
    """Half a micrometre of closing line would add a turn of 90 degrees and back."""
    ring = "M50 30A20 20 0 0 1 50 70 20 20 0 0 1 {} 30z"
    drawing = drawn(
        f'<path d="{ring.format(50.0005)}" stroke="red"/><path d="{ring.format(50)}" stroke="red"/>'
    )
    turnings = [shape.curves[0].turning for shape in drawing.shapes]
    assert turnings == pytest.approx([360, 360], abs=0.01)


# Names, layers and settings


def test_names() -> None:
    label = 'xmlns:e="urn:editor" e:label'
    body = f"""<g stroke="red">
        <path id="vine" {label}="The vine" {LINE}/>
        <path id="path1234" {label}=" Hop \n bine " {LINE}/>
        <path id="path77" {LINE}><title>pea</title></path>
        <path id="path78" {LINE}/>
        <path {label}="label only" {LINE}/>
        <path {LINE}/>
        <line x2="5"/>
        <path id="7" label="plain" {LINE}/></g>"""
    assert [shape.name for shape in drawn(body).shapes] == [
        "vine",
        "Hop bine",
        "pea",
        "path78",
        "label only",
        "path 6",
        "line 1",
        "plain",
    ]


def test_names_that_differ() -> None:
    body = """<g stroke="red"><path id="vine" d="M1 1h5"/><path id="vine" d="M1 2h5"/>
        <path id="vine 2" d="M1 3h5"/><path id="vine" d="M1 4h5"/><path d="M1 5h5"/></g>"""
    drawing = drawn(body)
    assert [shape.name for shape in drawing.shapes] == ["vine", "vine 3", "vine 2", "vine 4", "path 5"]
    assert notes_on(body) == [
        "line 1, vine 3: called 'vine 3', because the name 'vine' is taken",
        "line 2, vine 4: called 'vine 4', because the name 'vine' is taken",
    ]


def test_layers_words_and_lines() -> None:
    body = f"""<g id="layer1" label="Garden wall">
        <g><g id="stems" class="bean climbing">
        <path id="path12"
              class="vine" {LINE} stroke="red"><title>pea</title></path></g></g></g>"""
    drawing = drawn(body)
    (shape,) = drawing.shapes
    assert shape.layers == ("Garden wall", "stems")
    assert shape.layer == drawing.stems[0].layer == "stems"
    assert shape.words == ("path12", "pea", "vine", "stems", "bean climbing", "layer1", "Garden wall")
    assert shape.line == 3
    assert shape.tag == "path"


def test_settings_come_from_the_nearest() -> None:
    text = f"""<svg width="9mm" height="9mm" viewBox="0 0 9 9" data-cloth="lawn" data-making="folded strip">
        <g data-finished-width="1/4 in" data-making="sewn tube"><path id="a" {LINE} stroke="red"
        data-finished-width="3/8 in"/><path id="b" d="M2 2h5" stroke="red"/></g></svg>"""
    drawing = read_drawing(io.StringIO(text))
    assert dict(drawing["a"].settings) == {"cloth": "lawn", "making": "sewn tube", "finished-width": "3/8 in"}
    assert dict(drawing["b"].settings) == {"cloth": "lawn", "making": "sewn tube", "finished-width": "1/4 in"}
    with pytest.raises(TypeError):
        drawing["a"].settings["cloth"] = "silk"  # type: ignore[index]


# The page


@pytest.mark.parametrize(
    ("root", "size", "note"),
    [
        ('width="4in" height="2in"', (101.6, 50.8), None),
        ('width="4in" height="2in" viewBox="0 0 16 8.007"', (101.6, 50.8), None),
        (
            'width="4in" height="2in" viewBox="0 0 8 8"',
            (101.6, 50.8),
            "its units are read as 6.35 mm, because its page and its viewBox differ in proportions: by its width a",
        ),
        (
            'width="4in" height="2in" viewBox="0 0 8 8" preserveAspectRatio="none"',
            (101.6, 50.8),
            "it is stretched to its page, because by its width a unit is 12.7 mm, by its height 6.35 mm",
        ),
        (
            'width="384" height="192"',
            (101.6, 50.8),
            "its size is read in px, because a file without units is read at 96",
        ),
        (
            'width="384" height="2in"',
            (101.6, 50.8),
            "its size is read in px, because a file without units is read at 96",
        ),
        (
            'viewBox="0 0 384 192"',
            (101.6, 50.8),
            "its viewBox is read in px, because its width and height are no lengths",
        ),
        (
            'width="100%" height="100%" viewBox="3 4 384 192"',
            (101.6, 50.8),
            "its viewBox is read in px, because",
        ),
        (
            'width="4in" viewBox="0 0 10 5"',
            (101.6, 50.8),
            "its height follows from its width, because only the width",
        ),
        (
            'width="auto" height="2in" viewBox="0 0 10 5"',
            (101.6, 50.8),
            "its width follows from its height, because",
        ),
        (
            "",
            (79.375, 39.6875),
            "its missing width or height is taken as 300 or 150 px, because it has no viewBox",
        ),
        ('width="4in"', (101.6, 39.6875), "its missing width or height is taken as 300 or 150 px, because"),
        ('style="width:4in;height:2in"', (101.6, 50.8), None),
        ('width="4in" height="2in" style="width:100%;height:1in"', (101.6, 25.4), None),
    ],
)
def test_the_size_of_the_page(root: str, size: tuple[float, float], note: str | None) -> None:
    drawing = drawn('<rect x="5" y="5" width="3" height="3"/>', root)
    assert drawing.size == pytest.approx(size)
    notes = [str(n) for n in drawing.notes if n.what != "no stem found"]
    assert len(notes) == (note is not None)
    assert note is None or notes[0].startswith(f"line 1, svg: {note}")


def test_user_units_without_a_view_box_are_px() -> None:
    assert drawn(f'<path {LINE} stroke="red"/>', 'width="4in" height="2in"').stems[
        0
    ].centreline.length == pytest.approx(5 * 25.4 / 96)


def test_a_transform_of_the_root_is_about_the_middle_of_the_page() -> None:
    (shape,) = drawn(f'<path {LINE} stroke="red"/>', 'width="4in" height="2in" transform="scale(2)"').shapes
    px = 25.4 / 96
    assert shape.curves[0].bounds == pytest.approx(
        ((2 - 192) * px, (2 - 96) * px, (12 - 192) * px, (2 - 96) * px)
    )


@pytest.mark.parametrize(
    ("root", "message"),
    [
        ('width="0" height="2in"', "its width is '0'; it must be more than 0"),
        ('width="2in" height="-1mm"', "its height is '-1mm'; it must be more than 0"),
        ('width="12 furlongs" height="2in"', "width: '12 furlongs' cannot be read as a length"),
        ('width="NaN" height="2in"', "width: 'NaN' is not a finite number"),
        ('width="4in" height="1e999in"', "height: '1e999in' is not a finite number"),
        ('width="4in" height="1e308in"', "its width and height are not finite numbers of millimetres"),
        ('width="4in" height="2in" viewBox="0 0 0 5"', "the viewBox '0 0 0 5' has no size"),
        ('width="4in" height="2in" viewBox="0 0 5 -5"', "the viewBox '0 0 5 -5' has no size"),
        ('width="4in" height="2in" viewBox="0 0 5"', "the viewBox '0 0 5' is not four numbers"),
        ('width="4in" height="2in" viewBox="0 0 inf 5"', "in its viewBox, 'inf 5' is not a finite number"),
        ('viewBox="0 0 5 5" preserveAspectRatio="middle"', "the preserveAspectRatio 'middle' cannot be read"),
    ],
)
def test_sizes_that_cannot_be(root: str, message: str) -> None:
    with pytest.raises(DrawingError) as error:
        drawn("", root)
    assert str(error.value).startswith(f"drawing: svg (<svg>, line 1): {message}")


def test_scale_multiplies_everything() -> None:
    body = f'<path id="pea" {LINE} stroke="red" stroke-width="2" transform="rotate(30)"/>'
    text = f'<svg width="4in" height="2in" viewBox="0 0 8 8">{body}</svg>'
    plain, double = read_drawing(io.StringIO(text)), read_drawing(io.StringIO(text), scale=2)
    assert double.size == pytest.approx((203.2, 101.6))
    assert double["pea"].drawn_width == pytest.approx(2 * plain["pea"].drawn_width)  # type: ignore[operator]
    np.testing.assert_allclose(double["pea"].centreline.controls, 2 * plain["pea"].centreline.controls)


@pytest.mark.parametrize(
    ("body", "message"),
    [
        ('<path d="M0 0H1e10" stroke="red"/>', "it reaches 1e+10 mm away, further than any drawing"),
        ('<path d="M0 0H1" stroke="red" stroke-width="1e10"/>', "its line is 1e+10 mm wide"),
        ('<rect width="1e308mm" height="5"/>', "width: inf units are more than any drawing has"),
        ('<circle r="1e308%"/>', "r: 9e+307 units"),
        ('<rect width="1e200" height="5"/>', "width: 1e+200 units are more than any drawing has"),
        ('<path d="M0 0H1" transform="rotate(1e400)"/>', "not a finite number"),
        ('<path d="M0 0H1" style="transform:skewX(1e400deg)"/>', "not a finite number"),
        (
            '<g font-size="1e300"><path d="M0 0H1" stroke="red" stroke-width="2em"/></g>',
            "wider than any drawing",
        ),
    ],
)
def test_what_no_drawing_has_is_refused(body: str, message: str) -> None:
    with pytest.raises(DrawingError) as error:
        drawn(body)
    assert message in str(error.value)


@pytest.mark.parametrize("root", ['width="1e-300mm" height="1mm"', 'width="1e10mm" height="1mm"'])
def test_pages_of_no_size_that_can_be_are_refused(root: str) -> None:
    with pytest.raises(DrawingError, match="is none that a drawing has"):
        drawn("", f'{root} viewBox="0 0 1 1"')


@pytest.mark.parametrize("shape", ['<line x2="1e-320"/>', '<path d="M1 1l1e-9 0"/>'])
def test_what_is_too_small_to_see_has_no_length(shape: str) -> None:
    body = f'<g stroke="red" id="g">{shape}</g>'
    assert drawn(body).shapes == ()
    assert "it has no length" in str(drawn(body).notes[0])


def test_a_line_too_thin_to_see_is_none() -> None:
    (shape,) = drawn('<path d="M1 1h5v5" stroke="red" stroke-width="1e-320"/>').shapes
    assert shape.stroke_width is None


def test_a_strip_a_thousand_times_as_long_as_wide_is_no_stem() -> None:
    drawing = drawn('<rect id="a stem" width="1" height="70000"/><path d="M0 0h9" stroke="red"/>')
    assert len(drawing.stems) == 1
    assert any("too long for its width" in note.why for note in drawing.notes)


@pytest.mark.parametrize("box", ["0 0 10 1e308", "0 0 1e308 1e-308", "0 0 1e-320 5", "0 0 5 1e-320"])
def test_view_boxes_of_no_size_to_speak_of(box: str) -> None:
    notes = drawn(f'<path {LINE} stroke="red"/>', f'width="4in" height="4in" viewBox="{box}"').notes
    assert any("differ in proportions" in note.why for note in notes)


@pytest.mark.parametrize(
    "body",
    [
        f'<rect width="1{" " * 40_000}!" height="9"/>',
        f'<g id="em" font-size="{"1" * 40_000}"><path d="M0 0H9" stroke="red"/></g>',
    ],
)
def test_long_junk_for_a_length_takes_no_long_time(body: str) -> None:
    # It would take minutes if every part were tried from every place.
    try:
        assert drawn(body).size
    except DrawingError as error:
        assert len(str(error)) < 300  # noqa: PT017
