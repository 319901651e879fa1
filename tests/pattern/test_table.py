from __future__ import annotations

import io
import math
import re
from functools import cache
from html.parser import HTMLParser
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import pytest

import bias_drafting as bd
from bias_drafting.pattern.table import CAUTION_LINE, length_text

if TYPE_CHECKING:
    from collections.abc import Callable

HEADINGS = [
    "stem", "finished", "made as", "length", "cut", "tightest bend", "least radius", "verdict", "passes up to",
]  # fmt: skip
# What one part of the ruler is, in mm: for lengths and radii, and for widths that pass.
STEP = {"in": 25.4 / 8, "mm": 1.0}
WIDTH_STEP = {"in": 25.4 / 16, "mm": 0.5}


def _garden() -> bd.Pattern:
    """Many sorts of stems: every verdict and making, odd widths, ends under things, straight, corners, a ring."""
    stems = {
        "vine": "M20 40C90 10 120 90 200 60S280 30 290 70",
        "a very long name for a short stem": "M20 120L60 118",
        "hook": "M20 150H60A9 9 0 0 1 60 168H40",
        "zigzag": "M100 120L130 160L160 120L190 160",
        "vine-ring": "M280 150A25 25 0 0 1 230 150A25 25 0 0 1 280 150Z",
        "bow": "M20 190A200 200 0 0 1 130 190",
        "curl": "M200 190C230 190 230 170 215 170",
        "rod": "M150 185H195",
    }
    paths = "".join(f'<path id="{k}" d="{d}" fill="none" stroke="green"/>' for k, d in stems.items())
    more = '<circle id="leaf" cx="20" cy="40" r="12"/><path id="bud" d="M150 180h-9v9h9"/>'
    drawing = bd.read_drawing(
        io.StringIO(f'<svg width="305mm" height="210mm" viewBox="0 0 305 210">{more}{paths}</svg>')
    )
    return bd.draft_pattern(
        drawing,
        "1/4 in",
        per_stem={
            "hook": {"making": "turned-template"},
            "vine-ring": {"width": "5 mm", "making": "sewn-tube"},
            "bow": {
                "width": "0.3 in",
                "making": "rolled-strip",
                "cloth": bd.Cloth("lawn", stretch=0.1, ease=0.04),
            },
            "curl": {"width": "3 mm"},
            "rod": {"width": "1 in", "off_bias": 45},
            "zigzag": {"off_bias": 45},
        },
    )


NAMES = ["garden", "bean wreath", "herb spray"]


@cache
def pattern_of(name: str) -> bd.Pattern:
    if name == "garden":
        return _garden()
    if name == "bean wreath":
        return bd.draft_pattern(bd.read_sample("bean-wreath"))
    return bd.draft_pattern(bd.read_sample("herb-spray"), "7 mm", "sewn-tube")


each = pytest.mark.parametrize("name", NAMES)
both = pytest.mark.parametrize("unit", ["in", "mm"])


def rows(text: str) -> list[dict[str, str]]:
    """The rows of a table, cut at the columns that its rule of dashes gives."""
    lines = text.splitlines()
    rule = next(k for k, line in enumerate(lines) if re.fullmatch(r"-+(  -+)+", line))
    columns = [(m.start(), m.end()) for m in re.finditer(r"-+", lines[rule])]
    end = next((k for k in range(rule, len(lines)) if not lines[k]), len(lines))

    def cells(line: str) -> list[str]:
        for (_, stop), (start, _) in pairwise(columns):
            assert line[stop:start].strip() == "", line  # nothing sticks out of its column
        return [line[a:b].strip() for a, b in columns]

    assert cells(lines[rule - 1]) == HEADINGS
    assert all(line == line.rstrip() for line in lines)
    return [dict(zip(HEADINGS, cells(line), strict=True)) for line in lines[rule + 1 : end]]


def mm(text: str, unit: str) -> float:
    assert text.endswith(f" {unit}"), text
    return bd.to_mm(text)


def is_rounded(text: str, exact: float, unit: str, rounding: str, step: dict[str, float] = STEP) -> bool:
    """Whether text is what exact mm are when they are rounded so, to the parts of a ruler."""
    by = mm(text, unit) - exact
    slack = 1e-8 * max(exact, 1)
    low, high = {
        "up": (-slack, step[unit]),
        "down": (-step[unit], slack),
        "nearest": (-step[unit] / 2 - slack, step[unit] / 2 + slack),
    }[rounding]
    whole = mm(text, unit) / step[unit]
    return low <= by <= high and abs(whole - round(whole)) < 1e-9


