"""Faults of rules by their kind: what a lockout, a count, an accumulator, a mode, a sequence, a toggle can do wrong.

Law of this module: what a rule can do wrong as its kind is here; what can go wrong with its expressions and times is in
modules of their own.
"""

from __future__ import annotations

from collections.abc import Iterator

from attrs import evolve

from boardgauge.faults.editing import everywhere, sites, with_table
from boardgauge.faults.fault import Fault
from boardgauge.faults.folding import ALWAYS, NO_EVENT, folded
from boardgauge.faults.naming import spoken
from boardgauge.language.expressions import (
    And,
    Condition,
    Edge,
    EdgeWord,
    Event,
    EventOr,
    Expression,
    For,
    InState,
    Name,
    Not,
    Trigger,
    TriggerOr,
    is_event,
    names,
    walk,
)
from boardgauge.language.model import (
    Accumulator,
    Board,
    Count,
    Delay,
    InputKind,
    Lockout,
    Mode,
    Rule,
    Sequence,
    Step,
    Toggle,
)
from boardgauge.language.quantities import EXACTLY, MIN, MS, Duration, Tolerance

_SOON = Duration(1 * MIN, EXACTLY)
_A_MOMENT = Duration(250 * MS, Tolerance(less=249 * MS, more=250 * MS))


def rule_faults(board: Board) -> Iterator[Fault]:
    """Give the faults of every rule, as its kind has them."""
    for rule in board.rules.values():
        match rule:
            case Delay():
                yield from _of_delay(board, rule)
            case Lockout():
                yield from _of_lockout(board, rule)
            case Count():
                yield from _of_count(board, rule)
            case Accumulator():
                yield from _of_accumulator(board, rule)
            case Sequence():
                yield from _of_sequence(board, rule)
            case Toggle():
                yield _toggle_stuck(board, rule)
            case Mode():
                pass
        yield from _power(board, rule)


def _fault(board: Board, rule: Rule, how: str, words: str, group: str, new: Rule) -> Fault:
    edited = with_table(board, "rules", rule.id, new)
    return Fault(f"{rule.id}.{how}", f"{spoken(board, rule.id)} {words}", group, rule.id, rule.note.clause, edited)


def _power(board: Board, rule: Rule) -> Iterator[Fault]:
    if rule.kept_without_power:
        words, how = "is lost with the supply", "lost-without-power"
    else:
        words, how = "outlasts a loss of the supply", "kept-without-power"
    yield _fault(board, rule, how, words, "power", evolve(rule, kept_without_power=not rule.kept_without_power))


# -- delays ------------------------------------------------------------------------------------------------------------


def _of_delay(board: Board, rule: Delay) -> Iterator[Fault]:
    if rule.if_begun_again == "starts over":
        words = "is not restarted when it begins again: it runs on"
        yield _fault(board, rule, "not-restarted", words, "begun again", evolve(rule, if_begun_again="runs on"))
    elif rule.if_begun_again == "runs on":
        words = "is restarted when it begins again"
        yield _fault(board, rule, "restarted", words, "begun again", evolve(rule, if_begun_again="starts over"))
    for switch, word in _bypassed(board, rule):
        begins = _or_event(rule.begins, Edge(Name(switch), word))
        words = f"is applied at every opening of {switch}, not only when it should begin"
        if word == "closes":
            words = f"is applied at every closing of {switch}, not only when it should begin"
        # What is applied at each opening runs as long as it always does: it is cut by the same things.
        new = evolve(rule, begins=begins, if_begun_again=rule.if_begun_again or "starts over")
        yield _fault(board, rule, f"at-each-{word}.{switch}", words, "bypass at each opening", new)


def _or_event(a: Event, b: Event) -> Event:
    return EventOr((*a.items, b)) if isinstance(a, EventOr) else EventOr((a, b))


