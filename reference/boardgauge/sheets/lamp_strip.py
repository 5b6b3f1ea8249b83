"""Draw a lamp's pattern as it goes on in time.

Law of this module: nominal times on one scale for all patterns of a lamp: high and filled where it is lit, low where it
is dark. Nothing is told by colour.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import gcd

from boardgauge.drawings.page import FAMILY
from boardgauge.drawings.svg_text import line, rect, text
from boardgauge.drawings.words import pattern as pattern_words
from boardgauge.language.model import Blink, Dark, Flashes, Lamp, Pattern, Steady
from boardgauge.language.quantities import MS, S
from boardgauge.machine.lamp_wave import parts
from boardgauge.sheets.blocks import Drawing

WIDTH = 190.0
_HIGH, _TOP, _EDGE = 12.0, 3.0, 4.0
_SMALL = 9.2
_HEIGHT = _TOP + _HIGH + 15.5
_LEAST, _MOST = 4 * S, 20 * S
_LETTER, _QUICK, _MOST_LETTERS = 250 * MS, 200 * MS, 48
_TICKS = (1, 2, 5, 10)


def scale(lamp: Lamp) -> int:
    """Give how long a stretch shows two periods of each pattern of a lamp, as far as there is room."""
    periods = [_period(lamp, one.shows) for one in lamp.lines]
    wanted = max((2 * period for period in periods), default=_LEAST)
    return min(_MOST, max(_LEAST, -(-wanted // S) * S))


def _period(lamp: Lamp, shows: Pattern) -> int:
    match shows:
        case Blink(lit=lit, dark=dark):
            return lit + dark
        case Flashes(number=number) if lamp.flash is not None and lamp.between_groups is not None:
            return number * lamp.flash.lit + (number - 1) * lamp.flash.dark + lamp.between_groups
    return 0


def strip(lamp: Lamp, shows: Pattern, lasts: int) -> Drawing:
    """Draw a pattern over a time (microseconds), with its axis in seconds below."""
    across = (WIDTH - 2 * _EDGE) / lasts
    drawn, low = list[str](), _TOP + _HIGH
    letters = ""
    for lit, start, end in stretches(lamp, shows, lasts):
        left, right = _EDGE + start * across, _EDGE + end * across
        if lit:
            drawn.append(rect(left, _TOP, right - left, _HIGH, 'class="lit" fill="black"'))
        else:
            drawn.append(line(left, low, right, low, 1.2, ' class="dark"'))
    letter = _letter_time(lamp, lasts)
    for start in range(0, lasts, letter):
        letters += _letter(lamp, shows, lasts, start, letter)
    every = next(step for step in _TICKS if lasts // S // step <= 10)
    for second in range(0, lasts // S + 1, every):
        x = _EDGE + second * S * across
        drawn.append(line(x, low + 2, x, low + 5, 0.6))
        last = second + every > lasts // S
        words = f"{second} s" if last else str(second)
        anchor = "end" if last else "middle" if second else "start"
        at = min(x, WIDTH - 0.5) if last else x if second else x - 2
        drawn.append(text(words, at, low + 13.5, _SMALL, f' text-anchor="{anchor}"'))
    words = f"{pattern_words(shows)}, drawn over {lasts // S} s"
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH:.2f}pt" height="{_HEIGHT:.2f}pt"'
        f' viewBox="0 0 {WIDTH:.2f} {_HEIGHT:.2f}" font-family="{FAMILY}" role="img"><title>{words}</title>'
        + "".join(drawn)
        + "</svg>"
    )
    return Drawing(svg, WIDTH, _HEIGHT, letters)


def stretches(lamp: Lamp, shows: Pattern, lasts: int) -> Iterator[tuple[bool, int, int]]:
    """Give the lit and dark stretches of a pattern from the moment it begins: lit, start, end."""
    if isinstance(shows, (Steady, Dark)):
        yield isinstance(shows, Steady), 0, lasts
        return
    time = 0
    for lit, length in parts(lamp, shows):
        if time >= lasts:
            return
        end = lasts if length is None else min(lasts, time + length)
        yield lit, time, end
        time = end


def _letter_time(lamp: Lamp, lasts: int) -> int:
    """Give how long one letter stands for: what all slow parts are whole multiples of, unless that takes too many."""
    lengths = [end - start for line in lamp.lines for _, start, end in stretches(lamp, line.shows, 4 * lasts)]
    common = gcd(*(length for length in lengths if length >= _QUICK))
    return common if common and lasts / common <= _MOST_LETTERS else _LETTER


def _letter(lamp: Lamp, shows: Pattern, lasts: int, start: int, letter: int) -> str:
    """Give what a letter's worth of a pattern looks like: lit, dark, or both in it."""
    end = start + letter
    seen = {lit for lit, since, until in stretches(lamp, shows, lasts) if since < end and start < until}
    return "▒" if len(seen) > 1 else "█" if True in seen else "▁"
