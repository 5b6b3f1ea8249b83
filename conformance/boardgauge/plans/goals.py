"""What of a machine a plan is to show, faults apart: moves of rules, lines of lamps, parts of conditions.

Law of this module: a goal is one that exploring the machine reaches; what no way leads to is no goal, and is told.
Inputs may do anything in exploring and lengths are not looked at, so a goal may still be out of reach in time.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Literal, NamedTuple

from attrs import define, field, frozen

from boardgauge.language import expressions as ex
from boardgauge.language.expression_writer import write_expression
from boardgauge.language.model import Lamp
from boardgauge.language.quantity_writer import write_pattern
from boardgauge.machine.compile import expressions_of
from boardgauge.machine.explore import MOST_CONFIGS, Exploration, explore, hidden_timings
from boardgauge.machine.logic import Check
from boardgauge.machine.settle import Engine
from boardgauge.plans.instants import Noted
from boardgauge.plans.mcdc import Decision, Vector, shown
from boardgauge.plans.side import Instant


class Move(NamedTuple):
    """A region (index) goes from a place to another."""

    region: int
    source: int
    target: int


class Line(NamedTuple):
    """A lamp (index) shows a line (index) of its table."""

    lamp: int
    line: int


class Ending(NamedTuple):
    """A timing (index) runs out at its own rate, nothing speeding it up."""

    timing: int


class Part(NamedTuple):
    """A part (index) of a condition (index into ``Goals.conditions``) matters on its own."""

    condition: int
    part: int


Aim = Move | Line | Ending | Part
Sight = tuple[Literal["move", "line", "ending", "part"], int, int, int]


@frozen(eq=False)
class Watched:
    """A condition of several parts: whose it is, its parts in words, and how to read it off a picture."""

    owner: str
    text: str
    parts: tuple[str, ...]
    checks: tuple[Check, ...]
    decision: Decision


@define(eq=False)
class Goals:
    """The goals of one machine, and what of them has been seen so far."""

    engine: Engine
    most_configs: int = MOST_CONFIGS
    explored: Exploration | None = None
    """What exploring the machine came to, where that was done already."""
    conditions: tuple[Watched, ...] = field(init=False)
    aims: frozenset[Aim] = field(init=False)
    complete: bool = field(init=False)
    seen: set[Sight] = field(factory=set)
    _wanted: frozenset[Sight] = field(init=False)
    _noted: Noted = field(init=False)
    _hidden: int = field(init=False)
    _of: dict[Instant, frozenset[Sight]] = field(factory=dict)
    _vectors: dict[tuple[int, Vector], frozenset[tuple[int, bool, bool]]] = field(factory=dict)

    def __attrs_post_init__(self) -> None:
        self._noted = Noted(self.engine.machine)
        self._hidden = hidden_timings(self.engine.machine)
        self.conditions = tuple(_watched(self.engine))
        found = self.explored or explore(self.engine.machine, limit=self.most_configs)
        self.complete = found.complete
        self._wanted = frozenset(self._reachable(found))
        self.aims = frozenset(self.aims_of(self._wanted))

    def _reachable(self, found: Exploration) -> Iterator[Sight]:
        for edge in found.edges:
            before, after, step = found.configs[edge.source], found.configs[edge.target], edge.step
            if step.power is False:
                continue
            yield from self.of(Instant.of_step(before, step, after))

    # -- what instants show ------------------------------------------------------------------------------------------

    def of(self, instant: Instant) -> frozenset[Sight]:
        """Give what an instant shows."""
        found = self._of.get(instant)
        if found is None:
            found = self._of[instant] = frozenset(self._sights(instant))
        return found

    def _sights(self, instant: Instant) -> Iterator[Sight]:
        for region, (source, target) in enumerate(zip(instant.before.places, instant.after.places, strict=True)):
            if source != target and instant.before.powered:
                yield "move", region, source, target
        hidden = self._hidden
        for timing in instant.expired:
            rates = self.engine.machine.timings[timing].speed_ups
            if not hidden >> timing & 1 and not any(self.engine.sped_up(instant.before, index) for index in rates):
                yield "ending", timing, 0, 0
        for lamp, line in enumerate(self.engine.lamp_lines(instant.after)):
            yield "line", lamp, line, 0
        for picture in self._noted.pictures(instant):
            for number, row in enumerate(self.conditions):
                vector = tuple([check(picture) for check in row.checks])
                key = (number, vector)
                if key not in self._vectors:
                    self._vectors[key] = row.decision.sights(vector)
                for part, value, outcome in self._vectors[key]:
                    yield "part", number, part, 2 * value + outcome

    def wanted_of(self, instant: Instant) -> frozenset[Sight]:
        """Give what an instant shows of what is wanted."""
        return self.of(instant) & self._wanted

    def sights(self, instants: Iterable[Instant]) -> set[Sight]:
        """Give what instants show."""
        return {sight for instant in instants for sight in self.of(instant)}

    def new(self, instants: Iterable[Instant]) -> int:
        """Count what they show that is wanted and has not been seen."""
        return sum(1 for sight in self.sights(instants) if sight in self._wanted and sight not in self.seen)

    def left(self) -> bool:
        """Tell whether anything is wanted that has not been seen."""
        return not self._wanted <= self.seen

    def take(self, instants: Iterable[Instant]) -> None:
        """Note what they show."""
        self.seen |= self.sights(instants) & self._wanted

    # -- goals -------------------------------------------------------------------------------------------------------

    def aims_of(self, sights: Iterable[Sight]) -> set[Aim]:
        """Give the goals that sights reach."""
        found: set[Aim] = set()
        parts: dict[int, set[tuple[int, bool, bool]]] = {}
        for kind, a, b, c in sights:
            if kind == "move":
                found.add(Move(a, b, c))
            elif kind == "line":
                found.add(Line(a, b))
            elif kind == "ending":
                found.add(Ending(a))
            else:
                parts.setdefault(a, set()).add((b, bool(c & 2), bool(c & 1)))
        for number, seen in parts.items():
            found |= {Part(number, part) for part in shown(seen)}
        return found

    def told(self, aim: Aim) -> str:
        """Give a goal in words."""
        match aim:
            case Move(region, source, target):
                row = self.engine.machine.regions[region]
                return f"{row.rule}: {row.places[source]} to {row.places[target]}"
            case Line(lamp, line):
                shows: Lamp = list(self.engine.machine.board.lamps.values())[lamp]
                return f"{shows.id}: line {line + 1}, {write_pattern(shows.lines[line].shows)}"
            case Ending(timing):
                return f"{self.engine.machine.timings[timing].name}: runs out at its own rate"
            case Part(condition, part):
                watched = self.conditions[condition]
                return f"{watched.owner}: {watched.parts[part]} in {watched.text}"

    def unreachable_parts(self) -> list[str]:
        """Give, in words, the parts of conditions that no state of the machine shows to matter."""
        every = {Part(n, p) for n, row in enumerate(self.conditions) for p in range(len(row.parts))}
        return sorted(self.told(aim) for aim in every - self.aims)


def _watched(engine: Engine) -> Iterator[Watched]:
    board = engine.machine.board
    seen: set[tuple[str, ex.Expression]] = set()
    owners = {*board.rules, *board.outputs, *board.lamps, *board.conditions}
    written = [(owner, expression) for owner, expression in expressions_of(board) if owner in owners]
    for owner, expression in written:
        for node in _roots(expression):
            if (owner, node) not in seen:
                seen.add((owner, node))
                atoms: list[ex.Condition] = []
                source = _tree(node, atoms)
                outcome = eval(f"lambda v: {source}", {"__builtins__": {}})
                texts = [write_expression(atom) for atom in atoms]
                parts = tuple(
                    text if texts.count(text) == 1 else f"{text} (place {texts[:i].count(text) + 1})"
                    for i, text in enumerate(texts)
                )
                checks = tuple(engine.logic.condition(atom) for atom in atoms)
                yield Watched(owner, write_expression(node), parts, checks, Decision(len(atoms), outcome))


def _roots(expression: ex.Expression) -> Iterator[ex.And | ex.Or]:
    """Give the conditions of several parts in an expression, none inside another but what a ``for`` holds."""
    if isinstance(expression, (ex.And, ex.Or)):
        yield expression
        for atom in _atoms(expression):
            if isinstance(atom, ex.For):
                yield from _roots(atom.condition)
        return
    for part in ex.parts(expression):
        yield from _roots(part)


def _atoms(node: ex.Condition) -> Iterator[ex.Condition]:
    match node:
        case ex.And(items=items) | ex.Or(items=items):
            for item in items:
                yield from _atoms(item)
        case ex.Not(item=item):
            yield from _atoms(item)
        case _:
            yield node


def _tree(node: ex.Condition, atoms: list[ex.Condition]) -> str:
    """Give a condition as source over a vector of its parts, which are gathered. Only numbers of our own get in."""
    match node:
        case ex.And(items=items):
            return "(" + " and ".join(_tree(item, atoms) for item in items) + ")"
        case ex.Or(items=items):
            return "(" + " or ".join(_tree(item, atoms) for item in items) + ")"
        case ex.Not(item=item):
            return f"(not {_tree(item, atoms)})"
    atoms.append(node)
    return f"v[{len(atoms) - 1}]"
