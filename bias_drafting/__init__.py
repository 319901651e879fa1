"""Bias drafting: from a drawing of curved stems to a checked, true-size appliqué pattern.

Everything a script or a notebook needs is a name of this package. Nothing heavy is imported until it is used.

Examples
--------
>>> import bias_drafting as bd
>>> drawing = bd.read_sample("bean-wreath")
>>> pattern = bd.draft_pattern(drawing, width="1/4 in")
>>> [check.stem for check in pattern.checks if check.verdict is bd.Verdict.TOO_TIGHT]
['tendril-1']
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

__version__ = "0.1.0"

if TYPE_CHECKING:
    from bias_drafting.cloth.bend import StemCheck as StemCheck
    from bias_drafting.cloth.bend import TightSpot as TightSpot
    from bias_drafting.cloth.bend import Verdict as Verdict
    from bias_drafting.cloth.bend import check_stem as check_stem
    from bias_drafting.cloth.bent_strip import BentStrip as BentStrip
    from bias_drafting.cloth.cloth import Cloth as Cloth
    from bias_drafting.cloth.making import FoldedStrip as FoldedStrip
    from bias_drafting.cloth.making import Making as Making
    from bias_drafting.cloth.making import RolledStrip as RolledStrip
    from bias_drafting.cloth.making import SewnTube as SewnTube
    from bias_drafting.cloth.making import StripMaking as StripMaking
    from bias_drafting.cloth.making import TurnedTemplate as TurnedTemplate
    from bias_drafting.cloth.making import making_named as making_named
    from bias_drafting.cloth.named import cloth_named as cloth_named
    from bias_drafting.cloth.named import cloth_names as cloth_names
    from bias_drafting.cloth.remedies import Remedy as Remedy
    from bias_drafting.cloth.what_if import WhatIf as WhatIf
    from bias_drafting.cloth.what_if import WidthTable as WidthTable
    from bias_drafting.cloth.what_if import block_table as block_table
    from bias_drafting.cloth.what_if import width_table as width_table
    from bias_drafting.curve.curve import Bend as Bend
    from bias_drafting.curve.curve import Corner as Corner
    from bias_drafting.curve.curve import Curve as Curve
    from bias_drafting.curve.fair import FairedBend as FairedBend
    from bias_drafting.curve.fair import FairedCurve as FairedCurve
    from bias_drafting.curve.fair import fair_curve as fair_curve
    from bias_drafting.curve.meetings import Intersection as Intersection
    from bias_drafting.curve.meetings import Meetings as Meetings
    from bias_drafting.curve.outline import Outline as Outline
    from bias_drafting.curve.overlaps import Overlap as Overlap
    from bias_drafting.curve.spine import Spine as Spine
    from bias_drafting.curve.spine import find_spine as find_spine
    from bias_drafting.drawing.drawing import Drawing as Drawing
    from bias_drafting.drawing.drawing import Frame as Frame
    from bias_drafting.drawing.drawing import Motif as Motif
    from bias_drafting.drawing.drawing import Note as Note
    from bias_drafting.drawing.drawing import Shape as Shape
    from bias_drafting.drawing.drawing import Stem as Stem
    from bias_drafting.drawing.read import read_drawing as read_drawing
    from bias_drafting.drawing.samples import read_sample as read_sample
    from bias_drafting.drawing.samples import sample_names as sample_names
    from bias_drafting.errors import ClothError as ClothError
    from bias_drafting.errors import CurveError as CurveError
    from bias_drafting.errors import DraftingError as DraftingError
    from bias_drafting.errors import DrawingError as DrawingError
    from bias_drafting.errors import LengthError as LengthError
    from bias_drafting.errors import PatternError as PatternError
    from bias_drafting.errors import SheetError as SheetError
    from bias_drafting.errors import UnfeasibleError as UnfeasibleError
    from bias_drafting.pattern.ends import Tuck as Tuck
    from bias_drafting.pattern.order import Crossing as Crossing
    from bias_drafting.pattern.pattern import Pattern as Pattern
    from bias_drafting.pattern.pattern import draft_pattern as draft_pattern
    from bias_drafting.pattern.piece import Piece as Piece
    from bias_drafting.sheets.write import write_sheets as write_sheets
    from bias_drafting.units import format_length as format_length
    from bias_drafting.units import to_mm as to_mm

# Where each public name lives; it is imported when it is first asked for.
_HOMES = {
    "bias_drafting.cloth.bend": ("StemCheck", "TightSpot", "Verdict", "check_stem"),
    "bias_drafting.cloth.bent_strip": ("BentStrip",),
    "bias_drafting.cloth.cloth": ("Cloth",),
    "bias_drafting.cloth.named": ("cloth_named", "cloth_names"),
    "bias_drafting.cloth.making": (
        "FoldedStrip",
        "Making",
        "RolledStrip",
        "SewnTube",
        "StripMaking",
        "TurnedTemplate",
        "making_named",
    ),
    "bias_drafting.cloth.remedies": ("Remedy",),
    "bias_drafting.cloth.what_if": ("WhatIf", "WidthTable", "block_table", "width_table"),
    "bias_drafting.curve.curve": ("Bend", "Corner", "Curve"),
    "bias_drafting.curve.fair": ("FairedBend", "FairedCurve", "fair_curve"),
    "bias_drafting.curve.meetings": ("Intersection", "Meetings"),
    "bias_drafting.curve.outline": ("Outline",),
    "bias_drafting.curve.overlaps": ("Overlap",),
    "bias_drafting.curve.spine": ("Spine", "find_spine"),
    "bias_drafting.drawing.drawing": ("Drawing", "Frame", "Motif", "Note", "Shape", "Stem"),
    "bias_drafting.drawing.read": ("read_drawing",),
    "bias_drafting.drawing.samples": ("read_sample", "sample_names"),
    "bias_drafting.errors": (
        "ClothError",
        "CurveError",
        "DraftingError",
        "DrawingError",
        "LengthError",
        "PatternError",
        "SheetError",
        "UnfeasibleError",
    ),
    "bias_drafting.pattern.ends": ("Tuck",),
    "bias_drafting.pattern.order": ("Crossing",),
    "bias_drafting.pattern.pattern": ("Pattern", "draft_pattern"),
    "bias_drafting.pattern.piece": ("Piece",),
    "bias_drafting.sheets.write": ("write_sheets",),
    "bias_drafting.units": ("format_length", "to_mm"),
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}

__all__ = sorted(_HOME_OF)  # noqa: PLE0605


def __getattr__(name: str) -> object:
    if name not in _HOME_OF:
        msg = f"module {__name__!r} has no attribute {name!r}"
        raise AttributeError(msg)
    value = getattr(import_module(_HOME_OF[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted([*globals(), *_HOME_OF])
