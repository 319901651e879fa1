from __future__ import annotations

import io
import math
from typing import Any

import numpy as np
import pytest
import shapely

import bias_drafting as bd
from bias_drafting.pattern.ends import TOUCH, Covers, Tuck

QUARTER = 6.35


def drawing(
    stems: dict[str, str], motifs: dict[str, str] | None = None, frame: str | None = None
) -> bd.Drawing:
    """A drawing of path data, in the order given."""
    curve = bd.Curve.from_svg_path
    return bd.Drawing(
        "pea bed",
        (300, 300),
        stems=tuple(bd.Stem(name, curve(d)) for name, d in stems.items()),
        motifs=tuple(bd.Motif(name, curve(d)) for name, d in (motifs or {}).items()),
        frame=None if frame is None else bd.Frame("edge", curve(frame)),
    )


def tucks(
    stems: dict[str, str], motifs: dict[str, str] | None = None, frame: str | None = None, **options: Any
) -> dict[str, tuple[Tuck, ...]]:
    pattern = bd.draft_pattern(drawing(stems, motifs, frame), **options)
    return {piece.stem: piece.tucks for piece in pattern.pieces}


def circle(x: float, y: float, r: float) -> str:
    return f"M{x + r} {y}A{r} {r} 0 0 1 {x - r} {y}A{r} {r} 0 0 1 {x + r} {y}Z"


def box(left: float, top: float, right: float, bottom: float) -> str:
    return f"M{left} {top}H{right}V{bottom}H{left}Z"


STALK = {"stalk": "M20 100H100"}


# --- what covers an end -------------------------------------------------------------------------------------


def test_an_end_in_the_open_is_free() -> None:
    assert tucks(STALK, {"leaf": circle(150, 100, 30)}, box(0, 0, 300, 300)) == {"stalk": ()}


def test_an_end_under_a_leaf() -> None:
    assert tucks(STALK, {"leaf": circle(110, 100, 30)})["stalk"] == (
        Tuck("end", "leaf", "motif", QUARTER, QUARTER),
    )


def test_both_ends_covered_the_start_first() -> None:
    found = tucks(STALK, {"pod": box(90, 80, 140, 120), "leaf": circle(10, 100, 25)}, tuck="8 mm")
    assert found["stalk"] == (Tuck("start", "leaf", "motif", 8, 8), Tuck("end", "pod", "motif", 8, 8))


@pytest.mark.parametrize(("gap", "covered"), [(-5, True), (0, True), (0.45, True), (0.55, False), (3, False)])
def test_an_end_just_short_of_its_cover_counts_as_under_it(gap: float, covered: bool) -> None:
    assert pytest.approx(0.5) == TOUCH
    motif = {"leaf": box(100 + gap, 60, 160, 140)}
    assert [t.under for t in tucks(STALK, motif)["stalk"]] == ["leaf"] * covered
    assert [t.under for t in tucks(STALK, frame=box(0, 0, 100 + gap, 200))["stalk"]] == ["edge"] * covered
    vine = {"vine": f"M{100 + 3 + gap} 20V180"}
    found = tucks(STALK | vine, width=6)
    assert [t.under for t in found["stalk"]] == ["vine"] * covered
    assert found["vine"] == ()


def test_a_motif_comes_before_the_frame_and_the_frame_before_a_stem() -> None:
    vine = {"vine": "M100 20V180"}
    edge = box(0, 0, 100, 300)
    leaf = {"leaf": circle(105, 100, 20)}
    assert [t.kind for t in tucks(STALK | vine, leaf, edge)["stalk"]] == ["motif"]
    assert [t.kind for t in tucks(STALK | vine, None, edge)["stalk"]] == ["frame"]
    assert [t.kind for t in tucks(STALK | vine)["stalk"]] == ["stem"]


