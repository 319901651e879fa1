"""Style sheets: which rule applies (CSS Cascading Level 3, section 6; Selectors Level 3, sections 5 to 9)."""

from __future__ import annotations

import io
import time

import pytest

from bias_drafting.drawing.css import cascade_of, parse_declarations
from bias_drafting.drawing.read import read_drawing
from bias_drafting.drawing.xml_tree import Element, parse_xml
from bias_drafting.errors import DrawingError

TREE = """<svg><style>{sheet}</style>
<g id="beans" class="layer climbing"><g class="row"><path id="vine" class="stem wide" data-cloth="green"/>
<path id="last" class="leaf"/></g></g><circle class="stem"/></svg>"""


def found(root: Element, its_id: str) -> Element:
    waiting = [root]
    while waiting:
        element = waiting.pop()
        if element.attributes.get("id") == its_id:
            return element
        waiting += element.children
    pytest.fail(its_id)


def stroke(sheet: str, its_id: str = "vine") -> str | None:
    root = parse_xml(TREE.format(sheet=sheet.replace("<", "&lt;").replace(">", "&gt;")))
    declared = cascade_of(root).declared(found(root, its_id))
    return declared["stroke"].value if "stroke" in declared else None


@pytest.mark.parametrize(
    "selector",
    [
        "*",
        "path",
        ".stem",
        ".wide.stem",
        "#vine",
        "path#vine.stem",
        "g path",
        "#beans path",
        "svg .row > path",
        "g>g>path",
        ".layer .stem",
        "g g .stem",
        "[data-cloth]",
        "[data-cloth=green]",
        "[data-cloth='green']",
        '[class~="wide"]',
        "[id^=vi]",
        "[id$=ne]",
        "[id*=in]",
        "path:first-child",
        ":root path",
        "line, .stem",
        "/* hops */ .stem /* peas */",
    ],
)
def test_selectors_that_mean_the_vine(selector: str) -> None:
    assert stroke(selector + "{stroke:green}") == "green"


@pytest.mark.parametrize(
    "selector",
    [
        "line",
        ".leaf",
        "#beans",
        "path.leaf",
        "svg > path",
        "circle path",
        ".row .layer path",
        "path path",
        "[data-cloth=red]",
        "[class=stem]",
        "path:last-child",
        "path:hover",
        "path:root",
        "#beans > path",
        "PATH",
        ".Stem",
    ],
)
def test_selectors_that_do_not(selector: str) -> None:
    assert stroke(selector + "{stroke:green}") is None


@pytest.mark.parametrize(
    ("sheet", "value"),
    [
        # The examples of Selectors Level 3, section 9, by weight: an id outweighs any number of classes.
        (".stem{stroke:red} path{stroke:blue}", "red"),
        ("#vine{stroke:red} .stem.wide.stem{stroke:blue}", "red"),
        (".stem{stroke:red} .wide{stroke:blue}", "blue"),
        ("g path{stroke:red} path{stroke:blue}", "red"),
        ("g path{stroke:red} .stem{stroke:blue}", "blue"),
        ("*{stroke:red} path{stroke:blue} *{stroke:teal}", "blue"),
        ("path{stroke:red !important} #vine{stroke:blue}", "red"),
        ("path{stroke:red !important;stroke:blue}", "red"),
        ("#vine{stroke:red !important} path{stroke:blue!important}", "red"),
        ("[data-cloth]{stroke:red} path{stroke:blue}", "red"),
        ("path:first-child{stroke:red} path{stroke:blue}", "red"),
        ("path{stroke:red} @media screen {path{stroke:blue}}", "blue"),
        ("path{stroke:red} @media print {path{stroke:blue}}", "red"),
        ("path{STROKE:red}", "red"),
        ("path{stroke:red;;;}", "red"),
        ("path{stroke:red} path{fill}", "red"),
        ('@charset "utf-8"; path{stroke:red}', "red"),
        ("<!-- path{stroke:red} -->", "red"),
    ],
)
def test_the_weightier_rule_wins(sheet: str, value: str) -> None:
    assert stroke(sheet) == value


