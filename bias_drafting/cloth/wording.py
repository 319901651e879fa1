"""What the ways of making say alike: sizes, the first step, cautions."""

from __future__ import annotations

from typing import Final

from bias_drafting.units import format_length, format_width, positive_mm, to_mm

__all__ = ["CAUTIONS", "cut_step", "finished_mm", "size_words"]

CAUTIONS: Final = (
    "A rotary cutter is an open blade: cut away from yourself and close its guard after every cut.",
    "Iron and steam burn: keep hands and faces out of the steam; switch the iron off when you leave it.",
    "Count pins and needles out and count them back, so that none stays in the quilt.",
    "Keep blades, pins, needles and other small parts away from children and animals.",
    "The makers' instructions for your tools and materials, and the safety rules where you work, come first.",
)


def finished_mm(width: str | float) -> float:
    """Give a finished width in mm."""
    return positive_mm(width, "the finished width")


def size_words(mm: float) -> str:
    """Write a size as a ruler shows it, and in mm: ``"1/4 in (6.35 mm)"``, ``"about 1/4 in (6 mm)"``."""
    inches, metric = format_length(mm, "in", step=32), format_width(mm, "mm")
    gap = abs(to_mm(inches) - mm)
    if gap >= mm / 2:  # too small for a ruler in inches
        return metric
    return f"{inches} ({metric})" if gap < 0.005 else f"about {inches} ({metric})"


def cut_step(cut_width: float) -> str:
    """Word the step that cuts the strips."""
    return f"Cut strips {size_words(cut_width)} wide on the true bias; for a straight stem the straight grain serves."
