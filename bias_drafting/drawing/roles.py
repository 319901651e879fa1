"""Which shape is a stem, which a motif, which the frame.

In this order: what the caller says; what the words of the shape and of the groups round it say; what kind of
shape it is, an open stroked line being a stem and a closed shape a motif.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from bias_drafting.curve import bezier
from bias_drafting.curve.curve import Curve
from bias_drafting.drawing.drawing import Frame, Motif, Note, Shape, Stem, nearest_names
from bias_drafting.errors import DrawingError

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["ROLES", "Roles", "Sorted", "role_from_words", "sort_shapes"]

Roles: TypeAlias = Mapping[str, str] | Callable[[Shape], str | None]

ROLES = ("stem", "motif", "frame", "ignore")
_ROLE_OF_WORD = {
    **dict.fromkeys(("stem", "vine", "tendril"), "stem"),
    **dict.fromkeys(
        ("flower", "leaf", "leaves", "bud", "berry", "berries", "motif", "pod", "petal"), "motif"
    ),
    **dict.fromkeys(("frame", "block", "border", "edge"), "frame"),
}
# Runs of letters, and the humps of "leafStem".
_WORD = re.compile(r"[^\W\d_]+")
_HUMP = re.compile(r"(?<=[a-z])(?=[A-Z])")


def role_from_words(words: Sequence[str]) -> str | None:
    """Return the role that words give, or None.

    The first text with a word for a role decides (a shape's own words come before those of its groups), and in it
    the last such word: a "leaf-stem" is a stem, a "stem leaf" a leaf, for English puts the thing itself last.

    Examples
    --------
    >>> role_from_words(["path12", "bean leaf-stem 3", "Leaves"]), role_from_words(["layer1", "inner border"])
    ('stem', 'frame')
    """
    for text in words:
        tokens = [token.lower() for token in _WORD.findall(_HUMP.sub(" ", text))]
        for token in reversed(tokens):
            role = _ROLE_OF_WORD.get(token) or _ROLE_OF_WORD.get(token.removesuffix("s"))
            if role:
                return role
    return None


def sort_shapes(shapes: Sequence[Shape], roles: Roles | None = None) -> Sorted:
    """Sort shapes by their roles.

    Parameters
    ----------
    shapes
        The shapes of a drawing, with names that differ.
    roles
        What the caller knows: roles by name of shape or group (a shape's own name first, then the nearest group),
        or a function from a shape to its role, or to None where it does not know.

    Raises
    ------
    DrawingError
        A role that is none of ``ROLES``, or a name that no shape and no group has.
    """
    if isinstance(roles, Mapping):
        _check_names(shapes, roles)
    result = Sorted(shapes)
    for shape in shapes:
        asked = _role_asked(shape, roles)
        role = asked or role_from_words(shape.words)
        if role == "ignore":
            result.note(shape, "left out", "its role is to be ignored")
        elif role == "stem":
            result.take_stem(shape, asked is not None)
        elif role == "motif":
            result.take_motif(shape, asked is not None)
        elif role == "frame":
            result.take_frame(shape, asked is not None)
        else:
            result.take_by_kind(shape)
    result.choose_frame()
    return result


def _check_names(shapes: Sequence[Shape], roles: Mapping[str, str]) -> None:
    names = [name for shape in shapes for name in (shape.name, *shape.layers)]
    known = set(names)
    for name, role in roles.items():
        _check_role(role, name)
        if name not in known:
            msg = f"roles: no shape and no group is called {name!r}; {nearest_names(name, names)}"
            raise DrawingError(msg)


def _check_role(role: object, name: str) -> None:
    if role not in ROLES:
        msg = f"roles: {role!r}, for {name!r}, is none of {', '.join(ROLES)}"
        raise DrawingError(msg)


def _role_asked(shape: Shape, roles: Roles | None) -> str | None:
    if roles is None:
        return None
    if isinstance(roles, Mapping):
        names = (shape.name, *reversed(shape.layers))
        return next((roles[name] for name in names if name in roles), None)
    role = roles(shape)
    if role is not None:
        _check_role(role, shape.name)
    return role


class Sorted:
    """Stems, motifs and the frame, as they are found among shapes."""

    def __init__(self, shapes: Sequence[Shape]) -> None:
        self.stems: list[Stem] = []
        self.motifs: list[Motif] = []
        self.frames: list[tuple[Shape, Frame]] = []
        self.frame: Frame | None = None
        self.notes: list[Note] = []
        self.taken = {shape.name for shape in shapes}

    def note(self, shape: Shape, what: str, why: str) -> None:
        self.notes.append(Note(shape.name, shape.line, what, why))

    def named(self, shape: Shape, curves: Sequence[Curve], what: str) -> list[tuple[str, Curve]]:
        """Give each curve the name of its shape, with a number where there are several."""
        if len(curves) == 1:
            return [(shape.name, curves[0])]
        names = numbered(shape.name, len(curves), self.taken)
        self.note(
            shape, f"read as {len(curves)} {what}, {names[0]!r} to {names[-1]!r}", "it has several subpaths"
        )
        return list(zip(names, curves, strict=True))

    def take_stem(self, shape: Shape, asked: bool) -> None:
        if not asked and shape.stroke_width is None:
            if all(curve.closed for curve in shape.curves):
                why = "it is the filled outline of a stem; a stem is read from a line along its middle"
                self.note(shape, "left out", why)
                return
            self.note(shape, "read as a stem of unknown width", "its words say so, though it has no stroke")
        self.add_stems(shape, shape.curves)

    def take_motif(self, shape: Shape, asked: bool) -> None:
        closed = [curve for curve in shape.curves if curve.closed]
        opened = [curve for curve in shape.curves if not curve.closed]
        if opened and (asked or shape.filled):
            self.note(shape, "closed by a straight line", "it is open, and a motif has an outline")
            closed = [_closed(curve) for curve in shape.curves]
        elif opened:
            self.note(
                shape, f"left out{' in part' if closed else ''}", "a motif has an outline; this line is open"
            )
        self.add_motifs(shape, closed)

    def take_frame(self, shape: Shape, asked: bool) -> None:
        outlines = [curve for curve in shape.curves if curve.closed]
        if not outlines and asked:
            self.note(shape, "closed by a straight line", "it is open, and a frame has an outline")
            outlines = [_closed(curve) for curve in shape.curves]
        if not outlines:
            self.note(shape, "left out", "its words say frame, but a frame is closed and this line is open")
            return
        if len(shape.curves) > 1:
            self.note(shape, "read by its largest subpath", "a frame has one outline")
        self.frames.append((shape, Frame(shape.name, max(outlines, key=_box_area))))

    def take_by_kind(self, shape: Shape) -> None:
        closed = [curve for curve in shape.curves if curve.closed]
        opened = [curve for curve in shape.curves if not curve.closed]
        if opened and shape.stroke_width is None:
            self.note(shape, "read as a motif, closed by its fill", "it is open but has no stroke")
            self.add_motifs(shape, [_closed(curve) for curve in shape.curves])
            return
        if opened and closed:
            why = "it has open and closed subpaths"
            self.note(shape, "read as stems where it is open and motifs where it is closed", why)
        self.add_stems(shape, opened)
        self.add_motifs(shape, closed)

    def add_stems(self, shape: Shape, curves: Sequence[Curve]) -> None:
        if curves:
            self.stems += [
                Stem(name, curve, shape.stroke_width, shape.layer, shape.settings)
                for name, curve in self.named(shape, curves, "stems")
            ]

    def add_motifs(self, shape: Shape, curves: Sequence[Curve]) -> None:
        if curves:
            named = self.named(shape, curves, "motifs")
            self.motifs += [Motif(name, curve, shape.layer) for name, curve in named]

    def choose_frame(self) -> None:
        """Take the largest frame."""
        if not self.frames:
            return
        self.frame = max((frame for _, frame in self.frames), key=lambda frame: _box_area(frame.outline))
        for shape, frame in self.frames:
            if frame is not self.frame:
                self.note(shape, "left out", f"a drawing has one frame, and {self.frame.name!r} is larger")


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


def _box_area(curve: Curve) -> float:
    left, top, right, bottom = curve.bounds
    return (right - left) * (bottom - top)


def _closed(curve: Curve) -> Curve:
    """Return a curve closed by a straight line from its end to its start."""
    if curve.closed:
        return curve
    way_back = bezier.from_lines(curve.controls[[-1, 0], [3, 0]])
    return Curve(np.concatenate([curve.controls, way_back]), closed=True)
