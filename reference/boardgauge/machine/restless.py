"""Which rules chase each other where a spec does not come to rest, and what mends it.

Law of this module: it looks at what moved, one instant after another; it never moves anything itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise

from boardgauge.language.advice import reached, reads_of
from boardgauge.language.model import NOWHERE, Board, Count, Delay, Spot
from boardgauge.machine.config import Config
from boardgauge.machine.table import Machine


def moved_again(machine: Machine, trail: Sequence[Config], output: str | None = None) -> tuple[str, ...]:
    """Give the rules that moved more than once from one configuration of a moment to the next; all that moved if none.

    In the order of the spec; with an output only those that it hangs on.
    """
    moves: dict[str, int] = {}
    for before, after in pairwise(trail):
        pairs = zip(machine.regions, before.places, after.places, strict=True)
        moved = {region.rule for region, old, new in pairs if old != new}
        changed = before.running ^ after.running
        moved |= {delay.rule for delay in machine.delays if changed >> delay.timing & 1}
        for rule in moved:
            moves[rule] = moves.get(rule, 0) + 1
    if output is not None:
        behind = {output, *reached(output, reads_of(machine.board))}
        moves = {rule: times for rule, times in moves.items() if rule in behind}
    often = [rule for rule, times in moves.items() if times > 1]
    return in_order(machine.board, often or moves)


def in_order(board: Board, rules: Iterable[str]) -> tuple[str, ...]:
    """Give rules and outputs of a board in the order of its spec, without what only watches."""
    named = set(rules)
    return tuple(rule for rule in (*board.rules, *board.outputs) if rule in named)


def place_of(board: Board, rules: Sequence[str]) -> tuple[Spot, str]:
    """Give where, and under which key, the first of some rules stands; the board's own place if there are none."""
    if not rules:
        return board.at, ""
    return _row(board, rules[0])


def how_to_mend(board: Board, rules: Sequence[str]) -> str:
    """Say which rules move each other, and what can be done about it."""
    if not rules:
        return 'let one of the causes below last before something follows it ("for 1 s")'
    if len(rules) == 1 and isinstance(board.rules.get(rules[0]), Delay):
        return f"{rules[0]} prevents what it begins by: let it begin by what holds on while it runs"
    if len(rules) == 1 and isinstance(board.rules.get(rules[0]), Count):
        return (
            f"what {rules[0]} counts is over in the moment in which it comes about, for another rule acts on it at "
            'once: let it count what that rule does ("… ends while …")'
        )
    if len(rules) == 1:
        return (
            f"{rules[0]} is moved on by its own move: let what ends it also keep it from beginning "
            '("… and not …"), or let one of the two last first ("for 1 s")'
        )
    named = [
        f"{rule} (line {_row(board, rule)[0].line})" if _row(board, rule)[0] != NOWHERE else rule for rule in rules
    ]
    return (
        f"{', '.join(named[:-1])} and {named[-1]} move each other in one moment: let one of them wait "
        '("for 1 s") for the other, or take the one out of what moves the other'
    )


def _row(board: Board, name: str) -> tuple[Spot, str]:
    if name in board.rules:
        return board.rules[name].at, f"rules.{name}"
    return board.outputs[name].at, f"outputs.{name}"
