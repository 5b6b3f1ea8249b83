"""One hypothesis: what a board may be in, with bounds on when each thing in it began.

Law of this module: a hypothesis stands for every run of the board in which the moments named in it lie somewhere inside
their bounds. Timings and commands that began in one instant refer to one and the same moment, so its bounds are shared.
Nothing is changed in place: a ``Draft`` is worked on and then frozen.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from attrs import define

from boardgauge.judging.clocks import LONG
from boardgauge.judging.symbols import earlier, later
from boardgauge.machine.config import Config

Bounds = tuple[int, int]


class Command(NamedTuple):
    """An output change that was commanded and has not shown: at ``act`` (a moment), due by ``cap`` at the latest.

    ``shown`` is the moment at which it shows, for timings that count from it (-1: none does). ``mates`` are outputs of
    the same instant with the time within which they show together. ``timing`` is the timing whose end commanded it
    (-1: none), begun somewhere in ``origin``; ``siblings`` are the other outputs commanded in the same instant,
    ``before`` what the board was in before it, and ``watch`` the requirement that set its ``cap``, if one did.
    """

    value: bool
    act: int
    cap: int
    shown: int = -1
    mates: tuple[tuple[int, int, str], ...] = ()
    timing: int = -1
    origin: Bounds = (0, 0)
    watch: str = ""
    siblings: tuple[int, ...] = ()
    before: Config | None = None


class Sum(NamedTuple):
    """What an accumulator has added up, in board time, and the moment since which it adds (-1: it stands still).

    At ``ref`` it was no more than ``base``, so however often it paused, it never is more than what passed since then.
    """

    least: int
    most: int
    since: int
    ref: int = LONG
    base: int = 0


NOTHING_ADDED = Sum(0, 0, -1)


class Hypothesis:
    """A frozen hypothesis. ``kind`` and ``caps`` are what must agree for two of them to be compared by their bounds.

    ``rate`` bounds the board's clock rate, where one clock drives all its timings. ``supposed`` are the levels that the
    recording does not show and that this hypothesis takes not to have stayed at rest.
    """

    __slots__ = (
        "_actions",
        "_due",
        "_kind",
        "_uppers",
        "config",
        "excused",
        "lamps",
        "now",
        "pending",
        "queues",
        "rate",
        "ridden",
        "sums",
        "supposed",
        "timings",
        "vars",
        "windows",
    )

    def __init__(
        self,
        config: Config,
        now: int,
        moments: tuple[Bounds, ...],
        timings: tuple[tuple[int, int], ...],
        sums: tuple[Sum, ...],
        windows: tuple[tuple[int, ...], ...],
        queues: tuple[tuple[Command, ...], ...],
        pending: tuple[int, ...],
        lamps: tuple[int, ...],
        excused: frozenset[int],
        ridden: bool,
        rate: Bounds,
        supposed: frozenset[int],
    ) -> None:
        self.config = config
        self.now = now
        self.vars = moments
        self.timings = timings
        self.sums = sums
        self.windows = windows
        self.queues = queues
        self.pending = pending
        self.lamps = lamps
        self.excused = excused
        self.ridden = ridden
        self.rate = rate
        self.supposed = supposed
        self._due: int | None = None
        self._actions: list[Any] | None = None
        self._uppers: list[Any] | None = None
        self._kind: tuple[Any, ...] | None = None

    @property
    def kind(self) -> tuple[Any, ...]:
        """What the hypothesis is apart from its numbers; worked out only where there is another one to compare."""
        if self._kind is None:
            self._kind = (
                self.config,
                self.timings,
                tuple([s.since for s in self.sums]),
                self.windows,
                tuple([tuple([(c.value, c.act, c.shown, c.mates, c.timing) for c in queue]) for queue in self.queues]),
                self.pending,
                self.lamps,
                self.excused,
                self.ridden,
                self.supposed,
            )
        return self._kind

    @property
    def caps(self) -> tuple[int, ...]:
        """By when each command is due at the latest: as they are, not as bounds."""
        return tuple([c.cap for queue in self.queues for c in queue])

    def with_pending(self, number: int) -> Hypothesis:
        """Give the hypothesis with one more input change that the board has yet to act on."""
        return Hypothesis(
            self.config,
            self.now,
            self.vars,
            self.timings,
            self.sums,
            self.windows,
            self.queues,
            (*self.pending, number),
            self.lamps,
            self.excused,
            self.ridden,
            self.rate,
            self.supposed,
        )

    def with_sums(self, sums: tuple[Sum, ...]) -> Hypothesis:
        """Give the hypothesis with other amounts in its accumulators."""
        return Hypothesis(
            self.config,
            self.now,
            self.vars,
            self.timings,
            sums,
            self.windows,
            self.queues,
            self.pending,
            self.lamps,
            self.excused,
            self.ridden,
            self.rate,
            self.supposed,
        )

    def within(self, other: Hypothesis) -> bool:
        """Tell whether every run this one stands for is one of the other's too (kind and caps being equal)."""
        if self.now < other.now or self.rate[0] < other.rate[0] or self.rate[1] > other.rate[1]:
            return False
        if self.vars != other.vars:
            for a, b in zip(self.vars, other.vars, strict=True):
                if a[0] < b[0] or a[1] > b[1]:
                    return False
        return all(
            a.least >= b.least and a.most <= b.most and a.ref >= b.ref and a.base <= b.base
            for a, b in zip(self.sums, other.sums, strict=True)
        )

    def hull(self, other: Hypothesis) -> Hypothesis:
        """Give a hypothesis that stands for the runs of both (and perhaps for more)."""
        moments = tuple((earlier(a[0], b[0]), later(a[1], b[1])) for a, b in zip(self.vars, other.vars, strict=True))
        sums = tuple(
            Sum(earlier(a.least, b.least), later(a.most, b.most), a.since, earlier(a.ref, b.ref), later(a.base, b.base))
            for a, b in zip(self.sums, other.sums, strict=True)
        )
        return Hypothesis(
            self.config,
            earlier(self.now, other.now),
            moments,
            self.timings,
            sums,
            self.windows,
            self.queues,
            self.pending,
            self.lamps,
            self.excused,
            self.ridden,
            (earlier(self.rate[0], other.rate[0]), later(self.rate[1], other.rate[1])),
            self.supposed,
        )


