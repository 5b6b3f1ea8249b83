"""Text to what a lamp shows.

Law of this module: a pattern is steady, dark, a lit and a dark time in turn, or groups of flashes; times are exact.
"""

from __future__ import annotations

import re

from boardgauge.language.cursor import Cursor, take_time
from boardgauge.language.model import Blink, Dark, Flashes, Pattern, Steady
from boardgauge.language.problems import Unreadable

MOST_FLASHES = 100


def read_pattern(text: str) -> Pattern:
    """Read what a lamp shows: steady, dark, ``"1 s lit, 1 s dark"`` or ``"3 flashes"``. Raises Unreadable."""
    cursor = Cursor(text)
    for word, pattern in (("steady", Steady()), ("dark", Dark())):
        if cursor.word(word):
            cursor.end()
            return pattern
    flashes = re.fullmatch(r"\s*([0-9]{1,9})\s+(flash|flashes)\s*", text)
    if flashes is None:
        return read_blink(text)
    number = int(flashes.group(1))
    if not 1 <= number <= MOST_FLASHES:
        raise Unreadable(f"a group has 1 to {MOST_FLASHES} flashes", cursor.at)
    return Flashes(number)


def read_blink(text: str) -> Blink:
    """Read ``"0.25 s lit, 0.25 s dark"``. Raises Unreadable."""
    cursor = Cursor(text)
    expected = '"1 s lit, 1 s dark"'
    times = []
    for word in ("lit", "dark"):
        at = cursor.at
        times.append(take_time(cursor, f'"steady", "dark", "3 flashes" or {expected}'))
        if not cursor.word(word):
            raise Unreadable(f"the word {word!r} is missing", cursor.at, expected)
        if times[-1] == 0:
            raise Unreadable(f"a {word} part lasts longer than nothing", at)
        if word == "lit" and not cursor.sign(","):
            raise Unreadable("the comma and the dark part are missing", cursor.at, expected)
    cursor.end()
    return Blink(*times)


def read_dark_part(text: str) -> int:
    """Read the dark between groups of flashes, ``"1.5 s dark"``; microseconds. Raises Unreadable."""
    cursor = Cursor(text)
    time = take_time(cursor, '"1.5 s dark"')
    if not cursor.word("dark"):
        raise Unreadable("the word 'dark' is missing", cursor.at, '"1.5 s dark"')
    cursor.end()
    if time == 0:
        raise Unreadable("the dark between groups lasts longer than nothing", 0)
    return time
