"""The columns of Arrow data as times and values.

Law of this module: the type of a column says how its numbers are meant, and no number is bent to fit: what cannot be
held exactly is refused with its row, or is not known.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from boardgauge.traces.cells import float_micros, floor_of, time_in, values_in, whole_micros, within
from boardgauge.traces.csv_columns import UNITS, Columns, columns_from
from boardgauge.traces.decimals import VALUE_WORDS
from boardgauge.traces.errors import UnreadableRecording, shown
from boardgauge.traces.recording import Times, Values

_TICKS = {unit: UNITS[unit] for unit in ("s", "ms", "us", "ns")}
# pyarrow has no types that mypy knows.
Array = Any
Schema = Any
Type = Any


class Unfit(Exception):
    """A column of which something cannot be read: the row (from 0) where it is one, what, and what was expected."""

    def __init__(self, row: int | None, what: str, expected: str) -> None:
        self.row, self.what, self.expected = row, what, expected
        super().__init__(what)


def columns_in(schema: Schema, file: str) -> Columns:
    """Tell which column is the time, in what unit, and what the others are.

    By name as in a table of text; where none is called so, the one column whose type is a time. A column of numbers
    without a unit in its name may have one in its metadata, ``unit``.
    """
    temporal = [index for index, kind in enumerate(schema.types) if _is_temporal(kind)]
    alone = (temporal[0], Fraction(10**6)) if len(temporal) == 1 else None
    columns = columns_from(tuple(schema.names), ", ", file, None, alone)
    field = schema.field(columns.time)
    told = (field.metadata or {}).get(b"unit")
    unit = columns.unit
    if told is not None and not _is_temporal(field.type):
        by_note = UNITS.get(told.decode("utf-8", "replace").strip().lower())
        named = columns.names[columns.time].lower() not in ("t", "time", "timestamp")
        if by_note is None or (named and by_note != unit):
            what = f"the unit {shown(told)} of column {shown(field.name)}"
            expected = ", ".join(UNITS) if by_note is None else "the unit that its name says"
            raise UnreadableRecording(file, what, expected=expected)
        unit = by_note
    for index, kind in enumerate(schema.types):
        if index not in (columns.time, columns.signal) and not _has_values(kind):
            raise UnreadableRecording(
                file, f"column {shown(schema.names[index])} holds {kind}", expected="numbers, true and false, or text"
            )
    return Columns(columns.names, columns.time, unit, columns.delimiter, columns.signal, columns.value)


def _is_temporal(kind: Type) -> bool:
    return bool(pa.types.is_timestamp(kind) or pa.types.is_duration(kind) or pa.types.is_time(kind))


def is_text(kind: Type) -> bool:
    """Tell whether a column holds text, plain or by a dictionary."""
    if pa.types.is_dictionary(kind):
        return is_text(kind.value_type)
    return bool(pa.types.is_string(kind) or pa.types.is_large_string(kind) or pa.types.is_string_view(kind))


def _has_values(kind: Type) -> bool:
    if pa.types.is_dictionary(kind):
        return _has_values(kind.value_type)
    number = pa.types.is_integer(kind) or pa.types.is_floating(kind) or pa.types.is_decimal(kind)
    return bool(number or pa.types.is_boolean(kind) or pa.types.is_null(kind) or is_text(kind))


def times_of(column: Array, unit: Fraction) -> tuple[Times, bool]:
    """Give the times of a column in whole microseconds, rounded down, and whether any was. Raises Unfit."""
    if column.null_count:
        empty = int(np.flatnonzero(column.is_null().to_numpy(zero_copy_only=False))[0])
        raise Unfit(empty, "no time", "a time in each row")
    kind = column.type
    found: tuple[Times, bool] | None
    if _is_temporal(kind):
        ticks = column.view(pa.int32() if pa.types.is_time32(kind) else pa.int64()).cast(pa.int64())
        found = whole_micros(ticks.to_numpy(), _TICKS[kind.unit])
    elif pa.types.is_integer(kind):
        if pa.types.is_uint64(kind) and bool(pc.any(pc.greater(column, pa.scalar(2**62, kind))).as_py()):
            raise Unfit(None, "a time beyond 2,283 years", "times in a recording's range")
        found = whole_micros(column.cast(pa.int64()).to_numpy(), unit)
    elif pa.types.is_floating(kind):
        floats = column.to_numpy(zero_copy_only=False)
        _exact_enough(floats, unit)
        found = float_micros(floats, unit)
    elif pa.types.is_decimal(kind) or is_text(kind):
        found = _by_digits(column, unit)
    else:
        raise Unfit(None, f"the time is {kind}", "a timestamp, a duration or numbers")
    if found is None:
        raise Unfit(None, "a time that is no number, or beyond 2,283 years", "times in a recording's range")
    return found


def _exact_enough(floats: Any, unit: Fraction) -> None:
    """Raises Unfit where the floats are too short to tell microseconds apart: a time would be wrong without a sign."""
    if floats.dtype == np.float64 or not len(floats):
        return
    apart = float(np.spacing(np.abs(floats).max())) * float(unit)
    if apart > 1 or np.isnan(apart):
        bits = floats.dtype.itemsize * 8
        what = f"the time is in floats of {bits} bits, which here are {apart:.3g} microseconds apart"
        raise Unfit(None, what, "64-bit floats, integers or timestamps")


def _by_digits(column: Array, unit: Fraction) -> tuple[Times, bool]:
    rounded, found = False, np.zeros(len(column), dtype=np.int64)
    for row, each in enumerate(column.to_pylist()):
        exact = time_in(each, unit)
        if exact is None:
            raise Unfit(row, f"time {shown(str(each))}", "a number, or the reading of a clock")
        whole, inexact = floor_of(exact)
        if not within(whole):
            raise Unfit(row, f"time {shown(str(each))}", "less than 2,283 years")
        found[row], rounded = whole, rounded or inexact
    return found, rounded


def values_of(column: Array) -> Values:
    """Give the values of a column, NaN for not known. Raises Unfit."""
    kind = column.type
    if pa.types.is_null(kind):
        return np.full(len(column), np.nan)
    if is_text(kind) or pa.types.is_dictionary(kind):
        return _by_words(column)
    if pa.types.is_boolean(kind):
        column = column.cast(pa.uint8())
    elif pa.types.is_integer(kind):
        column = pc.if_else(_long(column), pa.scalar(None, kind), column)
    values: Values = column.cast(pa.float64(), safe=False).to_numpy(zero_copy_only=False)
    finite = np.isfinite(values)
    return values if np.all(finite) else np.where(finite, values, np.nan)


def _long(column: Array) -> Array:
    """Tell which integers a float cannot hold."""
    kind = column.type
    if kind.bit_width < 64:
        return pa.scalar(False)
    long = pc.greater(column, pa.scalar(2**53, kind))
    return long if pa.types.is_unsigned_integer(kind) else pc.or_(long, pc.less(column, pa.scalar(-(2**53), kind)))


def _by_words(column: Array) -> Values:
    encoded = column if pa.types.is_dictionary(column.type) else column.dictionary_encode()
    words = encoded.dictionary.to_pylist()
    numbers = encoded.indices.fill_null(len(words)).to_numpy(zero_copy_only=False)
    table = np.full(len(words) + 1, np.nan)
    for index, word in enumerate(words):
        read = values_in([word])
        if not isinstance(read, np.ndarray):
            rows = np.flatnonzero(numbers == index)
            if len(rows):
                raise Unfit(int(rows[0]), f"value {shown(str(word))}", VALUE_WORDS)
        else:
            table[index] = read[0]
    return np.asarray(table[numbers], dtype=np.float64)
