"""What to warn of in a spec that is well formed.

Law of this module: advice never stops anybody. It is found without running the board: by what reads what, and by
trying conditions as
propositions. What only the running board shows (that a rule contradicts itself, that a count stays reached) is for
the exploration.
"""

from __future__ import annotations

from collections.abc import Iterator

from attrs import frozen

from boardgauge.language.expressions import Condition, Trigger, names
from boardgauge.language.happenings import can_happen
from boardgauge.language.lamp_advice import lamp_advice
from boardgauge.language.model import Board, Lockout, Mode, Output, Rule, Sequence, SettingRef, Spot
from boardgauge.language.propositions import Propositions
from boardgauge.language.scope import expressions_of, rule_expressions, rule_times


@frozen(order=True)
class Advice:
    """Something to look at again. ``key`` is the dotted path of what it is about."""

    at: Spot
    key: str
    message: str

    def __str__(self) -> str:
        return f"{self.at}: {self.key}: {self.message}"


def advise(board: Board) -> tuple[Advice, ...]:
    """Give the warnings about a checked board that need no exploration, in the order of the file."""
    return tuple(sorted(_Adviser(board).all()))


class _Adviser:
    def __init__(self, board: Board) -> None:
        self.board = board
        self.propositions = Propositions(board)
        self.reads = reads_of(board)
        self.used = set().union(*self.reads.values())
        by_outputs: set[str] = set()
        for id_ in board.outputs:
            by_outputs |= reached(id_, self.reads)
        self.by_outputs = by_outputs

    def all(self) -> Iterator[Advice]:
        """Give every warning."""
        yield from self._unused()
        for id_, rule in self.board.rules.items():
            yield from self._rule(id_, rule)
        for id_, condition in self.board.conditions.items():
            yield from self._constant(f"conditions.{id_}.is", condition.is_, condition.at)
        for id_, output in self.board.outputs.items():
            yield from self._output(id_, output)
        yield from self._no_lag()
        for lamp in self.board.lamps.values():
            for key, message in lamp_advice(lamp, self.propositions):
                yield Advice(lamp.at, key, message)

    def _unused(self) -> Iterator[Advice]:
        for section, what in (("inputs", "input is never read"), ("settings", "setting is never used")):
            for id_, item in getattr(self.board, section).items():
                if id_ not in self.used:
                    yield Advice(item.at, f"{section}.{id_}", f"the {what}")
        for id_, condition in self.board.conditions.items():
            if id_ not in self.used:
                yield Advice(condition.at, f"conditions.{id_}", "the condition is never used")
        for id_, rule in self.board.rules.items():
            known_by = {id_, *(step.name for step in rule.steps)} if isinstance(rule, Sequence) else {id_}
            if not known_by & self.by_outputs and isinstance(rule, Lockout):
                yield Advice(rule.at, f"rules.{id_}", "no output depends on the lockout, so it holds nothing off")
            elif not known_by & self.used:
                yield Advice(rule.at, f"rules.{id_}", "the rule is never used")

    def _rule(self, id_: str, rule: Rule) -> Iterator[Advice]:
        expressions = rule_expressions(rule)
        for name, what in _STARTS.items():
            trigger = expressions.get(name)
            if trigger is not None and self._never(trigger):
                yield Advice(rule.at, f"rules.{id_}.{name}", f"this never happens, so the rule never {what}")
        ends = _end_of(rule)
        if ends is not None and self._never(ends[1]):
            yield Advice(rule.at, f"rules.{id_}.{ends[0]}", "this never happens, so the rule never ends by it")

    def _never(self, trigger: Trigger) -> bool:
        return can_happen(trigger, self.propositions) is False

    def _constant(self, key: str, condition: Condition, at: Spot) -> Iterator[Advice]:
        if self.propositions.can_hold(condition) is False:
            yield Advice(at, key, "the condition can never hold")
        elif self.propositions.must_hold(condition):
            yield Advice(at, key, "the condition always holds")

    def _output(self, id_: str, output: Output) -> Iterator[Advice]:
        for name, condition in (("on", output.on), ("starts", output.starts)):
            if condition is not None and self.propositions.can_hold(condition) is False:
                yield Advice(output.at, f"outputs.{id_}.{name}", "this can never hold, so the output never comes on")
        if output.on is not None and self.propositions.must_hold(output.on):
            yield Advice(output.at, f"outputs.{id_}.on", "this always holds, so the output is never off")
        if output.stops is not None and self.propositions.can_hold(output.stops) is False:
            yield Advice(output.at, f"outputs.{id_}.stops", "this can never hold, so the output never goes off")

    def _no_lag(self) -> Iterator[Advice]:
        """Outputs that one cause moves are told to change in the same microsecond unless one has a lag."""
        open_ = [id_ for id_, output in self.board.outputs.items() if output.lag == 0]
        causes = {id_: _direct_causes(id_, self.board, self.reads) for id_ in open_}
        while open_:
            group, shared = [open_.pop(0)], set[str]()
            grown = True
            while grown:
                grown = False
                for id_ in list(open_):
                    common = causes[id_] & set().union(*(causes[member] for member in group))
                    if common:
                        open_.remove(id_)
                        group.append(id_)
                        shared |= common
                        grown = True
            if len(group) > 1:
                message = (
                    f"{', '.join(group)} hang on {', '.join(sorted(shared))} together and none has a lag: "
                    "a real board never changes two outputs in the same microsecond; give each the time that its relay "
                    'takes at most, as in lag = "30 ms"'
                )
                yield Advice(self.board.outputs[group[0]].at, f"outputs.{group[0]}.lag", message)


