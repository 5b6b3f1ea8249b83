"""The timing table: every time the board keeps, with its limits, its clause and what a speed-up makes of it.

Law of this module: one row for each duration of the machine's timings; no figure is written that is not worked out
from one. Times that only watch (requirements, stretches not judged) are no times of the board and stand in a table of
theirs.
"""

from __future__ import annotations

from collections.abc import Iterator

from boardgauge.drawings import words
from boardgauge.drawings.time_words import least, most
from boardgauge.language import expressions as ex
from boardgauge.language import model
from boardgauge.language.model import Board
from boardgauge.language.quantities import Duration
from boardgauge.machine.table import Machine, Timing
from boardgauge.sheets.blocks import Block, Column, Paragraph, Sheet, Table
from boardgauge.sheets.figures import joined, sped_up, stopwatch, with_limits
from boardgauge.sheets.study import Study

TIMINGS = "timings"


def timing_sheet(study: Study) -> Sheet:
    """Give the table of timings, with those of the lamps and how quickly the board answers."""
    board, machine = study.board, study.machine
    blocks: list[Block] = []
    rows = [row for timing in board_timings(machine) for row in _rows(machine, timing)]
    fast = bool(machine.speed_ups)
    if rows:
        columns = [Column("Timing", 2.9), Column("Nominal"), Column("Least", 1.15), Column("Most", 1.15)]
        columns += [Column("Sped up", 1.8)] if fast else []
        columns += [Column("Counts", 3.2), Column("Clause", 0.8)]
        blocks.append(Table(TIMINGS, tuple(columns), tuple(rows), "Times of the board", tuple(_notes(machine))))
    else:
        blocks.append(Paragraph("This board keeps no times."))
    lamps = tuple(row for lamp in board.lamps.values() for row in _lamp_rows(board, lamp))
    if lamps:
        columns = [Column("Lamp", 2.0), Column("Part", 2.6), Column("Nominal"), Column("Least"), Column("Most")]
        blocks.append(Table("lamp-timings", tuple(columns), lamps, "Times of the lamps"))
    answers = tuple(_answers(board))
    if answers:
        blocks.append(
            Table("answers", (Column("What", 4.0), Column("Time", 1.4)), answers, "How quickly the board answers")
        )
    watched = tuple(_watched(machine))
    if watched:
        columns = [Column("What must hold, whatever the rules say", 5.0), Column("Clause", 0.8)]
        blocks.append(Table("requirements", tuple(columns), watched, "What must never, or always, be so"))
    return Sheet(TIMINGS, "Timing table", tuple(blocks))


def board_timings(machine: Machine) -> tuple[Timing, ...]:
    """Give the timings that the board itself keeps, those of requirements and of stretches not judged left out."""
    board = machine.board
    return tuple(
        row
        for row in machine.timings
        if row.role not in {"requirement", "not judged"} and row.owner not in board.requirements
    )


def _rows(machine: Machine, timing: Timing) -> Iterator[tuple[str, ...]]:
    board = machine.board
    for position, lasts in enumerate(timing.choices):
        name = timing_name(machine, timing)
        if timing.setting is not None:
            named = board.settings[timing.setting].positions[position].name
            name += f", {words.thing(board, timing.setting)} {named or stopwatch(lasts.nominal)}"
        fast = [_sped(machine, timing, lasts)] if machine.speed_ups else []
        yield (
            name,
            stopwatch(lasts.nominal),
            least(lasts.shortest),
            most(lasts.longest),
            *fast,
            counts(machine, timing),
            timing.clause or "",
        )


def _sped(machine: Machine, timing: Timing, lasts: Duration) -> str:
    if not timing.speed_ups:
        return "not sped up"
    parts = []
    for index in timing.speed_ups:
        row = machine.speed_ups[index]
        short = sped_up(lasts, row.times_faster)
        said = with_limits(short)
        parts.append(said if len(machine.speed_ups) == 1 else f"{said} with {words.plain(row.id)}")
    return "; ".join(parts)


def timing_name(machine: Machine, timing: Timing) -> str:
    """Give what a timing is called: its rule, and which of its times it is."""
    label = words.thing(machine.board, timing.owner)
    match timing.role:
        case "for":
            return f"{label}: time it must hold"
        case "at least":
            return f"{label}: shortest stay"
        case "at most":
            return f"{label}: longest stay"
        case "lasts":
            return f"{label}: clears by itself"
        case "step":
            return f"{label}: step {words.plain(timing.name)}"
        case "window":
            return f"{label}: window"
    return label


