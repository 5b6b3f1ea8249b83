"""Writing a recording as a table of text, wide or long.

Law of this module: what is written reads back as the same channels, times, samples, start and end, with the notes that
``notes_for`` gives. Times are seconds, written out to the microsecond they are; "not known" is an empty cell.
"""

from __future__ import annotations

import csv
import math
from typing import TextIO

from boardgauge.traces.csv_columns import time_unit
from boardgauge.traces.recording import Recording
from boardgauge.traces.rows import long_rows, wide_rows

DELIMITERS = ",;\t"


def seconds_of(microseconds: int, point: str = ".") -> str:
    """Write a time in seconds, exactly and as short as it goes."""
    whole, part = divmod(abs(microseconds), 1_000_000)
    text = f"{whole}{point}{part:06d}".rstrip("0").rstrip(point) if part else str(whole)
    return f"-{text}" if microseconds < 0 else text


def number_of(value: float) -> str:
    """Write a value as short as it reads back; "not known" is nothing."""
    if math.isnan(value):
        return ""
    return str(int(value)) if value == int(value) and abs(value) < 2**53 else repr(value)


def fits_in_csv(name: str) -> bool:
    """Tell whether a column may be called so and be read as a channel."""
    return (
        name.isprintable()
        and name == name.strip()
        and bool(name)
        and not any(c in '"#;,' for c in name)
        and time_unit(name) is None
        and name.lower() not in ("signal", "channel", "name", "value", "level", "state")
    )


def _point(delimiter: str, comma: bool) -> str:
    if comma and delimiter == ",":
        raise ValueError("a decimal comma needs a semicolon or a tab between columns")
    return "," if comma else "."


def write_wide(
    recording: Recording, stream: TextIO, delimiter: str = ",", decimal_comma: bool = False, changes: bool = False
) -> None:
    """Write a sampled recording, a row a sample; with ``changes`` any, a row for each time at which something changes.

    Raises ValueError for a recording of changes, unless ``changes`` says that it is meant: read back without a note,
    or ``rows = "changes"`` in the wiring, its rows are taken for samples.
    """
    if recording.samples is None and not changes:
        raise ValueError("a recording of changes has no samples; write it as a long table")
    point = _point(delimiter, decimal_comma)
    rows = csv.writer(stream, delimiter=delimiter, lineterminator="\n")
    rows.writerow(["t_s", *recording.channels])
    for times, columns in wide_rows(recording):
        texts = [_texts(column.tolist(), point) for column in columns]
        rows.writerows(zip([seconds_of(time, point) for time in times.tolist()], *texts, strict=True))


def write_long(recording: Recording, stream: TextIO, delimiter: str = ",", decimal_comma: bool = False) -> None:
    """Write the changes of a recording, a row a change, with every channel's value at the start.

    Raises ValueError for a recording without channels: a long table has nothing else to carry its start and end.
    """
    if not recording.channels:
        raise ValueError("a recording without channels cannot be written as a long table")
    point = _point(delimiter, decimal_comma)
    rows = csv.writer(stream, delimiter=delimiter, lineterminator="\n")
    rows.writerow(["t_s", "signal", "value"])
    names = list(recording.channels)
    for times, numbers, values in long_rows(recording):
        stamps = [seconds_of(time, point) for time in times.tolist()]
        rows.writerows(zip(stamps, [names[n] for n in numbers.tolist()], _texts(values.tolist(), point), strict=True))


def _texts(values: list[float], point: str) -> list[str]:
    words: dict[float, str] = {0.0: "0", 1.0: "1"}
    found = []
    for value in values:
        text = words.get(value)
        if text is None:
            text = number_of(value).replace(".", point)
            if len(words) < 1000:
                words[value] = text
        found.append(text)
    return found
