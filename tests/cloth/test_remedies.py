"""What helps a stem that is too tight: every remedy is tried, and the others are shown not to help."""

from __future__ import annotations

import math

import numpy as np
import pytest

import bias_drafting as bd

HAIRPIN = bd.Curve.from_svg_path("M0 0H60A14 14 0 0 1 60 28H0")
FOLDED = bd.FoldedStrip()
CORNER = bd.Curve.from_points([(0, 0), (80, 0), (80, 60)])


def remedies(
    curve: bd.Curve, width: float, making: bd.Making = FOLDED, off_bias: float = 0.0
) -> dict[str, bd.Remedy]:
    check = bd.check_stem(curve, width, making, off_bias=off_bias)
    assert not check.passes
    found = check.remedies
    assert [remedy.change for remedy in found] == sorted(remedy.change for remedy in found)
    assert len({remedy.kind for remedy in found}) == len(found)
    assert all(remedy.text.endswith(".") for remedy in found)
    return {remedy.kind: remedy for remedy in found}


@pytest.mark.parametrize("curve", [HAIRPIN, CORNER], ids=["hairpin", "corner"])
def test_every_remedy_helps(curve: bd.Curve) -> None:
    found = remedies(curve, 6.35)
    for remedy in found.values():
        line = curve if remedy.faired is None else remedy.faired.curve
        cloth = bd.Cloth()
        if remedy.needed is not None:
            cloth = bd.Cloth("another", *(share * (1 + 1e-9) for share in remedy.needed))
        if remedy.kind == "mitre":
            assert all(bd.check_stem(line.section(a, b), 6.35).passes for a, b in ((0, 80), (80, 140)))
            continue
        assert bd.check_stem(line, remedy.width, remedy.making, cloth).passes, remedy.kind


def test_a_hairpin_has_them_all_but_the_bias() -> None:
    found = remedies(HAIRPIN, 6.35)
    assert set(found) == {"making", "redraw", "width", "cloth"}
    assert found["making"].making == bd.TurnedTemplate()
    redraw = found["redraw"].faired
    assert redraw is not None
    # By another way: how far points of the old line lie from the new one, and the other way round.
    there = redraw.curve.locate(HAIRPIN.point_at(np.linspace(0, HAIRPIN.length, 4001)))[1].max()
    back = HAIRPIN.locate(redraw.curve.point_at(np.linspace(0, redraw.curve.length, 4001)))[1].max()
    assert found["redraw"].change * 6.35 == pytest.approx(max(there, back), abs=0.01)
    # A ring of 14 mm passes at 2 R (rho - 1) / (rho + 1), from the design's formula.
    rho = 1.2 / 0.92
    assert found["width"].width == pytest.approx(28 * (rho - 1) / (rho + 1), rel=1e-6)
    assert found["width"].change == pytest.approx(1 - found["width"].width / 6.35)


def test_what_another_cloth_must_do() -> None:
    needed = remedies(HAIRPIN, 6.35)["cloth"]
    assert needed.needed is not None
    stretch, ease = needed.needed
    assert (1 + stretch) / (1 - ease) == pytest.approx((14 + 6.35 / 2) / (14 - 6.35 / 2), rel=1e-6)
    assert stretch / ease == pytest.approx(0.20 / 0.08)
    assert f"stretches by {math.ceil(100 * stretch)} %" in needed.text
    assert "quilting cotton does 20 % and 8 %" in needed.text
    # What no cloth does is not asked for.
    assert "cloth" not in remedies(bd.Curve.from_svg_path("M0 0H60A5 5 0 0 1 60 10H0"), 6.35)


def test_the_true_bias_comes_first() -> None:
    ring = bd.Curve.from_svg_path("M0 0A26 26 0 0 1 52 0")
    found = remedies(ring, 6.35, off_bias=20)
    assert next(iter(found)) == "bias"
    assert found["bias"].change == 0
    assert "bias" not in remedies(HAIRPIN, 6.35, off_bias=20)


