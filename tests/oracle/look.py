"""What holds at one look, from the clauses, by plain recursion over the expressions.

Law of this module: slow and plain. Nothing is compiled, remembered or shared with the package's own machine; only the
``Board`` and its expressions are. An *atom* is whatever can hold by itself: an input (at its active level: on, closed,
fitted, pressed), a rule, a step, an output, a count or accumulator that is reached, and a ``for``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from attrs import define, field, frozen

from boardgauge.language import expressions as ex
from boardgauge.language.model import Accumulator, Board, Count, Delay, InputKind, Sequence

Atom = str | ex.For
Key = tuple[str, str, int] | tuple[str, ex.For, int]
"""A timing: what it is of, whose, and for a count's window how many events have been counted since."""
Place = bool | str | None | tuple[bool, ...]
"""Of a lockout, mode, toggle or output: on; of a sequence: its step; of a count: for its events, newest first, whether
each is inside its window; of an accumulator: reached."""

ACTIVE = {"on", "closed", "fitted", "pressed"}


class Refused(Exception):
    """The spec does not come to rest, or the clauses leave open what it does."""


@frozen
class Facts:
    """What the instant is made of besides the inputs: the timings that end in it, and whether the supply comes."""

    ended: frozenset[Key] = frozenset()
    power_up: bool = False


def at_rest(board: Board) -> frozenset[Atom]:
    """Give the inputs whose level is active at rest: closed switches."""
    return frozenset(name for name, row in board.inputs.items() if row.contact == "normally closed")


def expanded(board: Board, expression: ex.Expression) -> Iterable[ex.Expression]:
    """Give every expression inside, with named conditions and outputs with ``on`` opened up."""
    for node in ex.walk(expression):
        yield node
        if isinstance(node, ex.Name):
            if node.name in board.conditions:
                yield from expanded(board, board.conditions[node.name].is_)
            elif node.name in board.outputs and board.outputs[node.name].on is not None:
                yield from expanded(board, board.outputs[node.name].on)  # type: ignore[arg-type]


def delay_circles(board: Board) -> dict[str, frozenset[str]]:
    """Give for each delay those that read it and are read by it, itself among them."""
    reads = {}
    for name, rule in board.rules.items():
        if isinstance(rule, Delay):
            written = [rule.begins, *([rule.cut_by] if rule.cut_by is not None else [])]
            names = {n.name for e in written for n in expanded(board, e) if isinstance(n, ex.Name)}
            reads[name] = {n for n in names if isinstance(board.rules.get(n), Delay)}
    reach = {name: set(read) for name, read in reads.items()}
    for _ in reach:
        for name in reach:
            reach[name] |= {far for near in reach[name] for far in reach[near]}
    return {n: frozenset({n} | {m for m in reach[n] if n in reach[m]}) for n in reach}