def counts(machine: Machine, timing: Timing) -> str:
    """Say what sets a timing going, or while what it adds up."""
    board = machine.board
    rule = board.rules.get(timing.owner)
    match timing.role:
        case "delay" if isinstance(rule, model.Delay):
            return f"from: {words.expression(board, rule.begins)}"
        case "for" if isinstance(timing.condition, ex.For):
            return f"while: {words.holds(board, timing.condition.condition, True)}"
        case "target" if isinstance(rule, model.Accumulator):
            return f"added up while: {words.holds(board, rule.adds_while, True)}"
        case "window" if isinstance(rule, model.Count):
            return f"from each: {words.expression(board, rule.counts)}"
        case "step":
            return "from the beginning of the step"
        case "lasts":
            return "from the moment it trips"
    return "from its beginning"


def position_name(board: Board, setting: str, position: int) -> str:
    """Give the name of a position of a setting, or how its jumpers stand."""
    row = board.settings[setting].positions[position]
    if row.name is not None:
        return row.name
    return "otherwise" if row.when is None else words.holds(board, row.when, True)


def _notes(machine: Machine) -> Iterator[str]:
    yield "Limits are exact; where it says about, they are rounded outwards. A time inside its limits is right."
    for row in machine.speed_ups:
        board = machine.board
        yield (
            f"Sped up: {row.times_faster} times faster while {words.holds(board, row.while_, True)}. "
            "The nominal time and the percentage shrink, the seconds of the tolerance do not."
        )
    if machine.board.clock == "shared":
        yield "All times of this board come from one clock: in one run all are off by the same percentage."


def _lamp_rows(board: Board, lamp: model.Lamp) -> Iterator[tuple[str, ...]]:
    parts: dict[str, int] = {}
    if lamp.flash is not None and any(isinstance(line.shows, model.Flashes) for line in lamp.lines):
        parts["one flash of a group, lit"] = lamp.flash.lit
        parts["one flash of a group, dark"] = lamp.flash.dark
        parts["pause between groups"] = lamp.between_groups or 0
    for index, line in enumerate(lamp.lines):
        if isinstance(line.shows, model.Blink):
            means = words.lamp_line(board, lamp.id, index)
            parts[f"lit: {means}"] = line.shows.lit
            parts[f"dark: {means}"] = line.shows.dark
    for name, time in parts.items():
        lasts = Duration(time, lamp.tolerance)
        told = (stopwatch(lasts.nominal), least(lasts.shortest), most(lasts.longest))
        yield (words.thing(board, lamp.id), name, *told)


def _answers(board: Board) -> Iterator[tuple[str, ...]]:
    if board.responds_within:
        yield "“At once”: the last consequence of a change at a terminal shows within", stopwatch(board.responds_within)
    if board.filter.greatest:
        yield "A change at a terminal that lasts less is never seen", stopwatch(board.filter.least)
        yield "A change at a terminal that lasts longer is always seen", stopwatch(board.filter.greatest)
    if board.same_moment:
        yield "Changes closer together than this are taken as one moment", stopwatch(board.same_moment)
    if board.rides_through.greatest:
        yield "A gap of the supply that lasts less does nothing", stopwatch(board.rides_through.least)
        yield "A gap of the supply that lasts longer is a loss of power", stopwatch(board.rides_through.greatest)
    for row in board.inputs.values():
        if row.responds_within != board.responds_within:
            yield f"Instead, for {words.thing(board, row.id)}: at once", stopwatch(row.responds_within)
        if row.filter != board.filter:
            times = f"{stopwatch(row.filter.least)}; {stopwatch(row.filter.greatest)}"
            yield f"Instead, for {words.thing(board, row.id)}: never seen; always seen", times
    for output in board.outputs.values():
        if output.lag:
            yield f"{words.thing(board, output.id)} shows after it was decided within", stopwatch(output.lag)
    for stretch in board.not_judged:
        names = joined([words.thing(board, name) for name in stretch.signals])
        every = len(stretch.signals) >= len(board.outputs) + len(board.lamps)
        what = "All outputs and lamps" if every else names
        after = words.expression(board, stretch.after)
        yield f"{what} tell nothing after {after} for", stopwatch(stretch.lasts.nominal)


def _watched(machine: Machine) -> Iterator[tuple[str, str]]:
    board = machine.board
    for row in board.requirements.values():
        match row.demand:
            case model.Never(what=what):
                said = f"never: {words.expression(board, what)}"
            case model.Always(what=held):
                said = f"always: {words.holds(board, held, True)}"
            case model.Follows(after=after, then=then, within=within):
                said = f"after {words.expression(board, after)}: {words.expression(board, then)}"
                said += f" within {stopwatch(within)}"
            case model.Together(outputs=outputs, within=within):
                names = joined([words.thing(board, name) for name in outputs])
                said = f"{names} change within {stopwatch(within)} of each other"
        if row.except_while is not None:
            said += f", except while {words.holds(board, row.except_while, True)}"
        title = f"{row.note.title}. " if row.note.title else ""
        yield title[:1].upper() + title[1:] + said[0].upper() + said[1:], row.note.clause or ""
