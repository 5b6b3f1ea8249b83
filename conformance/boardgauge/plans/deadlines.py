"""By when a hand has to have done a step, so that the times on the sheet of a plan are true whatever its pace.

Law of this module: a time that is measured from a step holds only if what a person does in between comes early enough.
The last such step is done ever later on good boards, until one of them leaves the limits. Where it is what the time
counts from, that is said instead; where no hand at the pace of the sheet is early enough, the time is left to a rig.
"""

from __future__ import annotations

from collections.abc import Sequence

from attrs import evolve, field, frozen

from boardgauge.language.model import Board
from boardgauge.language.quantities import MS, S
from boardgauge.machine.settle import Engine
from boardgauge.plans.carrying import Carried
from boardgauge.plans.emitting import TRIED, good_boards
from boardgauge.plans.pace import not_done, rig_only
from boardgauge.plans.plan import Measure, Set, Sitting, Wait

_FEW = 3
"""So many good boards (of ``TRIED``: nominal, earliest, latest) are as early and as late as any."""
_TENTH = 100 * MS
_PARTS = 16
"""Of the longest time, as finely as a deadline is looked for."""
_A_HAND = S
"""No hand carries out steps with less than this to lose."""


@frozen
class Deadline:
    """The step ``number`` has to come ``within`` (microseconds) of the step ``since``."""

    number: int
    since: int
    within: int


@frozen
class Timed:
    """A sitting with its times as a hand can take them; ``untimed`` are the steps whose time no hand can take."""

    sitting: Sitting
    deadlines: tuple[Deadline, ...] = ()
    untimed: frozenset[int] = field(default=frozenset())


def timed_by_hand(sitting: Sitting, board: Board, engine: Engine) -> Timed:
    """See to the times of a sitting that hang on the pace of a hand."""
    # A timing counts from the board's own answer to a step, and its end shows when an output has moved.
    slack = max((row.responds_within for row in board.inputs.values()), default=0)
    slack += max((row.lag for row in board.outputs.values()), default=0)
    made = Timed(sitting)
    measures = [n for n, step in enumerate(sitting.steps) if isinstance(step, Measure) and not rig_only(sitting, n)]
    if not measures:
        return made
    at_pace = good_boards(_left_to_a_rig(sitting), engine, TRIED[:_FEW])
    for number in measures:
        made = _seen_to(made, number, engine, at_pace, slack)
    return made


def _seen_to(made: Timed, number: int, engine: Engine, at_pace: list[Carried], slack: int) -> Timed:
    sitting, step = made.sitting, made.sitting.steps[number]
    assert isinstance(step, Measure)
    places = {row.id: place for place, row in enumerate(sitting.steps) if row.id}
    since, until = places[step.since], places[step.until]
    between = range(until - 1, since, -1)
    last = next((n for n in between if isinstance(sitting.steps[n], Set) and not rig_only(sitting, n)), until)
    # Of a short time no more than half is taken for the board's answer: what shows at once is not that time.
    low = max(step.shortest - slack, step.shortest // 2)
    trial = _Trial(sitting, engine, low, step.longest + slack, since, last, until)
    shown = trial.times(at_pace, since)
    answers = [] if last == until else trial.times(trial.rows(2 * step.longest), last)
    if answers and evolve(trial, shortest=step.shortest).inside(answers):
        since, shown = last, answers
    elif not trial.inside(shown):
        return evolve(made, untimed=made.untimed | {number})
    came = [time for time in shown if time is not None]
    low, high = min(step.shortest, *came), max(step.longest, *came)
    counted = evolve(made, sitting=_measured(sitting, number, since, low, high))
    if last in (since, until):
        return counted
    pace = min(row.times[last].ended - row.times[since].ended for row in at_pace)
    slowest = max((time for time in answers if time is not None), default=0)
    later = evolve(trial, shortest=low, longest=high).latest(high - slowest - pace)
    if later < _A_HAND:
        return evolve(made, untimed=made.untimed | {number})
    return evolve(counted, deadlines=(*made.deadlines, Deadline(last, since, (pace + later) // _TENTH * _TENTH)))


@frozen
class _Trial:
    """A time of a sitting, tried with the last thing that a hand does before it is over done ever later."""

    sitting: Sitting
    engine: Engine
    shortest: int
    longest: int
    since: int
    last: int
    until: int

    def rows(self, by: int) -> list[Carried]:
        """Carry the sitting out as far as needed, the last thing done later."""
        return _delayed(self.sitting, self.engine, self.last, self.until, by)

    def times(self, rows: Sequence[Carried], since: int) -> list[int | None]:
        """Give the time from a step on that each good board shows; None where what is waited for does not come."""
        return [
            row.times[self.until].ended - row.times[since].ended if row.times[self.until].came else None for row in rows
        ]

    def inside(self, times: Sequence[int | None]) -> bool:
        """Tell whether every board stays inside the limits."""
        return bool(times) and all(time is not None and self.shortest <= time <= self.longest for time in times)

    def latest(self, likely: int) -> int:
        """Give how much later the last thing may be done; ``likely`` leaves a board just the time to answer it."""
        inside, outside = 0, self.longest
        tried = likely
        while outside - inside > max(_TENTH, self.longest // _PARTS):
            tried = tried if inside < tried < outside else (inside + outside) // 2
            if not self.inside(self.times(self.rows(tried), self.since)):
                outside = tried
            elif tried == likely:
                return tried
            else:
                inside = tried
        return inside


def _left_to_a_rig(sitting: Sitting) -> Sitting:
    """Give a sitting without what no hand can do."""
    steps = (not_done(step) if rig_only(sitting, n) else step for n, step in enumerate(sitting.steps))
    return evolve(sitting, steps=tuple(steps))


def _delayed(sitting: Sitting, engine: Engine, last: int, until: int, by: int) -> list[Carried]:
    """Carry a sitting out as far as a step, another done later; steps keep their numbers."""
    steps = _left_to_a_rig(sitting).steps[: until + 1]
    rows = good_boards(evolve(sitting, steps=(*steps[:last], Wait(by), *steps[last:])), engine, TRIED[:_FEW])
    return [evolve(row, times=row.times[:last] + row.times[last + 1 :]) for row in rows]


def _measured(sitting: Sitting, number: int, since: int, shortest: int, longest: int) -> Sitting:
    """Give a sitting with a time counted from a step, between limits."""
    steps, start, measure = list(sitting.steps), sitting.steps[since], sitting.steps[number]
    assert isinstance(measure, Measure)
    id_ = start.id or f"step_{since + 1}"
    steps[since] = evolve(start, id=id_)
    steps[number] = evolve(measure, since=id_, shortest=shortest, longest=longest)
    return evolve(sitting, steps=tuple(steps))
