"""Whether a style sheet is meant for a screen in daylight, as that a drawing was seen on when it was made.

Media queries (Media Queries Level 4, section 3): lists of a kind and of conditions in round brackets.
"""

from __future__ import annotations

import re

__all__ = ["of_screen"]

_CONDITION = re.compile(r"\(([^()]*)\)")
# What is as people mostly have it, where a sheet asks.
_AS_MOSTLY = {
    "prefers-color-scheme": "light",
    "prefers-reduced-motion": "no-preference",
    "prefers-contrast": "no-preference",
    "forced-colors": "none",
    "scripting": "none",
    "update": "fast",
    "hover": "hover",
    "pointer": "fine",
    "inverted-colors": "none",
    "monochrome": "0",
}


def of_screen(media: str) -> tuple[bool, list[str]]:
    """Return whether a list of media takes in a screen, and the conditions that are not known here and count as met.

    Examples
    --------
    >>> of_screen("print"), of_screen("screen and (max-width: 600px)")
    ((False, []), (True, ['max-width: 600px']))
    >>> of_screen("(prefers-color-scheme: dark)"), of_screen("not print")
    ((False, []), (True, []))
    """
    doubtful: list[str] = []
    for part in media.lower().split(","):
        met, unknown = _query(part.strip())
        if met and not unknown:
            return True, []
        if met:
            doubtful += unknown
    return bool(doubtful), doubtful


def _query(text: str) -> tuple[bool, list[str]]:
    """Return whether one query is met, and which of its conditions are not known here."""
    words = _CONDITION.sub(" ", text).split()
    negated = words[:1] == ["not"]
    kinds = [word for word in words if word not in {"not", "only", "and", "or"}]
    unknown = []
    met = all(kind in {"all", "screen"} for kind in kinds)
    for condition in _CONDITION.findall(text):
        name, _, value = (part.strip() for part in condition.partition(":"))
        if name not in _AS_MOSTLY:
            unknown.append(condition.strip())
        elif (value or name) != _AS_MOSTLY[name] and (value or _AS_MOSTLY[name] in {"none", "0"}):
            met = False
    if negated:
        return (True, unknown) if unknown and met else (not met, [])
    return met, unknown if met else []
