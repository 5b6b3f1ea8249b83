"""Compile a board spec into its reference machine.

Law of this module: a pure function from a checked ``Board`` to a ``Machine``; the same board gives the same table,
whatever order its rules are declared in apart from the numbering.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from attrs import define, field

from boardgauge.language import expressions as ex
from boardgauge.language import model
from boardgauge.language.quantities import EXACTLY, Duration
from boardgauge.machine.table import (
    DelayRow,
    Level,
    Machine,
    Move,
    OutputRow,
    Region,
    Role,
    SpeedUpRow,
    Timing,
    TogetherRow,
    Watch,
)

_AT_REST_TRUE = {("switch", "normally closed")}


def compile_board(board: model.Board) -> Machine:
    """Give the reference machine of a board that passed the checks of the language."""
    return _Compiler(board).compile()


def expressions_of(board: model.Board) -> Iterator[tuple[str, ex.Expression]]:
    """Give every expression of the board with the id of the table it stands in."""
    for setting in board.settings.values():
        for position in setting.positions:
            if position.when is not None:
                yield setting.id, position.when
    for condition in board.conditions.values():
        yield condition.id, condition.is_
    for rule in board.rules.values():
        for expression in _rule_expressions(rule):
            yield rule.id, expression
    for output in board.outputs.values():
        for part in (output.on, output.starts, output.stops):
            if part is not None:
                yield output.id, part
    for lamp in board.lamps.values():
        for line in lamp.lines:
            if line.when is not None:
                yield lamp.id, line.when
    for requirement in board.requirements.values():
        for expression in _requirement_expressions(requirement):
            yield requirement.id, expression
    for speed_up in board.speed_ups.values():
        yield speed_up.id, speed_up.while_
    for stretch in board.not_judged:
        yield "not_judged", stretch.after


def _rule_expressions(rule: model.Rule) -> Iterator[ex.Expression]:
    parts: tuple[ex.Expression | None, ...]
    match rule:
        case model.Delay():
            parts = (rule.begins, rule.cut_by)
        case model.Lockout():
            parts = (rule.trips, rule.clears)
        case model.Count():
            parts = (rule.counts, rule.forgets)
        case model.Accumulator():
            parts = (rule.adds_while, rule.resets)
        case model.Mode():
            parts = (rule.begins, rule.ends)
        case model.Sequence():
            parts = (rule.begins, rule.ends, *(step.until for step in rule.steps))
        case model.Toggle():
            parts = (rule.flips,)
    yield from (part for part in parts if part is not None)


def _requirement_expressions(requirement: model.Requirement) -> Iterator[ex.Expression]:
    demand = requirement.demand
    parts: tuple[ex.Expression | None, ...]
    match demand:
        case model.Never(what=what):
            parts = (what,)
        case model.Always(what=holds):
            parts = (holds,)
        case model.Follows():
            parts = (demand.after, demand.then)
        case model.Together():
            parts = (demand.after,)
    yield from (part for part in (*parts, requirement.except_while) if part is not None)


@define
class _Compiler:
    board: model.Board
    levels: list[Level] = field(factory=list)
    regions: list[Region] = field(factory=list)
    delays: list[DelayRow] = field(factory=list)
    timings: list[Timing] = field(factory=list)
    watches: list[Watch] = field(factory=list)
    masks: list[tuple[int, tuple[str, ...]]] = field(factory=list)

    def compile(self) -> Machine:
        self._add_levels()
        for rule in self.board.rules.values():
            self._add_rule(rule)
        outputs = tuple(self._output(index, output) for index, output in enumerate(self.board.outputs.values()))
        for owner, expression in expressions_of(self.board):
            self._add_for_timings(owner, expression)
        for requirement in self.board.requirements.values():
            self._add_watch(requirement)
        for number, stretch in enumerate(self.board.not_judged):
            self._add_mask(number, stretch)
        speed_ups = tuple(
            SpeedUpRow(index, row.id, row.while_, row.times_faster)
            for index, row in enumerate(self.board.speed_ups.values())
        )
        return Machine(
            self.board,
            tuple(self.levels),
            tuple(self.regions),
            tuple(self.delays),
            tuple(self.timings),
            outputs,
            speed_ups,
            tuple(self.watches),
            tuple(_togethers(self.board)),
            tuple(self.masks),
        )

    # -- inputs ------------------------------------------------------------------------------------------------

    def _add_levels(self) -> None:
        for row in self.board.inputs.values():
            if row.kind is not model.InputKind.SENSOR:
                at_rest = (row.kind.value, row.contact) in _AT_REST_TRUE
                self.levels.append(Level(len(self.levels), row.id, None, at_rest))
        seen: set[ex.Comparison] = set()
        for _, expression in expressions_of(self.board):
            for node in ex.walk(expression):
                if isinstance(node, ex.Comparison) and node not in seen:
                    seen.add(node)
                    self.levels.append(Level(len(self.levels), node.name, node, False))

    # -- timings -----------------------------------------------------------------------------------------------

    def _timing(
        self,
        name: str,
        role: Role,
        owner: str,
        lasts: model.Lasting,
        note: model.Note = model.NO_NOTE,
        at: model.Spot = model.NOWHERE,
        condition: ex.Condition | None = None,
    ) -> int:
        index = len(self.timings)
        setting = None
        choices: tuple[Duration, ...]
        clause = note.clause
        if isinstance(lasts, model.SettingRef):
            setting = lasts.setting
            row = self.board.settings[setting]
            choices = tuple(position.is_ for position in row.positions)
            clause = clause or row.note.clause
        else:
            choices = (lasts,)
        speed_ups = tuple(
            number for number, row in enumerate(self.board.speed_ups.values()) if owner in row.what and role != "for"
        )
        self.timings.append(Timing(index, name, role, owner, choices, setting, speed_ups, condition, clause, at=at))
        return index

    def _add_for_timings(self, owner: str, expression: ex.Expression) -> None:
        note, at = _note_of(self.board, owner)
        for node in ex.walk(expression):
            if isinstance(node, ex.For) and not any(t.condition is node for t in self.timings):
                count = sum(1 for t in self.timings if t.role == "for" and t.owner == owner)
                name = f"{owner} for" if count == 0 else f"{owner} for {count + 1}"
                self._timing(name, "for", owner, node.lasts, note, at, condition=node)

    # -- rules -------------------------------------------------------------------------------------------------

    def _add_rule(self, rule: model.Rule) -> None:
        if isinstance(rule, model.Delay):
            timing = self._timing(rule.id, "delay", rule.id, rule.lasts, rule.note, rule.at)
            self.delays.append(
                DelayRow(
                    len(self.delays),
                    rule.id,
                    timing,
                    rule.begins,
                    rule.cut_by,
                    rule.if_begun_again != "runs on",
                    kept_without_power=rule.kept_without_power,
                )
            )
            return
        match rule:
            case model.Lockout():
                self._lockout(rule)
            case model.Count():
                self._count(rule)
            case model.Accumulator():
                self._accumulator(rule)
            case model.Mode():
                self._mode(rule)
            case model.Sequence():
                self._sequence(rule)
            case model.Toggle():
                self._toggle(rule)

    def _region(self, rule: model.Rule, kind: str, places: tuple[str, ...], moves: list[Move], *timings: int) -> None:
        self.regions.append(
            Region(
                len(self.regions),
                rule.id,
                kind,  # type: ignore[arg-type]  # the callers below pass the literals of Region.kind
                places,
                tuple(moves),
                timings,
                rule.kept_without_power,
                rule.note.clause,
                at=rule.at,
            )
        )

    def _lockout(self, rule: model.Lockout) -> None:
        moves = [Move("clear", "tripped", rule.trips)]
        timings = []
        if rule.clears is not None:
            moves.append(Move("tripped", "clear", rule.clears))
        if rule.lasts is not None:
            timings.append(self._timing(rule.id, "lasts", rule.id, rule.lasts, rule.note, rule.at))
            moves.append(Move("tripped", "clear", timing=timings[0], words="its time is over"))
        if rule.clears is None:
            moves.append(Move("tripped", "clear", words="only by power loss"))
        self._region(rule, "lockout", ("clear", "tripped"), moves, *timings)

    def _count(self, rule: model.Count) -> None:
        places = tuple(str(number) for number in range(rule.limit + 1))
        moves = [Move(a, b, rule.counts) for a, b in pairwise(places)]
        timings = []
        if rule.within is not None:
            timings.append(self._timing(f"{rule.id} window", "window", rule.id, rule.within, rule.note, rule.at))
            moves += [Move(b, a, timing=timings[0], words="the oldest is too old") for a, b in pairwise(places)]
        if rule.forgets is not None:
            moves += [Move(place, places[0], rule.forgets) for place in places[1:]]
        self._region(rule, "count", places, moves, *timings)

    def _accumulator(self, rule: model.Accumulator) -> None:
        timing = self._timing(rule.id, "target", rule.id, rule.target, rule.note, rule.at)
        moves = [Move("adding up", "reached", timing=timing, words="its time is full")]
        if rule.resets is not None:
            moves += [Move("reached", "adding up", rule.resets), Move("adding up", "adding up", rule.resets)]
        self._region(rule, "accumulator", ("adding up", "reached"), moves, timing)

    def _mode(self, rule: model.Mode) -> None:
        moves = [Move("off", "on", rule.begins), Move("on", "off", rule.ends)]
        timings = []
        if rule.at_most is not None:
            timings.append(self._timing(rule.id, "at most", rule.id, rule.at_most, rule.note, rule.at))
            moves.append(Move("on", "off", timing=timings[-1], words="it has lasted its longest"))
        if rule.at_least is not None:
            name = f"{rule.id} at least"
            timings.append(self._timing(name, "at least", rule.id, rule.at_least, rule.note, rule.at))
        self._region(rule, "mode", ("off", "on"), moves, *timings)

    def _sequence(self, rule: model.Sequence) -> None:
        places = ("out", *(step.name for step in rule.steps))
        moves = [Move("out", rule.steps[0].name, rule.begins)]
        moves += [Move(step.name, "out", rule.ends) for step in rule.steps]
        timings = []
        for step in rule.steps:
            if step.until is not None:
                moves.append(Move(step.name, _place(step.then), step.until))
            if step.lasts is not None:
                timing = self._timing(step.name, "step", rule.id, step.lasts, rule.note, rule.at)
                timings.append(timing)
                target = step.if_not if step.until is not None and step.if_not is not None else step.then
                moves.append(Move(step.name, _place(target), timing=timing, words="its time is over"))
        self._region(rule, "sequence", places, moves, *timings)

    def _toggle(self, rule: model.Toggle) -> None:
        self._region(rule, "toggle", ("off", "on"), [Move("off", "on", rule.flips), Move("on", "off", rule.flips)])

    def _output(self, index: int, output: model.Output) -> OutputRow:
        region = None
        if output.on is None:
            assert output.starts is not None
            assert output.stops is not None
            region = len(self.regions)
            moves = (Move("off", "on", output.starts), Move("on", "off", output.stops))
            self.regions.append(
                Region(region, output.id, "output", ("off", "on"), moves, clause=output.note.clause, at=output.at)
            )
        return OutputRow(index, output.id, output.lag, output.on, region, output.note.clause)

    # -- requirements and stretches not judged -------------------------------------------------------------------

    def _hidden_delay(
        self,
        name: str,
        role: Role,
        owner: str,
        lasts: Duration,
        begins: ex.Event,
        cut_by: ex.Trigger | None,
        over: bool,
    ) -> int:
        note, at = _note_of(self.board, owner)
        timing = self._timing(name, role, owner, lasts, note, at)
        self.delays.append(DelayRow(len(self.delays), name, timing, begins, cut_by, over, hidden=True))
        return timing

    def _add_watch(self, requirement: model.Requirement) -> None:
        demand = requirement.demand
        name = f"{requirement.id} (requirement)"
        for expression in _requirement_expressions(requirement):
            for node in ex.walk(expression):
                if isinstance(node, ex.LessThanAfter):
                    lasts = Duration(node.time.nominal, EXACTLY)
                    # A name of its own: the one below is looked up by its name.
                    after = f"{requirement.id} (less than)"
                    self._hidden_delay(after, "requirement", requirement.id, lasts, node.after, None, True)
        if isinstance(demand, model.Never):
            self.watches.append(Watch(requirement, demand.what))
        elif isinstance(demand, model.Always):
            self.watches.append(Watch(requirement, ex.Not(demand.what)))
        elif isinstance(demand, model.Follows):
            lasts = Duration(demand.within, EXACTLY)
            timing = self._hidden_delay(name, "requirement", requirement.id, lasts, demand.after, demand.then, False)
            self.watches.append(Watch(requirement, ex.Edge(ex.Name(name), "expires"), timing))

    def _add_mask(self, number: int, stretch: model.NotJudged) -> None:
        # Said to whoever judges, not to the board: the board's tolerance has no part in it.
        lasts = Duration(stretch.lasts.nominal, EXACTLY)
        timing = self._hidden_delay(
            f"not judged {number + 1}", "not judged", "not_judged", lasts, stretch.after, None, True
        )
        self.masks.append((timing, stretch.signals))


def _togethers(board: model.Board) -> Iterator[TogetherRow]:
    number = {output: index for index, output in enumerate(board.outputs)}
    index = 0
    for requirement in board.requirements.values():
        demand = requirement.demand
        if isinstance(demand, model.Together):
            outputs = tuple(number[output] for output in demand.outputs)
            yield TogetherRow(index, requirement, outputs, demand.within, demand.after)
            index += 1


def _place(step: str) -> str:
    return "out" if step == "end" else step


def _note_of(board: model.Board, owner: str) -> tuple[model.Note, model.Spot]:
    for tables in (board.rules, board.conditions, board.outputs, board.requirements, board.lamps, board.settings):
        row = tables.get(owner)
        if row is not None:
            return row.note, row.at
    return model.NO_NOTE, board.at
