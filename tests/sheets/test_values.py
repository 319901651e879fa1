"""The pattern as values for other programs: CSV by RFC 4180, JSON by RFC 8259."""

from __future__ import annotations

import csv
import io
import json
import math
import re
from typing import TYPE_CHECKING, Any

import pytest
from sheet_drawings import drafted

import bias_drafting as bd
from bias_drafting.sheets.values import JSON_VERSION, pattern_csv, pattern_json, pattern_values

if TYPE_CHECKING:
    from collections.abc import Iterator

CASES = [
    ("bean-wreath", {}),
    ("bean-wreath", {"making": "turned-template"}),
    ("herb-spray", {"width": "6 mm", "making": "sewn-tube"}),
    ("pea-curls", {}),
    ("pea-curls", {"off_bias": 45}),
    ("pumpkin", {}),
]
COLUMNS = [
    "stem", "verdict", "finished_width_mm", "making", "cloth", "off_bias_deg", "length_mm", "cut_width_mm",
    "strip_length_mm", "tightest_radius_mm", "tightest_at_mm", "tightest_x_mm", "tightest_y_mm", "inner_side",
    "least_radius_mm", "widest_mm", "tight_spots", "start_under", "end_under", "start_added_mm", "end_added_mm",
    "laid", "advice",
]  # fmt: skip


def expected(pattern: bd.Pattern, piece: bd.Piece) -> dict[str, Any]:
    """Return a row from the pattern's own values, by another way than the sheet's."""
    check = piece.check
    covers = {tuck.end: tuck.under for tuck in piece.tucks}
    row = [
        piece.stem, check.verdict.value, check.width, check.making.key, check.cloth.name, check.off_bias,
        check.length, piece.cut_width, piece.strip_length, check.tightest.radius, check.tightest.s,
        *check.tightest.point, check.tightest.side, check.least_radius, check.widest, len(check.spots),
        covers.get("start"), covers.get("end"), *piece.ends, list(pattern.order).index(piece.stem) + 1, check.advice,
    ]  # fmt: skip
    return dict(zip(COLUMNS, (None if value == math.inf else value for value in row), strict=True))


@pytest.mark.parametrize(("name", "options"), CASES)
def test_csv_reads_back_to_the_values_of_the_pattern(name: str, options: dict[str, Any]) -> None:
    pattern = drafted(name, **options)
    rows = list(csv.reader(io.StringIO(pattern_csv(pattern), newline=""), strict=True))
    assert rows[0] == COLUMNS
    assert len(rows) == len(pattern.pieces) + 1
    for piece, row in zip(pattern.pieces, rows[1:], strict=True):
        for (column, value), cell in zip(expected(pattern, piece).items(), row, strict=True):
            if value is None:
                assert cell == "", column
            elif isinstance(value, str):
                assert cell == value, column
            else:
                assert float(cell) == pytest.approx(value, abs=0.5e-4 + 1e-12), column
                assert re.fullmatch(r"-?\d+(\.\d{1,4})?", cell), column
                assert cell != "-0", column


def test_csv_by_the_letter_of_rfc_4180() -> None:
    """RFC 4180, 2.1: lines end in CR LF; 2.3: a header; 2.4: equal counts of fields; 2.6: commas need quotes."""
    text = pattern_csv(drafted("bean-wreath"))
    assert text.endswith("\r\n")
    assert "\n" not in text.replace("\r\n", "")
    assert "\r" not in text.replace("\r\n", "")
    lines = text.split("\r\n")[:-1]
    assert lines[0] == ",".join(COLUMNS)
    assert all(len(next(csv.reader([line]))) == len(COLUMNS) for line in lines)
    # Advice has commas, so it stands in quotes.
    assert any(line.endswith('"') for line in lines)


def test_units_are_in_the_names_of_columns() -> None:
    # What is not a length, an angle, a count or a text has its unit in its name.
    unitless = {"stem", "verdict", "making", "cloth", "inner_side", "tight_spots", "start_under", "end_under"}
    unitless |= {"laid", "advice"}
    assert all(name in unitless or re.search(r"_(mm|deg)$", name) for name in COLUMNS)


NAMES = [
    "=1+1",
    "+pea",
    "-pea",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    "\n=1",
    "-",
    'hop, "pole"\r\nsecond line',
    "'quoted'",
    "🌱豆の蔓 גפן",
    "\ufeffmark",
    "",
    "a" * 5000,
]


