"""What exploring a board tells of it, sorted by what a technician can see.

Law of this module: everything here is read off the explored machine. A *situation* is an operating state, the
lockouts and steps that are on in it, and whether the board leaves it by itself: what one must know to say what
a board waits for. What is on and makes no difference to anything that the board will ever show makes no situation of
its own. Nothing here is ranked; situations stand in the order of the operating states.
"""

from __future__ import annotations

from functools import cached_property

from attrs import define, field, frozen

from boardgauge.drawings import words
from boardgauge.drawings.overview import state_names
from boardgauge.identifying.behaving import behaviours
from boardgauge.machine.explore import Edge, Exploration, hidden_timings
from boardgauge.machine.operating import OperatingState, Overview
from boardgauge.machine.settle import Engine
from boardgauge.machine.table import Machine

Candidate = tuple[int, int]
"""What a board was in as it was found (the number of a situation), and what it is in now (of a configuration)."""
_Key = tuple[int, tuple[str, ...], bool]
_KEPT = ("lockout", "sequence")


@frozen
class Situation:
    """One thing a board can be in.

    ``state`` is the number of its operating state, ``on`` the ids of its lockouts and steps, ``passes`` whether
    time alone may lead out of it. ``name`` is unique in a board.
    """

    number: int
    state: int
    on: tuple[str, ...]
    passes: bool
    name: str


@frozen
class Look:
    """All that shows without a meter: the power, the line of each lamp, the coil of each output."""

    powered: bool
    lines: tuple[int, ...]
    outputs: tuple[bool, ...]


