from __future__ import annotations

import io
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ellipeinc

import bias_drafting as bd
from bias_drafting.pattern.order import laying_order


def drawn(body: str) -> bd.Drawing:
    svg = f'<svg width="300mm" height="300mm" viewBox="0 0 300 300">{body}</svg>'
    return bd.read_drawing(io.StringIO(svg))


def stem(name: str, d: str) -> str:
    return f'<path id="{name}" d="{d}" fill="none" stroke="green" stroke-width="6"/>'


def motif(name: str, x: float, y: float, r: float = 20) -> str:
    return f'<circle id="{name}" cx="{x}" cy="{y}" r="{r}" fill="red"/>'


def vine(name: str, xy: Any) -> bd.Stem:
    """A stem of cubics through points ``(x, y, dx, dy)``."""
    p = np.asarray(xy, dtype=float)
    a, b = p[:-1], p[1:]
    controls = [a[:, :2], a[:, :2] + a[:, 2:] / 3, b[:, :2] - b[:, 2:] / 3, b[:, :2]]
    return bd.Stem(name, bd.Curve(np.stack(controls, axis=1)))


def draft(*stems: bd.Stem, motifs: tuple[bd.Motif, ...] = (), **options: Any) -> bd.Pattern:
    return bd.draft_pattern(bd.Drawing("vine bed", (300, 300), stems=stems, motifs=motifs), **options)


def straight(name: str, d: str) -> bd.Stem:
    return bd.Stem(name, bd.Curve.from_svg_path(d))


# --- the order by itself ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("pairs", "order"),
    [
        ([], "abcd"),
        ([("a", "b"), ("c", "d")], "abcd"),
        ([("b", "a")], "bacd"),
        ([("d", "a")], "dabc"),
        ([("d", "a"), ("a", "c")], "dabc"),
        ([("d", "b"), ("c", "b")], "acdb"),
        ([("d", "c"), ("c", "b"), ("b", "a")], "dcba"),
        ([("b", "a"), ("b", "a"), ("b", "edge"), ("edge", "a")], "bacd"),
    ],
)
def test_as_drawn_but_for_the_tucks(pairs: list[tuple[str, str]], order: str) -> None:
    assert laying_order("abcd", pairs) == (list(order), [])


@pytest.mark.parametrize(
    ("drawn", "pairs", "order", "forced"),
    [
        ("abc", ["ab", "bc", "ca"], "abc", "a"),
        ("cab", ["ab", "bc", "ca"], "cab", "c"),
        # Drawn first, but only above the ring: it keeps to its own tuck.
        ("xab", ["ab", "ba", "ax"], "axb", "a"),
        ("xab", ["ab", "ba", "bx"], "abx", "a"),
        # Two rings, one above the other.
        ("cdab", ["ab", "ba", "cd", "dc", "bc"], "abcd", "ac"),
        ("dabc", ["ab", "ba", "da"], "dabc", "a"),
        ("ab", ["aa"], "ab", "a"),
    ],
)
def test_in_a_ring_the_one_of_it_drawn_first_is_laid_first(
    drawn: str, pairs: list[str], order: str, forced: str
) -> None:
    found = laying_order(drawn, [(pair[0], pair[1]) for pair in pairs])
    assert found == (list(order), list(forced))


@settings(max_examples=200, deadline=None)
@given(
    names=st.permutations("abcde"),
    pairs=st.lists(st.tuples(st.sampled_from("abcde"), st.sampled_from("abcde")), max_size=8),
)
def test_any_tucks(names: list[str], pairs: list[tuple[str, str]]) -> None:
    order, forced = laying_order(names, pairs)
    assert sorted(order) == list("abcde")
    over = {(a, b) for a, b in pairs}
    for k in names:  # Warshall: what lies over what by way of others
        over |= {(a, b) for a in names for b in names if (a, k) in over and (k, b) in over}
    for lower, upper in pairs:
        if (upper, lower) not in over:  # no ring through this pair
            assert order.index(lower) < order.index(upper)
    assert all((name, name) in over for name in forced)
    kept = [order.index(lower) < order.index(upper) for lower, upper in pairs]
    assert bool(forced) == (not all(kept))
    if not forced:
        # Each in its own turn, or in the earliest turn of what lies over it.
        turns = [min(names.index(n) for n in names if n == name or (name, n) in over) for name in order]
        assert turns == sorted(turns)


