"""What a trace exercised: rules, timings with what was measured of them, lines of the lamps' tables.

Law of this module: only what every remaining hypothesis agrees on counts as seen.
"""

from __future__ import annotations

from attrs import define, field

from boardgauge.judging.hypothesis import Hypothesis
from boardgauge.judging.judgement import LampCoverage, RuleCoverage, TimingCoverage
from boardgauge.judging.limits import Limits
from boardgauge.language.model import Blink, Delay, Flashes, Lamp, Pattern
from boardgauge.machine.settle import Engine

_MOST_COMPARED = 8
"""With more hypotheses than these nothing is agreed on anyway."""


@define
class _Measured:
    ended: int = 0
    sped_up: int = 0
    least: int | None = None
    greatest: int | None = None


@define
class Coverage:
    """Collects what one pass over a trace shows."""

    engine: Engine
    limits: Limits
    measured: dict[int, _Measured] = field(factory=dict)
    places: dict[int, set[int]] = field(factory=dict)
    begun: int = 0
    lines: dict[int, set[int]] = field(factory=dict)

    def timing_ended(self, timing: int, least: int, greatest: int, sped_up: bool) -> None:
        """Note that a timing ended, having lasted so long as far as the trace fixes it.

        What ran while a speed-up may have held is counted, not measured: its limits are others.
        """
        row = self.measured.setdefault(timing, _Measured())
        row.ended += 1
        if sped_up:
            row.sped_up += 1
            return
        row.least = least if row.least is None else min(row.least, least)
        row.greatest = greatest if row.greatest is None else max(row.greatest, greatest)

    def look(self, hypotheses: list[Hypothesis], time: int) -> None:
        """Note what all hypotheses agree on at a time."""
        if not hypotheses or len(hypotheses) > _MOST_COMPARED or not hypotheses[0].config.powered:
            return
        first, rest = hypotheses[0].config, [h.config for h in hypotheses[1:]]
        for index, place in enumerate(first.places):
            if all(config.places[index] == place for config in rest):
                self.places.setdefault(index, set()).add(place)
        running = first.running
        for config in rest:
            running &= config.running
        self.begun |= running
        for lamp, row in enumerate(self.engine.machine.board.lamps.values()):
            line = self.engine.lamp_line(first, lamp)
            since = max(h.vars[h.lamps[lamp]][1] for h in hypotheses)
            if all(self.engine.lamp_line(config, lamp) == line for config in rest):
                grace = max(row.changes_within, row.not_judged_for)
                if time - since >= grace + _cycle(row, row.lines[line].shows):
                    self.lines.setdefault(lamp, set()).add(line)

    # -- reporting -------------------------------------------------------------------------------------------------

    def rules(self) -> tuple[RuleCoverage, ...]:
        """Give the coverage of every rule, in the order of the spec."""
        machine = self.engine.machine
        rows = []
        for rule in machine.board.rules.values():
            timings = tuple(self._timing(t.index) for t in machine.timings if t.owner == rule.id)
            if isinstance(rule, Delay):
                exercised = bool(timings[0].ended) or bool(self.begun >> machine.timings_of(rule.id)[0].index & 1)
            else:
                region = machine.region_of(rule.id)
                assert region is not None
                exercised = any(place > 0 for place in self.places.get(region.index, ()))
            kind = type(rule).__name__.lower()
            rows.append(RuleCoverage(rule.id, kind, rule.note.clause, exercised, timings))
        for condition in machine.board.conditions.values():
            timings = tuple(self._timing(t.index) for t in machine.timings if t.owner == condition.id)
            if timings:
                exercised = any(t.ended for t in timings)
                rows.append(RuleCoverage(condition.id, "condition", condition.note.clause, exercised, timings))
        return tuple(rows)

    def _timing(self, timing: int) -> TimingCoverage:
        row = self.engine.machine.timings[timing]
        seen = self.measured.get(timing, _Measured())
        shortest, longest = min(c.shortest for c in row.choices), max(c.longest for c in row.choices)
        return TimingCoverage(
            row.name, row.owner, row.clause, shortest, longest, seen.ended, seen.least, seen.greatest, seen.sped_up
        )

    def lamps(self) -> tuple[LampCoverage, ...]:
        """Give, for every lamp, which of its lines stood long enough to be read."""
        return tuple(
            LampCoverage(row.id, tuple(i in self.lines.get(number, ()) for i in range(len(row.lines))))
            for number, row in enumerate(self.engine.machine.board.lamps.values())
        )


def _cycle(lamp: Lamp, shows: Pattern) -> int:
    match shows:
        case Blink(lit=lit, dark=dark):
            return lit + dark
        case Flashes(number=number):
            flash = lamp.flash
            assert flash is not None
            return number * (flash.lit + flash.dark) + 2 * (lamp.between_groups or 0)
    return 0
