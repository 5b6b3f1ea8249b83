"""A technician's chart of a sensor on one page: the curve, its table, how to check it and what to beware of.

Law of this module: a pure function of a table of rows; black on white. The table is what is read, the curve shows where
one is on it. Cautions are never left out to save room: rows that do not fit are refused.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from attrs import frozen

from boardgauge.drawings.page import FAMILY, PAPERS, Paper
from boardgauge.drawings.sensor_plot import Plot, minus
from boardgauge.drawings.svg_text import escaped, line, rect, text, wrapped
from boardgauge.sensors.chart_rows import SensorRow, SensorTable, figures_of, ohms_in_words
from boardgauge.sensors.sensor_check import SensorCheck
from boardgauge.sensors.sensor_words import CAUTIONS, CHECKING, INSULATING

_MARGIN = 36.0
_TITLE, _TEXT, _SMALL = 14.0, 9.0, 7.5
_LEADING = 1.28
_ROW = 11.5
_HEAD = 25.0
_TALLEST, _LOWEST = 260.0, 85.0
_BLOCKS = 2
_BETWEEN = 24.0


class TooManyRows(ValueError):
    """The rows do not fit on one page."""


def sensor_chart(table: SensorTable, footer: str, paper: Paper = "letter", check: SensorCheck | None = None) -> str:
    """Give the page as SVG; with ``check`` the measured point is marked. Raises TooManyRows."""
    width, height = PAPERS[paper]
    inner = width - 2 * _MARGIN
    head, top = _head(table, check, inner)
    foot = _foot(footer, inner)
    bottom = height - _MARGIN - foot.height
    per_block = -(-len(table.rows) // _BLOCKS)
    of_table = _HEAD + per_block * _ROW + 6
    room = bottom - top - of_table - 8
    if room < 0:
        most = int((bottom - top - _HEAD - 14) / _ROW) * _BLOCKS
        what = f"{len(table.rows)} rows do not fit on a page of {paper} with the cautions, {most} do"
        raise TooManyRows(f"{what}: take a larger --step, or a part of the range")
    parts = [*head]
    if room >= _LOWEST:
        plot = Plot.of(table, _MARGIN, top + 14, inner, min(room, _TALLEST))
        parts += plot.drawn(table, check)
        top = plot.bottom + 26
    parts += _rows(table, _MARGIN, top, inner, per_block)
    parts += foot.at(height - _MARGIN)
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.2f}pt" height="{height:.2f}pt"'
            f' viewBox="0 0 {width:.2f} {height:.2f}" font-family="{FAMILY}">',
            f"<title>{escaped(table.curve.title)}</title>",
            rect(0, 0, width, height, 'fill="white"'),
            *parts,
            "</svg>",
            "",
        ]
    )


# -- words above and below -----------------------------------------------------------------------------------------


def _head(table: SensorTable, check: SensorCheck | None, width: float) -> tuple[list[str], float]:
    curve, parts, y = table.curve, list[str](), _MARGIN
    for words in wrapped(curve.title, _TITLE, width):
        parts.append(text(words, _MARGIN, y + _TITLE, _TITLE, ' font-weight="bold"'))
        y += _TITLE * _LEADING
    told = [f"Curve {curve.id}. Least and greatest: a new sensor, {table.allowance}.", *table.notes]
    if curve.in_service is not None:
        told[0] += f" One in use is condemned beyond {curve.in_service}."
    if table.divider is not None:
        told.append(_divider_in_words(table))
    if check is not None:
        ohms = "over range" if check.ohms is None else ohms_in_words(float(check.ohms), figures_of(curve))
        told.append(f"Measured: {ohms} at {float(check.celsius):g} °C, {check.verdict}.")
    for one in told:
        for words in wrapped(one, _TEXT, width):
            parts.append(text(words, _MARGIN, y + _TEXT + 2, _TEXT))
            y += _TEXT * _LEADING
    return parts, y + 10


def _divider_in_words(table: SensorTable) -> str:
    divider = table.divider
    assert divider is not None
    where = "to ground" if divider.sensor == "bottom" else "to the supply"
    of = f"{float(divider.supply):g} V" if divider.counts is None else f"{divider.counts} counts"
    other = "to the supply" if divider.sensor == "bottom" else "to ground"
    fixed = ohms_in_words(float(divider.fixed))
    return f"Divider: the sensor {where}, {fixed} {other}, {of} in all, every part as marked."


@frozen
class _Foot:
    """The steps and cautions at the foot of the page, laid out from the bottom."""

    lines: tuple[tuple[str, float, str, float], ...]

    @property
    def height(self) -> float:
        return sum(lead for *_, lead in self.lines) + 6

    def at(self, bottom: float) -> Iterator[str]:
        y = bottom - self.height + 6
        for words, indent, more, lead in self.lines:
            y += lead
            size = _SMALL if "data-small" in more else _TEXT
            yield text(words, _MARGIN + indent, y, size, more.replace(" data-small", ""))


def _foot(footer: str, width: float) -> _Foot:
    lines: list[tuple[str, float, str, float]] = []
    lead = _TEXT * _LEADING

    def add(heading: str, steps: Sequence[str]) -> None:
        lines.append((heading, 0, ' font-weight="bold"', lead + 4))
        for number, step in enumerate(steps, 1):
            for index, words in enumerate(wrapped(step, _TEXT, width - 14)):
                lines.append((f"{number}. {words}" if not index else words, 0 if not index else 11, "", lead))

    add("To check the sensor", CHECKING)
    add("Leads to chassis", INSULATING)
    lines.append(("Caution", 0, ' font-weight="bold"', lead + 4))
    lines += [(words, 0, "", lead) for words in wrapped(CAUTIONS, _TEXT, width)]
    for index, words in enumerate(wrapped(footer, _SMALL, width)):
        lines.append((words, 0, " data-small", _SMALL * _LEADING + (5 if not index else 0)))
    return _Foot(tuple(lines))


# -- the table -----------------------------------------------------------------------------------------------------


def _rows(table: SensorTable, left: float, top: float, width: float, per_block: int) -> Iterator[str]:
    block = (width - _BETWEEN * (_BLOCKS - 1)) / _BLOCKS
    columns = _columns(table, block)
    for index in range(_BLOCKS):
        rows = table.rows[index * per_block : (index + 1) * per_block]
        if not rows:
            continue
        x = left + index * (block + _BETWEEN)
        yield from _heading(columns, x, top, block)
        for number, row in enumerate(rows):
            y = top + _HEAD + number * _ROW
            if number % 5 == 4 and number + 1 < len(rows):
                yield line(x, y + 3.2, x + block, y + 3.2, 0.4)
            bold = ' font-weight="bold"' if row.celsius in (0, 25) else ""
            for (_, right), words in zip(columns, _cells(row, table), strict=True):
                yield text(words, x + right, y, _TEXT, f' text-anchor="end"{bold}')
        end = top + _HEAD + len(rows) * _ROW - _ROW + 4.5
        yield line(x, end, x + block, end, 0.8)


def _columns(table: SensorTable, block: float) -> list[tuple[str, float]]:
    """Give the headings with the right edge of each column."""
    names = ["°C", "°F", "by the curve", "least", "greatest"]
    shares = [0.13, 0.26, 0.51, 0.755, 1.0]
    if table.divider is not None:
        names.append("volts" if table.divider.counts is None else "counts")
        shares = [0.115, 0.23, 0.44, 0.64, 0.845, 1.0]
    return [(name, share * block) for name, share in zip(names, shares, strict=True)]


def _heading(columns: list[tuple[str, float]], x: float, y: float, block: float) -> Iterator[str]:
    for name, right in columns:
        yield text(name, x + right, y + 8, _SMALL, ' text-anchor="end" font-style="italic"')
    yield line(x, y + 12, x + block, y + 12, 0.8)


def _cells(row: SensorRow, table: SensorTable) -> list[str]:
    figures = figures_of(table.curve)
    ohms = [ohms_in_words(value, figures) for value in (row.ohms, row.least, row.greatest)]
    cells = [degrees_in_words(row.celsius), degrees_in_words(row.fahrenheit), *ohms]
    if row.measured is not None:
        counts = table.divider is not None and table.divider.counts is not None
        cells.append(f"{row.measured:.0f}" if counts else f"{row.measured:.3f}")
    return cells


def degrees_in_words(degrees: Fraction) -> str:
    """Write degrees with one decimal where they are not whole."""
    return minus(f"{float(degrees):.0f}" if degrees.denominator == 1 else f"{float(degrees):z.1f}")