def named(name: str) -> bd.Pattern:
    """Return a pattern of a stem of this name that ends under a motif of the same name and ' leaf'."""
    drawing = bd.Drawing(
        name,
        (100.0, 60.0),
        stems=(bd.Stem(name, bd.Curve.from_svg_path("M20 20c20 0 30 10 50 10")),),
        motifs=(bd.Motif(name + " leaf", bd.Curve.from_svg_path("M10 10h20v20h-20z")),),
    )
    return bd.draft_pattern(drawing, "5 mm", cloth=bd.Cloth(name or "calico"))


@pytest.mark.parametrize("name", NAMES, ids=range(len(NAMES)))
def test_names_survive_the_csv_and_are_never_formulas(name: str) -> None:
    rows = list(csv.DictReader(io.StringIO(pattern_csv(named(name)), newline=""), strict=True))
    assert len(rows) == 1
    # What a spreadsheet would take for a formula gets an apostrophe (OWASP, "CSV Injection").
    guard = "'" if name[:1] in tuple("=+-@\t\r\n") else ""
    assert rows[0]["stem"] == guard + name
    assert rows[0]["cloth"] == guard + (name or "calico")
    assert rows[0]["start_under"] == guard + name + " leaf"
    numbers = [cell for column, cell in rows[0].items() if column.endswith(("_mm", "_deg"))]
    assert all(not cell or math.isfinite(float(cell)) for cell in numbers)


@pytest.mark.parametrize("name", NAMES, ids=range(len(NAMES)))
def test_names_survive_the_json(name: str) -> None:
    values = json.loads(pattern_json(named(name)))
    assert values["drawing"]["source"] == name
    assert values["stems"][0]["stem"] == name
    assert values["stems"][0]["start_under"] == name + " leaf"
    assert values["order"] == [name, name + " leaf"]


def test_negative_places_are_numbers_in_the_csv() -> None:
    """A stem drawn beyond the corner of the page has places less than 0; they are no formulas."""
    stem = bd.Stem("stray", bd.Curve.from_svg_path("M-40 -30c10 0 20 4 30 14"))
    pattern = bd.draft_pattern(bd.Drawing("stray.svg", (50.0, 50.0), stems=(stem,)), "5 mm")
    [row] = csv.DictReader(io.StringIO(pattern_csv(pattern), newline=""))
    assert float(row["tightest_x_mm"]) < 0
    assert not row["tightest_x_mm"].startswith("'")


def keys_in(docstring: str) -> dict[str, set[str]]:
    """Return the keys a docstring documents: those of the top, and those of the parts it lists in a bullet."""
    bullets = re.split(r"^\s*- ", docstring, flags=re.MULTILINE)[1:]
    found: dict[str, set[str]] = {"": set()}
    for bullet in bullets:
        head, _, rest = bullet.partition(":")
        tops = re.findall(r"``([a-z_]+)``", head)
        found[""].update(tops)
        found[tops[0]] = set(re.findall(r"``([a-z_]+)``", rest))
    return found


@pytest.mark.parametrize(("name", "options"), CASES)
def test_json_has_exactly_the_documented_keys(name: str, options: dict[str, Any]) -> None:
    values = json.loads(pattern_json(drafted(name, **options)))
    documented = keys_in(pattern_values.__doc__ or "")
    assert documented[""] == {
        "format", "version", "drawing", "passes", "stems", "order", "crossings", "bias", "notes"
    }  # fmt: skip
    assert set(values) == documented[""]
    assert (values["format"], values["version"]) == ("bias_drafting pattern", JSON_VERSION) == (
        "bias_drafting pattern", 1
    )  # fmt: skip
    assert set(values["drawing"]) == documented["drawing"]
    for part in ("crossings", "bias", "notes"):
        assert all(set(one) == documented[part] for one in values[part])
    paths = {"centreline", "finished", "cutting", "template"}
    spot = {"start_mm", "end_mm", "radius_mm", "excess_mm", "point"}
    for stem in values["stems"]:
        assert list(stem) == [*COLUMNS, "tight_spot_list", "centreline", "finished", "cutting", "template"]
        assert all(set(one) == spot for one in stem["tight_spot_list"])
    assert documented["stems"] == {"tight_spot_list", "least_radius_mm"} | paths | spot


def test_notes_are_in_the_json() -> None:
    vine = '<path id="vine" d="M9 20h99" stroke="green" fill="none"/>'
    text = f'<svg width="9cm" height="5cm"><text>pea</text>{vine}</svg>'
    pattern = bd.draft_pattern(bd.read_drawing(io.StringIO(text)))
    values = json.loads(pattern_json(pattern))
    assert len(pattern.notes) >= 1
    assert [tuple(note.values()) for note in values["notes"]] == [
        (note.element, note.line, note.what, note.why) for note in pattern.notes
    ]
    assert [list(note) for note in values["notes"]] == [["element", "line", "what", "why"]] * len(
        pattern.notes
    )


