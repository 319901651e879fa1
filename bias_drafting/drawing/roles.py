"""Which shape is a stem, which a motif, which the frame.

In this order: what the caller says; what the file says of the shape or a group round it (``data-role``); what the
words of the shape and of the groups round it say; what kind of shape it is, an open stroked line being a stem and a
closed shape a motif, unless it has two long sides.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np

from bias_drafting.curve import bezier
from bias_drafting.curve.curve import Curve
from bias_drafting.drawing.drawing import Frame, Motif, Note, Shape, Stem, nearest_names
from bias_drafting.drawing.role_words import Spoken, might_be_an_edge
from bias_drafting.drawing.two_sided import TwoSided, even, find_two_sided, thin
from bias_drafting.errors import DrawingError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from bias_drafting.curve.spine import Spine

__all__ = ["ROLES", "Roles", "Sorted", "fits", "numbered", "sort_shapes"]

Roles: TypeAlias = Mapping[str, str] | Callable[[Shape], str | None]

ROLES = ("stem", "motif", "frame", "ignore")
_WHY_UNFIT = {
    "stem": "a stem is read from a line along its middle, or from an outline with two long sides",
    "motif": "a motif is closed, not an open line",
    "frame": "a frame is closed, not an open line",
}
# A width that varies by more than this share in the middle half of a stem is told.
_UNEVEN = 0.1


def fits(shape: Shape, role: str) -> bool:
    """Return whether a shape can be this: a stem is a line, a motif has an inside, a frame goes all round.

    A filled outline without a stroke is a stem only if it has two long sides, which is not looked at here. An open
    path that is filled has an inside, closed by a straight line.
    """
    closed = [curve.closed for curve in shape.curves]
    if role == "stem":
        return shape.stroke_width is not None or not shape.filled or not all(closed)
    return any(closed) or (role == "motif" and shape.filled)


def sort_shapes(
    shapes: Sequence[Shape], roles: Roles | None = None, page: tuple[float, float] | None = None
) -> Sorted:
    """Sort shapes by their roles.

    Parameters
    ----------
    shapes
        The shapes of a drawing, with names that differ.
    roles
        What the caller knows: roles by name of shape or group (a shape's own name first, then the nearest
        group), or a function from a shape to its role, or to None where it does not know.
    page
        Width and height of the page in mm, if there is one: what is painted all over it may be the paper.

    Raises
    ------
    DrawingError
        A role that is none of ``ROLES``, or a name that no shape and no group has.
    """
    _check_roles(roles)
    if isinstance(roles, Mapping):
        _check_names(shapes, roles)
    sorter = _Sorter(shapes)
    for shape in shapes:
        sorter.take(shape, _role_asked(shape, roles))
    sorter.set_grounds_aside(page)
    frame = sorter.largest_frame()
    return Sorted(tuple(sorter.stems), tuple(sorter.motifs), frame, tuple(sorter.notes))


def _check_roles(roles: object) -> None:
    if roles is not None and not isinstance(roles, Mapping) and not callable(roles):
        msg = f"roles: a mapping or a function is wanted, not a value of type {type(roles).__name__}"
        raise DrawingError(msg)


def _check_names(shapes: Sequence[Shape], roles: Mapping[Any, str]) -> None:
    names = [name for shape in shapes for name in (shape.name, *shape.layers)]
    known = set(names)
    for name, role in roles.items():
        if not isinstance(name, str):
            msg = f"roles: {name!r} is no name of a shape or group, but of type {type(name).__name__}"
            raise DrawingError(msg)
        _check_role(role, name)
        if name not in known:
            msg = f"roles: no shape and no group is called {name!r}; {nearest_names(name, names)}"
            raise DrawingError(msg)


def _check_role(role: object, name: str) -> None:
    if not isinstance(role, str) or role not in ROLES:
        msg = f"roles: {role!r}, for {name!r}, is none of {', '.join(ROLES)}"
        raise DrawingError(msg)


def _role_asked(shape: Shape, roles: Roles | None) -> str | None:
    """Return what the caller says a shape is, else what the file says of it or of a group round it (data-role)."""
    role = None
    if isinstance(roles, Mapping):
        names = (shape.name, *reversed(shape.layers))
        role = next((roles[name] for name in names if name in roles), None)
    elif roles is not None:
        role = roles(shape)
        if role is not None:
            _check_role(role, shape.name)
    written = shape.settings.get("role")
    if role is not None or written is None:
        return role
    if written not in ROLES:
        msg = f"line {shape.line}, {shape.name}: its data-role {written!r} is none of {', '.join(ROLES)}"
        raise DrawingError(msg)
    return written


def _settings_of(shape: Shape) -> Mapping[str, str]:
    """Return a shape's settings but for its role, which is heeded already."""
    if "role" not in shape.settings:
        return shape.settings
    return MappingProxyType({key: value for key, value in shape.settings.items() if key != "role"})