def test_of_several_motifs_the_one_that_hides_it_best() -> None:
    motifs = {"leaf": box(97, 80, 150, 120), "pod": box(80, 80, 120, 120), "bud": box(100.2, 90, 130, 110)}
    assert [t.under for t in tucks(STALK, motifs)["stalk"]] == ["pod"]
    del motifs["pod"]
    assert [t.under for t in tucks(STALK, motifs)["stalk"]] == ["leaf"]


@pytest.mark.parametrize(("end", "covered"), [(99.6, True), (100, True), (130, True), (99.3, False)])
def test_an_end_at_the_frame_or_beyond_it(end: float, covered: bool) -> None:
    found = tucks({"stalk": f"M20 100H{end}"}, frame=box(0, 0, 100, 200), tuck="3/8 in")["stalk"]
    # In the seam round the block all of it is hidden.
    assert found == ((Tuck("end", "edge", "frame", 9.525, 9.525),) if covered else ())


# --- stems under stems --------------------------------------------------------------------------------------


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("vine_first", [False, True])
def test_a_branch_tucks_under_its_vine_whichever_is_drawn_first(vine_first: bool, turned: bool) -> None:
    vine = {"vine": "M100 180V20" if turned else "M100 20V180"}
    branch = {"branch": "M100 100H20" if turned else "M20 100H100"}
    found = tucks(vine | branch if vine_first else branch | vine)
    assert [(t.end, t.under, t.kind) for t in found["branch"]] == [
        ("start" if turned else "end", "vine", "stem")
    ]
    assert found["vine"] == ()


@pytest.mark.parametrize("first", ["lower", "upper"])
def test_end_to_end_the_one_drawn_first_tucks_under_the_other(first: str) -> None:
    lower, upper = {"lower": "M20 100H100"}, {"upper": "M100 100C130 100 150 80 180 60"}
    found = tucks(lower | upper if first == "lower" else upper | lower)
    other = "upper" if first == "lower" else "lower"
    assert [t.under for t in found[first]] == [other]
    assert found[other] == ()


def test_three_ends_that_meet_leave_the_last_one_free() -> None:
    found = tucks({"a": "M20 100H100", "b": "M100 100L150 50", "c": "M100 100L150 150"})
    assert {name: len(t) for name, t in found.items()} == {"a": 1, "b": 1, "c": 0}
    assert found["b"][0].under == "c"


@pytest.mark.parametrize(("y", "covered_by_vine"), [(103, False), (105, True)])
def test_within_half_a_width_of_its_end_a_vine_is_met_end_to_end(y: float, covered_by_vine: bool) -> None:
    # The vine begins at y = 100 and is 7 mm wide.
    found = tucks({"vine": "M100 100V200", "branch": f"M20 {y}H100"}, width=7)
    assert [t.under for t in found["branch"]] == ["vine"] * covered_by_vine
    assert [t.under for t in found["vine"]] == ["branch"] * (not covered_by_vine)


def test_of_two_vines_the_nearer_covers_the_end() -> None:
    found = tucks(STALK | {"far": "M102.5 20V180", "near": "M99 20V180"})
    assert [t.under for t in found["stalk"]] == ["near"]


def test_a_wider_vine_covers_from_farther() -> None:
    stems = STALK | {"vine": "M108 20V180"}
    assert tucks(stems)["stalk"] == ()
    (tuck,) = tucks(stems, per_stem={"vine": {"width": 16}})["stalk"]
    assert (tuck.under, tuck.kind) == ("vine", "stem")


def test_a_ring_covers_ends_and_has_none() -> None:
    found = tucks({"stalk": "M20 100H101", "ring": circle(140, 100, 40), "spur": "M180 100H250"})
    assert [t.under for t in found["stalk"]] == ["ring"]
    assert [(t.end, t.under) for t in found["spur"]] == [("start", "ring")]
    assert found["ring"] == ()
    # Also where the ring begins and ends, at (180, 100), and under a leaf as well.
    found = tucks({"ring": circle(140, 100, 40)}, {"leaf": circle(180, 100, 12)})
    assert found["ring"] == ()