def is_width(text: str, exact: float, unit: str) -> bool:
    """Widths are never put on a ruler's step: exact, or to 0.001 in or 0.01 mm."""
    return abs(mm(text, unit) - exact) <= (0.0005 * 25.4 if unit == "in" else 0.005) * (1 + 1e-9)


# --- every number of a row ---------------------------------------------------------------------------------------


@each
@both
def test_every_cell_is_what_the_mapping_says(name: str, unit: str) -> None:
    pattern = pattern_of(name)
    found, told = rows(pattern.table(unit)), pattern.to_dicts()
    assert [row["stem"] for row in found] == [row["stem"] for row in told]
    for cells, row in zip(found, told, strict=True):
        assert cells["made as"] == row["making"].replace("-", " ")
        assert cells["verdict"] == row["verdict"]
        assert is_width(cells["finished"], row["finished_width_mm"], unit)
        assert is_rounded(cells["length"], row["length_mm"], unit, "nearest")
        if row["strip_length_mm"] is None:
            assert cells["cut"] == "to its outline"
        else:
            width, length = cells["cut"].split(" x ")
            assert is_width(width, row["cut_width_mm"], unit)
            assert is_rounded(length, row["strip_length_mm"], unit, "up")
        if row["tightest_radius_mm"] is None:
            assert (cells["tightest bend"], cells["least radius"]) == ("straight", "-")
        else:
            bend = re.fullmatch(r"radius (.+) at (.+)", cells["tightest bend"])
            assert bend is not None
            # A whole inch that is short by the last of seven figures is a whole inch.
            assert is_rounded(bend[1], row["tightest_radius_mm"] * (1 + 1e-6), unit, "down")
            assert is_rounded(bend[2], row["tightest_at_mm"], unit, "nearest")
            if row["least_radius_mm"] is None:
                assert cells["least radius"] == "no bend"
            else:
                assert is_rounded(cells["least radius"], row["least_radius_mm"], unit, "up")
        if row["widest_mm"] is None:
            assert cells["passes up to"] == "any"
        elif cells["passes up to"] == "none":
            assert row["widest_mm"] < WIDTH_STEP[unit]
        else:
            assert is_rounded(cells["passes up to"], row["widest_mm"], unit, "down", WIDTH_STEP)
            assert mm(cells["passes up to"], unit) > 0


def test_the_patterns_tried_are_of_every_sort() -> None:
    cells = [row for pattern in map(pattern_of, NAMES) for row in rows(pattern.table())]
    assert {row["verdict"] for row in cells} == {"lies flat", "needs easing", "too tight"}
    assert {row["made as"] for row in cells} == {
        "folded strip",
        "sewn tube",
        "rolled strip",
        "turned template",
    }
    assert {"none", "any"} < {row["passes up to"] for row in cells}
    assert {"no bend", "-"} < {row["least radius"] for row in cells}
    assert "straight" in {row["tightest bend"] for row in cells}


def test_a_width_that_passes_is_never_wider_than_it_may_be() -> None:
    pattern = pattern_of("garden")
    for unit in ("in", "mm"):
        for cells, piece in zip(rows(pattern.table(unit)), pattern.pieces, strict=True):
            text, check = cells["passes up to"], piece.check
            if text not in ("none", "any") and bd.to_mm(text) < check.length:
                again = bd.check_stem(piece.centreline, text, check.making, check.cloth, check.off_bias)
                assert again.passes


# --- round about the rows ----------------------------------------------------------------------------------------


@each
@both
def test_totals_are_rounded_up_and_complete(name: str, unit: str) -> None:
    pattern = pattern_of(name)
    lines = [line for line in pattern.table(unit).splitlines() if line.startswith("Bias to cut ")]
    assert len(lines) == len(pattern.bias_length)
    for line, (width, total) in zip(lines, pattern.bias_length.items(), strict=True):
        found = re.fullmatch(r"Bias to cut (.+) wide: (.+) in all, before joins and waste", line)
        assert found is not None
        assert is_width(found[1], width, unit)
        assert is_rounded(found[2], total, unit, "up")


@both
def test_the_title_says_what_was_drawn_and_on_which_cloth(unit: str) -> None:
    title, cloth, blank = pattern_of("garden").table(unit).splitlines()[:3]
    size = {"in": "12 x 8 1/4 in", "mm": "305 x 210 mm"}[unit]
    assert title == f"drawing: {size}, 8 stems"
    assert cloth == (
        "Cloth: quilting cotton (stretches 0.2, eases 0.08 on the bias); "
        "lawn (stretches 0.1, eases 0.04 on the bias)"
    )
    assert "Cut 45 degrees off the true bias: zigzag, rod" in pattern_of("garden").table(unit).splitlines()
    assert blank == ""


