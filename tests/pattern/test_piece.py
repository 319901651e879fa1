from __future__ import annotations

import dataclasses
import math
from itertools import product
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import shapely

import bias_drafting as bd

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

STRIPS: list[bd.Making] = [bd.FoldedStrip(), bd.SewnTube(), bd.RolledStrip()]
ALL: list[bd.Making] = [*STRIPS, bd.TurnedTemplate()]
each = pytest.mark.parametrize("making", ALL, ids=lambda making: making.key)

WAVY = "M40 100C70 80 110 125 150 100S200 60 220 100"
HOOK = "M40 100H150C190 100 190 160 150 160"
RING = "M170 120A50 50 0 0 1 70 120A50 50 0 0 1 170 120Z"
EGG = "M170 120A70 40 0 0 1 30 120A70 40 0 0 1 170 120Z"


def drafted(
    d: str, motifs: tuple[str, ...] = (), frame: str | None = None, over: str | None = None, **options: Any
) -> bd.Piece:
    """The piece of one stem, drafted with what covers its ends."""
    curve = bd.Curve.from_svg_path
    made = bd.Drawing(
        "hop bed",
        (300, 300),
        stems=(bd.Stem("hop", curve(d)), *((bd.Stem("vine", curve(over)),) if over else ())),
        motifs=tuple(bd.Motif(f"leaf-{k}", curve(m)) for k, m in enumerate(motifs)),
        frame=None if frame is None else bd.Frame("edge", curve(frame)),
    )
    return bd.draft_pattern(made, **options)["hop"]


def leaf_at(x: float, y: float, r: float = 30) -> str:
    return f"M{x - r} {y - r}H{x + r}V{y + r}H{x - r}Z"


# --- how long the strip is ----------------------------------------------------------------------------------

START: dict[str, dict[str, Any]] = {
    "free": {},
    "motif": {"motifs": (leaf_at(40, 100),)},
    "frame": {"frame": "M40 0H300V300H40Z"},
}
END: dict[str, dict[str, Any]] = {
    "free": {},
    "motif": {"motifs": (leaf_at(220, 100),)},
    "stem": {"over": "M220 20V200"},
}


@pytest.mark.parametrize(("start", "end"), list(product(START, END)))
def test_a_strip_is_as_long_as_its_centreline_and_both_ends(start: str, end: str) -> None:
    ends: dict[str, Any] = {**START[start], **END[end]}
    if start == end == "motif":
        ends = {"motifs": (leaf_at(40, 100), leaf_at(220, 100))}
    piece = drafted(WAVY, **ends, tuck="3/8 in", end_allowance="5 mm")
    added = tuple(5.0 if kind == "free" else 9.525 for kind in (start, end))
    assert piece.ends == added
    assert [t.kind for t in piece.tucks] == [kind for kind in (start, end) if kind != "free"]
    # The length once more, from points along it.
    t = np.linspace(0, 1, 20001)[:, None]
    length = 0.0
    for c in piece.centreline.controls:
        points = c[0] * (1 - t) ** 3 + 3 * c[1] * t * (1 - t) ** 2 + 3 * c[2] * t**2 * (1 - t) + c[3] * t**3
        length += float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
    assert piece.strip_length == pytest.approx(length + sum(added), rel=1e-7)


def test_the_defaults_are_a_quarter_of_an_inch_at_each_end() -> None:
    straight = drafted("M40 100H167", (leaf_at(40, 100, 20),))
    assert straight.strip_length == pytest.approx(127 + 2 * 6.35, rel=1e-12)
    assert straight.ends == (6.35, 6.35)


@pytest.mark.parametrize("making", STRIPS, ids=lambda making: making.key)
def test_a_ring_overlaps_itself_once(making: bd.Making) -> None:
    # One end of the strip lies flat under the other, which is turned under: a tuck and an end allowance.
    piece = drafted(RING, making=making, tuck=8, end_allowance=5)
    assert piece.strip_length == pytest.approx(2 * math.pi * 50 + 8 + 5, abs=2e-4)
    assert (piece.ends, piece.tucks) == ((8, 5), ())


def test_ends_of_no_length() -> None:
    assert drafted("M40 100H167", tuck=0, end_allowance=0).strip_length == pytest.approx(127, rel=1e-12)


