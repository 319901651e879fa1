"""DXF files written by ezdxf, read back, and held against closed forms and against ezdxf's own flattening."""

from __future__ import annotations

import io
import itertools
import logging
import math
import sys
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from bias_drafting.curve.curve import Curve
from bias_drafting.drawing.dxf import DxfContent, read_dxf
from bias_drafting.drawing.dxf_splines import BSpline, spline_cubics, through_fit_points
from bias_drafting.errors import CurveError, DrawingError

if TYPE_CHECKING:
    from bias_drafting.drawing.drawing import Shape

ezdxf = pytest.importorskip("ezdxf")
from ezdxf import path as ezdxf_path  # noqa: E402 - ezdxf is an extra
from ezdxf.math import (  # noqa: E402
    BSpline as EzdxfSpline,
)
from ezdxf.math import (  # noqa: E402
    ConstructionEllipse,
    Matrix44,
    fit_points_to_cad_cv,
)

MM = 4


def new(version: str = "R2010", units: int = MM) -> Any:
    return ezdxf.new(version, units=units)


def written(doc: Any) -> bytes:
    stream = io.StringIO()
    doc.write(stream)
    data: bytes = stream.getvalue().encode("utf-8" if doc.dxfversion >= "AC1021" else doc.encoding)
    return data


def reread(doc: Any, scale: float = 1.0) -> DxfContent:
    return read_dxf(written(doc), scale)


def told(content: DxfContent) -> list[str]:
    return [f"{note.element}: {note.what}, because {note.why}" for note in content.notes]