def test_what_has_nothing_to_do_with_a_tuck_keeps_its_place() -> None:
    # The tendril goes under the vine; that vine and pea stay as they were drawn.
    assert laying_order(["vine", "pea", "tendril"], [("tendril", "vine")])[0] == ["tendril", "vine", "pea"]


# --- the order of a pattern ---------------------------------------------------------------------------------


def test_without_tucks_it_is_the_order_of_drawing() -> None:
    body = (
        motif("pumpkin", 40, 250)
        + stem("vine", "M20 20H280")
        + motif("berry", 200, 250)
        + stem("hop", "M20 200H90")
    )
    pattern = bd.draft_pattern(drawn(body))
    assert pattern.order == ("pumpkin", "vine", "berry", "hop")
    assert pattern.notes == ()


def test_what_tucks_under_is_laid_before() -> None:
    # The flower is drawn first of all, and the branch after the vine.
    body = (
        motif("flower", 100, 60)
        + stem("vine", "M20 150H280")
        + stem("branch", "M100 60V150")
        + motif("berry", 250, 250)
        + stem("spur", "M240 250V200")
    )
    pattern = bd.draft_pattern(drawn(body))
    assert [(t.end, t.under) for t in pattern["branch"].tucks] == [("start", "flower"), ("end", "vine")]
    order = pattern.order
    assert order.index("branch") < min(order.index("flower"), order.index("vine"))
    assert order.index("spur") < order.index("berry")
    assert order == ("branch", "flower", "vine", "spur", "berry")


def test_the_frame_has_no_place_in_it() -> None:
    body = '<rect id="block" x="10" y="10" width="280" height="280" fill="none" stroke="grey"/>'
    pattern = bd.draft_pattern(drawn(body + stem("vine", "M10 100H290")))
    assert [t.kind for t in pattern["vine"].tucks] == ["frame", "frame"]
    assert pattern.order == ("vine",)


def test_several_lines_in_one_shape_keep_its_place() -> None:
    body = motif("pumpkin", 250, 40) + stem("tendril", "M20 20H90M20 60H90") + motif("berry", 250, 250)
    assert bd.draft_pattern(drawn(body)).order == ("pumpkin", "tendril 1", "tendril 2", "berry")


def test_stems_tucked_under_one_another_in_a_ring_are_told() -> None:
    # Three stems laid like the flaps of a box: each ends on the next.
    body = (
        motif("leaf", 250, 250)
        + stem("bean", "M40 60H162")
        + stem("pea", "M160 40V150")
        + stem("hop", "M180 168L60 58")
    )
    pattern = bd.draft_pattern(drawn(body))
    assert [(p.stem, p.tucks[-1].under) for p in pattern.pieces] == [
        ("bean", "pea"),
        ("pea", "hop"),
        ("hop", "bean"),
    ]
    (note,) = pattern.notes
    assert str(note) == (
        "bean: laid before what it lies over, because the stems tuck under one another in a ring"
    )
    # The bean is forced, though the hop should lie below it; the other two tucks are kept.
    assert pattern.order == ("leaf", "bean", "pea", "hop")


