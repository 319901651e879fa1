from __future__ import annotations

import builtins
import dataclasses
import io
import math
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

import bias_drafting as bd

SAMPLES = Path(__file__).resolve().parents[2] / "samples" / "README.md"


def drawn(*stems: str, more: str = "") -> bd.Drawing:
    """A drawing read from paths ``id d data-…``, divided by ``|``."""
    paths = ""
    for text in stems:
        name, d, data = [*text.split("|"), "", ""][:3]
        paths += f'<path id="{name}" d="{d}" fill="none" stroke="green" stroke-width="6" {data}/>'
    return bd.read_drawing(
        io.StringIO(f'<svg width="300mm" height="200mm" viewBox="0 0 300 200">{more}{paths}</svg>')
    )


VINE, HOP, PEA = "vine|M20 40H200", "hop|M20 80C80 60 140 100 220 80", "pea|M20 140A40 40 0 0 1 100 140"
BED = drawn(VINE, HOP, PEA)


# --- what was asked -----------------------------------------------------------------------------------------


def test_what_is_asked_for_all_goes_to_every_stem() -> None:
    cloth = bd.Cloth("lawn", stretch=0.15, ease=0.05)
    pattern = bd.draft_pattern(
        BED, "3/8 in", bd.SewnTube("3/16 in"), cloth, "1/2 in", end_allowance=3, off_bias=8
    )
    for piece in pattern.pieces:
        check = piece.check
        assert (check.width, check.making, check.cloth, check.off_bias) == (
            9.525,
            bd.SewnTube("3/16 in"),
            cloth,
            8,
        )
        assert piece.ends == (3.0, 3.0)
        assert piece.cut_width == pytest.approx(2 * (9.525 + 4.7625))
    assert [piece.stem for piece in pattern.pieces] == ["vine", "hop", "pea"]
    assert pattern.checks == tuple(piece.check for piece in pattern.pieces)
    assert pattern.drawing is BED


def test_each_check_is_the_one_a_stem_gets_by_itself() -> None:
    pattern = bd.draft_pattern(BED, "1/4 in", "turned-template")
    for stem, check in zip(BED.stems, pattern.checks, strict=True):
        assert check == bd.check_stem(stem, "1/4 in", bd.TurnedTemplate())


@pytest.mark.parametrize(
    ("settings", "found"),
    [
        ({"width": "1/2 in"}, {"width": 12.7}),
        ({"width": 5}, {"width": 5.0}),
        ({"making": "rolled-strip"}, {"making": bd.RolledStrip()}),
        ({"making": bd.SewnTube(seam=4)}, {"making": bd.SewnTube(4)}),
        ({"cloth": bd.Cloth("voile")}, {"cloth": bd.Cloth("voile")}),
        ({"off_bias": 12}, {"off_bias": 12}),
        ({"width": 8, "making": "sewn-tube"}, {"width": 8.0, "making": bd.SewnTube()}),
        ({}, {}),
    ],
)
def test_one_stem_may_be_made_otherwise(settings: dict[str, Any], found: dict[str, Any]) -> None:
    pattern = bd.draft_pattern(BED, "1/4 in", per_stem={"hop": settings})
    plain = bd.draft_pattern(BED, "1/4 in")
    assert pattern["vine"].check == plain["vine"].check
    assert pattern["pea"].check == plain["pea"].check
    check = pattern["hop"].check
    for field in ("width", "making", "cloth", "off_bias"):
        assert getattr(check, field) == found.get(field, getattr(plain["hop"].check, field))
    assert [note for note in pattern.notes if "how it is made" not in note.what] == list(plain.notes) == []


def test_ends_of_one_stem() -> None:
    leaf = '<circle id="leaf" cx="20" cy="40" r="15"/>'
    pattern = bd.draft_pattern(
        drawn(VINE, HOP, more=leaf), per_stem={"vine": {"tuck": "1/2 in", "end_allowance": 0}}
    )
    assert pattern["vine"].ends == (12.7, 0.0)
    assert pattern["hop"].ends == (6.35, 6.35)


