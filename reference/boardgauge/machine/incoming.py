"""What comes at the terminals of a simulated board: the supply and the inputs, past and to come.

Law of this module: it keeps what was said about the terminals and which changes are still on their way in. What is
known to come is known ahead, so that a change too short to count is never acted on.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from boardgauge.machine.chance import Chance
from boardgauge.machine.run import POWER, Edges, Value
from boardgauge.machine.table import Machine
from boardgauge.machine.terminals import Arrival, MissingValue, Terminals, TooShort

Fed = Mapping[str, Sequence[tuple[int, Value]]]


class Incoming:
    """The terminals of one run."""

    def __init__(self, machine: Machine, chance: Chance) -> None:
        self.machine = machine
        self.terminals = Terminals(machine, chance)
        self._chance = chance
        self._raw: dict[str, list[tuple[int, Value]]] = {name: [] for name in machine.board.inputs}
        self._power: list[tuple[int, bool]] = []
        self._supply: list[tuple[int, bool]] = []
        self._supplied = False
        self._arrivals: list[Arrival] = []
        self._raw_levels = [level.at_rest for level in machine.levels]
        self._last_arrival: dict[int, Arrival] = {}
        self._last_act: dict[str, int] = {}

    # -- what is said about the terminals ------------------------------------------------------------------------

    def feed(self, changes: Fed, now: int, powered: bool) -> None:
        """Take in what happens next at the terminals, none of it before now."""
        fed: dict[str, list[tuple[int, Value]]] = {}
        for name, edges in changes.items():
            if name != POWER and name not in self._raw:
                raise KeyError(f"the board has no input {name!r}")
            known = self._power if name == POWER else self._raw[name]
            fed[name] = [(max(0, time), value) for time, value in edges]
            times = [*(time for time, _ in known[-1:]), *(time for time, _ in fed[name])]
            if times != sorted(times) or any(time < now for time, _ in fed[name]):
                raise ValueError(f"the changes of {name} are not in order of time, or come too late")
        for name, edges in fed.items():
            if name != POWER:
                self._raw[name] += edges
        self._plan_power([(time, bool(value)) for time, value in fed.get(POWER, [])])
        if powered:
            self._plan_inputs(fed, now)

    def _plan_power(self, edges: list[tuple[int, bool]]) -> None:
        on = self._supply[-1][1] if self._supply else self._supplied
        known = self._power[-1][1] if self._power else False
        edges = [e for e, before in zip(edges, [known, *(v for _, v in edges)], strict=False) if e[1] != before]
        self._power += edges
        index = 0
        while index < len(edges):
            time, value = edges[index]
            if not value and on and index + 1 < len(edges):
                gap = edges[index + 1][0] - time
                if not self._chance.loses_power(gap, self.machine.board.rides_through):
                    index += 2
                    continue
            if value != on:
                self._supply.append((time, value))
                on = value
            index += 1

    def _plan_inputs(self, fed: Fed, now: int) -> None:
        """Time the changes that come at the terminals until the supply next changes."""
        until = self._supply[0][0] if self._supply else None
        coming: list[Arrival] = []
        for level in self.machine.levels:
            # How long a change lasts is a matter of the terminal, with or without the supply.
            raw = self.terminals.level_edges(level, self._raw_levels[level.index], fed.get(level.input, ()))
            powered = [edge for edge in raw if until is None or edge[0] < until]
            if powered:
                taken = self._with_last(level.index, raw)
                coming += [arrival for arrival in taken if until is None or arrival.raw < until]
                self._raw_levels[level.index] = powered[-1][1]
        for arrival in coming:
            self._last_arrival[arrival.level] = arrival
        # What is decided again does not come after what was decided of it before.
        latest = self._last_act | self._acts_of(self._arrivals, self._last_act)
        self._arrivals += self.terminals.timed(coming, now, latest)
        self._arrivals.sort(key=lambda arrival: (arrival.raw, arrival.level))

    def _acts_of(self, arrivals: Iterable[Arrival], before: Mapping[str, int]) -> dict[str, int]:
        """Give, by input, when the last of its changes is taken in, ``before`` among them."""
        found: dict[str, int] = {}
        for arrival in arrivals:
            name = self.machine.levels[arrival.level].input
            found[name] = max(found.get(name, before.get(name, 0)), arrival.act)
        return found

    def _with_last(self, level: int, raw: list[tuple[int, bool]]) -> list[Arrival]:
        # How long the last change lasted is known only now: if it was not taken in yet, that is decided again.
        last, before = self._last_arrival.get(level), self._raw_levels[level]
        if last is not None and last.value == before:
            if last in self._arrivals:
                self._arrivals.remove(last)
                return self.terminals.seen(level, not last.value, [(last.raw, last.value), *raw])
            name = self.machine.levels[level].input
            if raw[0][0] - last.raw < self.machine.board.inputs[name].filter.least:
                raise TooShort(f"{name} changes back sooner than its filter lets through, after the board acted on it")
        return self.terminals.seen(level, before, raw)

    def plan_from(self, now: int) -> None:
        """Time what comes at the terminals after the supply came on."""
        self._plan_inputs({name: [e for e in edges if e[0] > now] for name, edges in self._raw.items()}, now)

    # -- the supply ----------------------------------------------------------------------------------------------

    def next_supply(self) -> int | None:
        """Give when the supply next comes on or is lost."""
        return self._supply[0][0] if self._supply else None

    def take_supply(self, now: int) -> bool | None:
        """Give what the supply changes to now, None where it does not."""
        if not self._supply or self._supply[0][0] > now:
            return None
        self._supplied = self._supply.pop(0)[1]
        return self._supplied

    def switch_on(self, now: int) -> tuple[bool, ...]:
        """Give the levels as the supply comes on."""
        for name, levels in self.terminals.levels_of.items():
            for level in levels:
                self._raw_levels[level.index] = self.terminals.level(level, self._value(name, now), False)
        return tuple(self._raw_levels)

    def _value(self, name: str, now: int) -> Value | None:
        value = self.terminals.at_rest(name)
        for time, new in self._raw[name]:
            if time > now:
                break
            value = new
        return value

    def forget(self) -> None:
        """Forget what was on its way in: the supply is gone."""
        self._arrivals.clear()
        self._last_arrival.clear()
        self._last_act.clear()

    # -- what is on its way in -----------------------------------------------------------------------------------

    def first_act(self) -> int | None:
        """Give when the next change is taken in."""
        first = None
        for arrival in self._arrivals:
            if first is not None and arrival.raw > first:
                break
            first = arrival.act if first is None else min(first, arrival.act)
        return first

    def first_raw(self, now: int) -> int | None:
        """Give when the next change comes at a terminal."""
        return next((arrival.raw for arrival in self._arrivals if arrival.raw > now), None)

    def due(self, now: int) -> list[Arrival]:
        """Give what is taken in now, no level twice."""
        found: dict[int, Arrival] = {}
        for arrival in self.come_by(now):
            if arrival.act <= now and arrival.level not in found:
                found[arrival.level] = arrival
        return list(found.values())

    def come_by(self, now: int) -> list[Arrival]:
        """Give what has come at the terminals by now and was not taken in yet."""
        found = []
        for arrival in self._arrivals:
            if arrival.raw > now:
                break
            found.append(arrival)
        return found

    def batches_before(self, end: int) -> list[list[Arrival]]:
        """Give what comes at the terminals before a time and was not taken in yet, each with all of its moment."""
        batches = dict.fromkeys(arrival.batch for arrival in self._arrivals if arrival.raw < end)
        return [[arrival for arrival in self._arrivals if arrival.batch == batch] for batch in batches]

    def take(self, arrivals: Iterable[Arrival]) -> None:
        """Note that changes were taken in."""
        arrivals = list(arrivals)
        self._last_act |= self._acts_of(arrivals, self._last_act)
        for arrival in arrivals:
            self._arrivals.remove(arrival)

    # -- what was at the terminals -------------------------------------------------------------------------------

    def edges(self, end: int) -> dict[str, Edges]:
        """Give what was at each input terminal up to a time."""
        found = {}
        for name, changes in self._raw.items():
            initial = self._value(name, 0)
            if initial is None:
                raise MissingValue(f"{name} is a sensor and has no value; say what it measures from the start")
            found[name] = Edges(initial, _distinct(initial, [c for c in changes if 0 < c[0] <= end]))
        return found

    def power_edges(self, end: int) -> Edges:
        """Give the supply up to a time."""
        return Edges(False, tuple(edge for edge in self._power if edge[0] <= end))


def _distinct(initial: Value, changes: Sequence[tuple[int, Value]]) -> tuple[tuple[int, Value], ...]:
    found: list[tuple[int, Value]] = []
    value = initial
    for time, new in changes:
        if found and found[-1][0] == time:
            found.pop()
            value = found[-1][1] if found else initial
        if new != value:
            found.append((time, new))
            value = new
    return tuple(found)
