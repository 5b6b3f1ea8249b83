"""A plan as sheets for a person with a meter, jumpers and a stopwatch.

Law of this module: every step of the plan stands there under its number, with what a good board does and a box for what
this one did; what no hand can do is marked, not left out.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from boardgauge.drawings import words
from boardgauge.drawings.time_words import at_least, time_range
from boardgauge.language.model import Board, InputKind
from boardgauge.language.scope import STATES
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Value
from boardgauge.machine.scenario_writer import written_value
from boardgauge.machine.settle import Engine
from boardgauge.plans.deadlines import Timed, timed_by_hand
from boardgauge.plans.making import told_time
from boardgauge.plans.pace import asks_for_a_time, for_hand, rig_only
from boardgauge.plans.plan import PLURALS, Measure, Observe, Plan, Set, Sitting, Wait, WaitFor
from boardgauge.sheets.blocks import Block, Caution, Column, Paragraph, Points, Sheet, Table

_BOX, _AT = "[   ]", "______ s"
_LEFT = " (rig only)"
_RIG_ONLY = (
    "Steps marked rig only are shorter than a hand can be, or timed as no hand can: leave them out, write nothing."
)
_IN_TIME = (
    "Where a step has to come within a time of another and was later, what is timed from that other step on says "
    "nothing of the board: leave its limits aside."
)
_STEP_COLUMNS = (
    Column("No.", 0.5, "right"),
    Column("Do or look", 3.2),
    Column("A board in order", 2.6),
    Column("At", 0.9),
    Column("Done", 0.6, "centre"),
)


def plan_sheets(plan: Plan, board: Board, entering: str) -> tuple[Sheet, ...]:
    """Give the sheets of a plan: what to know before, one a sitting, and what it shows.

    ``entering`` is the command that asks for what was written.
    """
    plan, engine = for_hand(plan, board), Engine(compile_board(board))
    timed = [timed_by_hand(sitting, board, engine) for sitting in plan.sittings]
    sheets = [Sheet("plan", plan.title, tuple(_before(plan, board, entering, timed)))]
    for number, sitting in enumerate(plan.sittings):
        title = f"Sitting {sitting.id} of {len(plan.sittings)}"
        blocks = tuple(_sitting(timed[number], board))
        # What has no room at the foot of a page goes to the next one, and the next sitting follows it there.
        sheets.append(Sheet(f"sitting-{sitting.id}", title, blocks, own_page=number == 0))
    sheets.append(Sheet("covers", "What the plan shows", tuple(covering(plan)), own_page=False))
    return tuple(sheets)


def _before(plan: Plan, board: Board, entering: str, timed: Sequence[Timed]) -> Iterator[Block]:
    yield Paragraph(
        f"Board {plan.board}, spec {plan.spec_digest[:12]}. Sittings: {len(plan.sittings)}. "
        f"By hand a board at nominal times takes {told_time(plan.expected_time)}."
    )
    yield Caution("Before you touch a unit", plan.cautions)
    rows = tuple((name, words.thing(board, name), kind_in_words(board, name)) for name in plan.wired if name != "power")
    yield Table("signals", (Column("Terminal", 1), Column("What it is", 2.5), Column("How", 1.5)), rows, "Signals")
    yield Points(
        (
            "Start the stopwatch as a sitting begins and let it run; write into the column At what it shows as you do "
            "the step, as you see what is waited for, or as you begin to look. Write never where it did not come.",
            "Tick Done where a board in order would have shown just this; else write what it showed.",
            "A wait may take a little longer. What this plan is said to find, it finds with a recorder on every "
            "signal; a person finds what shows in what is looked at and timed.",
            *((_RIG_ONLY,) if needs(plan) or any(one.untimed for one in timed) else ()),
            *((_IN_TIME,) if any(one.deadlines for one in timed) else ()),
            f"Then: {entering} asks for what you wrote, and judges it.",
        ),
        "How to use it",
    )


def kind_in_words(board: Board, name: str) -> str:
    """Give how a terminal is driven or read."""
    row = board.inputs.get(name)
    if row is None:
        return "lamp, looked at" if name in board.lamps else "output, measured"
    if row.kind is InputKind.SENSOR:
        return f"sensor, {row.unit}"
    return f"{row.kind.value}: {' or '.join(STATES[row.kind.value])}"


def _sitting(timed: Timed, board: Board) -> Iterator[Block]:
    sitting = timed.sitting
    known = {name: value for name, value in sitting.start.items() if not _at_rest(board, name, value)}
    lines = [
        "The supply is off, and everything stands at rest" + (" but for this:" if known or sitting.settings else ".")
    ]
    lines += [f"{words.thing(board, name)}: {written_value(board.inputs[name], v)}" for name, v in known.items()]
    lines += [f"{words.thing(board, name)}: set to {place}" for name, place in sitting.settings.items()]
    yield Points(tuple(lines), "Before it begins")
    rows = tuple(tuple(_row(timed, number, board)) for number in range(len(sitting.steps)))
    notes = tuple(dict.fromkeys(f"Before step {n + 1}: {s.caution}" for n, s in first_cautions(sitting)))
    if notes:
        yield Caution("Before the steps named", notes)
    yield Table(f"steps-{sitting.id}", _STEP_COLUMNS, rows, "Steps")
    yield Caution(
        f"When sitting {sitting.id} is over",
        (
            "The supply is off: check it, and that every link and jumper that you fitted is off the board.",
            "Write here how many links you fitted and took off:  fitted ______  taken off ______",
        ),
    )


def first_cautions(sitting: Sitting) -> list[tuple[int, Set]]:
    """Give the steps of a hand with cautions, each caution where it is first needed."""
    found: dict[str, tuple[int, Set]] = {}
    for number, step in enumerate(sitting.steps):
        if isinstance(step, Set) and step.caution and not rig_only(sitting, number):
            found.setdefault(step.caution, (number, step))
    return list(found.values())


def _at_rest(board: Board, name: str, value: Value) -> bool:
    row = board.inputs[name]
    return row.kind is not InputKind.SENSOR and value is row.rests_on


def _row(timed: Timed, number: int, board: Board) -> tuple[str, ...]:
    sitting, step = timed.sitting, timed.sitting.steps[number]
    does, shows = told(sitting, number, board)
    for row in timed.deadlines:
        if row.number == number:
            does += f", within {at_least(row.within)} of step {row.since + 1}"
    if number in timed.untimed:
        does += _LEFT
    below = _timed_in(timed, number)
    if below is not None:
        shows = f"timed in step {below + 1}"
    asked = _AT if asks_for_a_time(sitting, number) else ""
    return f"{number + 1}", does, shows, asked, "" if isinstance(step, Measure) or rig_only(sitting, number) else _BOX


def _timed_in(timed: Timed, number: int) -> int | None:
    """Give the step that times what is waited for from before the step that was done last; None where there is none.

    How long it comes after that step hangs on how quick the person was in between, so no limits can be told.
    """
    sitting, step = timed.sitting, timed.sitting.steps[number]
    if not isinstance(step, WaitFor) or not step.earliest:
        return None
    found = [n for n, row in enumerate(sitting.steps) if isinstance(row, Measure) and row.until == step.id]
    since = {row.since for row in sitting.steps if isinstance(row, Measure) and row.until == step.id}
    by_hand = [n for n in found if not rig_only(sitting, n) and n not in timed.untimed]
    return by_hand[0] if by_hand and step.since not in since else None


def told(sitting: Sitting, number: int, board: Board) -> tuple[str, str]:
    """Give a step in words: what to do, and what a board in order shows."""
    step = sitting.steps[number]
    numbers = {row.id: n + 1 for n, row in enumerate(sitting.steps) if row.id}
    mark = _LEFT if rig_only(sitting, number) else ""
    why = f" ({step.why})" if step.why else ""
    match step:
        case Set():
            done = [f"{words.thing(board, n)}: {_said(board, n, v)}" for n, v in step.inputs.items()]
            if step.power is not None:
                done.append(f"supply {'on' if step.power else 'off'}")
            return "; ".join(done) + mark + why, ""
        case Wait(time=time):
            return f"wait {at_least(time)}{mark}{why}", ""
        case WaitFor():
            window = time_range(step.earliest, step.latest) if step.latest else "already so"
            since = f" after step {numbers[step.since]}" if step.since else ""
            return (
                f"wait for {words.thing(board, step.signal)} {'on' if step.level else 'off'}, "
                f"at most {at_least(step.at_most)}",
                f"{window}{since}",
            )
        case Observe():
            return f"look for {at_least(step.held)}", _looks(step, board)
        case Measure():
            return (
                f"time from step {numbers[step.since]} to step {numbers[step.until]}: {words.thing(board, step.what)}"
                f"{mark}",
                time_range(step.shortest, step.longest),
            )


def _said(board: Board, name: str, value: Value) -> str:
    return written_value(board.inputs[name], value)


def _looks(step: Observe, board: Board) -> str:
    on = [words.thing(board, name) for name, level in step.outputs.items() if level]
    off = [words.thing(board, name) for name, level in step.outputs.items() if not level]
    said = [f"on: {', '.join(on)}"] if on else []
    said += [f"off: {', '.join(off)}"] if off else []
    said += [f"{words.thing(board, name)}: {shows}" for name, shows in step.lamps.items()]
    return "; ".join(said)


def covering(plan: Plan) -> Iterator[Block]:
    """Give what a plan covers and what it leaves out."""
    left: Mapping[str, int] = _counted((row.kind, len(row.goals)) for row in plan.leaves_out)
    got: Mapping[str, int] = _counted((row.kind, len(row.goals)) for row in plan.covers)
    kinds = dict.fromkeys([*got, *left])
    rows = tuple((kind, str(got.get(kind, 0)), str(left.get(kind, 0))) for kind in kinds)
    columns = (Column("Goals", 2), Column("shown", 1, "right"), Column("left out", 1, "right"))
    yield Table("goals", columns, rows, "Goals")
    for row in plan.leaves_out:
        # Hundreds of short names: one below the other they would fill pages with nothing beside them.
        yield Points((", ".join(row.goals),), f"Left out, {PLURALS[row.kind]}: {row.reason}")


def _counted(rows: Iterator[tuple[str, int]]) -> dict[str, int]:
    found: dict[str, int] = {}
    for kind, number in rows:
        found[kind] = found.get(kind, 0) + number
    return found


def step_line(sitting: Sitting, number: int, board: Board) -> str:
    """Give a step as one line."""
    does, shows = told(sitting, number, board)
    return f"{number + 1}. {does}" + (f" ({shows})" if shows else "")


def needs(plan: Plan) -> str:
    """Give what cannot be done by hand, in words; "" where all can."""
    flickers = sum(
        1 for s in plan.sittings for n, row in enumerate(s.steps) if isinstance(row, Wait) and rig_only(s, n)
    )
    return f"{flickers} flickers are for a rig only" if flickers else ""