# --- what cannot be -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("options", "error", "words"),
    [
        ({"width": 0}, bd.LengthError, "the finished width must be more than 0"),
        ({"width": "1/4"}, bd.LengthError, "the finished width: '1/4' has no unit"),
        ({"width": None}, bd.LengthError, "the finished width"),
        ({"making": "knitted"}, bd.ClothError, "'knitted' is not a way of making a stem; possible are"),
        ({"making": 3}, bd.PatternError, "making is a way of making, .*; not 3"),
        ({"making": bd.FoldedStrip}, bd.PatternError, "making is a way of making"),
        ({"making": None}, bd.PatternError, "making is a way of making, .*; not None"),
        ({"cloth": 0.2}, bd.PatternError, "cloth is a Cloth, .*; not 0.2"),
        ({"cloth": None}, bd.PatternError, "cloth is a Cloth, .*; not None"),
        ({"tuck": -3}, bd.LengthError, "the tuck: .* must not be negative, not -3"),
        ({"tuck": "wide"}, bd.LengthError, "the tuck: 'wide' cannot be read"),
        ({"end_allowance": math.nan}, bd.LengthError, "the end allowance: .* must be finite"),
        ({"off_bias": 50}, bd.ClothError, "off_bias must be from 0"),
        ({"per_stem": ["vine"]}, bd.PatternError, r"per_stem is a mapping .*; not \['vine'\]"),
        ({"per_stem": {"vin": {}}}, bd.PatternError, "per_stem: there is no stem 'vin'; the nearest: 'vine'"),
        (
            {"per_stem": {"vine": "3/8 in"}},
            bd.PatternError,
            "per_stem: 'vine' is given '3/8 in'; wanted is a",
        ),
        (
            {"per_stem": {"vine": None}},
            bd.PatternError,
            "per_stem: 'vine' is given None; wanted is a mapping",
        ),
        (
            {"per_stem": {"vine": {"widht": 3}}},
            bd.PatternError,
            "per_stem: 'vine' is given 'widht'; what can be set is width, making, cloth, off_bias, tuck, end_",
        ),
    ],
)
def test_what_cannot_be_is_refused(options: dict[str, Any], error: type[Exception], words: str) -> None:
    with pytest.raises(error, match=words) as caught:
        bd.draft_pattern(BED, **options)
    assert isinstance(caught.value, bd.DraftingError)


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"width": "0 in"}, "the finished width must be more than 0"),
        ({"width": 500}, "it is 2.* long and no longer than its finished width of 500 mm"),
        ({"making": "glued"}, "'glued' is not a way of making"),
        ({"cloth": 7}, "cloth is a Cloth"),
        ({"off_bias": 46}, "off_bias must be from 0"),
        ({"tuck": "1 furlong"}, "the tuck: '1 furlong' has the unknown unit 'furlong'"),
    ],
)
def test_what_cannot_be_for_one_stem_is_refused_by_name(settings: dict[str, Any], words: str) -> None:
    with pytest.raises(bd.DraftingError, match=f"^drawing: hop: .*{words}"):
        bd.draft_pattern(BED, per_stem={"hop": settings})


def test_a_drawing_without_stems() -> None:
    with pytest.raises(bd.PatternError, match="bare earth: the drawing has no stems to draft"):
        bd.draft_pattern(bd.Drawing("bare earth", (100, 100)))


# --- what the drawing says ----------------------------------------------------------------------------------

SAYS = 'data-finished-width="3/8 in" data-making="sewn-tube"'


def test_a_drawing_may_say_how_a_stem_is_made() -> None:
    pattern = bd.draft_pattern(drawn(f"{VINE}|{SAYS}", HOP), "1/4 in")
    check = pattern["vine"].check
    assert (check.width, check.making) == (9.525, bd.SewnTube())
    assert pattern["hop"].check.width == 6.35
    assert [str(note) for note in pattern.notes] == [
        "vine: width set to 3/8 in, because the drawing says data-finished-width",
        "vine: making set to sewn-tube, because the drawing says data-making",
    ]


def test_what_the_call_says_of_one_stem_outweighs_the_drawing() -> None:
    pattern = bd.draft_pattern(drawn(f"{VINE}|{SAYS}"), per_stem={"vine": {"width": 4}})
    check = pattern["vine"].check
    assert (check.width, check.making) == (4, bd.SewnTube())
    assert [str(note) for note in pattern.notes if "how it is made" not in note.what] == [
        "vine: data-finished-width '3/8 in' left aside, because per_stem sets its width",
        "vine: making set to sewn-tube, because the drawing says data-making",
    ]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ('data-finished-width="3/8"', "the finished width: '3/8' has no unit"),
        ('data-finished-width="0 mm"', "the finished width must be more than 0"),
        ('data-finished-width="9 in"', "no longer than its finished width"),
        ('data-making="woven"', "'woven' is not a way of making"),
    ],
)
def test_what_a_drawing_says_wrongly_is_refused_by_name(data: str, words: str) -> None:
    with pytest.raises(bd.DraftingError, match=f"^drawing: vine: .*{words}"):
        bd.draft_pattern(drawn(f"{VINE}|{data}", HOP))