def test_one_stem_is_one_stem() -> None:
    made = bd.Drawing("row", (254, 127), stems=(bd.Stem("pea", bd.Curve.from_points([(0, 9), (200, 9)])),))
    assert bd.draft_pattern(made).table().splitlines()[0] == "row: 10 x 5 in, 1 stem"


@each
@both
def test_tight_stems_are_told_with_their_advice(name: str, unit: str) -> None:
    pattern = pattern_of(name)
    text = pattern.table(unit)
    tight = [check for check in pattern.checks if not check.passes]
    if not tight:
        assert "\nEvery stem goes round its bends.\n" in text
        return
    many = "1 stem is" if len(tight) == 1 else f"{len(tight)} stems are"
    advice = "".join(f"\n  {check.stem}: {check.advice_in(unit)}" for check in tight)
    assert f"\n{many} too tight:{advice}\n" in text


@each
def test_no_note_is_lost(name: str) -> None:
    pattern = pattern_of(name)
    text = pattern.table()
    if pattern.notes:
        assert f"\nNotes ({len(pattern.notes)}):\n" in text
    else:
        assert "Notes" not in text
    assert [line[2:] for line in text.splitlines() if line[2:] in map(str, pattern.notes)] == [
        str(note) for note in pattern.notes
    ]


@each
def test_the_cautions_are_there(name: str) -> None:
    assert pattern_of(name).table().endswith(f"\n\n{CAUTION_LINE}")
    for word in ("cutters", "irons", "steam", "pins", "needles", "children"):
        assert word in CAUTION_LINE


def test_only_inches_or_only_millimetres() -> None:
    for pattern in map(pattern_of, NAMES):
        metric, inches = pattern.table("mm"), pattern.table("in")
        for row in rows(metric):
            assert not any(re.search(r"\d in\b", cell) for cell in row.values())
        for row in rows(inches):
            assert not any(re.search(r"\d mm\b", cell) for cell in row.values())


@pytest.mark.parametrize("bad", ["cm", "inches", "", None, 25.4])
def test_other_units_are_refused(bad: Any) -> None:
    with pytest.raises(bd.LengthError, match="tables are in 'in' or 'mm', not"):
        pattern_of("garden").table(bad)


@pytest.mark.parametrize(
    ("length", "unit", "rounding", "text"),
    [
        (101.6, "in", "up", "4 in"),
        (101.61, "in", "up", "4 1/8 in"),
        (101.59, "in", "down", "3 7/8 in"),
        (11.1, "mm", "down", "11 mm"),
        (11.1, "mm", "up", "12 mm"),
        (11.5, "mm", "nearest", "12 mm"),
        (1.5875, "in", "nearest", "1/8 in"),
    ],
)
def test_lengths_as_tables_write_them(length: float, unit: str, rounding: str, text: str) -> None:
    assert length_text(length, unit, rounding) == text


# --- the same in a notebook --------------------------------------------------------------------------------------


class Cells(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.rows: list[list[str]] = []
        self.below: list[str] = []
        self.put: Callable[[str], None] | None = None

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        del attrs
        if tag == "tr":
            self.rows.append([])
        if tag in ("th", "td"):
            self.rows[-1].append("")
        if tag == "p":
            self.below.append("")
        self.tag = tag

    def handle_data(self, data: str) -> None:
        if self.tag in ("th", "td"):
            self.rows[-1][-1] += data
        elif self.tag == "p":
            self.below[-1] += data


@each
def test_a_notebook_shows_the_same_table(name: str) -> None:
    pattern = pattern_of(name)
    html = pattern._repr_html_()
    assert html is not None
    parser = Cells()
    parser.feed(html)
    text = pattern.table()
    assert parser.rows[0] == HEADINGS
    assert parser.rows[1:] == [list(row.values()) for row in rows(text)]
    lines = [line.strip() for line in text.splitlines()]
    below = [line.strip() for line in parser.below]
    assert set(below) < set(lines)
    assert [str(note) for note in pattern.notes] == below[len(below) - len(pattern.notes) :]


def test_straight_and_endless_are_words_not_numbers() -> None:
    for pattern in map(pattern_of, NAMES):
        for unit in ("in", "mm"):
            text = pattern.table(unit)
            assert "inf" not in text
            assert "nan" not in text
    assert math.isinf(pattern_of("garden")["rod"].check.widest)