def test_a_template_that_is_too_tight_is_narrowed_or_redrawn() -> None:
    sharp = bd.Curve.from_svg_path("M0 0H60A5 5 0 0 1 60 10H0")
    assert set(remedies(sharp, 6.35, bd.TurnedTemplate())) == {"redraw", "width"}


def test_along_the_threads_only_another_grain_or_way_helps() -> None:
    found = remedies(bd.Curve.from_svg_path("M0 0A80 80 0 0 1 160 0"), 6.35, off_bias=45)
    assert set(found) == {"bias", "making"}


def test_what_passes_needs_no_remedy() -> None:
    assert bd.check_stem(HAIRPIN, 2).remedies == ()


def test_remedies_of_a_stem_of_a_sample_help() -> None:
    drawing = bd.read_sample("bean-wreath")
    checks = [bd.check_stem(stem, "1/4 in") for stem in drawing.stems]
    tight = [check for check in checks if not check.passes]
    assert tight
    for check in tight:
        first = check.remedies[0]
        line = check.curve if first.faired is None else first.faired.curve
        assert bd.check_stem(line, first.width, first.making).passes


def test_a_mitre_needs_room_and_bends_that_pass() -> None:
    assert bd.check_stem(CORNER, 6.35).goes_mitred
    assert [round(corner.turn) for corner in bd.check_stem(CORNER, 6.35).corners] == [90]
    # Arms shorter than the strip is wide; a corner too slight to fold; a bend besides that is too tight.
    step = bd.Curve.from_points([(0, 0), (80, 0), (80, 5), (160, 5)])
    slight = bd.Curve.from_points([(0, 0), (80, 0), (160, 40)])
    tight = bd.Curve.from_svg_path("M0 60V0H60A14 14 0 0 1 60 28H20")
    for curve in (step, slight, tight):
        check = bd.check_stem(curve, 6.35)
        assert not check.passes
        assert not check.goes_mitred
        assert "mitre" not in check.advice
    assert not bd.check_stem(slight, 6.35).corners
    # Of a closed one every side counts, also that over the start.
    square = bd.Curve.from_svg_path("M40 0H80V80H0V0Z")
    assert bd.check_stem(square, 6.35).goes_mitred
    assert (
        bd.check_stem(square, 6.35).advice
        == "Fold a mitre at each of its 4 corners; between them it goes round."
    )
    (mitre, *_) = bd.check_stem(square, 6.35).remedies
    assert (mitre.kind, mitre.places, mitre.change) == ("mitre", (40.0, 120.0, 200.0, 280.0), 0)


def test_cut_in_two_where_it_is_hidden() -> None:
    rounded = bd.Curve.from_svg_path("M0 0H60A3 3 0 0 1 63 3V60")
    plain = bd.check_stem(rounded, 6.35)
    assert plain.split is None
    hidden = bd.check_stem(rounded, 6.35, hidden=[(50, 75)])
    assert hidden.split is None  # its two halves are bends of 45 degrees over a strip's width yet
    kinked = bd.Curve.from_points([(0, 0), (60, 0), (110, 25)])
    assert bd.check_stem(kinked, 6.35).split is None
    check = bd.check_stem(kinked, 6.35, hidden=[(50, 70)])
    assert check.split == pytest.approx(60, abs=1e-9)
    assert bd.check_stem(kinked, 6.35, hidden=[(0, 40)]).split is None
    (split,) = [remedy for remedy in check.remedies if remedy.kind == "split"]
    assert split.places == (check.split,)
    assert "cut it in two where it is hidden, 60 mm from its start" in check.advice_in("mm")
    for part in (kinked.section(0, 60), kinked.section(60, kinked.length)):
        assert bd.check_stem(part, 6.35).passes
    # A ring is opened there.
    drop = bd.Curve.from_svg_path("M0 0C160 -80 160 80 0 0Z")
    assert bd.check_stem(drop, 3).split is None
    opened = bd.check_stem(drop, 3, hidden=[(drop.length - 5, 5)])
    assert opened.split == pytest.approx(0, abs=1e-9)