@pytest.mark.parametrize(
    ("sheet", "what", "why"),
    [
        ("a + b{stroke:red}", "its rule for 'a + b' is left out", "what stands beside an element"),
        ("a ~ b{}", "its rule for 'a ~ b' is left out", "what stands beside"),
        (
            "path:nth-child(2){}",
            "its rule for 'path:nth-child(2)' is left out",
            "':nth-child()' is not known here",
        ),
        ("path:is(a){}", "its rule for", "':is()' is not known here"),
        ("path:empty{}", "its rule for 'path:empty' is left out", "':empty' is not known here"),
        ("{}", "its rule for '' is left out", "is empty"),
        ("a,{}", "its rule for 'a,' is left out", "is empty"),
        ("*}|path {x: y}", "its rule for", "the namespace 'None' is not that of SVG"),
        ("scale(0)|path {x: y}", "its rule for", "the namespace 'None' is not that of SVG"),
        ("[cla}ss] {x: y}", "its rule for '[cla}ss]' is left out", "cannot be read"),
        ("a >{}", "its rule for 'a >' is left out", "cannot be read"),
        (".{}", "its rule for '.' is left out", "a name is wanted after '.'"),
        ("[a!=b]{}", "its rule for '[a!=b]' is left out", "a test of an attribute"),
        ('@import "beans.css";', 'its @import "beans.css" is left out', "only plain rules"),
        ("@supports (x:y){a{}}", "its @supports (x:y) is left out", "only plain rules"),
        ("path{stroke:red} }", "read in part", "broken"),
    ],
)
def test_what_is_not_read_is_told(sheet: str, what: str, why: str) -> None:
    root = parse_xml(TREE.format(sheet=sheet.replace("<", "&lt;").replace(">", "&gt;")))
    remarks = cascade_of(root).remarks
    assert any(what in said and why in because for _, said, because in remarks), remarks


@pytest.mark.parametrize(
    "text",
    [
        "stroke:red;fill:none",
        " stroke : red ; fill : none ; ",
        "stroke:red!important;fill:none",
        "/* a;b:c */ stroke:red; fill:none",
        "STROKE:red;fill:none",
        "stroke:blue;stroke:red;fill:none",
        "stroke:red!important;stroke:blue;fill:none",
    ],
)
def test_declarations(text: str) -> None:
    declared = parse_declarations(text)
    assert {name: declaration.value for name, declaration in declared.items()} == {
        "stroke": "red",
        "fill": "none",
    }
    assert declared["stroke"].important is ("!" in text)


def width_of(body: str, sheet: str) -> float | None:
    text = f"""<svg width="90mm" height="90mm" viewBox="0 0 90 90"><style>{sheet}</style>{body}</svg>"""
    return read_drawing(io.StringIO(text)).shapes[0].stroke_width


@pytest.mark.parametrize(
    ("attributes", "sheet", "width"),
    [
        ('stroke-width="2"', ".s{stroke-width:3}", 3),
        ('stroke-width="2"', "*{stroke-width:3}", 3),
        ('style="stroke-width:4"', "#v{stroke-width:3}", 4),
        ('style="stroke-width:4"', "#v{stroke-width:3!important}", 3),
        ('style="stroke-width:4!important"', "#v{stroke-width:3!important}", 4),
        ("", "g{stroke-width:5}", 5),
        ('stroke-width="2"', "g{stroke-width:5}", 2),
        ("", "g{stroke-width:5} .s{stroke-width:inherit}", 5),
        ("", "svg{--wide:6} .s{stroke-width:var(--wide)}", 6),
        ("", ".s{stroke-width:var(--none, 7)}", 7),
        ("", "svg{--a:var(--b);--b:8} .s{stroke-width:var(--b)}", 8),
        ("", ".s{stroke-width:10mm}", 10 / 25.4 * 96),
    ],
)
def test_sheets_attributes_and_styles(attributes: str, sheet: str, width: float) -> None:
    body = f'<g><path id="v" class="s" d="M1 1h5" stroke="green" {attributes}/></g>'
    assert width_of(body, sheet) == pytest.approx(width)


@pytest.mark.parametrize(
    "paint",
    [
        "url(#g)",
        "url(#g) none",
        "nonsense(1)",
        "rgba(1,2,3,0)",
        "#0000",
        "#12345600",
        "hsla(90, 50%, 50%, 0)",
        "rgb(0 0 0 / 0%)",
    ],
)
def test_a_clear_colour_paints_nothing(paint: str) -> None:
    assert width_of('<path d="M1 1h5v5"/>', f"path{{stroke:{paint}}}") is None


@pytest.mark.parametrize("paint", ["rgba(1,2,3,.5)", "#000f", "#123", "currentColor", "url(#g) red"])
def test_any_other_colour_does(paint: str) -> None:
    assert width_of('<path d="M1 1h5v5"/>', f"path{{stroke:{paint}}}") == 1


