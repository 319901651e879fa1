"""What the words of shapes, and of the groups round them, say the shapes are for."""

from __future__ import annotations

import re
from collections import defaultdict
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve import bezier
from bias_drafting.drawing.drawing import Note

if TYPE_CHECKING:
    from collections.abc import Sequence

    from bias_drafting.curve.curve import Curve
    from bias_drafting.drawing.drawing import Shape

__all__ = ["Spoken", "might_be_an_edge", "roles_from_words"]

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
# A shape that fills this share of the smallest rectangle round it is one, its corners perhaps rounded.
_RECTANGLE = 0.95
_HAIR = 1e-3  # mm
_COARSE = 1e-4  # of its length: near enough to see whether an outline is a rectangle
# A piece whose handles are longer together than its chord by no more than this share is straight.
_STRAIGHT = 1e-6


def roles_from_words(words: Sequence[str]) -> list[str]:
    """Return the roles that words speak of, the most telling first.

    A shape's own words come before those of its groups, and in one text the last word comes first: a
    "leaf-stem" is a stem, a "stem leaf" a leaf, for English puts the thing itself last.

    Examples
    --------
    >>> roles_from_words(["path12", "bean leaf-stem 3", "inner border"])
    ['stem', 'motif', 'frame']
    """
    return list(dict.fromkeys(role for text in words for role in _roles_of(text)))


@lru_cache(maxsize=4096)
def _roles_of(text: str) -> tuple[str, ...]:
    tokens = [token.lower() for token in _WORD.findall(_HUMP.sub(" ", text))]
    found = (_ROLE_OF_WORD.get(t) or _ROLE_OF_WORD.get(t.removesuffix("s")) for t in reversed(tokens))
    return tuple(dict.fromkeys(role for role in found if role))


class Spoken:
    """What the words of the shapes of one drawing say, each heard among the others.

    A group called "border" or "block 3" holds the edge of it and all that grows inside: its name makes a frame only
    of what may be an edge, a rectangle or what goes round all else in the group.
    """

    def __init__(self, shapes: Sequence[Shape]) -> None:
        self.notes: list[Note] = []
        inside: dict[str, list[Shape]] = defaultdict(list)
        for shape in shapes:
            for name in dict.fromkeys(shape.layers):
                if "frame" in _roles_of(name):
                    inside[name].append(shape)
        self._not_edges = {name: _not_edges(members) for name, members in inside.items()}
        for name, members in inside.items():
            self._tell(name, [shape for shape in members if shape.name in self._not_edges[name]])

    def _tell(self, name: str, members: Sequence[Shape]) -> None:
        """Note that a group's name was not taken for that of what is in it, where it would have been."""
        misled = [shape for shape in members if roles_from_words(shape.words)[0] == "frame"]
        if misled:
            which = repr(misled[0].name) + (f" and {len(misled) - 1} more" if misled[1:] else "")
            why = "a frame is a rectangle, or closed and round all else in its group"
            self.notes.append(
                Note(misled[0].name, misled[0].line, f"not a frame for being in {name!r}: {which}", why)
            )

    def of(self, shape: Shape) -> list[str]:
        """Return the roles the words of a shape speak of, the most telling first."""
        roles: list[str] = []
        for text in shape.words:
            not_edge = shape.name in self._not_edges.get(text, ())
            roles += [role for role in _roles_of(text) if not (not_edge and role == "frame")]
        return list(dict.fromkeys(roles))


def _not_edges(members: Sequence[Shape]) -> set[str]:
    """Return the names of those of a group that are not its edge, but what it holds."""
    boxes = np.array([_box(shape) for shape in members])
    low, high = boxes[:, :2].min(axis=0) + _HAIR, boxes[:, 2:].max(axis=0) - _HAIR
    round_all = ((boxes[:, :2] <= low) & (boxes[:, 2:] >= high)).all(axis=1)
    return {
        shape.name
        for shape, goes_round in zip(members, round_all.tolist(), strict=True)
        if not (might_be_an_edge(shape) or (goes_round and _closed(shape)))
    }


def might_be_an_edge(shape: Shape) -> bool:
    """Return whether a shape is a rectangle, or of straight open lines, as the sides of a block may be drawn."""
    if not _closed(shape):
        return all(_straight(curve) for curve in shape.curves)
    import shapely

    largest = max((curve for curve in shape.curves if curve.closed), key=lambda curve: curve.length)
    polygon = shapely.Polygon(largest.flattened(_COARSE * largest.length))
    return bool(polygon.area >= _RECTANGLE * shapely.minimum_rotated_rectangle(polygon).area)


def _straight(curve: Curve) -> bool:
    chords = np.hypot(*(curve.controls[:, 3] - curve.controls[:, 0]).T)
    return bool((bezier.polygon_lengths(curve.controls) <= chords * (1 + _STRAIGHT)).all())


def _closed(shape: Shape) -> bool:
    return any(curve.closed for curve in shape.curves)


def _box(shape: Shape) -> tuple[float, float, float, float]:
    boxes = np.array([curve.bounds for curve in shape.curves])
    return (*boxes[:, :2].min(axis=0).tolist(), *boxes[:, 2:].max(axis=0).tolist())