@dataclass(frozen=True, slots=True, eq=False)
class Sorted:
    """Shapes by what they are for, and what was left out or assumed in sorting them."""

    stems: tuple[Stem, ...]
    motifs: tuple[Motif, ...]
    frame: Frame | None
    notes: tuple[Note, ...]


class _Sorter:
    """Collects stems, motifs and frames."""

    def __init__(self, shapes: Sequence[Shape]) -> None:
        self.stems: list[Stem] = []
        self.motifs: list[Motif] = []
        self.frames: list[tuple[Shape, Frame]] = []
        self.words = Spoken(shapes)
        self.notes = list(self.words.notes)
        self.taken = {shape.name for shape in shapes}
        self.guessed: list[tuple[Shape, Motif]] = []
        self.two_sided: dict[str, TwoSided] = {}

    def spines(self, shape: Shape) -> tuple[Spine, ...]:
        """Return the spines of a closed shape that is long and thin, none for any other."""
        if shape.name not in self.two_sided:
            self.two_sided[shape.name] = find_two_sided(shape) if thin(shape) else TwoSided(())
        return self.two_sided[shape.name].spines

    def fits(self, shape: Shape, role: str) -> bool:
        return fits(shape, role) or (role == "stem" and bool(self.spines(shape)))

    def why_unfit(self, shape: Shape, role: str) -> str:
        why_not = (
            self.two_sided[shape.name].why_not if role == "stem" and shape.name in self.two_sided else ""
        )
        return f"{_WHY_UNFIT[role]}; {why_not}" if why_not else _WHY_UNFIT[role]

    def note(self, shape: Shape, what: str, why: str) -> None:
        self.notes.append(Note(shape.name, shape.line, what, why))

    def take(self, shape: Shape, asked: str | None) -> None:
        """Put a shape where it belongs; ``asked`` is what the caller wants it to be."""
        if asked == "ignore":
            self.note(shape, "left out", "its role is to be ignored")
        elif asked is not None:
            self.take_as(asked, shape)
        elif spoken := self.words.of(shape):
            role = next((role for role in spoken if self.fits(shape, role)), None)
            unfit = self.why_unfit(shape, spoken[0])
            if role is None and spoken[0] == "frame" and not might_be_an_edge(shape):
                self.note(shape, "read by its kind", f"its words say frame, and {unfit}; nor is it straight")
                self.take_by_kind(shape)
                return
            if role is None:
                self.note(shape, "left out", f"its words say {spoken[0]}, and {unfit}")
                return
            if role != spoken[0]:
                why = f"its words say {spoken[0]} first and {role} next, and {unfit}"
                self.note(shape, f"read as a {role}", why)
            self.take_as(role, shape)
        else:
            self.take_by_kind(shape)

    def take_as(self, role: str, shape: Shape) -> None:
        if role == "stem":
            if self.spines(shape):
                self.add_spines(shape, "it is a closed outline with two long sides")
                return
            if shape.stroke_width is None and shape.filled:
                self.note(shape, "read as a stem of unknown width", "it is called a stem but has no stroke")
            self.add_stems(shape, shape.curves)
        elif role == "motif":
            self.add_motifs(shape, self.outlines(shape, "motif"))
        else:
            largest = max(self.outlines(shape, "frame"), key=_box_area)
            if len(shape.curves) > 1:
                self.note(shape, "read by its largest subpath", "a frame has one outline")
            self.frames.append((shape, Frame(shape.name, largest)))

    def outlines(self, shape: Shape, role: str) -> list[Curve]:
        """Return a shape's subpaths as closed curves, but for the open ones of a shape that has no inside."""
        closed = [curve for curve in shape.curves if curve.closed]
        if len(closed) == len(shape.curves):
            return closed
        if closed and not shape.filled:
            self.note(shape, "left out in part", f"a {role} is closed, and some of its subpaths are open")
            return closed
        self.note(shape, "closed by a straight line", f"it is open, and a {role} is closed")
        return [_closed(curve) for curve in shape.curves]

    def take_by_kind(self, shape: Shape) -> None:
        """Read open lines as stems and closed shapes as motifs."""
        closed = [curve for curve in shape.curves if curve.closed]
        opened = [curve for curve in shape.curves if not curve.closed]
        if opened and shape.stroke_width is None and shape.filled:
            self.note(shape, "read as a motif, closed by its fill", "it is open but has no stroke")
            self.add_motifs(shape, [_closed(curve) for curve in shape.curves])
            return
        if opened and closed:
            why = "it has open and closed subpaths"
            self.note(shape, "read as stems where it is open and motifs where it is closed", why)
        if opened and closed:
            names = numbered(shape.name, len(opened) + len(closed), self.taken)
            self.add_stems(shape, opened, names[: len(opened)])
            self.add_motifs(shape, closed, names[len(opened) :])
        elif closed and self.spines(shape) and all(map(even, self.spines(shape))):
            why = "it is a closed outline, long and of even width; say with roles= if it is something else"
            self.add_spines(shape, why)
        else:
            self.add_stems(shape, opened)
            before = len(self.motifs)
            self.add_motifs(shape, closed)
            self.guessed += [(shape, motif) for motif in self.motifs[before:]]

    def set_grounds_aside(self, page: tuple[float, float] | None) -> None:
        """Take closed shapes without a role of their own that go round every stem for the edge or the ground.

        As a motif such a shape would cover every end.
        """
        if not self.stems or not self.guessed:
            return
        boxes = np.array([stem.centreline.bounds for stem in self.stems])
        low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
        named, grounds = bool(self.frames), []
        for shape, motif in self.guessed:
            box = np.array(motif.outline.bounds)
            if (box[:2] <= low).all() and (box[2:] >= high).all():
                grounds.append((shape, motif))
        # What is painted all over the page is the paper if something within it goes round the stems, too.
        papers = [one for one in grounds if page is not None and _is_paper(*one, page)]
        for shape, motif in grounds:
            self.motifs.remove(motif)
            why = "it goes round every stem and its name does not say what it is"
            if named or ((shape, motif) in papers and len(papers) < len(grounds)):
                self.note(shape, "left out as the ground behind the drawing", why)
            else:
                self.note(shape, "read as the frame", why)
                self.frames.append((shape, Frame(motif.name, motif.outline)))

    def named(
        self, shape: Shape, curves: Sequence[Curve], what: str, names: list[str] | None = None
    ) -> list[tuple[str, Curve]]:
        """Give each curve the name of its shape, with a number where there are several."""
        if names is not None:
            return list(zip(names, curves, strict=True))
        if len(curves) == 1:
            return [(shape.name, curves[0])]
        names = numbered(shape.name, len(curves), self.taken)
        several = f"read as {len(curves)} {what}, {names[0]!r} to {names[-1]!r}"
        self.note(shape, several, "it has several subpaths")
        return list(zip(names, curves, strict=True))

    def add_stems(self, shape: Shape, curves: Sequence[Curve], names: list[str] | None = None) -> None:
        if curves:
            self.stems += [
                Stem(name, curve, shape.stroke_width, shape.layer, _settings_of(shape))
                for name, curve in self.named(shape, curves, "stems", names)
            ]

    def add_spines(self, shape: Shape, why: str) -> None:
        """Read a shape as stems by the lines between its sides."""
        spines = self.spines(shape)
        named = self.named(shape, [spine.centreline for spine in spines], "stems")
        for (name, centreline), spine in zip(named, spines, strict=True):
            middle = spine.width_at(np.linspace(0.25, 0.75, 33) * centreline.length)
            wide = f"{spine.width:.1f} mm wide"
            if np.ptp(middle) > _UNEVEN * spine.width:
                wide += f" ({middle.min():.1f} to {middle.max():.1f} mm in its middle half)"
            what = f"read as a stem by the line between its sides, {wide}"
            self.notes.append(Note(name, shape.line, what, why))
            self.stems.append(Stem(name, centreline, spine.width, shape.layer, _settings_of(shape)))

    def add_motifs(self, shape: Shape, curves: Sequence[Curve], names: list[str] | None = None) -> None:
        if curves:
            named = self.named(shape, curves, "motifs", names)
            self.motifs += [Motif(name, curve, shape.layer) for name, curve in named]

    def largest_frame(self) -> Frame | None:
        """Choose the frame; the others are left out."""
        if not self.frames:
            return None
        largest = max((frame for _, frame in self.frames), key=lambda frame: _box_area(frame.outline))
        for shape, frame in self.frames:
            if frame is not largest:
                self.note(shape, "left out", f"a drawing has one frame, and {largest.name!r} is larger")
        return largest


def numbered(name: str, count: int, taken: set[str], first: int = 1) -> list[str]:
    """Return the name with ``count`` numbers that are free, and take them."""
    names: list[str] = []
    number = first
    while len(names) < count:
        candidate = f"{name} {number}"
        if candidate not in taken:
            taken.add(candidate)
            names.append(candidate)
        number += 1
    return names


def _is_paper(shape: Shape, motif: Motif, page: tuple[float, float]) -> bool:
    """Whether a shape is painted, without a line, over the whole page or beyond."""
    left, top, right, bottom = motif.outline.bounds
    hair = 1e-3 * max(page)
    covers = left <= hair and top <= hair and right >= page[0] - hair and bottom >= page[1] - hair
    return shape.filled and shape.stroke_width is None and covers


def _box_area(curve: Curve) -> float:
    left, top, right, bottom = curve.bounds
    return (right - left) * (bottom - top)


def _closed(curve: Curve) -> Curve:
    """Return a curve closed by a straight line from its end to its start."""
    if curve.closed:
        return curve
    way_back = bezier.from_lines(curve.controls[[-1, 0], [3, 0]])
    return Curve(np.concatenate([curve.controls, way_back]), closed=True)
