"""Swatches measured once and several times, and the cloths to start from."""

from __future__ import annotations

import math
import statistics
from typing import Any

import pytest
from scipy import stats

import bias_drafting as bd
from bias_drafting.cloth.swatch import mean_and_doubt


# Student's t for 95 % on both sides: NIST/SEMATECH e-Handbook of Statistical Methods, table 1.3.6.7.2 (from memory).
@pytest.mark.parametrize(("count", "t"), [(2, 12.706), (3, 4.303), (5, 2.776), (10, 2.262)])
def test_the_doubt_is_students(count: int, t: float) -> None:
    values = [0.15 + 0.01 * math.sin(7 * k) for k in range(count)]
    mean, doubt = mean_and_doubt(values)
    assert mean == pytest.approx(statistics.fmean(values))
    assert doubt == pytest.approx(t * statistics.stdev(values) / math.sqrt(count), rel=3e-4)
    low, high = stats.t.interval(0.95, count - 1, mean, stats.sem(values))
    assert (mean - doubt, mean + doubt) == pytest.approx((low, high))


def test_a_swatch_measured_several_times() -> None:
    cloth = bd.Cloth.from_swatch(
        "lawn", marked="10 in", stretched=["11 3/4 in", "12 in"], eased=["9 1/4 in", 228.6]
    )
    assert cloth.stretch == pytest.approx((0.175 + 0.2) / 2)
    assert cloth.ease == pytest.approx((0.075 + 0.1) / 2)
    assert cloth.stretch_doubt == pytest.approx(12.706 * 0.0125, rel=1e-4)
    each = bd.Cloth.from_swatch("lawn", marked=[250, 240], stretched=[275, 264], eased=[225, 216])
    assert (each.stretch, each.ease) == pytest.approx((0.1, 0.1))
    assert (each.stretch_doubt, each.ease_doubt) == pytest.approx((0, 0), abs=1e-12)


def test_a_swatch_measured_once_leaves_no_doubt_to_state() -> None:
    cloth = bd.Cloth.from_swatch("lawn", marked=[250], stretched=290, eased=230)
    assert (cloth.stretch_doubt, cloth.ease_doubt) == (0, 0)
    assert cloth.cautious() == cloth


def test_a_cautious_cloth_bends_less_and_never_below_nothing() -> None:
    cloth = bd.Cloth("lawn", stretch=0.18, ease=0.08, stretch_doubt=0.05, ease_doubt=0.2)
    cautious = cloth.cautious()
    assert (cautious.stretch, cautious.ease) == (0.13, 0.0)
    assert cautious.least_radius(6) > cloth.least_radius(6)
    assert cautious.cautious() == cautious


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"marked": 250, "stretched": [290, 291], "eased": [230, 231, 232]}, "there are 1, 2, 3 of them"),
        ({"marked": [], "stretched": 290, "eased": 230}, "the marked length is missing"),
        (
            {"marked": 250, "stretched": [290, 240], "eased": 230},
            "shortest first; not 230 mm, 250 mm, 240 mm",
        ),
        ({"marked": 250, "stretched": [290, 400], "eased": 230}, "no strip grows to the square root of 2"),
        ({"marked": 250, "stretched": [290, None], "eased": 230}, "the stretched length"),
        ({"marked": 250, "stretched": 290, "eased": {"mm": 230}}, "the eased length"),
    ],
)
def test_swatches_that_cannot_be(given: dict[str, Any], message: str) -> None:
    with pytest.raises(bd.DraftingError, match=message):
        bd.Cloth.from_swatch("lawn", **given)


@pytest.mark.parametrize("doubt", [-0.1, math.inf, math.nan, "little", None])
def test_doubts_that_cannot_be(doubt: Any) -> None:
    with pytest.raises(bd.ClothError, match="stretch_doubt must be a share of the length, 0 or more"):
        bd.Cloth("lawn", stretch_doubt=doubt)


def test_cloths_to_start_from() -> None:
    cloths = [bd.cloth_named(name) for name in bd.cloth_names()]
    assert cloths[0] == bd.Cloth()
    assert len({cloth.name for cloth in cloths}) == len(cloths) >= 6
    assert bd.cloth_named(" Quilting-Cotton ") == bd.Cloth()
    # No more is promised of any of them than some cloth was seen to do: 26 degrees of shear or so.
    assert all(max(cloth.shear_angles()) < 30 for cloth in cloths)
    with pytest.raises(
        bd.ClothError, match=r"'velvet' is not a cloth known here; there are quilting cotton, lawn"
    ):
        bd.cloth_named("velvet")
