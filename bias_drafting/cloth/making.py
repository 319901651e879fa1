"""Ways of making a stem: how wide to cut for a finished width, what limits the bends, and the steps.

A way of making is any value with the members of :class:`Making`; the four here are frozen values. Three make
a stem from a strip cut on the bias, so the cloth limits the bend: :class:`StripMaking` has what they share, and one
of your own needs a name, a key, a cut width and its steps. One turns the edge over a paper template: paper holds the
shape, and the limit is the concave edge round which the allowance can still be turned.

The cut widths, steps and defaults are common practice, from memory; the arithmetic is that of the folds.

Examples
--------
>>> from bias_drafting import Cloth, to_mm
>>> from bias_drafting.cloth.making import FoldedStrip, SewnTube, StripMaking
>>> FoldedStrip().cut_width("1/4 in") / 25.4, SewnTube(seam="1/4 in").cut_width("1/4 in") / 25.4
(0.5, 1.0)

>>> class RawStrip(StripMaking):
...     name, key, layers = "raw strip", "raw-strip", 1
...     prefer = "For a quilt that may fray."
...     def cut_width(self, width):
...         return to_mm(width)
...     def steps(self, width):
...         return ("Cut it as wide as it finishes and sew down both raw edges.",)
>>> RawStrip().least_radius("1/4 in", Cloth()) == FoldedStrip().least_radius("1/4 in", Cloth())
True
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Final, Protocol

from bias_drafting.cloth.template import TurnedTemplate
from bias_drafting.cloth.tools import bar_remarks, bar_step, former_for, former_remarks
from bias_drafting.cloth.wording import CAUTIONS, cut_step, finished_mm, size_words
from bias_drafting.errors import ClothError
from bias_drafting.units import positive_mm

if TYPE_CHECKING:
    from collections.abc import Mapping

    from bias_drafting.cloth.cloth import Cloth

__all__ = [
    "FoldedStrip",
    "Making",
    "RolledStrip",
    "SewnTube",
    "StripMaking",
    "TurnedTemplate",
    "making_named",
]

# Rolled, a stem wider than this (mm) is bulky.
_WIDEST_ROLLED: Final = 6.35

_JOIN: Final = "Join strips with angled seams until they are long enough; press the seams open."
_LAY: Final = (
    "Lay the strip along its placement line and steam the inner edge of each bend until it lies flat."
)
_SEW: Final = "Pin or baste it. Sew the inner edge of the bends first, then the outer edge."


class Making(Protocol):
    """What a way of making a stem can say of itself; write a class with these members to add one."""

    @property
    def name(self) -> str:
        """Plain words: ``"folded strip"``."""
        ...

    @property
    def key(self) -> str:
        """The name on the command line and in files: ``"folded-strip"``."""
        ...

    @property
    def from_strip(self) -> bool:
        """Whether the stem is made from a bias strip; if not, it is cut to its own outline."""
        ...

    @property
    def layers(self) -> int:
        """How many layers of cloth lie on one another where it is thickest."""
        ...

    @property
    def grain(self) -> str:
        """Which way it is cut: ``"on the true bias; a straight stem on the straight grain"``."""
        ...

    @property
    def prefer(self) -> str:
        """When to prefer it, in a sentence."""
        ...

    def cut_width(self, width: str | float) -> float:
        """Give the width to cut, in mm, for a finished width (mm or text)."""
        ...

    def remarks(self, width: str | float) -> tuple[str, ...]:
        """Give what must be said of making it at this width: tools that do not fit, sizes that make no sense."""
        ...

    def least_radius(self, width: str | float, cloth: Cloth, off_bias: float = 0, share: float = 1) -> float:
        """Give the tightest bend in mm, at the centreline, that a stem of this width goes round.

        `off_bias` and `share` as in :meth:`Cloth.least_radius`; infinite if the stem does not bend at all.
        """
        ...

    def widest(self, radius: str | float, cloth: Cloth, off_bias: float = 0, share: float = 1) -> float:
        """Give the widest stem in mm that goes round a bend: 0 if none does, infinite on a straight line."""
        ...

    def steps(self, width: str | float) -> tuple[str, ...]:
        """Give the work in order, in plain words with the sizes filled in."""
        ...

    def cautions(self) -> tuple[str, ...]:
        """Give what to be careful of."""
        ...


class StripMaking:
    """What all ways of making from a bias strip share: the cloth limits their bends.

    A way of your own has a ``name``, a ``key``, ``cut_width`` and ``steps``, and what of the rest it has otherwise.
    """

    __slots__ = ()

    from_strip: ClassVar[bool] = True
    layers: ClassVar[int] = 2
    grain: ClassVar[str] = "on the true bias; a straight stem on the straight grain, which saves the bias"
    prefer: ClassVar[str] = ""

    def remarks(self, width: str | float) -> tuple[str, ...]:
        """Give what must be said of making it at this width: nothing."""
        finished_mm(width)
        return ()

    def least_radius(self, width: str | float, cloth: Cloth, off_bias: float = 0, share: float = 1) -> float:
        """Give the tightest bend in mm round which the strip lies flat: :meth:`Cloth.least_radius`."""
        return cloth.least_radius(width, off_bias, share)

    def widest(self, radius: str | float, cloth: Cloth, off_bias: float = 0, share: float = 1) -> float:
        """Give the widest strip in mm that lies flat round a bend: :meth:`Cloth.widest`."""
        return cloth.widest(radius, off_bias, share)

    def cautions(self) -> tuple[str, ...]:
        """Give what to be careful of."""
        return CAUTIONS


@dataclass(frozen=True, slots=True)
class FoldedStrip(StripMaking):
    """A strip with both raw edges folded to the middle of its back.

    Attributes
    ----------
    fusible
        Whether a strip of fusible web is laid in its back, to hold it until it is sewn.

    Examples
    --------
    >>> FoldedStrip().cut_width("1/4 in")
    12.7
    >>> FoldedStrip().steps("1/4 in")[0]
    'Cut strips 1/2 in (12.7 mm) wide on the true bias; for a straight stem the straight grain serves.'
    >>> FoldedStrip().remarks("5/16 in")
    ('No tape former is made for 5/16 in (7.94 mm); the next are for 6 and 9 mm: press it under two pins.',)
    """

    name: ClassVar[str] = "folded strip"
    key: ClassVar[str] = "folded-strip"
    prefer: ClassVar[str] = (
        "For most stems from 1/4 to 1 in: little bulk, both edges turned, quick with a tape former."
    )

    fusible: bool = False

    def cut_width(self, width: str | float) -> float:
        """Give twice the finished width, in mm."""
        return 2 * finished_mm(width)

    def fusible_width(self, width: str | float) -> float:
        """Give the width of the fusible strip in mm: 1 mm narrower than the stem, or a fifth of it if that is less.

        So it does not show at the edges or stick to the iron (common practice, from memory).
        """
        w = finished_mm(width)
        return w - min(1.0, w / 5)

    def remarks(self, width: str | float) -> tuple[str, ...]:
        """Tell where no tape former is made for the width, or one only by another name."""
        w = finished_mm(width)
        return former_remarks(w, size_words(w))

    def steps(self, width: str | float) -> tuple[str, ...]:
        """Give the work in order, in plain words with the sizes filled in."""
        w = finished_mm(width)
        web = (
            f"Fuse a strip of web {size_words(self.fusible_width(w))} wide along its back, as its maker says."
        )
        former = former_for(w) is not None
        return (
            cut_step(self.cut_width(w)),
            _JOIN,
            f"Turn {size_words(w / 2)} under along both edges, so that the raw edges meet behind the middle.",
            f"Press it so, drawn through a tape former for {size_words(w)} or under two pins that far apart."
            if former
            else f"Press it so, drawn under two pins {size_words(w)} apart.",
            *((web,) if self.fusible else ()),
            _LAY,
            _SEW,
        )


@dataclass(frozen=True, slots=True, init=False)
class SewnTube(StripMaking):
    """A strip sewn into a tube and pressed with its seam along the back.

    Attributes
    ----------
    seam
        Seam allowance in mm; give it as mm or text. The default 1/4 in is common practice.

    Raises
    ------
    LengthError
        If the seam allowance is not a length more than 0.

    Examples
    --------
    >>> SewnTube(seam="1/4 in").cut_width("1/4 in")
    25.4
    """

    name: ClassVar[str] = "sewn tube"
    key: ClassVar[str] = "sewn-tube"
    layers: ClassVar[int] = 4
    prefer: ClassVar[str] = (
        "For stems that stand up a little and wear well: two edges that are folds, more bulk."
    )

    seam: float

    def __init__(self, seam: str | float = "1/4 in") -> None:
        object.__setattr__(self, "seam", positive_mm(seam, "the seam allowance"))

    def cut_width(self, width: str | float) -> float:
        """Give twice the finished width and two seam allowances, in mm."""
        return 2 * (finished_mm(width) + self.seam)

    def remarks(self, width: str | float) -> tuple[str, ...]:
        """Tell where no pressing bar is made for the width."""
        w = finished_mm(width)
        return bar_remarks(w, size_words(w))

    def steps(self, width: str | float) -> tuple[str, ...]:
        """Give the work in order, in plain words with the sizes filled in."""
        w = finished_mm(width)
        trim = f"Trim the seam allowance to less than {size_words(w / 2)}, so that it stays hidden behind."
        return (
            cut_step(self.cut_width(w)),
            _JOIN,
            f"Fold it in half lengthwise, right side out. Sew {size_words(w)} from the fold.",
            f"The seam allowance beside that is {size_words(self.seam)}, if the strip was cut true.",
            *((trim,) if self.seam >= w / 2 else ()),
            bar_step(w),
            _LAY,
            _SEW,
        )

    def cautions(self) -> tuple[str, ...]:
        """Give what to be careful of."""
        return ("A pressing bar grows as hot as the iron: let it cool before you touch it.", *CAUTIONS)


@dataclass(frozen=True, slots=True)
class RolledStrip(StripMaking):
    """A strip sewn along one edge of the stem, rolled over its own seam and turned under at the other edge.

    For very narrow stems, 1/8 in and thereabouts, too narrow to fold beforehand.

    Examples
    --------
    >>> round(RolledStrip().cut_width("1/8 in"), 6)
    9.525
    """

    name: ClassVar[str] = "rolled strip"
    key: ClassVar[str] = "rolled-strip"
    layers: ClassVar[int] = 3
    prefer: ClassVar[str] = (
        "For stems of 1/8 in and thereabouts, too narrow to fold beforehand; sewn by hand along one edge."
    )

    def cut_width(self, width: str | float) -> float:
        """Give three times the finished width, in mm: the seam, the face and the turn-under."""
        return 3 * finished_mm(width)

    def remarks(self, width: str | float) -> tuple[str, ...]:
        """Tell where it is so wide that it makes no sense, above 1/4 in (common practice, from memory)."""
        w = finished_mm(width)
        if w <= _WIDEST_ROLLED:
            return ()
        most = size_words(_WIDEST_ROLLED)
        return (
            f"At {size_words(w)} three layers all across are bulky: above {most} fold the strip instead.",
        )

    def steps(self, width: str | float) -> tuple[str, ...]:
        """Give the work in order, in plain words with the sizes filled in."""
        w = finished_mm(width)
        return (
            cut_step(self.cut_width(w)),
            _JOIN,
            f"Draw both edges of the stem, {size_words(w)} apart; line 1 is the one inside the tightest bend.",
            "Lay the strip right side down, a raw edge on line 2 and the rest of it out across line 1.",
            f"Sew along line 1, {size_words(w)} from that raw edge, easing the strip round the bends.",
            "Roll the strip over its seam, right side up, so that it covers the stem.",
            f"Turn the last {size_words(w)} under and sew the fold down by hand along line 2.",
        )


_MAKINGS: Final[Mapping[str, Making]] = {
    making.key: making for making in (FoldedStrip(), SewnTube(), RolledStrip(), TurnedTemplate())
}


def making_named(key: str) -> Making:
    """Give a way of making, with its usual allowances, by its key.

    Parameters
    ----------
    key
        ``"folded-strip"``, ``"sewn-tube"``, ``"rolled-strip"`` or ``"turned-template"``.

    Raises
    ------
    ClothError
        If there is none of this name; the message lists what is possible.

    Examples
    --------
    >>> making_named("sewn-tube")
    SewnTube(seam=6.35)
    """
    making = _MAKINGS.get(key)
    if making is None:
        message = f"{key!r} is not a way of making a stem; possible are {', '.join(_MAKINGS)}"
        raise ClothError(message)
    return making
