"""From a drawing to a pattern: every stem checked, drafted, and put in the order of laying."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from bias_drafting.cloth.bend import check_stem
from bias_drafting.cloth.cloth import Cloth
from bias_drafting.cloth.making import FoldedStrip, Making, making_named
from bias_drafting.cloth.named import cloth_named, cloth_names, is_cloth_name
from bias_drafting.drawing.drawing import Note, nearest_names
from bias_drafting.errors import DraftingError, LengthError, PatternError
from bias_drafting.pattern.ends import Covers
from bias_drafting.pattern.maker_notes import maker_notes
from bias_drafting.pattern.order import Crossing, find_crossings, laying_order
from bias_drafting.pattern.piece import Piece, draft_piece
from bias_drafting.units import positive_mm, to_mm

if TYPE_CHECKING:
    import pandas as pd

    from bias_drafting.cloth.bend import StemCheck
    from bias_drafting.drawing.drawing import Drawing, Stem

__all__ = ["Pattern", "draft_pattern"]


@dataclass(frozen=True, slots=True)
class _Choice:
    """What was chosen for one stem."""

    width: float
    making: Making
    cloth: Cloth
    off_bias: float
    tuck: float
    end_allowance: float


_KEYS: Final = ("width", "making", "cloth", "off_bias", "tuck", "end_allowance")


@dataclass(frozen=True, repr=False)
class Pattern:
    """A drafted pattern; make one with :func:`draft_pattern`.

    Attributes
    ----------
    drawing
        What was drawn.
    pieces
        One for each stem, in the order of drawing.
    order
        Names of stems and motifs in the order of laying, the lowest first.
    crossings
        Where stems pass over one another.
    notes
        What the reader and the drafting left out or assumed.
    """

    drawing: Drawing
    pieces: tuple[Piece, ...]
    order: tuple[str, ...]
    crossings: tuple[Crossing, ...]
    notes: tuple[Note, ...]

    @property
    def checks(self) -> tuple[StemCheck, ...]:
        """The check of each stem, in the order of drawing."""
        return tuple(piece.check for piece in self.pieces)

    @property
    def passes(self) -> bool:
        """Whether every stem goes round its bends."""
        return all(check.passes for check in self.checks)

    @cached_property
    def bias_length(self) -> Mapping[float, float]:
        """Strip to cut in mm, a total for each cut width in mm, narrowest first; joins and waste not counted."""
        totals: dict[float, float] = defaultdict(float)
        for piece in self.pieces:
            if piece.strip_length is not None:
                totals[round(piece.cut_width, 6)] += piece.strip_length
        return MappingProxyType(dict(sorted(totals.items())))

    def __getitem__(self, name: str) -> Piece:
        for piece in self.pieces:
            if piece.stem == name:
                return piece
        near = nearest_names(name, [piece.stem for piece in self.pieces])
        msg = f"{self.drawing.source}: there is no stem {name!r}; {near}"
        raise PatternError(msg)

    def table(self, unit: str = "in") -> str:
        """Return the pattern as a table to read, lengths in ``"in"`` (to 1/8) or ``"mm"``.

        Lengths to cut are rounded up, widths that pass and radii down.
        """
        from bias_drafting.pattern.table import pattern_table

        return pattern_table(self, unit)

    def to_dicts(self) -> list[dict[str, Any]]:
        """Return one plain mapping for each stem, units in the names; a width or radius without limit is None."""
        from bias_drafting.pattern.table import piece_row

        return [piece_row(self, piece) for piece in self.pieces]

    def to_frame(self) -> pd.DataFrame:
        """Return a DataFrame with one row for each stem, indexed by its name; needs pandas.

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
        return pd.DataFrame(self.to_dicts()).set_index("stem")

    def __str__(self) -> str:
        return self.table()

    def __repr__(self) -> str:
        tight = sum(not check.passes for check in self.checks)
        return f"Pattern({self.drawing.source!r}, {len(self.pieces)} stems, {tight} too tight)"

    def _repr_html_(self) -> str | None:
        try:
            from bias_drafting.pattern.table import html_table

            return html_table(self)
        except Exception:  # noqa: BLE001 - a notebook must be able to show anything; it then shows the repr
            return None


