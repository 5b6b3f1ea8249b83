"""The header: what a firmware includes.

Law of this module: everything a person has to know to use the source stands here: units, words of the inputs, times
with their limits and clauses, what is not kept.
"""

from __future__ import annotations

from collections.abc import Iterator

from boardgauge.exports.c99.comments import block, comment, lasts, origin
from boardgauge.exports.c99.shape import Shape
from boardgauge.language.model import InputKind
from boardgauge.language.quantity_writer import write_pattern, write_plain_time
from boardgauge.machine.table import Region

_WORDS = {
    InputKind.CALL: "on",
    InputKind.SIGNAL: "on",
    InputKind.SWITCH: "closed",
    InputKind.LINK: "fitted",
    InputKind.BUTTON: "pressed",
}
_PARTS = {0: "whole", 1: "tenths of", 2: "hundredths of", 3: "thousandths of"}


def header(shape: Shape, version: str) -> str:
    """Give the header of a board."""
    lines = [*_top(shape, version), *_times(shape), *_inputs(shape), *_outputs(shape), *_state(shape), *_calls(shape)]
    return "\n".join(lines) + "\n"


def place_name(shape: Shape, region: Region, place: int) -> str:
    """Give the name of a place as a constant."""
    if region.kind == "count":
        return f"{place}"
    words = region.places[place].replace(" ", "_")
    return shape.constant(("place", region.index, place), f"{region.rule}_{words}")


def length_name(shape: Shape, timing: int, choice: int) -> str:
    """Give the name of a nominal length as a constant."""
    row = shape.machine.timings[timing]
    name = f"{shape.timings[timing]}_ticks"
    return shape.constant(("length", timing, choice), f"{name}_{choice + 1}" if len(row.choices) > 1 else name)


def unit_words(shape: Shape, name: str) -> str:
    """Give the unit in which a sensor is read, ``tenths of °C``."""
    decimals = shape.decimals[name]
    words = _PARTS.get(decimals, f"units of 10 to the -{decimals}")
    return f"{words} {shape.board.inputs[name].unit}"


def _top(shape: Shape, version: str) -> Iterator[str]:
    board, p = shape.board, shape.prefix
    yield from block(
        [
            f"{board.id}: {board.title}",
            "",
            f"Written by boardgauge {version} from the spec with the digest {board.digest or '(none)'}. "
            "Do not change it here: change the spec and write it anew.",
            "",
            "What the board does, with every time at its nominal length. The limits stand beside each. "
            f"One tick is {write_plain_time(shape.tick)}.",
            "",
            f"  {p}_state board;  (one board, yours; nothing else is kept anywhere)",
            f"  {p}_inputs in;",
            f"  {p}_outputs out;",
            f"  {p}_init(&board);",
            f"  {p}_inputs_at_rest(&in);",
            "  for (;;) {",
            "      read the terminals into in;",
            f"      {p}_step(&board, &in, ticks since the step before, &out);",
            "      drive the terminals from out;",
            "  }",
            "",
            "The first step is the instant of power-up. What the inputs do counts from the step that sees it, so step "
            "as often as they have to be looked at; what runs out between two steps is done in its order.",
            "",
            *_taking_in(shape),
            "This program guards nothing by itself. Where a board drives gas, heat, pressure or motors, safety limits "
            "are wired so that they act without it; local codes and licensed practice come before it.",
        ]
    )
    guard = f"{p}_H".upper()
    yield from (f"#ifndef {guard}", f"#define {guard}", "", "#include <stdbool.h>", "#include <stdint.h>", "")
    yield from ("#ifdef __cplusplus", 'extern "C" {', "#endif", "")
    kind = "uint64_t" if shape.wide else "uint32_t"
    yield from comment("Stretches of time, in ticks.")
    yield f"typedef {kind} {p}_ticks;"
    yield f"#define {p.upper()}_TICK_MICROSECONDS UINT32_C({shape.tick})"
    yield from comment("Nothing is due, however long one waits.")
    yield f"#define {p.upper()}_NEVER {'UINT64_MAX' if shape.wide else 'UINT32_MAX'}"


def _taking_in(shape: Shape) -> Iterator[str]:
    if not shape.waits:
        yield "Inputs are taken in as they come: keep what the spec's filter does not let through away from them."
        yield ""
        return
    yield (
        "A change of an input is taken in once it has lasted as long as the filter of the spec asks; "
        "bring the terminals to it as they are."
    )
    yield ""
    problems = list(shape.not_kept())
    if problems:
        yield "Not kept:"
        yield from problems
        yield ""


