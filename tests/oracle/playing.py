"""What a board does at nominal times, worked out by the oracle's own instants.

Law of this module: every timing lasts its nominal time, every change is acted on and shows at once. It steps from one
thing that is due to the next, and knows no tolerance.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from attrs import define, field

from boardgauge.language.model import Blink, Dark, Flashes, Lamp, Steady
from oracle.due import POWER, Known
from oracle.look import Key
from oracle.settling import Works
from oracle.standing import Outcome, Standing

MOST_MOMENTS = 5000
Shown = list[tuple[int, str, bool]]


def played(works: Works, rows: Mapping[str, Sequence[tuple[int, bool]]], end: int) -> Shown:
    """Give the changes of outputs and lamps up to ``end``; ``rows`` are the supply's and the inputs' changes, in order.

    An input stands as its last change at or before the supply came says, else at rest. Raises Refused where the board
    does not come to rest, NotImplementedError for what this does not cover.
    """
    play = _Play(works, {name: name in works.off().held for name in works.board.inputs})
    waiting = sorted((time, name != POWER, name, value) for name, row in rows.items() for time, value in row)
    for _ in range(MOST_MOMENTS):
        times = [*(row[0] for row in waiting[:1]), *(play.ends(key) for key in play.left if play.powered)]
        if not times or min(times) > end:
            play.lamps_until(end + 1)
            return play.shown
        now = min(times)
        arrived = {name: value for time, _, name, value in waiting if time == now}
        waiting = [row for row in waiting if row[0] != now]
        play.moment(int(now), arrived)
    raise NotImplementedError("too many moments")


@define
class _Play:
    """A board being played. ``left`` is what is left of each timing, in its own time, ``has`` what a sum has."""

    works: Works
    level: dict[str, bool]
    known: Known = field(init=False)
    standing: Standing = field(init=False)
    powered: bool = False
    now: int = 0
    left: dict[Key, Fraction] = field(factory=dict)
    has: dict[str, Fraction] = field(factory=dict)
    lines: dict[str, tuple[int, int]] = field(factory=dict)
    shown: Shown = field(factory=list)

    def __attrs_post_init__(self) -> None:
        self.known = Known(self.works)
        self.standing = self.works.off()

    def rate(self, key: Key) -> int:
        """Give how fast a timing runs: a speed-up counts from its terminal."""
        look = self.works.glance(frozenset(name for name, on in self.level.items() if on))
        owner = self.works.owner(key)
        fast = [row for row in self.works.board.speed_ups.values() if owner in row.what and look.holds(row.while_)]
        return max([1, *(row.times_faster for row in fast)])

    def ends(self, key: Key) -> Fraction:
        """Give when a timing ends if nothing comes between."""
        return self.now + self.left[key] / self.rate(key)

    def moment(self, now: int, arrived: dict[str, bool]) -> None:
        """Let time pass, and take in what has come."""
        due = [key for key in self.left if self.powered and self.ends(key) == now]
        passed = {key: (now - self.now) * self.rate(key) for key in self.left}
        if self.powered:
            self.left = {key: left - passed[key] for key, left in self.left.items()}
            for name in self.standing.adding:
                self.has[name] = self.has.get(name, Fraction(0)) + passed["target", name, 0]
        self.now = now
        came = arrived.pop(POWER, self.powered)
        self.level |= arrived
        if not came:
            self._goes()
            return
        if self.powered:
            outcome = self.known.moment(self.standing, arrived, due)
        else:
            outcome = self.known.moment(self.standing, {POWER: True}, (), dict(self.level))
        self.powered = True
        self._follows(outcome)

    def _goes(self) -> None:
        board = self.works.board
        if self.powered:
            self.shown += [(self.now, name, False) for name in board.outputs if name in self.standing.held]
            self.lamps_until(self.now)
            self.shown += [(self.now, name, False) for name in board.lamps if self._lit(name)]
            self.standing = self.works.off(self.standing)
            self.left = {key: left for key, left in self.left.items() if key in self.standing.running}
            self.has = {n: has for n, has in self.has.items() if board.rules[n].kept_without_power}
        self.powered, self.lines = False, {}

    def _follows(self, outcome: Outcome) -> None:
        going = {key: self.left[old] for key, old in outcome.was.items() if old in self.left}
        for key in outcome.begun:
            going[key] = self._nominal(key, outcome.standing)
        for name in outcome.emptied:
            self.has.pop(name, None)
        for name in outcome.resumed:
            whole = self._nominal(("target", name, 0), outcome.standing)
            going["target", name, 0] = whole - self.has.get(name, 0)
        self.left, self.standing = going, outcome.standing
        self.shown += [(self.now, name, value) for name, value in outcome.commands]
        look = self.works.glance(self.standing.held)
        for name, lamp in self.works.board.lamps.items():
            line = next(i for i, row in enumerate(lamp.lines) if row.when is None or look.holds(row.when))
            if self.lines.get(name, (None,))[0] != line:
                self.lamps_until(self.now, only=name)
                self.lines[name] = (line, self.now)

    def _nominal(self, key: Key, standing: Standing) -> Fraction:
        whole = Fraction(self.works.duration(key, standing).nominal)
        if whole.denominator != 1:
            raise NotImplementedError("a nominal time between two microseconds")
        return whole

    # -- lamps ----------------------------------------------------------------------------------------------------

    def _lit(self, name: str) -> bool:
        return next((value for _, signal, value in reversed(self.shown) if signal == name), False)

    def lamps_until(self, end: int, only: str | None = None) -> None:
        """Show what the lamps did since their lines began, up to and without a moment."""
        for name, (line, since) in self.lines.items():
            if only in (None, name):
                for time, lit in _waves(self.works.board.lamps[name], line, since):
                    if time >= end:
                        break
                    if lit != self._lit(name):
                        self.shown.append((time, name, lit))


def _waves(lamp: Lamp, line: int, since: int) -> Iterator[tuple[int, bool]]:
    """Give when a lamp lights and goes dark from the beginning of a line on."""
    shows = lamp.lines[line].shows
    if isinstance(shows, Steady | Dark):
        yield since, isinstance(shows, Steady)
        return
    if isinstance(shows, Blink):
        turn = [shows.lit, shows.dark]
    else:
        assert isinstance(shows, Flashes)
        assert lamp.flash is not None
        assert lamp.between_groups is not None
        turn = [lamp.flash.lit, lamp.flash.dark] * shows.number
        turn[-1] = lamp.between_groups
    time = since
    while True:
        for index, lasts in enumerate(turn):
            yield time, index % 2 == 0
            time += lasts
