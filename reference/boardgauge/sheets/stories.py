"""Stories that a board tells of itself: played by the machine, on scenarios that it finds itself.

Law of this module: every instant told was played at nominal times. A call is made from standby and taken away again;
every lockout, mode, step, output and lamp line that no call shows is sought out by the most natural way there is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from itertools import combinations
from typing import Literal

from attrs import define, field, frozen

from boardgauge.language.model import InputKind
from boardgauge.language.quantities import S
from boardgauge.machine.config import Config
from boardgauge.machine.explore import Step
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import Entry, Run
from boardgauge.machine.table import Region
from boardgauge.machine.terminals import TooShort
from boardgauge.sheets.bench import Bench
from boardgauge.sheets.equipment import Equipment
from boardgauge.sheets.figures import joined
from boardgauge.sheets.study import Study
from boardgauge.sheets.telling import call_name, title_of
from boardgauge.sheets.ways import Ways

Kind = Literal["power-up", "call", "scenario", "lockout", "mode", "step", "output", "lamp"]

_MOST_CALLS = 3
_MOST_STEPS = 60
_MOST_TRIES = 24
_A_WHILE = 10 * S


@frozen
class Story:
    """One story: what happened from ``start`` on (microseconds of the run), ``about`` the id it is about.

    ``before`` is what the board was in as it began; ``turn`` is the number of the entry with which the call ends, or
    with which what was sought begins to be left again.
    """

    kind: Kind
    about: tuple[str, ...]
    title: str
    entries: tuple[Entry, ...]
    before: Config
    start: int
    run: Run
    turn: int


@frozen
class Untold:
    """What no way leads to: the id, and whether every configuration was explored."""

    about: str
    certain: bool


def stories(study: Study) -> tuple[tuple[Story, ...], tuple[Untold, ...]]:
    """Give the stories of a board in the order in which they are told, and what none could be told about."""
    return study.once(stories, lambda: _Teller(study).tell())


@define
class _Teller:
    study: Study
    told: list[Story] = field(factory=list)
    untold: list[Untold] = field(factory=list)
    shown: set[str] = field(factory=set)
    ways: Ways = field(init=False)

    def __attrs_post_init__(self) -> None:
        self.ways = Ways(self.study.machine, self.study.engine, self.study.found)

    def tell(self) -> tuple[tuple[Story, ...], tuple[Untold, ...]]:
        for tell in (self._power_up, self._calls):
            with suppress(CannotSettle, TooShort):
                tell()
        for kind, name, there in self._goals():
            if name not in self.shown:
                try:
                    self._seek(kind, name, there)
                except (CannotSettle, TooShort):
                    # A spec that does not come to rest on the way: `vet` says so, here it is only not told.
                    self.untold.append(Untold(name, False))
        return tuple(self.told), tuple(self.untold)

    # -- power-up and calls ------------------------------------------------------------------------------------------

    def _power_up(self) -> None:
        bench = Bench(self.study)
        before = bench.config
        entries = [*bench.power(True), *bench.settle()]
        self._add("power-up", (), "Power comes on", entries, before, 0, bench, len(entries))
        waits = any(e.config.running for e in entries)
        calls = self._call_levels()
        if waits and calls:
            name = next(iter(calls))
            bench = Bench(self.study)
            bench.board.feed({name: [(0, True)]})
            before = bench.config
            entries = [*bench.power(True), *bench.settle()]
            title = f"Power comes on with the {call_name(self.study.board, name)} waiting"
            self._add("power-up", (name,), title, entries, before, 0, bench, len(entries))

    def _standby(self) -> Bench:
        bench = Bench(self.study)
        bench.power(True)
        bench.settle()
        bench.until(bench.now + bench.pause)
        return bench

    def _calls(self) -> None:
        board = self.study.board
        rows = self._call_levels()
        calls = list(rows)[:_MOST_CALLS]
        signatures: list[object] = []
        for size in range(1, len(calls) + 1):
            for chosen in combinations(calls, size):
                bench = self._standby()
                before, start = bench.config, bench.now
                entries = bench.set([(rows[name], True) for name in chosen]) or []
                equipment = Equipment(self.study, bench)
                entries += equipment.go_on()
                # A call lasts a while after the last thing has happened, so that its end is told from it.
                entries += bench.until(bench.now + max(bench.pause, _A_WHILE))
                turn = len(entries)
                entries += bench.set([(rows[name], False) for name in chosen]) or []
                entries += equipment.wind_down()
                signature = self._signature(entries)
                if signature and signature not in signatures:
                    signatures.append(signature)
                    label = joined([call_name(board, name) for name in chosen])
                    self._add("call", chosen, label, entries, before, start, bench, turn)

    def _call_levels(self) -> dict[str, int]:
        """Give the level of each call, by its id."""
        inputs = self.study.board.inputs
        rows = [level for level in self.study.machine.levels if inputs[level.input].kind is InputKind.CALL]
        return {level.input: level.index for level in rows}

    def _signature(self, entries: Sequence[Entry]) -> object:
        return tuple(
            (e.outcome.commands, e.outcome.moved, self.study.engine.lamp_lines(e.config))
            for e in entries
            if e.outcome is not None and (e.outcome.commands or e.outcome.moved)
        )

    # -- what no call shows ------------------------------------------------------------------------------------------

    def _goals(self) -> Iterator[tuple[Kind, str, Callable[[Config], bool]]]:
        engine, machine = self.study.engine, self.study.machine
        by_kind: dict[str, list[Region]] = {}
        for region in machine.regions:
            by_kind.setdefault(region.kind, []).append(region)

        def at(region: Region, place: int) -> Callable[[Config], bool]:
            return lambda config: config.powered and config.places[region.index] == place

        def on(output: int) -> Callable[[Config], bool]:
            return lambda config: config.powered and engine.outputs(config)[output]

        def shows(lamp: int, line: int) -> Callable[[Config], bool]:
            return lambda config: config.powered and engine.lamp_line(config, lamp) == line

        for region in by_kind.get("lockout", []):
            yield "lockout", region.rule, at(region, 1)
        for region in by_kind.get("mode", []):
            yield "mode", region.rule, at(region, 1)
        for region in by_kind.get("sequence", []):
            for place in range(1, len(region.places)):
                yield "step", region.places[place], at(region, place)
        for row in machine.outputs:
            yield "output", row.output, on(row.index)
        for number, lamp in enumerate(machine.board.lamps.values()):
            for line in range(len(lamp.lines)):
                yield "lamp", f"{lamp.id}:{line}", shows(number, line)

    def _seek(self, kind: Kind, name: str, there: Callable[[Config], bool]) -> None:
        bench = self._standby()
        before, start = bench.config, bench.now
        entries = self._walk(bench, there, waiting=1)
        if entries is None:
            self.untold.append(Untold(name, self.study.found.complete))
            return
        turn = len(entries)
        if kind in {"lockout", "mode"}:
            entries += bench.until(bench.now + bench.pause)
            if kind == "lockout":
                entries += self._take_cause_away(bench, there)
            waiting = 1 if kind == "lockout" else 10
            entries += self._walk(bench, lambda config: config.powered and not there(config), waiting) or []
        self._add(kind, (name,), title_of(self.study.board, kind, name), entries, before, start, bench, turn)

    def _take_cause_away(self, bench: Bench, there: Callable[[Config], bool]) -> list[Entry]:
        """Let everything but the calls go back to rest, and the board do what it then does while it is ``there``."""
        entries: list[Entry] = []
        for level in self.study.machine.levels:
            row = self.study.board.inputs[level.input]
            off_rest = level.comparison is None and bench.config.levels[level.index] != level.at_rest
            if off_rest and row.kind is not InputKind.CALL and there(bench.config):
                entries += bench.set([(level.index, level.at_rest)]) or []
        for _ in range(_MOST_STEPS):
            new = bench.next() if bench.runs() and there(bench.config) else []
            if not new:
                break
            entries += new
        return entries

    def _walk(self, bench: Bench, there: Callable[[Config], bool], waiting: int) -> list[Entry] | None:
        """Go the most natural way there; where time does not allow a step, another is sought from where it led."""
        entries: list[Entry] = []
        blocked: set[tuple[int, Step]] = set()
        way: list[Step] = []
        expected: list[int] = []
        for _ in range(_MOST_STEPS):
            number = self.ways.number(bench.config)
            if number is None:
                return None
            if there(bench.config):
                return entries
            if not way:
                found = self.ways.way(number, there, frozenset(blocked), waiting)
                if found is None or len(blocked) > _MOST_TRIES:
                    return None
                way = [edge.step for edge in found]
                expected = [edge.target for edge in found]
            step = way.pop(0)
            wanted = expected.pop(0)
            while way and self._is_call(step) and self._is_call(way[0]):
                # A thermostat closes its contacts at one moment, not one after the other.
                step, wanted = step.with_(way.pop(0)), expected.pop(0)
            new = self._take(bench, step)
            if new is not None:
                entries += new
            if new is None or self.ways.number(bench.config) != wanted:
                blocked.add((number, step))
                way = []
        return None

    def _is_call(self, step: Step) -> bool:
        inputs, levels = self.study.board.inputs, self.study.machine.levels
        return bool(step.levels) and all(inputs[levels[i].input].kind is InputKind.CALL for i, _ in step.levels)

    def _take(self, bench: Bench, step: Step) -> list[Entry] | None:
        if step.power is not None:
            return bench.power(step.power)
        if step.levels:
            return bench.set(step.levels)
        entries: list[Entry] = []
        number = self.ways.number(bench.config)
        # What only a requirement watches passes by on the way.
        while new := bench.next():
            entries += new
            if self.ways.number(bench.config) != number:
                return entries
        return None

    # -- what was told -----------------------------------------------------------------------------------------------

    def _add(
        self,
        kind: Kind,
        about: tuple[str, ...],
        title: str,
        entries: Sequence[Entry],
        before: Config,
        start: int,
        bench: Bench,
        turn: int,
    ) -> None:
        if not entries:
            return
        self.told.append(Story(kind, about, title, tuple(entries), before, start, bench.run(), turn))
        engine, machine = self.study.engine, self.study.machine
        for entry in entries:
            config = entry.config
            if not config.powered:
                continue
            for region in machine.regions:
                place = config.places[region.index]
                if place:
                    self.shown.add(region.rule)
                    if region.kind == "sequence":
                        self.shown.add(region.places[place])
            self.shown |= {
                row.output for row, value in zip(machine.outputs, engine.outputs(config), strict=True) if value
            }
            lamps = zip(machine.board.lamps, engine.lamp_lines(config), strict=True)
            self.shown |= {f"{lamp}:{line}" for lamp, line in lamps}