# --- the finished outline -----------------------------------------------------------------------------------


@pytest.mark.parametrize("width", [2.0, 6.35, 12.0])
@pytest.mark.parametrize("d", [WAVY, HOOK, RING, EGG])
def test_the_finished_outline_is_the_band_along_the_centreline(d: str, width: float) -> None:
    piece = drafted(d, width=width)
    length = piece.centreline.length
    # No bend is tighter than half the width and nothing overlaps, so area is width times length exactly.
    assert piece.centreline.tightest().radius > width / 2
    # Outlines keep to 0.01 mm on either side.
    assert piece.finished.area == pytest.approx(width * length, abs=5e-3 * length)
    closed = piece.centreline.closed
    assert len(piece.finished.holes) == closed
    line = shapely.LineString(piece.centreline.flattened(1e-4))
    band = line.buffer(width / 2, cap_style="round" if closed else "flat", quad_segs=64)
    assert band.symmetric_difference(piece.finished.polygon).area < 0.02 * 2 * length


def test_a_covered_end_runs_on_as_far_as_stays_hidden() -> None:
    piece = drafted("M40 100H150", (leaf_at(150, 100, 30),), width=6, tuck="1/2 in")
    assert piece.tucks[0].hidden == 12.7
    assert piece.finished.area == pytest.approx(6 * (110 + 12.7), rel=1e-9)
    assert piece.finished.bounds == pytest.approx((40, 97, 162.7, 103), abs=1e-6)
    assert piece.centreline.end == pytest.approx((150, 100))
    # Under something smaller, no farther than it goes.
    piece = drafted("M40 100H150", (leaf_at(150, 100, 4),), width=6, tuck="1/2 in")
    (tuck,) = piece.tucks
    assert 3.5 < tuck.hidden <= 4.05
    assert piece.finished.area == pytest.approx(6 * (110 + tuck.hidden), rel=1e-9)
    assert piece.strip_length == pytest.approx(110 + 12.7 + 6.35, rel=1e-12)


def test_a_free_end_stops_where_it_is_drawn() -> None:
    assert drafted("M40 100H150", width=6).finished.bounds == pytest.approx((40, 97, 150, 103), abs=1e-9)


# --- what is cut --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("making", "cut"),
    [(bd.FoldedStrip(), 12), (bd.SewnTube(seam=5), 22), (bd.RolledStrip(), 18)],
    ids=lambda value: getattr(value, "key", ""),
)
@pytest.mark.parametrize("d", [WAVY, RING])
def test_a_strip_is_cut_as_a_rectangle(making: bd.Making, cut: float, d: str) -> None:
    piece = drafted(d, width=6, making=making)
    assert piece.cut_width == cut
    assert piece.strip_length is not None
    assert piece.cutting.holes == ()
    corners = piece.cutting.exterior.controls[:, 0]
    expected = [(0, 0), (piece.strip_length, 0), (piece.strip_length, cut), (0, cut)]
    assert corners.tolist() == [pytest.approx(corner) for corner in expected]
    assert piece.cutting.area == pytest.approx(cut * piece.strip_length, rel=1e-12)
    assert piece.template is None


TEMPLATES = [
    (WAVY, 8.0, "1/4 in"),
    (WAVY, 8.0, "3 mm"),
    (WAVY, 3.0, "1/4 in"),  # narrower than its allowance
    (HOOK, 6.35, "1/4 in"),
    (RING, 10.0, "1/4 in"),
    (EGG, 8.0, "1/4 in"),
    ("M40 100H100C112 100 112 124 100 124H40", 6.0, "1/4 in"),  # bent back: the allowances meet
    ("M40 100L100 60L160 100", 6.0, "1/4 in"),  # a corner
]


