"""An XML file as a tree of plain elements that know their line: safe to read, bounded in size.

The standard library's expat does the parsing. Entities cannot be declared here (so none can expand, and no
other file or address is ever opened), and a file cannot be deeper or larger than a drawing ever is.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NoReturn
from xml.parsers import expat

from bias_drafting.errors import DrawingError

__all__ = ["SVG_NAMESPACE", "Element", "parse_xml"]

SVG_NAMESPACE = "http://www.w3.org/2000/svg"
_DEEPEST = 200  # the walk through the tree recurses; drawings nest some ten deep
_MOST_ELEMENTS = 1_000_000  # about half a gigabyte of tree
_MOST_SHEETS = 100  # that are told of
_WITH_TEXT = frozenset({"title", "style"})


@dataclass(slots=True)
class Element:
    """One element.

    Attributes
    ----------
    name
        Local name for an element of SVG, or of no namespace at all; ``""`` for one of another namespace.
    attributes
        By local name for those without a namespace; those with one as ``"namespace local"``.
    line
        Line of the file where it begins, counted from 1.
    children
        The elements within.
    text
        The characters directly within a title or a style sheet; not kept for others.
    foreign_name
        Its local name, if it is of another namespace; ``xml-stylesheet`` for what asks for a style sheet before the
        root, which stands last in it.
    """

    name: str
    attributes: dict[str, str]
    line: int
    children: list[Element] = field(default_factory=list)
    text: str = ""
    foreign_name: str = ""

    def by_local_name(self, local: str) -> list[str]:
        """Return the values of all attributes with this local name, in whatever namespace."""
        return [
            value
            for name, value in self.attributes.items()
            if name.endswith(local) and name.rpartition(" ")[2] == local
        ]


def parse_xml(content: bytes | str) -> Element:
    """Return the root element of an XML document.

    Parameters
    ----------
    content
        The document. Bytes are decoded as their byte order mark or XML declaration says, else as UTF-8; text
        has been decoded already, whatever its declaration says.

    Raises
    ------
    DrawingError
        XML that is not well formed, declares or uses entities, nests more than 200 deep or has more than a
        million elements.
    """
    encoding = "utf-8" if isinstance(content, str) else None
    data = content.encode("utf-8", "surrogatepass") if isinstance(content, str) else content
    builder = _Builder(expat.ParserCreate(encoding, " "))
    try:
        builder.parser.Parse(data, True)
    except expat.ExpatError as error:
        msg = f"it is not well-formed XML: {expat.ErrorString(error.code)} (line {error.lineno})"
        raise DrawingError(msg) from error
    except (LookupError, ValueError) as error:  # an encoding that Python does not know, or cannot map
        if isinstance(error, DrawingError):
            raise
        msg = f"its encoding cannot be read ({error}); save it as UTF-8"
        raise DrawingError(msg) from error
    root = builder.root.children[0]
    root.children += builder.sheets
    return root


class _Builder:
    """Collects elements as expat meets them."""

    def __init__(self, parser: expat.XMLParserType) -> None:
        self.parser = parser
        self.root = Element("", {}, 0)
        self.open = [self.root]
        self.sheets: list[Element] = []
        self.texts: list[str] = []
        self.count = 0
        self.named = False
        parser.buffer_text = True
        # A document type may give elements attributes by default, as many and as long as it likes.
        parser.specified_attributes = True
        parser.StartElementHandler = self.start
        parser.EndElementHandler = self.end
        parser.CharacterDataHandler = self.characters
        parser.ProcessingInstructionHandler = self.instruction
        parser.EntityDeclHandler = self.entity
        parser.SkippedEntityHandler = self.skipped_entity

    def start(self, name: str, attributes: dict[str, str]) -> None:
        line = self.parser.CurrentLineNumber
        self.count += 1
        if len(self.open) > _DEEPEST:
            msg = f"its elements are nested more than {_DEEPEST} deep (line {line})"
            raise DrawingError(msg)
        if self.count > _MOST_ELEMENTS:
            msg = f"it has more than {_MOST_ELEMENTS} elements (line {line})"
            raise DrawingError(msg)
        namespace, _, local = name.rpartition(" ")
        # Where the root is of a namespace, what has none is no element of SVG; old files have none throughout.
        known = namespace == SVG_NAMESPACE or (not namespace and not self.named)
        if self.count == 1:
            self.named = bool(namespace)
        element = Element(local if known else "", attributes, line, foreign_name="" if known else local)
        self.open[-1].children.append(element)
        self.open.append(element)

    def end(self, _name: str) -> None:
        element = self.open.pop()
        if element.name in _WITH_TEXT:
            element.text = "".join(self.texts)
            self.texts.clear()

    def characters(self, text: str) -> None:
        if self.open[-1].name in _WITH_TEXT:
            self.texts.append(text)

    def instruction(self, target: str, _data: str) -> None:
        if target == "xml-stylesheet" and len(self.sheets) < _MOST_SHEETS:
            self.sheets.append(Element("", {}, self.parser.CurrentLineNumber, foreign_name=target))

    def entity(self, name: str, *_rest: object) -> NoReturn:
        line = self.parser.CurrentLineNumber
        msg = f"it declares the entity {name!r} (line {line}); save it without entities"
        raise DrawingError(msg)

    def skipped_entity(self, name: str, *_rest: object) -> NoReturn:
        msg = f"it uses the undeclared entity {name!r} (line {self.parser.CurrentLineNumber})"
        raise DrawingError(msg)
