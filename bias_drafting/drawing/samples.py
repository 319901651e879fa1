"""The sample drawings: blocks of an invented quilt of a walled kitchen garden."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from bias_drafting.drawing.drawing import nearest_names
from bias_drafting.drawing.read import read_drawing
from bias_drafting.errors import DrawingError

if TYPE_CHECKING:
    from bias_drafting.drawing.drawing import Drawing

__all__ = ["read_sample", "sample_names"]


def _folder() -> Path:
    """Return where the samples are: inside an installed package, or beside it in a checkout."""
    package = Path(__file__).resolve().parent.parent
    for folder in (package / "samples", package.parent / "samples"):
        if folder.is_dir():
            return folder
    msg = "the sample drawings are not installed"
    raise DrawingError(msg)


def sample_names() -> tuple[str, ...]:
    """Return the names of the sample drawings.

    Examples
    --------
    >>> import bias_drafting as bd
    >>> bd.sample_names()
    ('bean-wreath', 'herb-spray')
    """
    return tuple(sorted(path.stem for path in _folder().glob("*.svg")))


def read_sample(name: str) -> Drawing:
    """Read a sample drawing by its name.

    Raises
    ------
    DrawingError
        A name that no sample has.

    Examples
    --------
    >>> import bias_drafting as bd
    >>> bd.read_sample("herb-spray")["bay-stem"].name
    'bay-stem'
    """
    if name not in sample_names():
        msg = f"there is no sample drawing {name!r}; {nearest_names(name, sample_names())}"
        raise DrawingError(msg)
    return read_drawing(_folder() / f"{name}.svg")
