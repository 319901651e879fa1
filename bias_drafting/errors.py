"""The errors of the library: one root, and each error is also the right builtin.

Catch :class:`DraftingError` to catch everything this library raises on purpose. Every message says what was
wrong, where (a name, an element, a line) and what was wanted instead.

Examples
--------
>>> import bias_drafting as bd
>>> try:
...     bd.to_mm("a finger's width")
... except bd.DraftingError as error:
...     print(isinstance(error, ValueError))
True
"""

__all__ = [
    "ClothError",
    "CurveError",
    "DraftingError",
    "DrawingError",
    "LengthError",
    "PatternError",
    "SheetError",
    "UnfeasibleError",
]


class DraftingError(Exception):
    """The root of every error this library raises on purpose."""


class LengthError(DraftingError, ValueError):
    """A length that cannot be read, or that makes no sense where it was given."""


class CurveError(DraftingError, ValueError):
    """A curve that cannot be: no points, points that are not numbers, broken path data."""


class DrawingError(DraftingError, ValueError):
    """A drawing that cannot be read at a known size, or holds nothing to draft."""


class ClothError(DraftingError, ValueError):
    """Cloth, or a way of making, given figures that no cloth can have."""


class PatternError(DraftingError, ValueError):
    """A pattern asked for something its drawing does not have."""


class SheetError(DraftingError, ValueError):
    """A sheet that cannot be written as asked; nothing was written."""


class UnfeasibleError(DraftingError, ValueError):
    """A request that no answer can satisfy; the message says how far the best answer gets."""
