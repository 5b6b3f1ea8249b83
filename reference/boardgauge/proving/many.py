"""Settle very many instants of one machine at once: a truth of each is a bit, and sixty-four bits are a word.

Law of this module: of each instant it says what ``Engine.settle`` says, and refuses it where that does; what set a
timing going is told as ``Engine`` would find it. Arrays of words may have any shapes that go together; what is the same
for all instants is a single word.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from attrs import define, field

from boardgauge.language.model import Requirement
from boardgauge.machine.logic import expired_bit
from boardgauge.machine.settle import Engine
from boardgauge.proving.many_causes import Causes, ManyCauses
from boardgauge.proving.many_journeys import Journey, differ, one_fewer, where
from boardgauge.proving.many_pictures import ManyPictures, Standing
from boardgauge.proving.many_rules import Check, Drawn, Facts, Happens, ManyMoves, check_of, happens_of
from boardgauge.proving.words import NO, YES, Bits, any_of

_MOST_INSTANTS = 64

Told = dict[int, Bits]
"""For each thing (a timing, a region, a watch) where it is so."""


@define
class Done:
    """What very many instants did, as ``Outcome`` tells it. ``causes`` has for ("timing", t) and ("count", region) what
    set them going; ``sped`` where each speed-up holds afterwards."""

    standing: Standing
    refused: Bits = NO
    begun: Told = field(factory=dict)
    paused: Told = field(factory=dict)
    emptied: Told = field(factory=dict)
    counted: Told = field(factory=dict)
    forgot: Told = field(factory=dict)
    broken: Told = field(factory=dict)
    together: Told = field(factory=dict)
    commands: dict[tuple[int, bool], Bits] = field(factory=dict)
    sped: tuple[Bits, ...] = ()
    causes: dict[tuple[str, int], Causes] = field(factory=dict)
    flipped: Told = field(factory=dict)

    def tables(self) -> list[Told]:
        """Give all that it did but its commands."""
        return [self.begun, self.paused, self.emptied, self.counted, self.forgot, self.broken, self.together]


def _note(table: Told, key: int, bits: Bits) -> None:
    table[key] = table[key] | bits if key in table else bits


@define
class _Look:
    """What one instant of very many is about: what stood before, the pictures, and where it counts."""

    standing: Standing
    before: Drawn
    facts: Facts
    start: tuple[tuple[Bits, ...], ...]
    alive: Bits
    causes: bool
    now: Drawn = field(factory=list)
    places: tuple[tuple[Bits, ...], ...] = ()


class ManyInstants:
    """Settles the instants of one machine, very many at once. The supply is on before and after."""

    def __init__(self, engine: Engine) -> None:
        self.engine, self.machine = engine, engine.machine
        machine, logic = engine.machine, engine.logic
        self.pictures = ManyPictures(engine)
        self._regions = [ManyMoves.of(machine, logic, index) for index in range(len(machine.regions))]
        self._watches = [(happens_of(logic, row.breaks), self._unless(row.requirement)) for row in machine.watches]
        self._togethers = [
            (row.index, None if row.after is None else happens_of(logic, row.after), self._unless(row.requirement))
            for row in machine.togethers
        ]
        self._speed_ups = [check_of(logic, row.while_) for row in machine.speed_ups]

    def _unless(self, requirement: Requirement) -> Check | None:
        unless = requirement.except_while
        return None if unless is None else check_of(self.engine.logic, unless)

    def sped_up(self, standing: Standing) -> tuple[Bits, ...]:
        """Tell where each speed-up holds."""
        picture = self.pictures.settled(standing) if self._speed_ups else []
        return tuple(check(picture) for check in self._speed_ups)

    def settle(
        self,
        standing: Standing,
        levels: Sequence[Bits] | None = None,
        expired: Mapping[int, Bits] | None = None,
        dropped: Mapping[int, Bits] | None = None,
        causes: bool = True,
    ) -> Done:
        """Take in what is due and settle. ``expired`` by timing, ``dropped`` by count region, as in ``Engine``.

        Without ``causes`` it is not looked for what set anything going.
        """
        given = tuple(standing.levels if levels is None else levels)
        facts = dict(self.pictures.no_facts)
        for timing, bits in (expired or {}).items():
            facts[expired_bit(timing)] = bits
        start = list(standing.places)
        for region, bits in (dropped or {}).items():
            start[region] = one_fewer(start[region], bits)
        done = Done(standing)
        first = self.pictures.settled(standing)
        settled = self._instant(_Look(standing, first, facts, tuple(start), YES, causes), given, done)
        alive = ~done.refused
        picture = self.pictures.settled(settled)
        moved: Bits = NO
        for _ in range(_MOST_INSTANTS):
            # What was refused, or has come to rest, has its say no more, though its bits are carried along.
            refused, done.refused = done.refused, NO
            look = _Look(settled, picture, self.pictures.no_facts, settled.places, alive, causes)
            further = self._instant(look, given, done)
            done.refused = refused | (done.refused & alive)
            onward = any_of(differ(new, old) for new, old in zip(further.places, settled.places, strict=True))
            moved = onward & alive & ~done.refused
            if not np.any(moved):
                break
            settled = where(moved, further, settled)
            picture = self.pictures.settled(settled)
            alive = moved
        else:
            done.refused = done.refused | moved
        return self._finished(done, settled, first, picture)

    def _finished(self, done: Done, settled: Standing, first: Drawn, last: Drawn) -> Done:
        done.standing = settled
        for timing in done.begun:
            done.begun[timing] = done.begun[timing] & settled.running[timing]
        for timing in done.paused:
            done.paused[timing] = done.paused[timing] & ~settled.running[timing]
        for index, slot in enumerate(self.pictures.output_slots):
            done.commands[index, True] = last[slot] & ~first[slot]
            done.commands[index, False] = first[slot] & ~last[slot]
        done.sped = tuple(check(last) for check in self._speed_ups)
        return done

    # -- one instant -------------------------------------------------------------------------------------------------

    def _instant(self, look: _Look, levels: tuple[Bits, ...], done: Done) -> Standing:
        self._look_until_rest(look, levels, done)
        look.alive = look.alive & ~done.refused
        now, before, facts = look.now, look.before, look.facts
        for index, slot in enumerate(self.pictures.output_slots):
            flips = (now[slot] ^ before[slot]) & look.alive
            done.refused = done.refused | (done.flipped.get(index, NO) & flips)
            _note(done.flipped, index, flips)
        for number, (breaks, unless) in enumerate(self._watches):
            broken = breaks(now, before, facts) & look.alive
            _note(done.broken, number, broken if unless is None else broken & ~unless(now))
        for index, after, unless in self._togethers:
            seen = look.alive if after is None else after(now, before, facts) & look.alive
            _note(done.together, index, seen if unless is None else seen & ~unless(now))
        return self._timings(look, levels, done)

    def _look_until_rest(self, look: _Look, levels: tuple[Bits, ...], done: Done) -> None:
        before, facts, start = look.before, look.facts, look.start
        places = start
        journeys = [Journey(place) for place in start]
        while True:
            now, refused = self.pictures.draw(look.standing, levels, places, before, facts)
            done.refused = done.refused | refused
            looked = tuple(
                row.move(place, first, journey.once, now, before, facts, look.standing.running)
                for row, place, first, journey in zip(self._regions, places, start, journeys, strict=True)
            )
            restless = False
            for row, journey, old, new in zip(self._regions, journeys, places, looked, strict=True):
                changed = differ(old, new) & ~done.refused
                if np.any(changed):
                    restless = True
                    done.refused = done.refused | journey.travel(row.made.region.kind == "sequence", changed, new)
                    into, out = row.moved_by_event(changed, old, new, now, before, facts)
                    journey.into, journey.out = journey.into | into, journey.out | out
            if not restless:
                break
            places = looked
        for row, journey, place in zip(self._regions, journeys, places, strict=True):
            if np.any(journey.into | journey.out):
                lost = journey.into & ~row.sees_into(now, before, facts)
                lost = lost | (journey.out & ~row.sees_out(now, before, facts))
                done.refused = done.refused | (lost & differ(journey.start, place))
        look.now, look.places = now, places

    # -- timings -----------------------------------------------------------------------------------------------------

    def _timings(self, look: _Look, levels: tuple[Bits, ...], done: Done) -> Standing:
        now, before, facts, was = look.now, look.before, look.facts, look.standing.running
        number = len(self.machine.timings)
        running: list[Bits] = [NO] * number
        full: list[Bits] = [NO] * number
        causes = ManyCauses(self.pictures, now, before) if look.causes else None

        def begin(timing: int, bits: Bits, happens: Happens | None) -> None:
            _note(done.begun, timing, bits & look.alive)
            if causes is not None:
                causes.put(done.causes.setdefault(("timing", timing), {}), bits & look.alive, happens)

        for slot, (row, begins, _) in self.pictures.delays.items():
            timing = row.timing
            running[timing] = now[slot]
            fresh = now[slot] & ~(was[timing] & ~facts[expired_bit(timing)])
            if row.starts_over:
                fresh = fresh | (now[slot] & begins(now, before, facts))
            begin(timing, fresh, begins)
        for timing, check in self.pictures.fors.values():
            holds = check(now)
            full[timing] = holds & (look.standing.full[timing] | facts[expired_bit(timing)])
            running[timing] = holds & ~full[timing]
            begin(timing, running[timing] & ~was[timing], _begins(check))
        for index, region in enumerate(self._regions):
            match region.made.region.kind:
                case "mode" | "lockout" | "sequence":
                    for timing, enters, happens, stays in self._of_places(region, look, index):
                        begin(timing, enters, happens)
                        running[timing] = running[timing] | enters | stays
                case "count":
                    self._count(region, look, index, done, causes)
                case "accumulator":
                    timing = region.made.region.timings[0]
                    out = region.sees_out(now, before, facts)
                    adding = region.adding(now, self.pictures.no_facts) & ~look.places[index][1]
                    running[timing] = running[timing] | adding
                    _note(done.emptied, index, out & look.alive)
                    _note(done.paused, timing, was[timing] & ~adding & look.alive)
                    begin(timing, adding & (~was[timing] | out), self._adding_begins(region))
        return Standing(levels, look.places, tuple(running), tuple(full))

    @staticmethod
    def _of_places(region: ManyMoves, look: _Look, index: int) -> list[tuple[int, Bits, Happens | None, Bits]]:
        """Give (timing, where it begins by being entered, by what, where it runs on) of the places of a region."""
        old, new = look.start[index], look.places[index]
        found: list[tuple[int, Bits, Happens | None, Bits]] = []
        for place in range(1, len(new)):
            made = region.made
            timings = (made.step_timings[place],) if made.region.kind == "sequence" else made.region.timings
            for timing in timings:
                if timing < 0:
                    continue
                enters = new[place] & ~old[place]
                first = enters & old[0] if place == 1 else NO
                goes_on = look.standing.running[timing] & ~look.facts[expired_bit(timing)]
                found.append((timing, first, region.into, new[place] & old[place] & goes_on))
                found.append((timing, enters & ~first, None, NO))
        return found

    def _count(self, region: ManyMoves, look: _Look, index: int, done: Done, causes: ManyCauses | None) -> None:
        out = region.sees_out(look.now, look.before, look.facts) & look.alive
        counts = region.sees_into(look.now, look.before, look.facts) & look.alive & ~out
        _note(done.forgot, index, out)
        done.counted[index] = (done.counted.get(index, NO) & ~out) | counts
        if causes is not None:
            causes.put(done.causes.setdefault(("count", index), {}), counts, region.into)

    def _adding_begins(self, region: ManyMoves) -> Happens:
        return _begins(lambda now: region.adding(now, self.pictures.no_facts))


def _begins(check: Check) -> Happens:
    return lambda now, before, facts: check(now) & ~check(before)
