"""Cut widths, against the figures every handbook gives and against folding the strip point by point.

Source: common practice. A folded strip is cut twice as wide as it finishes: 1/4 in is cut 1/2 in, 1/2 in is
cut 1 in, 1 in is cut 2 in. The other ways of making are checked by folding alone.
"""

from __future__ import annotations

import numpy as np
import pytest

from bias_drafting.cloth.making import FoldedStrip, RolledStrip, SewnTube, TurnedTemplate
from bias_drafting.units import format_length, to_mm

WIDTHS = ["1/8 in", "3/16 in", "1/4 in", "6 mm", "1/2 in", "1 in"]


@pytest.mark.parametrize(("finished", "cut"), [("1/4 in", "1/2 in"), ("1/2 in", "1 in"), ("1 in", "2 in")])
def test_folded_strips_are_cut_twice_as_wide(finished: str, cut: str) -> None:
    assert FoldedStrip().cut_width(finished) == pytest.approx(to_mm(cut), rel=1e-15)


@pytest.mark.parametrize(
    ("making", "finished", "cut"),
    [
        (SewnTube(), "1/4 in", "1 in"),
        (SewnTube(seam="1/8 in"), "1/4 in", "3/4 in"),
        (RolledStrip(), "1/8 in", "3/8 in"),
        (TurnedTemplate(), "1/2 in", "1 in"),
        (TurnedTemplate(allowance="3/16 in"), "1/4 in", "5/8 in"),
        (TurnedTemplate(), "1/8 in", "3/8 in"),
    ],
)
def test_other_cut_widths(making: SewnTube | RolledStrip | TurnedTemplate, finished: str, cut: str) -> None:
    assert format_length(making.cut_width(finished), "in", 64) == cut


def folded(cut: float, folds: list[float]) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Places across the quilt of many points across a strip that is folded back at each of the folds."""
    across = np.union1d(np.linspace(0, cut, 1001), folds)
    place = across.copy()
    for k, fold in enumerate(folds):
        place += np.where(across > fold, (-1) ** (k + 1) * 2 * (across - fold), 0)
    return place


@pytest.mark.parametrize("width", WIDTHS)
def test_a_folded_strip_finishes_at_its_width_with_its_raw_edges_met(width: str) -> None:
    w, cut = to_mm(width), FoldedStrip().cut_width(width)
    turned = w / 2
    place = folded(cut, [turned, cut - turned])
    assert np.ptp(place) == pytest.approx(w, rel=1e-12)
    assert place[0] == pytest.approx(place[-1], abs=1e-12)
    assert place[0] - place.min() == pytest.approx(w / 2, rel=1e-12)


@pytest.mark.parametrize("seam", ["1/8 in", "1/4 in", "7 mm"])
@pytest.mark.parametrize("width", WIDTHS)
def test_a_tube_is_twice_its_width_around_once_sewn(width: str, seam: str) -> None:
    w, making = to_mm(width), SewnTube(seam=seam)
    cut = making.cut_width(width)
    place = folded(cut, [cut / 2])
    assert place[0] == pytest.approx(place[-1], abs=1e-12)  # folded in half, edge on edge
    assert np.ptp(place) == pytest.approx(w + making.seam, rel=1e-12)  # sewn one seam in, w is left


@pytest.mark.parametrize("width", WIDTHS)
def test_a_rolled_strip_covers_the_stem_three_times_and_no_more(width: str) -> None:
    w, cut = to_mm(width), RolledStrip().cut_width(width)
    place = folded(cut, [w, 2 * w])  # at the seam, and where the last part turns under
    assert place.min() == pytest.approx(0, abs=1e-12)
    assert place.max() == pytest.approx(w, rel=1e-12)
    layers = np.histogram(place, bins=7, range=(-1e-9, w + 1e-9))[0] / len(place) * 7
    assert layers == pytest.approx(1, abs=0.02)  # as much cloth everywhere: three whole layers


@pytest.mark.parametrize("allowance", ["1/8 in", "1/4 in", "20 mm"])
@pytest.mark.parametrize("width", WIDTHS)
def test_a_turned_allowance_never_shows_on_the_far_side(width: str, allowance: str) -> None:
    w, making = to_mm(width), TurnedTemplate(allowance=allowance)
    cut = making.cut_width(width)
    turned = (cut - w) / 2
    assert turned == pytest.approx(making.allowance_at(width), rel=1e-12)
    place = folded(cut, [turned, cut - turned])
    assert np.ptp(place) == pytest.approx(w, rel=1e-12)
    assert turned == pytest.approx(min(w, to_mm(allowance)), rel=1e-12)
