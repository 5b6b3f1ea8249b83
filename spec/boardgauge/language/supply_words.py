"""The supply in an expression, as people write it who do not know the one word that the language has for it.

Law of this module: nothing is taken for what was meant; the right word is only named.
"""

from __future__ import annotations

import re

_PAIR = re.compile(r"\b([A-Za-z]{3,7})(?:[\s-]+|_?)([A-Za-z]{2,8})\b")
_COMES = ("up", "on", "back", "return", "returns", "begins", "restored")
_GOES = ("loss", "lost", "off", "fails", "failure", "ends", "down", "cut")
_ALIKE, _SURELY = 70, 85

COMES = "power_up"


def supply_meant(text: str, at: int | None = None) -> tuple[int, str] | None:
    """Give where in a text the coming or the loss of the supply is meant, and what is to be said of it.

    ``at``: only where the words reach this place. None if the supply is not meant, or is written as it should be.
    """
    for match in _PAIR.finditer(text):
        begins, ends = match.span()
        if match.group() == COMES or (at is not None and not begins <= at <= ends):
            continue
        if _near(match[1], ("power",), _SURELY) is None:
            continue
        if _near(match[2], _COMES) is not None:
            return begins, f"the return of the supply is one word; did you mean {COMES!r}?"
        if _near(match[2], _GOES) is not None:
            return begins, f"a loss of power is no event that a rule could act on; its return is {COMES!r}"
    return None


def nearest_words(text: str, whole: str, tail: str) -> str | None:
    """Give the ``whole`` words of a key where a text is much like them, or like their ``tail``."""
    return whole if _near(text, (whole, tail)) is not None else None


def _near(word: str, choices: tuple[str, ...], least: int = _ALIKE) -> str | None:
    from rapidfuzz import fuzz, process

    found = process.extractOne(word, choices, scorer=fuzz.ratio, processor=str.casefold, score_cutoff=least)
    return None if found is None else str(found[0])
