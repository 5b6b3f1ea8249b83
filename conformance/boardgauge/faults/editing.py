"""Edit boards: an expression here, a time there, an output that no longer follows its command.

Law of this module: an edited board says what it was asked to say and nothing else; whatever the edit needs to be said
in the language (a condition that never holds, the command of an output apart from its terminal) is added with it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Literal, cast

from attrs import evolve, frozen

from boardgauge.faults.folding import ALWAYS, NEVER, NO_EVENT, folded, mentions_never, replaced
from boardgauge.language.expressions import And, Condition, Event, Expression, InState, Name, Not, State
from boardgauge.language.model import (
    NOWHERE,
    Board,
    InputKind,
    Lockout,
    Mode,
    NamedCondition,
    Note,
    Output,
    Position,
    Rule,
    Sequence,
    SettingRef,
)

Kind = Literal["condition", "event", "trigger"]

_RULE_KEYS: dict[str, tuple[tuple[str, Kind, bool], ...]] = {
    "Delay": (("begins", "event", True), ("cut_by", "trigger", False)),
    "Lockout": (("trips", "trigger", True), ("clears", "trigger", False)),
    "Count": (("counts", "event", True), ("forgets", "trigger", False)),
    "Accumulator": (("adds_while", "condition", True), ("resets", "trigger", False)),
    "Mode": (("begins", "trigger", True), ("ends", "trigger", True)),
    "Sequence": (("begins", "trigger", True), ("ends", "trigger", True)),
    "Toggle": (("flips", "event", True),),
}
"""The expressions of a rule: key, what may stand there, and whether something must."""


STATES: dict[InputKind, tuple[State, State]] = {
    InputKind.CALL: ("on", "off"),
    InputKind.SIGNAL: ("on", "off"),
    InputKind.SWITCH: ("closed", "open"),
    InputKind.LINK: ("fitted", "open"),
    InputKind.BUTTON: ("pressed", "released"),
}
"""The words for the two levels of an input: closed, then open."""


@frozen
class Site:
    """A place of a board where an expression stands: a table of a section, and the key in it."""

    section: str
    id: str
    key: str
    kind: Kind
    required: bool
    expression: Expression
    index: int = -1
    """Of a line of a lamp or a step of a sequence."""

    def put(self, board: Board, new: Expression) -> Board:
        """Give the board with another expression here; its constants are folded."""
        told: Expression | None = folded(new)
        if self.kind == "event" and told == NEVER:
            told = NO_EVENT
        if not self.required and told in (NEVER, NO_EVENT):
            told = None
        return self.put_as_is(board, told)

    def put_as_is(self, board: Board, told: Expression | None) -> Board:
        """Give the board with another expression here, as it is."""
        table = getattr(board, self.section)[self.id]
        if self.section == "lamps":
            lines = list(table.lines)
            lines[self.index] = evolve(lines[self.index], when=told)
            return with_table(board, self.section, self.id, evolve(table, lines=tuple(lines)))
        if self.index >= 0:
            steps = list(table.steps)
            steps[self.index] = _with_until(steps[self.index], told)
            return with_table(board, self.section, self.id, evolve(table, steps=tuple(steps)))
        key = "is_" if self.key == "is" else self.key
        return with_table(board, self.section, self.id, evolve(table, **{key: told}))


def _with_until(step: Any, until: Expression | None) -> Any:
    if until is None and step.lasts is not None:
        # Without what ends it, the step lasts its time and goes on to where it went when nothing ended it.
        return evolve(step, until=None, then=step.if_not, if_not=None)
    return evolve(step, until=NEVER if until is None else until)


def sites(board: Board) -> Iterator[Site]:
    """Give every expression that says what the board does: of conditions, rules, outputs and lamps."""
    for id_, named in board.conditions.items():
        yield Site("conditions", id_, "is", "condition", True, named.is_)
    for id_, rule in board.rules.items():
        for key, kind, required in _RULE_KEYS[type(rule).__name__]:
            expression = getattr(rule, key)
            if expression is not None:
                yield Site("rules", id_, key, kind, required, expression)
        if isinstance(rule, Sequence):
            for index, step in enumerate(rule.steps):
                if step.until is not None:
                    yield Site("rules", id_, "until", "condition", False, step.until, index)
    for id_, output in board.outputs.items():
        for key in ("on", "starts", "stops"):
            expression = getattr(output, key)
            if expression is not None:
                yield Site("outputs", id_, key, "condition", True, expression)
    for id_, lamp in board.lamps.items():
        for index, line in enumerate(lamp.lines):
            if line.when is not None:
                yield Site("lamps", id_, "when", "condition", True, line.when, index)


def with_table(board: Board, section: str, id_: str, table: object) -> Board:
    """Give the board with one of its tables replaced, or added."""
    tables: dict[str, Any] = {section: {**getattr(board, section), id_: table}}
    return evolve(board, **tables)


def everywhere(board: Board, change: Callable[[Expression], Expression | None]) -> Board:
    """Give the board with a change made in every expression: what it does, what chooses and speeds up."""
    edited = board
    for site in sites(board):
        new = replaced(site.expression, change)
        if new != site.expression:
            edited = site.put(edited, new)
    for id_, speed_up in board.speed_ups.items():
        while_ = folded(replaced(speed_up.while_, change))
        if while_ != speed_up.while_:
            edited = with_table(edited, "speed_ups", id_, evolve(speed_up, while_=cast(Condition, while_)))
    for id_ in board.settings:
        edited = _setting_everywhere(edited, id_, change)
    stretches = tuple(evolve(row, after=cast(Event, folded(replaced(row.after, change)))) for row in edited.not_judged)
    return edited if stretches == edited.not_judged else evolve(edited, not_judged=stretches)


def _setting_everywhere(board: Board, id_: str, change: Callable[[Expression], Expression | None]) -> Board:
    setting = board.settings[id_]
    positions: list[Position] = []
    for position in setting.positions:
        if position.when is None:
            return board
        when = folded(replaced(position.when, change))
        if when == ALWAYS:
            return reading(board, id_, position)
        if when != NEVER:
            positions.append(evolve(position, when=cast(Condition, when)))
    return with_table(board, "settings", id_, evolve(setting, positions=tuple(positions)))


def reading(board: Board, setting: str, position: Position) -> Board:
    """Give the board that takes a setting for one position, wherever it stands: its rules have that time."""
    edited = board
    for id_, rule in board.rules.items():
        new = with_times(rule, lambda lasting: position.is_ if lasting == SettingRef(setting) else lasting)
        if new != rule:
            edited = with_table(edited, "rules", id_, new)
    return edited


def with_times(rule: Rule, change: Callable[[Any], Any]) -> Rule:
    """Give the rule with each of its times (``Lasting``) as ``change`` gives it."""
    told: Rule = rule
    for key in ("lasts", "within", "target", "at_least", "at_most"):
        lasting = getattr(rule, key, None)
        if lasting is not None:
            told = evolve(told, **{key: change(lasting)})
    if isinstance(told, Sequence):
        steps = tuple(s if s.lasts is None else evolve(s, lasts=change(s.lasts)) for s in told.steps)
        told = evolve(told, steps=steps)
    return told


def names_of(board: Board) -> frozenset[str]:
    """Give every name a board declares."""
    steps = {s.name for rule in board.rules.values() if isinstance(rule, Sequence) for s in rule.steps}
    tables = (board.inputs, board.settings, board.conditions, board.rules, board.outputs, board.lamps)
    return frozenset(steps.union(*tables))


def fresh_name(board: Board, wish: str) -> str:
    """Give a name that the board does not have yet."""
    taken = {name.lower() for name in names_of(board)}
    while wish.lower() in taken:
        wish += "_"
    return wish


def apart(board: Board, output: str) -> tuple[Board, Name]:
    """Part an output's command from its terminal: give the board, and the name of the command.

    Whatever looked at the output looks at its command then; the terminal still follows it.
    """
    row = board.outputs[output]
    name = fresh_name(board, f"{output}_command")

    def renamed(expression: Expression) -> Expression | None:
        return Name(name) if expression == Name(output) else None

    edited = everywhere(board, renamed)
    row = edited.outputs[output]
    note = Note(clause=row.note.clause)
    if row.on is not None:
        edited = with_table(edited, "conditions", name, NamedCondition(name, row.on, note, at=row.at))
    else:
        assert row.starts is not None
        assert row.stops is not None
        edited = with_table(edited, "rules", name, Mode(name, row.starts, row.stops, note=note, at=row.at))
    return with_output(edited, output, Name(name)), Name(name)


def with_output(board: Board, output: str, on: Condition) -> Board:
    """Give the board with a terminal that is on exactly while a condition holds."""
    row = board.outputs[output]
    new: Output = evolve(row, on=cast(Condition, folded(on)), starts=None, stops=None)
    return with_table(board, "outputs", output, new)


def declared(board: Board) -> Board:
    """Give the board with each constant said in the language: that an input is in a state and is not.

    A board without an input of two states gets a lockout that nothing trips.
    """
    if not _needs_never(board):
        return board
    row = next((row for row in board.inputs.values() if row.kind is not InputKind.SENSOR), None)
    if row is None:
        name = fresh_name(board, "never")
        never: Condition = Name(name)
        board = with_table(board, "rules", name, Lockout(name, never, None, at=NOWHERE))
    else:
        state = InState(row.id, STATES[row.kind][0])
        never = And((state, Not(state)))

    def said(expression: Expression) -> Expression | None:
        return never if expression == NEVER else None

    edited = board
    for site in sites(board):
        if mentions_never(site.expression):
            edited = site.put_as_is(edited, replaced(site.expression, said))
    for id_, speed_up in board.speed_ups.items():
        while_ = cast(Condition, replaced(speed_up.while_, said))
        edited = with_table(edited, "speed_ups", id_, evolve(speed_up, while_=while_))
    rows = tuple(evolve(stretch, after=cast(Event, replaced(stretch.after, said))) for stretch in edited.not_judged)
    return evolve(edited, not_judged=rows)


def _needs_never(board: Board) -> bool:
    return (
        any(mentions_never(site.expression) for site in sites(board))
        or any(mentions_never(row.while_) for row in board.speed_ups.values())
        or any(mentions_never(row.after) for row in board.not_judged)
    )