def corners_of(points: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    return np.array([[points[:, 0].min(), points[:, 1].min()], [points[:, 0].max(), points[:, 1].max()]])


def points_along(shape: Shape, count: int = 33) -> np.ndarray[Any, Any]:
    (curve,) = shape.curves
    return curve.point_at(np.linspace(0, curve.length, count))


def flattened(entity: Any) -> np.ndarray[Any, Any]:
    """What ezdxf itself makes of an entity: points no further than 1e-5 from it, y up."""
    if entity.dxftype() == "LWPOLYLINE" or (entity.dxftype() == "POLYLINE" and entity.is_2d_polyline):
        return joined([flattened(part) for part in entity.virtual_entities()])
    if entity.dxftype() in {"LINE", "POLYLINE"}:
        found = list(ezdxf_path.make_path(entity).flattening(1e-5))
    elif entity.dxftype() == "SPLINE" and entity.closed and len(entity.control_points):
        # Where ezdxf has no closed splines, it goes beyond the knots between which they are defined.
        degree, count = entity.dxf.degree, len(entity.control_points)
        at = np.linspace(entity.knots[degree], entity.knots[count], 6001)
        found = list(entity.construction_tool().points(at))
    else:
        found = list(entity.flattening(1e-5))
    return np.array([(p.x, p.y) for p in found])


def joined(parts: list[np.ndarray[Any, Any]]) -> np.ndarray[Any, Any]:
    """Lay the pieces of a polyline end to end: ezdxf turns all arcs counterclockwise."""
    first, second = parts[0], parts[1]
    if min(math.dist(first[0], p) for p in second[[0, -1]]) < min(
        math.dist(first[-1], p) for p in second[[0, -1]]
    ):
        first = first[::-1]
    way = [first]
    for part in parts[1:]:
        forward = math.dist(way[-1][-1], part[0]) <= math.dist(way[-1][-1], part[-1])
        way.append(part if forward else part[::-1])
    return np.concatenate(way)


def assert_like_ezdxf(shape: Shape, points: np.ndarray[Any, Any], origin: tuple[float, float]) -> None:
    """33 points within 0.01 mm of the polyline, and the same length; ``origin`` is left and top, y up."""
    line = shapely.LineString((points - origin) * [1, -1])
    ours = points_along(shape)
    assert max(line.distance(shapely.Point(p)) for p in ours) < 0.01
    at = np.linspace(0, 1, 33)
    theirs = np.array([line.interpolate(f, normalized=True).coords[0] for f in at])
    assert np.abs(ours - theirs).max() < 0.01
    assert shape.curves[0].length == pytest.approx(line.length, abs=0.01)


# Entities


def closed_spline(msp: Any, control: list[Any], weights: list[float] | None) -> Any:
    spline = msp.add_spline()
    points = [(x, y, 0) for x, y in control]
    if weights is None:
        spline.set_closed(points)
    else:
        spline.set_closed_rational(points, weights)
    return spline


def entities(msp: Any) -> list[Any]:
    fit = msp.add_spline([(0, 0), (40, 35), (90, 10), (130, 60)])
    tangents = msp.add_spline([(0, 0), (40, 35), (90, 10)])
    tangents.dxf.start_tangent, tangents.dxf.end_tangent = (0, 1, 0), (3, 1, 0)
    control = [(0, 0), (30, 80), (60, -40), (110, 60), (150, 10), (160, 70)]
    polyline = [(0, 0, 0.5), (40, 0, -0.3), (80, 30, 0), (120, 30, 1.0), (120, 70, -2.5), (160, 20, 0)]
    old = msp.add_polyline2d([(p[0], p[1], 0, 0, p[2]) for p in polyline], format="xyseb")
    made = [
        msp.add_line((-20, 30), (70, 95)),
        msp.add_arc((10, -20), 60, 310, 75),
        msp.add_arc((10, -20), 60, 75, 310),
        msp.add_arc((0, 0), 30, -90, 450 - 1e-3, dxfattribs={"extrusion": (0, 0, -1)}),
        msp.add_circle((10, 20), 35),
        msp.add_circle((10, 20), 35, dxfattribs={"extrusion": (0, 0, -1)}),
        msp.add_ellipse((5, 6), (60, 30), 0.4),
        msp.add_ellipse((5, 6), (60, 30), 0.4, 1.0, 5.5),
        msp.add_ellipse((5, 6), (60, 30), 0.4, 5.5, 1.0, dxfattribs={"extrusion": (0, 0, -1)}),
        msp.add_lwpolyline(polyline, format="xyb"),
        msp.add_lwpolyline(polyline, format="xyb", close=True),
        msp.add_lwpolyline(polyline, format="xyb", close=True, dxfattribs={"extrusion": (0, 0, -1)}),
        msp.add_lwpolyline([(0, 0, 1), (50, 0, 1)], format="xyb", close=True),
        old,
        msp.add_polyline3d([(0, 0, 7), (50, 20, 7), (90, 90, 7)]),
        fit,
        tangents,
        msp.add_open_spline(control, degree=3),
        msp.add_open_spline(control, degree=2),
        msp.add_open_spline(control, degree=1),
        msp.add_open_spline(control, degree=5),
        closed_spline(msp, control, None),
        msp.add_rational_spline(control, [1, 2, 0.5, 3, 1, 1], degree=3),
        closed_spline(msp, control, [1, 2, 0.5, 3, 1, 1]),
    ]
    return [*made]


COUNT = len(entities(new().modelspace()))


@pytest.mark.parametrize("number", range(COUNT))
@pytest.mark.parametrize("binary", [False, True])
def test_each_entity_lies_where_ezdxf_flattens_it(number: int, binary: bool) -> None:
    doc = new()
    made = entities(doc.modelspace())
    for other in made[:number] + made[number + 1 :]:
        doc.modelspace().delete_entity(other)
    points = flattened(made[number])
    if binary:
        stream = io.BytesIO()
        doc.write(stream, fmt="bin")
        content = read_dxf(stream.getvalue())
    else:
        content = reread(doc)
    (shape,) = content.shapes
    low, high = corners_of(points)
    assert_like_ezdxf(shape, points, (low[0], high[1]))
    assert content.size == pytest.approx(tuple(high - low), abs=0.01)
    left, top, right, bottom = shape.curves[0].bounds
    assert (left, top) == pytest.approx((0, 0), abs=1e-9)
    assert (right, bottom) == pytest.approx(content.size)


@pytest.mark.parametrize("bulge", [1e-9, 1e-4, 0.1, 0.5, 1, 1 - 1e-12, 3, 50, -0.2, -1, -4])
def test_a_bulge_is_the_tangent_of_a_quarter_of_the_angle(bulge: float) -> None:
    """DXF reference, LWPOLYLINE, group 42. Length and least radius follow from chord and angle."""
    doc = new()
    doc.modelspace().add_lwpolyline([(10, 20, bulge), (40, 60, 0), (40, 61, 0)], format="xyb")
    (shape,) = reread(doc).shapes
    angle = 4 * math.atan(abs(bulge))
    radius = 25 / abs(math.sin(angle / 2))
    (curve,) = shape.curves
    assert curve.length - 1 == pytest.approx(radius * angle, rel=1e-9)
    arc = curve.section(0, curve.length - 1.001)
    if bulge != 1e-9:
        assert arc.tightest().radius == pytest.approx(radius, rel=1e-5)
        # Counterclockwise is to the left of travel, also on the page.
        assert arc.tightest().side == ("left" if bulge > 0 else "right")


def test_circles_have_their_radius_and_arcs_run_counterclockwise() -> None:
    doc = new()
    doc.modelspace().add_circle((1e6, -2e6), 12.5)
    doc.modelspace().add_arc((1e6, -2e6), 10, 0, 90)
    circle, arc = reread(doc).shapes
    (ring,), (quarter,) = circle.curves, arc.curves
    assert ring.closed
    assert not quarter.closed
    assert ring.length == pytest.approx(25 * math.pi, abs=1e-8)
    assert ring.tightest().radius == pytest.approx(12.5, rel=1e-6)
    assert quarter.start == pytest.approx((22.5, 12.5), abs=1e-8)
    assert quarter.end == pytest.approx((12.5, 2.5), abs=1e-8)
    assert (circle.tag, arc.tag) == ("circle", "arc")


def test_y_is_turned_over_and_the_upper_left_corner_is_the_origin() -> None:
    doc = new()
    doc.modelspace().add_line((10, 20), (40, 80))
    content = reread(doc)
    (curve,) = content.shapes[0].curves
    assert (curve.start, curve.end, content.size) == ((0, 60), (30, 0), (30, 60))
    assert any("measured from edge to edge" in note for note in told(content))


# Splines


@given(
    degree=st.integers(1, 3),
    count=st.integers(4, 9),
    seed=st.integers(0, 2**32 - 1),
    clamped=st.booleans(),
)
@settings(max_examples=60, deadline=None)
def test_splines_of_low_degree_are_exact(degree: int, count: int, seed: int, clamped: bool) -> None:
    """Against scipy's de Boor scheme, at 33 parameters, to rounding; knots at random, some of them double."""
    from scipy.interpolate import BSpline as ScipySpline

    random = np.random.default_rng(seed)
    inner = np.sort(random.uniform(0, 1, count - degree - 1 if clamped else count + degree + 1))
    if degree > 1 and len(inner) > 2 * degree + 3 and not clamped:
        inner[degree + 2] = inner[degree + 1]
    knots = np.concatenate([[0] * (degree + 1), inner, [1] * (degree + 1)]) if clamped else inner
    points = random.uniform(-100, 100, (count, 2))
    cubics, exact = spline_cubics(BSpline(degree, points, knots))
    assert exact
    spans = np.unique(knots[degree : count + 1])
    assert len(cubics) == len(spans) - 1
    theirs = ScipySpline(knots, points, degree)
    for cubic, (a, b) in zip(cubics, itertools.pairwise(spans), strict=True):
        t = np.linspace(0, 1, 5)[:, None]
        ours = (
            ((1 - t) ** 3) * cubic[0]
            + 3 * t * (1 - t) ** 2 * cubic[1]
            + 3 * t**2 * (1 - t) * cubic[2]
            + t**3 * cubic[3]
        )
        assert np.abs(ours - theirs(a + (b - a) * t[:, 0])).max() < 1e-9


def test_a_rational_circle_has_its_radius_everywhere() -> None:
    ellipse = ConstructionEllipse((3, 4, 0), (50, 0, 0), ratio=1)
    theirs = EzdxfSpline.from_ellipse(ellipse)
    doc = new()
    doc.modelspace().add_spline().apply_construction_tool(theirs)
    content = reread(doc)
    (curve,) = content.shapes[0].curves
    assert curve.closed
    radii = np.hypot(*(curve.point_at(np.linspace(0, curve.length, 2001)) - 50).T)
    assert np.abs(radii - 50).max() < 1e-7
    assert np.abs(1 / curve.curvature_at(np.linspace(0, curve.length, 2001)) + 50).max() < 5e-4
    assert any("it is rational" in note for note in told(content))


@given(st.integers(4, 8), st.integers(0, 2**32 - 1), st.booleans())
@settings(max_examples=12, deadline=None)
def test_splines_that_are_fitted_keep_to_their_tolerance(degree: int, seed: int, weighted: bool) -> None:
    random = np.random.default_rng(seed)
    points = np.cumsum(random.uniform(0, 40, (degree + 4, 2)) * [1, 0.4], axis=0)
    weights = random.uniform(0.3, 3, len(points)) if weighted else None
    knots = np.concatenate([[0] * (degree + 1), [0.2, 0.5, 0.6], [1] * (degree + 1)])
    curve = Curve(spline_cubics(BSpline(degree, points, knots, weights))[0])
    theirs = EzdxfSpline(
        [(*p, 0) for p in points], degree + 1, knots, None if weights is None else list(weights)
    )
    line = shapely.LineString(curve.point_at(np.linspace(0, curve.length, 20_001)))
    assert max(line.distance(shapely.Point(p.x, p.y)) for p in theirs.points(np.linspace(0, 1, 33))) < 1e-4
    assert curve.length == pytest.approx(float(np.hypot(*np.diff(row(theirs), axis=0).T).sum()), abs=1e-3)


def row(spline: Any) -> np.ndarray[Any, Any]:
    return np.array([(p.x, p.y) for p in spline.points(np.linspace(0, spline.max_t, 20_001))])


def test_a_corner_in_a_fitted_spline_stays_one() -> None:
    points = np.array([[0.0, 0], [10, 20], [20, 20], [30, 0], [40, 20], [50, 20], [60, 0]])
    knots = np.array([0.0] * 4 + [1.0] * 3 + [2.0] * 4)
    weights = np.array([1, 2, 1, 1, 1, 2, 1.0])
    cubics, exact = spline_cubics(BSpline(3, points, knots, weights))
    assert not exact
    (corner,) = Curve(cubics).corners
    assert corner.point == pytest.approx((30, 0), abs=1e-9)


@pytest.mark.parametrize("tangents", [None, ((0, 1), (2, 1))])
def test_fit_points_give_the_curve_ezdxf_gives(tangents: Any) -> None:
    """ezdxf's global interpolation, a linear system of its own."""
    points = np.array([[0, 0], [30, 40], [70, 35], [80, -20], [150, 10]], dtype=float)
    units = (None, None) if tangents is None else tuple(np.array(t) / np.hypot(*t) for t in tangents)
    ours = through_fit_points(points, False, (units[0], units[1]))
    theirs = fit_points_to_cad_cv([(*p, 0) for p in points], tangents and [(*t, 0) for t in tangents])
    control = np.array([(p.x, p.y) for p in theirs.control_points])
    exact, _ = spline_cubics(BSpline(3, control, np.array(theirs.knots())))
    assert ours is not None
    assert np.abs(ours - exact).max() < 1e-9


def test_closed_fit_points_run_on_round_their_start() -> None:
    doc = new()
    angles = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    spline = doc.modelspace().add_spline([(50 * np.cos(a), 50 * np.sin(a)) for a in angles])
    spline.closed = True
    content = reread(doc)
    (curve,) = content.shapes[0].curves
    assert curve.closed
    assert curve.corners == ()
    assert curve.length == pytest.approx(100 * math.pi, rel=2e-5)
    assert any("fit points" in note and "SPLINE" in note for note in told(content))


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"knots": [0, 0, 0, 0, 1, 1, 1]}, "it has 7 knots where 8 are wanted"),
        ({"knots": [0, 0, 0, 0, 1, 1, 0.5, 1]}, "its knots do not rise"),
        ({"knots": [1] * 8}, "its knots do not rise"),
        ({"weights": [1, 1]}, "it has 2 weights for 4 control points"),
        ({"weights": [1, 0, 1, 1]}, "its weights are not all positive"),
        ({"weights": [1, 1e300, 1, 1]}, "its weights run from 1 to 1e+300"),
        ({"degree": 4}, "it has 4 control points, and degree 4 wants 5 at least"),
    ],
)
def test_splines_that_cannot_be_are_left_out_with_a_note(change: dict[str, Any], why: str) -> None:
    doc = new()
    doc.modelspace().add_line((0, 0), (50, 50))
    spline = doc.modelspace().add_open_spline([(0, 0), (1, 2), (3, 2), (4, 0)])
    for name, value in change.items():
        setattr(spline if name != "degree" else spline.dxf, name, value)
    content = reread(doc)
    assert [shape.tag for shape in content.shapes] == ["line"]
    assert f"SPLINE (handle {spline.dxf.handle}): left out, because {why}" in told(content)