def test_a_stem_does_not_tuck_under_itself() -> None:
    curl = {"tendril": "M20 100H120V160H70V100"}
    assert tucks(curl)["tendril"] == ()


# --- how far an end runs on ---------------------------------------------------------------------------------


def test_across_a_vine_it_runs_to_its_far_edge() -> None:
    vine = {"vine": "M100 20V180"}
    for width, tuck in ((20, 30), (20, 8), (40, 50)):
        (found,) = tucks(STALK | vine, per_stem={"vine": {"width": width}}, tuck=tuck)["stalk"]
        assert found.length == tuck
        step = tuck / 32
        assert min(tuck, width / 2) - step <= found.hidden <= min(tuck, width / 2 + 0.05)


def test_a_tuck_longer_than_its_berry() -> None:
    # A stalk 6 mm wide shows beyond a berry of radius 6 where its corners leave the circle.
    (found,) = tucks(STALK, {"berry": circle(102, 100, 6)}, width=6, tuck="1 in")["stalk"]
    leaves = 2 + math.sqrt(6**2 - 3**2)
    assert found.length == 25.4
    assert leaves - 25.4 / 32 <= found.hidden <= leaves + 0.06


def test_overlapping_motifs_hide_it_together() -> None:
    (found,) = tucks(STALK, {"leaf": box(90, 80, 104, 120), "pod": box(100, 80, 180, 120)}, tuck=20)["stalk"]
    assert found.hidden == 20
    (found,) = tucks(STALK, {"leaf": box(90, 80, 104, 120)}, tuck=20)["stalk"]
    assert 4 - 20 / 32 <= found.hidden <= 4.06


def test_an_end_that_would_run_on_in_the_open_stays_as_drawn() -> None:
    # Beside the edge of a leaf, within the touch of it, and on past it.
    for motif in (box(60, 100.3, 140, 150), box(60, 90, 99.8, 150), circle(100, 112, 12)):
        (found,) = tucks(STALK, {"leaf": motif}, tuck="1 in")["stalk"]
        assert (found.length, found.hidden) == (25.4, 0)


def test_an_end_at_the_edge_of_a_round_leaf_or_just_short_of_it_runs_under() -> None:
    for motif in (circle(125, 100, 25), circle(125.2, 100, 25), box(100.4, 60, 150, 140)):
        (found,) = tucks(STALK, {"leaf": motif})["stalk"]
        assert found.hidden == QUARTER


def test_a_tuck_of_nothing() -> None:
    assert tucks(STALK, {"leaf": circle(110, 100, 30)}, tuck=0)["stalk"] == (
        Tuck("end", "leaf", "motif", 0, 0),
    )


# --- motifs that cross themselves ---------------------------------------------------------------------------


def star(x: float, y: float, r: float) -> str:
    """Five points joined in one line that crosses itself: its middle is gone round twice."""
    tips = [(x + r * math.sin(4 * math.pi * k / 5), y - r * math.cos(4 * math.pi * k / 5)) for k in range(5)]
    return "M" + "L".join(f"{a:.4f} {b:.4f}" for a, b in tips) + "Z"


@pytest.mark.parametrize(
    "outline",
    [
        star(100, 100, 40),
        circle(100, 100, 30)[:-1] + circle(100, 100, 30)[circle(100, 100, 30).index("A") :],
        "M80 70L180 130V70L80 130Z",
        "M90 80H150V120H180H150H90Z",
    ],
    ids=["star", "twice round", "bow tie", "spike"],
)
def test_an_end_within_an_outline_that_crosses_itself(outline: str) -> None:
    (found,) = tucks(STALK, {"flower": outline})["stalk"]
    assert (found.under, found.kind) == ("flower", "motif")
    assert found.hidden > 5


def test_a_motif_without_area_covers_nothing() -> None:
    assert tucks(STALK, {"fold": "M80 100H150Z", "leaf": circle(20, 100, 9)})["stalk"][0].under == "leaf"
    assert tucks(STALK, {"fold": "M80 100H150Z"})["stalk"] == ()


