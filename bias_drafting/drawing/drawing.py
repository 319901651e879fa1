"""What was drawn, at true size in millimetres: shapes, and the stems, motifs and frame among them."""

from __future__ import annotations

import difflib
import textwrap
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING

from bias_drafting.drawing.picture import svg_picture
from bias_drafting.errors import DrawingError
from bias_drafting.units import format_length, format_width

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from bias_drafting.curve.curve import Curve

__all__ = ["Drawing", "Frame", "Motif", "Note", "Shape", "Stem", "nearest_names"]


@dataclass(frozen=True, slots=True)
class Note:
    """Something a reader left out or assumed.

    Attributes
    ----------
    element
        Name of the element it is about.
    line
        Its line in the file, counted from 1; None if it is about the drawing as a whole.
    what, why
        What was done, and the reason.

    Examples
    --------
    >>> print(Note("old sketch", 12, "left out", "its display is none"))
    line 12, old sketch: left out, because its display is none
    """

    element: str
    line: int | None
    what: str
    why: str

    def __str__(self) -> str:
        place = "" if self.line is None else f"line {self.line}, "
        return f"{place}{self.element}: {self.what}, because {self.why}"


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """One drawn shape, before it is decided what it is for.

    Attributes
    ----------
    name
        Unlike that of any other shape of the drawing.
    tag
        What it was drawn with: ``path``, ``line``, ``polyline``, ``polygon``, ``rect``, ``circle`` or
        ``ellipse``.
    curves
        One for each subpath that has a length; at least one.
    stroke_width
        Width of its line in mm; None if no line is drawn.
    filled
        Whether its inside is painted.
    layers
        Names of the groups it is in, outermost first.
    words
        Every text that may say what it is for: its own id, label, title and class, then those of the groups
        it is in, nearest first.
    line
        Its line in the file, counted from 1.
    settings
        The ``data-*`` attributes of the shape and of what it is in, without ``data-``; the nearest wins.
    """

    name: str
    tag: str
    curves: tuple[Curve, ...]
    stroke_width: float | None
    filled: bool
    layers: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    line: int | None = None
    settings: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))

    @property
    def layer(self) -> str:
        """The name of the innermost named group it is in, or an empty text."""
        return self.layers[-1] if self.layers else ""


@dataclass(frozen=True, slots=True, eq=False)
class Stem:
    """One stem: the line along its middle.

    Attributes
    ----------
    name
        Unlike that of any other stem of the drawing.
    centreline
        The line along its middle; closed if the stem is a ring.
    drawn_width
        The width it was drawn with, in mm; None if that is not known.
    layer
        The name of the innermost named group it was drawn in.
    settings
        The ``data-*`` attributes that apply to it, without ``data-``.
    """

    name: str
    centreline: Curve
    drawn_width: float | None = None
    layer: str = ""
    settings: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True, eq=False)
class Motif:
    """A flower, leaf or other closed shape that a stem may run under."""

    name: str
    outline: Curve
    layer: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """The edge of the block or border."""

    name: str
    outline: Curve