def test_cloths_a_drawing_names_are_left_aside_and_told() -> None:
    pattern = bd.draft_pattern(drawn(f'{VINE}|data-cloth="voile"'))
    assert pattern["vine"].check.cloth == bd.Cloth()
    (note,) = pattern.notes
    assert (note.element, note.what) == ("vine", "data-cloth 'voile' left aside")
    assert "none of quilting cotton, lawn" in note.why


def test_cloths_by_name() -> None:
    said = bd.draft_pattern(drawn(f'{VINE}|data-cloth="Linen"'))
    assert said["vine"].check.cloth == bd.cloth_named("linen")
    assert [(note.element, note.what) for note in said.notes] == [("vine", "cloth set to Linen")]
    told = bd.draft_pattern(drawn(f'{VINE}|data-cloth="linen"'), per_stem={"vine": {"cloth": "wool"}})
    assert told["vine"].check.cloth == bd.cloth_named("wool")
    assert "left aside" in told.notes[0].what
    assert bd.draft_pattern(drawn(VINE), cloth="silk")["vine"].check.cloth == bd.cloth_named("silk")
    with pytest.raises(bd.ClothError, match="'velvet' is not a cloth known here"):
        bd.draft_pattern(drawn(VINE), cloth="velvet")


def test_notes_of_the_reader_come_first_and_none_is_lost() -> None:
    drawing = drawn(f"{VINE}|{SAYS}", more='<text id="label">Beans</text><path id="bud" d="M9 9h5v5"/>')
    assert len(drawing.notes) >= 2
    pattern = bd.draft_pattern(drawing)
    assert pattern.notes[: len(drawing.notes)] == drawing.notes
    assert len(pattern.notes) == len(drawing.notes) + 2


def test_a_stem_that_lies_over_itself_is_told() -> None:
    pattern = bd.draft_pattern(drawn(VINE, "curl|M20 150C200 150 200 60 110 60S20 150 200 150"))
    (note,) = pattern.notes
    assert (note.element, note.what) == (
        "curl",
        "its finished outline lies over itself, and is drawn as one shape",
    )


# --- how much bias ------------------------------------------------------------------------------------------


def test_strip_lengths_are_added_up_for_each_cut_width() -> None:
    drawing = drawn(VINE, HOP, PEA, "bay|M20 180H120", "sage|M150 180H250", "mint|M20 20H100")
    pattern = bd.draft_pattern(
        drawing,
        "1/4 in",
        per_stem={
            "hop": {"width": "1/2 in"},  # folded: cut 1 in
            "pea": {"making": "sewn-tube"},  # 1/4 in in a tube: cut 1 in too
            "bay": {"making": "turned-template"},  # no strip
            "sage": {"making": bd.RolledStrip(), "width": "1/8 in"},  # cut 3/8 in
        },
    )
    inch = 25.4
    line = {"vine": 180.0, "mint": 80.0, "sage": 100.0, "pea": 40 * math.pi}
    hop = BED["hop"].centreline.length
    assert list(pattern.bias_length) == pytest.approx([3 / 8 * inch, inch / 2, inch])
    assert list(pattern.bias_length.values()) == pytest.approx(
        [line["sage"] + 12.7, line["vine"] + line["mint"] + 2 * 12.7, line["pea"] + hop + 2 * 12.7], abs=1e-3
    )
    total = sum(piece.strip_length for piece in pattern.pieces if piece.strip_length is not None)
    assert sum(pattern.bias_length.values()) == pytest.approx(total, rel=1e-12)
    with pytest.raises(TypeError):
        pattern.bias_length[12.7] = 3  # type: ignore[index]


def test_widths_that_differ_by_rounding_are_one() -> None:
    pattern = bd.draft_pattern(BED, "1/4 in", per_stem={"hop": {"width": 6.3500000001}})
    assert list(pattern.bias_length) == [12.7]


def test_templates_take_no_bias() -> None:
    assert dict(bd.draft_pattern(BED, making="turned-template").bias_length) == {}


# --- asking a pattern ---------------------------------------------------------------------------------------


def test_pieces_by_name() -> None:
    pattern = bd.draft_pattern(BED)
    assert pattern["hop"] is pattern.pieces[1]
    with pytest.raises(bd.PatternError, match=r"^drawing: there is no stem 'hopp'; the nearest: 'hop'$"):
        pattern["hopp"]


