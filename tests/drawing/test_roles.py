"""Which shape is a stem, which a motif, which the frame."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import pytest

from bias_drafting.curve.curve import Curve
from bias_drafting.drawing.drawing import Shape
from bias_drafting.drawing.read import read_drawing
from bias_drafting.drawing.role_words import roles_from_words
from bias_drafting.drawing.roles import sort_shapes
from bias_drafting.errors import DrawingError

if TYPE_CHECKING:
    from bias_drafting.drawing.drawing import Drawing
    from bias_drafting.drawing.roles import Roles

OPEN = 'd="M1 1h20v5" stroke="green" fill="none"'
FILLED = 'd="M1 1h20v5"'
RING = 'd="M1 1h9v8z" stroke="green" fill="none"'
BLOB = 'd="M1 1h9v8z"'


def drawn(body: str, roles: Roles | None = None) -> Drawing:
    return read_drawing(
        io.StringIO(f'<svg width="90mm" height="90mm" viewBox="0 0 90 90">{body}</svg>'), roles=roles
    )


def role_of(body: str) -> str:
    """Return the roles of a drawing's shapes, and whether there were notes, in short."""
    drawing = drawn(body)
    notes = [note for note in drawing.notes if note.what != "no stem found"]
    found = (
        ["stem"] * len(drawing.stems)
        + ["motif"] * len(drawing.motifs)
        + ["frame"] * (drawing.frame is not None)
    )
    return "+".join(found) + "!" * bool(notes)


@pytest.mark.parametrize(
    ("text", "roles"),
    [
        ("stem", ["stem"]),
        ("Bean_Vines-12", ["stem"]),
        ("tendril3", ["stem"]),
        ("leaf-stem", ["stem", "motif"]),
        ("stem leaf", ["motif", "stem"]),
        ("beanPod", ["motif"]),
        ("LEAVES", ["motif"]),
        ("berries", ["motif"]),
        ("rose buds", ["motif"]),
        ("block-edge", ["frame"]),
        ("border vine", ["stem", "frame"]),
        ("outer borders", ["frame"]),
        ("system", []),
        ("leaflet", []),
        ("blocked", []),
        ("podium stemless", []),
        ("path12", []),
        ("", []),
    ],
)
def test_words(text: str, roles: list[str]) -> None:
    assert roles_from_words([text]) == roles


def test_own_words_come_before_those_of_groups_nearest_first() -> None:
    assert roles_from_words(["path1", "pod", "vines", "frame"]) == ["motif", "stem", "frame"]


LEAF = 'd="M10 20C15 10 25 10 30 20C25 30 15 30 10 20Z" fill="green"'
CURVED = 'd="M5 5C20 40 40 0 60 50" stroke="green" fill="none"'
SQUARE = '<rect width="80" height="80" rx="2" fill="none" stroke="red"/>'


@pytest.mark.parametrize(
    ("body", "role"),
    [
        # A layer of all that belongs to one block or border: its name is not that of each thing in it.
        (f"<path {LEAF}/><path {CURVED}/>", "stem+motif!"),
        (f"{SQUARE}<path {LEAF}/><path {CURVED}/>", "stem+motif+frame!"),
        (f'<path d="M40 0L80 40L40 80L0 40Z"/><path {LEAF}/><path {CURVED}/>', "stem+motif+frame!"),
        (f'<circle cx="35" cy="30" r="50"/><path {LEAF}/><path {CURVED}/>', "stem+motif+frame!"),
        (f'<circle cx="35" cy="30" r="20"/><path {LEAF}/><path {CURVED}/>', "stem+motif+motif!"),
        (f'<g id="stems"><path {CURVED}/></g><path {LEAF}/>', "stem+motif!"),
        # A layer of the edge alone, whatever that is.
        (SQUARE, "frame"),
        ('<circle r="30"/>', "frame"),
        (f"{SQUARE}{SQUARE.replace('80', '70')}", "frame!"),
        ('<path d="M1 1h80" stroke="red"/><path d="M1 80h80" stroke="red"/>', "!"),
    ],
)
@pytest.mark.parametrize("name", ["Border block 3", "edge", "frame"])
def test_the_name_of_a_group_is_not_that_of_all_in_it(name: str, body: str, role: str) -> None:
    inside = body.replace("<g", "<g ").replace("<path ", '<path data-x="1" ')
    assert role_of(f'<g id="{name}">{inside}</g>') == role


def test_a_curved_line_is_no_edge_whatever_it_is_called() -> None:
    assert role_of(f'<path id="border-2" {CURVED}/>') == "stem!"
    drawing = drawn(f'<path id="border-2" {CURVED}/>')
    assert "line 1, border-2: read by its kind, because its words say frame" in str(drawing.notes[0])


def test_the_group_whose_name_is_passed_over_is_told_once() -> None:
    leaves = "".join(f'<path {LEAF} transform="translate({9 * k} {7 * k})"/>' for k in range(4))
    drawing = drawn(f'<g id="block 7">{leaves}</g>')
    assert [str(note) for note in drawing.notes][:1] == [
        (
            "line 1, path 1: not a frame for being in 'block 7': 'path 1' and 3 more, "
            "because a frame is a rectangle, or closed and round all else in its group"
        )
    ]
    assert len(drawing.motifs) == 4


