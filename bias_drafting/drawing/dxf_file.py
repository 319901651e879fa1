"""The file behind a DXF drawing: its bytes as a document, where in it each entity begins, and its units."""

from __future__ import annotations

import io
import logging
import math
import re
import threading
from collections import deque
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from bias_drafting.drawing.drawing import Note
from bias_drafting.errors import DrawingError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from ezdxf.document import Drawing as Document
    from ezdxf.entities.dxfentity import DXFEntity

__all__ = ["DxfFile", "is_dxf", "open_dxf"]

# How a file in text begins: perhaps with comments.
_TEXT_START = re.compile(rb"(?:\xef\xbb\xbf)?\s*(?:999[ \t]*\r?\n[^\n]*\n\s*)*0[ \t]*\r?\n\s*SECTION")
_BINARY = b"AutoCAD Binary DXF\r\n\x1a\x00"
_UTF_16 = (b"\xff\xfe", b"\xfe\xff")
_CODE_PAGE = re.compile(rb"\$DWGCODEPAGE\s+3\s+([!-~]+)")
_VERSION = re.compile(rb"\$ACADVER\s+1\s+(AC\d{4})")
# More notes of the library than this help nobody.
_MOST_TOLD = 40
_INCH = 25.4
_SURVEY_FOOT = 1200 / 3937 * 1000
_AU = 149_597_870_700e3
# $INSUNITS of the DXF reference, 21 to 24 since its 2017 edition: name and millimetres. The foot and inch are those
# of 1959; the foot of survey is 1200/3937 m; astronomical unit, light year and parsec are as the International
# Astronomical Union has them.
_UNITS = {
    1: ("inches", _INCH),
    2: ("feet", 12 * _INCH),
    3: ("miles", 63_360 * _INCH),
    4: ("millimetres", 1.0),
    5: ("centimetres", 10.0),
    6: ("metres", 1e3),
    7: ("kilometres", 1e6),
    8: ("microinches", 1e-6 * _INCH),
    9: ("mils", 1e-3 * _INCH),
    10: ("yards", 36 * _INCH),
    11: ("angstroms", 1e-7),
    12: ("nanometres", 1e-6),
    13: ("microns", 1e-3),
    14: ("decimetres", 100.0),
    15: ("decametres", 1e4),
    16: ("hectometres", 1e5),
    17: ("gigametres", 1e12),
    18: ("astronomical units", _AU),
    19: ("light years", 9_460_730_472_580_800e3),
    20: ("parsecs", _AU * 648_000 / math.pi),
    21: ("US survey feet", _SURVEY_FOOT),
    22: ("US survey inches", _SURVEY_FOOT / 12),
    23: ("US survey yards", _SURVEY_FOOT * 3),
    24: ("US survey miles", _SURVEY_FOOT * 5280),
}
# What belongs to the entity before it and is no entity of its own.
_PARTS = frozenset({"VERTEX", "ATTRIB", "SEQEND"})


# Numbers that the library sets right by itself: the entity and the group code, when, what it does, and why.
_NO_SCALE = (lambda x: abs(x) <= 1e-12, "read at scale 1", "the file has a scale of 0, which means nothing")
_CHANGED: dict[tuple[str, int], tuple[Callable[[float], bool], str, str]] = {
    ("INSERT", 41): _NO_SCALE,
    ("INSERT", 42): _NO_SCALE,
    ("ELLIPSE", 40): (
        lambda x: not 1e-6 <= abs(x) <= 1 + 1e-9,
        "read with the nearest ratio of its axes that is allowed",
        "the file has one that is not from 0.000001 to 1",
    ),
}


@dataclass(slots=True)
class DxfFile:
    """A file as ezdxf reads it.

    Attributes
    ----------
    document
        The drawing.
    units, mm
        Name and length in mm of its unit.
    notes
        What was assumed in reading it.
    """

    document: Document
    units: str
    mm: float
    notes: list[Note]
    lines: dict[str, int]

    def line_of(self, entity: DXFEntity) -> int | None:
        """Return the line of the file where an entity begins, counted from 1; None where that is not known."""
        return self.lines.get(str(entity.dxf.get("handle", "")).upper())


def is_dxf(start: bytes) -> bool:
    """Whether a file that starts so is a DXF file, in text or binary."""
    return start.startswith(_BINARY) or _TEXT_START.match(start) is not None


