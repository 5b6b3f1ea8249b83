"""Plan what to do at the bench: grow sittings until every fault that can be told is found, and prove it.

Law of this module: growing guesses, the judge decides. A fault counts as found only where the judge said *deviates* of
the plan's own recording with that faulty board, at nominal, earliest, latest and random lengths alike. Nothing here
reads a clock: whoever calls says when it is ``enough``, and the plan then says how far it came.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import closing

from attrs import define, field

from boardgauge.faults import Fault
from boardgauge.language.quantities import H
from boardgauge.machine.run import Value
from boardgauge.machine.terminals import TooShort
from boardgauge.pairing.stepping import Length
from boardgauge.plans.beginnings import Beginnings
from boardgauge.plans.emitting import BEFORE, sitting_of, with_windows
from boardgauge.plans.finishing import finish
from boardgauge.plans.forbidding import Forbidding
from boardgauge.plans.goals import Goals, Sight
from boardgauge.plans.growing import Grower, Grown
from boardgauge.plans.guiding import Guide
from boardgauge.plans.hand import Hand
from boardgauge.plans.killing import Killing, Lengths
from boardgauge.plans.seated import Seated
from boardgauge.plans.sides import Sides
from boardgauge.plans.tasks import Judging, Looking, Proving, Workshop
from boardgauge.plans.unshown import Unshown
from boardgauge.plans.untold import Untold
from boardgauge.plans.wish import Wish
from boardgauge.plans.workers import Workers

Told = Callable[[str], None]
NO_END = 1_000 * H
NOMINAL = Lengths("nominal")
_DEEPER = (3, 8)
_AROUND = 3 * BEFORE
"""The supply is off before a sitting, after it, and after links were taken off."""


@define(eq=False)
class Planner:
    """Makes one plan, the same on however many cores (``jobs``). ``enough`` is asked again and again whether to stop;
    ``told`` hears how it goes. ``work`` is to be left when all is done."""

    wish: Wish
    enough: Callable[[], bool] = lambda: False
    told: Told = lambda words: None
    jobs: int = 1
    seated: list[Seated] = field(factory=list)
    stopped: bool = False
    full: bool = False
    """No room was left within ``at_most``."""
    judged: int = 0
    """So many recordings were judged."""
    restless: set[str] = field(factory=set)
    """Faults with which a board did not come to rest: nobody knows what such a board does then."""
    work: Workers = field(init=False)
    killing: Killing = field(init=False)
    goals: Goals = field(init=False)
    hand: Hand = field(init=False)
    forbidding: Forbidding = field(init=False)
    sides: Sides = field(init=False)
    beginnings: Beginnings = field(init=False)
    unshown: Unshown = field(init=False)
    untold: dict[str, Untold] = field(factory=dict)
    partly: set[str] = field(factory=set)
    """Faults that are found at some of the lengths, and not at all of them."""
    _number: int = 1

    def __attrs_post_init__(self) -> None:
        wish = self.wish
        workshop = Workshop(wish)
        self.work = Workers(workshop, self.jobs)
        self.killing, self.hand, self.sides = workshop.killing, workshop.hand, workshop.sides
        self.forbidding = Forbidding(self.hand.machine, wish.never)
        self.beginnings = Beginnings(self.sides.good, self.hand, self.forbidding)
        self.told("exploring the machine")
        self.goals = Goals(self.sides.good.engine, explored=self.sides.explored)
        self.unshown = Unshown(self.sides.terrain, self.goals)

    @property
    def faults(self) -> Mapping[str, Fault]:
        """The faults to be found, by their ids."""
        return self.sides.faults

    # -- rounds ------------------------------------------------------------------------------------------------------

    def grow(self) -> None:
        """Grow sittings until no more faults are found."""
        wanted = set(self.faults)
        for links in self.beginnings.links():
            self.round(self.beginnings.quickest(), links, wanted - self.shown(), 1)
        # Where no way to a difference is known a proof is likely; elsewhere it comes after looking somewhat harder.
        guides = self._guides(sorted(wanted - self.shown()))
        asked = {id_ for id_, guide in guides.items() if not guide.tells}
        self._prove(asked, closely=False)
        self.round({}, {}, wanted - self.shown() - self.untold.keys(), _DEEPER[0])
        self._prove(wanted - self.shown() - asked, closely=False)
        for deeper in _DEEPER:
            before = len(self.shown())
            for positions in self.beginnings.positions():
                self.round(positions, {}, wanted - self.shown() - self.untold.keys(), deeper)
            if len(self.shown()) == before:
                break
        self.round({}, {}, wanted - self.shown() - self.untold.keys(), _DEEPER[-1])
        self._impatiently(wanted - self.shown() - self.untold.keys())
        self._prove(wanted - self.shown() - self.untold.keys(), closely=True)

    def _impatiently(self, ids: set[str]) -> None:
        """Have the judge asked of any difference, however short: a pulse of a few milliseconds may tell a fault too."""
        for positions in self.beginnings.positions():
            left = ids - self.shown()
            if not left:
                return
            self.sides.patience.update(dict.fromkeys(left, 0))
            self.round(positions, {}, left, 1)

    def finish(self) -> None:
        """Cut the sittings short, have everything judged at all lengths, and look again for what got lost."""
        finish(self)

    def _prove(self, ids: Iterable[str], *, closely: bool) -> None:
        """Set aside what is proved to make no difference, or none that is wired."""
        asked = sorted(ids)
        with closing(self.work.answers([Proving(id_, closely) for id_ in asked])) as answers:
            for number, id_ in enumerate(asked):
                if self.over_time():
                    return
                self.told(f"proving what makes no difference, {number} of {len(asked)} faults")
                why: Untold | None = next(answers)
                if why is not None:
                    self.untold[id_] = why

    def _guides(self, ids: Sequence[str]) -> Mapping[str, Guide]:
        """Give guides to faults, to as many as there was time to look for."""
        guides = {id_: self.sides.guide(id_) for id_ in ids}
        asked = [id_ for id_, guide in guides.items() if guide.seen is None]
        with closing(self.work.answers([Looking(id_) for id_ in asked])) as answers:
            for number, id_ in enumerate(asked):
                if self.over_time():
                    break
                self.told(f"looking where faults show, {number} of {len(asked)}")
                guides[id_].seen = next(answers)
        return {id_: guide for id_, guide in guides.items() if guide.seen is not None}

    def over_time(self) -> bool:
        """Tell whether it is enough."""
        self.stopped = self.stopped or self.enough()
        return self.stopped

    def over(self) -> bool:
        """Tell whether it is enough, or no room is left."""
        return self.over_time() or self.full

    def round(
        self,
        positions: dict[str, str],
        links: Mapping[str, Value],
        ids: set[str],
        deeper: int,
        length: Length = "nominal",
    ) -> None:
        """Grow one sitting for faults, with boards of which times have one ``length``; carry the faulty boards through
        it, and keep it if it finds anything."""
        room = self._room()
        if self.over() or not (ids or self.goals.left()) or room <= 0:
            self.full = self.full or room <= 0
            return
        together = self.sides.together(ids, positions, length)
        seen = set(self.goals.seen)

        def told(grown: Grown) -> None:
            left = len(grown.done[-1].joint.faulty)
            self.told(f"sitting {self._number}: {grown.time / 60e6:.1f} min of bench, {left} faults to part")

        grower = Grower(
            *(together, self.hand, self.goals, self.forbidding.allows, self.wish.effort, links, told),
            deeper=deeper,
            guides=self._guides,
            unshown=self.unshown,
        )
        grown = grower.begin(positions, self.beginnings.values(), together.sides)
        grower.grow(grown, room, self.enough)
        self.full = self.full or grower.no_room
        if len(grown.deeds) > 1 and (grown.parted or self.goals.seen - seen):
            self.seat(grown, self.goals.seen - seen, at=Lengths(length))

    def _room(self) -> int:
        """Give how long another sitting may grow: each takes some time before the supply comes on, and after it."""
        if self.wish.at_most is None:
            return NO_END
        return self.wish.at_most - self.time() - _AROUND * (len(self.seated) + 1)

    # -- what is found -----------------------------------------------------------------------------------------------

    def as_steps(self, id_: str, grown: Grown, sights: set[Sight]) -> Seated:
        """Give a grown sitting as steps, nothing found by it yet. Raises TooShort."""
        rough, upto = sitting_of(id_, grown, self.sides.good)
        sitting = with_windows(rough, self.wish.board, self.killing.engine, self.wish.wired)
        return Seated(grown, sitting, upto, sights)

    def seat(self, grown: Grown, sights: set[Sight], at: Lengths = NOMINAL) -> None:
        """Make a sitting of what grew, and keep it if it finds a fault ``at`` a length, or is the first to show
        ``sights``."""
        try:
            seated = self.as_steps(str(self._number), grown, sights)
        except TooShort:
            # It waits for what a board at other lengths does as an input is just on its way: nobody could do the step
            # after it. The faults are looked for again, with longer looks.
            for id_ in grown.parted:
                self.sides.patience[id_] = self.sides.patience.get(id_, 1) * 3
            return
        self._number += 1
        self.check(seated, list(grown.parted), [at])
        for id_ in grown.parted:
            if id_ not in seated.finds:
                # It has to differ for longer.
                self.sides.patience[id_] = self.sides.patience.get(id_, 1) * 3
        if seated.finds or sights:
            self.seated.append(seated)

    def check(self, seated: Seated, ids: Sequence[str], lengths: Sequence[Lengths], *, settling: bool = False) -> None:
        """Ask the judge of faults in a sitting: of as much of it as it takes, and at last of all of it.

        ``settling``: only at lengths at which no other sitting that is settled finds the fault.
        """
        tasks = []
        for id_ in ids:
            lengths_left = [row for row in lengths if not settling or row not in self.settled_at(id_)]
            if lengths_left:
                tasks.append(Judging(id_, seated.sitting, seated.part(id_), tuple(lengths_left)))
        with closing(self.work.answers(tasks)) as answers:
            for number, task in enumerate(tasks):
                if number % 20 == 0:
                    self.told(f"sitting {seated.sitting.id}: judging faulty boards, {number} of {len(tasks)}")
                judged = next(answers)
                self.judged += judged.judged
                if not judged.rests:
                    self.restless.add(task.fault)
                if judged.at:
                    seated.finds.setdefault(task.fault, set()).update(judged.at)

    def settled_at(self, id_: str) -> set[Lengths]:
        """Give the lengths at which sittings judged whole find a fault."""
        return {row for seated in self.seated if seated.settled for row in seated.finds.get(id_, ())}

    def found_at(self, id_: str) -> set[Lengths]:
        """Give the lengths at which a fault is found by the sittings together."""
        return {row for seated in self.seated for row in seated.finds.get(id_, ())}

    def shown(self) -> set[str]:
        """Give the faults that are found at nominal lengths."""
        nominal = self.wish.lengths[0]
        return {id_ for row in self.seated for id_, at in row.finds.items() if nominal in at}

    def found(self) -> set[str]:
        """Give the faults that sittings judged whole find at all lengths."""
        every = set(self.wish.lengths)
        return {id_ for id_ in self.faults if self.settled_at(id_) >= every}

    def time(self) -> int:
        """How long the sittings take a board at nominal times."""
        return sum(seated.grown.time for seated in self.seated)
