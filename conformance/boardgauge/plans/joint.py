"""A good board and every fault still to be found, side by side on one bench: what a deed does to all of them.

Law of this module: all boards get the same at their terminals. Two boards part where what shows differs for longer than
the tolerances could make it differ; that is a guess, and errs on either side.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction

from attrs import define, evolve, field, frozen

from boardgauge.faults.fault import Fault
from boardgauge.language.model import Board
from boardgauge.language.quantities import MS
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import Value
from boardgauge.pairing.stepping import Standing
from boardgauge.plans.acting import Acting
from boardgauge.plans.hand import Deed, reading_time
from boardgauge.plans.side import Gone, Instant, Rows, Shown, Side, parting

_SURE = 150 * MS


@frozen
class Faulty:
    """A faulty board: where it stands, and since how long what shows has differed (outputs, lamps)."""

    standing: Standing
    outputs: int = 0
    lamps: int = 0


@frozen(eq=False)
class Joint:
    """All boards at a moment. ``values`` is what stands at the inputs; ``faulty`` by the id of the fault."""

    good: Standing
    faulty: Mapping[str, Faulty]
    values: Mapping[str, Value]


@frozen(eq=False)
class Done:
    """What a deed came to: all boards after it, what the good one showed and did, and the faults that parted."""

    joint: Joint
    rows: Rows
    instants: tuple[Instant, ...]
    parted: frozenset[str]


@define(eq=False)
class Together:
    """The boards of one bench. ``patience`` makes a fault part only after a longer difference."""

    good: Side
    sides: dict[str, Side]
    faults: Mapping[str, Fault]
    patience: Mapping[str, Fraction | int] = field(factory=dict)
    acting: Mapping[str, Acting] = field(factory=dict)
    """Where faults act, of those of which that can be told."""
    steps: int = 0
    """So many times a faulty board was taken through a deed by itself."""
    _outright: int = field(init=False)

    def __attrs_post_init__(self) -> None:
        board = self.board
        lags = [row.lag for row in board.outputs.values()]
        answers = [row.responds_within for row in board.inputs.values()]
        self._outright = max([0, *lags]) + max([board.responds_within, *answers]) + _SURE

    @property
    def board(self) -> Board:
        """The good board."""
        return self.good.board

    def begin(self, values: Mapping[str, Value], ids: Iterable[str]) -> Joint:
        """Give all boards before the supply comes on."""
        return Joint(self.good.off(), {id_: Faulty(self.sides[id_].off()) for id_ in ids}, dict(values))

    def do(self, joint: Joint, deed: Deed, *, first: bool = False) -> Done:
        """Do a deed; ``first`` is the supply coming on for the first time. Raises CannotSettle for the good board."""
        values = {**joint.values, **deed.values}
        after = joint.values if deed.pulse else values
        good = self._gone(self.good, joint.good, joint.values, values, deed, first, good=True)
        faulty: dict[str, Faulty] = {}
        parted = set()
        numbers: list[int] | None = None
        for id_, row in joint.faulty.items():
            side = self.sides[id_]
            twin = self.acting.get(id_)
            if twin is not None and self._alike(row, joint.good, side, twin, deed):
                if numbers is None:
                    numbers = [twin.instants.number(instant) for instant in good.instants]
                if not any(twin.acts(number) for number in numbers):
                    # It does what the good board does.
                    faulty[id_] = Faulty(good.standing)
                    continue
            self.steps += 1
            try:
                gone = self._gone(side, row.standing, joint.values, values, deed, first, good=False)
            except CannotSettle:
                # It never comes to rest: nobody would take it for good, but only the judge decides.
                parted.add(id_)
                continue
            since = Faulty(gone.standing) if deed.cycle or first else evolve(row, standing=gone.standing)
            now, found = self._compared(id_, since, good.rows, gone.rows, deed)
            faulty[id_] = now
            if found:
                parted.add(id_)
        return Done(Joint(good.standing, faulty, after), good.rows, good.instants, frozenset(parted))

    def _alike(self, row: Faulty, good: Standing, side: Side, twin: Acting, deed: Deed) -> bool:
        """Tell whether a faulty board stands just like the good one, and takes in of a deed what that does."""
        if row.outputs or row.lamps or row.standing != good or (deed.cycle and not twin.keeps_alike):
            return False
        if twin.stands(good.config):
            return False
        return not deed.pulse or all(side.board.inputs[name].filter.greatest for name in deed.values)

    def _gone(
        self,
        side: Side,
        standing: Standing,
        before: Mapping[str, Value],
        values: Mapping[str, Value],
        deed: Deed,
        first: bool,
        *,
        good: bool,
    ) -> Gone:
        time = deed.settle + deed.wait
        if first:
            return side.go(standing, values, time, power_up=True)
        if deed.cycle:
            return side.go(side.without_power(standing), values, time, power_up=True)
        if not deed.pulse:
            return side.go(standing, values, time)
        name = next(iter(deed.values))
        if good or side.board.inputs[name].filter.greatest:
            return side.flicker(standing, values, before, time + deed.pulse)
        there = side.go(standing, values, deed.pulse)
        back = side.go(there.standing, before, time)
        rows = (*there.rows, *((at + deed.pulse, shown) for at, shown in back.rows))
        return Gone(back.standing, rows, (*there.instants, *back.instants))

    def _compared(self, id_: str, row: Faulty, good: Rows, other: Rows, deed: Deed) -> tuple[Faulty, bool]:
        if good == other and not row.outputs and not row.lamps:
            return row, False
        time = deed.settle + deed.wait + deed.pulse
        outputs, lamps = row.outputs, row.lamps
        outputs_to = lamps_to = 0
        found = False
        patience = self.patience.get(id_, 1)
        chatters = self.faults[id_].group == "output chatters"
        for start, end, one, two in parting(good, other, time):
            if one[0] != two[0]:
                outputs = (outputs if start == outputs_to else 0) + end - start
                outputs_to = end
                if chatters:
                    # It must be over before anything else is done, whatever comes late.
                    found = found or start + self._outright * patience <= time
                else:
                    found = found or outputs >= self._enough(start, deed, patience)
            if one[1] != two[1]:
                lamps = (lamps if start == lamps_to else 0) + end - start
                lamps_to = end
                found = found or lamps >= self._read(one, two) * patience
        return Faulty(row.standing, outputs if outputs_to == time else 0, lamps if lamps_to == time else 0), found

    def _enough(self, start: int, deed: Deed, patience: Fraction | int) -> Fraction | int:
        """Give how long outputs have to differ to be told apart: a flicker may show as briefly as it likes, unless that
        was found to be too little."""
        if deed.pulse and patience <= 1:
            return 1
        tolerance = self.board.tolerance
        if not start or tolerance is None:
            return self._outright * patience
        part = max(tolerance.percent_less, tolerance.percent_more)
        return (self._outright + max(tolerance.less, tolerance.more) + int(part * start)) * patience

    def _read(self, one: Shown, two: Shown) -> int:
        return max(
            reading_time(self.board.lamps[name], a, b)
            for name, a, b in zip(self.good.lamps, one[1], two[1], strict=True)
            if a != b
        )