def _bypassed(board: Board, rule: Delay) -> Iterator[tuple[str, EdgeWord]]:
    """Give the switches that are overlooked while a delay runs: they stand beside ``not`` it in one condition."""
    found = set()
    for site in sites(board):
        for node in walk(site.expression):
            if isinstance(node, And):
                items = set(_flat(board, node))
                if Not(Name(rule.id)) in items:
                    found |= {(item.name, item.state) for item in items if isinstance(item, InState)}
    for name, state in sorted(found):
        row = board.inputs[name]
        rest = "closed" if row.contact == "normally closed" else "open"
        if row.kind is InputKind.SWITCH and state != rest:
            yield name, "opens" if state == "open" else "closes"


def _flat(board: Board, condition: Condition) -> Iterator[Condition]:
    if isinstance(condition, And):
        for item in condition.items:
            yield from _flat(board, item)
    elif isinstance(condition, Name) and condition.name in board.conditions:
        yield from _flat(board, board.conditions[condition.name].is_)
    else:
        yield condition


# -- lockouts ----------------------------------------------------------------------------------------------------------


def _of_lockout(board: Board, rule: Lockout) -> Iterator[Fault]:
    if not is_event(rule.trips) and not isinstance(rule.trips, TriggerOr):
        # A moment later, since what trips a lockout mostly goes as it trips.
        gone = For(Not(rule.trips), _A_MOMENT)  # type: ignore[arg-type]  # neither an event nor a mixture
        clears = _or(rule.clears, gone)
        words = "does not latch: it clears as soon as its cause has gone"
        yield _fault(board, rule, "not-latched", words, "lockout", evolve(rule, clears=clears))
    for name in sorted(_behind(board, rule.trips)):
        row = board.inputs[name]
        if row.kind in (InputKind.CALL, InputKind.SIGNAL):
            event, how = Edge(Name(name), "ends"), f"as {name} goes off"
        elif row.kind is InputKind.SWITCH:
            rests = row.contact == "normally closed"
            event = Edge(Name(name), "closes" if rests else "opens")
            how = f"as {name} {'closes' if rests else 'opens'}"
        else:
            continue
        new = evolve(rule, clears=_or(rule.clears, event))
        yield _fault(board, rule, f"cleared-by.{name}", f"is cleared {how}", "lockout", new)
    for row in board.inputs.values():
        if row.kind is InputKind.BUTTON:
            new = evolve(rule, clears=_or(rule.clears, Edge(Name(row.id), "begins")))
            yield _fault(board, rule, f"cleared-by.{row.id}", f"is cleared by pressing {row.id}", "lockout", new)
    if rule.clears is not None:
        words = "is cleared by nothing but a loss of the supply"
        yield _fault(board, rule, "hard", words, "lockout", evolve(rule, clears=None, lasts=None))


def _or(trigger: Trigger | None, more: Condition | Event) -> Trigger:
    return more if trigger is None else folded(TriggerOr((trigger, more)))  # type: ignore[arg-type]  # folded at once


def _behind(board: Board, expression: Expression) -> set[str]:
    """Give the inputs that an expression looks at, through names of conditions and counts."""
    found, waiting, seen = set[str](), [name for name, _ in names(expression)], set[str]()
    while waiting:
        name = waiting.pop()
        if name in seen:
            continue
        seen.add(name)
        rule = board.rules.get(name)
        if name in board.inputs:
            found.add(name)
        elif name in board.conditions:
            waiting += [n for n, _ in names(board.conditions[name].is_)]
        elif isinstance(rule, Count):
            waiting += [n for n, _ in names(rule.counts)]
        elif isinstance(rule, Lockout):
            waiting += [n for n, _ in names(rule.trips)]
    return found


# -- counts and accumulators -------------------------------------------------------------------------------------------


