"""From a way through a space to a scenario that a bench can do.

Law of this module: what comes out has been tried: the reference machine, simulated, does what is claimed of it. What
cannot be shown so is not shown.

The moments of a way hang together by differences alone (a timing begun at one and over at another, two instants no
closer than a gap), so the least moments are found by going over these until none moves (shortest ways: Bellman-Ford).
What an accumulator added up before it stood still is put in from the moments found so far, and they are found again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction

from attrs import define, field, frozen

from boardgauge.language.quantities import Duration
from boardgauge.language.units import in_unit
from boardgauge.machine.chance import Timings
from boardgauge.machine.explore import comes_out, readings_of
from boardgauge.machine.run import Run, Value
from boardgauge.machine.scenario import Power, Scenario, ScenarioStep, ScenarioStuck, SetInputs, Wait, play
from boardgauge.machine.settle import Engine
from boardgauge.machine.table import Machine
from boardgauge.proving.clockwork import Clock, Clockwork, Node
from boardgauge.proving.timed import Came, Space
from boardgauge.proving.together import Happens, clocks_of, settled

S = 1_000_000
GAPS = (1 * S, S // 5, 1)
"""Two things are kept so far apart, if it can be: a person does them one after the other."""
AFTERWARDS = 2 * S

Shows = Callable[[Run], bool]
"""Tells whether a run shows what is claimed."""


@frozen
class Witness:
    """A scenario, the timings at which the simulated board shows what is claimed, and what it did."""

    scenario: Scenario
    timings: Timings
    run: Run


@frozen
class _Span:
    """The clock of a timing on the way: at nought in one step, over in another (None: not over on this way)."""

    clock: Clock
    began: int
    over: int | None
    last: int
    parts: tuple[tuple[int, int], ...] = ()


def way_to(space: Space, came: Came | None) -> tuple[Node, tuple[Happens, ...]]:
    """Give the node that a way begins at, and what happens on it."""
    happenings: list[Happens] = []
    first = 0
    while came is not None:
        happenings.append(came.what)
        first = came.node
        came = space.places[came.node].came[came.zone]
    return space.places[first].node, tuple(reversed(happenings))


def ruled_out_by(engine: Engine, start: Node, happenings: Sequence[Happens]) -> frozenset[int] | None:
    """Give timings whose lengths together rule a way out; none of them if it can be, None if it is no way at all."""
    way = _Way(engine, start, tuple(happenings))
    return way.culprits() if way.follows() else None


def witness(
    engine: Engine, whole: Engine, start: Node, happenings: Sequence[Happens], title: str, shows: Shows
) -> Witness | None:
    """Give a scenario for the whole board on which it shows what is claimed, by a way through a part of it.

    ``engine`` is that of the part explored, ``whole`` that of the board. None if no choice of moments was found.
    """
    way = _Way(engine, start, tuple(happenings))
    if not way.follows():
        return None
    values = _Readings(engine.machine, whole.machine).values(start, happenings)
    if values is None:
        return None
    for timings in ("nominal", "earliest", "latest"):
        for gap in GAPS:
            moments = way.moments(gap, timings)
            if moments is None:
                continue
            scenario = _scenario(engine.machine, whole.machine, start, happenings, values, moments, title)
            found = _tried(whole, scenario, timings, shows)
            if found is not None:
                return found
    for gap in GAPS:
        moments = way.moments(gap, None)
        if moments is not None:
            durations = way.durations(moments)
            scenario = _scenario(engine.machine, whole.machine, start, happenings, values, moments, title, durations)
            found = _tried(whole, scenario, "nominal", shows)
            if found is not None:
                return found
    return None


def _tried(whole: Engine, scenario: Scenario, timings: Timings, shows: Shows) -> Witness | None:
    try:
        run = play(whole.machine, scenario, timings, engine=whole)
    except ScenarioStuck:
        return None
    return Witness(scenario, timings, run) if shows(run) else None


# -- moments ---------------------------------------------------------------------------------------------------------


@define
class _Way:
    engine: Engine
    start: Node
    happenings: tuple[Happens, ...]
    spans: list[_Span] = field(factory=list)
    adding: dict[int, list[tuple[int, int]]] = field(factory=dict)
    blamed: frozenset[int] = frozenset()

    def follows(self) -> bool:
        """Find every clock on the way; False if some step is no step of the machine."""
        clockwork = Clockwork(self.engine)
        # The way may have been found with some timings followed only.
        node = clockwork.off(self.start.config)
        born: list[tuple[Clock, int]] = []
        for step, what in enumerate(self.happenings):
            if what.power is False:
                self._over(born, range(len(born)), step, None, node)
                self.adding.clear()
                node, born = clockwork.without_power(node, ((0, 0),) * len(node.clocks)), []
                continue
            over = clocks_of(node, what)
            if len(over) < len(what.over):
                return False
            outcome = settled(self.engine, node.config, what)
            self._over(born, over, step, step, node)
            after, sources = clockwork.after(node, outcome, over, ((0, 0),) * len(node.clocks))
            kept = {source - 1 for source in sources.of if source > 0}
            gone = [n for n in range(len(born)) if n not in kept and n not in over]
            self._over(born, gone, step, None, node)
            for region in outcome.emptied:
                self.adding.pop(self.engine.machine.regions[region].timings[0], None)
            old = born
            born = []
            for clock, source in zip(after.clocks, sources.of, strict=True):
                born.append(old[source - 1] if source > 0 else (clock, step))
            node = after
        last = len(self.happenings) - 1
        self._over(born, range(len(born)), last, None, node)
        return True

    def _over(
        self, born: list[tuple[Clock, int]], numbers: Sequence[int], step: int, over: int | None, node: Node
    ) -> None:
        for number in numbers:
            clock, began = born[number]
            timing = clock.timing
            parts = tuple(self.adding.get(timing, ()))
            self.spans.append(_Span(clock, began, over, step, parts))
            if self._adds_up(timing):
                if over is None:
                    self.adding.setdefault(timing, []).append((began, step))
                else:
                    self.adding.pop(timing, None)

    def _adds_up(self, timing: int) -> bool:
        return any(r.kind == "accumulator" and timing in r.timings for r in self.engine.machine.regions)

    def moments(self, gap: int, timings: Timings | None) -> list[int] | None:
        """Give the least moments of the steps, None if there are none with this gap and these durations."""
        found: list[int] | None = None
        for _ in range(4):
            again = self._least(gap, timings, found)
            if again is None or again == found:
                return again
            found = again
            if not any(span.parts for span in self.spans):
                return found
        return None

    def culprits(self) -> frozenset[int]:
        """Give timings whose lengths together rule the way out; none if there are moments for it.

        As in exploring, what happens at one moment may be taken one after the other.
        """
        self.blamed = frozenset()
        return frozenset() if self.moments(0, None) is not None else self.blamed

    def _least(self, gap: int, timings: Timings | None, known: list[int] | None) -> list[int] | None:
        number = len(self.happenings)
        edges: list[tuple[int, int, int, int]] = []
        for step in range(1, number):
            mine = not self.happenings[step].over or not self.happenings[step - 1].over
            edges.append((step - 1, step, gap if mine else min(gap, 1), -1))
        for span in self.spans:
            least, most = self._lengths(span.clock, timings)
            if span.parts:
                # Nothing is known of the parts yet: they are left out of the first round.
                had = sum(known[b] - known[a] for a, b in span.parts) if known is not None else 0
                least, most = max(0, least - had), max(0, most - had)
            if span.over is not None:
                edges.append((span.began, span.over, least, span.clock.timing))
                edges.append((span.over, span.began, -most, span.clock.timing))
            elif span.last > span.began:
                edges.append((span.last, span.began, -(most - min(gap, 1)), span.clock.timing))
        moments = [0] * number
        by: list[int] = [-1] * number
        last = -1
        for _ in range(number + 1):
            last = -1
            for index, (source, target, distance, _) in enumerate(edges):
                if moments[source] + distance > moments[target]:
                    moments[target] = moments[source] + distance
                    by[target] = index
                    last = target
            if last < 0:
                return [moment - moments[0] for moment in moments]
        # Still moving: the way back from where it moved last runs into a circle, and the circle is the contradiction.
        for _ in range(number):
            last = edges[by[last]][0]
        at, round_ = last, set()
        while True:
            round_.add(edges[by[at]][3])
            at = edges[by[at]][0]
            if at == last:
                break
        self.blamed = frozenset(timing for timing in round_ if timing >= 0)
        return None

    def _lengths(self, clock: Clock, timings: Timings | None) -> tuple[int, int]:
        durations = self.engine.machine.timings[clock.timing].choices
        if clock.rate != 1 or (clock.used != (0, 0) and not self._adds_up(clock.timing)):
            # Sped up, or kept through a loss of power: between its limits, and the trial decides.
            return clock.least, clock.most
        if timings is None:
            return min(d.shortest for d in durations), max(d.longest for d in durations)
        if len(durations) > 1:
            lengths = [_length(d, timings) for d in durations]
            return min(lengths), max(lengths)
        return (_length(durations[0], timings),) * 2

    def durations(self, moments: list[int]) -> dict[str, tuple[int, ...]]:
        """Give how long each timing has to last, by its name: those over when they were, others as long as they can."""
        found: dict[str, list[tuple[int, int]]] = {}
        for span in self.spans:
            row = self.engine.machine.timings[span.clock.timing]
            if row.role in {"requirement", "not judged"} or span.clock.rate != 1:
                continue
            longest = max(d.longest for d in row.choices)
            if span.over is None:
                if not self._adds_up(span.clock.timing):
                    found.setdefault(row.name, []).append((span.began, longest))
                continue
            had = sum(moments[b] - moments[a] for a, b in span.parts)
            first = min([span.began, *(a for a, _ in span.parts)])
            found.setdefault(row.name, []).append((first, had + moments[span.over] - moments[span.began]))
        return {name: tuple(length for _, length in sorted(rows)) for name, rows in found.items()}


def _length(duration: Duration, timings: Timings) -> int:
    return {"nominal": duration.nominal, "earliest": duration.shortest, "latest": duration.longest}[timings]


# -- what is done at the terminals -----------------------------------------------------------------------------------


@define
class _Readings:
    """Turns levels into values at the terminals of the whole board."""

    part: Machine
    whole: Machine

    def values(self, start: Node, happenings: Sequence[Happens]) -> list[dict[str, Value]] | None:
        """Give for each step the inputs it brings to a value; None if no reading of a sensor does it."""
        levels = list(start.config.levels)
        found: list[dict[str, Value]] = []
        for what in happenings:
            before = list(levels)
            for index, value in what.levels:
                levels[index] = value
            values: dict[str, Value] = {}
            for name in {self.part.levels[index].input for index, _ in what.levels}:
                value_ = self._value(name, before, levels)
                if value_ is None:
                    return None
                values[name] = value_
            found.append(values)
        return found

    def _value(self, name: str, before: list[bool], levels: list[bool]) -> Value | None:
        rows = [row for row in self.part.levels if row.input == name]
        if rows[0].comparison is None:
            return levels[rows[0].index]
        unit = self.part.board.inputs[name].unit or ""
        # The whole board may hold the sensor against more limits: a reading right between all of them is safest.
        for reading in readings_of(self.whole.board, [row for row in self.whole.levels if row.input == name]):
            if all(
                row.comparison is not None
                and comes_out(row.comparison, before[row.index], reading) == levels[row.index]
                for row in rows
            ):
                return in_unit(reading, unit).number
        return None


def _scenario(
    part: Machine,
    machine: Machine,
    start: Node,
    happenings: Sequence[Happens],
    values: Sequence[dict[str, Value]],
    moments: Sequence[int],
    title: str,
    durations: dict[str, tuple[int, ...]] | None = None,
) -> Scenario:
    board = machine.board
    begin: dict[str, Value] = dict(values[0])
    for name, row in board.inputs.items():
        if row.unit is not None and name not in begin:
            begin[name] = _middle(machine, name)
    steps: list[ScenarioStep] = [Wait(S), Power(True)]
    for step in range(1, len(happenings)):
        wait = moments[step] - moments[step - 1]
        what = happenings[step]
        steps.append(Wait(wait))
        if values[step]:
            steps.append(SetInputs(values[step]))
        if what.power is not None:
            steps.append(Power(what.power))
    steps.append(Wait(AFTERWARDS))
    positions = dict(_positions(part, start))
    return Scenario(board.id, title, tuple(_joined(steps)), begin, positions, durations or {})


def _joined(steps: Sequence[ScenarioStep]) -> Iterator[ScenarioStep]:
    """Give the steps with waits one after another made one."""
    waited = 0
    for step in steps:
        if isinstance(step, Wait):
            waited += step.time
            continue
        if waited:
            yield Wait(waited)
            waited = 0
        yield step
    if waited:
        yield Wait(waited)


def _middle(machine: Machine, name: str) -> Fraction:
    rows = [row for row in machine.levels if row.input == name]
    unit = machine.board.inputs[name].unit or ""
    readings = [in_unit(reading, unit).number for reading in readings_of(machine.board, rows)] if rows else []
    return readings[0] if readings else Fraction(20)


def _positions(machine: Machine, start: Node) -> Iterator[tuple[str, str]]:
    settings = machine.board.settings
    for name, place in zip(settings, start.config.settings, strict=True):
        position = settings[name].positions[place].name
        if position is not None:
            yield name, position