@pytest.mark.parametrize(("d", "width", "allowance"), TEMPLATES)
@pytest.mark.parametrize("motifs", [(), (leaf_at(40, 100, 12), leaf_at(220, 100, 12))])
def test_a_turned_piece_is_cut_with_its_allowance_all_round(
    d: str, width: float, allowance: str, motifs: tuple[str, ...]
) -> None:
    making = bd.TurnedTemplate(allowance=allowance)
    piece = drafted(d, motifs, width=width, making=making)
    turned = min(bd.to_mm(allowance), width)
    assert piece.cut_width == pytest.approx(width + 2 * turned, rel=1e-12)
    assert piece.strip_length is None
    finished, cutting = piece.finished.polygon, piece.cutting.polygon
    assert cutting.is_valid
    # Two outlines, each within 0.01 mm of its own, drawn as polygons as fine.
    assert cutting.contains(finished.buffer(turned - 0.04, quad_segs=64))
    rings = [cutting.exterior, *cutting.interiors]
    assert min(ring.distance(finished) for ring in rings) == pytest.approx(turned, abs=0.04)
    # And nothing is cut for its own sake: all of it is near the stem.
    assert finished.buffer(turned * math.sqrt(2) + 0.04, quad_segs=64).contains(cutting)


def test_the_ends_of_a_turned_piece() -> None:
    piece = drafted("M40 100H150", (leaf_at(150, 100, 30),), width=8, making=bd.TurnedTemplate(), tuck=5)
    assert piece.ends == (6.35, 5 + 6.35)
    assert piece.finished.bounds == pytest.approx((40, 96, 155, 104), abs=1e-9)
    assert piece.cutting.bounds == pytest.approx((40 - 6.35, 96 - 6.35, 155 + 6.35, 104 + 6.35), abs=1e-9)
    assert drafted(RING, making=bd.TurnedTemplate()).ends == (0, 0)


# --- the template is the mirror image -----------------------------------------------------------------------


def signed_area(points: Array) -> float:
    """The shoelace formula; positive where the points run clockwise as seen on the page, y down."""
    x, y = points.T
    return float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum() / 2)


@pytest.mark.parametrize("d", [WAVY, HOOK, RING])
def test_the_template_is_the_mirror_image_of_the_finished_outline(d: str) -> None:
    piece = drafted(d, (leaf_at(220, 100, 12),), width=8, making=bd.TurnedTemplate())
    assert piece.template is not None
    template, finished = piece.template, piece.finished
    assert template.area == pytest.approx(finished.area, rel=1e-12)
    mirrored = shapely.transform(finished.polygon, lambda xy: xy * [-1, 1])
    assert mirrored.symmetric_difference(template.polygon).area < 1e-6 * finished.area
    left, top, right, bottom = finished.bounds
    assert template.bounds == pytest.approx((-right, top, -left, bottom))
    # A point of the stem, and one beside it that is not its mirror image.
    along = piece.centreline.point_at(np.linspace(0.3, 0.9, 7) * piece.centreline.length)
    for x, y in along:
        assert template.polygon.contains(shapely.Point(-x, y))
    # Both run the same way round, and holes the other way, though one is the image of the other.
    for outline in (template, finished):
        assert signed_area(outline.exterior.flattened(0.1)[:-1]) > 0
        for hole in outline.holes:
            assert signed_area(hole.flattened(0.1)[:-1]) < 0
    assert len(template.holes) == len(finished.holes)


def test_a_template_cannot_be_laid_on_its_own_drawing() -> None:
    # A hook opens to one side: turned and moved as you like, its mirror image does not cover it.
    piece = drafted(HOOK, width=8, making=bd.TurnedTemplate())
    assert piece.template is not None
    best = 0.0
    for shape, expected in ((piece.finished.polygon, True), (piece.template.polygon, False)):
        best = 0.0
        for degrees in range(0, 360, 5):
            turned = shapely.affinity.rotate(shape, degrees)
            moved = shapely.affinity.translate(
                turned,
                piece.finished.polygon.centroid.x - turned.centroid.x,
                piece.finished.polygon.centroid.y - turned.centroid.y,
            )
            best = max(best, moved.intersection(piece.finished.polygon).area / shape.area)
        assert (best > 0.99) is expected
    assert best < 0.9


# --- the piece as a value -----------------------------------------------------------------------------------


@each
def test_a_piece_says_what_it_is(making: bd.Making) -> None:
    piece = drafted(WAVY, making=making, width=6)
    assert piece.stem == piece.check.stem == "hop"
    assert piece.check.making == making
    assert repr(piece) == f"Piece('hop', {making.name}, 6 mm finished, {piece.check.verdict.value})"
    with pytest.raises(dataclasses.FrozenInstanceError):
        piece.cut_width = 3  # type: ignore[misc]