@define
class Knowledge:
    """An explored board. ``states`` has all outputs told apart."""

    machine: Machine
    engine: Engine
    found: Exploration
    states: Overview
    looks: list[Look] = field(init=False)
    by_time: list[list[Edge]] = field(init=False)
    by_hand: list[list[Edge]] = field(init=False)
    hidden: int = field(init=False)
    situations: tuple[Situation, ...] = field(init=False)
    situation_of: list[int] = field(init=False)
    once: dict[object, object] = field(factory=dict)

    def __attrs_post_init__(self) -> None:
        engine, configs = self.engine, self.found.configs
        self.hidden = hidden_timings(self.machine)
        self.looks = [Look(c.powered, engine.lamp_lines(c), engine.outputs(c)) for c in configs]
        self.by_time, self.by_hand = [[] for _ in configs], [[] for _ in configs]
        for edge in self.found.edges:
            by_time = (edge.step.expired or edge.step.dropped) and not edge.step.levels and edge.step.power is None
            (self.by_time if by_time else self.by_hand)[edge.source].append(edge)
        self.situations, self.situation_of = self._sorted()

    @cached_property
    def kept(self) -> list[tuple[int, int, str]]:
        """Give what is kept: region, place, and the id of the lockout or step that is on there."""
        return [
            (region.index, place, name if region.kind == "sequence" else region.rule)
            for region in self.machine.regions
            if region.kind in _KEPT
            for place, name in enumerate(region.places)
            if place
        ]

    def all(self) -> frozenset[Candidate]:
        """Give every candidate there is."""
        return frozenset((situation, number) for number, situation in enumerate(self.situation_of))

    def origins(self, left: frozenset[Candidate]) -> tuple[Situation, ...]:
        """Give the situations that are left, in order."""
        return tuple(self.situations[number] for number in sorted({origin for origin, _ in left}))

    def operating_state(self, config: int) -> OperatingState:
        """Give the operating state of a configuration."""
        return self.states.states[self._state_of(config)]

    # -- sorting -------------------------------------------------------------------------------------------------

    def _sorted(self) -> tuple[tuple[Situation, ...], list[int]]:
        keys = [(self._state_of(n), self._on(n), self._passes(n)) for n in range(len(self.found.configs))]
        same = self._same(keys)
        keys = [same[key] for key in keys]
        order = sorted(set(keys), key=lambda key: (key[0], key[2], len(key[1]), key[1]))
        names = self._names(order)
        made = tuple(Situation(i, *key, name=name) for i, (key, name) in enumerate(zip(order, names, strict=True)))
        number = {key: i for i, key in enumerate(order)}
        return made, [number[key] for key in keys]

    def _same(self, keys: list[_Key]) -> dict[_Key, _Key]:
        """Say for each key which it stands under.

        One whose configurations do all that its own do, and which differs from it only in having more on, or less. What
        is on in some of those that stand together and not in others makes no difference, and goes unnamed.
        """
        shown = [(look, config.levels) for look, config in zip(self.looks, self.found.configs, strict=True)]
        numbers = behaviours(shown, self.found.edges)
        does: dict[_Key, set[int]] = {}
        for config, key in enumerate(keys):
            does.setdefault(key, set()).add(numbers[config])
        groups: dict[_Key, list[_Key]] = {}
        for key in sorted(does, key=lambda key: (-len(does[key]), len(key[1]), key)):
            like = (
                other
                for other in groups
                if (other[0], other[2]) == (key[0], key[2])
                and (set(other[1]) <= set(key[1]) or set(key[1]) <= set(other[1]))
                and does[key] <= does[other]
            )
            groups.setdefault(next(like, key), []).append(key)
        same: dict[_Key, _Key] = {}
        for leader, members in groups.items():
            shared = set(leader[1]).intersection(*(set(one[1]) for one in members))
            plain = (leader[0], tuple(sorted(shared)), leader[2])
            taken = plain in same.values() or (plain in does and plain not in members)
            same |= dict.fromkeys(members, leader if taken else plain)
        return same

    def _state_of(self, config: int) -> int:
        key = ("state", self.looks[config], self.found.configs[config].levels)
        made = self.once.get(key)
        if made is None:
            made = self.once[key] = self._find_state(config)
        assert isinstance(made, int)
        return made

    def _find_state(self, config: int) -> int:
        look, levels = self.looks[config], self.found.configs[config].levels
        index = {row.output: row.index for row in self.machine.outputs}
        for state in self.states.states:
            if state.powered != look.powered:
                continue
            lines = dict(state.lamps)
            if any(lines[lamp] != line for lamp, line in zip(self.machine.board.lamps, look.lines, strict=True)):
                continue
            values = ((look.outputs[index[output]], value) for output, value in state.outputs)
            if all(on == (levels[v[0]] == v[1] if isinstance(v, tuple) else v) for on, v in values if v is not None):
                return state.number
        raise AssertionError("every configuration belongs to an operating state")

    def _on(self, config: int) -> tuple[str, ...]:
        places = self.found.configs[config].places
        return tuple(sorted(name for region, place, name in self.kept if places[region] == place))

    def _passes(self, config: int) -> bool:
        """Tell whether time alone may change what the board shows."""
        seen, waiting = {config}, [config]
        while waiting:
            for edge in self.by_time[waiting.pop()]:
                if self.looks[edge.target] != self.looks[config]:
                    return True
                if edge.target not in seen:
                    seen.add(edge.target)
                    waiting.append(edge.target)
        return False

    def _names(self, order: list[_Key]) -> list[str]:
        """Name situations by their state, then by what tells those of one state apart."""
        states = state_names(self.states)
        board = self.machine.board
        names = []
        for state, on, passes in order:
            alike = [key for key in order if key[0] == state]
            said = []
            shared = set(on).intersection(*(set(key[1]) for key in alike))
            ever = sorted(set().union(*(key[1] for key in alike)) - shared)
            more = [words.name_holds(board, one, True) for one in on if one not in shared]
            more = more or [words.name_holds(board, one, False) for one in ever]
            if len({key[1] for key in alike}) > 1:
                said.append(" and ".join(more))
            same = [key for key in alike if key[1] == on]
            if len(same) > 1:
                said.append("waits for a time" if passes else "waits for an input")
            names.append(f"{states[state]} ({', '.join(said)})" if said else states[state])
        return names
