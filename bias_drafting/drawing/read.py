"""Reading a drawing from a file."""

from __future__ import annotations

import math
import numbers
import os
import zlib
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from bias_drafting.drawing.drawing import Drawing, Note, Shape
from bias_drafting.drawing.dxf import DxfContent, read_dxf
from bias_drafting.drawing.dxf_file import is_dxf
from bias_drafting.drawing.mending import checked_gap, join_stems, merge_motifs, merge_stems
from bias_drafting.drawing.roles import numbered, sort_shapes
from bias_drafting.drawing.svg import SvgContent, read_svg
from bias_drafting.drawing.traced import checked_tracing, smooth_traced
from bias_drafting.drawing.true_size import block_scale, checked_block, size_doubts
from bias_drafting.drawing.viewport import shorten
from bias_drafting.errors import DrawingError

if TYPE_CHECKING:
    from bias_drafting.drawing.drawing import Frame
    from bias_drafting.drawing.roles import Roles, Sorted

__all__ = ["read_drawing"]

_LARGEST = 64 * 2**20  # bytes; a drawing of a thousand traced stems has about one million
_PART = 2**20

_LOOKS = (
    (b"%PDF", "a PDF"),
    (b"%!PS", "PostScript"),
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF8", "a GIF picture"),
    (b"RIFF", "a WebP picture or a sound"),
    (b"BM", "a BMP picture"),
    (b"II*\x00", "a TIFF picture"),
    (b"MM\x00*", "a TIFF picture"),
    (b"PK\x03\x04", "a zip archive; unpack it first"),
    (b"{", "JSON"),
)


def read_drawing(
    path_or_file: str | os.PathLike[str] | IO[bytes] | IO[str],
    scale: float | None = None,
    roles: Roles | None = None,
    *,
    block_size: str | float | tuple[str | float, str | float] | None = None,
    join_within: str | float | None = None,
    tracing: str | float = 0.25,
) -> Drawing:
    """Read a drawing at true size.

    Parameters
    ----------
    path_or_file
        Path of an SVG file (plain, or packed by gzip as .svgz) or a DXF file, or an open file of bytes or text. What
        it is, is told by its content. DXF needs ``pip install bias_drafting[dxf]``.
    scale
        Multiplies the size read: 2.0 makes everything twice as large.
    roles
        What shapes are for, where their words and kinds do not tell: a mapping from names of shapes or groups
        to ``"stem"``, ``"motif"``, ``"frame"`` or ``"ignore"``, or a function from a shape to one of these or
        None. A shape's own name outweighs those of its groups.
    block_size
        How large the frame is in truth: a length (``"12 in"``, or a number of mm) for a square one, or a pair of
        width and height. The drawing is scaled to it; not together with ``scale``.
    join_within
        Stems of which two ends, and no third, lie no further apart than this are joined to one; a length up to 3 mm.
        None joins nothing but what a DXF file has on one layer in pieces whose ends meet; 0 not even that.
    tracing
        A stem drawn as many straight pieces (20 or more, half of them up to 2 mm long or half of the turns between
        them up to 12 degrees) was traced, or taken to pieces by a program: a smooth line is put through its points,
        none of them further from it than this. 0 leaves the pieces as they are.

    Returns
    -------
    Drawing
        In millimetres, x right and y down from the upper left corner of the page. What was left out or
        assumed is in its ``notes``; a drawing without stems is one, with a note.

    Raises
    ------
    DrawingError
        One line that begins with the file and names the element, for: a file that is missing, empty, over
        64 MB or not SVG; a size that is zero, negative or cannot be read; numbers that are not finite;
        transforms and lengths that cannot be read; copies that lead back to themselves; a ``scale``,
        ``block_size``, ``join_within``, ``tracing`` or ``roles`` that cannot be.

    Notes
    -----
    Units are those of CSS: 96 px to the inch, also where a file gives none. Arcs become cubic curves before
    any transform, exact to 2e-11 of their radius. Ends that meet within 0.001 mm close a curve. Copies (``use``)
    are drawn where they stand, style sheets apply, and of alternatives (``switch``) the first for readers of
    English is taken. Not read: lettering, pictures, and what clips, masks or markers do; each gets a note.

    Examples
    --------
    >>> import io
    >>> import bias_drafting as bd
    >>> hop = '''<svg width="50mm" height="80mm" viewBox="0 0 5 8">
    ...     <line id="hop-stem" y2="8" stroke="teal"/></svg>'''
    >>> bd.read_drawing(io.StringIO(hop))["hop-stem"].centreline.length
    80.0
    """
    source, shown = _names_of(path_or_file)
    try:
        factor, block = _checked_scale(scale), checked_block(block_size)
        gap, reach = checked_gap(join_within), checked_tracing(tracing)
        if block is not None and scale is not None:
            msg = "scale and block_size both set the size; give one of them"
            raise DrawingError(msg)
        content = _content(path_or_file)
        drawn, shapes, told, found = _read(content, factor, roles, gap != 0)
        in_px = isinstance(drawn, SvgContent) and drawn.in_px
        sizing = list(size_doubts(drawn.size, in_px, found.frame, _line_of(found.frame, shapes)))
        if block is not None:
            factor = block_scale(found.frame, block)
            drawn, shapes, told, found = _read(content, factor, roles, gap != 0)
            named = "" if found.frame is None else f", {shorten(found.frame.name)},"
            why = f"block_size says how large its frame{named} is"
            sizing = [Note("drawing", None, f"scaled by {factor:.6g}", why)]
        found = _mended(found, shapes, gap, reach)
    except DrawingError as error:
        msg = f"{shown}: {error}"
        raise DrawingError(msg) from error
    except RecursionError as error:
        msg = f"{shown}: its elements, copies or style sheets are nested too deep to be read"
        raise DrawingError(msg) from error
    notes = [*sizing, *told, *found.notes]
    notes.sort(key=lambda note: note.line or 0)
    if not found.stems:
        why = "nothing in it is an open stroked line or called stem, vine or tendril"
        notes.append(Note("drawing", None, "no stem found", why))
    return Drawing(
        source=source,
        size=drawn.size,
        shapes=tuple(shapes),
        stems=tuple(found.stems),
        motifs=tuple(found.motifs),
        frame=found.frame,
        notes=tuple(notes),
    )


