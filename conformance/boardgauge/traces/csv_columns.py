"""The header of a table: which column holds the time, in what unit, and what the others are.

Law of this module: the header alone decides, by rules that can be said in a sentence each; two readings are an error.

- The time column is the one called ``t``, ``time``, ``timestamp``, ``elapsed`` or ``datetime`` (also in two words:
  ``elapsed time``, ``date/time``; case and blanks around it do not count), with or without a unit behind it: ``t_s``,
  ``time_ms``, ``time [s]``, ``Time (us)``, ``time/s``, ``time ms``; or the one called ``seconds`` or another unit
  written out. Units: s, ms, us (or µs), ns, min, h, or their names. Without a unit it is seconds, or the reading of a
  clock: ``2026-11-25T08:00:00.5``, ``08:00:00``. Exactly one column may be called so. A column ``date`` beside it holds
  the dates.
- Without such a column, a rate of sampling must have been stated (``csv_header``); a column called ``sample``,
  ``index`` or ``row`` then counts the samples.
- The table is *long* if it has three columns, called time (as above), ``signal`` (or ``channel``, ``name``) and
  ``value`` (or ``level``, ``state``), in any order: one change a row. Else it is *wide*: one column a signal,
  one sample of all of them a row.
- Columns are parted by semicolons if the header has one, else by tabs, upright strokes or commas; what gives no time
  column so is tried in the other ways. With anything but commas a comma may stand for the decimal point.
- A unit behind the name of another column, ``coil [mV]``, belongs to the name; the channel can be called ``coil`` too.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Iterable, Iterator
from fractions import Fraction

from attrs import evolve, frozen

from boardgauge.traces.errors import UnreadableRecording, shown
from boardgauge.traces.source import LONGEST_LINE

UNITS = {
    "s": Fraction(10**6),
    "ms": Fraction(10**3),
    "us": Fraction(1),
    "µs": Fraction(1),
    "μs": Fraction(1),
    "ns": Fraction(1, 10**3),
    "min": Fraction(60 * 10**6),
    "h": Fraction(3600 * 10**6),
}
_WRITTEN_OUT = {
    "second": "s", "sec": "s", "millisecond": "ms", "msec": "ms", "microsecond": "us", "usec": "us",
    "nanosecond": "ns", "minute": "min", "hour": "h",
}  # fmt: skip
_NAMES = {**UNITS, **{w + s: UNITS[u] for w, u in _WRITTEN_OUT.items() for s in ("", "s")}}
_UNIT_NAMES = "|".join(sorted(_NAMES, key=len, reverse=True))
_CALLED = r"(?:t|time|time ?stamp|elapsed(?: time)?|date[ _/]?time)"
_TIME = re.compile(rf"{_CALLED}\s*(?:(?:[_/, ]\s*|(?=[\[(]))[\[(]?\s*({_UNIT_NAMES})\s*[\])]?)?", re.IGNORECASE)
_TIME_WORD = re.compile(rf"{_CALLED}(?:\s*[_/ \[(].*)?", re.IGNORECASE)
_COUNT = {"sample", "samples", "index", "row", "sample number", "sample no"}
# A cell is as long as a line may be: how long that is, the source of the blocks says.
csv.field_size_limit(LONGEST_LINE)

DELIMITERS = ";\t|,"
_WITH_UNIT = re.compile(r"(.*?\S)\s*(?:\[[^\[\]]*\]|\([^()]*\))")
_SIGNAL = {"signal", "channel", "name"}
_VALUE = {"value", "level", "state"}
TIME_WORDS = "a column t, time or timestamp, with a unit or without: t_s, time_ms, time [us]; or a stated sample rate"


@frozen
class Columns:
    """What the columns of a table are; ``unit`` is microseconds a unit of the time column."""

    names: tuple[str, ...]
    time: int
    unit: Fraction
    delimiter: str
    signal: int | None = None
    value: int | None = None
    date: int | None = None
    """The column that holds the dates of the clock readings in the time column."""
    counted: bool = False
    """The time column is not in the file: it counts the rows."""

    @property
    def long(self) -> bool:
        """Tell whether each row is one change of one signal."""
        return self.signal is not None

    def channels(self) -> Iterator[tuple[int, str]]:
        """Give the columns of a wide table that are channels: their place and name."""
        return ((i, name) for i, name in enumerate(self.names) if i not in (self.time, self.date))


def time_unit(name: str) -> Fraction | None:
    """Give the microseconds a unit of a time column of this name, None if it is not called like one."""
    if name.lower() in _NAMES and len(name) > 3:
        return _NAMES[name.lower()]
    found = _TIME.fullmatch(name)
    return _NAMES[(found.group(1) or "s").lower()] if found else None


def unit_called(text: str) -> Fraction | None:
    """Give the microseconds a unit of time of this name, in brackets or without, None if it is none."""
    return _NAMES.get(text.strip().strip("[]()").strip().lower())


def says_unit(name: str) -> bool:
    """Tell whether the name of a time column gives a unit."""
    found = _TIME.fullmatch(name)
    return not found or found.group(1) is not None


def aliases(names: Iterable[str]) -> dict[str, str]:
    """Give, for names with a unit behind them, the name without it, where that is no other's."""
    names = list(names)
    short = {name: found.group(1) for name in names if (found := _WITH_UNIT.fullmatch(name))}
    taken = Counter([*short.values(), *names])
    return {alias: name for name, alias in short.items() if taken[alias] == 1}