@define
class Look:
    """One picture being drawn."""

    board: Board
    levels: frozenset[Atom]
    places: Mapping[str, Place]
    before: frozenset[Atom]
    facts: Facts
    running: frozenset[Key]
    full: frozenset[ex.For]
    circles: Mapping[str, frozenset[str]]
    frozen_atoms: frozenset[Atom] | None = None
    """Where set, atoms are taken from here: a picture that is, or was, and is not worked out."""
    delays: dict[str, bool] = field(factory=dict)

    # -- conditions -----------------------------------------------------------------------------------------------

    def holds(self, condition: ex.Condition, atoms: frozenset[Atom] | None = None) -> bool:
        """Tell whether a condition holds in this picture, or in one that is given by its atoms."""
        atoms = self.frozen_atoms if atoms is None else atoms
        match condition:
            case ex.Name(name=name):
                if name in self.board.conditions:
                    return self.holds(self.board.conditions[name].is_, atoms)
                return name in atoms if atoms is not None else self.atom(name)
            case ex.InState(name=name, state=state):
                level = name in (self.levels if atoms is None else atoms)
                return level == (state in ACTIVE)
            case ex.Reached(name=name):
                return name in atoms if atoms is not None else self.atom(name)
            case ex.Not(item=item):
                return not self.holds(item, atoms)
            case ex.And(items=items):
                return all(self.holds(item, atoms) for item in items)
            case ex.Or(items=items):
                return any(self.holds(item, atoms) for item in items)
            case ex.For():
                return condition in atoms if atoms is not None else self.atom(condition)
        raise NotImplementedError(condition)

    def happens(self, event: ex.Event) -> bool:
        """Tell whether an event happens in this picture."""
        match event:
            case ex.PowerUp():
                return self.facts.power_up
            case ex.Edge(of=ex.Name(name=name), word="expires"):
                return any(key[:2] in (("delay", name), ("lasts", name), ("at_most", name), ("step", name))
                           for key in self.facts.ended)  # fmt: skip
            case ex.Edge(of=of, word=word):
                now, then = self.holds(of), self.holds(of, self.before)
                rises, falls = now and not then, then and not now
                return {"begins": rises, "closes": rises, "ends": falls, "opens": falls, "changes": rises or falls}[
                    word
                ]
            case ex.EventOr(items=items):
                return any(self.happens(item) for item in items)
            case ex.EventWhile(event=inner, condition=condition):
                return self.happens(inner) and self.holds(condition)
        raise NotImplementedError(event)

    def triggers(self, trigger: ex.Trigger) -> bool:
        """Tell whether a trigger holds or happens in this picture."""
        if isinstance(trigger, ex.TriggerOr):
            return any(self.triggers(item) for item in trigger.items)
        return self.happens(trigger) if ex.is_event(trigger) else self.holds(trigger)  # type: ignore[arg-type]

    # -- atoms ----------------------------------------------------------------------------------------------------

    def atom(self, atom: Atom) -> bool:
        """Work out one atom."""
        if isinstance(atom, ex.For):
            if ("for", atom, 0) in self.facts.ended:
                return True
            return atom in self.full and self.holds(atom.condition)
        if atom in self.board.inputs:
            return atom in self.levels
        if atom in self.board.outputs:
            on = self.board.outputs[atom].on
            return bool(self.places[atom]) if on is None else self.holds(on)
        rule = self.board.rules.get(atom)
        if isinstance(rule, Delay):
            return self.delay(atom)
        if isinstance(rule, Count):
            events = self.places[atom]
            assert isinstance(events, tuple)
            return len(events) == rule.limit and events[-1]
        if isinstance(rule, Sequence):
            return self.places[atom] is not None
        if rule is not None:
            return bool(self.places[atom])
        return any(self.places[n] == atom for n, r in self.board.rules.items() if isinstance(r, Sequence))

    def delay(self, name: str) -> bool:
        """Work out a delay, together with those it stands in a circle with."""
        if name in self.delays:
            return self.delays[name]
        circle = self.circles[name]
        values = {d: self._runs_on(d) for d in circle}
        for _ in range(len(circle) + 1):
            self.delays.update(values)
            anew = {d: self._delay(d) for d in circle}
            if anew == values:
                return values[name]
            values = anew
        raise Refused(f"{sorted(circle)} contradict themselves")

    def _runs_on(self, name: str) -> bool:
        return ("delay", name, 0) in self.running and ("delay", name, 0) not in self.facts.ended

    def _delay(self, name: str) -> bool:
        rule = self.board.rules[name]
        assert isinstance(rule, Delay)
        if rule.cut_by is not None and self.triggers(rule.cut_by):
            return False
        return self._runs_on(name) or self.happens(rule.begins)

    def atoms(self, names: Iterable[Atom]) -> frozenset[Atom]:
        """Give those of the atoms that hold."""
        return frozenset(atom for atom in names if self.atom(atom))


def all_atoms(board: Board, fors: Iterable[ex.For]) -> tuple[Atom, ...]:
    """Give every atom of a board. Raises NotImplementedError where comparisons have not been made inputs."""
    if any(row.kind is InputKind.SENSOR for row in board.inputs.values()):
        raise NotImplementedError("sensors")
    steps = [step.name for rule in board.rules.values() if isinstance(rule, Sequence) for step in rule.steps]
    return (*board.inputs, *board.rules, *steps, *board.outputs, *fors)


def all_fors(board: Board) -> tuple[ex.For, ...]:
    """Give every ``C for T`` that something of the board reads."""
    written: list[ex.Expression] = []
    for rule in board.rules.values():
        for part in (
            "begins",
            "cut_by",
            "trips",
            "clears",
            "counts",
            "forgets",
            "adds_while",
            "resets",
            "ends",
            "flips",
        ):
            expression = getattr(rule, part, None)
            if expression is not None:
                written.append(expression)
        if isinstance(rule, Sequence):
            written += [step.until for step in rule.steps if step.until is not None]
    for output in board.outputs.values():
        written += [e for e in (output.on, output.starts, output.stops) if e is not None]
    for requirement in board.requirements.values():
        parts = ("what", "after", "then")
        written += [e for part in parts if (e := getattr(requirement.demand, part, None)) is not None]
        written += [requirement.except_while] if requirement.except_while is not None else []
    written += [line.when for lamp in board.lamps.values() for line in lamp.lines if line.when is not None]
    written += [stretch.after for stretch in board.not_judged]
    found = [node for e in written for node in expanded(board, e) if isinstance(node, ex.For)]
    return tuple(dict.fromkeys(found))


def is_kept(rule: object) -> bool:
    """Tell whether a rule has a place."""
    return not isinstance(rule, Delay)


def nothing(rule: object) -> Place:
    """Give the place of a rule at power-up."""
    if isinstance(rule, Count):
        return ()
    if isinstance(rule, Sequence):
        return None
    assert not isinstance(rule, Accumulator) or rule.target is not None
    return False
