"""Grow a sitting: from where the boards stand, the way that shows most for its time, again and again.

Law of this module: every way is looked for from the present state, cheapest first, and valued by the faults that part
on it, and by what else of the machine it shows, for each second of the bench. Nothing is planned that would break a
requirement on a good board.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import count, islice

from attrs import define, evolve, field

from boardgauge.language.model import InputKind
from boardgauge.language.quantities import MIN, H, S
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import Value
from boardgauge.plans.aiming import Way, ahead_of, toward_fault, toward_goal
from boardgauge.plans.goals import Goals
from boardgauge.plans.guiding import Guide
from boardgauge.plans.hand import MARGIN, Deed, Hand, reading_time, up_to_tenth
from boardgauge.plans.joint import Done, Joint, Together
from boardgauge.plans.side import Instant, slack_of
from boardgauge.plans.unshown import Unshown

_OF_A_KIND = 2
_GOAL = 0.5
"""What another goal of the machine is worth against a fault."""
_GOALS_AT_ONCE = 4.0
_NEAR = (10 * MIN, 90 * MIN, 1_000_000 * H)
"""How long a way may take while any is left that takes no longer: in turn, the last of them as long as it will."""
_ROOM = 2
"""So many times longer than it seemed from afar may it take to get to what is aimed at."""
_SEVERAL = 4
"""So many ways that take long are compared."""
_LOOKED_FOR = 8
"""Of so many faults it is looked up at a time where they show."""
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
    given_up: set[tuple[str, int]] = field(factory=set)
    """Faults to which no way was found that takes no longer than one of ``_NEAR``."""
    no_room: bool = False
    deeper: int = 1
    """So many times harder a way is looked for where only one fault is looked at."""
    guides: Callable[[Sequence[str]], Mapping[str, Guide]] | None = None
    """Gives what says where faults show, of as many as there is time for; without it no single one is aimed at."""

    unshown: Unshown | None = None
    """Tells how far it is to what the machine has not shown yet."""
    _no_goal: set[int] = field(factory=set)
    """No way was found to any that takes no longer than these."""

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
            node = self._next(joint, enough)
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

    def _next(self, joint: Joint, enough: Callable[[], bool]) -> Way | None:
        """Give the way to go on: what lasts long only where nothing shorter is left, for much of it shows meanwhile."""
        looks: tuple[Callable[[], Mapping[int, Way]], ...] = (
            lambda: self._best(joint, self.effort // 3),
            lambda: self._nearest_goal(joint, self.effort // 3),
            lambda: self._nearest_goal(joint, self.effort),
        )
        known: dict[int, Mapping[int, Way]] = {}

        def ways(near: int) -> Iterator[Way]:
            for number, look in enumerate(looks):
                if number not in known:
                    known[number] = look()
                if near in known[number]:
                    yield known[number][near]
                    break
            yield from self._toward_goal(joint, near)
            yield from self._toward_one(joint, near, enough)

        for near in _NEAR:
            # Where each takes long it is worth while to see on which most shows.
            found = list(islice(ways(near), _SEVERAL if near > _NEAR[0] else 1))
            if found:
                return found[0] if len(found) == 1 else max(found, key=lambda way: self._worth(joint, way))
        return None

    def _worth(self, joint: Joint, way: Way) -> float:
        """Give what a way shows for its time, of everything that is left."""
        done = self._done(joint, way.deeds)
        parted = {id_ for row in done for id_ in row.parted}
        return self._score(len(parted), [instant for row in done for instant in row.instants], way.time)

    def _score(self, parted: int, instants: Iterable[Instant], time: int) -> float:
        return (parted + _GOAL * self.goals.new(instants)) / time

    def _nearest_goal(self, joint: Joint, effort: int) -> Mapping[int, Way]:
        """Look for what else the machine can show, without looking at faults, which costs little."""
        return self._best(evolve(joint, faulty={}), effort) if self.goals.left() else {}

    def _toward_goal(self, joint: Joint, near: int) -> Iterator[Way]:
        """Look further for what else the machine can show, where the map says it is nearest."""
        if self.unshown is None or near in self._no_goal or not self.goals.left():
            return
        ahead = self.unshown.ahead(joint.good, sped_up=bool(self.links))
        if ahead is not None and ahead > near:
            return
        found = toward_goal(self, joint, self.unshown, _ROOM * near)
        if found is None:
            self._no_goal.add(near)
        else:
            yield found

    def _toward_one(self, joint: Joint, near: int, enough: Callable[[], bool]) -> Iterator[Way]:
        """Aim at one fault after the other, of some the one that seems the nearest first."""
        if self.guides is None:
            return
        left = [id_ for id_ in joint.faulty if (id_, near) not in self.given_up]
        # A way that tells one of them tells more: those were not to be looked for.
        for some in (left[start : start + _LOOKED_FOR] for start in range(0, len(left), _LOOKED_FOR)):
            guides = self.guides(some)
            ahead = {id_: ahead_of(guide, joint, id_) for id_, guide in guides.items()}
            for _, id_ in sorted((time, id_) for id_, time in ahead.items() if time is not None and time <= near):
                if enough():
                    return
                alone = evolve(joint, faulty={id_: joint.faulty[id_]})
                found = toward_fault(self, alone, id_, guides[id_], _ROOM * near)
                if found is None:
                    self.given_up.add((id_, near))
                else:
                    self._no_goal.clear()
                    yield found

    def _best(self, joint: Joint, effort: int) -> Mapping[int, Way]:
        """Give, of the ways that last no longer than each of ``_NEAR``, the one that shows most for its time."""
        order = count()
        heap: list[tuple[int, int, Way]] = [(0, next(order), Way(joint))]
        budget = self.together.steps + max(effort, _STEPS_EACH * len(joint.faulty))
        tried = 0
        kinds: dict[object, int] = {}
        best: dict[int, Way] = {}
        scores = dict.fromkeys(_NEAR, 0.0)
        most = len(joint.faulty) + _GOALS_AT_ONCE
        while heap and self.together.steps < budget and tried < effort:
            time, _, node = heapq.heappop(heap)
            if time and most / time <= min(scores.values()):
                break
            if not self._new(kinds, node):
                continue
            deeds = list(self.deeds(node.joint))
            tried += len(deeds)
            for after in self.onward(node, deeds):
                score = self._score(len(after.parted), after.instants, after.time)
                for near in _NEAR:
                    if after.time <= near and score > scores[near]:
                        best[near], scores[near] = after, score
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
            yield Deed(settle=self.gap, wait=end + slack_of(good, joint.good, end))
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
                    if self._may(joint, pulse.values) and self._comes_back(joint, pulse.values):
                        yield pulse

    def _comes_back(self, joint: Joint, there: Mapping[str, Value]) -> bool:
        """Tell whether inputs that go there and back again leave nothing behind, with limits apart."""
        good, values = self.together.good, joint.values
        now = good.levels(joint.good.config.levels, values)
        return good.back_from(joint.good, {**values, **there}, values) == now

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
