"""The equipment round a board on the bench: it answers to what the board drives, and goes back when it stops.

Law of this module: a step that waits for an input to leave its rest gets it, well inside the time it gives; nothing
else is answered. What answered goes back to rest once the output that had come on before it is off again.
"""

from __future__ import annotations

from attrs import define, field

from boardgauge.machine.run import Entry
from boardgauge.machine.table import Region
from boardgauge.sheets.bench import Bench
from boardgauge.sheets.study import Study

_MOST_STEPS = 60
_ANSWERS_AFTER = 3
"""The equipment answers a third of the way into the time the board gives it."""


@define
class Equipment:
    """The equipment of one bench. ``answers``: (level, value at rest, the output that it answers to or -1)."""

    study: Study
    bench: Bench
    answers: list[tuple[int, bool, int]] = field(factory=list)

    def go_on(self) -> list[Entry]:
        """Let the board go on, the equipment answering what a step waits for, until it rests."""
        bench = self.bench
        entries: list[Entry] = []
        visited: set[tuple[int, int]] = set()
        for _ in range(_MOST_STEPS):
            waiting = self._waiting(visited)
            if waiting is not None:
                place, levels = waiting
                visited.add(place)
                step = self._step_time(place)
                due = bench.board.due()
                at = bench.now + (step // _ANSWERS_AFTER if step else bench.pause)
                if due is None or at < due:
                    entries += bench.until(at)
                    moved_by = self._last_on()
                    entries += bench.set(levels) or []
                    self.answers += [(index, not value, moved_by) for index, value in levels]
                    continue
            if not bench.runs():
                break
            seen = bench.config
            entries += bench.next()
            if bench.config == seen:
                break
        return entries

    def _last_on(self) -> int:
        """Give the output that came on last and still is on, -1 where none is."""
        values = self.study.engine.outputs(self.bench.config)
        for entry in reversed(self.bench.board.story()):
            for output, value in reversed(entry.outcome.commands if entry.outcome is not None else ()):
                if value and values[output]:
                    return output
        return -1

    def wind_down(self) -> list[Entry]:
        """Let the board come to rest after a call, the equipment going back as the outputs that moved it go off."""
        entries: list[Entry] = []
        left = self.answers[::-1]
        bench = self.bench
        for _ in range(_MOST_STEPS):
            values = self.study.engine.outputs(bench.config)
            back = [one for one in left if one[2] < 0 or not values[one[2]]]
            if back:
                entries += bench.set([back[0][:2]]) or []
                left.remove(back[0])
            elif bench.runs():
                new = bench.next()
                if not new:
                    break
                entries += new
            else:
                break
        return entries

    def _waiting(self, visited: set[tuple[int, int]]) -> tuple[tuple[int, int], list[tuple[int, bool]]] | None:
        """Find a step that waits for an input to leave its rest, and the change that it waits for."""
        engine, machine, bench = self.study.engine, self.study.machine, self.bench
        for region in machine.regions:
            place = bench.config.places[region.index]
            if region.kind != "sequence" or not place or (region.index, place) in visited:
                continue
            then = self._then(region, place)
            for level in machine.levels:
                now = bench.config.levels[level.index]
                if then is None or now != level.at_rest or level.comparison is not None:
                    continue
                levels = list(bench.config.levels)
                levels[level.index] = not now
                after = engine.settle(bench.config, tuple(levels)).config
                if after.places[region.index] == then:
                    return (region.index, place), [(level.index, not now)]
        return None

    def _then(self, region: Region, place: int) -> int | None:
        moves = [m for m in region.moves if m.source == region.places[place] and m.trigger is not None]
        targets = [region.places.index(m.target) for m in moves if m.target in region.places[1:]]
        return targets[0] if targets else None

    def _step_time(self, place: tuple[int, int]) -> int:
        region = self.study.machine.regions[place[0]]
        name = region.places[place[1]]
        rows = [self.study.machine.timings[t] for t in region.timings]
        return next((row.choices[0].nominal for row in rows if row.name == name), 0)
