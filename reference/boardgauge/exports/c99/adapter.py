"""The file that makes a written board firmware for a rig of kind ``library``: its four functions.

Law of this module: the written board is stepped at whole ticks, and at no more of them than something is due at.
"""

from __future__ import annotations

from collections.abc import Iterator

from boardgauge.exports.c99.comments import block
from boardgauge.exports.c99.shape import Shape
from boardgauge.language.model import InputKind

INTERFACE = "boardgauge_firmware.h"


def adapter(shape: Shape) -> str:
    """Give the text of the file."""
    return "\n".join(_lines(shape)) + "\n"


def _lines(shape: Shape) -> Iterator[str]:
    board, p = shape.board, shape.prefix
    yield from block([f"{board.id} as firmware on a rig of kind library; see {INTERFACE}."])
    yield from ("#include <math.h>", "#include <string.h>", "", f'#include "{INTERFACE}"', f'#include "{p}.h"', "")
    yield f"#define TICK ((uint64_t){p.upper()}_TICK_MICROSECONDS)"
    yield ""
    yield f"static {p}_state board;"
    yield f"static {p}_inputs in;"
    yield f"static {p}_outputs out;"
    yield "static bool supply;  /* whether it is on */"
    yield "static bool told;    /* whether an input was told anything since the last step */"
    yield "static uint64_t now; /* microseconds since the start */"
    yield "static uint64_t done; /* ticks since the start, up to the last step */"
    yield ""
    yield "int boardgauge_start(void)"
    yield "{"
    yield f"    static const {p}_outputs off;"
    yield f"    {p}_init(&board);"
    yield f"    {p}_inputs_at_rest(&in);"
    yield "    out = off;"
    yield "    supply = told = false;"
    yield "    now = done = 0;"
    yield "    return BOARDGAUGE_FIRMWARE;"
    yield "}"
    yield ""
    yield from _input(shape)
    yield from _run(shape)
    yield "int boardgauge_output(const char *name)"
    yield "{"
    for row, field in zip(shape.machine.outputs, shape.outputs, strict=True):
        yield f'    if (strcmp(name, "{row.output}") == 0)'
        yield f"        return out.{field};"
    for name, field in shape.lamps.items():
        yield f'    if (strcmp(name, "{name}") == 0)'
        yield f"        return out.{field};"
    yield "    return -1;"
    yield "}"


def _input(shape: Shape) -> Iterator[str]:
    board, p = shape.board, shape.prefix
    yield "int boardgauge_input(const char *name, double level)"
    yield "{"
    yield f"    static const {p}_outputs off;"
    yield "    told = true;"
    yield '    if (strcmp(name, "power") == 0) {'
    yield "        if (supply && !(level > 0.5)) {"
    yield f"            {p}_lose_power(&board, ({p}_ticks)(now / TICK - done));"
    yield "            out = off;"
    yield "        }"
    yield "        supply = level > 0.5;"
    yield "        return 0;"
    yield "    }"
    for name, field in shape.inputs.items():
        yield f'    if (strcmp(name, "{name}") == 0) {{'
        if board.inputs[name].kind is InputKind.SENSOR:
            yield f"        in.{field} = (int32_t)floor(level * {10 ** shape.decimals[name]}.0 + 0.5);"
        else:
            yield f"        in.{field} = level > 0.5;"
        yield "        return 0;"
        yield "    }"
    for name, field in shape.settings.items():
        if board.settings[name].positions[0].name is not None:
            yield f'    if (strcmp(name, "{name}") == 0) {{'
            yield f"        in.{field} = (uint8_t)level;"
            yield "        return 0;"
            yield "    }"
    yield "    return -1;"
    yield "}"
    yield ""


def _run(shape: Shape) -> Iterator[str]:
    p = shape.prefix
    same = " && ".join(f"before.{field} == out.{field}" for field in (*shape.outputs, *shape.lamps.values()))
    yield "uint64_t boardgauge_run(uint64_t until)"
    yield "{"
    yield "    while (supply) {"
    yield f"        const {p}_outputs before = out;"
    yield f"        const {p}_ticks due = {p}_until_due(&board);"
    yield "        uint64_t next = (now + TICK - 1) / TICK;"
    yield "        if (!board.powered) {"
    yield "            done = next;"
    yield "        } else if (!told) {"
    yield f"            if (due == {p.upper()}_NEVER)"
    yield "                break;"
    yield "            next = done + due;"
    yield "        }"
    yield "        if (next * TICK > until)"
    yield "            break;"
    yield f"        {p}_step(&board, &in, ({p}_ticks)(next - done), &out);"
    yield "        done = next;"
    yield "        now = done * TICK;"
    yield "        told = false;"
    yield f"        if (!({same or 'true'}))"
    yield "            return now;"
    yield "    }"
    yield "    now = until;"
    yield "    return now;"
    yield "}"
    yield ""
