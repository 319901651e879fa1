"""What covers each end of a stem, and how far the stem reaches under it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from bias_drafting.curve.curve import Curve
    from bias_drafting.drawing.drawing import Drawing, Stem

    Array = NDArray[np.float64]

__all__ = ["TOUCH", "Covers", "Tuck"]

# A drawn end this near to a cover counts as reaching it, in mm: a pencil line's width.
TOUCH: Final = 0.5
# A stem is looked at so often, in mm, for what lies over it.
_LOOK: Final = 1.0
# In how many steps the hidden reach of a tuck is found.
_STEPS: Final = 32
# Cover outlines are taken as polygons this fine, in mm; it decides only what lies under what.
_FINE: Final = 0.02
# What shows by less than this, in mm, is hidden.
_UNSEEN: Final = 0.05


@dataclass(frozen=True, slots=True)
class Tuck:
    """One covered end of a stem.

    Attributes
    ----------
    end
        ``"start"`` or ``"end"`` of the centreline.
    under
        Name of what covers it.
    kind
        ``"motif"``, ``"stem"`` or ``"frame"``.
    length
        How much longer the stem is cut there, in mm.
    hidden
        How much of that, in mm, stays hidden however it is laid: the finished outline runs on so far, and what is
        left over is trimmed.
    """

    end: str
    under: str
    kind: str
    length: float
    hidden: float


class Covers:
    """All that may cover the end of a stem in one drawing.

    Parameters
    ----------
    drawing
        The drawing.
    widths
        Finished width of each stem by name, in mm.
    """

    def __init__(self, drawing: Drawing, widths: Mapping[str, float]) -> None:
        import shapely

        self._stems = {stem.name: stem for stem in drawing.stems}
        self._widths = widths
        self._number = {stem.name: k for k, stem in enumerate(drawing.stems)}
        self._motif_names = [motif.name for motif in drawing.motifs]
        self._motifs = np.array([_filled(m.outline) for m in drawing.motifs], dtype=object)
        self._motif_tree = shapely.STRtree(self._motifs)
        self._lines = {
            stem.name: shapely.LineString(stem.centreline.flattened(_FINE)) for stem in drawing.stems
        }
        self._line_tree = shapely.STRtree(list(self._lines.values()))
        self._line_names = list(self._lines)
        self._reach = max(widths.values(), default=0.0) / 2 + TOUCH
        self._frame = None if drawing.frame is None else _filled(drawing.frame.outline)
        self._frame_name = "" if drawing.frame is None else drawing.frame.name

    def tucks(self, stem: Stem, tuck: float) -> tuple[Tuck, ...]:
        """Return the covered ends of a stem, each reaching ``tuck`` mm under; none on a closed stem."""
        if stem.centreline.closed:
            return ()
        found = []
        for end in ("start", "end"):
            cover = self._cover(stem, end)
            if cover is not None:
                kind, name, area = cover
                found.append(Tuck(end, name, kind, tuck, self._hidden(stem, end, tuck, area)))
        return tuple(found)

    def hidden(self, stem: Stem) -> tuple[tuple[float, float], ...]:
        """Return the stretches of a stem, as arc lengths in mm, over whose whole width a motif lies."""
        import shapely

        curve, width = stem.centreline, self._widths[stem.name]
        near = self._motif_tree.query(self._lines[stem.name], predicate="intersects")
        if not len(near):
            return ()
        cover = shapely.union_all(self._motifs[near]).buffer(-width / 2)
        s = np.linspace(0, curve.length, int(np.ceil(curve.length / min(width / 4, _LOOK))) + 1)
        inside = np.concatenate([[False], shapely.contains_xy(cover, curve.point_at(s)), [False]])
        edges = np.flatnonzero(np.diff(inside))
        # One place alone is no stretch.
        runs = [(float(s[a]), float(s[b - 1])) for a, b in edges.reshape(-1, 2).tolist() if b - a > 1]
        if curve.closed and len(runs) > 1 and runs[0][0] == 0 and runs[-1][1] == s[-1]:
            runs = [*runs[1:-1], (runs[-1][0], runs[0][1])]
        return tuple(runs)

    def _cover(self, stem: Stem, end: str) -> tuple[str, str, Any] | None:
        """Return kind, name and area of what covers an end: a motif first, then the frame, then another stem."""
        import shapely

        point = shapely.Point(stem.centreline.start if end == "start" else stem.centreline.end)
        near = self._motif_tree.query(point, predicate="dwithin", distance=TOUCH)
        if len(near):
            # The one whose edge is farthest away hides the end best.
            depth = shapely.distance(shapely.boundary(self._motifs[near]), point)
            inside = shapely.intersects(self._motifs[near], point)
            best = int(near[np.argmax(np.where(inside, depth, -depth))])
            return "motif", self._motif_names[best], shapely.union_all(self._motifs[near])
        if self._frame is not None and (
            not self._frame.contains(point) or self._frame.exterior.distance(point) <= TOUCH
        ):
            return "frame", self._frame_name, None
        crossed = self._line_tree.query(point, predicate="dwithin", distance=self._reach)
        for name in sorted(
            (self._line_names[k] for k in crossed), key=lambda n: self._lines[n].distance(point)
        ):
            if name != stem.name and self._lies_over(name, stem, point):
                return "stem", name, self._lines[name].buffer(self._widths[name] / 2, cap_style="flat")
        return None

    def _lies_over(self, name: str, stem: Stem, point: Any) -> bool:
        """Whether stem ``name`` covers this end of ``stem``.

        A branch tucks under the vine it leaves. Where two stems meet end to end, the one drawn first tucks under the
        other.
        """
        other = self._lines[name]
        half = self._widths[name] / 2
        if other.distance(point) > half + TOUCH:
            return False
        if self._stems[name].centreline.closed:
            return True
        s = other.project(point)
        if half < s < other.length - half:
            return True
        return self._number[name] > self._number[stem.name]

    def _hidden(self, stem: Stem, end: str, tuck: float, cover: Any) -> float:
        """Return how far the end can run on straight, up to ``tuck``, without showing beyond its cover.

        Only where it is drawn just short of its cover, or square to a round one, it shows until it is under.
        """
        import shapely

        if cover is None:
            return tuck  # beyond the frame there is only the seam
        half = self._widths[stem.name] / 2
        point, outward = _end_of(stem.centreline, end)
        aside = np.array([-outward[1], outward[0]]) * half
        gap = min(TOUCH, tuck / 2)
        reach = gap + (tuck - gap) * np.arange(1, _STEPS + 1) / _STEPS
        far = point + reach[:, None] * outward
        near = np.broadcast_to(point + gap * outward, far.shape)
        strips = shapely.polygons(np.stack([near - aside, near + aside, far + aside, far - aside], axis=1))
        fits = shapely.covers(cover.buffer(_UNSEEN), strips)
        return float(reach[-1] if fits.all() else reach[np.argmin(fits) - 1] if fits[0] else 0.0)


def _filled(outline: Curve) -> Any:
    """Return the area within an outline; where it crosses itself, all that it goes round."""
    import shapely

    area = shapely.Polygon(outline.flattened(_FINE))
    if not area.is_valid:
        faces = shapely.polygonize([shapely.node(area.exterior)])
        area = shapely.union_all(shapely.get_parts(faces))
    return area


def _end_of(curve: Curve, end: str) -> tuple[Array, Array]:
    """Return the end point and the direction that leads out of the curve there."""
    if end == "start":
        return np.array(curve.start), -curve.tangent_at(0.0)
    return np.array(curve.end), curve.tangent_at(curve.length)
