"""Writing a chain of cubics as SVG path data."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

__all__ = ["number", "svg_path"]


def number(value: float, decimals: int = 4) -> str:
    """Return a number as short as its rounding allows: no exponent, no trailing zeros, never ``-0``."""
    text = f"{value:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def svg_path(controls: Array, closed: bool, decimals: int = 4) -> str:
    """Return absolute path data; a segment whose handles stand at the thirds of its chord is written as a line."""
    chord = controls[:, 3] - controls[:, 0]
    thirds = np.stack([controls[:, 0] + chord / 3, controls[:, 0] + chord * 2 / 3], axis=1)
    straight = np.abs(controls[:, 1:3] - thirds).max(axis=(1, 2)) <= 1e-9 * np.abs(controls).max()
    parts = ["M" + " ".join(number(x, decimals) for x in controls[0, 0])]
    last = len(controls) - 1
    for k, (segment, is_line) in enumerate(zip(controls, straight, strict=True)):
        if is_line and closed and k == last:
            continue  # closing the path draws it
        points = segment[3:] if is_line else segment[1:]
        parts.append(("L" if is_line else "C") + " ".join(number(x, decimals) for x in points.ravel()))
    return "".join(parts) + ("Z" if closed else "")
