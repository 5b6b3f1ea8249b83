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
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np
from attrs import define, field

from boardgauge.traces.errors import UnreadableRecording, shown
from boardgauge.traces.growing import Growing
from boardgauge.traces.recording import MOST_TIME, Channel, Recording, Times
from boardgauge.traces.source import Block
from boardgauge.traces.vcd_blocks import LEVEL, WIDEST_NUMBER, Piece, Table, take_block
from boardgauge.traces.vcd_header import Header, Variable, names_of, read_header

if TYPE_CHECKING:
    from boardgauge.traces.reduction import Ask, Reduction
    from boardgauge.traces.shelf import Shelf

_GREATEST_STAMP = 2**62
_VALUES = np.array([0.0, 1.0, math.nan])
"""The value of a level; -1 is the last."""


_AT_ONCE = 1 << 18
"""So many values wait to be taken in at once: there may be thousands of variables in a block."""


@define
class _Changes:
    """What was read so far: the changes of each variable and of its bits, by slot and bit ("": the whole)."""

    file: str
    tick: Fraction
    kinds: list[Variable]
    asks: dict[int, Ask] = field(factory=dict)
    """What is asked of variables that are numbers: by slot, where not all of their values matter."""
    shelf: Shelf | None = None
    kept: dict[tuple[int, str], Growing] = field(factory=dict)
    waiting: dict[int, list[Piece]] = field(factory=dict)
    values: int = 0
    """How many values are waiting."""
    first: int | None = None
    now: int = -1
    rounded: bool = False
    skipping: bool = False
    """Inside a comment."""
    off: bool = False
    """Between ``$dumpoff`` and its ``$end``: what stands there is not known, whatever it says."""
    half: bytes | None = None
    """A vector or real whose code is still to come."""

    def take(self, block: Block, table: Table) -> bool:
        """Take in a block at once; False, and nothing taken in, if not all of it is plain."""
        if self.half is not None or self.skipping or self.off:
            return False
        taken = take_block(block.data, table, self.now)
        if taken is None:
            return False
        self.first = taken.first if self.first is None else self.first
        self.now = taken.now
        self.rounded = self.rounded or taken.rounded
        for slot, piece in taken.pieces:
            self.put(slot, piece)
        return True

    def put(self, slot: int, piece: Piece) -> None:
        """Add a piece; times before the first stamp wait for it."""
        self.waiting.setdefault(slot, []).append(piece)
        self.values += len(piece.times) * (1 + piece.levels[:1].size)
        if self.values > _AT_ONCE and self.first is not None:
            self.take_in()

    def take_in(self) -> None:
        """Take in what is waiting."""
        if self.now * self.tick > MOST_TIME:
            raise UnreadableRecording(self.file, f"the last time is #{self.now}", expected="less than 2,283 years")
        for slot, pieces in self.waiting.items():
            times = self._micros(np.concatenate([piece.times for piece in pieces]))
            levels = np.concatenate([piece.levels for piece in pieces])
            if levels.ndim == 1:
                self.channel(slot, "").add(times, _VALUES[levels])
                continue
            numbers = np.concatenate([piece.numbers for piece in pieces if piece.numbers is not None])
            self.channel(slot, "").add(times, numbers)
            for column, bit in enumerate(self.kinds[slot].bits):
                self.channel(slot, f"[{bit}]").add(times, _VALUES[levels[:, column]])
        self.waiting.clear()
        self.values = 0

    def channel(self, slot: int, suffix: str) -> Growing:
        """Give the channel of a variable, or of one of its bits; new if need be."""
        if (slot, suffix) not in self.kept:
            self.kept[slot, suffix] = Growing(ask=self.asks.get(slot), shelf=self.shelf)
        return self.kept[slot, suffix]

    def _micros(self, ticks: Times) -> Times:
        assert self.first is not None
        ticks, tick = np.maximum(ticks, self.first), self.tick
        return ticks * tick.numerator if tick.denominator == 1 else ticks // tick.denominator * tick.numerator


class _Bad(Exception):
    def __init__(self, what: str, expected: str, tokens: Iterator[bytes]) -> None:
        self.what, self.expected = what, expected
        # How many words of the block were left: so the line is counted only when something is wrong.
        self.left = sum(1 for _ in tokens)