def test_a_pattern_cannot_be_changed() -> None:
    pattern = bd.draft_pattern(BED)
    with pytest.raises(dataclasses.FrozenInstanceError):
        pattern.order = ()  # type: ignore[misc]


def test_whether_all_passes() -> None:
    assert bd.draft_pattern(BED).passes
    pattern = bd.draft_pattern(BED, per_stem={"pea": {"width": 12}})
    assert not pattern.passes
    assert repr(pattern) == "Pattern('drawing', 3 stems, 1 too tight)"


def test_text_is_the_table() -> None:
    pattern = bd.draft_pattern(BED)
    assert str(pattern) == pattern.table() == pattern.table("in")
    assert pattern.table("mm") != pattern.table()


MAPPING_KEYS = [
    "stem", "verdict", "finished_width_mm", "making", "cloth", "off_bias_deg", "length_mm", "cut_width_mm",
    "strip_length_mm", "tightest_radius_mm", "tightest_at_mm", "tightest_x_mm", "tightest_y_mm", "inner_side",
    "least_radius_mm", "widest_mm", "tight_spots", "start_under", "end_under", "start_added_mm", "end_added_mm",
    "laid", "advice",
]  # fmt: skip


def test_mappings_say_what_the_pieces_say() -> None:
    leaf = '<circle id="leaf" cx="200" cy="40" r="15"/>'
    pattern = bd.draft_pattern(
        drawn(VINE, HOP, PEA, more=leaf),
        per_stem={"pea": {"width": 12}, "hop": {"making": "turned-template"}},
    )
    rows = pattern.to_dicts()
    assert [row["stem"] for row in rows] == ["vine", "hop", "pea"]
    for row, piece in zip(rows, pattern.pieces, strict=True):
        check = piece.check
        assert list(row) == MAPPING_KEYS
        assert row["verdict"] == check.verdict.value
        assert (row["finished_width_mm"], row["cut_width_mm"]) == (check.width, piece.cut_width)
        assert (row["making"], row["cloth"], row["off_bias_deg"]) == (check.making.key, "quilting cotton", 0)
        assert (row["length_mm"], row["strip_length_mm"]) == (piece.centreline.length, piece.strip_length)
        assert (row["tightest_at_mm"], row["inner_side"]) == (check.tightest.s, check.tightest.side)
        assert (row["tightest_x_mm"], row["tightest_y_mm"]) == check.tightest.point
        assert row["tight_spots"] == len(check.spots)
        assert (row["start_added_mm"], row["end_added_mm"]) == piece.ends
        assert pattern.order[row["laid"] - 1] == row["stem"]
        assert row["advice"] == check.advice
    vine, hop, pea = rows
    assert (vine["tightest_radius_mm"], vine["widest_mm"]) == (None, None)
    assert (vine["start_under"], vine["end_under"]) == (None, "leaf")
    assert hop["strip_length_mm"] is None
    assert pea["tightest_radius_mm"] == pytest.approx(40, rel=1e-4)
    assert pea["least_radius_mm"] == pytest.approx(12 * 3.785714, rel=1e-6)
    assert pea["tight_spots"] == 1


def test_mappings_have_no_infinity() -> None:
    pattern = bd.draft_pattern(BED, off_bias=45)
    pea = pattern.to_dicts()[2]
    assert (pea["least_radius_mm"], pea["widest_mm"]) == (None, 0)


def test_a_frame_has_a_row_for_each_stem() -> None:
    pattern = bd.draft_pattern(BED, per_stem={"hop": {"making": "turned-template"}})
    frame = pattern.to_frame()
    assert list(frame.index) == ["vine", "hop", "pea"]
    assert frame.index.name == "stem"
    assert list(frame.columns) == MAPPING_KEYS[1:]
    assert frame.loc["pea", "length_mm"] == pattern["pea"].centreline.length
    assert frame["strip_length_mm"].isna().tolist() == [False, True, False]


def test_without_pandas_the_error_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    real = builtins.__import__

    def without(name: str, *args: Any, **options: Any) -> Any:
        if name == "pandas":
            raise ImportError(name)
        return real(name, *args, **options)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(bd.DraftingError, match=r"needs pandas: pip install 'bias_drafting\[tables\]'"):
        bd.draft_pattern(BED).to_frame()


# --- in a notebook ------------------------------------------------------------------------------------------


class Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        del attrs
        self.tags.append(tag)

    def handle_data(self, data: str) -> None:
        self.text += data


