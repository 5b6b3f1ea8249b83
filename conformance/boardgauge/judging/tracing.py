"""Work a step out once on symbols, and make a function of it that does the same for other numbers.

Law of this module: what a step is, ``Tracker.step`` alone says. Here it is run on symbols; what it asked of them is
asked again by the function made, and where one answer is another, the function declines. So it gives what the step
would have given, or nothing. Only numbers of our own and fixed words are put together to a function: no text of a spec
gets in.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, cast

from attrs import define, field, frozen

from boardgauge.judging.answers import Answers
from boardgauge.judging.clocks import REAL_TIME, Clock
from boardgauge.judging.columns import Changes, Happening, Kind
from boardgauge.judging.evidence import Evidence
from boardgauge.judging.hypothesis import Bounds
from boardgauge.judging.made import function_of
from boardgauge.judging.shape import Shape, Shapes
from boardgauge.judging.symbols import Tape, Untraceable, place_of
from boardgauge.judging.tracker import Tracker
from boardgauge.judging.turns import Turn
from boardgauge.machine.inputs import Change
from boardgauge.machine.settle import Engine

PLENTY = 1 << 30
MOST_HYPOTHESES = 40
"""With more hypotheses than these the numbers go another way almost every time."""
MOST_NODES = 20_000
MOST_FIRED = 5_000
"""A step with more hidden events than these is not traced: with fewer of them left to try, nothing is taken so."""


@frozen
class Setting:
    """What is the same for a whole trace: the traces of steps hold for traces that have it in common.

    ``real_time`` are the sets of speed-ups under which board time is real time; ``watched`` the lamps that are;
    ``at_once``: what happens shows at that time.
    """

    real_time: frozenset[tuple[int, ...]]
    watched: tuple[bool, ...]
    at_once: bool
    blind: frozenset[int]
    responds: tuple[int, ...]
    levels: int
    rate: Bounds | None


class Occasion:
    """The trace that steps are taken on: all that the functions made ask of it."""

    def __init__(self, evidence: Evidence) -> None:
        changes = evidence.changes
        assert isinstance(changes, Changes)
        self.earliest: list[int] = changes.earliest.tolist()
        self.latest: list[int] = changes.latest.tolist()
        last = evidence.moment_last
        self.moment_last = [last.get(moment, 0) for moment in changes.moment.tolist()] if last else self.earliest
        self.following = evidence.following
        self.deadlines = evidence.deadlines
        self.clocks = evidence.clocks
        self.seen_by = evidence.trace.seen_by
        self.ended: Callable[[int, int, int, bool], None] = _nobody


def _nobody(timing: int, least: int, greatest: int, sped_up: bool) -> None:
    """Take no notice."""


@frozen(eq=False)
class Outcome:
    """What a traced step comes to, apart from numbers: the shape, and how many hidden events were tried for it."""

    shape: Shape
    fired: int


Made = Callable[[Sequence[int], int, int, int, int, Occasion], "tuple[Outcome, tuple[int, ...]] | None"]
"""From numbers, the time of the event before, earliest, latest and number of the change to the outcome and its numbers;
None if it declines."""


class _Clock:
    """A clock with speed-ups: its answers are asked for anew each time."""

    def __init__(self, tape: Tape, key: tuple[int, ...], clock: Clock) -> None:
        self._tape, self._key, self._clock = tape, key, clock

    def __getattr__(self, name: str) -> Callable[..., int]:
        do = getattr(self._clock, name)
        text = f"x.clocks[{self._key!r}].{name}"
        return lambda *numbers: cast(int, self._tape.called(text, numbers, do))


@frozen
class _Lamp:
    tape: Tape
    lamp: int
    occasion: Occasion

    def by(self, line: int, since: int) -> int:
        watch = self.occasion.deadlines[self.lamp]
        assert watch is not None
        text = f"x.deadlines[{self.lamp}].by"
        return cast(int, self.tape.called(text, (line, since), watch.by))


@frozen
class _Trace:
    tape: Tape
    occasion: Occasion
    at_once: bool

    def seen_by(self, time: int) -> int:
        return time if self.at_once else cast(int, self.tape.called("x.seen_by", (time,), self.occasion.seen_by))


@frozen
class _Levels:
    """The levels at one moment, which is the only one that may be asked for."""

    values: tuple[bool, ...]
    time: object

    def last(self, index: int, time: int) -> bool:
        if not self.values or place_of(time) != place_of(self.time):
            raise Untraceable("the levels at another time")
        return self.values[index]

    def ways(self, index: int, earliest: int, latest: int) -> tuple[tuple[bool, tuple[int, ...]], ...]:
        # A turn with a level that may be either is not traced.
        return ((self.last(index, latest), ()),)


@define
class _Ended:
    """Notes what coverage is told."""

    rows: list[tuple[int, int, int, bool]] = field(factory=list)

    def timing_ended(self, timing: int, least: int, greatest: int, sped_up: bool) -> None:
        self.rows.append((timing, least, greatest, sped_up))

    def look(self, hypotheses: object, time: int) -> None:
        """What is looked at hangs on the shape alone: ``Steps`` sees to it."""


class Tracer:
    """Traces the steps of one board on traces with one setting."""

    def __init__(self, engine: Engine, setting: Setting, shapes: Shapes, answers: Answers) -> None:
        self.engine, self.setting, self.shapes, self.answers = engine, setting, shapes, answers

    def trace(
        self,
        shape: Shape,
        numbers: Sequence[int],
        pending: Sequence[int],
        turn: Turn,
        times: tuple[int, int, int, int],
        occasion: Occasion,
    ) -> Made:
        """Give the function of a step that goes the way it goes for these numbers. Raises Untraceable."""
        tape = Tape()
        own = [cast(int, tape.given(f"n{i}", value)) for i, value in enumerate(numbers)]
        waits = [tape.given(f"p{i}", value) for i, value in enumerate(pending)]
        since, early, late = (cast(int, tape.given(text, time)) for text, time in zip("sel", times[:3], strict=True))
        number = tape.given("c", times[3])
        changes = [self._waiting(tape, i, waiting, pending[i], occasion) for i, waiting in enumerate(shape.waiting)]
        moments = {i: self._moment_last(tape, f"p{place}", pending[place], occasion)
                   for place, i in enumerate(w.moment for w in shape.waiting) if i >= 0}  # fmt: skip
        place = len(changes)
        alone, following = [False] * place, [-1] * place
        if turn.change is not None:
            changes.append(Change(turn.change.level, turn.change.value, early, late, turn.change.droppable,
                                  turn.change.moment, turn.change.hidden))  # fmt: skip
            if turn.change.moment >= 0 and turn.change.moment not in moments:
                moments[turn.change.moment] = self._moment_last(tape, "c", times[3], occasion)
            alone.append(turn.alone)
            following.append(-1 if turn.after is None else place + 1)
            if turn.after is not None:
                which = occasion.following[times[3]]
                begins = cast(int, tape.given("x.earliest[x.following[c]]", occasion.earliest[which]))
                ends = cast(int, tape.given("x.latest[x.following[c]]", occasion.latest[which]))
                changes.append(Change(turn.after.level, turn.after.value, begins, ends, turn.after.droppable))
                alone.append(turn.after_alone)
                following.append(-1)
        tracker = self._tracker(tape, changes, alone, following, moments, turn, late, occasion)
        tracker.left, tracker.since = PLENTY, since
        tracker.shown = list(shape.shown)
        tracker.hypotheses = shape.build(own, range(len(pending)), self.setting.rate)
        which = place if turn.kind == Kind.INPUT else turn.which
        if not tracker.step(Happening(late, turn.kind, which, early, late, turn.value, turn.maybe)):
            raise Untraceable("a deviation")
        fired = PLENTY - tracker.left
        if (
            tracker.overflowed
            or tracker.anything_goes
            or fired > MOST_FIRED
            or len(tracker.hypotheses) > MOST_HYPOTHESES
        ):
            raise Untraceable("too much that is open")
        if len(tape.nodes) > MOST_NODES:
            raise Untraceable("too long")
        after, left, still = self.shapes.taken_apart(tracker.hypotheses, tracker.shown, changes)
        assert isinstance(tracker.coverage, _Ended)
        results = [place_of(value) for value in left] + [place_of([*waits, number][i]) for i in still]
        outcome = Outcome(after, fired)
        return cast(Made, function_of(tape, len(own), len(pending), tracker.coverage.rows, results, outcome))

    def _waiting(self, tape: Tape, place: int, waiting: Any, number: int, occasion: Occasion) -> Change:
        early = tape.given(f"x.earliest[p{place}]", occasion.earliest[number])
        late = tape.given(f"x.latest[p{place}]", occasion.latest[number])
        return Change(
            waiting.level,
            waiting.value,
            cast(int, early),
            cast(int, late),
            waiting.droppable,
            waiting.moment,
            waiting.hidden,
        )

    def _moment_last(self, tape: Tape, name: str, number: int, occasion: Occasion) -> int:
        return cast(int, tape.given(f"x.moment_last[{name}]", occasion.moment_last[number]))

    def _tracker(
        self,
        tape: Tape,
        changes: list[Change],
        alone: list[bool],
        following: list[int],
        moments: dict[int, int],
        turn: Turn,
        late: int,
        occasion: Occasion,
    ) -> Tracker:
        setting = self.setting
        clocks = {
            key: REAL_TIME if key in setting.real_time else cast(Any, _Clock(tape, key, clock))
            for key, clock in occasion.clocks.items()
        }
        lamps = [_Lamp(tape, i, occasion) if watched else None for i, watched in enumerate(setting.watched)]
        evidence = Evidence(
            trace=cast(Any, _Trace(tape, occasion, setting.at_once)),
            happenings=(),
            changes=tuple(changes),
            initial=(None,) * setting.levels,
            shown=(),
            powered=None,
            clocks=clocks,
            lamps=cast(Any, tuple(lamps)),
            responds=setting.responds,
            start=cast(Any, None),
            end=cast(Any, None),
            levels=cast(Any, _Levels(turn.levels, late)),
            alone=tuple(alone),
            following=tuple(following),
            blind=setting.blind,
            deadlines=cast(Any, tuple(lamps)),
            moment_last=moments,
        )
        return Tracker(self.engine, evidence, answers=self.answers, coverage=cast(Any, _Ended()))