def _of_count(board: Board, rule: Count) -> Iterator[Fault]:
    words = f"counts to {rule.limit + 1} in place of {rule.limit}"
    yield _fault(board, rule, "one-more", words, "count", evolve(rule, limit=rule.limit + 1))
    if rule.limit > 1:
        words = f"counts to {rule.limit - 1} in place of {rule.limit}"
        yield _fault(board, rule, "one-less", words, "count", evolve(rule, limit=rule.limit - 1))
    if rule.forgets is not None:
        yield _fault(board, rule, "not-forgotten", "is never forgotten", "count", evolve(rule, forgets=None))
    if rule.within is None:
        new: Rule = evolve(rule, within=_SOON)
        yield _fault(board, rule, "forgotten-soon", "forgets each event after 1 min", "count", new)
    if isinstance(rule.counts, Edge) and rule.counts.word in _ENDS:
        forgets = _or(rule.forgets, Edge(rule.counts.of, _ENDS[rule.counts.word]))
        words = "forgets as soon as what it counted is over"
        yield _fault(board, rule, "forgotten-at-end", words, "count", evolve(rule, forgets=forgets))


_ENDS: dict[EdgeWord, EdgeWord] = {"begins": "ends", "ends": "begins", "opens": "closes", "closes": "opens"}


def _of_accumulator(board: Board, rule: Accumulator) -> Iterator[Fault]:
    new = evolve(rule, adds_while=ALWAYS)
    yield _fault(board, rule, "not-paused", "does not pause: it adds up all the time", "accumulator", new)
    new = evolve(rule, resets=_or(rule.resets, Edge(rule.adds_while, "ends")))
    yield _fault(board, rule, "not-kept", "does not keep what it added up when it pauses", "accumulator", new)
    if rule.resets is not None:
        yield _fault(board, rule, "not-reset", "is not reset", "accumulator", evolve(rule, resets=None))


# -- sequences and toggles ----------------------------------------------------------------------------------------


def _of_sequence(board: Board, rule: Sequence) -> Iterator[Fault]:
    order = [step.name for step in rule.steps]
    for index, step in enumerate(rule.steps):
        called = step.name.replace("_", " ")
        skipped = _skipping(rule, step)
        if skipped is not None:
            yield _fault(board, rule, f"{step.name}.skipped", f"skips {called}", "sequence", skipped)
        after = order[(order.index(step.then) + 1) % len(order)] if step.then in order else order[0]
        for key in ("then", "if_not"):
            right = getattr(step, key)
            if right is None:
                continue
            for wrong in dict.fromkeys(("end", order[0], after)):
                if wrong not in (right, step.name):
                    steps = list(rule.steps)
                    steps[index] = evolve(step, then=wrong) if key == "then" else evolve(step, if_not=wrong)
                    way = "goes on" if key == "then" else "goes, when its time is over,"
                    words = f"{way} from {called} to {wrong.replace('_', ' ')} in place of {right.replace('_', ' ')}"
                    yield _fault(
                        board, rule, f"{step.name}.{key}.{wrong}", words, "sequence", evolve(rule, steps=tuple(steps))
                    )


def _skipping(rule: Sequence, gone: Step) -> Sequence | None:
    """Give the sequence that passes over a step; None where nothing comes after it that could be gone to."""
    if gone.then == gone.name:
        return None

    def past(target: str) -> str:
        return gone.then if target == gone.name else target

    steps = [evolve(s, then=past(s.then), if_not=None if s.if_not is None else past(s.if_not)) for s in rule.steps]
    if rule.steps[0] is gone:
        first = next((s for s in steps if s.name == gone.then), None)
        if first is None:
            return None
        steps = [first, *(s for s in steps if s is not first)]
    return evolve(rule, steps=tuple(steps))


def _toggle_stuck(board: Board, rule: Toggle) -> Fault:
    def change(expression: Expression) -> Expression | None:
        if isinstance(expression, Edge) and expression.of == Name(rule.id):
            return NO_EVENT
        return ALWAYS if expression == Name(rule.id) else None

    edited = everywhere(board, change)
    words = f"{spoken(board, rule.id)} stuck changed over"
    return Fault(f"{rule.id}.stuck-over", words, "toggle", rule.id, rule.note.clause, edited)
