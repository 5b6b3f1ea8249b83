"""Group the configurations of a machine by what a technician can tell apart, and say what leads from group to group.

Law of this module: an *operating state* is a value of the power, the outputs and the line each lamp shows. An output
that only repeats one input there does not make two states of one; and where there are more states or edges than a
page takes, the outputs that split most are left out, one after another, and named in ``Overview.left_out``. Every
edge between two states is one cause with the guard that tells it from the same cause leading elsewhere. The order of
declaration never matters: whatever must be chosen is chosen by id.
"""

from __future__ import annotations

from attrs import define, evolve, field, frozen

from boardgauge.machine.config import Config
from boardgauge.machine.explore import MOST_CONFIGS, Exploration, Finding, Step, explore
from boardgauge.machine.input_ways import levels_read
from boardgauge.machine.settle import Engine
from boardgauge.machine.table import Machine

_LONGEST_GUARD = 6
"""A guard of more facts than this is left open: who reads it would look at the diagrams of the rules."""

MOST_STATES = 9
MOST_EDGES = 28
"""What one page takes and a person overlooks, unless the caller says otherwise."""


@frozen(order=True)
class Fact:
    """One thing that holds or not: ``what`` is an id (``kind`` says of what), ``place`` one of a count's numbers."""

    kind: str
    what: str
    place: int
    holds: bool


@frozen
class OperatingState:
    """One operating state.

    ``outputs``: (id, True, False, the (level, value) that it repeats, or None where it was left out). ``lamps``: the
    line of each lamp, by id (-1 without power). ``always`` and ``sometimes``: ids of the rules and steps that are on in
    all, in some of its configurations (a count: reached). ``inputs``: levels that stand the same in all of them.
    ``size``: their number.
    """

    number: int
    powered: bool
    outputs: tuple[tuple[str, bool | tuple[int, bool] | None], ...]
    lamps: tuple[tuple[str, int], ...]
    always: tuple[str, ...]
    sometimes: tuple[str, ...]
    inputs: tuple[tuple[int, bool], ...]
    size: int


@frozen
class Way:
    """One cause that leads from a state to another, and what must hold for it to do so.

    ``sure``: whenever the guard holds in the state the cause leads there; if not, more than the guard decides.
    ``counted``: the counts that this cause brings to their limit. ``moved``: the rules that move, every time.
    ``may_stay``: under other circumstances the cause leaves the state as it is.
    """

    step: Step
    guard: tuple[Fact, ...]
    sure: bool
    counted: tuple[str, ...]
    moved: tuple[str, ...]
    may_stay: bool = False


@frozen
class OperatingEdge:
    """All ways from one operating state straight to another (numbers count into ``Overview.states``)."""

    source: int
    target: int
    ways: tuple[Way, ...]


@frozen
class Overview:
    """A board at a glance. ``complete``: no bound was hit in exploring it.

    ``left_out``: the outputs that do not tell one state from another here, for want of room. ``stays``: (state, cause)
    where the cause can come but never leads out of the state.
    """

    machine: Machine
    states: tuple[OperatingState, ...]
    edges: tuple[OperatingEdge, ...]
    findings: tuple[Finding, ...]
    complete: bool
    explored: int
    left_out: tuple[str, ...] = ()
    stays: frozenset[tuple[int, Step]] = frozenset()


def overview(
    machine: Machine,
    *,
    limit: int = MOST_CONFIGS,
    most_states: int = MOST_STATES,
    most_edges: int = MOST_EDGES,
    found: Exploration | None = None,
) -> Overview:
    """Give the operating states of a machine and what leads from one to the next, one cause at a time.

    ``limit``: the most configurations explored; ``most_states``, ``most_edges`` (losses of power not counted): from
    where on outputs are left out. ``found``: the machine as explored already, so that it is not explored again.
    """
    return _Grouper(machine, found or explore(machine, limit=limit), most_states, most_edges).overview()


_Outputs = tuple[bool | tuple[int, bool] | None, ...]
_Key = tuple[bool, tuple[int, ...], _Outputs]


