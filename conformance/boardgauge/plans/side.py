"""One board, good or faulty, as planning sees it: stepped through what a hand does, with what a bench would see.

Law of this module: pictures only, every time nominal, or as short or long as it may be. What is found here is a guess
that makes planning quick; only a simulated board and the judge decide what a plan finds.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple, Self

import attrs
from attrs import define, field, frozen

from boardgauge.language.model import Board, Pattern
from boardgauge.language.quantities import MS, Quantity
from boardgauge.machine.compile import compile_board
from boardgauge.machine.config import Config
from boardgauge.machine.explore import Step
from boardgauge.machine.input_ways import comes_out
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.quick import QuickEngine
from boardgauge.machine.run import Value
from boardgauge.pairing.stepping import Length, Standing, Stepper
from boardgauge.plans.hand import up_to_tenth

_MOST_ENDS = 400
_MOST_KNOWN = 3_000

Shown = tuple[tuple[bool, ...], tuple[Pattern | None, ...]]
"""What shows: the wired outputs, and the patterns of the wired lamps (None without power)."""
Rows = tuple[tuple[int, Shown], ...]
"""What shows over a stretch: (offset from its beginning, what shows from there on)."""
Values = Mapping[str, Value]


class Instant(NamedTuple):
    """Everything due at one moment: what a board was in, what happened, and what it was in then."""

    before: Config
    levels: tuple[bool, ...]
    expired: tuple[int, ...]
    dropped: tuple[int, ...]
    power_up: bool
    after: Config

    @classmethod
    def of_step(cls, before: Config, step: Step, after: Config) -> Self:
        """Give the instant of a step of exploring, other than the loss of power: that is none."""
        levels = step.levels_from(before.levels)
        return cls(before, levels, step.expired, step.dropped, step.power is True, after)


@frozen
class Gone:
    """A board taken through a stretch: where it stands then, what showed, and every instant that was due in it."""

    standing: Standing
    rows: Rows
    instants: tuple[Instant, ...]


@define(eq=False)
class Side:
    """One board at the bench. ``outputs`` and ``lamps`` are those that the bench sees."""

    board: Board
    outputs: tuple[str, ...]
    lamps: tuple[str, ...]
    engine: QuickEngine
    stepper: Stepper
    _seen: dict[object, Shown] = field(factory=dict)
    _known: dict[object, Gone] = field(factory=dict)
    _compared: dict[tuple[int, Value, bool], bool] = field(factory=dict)

    @classmethod
    def of(
        cls, board: Board, outputs: tuple[str, ...], lamps: tuple[str, ...], engine: type[QuickEngine] = QuickEngine
    ) -> Side:
        """Give a board with its settings as the factory leaves them, stepped by a kind of engine."""
        # What only watches a board plays no part in what shows.
        steps = engine(compile_board(attrs.evolve(board, requirements={}, not_judged=())))
        return cls(board, outputs, lamps, steps, Stepper(steps, "nominal", {}))

    def at(self, positions: dict[str, str], length: Length = "nominal") -> Side:
        """Give the same board with its settings at other positions, and times of a length."""
        if not positions and length == "nominal":
            return self
        return attrs.evolve(self, stepper=Stepper(self.engine, length, positions), seen={}, known={})

    def off(self) -> Standing:
        """Give the board before it is switched on for the first time."""
        return self.stepper.off()

    def shown(self, standing: Standing) -> Shown:
        """Give what shows of a board."""
        config = standing.config
        found = self._seen.get(config)
        if found is None:
            board = self.board
            on = dict(zip(board.outputs, self.engine.outputs(config), strict=True))
            lines = dict(zip(board.lamps, self.engine.lamp_lines(config), strict=True))
            looks = (None if lines[n] < 0 else board.lamps[n].lines[lines[n]].shows for n in self.lamps)
            found = tuple(on[name] for name in self.outputs), tuple(looks)
            self._seen[config] = found
        return found

    def levels(self, before: tuple[bool, ...], values: Values, fresh: bool = False) -> tuple[bool, ...]:
        """Give what the levels come to at values of the inputs; ``fresh`` as the supply comes on."""
        found = []
        for level in self.engine.machine.levels:
            value = values.get(level.input)
            held = before[level.index] and not fresh
            if value is None:
                found.append(held if level.comparison is not None else level.at_rest)
            elif level.comparison is None:
                found.append(bool(value))
            else:
                key = (level.index, value, held)
                if key not in self._compared:
                    unit = self.board.inputs[level.input].unit or ""
                    self._compared[key] = comes_out(level.comparison, held, Quantity(value, unit))  # type: ignore[arg-type]
                found.append(self._compared[key])
        return tuple(found)

    def stages(self, standing: Standing) -> tuple[int, ...]:
        """Give how far what runs, or stands still with something left, has come: in quarters."""
        timings = self.engine.machine.timings
        return tuple([-(-4 * row.board // max(1, timings[row.timing].choices[0].nominal)) for row in standing.left])

    def without_power(self, standing: Standing) -> Standing:
        """Give it after a loss of power."""
        return self.stepper.without_power(standing)

    def go(self, standing: Standing, values: Values, time: int, *, power_up: bool = False) -> Gone:
        """Take it through a stretch of time in which the inputs stand at values. Raises CannotSettle."""
        return self._through(standing, self.levels(standing.config.levels, values, power_up), time, power_up)

    def flicker(self, standing: Standing, there: Values, back: Values, time: int) -> Gone:
        """Take it through an input going there and back again too soon to be taken in. Raises CannotSettle.

        Between the two limits of a comparison nothing leads back: what that came to stays, and is taken in.
        """
        return self._through(standing, self.back_from(standing, there, back), time, False)

    def back_from(self, standing: Standing, there: Values, back: Values) -> tuple[bool, ...]:
        """Give what the levels come to where the inputs went there and back again."""
        return self.levels(self.levels(standing.config.levels, there), back)

    def _through(self, standing: Standing, levels: tuple[bool, ...], time: int, power_up: bool) -> Gone:
        key = (standing, levels, time, power_up)
        found = self._known.get(key)
        if found is None:
            if len(self._known) > _MOST_KNOWN:
                self._known.clear()
            found = self._known[key] = self._gone(standing, levels, time, power_up)
        return found

    def _gone(self, standing: Standing, levels: tuple[bool, ...], time: int, power_up: bool) -> Gone:
        stepper = self.stepper
        instants: list[Instant] = []
        standing = self._instant(standing, levels, power_up, instants)
        rows = [(0, self.shown(standing))]
        now = 0
        for _ in range(_MOST_ENDS):
            end = stepper.next_end(standing)
            if end is None or now + end > time:
                return Gone(stepper.after(standing, time - now), tuple(rows), tuple(instants))
            now += end
            standing = self._instant(stepper.after(standing, end), levels, False, instants)
            shown = self.shown(standing)
            if shown != rows[-1][1]:
                rows.append((now, shown))
        raise CannotSettle("the timings keep ending")

    def _instant(self, standing: Standing, levels: tuple[bool, ...], power_up: bool, made: list[Instant]) -> Standing:
        over = self.stepper.over(standing)
        after, outcome = self.stepper.instant(standing, levels, power_up)
        if outcome is not None:
            expired = tuple(sorted(row.timing for row in over if row.region < 0))
            dropped = tuple(sorted({row.region for row in over if row.region >= 0}))
            made.append(Instant(standing.config, levels, expired, dropped, power_up, after.config))
        return after

    def dark(self) -> Shown:
        """Give what shows of a board without power."""
        return (False,) * len(self.outputs), (None,) * len(self.lamps)


def slack_of(side: Side, standing: Standing, end: int) -> int:
    """Give how much longer than at nominal times what is over next may take, a time from here."""
    most = 0
    machine, settings = side.engine.machine, side.engine.settings
    for row in side.stepper.ending(standing, end):
        duration = machine.timings[row.timing].choices[settings.choice(standing.config.chosen, row.timing)]
        if duration.tolerance is not None:
            rate = side.stepper.rate(standing.config, row.timing)
            most = max(most, duration.tolerance.more + int((duration.percent_longest - duration.nominal) / rate))
    return up_to_tenth(most + 50 * MS) if most else 0


def parting(good: Rows, other: Rows, time: int) -> Iterator[tuple[int, int, Shown, Shown]]:
    """Give the stretches in which two boards show differently: from, to, what the good one and the other show."""
    moments = sorted({at for at, _ in good} | {at for at, _ in other})
    one = two = 0
    for number, at in enumerate(moments):
        until = moments[number + 1] if number + 1 < len(moments) else time
        one = _at(good, at, one)
        two = _at(other, at, two)
        if good[one][1] != other[two][1] and until > at:
            yield at, until, good[one][1], other[two][1]


def _at(rows: Sequence[tuple[int, Shown]], time: int, start: int) -> int:
    while start + 1 < len(rows) and rows[start + 1][0] <= time:
        start += 1
    return start
