"""Every time of a board that can be wrong, with how a board with another one is made.

Law of this module: a time stands in one place of a spec, or in the positions of one setting; each is told once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from attrs import evolve, frozen

from boardgauge.faults.editing import Site, sites, with_table
from boardgauge.faults.folding import replaced
from boardgauge.faults.naming import clause_of, of_site, spoken, time
from boardgauge.language.expressions import Expression, For, walk
from boardgauge.language.model import (
    Accumulator,
    Board,
    Count,
    Delay,
    Lockout,
    Mode,
    Sequence,
    SettingRef,
)
from boardgauge.language.quantities import Duration

Change = Callable[[Duration], Duration]


@frozen
class Time:
    """A time of a board that can be changed, and the machine's timings that last so long."""

    key: str
    of: str
    name: str
    clause: str | None
    nominals: tuple[Duration, ...]
    timings: tuple[str, ...]
    put: Callable[[Change], Board]

    @property
    def told(self) -> str:
        """Give the time in words."""
        return " or ".join(time(d.nominal) for d in self.nominals)


def times_of(board: Board) -> Iterator[Time]:
    """Give every time that the board keeps: of rules, of settings, and of what has to hold for a time."""
    for id_, rule in board.rules.items():
        for key, lasting, timing in _own_times(rule):
            if isinstance(lasting, Duration):
                yield _of_rule(board, id_, key, lasting, timing)
    for id_ in board.settings:
        users = tuple(t for rule in board.rules.values() for _, x, t in _own_times(rule) if x == SettingRef(id_))
        if users:
            yield _of_setting(board, id_, users)
    seen: dict[str, list[For]] = {}
    for site in sites(board):
        for node in fors_in(site.expression):
            of_owner = seen.setdefault(site.id, [])
            if node not in of_owner:
                of_owner.append(node)
            timing = f"{site.id} for" if of_owner.index(node) == 0 else f"{site.id} for {of_owner.index(node) + 1}"

            def put(change: Change, site: Site = site, node: For = node) -> Board:
                new = For(node.condition, change(node.lasts))
                return site.put(board, replaced(site.expression, lambda e: new if e is node else None))

            name = f"the time that {of_site(board, site)} waits for"
            clause = clause_of(board, site.section, site.id, site.index)
            key = f"{site.id}.{site.key}.for" + (f".{of_owner.index(node) + 1}" if of_owner.index(node) else "")
            yield Time(key, site.id, name, clause, (node.lasts,), (timing,), put)


def fors_in(expression: Expression) -> Iterator[For]:
    """Give every `for` of an expression."""
    yield from (node for node in walk(expression) if isinstance(node, For))


def _own_times(rule: object) -> Iterator[tuple[str, Duration | SettingRef, str]]:
    match rule:
        case Delay(id=id_, lasts=lasts):
            yield "lasts", lasts, id_
        case Lockout(id=id_, lasts=lasts) if lasts is not None:
            yield "lasts", lasts, id_
        case Count(id=id_, within=within) if within is not None:
            yield "within", within, f"{id_} window"
        case Accumulator(id=id_, target=target):
            yield "target", target, id_
        case Mode(id=id_):
            if rule.at_most is not None:
                yield "at_most", rule.at_most, id_
            if rule.at_least is not None:
                yield "at_least", rule.at_least, f"{id_} at least"
        case Sequence(steps=steps):
            for step in steps:
                if step.lasts is not None:
                    yield step.name, step.lasts, step.name


_CALLED = {
    "within": "the window of {}",
    "at_most": "the longest stay of {}",
    "at_least": "the shortest stay of {}",
    "target": "the time to fill {}",
}


def _of_rule(board: Board, id_: str, key: str, lasting: Duration, timing: str) -> Time:
    rule = board.rules[id_]

    def put(change: Change) -> Board:
        if isinstance(rule, Sequence):
            steps = tuple(evolve(s, lasts=change(lasting)) if s.name == key else s for s in rule.steps)
            return with_table(board, "rules", id_, evolve(rule, steps=steps))
        times: dict[str, Any] = {key: change(lasting)}
        return with_table(board, "rules", id_, evolve(rule, **times))

    step = key.replace("_", " ") if isinstance(rule, Sequence) else spoken(board, id_)
    name = _CALLED.get(key, "{}").format(step)
    return Time(f"{id_}.{key}", id_, name, rule.note.clause, (lasting,), (timing,), put)


def _of_setting(board: Board, id_: str, users: tuple[str, ...]) -> Time:
    setting = board.settings[id_]

    def put(change: Change) -> Board:
        positions = tuple(evolve(p, is_=change(p.is_)) for p in setting.positions)
        return with_table(board, "settings", id_, evolve(setting, positions=positions))

    nominals = tuple(p.is_ for p in setting.positions)
    return Time(id_, id_, f"the time set by {spoken(board, id_)}", setting.note.clause, nominals, users, put)
