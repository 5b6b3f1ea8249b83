"""Find where a signal goes on repeating itself, so that a chart need not draw every flash.

Law of this module: a rhythm is what was seen, not what a lamp's table asks for. It begins and ends at a change, and
every part of it is like the one a period before.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from statistics import median

from attrs import frozen

from boardgauge.drawings import words
from boardgauge.language.model import Blink, Flashes

_LONGEST = 9
"""Flashes in the longest group that is looked for."""
_TIMES_BLINK, _TIMES_GROUP = 4, 2
"""How often a single blink, and a group, must come to count as a rhythm."""
_ALIKE = 0.25
_PAUSE = 1.5


@frozen
class Rhythm:
    """A stretch in which a signal repeats itself; ``text`` says how, ``brief`` in fewer letters."""

    start: int
    end: int
    text: str
    brief: str


def rhythms(changes: Sequence[tuple[int, bool | None]], slack: int = 0) -> list[Rhythm]:
    """Find the rhythms among changes (time, value from then on); lengths may differ by ``slack`` beside a quarter."""
    times = [time for time, _ in changes]
    parts = [b - a for a, b in pairwise(times)]
    known = [value is not None for _, value in changes]
    found: list[Rhythm] = []
    at = 0
    while at < len(parts):
        best, flashes = at, 0
        for number in range(1, _LONGEST + 1):
            end = _runs_to(parts, known, at, 2 * number, slack)
            least = (_TIMES_BLINK if number == 1 else _TIMES_GROUP) * 2 * number
            if end - at >= least and end > best:
                best, flashes = end, number
        if not flashes:
            at += 1
            continue
        period = parts[at : at + 2 * flashes]
        lit = bool(changes[at][1])
        text, brief = _single(parts[at:best], lit) if flashes == 1 else _group(period, flashes, lit)
        found.append(Rhythm(times[at], times[best], text, brief))
        at = best
    return found


def _runs_to(parts: list[int], known: list[bool], start: int, period: int, slack: int) -> int:
    """Give the index after the last part that is like the one a period before, from ``start`` on."""
    end = start
    while end < len(parts) and known[end] and (end < start + period or _like(parts[end], parts[end - period], slack)):
        end += 1
    return end


def _like(one: int, other: int, slack: int) -> bool:
    return abs(one - other) <= max(_ALIKE * max(one, other), slack)


def _single(parts: list[int], lit_first: bool) -> tuple[str, str]:
    first, second = _rounded(median(parts[::2])), _rounded(median(parts[1::2]))
    lit, dark = (first, second) if lit_first else (second, first)
    return words.pattern(Blink(lit, dark)), f"{lit / 1_000_000:g}/{dark / 1_000_000:g} s"


def _group(period: list[int], flashes: int, lit_first: bool) -> tuple[str, str]:
    dark = sorted(period[1::2] if lit_first else period[::2])
    if dark[-1] >= _PAUSE * dark[-2]:
        return f"{words.pattern(Flashes(flashes))}, again and again", f"{flashes}×"
    length = _rounded(sum(period)) / 1_000_000
    return f"the same every {length:g} s", ""


def _rounded(time: float) -> int:
    """Round a length to what the eye can tell: hundredths of a second, above one second tenths."""
    step = 10_000 if time < 1_000_000 else 100_000
    return max(step, round(time / step) * step)
