"""Settle an instant: everything due at one moment, taken together.

Law of this module: a pure function from a configuration and what happens to the next configuration. All kept things
look at the same picture and move together; the picture is drawn again; they look again, until none moves. Then,
events gone, they look once more; if something moves, a further instant follows at the same time.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from attrs import define, field

from boardgauge.language import expressions as ex
from boardgauge.machine.causes import Blame
from boardgauge.machine.config import THE_INSTANT, Cause, Config, Outcome
from boardgauge.machine.logic import POWER_UP, Check, Happens, Logic, Picture, facts_of
from boardgauge.machine.moves import Look, Mover, Trigger, mover
from boardgauge.machine.picture import CannotSettle, Painter
from boardgauge.machine.restless import in_order, moved_again
from boardgauge.machine.settings import SettingReader
from boardgauge.machine.table import Machine

_MOST_INSTANTS = 64
NONE: tuple[int, ...] = ()


@define
class Made:
    """What the instants of one moment have done so far."""

    begun: dict[int, Cause] = field(factory=dict)
    paused: dict[int, Cause] = field(factory=dict)
    emptied: set[int] = field(factory=set)
    counted: dict[int, Cause] = field(factory=dict)
    forgot: set[int] = field(factory=set)
    broken: set[int] = field(factory=set)
    together: set[int] = field(factory=set)
    flips: dict[int, int] = field(factory=dict)


class Engine:
    """Steps one machine; ``painter`` draws its pictures. Outcomes are remembered: an instant is worked out once."""

    def __init__(self, machine: Machine, painter: type[Painter] = Painter) -> None:
        self.machine = machine
        self.logic = Logic(machine)
        self.painter = painter(machine, self.logic)
        self.settings = SettingReader(machine, self.logic)
        self._blame = Blame(machine, self.logic, self.painter)
        self._movers = [mover(machine, self.logic, region) for region in machine.regions]
        self._timed = [row for row in self._movers if row.region.timings or row.region.kind == "count"]
        self._delays = [(d, self.logic.delay_slot(d.index), self.logic.happens(d.begins)) for d in machine.delays]
        self._fors = [
            (t.index, self.logic.condition(t.condition.condition))
            for t in machine.timings
            if isinstance(t.condition, ex.For)
        ]
        self._output_slots = [self.logic.slots[row.output] for row in machine.outputs]
        self._lamps = [
            [None if line.when is None else self.logic.condition(line.when) for line in lamp.lines]
            for lamp in machine.board.lamps.values()
        ]
        self._speed_ups = [self.logic.condition(row.while_) for row in machine.speed_ups]
        self._watches: list[tuple[Happens, Check | None]] = []
        for watch in machine.watches:
            unless = watch.requirement.except_while
            check = None if unless is None else self.logic.condition(unless)
            self._watches.append((self.logic.happens(watch.breaks), check))
        self._togethers: list[tuple[int, Happens | None, Check | None]] = []
        for row in machine.togethers:
            unless = row.requirement.except_while
            self._togethers.append(
                (
                    row.index,
                    None if row.after is None else self.logic.happens(row.after),
                    None if unless is None else self.logic.condition(unless),
                )
            )
        self._off = self.off()
        self.notes: dict[str, Any] = {}
        """What others worked out of this machine, for as long as the engine is."""
        self._outcomes: dict[tuple[Config, tuple[bool, ...], tuple[int, ...], tuple[int, ...], bool], Outcome] = {}
        self._pictures: dict[Config, Picture] = {}
        self._outputs: dict[Config, tuple[bool, ...]] = {}
        self._lamp_lines: dict[Config, tuple[int, ...]] = {}

    # -- reading a configuration ---------------------------------------------------------------------------------

    def off(self, positions: dict[str, str] | None = None) -> Config:
        """Give the configuration of a board without power; ``positions`` names the settings not at factory."""
        levels = tuple(level.at_rest for level in self.machine.levels)
        places = (0,) * len(self.machine.regions)
        return Config(False, levels, places, 0, 0, self.settings.named(positions or {}), self.settings.nothing_chosen)

    def picture(self, config: Config) -> Picture:
        """Give the settled picture of a configuration."""
        found = self._pictures.get(config)
        if found is None:
            if config.powered:
                found = self.painter.draw(config.levels, config.places, None, 0, config.running, config.full)
            else:
                found = self.painter.at_rest()
            self._pictures[config] = found
        return found

    def outputs(self, config: Config) -> tuple[bool, ...]:
        """Give what each output is commanded to be."""
        found = self._outputs.get(config)
        if found is None:
            picture = self.picture(config)
            found = tuple(config.powered and picture[slot] for slot in self._output_slots)
            self._outputs[config] = found
        return found

    def lamp_line(self, config: Config, lamp: int) -> int:
        """Give the index of the line a lamp shows; -1 without power."""
        return self.lamp_lines(config)[lamp]

    def lamp_lines(self, config: Config) -> tuple[int, ...]:
        """Give the same for every lamp."""
        found = self._lamp_lines.get(config)
        if found is None:
            picture = self.picture(config)
            found = tuple(
                next(i for i, check in enumerate(lines) if check is None or check(picture)) if config.powered else -1
                for lines in self._lamps
            )
            self._lamp_lines[config] = found
        return found

    def sped_up(self, config: Config, speed_up: int) -> bool:
        """Tell whether a speed-up holds."""
        return config.powered and self._speed_ups[speed_up](self.picture(config))

    def holds(self, config: Config, name: str) -> bool:
        """Tell whether a named thing is on (or reached) in a configuration."""
        return self.picture(config)[self.logic.slots[name]]

    # -- stepping ------------------------------------------------------------------------------------------------

    def lose_power(self, config: Config) -> Config:
        """Give the configuration after a loss of power: all gone but what is kept without power, and its timings."""
        off = self._off
        regions = self.machine.regions
        places = tuple(
            place if region.kept_without_power else 0 for region, place in zip(regions, config.places, strict=True)
        )
        kept = [d.timing for d in self.machine.delays if d.kept_without_power]
        kept += [t for r in regions if r.kept_without_power and r.kind != "accumulator" for t in r.timings]
        running = sum(1 << timing for timing in kept if config.running >> timing & 1)
        return off._replace(places=places, running=running, settings=config.settings, chosen=config.chosen)

    def scans_again(self, config: Config) -> bool:
        """Tell whether a board in a configuration goes on by itself, with nothing happening and no time to run out."""
        return False

    def rests(self, config: Config) -> bool:
        """Tell whether nothing kept moves in a configuration as it stands, with nothing happening."""
        picture = self.painter.draw(config.levels, config.places, None, 0, config.running, config.full)
        look = Look(picture, picture, 0, config.running)
        return all(
            rule.move(look, place, place, False) == place
            for rule, place in zip(self._movers, config.places, strict=True)
        )

    def settle(
        self,
        config: Config,
        levels: tuple[bool, ...] | None = None,
        expired: tuple[int, ...] = NONE,
        dropped: tuple[int, ...] = NONE,
        power_up: bool = False,
    ) -> Outcome:
        """Take in all that is due at one moment and settle.

        ``levels``: the inputs as they are from now on (None: as they were); ``expired``: the timings that end, in
        rising order; ``dropped``: the count regions of which one event is now too old; ``power_up``: the supply comes
        on. Raises ``CannotSettle`` with the reason where the spec does not come to rest.
        """
        given = config.levels if levels is None else levels
        key = (config, given, expired, dropped, power_up)
        outcome = self._outcomes.get(key)
        if outcome is None:
            outcome = self._outcomes[key] = self.work_out(config, given, facts_of(expired, power_up), dropped)
        return outcome

    def work_out(self, config: Config, levels: tuple[bool, ...], facts: int, dropped: tuple[int, ...]) -> Outcome:
        """Do as ``settle`` does, remembering nothing. ``facts``: bits of what happens (``machine.logic``)."""
        made = Made()
        settled = self.instant(config, levels, facts, dropped, made)
        trail = [config, settled]
        while (further := self.instant(settled, levels, 0, NONE, made)).places != settled.places:
            settled = further
            trail.append(settled)
            if len(trail) > _MOST_INSTANTS + 1:
                reason = "the rules keep moving one another without any time passing"
                raise CannotSettle(reason, moved_again(self.machine, trail))
        for index, flips in made.flips.items():
            if flips > 1:
                output = self.machine.outputs[index].output
                reason = f"{output} changes and changes back in no time"
                raise CannotSettle(reason, moved_again(self.machine, trail, output))
        return self.came_to(config, settled, made, len(trail) - 1)

    def came_to(self, config: Config, settled: Config, made: Made, instants: int) -> Outcome:
        """Give what the instants of one moment came to, from what a board was in to what it is in after them."""
        pairs = enumerate(zip(self.outputs(config), self.outputs(settled), strict=True))
        commands = tuple((i, new) for i, (old, new) in pairs if old != new)
        places = enumerate(zip(config.places, settled.places, strict=True))
        return Outcome(
            settled,
            tuple((t, c) for t, c in sorted(made.begun.items()) if settled.running >> t & 1),
            tuple((t, c) for t, c in sorted(made.paused.items()) if not settled.running >> t & 1),
            tuple(sorted(made.emptied)),
            tuple(sorted(made.counted.items(), key=lambda item: item[0])),
            tuple(sorted(made.forgot)),
            commands,
            tuple(sorted(made.broken)),
            tuple(sorted(made.together)),
            tuple((i, old, new) for i, (old, new) in places if old != new),
            instants,
        )

    def instant(
        self, config: Config, levels: tuple[bool, ...], facts: int, dropped: tuple[int, ...], made: Made
    ) -> Config:
        """Give the configuration after one instant, and note in ``made`` what it did."""
        before = self.picture(config)
        start = tuple(max(0, place - 1) if i in dropped else place for i, place in enumerate(config.places))
        places, now = self._look_until_rest(config, levels, facts, start, before)
        for index, slot in enumerate(self._output_slots):
            if now[slot] != (before[slot] and config.powered):
                made.flips[index] = made.flips.get(index, 0) + 1
        for number, (breaks, unless) in enumerate(self._watches):
            if breaks(now, before, facts) and not (unless is not None and unless(now)):
                made.broken.add(number)
        for number, after, unless in self._togethers:
            if (after is None or after(now, before, facts)) and not (unless is not None and unless(now)):
                made.together.add(number)
        return self._timings(config, levels, start, places, Look(now, before, facts, config.running), made)

    def _look_until_rest(
        self, config: Config, levels: tuple[bool, ...], facts: int, start: tuple[int, ...], before: Picture
    ) -> tuple[tuple[int, ...], Picture]:
        places = start
        journeys: list[list[int]] = [[place] for place in start]
        events: list[tuple[int, Happens]] = []
        while True:
            now = self.painter.draw(levels, places, before, facts, config.running, config.full)
            look = Look(now, before, facts, config.running)
            moved = tuple(
                [
                    mover.move(look, place, first, len(journey) > 1)
                    for mover, place, first, journey in zip(self._movers, places, start, journeys, strict=True)
                ]
            )
            if moved != places:
                moved = self.allowed(places, moved, journeys)
            if moved == places:
                break
            for index, (old, new) in enumerate(zip(places, moved, strict=True)):
                if old != new:
                    journeys[index].append(new)
                    event = self._movers[index].moved_by_event(look, old, new)
                    if event is not None:
                        events.append((index, event))
            places = moved
        self.check_events([(i, happens) for i, happens in events if places[i] != start[i]], Look(now, before, facts, 0))
        return places, now

    def allowed(
        self, places: tuple[int, ...], moved: tuple[int, ...], journeys: Sequence[Sequence[int]]
    ) -> tuple[int, ...]:
        """Give where kept things go, of where they would. Raises CannotSettle where one goes again and again."""
        for index, (old, new) in enumerate(zip(places, moved, strict=True)):
            refused = "" if old == new else self.refusal(index, new, journeys[index])
            if refused:
                raise CannotSettle(refused, self._rules(i for i, one in enumerate(journeys) if len(one) > 1))
        return moved

    def refusal(self, index: int, new: int, journey: Sequence[int]) -> str:
        """Give why a kept thing that went through places in an instant may not go on to another; "" if it may."""
        region = self.machine.regions[index]
        if region.kind != "sequence":
            return f"{region.rule} moves a third time in one instant" if len(journey) > 2 else ""
        if new in journey[1:] or (new and new == journey[0]):
            return f"{region.rule} comes to {region.places[new]} a second time in one instant"
        return ""

    def check_events(self, moved: Sequence[tuple[int, Happens]], look: Look) -> None:
        """Look whether events on which things moved are in the settled picture. Raises CannotSettle."""
        for index, happens in moved:
            if not happens(look.now, look.before, look.facts):
                reason = f"{self.machine.regions[index].rule} moved on an event that did not last"
                raise CannotSettle(reason, self._rules(one for one, _ in moved))

    def _rules(self, regions: Iterable[int]) -> tuple[str, ...]:
        """Give the rules that regions are of."""
        return in_order(self.machine.board, [self.machine.regions[index].rule for index in regions])

    # -- timings, on the settled picture -------------------------------------------------------------------------

    def _timings(
        self,
        config: Config,
        levels: tuple[bool, ...],
        start: tuple[int, ...],
        places: tuple[int, ...],
        look: Look,
        made: Made,
    ) -> Config:
        now, before, facts = look.now, look.before, look.facts
        running = full = 0
        begun: list[tuple[int, Happens | None]] = []
        for delay, slot, begins in self._delays:
            if now[slot]:
                running |= 1 << delay.timing
                ran = look.running >> delay.timing & 1 and not look.over(delay.timing)
                if not ran or (delay.starts_over and begins(now, before, facts)):
                    begun.append((delay.timing, begins))
        for timing, check in self._fors:
            if check(now):
                if config.full >> timing & 1 or look.over(timing):
                    full |= 1 << timing
                else:
                    running |= 1 << timing
                    if not look.running >> timing & 1:
                        begun.append((timing, _as_event(check)))
        for rule in self._timed:
            index = rule.region.index
            running |= self._region_timings(rule, start[index], places[index], look, begun, made)
        for timing, happens in begun:
            made.begun[timing] = self.cause(happens, look)
        counted = [t for i in made.counted for t in self.machine.regions[i].timings]
        fresh = [timing for timing, _ in begun] + counted
        power_up = bool(facts & POWER_UP)
        settings = self.settings.at_power_up(config.settings, now) if power_up else config.settings
        chosen = self.settings.choose(config.chosen, settings, now, fresh, power_up)
        return Config(True, levels, places, running, full, settings, chosen)

    def _region_timings(
        self, rule: Mover, old: int, new: int, look: Look, begun: list[tuple[int, Happens | None]], made: Made
    ) -> int:
        index, kind = rule.region.index, rule.region.kind
        into = None if rule.into is None else rule.into.happens
        running = 0
        if kind in {"mode", "lockout", "sequence"} and new:
            timings = (rule.step_timings[new],) if kind == "sequence" else rule.region.timings
            for timing in timings:
                if timing >= 0 and old != new:
                    begun.append((timing, into if old == 0 and new == 1 else None))
                    running |= 1 << timing
                elif timing >= 0 and look.running >> timing & 1 and not look.over(timing):
                    running |= 1 << timing
        elif kind == "count":
            if look.sees(rule.out):
                made.forgot.add(index)
                made.counted.pop(index, None)
            elif into is not None and look.sees(rule.into):
                made.counted[index] = self.cause(into, look)
        elif kind == "accumulator" and rule.adds_while is not None:
            timing = rule.region.timings[0]
            if look.sees(rule.out):
                made.emptied.add(index)
            was = look.running >> timing & 1
            adds = _unless(rule.adds_while, rule.out)
            if adds(look.now) and not new:
                running |= 1 << timing
                if not was or look.sees(rule.out):
                    begun.append((timing, _as_event(adds)))
            elif was:
                made.paused[timing] = self.cause(_as_stop(adds), look)
        return running

    def cause(self, happens: Happens | None, look: Look) -> Cause:
        """Give what brought something about; an engine of which nobody asks that may say THE_INSTANT."""
        if happens is None or look.facts & POWER_UP:
            return THE_INSTANT
        return self._blame.cause(happens, look.now, look.before)


def _unless(check: Check, out: Trigger | None) -> Check:
    """Give the check that fails while a reset stands; a reset that only happens stands at no time."""
    return check if out is None else lambda now: check(now) and not out.happens(now, now, 0)


def _as_event(check: Check) -> Happens:
    return lambda now, before, facts: check(now) and not check(before)


def _as_stop(check: Check) -> Happens:
    return lambda now, before, facts: check(before) and not check(now)
