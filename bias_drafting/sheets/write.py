"""Writing the sheets: all of them whole, or none."""

from __future__ import annotations

import contextlib
import os
import tempfile
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
        A format there is not, or a folder or file that cannot be written.
    LengthError
        Another unit.

    Examples
    --------
    >>> import tempfile
    >>> import bias_drafting as bd
    >>> pattern = bd.draft_pattern(bd.read_sample("herb-spray"))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     [path.name for path in bd.write_sheets(pattern, folder)]
    ['pattern.svg', 'pattern.csv', 'pattern.json']
    """
    if isinstance(formats, str) or not formats:
        msg = f"formats is a list of some of {', '.join(_WRITERS)}, not {formats!r}"
        raise SheetError(msg)
    for name in formats:
        if name not in _WRITERS:
            msg = f"there are no sheets of format {name!r}; there are {', '.join(_WRITERS)}"
            raise SheetError(msg)
    contents = {f"pattern.{name}": _WRITERS[name](pattern, unit) for name in dict.fromkeys(formats)}
    target = Path(folder)
    try:
        return _write_all(target, contents)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        msg = f"{target}: the sheets cannot be written there ({reason})"
        raise SheetError(msg) from error


def _write_all(folder: Path, contents: Mapping[str, str]) -> list[Path]:
    """Write files by way of temporary ones; on any failure put everything back as it was."""
    made = _make(folder)
    written: list[tuple[Path, bytes | None]] = []
    waiting: list[tuple[Path, Path]] = []
    try:
        for name, content in contents.items():
            handle, temporary = tempfile.mkstemp(prefix=f".{name}.", dir=folder)
            waiting.append((Path(temporary), folder / name))
            with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
                file.write(content)
        for temporary_path, place in waiting:
            before = place.read_bytes() if place.is_file() else None
            temporary_path.chmod(0o644)
            temporary_path.replace(place)
            written.append((place, before))
    except BaseException:
        for place, before in written:
            if before is None:
                place.unlink(missing_ok=True)
            else:
                place.write_bytes(before)
        for temporary_path, _ in waiting:
            temporary_path.unlink(missing_ok=True)
        for path in reversed(made):
            with contextlib.suppress(OSError):
                path.rmdir()
        raise
    return [place for _, place in waiting]


def _make(folder: Path) -> list[Path]:
    """Make a folder with those above it that are missing; return what was made, the outermost first."""
    missing = [path for path in (folder, *folder.parents) if not path.exists()][::-1]
    folder.mkdir(parents=True, exist_ok=True)
    return missing
