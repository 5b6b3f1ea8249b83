"""Grow a sitting: from where the boards stand, the way that shows most for its time, again and again.

Law of this module: every way is looked for from the present state, cheapest first, and valued by the faults that part
on it, and by what else of the machine it shows, for each second of the bench. Nothing is planned that would break a
requirement on a good board.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import count

from attrs import define, evolve, field

from boardgauge.language.model import InputKind
from boardgauge.language.quantities import MS, S
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import Value
from boardgauge.plans.aiming import Way, ahead_of, toward_fault, toward_goal
from boardgauge.plans.goals import Goals
from boardgauge.plans.guiding import Guide
from boardgauge.plans.hand import MARGIN, Deed, Hand, reading_time, up_to_tenth
from boardgauge.plans.joint import Done, Joint, Together
from boardgauge.plans.unshown import Unshown

_OF_A_KIND = 2
_GOAL = 0.5
"""What another goal of the machine is worth against a fault."""
_GOALS_AT_ONCE = 4.0
_STEPS_EACH = 8
"""Where many faults are left one decision may take so many steps for each of them."""


@define(eq=False)
class Grown:
    """A sitting as it grows: ``start`` stands at the inputs before the supply, ``deeds`` with what came of each."""

    positions: dict[str, str]
    start: dict[str, Value]
    deeds: list[Deed] = field(factory=list)
    done: list[Done] = field(factory=list)
    parted: dict[str, int] = field(factory=dict)
    """The faults that parted, each with the number of the deed in which it did."""

    @property
    def time(self) -> int:
        """How long a board at nominal times takes for it."""
        return sum(deed.time for deed in self.deeds)


@define(eq=False)
class Grower:
    """Grows sittings. ``effort`` is how many deeds one decision may try; ``allowed`` may forbid values of the inputs.

    ``links`` are inputs that stay as they are (the speed-up link where it is fitted throughout).
    """

    together: Together
    hand: Hand
    goals: Goals
    allowed: Callable[[Mapping[str, Value]], bool]
    effort: int = 5_000
    links: Mapping[str, Value] = field(factory=dict)
    told: Callable[[Grown], None] = lambda grown: None
    given_up: set[str] = field(factory=set)
    no_room: bool = False
    deeper: int = 1
    """So many times harder a way is looked for where only one fault is looked at."""
    guides: Callable[[Sequence[str]], Mapping[str, Guide]] | None = None
    """Gives what says where faults show, of as many as there is time for; without it no single one is aimed at."""

    unshown: Unshown | None = None
    """Tells how far it is to what the machine has not shown yet."""
    _no_goal: bool = False
    """No way was found to any."""

    def begin(self, positions: dict[str, str], values: Mapping[str, Value], ids: Iterable[str]) -> Grown:
        """Begin a sitting: the inputs at values, links as they stay, the supply on."""
        start = {**values, **self.links}
        grown = Grown(positions, start)
        deed = Deed(settle=self.hand.switched_on())
        joint = self.together.begin(start, ids)
        self._take(grown, [deed], [self.together.do(joint, deed, first=True)])
        return grown

    def grow(self, grown: Grown, most: int, enough: Callable[[], bool]) -> None:
        """Let a sitting grow until nothing more is found, it would last longer than ``most``, or it is ``enough``."""
        while not enough():
            joint = grown.done[-1].joint
            node = self._best(joint, self.effort // 3) or self._nearest_goal(joint) or self._toward_goal(joint)
            node = node or self._toward_one(joint, enough)
            if node is None:
                return
            if grown.time + node.time > most:
                self.no_room = True
                return
            self._take(grown, node.deeds, self._done(joint, node.deeds))
            self.told(grown)

    def _take(self, grown: Grown, deeds: Sequence[Deed], done: Sequence[Done]) -> None:
        for number, row in enumerate(done, start=len(grown.deeds)):
            grown.parted.update((id_, number) for id_ in sorted(row.parted) if id_ not in grown.parted)
        grown.deeds += deeds
        parted = {id_ for row in done for id_ in row.parted}
        for row in done:
            self.goals.take(row.instants)
        joint = done[-1].joint
        left = {id_: row for id_, row in joint.faulty.items() if id_ not in parted}
        grown.done += [*done[:-1], evolve(done[-1], joint=evolve(joint, faulty=left))]

    def _done(self, joint: Joint, deeds: Sequence[Deed]) -> list[Done]:
        """Do deeds with all that are left, whatever the way was looked for with."""
        found = []
        for deed in deeds:
            found.append(self.together.do(joint, deed))
            joint = found[-1].joint
        return found

    # -- looking for the best way ------------------------------------------------------------------------------------

    def _nearest_goal(self, joint: Joint) -> Way | None:
        """Look for what else the machine can show, without looking at faults, which costs little."""
        if not self.goals.left():
            return None
        alone = evolve(joint, faulty={})
        return self._best(alone, self.effort // 3) or self._best(alone, self.effort)

    def _toward_goal(self, joint: Joint) -> Way | None:
        """Look further for what else the machine can show, where the map says it is nearest."""
        if self.unshown is None or self._no_goal or not self.goals.left():
            return None
        found = toward_goal(self, joint, self.unshown)
        self._no_goal = found is None
        return found

    def _toward_one(self, joint: Joint, enough: Callable[[], bool]) -> Way | None:
        """Aim at one fault, the one that seems the nearest first."""
        if self.guides is None:
            return None
        left = [id_ for id_ in joint.faulty if id_ not in self.given_up]
        guides = self.guides(left)
        near = [(ahead, id_) for id_ in guides if (ahead := ahead_of(guides[id_], joint, id_)) is not None]
        for _, id_ in sorted(near):
            if enough():
                break
            found = toward_fault(self, evolve(joint, faulty={id_: joint.faulty[id_]}), id_, guides[id_])
            if found is not None:
                return found
            self.given_up.add(id_)
        return None

    def _best(self, joint: Joint, effort: int) -> Way | None:
        order = count()
        heap: list[tuple[int, int, Way]] = [(0, next(order), Way(joint))]
        budget = self.together.steps + max(effort, _STEPS_EACH * len(joint.faulty))
        tried = 0
        kinds: dict[object, int] = {}
        best: Way | None = None
        best_score = 0.0
        most = len(joint.faulty) + _GOALS_AT_ONCE
        while heap and self.together.steps < budget and tried < effort:
            time, _, node = heapq.heappop(heap)
            if best is not None and time and most / time <= best_score:
                break
            if not self._new(kinds, node):
                continue
            deeds = list(self.deeds(node.joint))
            tried += len(deeds)
            for after in self.onward(node, deeds):
                score = (len(after.parted) + _GOAL * self.goals.new(after.instants)) / after.time
                if score > best_score:
                    best, best_score = after, score
                heapq.heappush(heap, (after.time, next(order), after))
        return best

    def onward(self, way: Way, deeds: Iterable[Deed]) -> Iterator[Way]:
        """Give a way with each of some deeds done after it, but for those after which no good board comes to rest."""
        for deed in deeds:
            try:
                done = self.together.do(way.joint, deed)
            except CannotSettle:
                continue
            yield way.after(deed, done)

    def _new(self, kinds: dict[object, int], node: Way) -> bool:
        joint = node.joint
        faulty = tuple(row.standing.config for row in joint.faulty.values()) if len(joint.faulty) <= 40 else ()
        key = (joint.good.config, tuple(joint.values.values()), faulty)
        kinds[key] = kinds.get(key, 0) + 1
        return kinds[key] <= _OF_A_KIND

    def deeds(self, joint: Joint) -> Iterator[Deed]:
        """Give what can be done next."""
        hand, good = self.hand, self.together.good
        end = good.stepper.next_end(joint.good)
        if end is not None:
            yield Deed(settle=self.gap, wait=end + self._slack(joint, end))
            if end > 20 * S:
                yield Deed(wait=up_to_tenth(end // 2))
        looks = [reading_time(lamp, *(line.shows for line in lamp.lines)) for lamp in hand.board.lamps.values()]
        yield Deed(wait=up_to_tenth(max([2 * S, *looks])))
        for deed in hand.sets(joint.values):
            if self._may(joint, deed.values):
                yield deed
        settle = hand.switched_on()
        yield Deed(cycle=True, settle=settle)
        rest = {name: value for name, value in self._at_rest().items() if joint.values[name] != value}
        if rest and self.allowed({**joint.values, **rest}):
            yield Deed(rest, cycle=True, settle=settle)
        for name in sorted(hand.at_power_up):
            values = {**rest, name: not joint.values[name]}
            if self._may(joint, {name: values[name]}) and self.allowed({**joint.values, **values}):
                yield Deed(values, cycle=True, settle=settle)
        for id_ in joint.faulty:
            fault = self.together.faults[id_]
            if fault.group == "input not filtered":
                for pulse in hand.pulses(fault.of, joint.values):
                    if self._may(joint, pulse.values):
                        yield pulse

    def _at_rest(self) -> dict[str, Value]:
        rows = self.hand.board.inputs.values()
        return {row.id: row.rests_on for row in rows if row.kind not in {InputKind.SENSOR, InputKind.LINK}}

    def _may(self, joint: Joint, values: Mapping[str, Value]) -> bool:
        if any(name in self.links for name in values):
            return False
        return self.allowed({**joint.values, **values})

    @property
    def gap(self) -> int:
        """How long a board is left after something was over by itself."""
        lags = [row.lag for row in self.hand.board.outputs.values()]
        return up_to_tenth(max([0, *lags]) + MARGIN)

    def _slack(self, joint: Joint, end: int) -> int:
        """Give how much longer than at nominal times the timing that ends next may take."""
        good = self.together.good
        most = 0
        config = joint.good.config
        for row in good.stepper.ending(joint.good, end):
            timing = good.engine.machine.timings[row.timing]
            rate = good.stepper.rate(config, row.timing)
            duration = timing.choices[good.engine.settings.choice(config.chosen, row.timing)]
            tolerance = duration.tolerance
            if tolerance is not None:
                most = max(most, tolerance.more + int((duration.percent_longest - duration.nominal) / rate))
        return up_to_tenth(most + 50 * MS) if most else 0
