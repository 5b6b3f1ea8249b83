"""How far a good board and a faulty one are from showing differently, for a hand at the bench.

Law of this module: a hint and no more. Both boards are taken through everything side by side with no length followed;
from every pair of states the least time to one that shows differently is estimated. Lengths and filters may rule out
the way that the estimate went by, so what it says only orders what is tried. Where nothing that shows ever differs,
that is a reason to ask for a proof, and none itself.
"""

from __future__ import annotations

from collections.abc import Sequence

from attrs import define, field

from boardgauge.machine.config import Config
from boardgauge.machine.explore import Step
from boardgauge.machine.input_ways import Ways
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.quick import QuickEngine
from boardgauge.pairing.pair import Pair
from boardgauge.pairing.stepping import Standing
from boardgauge.plans.acting import Acting
from boardgauge.plans.hand import Hand
from boardgauge.plans.looking import Looking
from boardgauge.plans.seen import Plain, Seen
from boardgauge.plans.terrain import Alike, Terrain, alike, stepped

MOST_PAIRS = 2_000
MOST_WITHOUT_MAP = 1_500


@define(eq=False)
class Guide:
    """Guides to where a faulty board shows differently from the good one at the outputs and lamps ``wired``.

    ``own`` names what is faulty: timings that hang on it may be over at different moments though both run. ``pulse``
    names an input of which the faulty board takes in what is over too soon for the good one. With the map of the good
    board, its ``terrain``, it has less to look through.
    """

    good: QuickEngine
    faulty: QuickEngine
    hand: Hand
    wired: frozenset[str]
    own: str
    pulse: str | None = None
    most: int = MOST_PAIRS
    terrain: Terrain | None = None
    acting: Acting | None = None
    """In which steps of the map the fault acts, where that can be told without working them out."""
    seen: Seen | None = None
    """What was seen by another process; None until this one has looked itself."""
    pair: Pair = field(init=False)
    plain: tuple[Plain, Plain] = field(init=False)
    ways: Ways = field(init=False)
    alike: Alike | None = field(init=False)
    _parts: dict[tuple[int, Step], tuple[bool, int | None]] = field(factory=dict)
    """Whether boards no longer stand alike where a step leads from a place, and how far it is from there."""

    def __attrs_post_init__(self) -> None:
        pair = self.pair = Pair(self.good, self.faulty)
        pair.outputs = tuple(name for name in pair.outputs if name in self.wired)
        pair.lamps = tuple(name for name in pair.lamps if name in self.wired)
        self.ways = pair.ways()
        watched = {index for indices, _ in self.ways for index in indices}
        read = tuple(index in watched for index in range(len(pair.levels)))
        parts = pair.parts(read)
        self.plain = (Plain(self.good, parts[0]), Plain(self.faulty, parts[1]))
        self.alike = alike(self.good.machine, self.faulty.machine)
        if self.terrain is None or self.terrain.read != parts[0]:
            # The faulty board goes by more than the good one does.
            self.alike = None
        if self.terrain is not None and self.alike is None:
            # Without the map all that both can be in has to be gone through, which takes far longer.
            self.most = min(self.most, MOST_WITHOUT_MAP)

    def look(self) -> Seen:
        """Look through the pairs of states, once."""
        if self.seen is None:
            self.seen = Looking(self).look()
        return self.seen

    @property
    def tells(self) -> bool:
        """Tell whether anything that shows differs anywhere."""
        return self.look().tells

    def from_here(self, good: Standing, faulty: Standing) -> int | None:
        """Give the same for boards that stand so: where they are alike but for what is left of something, its end on
        either of them may be what shows."""
        acted = self.acting is not None and good.left != faulty.left
        time = self.ahead(good.config, faulty.config, acted=acted)
        if not time or self.terrain is None:
            return time
        place = self.terrain.number.get(self.plain[0].of(good.config))
        seen = self.look()
        row = seen.acted if acted else seen.alike
        if place is None or place >= len(row) or row[place] != time:
            return time
        return self.terrain.sooner(place, good, time, lambda step, target: self._after(place, step, target, row))

    def _after(self, place: int, step: Step, target: int, times: Sequence[int]) -> int | None:
        """Give how long it takes from where a step leads that both take from a place in which they stand alike."""
        key = (place, step)
        if key not in self._parts:
            self._parts[key] = self._parting(place, step, target)
        apart, time = self._parts[key]
        if apart and (time is not None or self.look().complete):
            return time
        return times[target] if times[target] >= 0 else None

    def _parting(self, place: int, step: Step, target: int) -> tuple[bool, int | None]:
        """Tell whether a step leaves both standing otherwise, and how far it is from there."""
        assert self.terrain is not None
        assert self.alike is not None
        its, there = self.alike(self.terrain.places[place]), self.terrain.places[target]
        try:
            after = None if its is None else self.plain[1].of(stepped(self.faulty, self.plain[1].of(its), step))
        except CannotSettle:
            after = None
        if after is None:
            return False, None
        if self.pair.differ(there, after):
            # A stuck output, say: it shows, though both stand alike.
            return True, 0
        alike = self.alike(there)
        if alike is not None and self.plain[1].of(alike) == after:
            return False, None
        return True, self.look().ahead.get((there, after))

    def ahead(self, good: Config, faulty: Config, *, acted: bool = False) -> int | None:
        """Give about how long it takes from here until they show differently; None where no way was found."""
        seen = self.look()
        both = (self.plain[0].of(good), self.plain[1].of(faulty))
        found = seen.ahead.get(both)
        if found is not None:
            return found
        if self.pair.differ(*both):
            return 0
        if self.alike is not None and self.terrain is not None:
            its = self.alike(both[0])
            place = self.terrain.number.get(both[0])
            if its is not None and place is not None and self.plain[1].of(its) == both[1]:
                times = [row[place] for row in ((seen.alike, seen.acted) if acted else (seen.alike,))]
                return min((time for time in times if time >= 0), default=None)
        # Where nobody looked it may be as far as it is anywhere.
        return None if seen.complete or not seen.tells else seen.far
