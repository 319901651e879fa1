"""Pictures of checks: what they show is what the check says, and nothing is written over anything."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import matplotlib as mpl
import numpy as np
import pytest

import bias_drafting as bd

mpl.use("Agg")
import matplotlib.pyplot as plt

if TYPE_CHECKING:
    from collections.abc import Iterator

    from matplotlib.axes import Axes

VINE = bd.Curve.from_svg_path("M0 0C40 -60 60 60 100 0S120 -50 140 -10S160 60 220 40")


@pytest.fixture(autouse=True)
def closed() -> Iterator[None]:
    yield
    plt.close("all")


def words(ax: Axes) -> list[str]:
    return [text.get_text() for text in ax.texts if text.get_text()]


def clear_of_each_other(ax: Axes) -> bool:
    ax.figure.canvas.draw()
    boxes = [text.get_window_extent() for text in [*ax.texts, ax.title] if text.get_text()]
    return not any(one.overlaps(other) for one, other in combinations(boxes, 2))


@pytest.mark.parametrize("unit", ["in", "mm"])
def test_every_tight_spot_is_labelled_with_its_radius(unit: str) -> None:
    check = bd.check_stem(VINE, "3/8 in")
    ax = check.plot(unit=unit)
    assert ax.yaxis_inverted()
    assert ax.get_aspect() == 1
    step = 8 if unit == "in" else 1
    for spot in check.spots:
        radius = bd.format_length(spot.bend.radius, unit, step, "down")
        assert any(text.startswith(f"radius {radius},") for text in words(ax))
    assert len(words(ax)) == len(check.spots) + 1
    assert clear_of_each_other(ax)
    assert check.verdict.value in ax.get_title()


def test_the_painted_pieces_cover_the_band_once_by_verdict() -> None:
    check = bd.check_stem(VINE, "3/8 in")
    ax = check.plot()
    painted = {str(pieces.get_label()).split(":")[0]: pieces for pieces in ax.collections}
    assert set(painted) == {"lies flat", "needs easing", "too tight"}
    hatches = {pieces.get_hatch() for pieces in painted.values()}
    assert len(hatches) == 3  # told apart without colour
    # Along the middle, as much is painted too tight as the spots are long.
    lengths = {}
    for verdict, pieces in painted.items():
        corners = np.array([np.asarray(path.vertices, dtype=float)[:4] for path in pieces.get_paths()])
        steps = (corners[:, 0] + corners[:, 3] - corners[:, 1] - corners[:, 2]) / 2
        lengths[verdict] = float(np.hypot(*steps.T).sum())
    assert lengths["too tight"] == pytest.approx(sum(spot.end - spot.start for spot in check.spots), rel=0.05)
    assert sum(lengths.values()) == pytest.approx(check.length, rel=0.01)


def test_the_graph_has_the_radius_and_the_limits() -> None:
    check = bd.check_stem(VINE, "3/8 in")
    ax = check.plot_radius(unit="mm")
    curve, *limits = ax.lines
    s, radius = curve.get_data()
    assert np.min(radius) == pytest.approx(check.tightest.radius, rel=0.05)
    assert np.asarray(s)[np.argmin(radius)] == pytest.approx(check.tightest.s, abs=2)
    heights = [line.get_ydata()[0] for line in limits]  # type: ignore[index]
    assert heights == [pytest.approx(check.least_radius), pytest.approx(check.easy_radius)]
    assert limits[0].get_linestyle() != limits[1].get_linestyle()


@pytest.mark.parametrize(
    "check",
    [
        bd.check_stem(bd.Curve.from_points([(0, 0), (90, 0)]), 6),
        bd.check_stem(bd.Curve.from_points([(0, 0), (90, 0), (90, 50)]), 6, off_bias=45),
        bd.check_stem(VINE, 6, bd.TurnedTemplate()),
        bd.check_stem(bd.Curve.from_svg_path("M20 0A20 20 0 0 1 -20 0A20 20 0 0 1 20 0Z"), 9),
    ],
    ids=["straight", "straight grain", "template", "ring"],
)
def test_any_check_has_a_picture(check: bd.StemCheck) -> None:
    _, ax = plt.subplots()
    assert check.plot(ax) is ax
    assert check.verdict.value in ax.get_title()
    assert clear_of_each_other(ax)
    assert check.plot() is not ax


def test_before_and_after() -> None:
    check = bd.check_stem(bd.Curve.from_svg_path("M0 0H60A14 14 0 0 1 60 28H0"), 6.35)
    remedies = {remedy.kind: remedy for remedy in check.remedies}
    ax = remedies["redraw"].plot()
    assert {text.get_text() for text in ax.get_legend().get_texts()} == {"as drawn", "redrawn"}  # type: ignore[union-attr]
    with pytest.raises(bd.DraftingError, match="only a line redrawn has a before and an after"):
        remedies["width"].plot()


def test_units_there_are_not() -> None:
    with pytest.raises(bd.LengthError, match="a picture is in 'in' or 'mm', not 'ell'"):
        bd.check_stem(VINE, 6).plot(unit="ell")


def test_the_table_of_verdicts() -> None:
    stems = bd.read_sample("bean-wreath")
    table = bd.width_table(stems, ["1/8 in", "1/4 in", "1/2 in"], ["folded-strip", "turned-template"])
    ax = table.plot()
    signs = {"lies flat": "o", "needs easing": "/", "too tight": "x", None: ""}
    rows = list(dict.fromkeys((row.stem, row.making) for row in table))
    shown = {(int(text.get_position()[0]), int(text.get_position()[1])): text.get_text() for text in ax.texts}
    assert shown == {
        ([3.175, 6.35, 12.7].index(row.width), rows.index((row.stem, row.making))): signs[
            None if row.verdict is None else row.verdict.value
        ]
        for row in table
    }
    assert [label.get_text() for label in ax.get_xticklabels()] == ["1/8 in", "1/4 in", "1/2 in"]
    assert ax.get_yticklabels()[1].get_text() == f"{table[0].stem}, turned template"
    with pytest.raises(bd.LengthError):
        table.plot(unit="ell")
