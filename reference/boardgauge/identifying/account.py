"""Tell of one situation: what is on, which timings run, what it waits for, and what happens next, within which time.

Law of this module: it tells what the configurations that are left have in common, and what only some have as such.
"""

from __future__ import annotations

from attrs import evolve, frozen

from boardgauge.drawings import words
from boardgauge.drawings.overview import state_names
from boardgauge.identifying.experiments import look_in_words
from boardgauge.identifying.knowledge import Candidate, Knowledge, Situation
from boardgauge.identifying.passing import longest, passing
from boardgauge.machine.explore import Step


@frozen
class Ahead:
    """Something that leads on: the cause, the operating state it leads to, the longest time until then if it is known.

    ``always`` tells whether it can come whatever else is the case in this situation.
    """

    cause: str
    leads_to: str
    within: int | None
    always: bool


@frozen
class Account:
    """What there is to tell of a situation.

    ``on`` and ``may_be_on`` are rules in words; ``running`` and ``may_run`` timings with the longest they last
    (microseconds); ``by_itself`` what time brings, ``waits_for`` the input changes that lead on;
    ``shows`` how it looks.
    """

    situation: Situation
    shows: str
    on: tuple[str, ...]
    may_be_on: tuple[str, ...]
    running: tuple[tuple[str, int], ...]
    may_run: tuple[tuple[str, int], ...]
    by_itself: tuple[Ahead, ...]
    waits_for: tuple[Ahead, ...]


def account(known: Knowledge, situation: Situation, left: frozenset[Candidate]) -> Account:
    """Give the account of a situation, as far as the candidates left tell."""
    configs = sorted({config for origin, config in left if origin == situation.number})
    on = [_rules_on(known, config) for config in configs]
    running = [_timings_on(known, config) for config in configs]
    always, ever = set.intersection(*on), set.union(*on)
    surely, maybe = set.intersection(*running), set.union(*running)
    board = known.machine.board
    return Account(
        situation,
        _looks(known, configs),
        tuple(words.name_holds(board, rule, True) for rule in _in_order(known, always)),
        tuple(words.name_holds(board, rule, True) for rule in _in_order(known, ever - always)),
        tuple((_timing_name(known, t), longest(known.machine.timings[t])) for t in sorted(surely)),
        tuple((_timing_name(known, t), longest(known.machine.timings[t])) for t in sorted(maybe - surely)),
        tuple(_by_itself(known, configs)),
        tuple(_waits_for(known, configs)),
    )


def _looks(known: Knowledge, configs: list[int]) -> str:
    """Say how it looks: what is on in all of them, and what only in some."""
    looks = [known.looks[config] for config in configs]
    lines = list(dict.fromkeys(look.lines for look in looks))
    rows = known.machine.outputs
    values = {row.output: {look.outputs[row.index] for look in looks} for row in rows}
    if len(lines) > 1:
        return " Or: ".join(dict.fromkeys(look_in_words(known, look) for look in looks))
    sure = evolve(looks[0], outputs=tuple(values[row.output] == {True} for row in rows))
    said = look_in_words(known, sure)
    perhaps = [words.thing(known.machine.board, row.output) for row in rows if len(values[row.output]) == 2]
    return f"{said} Perhaps on: {', '.join(perhaps)}." if perhaps else said


def _rules_on(known: Knowledge, config: int) -> set[str]:
    if not known.looks[config].powered:
        return set()
    delays = {delay.rule for delay in known.machine.delays}
    steps = {name for _, _, name in known.kept}
    names = [*known.machine.board.rules, *sorted(steps - known.machine.board.rules.keys())]
    found = known.found.configs[config]
    return {name for name in names if name not in delays and known.engine.holds(found, name)}


def _in_order(known: Knowledge, names: set[str]) -> list[str]:
    order = list(known.machine.board.rules)
    return sorted(names, key=lambda name: (order.index(name) if name in order else len(order), name))


def _timings_on(known: Knowledge, config: int) -> set[int]:
    running = known.found.configs[config].running & ~known.hidden
    return {t.index for t in known.machine.timings if t.role != "window" and running >> t.index & 1}


def _timing_name(known: Knowledge, index: int) -> str:
    row, board = known.machine.timings[index], known.machine.board
    if row.role == "step":
        return words.plain(row.name)
    if row.role in {"for"} and row.condition is not None:
        return words.holds(board, row.condition, True)
    return words.thing(board, row.owner)


def _by_itself(known: Knowledge, configs: list[int]) -> list[Ahead]:
    names = state_names(known.states)
    found: dict[tuple[str, str], list[int | None]] = {}
    for config in configs:
        mine: dict[tuple[str, str], int | None] = {}
        for at, (when, ran) in passing(known, config).turns.items():
            timings = dict.fromkeys(_timing_name(known, t) for t in ran)
            key = (f"{' and '.join(timings)} over" if timings else "an old event counts no longer",)
            full = (*key, names[known.operating_state(at).number])
            held = mine.get(full, 0)
            mine[full] = None if when is None or held is None else max(held, when)
        for full, when in mine.items():
            found.setdefault(full, []).append(when)
    return [Ahead(cause, to, _most(whens), len(whens) == len(configs)) for (cause, to), whens in sorted(found.items())]


def _most(whens: list[int | None]) -> int | None:
    known = [when for when in whens if when is not None]
    return max(known) if len(known) == len(whens) else None


def _waits_for(known: Knowledge, configs: list[int]) -> list[Ahead]:
    """Give the changes of one input that lead out of the operating state at once."""
    names = state_names(known.states)
    found: dict[tuple[Step, int], set[int]] = {}
    for config in configs:
        for edge in known.by_hand[config]:
            state = known.operating_state(edge.target).number
            one = edge.step.power is None and len({known.machine.levels[i].input for i, _ in edge.step.levels}) == 1
            up = edge.step.power is True and all(
                value is known.machine.levels[i].at_rest for i, value in edge.step.levels
            )
            if (one or up) and state != known.operating_state(config).number:
                found.setdefault((Step(power=True) if up else edge.step, state), set()).add(config)
    told = [
        Ahead(words.step(known.machine, step), names[state], 0, len(where) == len(configs))
        for (step, state), where in found.items()
    ]
    return sorted(told, key=lambda one: (not one.always, one.cause, one.leads_to))