def draft_pattern(
    drawing: Drawing,
    width: str | float = "1/4 in",
    making: Making | str = FoldedStrip(),
    cloth: Cloth | str = Cloth(),
    tuck: str | float = "1/4 in",
    *,
    end_allowance: str | float = "1/4 in",
    off_bias: float = 0.0,
    per_stem: Mapping[str, Mapping[str, Any]] | None = None,
) -> Pattern:
    """Check every stem of a drawing and draft its outlines.

    Parameters
    ----------
    drawing
        From :func:`read_drawing`.
    width
        Finished width of the stems: mm, or text such as ``"1/4 in"``.
    making
        Way of making, or its key such as ``"sewn-tube"``.
    cloth, off_bias
        The cloth, or the name of one to start from (:func:`bias_drafting.cloth_names`), and by how many degrees
        strips are cut off its true bias.
    tuck
        How far an end reaches under the motif, stem or frame that covers it. 1/4 in is common practice.
    end_allowance
        What a free end takes to be turned under. 1/4 in is common practice. It and ``tuck`` add to the length of
        strips; a turned template is cut with its own allowance all round, its ends too.
    per_stem
        Any of these for single stems: ``{"vine": {"width": "3/8 in", "making": "sewn-tube"}}``. It outweighs what the
        drawing says of a stem (``data-finished-width``, ``data-making``), and that outweighs the rest.

    Raises
    ------
    PatternError
        A drawing without stems; a stem or a setting in ``per_stem`` that there is not.
    DraftingError
        A length, way of making or cloth that cannot be; the message names the stem.

    Examples
    --------
    >>> import bias_drafting as bd
    >>> pattern = bd.draft_pattern(bd.read_sample("herb-spray"), width="1/4 in")
    >>> pattern.passes
    True
    >>> {width: round(length) for width, length in pattern.bias_length.items()}
    {12.7: 1686}
    """
    if not drawing.stems:
        reasons = "; ".join(str(note) for note in drawing.notes[:3])
        msg = f"{drawing.source}: the drawing has no stems to draft{f' ({reasons})' if reasons else ''}"
        raise PatternError(msg)
    base: dict[str, Any] = {
        "width": width, "making": making, "cloth": cloth, "off_bias": off_bias, "tuck": tuck,
        "end_allowance": end_allowance,
    }  # fmt: skip
    notes: list[Note] = []
    choices = _choices(drawing, base, per_stem or {}, notes)
    covers = Covers(drawing, {name: choice.width for name, choice in choices.items()})
    pieces = tuple(_piece(drawing, stem, choices[stem.name], covers) for stem in drawing.stems)
    notes.extend(maker_notes(drawing, pieces))
    order = _order(drawing, pieces, notes)
    crossings = find_crossings(drawing.stems, pieces, order)
    return Pattern(drawing, pieces, order, crossings, (*drawing.notes, *notes))


def _piece(drawing: Drawing, stem: Stem, choice: _Choice, covers: Covers) -> Piece:
    try:
        check = check_stem(
            stem, choice.width, choice.making, choice.cloth, choice.off_bias, hidden=covers.hidden(stem)
        )
        tucks = covers.tucks(stem, choice.tuck)
        return draft_piece(stem.centreline, check, tucks, choice.tuck, choice.end_allowance)
    except DraftingError as error:
        text = str(error)
        if text.startswith(f"{stem.name} "):  # some messages name the stem already
            text = "it" + text.removeprefix(stem.name)
        msg = f"{drawing.source}: {stem.name}: {text}"
        raise type(error)(msg) from error