# --- the finished outline never shows where nothing was drawn -----------------------------------------------


def fine(curve: bd.Curve) -> Any:
    return shapely.LineString(curve.flattened(1e-4))


def shows(made: bd.Drawing, pattern: bd.Pattern, name: str) -> Any:
    """What of a finished stem is neither as drawn, nor under its covers, nor closes the gap up to them."""
    piece = pattern[name]
    half = piece.check.width / 2
    line = fine(piece.centreline)
    left = piece.finished.polygon.difference(line.buffer(half, cap_style="flat", quad_segs=64).buffer(0.02))
    for tuck in piece.tucks:
        if tuck.kind == "frame":
            left = left.intersection(shapely.Polygon(made.frame.outline.flattened(1e-4)).buffer(-0.01))  # type: ignore[union-attr]
        if tuck.kind == "stem":
            other = pattern[tuck.under]
            cover = fine(other.centreline).buffer(other.check.width / 2, cap_style="flat", quad_segs=64)
        else:
            areas = [shapely.Polygon(m.outline.flattened(1e-4)) for m in made.motifs]
            cover = shapely.union_all(areas)
        s = 0.0 if tuck.end == "start" else piece.centreline.length
        at, along = piece.centreline.point_at(s), piece.centreline.tangent_at(s)
        aside = np.array([-along[1], along[0]]) * half
        drawn_end = shapely.LineString([at - aside, at + aside])
        left = left.difference(cover.buffer(0.08)).difference(drawn_end.buffer(TOUCH + 0.02))
    return left


def spray(seed: int) -> bd.Drawing:
    """Stalks that run to leaves and vines at all angles, some to their edges, some past them."""
    rng = np.random.default_rng(seed)
    stems = {
        "vine": f"M{rng.uniform(90, 150):.3f} 10C{rng.uniform(60, 170):.3f} 90 {rng.uniform(60, 170):.3f} 170 120 290"
    }
    motifs = {}
    vine = bd.Curve.from_svg_path(stems["vine"])
    for k in range(4):
        x, y = 220 + 5 * rng.normal(), 40 + 70 * k
        a, b, turn = rng.uniform(4, 30), rng.uniform(4, 14), rng.uniform(0, 180)
        c, s = a * math.cos(math.radians(turn)), a * math.sin(math.radians(turn))
        motifs[f"leaf-{k}"] = (
            f"M{x + c:.4f} {y + s:.4f}A{a:.4f} {b:.4f} {turn:.3f} 0 1 {x - c:.4f} {y - s:.4f}"
            f"A{a:.4f} {b:.4f} {turn:.3f} 0 1 {x + c:.4f} {y + s:.4f}Z"
        )
        start = vine.point_at(vine.length * (0.15 + 0.2 * k)) + rng.uniform(-3, 3, 2)
        reach = rng.uniform(-1, 1.05)  # from the far side of the leaf to a little short of it
        end = np.array([x, y]) - reach * np.array([c, s])
        stems[f"stalk-{k}"] = (
            f"M{start[0]:.4f} {start[1]:.4f}Q{180 + 20 * rng.normal():.3f} {y + 15 * rng.normal():.3f} "
            f"{end[0]:.4f} {end[1]:.4f}"
        )
    return drawing(stems, motifs, box(2, 2, 298, 298))


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("tuck", ["1/4 in", "1 in"])
def test_nothing_shows_beyond_what_is_drawn_and_hidden(seed: int, tuck: str) -> None:
    made = spray(seed)
    pattern = bd.draft_pattern(made, width=5, tuck=tuck)
    assert sum(len(piece.tucks) for piece in pattern.pieces) >= 6
    for piece in pattern.pieces:
        assert shows(made, pattern, piece.stem).area < 1e-3, piece.stem


def test_the_judge_sees_what_shows() -> None:
    made = drawing(STALK, {"berry": circle(102, 100, 6)})
    pattern = bd.draft_pattern(made, width=6, tuck="1 in")
    assert shows(made, pattern, "stalk").area < 1e-6
    piece = pattern["stalk"]
    longer = piece.centreline.extended(0, 12).band(6)
    object.__setattr__(piece, "finished", longer)
    assert shows(made, pattern, "stalk").area > 10


