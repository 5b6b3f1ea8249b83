"""What a trace exercised: rules, timings with what was measured of them, lines of the lamps' tables.

Law of this module: only what every remaining hypothesis agrees on counts as seen.
"""

from __future__ import annotations

from attrs import define, field, frozen

from boardgauge.judging.hypothesis import Hypothesis
from boardgauge.judging.judgement import LampCoverage, RuleCoverage, TimingCoverage
from boardgauge.judging.limits import Limits
from boardgauge.language.model import Accumulator, Blink, Delay, Flashes, Lamp, Pattern
from boardgauge.machine.settle import Engine

_MOST_COMPARED = 8
"""With more hypotheses than these nothing is agreed on anyway."""


@define
class _Measured:
    ended: int = 0
    sped_up: int = 0
    least: int | None = None
    greatest: int | None = None


@frozen
class Agreed:
    """What hypotheses agree on: places of regions, running timings, and lines of lamps with how long each must have
    stood to be read."""

    places: tuple[tuple[int, int], ...]
    running: int
    lines: tuple[tuple[int, int, int], ...]


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
        found = agreed(self.engine, hypotheses)
        if found is not None:
            self.note(found)
            for lamp, line, long in found.lines:
                if time - max(h.vars[h.lamps[lamp]][1] for h in hypotheses) >= long:
                    self.lines.setdefault(lamp, set()).add(line)

    def note(self, found: Agreed) -> None:
        """Note the places and timings of what was agreed on."""
        for region, place in found.places:
            self.places.setdefault(region, set()).add(place)
        self.begun |= found.running

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
                # What is reached may be reset in the same instant, by what it sets going: then it never stands so.
                exercised |= isinstance(rule, Accumulator) and any(t.ended for t in timings)
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


def agreed(engine: Engine, hypotheses: list[Hypothesis]) -> Agreed | None:
    """Give what all hypotheses agree on, times apart; None if there are too many, or none, or no power."""
    if not hypotheses or len(hypotheses) > _MOST_COMPARED or not all(h.config.powered for h in hypotheses):
        return None
    first, rest = hypotheses[0].config, [h.config for h in hypotheses[1:]]
    places, running = list(enumerate(first.places)), first.running
    for config in rest:
        places = [(region, place) for region, place in places if config.places[region] == place]
        running &= config.running
    lines = []
    for lamp, row in enumerate(engine.machine.board.lamps.values()):
        line = engine.lamp_line(first, lamp)
        if all(engine.lamp_line(config, lamp) == line for config in rest):
            grace = max(row.changes_within, row.not_judged_for)
            lines.append((lamp, line, grace + _cycle(row, row.lines[line].shows)))
    return Agreed(tuple(places), running, tuple(lines))


def _cycle(lamp: Lamp, shows: Pattern) -> int:
    match shows:
        case Blink(lit=lit, dark=dark):
            return lit + dark
        case Flashes(number=number):
            flash = lamp.flash
            assert flash is not None
            return number * (flash.lit + flash.dark) + 2 * (lamp.between_groups or 0)
    return 0
