"""Cloths to start from, before a scrap of the very cloth has been tried.

No published figure was found for any of them: all are common practice or our caution, from memory, and rounded down
where makers differ. Cloths of one name differ by more than these do from each other; a test with a scrap
(:meth:`Cloth.swatch_instructions`) takes ten minutes and is worth more than the table.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from bias_drafting.cloth.cloth import Cloth
from bias_drafting.errors import ClothError

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["cloth_named", "cloth_names", "is_cloth_name"]

_CLOTHS: Final[Mapping[str, Cloth]] = {
    cloth.name: cloth
    for cloth in (
        Cloth(),  # common practice, from memory
        Cloth("lawn", stretch=0.18, ease=0.08),  # fine and close: eases well; from memory, with caution
        Cloth("linen", stretch=0.16, ease=0.06),  # stiff threads; from memory, with caution
        Cloth("homespun", stretch=0.20, ease=0.10),  # loose, and frays; common practice, from memory
        Cloth("silk", stretch=0.14, ease=0.05),  # slides rather than eases; from memory, with caution
        Cloth("wool", stretch=0.22, ease=0.12),  # shrinks under steam; common practice, from memory
    )
}


def cloth_names() -> tuple[str, ...]:
    """Return the names of the cloths to start from.

    Examples
    --------
    >>> cloth_names()
    ('quilting cotton', 'lawn', 'linen', 'homespun', 'silk', 'wool')
    """
    return tuple(_CLOTHS)


def cloth_named(name: str) -> Cloth:
    """Return a cloth to start from; its figures are from memory, and a test with a scrap is worth more.

    Parameters
    ----------
    name
        One of :func:`cloth_names`; capitals, blanks and hyphens make no difference.

    Raises
    ------
    ClothError
        If there is none of this name; the message lists what there is.

    Examples
    --------
    >>> cloth_named("Linen")
    Cloth(name='linen', stretch=0.16, ease=0.06, stretch_doubt=0.0, ease_doubt=0.0)
    """
    cloth = _CLOTHS.get(_key(name))
    if cloth is None:
        message = (
            f"{name!r} is not a cloth known here; there are {', '.join(_CLOTHS)}, or make your own Cloth"
        )
        raise ClothError(message)
    return cloth


def is_cloth_name(name: str) -> bool:
    """Whether there is a cloth of this name."""
    return _key(name) in _CLOTHS


def _key(name: str) -> str:
    return " ".join(str(name).lower().replace("-", " ").replace("_", " ").split())
