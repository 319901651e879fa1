"""What callers give a curve: numbers, text and arrays, and what is none of these."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

import bias_drafting as bd

if TYPE_CHECKING:
    from collections.abc import Callable

# What follows gives what no type would let pass.
Curve: Any = bd.Curve
Outline: Any = bd.Outline
VINE: Any = bd.Curve.from_svg_path("M0 0C40 -60 60 60 100 0S160 40 200 0")
ASK: dict[str, Callable[[Any], Any]] = {
    "tightest": VINE.tightest,
    "bend_at": lambda x: VINE.bend_at(x, x),
    "working_radius_at": lambda x: VINE.working_radius_at(30.0, x).tolist(),
    "stretches_tighter_than": lambda x: VINE.stretches_tighter_than(x, x),
    "point_at": lambda x: VINE.point_at(x).tolist(),
    "section": lambda x: VINE.section(x, 60.0),
    "extended": lambda x: VINE.extended(x, x),
    "parallel": VINE.parallel,
    "band": VINE.band,
    "flattened": lambda x: VINE.flattened(x).tolist(),
    "tolerance of parallel": lambda x: VINE.parallel(40, x),
    "tolerance of band": lambda x: VINE.band(40, "square", x),
    "tolerance of meetings": lambda x: VINE.intersections(VINE, x),
    "tolerance of self meetings": VINE.self_intersections,
    "tolerance of through": lambda x: bd.Curve.through(VINE.point_at(np.linspace(0, 200, 201)), tolerance=x),
}


@pytest.mark.parametrize("name", ASK)
def test_lengths_are_numbers_or_text(name: str) -> None:
    assert ASK[name]("1/4 in") == ASK[name](6.35)
    assert ASK[name](np.float64(6.35)) == ASK[name](6.35)
    with pytest.raises(bd.LengthError, match="has no unit"):
        ASK[name]("6")


@pytest.mark.parametrize("name", [name for name in ASK if name != "band"])
@pytest.mark.parametrize("given", [None, True, object, {"mm": 6}, 1j])
def test_what_is_no_length(name: str, given: Any) -> None:
    with pytest.raises(
        bd.CurveError, match=r"is a number of mm or text such as '1/4 in', not|is no array of numbers"
    ):
        ASK[name](given)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: Curve("pea"),
        lambda: Curve([[1, 2], [3]]),
        lambda: VINE.transformed([[1, 2], [3]]),
        lambda: VINE.transformed("mirror"),
        lambda: VINE.locate([(1, 2), (3,)]),
        lambda: VINE.locate(None),
        lambda: VINE.least_working_radii([[6, 7], [8, 9]]),
        lambda: VINE.least_working_radii("wide"),
        lambda: VINE.point_at([None]),
        lambda: VINE.bend_at([1, 2], 6),
        lambda: VINE.to_svg_path(-1),
        lambda: VINE.to_svg_path(2.5),
        lambda: VINE.to_svg_path(True),
        lambda: VINE.intersections("M0 0L1 1"),
        lambda: Outline(VINE),
        lambda: Outline(bd.Curve.from_points([(0, 0), (9, 0), (9, 9)], closed=True), (VINE,)),
        lambda: Outline("hole"),
    ],
)
def test_what_cannot_be_used_is_refused_by_an_error_of_ours(ask: Callable[[], Any]) -> None:
    with pytest.raises(bd.CurveError, match=r"\w{3}"):
        ask()


@pytest.mark.parametrize("name", ["segment_lengths", "segment_least_radii", "inflections", "controls"])
def test_what_is_kept_cannot_be_changed(name: str) -> None:
    with pytest.raises(ValueError, match="read-only"):
        getattr(VINE, name)[:] = 1


@pytest.mark.parametrize("size", [1e31, 1e100, 1e155, 1e308, 1e-31, 1e-100, 1e-170])
def test_sizes_that_numbers_do_not_hold_are_refused(size: float) -> None:
    square = size * np.array([[(0.0, 0), (1, 0), (1, 1), (0, 1)]])
    with pytest.raises(bd.CurveError, match=r"reaches 1e\+30 mm at most|needs some length"):
        bd.Curve(square)


@pytest.mark.parametrize("size", [1e29, 1e-29])
def test_sizes_that_numbers_hold_are_measured(size: float) -> None:
    unit = np.array([[(0.0, 0), (1, 0), (1, 1), (0, 1)]])
    one, scaled = bd.Curve(unit), bd.Curve(size * unit)
    assert scaled.length == pytest.approx(size * one.length, rel=1e-12)
    assert scaled.tightest().radius == pytest.approx(size * one.tightest().radius, rel=1e-9)
    assert scaled.tightest(size / 10).radius == pytest.approx(size * one.tightest(0.1).radius, rel=1e-6)


def test_a_tolerance_finer_than_traced_points_hold_is_refused() -> None:
    points = 1e7 + VINE.point_at(np.linspace(0, 200, 201))
    with pytest.raises(
        bd.CurveError, match=r"as large as 1e\+07 mm need a tolerance of 1e-05 mm or more, not 1e-09"
    ):
        bd.Curve.through(points, tolerance=1e-9)
