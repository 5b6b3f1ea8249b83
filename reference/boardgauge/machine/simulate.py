"""The simulated board: a reference machine stepped through time, with every free choice made.

Law of this module: nothing here decides what a board does; ``Engine`` does. Here is only *when*: the next moment at
which something is due is found, all that is due at it goes to one ``settle``, and what that set going is timed. Times
are whole microseconds and no clock is read.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from boardgauge.machine.chance import Chance, Timings
from boardgauge.machine.config import Cause, Config, Outcome
from boardgauge.machine.incoming import Incoming
from boardgauge.machine.lamp_wave import lamp_edges
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import Causes, Edges, Entry, Run, Taken, Timeline, Value
from boardgauge.machine.scanning import SCAN
from boardgauge.machine.settle import Engine
from boardgauge.machine.showing import Showing
from boardgauge.machine.table import Machine
from boardgauge.machine.terminals import Arrival
from boardgauge.machine.timekeeper import Timekeeper

_MOST_AT_ONCE = 1000

Watch = Callable[[Entry, Config], bool]
"""Asked at every instant: (what happened, what the board was in before); true stops the simulation there."""


class Simulator:
    """The simulated board of a machine.

    ``timings``: every free choice at its nominal, earliest or latest, or random from ``seed``. ``positions`` names the
    positions of settings chosen by a person (setting -> name of the position). ``durations`` (timing's name ->
    microseconds) says how long a timing lasts the first time, the second time and so on.
    """

    def __init__(
        self,
        machine: Machine,
        timings: Timings = "nominal",
        seed: int = 0,
        positions: Mapping[str, str] | None = None,
        engine: Engine | None = None,
        durations: Mapping[str, Sequence[int]] | None = None,
    ) -> None:
        self.machine = machine
        self._durations = dict(durations or {})
        self.engine = engine or Engine(machine)
        self._timings: Timings = timings
        self._seed = seed
        self._positions = dict(positions or {})

    def board(self) -> SimulatedBoard:
        """Give a fresh board at time 0, without power, every input at rest."""
        chance = Chance(self.machine, self._timings, self._seed, self._durations)
        return SimulatedBoard(self.engine, chance, self._positions)

    def run(self, timeline: Timeline) -> Run:
        """Run a fresh board through a timeline.

        Raises CannotSettle where the spec does not come to rest, MissingValue for a sensor without a value at power-up.
        """
        board = self.board()
        board.feed(timeline.inputs)
        board.advance(timeline.end)
        return board.run()


class SimulatedBoard:
    """One board in the middle of a run. It is fed what comes at its terminals, and advanced."""

    def __init__(self, engine: Engine, chance: Chance, positions: dict[str, str]) -> None:
        self.engine = engine
        self.machine = engine.machine
        self.now = 0
        self.config = engine.off(positions)
        self._incoming = Incoming(self.machine, chance)
        self._showing = Showing(self.machine, chance)
        self._time = Timekeeper(engine, chance)
        self._chance = chance
        self._story: list[Entry] = []
        self._lines: list[list[tuple[int, int]]] = [[] for _ in self.machine.board.lamps]
        self._next_scan: int | None = None
        """When a board that did not come to rest goes on."""

    def feed(self, changes: Mapping[str, Sequence[tuple[int, Value]]]) -> None:
        """Say what happens next at the terminals (input, or ``power``, -> changes in order), from now on.

        Raises KeyError for what is no input, ValueError for changes out of order or in the past, TooShort for one
        that takes back a change the board has acted on sooner than any change that counts may.
        """
        self._incoming.feed(changes, self.now, self.config.powered)

    # -- stepping ------------------------------------------------------------------------------------------------

    def advance(self, to: int, watch: Watch | None = None) -> bool:
        """Go on to a time, everything due at it included; stops early, and gives True, where the watch says so."""
        at_once = 0
        while (time := self._next()) is not None and time <= to:
            at_once = at_once + 1 if time == self.now else 0
            if at_once > _MOST_AT_ONCE:
                # Times that may last nothing at all, each setting the next one going.
                raise CannotSettle(f"at {time / 1_000_000:g} s: the timings keep ending without any time passing")
            self.now = time
            before = self.config
            entry = self._step()
            if entry is not None:
                self._story.append(entry)
                self._note_lines()
                if watch is not None and watch(entry, before):
                    return True
        self.now = max(self.now, to)
        return False

    def due(self) -> int | None:
        """Give the next moment at which something is due, None if nothing is, however long one waits."""
        return self._next()

    def showing_after(self, time: int) -> list[tuple[int, str, bool]]:
        """Give what shows at the outputs after a time, (time, output, value), as far as it is commanded by now.

        What shows later than now may still be undone by what is due before.
        """
        return self._showing.after(time)

    def terminal(self, output: int) -> tuple[bool, tuple[int, bool] | None]:
        """Give the level at an output's terminal now, and the change on its way there as (time, level), if any."""
        return self._showing.at(output, self.now)

    def story(self) -> tuple[Entry, ...]:
        """Give every instant up to now."""
        return tuple(self._story)

    def _next(self) -> int | None:
        found = [self._incoming.next_supply()]
        if self.config.powered:
            found += [self._time.first_end(), self._incoming.first_act(), self._next_scan]
            if self.machine.speed_ups:
                # A speed-up counts from its terminal, so the rates are looked at as each change comes.
                found.append(self._incoming.first_raw(self.now))
        times = [time for time in found if time is not None]
        return max(self.now, min(times)) if times else None

    def _step(self) -> Entry | None:
        supply = self._incoming.take_supply(self.now)
        if supply is not None:
            return self._switch_on() if supply else self._switch_off()
        ending = self._time.due(self.now)
        held = {going for going in ending if self._terminals_first(going.end, going.stopped_by)}
        arrivals = self._incoming.due(self.now)
        expired, dropped = self._time.split([going for going in ending if going not in held and going.end <= self.now])
        if not arrivals and not expired and not dropped and self._next_scan != self.now:
            self._time.update_rates(self.now, self._at_the_terminals())
            return None
        self._incoming.take(arrivals)
        taken = tuple(Taken(a.level, a.value, a.raw) for a in arrivals)
        causes = Causes(taken, expired, dropped)
        return self._instant(causes, self._levels_with(arrivals))

    def _levels_with(self, arrivals: Sequence[Arrival]) -> tuple[bool, ...]:
        levels = list(self.config.levels)
        for arrival in arrivals:
            levels[arrival.level] = arrival.value
        return tuple(levels)

    def _terminals_first(self, end: int, stopped_by: Callable[[Outcome], bool]) -> bool:
        """Act now on what came at the terminals before a timing's end and stops it; tells whether that is so.

        The stopwatch stands at the terminals: a timing whose reason went away there cannot run out afterwards, however
        late the board would have looked.
        """
        taken: list[Arrival] = []
        for batch in self._incoming.batches_before(end):
            taken += batch
            try:
                outcome = self.engine.settle(self.config, self._levels_with(taken))
            except CannotSettle:
                continue
            if stopped_by(outcome):
                act = max(self.now, *(arrival.raw for arrival in taken))
                for arrival in taken:
                    arrival.act = min(arrival.act, act)
                if act > self.now:
                    self._time.put_off(end, act)
                return True
        return False

    def _at_the_terminals(self) -> Config:
        """Give what the board would be in, had it taken in all that has come at its terminals."""
        come = self._incoming.come_by(self.now)
        if not come or not self.machine.speed_ups:
            return self.config
        try:
            return self.engine.settle(self.config, self._levels_with(come)).config
        except CannotSettle:
            return self.config

    def _instant(self, causes: Causes, levels: tuple[bool, ...]) -> Entry:
        try:
            outcome = self.engine.settle(
                self.config, levels, causes.expired, causes.dropped, power_up=causes.power is True
            )
        except CannotSettle as error:
            raise type(error)(f"at {self.now / 1_000_000:g} s: {error}") from None
        deadlines = [taken.raw + self._incoming.terminals.responds_within(taken.level) for taken in causes.changes]
        deadline = min([*deadlines, *self._time.latest_ends(causes)], default=None)
        shows = self._showing.command(dict(outcome.commands), self.now, deadline)

        def origin(cause: Cause) -> int:
            if cause.kind == "inputs":
                return max((t.raw for t in causes.changes if t.level in cause.which), default=self.now)
            if cause.kind == "outputs":
                return max((shows.get(output, self.now) for output in cause.which), default=self.now)
            if causes.expired or causes.dropped or causes.power:
                return self.now
            return max((t.raw for t in causes.changes), default=self.now)

        before, self.config = self.config, outcome.config
        self._time.take(self.now, before, outcome, causes, origin)
        self._time.update_rates(self._rates_from(causes), self._at_the_terminals())
        self._next_scan = self.now + SCAN if self.engine.scans_again(self.config) else None
        return Entry(self.now, outcome, causes, self.config)

    def _rates_from(self, causes: Causes) -> int:
        only_inputs = causes.changes and not causes.expired and not causes.dropped
        return max(t.raw for t in causes.changes) if only_inputs else self.now

    # -- the supply ----------------------------------------------------------------------------------------------

    def _switch_on(self) -> Entry:
        levels = self._incoming.switch_on(self.now)
        self._time.resume(self.now)
        entry = self._instant(Causes(power=True), levels)
        self._incoming.plan_from(self.now)
        return entry

    def _switch_off(self) -> Entry:
        self._incoming.forget()
        self._next_scan = None
        off = self._showing.not_off()
        self._showing.command(dict.fromkeys(off, False), self.now, None)
        self.config = self.engine.lose_power(self.config)
        self._time.lose_power(self.now, self.config)
        self._time.update_rates(self.now, self.config)
        return Entry(self.now, None, Causes(power=False), self.config)

    # -- what came of it -----------------------------------------------------------------------------------------

    def _note_lines(self) -> None:
        for lamp, lines in enumerate(self._lines):
            line = self.engine.lamp_line(self.config, lamp)
            if line != (lines[-1][1] if lines else -1):
                lines.append((self.now, line))

    def run(self) -> Run:
        """Give what the board did up to now."""
        lamps = {
            lamp.id: Edges(False, lamp_edges(lamp, lines, self._chance.beside(lamp.id), self.now))
            for lamp, lines in zip(self.machine.board.lamps.values(), self._lines, strict=True)
        }
        return Run(
            self.now,
            self._incoming.edges(self.now),
            self._showing.edges(self.now),
            lamps,
            self._incoming.power_edges(self.now),
            tuple(self._story),
            self._time.stretches(self.now),
        )
