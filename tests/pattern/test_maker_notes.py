"""What a maker must be told beyond the numbers, each with a drawing that has it and one that has not."""

from __future__ import annotations

import io

import pytest

import bias_drafting as bd
from bias_drafting.pattern.table import radius_texts


def pattern_of(body: str, width: str | float = 6, **options: object) -> bd.Pattern:
    text = f'<svg width="200mm" height="100mm" viewBox="0 0 200 100" fill="none" stroke="black">{body}</svg>'
    return bd.draft_pattern(bd.read_drawing(io.StringIO(text)), width, **options)  # type: ignore[arg-type]


def said(pattern: bd.Pattern) -> str:
    return "\n".join(map(str, pattern.notes))


HOP = bd.Curve.from_svg_path("M20 50C60 20 120 80 180 50")
PLAIN = '<path id="hop-stem" d="M20 50C60 20 120 80 180 50"/>'


def test_a_plain_stem_needs_no_note() -> None:
    assert pattern_of(PLAIN).notes == ()


def test_a_long_stem_that_crosses_itself_once_is_told() -> None:
    # The overlap, about 6 x 6 mm, is a small share of a long band, and is told all the same.
    loop = '<path id="hop-stem" d="M10 90H190V10H100V99"/>'
    plain = '<path id="hop-stem" d="M10 90H190V10H100V80"/>'
    assert "lies over itself" in said(pattern_of(loop))
    assert "lies over itself" not in said(pattern_of(plain))


def test_a_wiggle_that_averages_away_is_told() -> None:
    wiggle = "M20 50" + "q1.3 -3 2.6 0t2.6 0" * 10
    pattern = pattern_of(f'<path id="vine" d="{wiggle}"/>', bd.Curve.from_svg_path(wiggle).length / 10)
    (check,) = pattern.checks
    assert check.passes
    assert check.widest < check.width / 4
    assert "narrower stems would not" in said(pattern)
    assert "cut across" in check.advice
    assert "Straight" not in check.advice


def test_a_stem_off_the_block_is_told() -> None:
    frame = '<rect id="frame" x="100" y="5" width="90" height="90"/>'
    assert "off the block" in said(pattern_of(frame + '<path id="stem" d="M10 50C30 40 50 60 80 50"/>'))
    assert "off the block" not in said(pattern_of(frame + PLAIN))


def test_a_stem_that_runs_off_the_page_is_told() -> None:
    assert "runs off the page" in said(pattern_of('<path id="stem" d="M-80 50C30 20 120 80 150 50"/>'))


@pytest.mark.parametrize("again", ["M20 50C60 20 120 80 180 50", "M180 50C120 80 60 20 20 50"])
def test_a_stem_drawn_twice_is_told(again: str) -> None:
    # What is read from a file is merged already; what is put together in a script is not.
    stems = (bd.Stem("hop-stem", HOP), bd.Stem("copy-stem", bd.Curve.from_svg_path(again)))
    drawing = bd.Drawing("drawing", (200.0, 100.0), stems=stems)
    assert "lies on hop-stem" in said(bd.draft_pattern(drawing, 6))
    assert "merged with 'hop-stem'" in said(pattern_of(PLAIN + f'<path id="copy-stem" d="{again}"/>'))
    apart = '<path id="copy-stem" d="M20 65C60 35 120 95 180 65"/>'
    assert "lies on" not in said(pattern_of(PLAIN + apart))


def test_allowances_that_overlap_are_told_once() -> None:
    two = PLAIN + '<path id="pea-stem" d="M20 80C60 70 120 90 180 80"/>'
    making = bd.TurnedTemplate(allowance="1/4 in")
    assert said(pattern_of(two, "1/4 in", making=making)).count("overlap") == 1
    assert "overlap" not in said(pattern_of(two, "1/2 in", making=making))


def test_a_ground_without_a_name_is_no_motif() -> None:
    ground = '<rect width="200" height="100" fill="#fff"/>'
    daisy = '<path id="daisy-leaf" d="M170 40h20v20h-20z" fill="gold"/>'
    pattern = pattern_of(ground + daisy + PLAIN)
    assert [motif.name for motif in pattern.drawing.motifs] == ["daisy-leaf"]
    assert [(tuck.end, tuck.under) for tuck in pattern["hop-stem"].tucks] == [("end", "daisy-leaf")]
    assert "read as the frame" in said(pattern)
    named = pattern_of(ground + '<rect id="frame" x="2" y="2" width="196" height="96"/>' + daisy + PLAIN)
    assert "the ground behind the drawing" in said(named)
    assert named.drawing.frame is not None
    assert named.drawing.frame.name == "frame"


def test_a_drawing_without_stems_says_why() -> None:
    with pytest.raises(bd.PatternError, match=r"no stems to draft \(line 1, .*has the id 'vine'"):
        pattern_of('<use href="#vine"/>')


def test_strips_off_the_bias_and_straight_stems_are_told() -> None:
    rod = '<path id="bean-stem" d="M20 20H180"/>'
    assert "Cut 10 degrees off the true bias: hop-stem" in pattern_of(PLAIN, off_bias=10).table()
    assert "straight grain instead: bean-stem" in pattern_of(PLAIN + rod).table()
    assert "straight grain" not in pattern_of(PLAIN).table()


def test_shown_radii_never_contradict_the_verdict() -> None:
    for radius in (24.2, 24.3, 25.4, 25.5, 30.0):
        arc = bd.Curve.from_svg_path(f"M0 0A{radius} {radius} 0 0 1 {2 * radius} 0")
        check = bd.check_stem(arc, "1/4 in")
        assert check.passes
        shown, least = (bd.to_mm(text) for text in radius_texts(check, "in"))
        assert least <= shown <= radius * (1 + 1e-6)
        assert least >= check.least_radius


def test_a_whole_inch_is_shown_as_one() -> None:
    ring = '<circle id="vine" cx="100" cy="50" r="25.4"/>'
    assert "radius 1 in at" in pattern_of(ring, "1/4 in").table()
