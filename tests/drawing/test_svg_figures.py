"""Drawings read as a browser draws them, by figures recorded from it: every line within 0.01 mm.

The figures are recorded anew with ``python tests/drawing/browser.py``.
"""

from __future__ import annotations

import io
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import pytest
from svg_cases import CASES, TOLD, Case
from svg_figures import CLOSE, Seen, Sight, differences, digest, from_json, recorded, to_json

from bias_drafting.drawing.read import read_drawing
from bias_drafting.errors import DrawingError

if TYPE_CHECKING:
    from bias_drafting.drawing.drawing import Drawing

FIGURES = cache(recorded)


def sight_of(name: str) -> Sight:
    return FIGURES()[1][name][1]


@pytest.mark.parametrize(
    "case", [CASES[name] for name in CASES if name not in TOLD], ids=lambda case: case.name
)
def test_a_drawing_is_read_as_a_browser_draws_it(case: Case) -> None:
    assert differences(read_drawing(io.BytesIO(case.data)), sight_of(case.name)) == []


@pytest.mark.parametrize("name", sorted(TOLD))
def test_what_is_read_otherwise_is_told(name: str) -> None:
    drawing = read_or_none(name)
    if drawing is not None:
        assert differences(drawing, sight_of(name)) != []  # else it belongs to those that are read right
        assert any("left out" in note.what or "in part" in note.what for note in drawing.notes)


def read_or_none(name: str) -> Drawing | None:
    """Return a drawing, or None where it is refused by an error that tells the line."""
    try:
        return read_drawing(io.BytesIO(CASES[name].data))
    except DrawingError as error:
        return None if "line " in str(error) else pytest.fail(str(error))


def test_the_figures_are_those_of_these_drawings() -> None:
    _, figures = FIGURES()
    assert {name: known_by for name, (known_by, _) in figures.items()} == {
        name: digest(case.data) for name, case in CASES.items()
    }
    assert len(CASES) >= 120


@pytest.mark.parametrize("case", CASES.values(), ids=list(CASES))
def test_a_browser_draws_what_the_drawing_should_show(case: Case) -> None:
    """What each case shows was written by hand from the specifications: two routes to the same list."""
    assert tuple(shape.name for shape in sight_of(case.name).shapes) == case.drawn


def test_figures_by_hand() -> None:
    """384 px of 400 units make 0.254 mm to a unit: lengths that need no browser."""
    (line,) = sight_of("straight-line").shapes
    assert line.length == pytest.approx(np.hypot(80, 50) * 0.254, abs=1e-4)
    np.testing.assert_allclose(
        line.points[[0, 16, 32]], np.array([(10, 20), (50, 45), (90, 70)]) * 0.254, atol=1e-4
    )
    assert line.stroke_width == pytest.approx(0.254, abs=1e-5)
    (pea,) = sight_of("round-circle").shapes
    assert pea.length == pytest.approx(80 * np.pi * 0.254, abs=1e-4)
    np.testing.assert_allclose(pea.points[8], np.array([60, 90]) * 0.254, atol=1e-4)
    (bed,) = sight_of("rect-both").shapes
    turn = np.linspace(0, 2 * np.pi, 1001)[:-1]
    ellipse = (
        np.hypot(12 * np.sin(turn), 7 * np.cos(turn)).mean() * 2 * np.pi
    )  # exact: the mean over a period
    assert bed.length == pytest.approx((2 * (80 - 24) + 2 * (50 - 14) + ellipse) * 0.254, abs=1e-3)


def test_figures_are_written_and_read_back() -> None:
    browser, figures = FIGURES()
    some = dict(list(figures.items())[:20])
    text = to_json(
        {name: sight for name, (_, sight) in some.items()}, {n: d for n, (d, _) in some.items()}, browser
    )
    again_by, again = from_json(text)
    assert again_by == browser
    assert [to_list(sight) for _, sight in again.values()] == [to_list(sight) for _, sight in some.values()]


