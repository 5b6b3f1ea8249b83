"""Faults of outputs: stuck, late, chattering, two leads crossed.

Law of this module: the board decides as it should, and what it decides does not show as it should: its command is
parted from the terminal, and whatever on the board looked at the output looks at the command.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from attrs import evolve

from boardgauge.faults.editing import apart, fresh_name, with_output, with_table
from boardgauge.faults.fault import Fault
from boardgauge.faults.folding import ALWAYS, NEVER
from boardgauge.faults.naming import spoken
from boardgauge.language.expressions import And, Condition, Edge, EventOr, For, Name, Not, Or
from boardgauge.language.model import Board, Delay, NamedCondition, Together
from boardgauge.language.quantities import MS, Duration, S, Tolerance


def output_faults(board: Board) -> Iterator[Fault]:
    """Give the faults of every output."""
    for id_ in board.outputs:
        yield from _of_output(board, id_)
    for a, b in combinations(board.outputs, 2):
        yield _crossed(board, a, b)


def _of_output(board: Board, id_: str) -> Iterator[Fault]:
    name, clause = spoken(board, id_), board.outputs[id_].note.clause
    parted, command = apart(board, id_)
    parted = untied(parted, id_)

    def fault(how: str, words: str, group: str, edited: Board, any_size: Board | None = None, *timings: str) -> Fault:
        return Fault(f"{id_}.{how}", words, group, id_, clause, edited, any_size, timings)

    yield fault("stuck-on", f"{name} stuck on", "output stuck on", with_output(parted, id_, ALWAYS))
    yield fault("stuck-off", f"{name} stuck off", "output stuck off", with_output(parted, id_, NEVER))
    slowest = board.responds_within + board.outputs[id_].lag
    late, any_late = Duration(slowest + 2 * S, Tolerance(less=S, more=S)), _from_to(slowest // 4 + 1, 60 * S)
    yield fault(
        "late-on",
        f"{name} comes on late",
        "output late",
        _late_on(parted, id_, command, late),
        _late_on(parted, id_, command, any_late),
        f"{fresh_name(parted, f'{id_}_late')} for",
    )
    linger = fresh_name(parted, f"{id_}_linger")
    yield fault(
        "late-off",
        f"{name} goes off late",
        "output late",
        _late_off(parted, id_, command, linger, late),
        _late_off(parted, id_, command, linger, any_late),
        linger,
    )
    holds, gaps = (
        Duration(700 * MS, Tolerance(less=200 * MS, more=200 * MS)),
        Duration(90 * MS, Tolerance(less=40 * MS, more=40 * MS)),
    )
    yield fault(
        "chatters",
        f"{name} chatters",
        "output chatters",
        _chattering(parted, id_, command, holds, gaps),
    )


def _from_to(shortest: int, longest: int) -> Duration:
    middle = (shortest + longest) // 2
    return Duration(middle, Tolerance(less=middle - shortest, more=longest - middle), span=True)


def _late_on(board: Board, id_: str, command: Name, late: Duration) -> Board:
    # A condition of its own, so that how late it was is measured.
    name = fresh_name(board, f"{id_}_late")
    edited = with_table(board, "conditions", name, NamedCondition(name, For(command, late)))
    return with_output(edited, id_, Name(name))


def _late_off(board: Board, id_: str, command: Name, linger: str, late: Duration) -> Board:
    delay = Delay(linger, Edge(command, "ends"), late, "starts over", cut_by=command)
    return with_output(with_table(board, "rules", linger, delay), id_, Or((command, Name(linger))))


def _chattering(board: Board, id_: str, command: Name, holds: Duration, gaps: Duration) -> Board:
    held, gap = fresh_name(board, f"{id_}_held"), fresh_name(board, f"{id_}_gap")
    off: Condition = Not(command)
    edited = with_table(
        board,
        "rules",
        held,
        Delay(held, EventOr((Edge(command, "begins"), Edge(Name(gap), "expires"))), holds, "starts over", cut_by=off),
    )
    edited = with_table(edited, "rules", gap, Delay(gap, Edge(Name(held), "expires"), gaps, "starts over", cut_by=off))
    return with_output(edited, id_, And((command, Not(Name(gap)))))


def _crossed(board: Board, a: str, b: str) -> Fault:
    edited, command_a = apart(board, a)
    edited, command_b = apart(edited, b)
    edited = with_output(with_output(edited, a, command_b), b, command_a)
    lags = {a: board.outputs[b].lag, b: board.outputs[a].lag}
    for id_, lag in lags.items():
        edited = with_table(edited, "outputs", id_, evolve(edited.outputs[id_], lag=lag))
    name = f"leads of {spoken(board, a)} and {spoken(board, b)} crossed"
    return Fault(
        f"{a}.crossed.{b}", name, "output leads crossed", a, board.outputs[a].note.clause, untied(edited, a, b)
    )


def untied(board: Board, *outputs: str) -> Board:
    """Give the board without the requirements that tie the moments of these outputs to others'."""
    kept = {
        id_: row
        for id_, row in board.requirements.items()
        if not (isinstance(row.demand, Together) and set(row.demand.outputs) & set(outputs))
    }
    return evolve(board, requirements=kept)