@pytest.mark.parametrize(
    ("body", "role"),
    [
        # by kind
        (f"<path {OPEN}/>", "stem"),
        (f'<path {FILLED} stroke="green"/>', "stem"),
        (f"<path {FILLED}/>", "motif!"),
        (f"<path {RING}/>", "motif"),
        (f"<path {BLOB}/>", "motif"),
        ('<line x2="9" stroke="green"/>', "stem"),
        ('<circle r="9"/>', "motif"),
        ('<polyline points="1 1 9 9 5 1"/>', "motif!"),
        # by words
        (f'<path id="vine" {OPEN}/>', "stem"),
        (f'<path id="vine" {FILLED}/>', "stem!"),
        (f'<path id="ring stem" {RING}/>', "stem"),
        ('<circle id="ring stem" r="9" stroke="green"/>', "stem"),
        (f'<path id="vine" {BLOB}/>', "!"),
        (f'<path id="leaf" {OPEN}/>', "!"),
        (f'<path id="leaf" {FILLED} stroke="green"/>', "motif!"),
        (f'<path id="leaf" {RING}/>', "motif"),
        (f'<path id="edge" {OPEN}/>', "!"),
        (f'<path id="edge" {FILLED}/>', "!"),
        (f'<path id="edge" {RING}/>', "frame"),
        ('<rect class="block" width="9" height="9"/>', "frame"),
        (f'<g id="stems"><path {RING}/></g>', "stem"),
        (f'<g id="stems"><path id="leaf-3" {BLOB}/></g>', "motif"),
        (f'<g id="frame"><g label="Leaves"><path {BLOB}/></g></g>', "motif"),
        # words that do not fit give way to the next
        (f'<g id="stems"><path id="berry-3" {OPEN}/></g>', "stem!"),
        (f'<g id="leaves"><path id="vine-3" {BLOB}/></g>', "motif!"),
        (f'<path id="vine-along-edge" {OPEN}/>', "stem!"),
    ],
)
def test_roles(body: str, role: str) -> None:
    assert role_of(body) == role


def test_the_words_of_the_root_say_nothing() -> None:
    text = f'<svg id="block" width="9mm" height="9mm" viewBox="0 0 9 9"><title>Block one</title><path {BLOB}/></svg>'
    assert len(read_drawing(io.StringIO(text)).motifs) == 1


@pytest.mark.parametrize(
    ("body", "note"),
    [
        (
            f"<path {FILLED}/>",
            "path 1: read as a motif, closed by its fill, because it is open but has no stroke",
        ),
        (
            f'<path id="vine" {FILLED}/>',
            "vine: read as a stem of unknown width, because it is called a stem but has no stroke",
        ),
        (
            f'<path id="vine" {BLOB}/>',
            (
                "vine: left out, because its words say stem, and a stem is read from a line along its middle, "
                "or from an outline with two long sides"
            ),
        ),
        (
            f'<path id="leaf" {OPEN}/>',
            "leaf: left out, because its words say motif, and a motif is closed, not an open line",
        ),
        (
            f'<path id="leaf" {FILLED} stroke="red"/>',
            "leaf: closed by a straight line, because it is open, and a motif is closed",
        ),
        (
            f'<path id="edge" {OPEN}/>',
            "edge: left out, because its words say frame, and a frame is closed, not an open line",
        ),
        (
            f'<g id="stems"><path id="pod" {OPEN}/></g>',
            (
                "pod: read as a stem, because its words say motif first and stem next, and a motif is closed, "
                "not an open line"
            ),
        ),
    ],
)
def test_notes_on_roles(body: str, note: str) -> None:
    assert str(drawn(body).notes[0]) == f"line 1, {note}"


def test_a_motif_closed_by_its_fill_is_closed_straight() -> None:
    (motif,) = drawn(f"<path {FILLED}/>").motifs
    assert motif.outline.closed
    assert motif.outline.length == pytest.approx(25 + (20**2 + 5**2) ** 0.5)


def test_several_subpaths_become_several_stems() -> None:
    drawing = drawn(
        '<path id="vine 2" d="M0 0h1" stroke="red"/><path id="vine" d="M0 0h5M9 9h6M0 0h7" stroke="red"/>'
    )
    assert [(stem.name, round(stem.centreline.length)) for stem in drawing.stems] == [
        ("vine 2", 1),
        ("vine 1", 5),
        ("vine 3", 6),
        ("vine 4", 7),
    ]
    assert str(drawing.notes[0]) == (
        "line 1, vine: read as 3 stems, 'vine 1' to 'vine 4', because it has several subpaths"
    )


def test_several_subpaths_become_several_motifs() -> None:
    drawing = drawn('<path id="flower" d="M0 0h5v5zM9 9h5v5z"/>')
    assert [motif.name for motif in drawing.motifs] == ["flower 1", "flower 2"]
    assert "read as 2 motifs" in drawing.notes[0].what


