"""What to say of a stem in a sentence or two: what is wrong where, and what helps."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from bias_drafting.cloth.verdict import SLACK, Verdict
from bias_drafting.units import format_length, format_width

if TYPE_CHECKING:
    from bias_drafting.cloth.bend import StemCheck

__all__ = ["advice"]

# A strip that grows narrower by so much (mm) shows it: a sixty-fourth of an inch.
_SHOWS: Final = 0.4


def advice(check: StemCheck, unit: str) -> str:
    """Return what to do about a stem, in plain words, with lengths in ``"in"`` or ``"mm"``."""
    found = check.too_near
    more = f" And so in {len(found) - 1} more places." if found[1:] else ""
    return _ADVICE[check.verdict](check, unit) + (f" {found[0].text(unit)}{more}" if found else "")


def _place(check: StemCheck, unit: str) -> str:
    """Say where the tightest bend is and how tight, in words."""
    step = 8 if unit == "in" else 1
    return (
        f"The bend {format_length(check.tightest.s, unit, step)} from its start has a radius of "
        f"{format_length(check.tightest.radius, unit, step, 'down')}"
    )


def _easing(check: StemCheck, unit: str) -> str:
    if not check.making.from_strip:
        return f"{_place(check, unit)}: clip its inner edge closely, and it will turn.{_wiggle(check, unit)}"
    easing = "steam and ease its inner edge as you lay it, and it will go flat."
    return f"{_place(check, unit)}: {easing}{_narrowing(check, unit)}{_wiggle(check, unit)}"


def _narrowing(check: StemCheck, unit: str) -> str:
    """Say by how much a strip pressed to its width is narrower on its tightest bend, where that shows."""
    bent = check.bent
    less = 0.0 if bent is None else check.width * (1 - bent.narrowed)
    if not less >= _SHOWS:
        return ""
    return f" It will be {format_length(less, unit, 64 if unit == 'in' else 10)} narrower there."


def _mitres(check: StemCheck, unit: str) -> str:
    first, *others = check.corners
    if others:
        return f"Fold a mitre at each of its {len(others) + 1} corners; between them it goes round."
    where = format_length(first.s, unit, 8 if unit == "in" else 1)
    corner = f"its corner of {abs(first.turn):.0f} degrees, {where} from its start"
    return f"Fold a mitre at {corner}; the rest goes round."


def _too_tight(check: StemCheck, unit: str) -> str:
    if check.making.from_strip and check.goes_mitred:
        return _mitres(check, unit)
    bends_at_all = check.least_radius < np.inf
    last = "draw the bend wider" if bends_at_all else "draw it straight"
    remedies = _remedies(check, unit)
    return (
        f"{_place(check, unit)}; {_needs(check, unit)}. "
        f"What helps: {'; '.join([*remedies, f'or {last}' if remedies else last])}."
    )


def _needs(check: StemCheck, unit: str) -> str:
    """Say what radius it would take, in words."""
    if check.least_radius == np.inf:
        return "cut so, this cloth does not bend at all"
    made = "this cloth" if check.making.from_strip else "the turned edge"
    needs = format_length(check.least_radius, unit, 8 if unit == "in" else 1, "up")
    return f"at this width {made} needs {needs}"


def _remedies(check: StemCheck, unit: str) -> list[str]:
    """Return what helps short of drawing another stem, in words."""
    remedies = []
    narrower = format_length(check.widest, unit, 16 if unit == "in" else 2, "down")
    if not narrower.startswith(("0 ", "0.0 ")):
        remedies.append(f"it goes round at {narrower} or narrower")
    if check.goes_on_true_bias:
        remedies.append("it goes round if it is cut on the true bias")
    if check.split is not None:
        where = format_length(check.split, unit, 8 if unit == "in" else 1)
        remedies.append(f"cut it in two where it is hidden, {where} from its start")
    if check.template is not None:
        remedies.append(f"at {format_width(check.width, unit)} it can be made over a {check.template.name}")
    return remedies


def _flat(check: StemCheck, unit: str) -> str:
    if check.widest == np.inf and check.making.from_strip:
        return "Straight: it can be cut on the straight grain, and saves the bias."
    return f"Lies flat as it is.{_wiggle(check, unit)}"


def _wiggle(check: StemCheck, unit: str) -> str:
    """Say so where narrower widths fail: averaged over this one, the bends of a wiggle cancel."""
    if check.widest >= check.width * (1 - SLACK):
        return ""
    narrow = format_length(check.widest, unit, 16 if unit == "in" else 2, "down")
    return (
        f" But stems just wider than {narrow} are too tight: its bends to and fro are shorter than it is wide, "
        "and it will cut across them."
    )


_ADVICE: Final = {
    Verdict.LIES_FLAT: _flat,
    Verdict.NEEDS_EASING: _easing,
    Verdict.TOO_TIGHT: _too_tight,
}
