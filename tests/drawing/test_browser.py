"""Drawings read as a browser draws them, with the browser at hand: every line within 0.01 mm."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import pytest
from browser import Browser, BrowserError, find_browser, look_at
from svg_cases import CASES, TOLD, Case
from svg_figures import Sight, differences, recorded

from bias_drafting.drawing.read import read_drawing

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(find_browser() is None, reason="there is no chromium on the PATH to judge by"),
]


@pytest.fixture(scope="module")
def sights() -> dict[str, Sight]:
    """All drawings, seen in one start of the browser."""
    return look_at(CASES.values())[1]


@pytest.mark.parametrize(
    "case", [CASES[name] for name in CASES if name not in TOLD], ids=lambda case: case.name
)
def test_a_drawing_is_read_as_a_browser_draws_it(case: Case, sights: dict[str, Sight]) -> None:
    assert differences(read_drawing(io.BytesIO(case.data)), sights[case.name]) == []


def test_the_recorded_figures_are_what_the_browser_says(sights: dict[str, Sight]) -> None:
    """Within what they are rounded to; a new version that draws otherwise is found here."""
    _, figures = recorded()
    unlike = []
    for name, sight in sights.items():
        _, known = figures[name]
        pairs = list(zip(sight.shapes, known.shapes, strict=False))
        same = [
            one.name == other.name
            and one.length == pytest.approx(other.length, abs=1e-3)
            and one.points == pytest.approx(other.points, abs=1e-3)
            and one.stroke_width == (other.stroke_width and pytest.approx(other.stroke_width, abs=1e-3))
            for one, other in pairs
        ]
        if not all(same) or len(sight.shapes) != len(known.shapes):
            unlike.append(name)
    assert unlike == []


def test_a_file_that_is_no_drawing_is_told(tmp_path: Path) -> None:
    with Browser() as browser, pytest.raises(BrowserError, match=r"missing\.svg"):
        browser.open(tmp_path / "missing.svg", (100, 100))