def _times(shape: Shape) -> Iterator[str]:
    if shape.machine.timings:
        yield ""
        yield from comment("Times: nominal, in ticks, with their limits beside them.")
    for timing, choice, duration in shape.durations():
        what = origin(timing.name, timing.clause, timing.at)
        if timing.setting is not None:
            position = shape.board.settings[timing.setting].positions[choice]
            what += f", {timing.setting} {position.name or choice + 1}"
        yield from comment(f"{what}: {lasts(duration)}")
        number = shape.length(timing, choice)
        yield f"#define {length_name(shape, timing.index, choice)} {_constant(shape, number)}"


def _constant(shape: Shape, number: int) -> str:
    return f"UINT64_C({number})" if shape.wide else f"UINT32_C({number})"


def _inputs(shape: Shape) -> Iterator[str]:
    board, p = shape.board, shape.prefix
    for setting, field in shape.settings.items():
        row = board.settings[setting]
        if row.positions[0].name is None:
            continue
        yield ""
        yield from comment(f"{origin(setting, row.note.clause, row.at, row.note)}: where a person sets it.")
        yield "enum {"
        for number, position in enumerate(row.positions):
            name = shape.constant(("position", setting, number), f"{field}_{position.name}")
            mark = ", as it left the factory" if position.name == row.factory else ""
            yield f"    {name} = {number}, /* {lasts(position.is_)}{mark} */"
        yield "};"
    yield ""
    yield from comment("The input terminals.")
    yield "typedef struct {"
    for name, field in shape.inputs.items():
        row_ = board.inputs[name]
        what = origin(name, row_.note.clause, row_.at, row_.note)
        if row_.kind is InputKind.SENSOR:
            yield from comment(f"{what}: {unit_words(shape, name)}", "    ")
            yield f"    int32_t {field};"
        else:
            yield from comment(f"{what}: true for {_WORDS[row_.kind]}", "    ")
            yield f"    bool {field};"
    for setting, field in shape.settings.items():
        if board.settings[setting].positions[0].name is not None:
            yield from comment(f"where the setting {setting} stands", "    ")
            yield f"    uint8_t {field};"
    if not shape.inputs and not any(s.positions[0].name for s in board.settings.values()):
        yield "    bool none; /* the board has no inputs */"
    yield f"}} {p}_inputs;"


def _outputs(shape: Shape) -> Iterator[str]:
    board, p = shape.board, shape.prefix
    for name, field in shape.lamps.items():
        lamp = board.lamps[name]
        yield ""
        yield from comment(f"{origin(name, lamp.note.clause, lamp.at, lamp.note)}: the lines of its table.")
        yield "enum {"
        yield f"    {shape.constant(('line', name, 0), f'{field}_unlit')} = 0, /* no supply */"
        for number, line in enumerate(lamp.lines, 1):
            means = f": {line.means}" if line.means else ""
            clause = f", clause {line.clause}" if line.clause else ""
            shows = f"{write_pattern(line.shows)}{means}{clause}"
            yield from comment(shows, "    ")
            yield f"    {shape.constant(('line', name, number), f'{field}_line_{number}')} = {number},"
        yield "};"
    yield ""
    yield from comment("The output terminals.")
    yield "typedef struct {"
    for row, field in zip(shape.machine.outputs, shape.outputs, strict=True):
        output = board.outputs[row.output]
        contact = ", its normally closed contact is used" if output.contact == "normally closed" else ""
        what = origin(row.output, row.clause, output.at, output.note)
        yield from comment(f"{what}: true for the coil on{contact}", "    ")
        yield f"    bool {field};"
    for name, field in shape.lamps.items():
        yield from comment(f"{name}: true for lit", "    ")
        yield f"    bool {field};"
    for name, field in shape.lamps.items():
        yield from comment(f"the line of its table that {name} shows", "    ")
        yield f"    uint16_t {field}_line;"
    yield from comment("The rules do not come to rest: every output is off until the board is started anew.", "    ")
    yield "    bool fault;"
    yield f"}} {p}_outputs;"


