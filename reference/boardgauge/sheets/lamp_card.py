"""The lamp card: each pattern drawn, what it means, what to do, and what tells like patterns apart.

Law of this module: whether a line can show is read off the explored machine, and so is the terminal that tells two
lines apart; how long two patterns look alike is worked out from their times and tolerance.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from boardgauge.drawings import words
from boardgauge.drawings.time_words import at_least
from boardgauge.language.model import Board, Flashes, InputKind, Lamp, LampLine
from boardgauge.language.quantities import MS
from boardgauge.sheets.blocks import Block, Cell, Column, Paragraph, Sheet, Table
from boardgauge.sheets.figures import joined, stopwatch
from boardgauge.sheets.lamp_looks import (
    A_SHORT_LOOK,
    alike_for,
    counting,
    cycle,
    too_quick,
    whole_group,
)
from boardgauge.sheets.lamp_strip import scale, strip
from boardgauge.sheets.study import Study
from boardgauge.sheets.telling import lamp_name

CARD = "lamps"


def lamp_card(study: Study) -> Sheet:
    """Give the card of all lamps of a board."""
    blocks: list[Block] = []
    for number, lamp in enumerate(study.board.lamps.values()):
        blocks += _lamp(study, number, lamp)
    if not study.board.lamps:
        blocks.append(Paragraph("This board has no lamp."))
    return Sheet(CARD, "Lamp card", tuple(blocks))


def lines_that_show(study: Study, lamp: int) -> frozenset[int]:
    """Give the lines of a lamp that some configuration of the board shows."""
    engine = study.engine
    return frozenset(engine.lamp_line(config, lamp) for config in study.found.configs if config.powered)


def _lamp(study: Study, number: int, lamp: Lamp) -> Iterator[Block]:
    board = study.board
    name = lamp_name(board, lamp.id)
    shown = lines_that_show(study, number)
    lasts = scale(lamp)
    has_do = any(line.do for line in lamp.lines)
    columns = [Column("Pattern", 3.4), Column("Shows", 1.4), Column("Means", 1.9)]
    columns += [Column("What to do", 3.2)] if has_do else []
    columns += [Column("Clause", 0.8)] if any(line.clause or lamp.note.clause for line in lamp.lines) else []
    rows: list[tuple[Cell, ...]] = []
    for index, line in enumerate(lamp.lines):
        means = words.lamp_line(board, lamp.id, index)
        if index not in shown:
            means = f"{means}. UNREACHABLE: {_never(study)}"
        row: list[Cell] = [strip(lamp, line.shows, lasts), words.pattern(line.shows), means]
        row += [line.do or ""] if has_do else []
        row += [line.clause or lamp.note.clause or ""] if columns[-1].title == "Clause" else []
        rows.append(tuple(row))
    notes = [
        f"Drawn with nominal times, {lasts // 1_000_000} s across; each lit and dark time may be off by the tolerance. "
        f"Without power the {name} is dark."
    ]
    if lamp.changes_within or lamp.not_judged_for:
        wait = max(lamp.changes_within, lamp.not_judged_for)
        notes.append(f"After a change, wait {at_least(wait)} before you read it.")
    yield Table(f"{lamp.id}-lines", tuple(columns), tuple(rows), name[0].upper() + name[1:], tuple(notes))
    apart = tuple(_apart(study, number, lamp, shown))
    if apart:
        yield Table(
            f"{lamp.id}-alike",
            (Column("These look alike", 2.6), Column("In a look of up to", 1.1), Column("What tells them apart", 4.6)),
            apart,
            "Patterns that look alike in a short look",
        )


def _never(study: Study) -> str:
    if study.found.complete:
        return "no state of the board shows this line"
    return f"not found among the {len(study.found.configs)} configurations explored; not all were"


# -- what looks alike ------------------------------------------------------------------------------------------------


def _apart(study: Study, number: int, lamp: Lamp, shown: frozenset[int]) -> Iterator[tuple[str, ...]]:
    """Give the rows of the table of like patterns, groups of flashes first as one row."""
    lines = [(index, line) for index, line in enumerate(lamp.lines) if index in shown]
    groups = [(i, line) for i, line in lines if _is_group(line)]
    looks = {i: cycle(lamp, line.shows) for i, line in lines}
    alike = {
        (i, j): seen
        for (i, _), (j, _) in combinations(lines, 2)
        if (seen := alike_for(looks[i], looks[j])) is None or seen >= A_SHORT_LOOK
    }
    many = {i for i, _ in groups}
    together = [line for _, line in groups]
    if len({line.shows for line in together}) == len(together) > 1 and _any_pair(alike, groups):
        longest = max(alike.get((i, j)) or 0 for (i, _), (j, _) in combinations(groups, 2))
        most = max(whole_group(looks[i]) for i, _ in groups)
        yield (
            _all_groups(lamp, many),
            _up(longest),
            "Count the flashes between two long pauses. One whole group has been seen after "
            f"{_up(most)} at the latest; count a second one to be sure.",
        )
        alike = {pair: seen for pair, seen in alike.items() if not {*pair} <= many}
    for other, _ in lines:
        # Every group of flashes is told from a pattern that goes on evenly in the same way: one row for all of them.
        pairs = {next(i for i in pair if i != other): seen for pair, seen in alike.items() if other in pair}
        like = {i: seen for i, seen in pairs.items() if i in many}
        if other in many or len(like) < 2 or None in like.values():
            continue
        longest = max(seen or 0 for seen in like.values())
        yield (
            f"{_all_groups(lamp, set(like))}; {_called(study.board, lamp, other)}",
            _up(longest),
            _measure(study, number, lamp, tuple(like), other, longest),
        )
        alike = {pair: seen for pair, seen in alike.items() if not (other in pair and {*pair} & set(like))}
    for (i, j), seen in alike.items():
        yield (
            f"{_called(study.board, lamp, i)}; {_called(study.board, lamp, j)}",
            "any length" if seen is None else _up(seen),
            _measure(study, number, lamp, (i,), j, seen),
        )


def _all_groups(lamp: Lamp, lines: set[int]) -> str:
    numbers = sorted({shows.number for i in lines if isinstance(shows := lamp.lines[i].shows, Flashes)})
    return joined([str(number) for number in numbers]) + " flashes"


def _any_pair(alike: dict[tuple[int, int], int | None], groups: list[tuple[int, LampLine]]) -> bool:
    return any((i, j) in alike for (i, _), (j, _) in combinations(groups, 2))


def _is_group(line: LampLine) -> bool:
    return isinstance(line.shows, Flashes) and line.shows.number > 1


def _called(board: Board, lamp: Lamp, index: int) -> str:
    return f"{words.pattern(lamp.lines[index].shows)} ({words.lamp_line(board, lamp.id, index)})"


def _measure(study: Study, number: int, lamp: Lamp, ones: tuple[int, ...], other: int, seen: int | None) -> str:
    """Say what tells lines (one, or several groups of flashes) from another."""
    one, two = lamp.lines[ones[0]], lamp.lines[other]
    a, b = cycle(lamp, one.shows), cycle(lamp, two.shows)
    said = []
    if seen is not None:
        if any(part.most is None for part in (*a, *b)):
            said.append(f"Watch for longer than {_up(seen)}: only one of them changes.")
        elif _is_group(one) and _is_group(two):
            said.append(f"Watch for longer than {_up(seen)} and count the flashes between two long pauses.")
        elif _is_group(one) or _is_group(two):
            said.append(f"Watch for longer than {_up(seen)}: one comes in groups with a long pause, the other evenly.")
        else:
            count = counting(a, b)
            if count is None:
                said.append(f"Watch for longer than {_up(seen)}.")
            else:
                first = _counted(words.pattern(one.shows), count.one, too_quick(a))
                second = _counted(words.pattern(two.shows), count.other, too_quick(b))
                said.append(f"Count the flashes in {count.seconds} s: {first}, {second}.")
    terminal = _terminal(study, number, ones, other)
    if terminal:
        said.append(("Or measure: " if said else "Measure: ") + terminal)
    elif not said:
        said.append("No lamp and no single terminal tells them apart.")
    return " ".join(said)


def _counted(pattern: str, times: tuple[int, int], quick: bool) -> str:
    least, most = times
    many = f"{least}" if least == most else f"{least} to {most}"
    return f"too quick to count ({many}) is {pattern}" if quick else f"{many} is {pattern}"


def _terminal(study: Study, number: int, ones: tuple[int, ...], other: int) -> str:
    """Find a terminal that is always on while some lines show and always off while another does, or the other way."""
    engine, machine, board = study.engine, study.machine, study.board
    groups = [
        [c for c in study.found.configs if c.powered and engine.lamp_line(c, number) in lines]
        for lines in (ones, (other,))
    ]
    lamp = board_lamp(study, number)
    one = "the flashes" if len(ones) > 1 else f"“{words.lamp_line(board, lamp.id, ones[0])}”"
    means = [one, f"“{words.lamp_line(board, lamp.id, other)}”"]
    for row in machine.outputs:
        values = [{engine.outputs(c)[row.index] for c in group} for group in groups]
        if all(len(v) == 1 for v in values) and values[0] != values[1]:
            on, off = means if True in values[0] else reversed(means)
            label = words.thing(board, row.output)
            name = label if label == row.output else f"{label} ({row.output})"
            return f"{name} is on with {on} and off with {off}."
    for level in machine.levels:
        if level.comparison is not None or board.inputs[level.input].kind is InputKind.BUTTON:
            continue
        held = [{c.levels[level.index] for c in group} for group in groups]
        if all(len(v) == 1 for v in held) and held[0] != held[1]:
            first = words.level(board, level, True in held[0])
            second = words.level(board, level, True in held[1])
            return f"{first} with {means[0]}, {second} with {means[1]}."
    return ""


def board_lamp(study: Study, number: int) -> Lamp:
    """Give a lamp by its number."""
    return tuple(study.board.lamps.values())[number]


def _up(time: int) -> str:
    """Give a time rounded up to half a second: an eye counts no finer."""
    half = 500 * MS
    return stopwatch(-(-time // half) * half)
