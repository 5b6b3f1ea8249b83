"""A machine as the table that the page's engine runs: plain data that goes into JSON.

Law of this module: nothing is decided here. Every row is a row of the machine, with its expressions as codes (see
``codes``), its numbers exact (whole microseconds; a fraction as numerator and denominator) and the words a person is
told. Whatever a timing may last is worked out by the simulator's own ``Chance``, for each of its three fixed ways.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from boardgauge.language import expressions as ex
from boardgauge.language import in_unit
from boardgauge.language.model import Lamp, Requirement, Setting, Together
from boardgauge.language.quantities import Duration
from boardgauge.machine.chance import Chance, Timings
from boardgauge.machine.lamp_wave import part_limits, parts
from boardgauge.machine.logic import Logic
from boardgauge.machine.moves import mover, triggers_of
from boardgauge.machine.picture import Painter
from boardgauge.machine.table import Level, Machine, Region, Timing
from boardgauge.page.codes import Code, code, trigger_code
from boardgauge.page.wording import Wording

FORMAT = 1
WAYS: tuple[Timings, ...] = ("nominal", "earliest", "latest")

Row = dict[str, Any]


def page_table(machine: Machine) -> Row:
    """Give the table of a machine for the page: names, lists, whole numbers, text, true, false and nothing else.

    Times are microseconds.
    """
    return _Exporter(machine).table()


class _Exporter:
    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        self.board = machine.board
        self.logic = Logic(machine)
        self.painter = Painter(machine, self.logic)
        self.wording = Wording(machine)
        self.chances = {way: Chance(machine, way, 0) for way in WAYS}
        self.number = {name: index for index, name in enumerate(self.board.inputs)}
        self.setting = {name: index for index, name in enumerate(self.board.settings)}
        self.output = {row.output: row.index for row in machine.outputs}

    def table(self) -> Row:
        board = self.board
        rides = board.rides_through
        return {
            "format": FORMAT,
            "board": {
                "id": board.id,
                "title": board.title,
                "source": board.source,
                "text": board.text,
                "same_moment": board.same_moment,
                "rides_through": [rides.least, rides.greatest],
            },
            "width": self.logic.width,
            "inputs": [self._input(name) for name in board.inputs],
            "levels": [self._level(row) for row in self.machine.levels],
            "regions": [self._region(row) for row in self.machine.regions],
            "delays": self._delays(),
            "timings": [self._timing(row) for row in self.machine.timings],
            "followed": self._followed(),
            "groups": [{"slots": slots, "circle": circle} for slots, circle in self.painter.groups],
            "outputs": self._outputs(),
            "together": self._together(),
            "lamps": [self._lamp(row) for row in board.lamps.values()],
            "settings": [self._setting(row) for row in board.settings.values()],
            "speed_ups": self._speed_ups(),
            "watches": self._watches(),
            "things": self.wording.things(self.logic),
        }

    # -- the terminals -------------------------------------------------------------------------------------------

    def _input(self, name: str) -> Row:
        row = self.board.inputs[name]
        levels = [level for level in self.machine.levels if level.input == name]
        return {
            "id": name,
            "kind": row.kind.value,
            "contact": row.contact,
            "unit": row.unit,
            "filter": [row.filter.least, row.filter.greatest],
            "responds_within": row.responds_within,
            "levels": [level.index for level in levels],
            "at_rest": None if row.unit is not None else levels[0].at_rest,
            **self.wording.input(name),
        }

    def _level(self, level: Level) -> Row:
        return {
            "input": self.number[level.input],
            "slot": self.logic.level_slot(level),
            "at_rest": level.at_rest,
            "limit": self._limit(level),
            **self.wording.level(level),
        }

    def _limit(self, level: Level) -> Row | None:
        comparison = level.comparison
        unit = self.board.inputs[level.input].unit
        if comparison is None or unit is None:
            return None
        until = comparison.until
        return {
            "op": comparison.op,
            "limit": _ratio(in_unit(comparison.limit, unit).number),
            "until_op": comparison.until_op,
            "until": None if until is None else _ratio(in_unit(until, unit).number),
        }

    def _outputs(self) -> list[Row]:
        return [
            {
                "id": row.output,
                "slot": self.logic.slots[row.output],
                "lag": row.lag,
                "region": row.region,
                "contact": self.board.outputs[row.output].contact,
                **self.wording.output(row),
            }
            for row in self.machine.outputs
        ]

    def _together(self) -> list[Row]:
        demands = [row.demand for row in self.board.requirements.values()]
        return [
            {"outputs": [self.output[name] for name in demand.outputs], "within": demand.within}
            for demand in demands
            if isinstance(demand, Together)
        ]

    # -- what is kept and what is followed -----------------------------------------------------------------------

    def _region(self, region: Region) -> Row:
        made = mover(self.machine, self.logic, region)
        rule = self.board.rules.get(region.rule)
        into: ex.Trigger | None
        out: ex.Trigger | None
        if rule is None:
            output = self.board.outputs[region.rule]
            into, out = output.starts, output.stops
        else:
            into, out = triggers_of(rule)
        steps = getattr(rule, "steps", ())
        adds_while = getattr(rule, "adds_while", None)
        return {
            "rule": region.rule,
            "kind": region.kind,
            "places": list(region.places),
            "slot": self.logic.slots[region.rule],
            "step_slots": [self.logic.slots[name] for name in region.places[1:]] if region.kind == "sequence" else [],
            "timings": list(region.timings),
            "kept_without_power": region.kept_without_power,
            "into": trigger_code(self.logic, into),
            "out": trigger_code(self.logic, out),
            "lasts": made.lasts,
            "at_least": made.at_least,
            "untils": [None, *(self._code(step.until) for step in steps)],
            "thens": list(made.thens),
            "if_nots": list(made.if_nots),
            "step_timings": list(made.step_timings),
            "adds_while": self._code(adds_while),
            **self.wording.region(region),
        }

    def _code(self, expression: ex.Trigger | None) -> Code:
        return None if expression is None else code(self.logic, expression)

    def _delays(self) -> list[Row]:
        return [
            {
                "rule": row.rule,
                "slot": self.logic.delay_slot(row.index),
                "timing": row.timing,
                "begins": code(self.logic, row.begins),
                "cut_by": self._code(row.cut_by),
                "starts_over": row.starts_over,
                "hidden": row.hidden,
                "kept_without_power": row.kept_without_power,
            }
            for row in self.machine.delays
        ]

    def _followed(self) -> list[Row]:
        """Give the conditions, outputs and ``for``s; the delays are rows of their own."""
        found: list[Row] = [
            {"slot": self.logic.slots[row.id], "kind": "condition", "code": code(self.logic, row.is_)}
            for row in self.board.conditions.values()
        ]
        found += [
            {"slot": self.logic.slots[row.output], "kind": "output", "code": code(self.logic, row.on)}
            for row in self.machine.outputs
            if row.on is not None
        ]
        found += [
            {
                "slot": self.logic.for_slots[row.index],
                "kind": "for",
                "code": code(self.logic, row.condition.condition),
                "timing": row.index,
            }
            for row in self.machine.timings
            if isinstance(row.condition, ex.For)
        ]
        return found

    # -- times ---------------------------------------------------------------------------------------------------

    def _timing(self, row: Timing) -> Row:
        return {
            "role": row.role,
            "owner": row.owner,
            "setting": None if row.setting is None else self.setting[row.setting],
            "speed_ups": list(row.speed_ups),
            "choices": [self._choice(choice) for choice in row.choices],
            **self.wording.timing(row),
        }

    def _choice(self, duration: Duration) -> Row:
        draws = {way: chance.duration(duration) for way, chance in self.chances.items()}
        tolerance = duration.tolerance
        more = 0 if tolerance is None else tolerance.more
        return {
            "nominal": duration.nominal,
            "shortest": duration.shortest,
            "longest": duration.longest,
            "draws": {way: [*_ratio(draw.board), draw.real] for way, draw in draws.items()},
            "last": [*_ratio(duration.percent_longest), more],
        }

    def _setting(self, row: Setting) -> Row:
        factory = next((i for i, p in enumerate(row.positions) if p.name is not None and p.name == row.factory), 0)
        return {
            "id": row.id,
            "read": row.read,
            "positions": [{"name": p.name, "when": self._code(p.when)} for p in row.positions],
            "factory": factory,
            **self.wording.setting(row),
        }

    def _speed_ups(self) -> list[Row]:
        rows = self.machine.speed_ups
        return [{"id": row.id, "while": code(self.logic, row.while_), "times_faster": row.times_faster} for row in rows]

    # -- lamps and requirements ----------------------------------------------------------------------------------

    def _lamp(self, lamp: Lamp) -> Row:
        return {
            "id": lamp.id,
            "changes_within": lamp.changes_within,
            "lines": [
                {"when": self._code(line.when), "parts": _parts(lamp, index), **self.wording.lamp_line(lamp, index)}
                for index, line in enumerate(lamp.lines)
            ],
            **self.wording.lamp(lamp),
        }

    def _watches(self) -> list[Row]:
        return [
            {
                "breaks": code(self.logic, watch.breaks),
                "unless": self._code(watch.requirement.except_while),
                **self._demand(watch.requirement),
            }
            for watch in self.machine.watches
        ]

    def _demand(self, requirement: Requirement) -> Row:
        return self.wording.requirement(requirement)


def _ratio(number: Fraction | int) -> list[int]:
    value = Fraction(number)
    return [value.numerator, value.denominator]


def _parts(lamp: Lamp, index: int) -> list[Row]:
    """Give one round of a pattern: lit or dark, and how long each way (None: without end)."""
    shows = lamp.lines[index].shows
    found: list[Row] = []
    for lit, length in parts(lamp, shows):
        if length is None:
            return [{"lit": lit, "nominal": None}]
        shortest, longest = part_limits(lamp, length)
        found.append({"lit": lit, "nominal": length, "earliest": shortest, "latest": longest})
        if len(found) == _round(shows):
            break
    return found


def _round(shows: object) -> int:
    """Give the number of parts after which a pattern repeats."""
    return 2 * getattr(shows, "number", 1)