def open_dxf(content: bytes) -> DxfFile:
    """Read the bytes of a DXF file, text or binary.

    Raises
    ------
    DrawingError
        The optional library is missing; the file is no DXF, is cut short or broken.
    """
    try:
        import ezdxf  # noqa: F401 - says early whether it is there
    except ImportError as error:
        msg = 'DXF is read with the library ezdxf; install it with: pip install "bias_drafting[dxf]"'
        raise DrawingError(msg) from error
    notes: list[Note] = []
    with _told_in(notes):
        document, watch = _loaded(content, notes)
    if "Model" not in document.layouts:
        msg = "it is broken (it has no model space)"
        raise DrawingError(msg)
    notes += watch.notes
    _note_lost(document, watch, notes)
    units, mm = _units_of(document, watch, notes)
    return DxfFile(document, units, mm, notes, _lines_by_handle(document, watch))


class _Counting:
    """A text as a stream of lines that knows how many have been read."""

    def __init__(self, text: str) -> None:
        self.stream = io.StringIO(text)
        self.number = 0

    def readline(self) -> str:
        self.number += 1
        return self.stream.readline()


@dataclass(slots=True)
class _Watch:
    """What is seen of a file's tags as they go by, for what the document does not tell.

    ``lines`` by handle; ``entities`` are the lines of the entities of section ENTITIES that are no part of another;
    ``header`` are the names of the settings that the file itself makes; ``notes`` tell of numbers that the library
    changes without a word.
    """

    lines: dict[str, int] = field(default_factory=dict)
    entities: list[int] = field(default_factory=list)
    header: set[str] = field(default_factory=set)
    notes: list[Note] = field(default_factory=list)

    def over(self, tags: Iterable[tuple[int, Any]], stream: _Counting | None = None) -> Iterator[Any]:
        """Pass tags on, and see what they are."""
        section, kind, line, nameless = "", "", 0, True
        for tag in tags:
            code, value = tag
            if code == 0:
                kind, nameless = str(value).strip(), True
                line = stream.number - 1 if stream else 0
                if kind == "ENDSEC":
                    section = ""
                elif section == "ENTITIES" and kind not in _PARTS:
                    self.entities.append(line)
            elif code == 2 and kind == "SECTION":
                section, kind = str(value).strip(), ""
            elif code == 5 and nameless:
                nameless = False
                self.lines[str(value).strip().upper()] = line
            elif code == 9 and section == "HEADER":
                self.header.add(str(value).strip())
            elif (kind, code) in _CHANGED:
                wrong, what, why = _CHANGED[kind, code]
                if wrong(_number(value)) and len(self.notes) < _MOST_TOLD:
                    self.notes.append(Note(kind, line or None, what, why))
            yield tag


def _number(value: Any) -> float:
    try:
        return float(value)
    except (TypeError, ValueError):
        return math.nan  # the library will say so


def _loaded(content: bytes, notes: list[Note]) -> tuple[Document, _Watch]:
    from ezdxf.document import Drawing as Document
    from ezdxf.lldxf.tagger import ascii_tags_loader, binary_tags_loader

    binary = content.startswith(_BINARY)
    text = "" if binary else _decoded(content, notes).replace("\r\n", "\n").replace("\r", "\n")
    if not binary and "SECTION" not in (line.strip() for line in text[:4000].split("\n")):
        msg = "it is not DXF: it does not begin with a section"
        raise DrawingError(msg)
    stream = _Counting(text)
    tags: Any = binary_tags_loader(content) if binary else ascii_tags_loader(stream)  # type: ignore[arg-type]
    watch = _Watch()
    try:
        return Document.load(watch.over(tags, None if binary else stream)), watch
    except Exception as error:
        # The library raises errors of every kind on broken files. It can repair what is whole.
        if binary or not text.rstrip().endswith("EOF"):
            msg = f"it is broken or cut short ({_said(error)})"
            raise DrawingError(msg) from error
        return _repaired(content, text, error, notes)


def _repaired(content: bytes, text: str, first: Exception, notes: list[Note]) -> tuple[Document, _Watch]:
    """Read a file that is whole but breaks the rules, and say what was done about it."""
    from ezdxf import recover

    if content.startswith(_UTF_16):
        content = text.encode("utf-8", "replace")
    try:
        document, audit = recover.read(io.BytesIO(content))
    except Exception as error:
        msg = f"it is broken ({_said(first)})"
        raise DrawingError(msg) from error
    watch = _Watch()
    lines = text.split("\n")
    pairs = ((code.strip(), value.strip()) for code, value in zip(lines[::2], lines[1::2], strict=False))
    deque(watch.over((int(code) if code.isdecimal() else -1, value) for code, value in pairs), maxlen=0)
    notes.append(Note("file", None, "repaired in reading", f"it breaks the rules of DXF ({_said(first)})"))
    for said in dict.fromkeys(entry.message for entry in (*audit.fixes, *audit.errors)):
        _add_told(notes, "repaired in reading", said)
    return document, watch


