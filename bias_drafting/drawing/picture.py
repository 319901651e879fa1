"""A small picture of a drawing, for notebooks."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from bias_drafting.curve.curve import Curve

__all__ = ["svg_picture"]

_WIDEST = 320.0  # px on the screen, either way

# From the colour-blind-safe set of Okabe and Ito (2008), from memory.
_GREEN = "#009E73"
_ORANGE = "#E69F00"
_GREY = "#666666"


def svg_picture(
    size: tuple[float, float],
    frame: Iterable[Curve],
    motifs: Iterable[Curve],
    stems: Sequence[tuple[Curve, float | None]],
) -> str:
    """Return a picture of a drawing as SVG text, at most 320 px across or down.

    Stems are drawn at their drawn width, or as a thin line where that is not known.
    """
    width, height = size
    zoom = _WIDEST / max(width, height)
    thin = 1.5 / zoom
    outline = f'stroke="{_GREY}" stroke-width="{thin:.4g}"'
    motif = f'fill="{_ORANGE}" fill-opacity="0.6" {outline}'
    paths = [
        *((curve, outline) for curve in frame),
        *((curve, f'stroke="{_GREEN}" stroke-width="{drawn or thin:.4g}"') for curve, drawn in stems),
        *((curve, motif) for curve in motifs),
    ]
    screen = f'width="{width * zoom:.0f}" height="{height * zoom:.0f}" viewBox="0 0 {width:.6g} {height:.6g}"'
    body = "".join(f'<path d="{curve.to_svg_path(decimals=2)}" {paint}/>\n' for curve, paint in paths)
    return f'<svg xmlns="http://www.w3.org/2000/svg" {screen} fill="none">\n{body}</svg>'
