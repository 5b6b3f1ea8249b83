"""Keeps the times of a simulated board: what runs, since when, and when it is over.

Law of this module: a timing counts from the moment at the terminals that set it going, under one draw; an accumulator
keeps its draw from reset to reset; each event of a count carries a window of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from attrs import define

from boardgauge.machine.board_time import BoardTime
from boardgauge.machine.chance import Chance
from boardgauge.machine.config import Cause, Config, Outcome
from boardgauge.machine.run import Causes, How, Stretch
from boardgauge.machine.settle import Engine
from boardgauge.machine.stopwatch import Going, Rates, first_end

Origin = Callable[[Cause], int]


@define(eq=False)
class Ending:
    """A timing (or a window of the count ``region``) that is about to be over."""

    going: Going
    region: int = -1

    @property
    def end(self) -> int:
        return self.going.end

    def stopped_by(self, outcome: Outcome) -> bool:
        """Tell whether an instant would stop it or set it going anew (for a window: would count before it is over)."""
        if self.region >= 0:
            return any(region == self.region for region, _ in outcome.counted)
        timing = self.going.timing
        return not outcome.config.running >> timing & 1 or any(timing == begun for begun, _ in outcome.begun)


class Timekeeper:
    """The times of one run."""

    def __init__(self, engine: Engine, chance: Chance) -> None:
        self._engine = engine
        self._machine = engine.machine
        self._chance = chance
        self._rates = Rates(self._machine)
        self._going: dict[int, Going] = {}
        self._windows: dict[int, list[Going]] = {
            r.index: [] for r in self._machine.regions if r.kind == "count" and r.timings
        }
        self._targets = {r.timings[0]: r for r in self._machine.regions if r.kind == "accumulator"}
        self._stretches: list[Stretch] = []

    # -- asking --------------------------------------------------------------------------------------------------

    def _all(self) -> Iterable[Going]:
        yield from self._going.values()
        for goings in self._windows.values():
            yield from goings

    def first_end(self) -> int | None:
        """Give the next moment at which some timing is over."""
        return first_end(self._all())

    def due(self, time: int) -> list[Ending]:
        """Give what is over by a time."""
        found = [Ending(g) for g in self._going.values() if g.since is not None and g.end <= time]
        for region, goings in self._windows.items():
            found += [Ending(g, region) for g in goings[:1] if g.since is not None and g.end <= time]
        return found

    def split(self, endings: Iterable[Ending]) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """Give the timings that end, and the counts of which an event is too old."""
        endings = list(endings)
        expired = tuple(sorted(e.going.timing for e in endings if e.region < 0))
        return expired, tuple(sorted(e.region for e in endings if e.region >= 0))

    def put_off(self, end: int, until: int) -> None:
        """Let what would be over at ``end`` run until a change that will stop it."""
        for going in self._all():
            if going.since is not None and going.end == end:
                going.not_before = going.end = until

    def latest_ends(self, causes: Causes) -> list[int]:
        """Give the latest moments at which the timings that end may have ended."""
        goings = [self._going[timing] for timing in causes.expired]
        goings += [self._windows[region][0] for region in causes.dropped]
        return [going.latest(self._board_time(going)) for going in goings]

    def _board_time(self, going: Going) -> BoardTime:
        return self._rates.of(self._machine.timings[going.timing])

    # -- an instant ----------------------------------------------------------------------------------------------

    def take(self, time: int, before: Config, outcome: Outcome, causes: Causes, origin: Origin) -> None:
        """Take over what an instant set going, stopped and ended."""
        begun = dict(outcome.begun)
        for timing in causes.expired:
            self._note(self._going.pop(timing), time, "expired")
        for region in causes.dropped:
            self._note(self._windows[region].pop(0), time, "expired")
        paused = dict(outcome.paused)
        for timing, going in list(self._going.items()):
            if timing in self._targets:
                if timing in paused and going.since is not None:
                    self._note(going, time, "stopped")
                    going.pause(max(going.since, origin(paused[timing])))
                if self._targets[timing].index in outcome.emptied:
                    self._drop(timing, time)
            elif not outcome.config.running >> timing & 1:
                self._note(self._going.pop(timing), time, "stopped")
        for timing, cause in begun.items():
            self._begin(timing, time, origin(cause), outcome.config)
        for region in outcome.forgot:
            for going in self._windows.get(region, ()):
                self._note(going, time, "stopped")
            self._windows.get(region, []).clear()
        for region, cause in outcome.counted:
            self._count(region, time, origin(cause), outcome.config)

    def _begin(self, timing: int, time: int, origin: int, config: Config) -> None:
        old = self._going.get(timing)
        if old is not None and timing in self._targets and old.since is None:
            old.since = origin
            old.not_before = time
        else:
            if old is not None:
                self._note(old, time, "begun again")
            old = self._going[timing] = self._fresh(timing, time, origin, config)
        old.work_out(self._board_time(old))

    def _fresh(self, timing: int, time: int, origin: int, config: Config) -> Going:
        row = self._machine.timings[timing]
        duration = row.choices[self._engine.settings.choice(config.chosen, timing)]
        return Going(timing, duration, self._chance.duration(duration, row.name), time, origin, not_before=time)

    def _count(self, region: int, time: int, origin: int, config: Config) -> None:
        if region not in self._windows:
            return
        row = self._machine.regions[region]
        window = self._fresh(row.timings[0], time, origin, config)
        window.work_out(self._board_time(window))
        goings = self._windows[region]
        goings.append(window)
        goings.sort(key=lambda going: going.end)
        if len(goings) > len(row.places) - 1:
            oldest = min(goings, key=lambda going: (going.since or 0, going.begun))
            goings.remove(oldest)
            self._note(oldest, time, "stopped")

    def _drop(self, timing: int, time: int) -> None:
        going = self._going.pop(timing)
        if going.since is not None:
            self._note(going, time, "begun again")

    def _note(self, going: Going, time: int, how: How) -> None:
        if going.since is not None:
            begun = going.not_before if going.ran else going.begun
            self._stretches.append(Stretch(going.timing, begun, going.since, time, how))

    # -- rates and the supply ------------------------------------------------------------------------------------

    def update_rates(self, time: int, config: Config) -> None:
        """Take over the rates that follow from a configuration, from a time on."""
        if self._rates.update(time, lambda speed_up: self._engine.sped_up(config, speed_up)):
            for going in self._all():
                if going.since is not None:
                    going.work_out(self._board_time(going))

    def lose_power(self, time: int, config: Config) -> None:
        """Forget what is not kept without power; what is kept stands still."""
        kept_targets = {t for t, region in self._targets.items() if region.kept_without_power}
        for going in self._all():
            self._note(going, time, "lost power")
        for timing, going in list(self._going.items()):
            if config.running >> timing & 1 or timing in kept_targets:
                going.pause(time)
            else:
                del self._going[timing]
        for region, goings in self._windows.items():
            if not self._machine.regions[region].kept_without_power:
                goings.clear()
            for going in goings:
                going.pause(time)

    def resume(self, time: int) -> None:
        """Let what was kept without power run on, accumulators when they add up again."""
        kept = [going for timing, going in self._going.items() if timing not in self._targets]
        kept += [going for goings in self._windows.values() for going in goings]
        for going in kept:
            going.since = going.not_before = time
            going.work_out(self._board_time(going))

    def stretches(self, end: int) -> tuple[Stretch, ...]:
        """Give every stretch a timing ran, those still running at the end last."""
        running: Sequence[Stretch] = [
            Stretch(g.timing, g.begun, g.since, end, "still running") for g in self._all() if g.since is not None
        ]
        return (*self._stretches, *running)
