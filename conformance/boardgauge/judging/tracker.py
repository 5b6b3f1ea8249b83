"""Carry the hypotheses about a board from event to event.

Law of this module: a hypothesis is dropped only if no run it stands for is allowed. Whatever is not seen (a timing's
end, the moment at which the board acts on an input) may happen anywhere the rules allow, in any order, alone or
together.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import reduce
from itertools import chain
from typing import NamedTuple

from attrs import define, field, frozen

from boardgauge.judging.actions import Action, Commuting
from boardgauge.judging.answers import Answers
from boardgauge.judging.clocks import LONG
from boardgauge.judging.columns import Happening, Kind
from boardgauge.judging.coverage import Coverage
from boardgauge.judging.due import Due, Upper
from boardgauge.judging.evidence import Evidence
from boardgauge.judging.fire import Firing
from boardgauge.judging.hypothesis import Hypothesis
from boardgauge.judging.limits import Limits
from boardgauge.judging.pool import Pool
from boardgauge.judging.showing import Showing
from boardgauge.judging.supply import Supply
from boardgauge.judging.symbols import earlier, later
from boardgauge.judging.taking_in import TakingIn
from boardgauge.machine.config import Config
from boardgauge.machine.settle import Engine

MOST_TO_COME = 4
"""The most changes of one output that inputs nobody knows may leave to come."""

MOST_LATELY = 2
"""So many stretches in which nobody knew an input are told apart once it is known again; older ones count as one."""

MOST_HYPOTHESES = 20_000
"""More than these at one event are not carried on: the verdict is then undecided from there, never a guess."""
MOST_UNSEEN = 3_000
"""The same while nobody knows the supply: beyond it the board is lost sight of until the supply is known again."""
MOST_FIRINGS = 200_000
"""So many hidden events are tried on one trace, beside ``FIRINGS_AN_EVENT`` for each event of it; then likewise."""
FIRINGS_AN_EVENT = 200
MOST_SUPPOSING = 30_000
"""The same for a pass that supposes pulses hidden between samples."""


class Lately(NamedTuple):
    """A stretch in which nobody knew a level: since when, and the change (its number) by which it is known again."""

    since: int
    known_by: int


@frozen
class Death:
    """Why and when a hypothesis was dropped: ``missed`` had not happened in time, or something came unasked ``at``."""

    hypothesis: Hypothesis
    missed: tuple[Upper, ...] = ()
    at: int = 0

    @property
    def upper(self) -> Upper | None:
        """What was missing first; None if something came unasked."""
        return min(self.missed, key=lambda upper: upper.time, default=None)

    @property
    def time(self) -> int:
        """When it was dropped."""
        upper = self.upper
        return self.at if upper is None else upper.time


@define
class Tracker:
    """The hypotheses at one moment of a trace, and how they go on."""

    engine: Engine
    evidence: Evidence
    hypotheses: list[Hypothesis] = field(factory=list)
    shown: list[bool | None] = field(factory=list)
    free: dict[int, int] = field(factory=dict)
    """The levels that nobody knows now, each with when what the board may yet act on can have begun to come."""
    lately: dict[int, tuple[Lately, ...]] = field(factory=dict)
    """The same for levels that are known again, as long as the changes by which they are may still be acted on."""
    since: int = 0
    unjudged_until: int = -LONG
    overflowed: bool = False
    left: int = 0
    arrived: int = 0
    """How many of the input changes came before the event in hand."""
    deaths: list[Death] = field(factory=list)
    limits: Limits = field(init=False)
    commuting: Commuting = field(init=False)
    reading: Due = field(init=False)
    firing: Firing = field(init=False)
    taking_in: TakingIn = field(init=False)
    supply: Supply = field(init=False)
    showing: Showing = field(init=False)
    answers: Answers = field(factory=Answers)
    most: int = 0
    coverage: Coverage | None = None

    def __attrs_post_init__(self) -> None:
        self.left = MOST_FIRINGS + FIRINGS_AN_EVENT * len(self.evidence.happenings)
        if self.evidence.supposes:
            self.left = MOST_SUPPOSING
        self.limits = Limits(self.engine, self.evidence, self.answers)
        self.commuting = Commuting(self.engine, self.evidence, self.limits, self.answers)
        self.reading = Due(self.limits, self.commuting, self)
        self.firing = Firing(self.engine, self.evidence, self.limits, self)
        self.taking_in = TakingIn(self)
        self.supply = Supply(self)
        self.showing = Showing(self)

    @property
    def anything_goes(self) -> bool:
        """Whether something may change at any moment that the recording does not show now."""
        return bool(self.free or self.lately) or self.supply.unknown

    # -- hidden events -------------------------------------------------------------------------------------------

    def advance(self, early: int, late: int) -> list[Hypothesis]:
        """Give the hypotheses just before an event in [early, late]; hidden events before it may have happened."""
        kept, seen = Pool(), Pool()
        self.deaths = []
        self.firing.instants.broken.clear()
        work = list(self.hypotheses)
        fired = 0
        while work:
            hypothesis = work.pop()
            if late < self.reading.due(hypothesis):
                kept.add(hypothesis)
                continue
            uppers = self.reading.uppers(hypothesis)
            blocking = [upper for upper in uppers if not self._may_wait(upper, early, late)]
            if not blocking:
                kept.add(hypothesis)
            else:
                self.deaths.append(Death(hypothesis, tuple(blocking)))
            limit = late
            for upper in uppers:
                limit = earlier(limit, upper.time)
            for new in chain(self._fire_all(hypothesis, limit, late), self.supply.unseen(hypothesis, limit)):
                self.left -= 1
                if seen.add(new):
                    work.append(new)
                    fired += 1
            if fired > (MOST_UNSEEN if self.supply.unknown else MOST_HYPOTHESES) or self.left < 0:
                self.overflowed = True
                return kept.all()
        self.since = early
        return kept.all()

    def _may_wait(self, upper: Upper, early: int, late: int) -> bool:
        return upper.visible >= late if upper.kind == "output" else upper.time >= early

    def _fire_all(self, hypothesis: Hypothesis, limit: int, late: int) -> Iterator[Hypothesis]:
        actions = [action for action in self.reading.actions(hypothesis) if action.earliest <= late]
        actions = self._pressing(hypothesis.config, actions, late)
        for places in self.commuting.groups(hypothesis.config, actions):
            group = tuple([actions[place] for place in places])
            # What is silent may have happened long ago; what does something did not before the last event.
            silent = all(self.commuting.silent(hypothesis.config, action) for action in group)
            earliest, latest = hypothesis.now if silent else later(hypothesis.now, self.since), limit
            for action in group:
                earliest, latest = later(earliest, action.earliest), earlier(latest, action.latest)
            if any(action.kind == "flip" for action in group) and max(map(len, hypothesis.queues)) >= MOST_TO_COME:
                # An input nobody knows may turn at any moment, so what it makes an output do later may wait till then.
                continue
            if earliest <= latest:
                new = self.firing.fire(hypothesis, group, earliest, latest)
                if new is not None:
                    yield new

    def _pressing(self, config: Config, actions: list[Action], late: int) -> list[Action]:
        """Leave out the silent ends that need not be over yet and that nothing else hangs on, alone or together."""
        commuting = self.commuting
        silent = [action for action in actions if commuting.silent(config, action)]
        if not silent:
            return actions
        loud = [action for action in actions if action not in silent]
        if not commuting.all_silent(config, silent):
            return actions
        pressing = [action for action in silent if action.latest < late]
        for action in loud:
            if not commuting.indifferent(config, silent, action):
                return actions
            pressing += [
                one for one in silent if one not in pressing and not commuting.indifferent(config, [one], action)
            ]
        return [action for action in actions if action in loud or action in pressing]

    # -- events of the trace -------------------------------------------------------------------------------------

    def step(self, event: Happening) -> bool:
        """Take in one event; False if no hypothesis is left (``deaths`` then says why)."""
        if self.lately:
            self.lately = {level: left for level, rows in self.lately.items() if (left := self._still_acted_on(rows))}
        before = self.advance(event.earliest, event.latest if event.kind != Kind.INPUT else event.earliest)
        if not before:
            return False
        pool = Pool()
        match event.kind:
            case Kind.INPUT:
                self._arrive(before, event.which, pool)
            case Kind.OUTPUT:
                self.showing.take(before, event, pool)
            case Kind.POWER:
                self.supply.take(before, event, pool)
            case Kind.END:
                for hypothesis in before:
                    pool.add(hypothesis)
        self.hypotheses = pool.all()
        self.most = max(self.most, len(self.hypotheses))
        if self.coverage is not None:
            self._cover(event)
        if not self.hypotheses:
            self.deaths = [Death(hypothesis, at=event.latest) for hypothesis in before]
            self.hypotheses = before
            return False
        return True

    def note(self, event: Happening) -> None:
        """Take notice of an event without following it."""
        match event.kind:
            case Kind.POWER if event.value is None:
                self.supply.lost_from_view(event.earliest)
            case Kind.POWER:
                self.supply.seen_again(event.latest)
            case Kind.OUTPUT:
                self.shown[event.which] = event.value

    def forget_ended(self) -> None:
        """Forget the timings that ended in a step nobody is to be told of."""
        self.showing.ended = []

    def _cover(self, event: Happening) -> None:
        assert self.coverage is not None
        if self.showing.ended and len({row[0] for row in self.showing.ended}) == 1:
            timing = self.showing.ended[0][0]
            if timing >= 0:
                shortest = reduce(earlier, (row[1] for row in self.showing.ended))
                longest = reduce(later, (row[2] for row in self.showing.ended))
                if event.latest - longest >= self.supply.known_since:
                    self.coverage.timing_ended(timing, shortest, longest, any(row[3] for row in self.showing.ended))
        self.showing.ended = []
        self.coverage.look(self.hypotheses, event.latest)

    def _still_acted_on(self, rows: tuple[Lately, ...]) -> tuple[Lately, ...]:
        changes = self.evidence.changes
        return tuple(row for row in rows if self.limits.acted_on_by(changes[row.known_by]) >= self.since)

    def _arrive(self, before: list[Hypothesis], number: int, pool: Pool) -> None:
        change = self.evidence.changes[number]
        if change.value is None:
            self.free.setdefault(change.level, change.earliest)
            for hypothesis in before:
                pool.add(hypothesis)
            return
        was_free = self.free.pop(change.level, None)
        if was_free is not None and self.evidence.responds[change.level]:
            rows = (*self.lately.get(change.level, ()), Lately(was_free, number))
            if len(rows) > MOST_LATELY:
                rows = (rows[1]._replace(since=rows[0].since), *rows[2:])
            self.lately[change.level] = rows
        for hypothesis in before:
            if not hypothesis.config.powered:
                pool.add(hypothesis)
                continue
            last = self.taking_in.last_level(hypothesis, change.level)
            if last == change.value:
                pool.add(hypothesis)
                if was_free is None:
                    continue
            if change.droppable:
                either = self.taking_in.either_way(hypothesis, number)
                pool.add(either or hypothesis)
                if either is not None:
                    continue
            if change.hidden and change.droppable and not self.taking_in.worth_supposing(hypothesis, number):
                continue
            if last != change.value:
                pool.add(self.taking_in.at_once(hypothesis, number) or hypothesis.with_pending(number))
