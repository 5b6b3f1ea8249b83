"""How much of a certificate is written out, and how what is left out is told.

Law of this module: nothing is cut or left away without a word that says how much.
"""

from __future__ import annotations

from collections.abc import Sequence

from attrs import frozen


@frozen
class Room:
    """How much of each kind is written out; the rest is counted.

    ``letters`` is the longest text, ``cell`` the longest in a table; ``words``: deviations with what was seen.
    """

    timings: int
    deviations: int
    runs: int
    names: int
    letters: int
    words: bool = True
    cell: int = 260


ROOMS = (
    Room(40, 12, 12, 80, 900),
    Room(24, 8, 8, 60, 600),
    Room(16, 6, 6, 40, 500),
    Room(12, 5, 5, 30, 400, True, 200),
    Room(9, 4, 4, 20, 300, True, 150),
    Room(7, 3, 3, 14, 240, False, 120),
    Room(5, 3, 2, 8, 200, False, 90),
    Room(3, 2, 1, 5, 120, False, 60),
    Room(1, 1, 1, 2, 80, False, 40),
)
"""From the most to the least that is written out; the first that fits one page is taken."""


def listed(names: Sequence[str], most: int, letters: int = 10_000) -> str:
    """Join names, those beyond ``most`` as a number."""
    shown = list(names[:most])
    text = cut(", ".join(shown), letters)
    return f"{text} and {len(names) - len(shown)} more" if len(names) > len(shown) else text


def cut(text: str, letters: int) -> str:
    """Shorten a text, and say that it was and by how much."""
    note = f"… ({len(text) - letters} letters more)"
    # What the note would take the place of may as well stand there.
    return text if len(text) <= letters + len(note) else f"{text[:letters].rstrip()}{note}"
