"""The reader of DXF: what is drawn in a file's model space, in its order, as shapes at true size.

Layers and blocks are the groups. A block's entities are traced once and then placed, by matrices in the plane, as
often as the block is inserted; a cubic's affine image is exact, however uneven the scale. Everything that is left
out or assumed becomes a :class:`Note`, one for all the entities of which the same is to be said.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from bias_drafting.curve import bezier
from bias_drafting.curve.curve import Curve
from bias_drafting.drawing.chains import MEET, closed_up, cut_at_corners, find_runs, laid_end_to_end
from bias_drafting.drawing.drawing import Note, Shape
from bias_drafting.drawing.dxf_blocks import (
    Layer,
    attribute,
    chained,
    clean_name,
    count_placed,
    layer_of,
    placements,
)
from bias_drafting.drawing.dxf_curves import TRACED, Traced, UnreadError, trace
from bias_drafting.drawing.dxf_file import DxfFile, open_dxf
from bias_drafting.drawing.roles import numbered
from bias_drafting.errors import DrawingError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from ezdxf.entities.dxfentity import DXFEntity
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

__all__ = ["DxfContent", "read_dxf"]

# Lines of one layer that meet at a sharper turn are two that begin or end at one place, unless they close a ring.
_SHARPEST = float(np.radians(100))
# Shapes smaller than this share of how far a drawing reaches are rounded away: specks, unless it reaches so far (mm).
_FAR, _LOST = 1e9, 1e-11
# Bounded work: blocks in blocks may multiply without end. Looking at an entity in a block counts as so many cubics,
# and placing one as so many more.
_MOST = 4_000_000
_LOOK, _SHAPE = 20, 80
_DEEPEST = 50
# A drawing larger or smaller than this (mm) was hardly meant so.
_HUGE, _TINY = 20_000.0, 30.0

_SILENT = frozenset({"ATTDEF", "SEQEND", "VIEWPORT"})
_WHY_UNREAD = {
    **dict.fromkeys(("TEXT", "MTEXT", "ATTRIB", "ARCALIGNEDTEXT", "RTEXT"), "lettering is not read"),
    **dict.fromkeys(
        ("DIMENSION", "ARC_DIMENSION", "LARGE_RADIAL_DIMENSION", "LEADER", "MULTILEADER", "TOLERANCE"),
        "measurements and pointers are not read",
    ),
    **dict.fromkeys(
        ("HATCH", "MPOLYGON", "SOLID", "TRACE", "WIPEOUT"), "painted areas are not read, only lines"
    ),
    **dict.fromkeys(
        ("IMAGE", "OLE2FRAME", "PDFUNDERLAY", "DWFUNDERLAY", "DGNUNDERLAY"), "pictures are not read"
    ),
    **dict.fromkeys(
        ("3DFACE", "3DSOLID", "BODY", "HELIX", "MESH", "REGION", "SURFACE"), "it is not drawn in the plane"
    ),
    **dict.fromkeys(("RAY", "XLINE"), "it has no end"),
    "ACAD_TABLE": "tables are not read",
    "MLINE": "lines drawn several at once are not read; take it apart first",
    "POINT": "a point has no length",
}
_XREF = 4 | 8
_IN_PAPER_SPACE = "it is not in model space but on a sheet laid out for printing"


@dataclass(frozen=True, slots=True)
class DxfContent:
    """What a DXF file draws: its size in mm, its shapes in order, and what was left out or assumed."""

    size: tuple[float, float]
    shapes: tuple[Shape, ...]
    notes: tuple[Note, ...]


def read_dxf(content: bytes, scale: float = 1.0, in_rows: bool = True) -> DxfContent:
    r"""Read the bytes of a DXF file, as text or binary. It takes the optional library ezdxf.

    Parameters
    ----------
    content
        The file.
    scale
        Multiplies the size.
    in_rows
        Whether lines of one layer whose ends meet, two and no third, are laid end to end.

    Returns
    -------
    DxfContent
        Millimetres, x right and y down from the upper left corner of all that is drawn. Lines of DXF have no width
        that means anything in cloth: ``stroke_width`` is None, but for polylines with one width all along. No shape
        is ``filled``. ``line`` is the line on which the entity begins, also within a block.

    Raises
    ------
    DrawingError
        A file that is no DXF, broken or cut short, or that draws nothing; numbers that are not finite; blocks within
        themselves, or so many in each other that they cannot be placed. The message names entity and handle.

    Notes
    -----
    Circles, arcs, ellipses and bulges are right to 2e-11 of their radius, B-splines up to degree 3 without weights
    exactly; others are fitted to 1e-10 of their size. Only what lies flat is read. On layers that are off or frozen
    nothing is, as on screen: a block on a frozen layer goes whole, on one that is off only
    what is itself drawn on that layer.

    Examples
    --------
    >>> lines = "0 SECTION 2 ENTITIES 0 CIRCLE 8 hop 10 5 20 5 40 12.5 0 ENDSEC 0 EOF".replace(" ", chr(10))
    >>> hop = read_dxf(lines.encode() + b"\n")
    >>> hop.size, hop.shapes[0].name
    ((25.0, 25.0), 'hop')
    """
    file = open_dxf(content)
    reader = _Reader(file)
    with np.errstate(over="ignore", invalid="ignore"):
        reader.read(np.array([[scale * file.mm, 0, 0], [0, scale * file.mm, 0]]))
        size, shapes, rows = _on_page(reader, in_rows)
    notes = [*file.notes, *reader.notes(), *rows]
    if not shapes:
        reasons = "; ".join(str(note) for note in notes[:4])
        msg = f"nothing that can be read is drawn in its model space{': ' if reasons else ''}{reasons}"
        raise DrawingError(msg)
    notes += _notes_on_size(size, file)
    return DxfContent(size, shapes, tuple(notes))


@dataclass(frozen=True, slots=True)
class _Place:
    """Where entities stand: ``matrix`` ``(2, 3)`` leads to mm, y up; ``blocks`` are those around, outermost first."""

    matrix: Array
    layer: str = "0"
    groups: tuple[str, ...] = ()
    blocks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class _Found:
    """A shape in mm, y up, and yet without a name."""

    tag: str
    controls: Array
    closed: bool
    width: float | None
    groups: tuple[str, ...]
    line: int | None
    entity: DXFEntity


class _PlacingError(DrawingError):
    """An error that names its entity."""


class _Reader:
    """Goes through the entities and collects shapes and notes."""

    def __init__(self, file: DxfFile) -> None:
        self.file = file
        self.document = file.document
        self.found: list[_Found] = []
        self.traced: dict[int, Traced | str] = {}
        self.layers: dict[str, Layer] = {}
        self.noted: dict[tuple[str, str, str], dict[str, int | None]] = defaultdict(dict)
        self.work = 0

    def note(self, kind: str, entity: DXFEntity, what: str, why: str) -> None:
        self.noted[kind, what, why][str(entity.dxf.get("handle", "?"))] = self.file.line_of(entity)

    def notes(self) -> list[Note]:
        """Return a note for each thing noted, naming the first few entities."""
        result = []
        for (kind, what, why), entities in self.noted.items():
            handles = [*list(entities)[:3], *(["..."] if len(entities) > 3 else [])]
            many = f"{len(entities)} of them, handles " if len(entities) > 1 else "handle "
            line = next(iter(entities.values()))
            result.append(Note(f"{kind} ({many}{', '.join(handles)})", line, what, why))
        return result

    def read(self, matrix: Array) -> None:
        """Read the model space; note what is on the sheets laid out."""
        self.read_all(self.document.modelspace(), _Place(matrix))
        for sheet in self.document.layouts:
            if sheet.name != "Model":
                for entity in sheet:
                    if entity.dxftype() not in _SILENT:
                        self.note(entity.dxftype(), entity, "left out", _IN_PAPER_SPACE)

    def read_all(self, entities: Iterable[DXFEntity], place: _Place) -> None:
        for entity in entities:
            kind = entity.dxftype()
            if kind in _SILENT:
                continue
            if place.blocks:
                self.charge(_LOOK)
            try:
                self.read_entity(kind, entity, place)
            except UnreadError as why:
                self.note(kind, entity, "left out", str(why))

    def read_entity(self, kind: str, entity: DXFEntity, place: _Place) -> None:
        named = clean_name(attribute(entity, "layer", "0"))
        # Within a block, layer 0 stands for the layer on which the block is inserted.
        layer = self.layer(place.layer if named == "0" else named)
        if attribute(entity, "invisible", 0):
            msg = "it is marked invisible"
            raise UnreadError(msg)
        if layer.frozen or (layer.off and kind != "INSERT"):
            why = f"the layer is {'frozen' if layer.frozen else 'off'}"
            self.note(f"entity on layer {layer.name!r}", entity, "left out", why)
            return
        groups = place.groups if place.blocks and layer.name == place.layer else (*place.groups, layer.name)
        inner = replace(place, layer=layer.name, groups=groups)
        with self.naming(kind, entity):
            if kind == "INSERT":
                self.read_block(entity, inner)
            elif kind in TRACED:
                self.read_shape(entity, inner)
            else:
                why = f"{kind} is no line, arc, circle, ellipse, polyline, spline or block"
                raise UnreadError(_WHY_UNREAD.get(kind, why))
        if layer.unprinted:
            why = "the layer is shown, though marked as not to be printed"
            self.note(f"entity on layer {layer.name!r}", entity, "read like the rest", why)

    @contextmanager
    def naming(self, kind: str, entity: DXFEntity) -> Iterator[None]:
        """Add the entity to the message of an error raised inside."""
        try:
            yield
        except _PlacingError:
            raise  # names the entity already
        except DrawingError as error:
            line = self.file.line_of(entity)
            place = "" if line is None else f", line {line}"
            msg = f"{kind} (handle {entity.dxf.get('handle', '?')}{place}): {error}"
            raise _PlacingError(msg) from error

    def layer(self, name: str) -> Layer:
        key = name.lower()
        if key not in self.layers:
            self.layers[key] = layer_of(self.file.document, name)
        return self.layers[key]

    def charge(self, work: int) -> None:
        self.work += work
        if self.work > _MOST:
            msg = "its blocks and lines make more pieces than can be drawn; blocks within blocks may multiply them"
            raise DrawingError(msg)

    def read_shape(self, entity: DXFEntity, place: _Place) -> None:
        traced = self.trace(entity)
        self.charge(len(traced.controls) + (_SHAPE if place.blocks else 0))
        for what, why in traced.remarks:
            self.note(entity.dxftype(), entity, what, why)
        turn = place.matrix[:, :2]
        controls = traced.controls @ turn.T + place.matrix[:, 2]
        if not np.isfinite(controls).all():
            msg = "it is placed where numbers are not finite"
            raise DrawingError(msg)
        width = traced.width
        if width is not None:
            across = np.linalg.svd(turn, compute_uv=False)
            width *= float(np.sqrt(across.prod()))
            if across[0] > across[1] * (1 + 1e-9):
                why = "its block is scaled unevenly"
                self.note(entity.dxftype(), entity, "read with the mean of its widths", why)
        line = self.file.line_of(entity)
        self.found.append(_Found(traced.tag, controls, traced.closed, width, place.groups, line, entity))

    def trace(self, entity: DXFEntity) -> Traced:
        """Trace an entity, or remember what it traced or why it did not."""
        if id(entity) not in self.traced:
            try:
                self.traced[id(entity)] = trace(entity)
            except UnreadError as why:
                self.traced[id(entity)] = str(why)
        traced = self.traced[id(entity)]
        if isinstance(traced, str):
            raise UnreadError(traced)
        return traced

    def read_block(self, insert: Any, place: _Place) -> None:
        name = clean_name(insert.dxf.get("name") or "")
        if name.lower() in place.blocks:
            way = " in ".join(repr(block) for block in (name, *reversed(place.blocks)))
            msg = f"the block {name!r} is inserted within itself ({way})"
            raise DrawingError(msg)
        if len(place.blocks) >= _DEEPEST:
            msg = f"blocks are nested more than {_DEEPEST} deep"
            raise DrawingError(msg)
        for lettering in insert.attribs:
            if lettering.is_alive:  # repairing takes some away
                self.note("ATTRIB", lettering, "left out", _WHY_UNREAD["ATTRIB"])
        block = insert.block() if name else None
        if block is None:
            msg = f"there is no block {name!r}"
            raise UnreadError(msg)
        if block.block.dxf.flags & _XREF:
            msg = f"the block {name!r} is in another file, and only this one is read"
            raise UnreadError(msg)
        if insert.has_extension_dict and "ACAD_FILTER" in insert.get_extension_dict():
            self.note("INSERT", insert, "read whole", "blocks are not cut off at an edge")
        self.charge(count_placed(insert) * _SHAPE)
        groups = place.groups if name.startswith("*") else (*place.groups, name)
        for matrix in placements(insert, block.block.dxf.get("base_point") or (0, 0, 0)):
            inner = replace(place, matrix=chained(place.matrix, matrix), groups=groups)
            self.read_all(block, replace(inner, blocks=(*place.blocks, name.lower())))


# Onto the page


def _on_page(reader: _Reader, in_rows: bool) -> tuple[tuple[float, float], tuple[Shape, ...], list[Note]]:
    """Return the size of what is drawn, and the shapes, y down from its upper left corner, with their names.

    The notes say which are laid end to end.
    """
    found = list(_large_enough(reader))
    if not found:
        return (0.0, 0.0), (), []
    found, joined = _in_rows(found) if in_rows else (found, [1] * len(found))
    curves = [(one, *closed_up(one.controls, one.closed, _size(one))) for one in found]
    for (one, _, closed), pieces in zip(curves, joined, strict=True):
        if closed and not one.closed and pieces == 1:
            reader.note(one.entity.dxftype(), one.entity, "read as closed", "its ends meet")
    (left, bottom), (right, top) = bezier.bounds(np.concatenate([controls for _, controls, _ in curves]))
    names = _names(found)
    shapes = [
        Shape(
            name=name,
            tag=one.tag,
            curves=(Curve((controls - [left, top]) * [1, -1], closed),),
            stroke_width=one.width,
            filled=False,
            layers=one.groups,
            words=one.groups[::-1],
            line=one.line,
        )
        for name, (one, controls, closed) in zip(names, curves, strict=True)
    ]
    why = "their ends meet, on one layer; join_within=0 leaves them apart"
    notes = [
        Note(shape.name, shape.line, f"read as one line of {pieces} pieces", why)
        for shape, pieces in zip(shapes, joined, strict=True)
        if pieces > 1
    ]
    return (float(right - left), float(top - bottom)), tuple(shapes), notes


def _in_rows(found: Sequence[_Found]) -> tuple[list[_Found], list[int]]:
    """Lay lines of the same groups and width end to end where they meet; return also of how many each is made.

    Where a line is drawn in several entities nothing but that they meet says so.
    """
    alike: dict[tuple[object, ...], list[int]] = defaultdict(list)
    for k, one in enumerate(found):
        if not one.closed:
            alike[one.groups, one.width].append(k)
    rows: dict[int, _Found | None] = {}
    count = [1] * len(found)
    for numbers in alike.values():
        chains = [found[k].controls for k in numbers]
        ends = np.array([(controls[0, 0], controls[-1, 3]) for controls in chains])
        runs = find_runs(
            ends, np.array([bezier.polygon_lengths(controls).sum() for controls in chains]), MEET
        )[0]
        for run in (part for whole in runs for part in cut_at_corners(chains, whole, _SHARPEST)):
            if len(run.lines) > 1:
                first, *others = sorted(numbers[k] for k in run.lines)
                rows |= dict.fromkeys(others)
                rows[first] = replace(found[first], controls=laid_end_to_end(chains, run)[0], tag="polyline")
                count[first] = len(run.lines)
    left = [(rows.get(k, one), count[k]) for k, one in enumerate(found)]
    return [one for one, _ in left if one is not None], [many for one, many in left if one is not None]


def _large_enough(reader: _Reader) -> Iterator[_Found]:
    """Yield the shapes of which numbers hold something beside the others, and note those that are mere specks.

    A shape so far off that others are lost beside it is refused.
    """
    reaches = [float(np.abs(found.controls).max()) for found in reader.found]
    reach = max(reaches, default=0.0)
    for found, own in zip(reader.found, reaches, strict=True):
        size = _size(found)
        if size > _LOST * reach:
            yield found
        elif reach > _FAR and size > _LOST * own:
            entity = reader.found[int(np.argmax(reaches))].entity
            msg = (
                f"{entity.dxftype()} (handle {entity.dxf.get('handle', '?')}) reaches {reach:.3g} mm out, "
                f"so far that shapes of {size:.3g} mm are lost beside it"
            )
            raise DrawingError(msg)
        else:
            reader.note(
                found.entity.dxftype(), found.entity, "left out", "it is so small that it has no length"
            )


def _size(found: _Found) -> float:
    return float(np.ptp(found.controls, axis=(0, 1)).max())


def _names(shapes: list[_Found]) -> list[str]:
    """Name shapes by their innermost group, with a number unless they are alone in it."""
    groups = [next((g for g in reversed(shape.groups) if g not in {"", "0"}), shape.tag) for shape in shapes]
    counts = Counter(groups)
    taken = set(groups)
    several = {group: iter(numbered(group, n, taken)) for group, n in counts.items() if n > 1}
    return [next(several[group]) if group in several else group for group in groups]


def _notes_on_size(size: tuple[float, float], file: DxfFile) -> list[Note]:
    why = "a DXF drawing has no page"
    notes = [Note("drawing", None, "measured from edge to edge of what is drawn", why)]
    if not _TINY <= max(size) <= _HUGE:
        what = f"read in {file.units}, as the file has it: {size[0]:.6g} x {size[1]:.6g} mm"
        why = (
            "that is an odd size for cloth, and some programs say one unit and count in another; if it is wrong, "
            "give scale=, such as 25.4 for inches read as millimetres"
        )
        notes.append(Note("units", None, what, why))
    return notes