def cells_of(text: str) -> tuple[str, tuple[str, ...]] | None:
    """Part a header: its delimiter and cells, so that one is the time if there is a way; None if it has one cell."""
    ways = [(d, tuple(c.strip() for c in next(csv.reader([text], delimiter=d)))) for d in DELIMITERS if d in text]
    timed = [way for way in ways if any(_TIME_WORD.fullmatch(name) or time_unit(name) for name in way[1])]
    return next(iter(timed or ways), None)


def is_timed(names: Iterable[str]) -> bool:
    """Tell whether one of these names is meant to be that of a time column."""
    return any(_TIME_WORD.fullmatch(name) or time_unit(name) for name in names)


def columns_of(text: str, file: str, line: int, step: Fraction | None = None) -> Columns:
    """Read the header line of a table; raises UnreadableRecording where it can be read in two ways, or in none.

    ``step`` is microseconds from sample to sample, where that was stated.
    """
    parted = cells_of(text)
    if parted is None and step is not None and text.strip():
        parted = ",", (text.strip(),)
    if parted is None:
        raise UnreadableRecording(
            file, f"{shown(text)} is neither a value change dump nor the header of a table", line=line,
            expected="VCD ($timescale ...), CSV (time,signal,signal,...), JSON lines, Parquet or Arrow",
        )  # fmt: skip
    delimiter, names = parted
    if step is None or is_timed(names):
        return columns_from(names, delimiter, file, line)
    counting = [index for index, name in enumerate(names) if name.lower() in _COUNT]
    if counting:
        return columns_from(names, delimiter, file, line, (counting[0], step))
    return evolve(columns_from(("", *names), delimiter, file, line, (0, step)), counted=True)


def columns_from(
    names: tuple[str, ...], delimiter: str, file: str, line: int | None, alone: tuple[int, Fraction] | None = None
) -> Columns:
    """Tell what columns of these names are, as ``columns_of`` does.

    ``alone`` is the column, with its unit, that its type makes the time where none is called so.
    """
    times = [(index, unit) for index, name in enumerate(names) if (unit := time_unit(name)) is not None]
    if not times and alone is not None:
        times = [alone]
    text = delimiter.join(names)
    if not times:
        nearly = [name for name in names if _TIME_WORD.fullmatch(name)]
        what = (
            f"the unit of {shown(nearly[0])} is not known" if nearly else f"no column of {shown(text, 80)} is the time"
        )
        raise UnreadableRecording(file, what, line=line, expected=TIME_WORDS)
    date = next((index for index, name in enumerate(names) if name.lower() == "date"), None)
    if len(times) > 1:
        both = " and ".join(shown(names[index]) for index, _ in times)
        raise UnreadableRecording(file, f"both {both} could be the time", line=line, expected="one time column")
    time, unit = times[0]
    lowered = [name.lower() for name in names]
    if len(names) == 3 + (date is not None):
        signal = next((i for i, name in enumerate(lowered) if name in _SIGNAL and i != time), None)
        value = next((i for i, name in enumerate(lowered) if name in _VALUE and i != time), None)
        if signal is not None and value is not None:
            return Columns(names, time, unit, delimiter, signal, value, date)
    for index, name in enumerate(names):
        if not name and index != time:
            raise UnreadableRecording(
                file, f"column {index + 1} has no name", line=line, expected="a name for each column"
            )
        if name in names[:index]:
            raise UnreadableRecording(
                file, f"two columns are called {shown(name)}", line=line, expected="different names"
            )
    return Columns(names, time, unit, delimiter, date=date)
