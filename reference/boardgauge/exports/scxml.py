"""A machine as a state chart in SCXML (W3C Recommendation of 1 September 2015).

Law of this module: the chart does what the reference does at nominal times, or is refused with the reason. It uses what
engines share and no more: states, parallel regions, events, and sends that are delayed and cancelled. There is no
script in it, and a data model only where a timing may stand still and run on: then the events from outside carry the
time in milliseconds as ``at``, and the chart holds what is left.

The region ``rules`` has one state for every state of the board that can be reached; it takes events of inputs
(``in.NAME.STATE``), of the supply (``supply.on``, ``supply.off``) and of times that are over (``time.N``), and raises
``out.NAME.on``, ``lamp.NAME.LINE`` and so on for the other regions, one for each output and lamp.

What is over at the same moment is taken one after the other, where the reference takes it together.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple
from xml.sax.saxutils import quoteattr

from attrs import define, evolve, field

from boardgauge.exports.cannot_export import CannotExport
from boardgauge.exports.scxml_times import Times
from boardgauge.language.model import Board, InputKind
from boardgauge.language.quantity_writer import write_pattern
from boardgauge.machine.compile import compile_board
from boardgauge.machine.config import Config, Outcome
from boardgauge.machine.input_ways import Ways, levels_watched, ways_together
from boardgauge.machine.settle import Engine
from boardgauge.machine.table import Machine

MOST_STATES = 5_000
_WORDS = {
    InputKind.CALL: ("off", "on"),
    InputKind.SIGNAL: ("off", "on"),
    InputKind.SWITCH: ("open", "closed"),
    InputKind.LINK: ("open", "fitted"),
    InputKind.BUTTON: ("released", "pressed"),
}
_COMMENT = """  The board {id} at nominal times, with its settings as they left the factory and without speed-ups.
  Events in: supply.on, supply.off, in.NAME.STATE. States to watch: out.NAME.on, lamp.NAME.LINE.
{inputs}"""


class _State(NamedTuple):
    """A configuration, and for each count with a window the number of its oldest event's send."""

    config: Config
    heads: tuple[int, ...] = ()


def write_scxml(board: Board, positions: Mapping[str, str] | None = None, limit: int = MOST_STATES) -> str:
    """Give a board as SCXML. ``positions`` are those of settings that a person chooses. Raises CannotExport."""
    bare = evolve(board, requirements={}, not_judged=(), speed_ups={})
    return _Chart(Engine(compile_board(bare)), dict(positions or {}), limit).text()


