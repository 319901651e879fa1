"""What if: stems at several widths, made in several ways from several cloths, each judged as ``check_stem`` does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Protocol, TypeAlias, overload

import numpy as np

from bias_drafting.cloth.cloth import Cloth
from bias_drafting.cloth.making import FoldedStrip, Making, making_named
from bias_drafting.cloth.named import cloth_named
from bias_drafting.cloth.verdict import EASY_SHARE, Verdict, judged
from bias_drafting.curve.curve import Curve
from bias_drafting.errors import ClothError, DraftingError
from bias_drafting.units import checked_unit, positive_mm

if TYPE_CHECKING:
    from collections.abc import Iterable

    import pandas as pd
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from bias_drafting.cloth.bend import HasCentreline

    Array = NDArray[np.float64]

__all__ = ["BLOCK_SIZES", "WhatIf", "WidthTable", "block_table", "width_table"]

_Key: TypeAlias = "tuple[str, Making, Cloth, float | None]"

# Radii found by interpolation are right to this share; one nearer to a limit is measured exactly.
_NEAR: Final = 1e-3


# Sizes that blocks are made in (common practice).
BLOCK_SIZES: Final = ("8 in", "9 in", "10 in", "12 in", "14 in", "16 in", "18 in")


class HasStems(Protocol):
    """A drawing, for its stems."""

    @property
    def stems(self) -> Sequence[HasCentreline]:
        """The stems, in order."""
        ...


@dataclass(frozen=True, slots=True)
class WhatIf:
    """One stem at one width, made one way from one cloth.

    Attributes
    ----------
    stem
        Its name; for bare curves ``"curve 1"`` and so on.
    width
        Finished width in mm.
    making, cloth
        Way of making, and cloth.
    radius, least_radius
        Its tightest working radius over the width, and the least that passes, in mm.
    verdict
        Whether it goes round; None where the stem is no longer than it is wide.
    block
        The longer side in mm of the block it is scaled with; None as it is drawn.
    """

    stem: str
    width: float
    making: Making
    cloth: Cloth
    radius: float
    least_radius: float
    verdict: Verdict | None
    block: float | None = None


@dataclass(frozen=True, slots=True)
class WidthTable(Sequence[WhatIf]):
    """What :func:`width_table` found: a sequence of :class:`WhatIf`, as a DataFrame and a picture besides.

    Attributes
    ----------
    rows
        One for each combination: by stem, then making, then cloth, then width.

    Examples
    --------
    >>> import bias_drafting as bd
    >>> bend = bd.Curve.from_svg_path("M0 0A30 30 0 0 1 60 0")
    >>> table = bd.width_table([bend], ["1/8 in", "1/4 in", "3/8 in"])
    >>> len(table), table[0].verdict.value
    (3, 'lies flat')
    >>> [(row.stem, row.width) for row in table.widest()]
    [('curve 1', 6.35)]
    """

    rows: tuple[WhatIf, ...]

    @overload
    def __getitem__(self, number: int) -> WhatIf: ...
    @overload
    def __getitem__(self, number: slice) -> tuple[WhatIf, ...]: ...
    def __getitem__(self, number: int | slice) -> WhatIf | tuple[WhatIf, ...]:
        """Return a row, or several."""
        return self.rows[number]

    def __len__(self) -> int:
        return len(self.rows)

    def widest(self) -> tuple[WhatIf, ...]:
        """Return, for each stem, making and cloth, the row of the widest width up to which all that were asked pass.

        Where the narrowest fails there is none.
        """
        found: dict[_Key, WhatIf] = {}
        failed: set[_Key] = set()
        for row in sorted(self.rows, key=lambda row: row.width):
            key = (row.stem, row.making, row.cloth, row.block)
            if row.verdict is None or row.verdict is Verdict.TOO_TIGHT:
                failed.add(key)
            elif key not in failed:
                found[key] = row
        order = dict.fromkeys((row.stem, row.making, row.cloth, row.block) for row in self.rows)
        return tuple(found[key] for key in order if key in found)

    def to_frame(self) -> pd.DataFrame:
        """Return a DataFrame with a row for each combination, units in the names of columns; needs pandas.

        Raises
        ------
        DraftingError
            Where pandas is not installed.
        """
        try:
            import pandas as pd
        except ImportError as error:
            msg = "a DataFrame needs pandas: pip install 'bias_drafting[tables]'"
            raise DraftingError(msg) from error
        return pd.DataFrame(
            {
                "stem": [row.stem for row in self.rows],
                "making": [row.making.name for row in self.rows],
                "cloth": [row.cloth.name for row in self.rows],
                "block_mm": [row.block for row in self.rows],
                "width_mm": [row.width for row in self.rows],
                "radius_mm": [row.radius for row in self.rows],
                "least_radius_mm": [row.least_radius for row in self.rows],
                "verdict": [None if row.verdict is None else row.verdict.value for row in self.rows],
            }
        )

    def plot(self, ax: Axes | None = None, *, unit: str = "in") -> Axes:
        """Draw a table to see at a glance: a row for each stem, making and cloth, a column for each width.

        Each verdict has its colour and its sign: ``o`` lies flat, ``/`` needs easing, ``x`` too tight; a stem no
        longer than it is wide has none.

        Raises
        ------
        DraftingError
            Where matplotlib is not installed; a LengthError for another unit than ``"in"`` and ``"mm"``.
        """
        from bias_drafting.cloth.plots import plot_table

        return plot_table(self.rows, ax, checked_unit(unit))


def width_table(
    stems: HasStems | HasCentreline | Curve | Iterable[HasCentreline | Curve],
    widths: Sequence[str | float],
    makings: Sequence[Making | str] = (FoldedStrip(),),
    cloths: Sequence[Cloth | str] = (Cloth(),),
    off_bias: float = 0.0,
) -> WidthTable:
    """Judge stems at several widths, made in several ways from several cloths.

    Every curve is measured once, for all widths together; what comes near a limit is measured again exactly.

    Parameters
    ----------
    stems
        A drawing, or stems or bare curves.
    widths
        Finished widths: mm or text.
    makings, cloths
        Ways of making and cloths, or their names.
    off_bias
        Degrees by which strips are cut off the true bias.

    Returns
    -------
    WidthTable
        A :class:`WhatIf` for each combination: by stem, then making, then cloth, then width.

    Raises
    ------
    LengthError, ClothError
        A width that is not more than 0, or nothing to judge; a way of making or a cloth that is not known;
        ``off_bias`` out of range.

    Examples
    --------
    >>> import bias_drafting as bd
    >>> bend = bd.Curve.from_svg_path("M0 0A30 30 0 0 1 60 0")
    >>> for row in bd.width_table([bend], ["1/8 in", "1/4 in", "3/8 in"]):
    ...     print(round(row.width, 1), row.verdict.value)
    3.2 lies flat
    6.3 needs easing
    9.5 too tight
    """
    asked: Any = getattr(stems, "stems", stems)
    listed: list[Any] = [asked] if isinstance(asked, Curve) or hasattr(asked, "centreline") else list(asked)
    sizes = np.array([positive_mm(width, "the finished width") for width in widths])
    ways = [making_named(making) if isinstance(making, str) else making for making in makings]
    kinds = [cloth_named(cloth) if isinstance(cloth, str) else cloth for cloth in cloths]
    if not (listed and len(sizes) and ways and kinds):
        msg = "a table needs one stem, width, way of making and cloth at least"
        raise ClothError(msg)
    limits = [(making, cloth, _limits(sizes, making, cloth, off_bias)) for making in ways for cloth in kinds]
    rows = []
    for number, stem in enumerate(listed, 1):
        curve = stem if isinstance(stem, Curve) else stem.centreline
        name = f"curve {number}" if isinstance(stem, Curve) else stem.name
        measured = _Measured(curve, sizes)
        for making, cloth, of_widths in limits:
            for k, (least, easy) in enumerate(of_widths):
                radius = measured.radius(k, least, easy)
                verdict = None if curve.length <= sizes[k] else judged(radius, least, easy)
                rows.append(WhatIf(name, float(sizes[k]), making, cloth, radius, least, verdict))
    return WidthTable(tuple(rows))


def block_table(
    drawing: Any,
    sizes: Sequence[str | float] = BLOCK_SIZES,
    width: str | float = "1/4 in",
    making: Making | str = FoldedStrip(),
    cloth: Cloth | str = Cloth(),
    *,
    scale_width: bool = False,
    off_bias: float = 0.0,
) -> WidthTable:
    """Judge the stems of a block as they are when the whole block is scaled to several sizes.

    Parameters
    ----------
    drawing
        A drawing. Its own size is that of its frame, or of its page.
    sizes
        Of the longer side of the block: mm or text.
    width
        Finished width of the stems.
    making, cloth, off_bias
        As for :func:`check_stem`.
    scale_width
        Whether the stems grow and shrink with the block; ``width`` is then that at the size it is drawn.

    Returns
    -------
    WidthTable
        A :class:`WhatIf` for each stem and size.

    Raises
    ------
    LengthError, ClothError
        A size or width that is not more than 0, or nothing to judge; a way of making or a cloth that is not known;
        ``off_bias`` out of range.

    Examples
    --------
    >>> import bias_drafting as bd
    >>> table = bd.block_table(bd.read_sample("bean-wreath"), ["8 in", "12 in", "18 in"])
    >>> [sum(row.verdict is bd.Verdict.TOO_TIGHT for row in table if row.block == size) for size in (203.2, 457.2)]
    [6, 1]
    """
    blocks = [positive_mm(size, "the size of the block") for size in sizes]
    w = positive_mm(width, "the finished width")
    way = making_named(making) if isinstance(making, str) else making
    of = cloth_named(cloth) if isinstance(cloth, str) else cloth
    if not (drawing.stems and blocks):
        msg = "a table needs one stem and one size at least"
        raise ClothError(msg)
    if drawing.frame is None:
        own = max(drawing.size)
    else:
        left, top, right, bottom = drawing.frame.outline.bounds
        own = max(right - left, bottom - top)
    scales = np.array(blocks) / own
    widths = w * scales if scale_width else np.full(len(scales), w)
    limits = _limits(widths, way, of, off_bias)
    rows = []
    for stem in drawing.stems:
        # A stem twice as large bends as one half as wide does, at twice the radius.
        measured = _Measured(stem.centreline, widths / scales)
        for k, (least, easy) in enumerate(limits):
            scale = float(scales[k])
            radius = scale * measured.radius(k, least / scale, easy / scale)
            verdict = None if stem.centreline.length * scale <= widths[k] else judged(radius, least, easy)
            rows.append(WhatIf(stem.name, float(widths[k]), way, of, radius, least, verdict, blocks[k]))
    return WidthTable(tuple(rows))


def _limits(widths: Array, making: Making, cloth: Cloth, off_bias: float) -> list[tuple[float, float]]:
    """Return the least radius of each width, and the one from which it lies flat."""
    return [
        (making.least_radius(w, cloth, off_bias), making.least_radius(w, cloth, off_bias, EASY_SHARE))
        for w in widths.tolist()
    ]


class _Measured:
    """The working radii of one curve over several widths: by interpolation, and exactly where it matters."""

    def __init__(self, curve: Curve, widths: Array) -> None:
        self.curve = curve
        self.widths = widths
        self.radii = curve.least_working_radii(widths)
        self.exact: dict[int, float] = {}

    def radius(self, k: int, *limits: float) -> float:
        """Return the radius over the ``k``-th width, exactly if it is near one of the limits."""
        rough = float(self.radii[k])
        if not any(abs(rough - limit) <= _NEAR * limit for limit in limits):
            return rough
        if k not in self.exact:
            self.exact[k] = self.curve.tightest(window=float(self.widths[k])).radius
        return self.exact[k]