@pytest.mark.parametrize("weights", [None, np.array([1.0, 2, 3, 4])])
def test_a_spline_in_pieces_that_do_not_meet(weights: Any) -> None:
    points = np.array([[0.0, 0], [1, 1], [5, 5], [6, 6]])
    with pytest.raises(CurveError, match="pieces that do not meet"):
        spline_cubics(BSpline(1, points, np.array([0.0, 0, 1, 1, 2, 2]), weights))


def test_splines_further_than_numbers_reach() -> None:
    points = np.array([[-1.5e308, 0], [1.5e308, 5], [0, 0]])
    with np.errstate(over="ignore"), pytest.raises(CurveError, match="further than numbers do"):
        spline_cubics(BSpline(2, points, np.array([0.0, 0, 0, 1, 1, 1]), np.array([1.0, 2, 1])))
    with np.errstate(over="ignore"), pytest.raises(CurveError, match="further than numbers do"):
        through_fit_points(points, False, (None, None))


def test_fit_points_through_which_no_spline_goes() -> None:
    points = np.array([[0, -7e221], [40, 35], [90, 10]])
    with np.errstate(all="ignore"), pytest.raises(CurveError, match="no spline goes through them"):
        through_fit_points(points, False, (None, None))


def test_knots_that_differ_by_rounding_are_one() -> None:
    points = np.array([[0.0, 0], [10, 20], [30, 30], [50, 0], [60, 10]])
    knots = np.array([0, 0, 0, 0.5, 0.5 + 1e-13, 1, 1, 1])
    cubics, exact = spline_cubics(BSpline(2, points, knots))
    assert exact
    assert len(cubics) == 2


def test_a_fitted_spline_leaves_a_doubled_point_in_the_direction_of_the_next() -> None:
    points = np.array([[0.0, 0], [0, 0], [30, 40], [60, 0], [90, 10], [90, 10]])
    knots = np.array([0.0] * 5 + [0.5] + [1.0] * 5)
    cubics, _ = spline_cubics(BSpline(4, points, knots))
    start, end = Curve(cubics).tangent_at([0, Curve(cubics).length])
    assert start == pytest.approx((0.6, 0.8), abs=1e-4)
    assert end == pytest.approx((30 / math.hypot(30, 10), 10 / math.hypot(30, 10)), abs=1e-4)


# Units

UNITS = {  # millimetres, from the definitions, exact but for the parsec
    1: 25.4,
    2: 304.8,
    3: 1_609_344,
    4: 1,
    5: 10,
    6: 1000,
    7: 1e6,
    8: 25.4e-6,
    9: 0.0254,
    10: 914.4,
    11: 1e-7,
    12: 1e-6,
    13: 1e-3,
    14: 100,
    15: 1e4,
    16: 1e5,
    17: 1e12,
    18: 1.495978707e14,
    19: 9.4607304725808e18,
    20: 3.0856775814913673e19,
    21: 304.8006096012192,
    22: 25.4000508001016,
    23: 914.4018288036576,
    24: 1_609_347.2186944373,
}


@pytest.mark.parametrize(("code", "mm"), UNITS.items())
def test_units(code: int, mm: float) -> None:
    """Codes: DXF reference, header variable INSUNITS."""
    doc = new(units=code)
    doc.modelspace().add_line((0, 0), (3, 4))
    content = reread(doc)
    assert content.size == pytest.approx((3 * mm, 4 * mm), rel=1e-12)
    assert content.shapes[0].curves[0].length == pytest.approx(5 * mm, rel=1e-12)
    assert any("odd size" in note for note in told(content)) is not (30 <= 4 * mm <= 20_000)
    assert reread(doc, scale=2).size == pytest.approx((6 * mm, 8 * mm), rel=1e-12)