# --- crossings ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("height", [0, 20, -37.5, 49])
def test_a_line_across_a_ring(height: float) -> None:
    radius, cx, cy = 50.0, 150.0, 140.0
    quarters = "A50 50 0 0 1 150 190A50 50 0 0 1 100 140A50 50 0 0 1 150 90A50 50 0 0 1 200 140Z"
    ring = straight("ring", f"M200 140{quarters}")
    line = straight("line", f"M20 {cy + height}H280")
    pattern = draft(ring, line, width=5)
    # The ring runs clockwise from its rightmost point, so it comes to this height at the angle asin(height / radius).
    angle = math.asin(height / radius)
    along_ring = sorted([(angle % (2 * math.pi)) * radius, (math.pi - angle) * radius])
    by_s = {s: math.cos(s / radius) * radius for s in along_ring}
    assert [(c.over, c.under) for c in pattern.crossings] == [("line", "ring")] * 2
    for crossing, s in zip(pattern.crossings, along_ring, strict=True):
        x = cx + by_s[s]
        # The arcs of a circle in cubics are right to 0.0003 of the radius.
        off = s - crossing.s_under
        assert min(abs(off), 2 * math.pi * radius - abs(off)) < 0.02
        assert crossing.s_over == pytest.approx(x - 20, abs=0.02)
        assert crossing.point == pytest.approx((x, cy + height), abs=0.02)
        # A chord at distance h from the centre meets the circle at an angle whose cosine is h / r.
        assert crossing.angle == pytest.approx(math.degrees(math.acos(abs(height) / radius)), abs=0.3)


AMPLITUDE, WAVE = 9.0, 80.0
K = 2 * math.pi / WAVE


def sine(name: str, sign: float, over: float = 200.0) -> bd.Stem:
    x = np.linspace(0, over, 401)
    step = x[1] - x[0]
    y = 100 + sign * AMPLITUDE * np.sin(K * x)
    slope = sign * AMPLITUDE * K * np.cos(K * x)
    return vine(name, np.stack([x + 20, y, np.full_like(x, step), slope * step], axis=1))


def sine_length(x: float) -> float:
    """Length of the sine from 0 to x: the incomplete elliptic integral of the second kind."""
    ak = (AMPLITUDE * K) ** 2
    m = ak / (1 + ak)
    # sqrt(1 + (A k cos)^2) = sqrt(1 + (A k)^2) sqrt(1 - m sin^2)
    return float(math.sqrt(1 + ak) * ellipeinc(K * x, m) / K)


@pytest.mark.parametrize("lower_first", [True, False])
def test_two_vines_that_wind_round_each_other(lower_first: bool) -> None:
    bean, pea = sine("bean", 1, 190), sine("pea", -1, 190)
    pattern = draft(*((bean, pea) if lower_first else (pea, bean)), width=4)
    upper, lower = ("pea", "bean") if lower_first else ("bean", "pea")
    assert pattern.order == (lower, upper)
    # They meet at every half wave; at x = 0 they only start together, the one drawn first under the other.
    assert [t.under for t in pattern[lower].tucks] == [upper]
    places = [40.0, 80.0, 120.0, 160.0]
    assert [(c.over, c.under) for c in pattern.crossings] == [(upper, lower)] * 4
    for crossing, x in zip(pattern.crossings, places, strict=True):
        assert crossing.s_over == pytest.approx(sine_length(x), abs=0.01)
        assert crossing.s_under == pytest.approx(sine_length(x), abs=0.01)
        assert crossing.point == pytest.approx((x + 20, 100), abs=0.01)
        assert crossing.angle == pytest.approx(2 * math.degrees(math.atan(AMPLITUDE * K)), abs=0.05)


def test_angles_from_nothing_to_square() -> None:
    for degrees in (4, 10, 45, 80, 90, 135, 176):
        a = math.radians(degrees)
        x, y = 90 * math.cos(a), 90 * math.sin(a)
        one = straight("one", "M50 150H250")
        two = straight("two", f"M{150 - x} {150 - y}L{150 + x} {150 + y}")
        (crossing,) = draft(one, two, width=3, tuck=3).crossings
        assert crossing.angle == pytest.approx(min(degrees, 180 - degrees), abs=1e-6)
        assert crossing.s_over == pytest.approx(90)
        assert crossing.s_under == pytest.approx(100)


def test_they_are_told_along_each_under_stem_in_turn() -> None:
    rows = [straight(f"row-{k}", f"M20 {60 + 40 * k}H280") for k in range(3)]
    posts = [straight(f"post-{k}", f"M{250 - 60 * k} 20V280") for k in range(3)]
    crossings = draft(*rows, *posts).crossings
    assert [(c.under, c.over, round(c.s_under)) for c in crossings] == [
        (f"row-{row}", f"post-{post}", 230 - 60 * post) for row in range(3) for post in (2, 1, 0)
    ]


