"""In which instants of a good board a fault acts: a faulty board that stands just like it goes its ways in all others.

Law of this module: a fault that does not act in an instant leaves everything after it as on the good board, lengths and
what shows included; where that is not certain it counts as acting. A fault that acts need not show.
"""

from __future__ import annotations

from collections.abc import Callable

from attrs import define, field

from boardgauge.language.expressions import For
from boardgauge.language.model import Delay
from boardgauge.machine.config import Config
from boardgauge.machine.logic import Check, Happens, Picture
from boardgauge.machine.moves import Mover, Trigger, mover
from boardgauge.machine.picture import CannotSettle, Draw, Painter
from boardgauge.machine.settle import Engine
from boardgauge.machine.table import Machine
from boardgauge.plans.instants import Happened, Instants, Looked

_Test = Callable[[Looked], bool]
"""Tells whether the fault acts in a look."""


@define(eq=False)
class Acting:
    """Where one fault acts. ``keeps_alike``: a loss of power leaves the faulty board what it leaves the good one."""

    instants: Instants
    keeps_alike: bool
    _tests: tuple[_Test, ...]
    _settled: tuple[tuple[int, Draw], ...]
    _timings: int
    """Bits of the timings that last otherwise."""
    _counts: tuple[int, ...]
    """Regions whose events grow old otherwise."""
    _limits: tuple[tuple[int, int], ...]
    """Regions that count to another limit, and the lower of the two."""
    _lamps: Callable[[Config], bool] | None
    _known: dict[int, bool] = field(factory=dict)
    _standing: dict[Config, bool] = field(factory=dict)

    def acts(self, number: int) -> bool:
        """Tell whether it may act in an instant, by its number."""
        found = self._known.get(number)
        if found is None:
            found = self._known[number] = self._acts(self.instants.happened[number])
        return found

    def stands(self, config: Config) -> bool:
        """Tell whether it may act while both stand in a configuration: what shows then, or how fast times run."""
        found = self._standing.get(config)
        if found is None:
            found = self._standing[config] = self._stands(config)
        return found

    def _acts(self, row: Happened) -> bool:
        return any(test(look) for look in row.looks for test in self._tests) or self.stands(row.after)

    def _stands(self, config: Config) -> bool:
        if config.running & self._timings or any(config.places[region] for region in self._counts):
            return True
        if any(config.places[region] >= limit for region, limit in self._limits):
            return True
        now = self.instants.picture(config)
        running, full = config.running, config.full
        if config.powered and any(_otherwise(slot, draw, now, now, 0, running, full) for slot, draw in self._settled):
            return True
        return self._lamps is not None and self._lamps(config)


def acting(instants: Instants, good: Engine, faulty: Engine) -> Acting | None:
    """Give where a fault acts; None where its board is not made up as the good one is, so they cannot be compared."""
    mine, its = good.machine, faulty.machine
    if not _same_shape(mine, its):
        return None
    one, other = mine.board, its.board
    if one.settings != other.settings or one.speed_ups != other.speed_ups:
        return None
    slots = tuple(good.painter.draws_otherwise(faulty.painter))
    delays = {good.logic.delay_slot(row.index) for row in mine.delays}
    circles = {slot for group, circle in good.painter.groups + faulty.painter.groups if circle for slot in group}
    if circles.isdisjoint(slot for slot, _ in slots):
        tests = [_slot_test(slot, draw) for slot, draw in slots]
    else:
        # What reads itself may come to rest in more than one way, so it is drawn from its beginning.
        tests = [_picture_test(faulty.painter)]
    for region in mine.regions:
        rules = (one.outputs, other.outputs) if region.kind == "output" else (one.rules, other.rules)
        if rules[0][region.rule] != rules[1][region.rule]:
            both = mover(mine, good.logic, region), mover(its, faulty.logic, its.regions[region.index])
            tests.append(_mover_test(region.index, *both))
    for row, new in zip(mine.delays, its.delays, strict=True):
        rule, changed = one.rules.get(row.rule), other.rules.get(new.rule)
        if isinstance(rule, Delay) and rule != changed:
            begins = good.logic.happens(row.begins), faulty.logic.happens(new.begins)
            tests.append(_delay_test(1 << row.timing, begins, (row.starts_over, new.starts_over)))
    for timing, other_timing in zip(mine.timings, its.timings, strict=True):
        if timing.condition != other_timing.condition:
            checks = _inner(good, timing.index), _inner(faulty, timing.index)
            if checks[0] is None or checks[1] is None:
                return None
            tests.append(_check_test(checks[0], checks[1]))
    lasts = [
        row.index
        for row, new in zip(mine.timings, its.timings, strict=True)
        if row.choices != new.choices or row.setting != new.setting
    ]
    limits = tuple(
        (row.index, min(len(row.places), len(new.places)) - 1)
        for row, new in zip(mine.regions, its.regions, strict=True)
        if len(new.places) != len(row.places)
    )
    tests += [_limit_test(*limit) for limit in limits]
    counts = tuple(row.index for row in mine.regions if row.kind == "count" and set(row.timings) & set(lasts))
    return Acting(
        instants,
        _kept(mine) == _kept(its),
        tuple(tests),
        tuple((slot, draw) for slot, draw in slots if slot not in delays),
        sum(1 << index for index in lasts),
        counts,
        limits,
        None if one.lamps == other.lamps else _lamp_test(good, faulty),
    )


