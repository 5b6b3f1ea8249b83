"""The header of a table: which column holds the time, in what unit, and what the others are.

Law of this module: the header alone decides, by rules that can be said in a sentence each; two readings are an error.

- The time column is the one called ``t``, ``time`` or ``timestamp`` (case and blanks around it do not count), with or
  without a unit behind it: ``t_s``, ``time_ms``, ``time [s]``, ``Time (us)``, ``time/s``, ``time ms``. Units: s, ms, us
  (or µs), ns, min, h. Without a unit it is seconds, or the reading of a clock: ``2026-11-25T08:00:00.5``, ``08:00:00``.
  Exactly one column may be called so.
- The table is *long* if it has three columns, called time (as above), ``signal`` (or ``channel``, ``name``) and
  ``value`` (or ``level``, ``state``), in any order: one change a row. Else it is *wide*: one column a signal,
  one sample of all of them a row.
- Columns are parted by semicolons if the header has one, else by tabs, else by commas. With semicolons or tabs a comma
  may stand for the decimal point.
"""

from __future__ import annotations

import csv
import re
from fractions import Fraction

from attrs import frozen

from boardgauge.traces.errors import UnreadableRecording, shown

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
_TIME = re.compile(r"(?:t|time|timestamp)\s*(?:[_/ ]?\s*[\[(]?\s*(s|ms|us|µs|μs|ns|min|h)\s*[\])]?)?", re.IGNORECASE)
_TIME_WORD = re.compile(r"(?:t|time|timestamp)(?:\s*[_/ \[(].*)?", re.IGNORECASE)
_SIGNAL = {"signal", "channel", "name"}
_VALUE = {"value", "level", "state"}
TIME_WORDS = "a column t, time or timestamp, with a unit or without: t_s, time_ms, time [us]"


@frozen
class Columns:
    """What the columns of a table are; ``unit`` is microseconds a unit of the time column."""

    names: tuple[str, ...]
    time: int
    unit: Fraction
    delimiter: str
    signal: int | None = None
    value: int | None = None

    @property
    def long(self) -> bool:
        """Tell whether each row is one change of one signal."""
        return self.signal is not None


def time_unit(name: str) -> Fraction | None:
    """Give the microseconds a unit of a time column of this name, None if it is not called like one."""
    found = _TIME.fullmatch(name)
    if not found:
        return None
    # A name such as "ts" or "tms" is not a time column: the unit must be set apart.
    if found.group(1) and re.fullmatch(r"(t|time|timestamp)(s|ms|us|µs|μs|ns|min|h)", name, re.IGNORECASE):
        return None
    return UNITS[(found.group(1) or "s").lower()]


def columns_of(text: str, file: str, line: int) -> Columns:
    """Read the header line of a table; raises UnreadableRecording where it can be read in two ways, or in none."""
    delimiter = next((d for d in ";\t," if d in text), None)
    if delimiter is None:
        raise UnreadableRecording(
            file, f"{shown(text)} is neither a value change dump nor the header of a table", line=line,
            expected="VCD ($timescale ...) or CSV (time,signal,signal,...)",
        )  # fmt: skip
    names = tuple(cell.strip() for cell in next(csv.reader([text], delimiter=delimiter)))
    return columns_from(names, delimiter, file, line)


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
    if len(times) > 1:
        both = " and ".join(shown(names[index]) for index, _ in times)
        raise UnreadableRecording(file, f"both {both} could be the time", line=line, expected="one time column")
    time, unit = times[0]
    lowered = [name.lower() for name in names]
    if len(names) == 3:
        signal = next((i for i, name in enumerate(lowered) if name in _SIGNAL and i != time), None)
        value = next((i for i, name in enumerate(lowered) if name in _VALUE and i != time), None)
        if signal is not None and value is not None:
            return Columns(names, time, unit, delimiter, signal, value)
    for index, name in enumerate(names):
        if not name:
            raise UnreadableRecording(
                file, f"column {index + 1} has no name", line=line, expected="a name for each column"
            )
        if name in names[:index]:
            raise UnreadableRecording(
                file, f"two columns are called {shown(name)}", line=line, expected="different names"
            )
    return Columns(names, time, unit, delimiter)