@define
class _Grouper:
    machine: Machine
    found: Exploration
    most_states: int
    most_edges: int
    left_out: list[str] = field(factory=list)
    engine: Engine = field(init=False)
    group_of: list[int] = field(factory=list)
    facts: list[tuple[bool, ...]] = field(factory=list)
    _all_facts: list[Fact] = field(init=False)
    _outputs: list[int] = field(init=False)
    _lamps: list[tuple[str, int]] = field(init=False)
    _levels: list[int] = field(init=False)
    _rules: list[str] = field(init=False)

    def __attrs_post_init__(self) -> None:
        machine = self.machine
        self.engine = Engine(machine)
        self._outputs = sorted(range(len(machine.outputs)), key=lambda i: machine.outputs[i].output)
        self._lamps = sorted((lamp, number) for number, lamp in enumerate(machine.board.lamps))
        read = levels_read(machine)
        self._levels = sorted(
            (i for i, is_read in enumerate(read) if is_read),
            key=lambda i: (machine.levels[i].input, repr(machine.levels[i].comparison)),
        )
        steps = [place for r in machine.regions if r.kind == "sequence" for place in r.places[1:]]
        self._rules = sorted([*machine.board.rules, *steps])
        self._all_facts = self._name_facts()

    def overview(self) -> Overview:
        members = self._few_enough(self._merged())
        order = sorted(members, key=self._rank)
        self.group_of = [0] * len(self.found.configs)
        for number, key in enumerate(order):
            for config in members[key]:
                self.group_of[config] = number
        self.facts = [self._facts_of(config) for config in self.found.configs]
        states = tuple(self._state(number, key, members[key]) for number, key in enumerate(order))
        samples = self._samples()
        return Overview(
            self.machine,
            states,
            self._edges(samples),
            self.found.findings,
            self.found.complete,
            len(self.found.configs),
            tuple(self.left_out),
            frozenset(key for key, moves in samples.items() if all(self.group_of[n] == key[0] for _, n in moves)),
        )

    # -- states ------------------------------------------------------------------------------------------------

    def _merged(self) -> dict[_Key, list[int]]:
        """Group by power, lamps and outputs, then put together what differs only in an output that repeats an input."""
        groups: dict[_Key, list[int]] = {}
        for number, config in enumerate(self.found.configs):
            values = self.engine.outputs(config)
            lamps = tuple(self.engine.lamp_line(config, index) for _, index in self._lamps)
            groups.setdefault((config.powered, lamps, tuple(values[i] for i in self._outputs)), []).append(number)
        for column in range(len(self._outputs)):
            for key in sorted((k for k in groups if k[2][column] is False), key=repr):
                twin = (key[0], key[1], (*key[2][:column], True, *key[2][column + 1 :]))
                repeated = self._repeats(groups[key], groups[twin]) if twin in groups else None
                if repeated is not None:
                    both = groups.pop(key) + groups.pop(twin)
                    groups[(key[0], key[1], (*key[2][:column], repeated, *key[2][column + 1 :]))] = sorted(both)
        return groups

    def _few_enough(self, groups: dict[_Key, list[int]]) -> dict[_Key, list[int]]:
        while len(groups) > self.most_states or self._count_edges(groups) > self.most_edges:
            ways = []
            for column, index in enumerate(self._outputs):
                fewer = _without(groups, column)
                if len(fewer) < len(groups):
                    ways.append((len(fewer), column, self.machine.outputs[index].output, fewer))
            if not ways:
                break
            _, _, output, groups = min(ways, key=lambda way: way[:2])
            self.left_out.append(output)
        return groups

    def _count_edges(self, groups: dict[_Key, list[int]]) -> int:
        group_of = {config: number for number, members in enumerate(groups.values()) for config in members}
        pairs = {(group_of[e.source], group_of[e.target]) for e in self.found.edges if e.step.power is not False}
        return sum(1 for source, target in pairs if source != target)

    def _repeats(self, off: list[int], on: list[int]) -> tuple[int, bool] | None:
        for level in self._levels:
            values_on = {self.found.configs[n].levels[level] for n in on}
            values_off = {self.found.configs[n].levels[level] for n in off}
            if len(values_on) == len(values_off) == 1 and values_on != values_off:
                return level, values_on.pop()
        return None

    def _rank(self, key: _Key) -> tuple[object, ...]:
        # The last line of a lamp is what it shows when nothing is the matter, so the quiet states come first.
        powered, lamps, outputs = key
        return powered, tuple(-line for line in lamps), tuple(str(value) for value in outputs)

    def _state(self, number: int, key: _Key, members: list[int]) -> OperatingState:
        powered, lamps, outputs = key
        machine = self.machine
        configs = [self.found.configs[n] for n in members]
        on = [{rule for rule in self._rules if self.engine.holds(config, rule)} for config in configs]
        always, ever = set.intersection(*on), set.union(*on)
        same = [(i, configs[0].levels[i]) for i in self._levels if len({c.levels[i] for c in configs}) == 1]
        return OperatingState(
            number,
            powered,
            tuple((machine.outputs[i].output, value) for i, value in zip(self._outputs, outputs, strict=True)),
            tuple((lamp, line) for (lamp, _), line in zip(self._lamps, lamps, strict=True)),
            tuple(sorted(always)) if powered else (),
            tuple(sorted(ever - always)) if powered else (),
            tuple(same) if powered else (),
            len(members),
        )

    # -- edges -------------------------------------------------------------------------------------------------

    def _samples(self) -> dict[tuple[int, Step], list[tuple[int, int]]]:
        """Collect what each cause does in each state: (state, cause) to (configuration, where to)."""
        samples: dict[tuple[int, Step], list[tuple[int, int]]] = {}
        for edge in self.found.edges:
            source = self.group_of[edge.source]
            step = self._as_cause(edge.step)
            samples.setdefault((source, step), []).append((edge.source, edge.target))
        return samples

    def _edges(self, samples: dict[tuple[int, Step], list[tuple[int, int]]]) -> tuple[OperatingEdge, ...]:
        ways: dict[tuple[int, int], list[Way]] = {}
        for (source, step), moves in samples.items():
            targets = {self.group_of[after] for _, after in moves}
            for target in sorted(targets - {source}):
                way = evolve(self._way(step, moves, target), may_stay=source in targets)
                ways.setdefault((source, target), []).append(way)
        return tuple(
            OperatingEdge(source, target, tuple(sorted(found, key=self._way_order)))
            for (source, target), found in sorted(ways.items())
        )

    def _as_cause(self, step: Step) -> Step:
        """Take power-ups as one cause whatever the inputs are then: the guard says what they must be."""
        return Step(power=True) if step.power else step

    def _way(self, step: Step, moves: list[tuple[int, int]], target: int) -> Way:
        there = [move for move in moves if self.group_of[move[1]] == target]
        elsewhere = [move for move in moves if self.group_of[move[1]] != target]
        known = 1 if step.power else 0  # at power-up the inputs are those of the configuration it leads to
        guard, sure = self._guard([m[known] for m in there], [m[known] for m in elsewhere], bool(step.power))
        return Way(step, guard, sure, self._counted(there), self._moved(there))

    def _guard(self, yes: list[int], no: list[int], inputs_only: bool) -> tuple[tuple[Fact, ...], bool]:
        """Find the fewest facts, taken greedily, that hold in every ``yes`` and in no ``no``."""
        candidates = []
        for column, fact in enumerate(self._all_facts):
            if inputs_only and fact.kind != "input":
                continue
            values = {self.facts[n][column] for n in yes}
            if len(values) == 1:
                candidates.append((column, values.pop(), fact))
        left = list(no)
        chosen: list[Fact] = []
        while left and len(chosen) < _LONGEST_GUARD:
            best, still = None, left
            for column, value, fact in candidates:
                rest = [n for n in left if self.facts[n][column] == value]
                if len(rest) < len(still):
                    best, still = (column, value, fact), rest
            if best is None:
                break
            chosen.append(Fact(best[2].kind, best[2].what, best[2].place, best[1]))
            left = still
        return tuple(chosen), not left

    def _counted(self, moves: list[tuple[int, int]]) -> tuple[str, ...]:
        reached = []
        for region in self.machine.regions:
            last = len(region.places) - 1
            if region.kind == "count" and all(
                self._config(a).places[region.index] < last == self._config(b).places[region.index] for a, b in moves
            ):
                reached.append(region.rule)
        return tuple(sorted(reached))

    def _moved(self, moves: list[tuple[int, int]]) -> tuple[str, ...]:
        moved = [
            region.rule
            for region in self.machine.regions
            if all(self._config(a).places[region.index] != self._config(b).places[region.index] for a, b in moves)
        ]
        return tuple(sorted(moved))

    def _config(self, number: int) -> Config:
        return self.found.configs[number]

    def _way_order(self, way: Way) -> tuple[object, ...]:
        step, machine = way.step, self.machine
        if step.expired:
            return 0, machine.timings[step.expired[0]].name
        if step.levels:
            index, value = step.levels[0]
            return 1, machine.levels[index].input, repr(machine.levels[index].comparison), value, len(step.levels)
        return 2, tuple(machine.regions[i].rule for i in step.dropped), str(step.power)

    # -- facts -------------------------------------------------------------------------------------------------

    def _name_facts(self) -> list[Fact]:
        """Name everything a guard may say, what a person would look at first coming first."""
        facts = [Fact("input", str(level), 0, True) for level in self._levels]
        facts += [Fact("rule", rule, 0, True) for rule in self._rules]
        facts += [Fact("output", self.machine.outputs[i].output, 0, True) for i in self._outputs]
        counts = sorted(region.rule for region in self.machine.regions if region.kind == "count")
        for rule in counts:
            region = self.machine.region_of(rule)
            assert region is not None
            facts += [Fact("count", rule, place, True) for place in range(len(region.places) - 2, -1, -1)]
        fors = [t for t in self.machine.timings if t.role == "for"]
        facts += [Fact("for", str(t.index), 0, True) for t in sorted(fors, key=lambda t: t.name)]
        return facts

    def _facts_of(self, config: Config) -> tuple[bool, ...]:
        return tuple(self._holds(config, fact) for fact in self._all_facts)

    def _holds(self, config: Config, fact: Fact) -> bool:
        match fact.kind:
            case "input":
                return config.levels[int(fact.what)]
            case "count":
                region = self.machine.region_of(fact.what)
                return region is not None and config.places[region.index] == fact.place
            case "for":
                return bool(config.full >> int(fact.what) & 1)
        return self.engine.holds(config, fact.what)


def _without(groups: dict[_Key, list[int]], column: int) -> dict[_Key, list[int]]:
    """Put together the groups that differ in one output only."""
    made: dict[_Key, list[int]] = {}
    for (powered, lamps, outputs), members in groups.items():
        key = (powered, lamps, (*outputs[:column], None, *outputs[column + 1 :]))
        made.setdefault(key, []).extend(members)
    return {key: sorted(members) for key, members in made.items()}