def _kept(machine: Machine) -> list[bool]:
    """Give what is kept without power."""
    return [row.kept_without_power for row in machine.regions] + [row.kept_without_power for row in machine.delays]


def _same_shape(mine: Machine, its: Machine) -> bool:
    """Tell whether machines have the same levels, regions, timings and delays, in one order."""
    if any(len(a) != len(b) for a, b in ((mine.delays, its.delays), (mine.outputs, its.outputs))):
        return False

    def shape(machine: Machine) -> object:
        return (
            [(row.input, row.comparison, row.at_rest) for row in machine.levels],
            [(row.rule, row.kind, row.kind == "count" or row.places, row.timings) for row in machine.regions],
            [(row.name, row.role, row.speed_ups) for row in machine.timings],
            [(row.rule, row.timing, row.hidden) for row in machine.delays],
            [(row.output, row.region) for row in machine.outputs],
            list(machine.board.conditions),
            list(machine.board.lamps),
        )

    return shape(mine) == shape(its)


def _otherwise(slot: int, draw: Draw, now: Picture, before: Picture, facts: int, running: int, full: int) -> bool:
    """Tell whether a picture would have another value in a slot."""
    old = now[slot]
    draw(now, before, facts, running, full)
    new, now[slot] = now[slot], old
    return bool(new) is not bool(old)


def _slot_test(slot: int, draw: Draw) -> _Test:
    def test(row: Looked) -> bool:
        look = row.look
        return _otherwise(slot, draw, look.now, look.before, look.facts, look.running, row.full)

    return test


def _picture_test(painter: Painter) -> _Test:
    def test(row: Looked) -> bool:
        look = row.look
        try:
            drawn = painter.draw(row.levels, row.places, look.before, look.facts, look.running, row.full)
        except CannotSettle:
            return True
        return drawn != look.now

    return test


def _mover_test(index: int, mine: Mover, its: Mover) -> _Test:
    counts, adds = mine.region.kind == "count", mine.region.kind == "accumulator"

    def test(row: Looked) -> bool:
        look, place = row.look, row.places[index]
        where = place, row.start[index], row.moved[index]
        if mine.move(look, *where) != its.move(look, *where):
            return True
        if not row.last or not (counts or adds):
            return False
        if look.sees(mine.out) != look.sees(its.out):
            return True
        if counts:
            return look.sees(mine.into) != look.sees(its.into)
        return _adds(mine, look.now) != _adds(its, look.now)

    return test


def _limit_test(index: int, limit: int) -> _Test:
    return lambda row: max(row.start[index], row.places[index]) >= limit


def _adds(rule: Mover, now: Picture) -> bool:
    assert rule.adds_while is not None
    return rule.adds_while(now) and not _stands(rule.out, now)


def _stands(out: Trigger | None, now: Picture) -> bool:
    return out is not None and out.happens(now, now, 0)


def _delay_test(bit: int, begins: tuple[Happens, Happens], starts_over: tuple[bool, bool]) -> _Test:
    def test(row: Looked) -> bool:
        look = row.look
        if not row.last or not look.running & bit:
            return False
        one, other = (
            over and happens(look.now, look.before, look.facts)
            for over, happens in zip(starts_over, begins, strict=True)
        )
        return bool(one) is not bool(other)

    return test


def _check_test(mine: Check, its: Check) -> _Test:
    return lambda row: row.last and bool(mine(row.look.now)) is not bool(its(row.look.now))


def _inner(engine: Engine, timing: int) -> Check | None:
    """Give what a ``C for T`` waits for."""
    condition = engine.machine.timings[timing].condition
    return engine.logic.condition(condition.condition) if isinstance(condition, For) else None


def _lamp_test(good: Engine, faulty: Engine) -> Callable[[Config], bool]:
    """Tell whether lamps show otherwise, all else being alike."""
    boards = (good.machine.board, faulty.machine.board)

    def test(config: Config) -> bool:
        lines = [engine.lamp_lines(config) for engine in (good, faulty)]
        looks = [
            [
                None if line < 0 else lamp.lines[line].shows
                for lamp, line in zip(board.lamps.values(), rows, strict=True)
            ]
            for board, rows in zip(boards, lines, strict=True)
        ]
        return looks[0] != looks[1]

    return test
