"""What the hypotheses at one moment are apart from their numbers, and their numbers in a row.

Law of this module: shape and numbers together say all that a hypothesis says; ``build`` of what ``taken_apart`` gave
is the same again. Pending input changes go by their place among those pending, whatever their number in the trace.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from boardgauge.judging.clocks import LONG
from boardgauge.judging.hypothesis import Bounds, Command, Hypothesis, Sum
from boardgauge.machine.inputs import Change


class Waiting(NamedTuple):
    """What a pending input change is apart from its times; ``moment`` counts the moments among those pending."""

    level: int
    value: bool | None
    droppable: bool
    moment: int
    hidden: bool


Key = tuple[Any, ...]


class Shape:
    """The hypotheses of one moment without their numbers; equal ones are one and the same object (see ``Shapes``)."""

    __slots__ = ("known", "looks", "rows", "shown", "waiting")

    def __init__(self, rows: tuple[Key, ...], shown: tuple[bool | None, ...], waiting: tuple[Waiting, ...]) -> None:
        self.rows, self.shown, self.waiting = rows, shown, waiting
        self.known: dict[object, Any] = {}
        """What is known of steps from here, by what happens."""
        self.looks: Any = None

    def build(self, numbers: Sequence[int], pending: Sequence[int], rate: Bounds | None) -> list[Hypothesis]:
        """Give the hypotheses; ``rate`` is the clock rate of all of them, None if the numbers hold one for each."""
        row = iter(numbers)
        return [_built(key, row, pending, rate) for key in self.rows]


def _built(key: Key, row: Iterator[int], pending: Sequence[int], rate: Bounds | None) -> Hypothesis:
    config, timings, sums, windows, queues, waiting, lamps, excused, ridden, supposed, moments = key
    now = next(row)
    rate = (next(row), next(row)) if rate is None else rate
    bounds = tuple([(next(row), next(row)) for _ in range(moments)])
    return Hypothesis(
        config,
        now,
        bounds,
        timings,
        tuple([Sum(next(row), next(row), since, LONG if ref else next(row), next(row)) for since, ref in sums]),
        windows,
        tuple([tuple([_command(c, row) for c in queue]) for queue in queues]),
        tuple([pending[place] for place in waiting]),
        lamps,
        excused,
        ridden,
        rate,
        supposed,
    )


def _command(key: Key, row: Iterator[int]) -> Command:
    value, act, shown, mates, timing, watch, siblings, before = key
    cap, low, high = next(row), next(row), next(row)
    return Command(value, act, cap, shown, mates, timing, (low, high), watch, siblings, before)


class Shapes:
    """Takes hypotheses apart; keeps every shape it met once."""

    def __init__(self, one_rate: bool) -> None:
        self._one_rate = one_rate
        self._known: dict[Key, Shape] = {}

    def taken_apart(
        self, hypotheses: Sequence[Hypothesis], shown: Sequence[bool | None], changes: Sequence[Change]
    ) -> tuple[Shape, list[int], list[int]]:
        """Give the shape, its numbers, and the numbers in the trace of the pending changes."""
        pending = sorted({number for h in hypotheses for number in h.pending})
        numbers: list[int] = []
        rows = tuple([self._row(h, pending, numbers) for h in hypotheses])
        moments: dict[int, int] = {-1: -1}
        waiting = []
        for number in pending:
            c = changes[number]
            moment = moments.setdefault(c.moment, len(moments) - 1)
            waiting.append(Waiting(c.level, c.value, c.droppable, moment, c.hidden))
        key = (rows, tuple(shown), tuple(waiting))
        shape = self._known.get(key)
        if shape is None:
            shape = self._known[key] = Shape(*key)
        return shape, numbers, pending

    def _row(self, h: Hypothesis, pending: list[int], numbers: list[int]) -> Key:
        numbers.append(h.now)
        if not self._one_rate:
            numbers += h.rate
        for bounds in h.vars:
            numbers += bounds
        sums = []
        for total in h.sums:
            # A symbol stands for no such time: where it might, the step itself asks.
            never = type(total.ref) is int and total.ref == LONG
            sums.append((total.since, never))
            numbers += (total.least, total.most, *(() if never else (total.ref,)), total.base)
        queues = []
        for queue in h.queues:
            queues.append(
                tuple([(c.value, c.act, c.shown, c.mates, c.timing, c.watch, c.siblings, c.before) for c in queue])
            )
            for c in queue:
                numbers += (c.cap, *c.origin)
        return (
            h.config,
            h.timings,
            tuple(sums),
            h.windows,
            tuple(queues),
            tuple([pending.index(n) for n in h.pending]) if h.pending else (),
            h.lamps,
            h.excused,
            h.ridden,
            h.supposed,
            len(h.vars),
        )