def test_open_and_closed_subpaths_part_by_kind() -> None:
    drawing = drawn('<path id="spray" d="M0 0h5M9 9h5v5z" stroke="red"/>')
    assert [stem.name for stem in drawing.stems] == ["spray 1"]
    assert [motif.name for motif in drawing.motifs] == ["spray 2"]
    assert drawing.notes[0].what == "read as stems where it is open and motifs where it is closed"


def test_an_unfilled_motif_loses_its_open_subpaths() -> None:
    drawing = drawn('<path id="leaf" d="M0 0h5v5zM1 1h3" stroke="red" fill="none"/>')
    assert len(drawing.motifs) == 1
    assert str(drawing.notes[0]) == (
        "line 1, leaf: left out in part, because a motif is closed, and some of its subpaths are open"
    )


def test_the_largest_frame_is_the_frame() -> None:
    drawing = drawn(
        """<rect id="inner edge" x="5" y="5" width="50" height="50"/>
        <rect id="outer edge" width="80" height="80"/><path id="border" d="M0 0h60v60zM0 0h70v70z"/>"""
    )
    assert drawing.frame is not None
    assert drawing.frame.name == "outer edge"
    assert [str(note) for note in drawing.notes][:-1] == [
        "line 1, inner edge: left out, because a drawing has one frame, and 'outer edge' is larger",
        "line 2, border: read by its largest subpath, because a frame has one outline",
        "line 2, border: left out, because a drawing has one frame, and 'outer edge' is larger",
    ]


def test_no_stems_is_a_note() -> None:
    note = drawn('<circle r="5"/>').notes[-1]
    assert (note.element, note.line, note.what) == ("drawing", None, "no stem found")
    assert str(note).startswith("drawing: no stem found, because nothing in it is an open stroked line")


# What the caller knows

GARDEN = (
    f'<g id="hops"><path id="a" {OPEN}/><path id="b" {BLOB}/></g>'
    f'<g id="peas"><g id="pods"><path id="c" {BLOB}/></g></g>'
)


def test_roles_by_name_and_by_layer() -> None:
    drawing = drawn(GARDEN, {"hops": "motif", "b": "frame", "peas": "stem", "pods": "ignore"})
    assert [motif.name for motif in drawing.motifs] == ["a"]
    assert drawing.motifs[0].outline.closed
    assert drawing.frame is not None
    assert drawing.frame.name == "b"
    assert drawing.stems == ()
    assert [str(note) for note in drawing.notes][:2] == [
        "line 1, a: closed by a straight line, because it is open, and a motif is closed",
        "line 1, c: left out, because its role is to be ignored",
    ]


def test_a_filled_outline_is_a_ring_if_the_caller_says_so() -> None:
    drawing = drawn(GARDEN, {"peas": "stem"})
    assert drawing["c"].centreline.closed
    assert drawing["c"].drawn_width is None


def test_an_open_frame_if_the_caller_says_so() -> None:
    drawing = drawn(GARDEN, {"a": "frame"})
    assert drawing.frame is not None
    assert drawing.frame.outline.closed


def test_roles_by_function() -> None:
    def choose(shape: Shape) -> str | None:
        return "ignore" if shape.layer == "hops" else None

    drawing = drawn(GARDEN, choose)
    assert drawing.stems == ()
    assert [motif.name for motif in drawing.motifs] == ["c"]


@pytest.mark.parametrize(
    ("roles", "message"),
    [
        ({"A": "stem"}, "drawing: roles: no shape and no group is called 'A'; the nearest: 'a'"),
        ({"pod": "motif"}, "drawing: roles: no shape and no group is called 'pod'; the nearest: 'pods'"),
        (
            {"zzzz": "motif"},
            "drawing: roles: no shape and no group is called 'zzzz'; there are: 'a', 'hops', 'b'",
        ),
        ({"a": "flower"}, "drawing: roles: 'flower', for 'a', is none of stem, motif, frame, ignore"),
        (lambda _shape: "flower", "drawing: roles: 'flower', for 'a', is none of stem, motif, frame, ignore"),
        ("stem", "drawing: roles: a mapping or a function is wanted, not a value of type str"),
    ],
)
def test_roles_that_cannot_be(roles: Roles, message: str) -> None:
    with pytest.raises(DrawingError) as error:
        drawn(GARDEN, roles)
    assert str(error.value).startswith(message)


def test_lines_without_a_width_are_stems() -> None:
    """As in DXF, where no line has one."""
    ring = Curve.from_svg_path("M0 0A9 9 0 0 1 18 0A9 9 0 0 1 0 0Z")
    line = Curve.from_points([(0, 0), (50, 0)])
    shapes = [
        Shape("bean", "line", (line,), None, False),
        Shape("ring", "circle", (ring,), None, False, words=("hop stem",)),
    ]
    found = sort_shapes(shapes)
    assert [(stem.name, stem.drawn_width) for stem in found.stems] == [("bean", None), ("ring", None)]
    assert found.notes == ()
