"""A stem whose edge is turned over a paper template: what limits it, and the steps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from bias_drafting.cloth.cloth import part_used, radius_mm
from bias_drafting.cloth.wording import CAUTIONS, finished_mm, size_words
from bias_drafting.units import positive_mm

if TYPE_CHECKING:
    from bias_drafting.cloth.cloth import Cloth

__all__ = ["TurnedTemplate"]


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
    layers: ClassVar[int] = 2
    grain: ClassVar[str] = "as you like: nothing is stretched; along the stem the straight grain frays least"
    prefer: ClassVar[str] = (
        "For tight bends, tapering stems and sharp points; more work, and no bias is needed."
    )

    allowance: float
    least_concave: float

    def __init__(self, allowance: str | float = "1/4 in", least_concave: str | float = "1/8 in") -> None:
        object.__setattr__(self, "allowance", positive_mm(allowance, "the allowance"))
        object.__setattr__(self, "least_concave", positive_mm(least_concave, "the least concave radius"))

    def allowance_at(self, width: str | float) -> float:
        """Give the allowance in mm at a finished width: never wider than the stem, or it would show."""
        return min(self.allowance, finished_mm(width))

    def cut_width(self, width: str | float) -> float:
        """Give the finished width and an allowance on both sides, in mm."""
        return finished_mm(width) + 2 * self.allowance_at(width)

    def remarks(self, width: str | float) -> tuple[str, ...]:
        """Tell where the allowance is narrowed, so that it does not show."""
        w = finished_mm(width)
        if self.allowance <= w:
            return ()
        return (
            f"The allowance is narrowed from {size_words(self.allowance)} to {size_words(w)}: wider it would show.",
        )

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
        return finished_mm(width) / 2 + self.least_concave / part_used(share)

    def widest(self, radius: str | float, cloth: Cloth, off_bias: float = 0, share: float = 1) -> float:
        """Give the widest stem in mm whose concave edge can be turned; the inverse of :meth:`least_radius`.

        The radius is mm or text: 0 at a sharp corner, where no stem passes, infinite on a straight line.
        """
        del cloth, off_bias
        return max(0.0, 2 * (radius_mm(radius) - self.least_concave / part_used(share)))

    def steps(self, width: str | float) -> tuple[str, ...]:
        """Give the work in order, in plain words with the sizes filled in."""
        w = finished_mm(width)
        allowance = self.allowance_at(w)
        overlap = f"The two allowances overlap behind a stem {size_words(w)} wide: trim the one turned last."
        return (
            "Trace the mirror image of the outline on paper and cut this template out on the line.",
            "Iron the template to the wrong side of the cloth, as the maker of the paper says.",
            f"Cut the cloth {size_words(allowance)} outside it all round: {size_words(self.cut_width(w))} in all.",
            f"Clip the allowance at concave edges only, up to {size_words(1.5)} from the template.",
            *((overlap,) if allowance > w / 2 else ()),
            "Turn the allowance over the template, concave edges first; baste or glue it, and press.",
            "Lay the stem on its placement line, sew it down, and take the paper out as its maker says.",
        )

    def cautions(self) -> tuple[str, ...]:
        """Give what to be careful of."""
        return ("Clip with small sharp scissors, their points away from the hand that holds.", *CAUTIONS)