def _take(block: Block, table: Table, changes: _Changes) -> None:
    """Take in a block word by word."""
    found: dict[int, tuple[list[int], list[bytes]]] = {}
    now, half, skipping, slots = changes.now, changes.half, changes.skipping, table.slots
    off = changes.off

    def put(slot: int, value: bytes) -> None:
        if off:
            return
        times, values = found.setdefault(slot, ([], []))
        times.append(now)
        values.append(value)

    for token in (tokens := iter(block.data.split())):
        if skipping:
            skipping = token != b"$end"
        elif half is not None:
            slot = slots.get(token)
            if slot is None:
                if token not in table.skipped:
                    raise _Bad(f"a value for {shown(token)}, which was not declared", "the code of a $var", tokens)
            elif table.single[slot] and (half[:1] not in b"bB" or LEVEL[half[-1]] == -2):
                raise _Bad(f"{shown(half)} for the single bit {shown(token)}", "0, 1, x or z", tokens)
            elif half[:1] in b"rR" and not _is_number(half[1:]):
                raise _Bad(f"real {shown(half)}", "r and a number", tokens)
            else:
                put(slot, half)
            half = None
        elif token[0] == 35:  # '#'
            if not token[1:].isdigit() or len(token) > 40:
                raise _Bad(f"time {shown(token)}", "# and a whole number, not negative", tokens)
            stamp = int(token[1:])
            if stamp < now:
                raise _Bad(f"time {shown(token)} after #{now}", "times that do not go back", tokens)
            if stamp > _GREATEST_STAMP:
                raise _Bad(f"time {shown(token)}", "a smaller number", tokens)
            changes.first = stamp if changes.first is None else changes.first
            changes.rounded = changes.rounded or stamp % table.ticks != 0
            now, off = stamp, False
        elif token[0] in b"bBrRsS" and len(token) > 1:
            if token[0] in b"bB" and token[1:].strip(b"01xXzZ"):
                raise _Bad(f"vector {shown(token)}", "b and bits: 0, 1, x, z", tokens)
            half = token
        elif token[0] == 36:  # '$'
            if token == b"$comment":
                skipping = True
            elif token == b"$dumpoff":
                for slot in range(len(table.codes)):
                    put(slot, b"bx")
                off = True
            else:
                off = False
        elif (slot := slots.get(token[1:])) is not None and LEVEL[token[0]] != -2:
            # One bit for a wider variable is extended like a short vector.
            put(slot, b"b" + token[:1])
        elif token[1:] not in table.skipped:
            what = (
                f"a value for {shown(token[1:])}, which was not declared"
                if LEVEL[token[0]] != -2 and len(token) > 1
                else shown(token)
            )
            raise _Bad(what, "#time, a value of a declared variable, or a $ keyword", tokens)
    for slot, (times, values) in found.items():
        changes.put(slot, _piece(table.kinds[slot], times, values))
    changes.now, changes.half, changes.skipping, changes.off = now, half, skipping, off


def _piece(kind: Variable, times: list[int], texts: list[bytes]) -> Piece:
    stamps = np.array(times, dtype=np.int64)
    if kind.width == 1 and not kind.real:
        return Piece(stamps, LEVEL[[text[-1] for text in texts]])
    rows = [_extended(text, kind.width) for text in texts] if kind.bits else [b""] * len(texts)
    levels = LEVEL[np.array([list(row) for row in rows], dtype=np.uint8).reshape(len(texts), len(kind.bits))]
    return Piece(stamps, np.maximum(levels, -1), np.array([_number(text) for text in texts], dtype=np.float64))


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
    if head in b"sS" or body.strip(b"01") or len(body.lstrip(b"0")) > WIDEST_NUMBER:
        return math.nan
    return float(int(body, 2))


def _extended(text: bytes, width: int) -> bytes:
    body = text[1:].lower()
    return body.rjust(width, body[:1] if body[:1] in b"xz" else b"0")[-width:]


def read_vcd(
    source: Iterator[Block], file: str, reduction: Reduction | None = None, shelf: Shelf | None = None
) -> Recording:
    """Read a value change dump. Raises UnreadableRecording with the line of the first thing that is wrong.

    With a ``reduction``, values of measured channels that nobody will ask for are left out; with a ``shelf``, changes
    are put away there.
    """
    header, rest = read_header(source, file)
    if header.tick is None:
        raise UnreadableRecording(file, "there is no $timescale", line=1, expected="$timescale 1 us $end or another")
    kinds = [variables[0] for variables in header.variables.values()]
    table = Table(list(header.variables), kinds, header.skipped, header.tick.denominator)
    asks = {} if reduction is None else _asks(header, table, reduction)
    changes = _Changes(file, header.tick, kinds, asks, shelf)
    last = rest
    for block in _chain(rest, source):
        last = block
        if changes.take(block, table):
            continue
        try:
            _take(block, table, changes)
        except _Bad as bad:
            line, column = _line_of(block, bad.left)
            raise UnreadableRecording(file, bad.what, line=line, column=column, expected=bad.expected) from None
    end_line = last.line + last.data.count(b"\n")
    if changes.half is not None or changes.skipping:
        what = "a comment" if changes.skipping else f"{shown(changes.half or b'')}"
        raise UnreadableRecording(file, f"the file ends inside {what}", line=end_line, expected="the whole file")
    if changes.first is None:
        raise UnreadableRecording(file, "there is no time stamp", line=end_line, expected="#0 or another")
    return _assembled(file, header, table, changes)


def _asks(header: Header, table: Table, reduction: Reduction) -> dict[int, Ask]:
    found: dict[int, Ask] = {}
    names = names_of(header)
    for slot, code in enumerate(table.codes):
        if table.single[slot] or table.kinds[slot].bits:
            continue
        known = [(names[code, index], ".".join((*v.path, v.name))) for index, v in enumerate(header.variables[code])]
        ask = reduction.of(dict.fromkeys(name for pair in known for name in pair))
        if ask is not None:
            found[slot] = ask
    return found


def _chain(first: Block, others: Iterator[Block]) -> Iterator[Block]:
    yield first
    yield from others


def _assembled(file: str, header: Header, table: Table, changes: _Changes) -> Recording:
    assert changes.first is not None
    changes.take_in()
    names = names_of(header)
    channels: dict[str, Channel] = {}
    paths: dict[str, str] = {}
    for slot, code in enumerate(table.codes):
        bits = () if table.single[slot] else table.kinds[slot].bits
        for index, variable in enumerate(header.variables[code]):
            for suffix in ("", *(f"[{bit}]" for bit in bits)):
                name = names[code, index] + suffix
                paths[".".join((*variable.path, variable.name)) + suffix] = name
                if name not in channels:
                    channels[name] = changes.channel(slot, suffix).channel(name)
    return Recording(
        file=file,
        format="VCD",
        start=math.floor(changes.first * changes.tick),
        end=math.floor(changes.now * changes.tick),
        channels=channels,
        rounded=changes.rounded,
        paths=paths,
    )
