"""Pictures of a check: the stem with what each bend asks of it, and the radius along it beside the cloth's limits.

Colours are of the colour-blind-safe set of Okabe and Ito (2008); a pattern of lines goes with each, so that the
pictures read in grey as well.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from bias_drafting.cloth.verdict import Verdict, judged
from bias_drafting.errors import DraftingError
from bias_drafting.units import format_length, format_width

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from bias_drafting.cloth.bend import StemCheck, TightSpot
    from bias_drafting.cloth.what_if import WhatIf
    from bias_drafting.curve.curve import Curve

    Array = NDArray[np.float64]

__all__ = ["LOOKS", "new_axes", "plot_check", "plot_radius", "plot_redrawn", "plot_table"]

# The band is painted in pieces of this share of the width, and in no more than the second of them.
_PIECE: Final = 0.2
_MOST_PIECES: Final = 4000
# So many tight spots have their radius written beside them, the tightest ones.
_MOST_LABELS: Final = 6
# Their words stand so far from the stem, as a share of the picture.
_AWAY: Final = 0.09
_MM: Final = {"in": 25.4, "mm": 1.0}


class Look(NamedTuple):
    """How a verdict is painted: its line, its area, and the pattern on it."""

    line: str
    fill: str
    hatch: str


LOOKS: Final = {
    Verdict.LIES_FLAT: Look("#009E73", "#DDF1EA", ""),
    Verdict.NEEDS_EASING: Look("#0072B2", "#A9CCE6", "///"),
    Verdict.TOO_TIGHT: Look("#D55E00", "#E79A63", "xxx"),
}


# A picture of the stem above, room for its key, and the radius along it below: left, bottom, width, height.
_ALONE: Final = (0.02, 0.04, 0.96, 0.88)
_ABOVE: Final = (0.02, 0.35, 0.96, 0.58)
_BELOW: Final = (0.09, 0.08, 0.88, 0.15)
_GRAPH: Final = (0.09, 0.22, 0.88, 0.58)


def new_axes(size: tuple[float, float], *places: tuple[float, float, float, float]) -> list[Axes]:
    """Return axes on a new figure of some inches, at these places of it; nothing is shown.

    Raises
    ------
    DraftingError
        Where matplotlib is not installed.
    """
    try:
        import matplotlib.pyplot as plt
    except ImportError as error:
        msg = "a picture needs matplotlib: pip install 'bias_drafting[plots]'"
        raise DraftingError(msg) from error
    figure = plt.figure(figsize=size)
    return [figure.add_axes(place) for place in places]


def plot_check(check: StemCheck, ax: Axes | None, unit: str) -> Axes:
    """Draw the stem, painted by verdict, its tight spots labelled; without axes with the radius along it below."""
    if ax is None:
        ax, below = new_axes((7.0, 7.0), _ABOVE, _BELOW)
        plot_radius(check, below, unit)
    s, shares = _shares(check)
    _paint(check, ax, s, shares)
    for spot in sorted(check.spots, key=lambda spot: spot.bend.radius)[:_MOST_LABELS]:
        _label(check, ax, spot, unit)
    ax.plot(*check.curve.point_at(0.0), "o", color="black", markersize=3)
    back = -16 * check.curve.tangent_at(0.0)
    ax.annotate(
        "start", check.curve.start, (float(back[0]), -float(back[1])), textcoords="offset points", fontsize=7,
        ha="center", va="center",
    )  # fmt: skip
    name = f"{check.stem}: " if check.stem else ""
    made = f"{format_width(check.width, unit)}, {check.making.name}, {check.cloth.name}"
    ax.set_title(f"{name}{check.verdict.value} ({made})", fontsize=10, y=1.02)
    _as_on_the_page(ax)
    return ax


def _shares(check: StemCheck) -> tuple[Array, Array]:
    """Return places along the stem and the working radius half way between each two."""
    curve = check.curve
    count = int(np.clip(np.ceil(curve.length / (_PIECE * check.width)), 16, _MOST_PIECES))
    s = np.linspace(0, curve.length, count + 1)
    return s, curve.working_radius_at((s[1:] + s[:-1]) / 2, check.width)


def _paint(check: StemCheck, ax: Axes, s: Array, radius: Array) -> None:
    from matplotlib.collections import PolyCollection

    middle, heading = check.curve.point_at(s), check.curve.tangent_at(s)
    aside = np.stack([-heading[:, 1], heading[:, 0]], axis=1) * check.width / 2
    right, left = middle + aside, middle - aside
    quads = np.stack([right[:-1], right[1:], left[1:], left[:-1]], axis=1)
    verdicts = [judged(r, check.least_radius, check.easy_radius) for r in radius.tolist()]
    for verdict, look in LOOKS.items():
        chosen = np.array([one is verdict for one in verdicts])
        if chosen.any():
            ax.add_collection(
                PolyCollection(
                    quads[chosen], facecolor=look.fill, edgecolor=look.line, hatch=look.hatch, linewidth=0.0,
                    label=_asked(check, verdict, radius[chosen]),
                )
            )  # fmt: skip
    for edge in (right, left):
        ax.plot(*edge.T, color="black", linewidth=0.6)
    ax.plot(*middle.T, color="black", linewidth=0.4, dashes=(6, 4))
    ax.legend(fontsize=7, loc="upper left", bbox_to_anchor=(0.06, 0.0), frameon=False)


def _asked(check: StemCheck, verdict: Verdict, radius: Array) -> str:
    """Say what the tightest of the bends of one verdict asks of the edges."""
    tightest = float(radius.min())
    if not check.making.from_strip or tightest < check.width / 2 or not np.isfinite(tightest):
        return verdict.value
    bent = check.cloth.bent(check.width, tightest, check.off_bias)
    if not np.isfinite(bent.stretched):
        return verdict.value
    return f"{verdict.value}: outer edge +{bent.stretched:.0%}, inner -{bent.eased:.0%} at most"


def _label(check: StemCheck, ax: Axes, spot: TightSpot, unit: str) -> None:
    """Ring a tight spot and write its radius outside the bend."""
    heading = check.curve.tangent_at(spot.bend.s)
    outward = np.array([heading[1], -heading[0]]) * (1 if spot.bend.side == "right" else -1)
    ax.plot(*spot.bend.point, "o", markerfacecolor="white", markeredgecolor=LOOKS[Verdict.TOO_TIGHT].line)
    step = 8 if unit == "in" else 1
    words = f"radius {format_length(spot.bend.radius, unit, step, 'down')}"
    if np.isfinite(check.least_radius):
        words += f",\nneeds {format_length(check.least_radius, unit, step, 'up')}"
    x0, y0, x1, y1 = check.curve.bounds
    place = spot.bend.point + outward * (check.width / 2 + _AWAY * max(x1 - x0, y1 - y0))
    ax.update_datalim([(float(place[0]), float(place[1]))])
    ax.annotate(
        words, spot.bend.point, (float(place[0]), float(place[1])), fontsize=8, ha="center", va="center",
        arrowprops={"arrowstyle": "-", "linewidth": 0.6},
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0},
    )  # fmt: skip


def plot_radius(check: StemCheck, ax: Axes | None, unit: str) -> Axes:
    """Draw the working radius along the stem, with the least that passes and the least that lies flat as lines."""
    ax = new_axes((7.0, 2.4), _GRAPH)[0] if ax is None else ax
    mm = _MM[unit]
    s, radius = _shares(check)
    middle = (s[1:] + s[:-1]) / 2
    limits = [limit for limit in (check.least_radius, check.easy_radius) if np.isfinite(limit)]
    finite = radius[np.isfinite(radius)]
    top = 4 * max([*limits, check.width, float(np.median(finite)) if len(finite) else 0.0]) / mm
    ax.plot(middle / mm, np.minimum(radius / mm, top), color="black", linewidth=1.0)
    for limit, verdict, dashes in (
        (check.least_radius, Verdict.NEEDS_EASING, (None, None)),
        (check.easy_radius, Verdict.LIES_FLAT, (5, 3)),
    ):
        if np.isfinite(limit):
            style = "-" if dashes == (None, None) else "--"
            label = f"{verdict.value} from {format_length(limit, unit, 8 if unit == 'in' else 1, 'up')}"
            ax.axhline(limit / mm, color=LOOKS[verdict].line, linestyle=style, linewidth=1.2, label=label)
    for spot in check.spots:
        spans = (
            [(spot.start, spot.end)]
            if spot.start <= spot.end
            else [(spot.start, check.length), (0, spot.end)]
        )
        for start, end in spans:
            ax.axvspan(start / mm, end / mm, color=LOOKS[Verdict.TOO_TIGHT].fill, alpha=0.5, linewidth=0)
    low = min([float(finite.min()) / mm if len(finite) else top / 8, *(limit / mm for limit in limits)])
    ax.set(xlim=(0, check.length / mm), ylim=(low / 1.6, top), yscale="log")
    ax.set_xlabel(f"along the stem ({unit})", fontsize=8)
    ax.set_ylabel(f"radius ({unit})", fontsize=8)
    _plain_numbers(ax)
    if limits:
        ax.legend(fontsize=7, frameon=False, loc="upper left", bbox_to_anchor=(0, 1.28), ncols=2)
    return ax


def _plain_numbers(ax: Axes) -> None:
    from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

    ax.yaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
    ax.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    ax.yaxis.set_minor_formatter(NullFormatter())
    ax.tick_params(labelsize=7)


def plot_redrawn(before: Curve, after: Curve, width: float, ax: Axes | None) -> Axes:
    """Draw a stem as it is and as it would be redrawn."""
    ax = new_axes((7.0, 5.0), _ALONE)[0] if ax is None else ax
    for curve, colour, dashes, what in (
        (before, "#777777", (3, 2), "as drawn"),
        (after, "black", (), "redrawn"),
    ):
        outline = curve.band(width, tolerance=0.05)
        for ring in (outline.exterior, *outline.holes):
            ax.plot(*ring.flattened(0.05).T, color=colour, linewidth=0.8, dashes=dashes or (None, None))
        ax.plot(
            *curve.flattened(0.05).T, color=colour, linewidth=1.4, dashes=dashes or (None, None), label=what
        )
    ax.legend(fontsize=8, frameon=False)
    _as_on_the_page(ax)
    return ax


_SIGNS: Final = {Verdict.LIES_FLAT: "o", Verdict.NEEDS_EASING: "/", Verdict.TOO_TIGHT: "x", None: ""}


def plot_table(rows: Sequence[WhatIf], ax: Axes | None, unit: str) -> Axes:
    """Draw verdicts as a table: a row for each stem, making and cloth, a column for each width or size of block."""
    columns = sorted({(row.block or 0.0, row.width) for row in rows})
    keys = list(dict.fromkeys((row.stem, row.making, row.cloth) for row in rows))
    if ax is None:
        high = 1.2 + 0.3 * len(keys)
        (ax,) = new_axes((3.5 + 0.6 * len(columns), high), (0.36, 0.3 / high, 0.62, 1 - 1.0 / high))
    column = {sizes: k for k, sizes in enumerate(columns)}
    line = {key: k for k, key in enumerate(keys)}
    for row in rows:
        x, y = column[row.block or 0.0, row.width], line[row.stem, row.making, row.cloth]
        fill = "white" if row.verdict is None else LOOKS[row.verdict].fill
        ax.fill(
            [x - 0.5, x + 0.5, x + 0.5, x - 0.5],
            [y - 0.5, y - 0.5, y + 0.5, y + 0.5],
            fill,
            edgecolor="white",
        )
        ax.text(x, y, _SIGNS[row.verdict], ha="center", va="center", fontsize=8)
    several = [len({key[k] for key in keys}) > 1 for k in range(3)]
    names = [(stem, making.name, cloth.name) for stem, making, cloth in keys]
    shown = [
        ", ".join(part for part, differs in zip(name, several, strict=True) if differs) or name[0]
        for name in names
    ]
    ax.set(xlim=(-0.5, len(columns) - 0.5), ylim=(len(keys) - 0.5, -0.5))
    heads = [format_width(block or width, unit) for block, width in columns]
    ax.set_xticks(range(len(columns)), heads, fontsize=8)
    ax.set_yticks(range(len(keys)), shown, fontsize=8)
    ax.xaxis.tick_top()
    ax.tick_params(length=0)
    for side in ax.spines.values():
        side.set_visible(False)
    ax.set_xlabel("o lies flat    / needs easing    x too tight", fontsize=8)
    return ax


def _as_on_the_page(ax: Axes) -> None:
    """As large across as down, y running down, and no numbers: what counts is written beside it."""
    ax.margins(0.2)
    ax.autoscale_view()
    ax.set_aspect("equal", adjustable="box")
    if not ax.yaxis_inverted():
        ax.invert_yaxis()
    ax.set_axis_off()
