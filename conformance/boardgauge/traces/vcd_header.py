"""The declarations of a value change dump: time scale, scopes and variables.

Law of this module: it reads up to ``$enddefinitions`` and no value; what the format leaves open is decided as
``vcd_format`` says.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction

from attrs import define, field, frozen

from boardgauge.traces.errors import UnreadableRecording, shown
from boardgauge.traces.source import Block

_UNITS: dict[str, int | Fraction] = {
    "s": 10**6,
    "ms": 10**3,
    "us": 1,
    "ns": Fraction(1, 10**3),
    "ps": Fraction(1, 10**6),
    "fs": Fraction(1, 10**9),
}
_TIMESCALE = re.compile(r"(1|10|100)(s|ms|us|ns|ps|fs)")
_RANGE = re.compile(r"\[(-?\d{1,9})(?::(-?\d{1,9}))?\]")
_SKIPPED_TYPES = {"string", "event"}


@frozen
class Variable:
    path: tuple[str, ...]
    name: str
    width: int
    real: bool
    bits: tuple[int, ...]


@define
class Header:
    tick: Fraction | None = None
    variables: dict[bytes, list[Variable]] = field(factory=dict)
    skipped: set[bytes] = field(factory=set)
    codes: dict[tuple[tuple[str, ...], str], bytes] = field(factory=dict)
    """The code of each full name."""
    scopes: list[str] = field(factory=list)
    done: bool = False


def _declare(header: Header, words: list[bytes], file: str, line: int) -> None:
    if len(words) < 4 or not words[1].isdigit() or len(words[1]) > 9:
        raise UnreadableRecording(
            file,
            f"a variable declared as {shown(b' '.join(words))}",
            line=line,
            expected="$var type width code name $end",
        )
    kind, width, code = words[0].decode("utf-8", "replace"), int(words[1]), words[2]
    name = words[3].decode("utf-8", "replace").removeprefix("\\")
    suffix = b"".join(words[4:]).decode("utf-8", "replace")
    if not suffix and not words[3].startswith(b"\\") and (inside := re.fullmatch(r"(.+?)(\[-?\d+:-?\d+\])", name)):
        name, suffix = inside.group(1), inside.group(2)
    bits: tuple[int, ...] = ()
    if found := _RANGE.fullmatch(suffix):
        high, low = int(found.group(1)), found.group(2)
        if low is None or width == 1:
            name += f"[{high}]"
        elif abs(high - int(low)) + 1 == width and width <= 64:
            step = -1 if high >= int(low) else 1
            bits = tuple(range(high, int(low) + step, step))
    if kind in _SKIPPED_TYPES:
        header.skipped.add(code)
        return
    if not 1 <= width <= 65536:
        raise UnreadableRecording(
            file, f"a variable {shown(name)} {width} bits wide", line=line, expected="1 to 65536 bits"
        )
    if header.codes.setdefault((tuple(header.scopes), name), code) != code:
        full = ".".join((*header.scopes, name))
        raise UnreadableRecording(
            file, f"a second variable {shown(full)}, with another code", line=line, expected="names that differ"
        )
    real = kind in ("real", "realtime", "shortreal")
    header.variables.setdefault(code, []).append(Variable(tuple(header.scopes), name, width, real, bits))


def _command(header: Header, words: list[bytes], file: str, line: int) -> None:
    word, rest = words[0], words[1:]
    if word == b"$timescale":
        text = b"".join(rest).decode("utf-8", "replace")
        found = _TIMESCALE.fullmatch(text)
        if not found:
            raise UnreadableRecording(
                file, f"timescale {shown(text)}", line=line, expected="1, 10 or 100 of s, ms, us, ns, ps, fs"
            )
        tick = int(found.group(1)) * Fraction(_UNITS[found.group(2)])
        if header.tick not in (None, tick):
            raise UnreadableRecording(file, f"a second timescale {shown(text)}", line=line, expected="one")
        header.tick = tick
    elif word == b"$var":
        _declare(header, rest, file, line)
    elif word == b"$scope":
        header.scopes.append(rest[-1].decode("utf-8", "replace") if rest else "")
    elif word == b"$upscope":
        if not header.scopes:
            raise UnreadableRecording(file, "$upscope without a $scope", line=line)
        header.scopes.pop()
    elif word == b"$enddefinitions":
        header.done = True
    # Everything else ($comment, $date, $version, a tool's own keyword) says nothing about values.


def read_header(source: Iterator[Block], file: str) -> tuple[Header, Block]:
    header, line = Header(), 1
    words: list[bytes] = []
    for block in source:
        lines = block.data.split(b"\n")
        for offset, text in enumerate(lines):
            line = block.line + offset
            tokens = text.split()
            for index, token in enumerate(tokens):
                if not words and not token.startswith(b"$"):
                    raise UnreadableRecording(
                        file,
                        f"{shown(token)} in the declarations",
                        line=line,
                        expected="a $ keyword, or $enddefinitions before values",
                    )
                if token != b"$end":
                    words.append(token)
                    continue
                _command(header, words or [token], file, line)
                words = []
                if header.done:
                    rest = b" ".join(tokens[index + 1 :]) + b"\n" + b"\n".join(lines[offset + 1 :])
                    return header, Block(line, rest)
    what = f"the file ends inside {shown(words[0])}" if words else "the file ends in its declarations"
    raise UnreadableRecording(file, what, line=line, expected="$enddefinitions $end and values")


def names_of(header: Header) -> dict[tuple[bytes, int], str]:
    """Give the name of each declared variable: its last name where that is enough."""
    owners: dict[str, set[bytes]] = {}
    for code, variables in header.variables.items():
        for variable in variables:
            owners.setdefault(variable.name, set()).add(code)
    names: dict[tuple[bytes, int], str] = {}
    for code, variables in header.variables.items():
        for index, variable in enumerate(variables):
            alone = len(owners[variable.name]) == 1
            names[code, index] = variable.name if alone else ".".join((*variable.path, variable.name))
    return names