def _state(shape: Shape) -> Iterator[str]:
    machine, p = shape.machine, shape.prefix
    for region in machine.regions:
        if region.kind == "count":
            yield ""
            yield from comment(f"{origin(region.rule, region.clause, region.at)} counts to {len(region.places) - 1}.")
            continue
        yield ""
        yield from comment(f"{origin(region.rule, region.clause, region.at)}: the places of this {region.kind}.")
        names = ", ".join(f"{place_name(shape, region, i)} = {i}" for i in range(len(region.places)))
        yield from (["enum { " + names + " };"] if len(names) < 100 else _many(shape, region))
    yield ""
    yield from comment(
        "What a board is in. Leave it to the functions below; it may be copied, and kept in memory that outlasts the "
        "supply."
    )
    levels = [f"bool {shape.slots[shape.logic.level_slot(level)]};" for level in machine.levels]
    yield "typedef struct {"
    yield f"    struct {{ {' '.join(levels) or 'bool none;'} }} level; /* inputs as taken in */"
    yield f"    struct {{ {' '.join(levels) or 'bool none;'} }} terminal; /* inputs as they stand */"
    if shape.waits:
        waits = [f"{p}_ticks {shape.slots[shape.logic.level_slot(level)]};" for level in machine.levels]
        yield f"    struct {{ {' '.join(waits)} }} waited; /* since a level differs from its terminal */"
    yield "    struct {"
    for region, field in zip(machine.regions, shape.regions, strict=True):
        yield f"        {shape.place_type(region)} {field};"
    if not machine.regions:
        yield "        bool none;"
    yield "    } place;"
    timed = [name for row, name in zip(machine.timings, shape.timings, strict=True) if row.role != "window"]
    for what, kind, members in (
        ("running", "bool", timed),
        ("left", f"{p}_ticks", timed),
        ("full", "bool", [shape.timings[t.index] for t in machine.timings if t.role == "for"]),
        ("begun", "bool", [shape.timings[t.index] for t in machine.timings if t.role == "target"]),
    ):
        yield f"    struct {{ {' '.join(f'{kind} {name};' for name in members) or 'bool none;'} }} {what};"
    windows = [r for r in machine.regions if r.kind == "count" and r.timings]
    if windows:
        left = [f"{p}_ticks {shape.regions[r.index]}[{len(r.places) - 1}];" for r in windows]
        yield f"    struct {{ {' '.join(left)} }} window; /* what is left of each, the oldest first */"
        number = [f"{shape.place_type(r)} {shape.regions[r.index]};" for r in windows]
        yield f"    struct {{ {' '.join(number)} }} windows;"
    if shape.settings:
        yield f"    struct {{ {' '.join(f'uint8_t {name};' for name in shape.settings.values())} }} setting;"
    if shape.lamps:
        yield f"    struct {{ {' '.join(f'uint16_t {name};' for name in shape.lamps.values())} }} line;"
        yield f"    struct {{ {' '.join(f'{p}_ticks {name};' for name in shape.lamps.values())} }} phase;"
    yield "    bool powered;"
    yield "    bool fault;"
    yield f"}} {p}_state;"


def _many(shape: Shape, region: Region) -> Iterator[str]:
    yield "enum {"
    for number in range(len(region.places)):
        yield f"    {place_name(shape, region, number)} = {number},"
    yield "};"


def _calls(shape: Shape) -> Iterator[str]:
    p = shape.prefix
    for words, call in (
        ("A board that never had power. The next step is its power-up.", f"void {p}_init({p}_state *s);"),
        (
            "The supply is gone, so many ticks after the last step: all is forgotten but what is kept without power. "
            "The next step is a power-up. After a start with a state from memory that outlasts the supply, call this "
            "with 0 in place of init.",
            f"void {p}_lose_power({p}_state *s, {p}_ticks elapsed);",
        ),
        (
            "Every input as it rests, every setting as it left the factory, every sensor at 0.",
            f"void {p}_inputs_at_rest({p}_inputs *in);",
        ),
        (
            "Go on by so many ticks, with the inputs as they are from now on.",
            f"void {p}_step({p}_state *s, const {p}_inputs *in, {p}_ticks elapsed, {p}_outputs *out);",
        ),
        (
            "How many ticks it takes until something happens if no input changes; NEVER if nothing will. To sleep so "
            "long, or until an input changes, comes to the same as stepping at every tick.",
            f"{p}_ticks {p}_until_due(const {p}_state *s);",
        ),
    ):
        yield ""
        yield from comment(words)
        yield call
    yield from ("", "#ifdef __cplusplus", "}", "#endif", "", "#endif")
