"""Crossings of a band's rails, against those shapely finds between the same rails as very fine polylines."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely
from reference_curves import random_vine

from bias_drafting.curve import rail_crossings as crossings_module
from bias_drafting.curve.curve import Curve
from bias_drafting.curve.measure import build_chain
from bias_drafting.curve.nodes import build_nodes
from bias_drafting.curve.rail_crossings import rail_crossings
from bias_drafting.curve.rails import Rails, build_rails
from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    IntArray = NDArray[np.intp]

SLACK = 5e-4
FINE = 48

CURVES = {
    "one cubic": Curve.from_svg_path("M0 0C60 0 80 40 80 100"),
    "narrow hairpin": Curve.from_svg_path("M0 0C80 1 80 9 0 12"),
    "bend of radius 2": Curve.from_svg_path("M0 0H30A2 2 0 0 1 32 2V40"),
    "sharp corner": Curve.from_points([(0, 0), (60, 0), (5, 12)]),
    "zigzag": Curve.from_points([(0, 0), (30, 25), (60, 0), (90, 25), (120, 0)]),
    "star": Curve.from_points([(50, 0), (10, 62), (95, 30), (5, 28), (88, 66)], closed=True),
    "loop": Curve.from_svg_path("M0 60C100 60 90 0 50 0S0 60 100 60"),
    "small loop": Curve.from_svg_path("M0 30C70 30 40 5 35 12S20 30 90 30"),
    "curl": Curve.from_svg_path("M0 0C60 0 60 40 30 40S10 14 28 14 40 30 31 29"),
    "cusp": Curve.from_svg_path("M0 0C60 60 0 60 60 0"),
    "drop": Curve.from_svg_path("M0 0C50 20 50 80 0 80S-50 20 0 0Z"),
    "eight": Curve.from_svg_path("M0 0C60 60 120 -60 60 -60S-60 60 0 60 60 0 0 0Z"),
}
CURVES |= {f"vine {k}": Curve(random_vine(np.random.default_rng(k), 7)) for k in range(3)}


def rails_of(curve: Curve, half: float) -> Rails:
    return build_rails(build_nodes(build_chain(curve.controls, curve.closed)), curve.closed, half, SLACK)


def at(rails: Rails, position: Array) -> Array:
    step = position.astype(np.intp)
    points = rails.at(step, position - step)[0]
    return np.stack([points.real, points.imag], axis=1)


def of_fine_lines(rails: Rails) -> tuple[Array, Array]:
    """Pairs of positions at which fine polylines along the steps cross, those of neighbouring steps left out."""
    m = len(rails.a)
    position = (np.arange(m)[:, None] + np.linspace(0, 1 - 1e-12, FINE + 1)).ravel()
    points = at(rails, position).reshape(m, FINE + 1, 2)
    lines = shapely.linestrings(np.stack([points[:, :-1], points[:, 1:]], axis=2).reshape(-1, 2, 2))
    one, other = shapely.STRtree(lines).query(lines, predicate="intersects")
    one, other = one[one < other], other[one < other]
    first, second = one // FINE, other // FINE
    apart = (first != second) & (rails.follows[first] != second) & (rails.follows[second] != first)
    one, other = one[apart], other[apart]
    met = shapely.get_coordinates(shapely.centroid(shapely.intersection(lines[one], lines[other])))
    share = [shapely.line_locate_point(lines[k], shapely.points(met), normalized=True) for k in (one, other)]
    return tuple((k + x) / FINE for k, x in zip((one, other), share, strict=True))


def unmatched(wanted: tuple[Array, Array], found: tuple[Array, Array], rails: Rails, near: float) -> int:
    """How many of the wanted crossings have none of those found near them on both rails."""
    away = [
        np.hypot(*(at(rails, w)[:, None] - at(rails, f)[None]).T).T
        for w, f in zip(wanted, found, strict=True)
    ]
    # Two crossings may lie in nearly one place: their steps tell them apart.
    steps = [np.abs(w[:, None] - f[None]) < 0.5 for w, f in zip(wanted, found, strict=True)]
    same = (np.maximum(*away) < near) & steps[0] & steps[1]
    return int((~same.any(axis=1)).sum()) if len(found[0]) else len(wanted[0])


@pytest.mark.parametrize("half", [1.0, 3.175, 9.0])
@pytest.mark.parametrize("name", CURVES)
def test_every_crossing_is_found_and_none_invented(name: str, half: float) -> None:
    rails = rails_of(CURVES[name], half)
    found, wanted = rail_crossings(rails, 2e-4), of_fine_lines(rails)
    assert unmatched(wanted, found, rails, 2e-3) == 0
    assert unmatched(found, wanted, rails, 2e-3) == 0
    # Each of them once, and both its positions inside the rails.
    assert len(found[0]) == len({(round(a, 4), round(b, 4)) for a, b in zip(*found, strict=True)})
    assert all((x >= 0).all() and (x < len(rails.a)).all() for x in found)


def test_the_comparison_has_crossings_to_compare() -> None:
    count = {name: len(of_fine_lines(rails_of(curve, 3.175))[0]) for name, curve in CURVES.items()}
    assert count["one cubic"] == 0
    assert count["narrow hairpin"] == 1
    assert count["zigzag"] == 3
    assert count["loop"] == 4
    assert count["star"] == 25
    assert count["cusp"] == 3
    assert sum(count.values()) > 60


@pytest.mark.parametrize("accuracy", [0.1, 1e-2, 1e-3, 1e-5, 1e-7])
def test_both_rails_are_in_one_place_at_a_crossing(accuracy: float) -> None:
    for name in ("loop", "small loop", "eight", "vine 1"):
        rails = rails_of(CURVES[name], 3.175)
        one, other = rail_crossings(rails, accuracy)
        assert len(one) == len(rail_crossings(rails, 2e-4)[0])
        # Chords are as near to their rails as asked; each crossing is where two of them meet.
        assert np.hypot(*(at(rails, one) - at(rails, other)).T).max() <= 2 * accuracy


def test_straight_rails_cross_to_the_last_bit() -> None:
    # Inside a square of 40 mm the parallel curves at 3 mm cross 3 mm from both sides.
    square = Curve.from_points([(0, 0), (40, 0), (40, 40), (0, 40)], closed=True)
    rails = rails_of(square, 3.0)
    one, other = rail_crossings(rails, 1e-3)
    wanted = {(3.0, 3.0), (37.0, 3.0), (37.0, 37.0), (3.0, 37.0)}
    for positions in (one, other):
        assert {(round(x, 9), round(y, 9)) for x, y in at(rails, positions)} == wanted
    assert np.abs(at(rails, one) - at(rails, other)).max() < 1e-12


@pytest.mark.parametrize("half", [40 / 6, 40 / 12, 20 / 24, 10 / 96])
def test_a_crossing_where_one_step_or_part_passes_into_the_next(half: float) -> None:
    # Sides of 40 mm are six steps each, cut in four and again in four.
    square = Curve.from_points([(0, 0), (40, 0), (40, 40), (0, 40)], closed=True)
    rails = rails_of(square, half)
    one, other = rail_crossings(rails, 1e-3)
    met = at(rails, one)
    assert np.abs(met - at(rails, other)).max() < 1e-6
    for corner in ((half, half), (40 - half, half), (40 - half, 40 - half), (half, 40 - half)):
        assert np.hypot(*(met - corner).T).min() < 1e-6
    # Beyond them nothing.
    assert {(round(x, 5), round(y, 5)) for x, y in met} == {
        (round(x, 5), round(y, 5)) for x in (half, 40 - half) for y in (half, 40 - half)
    }


def test_a_crossing_to_the_last_bit_where_two_steps_meet_two_others_is_one_crossing() -> None:
    # Legs of 8 mm, in six steps each: 4 mm inside of both is the middle of both.
    rails = rails_of(Curve.from_points([(0, 0), (8, 0), (8, 8)]), 4.0)
    one, other = rail_crossings(rails, 1e-3)
    assert at(rails, one) == pytest.approx(np.array([[4, 4]]), abs=1e-7)
    assert at(rails, other) == pytest.approx(np.array([[4, 4]]), abs=1e-7)


def test_a_crossing_at_a_very_slight_angle_is_found() -> None:
    # Two legs of a needle: inside it the parallel curves cross at half a degree, 458 mm from the tip for 2 mm.
    angle = np.radians(0.5)
    needle = Curve.from_points([(600, 0), (0, 0), (600 * np.cos(angle), 600 * np.sin(angle))])
    rails = rails_of(needle, 2.0)
    one, other = rail_crossings(rails, 2e-4)
    assert len(one) == 1
    wanted = 2 / np.sin(angle / 2) * np.array([np.cos(angle / 2), np.sin(angle / 2)])
    assert at(rails, one)[0] == pytest.approx(wanted, abs=1e-6)
    assert at(rails, other)[0] == pytest.approx(wanted, abs=1e-6)


def test_rails_that_only_touch_the_boxes_of_others_do_not_cross() -> None:
    # Two waves side by side, 3.9 mm apart at the least: narrow bands keep clear of each other, wider ones do not.
    waves = Curve.from_svg_path("M0 0C20 8 40 -8 60 0C66 2.4 66 6.6 60 4.2C40 -3.8 20 12.2 0 4.2")
    clear, crossed = (rail_crossings(rails_of(waves, half), 2e-4)[0] for half in (0.5, 2.05))
    assert len(clear) == 0
    assert len(crossed) > 0


def test_rails_that_run_along_one_another_raise_or_end() -> None:
    # Straight ones have no place of crossing: what is reported lies on both rails all the same.
    rails = rails_of(Curve.from_points([(0, 0), (40, 0), (10, 0)]), 2.0)
    one, other = rail_crossings(rails, 2e-4)
    assert np.hypot(*(at(rails, one) - at(rails, other)).T).max(initial=0) < 1e-6


@pytest.mark.parametrize(("rounds", "bound"), [(3, "_MOST_CROSSINGS"), (40, "_MOST_PAIRS")])
def test_too_many_stretches_on_top_of_one_another_are_refused(
    rounds: int, bound: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def gone_round(times: int) -> Rails:
        return rails_of(Curve.from_svg_path("M20 0" + times * "A20 20 0 0 1 -20 0A20 20 0 0 1 20 0"), 2.5)

    monkeypatch.setattr(crossings_module, "_FEW", 0)
    # A circle gone round once stays far below the bounds.
    rail_crossings(gone_round(1), 2e-4)
    other = ({"_MOST_PAIRS", "_MOST_CROSSINGS"} - {bound}).pop()
    monkeypatch.setattr(crossings_module, other, 10**6)
    with pytest.raises(CurveError, match=r"band of half width 2\.5 mm lie on top of one another"):
        rail_crossings(gone_round(rounds), 2e-4)
