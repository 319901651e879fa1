"""Ways of making a stem: how wide to cut for a finished width, what limits the bends, and the steps.

A way of making is any value with the members of :class:`Making`; the four here are frozen values. Three make
a stem from a strip cut on the bias, so the cloth limits the bend. One turns the edge over a paper template:
paper holds the shape, and the limit is the concave edge round which the allowance can still be turned.

The cut widths, steps and defaults are common practice, from memory; the arithmetic is that of the folds.

Examples
--------
>>> from bias_drafting.cloth.making import FoldedStrip, SewnTube
>>> FoldedStrip().cut_width("1/4 in") / 25.4, SewnTube(seam="1/4 in").cut_width("1/4 in") / 25.4
(0.5, 1.0)
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Final, Protocol

from bias_drafting.cloth.cloth import part_used, radius_mm
from bias_drafting.errors import ClothError
from bias_drafting.units import format_length, format_width, positive_mm, to_mm

if TYPE_CHECKING:
    from collections.abc import Mapping

    from bias_drafting.cloth.cloth import Cloth

__all__ = ["FoldedStrip", "Making", "RolledStrip", "SewnTube", "TurnedTemplate", "making_named"]

_CAUTIONS: Final = (
    "A rotary cutter is an open blade: cut away from yourself and close its guard after every cut.",
    "Iron and steam burn: keep hands and faces out of the steam; switch the iron off when you leave it.",
    "Count pins and needles out and count them back, so that none stays in the quilt.",
    "Keep blades, pins, needles and other small parts away from children and animals.",
    "The makers' instructions for your tools and materials, and the safety rules where you work, come first.",
)

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

    def cut_width(self, width: str | float) -> float:
        """Give the width to cut, in mm, for a finished width (mm or text)."""
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


class _BiasStrip:
    """What the three strips share: the cloth limits their bends."""

    __slots__ = ()

    from_strip: ClassVar[bool] = True

    def least_radius(self, width: str | float, cloth: Cloth, off_bias: float = 0, share: float = 1) -> float:
        """Give the tightest bend in mm round which the strip lies flat: :meth:`Cloth.least_radius`."""
        return cloth.least_radius(width, off_bias, share)

    def widest(self, radius: str | float, cloth: Cloth, off_bias: float = 0, share: float = 1) -> float:
        """Give the widest strip in mm that lies flat round a bend: :meth:`Cloth.widest`."""
        return cloth.widest(radius, off_bias, share)

    def cautions(self) -> tuple[str, ...]:
        """Give what to be careful of."""
        return _CAUTIONS


@dataclass(frozen=True, slots=True)
class FoldedStrip(_BiasStrip):
    """A strip with both raw edges folded to the middle of its back.

    Examples
    --------
    >>> FoldedStrip().cut_width("1/4 in")
    12.7
    >>> FoldedStrip().steps("1/4 in")[0]
    'Cut strips 1/2 in (12.7 mm) wide on the true bias; for a straight stem the straight grain serves.'
    """

    name: ClassVar[str] = "folded strip"
    key: ClassVar[str] = "folded-strip"

    def cut_width(self, width: str | float) -> float:
        """Give twice the finished width, in mm."""
        return 2 * _finished(width)

    def steps(self, width: str | float) -> tuple[str, ...]:
        """Give the work in order, in plain words with the sizes filled in."""
        w = _finished(width)
        return (
            _cut(self.cut_width(w)),
            _JOIN,
            f"Turn {_size(w / 2)} under along both edges, so that the raw edges meet behind the middle.",
            f"Press it so, drawn through a tape former for {_size(w)} or under two pins that far apart.",
            _LAY,
            _SEW,
        )


@dataclass(frozen=True, slots=True, init=False)
class SewnTube(_BiasStrip):
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

    seam: float

    def __init__(self, seam: str | float = "1/4 in") -> None:
        object.__setattr__(self, "seam", positive_mm(seam, "the seam allowance"))

    def cut_width(self, width: str | float) -> float:
        """Give twice the finished width and two seam allowances, in mm."""
        return 2 * (_finished(width) + self.seam)

    def steps(self, width: str | float) -> tuple[str, ...]:
        """Give the work in order, in plain words with the sizes filled in."""
        w = _finished(width)
        trim = f"Trim the seam allowance to less than {_size(w / 2)}, so that it stays hidden behind."
        return (
            _cut(self.cut_width(w)),
            _JOIN,
            f"Fold it in half lengthwise, right side out. Sew {_size(w)} from the fold.",
            f"The seam allowance beside that is {_size(self.seam)}, if the strip was cut true.",
            *((trim,) if self.seam >= w / 2 else ()),
            f"Slide in a pressing bar for {_size(w)}, roll the seam to the middle of the back, and press.",
            _LAY,
            _SEW,
        )

    def cautions(self) -> tuple[str, ...]:
        """Give what to be careful of."""
        return ("A pressing bar grows as hot as the iron: let it cool before you touch it.", *_CAUTIONS)


@dataclass(frozen=True, slots=True)
class RolledStrip(_BiasStrip):
    """A strip sewn along one edge of the stem, rolled over its own seam and turned under at the other edge.

    For very narrow stems, 1/8 in and thereabouts, too narrow to fold beforehand.

    Examples
    --------
    >>> round(RolledStrip().cut_width("1/8 in"), 6)
    9.525
    """

    name: ClassVar[str] = "rolled strip"
    key: ClassVar[str] = "rolled-strip"

    def cut_width(self, width: str | float) -> float:
        """Give three times the finished width, in mm: the seam, the face and the turn-under."""
        return 3 * _finished(width)

    def steps(self, width: str | float) -> tuple[str, ...]:
        """Give the work in order, in plain words with the sizes filled in."""
        w = _finished(width)
        return (
            _cut(self.cut_width(w)),
            _JOIN,
            f"Draw both edges of the stem, {_size(w)} apart; line 1 is the one inside the tightest bend.",
            "Lay the strip right side down, a raw edge on line 2 and the rest of it out across line 1.",
            f"Sew along line 1, {_size(w)} from that raw edge, easing the strip round the bends.",
            "Roll the strip over its seam, right side up, so that it covers the stem.",
            f"Turn the last {_size(w)} under and sew the fold down by hand along line 2.",
        )


@dataclass(frozen=True, slots=True, init=False)
class TurnedTemplate:
    """A piece cut to the outline of the stem, its edge turned over a paper template.

    Nothing is stretched, so neither the cloth nor its grain limits the bend. The concave edge does, half a
    width inside the centreline: round too small a radius a clipped allowance does not turn smoothly.

    Attributes
    ----------
    allowance
        What is cut outside the outline to be turned under, in mm; give it as mm or text. A narrow stem gets
        less (:meth:`allowance_at`). The default 1/4 in is common practice.
    least_concave
        Radius of the tightest concave edge that can be turned, in mm; give it as mm or text. The default
        1/8 in is common practice, from memory.

    Raises
    ------
    LengthError
        If one of them is not a length more than 0.

    Examples
    --------
    >>> TurnedTemplate(allowance="1/4 in").cut_width("1/2 in")
    25.4
    """

    name: ClassVar[str] = "turned template"
    key: ClassVar[str] = "turned-template"
    from_strip: ClassVar[bool] = False

    allowance: float
    least_concave: float

    def __init__(self, allowance: str | float = "1/4 in", least_concave: str | float = "1/8 in") -> None:
        object.__setattr__(self, "allowance", positive_mm(allowance, "the allowance"))
        object.__setattr__(self, "least_concave", positive_mm(least_concave, "the least concave radius"))

    def allowance_at(self, width: str | float) -> float:
        """Give the allowance in mm at a finished width: never wider than the stem, or it would show."""
        return min(self.allowance, _finished(width))

    def cut_width(self, width: str | float) -> float:
        """Give the finished width and an allowance on both sides, in mm."""
        return _finished(width) + 2 * self.allowance_at(width)

    def least_radius(self, width: str | float, cloth: Cloth, off_bias: float = 0, share: float = 1) -> float:
        """Give the tightest bend in mm, at the centreline, whose concave edge can be turned.

        Parameters
        ----------
        width
            The finished width: mm or text.
        cloth, off_bias
            Make no difference here.
        share
            More than 0 and at most 1; the radius of the concave edge is to be ``least_concave / share``, so
            with 0.5 it is turned without trouble.

        Returns
        -------
        float
            ``width / 2 + least_concave / share``.

        Raises
        ------
        ClothError, LengthError
            If `share` is out of range; if the width is not a length more than 0.

        Examples
        --------
        >>> from bias_drafting.cloth.cloth import Cloth
        >>> TurnedTemplate().least_radius("1/4 in", Cloth())
        6.35
        """
        del cloth, off_bias
        return _finished(width) / 2 + self.least_concave / part_used(share)

    def widest(self, radius: str | float, cloth: Cloth, off_bias: float = 0, share: float = 1) -> float:
        """Give the widest stem in mm whose concave edge can be turned; the inverse of :meth:`least_radius`.

        The radius is mm or text: 0 at a sharp corner, where no stem passes, infinite on a straight line.
        """
        del cloth, off_bias
        return max(0.0, 2 * (radius_mm(radius) - self.least_concave / part_used(share)))

    def steps(self, width: str | float) -> tuple[str, ...]:
        """Give the work in order, in plain words with the sizes filled in."""
        w = _finished(width)
        allowance = self.allowance_at(w)
        overlap = f"The two allowances overlap behind a stem {_size(w)} wide: trim the one turned last."
        return (
            "Trace the mirror image of the outline on paper and cut this template out on the line.",
            "Iron the template to the wrong side of the cloth, as the maker of the paper says.",
            f"Cut the cloth {_size(allowance)} outside it all round: {_size(self.cut_width(w))} in all.",
            f"Clip the allowance at concave edges only, up to {_size(1.5)} from the template.",
            *((overlap,) if allowance > w / 2 else ()),
            "Turn the allowance over the template, concave edges first; baste or glue it, and press.",
            "Lay the stem on its placement line, sew it down, and take the paper out as its maker says.",
        )

    def cautions(self) -> tuple[str, ...]:
        """Give what to be careful of."""
        return ("Clip with small sharp scissors, their points away from the hand that holds.", *_CAUTIONS)


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


def _finished(width: str | float) -> float:
    """Give a finished width in mm."""
    return positive_mm(width, "the finished width")


def _size(mm: float) -> str:
    """Write a size as a ruler shows it, and in mm: ``"1/4 in (6.35 mm)"``, ``"about 1/4 in (6 mm)"``."""
    inches, metric = format_length(mm, "in", step=32), format_width(mm, "mm")
    gap = abs(to_mm(inches) - mm)
    if gap >= mm / 2:  # too small for a ruler in inches
        return metric
    return f"{inches} ({metric})" if gap < 0.005 else f"about {inches} ({metric})"


def _cut(cut_width: float) -> str:
    """Word the step that cuts the strips."""
    return (
        f"Cut strips {_size(cut_width)} wide on the true bias; for a straight stem the straight grain serves."
    )