@pytest.mark.parametrize(
    ("units", "measure", "mm", "words"),
    [
        (0, 0, 25.4, "taken for inches, because it does not say its units, and $MEASUREMENT says inches"),
        (0, 1, 1.0, "taken for millimetres, because it does not say its units, and $MEASUREMENT says metric"),
        (77, 0, 25.4, "taken for inches, because its unit, 77, is none that DXF knows, and"),
        (None, 0, 25.4, "taken for inches"),
        (
            None,
            None,
            1.0,
            "nor does it say whether it measures in inches; if that is wrong, give scale=, 25.4",
        ),
    ],
)
def test_missing_units_are_told(units: int | None, measure: int | None, mm: float, words: str) -> None:
    doc = new()
    doc.header["$INSUNITS"] = 0 if units is None else units
    doc.header["$MEASUREMENT"] = measure or 0
    doc.modelspace().add_line((0, 0), (30, 40))
    text = written(doc)
    if units is None:
        text = text.replace(b"  9\n$INSUNITS\n 70\n0\n", b"")
        assert b"$INSUNITS" not in text
    if measure is None:
        text = text.replace(b"  9\n$MEASUREMENT\n 70\n0\n", b"")
        assert b"$MEASUREMENT" not in text
    content = read_dxf(text)
    assert content.size == pytest.approx((30 * mm, 40 * mm))
    assert any(words in note for note in told(content))


def test_a_file_with_entities_only() -> None:
    """No header, no handles: the library's own defaults, which are metres, must not slip in."""
    content = read_dxf(minimal("0|LINE|8|hop|10|0|20|0|11|30|21|40"))
    assert content.size == pytest.approx((30, 40))
    assert content.shapes[0].name == "hop"
    assert content.shapes[0].line == 5
    assert any(note.startswith("units: taken for millimetres") for note in told(content))


def minimal(*entity: str) -> bytes:
    body = "|".join(["0|SECTION|2|ENTITIES", *entity, "0|ENDSEC|0|EOF"])
    return (body.replace("|", "\n") + "\n").encode()


# Blocks


def placing(
    attributes: dict[str, Any], base: tuple[float, float], column: int = 0, row: int = 0
) -> np.ndarray[Any, Any]:
    """The map of an insertion as the DXF reference has it, as a 3 x 3 matrix."""
    angle = math.radians(attributes.get("rotation", 0))
    turn = np.array(
        [[math.cos(angle), -math.sin(angle), 0], [math.sin(angle), math.cos(angle), 0], [0, 0, 1]]
    )
    grid = np.eye(3)
    grid[:2, 2] = column * attributes.get("column_spacing", 0), row * attributes.get("row_spacing", 0)
    back = np.eye(3)
    back[:2, 2] = -base[0], -base[1]
    there = np.eye(3)
    there[:2, 2] = attributes["insert"]
    scales = np.diag([attributes.get("xscale", 1), attributes.get("yscale", 1), 1])
    flip = np.diag([-1.0 if attributes.get("extrusion", (0, 0, 1))[2] < 0 else 1.0, 1, 1])
    result: np.ndarray[Any, Any] = flip @ there @ turn @ grid @ scales @ back
    return result


def insertions() -> st.SearchStrategy[dict[str, Any]]:
    place = st.floats(-50, 50)
    size = st.floats(0.3, 3).flatmap(lambda x: st.sampled_from([x, -x]))
    return st.fixed_dictionaries(
        {
            "insert": st.tuples(place, place),
            "xscale": size,
            "yscale": size,
            "rotation": st.floats(-400, 400),
            "extrusion": st.sampled_from([(0, 0, 1), (0, 0, -1)]),
        }
    )


@given(
    chain=st.lists(
        st.tuples(insertions(), st.tuples(st.floats(-9, 9), st.floats(-9, 9))), min_size=1, max_size=4
    ),
    rows=st.integers(1, 2),
    columns=st.integers(1, 3),
)
@settings(max_examples=25, deadline=None)
def test_chains_of_blocks_are_affine_images(
    chain: list[tuple[dict[str, Any], tuple[float, float]]], rows: int, columns: int
) -> None:
    doc = new()
    layout = doc.modelspace()
    matrices = [np.eye(3)]
    for depth, (attributes, base) in enumerate(chain):
        block = doc.blocks.new(f"sprig{depth}", base_point=base)
        grid = {"row_count": rows, "column_count": columns, "row_spacing": 11, "column_spacing": 7}
        used = attributes | (grid if depth == 0 else {})
        layout.add_blockref(f"sprig{depth}", used["insert"], {k: v for k, v in used.items() if k != "insert"})
        places = [(c, r) for r in range(rows) for c in range(columns)] if depth == 0 else [(0, 0)]
        matrices = [m @ placing(used, base, c, r) for m in matrices for c, r in places]
        layout = block
    layout.add_ellipse((3, 4), (10, 5), 0.5, 0.5, 4)
    layout.add_lwpolyline([(0, 0, 0.7), (10, 3, 0), (14, 9, -0.4), (20, 0, 0)], format="xyb")
    doc.modelspace().add_line((123, 45), (124, 45))
    content = reread(doc)
    plain = new()
    plain.modelspace().add_line((123, 45), (124, 45))
    for entity in layout:
        plain.modelspace().add_foreign_entity(entity.copy())
    # The line that is in no block tells where the origin of each page lies.
    mark, *flat = reread(plain).shapes
    originals = [(s.curves[0].controls - mark.curves[0].start) * [1, -1] + [123, 45] for s in flat]
    images = [o @ m[:2, :2].T + m[:2, 2] for m in matrices for o in originals]
    *placed, mark = content.shapes
    assert len(placed) == len(images)
    for shape, image in zip(placed, images, strict=True):
        ours = (shape.curves[0].controls - mark.curves[0].start) * [1, -1] + [123, 45]
        assert np.abs(ours - image).max() < 1e-12 * max(map(np.max, map(np.abs, images))) + 1e-10
    ends = np.concatenate([shape.curves[0].bounds for shape in content.shapes]).reshape(-1, 4)
    assert ends[:, :2].min(axis=0) == pytest.approx([0, 0], abs=1e-9)
    assert ends[:, 2:].max(axis=0) == pytest.approx(content.size)


def test_blocks_as_ezdxf_takes_them_apart() -> None:
    """ezdxf's own route: entities of blocks transformed one by one in three dimensions."""
    doc = new()
    leaf = doc.blocks.new("leaf", base_point=(2, 1))
    leaf.add_arc((0, 0), 10, 20, 160)
    leaf.add_line((0, 0), (5, 9))
    leaf.add_open_spline([(0, 0), (5, 9), (12, -4), (20, 3)])
    insert = doc.modelspace().add_blockref(
        "leaf", (30, 40), {"xscale": 2, "yscale": -0.7, "rotation": 33, "extrusion": (0, 0, -1)}
    )
    content = reread(doc)
    points = [
        np.array([(p.x, p.y) for p in ezdxf_path.make_path(e).flattening(1e-5)])
        for e in insert.virtual_entities()
    ]
    low, high = corners_of(np.concatenate(points))
    for shape, line in zip(content.shapes, points, strict=True):
        ends = np.array([shape.curves[0].start, shape.curves[0].end])
        theirs = (line[[0, -1]] - [low[0], high[1]]) * [1, -1]
        if np.abs(ends - theirs).max() > 0.01:  # an arc mirrored comes out the other way round
            line = line[::-1]  # noqa: PLW2901
        assert_like_ezdxf(shape, line, (low[0], high[1]))