@define
class Draft:
    """A hypothesis being worked on."""

    config: Config
    now: int
    vars: list[Bounds]
    timings: dict[int, int]
    sums: list[Sum]
    windows: list[tuple[int, ...]]
    queues: list[tuple[Command, ...]]
    pending: tuple[int, ...]
    lamps: list[int]
    rate: Bounds
    excused: frozenset[int] = frozenset()
    ridden: bool = False
    supposed: frozenset[int] = frozenset()

    @classmethod
    def of(cls, hypothesis: Hypothesis) -> Draft:
        """Begin from a frozen hypothesis."""
        return cls(
            hypothesis.config,
            hypothesis.now,
            list(hypothesis.vars),
            dict(hypothesis.timings),
            list(hypothesis.sums),
            list(hypothesis.windows),
            list(hypothesis.queues),
            hypothesis.pending,
            list(hypothesis.lamps),
            hypothesis.rate,
            hypothesis.excused,
            hypothesis.ridden,
            hypothesis.supposed,
        )

    def moment(self, earliest: int, latest: int) -> int:
        """Add a moment with these bounds."""
        self.vars.append((earliest, latest))
        return len(self.vars) - 1

    def narrow(self, moment: int, earliest: int, latest: int) -> bool:
        """Narrow a moment's bounds; False if nothing is left of them."""
        low, high = self.vars[moment]
        low, high = later(low, earliest), earlier(high, latest)
        self.vars[moment] = (low, high)
        return low <= high

    def freeze(self) -> Hypothesis:
        """Give the hypothesis, its moments numbered in the order in which they are mentioned, unused ones dropped."""
        order: dict[int, int] = {}
        number = order.setdefault
        timings = tuple([(t, number(v, len(order))) for t, v in sorted(self.timings.items())])
        sums = tuple([s if s.since < 0 else s._replace(since=number(s.since, len(order))) for s in self.sums])
        windows = tuple([tuple([number(v, len(order)) for v in window]) for window in self.windows])
        queues = tuple([queue and self._renumbered(queue, order) for queue in self.queues])
        lamps = tuple([number(v, len(order)) for v in self.lamps])
        moments: list[Bounds] = [(0, 0)] * len(order)
        for old, new in order.items():
            moments[new] = self.vars[old]
        return Hypothesis(
            self.config,
            self.now,
            tuple(moments),
            timings,
            sums,
            windows,
            queues,
            self.pending,
            lamps,
            self.excused,
            self.ridden,
            self.rate,
            self.supposed,
        )

    @staticmethod
    def _renumbered(queue: tuple[Command, ...], order: dict[int, int]) -> tuple[Command, ...]:
        number = order.setdefault
        return tuple(
            [
                c._replace(act=number(c.act, len(order)), shown=-1 if c.shown < 0 else number(c.shown, len(order)))
                for c in queue
            ]
        )
