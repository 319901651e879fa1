"""The tree of elements, and files made to do harm."""

from __future__ import annotations

import codecs
import time

import pytest

from bias_drafting.drawing.xml_tree import parse_xml
from bias_drafting.errors import DrawingError


def test_names_attributes_and_lines() -> None:
    root = parse_xml(
        '<?xml version="1.0"?>\n<s:svg xmlns:s="http://www.w3.org/2000/svg" xmlns:e="urn:editor"\n'
        ' width="3">\n<e:note e:label="x"/><s:g\n id="a" e:label="Stems"><s:path/>\n</s:g></s:svg>'
    )
    assert (root.name, root.line, root.attributes) == ("svg", 2, {"width": "3"})
    note, group = root.children
    assert (note.name, note.foreign_name, note.line) == ("", "note", 4)
    assert (group.name, group.line, group.children[0].line) == ("g", 4, 5)
    assert group.by_local_name("label") == ["Stems"]


def test_files_without_a_namespace() -> None:
    assert [child.name for child in parse_xml("<svg><path/></svg>").children] == ["path"]


def test_text_of_titles_and_style_sheets() -> None:
    root = parse_xml(
        "<svg><title>Bean &amp; <!-- vine -->pea&#233;</title><style><![CDATA[a>b{}]]></style><g>x</g></svg>"
    )
    assert [child.text for child in root.children] == ["Bean & peaé", "a>b{}", ""]


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "iso-8859-1", "cp1252"]
)
def test_encodings(encoding: str) -> None:
    declared = {"utf-16-le": "utf-16", "utf-16-be": "utf-16", "utf-8-sig": "utf-8"}.get(encoding, encoding)
    text = f'<?xml version="1.0" encoding="{declared}"?><svg id="pétale"/>'
    mark = {"utf-16-le": codecs.BOM_UTF16_LE, "utf-16-be": codecs.BOM_UTF16_BE}.get(encoding, b"")
    assert parse_xml(mark + text.encode(encoding)).attributes["id"] == "pétale"


def test_text_counts_as_decoded_whatever_it_declares() -> None:
    assert parse_xml('<?xml version="1.0" encoding="utf-16"?><svg id="é"/>').attributes["id"] == "é"


@pytest.mark.parametrize("encoding", ["martian", "utf-7", "shift_jis"])
def test_encodings_that_cannot_be_read(encoding: str) -> None:
    with pytest.raises(DrawingError, match="encoding"):
        parse_xml(f'<?xml version="1.0" encoding="{encoding}"?><svg/>'.encode())


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("<svg>\n<g></svg>", 2),
        ("<svg/>\n<svg/>", 2),
        ("<svg a=1/>", 1),
        ("<svg>\n\n&nbsp;</svg>", 3),
        ("<svg><path e:d=''/></svg>", 1),
        ("<svg>", 1),
        ("<svg>\x00</svg>", 1),
        ("<svg id='a' id='b'/>", 1),
        ("<svg>\ud800</svg>", 1),
    ],
)
def test_xml_that_is_not_well_formed(text: str, line: int) -> None:
    with pytest.raises(DrawingError, match=rf"not well-formed XML: .* \(line {line}\)"):
        parse_xml(text)


@pytest.mark.parametrize(
    "declaration",
    [
        '<!ENTITY a "vine">',
        '<!ENTITY a SYSTEM "file:///etc/hostname">',
        '<!ENTITY % a SYSTEM "http://localhost:1/a.dtd"> %a;',
        '<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">',
    ],
)
def test_entities_are_refused(declaration: str) -> None:
    with pytest.raises(DrawingError, match=r"it declares the entity 'a' \(line 1\)"):
        parse_xml(f"<!DOCTYPE svg [{declaration}]><svg><title>&b;</title></svg>")


def test_a_document_type_of_old_files_is_passed_over_unopened() -> None:
    kind = (
        '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">'
    )
    assert parse_xml(kind + "<svg/>").name == "svg"
    with pytest.raises(DrawingError, match="uses the undeclared entity 'hop'"):
        parse_xml(kind + "<svg><title>&hop;</title></svg>")


def test_nesting_is_limited() -> None:
    assert parse_xml("<svg>" + "<g>" * 199 + "</g>" * 199 + "</svg>").name == "svg"
    with pytest.raises(DrawingError, match=r"nested more than 200 deep \(line 2\)"):
        parse_xml("<svg>\n" + "<g>" * 200)


def test_the_number_of_elements_is_limited(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bias_drafting.drawing.xml_tree._MOST_ELEMENTS", 5)
    assert len(parse_xml("<svg>" + "<g/>" * 4 + "</svg>").children) == 4
    with pytest.raises(DrawingError, match=r"more than 5 elements \(line 1\)"):
        parse_xml("<svg>" + "<g/>" * 5 + "</svg>")


def test_a_long_title_takes_time_in_proportion() -> None:
    def seconds(size: int) -> float:
        text = "<svg><title>" + "bean &amp; " * size + "</title></svg>"
        start = time.perf_counter()
        parse_xml(text)
        return time.perf_counter() - start

    small, large = min(seconds(20_000) for _ in range(3)), min(seconds(200_000) for _ in range(2))
    assert large < 40 * small + 0.05
