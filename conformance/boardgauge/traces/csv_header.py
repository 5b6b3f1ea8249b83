"""The beginning of a table: remarks, what a logger says of itself, the header, and a row of units under it.

Law of this module: nothing is guessed. What stands above the header is passed over, but for a rate of sampling, which
holds if no column is the time.

- Remarks begin with ``#``, ``%`` or ``//``. Above the header a logger may say what it likes (``Serial;4711``): the
  header is the first line that has a time column, among the first 100.
- A rate of sampling is stated above the header, in a remark or not: ``# sample rate: 1 kHz``,
  ``Sampling interval [ms];20``. Without a time column, the header is then the line of names above the first values.
- The line under the header gives units if its cell under the time is one (``s``, ``[ms]``, ``hh:mm:ss``) and none of
  its cells is a value. The unit of the time is then taken from there, and must not be another than the header's.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from fractions import Fraction

from attrs import evolve, frozen

from boardgauge.traces.csv_columns import UNITS, Columns, cells_of, columns_of, is_timed, says_unit, unit_called
from boardgauge.traces.decimals import clock_micros, value_of
from boardgauge.traces.errors import UnreadableRecording, shown
from boardgauge.traces.source import Block

_REMARKS = (b"#", b"%", b"//")
FORMATS = "a recording: VCD, CSV or JSON lines in UTF-8, Parquet or Arrow"
"""What is expected where a file is none of them: what is no other format is taken for CSV."""
_MOST_LINES = 100
_RATE = re.compile(
    r"sampl(?:e|ing)[ _-]?(?:(rate|frequency|freq)|interval|period|time)\s*(?:[\[(]\s*([a-zµμ/]+)\s*[\])])?"
    r"[\s\":=,;|]+([0-9]+(?:[.,][0-9]+)?(?:e[+-]?[0-9]{1,2})?)\s*\"?\s*([a-zµμ/]*)",
    re.IGNORECASE,
)
_HERTZ = {"": 1, "hz": 1, "khz": 10**3, "mhz": 10**6, "s/s": 1, "sps": 1, "/s": 1, "ks/s": 10**3, "ksps": 10**3}
_CLOCK_PICTURE = re.compile(r"[ymdhst:./\-+z ]+(?:\.f+)?", re.IGNORECASE)


@frozen
class _Line:
    number: int
    raw: bytes

    @property
    def text(self) -> str:
        try:
            return self.raw.decode("utf-8").rstrip("\r")
        except UnicodeDecodeError:
            return self.raw.decode("latin-1").rstrip("\r")

    @property
    def remark(self) -> bool:
        return self.raw.lstrip().startswith(_REMARKS)


def read_header(source: Iterator[Block], file: str) -> tuple[Columns, Block]:
    """Read what is above the rows of a table; give its columns, and the rest of the block that the rows begin in.

    Raises UnreadableRecording where there is no header, or one that can be read in two ways.
    """
    lines: list[_Line] = []
    data = b""
    for block in source:
        data += block.data
        start = lines[0].number if lines else block.line
        lines = [_Line(start + i, raw) for i, raw in enumerate(data.split(b"\n", 2 * _MOST_LINES))]
        # The last one may be all the rest of the block, or the beginning of a line.
        if len(lines) > _MOST_LINES:
            break
    said = [line for line in lines[: 2 * _MOST_LINES] if line.raw.strip()]
    if not any(not line.remark for line in said):
        what = f"there are remarks and no header: {shown(said[0].raw)}" if said else "the file is empty"
        raise UnreadableRecording(file, what, line=lines[-1].number if lines else 1, expected=FORMATS)
    try:
        return _header(said, lines, file)
    except csv.Error as error:
        first = next(line for line in said if not line.remark)
        raise UnreadableRecording(file, f"header {shown(first.raw)} ({error})", line=first.number) from None


def _header(said: list[_Line], lines: list[_Line], file: str) -> tuple[Columns, Block]:
    plain = [line for line in said if not line.remark][:_MOST_LINES]
    first = plain[0]
    if b"\0" in first.raw:
        what = f"it begins with {shown(first.raw, 16)}, which is not text"
        raise UnreadableRecording(file, what, line=first.number, expected=FORMATS)
    found = next((line for line in plain if _timed(line)), None)
    step = None
    if found is None:
        step = _step(said, file)
        found = first if step is None else _untimed(plain)
    columns = columns_of(found.text, file, found.number, step)
    rows = lines[found.number - lines[0].number + 1 :]
    under = next((line for line in rows if line.raw.strip() and not line.remark), None)
    if under is not None and (unit := _units(under, columns, found, file)) is not None:
        columns = evolve(columns, unit=unit)
        rows = rows[rows.index(under) + 1 :]
    begins = rows[0].number if rows else lines[-1].number + 1
    return columns, Block(begins, b"\n".join(line.raw for line in rows))


def _timed(line: _Line) -> bool:
    """Tell whether a line has a time column and is no row, nor says when something was ("Time;08:00:00")."""
    parted = cells_of(line.text)
    return parted is not None and is_timed(parted[1]) and not any(clock_micros(c.encode()) for c in parted[1])


def _untimed(plain: list[_Line]) -> _Line:
    """Find the header of a table without a time column: the last line of names above the first row of values."""
    before: _Line | None = None
    for line in plain:
        cells = (cells_of(line.text) or ("", (line.text,)))[1]
        if before is not None and all(value_of(c.encode(), True) is not None for c in cells):
            own = (cells_of(before.text) or ("", (before.text,)))[1]
            if len(own) == len(cells):
                return before
        before = line
    return plain[0]


def _step(said: list[_Line], file: str) -> Fraction | None:
    """Give the microseconds from sample to sample that were stated, None if none were."""
    found: Fraction | None = None
    for line in said:
        match = _RATE.search(line.text)
        if not match:
            continue
        rate, ahead, number, behind = match.groups()
        unit = (ahead or behind).lower()
        size = Fraction(number.replace(",", "."))
        scale = _HERTZ.get(unit) if rate else UNITS.get(unit or "s")
        if scale is None or not size:
            known = "Hz, kHz, MHz, S/s, kS/s" if rate else ", ".join(UNITS)
            raise UnreadableRecording(
                file,
                f"{shown(match.group())} states no rate",
                line=line.number,
                expected=f"a number and one of {known}",
            )
        step = Fraction(10**6) / (size * scale) if rate else size * scale
        if found is not None and step != found:
            raise UnreadableRecording(
                file, f"{shown(match.group())} states another rate than the one above", line=line.number,
                expected="one rate",
            )  # fmt: skip
        found = step
    return found


def _units(under: _Line, columns: Columns, header: _Line, file: str) -> Fraction | None:
    """Give the unit of the time if the line under the header is one of units, else None."""
    cells = [c.strip() for c in next(csv.reader([under.text], delimiter=columns.delimiter))]
    if columns.counted:
        cells = ["", *cells]
    if len(cells) != len(columns.names):
        return None
    others = [c for i, c in enumerate(cells) if i != columns.time]
    if any(c and value_of(c.encode(), True) is not None and c != "-" for c in others) or not any(cells):
        return None
    own = cells[columns.time]
    unit = unit_called(own)
    if unit is None:
        said = own and _CLOCK_PICTURE.fullmatch(own) and any(c in "hHmMsS" for c in own)
        return columns.unit if said or (columns.counted and any(others)) else None
    if says_unit(columns.names[columns.time]) and unit != columns.unit:
        raise UnreadableRecording(
            file, f"unit {shown(own)} of the time, which is called {shown(columns.names[columns.time])}",
            line=under.number, expected=f"one unit of time in lines {header.number} and {under.number}",
        )  # fmt: skip
    return unit