def test_layers_and_blocks_are_groups() -> None:
    doc = new()
    doc.layers.add("Stems")
    sprig = doc.blocks.new("bean sprig")
    sprig.add_line((0, 0), (10, 50))
    sprig.add_line((0, 0), (10, 60), {"layer": "tendrils"})
    doc.blocks.new("*U7").add_line((0, 0), (5, 5))
    msp = doc.modelspace()
    msp.add_blockref("bean sprig", (0, 0), {"layer": "stems"})
    msp.add_blockref("*U7", (0, 0), {"layer": "STEMS"})
    msp.add_line((0, 0), (100, 0), {"layer": "hop"})
    msp.add_line((0, 0), (0, 100))
    msp.add_circle((0, 0), 9)
    msp.add_line((0, 0), (50, 100))
    content = reread(doc)
    assert [(shape.name, shape.layers, shape.words) for shape in content.shapes] == [
        ("bean sprig", ("Stems", "bean sprig"), ("bean sprig", "Stems")),
        ("tendrils", ("Stems", "bean sprig", "tendrils"), ("tendrils", "bean sprig", "Stems")),
        ("Stems", ("Stems",), ("Stems",)),
        ("hop", ("hop",), ("hop",)),
        ("line 1", ("0",), ("0",)),
        ("circle", ("0",), ("0",)),
        ("line 2", ("0",), ("0",)),
    ]
    assert {shape.filled for shape in content.shapes} == {False}
    assert {shape.stroke_width for shape in content.shapes} == {None}


def test_names_differ() -> None:
    doc = new()
    for layer in ("pea", "pea", "pea 1", "pea"):
        doc.modelspace().add_line((0, 0), (10, 50), {"layer": layer})
    assert [shape.name for shape in reread(doc).shapes] == ["pea 2", "pea 3", "pea 1", "pea 4"]


def test_hidden_layers() -> None:
    """As on screen: off hides what is drawn on the layer; frozen hides blocks inserted on it whole (from memory)."""
    doc = new()
    doc.layers.add("off").off()
    doc.layers.add("cold").freeze()
    doc.layers.add("guide").dxf.plot = 0
    block = doc.blocks.new("pod")
    block.add_line((0, 0), (10, 10))
    block.add_line((0, 0), (10, 20), {"layer": "shown"})
    msp = doc.modelspace()
    msp.add_blockref("pod", (0, 0), {"layer": "off"})
    cold = msp.add_blockref("pod", (0, 0), {"layer": "cold"})
    msp.add_line((0, 0), (10, 30), {"layer": "COLD"})
    msp.add_line((0, 0), (10, 40), {"layer": "guide"})
    ghost = msp.add_line((0, 0), (10, 40), {"invisible": 1})
    content = reread(doc)
    assert [shape.name for shape in content.shapes] == ["shown", "guide"]
    notes = told(content)
    assert any(
        n.startswith("entity on layer 'off' (handle") and n.endswith("the layer is off") for n in notes
    )
    assert any(
        n.startswith(f"entity on layer 'cold' (2 of them, handles {cold.dxf.handle}, ") and "frozen" in n
        for n in notes
    )
    assert any("entity on layer 'guide'" in n and "not to be printed" in n for n in notes)
    assert f"LINE (handle {ghost.dxf.handle}): left out, because it is marked invisible" in notes


# Widths


def test_the_width_of_a_polyline_is_the_width_drawn() -> None:
    doc = new(units=5)
    msp = doc.modelspace()
    msp.add_lwpolyline([(0, 0), (10, 0), (10, 10)], dxfattribs={"const_width": 0.5})
    msp.add_lwpolyline([(0, 0, 0.4, 0.4), (10, 0, 0.4, 0.4), (10, 10, 0, 0)], format="xyse")
    msp.add_polyline2d([(0, 0), (10, 0)], dxfattribs={"default_start_width": 0.3, "default_end_width": 0.3})
    msp.add_lwpolyline([(0, 0, 0.1, 0.4), (10, 0, 0.4, 0.4), (10, 10, 0, 0)], format="xyse")
    block = doc.blocks.new("pea")
    block.add_lwpolyline([(0, 0), (10, 0)], dxfattribs={"const_width": 0.5})
    msp.add_blockref("pea", (0, 0), {"xscale": 2, "yscale": 8})
    content = reread(doc)
    assert [shape.stroke_width for shape in content.shapes] == pytest.approx([5, 4, 3, None, 20])
    notes = told(content)
    assert any("read without a width, because its width changes, from 0.1 to 0.4 units" in n for n in notes)
    assert any("read with the mean of its widths, because its block is scaled unevenly" in n for n in notes)


# What is not read


def test_everything_left_out_has_a_note() -> None:
    doc = new()
    msp = doc.modelspace()
    msp.add_line((0, 0), (50, 50))
    texts = [msp.add_text("hops") for _ in range(5)]
    msp.add_mtext("peas")
    msp.add_hatch().paths.add_polyline_path([(0, 0), (1, 0), (1, 1)])
    msp.add_point((3, 3))
    msp.add_ray((0, 0), (1, 0))
    msp.add_xline((0, 0), (1, 0))
    msp.add_3dface([(0, 0, 0), (1, 0, 0), (1, 1, 1)])
    with msp.add_mesh().edit_data() as mesh:
        mesh.vertices, mesh.faces = [(0, 0, 0), (1, 0, 0), (1, 1, 1)], [(0, 1, 2)]
    msp.add_solid([(0, 0), (1, 0), (1, 1)])
    msp.add_linear_dim(base=(0, 9), p1=(0, 0), p2=(9, 0)).render()
    msp.add_line((0, 0, 0), (5, 5, 5))
    msp.add_circle((0, 0), 5, {"extrusion": (1, 0, 0)})
    msp.add_polyline3d([(0, 0, 0), (5, 5, 3)])
    msp.add_polymesh((2, 2))
    msp.add_open_spline([(0, 0, 0), (1, 1, 1), (2, 0, 0), (3, 1, 5)])
    msp.add_circle((0, 0), 0)
    msp.add_lwpolyline([(1, 1)])
    msp.add_blockref("nowhere", (0, 0))
    msp.add_lwpolyline([(1, 1), (1, 1)])
    msp.add_arc((0, 0), 5, 30, 30)
    doc.paperspace().add_line((0, 0), (1, 1))
    tagged = doc.blocks.new("tag")
    tagged.add_line((0, 0), (1, 1))
    tagged.add_attdef("name", (0, 0))
    msp.add_blockref("tag", (0, 0)).add_attrib("name", "pea", (0, 0))
    msp.add_blockref("tag", (0, 0), {"extrusion": (0, 1, 0)})
    doc.add_xref_def("elsewhere.dxf", "elsewhere")
    msp.add_blockref("elsewhere", (0, 0))
    content = reread(doc)
    assert [shape.tag for shape in content.shapes] == ["line", "line"]
    said = {(note.element.split(" (")[0], note.why) for note in content.notes if note.what == "left out"}
    flat = "it does not lie flat in the plane of the drawing"
    wanted = {
        *(
            ("TEXT", "lettering is not read"),
            ("MTEXT", "lettering is not read"),
            ("ATTRIB", "lettering is not read"),
        ),
        ("HATCH", "painted areas are not read, only lines"),
        ("SOLID", "painted areas are not read, only lines"),
        ("POINT", "a point has no length"),
        *(("RAY", "it has no end"), ("XLINE", "it has no end")),
        *(("3DFACE", "it is not drawn in the plane"), ("MESH", "it is not drawn in the plane")),
        ("DIMENSION", "measurements and pointers are not read"),
        *((kind, flat) for kind in ("LINE", "CIRCLE", "POLYLINE", "SPLINE", "INSERT")),
        ("CIRCLE", "its radius is 0"),
        ("LWPOLYLINE", "it has no length"),
        ("INSERT", "there is no block 'nowhere'"),
        ("INSERT", "the block 'elsewhere' is in another file, and only this one is read"),
        ("ARC", "its start and end angles are the same"),
        ("LINE", "it is not in model space but on a sheet laid out for printing"),
    }
    assert said == wanted
    (text,) = [note for note in content.notes if note.element.startswith("TEXT")]
    assert text.element == f"TEXT (5 of them, handles {', '.join(t.dxf.handle for t in texts[:3])}, ...)"


