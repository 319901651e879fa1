"""What people draw that a pattern cannot use as it is: two sides, doubles, gaps, tracings."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import pytest

import bias_drafting as bd
from bias_drafting.drawing.two_sided import thin

VINE = bd.Curve.from_svg_path("M10 60C40 10 70 100 100 50S150 40 180 70")


def drawn(body: str, **options: Any) -> bd.Drawing:
    root = 'width="200mm" height="120mm" viewBox="0 0 200 120"'
    return bd.read_drawing(io.StringIO(f"<svg {root}>{body}</svg>"), **options)


def notes(drawing: bd.Drawing, word: str) -> list[str]:
    return [str(note) for note in drawing.notes if word in str(note)]


def strays(one: bd.Curve, other: bd.Curve) -> float:
    """Return how far two curves lie apart, either way."""
    return max(
        float(b.locate(a.point_at(np.linspace(0, a.length, 2001)))[1].max())
        for a, b in ((one, other), (other, one))
    )


# Two sides


@pytest.mark.parametrize("paint", ['fill="green"', 'fill="none" stroke="black" stroke-width="0.3"', ""])
@pytest.mark.parametrize("name", ["pea vine", "shape"])
def test_a_stem_of_two_sides_is_read_by_the_line_between_them(paint: str, name: str) -> None:
    outline = VINE.band(6).to_svg_path()
    drawing = drawn(f'<path id="{name}" d="{outline}" {paint}/>')
    stem = drawing[name]
    assert drawing.motifs == ()
    assert stem.drawn_width == pytest.approx(6, abs=0.05)
    assert not stem.centreline.closed
    assert strays(stem.centreline, VINE) < 0.05
    (note,) = notes(drawing, "by the line between its sides, 6.0 mm wide")
    assert ("say with roles=" in note) is (name == "shape")


def test_a_ring_of_two_sides() -> None:
    circle = bd.Curve.from_svg_path("M150 60A50 50 0 0 1 50 60A50 50 0 0 1 150 60Z")
    drawing = drawn(f'<path id="wreath stem" fill-rule="evenodd" d="{circle.band(8).to_svg_path()}"/>')
    (stem,) = drawing.stems
    assert stem.centreline.closed
    assert stem.centreline.length == pytest.approx(100 * np.pi, abs=0.05)
    assert stem.drawn_width == pytest.approx(8, abs=0.05)


def test_several_stems_in_one_shape() -> None:
    lines = [bd.Curve.from_points([(10, y), (150, y + 3)]) for y in (20, 40, 60)]
    data = "".join(line.band(5).to_svg_path() for line in lines)
    drawing = drawn(f'<g id="stems"><path id="hops" d="{data}"/></g>')
    assert [stem.name for stem in drawing.stems] == ["hops 1", "hops 2", "hops 3"]
    for stem, line in zip(drawing.stems, lines, strict=True):
        assert strays(stem.centreline, line) < 0.05


@pytest.mark.parametrize(
    "data",
    [
        "M50 50C70 40 90 40 110 50C90 60 70 60 50 50Z",  # a leaf
        "M20 50C60 44 120 44 160 50C120 56 60 56 20 50Z",  # a pod: long, but widest in the middle
        "M20 20h40v30h-40z",
        "M20 20h100v20h-100z",  # 5 times as long as wide
    ],
)
def test_leaves_and_pods_stay_motifs_unless_they_are_called_stems(data: str) -> None:
    drawing = drawn(f'<path id="a" d="{data}"/><path d="M1 1h9" stroke="red"/>')
    assert [motif.name for motif in drawing.motifs] == ["a"]


def test_a_blob_called_a_stem_is_told_why_it_is_none() -> None:
    star = "M50 10L58 42H90L64 60L74 92L50 72L26 92L36 60L10 42H42Z"
    drawing = drawn(f'<path id="stem" d="{star}"/>')
    assert drawing.stems == ()
    (note,) = notes(drawing, "its words say stem")
    assert "an outline with two long sides" in note


def test_a_closed_line_as_wide_as_a_stem_is_its_middle() -> None:
    ring = "M50 60A40 10 0 0 1 130 60A40 10 0 0 1 50 60Z"
    drawing = drawn(f'<path id="loop stem" d="{ring}" fill="none" stroke="green" stroke-width="12"/>')
    assert drawing.stems[0].centreline.closed
    assert drawing.stems[0].drawn_width == 12


def test_how_thin_an_outline_is() -> None:
    for data, wanted in (("M0 0h70v9h-70z", True), ("M0 0h30v9h-30z", False), ("M0 0h70v9h-70", False)):
        (shape,) = drawn(f'<path d="{data}"/>').shapes
        assert thin(shape) is wanted


# Doubles


def test_a_line_drawn_twice_is_one_stem_of_the_wider_width() -> None:
    data = VINE.to_svg_path()
    body = f"""<g fill="none" stroke="green"><path id="vine" d="{data}" stroke-width="4" data-cloth="lawn"/>
    <path id="shine" d="{data}" stroke-width="6" data-cloth="silk" data-making="sewn tube"/>
    <path id="other" d="M10 10h50"/></g>"""
    drawing = drawn(body)
    assert [stem.name for stem in drawing.stems] == ["vine", "other"]
    assert drawing["vine"].drawn_width == 6
    assert dict(drawing["vine"].settings) == {"cloth": "lawn", "making": "sewn tube"}
    assert notes(drawing, "twice") == [
        "line 2, shine: merged with 'vine', because it runs along 'vine' within 0.05 mm: the same line drawn twice"
    ]


@pytest.mark.parametrize(("shift", "count"), [(0.03, 1), (0.08, 2)])
def test_how_near_a_double_lies(shift: float, count: int) -> None:
    body = f'<g stroke="red"><path id="a" d="M10 10h50"/><path id="b" d="M60 {10 + shift}H10"/></g>'
    assert len(drawn(body).stems) == count


def test_a_copy_one_part_of_which_runs_elsewhere_is_no_double() -> None:
    body = """<g stroke="red" fill="none"><path d="M10 10C30 30 60 30 80 10"/>
    <path d="M10 10C30 30.5 60 29.5 80 10"/></g>"""
    assert len(drawn(body).stems) == 2


def test_motifs_drawn_twice_are_merged_too() -> None:
    leaf = "M50 50C70 40 90 40 110 50C90 60 70 60 50 50Z"
    drawing = drawn(
        f'<path id="leaf" d="{leaf}"/><path id="leaf line" d="{leaf}" fill="none" stroke="black"/>'
    )
    assert [motif.name for motif in drawing.motifs] == ["leaf"]
    assert len(notes(drawing, "twice")) == 1


# Gaps


def lines(*data: str) -> str:
    paths = "".join(f'<path id="s{k}" d="{d}"/>' for k, d in enumerate(data))
    return f'<g stroke="green" fill="none">{paths}</g>'


@pytest.mark.parametrize(
    "data",
    [
        ("M10 10H50", "M50.3 10H90"),
        ("M50 10H10", "M50.3 10H90"),
        ("M10 10H50", "M90 10H50.3"),
        ("M50 10H10", "M90 10H50.3"),
    ],
)
def test_ends_a_hair_apart_are_joined_when_asked(data: tuple[str, str]) -> None:
    assert len(drawn(lines(*data)).stems) == 2
    drawing = drawn(lines(*data), join_within="0.5 mm")
    (stem,) = drawing.stems
    assert stem.name == "s0"
    assert stem.centreline.length == pytest.approx(80)
    assert stem.centreline.turning == pytest.approx(0, abs=1e-9)
    assert notes(drawing, "joined") == ["line 1, s0: joined with 's1', because their ends are 0.3 mm apart"]


def test_directions_stay_where_ends_are_joined() -> None:
    drawing = drawn(lines("M10 10C20 10 30 20 40 20", "M40.2 20.2C50 20.2 60 30 70 10"), join_within=0.5)
    assert drawing.stems[0].centreline.corners == ()


def test_a_row_of_three_is_joined_to_one_and_a_ring_closed() -> None:
    drawing = drawn(lines("M10 10H30", "M30.2 10H50", "M70 10H50.2"), join_within=0.5)
    assert [stem.centreline.length for stem in drawing.stems] == [pytest.approx(60)]
    ring = drawn(lines("M10 10H50V50H10V10.4"), join_within=0.5)
    assert ring.stems[0].centreline.closed
    assert notes(ring, "its two ends are joined")


def test_where_three_ends_meet_nothing_is_joined() -> None:
    drawing = drawn(lines("M10 10H50", "M50.1 10H90", "M50 10.1V60"), join_within=0.5)
    assert len(drawing.stems) == 3
    assert notes(drawing, "not joined") == [
        "line 1, s0: not joined, because more than two ends meet there: s0, s1, s2"
    ]


@pytest.mark.parametrize(
    ("gap", "message"), [("wide", "join_within"), (-1, "must not be negative"), ("1 in", "from 0 to 3 mm")]
)
def test_gaps_that_cannot_be(gap: Any, message: str) -> None:
    with pytest.raises(bd.DrawingError, match=message):
        drawn(lines("M10 10H50"), join_within=gap)


# Tracings


def traced(jitter: float, seed: int = 1) -> str:
    points = VINE.point_at(np.linspace(0, VINE.length, 360))
    points = points + np.random.default_rng(seed).normal(0, jitter, points.shape)
    return " ".join(f"{x:.4f},{y:.4f}" for x, y in points)


def test_a_traced_stem_is_made_smooth_and_the_shift_told() -> None:
    drawing = drawn(f'<polyline id="vine" points="{traced(0.05)}" fill="none" stroke="green"/>')
    found = drawing["vine"].centreline
    assert strays(found, VINE) < 0.3
    assert found.tightest(6).radius == pytest.approx(VINE.tightest(6).radius, rel=0.08)
    (note,) = notes(drawing, "made smooth")
    told = float(note.partition("by up to ")[2].partition(" mm")[0])
    assert told == pytest.approx(strays(found, drawing.shapes[0].curves[0]), abs=0.011)


def test_a_tracing_stays_as_it_is_when_asked() -> None:
    body = f'<polyline id="vine" points="{traced(0.05)}" fill="none" stroke="green"/>'
    drawing = drawn(body, tracing=0)
    assert drawing["vine"].centreline is drawing.shapes[0].curves[0]
    assert notes(drawing, "smooth") == []


def test_a_line_of_few_or_long_pieces_is_no_tracing() -> None:
    zigzag = " ".join(f"{5 * k},{50 + 5 * (k % 2)}" for k in range(30))
    few = " ".join(f"{k},{10 + k % 2}" for k in range(15))
    drawing = drawn(
        f'<g fill="none" stroke="red"><polyline points="{zigzag}"/><polyline points="{few}"/></g>'
    )
    assert notes(drawing, "smooth") == []


def test_a_tracing_with_a_long_piece_that_no_smooth_line_keeps_to_is_left() -> None:
    arc = [(30 + 25 * np.cos(a), 30 + 25 * np.sin(a)) for a in np.linspace(0, 3, 80)]
    points = " ".join(f"{x:.3f},{y:.3f}" for x, y in [*arc, (150, 90)])
    drawing = drawn(f'<polyline id="vine" points="{points}" fill="none" stroke="green"/>')
    if notes(drawing, "left as its straight pieces"):
        assert drawing["vine"].centreline is drawing.shapes[0].curves[0]
    else:
        assert strays(drawing["vine"].centreline, drawing.shapes[0].curves[0]) <= 0.5


@pytest.mark.parametrize("tracing", ["coarse", -1, None])
def test_tracings_that_cannot_be(tracing: Any) -> None:
    with pytest.raises(bd.DrawingError, match="tracing"):
        drawn(lines("M10 10H50"), tracing=tracing)


# Squashed lines


@pytest.mark.parametrize(
    ("transform", "width", "words"),
    [
        ("scale(1 .5)", 3 * 2**0.5, "in places 3 mm wide, in others 6 mm"),
        ("rotate(20) scale(1 .25)", 3, "in places 1.5 mm wide, in others 6 mm"),
        ("scale(1 .999)", 6 * 0.999**0.5, ""),
        ("rotate(20) scale(-.5 .5)", 3, ""),
    ],
)
def test_a_line_scaled_unevenly_is_told(transform: str, width: float, words: str) -> None:
    drawing = drawn(f'<path id="stem" transform="{transform}" d="M20 40H120" stroke="red" stroke-width="6"/>')
    assert drawing.stems[0].drawn_width == pytest.approx(width)
    told = notes(drawing, "read with the mean of its widths")
    assert [words in note for note in told] == ([True] if words else [])


def test_a_line_that_keeps_its_width_under_transforms_is_not_uneven() -> None:
    kept = 'vector-effect="non-scaling-stroke" transform="scale(1 .5)" stroke-width="6"'
    assert notes(drawn(f'<path id="stem" {kept} d="M20 40H120" stroke="red"/>'), "mean of its widths") == []


# Curves in pieces


def in_pieces(count: int) -> list[str]:
    """A half circle of radius 50 as so many straight lines."""
    angle = np.linspace(np.pi, 2 * np.pi, count + 1)
    x, y = 100 + 50 * np.cos(angle), 100 + 50 * np.sin(angle)
    return [f"M{x[k]:.4f} {y[k]:.4f}L{x[k + 1]:.4f} {y[k + 1]:.4f}" for k in range(count)]


@pytest.mark.parametrize("count", [24, 160])
def test_what_is_joined_of_straight_pieces_is_made_smooth(count: int) -> None:
    drawing = drawn(lines(*in_pieces(count)), join_within=0.05)
    (stem,) = drawing.stems
    assert stem.name == "s0"
    assert stem.centreline.corners == ()
    assert stem.centreline.tightest(6).radius == pytest.approx(50, rel=0.01)
    assert stem.centreline.length == pytest.approx(50 * np.pi, rel=1e-3)
    (note,) = notes(drawing, "joined with")
    assert f"joined with 's1', 's2', 's3' and {count - 4} more" in note


def test_many_pieces_are_joined_at_once() -> None:
    """A search through all pairs again for each joint would take hours."""
    path = "".join(f'<path d="M{x} {y}h1" stroke="red"/>' for y in range(0, 100, 2) for x in range(10, 110))
    drawing = drawn(path, join_within=0.01)
    assert [round(stem.centreline.length, 6) for stem in drawing.stems] == [100] * 50


def test_stems_of_other_widths_are_joined_and_told() -> None:
    body = '<path id="a" d="M10 10H30" stroke="red" stroke-width="6"/>'
    body += '<path id="b" d="M30 10H50" stroke="red" stroke-width="4"/>'
    drawing = drawn(body, join_within=0.5)
    assert drawing["a"].drawn_width == 6
    assert "not all drawn equally wide, and 'a' says how wide it is" in notes(drawing, "joined")[0]


def test_the_same_line_drawn_thousands_of_times_is_one() -> None:
    drawing = drawn('<path d="M10 10h50" stroke="red"/>' * 3000)
    assert [stem.name for stem in drawing.stems] == ["path 1"]
    assert len(notes(drawing, "merged with")) == 2999


def test_spokes_through_one_middle_are_no_doubles() -> None:
    """All have the same middle and length; looked at one by one against all others this would take minutes."""
    turns = "".join(
        f'<path transform="rotate({k * 0.18} 60 60)" d="M10 60h100" stroke="red"/>' for k in range(1000)
    )
    assert len(drawn(turns).stems) == 1000


def test_doubles_at_the_edge_of_what_is_the_same() -> None:
    for gap, left in ((0.04, 1), (0.2, 2)):
        assert len(drawn(lines("M10 10H60", f"M60 {10 + gap}H10")).stems) == left
