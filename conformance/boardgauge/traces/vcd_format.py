"""Reading value change dumps (VCD; IEEE 1364-2005 clause 18, IEEE 1800-2017 21.7).

Law of this module: the format as published, and what producers in use make of it; whatever cannot be taken at its
word is refused with its line.

What is chosen here, where the format leaves it open or wider than we need:

- ``x`` and ``z`` are both "not known". So is everything between ``$dumpoff`` and the values that follow it.
- Of several values at one time the last counts: a pulse of no length is not a change.
- Values before the first time stamp hold from that stamp on. The recording ends at its last stamp, empty or not.
- A time finer than a microsecond is taken down to the whole microsecond (``Recording.rounded`` says so).
- A vector is one channel holding its unsigned number (not known if any bit is not, or if it takes more than 53 bits);
  if it was declared with a range, ``bus [7:0]``, each bit is a channel ``bus[7]`` ... as well. A short vector is
  extended to the left as published: with 0 after 0 or 1, else with its first bit.
- A channel goes by its last name if that names one thing only in the file, else by its path (``bench.board.cc``).
- Variables that hold text or events are left out.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator

import numpy as np
from attrs import define, field

from boardgauge.traces.errors import UnreadableRecording, shown
from boardgauge.traces.recording import MOST_TIME, Channel, Recording, Times, channel_of
from boardgauge.traces.source import Block
from boardgauge.traces.vcd_header import Header, Variable, names_of, read_header

_LEVELS = {b"0": 0, b"1": 1, b"x": 2, b"X": 2, b"z": 2, b"Z": 2}
_GREATEST_STAMP = 2**62
_WIDEST_NUMBER = 53


@define
class _Changes:
    """Changes in the order of the file: single bits as slot*3+level, everything else as text."""

    codes: list[np.ndarray] = field(factory=list)
    times: list[Times] = field(factory=list)
    wide: dict[int, tuple[list[int], list[bytes]]] = field(factory=dict)
    first: int | None = None
    now: int = -1
    skipping: bool = False
    """Inside a comment."""
    half: bytes | None = None
    """A vector or real whose code is still to come."""


class _Bad(Exception):
    def __init__(self, what: str, expected: str, tokens: Iterator[bytes]) -> None:
        self.what, self.expected = what, expected
        # How many words of the block were left: so the line is counted only when something is wrong.
        self.left = sum(1 for _ in tokens)


def _take(
    block: Block, slots: dict[bytes, int], header: Header, changes: _Changes, scalars: dict[bytes, int], off: list[int]
) -> None:
    codes: list[int] = []
    times: list[int] = []
    now, half, skipping, wide = changes.now, changes.half, changes.skipping, changes.wide
    for token in (tokens := iter(block.data.split())):
        code = scalars.get(token)
        if half is None and not skipping:
            if code is not None:
                codes.append(code)
                times.append(now)
                continue
            head = token[0]
            if head == 35:  # '#'
                if not token[1:].isdigit() or len(token) > 40:
                    raise _Bad(f"time {shown(token)}", "# and a whole number, not negative", tokens)
                stamp = int(token[1:])
                if stamp < now:
                    raise _Bad(f"time {shown(token)} after #{now}", "times that do not go back", tokens)
                if stamp > _GREATEST_STAMP:
                    raise _Bad(f"time {shown(token)}", "a smaller number", tokens)
                if changes.first is None:
                    changes.first = stamp
                now = stamp
                continue
            if head in b"bBrRsS" and len(token) > 1:
                if head in b"bB" and token[1:].strip(b"01xXzZ"):
                    raise _Bad(f"vector {shown(token)}", "b and bits: 0, 1, x, z", tokens)
                half = token
                continue
            if head == 36:  # '$'
                if token == b"$comment":
                    skipping = True
                elif token == b"$dumpoff":
                    codes.extend(off)
                    times.extend([now] * len(off))
                    for series in wide.values():
                        series[0].append(now)
                        series[1].append(b"x")
                continue
            if token[1:] in header.skipped:
                continue
            if token[1:] in slots and token[:1] in _LEVELS:
                # One bit for a wider variable: extended like a short vector.
                series = wide[slots[token[1:]]]
                series[0].append(now)
                series[1].append(b"b" + token[:1])
                continue
            what = (
                f"a value for {shown(token[1:])}, which was not declared"
                if token[:1] in _LEVELS and len(token) > 1
                else shown(token)
            )
            raise _Bad(what, "#time, a value of a declared variable, or a $ keyword", tokens)
        if skipping:
            skipping = token != b"$end"
            continue
        assert half is not None
        slot = slots.get(token)
        if slot is None:
            if token not in header.skipped:
                raise _Bad(f"a value for {shown(token)}, which was not declared", "the code of a $var", tokens)
        elif slot in wide:
            if half[:1] in b"rR" and not _is_number(half[1:]):
                raise _Bad(f"real {shown(half)}", "r and a number", tokens)
            wide[slot][0].append(now)
            wide[slot][1].append(half)
        else:
            level = _LEVELS.get(half[-1:]) if half[:1] in b"bB" else None
            if level is None:
                raise _Bad(f"{shown(half)} for the single bit {shown(token)}", "0, 1, x or z", tokens)
            codes.append(slot * 3 + level)
            times.append(now)
        half = None
    changes.codes.append(np.array(codes, dtype=np.int64))
    changes.times.append(np.array(times, dtype=np.int64))
    changes.now, changes.half, changes.skipping = now, half, skipping


def _line_of(block: Block, left: int) -> tuple[int, int]:
    found = [m.start() for m in re.finditer(rb"\S+", block.data)]
    start = found[len(found) - 1 - left]
    begin = block.data.rfind(b"\n", 0, start) + 1
    return block.line + block.data.count(b"\n", 0, start), start - begin + 1


def _is_number(text: bytes) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return b"_" not in text


def _number(text: bytes) -> float:
    head, body = text[:1], text[1:]
    if head in b"rR":
        value = float(body)
        return value if math.isfinite(value) else math.nan
    if head in b"sSxX" or body.strip(b"01") or len(body.lstrip(b"0")) > _WIDEST_NUMBER:
        return math.nan
    return float(int(body, 2))


def _extended(text: bytes, width: int) -> bytes:
    body = text[1:].lower() if text != b"x" else b"x"
    return body.rjust(width, body[:1] if body[:1] in b"xz" else b"0")[-width:]


def read_vcd(source: Iterator[Block], file: str) -> Recording:
    """Read a value change dump. Raises UnreadableRecording with the line of the first thing that is wrong."""
    header, rest = read_header(source, file)
    if header.tick is None:
        raise UnreadableRecording(file, "there is no $timescale", line=1, expected="$timescale 1 us $end or another")
    slots = {code: slot for slot, code in enumerate(header.variables)}
    kinds = [variables[0] for variables in header.variables.values()]
    changes = _Changes()
    scalars: dict[bytes, int] = {}
    off: list[int] = []
    for code, slot in slots.items():
        if kinds[slot].width == 1 and not kinds[slot].real:
            scalars.update({level + code: slot * 3 + number for level, number in _LEVELS.items()})
            off.append(slot * 3 + 2)
        else:
            changes.wide[slot] = ([], [])
    last = rest
    for block in _chain(rest, source):
        last = block
        try:
            _take(block, slots, header, changes, scalars, off)
        except _Bad as bad:
            line, column = _line_of(block, bad.left)
            raise UnreadableRecording(file, bad.what, line=line, column=column, expected=bad.expected) from None
    end_line = last.line + last.data.count(b"\n")
    if changes.half is not None or changes.skipping:
        what = "a comment" if changes.skipping else f"{shown(changes.half or b'')}"
        raise UnreadableRecording(file, f"the file ends inside {what}", line=end_line, expected="the whole file")
    if changes.first is None:
        raise UnreadableRecording(file, "there is no time stamp", line=end_line, expected="#0 or another")
    return _assembled(file, header, slots, kinds, changes)


def _chain(first: Block, others: Iterator[Block]) -> Iterator[Block]:
    yield first
    yield from others


def _assembled(
    file: str, header: Header, slots: dict[bytes, int], kinds: list[Variable], changes: _Changes
) -> Recording:
    assert header.tick is not None
    assert changes.first is not None
    tick, first = header.tick, changes.first
    if changes.now * tick > MOST_TIME:
        raise UnreadableRecording(file, f"the last time is #{changes.now}", expected="less than 2,283 years")
    rounded = False

    def micros(times: Times) -> Times:
        nonlocal rounded
        times = np.maximum(times, first)
        if tick.denominator == 1:
            return times * tick.numerator
        rounded = rounded or bool(np.any(times % tick.denominator))
        return times // tick.denominator * tick.numerator

    codes, times = np.concatenate(changes.codes), np.concatenate(changes.times)
    order = np.argsort(codes // 3, kind="stable")
    codes, times = codes[order], micros(times[order])
    bounds = np.searchsorted(codes // 3, np.arange(len(slots) + 1))
    levels = np.array([0.0, 1.0, np.nan])[codes % 3]

    names = names_of(header)
    channels: dict[str, Channel] = {}
    paths: dict[str, str] = {}
    for code, slot in slots.items():
        made: dict[str, tuple[Times, np.ndarray]] = {}
        if slot in changes.wide:
            stamps = micros(np.array(changes.wide[slot][0], dtype=np.int64))
            texts = changes.wide[slot][1]
            made[""] = (stamps, np.array([_number(text) for text in texts], dtype=np.float64))
            if kinds[slot].bits:
                table = np.array([0.0, 1.0, np.nan])
                rows = np.array([list(_extended(text, kinds[slot].width)) for text in texts], dtype=np.uint8)
                rows = rows.reshape(len(texts), kinds[slot].width)
                for position, bit in enumerate(kinds[slot].bits):
                    column = np.where(rows[:, position] == 48, 0, np.where(rows[:, position] == 49, 1, 2))
                    made[f"[{bit}]"] = (stamps, table[column])
        else:
            cut = slice(bounds[slot], bounds[slot + 1])
            made[""] = (times[cut], levels[cut])
        for index, variable in enumerate(header.variables[code]):
            for suffix, (stamps, values) in made.items():
                name = names[code, index] + suffix
                paths[".".join((*variable.path, variable.name)) + suffix] = name
                if name not in channels:
                    channels[name] = channel_of(name, stamps, values)
    start = first * tick
    end = changes.now * tick
    return Recording(
        file=file,
        format="VCD",
        start=math.floor(start),
        end=math.floor(end),
        channels=channels,
        rounded=rounded,
        paths=paths,
    )