def _choices(drawing: Drawing, base: dict[str, Any], per_stem: Any, notes: list[Note]) -> dict[str, _Choice]:
    """Return what was chosen for each stem, after the call, the drawing and ``per_stem``."""
    names = [stem.name for stem in drawing.stems]
    if not isinstance(per_stem, Mapping):
        msg = f"per_stem is a mapping such as {{'vine': {{'width': '3/8 in'}}}}; not {per_stem!r}"
        raise PatternError(msg)
    for name, settings in per_stem.items():
        if name not in names:
            msg = f"per_stem: there is no stem {name!r}; {nearest_names(name, names)}"
            raise PatternError(msg)
        if not isinstance(settings, Mapping):
            msg = (
                f"per_stem: {name!r} is given {settings!r}; wanted is a mapping such as {{'width': '3/8 in'}}"
            )
            raise PatternError(msg)
        for key in settings:
            if key not in _KEYS:
                msg = f"per_stem: {name!r} is given {key!r}; what can be set is {', '.join(_KEYS)}"
                raise PatternError(msg)
    plain = _choice(base, "")
    choices = {}
    for stem in drawing.stems:
        asked = per_stem.get(stem.name, {})
        own = {**_drawn_settings(stem, asked, notes), **asked}
        choices[stem.name] = _choice({**base, **own}, f"{drawing.source}: {stem.name}: ") if own else plain
    return choices


def _choice(settings: dict[str, Any], where: str) -> _Choice:
    try:
        return _Choice(
            positive_mm(settings["width"], "the finished width"),
            _making(settings["making"]),
            _cloth(settings["cloth"]),
            settings["off_bias"],
            _length(settings["tuck"], "the tuck"),
            _length(settings["end_allowance"], "the end allowance"),
        )
    except DraftingError as error:
        msg = f"{where}{error}"
        raise type(error)(msg) from error


def _making(made: Any) -> Making:
    if isinstance(made, str):
        return making_named(made)
    if not callable(getattr(made, "least_radius", None)) or isinstance(made, Cloth | type):
        msg = f"making is a way of making, such as FoldedStrip(), or its key; not {made!r}"
        raise PatternError(msg)
    making: Making = made
    return making


def _cloth(cloth: Any) -> Cloth:
    if isinstance(cloth, str):
        return cloth_named(cloth)
    if not isinstance(cloth, Cloth):
        msg = f"cloth is a Cloth, such as Cloth('lawn', stretch=0.15, ease=0.06), or the name of one; not {cloth!r}"
        raise PatternError(msg)
    return cloth


def _length(length: Any, what: str) -> float:
    try:
        return to_mm(length)
    except LengthError as error:
        msg = f"{what}: {error}"
        raise LengthError(msg) from error


def _drawn_settings(stem: Stem, asked: Mapping[str, Any], notes: list[Note]) -> dict[str, Any]:
    """Return what the drawing itself says of a stem, with a note for each setting used or left aside."""
    settings: dict[str, Any] = {}
    for key, meaning in (("finished-width", "width"), ("making", "making"), ("cloth", "cloth")):
        if key not in stem.settings:
            continue
        said = stem.settings[key]
        if key == "cloth" and not is_cloth_name(said):
            why = f"it is none of {', '.join(cloth_names())}; give cloth= or per_stem="
            notes.append(Note(stem.name, None, f"data-cloth {said!r} left aside", why))
        elif meaning in asked:
            why = f"per_stem sets its {meaning}"
            notes.append(Note(stem.name, None, f"data-{key} {said!r} left aside", why))
        else:
            settings[meaning] = said
            notes.append(Note(stem.name, None, f"{meaning} set to {said}", f"the drawing says data-{key}"))
    return settings


def _order(drawing: Drawing, pieces: tuple[Piece, ...], notes: list[Note]) -> tuple[str, ...]:
    """Return the order of laying, as near to the order of drawing as the tucks allow."""
    place = {shape.name: k for k, shape in enumerate(drawing.shapes)}

    def drawn_at(name: str) -> int:
        # A shape of several subpaths gives several stems or motifs, "vine 1", "vine 2".
        return place.get(name, place.get(name.rsplit(" ", 1)[0], len(place)))

    names = [stem.name for stem in drawing.stems] + [motif.name for motif in drawing.motifs]
    drawn = sorted(names, key=drawn_at)
    under = [(piece.stem, tuck.under) for piece in pieces for tuck in piece.tucks]
    order, forced = laying_order(drawn, under)
    notes.extend(
        Note(name, None, "laid before what it lies over", "the stems tuck under one another in a ring")
        for name in forced
    )
    return tuple(order)