_STARTS = {
    "begins": "begins",
    "trips": "trips",
    "counts": "counts anything",
    "adds_while": "adds anything up",
    "flips": "changes over",
}


def _end_of(rule: Rule) -> tuple[str, Trigger] | None:
    """Give the trigger without which the rule has no end, if it has no time of its own to end it."""
    match rule:
        case Lockout(clears=clears, lasts=None) if clears is not None:
            return "clears", clears
        case Mode(ends=ends, at_most=None):
            return "ends", ends
        case Sequence(ends=ends) if not any(step.then == "end" or step.if_not == "end" for step in rule.steps):
            return "ends", ends
    return None


def reads_of(board: Board) -> dict[str, set[str]]:
    """Give, for each thing, the names its expressions and times mention; requirements and the like count as things."""
    found: dict[str, set[str]] = {}
    for key, expression in expressions_of(board):
        section, _, rest = key.partition(".")
        owner = rest.split(".")[0] if section in _SHARED else key
        found.setdefault(owner, set()).update(name for name, _ in names(expression))
    for id_, rule in board.rules.items():
        mine = found.setdefault(id_, set())
        mine.update(time.setting for time in rule_times(rule).values() if isinstance(time, SettingRef))
        for step in rule.steps if isinstance(rule, Sequence) else ():
            found[step.name] = {id_}
    return found


_SHARED = ("settings", "conditions", "rules", "outputs", "lamps")


def reached(start: str, reads: dict[str, set[str]]) -> set[str]:
    """Give all that a thing hangs on, directly or not."""
    found: set[str] = set()
    waiting = [start]
    while waiting:
        for name in reads.get(waiting.pop(), ()):
            if name not in found:
                found.add(name)
                waiting.append(name)
    return found


def _direct_causes(id_: str, board: Board, reads: dict[str, set[str]]) -> set[str]:
    """Give the inputs and rules that move an output at once: what it reads, conditions and plain outputs looked
    through.
    """
    found: set[str] = set()
    steps = Propositions(board).steps
    waiting, seen = [id_], {id_}
    while waiting:
        for name in reads.get(waiting.pop(), ()):
            plain_output = name in board.outputs and board.outputs[name].on is not None
            if name in board.conditions or plain_output:
                if name not in seen:
                    seen.add(name)
                    waiting.append(name)
            else:
                found.add(steps.get(name, name))
    return found