def test_geometry_may_come_from_a_sheet() -> None:
    text = """<svg width="90mm" height="90mm" viewBox="0 0 90 90"><style>circle{r:9px;cx:20px} line{x2:50px}
    path{d:path("M0 0H7")} rect{display:none}</style><g stroke="red"><circle cy="20"/><line x2="5"/><path d="M0 0h3"/>
    <rect width="3" height="3"/></g></svg>"""
    circle, line, path = read_drawing(io.StringIO(text)).shapes
    assert circle.curves[0].bounds == pytest.approx((11, 11, 29, 29))
    # What is no property of CSS no sheet can set.
    assert line.curves[0].length == 5
    assert path.curves[0].length == 7


def test_the_size_of_the_page_may_come_from_a_sheet() -> None:
    text = (
        '<svg viewBox="0 0 4 2"><style>svg{width:4in;height:2in}</style><path d="M0 0h4" stroke="red"/></svg>'
    )
    assert read_drawing(io.StringIO(text)).size == pytest.approx((101.6, 50.8))


def test_a_sheet_of_another_kind_or_for_print_is_left_alone() -> None:
    sheets = '<style type="text/less">path{stroke-width:3}</style><style media="print">path{stroke-width:4}</style>'
    text = f'<svg width="9mm" height="9mm" viewBox="0 0 9 9">{sheets}<path d="M0 0h4" stroke="red"/></svg>'
    drawing = read_drawing(io.StringIO(text))
    assert drawing.shapes[0].stroke_width == 1
    assert "its type is text/less" in str(drawing.notes[0])


def test_long_selectors_on_deep_trees_take_no_time() -> None:
    deep, begin = 190, time.perf_counter()
    sheet = " ".join(["g"] * 150) + " line{stroke:red}"
    text = f'<svg width="9mm" height="9mm"><style>{sheet}</style>{"<g>" * deep}<path/>{"</g>" * deep}</svg>'
    cascade_of(parse_xml(text))
    # Trying all ways to hang 150 groups on 190 would never end.
    assert time.perf_counter() - begin < 30


def test_too_many_rules_are_refused() -> None:
    with pytest.raises(DrawingError, match="more than 20,000 rules"):
        cascade_of(parse_xml(f"<svg><style>{'a{} ' * 20_001}</style></svg>"))


def test_too_many_rules_for_the_elements_are_refused() -> None:
    rules = "".join(f"[q{k}] {{x: y}}" for k in range(2000))
    with pytest.raises(DrawingError, match="too many rules for so many elements"):
        read_drawing(
            io.StringIO(f'<svg width="9mm" height="9mm"><style>{rules}</style>{"<g/>" * 10_000}</svg>')
        )


@pytest.mark.parametrize(
    ("media", "width", "note"),
    [
        ("(max-width: 600px)", 3, "its rules for ('max-width: 600px') apply, because what is not known here"),
        ("screen and (min-width: 1px), print", 3, "its rules for ('min-width: 1px') apply"),
        ("screen, (min-width: 1px)", 3, ""),
        ("print and (min-width: 1px)", 1, ""),
        ("not screen", 1, ""),
        ("(prefers-color-scheme: dark)", 1, ""),
        ("not (prefers-color-scheme: dark)", 3, ""),
    ],
)
def test_media(media: str, width: float, note: str) -> None:
    sheet = f"<style>@media {media} {{path {{stroke-width: 3}}}}</style>"
    text = f'<svg width="9mm" height="9mm" viewBox="0 0 9 9">{sheet}<path d="M0 0h4" stroke="red"/></svg>'
    drawing = read_drawing(io.StringIO(text))
    assert drawing.shapes[0].stroke_width == width
    assert [note in str(told) for told in drawing.notes] == [True] * bool(note)


def test_style_sheets_in_other_files_are_told() -> None:
    link = '<h:link xmlns:h="http://www.w3.org/1999/xhtml" rel="stylesheet" href="b.css"/>'
    text = f"""<?xml-stylesheet type="text/css" href="beans.css"?>
    <svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm">{link}<path d="M0 0h4" stroke="red"/></svg>"""
    told = [str(note) for note in read_drawing(io.StringIO(text)).notes]
    assert told == [
        f"line {line}, style: left out, because it stands in another file; put its rules into this one"
        for line in (1, 2)
    ]