@define
class _Chart:
    engine: Engine
    positions: dict[str, str]
    limit: int
    _ways: Ways = field(init=False)
    _times: Times = field(init=False)
    _numbers: dict[_State, int] = field(factory=dict)
    _queue: deque[_State] = field(factory=deque)

    def __attrs_post_init__(self) -> None:
        self._times = Times(self.engine, self.engine.off(self.positions))
        self._ways = ways_of_chart(self.engine.machine)

    # -- the whole ---------------------------------------------------------------------------------------------------

    def text(self) -> str:
        """Give the document."""
        board = self.engine.machine.board
        start = _State(self.engine.off(self.positions), (0,) * len(self._times.counts))
        self._number(start)
        states: list[str] = []
        while self._queue:
            state = self._queue.popleft()
            states += self._state(state)
            if len(self._numbers) > self.limit:
                raise CannotExport(f"the board has more than {self.limit} states")
        at = "  Each event in carries the time in milliseconds as `at`.\n" if self._times.told else ""
        comment = _COMMENT.format(id=board.id, inputs=at + "\n".join(self._legend()))
        model = "ecmascript" if self._times.told else "null"
        data = ["  <datamodel>", *(f"    {line}" for line in self._times.data()), "  </datamodel>"]
        lines = [
            '<?xml version="1.0" encoding="UTF-8"?>',
            f"<!--\n{comment.replace('--', '- -')}\n-->",
            f'<scxml xmlns="http://www.w3.org/2005/07/scxml" version="1.0" datamodel="{model}" '
            f'initial="board" name={quoteattr(board.id)}>',
            *(data if self._times.told else []),
            '  <parallel id="board">',
            '    <state id="rules" initial="s0">',
            *(f"      {line}" for line in states),
            "    </state>",
            *(f"    {line}" for line in self._regions()),
            "  </parallel>",
            "</scxml>",
        ]
        return "\n".join(lines) + "\n"

    def _legend(self) -> Iterator[str]:
        for timing in self.engine.machine.timings:
            yield f"  time.{timing.index}: {timing.name}"
        for indices, values in self._ways:
            level = self.engine.machine.levels[indices[0]]
            if level.comparison is None:
                continue
            for number, held in enumerate(values):
                limits = [self.engine.machine.levels[index].comparison for index in indices]
                told = [
                    f"{'' if yes else 'not '}{c.op} {float(c.limit.number):g} {c.limit.unit}"
                    for c, yes in zip(limits, held, strict=True)
                    if c is not None
                ]
                yield f"  in.{level.input}.{number}: {', '.join(told)}"

    def _regions(self) -> Iterator[str]:
        board = self.engine.machine.board
        for name in board.outputs:
            yield from _region(f"out.{name}", ["off", "on"])
        for name, lamp in board.lamps.items():
            looks = [write_pattern(line.shows) for line in lamp.lines]
            yield f"<!-- {name}: {'; '.join(f'{n} {look}' for n, look in enumerate(looks, 1))} -->"
            yield from _region(f"lamp.{name}", ["unlit", *(str(number) for number in range(1, len(looks) + 1))])

    # -- states and transitions --------------------------------------------------------------------------------------

    def _number(self, state: _State) -> int:
        if state not in self._numbers:
            self._numbers[state] = len(self._numbers)
            self._queue.append(state)
        return self._numbers[state]

    def _state(self, state: _State) -> Iterator[str]:
        yield f'<state id="s{self._number(state)}">'
        yield from (f"  {line}" for line in self._transitions(state))
        yield "</state>"

    def _transitions(self, state: _State) -> Iterator[str]:
        config = state.config
        for indices, all_values in self._ways:
            now = tuple(config.levels[index] for index in indices)
            for number, values in enumerate(all_values):
                if values == now:
                    continue
                levels = list(config.levels)
                for index, value in zip(indices, values, strict=True):
                    levels[index] = value
                event = event_of(self.engine.machine, indices, values, number)
                if not config.powered:
                    yield from self._arrow(event, _State(config._replace(levels=tuple(levels)), state.heads), [])
                else:
                    outcome = self.engine.settle(config, tuple(levels))
                    yield from self._taken(event, state, outcome)
        if not config.powered:
            yield from self._taken("supply.on", state, self.engine.settle(config, config.levels, power_up=True))
            return
        for timing in self.engine.machine.timings:
            if timing.role != "window" and config.running >> timing.index & 1:
                outcome = self.engine.settle(config, None, (timing.index,))
                yield from self._taken(f"time.{timing.index}", state, outcome, timing.index)
        for place, region in enumerate(self._times.counts):
            if config.places[region]:
                row = self.engine.machine.regions[region]
                outcome = self.engine.settle(config, None, (), (region,))
                heads = list(state.heads)
                heads[place] = (heads[place] + 1) % (len(row.places) - 1)
                dropped = _State(config, tuple(heads))
                had = {region: config.places[region] - 1}
                yield from self._taken(f"time.{row.timings[0]}", dropped, outcome, had=had)
        after = self.engine.lose_power(config)._replace(levels=config.levels)
        actions = [*self._times.off(config, state.heads), *self._shown(config, after)]
        yield from self._arrow("supply.off", _State(after, self._times.heads_without_power(state.heads)), actions)

    def _taken(
        self, event: str, state: _State, outcome: Outcome, over: int = -1, had: Mapping[int, int] | None = None
    ) -> Iterator[str]:
        heads = list(state.heads)
        actions = list(self._times.taken(state.config, outcome, heads, over, had))
        actions += self._shown(state.config, outcome.config)
        yield from self._arrow(event, _State(outcome.config, tuple(heads)), actions)

    def _shown(self, before: Config, after: Config) -> Iterator[str]:
        board = self.engine.machine.board
        for name, old, new in zip(board.outputs, self.engine.outputs(before), self.engine.outputs(after), strict=True):
            if old != new:
                yield f'<raise event="out.{name}.{"on" if new else "off"}"/>'
        lines = zip(board.lamps, self.engine.lamp_lines(before), self.engine.lamp_lines(after), strict=True)
        for name, old_line, new_line in lines:
            if old_line != new_line:
                yield f'<raise event="lamp.{name}.{"unlit" if new_line < 0 else new_line + 1}"/>'

    def _arrow(self, event: str, target: _State, actions: list[str]) -> Iterator[str]:
        head = f'<transition event="{event}" target="s{self._number(target)}"'
        if not actions:
            yield f"{head}/>"
            return
        yield f"{head}>"
        yield from (f"  {action}" for action in actions)
        yield "</transition>"


def ways_of_chart(machine: Machine) -> Ways:
    """Give for each input that the chart hears of its levels and the values they can have together."""
    rows = zip(*levels_watched(machine), strict=True)
    return ways_together(machine, tuple(always or at_first for always, at_first in rows))


def event_of(machine: Machine, indices: tuple[int, ...], values: tuple[bool, ...], number: int) -> str:
    """Give the event by which an input comes to a value; ``number`` is that of a sensor's values together."""
    level = machine.levels[indices[0]]
    kind = machine.board.inputs[level.input].kind
    word = str(number) if level.comparison is not None else _WORDS[kind][values[0]]
    return f"in.{level.input}.{word}"


def _region(name: str, states: Sequence[str]) -> Iterator[str]:
    yield f'<state id="{name}" initial="{name}.{states[0]}">'
    for state in states:
        yield f'  <state id="{name}.{state}">'
        yield from (f'    <transition event="{name}.{s}" target="{name}.{s}"/>' for s in states if s != state)
        yield "  </state>"
    yield "</state>"