def test_lines_of_the_file() -> None:
    doc = new()
    doc.modelspace().add_text("hops")
    doc.modelspace().add_circle((0, 0), 20, {"layer": "hop"})
    data = written(doc)
    content = read_dxf(data)
    lines = data.decode().split("\n")
    at = content.shapes[0].line
    assert at is not None
    assert [line.strip() for line in lines[at - 1 : at + 1]] == ["0", "CIRCLE"]
    (text,) = [note for note in content.notes if note.element.startswith("TEXT")]
    assert text.line is not None
    assert lines[text.line].strip() == "TEXT"


def test_ends_that_meet_close_a_curve_with_a_note() -> None:
    doc = new()
    doc.modelspace().add_lwpolyline([(0, 0), (50, 0), (50, 50), (0, 0.0004)])
    content = reread(doc)
    assert content.shapes[0].curves[0].closed
    assert any("read as closed, because its ends meet" in note for note in told(content))


def test_a_smoothed_polyline_is_read_by_its_pieces() -> None:
    """Vertices with flag 16 are the frame of the smooth line and not drawn (DXF reference, VERTEX, group 70)."""
    doc = new()
    line = doc.modelspace().add_polyline2d([(0, 0), (10, 90), (20, 20), (40, 0)])
    line.dxf.flags |= 4
    line.vertices[1].dxf.flags |= 16
    content = reread(doc)
    assert len(content.shapes[0].curves[0]) == 2
    assert any("read by the pieces it is stored as" in note for note in told(content))


# Names in other letters


@pytest.mark.parametrize(
    ("version", "encoding"),
    [
        ("R2000", "cp1252"),
        ("R2000", "utf-8"),
        ("R2010", "utf-8"),
        ("R2010", "utf-8-sig"),
        ("R2010", "utf-16"),
    ],
)
def test_encodings(version: str, encoding: str) -> None:
    doc = new(version)
    doc.modelspace().add_line((0, 0), (50, 50), {"layer": "Kürbis"})
    stream = io.StringIO()
    doc.write(stream)
    content = read_dxf(stream.getvalue().encode(encoding))
    assert content.shapes[0].name == "Kürbis"


def test_names_spelt_by_numbers_and_texts_that_lie() -> None:
    doc = new("R2000")
    doc.modelspace().add_line((0, 0), (50, 50), {"layer": "xKxFCrbis"})
    data = written(doc)
    assert read_dxf(data.replace(b"xKxFCrbis", b"K\\U+00FCrbis")).shapes[0].name == "Kürbis"
    modern = new("R2010")
    modern.modelspace().add_line((0, 0), (50, 50), {"layer": "xKxFCrbis"})
    content = read_dxf(written(modern).replace(b"xKxFCrbis", b"K\xfcrbis"))
    assert content.shapes[0].name == "Kürbis"
    assert any("names may be spelt wrong" in note for note in told(content))


@pytest.mark.parametrize("ends", [b"\r\n", b"\r"])
def test_line_ends(ends: bytes) -> None:
    doc = new()
    doc.modelspace().add_line((0, 0), (30, 40))
    assert read_dxf(written(doc).replace(b"\n", ends)).size == (30, 40)


# Bad input


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "it is not DXF"),
        (b"%PDF-1.7\n%binary", "it is not DXF"),
        (bytes(range(256)) * 9, "it is not DXF"),
        (b"0\nSECTION\nbeans\nENTITIES\n", "Invalid group code"),
        (b"AutoCAD Binary DXF\r\n\x1a\x00\x00SEC", "broken or cut short"),
        (b"AutoCAD Binary DXF\r\n\x1a\x00", "broken or cut short"),
        (minimal("0|CIRCLE|8|0|10|0|20|0|40|beans"), "broken|nothing"),
        (minimal(), "nothing that can be read is drawn"),
    ],
)
def test_what_is_no_dxf(data: bytes, words: str) -> None:
    with pytest.raises(DrawingError, match=words):
        read_dxf(data)


@pytest.mark.parametrize("fmt", ["asc", "bin"])
def test_a_file_cut_short_anywhere_is_an_error(fmt: str) -> None:
    doc = new()
    entities(doc.modelspace())
    if fmt == "bin":
        stream = io.BytesIO()
        doc.write(stream, fmt="bin")
        data = stream.getvalue()
    else:
        data = written(doc)
    for end in np.linspace(0, len(data) - 5, 40).astype(int):
        with pytest.raises(DrawingError):
            read_dxf(data[:end])


@pytest.mark.parametrize("number", ["nan", "inf", "1e400", "-inf"])
@pytest.mark.parametrize(
    "entity",
    [
        "0|LINE|5|2F|8|0|10|@|20|0|11|1|21|1",
        "0|CIRCLE|5|2F|8|0|10|0|20|0|40|@",
        "0|ARC|5|2F|8|0|10|0|20|0|40|9|50|@|51|0",
        "0|CIRCLE|5|2F|8|0|10|0|20|0|40|9|210|0|220|0|230|@",
        "0|ELLIPSE|5|2F|100|AcDbEntity|8|0|100|AcDbEllipse|10|0|20|0|30|0|11|9|21|@|31|0|40|0.5|41|0|42|1",
        "0|LWPOLYLINE|5|2F|100|AcDbEntity|8|0|100|AcDbPolyline|90|2|70|0|10|0|20|0|42|@|10|9|20|9",
    ],
)
def test_numbers_that_are_not_finite_are_named(entity: str, number: str) -> None:
    with pytest.raises(DrawingError, match=r"^[A-Z]+ \(handle 2F, line 5\): .*not finite"):
        read_dxf(minimal(entity.replace("@", number)))


def test_numbers_that_grow_beyond_all_bounds() -> None:
    doc = new(units=20)
    doc.modelspace().add_line((0, 0), (1e300, 1e300))
    with pytest.raises(DrawingError, match=r"LINE .*it is placed where numbers are not finite"):
        reread(doc)


