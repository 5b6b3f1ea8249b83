"""What a transition of an SCXML chart does to its timings: delayed sends, cancelled and sent again.

Law of this module: a timing that runs is one delayed send. One that may stand still and run on (an accumulator, what is
kept without power) has its rest in the data model while it stands still; for that the chart is told the time, by the
events from outside in ``_event.data.at`` and by its own sends in the same place, and asks no clock.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from boardgauge.exports.cannot_export import CannotExport
from boardgauge.machine.config import Config, Outcome
from boardgauge.machine.settle import Engine

NOW = '<assign location="now" expr="_event.data.at"/>'


class Times:
    """Knows the timings of one machine. ``told`` says whether the chart has to be told the time."""

    def __init__(self, engine: Engine, off: Config) -> None:
        """``off`` is the board before it is switched on for the first time."""
        self.engine = engine
        machine = engine.machine
        chosen = engine.settings.choose(off.chosen, off.settings, engine.painter.at_rest(), (), True)
        self._first = off._replace(chosen=chosen)
        self._sums = {r.timings[0]: r.index for r in machine.regions if r.kind == "accumulator"}
        kept = {t for r in machine.regions if r.kept_without_power for t in r.timings}
        self._kept = kept | {d.timing for d in machine.delays if d.kept_without_power}
        self.counts = [row.index for row in machine.regions if row.kind == "count" and row.timings]
        self._single = [row.index for row in machine.timings if row.role != "window"]
        self.told = bool(self._sums or self._kept)
        for timing in (*self._sums, *self._kept):
            setting = machine.timings[timing].setting
            row = None if setting is None else machine.board.settings[setting]
            if row is None or not any(position.when is not None for position in row.positions):
                continue
            if row.read == "always" or timing in self._kept:
                raise CannotExport(
                    f"the inputs choose how long {machine.timings[timing].name} lasts, and it may stand still and run "
                    "on: a chart cannot say what is left of it where they have chosen otherwise meanwhile"
                )

    def data(self) -> Iterator[str]:
        """Give what the data model has: for each timing that may stand still what is left of it, and when it is due."""
        yield '<data id="now" expr="0"/>'
        for slot, timing in self._slots():
            yield f'<data id="left_{slot}" expr="{self._length(timing, self._first)}"/>'
            yield f'<data id="due_{slot}" expr="0"/>'

    def _slots(self) -> Iterator[tuple[str, int]]:
        machine = self.engine.machine
        for timing in self._single:
            if timing in self._sums or timing in self._kept:
                yield str(timing), timing
        for region in self.counts:
            row = machine.regions[region]
            if row.kept_without_power:
                for number in range(len(row.places) - 1):
                    yield f"{row.timings[0]}_{number}", row.timings[0]

    # -- what a transition does --------------------------------------------------------------------------------------

    def taken(
        self,
        before: Config,
        outcome: Outcome,
        heads: list[int],
        over: int = -1,
        had: Mapping[int, int] | None = None,
    ) -> Iterator[str]:
        """Give what an instant does. ``heads`` (the number of each count's oldest send) is brought up to date;
        ``over`` is the timing that is over, ``had`` the events a count has left of which one is too old."""
        if self.told:
            yield NOW
        begun = {timing for timing, _ in outcome.begun}
        for timing in self._single:
            if timing in self._sums:
                yield from self._adds(timing, before, outcome, timing in begun, over)
                continue
            ran = before.running >> timing & 1 and timing != over
            runs = outcome.config.running >> timing & 1
            if ran and not before.powered:
                # Kept without power: what is left of it runs on.
                if runs and timing not in begun:
                    yield self._run_on(timing, str(timing))
            elif ran and (timing in begun or not runs):
                yield f'<cancel sendid="time.{timing}"/>'
            if timing in begun:
                yield from self._begin(timing, str(timing), outcome.config)
        for place, region in enumerate(self.counts):
            if not before.powered:
                yield from self._windows_run_on(place, region, before, heads)
            going = (had or {}).get(region, before.places[region])
            yield from self._windows(place, region, going, outcome, heads)

    def off(self, config: Config, heads: tuple[int, ...]) -> Iterator[str]:
        """Give what a loss of power does."""
        if self.told:
            yield NOW
        for timing in self._single:
            kept = timing in self._kept
            if config.running >> timing & 1:
                yield from self._stop(timing, str(timing), kept)
            if timing in self._sums and not kept:
                yield f'<assign location="left_{timing}" expr="{self._length(timing, config)}"/>'
        for place, region in enumerate(self.counts):
            row = self.engine.machine.regions[region]
            for number in range(config.places[region]):
                slot = self._slot(place, region, heads, number)
                yield from self._stop(row.timings[0], slot, row.kept_without_power)

    def heads_without_power(self, heads: tuple[int, ...]) -> tuple[int, ...]:
        """Give the numbers of the counts' oldest sends after a loss of power."""
        regions = self.engine.machine.regions
        rows = zip(self.counts, heads, strict=True)
        return tuple(head if regions[region].kept_without_power else 0 for region, head in rows)

    def _adds(self, timing: int, before: Config, outcome: Outcome, begun: bool, over: int) -> Iterator[str]:
        emptied = self._sums[timing] in outcome.emptied
        ran = before.running >> timing & 1 and timing != over
        runs = outcome.config.running >> timing & 1
        if ran and (emptied or begun or not runs):
            yield from self._stop(timing, str(timing), not emptied)
        if emptied or (not before.powered and timing not in self._kept):
            yield f'<assign location="left_{timing}" expr="{self._length(timing, outcome.config)}"/>'
        if runs and (emptied or begun or not ran):
            yield self._run_on(timing, str(timing))

    def _windows(self, place: int, region: int, going: int, outcome: Outcome, heads: list[int]) -> Iterator[str]:
        row = self.engine.machine.regions[region]
        timing, limit = row.timings[0], len(row.places) - 1
        if region in outcome.forgot:
            for number in range(going):
                yield f'<cancel sendid="time.{self._slot(place, region, heads, number)}"/>'
            going, heads[place] = 0, 0
        if any(region == counted for counted, _ in outcome.counted):
            if going == limit:
                yield f'<cancel sendid="time.{self._slot(place, region, heads, 0)}"/>'
                heads[place] = (heads[place] + 1) % limit
                going -= 1
            yield from self._begin(timing, self._slot(place, region, heads, going), outcome.config)
            going += 1
        if not going:
            heads[place] = 0

    def _windows_run_on(self, place: int, region: int, before: Config, heads: list[int]) -> Iterator[str]:
        timing = self.engine.machine.regions[region].timings[0]
        for number in range(before.places[region]):
            yield self._run_on(timing, self._slot(place, region, heads, number))

    def _slot(self, place: int, region: int, heads: list[int] | tuple[int, ...], number: int) -> str:
        row = self.engine.machine.regions[region]
        return f"{row.timings[0]}_{(heads[place] + number) % (len(row.places) - 1)}"

    # -- sends -------------------------------------------------------------------------------------------------------

    def _begin(self, timing: int, slot: str, config: Config) -> Iterator[str]:
        time = self._length(timing, config)
        send = f'<send event="time.{timing}" id="time.{slot}" delay="{time}ms"'
        if not self.told:
            yield f"{send}/>"
            return
        if timing in self._kept:
            yield f'<assign location="due_{slot}" expr="now + {time}"/>'
        yield f'{send}><param name="at" expr="now + {time}"/></send>'

    def _run_on(self, timing: int, slot: str) -> str:
        return (
            f'<assign location="due_{slot}" expr="now + left_{slot}"/>'
            f'<send event="time.{timing}" id="time.{slot}" delayexpr="left_{slot} + \'ms\'">'
            f'<param name="at" expr="due_{slot}"/></send>'
        )

    def _stop(self, timing: int, slot: str, kept: bool) -> Iterator[str]:
        yield f'<cancel sendid="time.{slot}"/>'
        if kept:
            yield f'<assign location="left_{slot}" expr="due_{slot} - now"/>'

    def _length(self, timing: int, config: Config) -> int:
        """Give how long a timing lasts at nominal times (milliseconds)."""
        row = self.engine.machine.timings[timing]
        time = row.choices[self.engine.settings.choice(config.chosen, timing)].nominal
        if time % 1000:
            raise CannotExport(f"{row.name} lasts {time} microseconds, and SCXML engines count milliseconds")
        return time // 1000