def test_who_is_over_follows_the_order_of_laying() -> None:
    # The hop is drawn last but tucks under the vine, so it is laid before the vine and before the pea between them.
    vine_, pea = straight("vine", "M20 100H280"), straight("pea", "M60 40V160")
    hop = straight("hop", "M20 60H150V100")
    pattern = draft(vine_, pea, hop)
    assert pattern.order == ("hop", "vine", "pea")
    assert {(c.over, c.under) for c in pattern.crossings} == {("pea", "hop"), ("pea", "vine")}


@pytest.mark.parametrize("vine_first", [True, False])
@pytest.mark.parametrize("past", [-2.5, -0.3, 0, 0.3, 1, 2.5])
@pytest.mark.parametrize("lean", [0, 40, -70])
def test_where_an_end_is_tucked_is_no_crossing(past: float, lean: float, vine_first: bool) -> None:
    bean = straight("vine", "M20 100H280")
    a = math.radians(lean)
    run = 80 * math.tan(a)
    branch = straight("branch", f"M{150 - run} 180L{150 + past * math.tan(a)} {100 - past}")
    stems = (bean, branch) if vine_first else (branch, bean)
    pattern = draft(*stems, width=6)
    assert [t.under for t in pattern["branch"].tucks] == ["vine"]
    assert pattern.crossings == ()


def test_an_end_that_runs_far_under_a_wide_vine_is_no_crossing() -> None:
    for width, past in ((20, 8), (40, 19)):
        branch = straight("branch", f"M150 200V{100 - past}")
        pattern = draft(straight("vine", "M20 100H280"), branch, width=4, per_stem={"vine": {"width": width}})
        assert len(pattern["branch"].tucks) == 1
        assert pattern.crossings == ()


def test_a_stem_that_crosses_a_vine_and_comes_back_to_it_crosses_it_once() -> None:
    branch = straight("branch", "M100 180V60A30 30 0 0 1 160 60V101")
    for stems in ((straight("vine", "M20 100H280"), branch), (branch, straight("vine", "M20 100H280"))):
        pattern = draft(*stems)
        assert [t.under for t in pattern["branch"].tucks] == ["vine"]
        (crossing,) = pattern.crossings
        assert crossing.over == "vine"
        assert crossing.point == pytest.approx((100, 100), abs=1e-6)


def test_ends_that_meet_are_no_crossing() -> None:
    a, b = straight("a", "M20 100H150"), straight("b", "M150 100L250 40")
    assert draft(a, b).crossings == ()
    # Nor where they meet under a flower.
    flower = bd.Motif("flower", bd.Curve.from_svg_path("M130 80H170V120H130Z"))
    pattern = draft(a, b, motifs=(flower,))
    assert {t.under for piece in pattern.pieces for t in piece.tucks} == {"flower"}
    assert pattern.crossings == ()


def test_vines_that_share_a_stretch_cross_there_once() -> None:
    one = straight("one", "M20 100C60 60 90 100 130 100S220 140 260 100")
    part = one.centreline.section(60, 180)
    ends = part.start, part.end
    controls = np.concatenate(
        [
            bd.Curve.from_points([(ends[0][0] - 30, 200), ends[0]]).controls,
            part.controls,
            bd.Curve.from_points([ends[1], (ends[1][0] + 20, 20)]).controls,
        ]
    )
    two = bd.Stem("two", bd.Curve(controls))
    crossings = draft(one, two, width=3).crossings
    assert len(crossings) == 1
    assert crossings[0].angle == pytest.approx(0, abs=1e-4)
    assert crossings[0].s_under == pytest.approx(120, abs=1)


def test_stems_apart_do_not_cross() -> None:
    assert draft(straight("a", "M20 100H150"), straight("b", "M20 103H150")).crossings == ()
    assert draft(straight("loop", "M20 100H150C200 100 120 20 90 160")).crossings == ()