def leaves(value: Any) -> Iterator[Any]:
    if isinstance(value, dict):
        for inner in value.values():
            yield from leaves(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from leaves(inner)
    else:
        yield value


def refuse(constant: str) -> float:
    raise AssertionError(constant)


@pytest.mark.parametrize(("name", "options"), CASES)
def test_json_round_trips_with_finite_numbers_only(name: str, options: dict[str, Any]) -> None:
    pattern = drafted(name, **options)
    text = pattern_json(pattern)
    # RFC 8259, 6: there is no NaN and no Infinity.
    values = json.loads(text, parse_constant=refuse)
    assert values == pattern_values(pattern)
    assert text.endswith("}\n")
    assert {type(leaf) for leaf in leaves(values)} <= {str, int, float, bool, type(None)}


@pytest.mark.parametrize(("name", "options"), CASES)
def test_json_numbers_are_those_of_the_pattern(name: str, options: dict[str, Any]) -> None:
    pattern = drafted(name, **options)
    values = json.loads(pattern_json(pattern))
    assert values["drawing"] == {"source": pattern.drawing.source, "size_mm": list(pattern.drawing.size)}
    assert values["passes"] is all(c.verdict is not bd.Verdict.TOO_TIGHT for c in pattern.checks)
    assert values["order"] == list(pattern.order)
    for piece, stem in zip(pattern.pieces, values["stems"], strict=True):
        # Exactly: a float written by repr reads back as the same float.
        assert {column: stem[column] for column in COLUMNS} == expected(pattern, piece)
        for spot, told in zip(piece.check.spots, stem["tight_spot_list"], strict=True):
            finite = math.isfinite(spot.excess)
            assert (told["start_mm"], told["end_mm"], told["radius_mm"]) == (
                spot.start,
                spot.end,
                spot.bend.radius,
            )
            assert told["excess_mm"] == (spot.excess if finite else None)
            assert told["point"] == list(spot.bend.point)
            assert finite == math.isfinite(piece.check.least_radius)
    for crossing, told in zip(pattern.crossings, values["crossings"], strict=True):
        assert told["over"] == crossing.over
        assert told["under"] == crossing.under
        assert (told["over_at_mm"], told["under_at_mm"]) == (crossing.s_over, crossing.s_under)
        assert (told["point"], told["angle_deg"]) == (list(crossing.point), crossing.angle)
    assert {b["cut_width_mm"]: b["length_mm"] for b in values["bias"]} == dict(pattern.bias_length)
    # And the totals are the sums of the strips.
    for told in values["bias"]:
        strips = [
            stem["strip_length_mm"]
            for stem in values["stems"]
            if stem["strip_length_mm"] is not None
            and stem["cut_width_mm"] == pytest.approx(told["cut_width_mm"], abs=1e-6)
        ]
        assert told["length_mm"] == pytest.approx(sum(strips), rel=1e-12)


def subpaths(d: str) -> list[bd.Curve]:
    return [bd.Curve.from_svg_path(f"M{part}") for part in d.split("M")[1:]]


@pytest.mark.parametrize(("name", "options"), CASES)
def test_path_data_in_the_json_reads_back_to_the_same_lengths(name: str, options: dict[str, Any]) -> None:
    pattern = drafted(name, **options)
    for piece, stem in zip(pattern.pieces, json.loads(pattern_json(pattern))["stems"], strict=True):
        # Rounded to 0.0001 mm: a handful of segments cannot be off by more than a few thousandths.
        line = bd.Curve.from_svg_path(stem["centreline"])
        assert line.length == pytest.approx(piece.centreline.length, abs=0.002)
        assert line.length == pytest.approx(stem["length_mm"], abs=0.002)
        assert line.closed == piece.centreline.closed
        for key, outline in (
            ("finished", piece.finished),
            ("cutting", piece.cutting),
            ("template", piece.template),
        ):
            if outline is None:
                assert stem[key] is None
                assert piece.strip_length is not None
                continue
            curves = subpaths(stem[key])
            exact = [outline.exterior, *outline.holes]
            assert len(curves) == len(exact)
            for curve, drawn in zip(curves, exact, strict=True):
                assert curve.closed
                assert curve.length == pytest.approx(drawn.length, abs=0.005)
                assert curve.bounds == pytest.approx(drawn.bounds, abs=1e-4)
        if piece.strip_length is not None:
            # A strip is its own length and cut width.
            assert subpaths(stem["cutting"])[0].bounds == pytest.approx(
                (0, 0, piece.strip_length, piece.cut_width), abs=1e-4
            )