@dataclass(frozen=True, slots=True, eq=False)
class Drawing:
    """A drawing at true size: x runs right and y down from its upper left corner, in millimetres.

    Attributes
    ----------
    source
        Name of the file it was read from.
    size
        Width and height of the page in mm.
    shapes
        Every drawn shape in document order.
    stems, motifs, frame
        What the shapes are for. ``drawing["vine"]`` is the stem of that name.
    notes
        What was left out or assumed, in the order of the file.

    Examples
    --------
    >>> from io import StringIO
    >>> from bias_drafting.drawing.read import read_drawing
    >>> drawing = read_drawing(StringIO('''<svg width="4in" height="2in" viewBox="0 0 4 2">
    ...     <path id="vine" d="M0 1C1 0 3 2 4 1" stroke="green" stroke-width=".25" fill="none"/>
    ... </svg>'''))
    >>> drawing["vine"].centreline.end
    (101.6, 25.4)
    >>> print(drawing)
    drawing: 4 x 2 in (101.6 x 50.8 mm)
      stems   1
        vine   4 1/4 in (107.4 mm) long, drawn 1/4 in wide
      motifs  0
      frame   none
    """

    source: str
    size: tuple[float, float]
    shapes: tuple[Shape, ...] = ()
    stems: tuple[Stem, ...] = ()
    motifs: tuple[Motif, ...] = ()
    frame: Frame | None = None
    notes: tuple[Note, ...] = ()

    def __getitem__(self, name: str) -> Stem:
        for stem in self.stems:
            if stem.name == name:
                return stem
        msg = f"{self.source}: there is no stem {name!r}; {nearest_names(name, [s.name for s in self.stems])}"
        raise DrawingError(msg)

    def __str__(self) -> str:
        width, height = self.size
        inches = f"{_eighths(width).removesuffix(' in')} x {_eighths(height)}"
        lines = [f"{self.source}: {inches} ({width:.1f} x {height:.1f} mm)", f"  stems   {len(self.stems)}"]
        column = max((len(stem.name) for stem in self.stems), default=0)
        lines += [f"    {stem.name:<{column}}   {_describe(stem)}" for stem in self.stems]
        lines += [f"  motifs  {len(self.motifs)}", *_listed([motif.name for motif in self.motifs])]
        lines += [f"  frame   {self.frame.name if self.frame else 'none'}"]
        if self.notes:
            lines += [f"  notes   {len(self.notes)}", *(f"    {note}" for note in self.notes)]
        return "\n".join(lines)

    def __repr__(self) -> str:
        stems = f"{len(self.stems)} stem{'s' * (len(self.stems) != 1)}"
        motifs = f"{len(self.motifs)} motif{'s' * (len(self.motifs) != 1)}"
        return f"Drawing({self.source!r}, {stems}, {motifs}, {'a frame' if self.frame else 'no frame'})"

    def to_svg(self) -> str:
        """Return the drawing as the text of an SVG file in millimetres.

        Shapes stand in their order with their names, layers, line widths and settings, as one path each, or one for
        each subpath where these are for different things; what each is for is written as ``data-role``, which
        :func:`read_drawing` heeds. A stem that is no line of the drawing itself (the middle of two sides, a tracing
        made smooth, two lines joined) stands after the shape it was made from, which is then marked to be ignored.
        Read again, it gives the same stems, motifs and frame to 1e-6 mm, and the same shapes besides. Colours and
        words on classes do not come back; what ``tracing=0`` left in straight pieces is made smooth unless that is
        said again.

        Examples
        --------
        >>> import io
        >>> import bias_drafting as bd
        >>> drawing = bd.read_sample("bean-wreath")
        >>> again = bd.read_drawing(io.StringIO(drawing.to_svg()))
        >>> [stem.name for stem in again.stems] == [stem.name for stem in drawing.stems]
        True
        """
        from bias_drafting.drawing.to_svg import svg_of_drawing

        return svg_of_drawing(self)

    def _repr_svg_(self) -> str | None:
        try:
            frame = [] if self.frame is None else [self.frame.outline]
            motifs = [motif.outline for motif in self.motifs]
            stems = [(stem.centreline, stem.drawn_width) for stem in self.stems]
            return svg_picture(self.size, frame, motifs, stems)
        except Exception:  # noqa: BLE001 - a notebook must be able to show anything; it then shows the repr
            return None


def _eighths(mm: float) -> str:
    return format_length(mm, unit="in", step=8)


def _listed(names: list[str]) -> list[str]:
    return textwrap.wrap(
        ", ".join(names),
        100,
        initial_indent="    ",
        subsequent_indent="    ",
        break_on_hyphens=False,
        break_long_words=False,
    )


def _describe(stem: Stem) -> str:
    length = stem.centreline.length
    kind = "round" if stem.centreline.closed else "long"
    width = "" if stem.drawn_width is None else f", drawn {format_width(stem.drawn_width)} wide"
    return f"{_eighths(length)} ({length:.1f} mm) {kind}{width}"


def nearest_names(name: str, names: Iterable[str]) -> str:
    """Say which names come nearest to one that was not found, for an error message."""
    known = list(dict.fromkeys(names))
    if not known:
        return "there are none at all"
    lower = {other.lower(): other for other in reversed(known)}
    near = [lower[match] for match in difflib.get_close_matches(name.lower(), list(lower), n=3, cutoff=0.5)]
    shown = near or known[:6]
    rest = "" if near or len(known) <= 6 else f" and {len(known) - 6} more"
    return f"{'the nearest' if near else 'there are'}: {', '.join(map(repr, shown))}{rest}"