def _said(error: Exception) -> str:
    """Return what an error of the library says, on one short line."""
    return _one_line(str(error)) or type(error).__name__


def _one_line(text: str) -> str:
    line = " ".join(text.split())
    return line if len(line) <= 160 else f"{line[:157]}..."


# Texts


def _decoded(content: bytes, notes: list[Note]) -> str:
    """Return a file's text; the DXF reference has UTF-8 since 2007 and a code page of the file's choice before.

    What reads as UTF-8 is so, whatever it says it is: text of a code page hardly ever does.
    """
    from ezdxf.tools.codepage import toencoding

    if content.startswith(_UTF_16):
        return content.decode("utf-16", "replace")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        found = _CODE_PAGE.search(content[:100_000])
        encoding = toencoding(found[1].decode("ascii", "replace")) if found else "cp1252"
    text = content.decode(encoding, "replace")
    new = _VERSION.search(content[:100_000])
    if (new and new[1] >= b"AC1021") or "\ufffd" in text:
        why = "it is not the text it says it is; names may be spelt wrong"
        notes.append(Note("file", None, f"read as text in {encoding}", why))
    return text


@contextmanager
def _told_in(notes: list[Note]) -> Iterator[None]:
    """Write down in notes what the library warns of in this thread, instead of on the terminal."""
    handler = _Teller(notes)
    logger = logging.getLogger("ezdxf")
    logger.addHandler(handler)
    try:
        yield
    finally:
        logger.removeHandler(handler)


class _Teller(logging.Handler):
    def __init__(self, notes: list[Note]) -> None:
        super().__init__(logging.WARNING)
        self.notes = notes
        self.thread = threading.get_ident()

    def emit(self, record: logging.LogRecord) -> None:
        if record.thread == self.thread:
            _add_told(self.notes, "read all the same", record.getMessage())


def _add_told(notes: list[Note], what: str, said: str) -> None:
    """Add a note, of which there are not too many."""
    if len(notes) < _MOST_TOLD:
        notes.append(Note("file", None, what, _one_line(said)))
    elif len(notes) == _MOST_TOLD:
        notes.append(Note("file", None, "read with more notes than are given here", "there are very many"))


# What the document does not tell


def _note_lost(document: Document, watch: _Watch, notes: list[Note]) -> None:
    """Note entities that are in the file but not in the document."""
    missing = len(watch.entities) - _count(document)
    if missing > 0:
        many = "an entity was" if missing == 1 else f"{missing} entities were"
        notes.append(Note("file", None, f"{many} left out", "the reading library could not make it out"))


def _count(document: Document) -> int:
    """Return how many entities of section ENTITIES there are: those of model space and of the active sheet."""
    count = sum(1 for _ in document.modelspace())
    try:
        return count + sum(1 for _ in document.paperspace())
    except Exception:  # noqa: BLE001 - there is none, or its names are broken: it says nothing of what is drawn
        return count


def _lines_by_handle(document: Document, watch: _Watch) -> dict[str, int]:
    """Return the lines on which entities begin; in files without handles, by their order."""
    lines = watch.lines
    entities = list(document.modelspace())
    if not lines and len(entities) == len(watch.entities):
        lines = {str(e.dxf.handle): line for e, line in zip(entities, watch.entities, strict=True)}
    return {handle.upper(): line for handle, line in lines.items() if line}


def _units_of(document: Document, watch: _Watch, notes: list[Note]) -> tuple[str, float]:
    """Return the name and the length in mm of the unit of a file, as it says, or as it says it measures."""

    def told(name: str) -> int | None:
        return _whole(document.header.get(name)) if name in watch.header else None

    code, metric = told("$INSUNITS"), told("$MEASUREMENT") != 0
    if code in _UNITS:
        return _UNITS[code]
    name, mm = _UNITS[4 if metric else 1]
    missing = "it does not say its units" if not code else f"its unit, {code}, is none that DXF knows"
    if told("$MEASUREMENT") is None:
        why = f"{missing}, nor does it say whether it measures in inches"
    else:
        why = f"{missing}, and $MEASUREMENT says {'metric' if metric else 'inches'}"
    others = [
        ("inches", _INCH),
        ("centimetres", 10.0),
        ("px at 96 to the inch", _INCH / 96),
        ("millimetres", 1.0),
    ]
    wrong = ", ".join(f"{size / mm:.6g} for {unit}" for unit, size in others if size != mm)
    why += f"; if that is wrong, give scale=, {wrong} read as {name}"
    notes.append(Note("units", None, f"taken for {name}", why))
    return name, mm


def _whole(value: Any) -> int | None:
    return int(value) if isinstance(value, (int, float)) and math.isfinite(value) else None