def to_list(sight: Sight) -> list[object]:
    return [sight.size, *((*shape_facts(shape), shape.points.tolist()) for shape in sight.shapes)]


def shape_facts(shape: Seen) -> tuple[object, ...]:
    return shape.name, shape.tag, shape.copied, shape.length, shape.stroke_width, shape.filled


# --- the comparison sees what it should see ---------------------------------------------------------------------

TWO = '<svg width="4in" height="3in" viewBox="0 0 400 300" fill="none" stroke="black">{}</svg>'
HOP = '<path id="hop" d="M10 20C30 60 70 -20 90 40M100 100H150"/>'
PEA = '<circle id="pea" cx="60" cy="50" r="40" fill="green"/>'


def seen(body: str) -> Sight:
    """A reading, as if it had been seen."""
    drawing = read_drawing(io.StringIO(TWO.format(body)))
    shapes = []
    for shape in drawing.shapes:
        lengths = [curve.length for curve in shape.curves]
        points = []
        for s in np.linspace(0, sum(lengths), 33):
            k = int(min(np.searchsorted(np.cumsum(lengths), s), len(lengths) - 1))
            points.append(shape.curves[k].point_at(min(s - sum(lengths[:k]), lengths[k])))
        facts = (
            shape.name,
            shape.tag,
            False,
            sum(lengths),
            np.array(points),
            shape.stroke_width,
            shape.filled,
        )
        shapes.append(Seen(*facts))
    return Sight(drawing.size, tuple(shapes))


def told(sight: Sight, body: str = HOP + PEA) -> list[str]:
    return differences(read_drawing(io.StringIO(TWO.format(body))), sight)


def test_no_difference_where_there_is_none() -> None:
    assert told(seen(HOP + PEA)) == []


def test_a_difference_in_what_is_drawn_is_told() -> None:
    sight = seen(HOP + PEA)
    (line,) = told(sight, HOP)
    assert line.startswith("1 shapes, seen 2")
    assert told(sight, PEA + HOP)[0] == "hop (path): read as the circle pea"
    assert told(sight, HOP.replace('"hop"', '"vine"') + PEA) == ["hop (path): read as vine"]
    assert told(replace(sight, size=(101.6, 76.19)))[0].startswith("its size is")


@pytest.mark.parametrize(
    ("change", "wrong"),
    [
        ({"length": 1.2 * CLOSE}, "mm long, seen"),
        ({"length": -1.2 * CLOSE}, "mm long, seen"),
        ({"stroke_width": 1.2 * CLOSE}, "its line is"),
        ({"points": 1.2 * CLOSE}, "its points are up to 0.01"),
        ({"points": float("nan")}, "its points are up to"),
    ],
)
def test_a_difference_of_little_more_than_0_01_mm_is_told(change: dict[str, float], wrong: str) -> None:
    first, second = seen(HOP + PEA).shapes
    assert second.stroke_width is not None
    if "points" in change:
        points = second.points.copy()
        points[17, 1] += change["points"]
        other = replace(second, points=points)
    elif "length" in change:
        other = replace(second, length=second.length + change["length"])
    else:
        other = replace(second, stroke_width=second.stroke_width + change["stroke_width"])
    (line,) = told(replace(seen(HOP + PEA), shapes=(first, other)))
    assert line.startswith("pea (circle): ")
    assert wrong in line


def test_a_difference_in_painting_is_told() -> None:
    sight = seen(HOP + PEA)
    assert told(sight, HOP + PEA.replace("green", "none")) == ["pea (circle): not filled"]
    (line,) = told(sight, HOP + PEA.replace("/>", ' stroke="none"/>'))
    assert line.startswith("pea (circle): its line is None mm wide, seen 0.25")


def test_one_subpath_for_another_is_told() -> None:
    """Where one subpath ends and another begins either place is right, but no other."""
    sight = seen(HOP)
    (line,) = told(sight, HOP.replace("M100 100", "M100 101"))
    assert "its points are up to 0.254" in line