def _read(
    content: bytes | str, factor: float, roles: Roles | None, in_rows: bool
) -> tuple[SvgContent | DxfContent, list[Shape], list[Note], Sorted]:
    """Return a file's content, its shapes with names that differ, all notes so far, and what the shapes are for."""
    drawn: SvgContent | DxfContent
    if _check_kind(content) == "DXF":
        drawn = read_dxf(content.encode() if isinstance(content, str) else content, factor, in_rows)
    else:
        drawn = read_svg(content, factor)
    shapes, notes = _with_names_that_differ(drawn)
    return drawn, shapes, notes, sort_shapes(shapes, roles, drawn.size)


def _mended(found: Sorted, shapes: list[Shape], gap: float | None, reach: float) -> Sorted:
    """Return what was found with doubles merged, ends joined and traced stems made smooth, as far as is asked."""
    lines = {shape.name: shape.line for shape in shapes}
    stems, doubled = merge_stems(found.stems, lines)
    motifs, covered = merge_motifs(found.motifs, lines)
    notes = [*found.notes, *doubled, *covered]
    if gap:
        stems, joined = join_stems(stems, gap, lines)
        notes += joined
    if reach:
        stems, smoothed = smooth_traced(stems, reach, lines)
        notes += smoothed
    return replace(found, stems=tuple(stems), motifs=tuple(motifs), notes=tuple(notes))


def _line_of(frame: Frame | None, shapes: list[Shape]) -> int | None:
    """Return the line of the shape that is the frame."""
    return next((shape.line for shape in shapes if frame is not None and shape.name == frame.name), None)


def _names_of(path_or_file: object) -> tuple[str, str]:
    """Return the name of a drawing's file, and the file as the caller gave it, for messages."""
    given = (
        path_or_file if isinstance(path_or_file, (str, os.PathLike)) else getattr(path_or_file, "name", None)
    )
    if not isinstance(given, (str, os.PathLike)) or not str(given).strip():
        return "drawing", "drawing"
    text = " ".join(str(given).split())
    return Path(text).name or text, text if len(text) <= 200 else "..." + text[-197:]


def _checked_scale(scale: object) -> float:
    if scale is None:
        return 1.0
    if not isinstance(scale, bool) and isinstance(scale, numbers.Real):
        try:
            factor = float(scale)
        except OverflowError:
            factor = math.inf
        if math.isfinite(factor) and factor > 0:
            return factor
    msg = f"scale must be a finite number more than 0, not {shorten(str(scale))}"
    raise DrawingError(msg)


