"""The line protocol between us and a fixture: how its lines are written and read, on both ends.

Law of this module: text only, no link and no clock; ``docs/rigs.md`` says what each line means. A line that is not of
the protocol is a ``BadLine``, whatever the bytes are.
"""

from __future__ import annotations

import re
from fractions import Fraction

from attrs import frozen

from boardgauge.machine.run import Value

VERSION = 1
LONGEST = 250
"""So many characters a line has at most, without its end."""
MOST_TIME = 2**53
"""No moment is later, in microseconds: 285 years."""
DECIMALS = 9
"""So many decimals a sensor's number is given with at most."""

_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_.-]{0,63}")
_NUMBER = re.compile(r"-?[0-9]{1,15}(?:\.[0-9]{1,9})?")
_SUM = re.compile(r"(.*)\*([0-9a-f]{2})")


class BadLine(ValueError):
    """A line that the protocol does not know; the message says what is wrong with it."""


@frozen
class Seen:
    """``at TIME NAME LEVEL``: a point changed."""

    time: int
    name: str
    level: Fraction


def is_name(text: str) -> bool:
    """Tell whether a text can be the name of a point: it begins with a letter and holds no blank."""
    return _NAME.fullmatch(text) is not None


def with_sum(line: str) -> str:
    """Give a line with its sum: the sum of its bytes, the last two hexadecimal digits of it."""
    return f"{line}*{sum(line.encode()) % 256:02x}"


def without_sum(line: str) -> str:
    """Take the sum off a line. Raises BadLine where it is missing or another."""
    found = _SUM.fullmatch(line)
    if found is None:
        raise BadLine(f"{shown(line)} has no sum at its end")
    text = found.group(1)
    if with_sum(text) != line:
        raise BadLine(f"{shown(line)} was damaged on the way: its sum is another")
    return text


def number_text(value: Value) -> str:
    """Write a level or a number: 0, 1, or a decimal number rounded to nine places."""
    if isinstance(value, bool):
        return "1" if value else "0"
    scaled = round(value * 10**DECIMALS)
    text = f"{abs(scaled):0{DECIMALS + 1}d}"
    whole, part = text[:-DECIMALS], text[-DECIMALS:].rstrip("0")
    return ("-" if scaled < 0 else "") + whole + (f".{part}" if part else "")


def number_of(text: str) -> Fraction:
    """Read a level or a number. Raises BadLine."""
    if _NUMBER.fullmatch(text) is None:
        raise BadLine(f"{shown(text)} is no level and no number")
    return Fraction(text)


def time_of(text: str) -> int:
    """Read a moment, whole microseconds. Raises BadLine."""
    if not (text.isascii() and text.isdigit() and len(text) <= 16 and int(text) <= MOST_TIME):
        raise BadLine(f"{shown(text)} is no moment in whole microseconds")
    return int(text)


def seen_of(words: list[str]) -> Seen:
    """Read the words of an ``at`` line. Raises BadLine."""
    if len(words) != 4 or not is_name(words[2]):
        raise BadLine(f"{shown(' '.join(words))} is not: at TIME NAME LEVEL")
    return Seen(time_of(words[1]), words[2], number_of(words[3]))


def pairs_of(words: list[str]) -> dict[str, Fraction]:
    """Read ``NAME=LEVEL`` words. Raises BadLine."""
    found: dict[str, Fraction] = {}
    for word in words:
        name, sign, level = word.partition("=")
        if not sign or not is_name(name):
            raise BadLine(f"{shown(word)} is not NAME=LEVEL")
        if name in found:
            raise BadLine(f"{name} is set twice in one line")
        found[name] = number_of(level)
    return found


def shown(text: str) -> str:
    """Give a text as a message can show it: in quotes, nothing unprintable in it, and not long."""
    text = "".join(c if c.isprintable() else "?" for c in text)
    return repr(text if len(text) <= 60 else text[:57] + "...")