@pytest.mark.parametrize("seed", range(6))
def test_it_runs_on_as_far_as_it_can(seed: int) -> None:
    made = spray(seed)
    pattern = bd.draft_pattern(made, width=5, tuck="1 in")
    areas = {motif.name: shapely.Polygon(motif.outline.flattened(1e-4)) for motif in made.motifs}
    tried = 0
    for piece in pattern.pieces:
        for tuck in piece.tucks:
            if tuck.kind == "frame" or tuck.hidden == tuck.length:
                continue
            cover = areas.get(tuck.under)
            if cover is None:
                other = pattern[tuck.under]
                cover = fine(other.centreline).buffer(other.check.width / 2, cap_style="flat", quad_segs=64)
            s = 0.0 if tuck.end == "start" else piece.centreline.length
            out = piece.centreline.tangent_at(s) * (-1 if tuck.end == "start" else 1)
            at, aside = piece.centreline.point_at(s), np.array([-out[1], out[0]]) * 2.5
            begin, farther = at + 0.5 * out, at + (max(tuck.hidden, 0.5) + 25.4 / 32) * out
            strip = shapely.Polygon([begin - aside, begin + aside, farther + aside, farther - aside])
            assert not cover.buffer(0.02).covers(strip)
            tried += 1
    assert tried > 0


def test_covers_by_themselves() -> None:
    made = drawing(STALK | {"vine": "M100 20V180"}, {"leaf": circle(20, 100, 12)})
    covers = Covers(made, {"stalk": 4.0, "vine": 30.0})
    assert [(t.end, t.under, t.length) for t in covers.tucks(made["stalk"], 5.0)] == [
        ("start", "leaf", 5.0),
        ("end", "vine", 5.0),
    ]
    assert covers.tucks(made["vine"], 5.0) == ()


def test_what_lies_wholly_under_a_motif_is_hidden() -> None:
    body = """<circle id="flower" cx="100" cy="50" r="20"/><rect id="leaf" x="150" y="49" width="20" height="2"/>
    <path id="vine" d="M10 50H190" stroke="green" fill="none"/>
    <path id="ring vine" d="M100 50A40 40 0 0 1 20 50A40 40 0 0 1 100 50Z" stroke="green" fill="none"/>
    <path id="far vine" d="M10 99H190" stroke="green" fill="none"/>"""
    drawing = bd.read_drawing(
        io.StringIO(f'<svg width="200mm" height="100mm" viewBox="0 0 200 100">{body}</svg>')
    )
    pattern = bd.draft_pattern(drawing, 6)
    ((start, end),) = pattern["vine"].check.hidden
    # 3 mm on either side of the line lie in the circle up to its radius less 3 mm along the line, or more.
    assert start == pytest.approx(90 - 17, abs=1)
    assert end == pytest.approx(90 + 17, abs=1)
    ((start, end),) = pattern["ring vine"].check.hidden
    assert start > end  # over the start of the ring
    assert end == pytest.approx(2 * 40 * np.arcsin(17 / 80), abs=1)
    assert pattern["far vine"].check.hidden == ()


def test_a_corner_under_a_flower_is_cut_in_two() -> None:
    body = """<circle id="flower" cx="100" cy="50" r="9"/>
    <path id="vine" d="M10 50H100L180 90" stroke="green" fill="none"/>"""
    drawing = bd.read_drawing(
        io.StringIO(f'<svg width="200mm" height="100mm" viewBox="0 0 200 100">{body}</svg>')
    )
    check = bd.draft_pattern(drawing, 6)["vine"].check
    assert check.verdict is bd.Verdict.TOO_TIGHT
    assert check.split == pytest.approx(90, abs=1)
    assert "cut it in two where it is hidden, 3 1/2 in from its start" in check.advice
