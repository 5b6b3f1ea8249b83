"""Writing a recording of changes as a value change dump, through pyvcd.

Law of this module: what is written reads back as the same channels, times, start and end.
"""

from __future__ import annotations

import math
import re
from typing import TextIO

from boardgauge.traces.recording import Recording
from boardgauge.traces.rows import long_rows


class _Exact(float):
    """A number that pyvcd writes as Python would, so that it reads back as it was."""

    def __format__(self, spec: str) -> str:
        return repr(float(self))


def fits_in_vcd(name: str) -> bool:
    """Tell whether a variable may be called so and reads back as it: no blanks, no keyword, no range of bits."""
    return (
        name.isprintable()
        and bool(name)
        and not any(c.isspace() for c in name)
        and name[0] not in "$\\"
        and not re.search(r"\[-?\d+:-?\d+\]$", name)
    )


def write_vcd(recording: Recording, stream: TextIO, scope: str = "board") -> None:
    """Write a recording, in microseconds. Of a sampled one the changes are written, not the samples.

    A channel known by a full name (``bench.board.cc``) is written into its own scope, any other into ``scope``. Raises
    ValueError for a time before 0 or a channel name with blanks: the format has neither.
    """
    from vcd import VCDWriter

    if recording.start < 0:
        raise ValueError(f"a value change dump begins at 0 or later, not at {recording.start} microseconds")
    scopes = scopes_of(recording)
    # Without a date of its own: what is written depends on the recording alone.
    with VCDWriter(stream, timescale="1 us", date="", init_timestamp=recording.start) as writer:
        variables, digital = [], []
        for channel in recording.channels.values():
            if not fits_in_vcd(channel.name):
                raise ValueError(f"a channel called {channel.name!r} cannot stand in a value change dump")
            digital.append(channel.digital)
            first = _written(channel.at(recording.start), digital[-1])
            kind, size = ("wire", 1) if digital[-1] else ("real", 64)
            variables.append(writer.register_var(scopes.get(channel.name, scope), channel.name, kind, size, init=first))
        for times, numbers, values in long_rows(recording):
            for time, number, value in zip(times.tolist(), numbers.tolist(), values.tolist(), strict=True):
                writer.change(variables[number], time, _written(value, digital[number]))
        writer.close(recording.end)


def scopes_of(recording: Recording) -> dict[str, str]:
    """Give the scope of each channel that has a full name with one."""
    found: dict[str, str] = {}
    for path, name in recording.paths.items():
        before = path.removesuffix(f".{name}")
        if before != path and all(part and fits_in_vcd(part) for part in before.split(".")):
            found.setdefault(name, before)
    return found


def _written(value: float, digital: bool) -> float | str:
    if not digital:
        return _Exact(value)
    return "x" if math.isnan(value) else str(int(value))