def test_names_do_nothing_in_a_notebook() -> None:
    evil = "<script>alert('beans & peas')</script>"
    curve = bd.Curve.from_svg_path("M20 140A20 20 0 0 1 60 140")
    made = bd.Drawing(
        evil,
        (300, 200),
        stems=(bd.Stem(evil, curve),),
        notes=(bd.Note(evil, 3, "left <b>out</b>", "it is <i>odd</i>"),),
    )
    pattern = bd.draft_pattern(made, cloth=bd.Cloth("<img src=x onerror=alert(1)>"))
    html = pattern._repr_html_()
    assert html is not None
    parser = Tags()
    parser.feed(html)
    assert set(parser.tags) == {"table", "caption", "thead", "tbody", "tr", "th", "td", "p"}
    assert parser.text.count(evil) >= 3
    assert "left <b>out</b>" in parser.text
    assert "<script" not in html


def test_a_notebook_can_show_anything(monkeypatch: pytest.MonkeyPatch) -> None:
    pattern = bd.draft_pattern(BED)
    monkeypatch.setattr("bias_drafting.pattern.table.html_table", lambda _: 1 / 0)
    assert pattern._repr_html_() is None


# --- the samples --------------------------------------------------------------------------------------------


def test_the_bean_wreath_teaches_what_its_notes_say() -> None:
    text = SAMPLES.read_text(encoding="utf-8")
    pattern = bd.draft_pattern(bd.read_sample("bean-wreath"), "1/4 in")
    assert re.search(
        r"^12 stems \(three long vines, three tendrils, six side stems\) and 21 motif", text, re.MULTILINE
    )
    assert len(pattern.pieces) == 12
    assert len(pattern.drawing.motifs) == 21
    by_name = {check.stem: check for check in pattern.checks}
    assert {check.verdict for check in pattern.checks} == set(bd.Verdict)
    assert [check.stem for check in pattern.checks if not check.passes] == ["tendril-1"]
    assert "comes down to a radius of 11.1 mm: too tight" in text
    assert by_name["tendril-1"].tightest.radius == pytest.approx(11.1, abs=0.05)
    assert "`tendril-3` look nearly as bold, but never bend below 26.5 mm" in text
    for name in ("tendril-2", "tendril-3"):
        assert by_name[name].verdict is bd.Verdict.NEEDS_EASING
        assert 26.45 < by_name[name].tightest.radius < 30
    assert "24.0 mm (3.786 widths)" in text
    assert "from 46.7 mm (7.357 widths)" in text
    for check in pattern.checks:
        assert check.least_radius == pytest.approx(6.35 * 3.785714, rel=1e-6)
        assert check.easy_radius == pytest.approx(6.35 * 7.357143, rel=1e-6)
    twice = [c for c in pattern.crossings if {c.over, c.under} == {"bean-vine-1", "bean-vine-2"}]
    assert len(twice) == 2
    free = [p.stem for p in pattern.pieces if {t.end for t in p.tucks} == {"start"}]
    assert free == ["tendril-1", "tendril-2", "tendril-3"]
    assert all(len(p.tucks) == 2 for p in pattern.pieces if p.stem not in free)


def test_the_herb_spray_teaches_what_its_notes_say() -> None:
    text = SAMPLES.read_text(encoding="utf-8")
    pattern = bd.draft_pattern(bd.read_sample("herb-spray"), "1/4 in")
    assert (len(pattern.pieces), len(pattern.drawing.motifs)) == (9, 34)
    assert all(check.verdict is bd.Verdict.LIES_FLAT for check in pattern.checks)
    found = re.search(r"The tightest bend, on\s+`([\w-]+)`, has a radius of (\d+) mm", text)
    assert found is not None
    tightest = min(pattern.checks, key=lambda check: check.tightest.radius)
    assert (tightest.stem, round(tightest.tightest.radius)) == (found[1], int(found[2]))
    straight = [check.stem for check in pattern.checks if math.isinf(check.tightest.radius)]
    assert straight == ["chive-stem-1", "chive-stem-2"]
    free = [p.stem for p in pattern.pieces if not any(t.end == "start" for t in p.tucks)]
    assert len(free) == 7


def test_what_a_way_of_making_has_to_say_is_told_once() -> None:
    pattern = bd.draft_pattern(drawn(VINE, HOP), width="5/16 in")
    told = [str(note) for note in pattern.notes if "look at how it is made" in note.what]
    assert len(told) == 1
    assert told[0].startswith("vine: ")
    assert told[0].endswith(
        "no tape former is made for 5/16 in (7.94 mm); the next are for 6 and 9 mm: press it under two pins"
    )
