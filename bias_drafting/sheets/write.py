"""Writing the sheets: all of them whole, or none."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path
from typing import TYPE_CHECKING, Final

from bias_drafting.errors import SheetError
from bias_drafting.sheets.svg import pattern_svg
from bias_drafting.sheets.values import pattern_csv, pattern_json

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from bias_drafting.pattern.pattern import Pattern

__all__ = ["write_sheets"]

_WRITERS: Final[Mapping[str, Callable[[Pattern, str], str]]] = {
    "svg": pattern_svg,
    "csv": lambda pattern, _unit: pattern_csv(pattern),
    "json": lambda pattern, _unit: pattern_json(pattern),
}


def write_sheets(
    pattern: Pattern,
    folder: str | os.PathLike[str],
    *,
    formats: Sequence[str] = ("svg", "csv", "json"),
    unit: str = "in",
) -> list[Path]:
    """Write a pattern to a folder: ``pattern.svg`` at true size, ``pattern.csv`` and ``pattern.json``.

    All are made before the first is written, each is written beside its place and moved there; where one cannot be
    written, those already there stay or come back as they were.

    Parameters
    ----------
    pattern
        From :func:`draft_pattern`.
    folder
        Where to; it is made if it is not there. Files of the same names in it are replaced.
    formats
        Which of ``"svg"``, ``"csv"`` and ``"json"``.
    unit
        ``"in"`` or ``"mm"``: what lengths are written in on the SVG. The CSV and JSON are always in mm.

    Returns
    -------
    list of Path
        The files written, in the order of ``formats``.

    Raises
    ------
    SheetError
        A format or unit there is not, or a folder or file that cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> import bias_drafting as bd
    >>> pattern = bd.draft_pattern(bd.read_sample("herb-spray"))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     [path.name for path in bd.write_sheets(pattern, folder)]
    ['pattern.svg', 'pattern.csv', 'pattern.json']
    """
    names = [] if isinstance(formats, str) else list(dict.fromkeys(formats))
    if not names:
        msg = f"formats is a list of some of {', '.join(_WRITERS)}, not {formats!r}"
        raise SheetError(msg)
    for name in names:
        if name not in _WRITERS:
            msg = f"there are no sheets of format {name!r}; there are {', '.join(_WRITERS)}"
            raise SheetError(msg)
    if unit not in ("in", "mm"):
        msg = f"sheets are in 'in' or 'mm', not {unit!r}"
        raise SheetError(msg)
    if not os.fspath(folder):
        msg = "the name of the folder for the sheets is empty; for the folder you are in write '.'"
        raise SheetError(msg)
    contents = {f"pattern.{name}": _WRITERS[name](pattern, unit) for name in names}
    target = Path(folder)
    try:
        return _write_all(target, contents)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        msg = f"{target}: the sheets cannot be written there ({reason})"
        raise SheetError(msg) from error


def _write_all(folder: Path, contents: Mapping[str, str]) -> list[Path]:
    """Write files by way of temporary ones; on any failure put everything back as it was."""
    made: list[Path] = []
    written: list[tuple[Path, bytes | None]] = []
    waiting: list[tuple[Path, Path]] = []
    try:
        _make(folder, made)
        for name, content in contents.items():
            temporary = folder / f".{name}.{os.urandom(8).hex()}.part"
            waiting.append((temporary, folder / name))
            # A name from a file system may hold bytes that are no text; a sheet shows a question mark for them.
            with temporary.open("x", encoding="utf-8", errors="replace", newline="") as file:
                file.write(content)
        for temporary, place in waiting:
            before = place.read_bytes() if place.is_file() else None
            temporary.replace(place)
            written.append((place, before))
    except BaseException:
        for place, before in written:
            if before is None:
                place.unlink(missing_ok=True)
            else:
                place.write_bytes(before)
        for temporary, _ in waiting:
            temporary.unlink(missing_ok=True)
        for path in reversed(made):
            with contextlib.suppress(OSError):
                path.rmdir()
        raise
    return [place for _, place in waiting]


def _make(folder: Path, made: list[Path]) -> None:
    """Make a folder with those above it that are missing; add each to ``made``, the outermost first."""
    for path in (*reversed(folder.parents), folder):
        if not path.is_dir():
            path.mkdir(exist_ok=True)
            made.append(path)
