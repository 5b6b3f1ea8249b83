"""What may be over on a good board and on a faulty one at one moment, no length followed.

Law of this module: what a fault has no part in is over on both together; what hangs on it may be over on either alone.
"""

from __future__ import annotations

from collections.abc import Iterator

from attrs import define, field

from boardgauge.language.expressions import Expression
from boardgauge.machine.config import Config, Outcome
from boardgauge.machine.table import Machine, Timing
from boardgauge.plans.terrain import least_of
from boardgauge.proving.slicing import names_in

Over = tuple[tuple[int, ...], tuple[int, ...]]
"""What ends at one moment on one board: timings, and counts (regions) of which an event is too old."""
NOTHING: Over = ((), ())


@define(eq=False)
class Endings:
    """The endings on two machines; ``own`` names what is faulty."""

    good: Machine
    faulty: Machine
    own: str
    _rows: list[tuple[int | None, int | None, bool, int]] = field(init=False)
    """Timings that belong together (good's, faulty's), whether they end together, and how long they last."""

    def __attrs_post_init__(self) -> None:
        self._rows = list(self._paired())

    @property
    def apart(self) -> list[int]:
        """Timings of the good board that may be over on one of the boards alone."""
        return [good for good, _, alike, _ in self._rows if good is not None and not alike]

    @property
    def otherwise(self) -> list[int]:
        """Those of them that may last otherwise though they begin at one moment."""
        return [index for index in self.apart if self._lasts_otherwise(self.good.timings[index])]

    def of(self, good: Config, faulty: Config) -> Iterator[tuple[Over, Over, int]]:
        """Give what may be over on either board, and about how long it takes."""
        for mine, its, alike, lasts in self._rows:
            one, other = _over(self.good, good, mine), _over(self.faulty, faulty, its)
            if one is not None and other is not None:
                yield one, other, lasts
            if one is not None and (other is None or not alike):
                yield one, NOTHING, lasts
            if other is not None and (one is None or not alike):
                yield NOTHING, other, lasts

    def _paired(self) -> Iterator[tuple[int | None, int | None, bool, int]]:
        theirs = {(row.name, row.role): row for row in self.faulty.timings}
        for row in self.good.timings:
            other = theirs.pop((row.name, row.role), None)
            alike = other is not None and other.choices == row.choices and not self._hangs_on_own(row)
            yield row.index, None if other is None else other.index, alike, least_of(row)
        for row in theirs.values():
            yield None, row.index, False, least_of(row)

    def _hangs_on_own(self, timing: Timing) -> bool:
        """Tell whether what is faulty says how long a timing lasts, or when it begins."""
        return self.own == timing.owner or self._says_how_long(timing)

    def _says_how_long(self, timing: Timing) -> bool:
        machine = self.good
        read: list[Expression] = [machine.speed_ups[index].while_ for index in timing.speed_ups]
        if timing.setting is not None:
            read += [row.when for row in machine.board.settings[timing.setting].positions if row.when is not None]
        speeds = {machine.speed_ups[index].id for index in timing.speed_ups}
        return self.own in {timing.setting, *speeds, *names_in(read)}

    def _lasts_otherwise(self, timing: Timing) -> bool:
        its = next((row for row in self.faulty.timings if (row.name, row.role) == (timing.name, timing.role)), None)
        return its is None or its.choices != timing.choices or self._says_how_long(timing)


def _over(machine: Machine, config: Config, timing: int | None) -> Over | None:
    """Give a timing's end where it runs."""
    if timing is None:
        return None
    if machine.timings[timing].role == "window":
        region = next(row.index for row in machine.regions if row.kind == "count" and timing in row.timings)
        return ((), (region,)) if config.places[region] else None
    return ((timing,), ()) if config.running >> timing & 1 else None


def begun_anew(machine: Machine, *outcomes: Outcome) -> set[int]:
    """Give the timings that outcomes began from their beginning; a sum that only paused did not."""
    sums = {region.timings[0] for region in machine.regions if region.kind == "accumulator"}
    begun = {timing for row in outcomes for timing, _ in row.begun} - sums
    return begun | {machine.regions[index].timings[0] for row in outcomes for index in row.emptied}
