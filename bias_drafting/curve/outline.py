"""An outline: a closed boundary, perhaps with holes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from bias_drafting.curve.rings import signed_area
from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from bias_drafting.curve.curve import Curve

__all__ = ["Outline"]


@dataclass(frozen=True, repr=False)
class Outline:
    """A shape to trace, cut or stitch round.

    Attributes
    ----------
    exterior
        The closed curve round the outside, clockwise as seen on the page.
    holes
        Closed curves round the holes, the other way round; empty for most shapes.

    Raises
    ------
    CurveError
        A curve that is not closed.

    Examples
    --------
    >>> import bias_drafting as bd
    >>> stem = bd.Curve.from_points([(0, 0), (100, 0)])
    >>> stem.band("1/4 in")
    Outline(635 mm², no holes)
    """

    exterior: Curve
    holes: tuple[Curve, ...] = ()

    def __post_init__(self) -> None:
        if not all(getattr(curve, "closed", False) for curve in (self.exterior, *self.holes)):
            msg = "an outline is made of closed curves"
            raise CurveError(msg)

    @cached_property
    def area(self) -> float:
        """The enclosed area in mm², holes left out; exact for the cubics of the boundary."""
        return abs(signed_area(self.exterior.controls)) - sum(
            abs(signed_area(h.controls)) for h in self.holes
        )

    @cached_property
    def polygon(self) -> Any:
        """The shape as a shapely Polygon, its straight edges within 0.01 mm of the boundary."""
        import shapely

        return shapely.Polygon(self.exterior.flattened(0.01), [hole.flattened(0.01) for hole in self.holes])

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """The exact box round the shape: ``xmin, ymin, xmax, ymax`` in mm."""
        return self.exterior.bounds

    def transformed(self, matrix: ArrayLike) -> Outline:
        """Return the image under an affine map; a mirror image runs the right way round again."""
        exterior = self.exterior.transformed(matrix)
        holes = [hole.transformed(matrix) for hole in self.holes]
        if signed_area(exterior.controls) < 0:
            exterior, holes = exterior.reversed(), [hole.reversed() for hole in holes]
        return Outline(exterior, tuple(holes))

    def to_svg_path(self, decimals: int = 4) -> str:
        """Return SVG path data in mm; holes come out empty under either fill rule."""
        return "".join(curve.to_svg_path(decimals) for curve in (self.exterior, *self.holes))

    def __repr__(self) -> str:
        many = {0: "no holes", 1: "1 hole"}.get(len(self.holes), f"{len(self.holes)} holes")
        return f"Outline({self.area:.6g} mm², {many})"
