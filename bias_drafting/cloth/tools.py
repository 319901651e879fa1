"""The sizes in which tools for bias strips are made: tape formers and pressing bars.

Nominal sizes as they are commonly sold; common practice, from memory. What comes out of a former depends on the cloth
as well, so a strip is tried before the metres are cut.
"""

from __future__ import annotations

from typing import Final

from bias_drafting.cloth.wording import size_words

__all__ = ["bar_for", "bar_remarks", "bar_step", "former_for", "former_remarks"]

# Finished widths of tape formers, in mm: 6, 9, 12, 18, 25, 50, sold also as 1/4, 3/8, 1/2, 3/4, 1 and 2 in.
_FORMERS: Final = ((6.0, 6.35), (9.0, 9.525), (12.0, 12.7), (18.0, 19.05), (25.0, 25.4), (50.0, 50.8))
# Widths of pressing bars, in mm: 1/8, 3/16, 1/4, 3/8, 1/2, 5/8, 3/4 and 1 in.
_BARS: Final = (3.175, 4.7625, 6.35, 9.525, 12.7, 15.875, 19.05, 25.4)
# A tool for a width that differs by no more than this (mm) will do.
_NEAR: Final = 0.25


def former_for(width: float) -> float | None:
    """Return the nominal size in mm of the tape former for a finished width, or None if none is made for it."""
    found = [mm for mm, inch in _FORMERS if min(abs(width - mm), abs(width - inch)) <= _NEAR]
    return found[0] if found else None


def former_remarks(width: float, shown: str) -> tuple[str, ...]:
    """Return what to say where no tape former is made for a width, which is ``shown`` so."""
    if former_for(width) is not None:
        return ()
    below = [mm for mm, _ in _FORMERS if mm < width]
    above = [mm for mm, _ in _FORMERS if mm > width]
    if below and above:
        beside = f"the next are for {below[-1]:g} and {above[0]:g} mm"
    else:
        beside = f"the {'narrowest' if above else 'widest'} is for {above[0] if above else below[-1]:g} mm"
    return (f"No tape former is made for {shown}; {beside}: press it under two pins.",)


def bar_for(width: float) -> float | None:
    """Return the width in mm of the pressing bar for a finished width: the widest that goes in, or None."""
    fitting = [bar for bar in _BARS if bar <= width + _NEAR]
    return fitting[-1] if fitting else None


def bar_remarks(width: float, shown: str) -> tuple[str, ...]:
    """Return what to say where no pressing bar is made for a width, which is ``shown`` so."""
    bar = bar_for(width)
    if bar is None:
        return (
            f"No pressing bar is made for a tube {shown} wide: turn it and finger-press it, or roll the strip.",
        )
    if width - bar > _NEAR:
        return (
            f"No pressing bar is made for {shown}: with the next narrower one keep the folds even by eye.",
        )
    return ()


def bar_step(width: float) -> str:
    """Word the step that presses a tube."""
    bar = bar_for(width)
    if bar is None:
        return "Roll the seam to the middle of the back between your fingers, a little at a time, and press."
    return (
        f"Slide in a pressing bar {size_words(bar)} wide, roll the seam to the middle of the back, and press."
    )
