"""A column of clock readings taken at once.

Law of this module: each comes out as ``decimals.clock_micros`` has it, or none does.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction

import numpy as np
import numpy.typing as npt

from boardgauge.traces.cell_columns import Cells
from boardgauge.traces.decimals import CLOCK, clock_micros
from boardgauge.traces.recording import Times

_MOST_SHAPES = 8
_LONGEST = 40


def clocks_in(cells: Cells) -> tuple[Times, bool] | None:
    """Read clock readings: whole microseconds, rounded down, and whether one was; None if one is none."""
    lengths = cells.ends - cells.starts
    found = np.empty(len(lengths), dtype=np.int64)
    rounded = False
    shapes = np.unique(lengths)
    if len(shapes) > _MOST_SHAPES or int(shapes[-1]) > _LONGEST:
        return None
    for length in shapes.tolist():
        rows = np.flatnonzero(lengths == length)
        read = _of_one_length(cells, rows, length)
        if read is None:
            return None
        found[rows] = read[0]
        rounded = rounded or read[1]
    return found, rounded


def _of_one_length(cells: Cells, rows: npt.NDArray[np.intp], length: int) -> tuple[Times, bool] | None:
    first = cells.at(int(rows[0]))
    shape = CLOCK.fullmatch(first)
    if shape is None or clock_micros(first) is None:
        return None
    chars = cells.text.data.take(cells.starts[rows][:, None] + np.arange(length))
    # The date and the zone are mostly those of the first row; with others, it is done one by one.
    fixed = [i for i in range(length) if not 48 <= first[i] <= 57]
    for group in (1, 2, 3, 8, 9, 10):
        fixed += range(*shape.span(group))
    if not (chars[:, fixed] == np.frombuffer(first, np.uint8)[fixed]).all():
        exact = {cell: clock_micros(cell) for cell in {bytes(row) for row in chars}}
        return None if None in exact.values() else _one_by_one(chars, exact)
    digits = chars.astype(np.int64) - 48
    parts = []
    for group, most in ((4, 23), (5, 59), (6, 59)):
        low, _ = shape.span(group)
        number = digits[:, low] * 10 + digits[:, low + 1]
        if digits[:, low : low + 2].min() < 0 or digits[:, low : low + 2].max() > 9 or number.max() > most:
            return None
        parts.append(number)
    moment = clock_micros(re.sub(rb"(\d\d):(\d\d):(\d\d)(?:[.,]\d+)?", rb"00:00:00", first, count=1))
    assert moment is not None
    micros = int(moment) + ((parts[0] * 60 + parts[1]) * 60 + parts[2]) * 10**6
    low, high = shape.span(7)
    if low < 0:
        return micros, False
    part = digits[:, low:high]
    if part.min() < 0 or part.max() > 9:
        return None
    whole = part[:, :6] @ 10 ** np.arange(5, 5 - min(6, high - low), -1, dtype=np.int64)
    return micros + whole, bool(part[:, 6:].any())


def _one_by_one(chars: npt.NDArray[np.uint8], exact: Mapping[bytes, Fraction | None]) -> tuple[Times, bool]:
    micros = [found for row in chars if (found := exact[bytes(row)]) is not None]
    whole = [m.numerator // m.denominator for m in micros]
    return np.array(whole, dtype=np.int64), any(w != m for w, m in zip(whole, micros, strict=True))