def _content(path_or_file: str | os.PathLike[str] | IO[bytes] | IO[str]) -> bytes | str:
    """Return what is in a file, if it is not too large."""
    try:
        if not isinstance(path_or_file, (str, os.PathLike)):
            return _limited(_read_up_to(path_or_file))
        with Path(path_or_file).open("rb") as file:
            return _limited(_read_up_to(file))
    except FileNotFoundError as error:
        msg = "there is no such file"
        raise DrawingError(msg) from error
    except IsADirectoryError as error:
        msg = "it is a folder, not a drawing"
        raise DrawingError(msg) from error
    except DrawingError:
        raise
    except (OSError, ValueError) as error:
        msg = f"it cannot be read ({getattr(error, 'strerror', None) or error})"
        raise DrawingError(msg) from error
    except AttributeError as error:
        msg = f"a path or an open file is wanted, not a value of type {type(path_or_file).__name__}"
        raise DrawingError(msg) from error


def _read_up_to(file: IO[bytes] | IO[str]) -> bytes | str:
    """Return what is in an open file, or as much as shows that it is too large; in parts, which take no more room."""
    parts: list[Any] = [file.read(_PART)]
    if not isinstance(parts[0], (bytes, str)):
        msg = f"reading it gives a value of type {type(parts[0]).__name__}, not text or bytes"
        raise DrawingError(msg)
    size = len(parts[0])
    while parts[-1] and size <= _LARGEST:
        parts.append(file.read(_PART))
        size += len(parts[-1])
    whole: bytes | str = parts[0][:0].join(parts)
    return whole


def _limited(content: bytes | str) -> bytes | str:
    """Return content that was read up to one more than the limit, unless it goes on beyond."""
    if len(content) > _LARGEST:
        msg = f"it is larger than {_LARGEST // 2**20} MB"
        raise DrawingError(msg)
    return _unpacked(content) if isinstance(content, bytes) and content.startswith(b"\x1f\x8b") else content


def _unpacked(content: bytes) -> bytes:
    """Return what gzip packed, unless it is larger than a drawing ever is."""
    unpacking = zlib.decompressobj(wbits=31)
    try:
        plain = unpacking.decompress(content, _LARGEST + 1)
    except zlib.error as error:
        msg = f"it is packed by gzip and cannot be unpacked ({error})"
        raise DrawingError(msg) from error
    if len(plain) > _LARGEST:
        msg = f"it is packed by gzip, and unpacked it is larger than {_LARGEST // 2**20} MB"
        raise DrawingError(msg)
    if not unpacking.eof:
        msg = "it is packed by gzip, and cut short"
        raise DrawingError(msg)
    return plain


def _check_kind(content: bytes | str) -> str:
    """Return what kind of file it is by its start: "SVG" for any XML, or "DXF".

    Raises
    ------
    DrawingError
        Neither; the message says what it looks like.
    """
    start = content[:2000].encode("utf-8", "replace") if isinstance(content, str) else content[:2000]
    start = start.removeprefix(b"\xef\xbb\xbf").lstrip()
    if not start:
        msg = "it is empty"
        raise DrawingError(msg)
    if start.lower().startswith((b"<!doctype html", b"<html")):
        msg = "it is no drawing, SVG or DXF; it looks like an HTML page"
        raise DrawingError(msg)
    if start.startswith((b"<", b"\xff\xfe", b"\xfe\xff", b"\x00<")):
        return "SVG"
    if is_dxf(start):
        return "DXF"
    looks = next((kind for magic, kind in _LOOKS if start.startswith(magic)), None)
    if looks is None:
        looks = "text" if b"\x00" not in start else "data of a kind unknown here"
    msg = f"it is no drawing of a kind that is read here, SVG or DXF; it looks like {looks}"
    raise DrawingError(msg)


def _with_names_that_differ(drawn: SvgContent | DxfContent) -> tuple[list[Shape], list[Note]]:
    """Give the second and later shapes of one name a number, also in the notes on them."""
    taken = {shape.name for shape in drawn.shapes}
    noted = drawn.noted if isinstance(drawn, SvgContent) else ()
    seen: Counter[str] = Counter()
    result, notes, renamed = [], list(drawn.notes), []
    for number, shape in enumerate(drawn.shapes):
        name = shape.name
        seen[name] += 1
        if seen[name] > 1:
            (new,) = numbered(name, 1, taken, first=seen[name])
            why = f"the name {shorten(name)} is taken"
            renamed.append(Note(new, shape.line, f"called {shorten(new)}", why))
            shape = replace(shape, name=new)  # noqa: PLW2901
            own = noted[number] if noted else slice(0)
            notes[own] = [replace(note, element=new) for note in notes[own]]
        result.append(shape)
    return result, [*notes, *renamed]