def test_a_point_so_far_off_that_the_rest_is_lost() -> None:
    doc = new()
    doc.modelspace().add_line((0, 0), (30, 40))
    doc.modelspace().add_line((0, 0), (1e17, 40))
    with pytest.raises(
        DrawingError, match=r"^LINE \(handle \w+\) reaches 1e\+17 mm out, so far that shapes of 40 mm"
    ):
        reread(doc)


def test_a_speck_beside_a_drawing_is_no_reason_to_refuse_it() -> None:
    doc = new()
    doc.modelspace().add_line((0, 0), (300, 400))
    doc.modelspace().add_line((0, 0), (1e-320, 1e-9))
    doc.blocks.new("pea").add_line((0, 0), (30, 40))
    doc.modelspace().add_blockref("pea", (0, 0), {"xscale": 1e-11, "yscale": 1e-11})
    content = reread(doc)
    assert len(content.shapes) == 1
    assert any("LINE (2 of them" in n and "so small that it has no length" in n for n in told(content))


@pytest.mark.parametrize(
    ("entity", "words"),
    [
        ("0|LINE|8|0|10|0|20|0", "LINE .*it has no end"),
        ("0|CIRCLE|8|0|10|0|20|0", "CIRCLE .*it has no radius"),
        ("0|INSERT|8|0|10|0|20|0", "INSERT .*there is no block ''"),
        ("0|POLYLINE|8|0|66|1|70|0|0|VERTEX|8|0|0|SEQEND|8|0", "POLYLINE .*one of its corners has no place"),
        ("0|VERTEX|8|0|10|0|20|0", "VERTEX is no line, arc, circle"),
    ],
)
def test_entities_without_what_they_need(entity: str, words: str) -> None:
    with pytest.raises(DrawingError, match=f"nothing that can be read .*{words}"):
        read_dxf(minimal(entity))


def test_a_fitted_spline_with_a_cusp_is_as_near_as_any() -> None:
    """A cubic with a cusp half way, written with degree 4: held against the cubic itself."""
    cubic = np.array([[0.0, 0], [40, 40], [0, 40], [40, 0]])
    assert len(spline_cubics(BSpline(3, cubic, np.array([0.0] * 4 + [1.0] * 4)))[0]) == 1
    share = np.arange(1, 4)[:, None] / 4
    points = np.concatenate([cubic[:1], cubic[:-1] * share + cubic[1:] * (1 - share), cubic[3:]])
    fitted = Curve(spline_cubics(BSpline(4, points, np.array([0.0] * 5 + [1.0] * 5)))[0])
    drawn = Curve(cubic[None])
    for one, other in ((drawn, fitted), (fitted, drawn)):
        places = one.point_at(np.linspace(0, one.length, 2001))
        assert other.locate(places)[1].max() < 2e-10 * 40 * math.sqrt(2)


@pytest.mark.parametrize(
    ("entity", "words"),
    [
        ("0|INSERT|8|0|2|pea|10|0|20|0|41|0", "INSERT: read at scale 1, because the file has a scale of 0"),
        (
            "0|ELLIPSE|100|AcDbEntity|8|0|100|AcDbEllipse|10|0|20|0|30|0|11|9|21|0|31|0|40|2.5|41|0|42|1",
            "ELLIPSE: read with the nearest ratio",
        ),
    ],
)
def test_numbers_that_the_library_sets_right_are_told(entity: str, words: str) -> None:
    content = read_dxf(minimal("0|LINE|8|hop|10|0|20|0|11|30|21|40", entity))
    (note,) = [note for note in content.notes if str(note).split(", ", 1)[1].startswith(words)]
    assert note.line == 17


def test_a_block_within_itself() -> None:
    doc = new()
    doc.blocks.new("vine").add_blockref("leaf", (0, 0))
    doc.blocks.new("leaf").add_blockref("VINE", (0, 0))
    doc.modelspace().add_blockref("vine", (0, 0))
    with pytest.raises(
        DrawingError, match=r"INSERT .*the block 'VINE' is inserted within itself \('VINE' in"
    ):
        reread(doc)


def test_model_space_within_itself() -> None:
    doc = new()
    doc.modelspace().add_line((0, 0), (9, 9))
    doc.modelspace().add_blockref("*Model_Space", (0, 0))
    with pytest.raises(DrawingError, match="inserted within itself"):
        reread(doc)


def test_blocks_that_multiply_without_end() -> None:
    doc = new()
    doc.blocks.new("b0").add_line((0, 0), (1, 1))
    for k in range(1, 30):
        for _ in range(4):
            doc.blocks.new(f"b{k}") if f"b{k}" not in doc.blocks else None
            doc.blocks.get(f"b{k}").add_blockref(f"b{k - 1}", (1, 1))
    doc.modelspace().add_blockref("b29", (0, 0))
    with pytest.raises(DrawingError, match="more pieces than can be drawn"):
        reread(doc)


def test_an_array_of_a_thousand_million() -> None:
    doc = new()
    doc.blocks.new("pea").add_line((0, 0), (1, 1))
    grid = {"row_count": 32_000, "column_count": 32_000, "row_spacing": 1, "column_spacing": 1}
    doc.modelspace().add_blockref("pea", (0, 0), grid)
    with pytest.raises(DrawingError, match="more pieces than can be drawn"):
        reread(doc)


def test_an_array_of_nothing() -> None:
    doc = new()
    doc.blocks.new("pea")
    grid = {"row_count": 32_000, "column_count": 32_000, "row_spacing": 1, "column_spacing": 1}
    doc.modelspace().add_blockref("pea", (0, 0), grid)
    with pytest.raises(DrawingError, match="more pieces than can be drawn"):
        reread(doc)


def test_a_block_full_of_what_is_not_read() -> None:
    doc = new()
    block = doc.blocks.new("pea")
    for _ in range(1000):
        block.add_point((0, 0))
    doc.modelspace().add_blockref("pea", (0, 0), {"row_count": 250, "row_spacing": 1})
    with pytest.raises(DrawingError, match="more pieces than can be drawn"):
        reread(doc)


def test_a_block_that_is_cut_off_is_read_whole() -> None:
    from ezdxf.xclip import XClip

    doc = new()
    doc.blocks.new("pea").add_line((0, 0), (30, 40))
    insert = doc.modelspace().add_blockref("pea", (0, 0))
    XClip(insert).set_block_clipping_path([(0, 0), (5, 5)])
    content = reread(doc)
    assert content.size == pytest.approx((30, 40))
    assert any("INSERT" in n and "read whole, because blocks are not cut off" in n for n in told(content))


def test_blocks_nested_very_deep() -> None:
    doc = new()
    doc.blocks.new("b0").add_line((0, 0), (1, 1))
    for k in range(1, 200):
        doc.blocks.new(f"b{k}").add_blockref(f"b{k - 1}", (1, 1))
    doc.modelspace().add_blockref("b199", (0, 0))
    with pytest.raises(DrawingError, match="nested more than 50 deep"):
        reread(doc)


