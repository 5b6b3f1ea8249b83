"""Boards written as C, compiled, and stepped from Python beside the reference.

The glue below is the tests' own: it gives the compiled board's inside (places, what runs) by number.
"""

from __future__ import annotations

import ctypes
import shutil
import subprocess
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from attrs import evolve

from boardgauge.exports.c99.shape import Shape
from boardgauge.exports.c99.writing import write_c
from boardgauge.language.model import Board, InputKind
from boardgauge.language.quantities import TimeRange

COMPILERS = [name for name in ("gcc", "clang") if shutil.which(name)]
STRICT = ["-std=c99", "-Wall", "-Wextra", "-Wpedantic", "-Wconversion", "-Wshadow", "-Wstrict-prototypes", "-Werror"]
needs_compiler = pytest.mark.skipif(not COMPILERS, reason="there is no C compiler (gcc or clang) on the path")


def taken_in_at_once(board: Board) -> Board:
    """Give a board that acts on every change at its moment: no filter, no response, no lag."""
    inputs = {n: evolve(row, filter=TimeRange(), responds_within=0) for n, row in board.inputs.items()}
    outputs = {n: evolve(row, lag=0) for n, row in board.outputs.items()}
    return evolve(
        board,
        inputs=inputs,
        outputs=outputs,
        filter=TimeRange(),
        responds_within=0,
        same_moment=0,
        rides_through=TimeRange(),
        requirements={},
        not_judged=(),
    )


def compile_files(files: list[Path], into: Path, *flags: str, compiler: str | None = None) -> Path:
    """Compile C files to a shared library, every warning an error."""
    chosen = compiler or COMPILERS[0]
    command = [chosen, *STRICT, *flags, "-shared", "-fPIC", "-o", str(into), *map(str, files)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    return into


class CompiledBoard:
    """One board, compiled; a fresh one at every ``init``."""

    def __init__(self, board: Board, folder: Path, tick: int, *, filtered: bool = False) -> None:
        self.shape = Shape(board, tick, filtered)
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in write_c(board, tick, filtered=filtered).items():
            (folder / name).write_text(text, encoding="utf-8")
        (folder / "glue.c").write_text("\n".join(_glue(self.shape)) + "\n", encoding="utf-8")
        library = compile_files([folder / f"{self.shape.prefix}.c", folder / "glue.c"], folder / "board.so", "-O0")
        self._c: Any = ctypes.CDLL(str(library))
        self._c.glue_step.argtypes = [ctypes.c_uint64]
        self._c.glue_lose_power.argtypes = [ctypes.c_uint64]
        self._c.glue_until_due.restype = ctypes.c_uint64
        self._number = {name: index for index, name in enumerate([*self.shape.inputs, *self.shape.settings])}

    def init(self) -> None:
        """Start anew, at rest and without power."""
        self._c.glue_init()

    def lose_power(self, elapsed: int) -> None:
        self._c.glue_lose_power(elapsed)

    def set(self, name: str, value: bool | Fraction | int) -> None:
        """Bring an input to a value; a sensor's is in the unit of its input, and a whole number of its steps."""
        row = self.shape.board.inputs.get(name)
        if row is not None and row.kind is InputKind.SENSOR:
            number = Fraction(value) * 10 ** self.shape.decimals[name]
            assert number.denominator == 1
            value = number.numerator
        self._c.glue_set(self._number[name], int(value))

    def step(self, elapsed: int) -> None:
        self._c.glue_step(elapsed)

    def until_due(self) -> int | None:
        """Give how many ticks until something happens by itself."""
        ticks = int(self._c.glue_until_due())
        return None if ticks == (2**64 if self.shape.wide else 2**32) - 1 else ticks

    @property
    def fault(self) -> bool:
        return bool(self._c.glue_fault())

    def outputs(self) -> tuple[bool, ...]:
        return tuple(bool(self._c.glue_output(i)) for i in range(len(self.shape.outputs)))

    def lamps(self) -> tuple[bool, ...]:
        return tuple(bool(self._c.glue_lit(i)) for i in range(len(self.shape.lamps)))

    def lines(self) -> tuple[int, ...]:
        """Give the line each lamp shows, from 0; -1 for none."""
        return tuple(self._c.glue_line(i) - 1 for i in range(len(self.shape.lamps)))

    def places(self) -> tuple[int, ...]:
        return tuple(self._c.glue_place(i) for i in range(len(self.shape.regions)))

    def running(self) -> int:
        """Give the timings that run as bits."""
        return sum(self._c.glue_running(i) << i for i in range(len(self.shape.timings)))


def _glue(shape: Shape) -> Iterator[str]:
    p = shape.prefix
    yield f'#include "{p}.h"'
    yield f"static {p}_state s; static {p}_inputs in; static {p}_outputs out;"
    yield f"void glue_init(void); void glue_init(void) {{ {p}_init(&s); {p}_inputs_at_rest(&in); }}"
    yield f"void glue_lose_power(uint64_t e); void glue_lose_power(uint64_t e) {{ {p}_lose_power(&s, ({p}_ticks)e); }}"
    yield f"void glue_step(uint64_t e); void glue_step(uint64_t e) {{ {p}_step(&s, &in, ({p}_ticks)e, &out); }}"
    yield f"uint64_t glue_until_due(void); uint64_t glue_until_due(void) {{ return {p}_until_due(&s); }}"
    yield "int glue_fault(void); int glue_fault(void) { return out.fault; }"
    yield "void glue_set(int i, int32_t v); void glue_set(int i, int32_t v) { switch (i) {"
    for index, (name, field) in enumerate(shape.inputs.items()):
        kind = "" if shape.board.inputs[name].kind is InputKind.SENSOR else " != 0"
        yield f"case {index}: in.{field} = v{kind}; break;"
    for index, (name, field) in enumerate(shape.settings.items(), len(shape.inputs)):
        if shape.board.settings[name].positions[0].name is not None:
            yield f"case {index}: in.{field} = (uint8_t)v; break;"
    yield "default: break; } }"
    timed = {t.index: n for t, n in zip(shape.machine.timings, shape.timings, strict=True) if t.role != "window"}
    for call, rows in (
        ("output", {i: f"out.{n}" for i, n in enumerate(shape.outputs)}),
        ("lit", {i: f"out.{n}" for i, n in enumerate(shape.lamps.values())}),
        ("line", {i: f"out.{n}_line" for i, n in enumerate(shape.lamps.values())}),
        ("place", {i: f"s.place.{n}" for i, n in enumerate(shape.regions)}),
        ("running", {i: f"s.running.{n}" for i, n in timed.items()}),
    ):
        yield f"int glue_{call}(int i); int glue_{call}(int i) {{ switch (i) {{"
        yield from (f"case {index}: return {what};" for index, what in rows.items())
        yield "default: return 0; } }"