def test_copies_on_top_of_each_other_are_one() -> None:
    doc = new()
    doc.blocks.new("pea").add_line((0, 0), (1, 1))
    doc.modelspace().add_blockref("pea", (0, 0), {"row_count": 5, "column_count": 3, "column_spacing": 9})
    assert len(reread(doc).shapes) == 3


def test_a_file_that_breaks_the_rules_is_repaired_with_notes() -> None:
    """Coordinates in the order x, x, y, y, as an old program wrote them."""
    content = read_dxf(minimal("0|LINE|8|hop|10|0|11|30|20|0|21|40"))
    assert content.size == pytest.approx((30, 40))
    assert any(note.startswith("file: repaired in reading") for note in told(content))


def test_lettering_that_repairing_throws_away() -> None:
    """A repaired insertion still lists the attribute without a tag that was taken from it."""
    block = "0|SECTION|2|BLOCKS|0|BLOCK|2|pea|10|0|20|0|0|LINE|8|0|10|0|20|0|11|3|21|3|0|ENDBLK|0|ENDSEC|"
    lettering = "0|INSERT|8|0|66|1|2|pea|10|0|20|0|0|ATTRIB|8|0|10|0|20|0|40|1|1|x|0|SEQEND|8|0"
    odd = minimal("0|LINE|8|hop|10|0|11|30|20|0|21|40", lettering)
    content = read_dxf(block.replace("|", "\n").encode() + odd)
    assert [shape.name for shape in content.shapes] == ["hop", "pea"]
    assert any('Missing mandatory "tag"' in note for note in told(content))


def test_entities_that_the_library_loses_are_counted() -> None:
    """Repairing throws away what refers to nothing; the count holds, whatever the library says of it."""
    odd = "0|LINE|8|hop|10|0|11|30|20|0|21|40"
    content = read_dxf(minimal(odd, "0|INSERT|8|pea|2|nowhere|10|0|20|0"))
    assert any("BLOCK" in note for note in told(content))
    assert any(
        "an entity was left out, because the reading library could not make it out" in n
        for n in told(content)
    )


@pytest.mark.parametrize("seed", range(60))
def test_files_with_bytes_changed_are_read_or_refused(seed: int) -> None:
    random = np.random.default_rng(seed)
    doc = new("R2000")
    entities(doc.modelspace())
    doc.blocks.new("pea").add_line((0, 0), (1, 1))
    doc.modelspace().add_blockref("pea", (0, 0))
    data = bytearray(written(doc))
    start = data.index(b"ENTITIES")
    for at in random.integers(start, len(data), 6):
        data[at] = random.integers(9, 127)
    try:
        content = read_dxf(bytes(data))
    except DrawingError:
        return
    for shape in content.shapes:
        assert np.isfinite(shape.curves[0].controls).all()


def test_without_the_library(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "ezdxf", None)
    with pytest.raises(DrawingError, match=r'pip install "bias_drafting\[dxf\]"'):
        read_dxf(minimal("0|LINE|8|hop|10|0|20|0|11|30|21|40"))


def test_the_library_tells_the_notes_and_not_the_terminal(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    line = "0|LINE|5|2F|8|hop|10|0|20|0|11|30|21|40"
    last = io.StringIO()
    monkeypatch.setattr(logging, "lastResort", logging.StreamHandler(last))
    monkeypatch.setattr(logging.getLogger(), "handlers", [])  # as in a program that sets up no logging
    handlers = list(logging.getLogger("ezdxf").handlers)
    content = read_dxf(minimal(line, line))
    assert any("Found non-unique entity handle #2F" in note for note in told(content))
    assert last.getvalue() == ""
    assert logging.getLogger("ezdxf").handlers == handlers


def test_a_file_without_model_space() -> None:
    doc = new()
    doc.modelspace().add_line((0, 0), (30, 40))
    data = written(doc)
    assert data.count(b"\nModel\n") >= 1
    with pytest.raises(DrawingError, match="broken"):
        read_dxf(data.replace(b"\nModel\n", b"\nMadel\n"))


def test_matrices_of_the_test_are_those_of_ezdxf() -> None:
    """The analytic images above and ezdxf's matrices agree, so neither is wrong alone."""
    doc = new()
    doc.blocks.new("pea", base_point=(3, 4))
    used = {"xscale": 2, "yscale": -3, "rotation": 40, "extrusion": (0, 0, -1)}
    insert = doc.modelspace().add_blockref("pea", (7, 8), used)
    theirs: Matrix44 = insert.matrix44()
    ours = placing(used | {"insert": (7, 8)}, (3, 4))
    at = theirs.transform((11, -5, 0))
    assert ours @ [11, -5, 1] == pytest.approx([at.x, at.y, 1])


# Curves in pieces


def pieces(*ends: tuple[tuple[float, float], tuple[float, float]], **attributes: Any) -> Any:
    doc = new()
    for start, end in ends:
        doc.modelspace().add_line(start, end, attributes)
    return doc


def test_a_leaf_of_two_splines_is_one_closed_shape() -> None:
    doc = new()
    for points in ([(60, 0), (70, 20), (90, 20), (100, 0)], [(100, 0), (90, -10), (70, -10), (60, 0)]):
        doc.modelspace().add_open_spline([(x, y, 0) for x, y in points], 3)
    content = reread(doc)
    (shape,) = content.shapes
    assert shape.curves[0].closed
    assert any("read as one line of 2 pieces, because their ends meet" in note for note in told(content))
    apart = read_dxf(written(doc), in_rows=False)
    assert [shape.curves[0].closed for shape in apart.shapes] == [False, False]


def test_four_lines_round_are_a_frame() -> None:
    square = [((0, 0), (90, 0)), ((90, 0), (90, 90)), ((0, 90), (90, 90)), ((0, 0), (0, 90))]
    (shape,) = reread(pieces(*square)).shapes
    assert shape.curves[0].closed
    assert shape.curves[0].length == 360


@pytest.mark.parametrize(
    ("ends", "lengths"),
    [
        ([((0, 0), (50, 0)), ((50, 0), (90, 30))], [100]),
        ([((50, 0), (0, 0)), ((50, 0), (90, 30))], [100]),
        ([((0, 0), (50, 0)), ((50, 0), (10, 30))], [50, 50]),  # a V: two stems from one place
        ([((0, 0), (50, 0)), ((50, 0), (90, 0)), ((50, 0), (50, 40))], [50, 40, 40]),
        ([((0, 0), (50, 0)), ((50.01, 0), (90.01, 0))], [50, 40]),
    ],
)
def test_lines_whose_ends_meet_are_one(ends: Any, lengths: list[float]) -> None:
    found = [shape.curves[0].length for shape in reread(pieces(*ends)).shapes]
    assert found == pytest.approx(lengths)


def test_lines_of_other_layers_and_widths_stay_apart() -> None:
    doc = pieces(((0, 0), (50, 0)), layer="hop")
    doc.modelspace().add_line((50, 0), (90, 0), {"layer": "bean"})
    doc.modelspace().add_lwpolyline([(50, 0), (50, 40)], dxfattribs={"layer": "hop", "const_width": 3})
    assert len(reread(doc).shapes) == 3
