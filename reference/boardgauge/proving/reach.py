"""What of a spec can ever come about: every place, move, line of a lamp and end of a timing.

Law of this module: *never* is said only where everything the board can do was explored, *can* only with a way whose
moments the timings allow. What neither is shown of is told as such.

Everything is looked for at once with no timing followed. A way found so that the lengths of timings rule out is looked
for again, with those followed that rule it out.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from attrs import define, evolve, field, frozen

from boardgauge.language.model import Board, Spot
from boardgauge.machine.compile import compile_board
from boardgauge.machine.config import Outcome
from boardgauge.machine.settle import Engine
from boardgauge.machine.table import Machine
from boardgauge.proving.clockwork import Node
from boardgauge.proving.moments import ruled_out_by
from boardgauge.proving.space import Came, Space, way_to
from boardgauge.proving.timed import MOST_ZONES, explore_timed

_ROUNDS = 6


@frozen
class Item:
    """Something that can come about or cannot: the rule, output or lamp it is of, and what, in words.

    ``nothing``: it comes about, and changes nothing (of the end of a timing).
    """

    owner: str
    what: str
    at: Spot = field(eq=False)
    clause: str | None = field(eq=False, default=None)


@frozen
class Reached:
    """What came of looking: ``can`` it come about, can it not, or is neither shown; ``why`` says what rules it out."""

    item: Item
    verdict: Literal["can", "never", "undecided"]
    why: str = ""


@frozen
class Reachable:
    """What a board can come to. ``locked`` are the rules that only a loss of power leads out of."""

    items: tuple[Reached, ...]
    locked: tuple[str, ...]
    stuck: tuple[str, ...]
    explored: int
    complete: bool


def reachable_parts(board: Board, limit: int = MOST_ZONES) -> Reachable:
    """Look for everything a spec speaks of. ``limit`` is the most zones kept in one exploration."""
    bare = evolve(board, requirements={}, not_judged=())
    engine = Engine(compile_board(bare))
    look = _Look(engine)
    space = explore_timed(engine, None, look.see, limit, None, 1, True, frozenset())
    verdicts: dict[Item, Reached] = {}
    left = list(look.items)
    timed: frozenset[int] = frozenset()
    ways, zones, complete = space, space.zones, space.complete
    for _ in range(_ROUNDS):
        left, blamed = _sorted_out(engine, look, left, ways, timed, verdicts)
        if not left or not blamed - timed:
            break
        timed |= blamed
        look.came.clear()
        ways = explore_timed(engine, None, look.see, limit, None, 1, True, timed)
        zones += ways.zones
    for item in left:
        verdicts[item] = Reached(item, "undecided", "a way there was found, but no moments for it")
    locked, stuck = _no_way_back(engine, space) if complete else ((), ())
    return Reachable(tuple(verdicts[item] for item in look.items), locked, stuck, zones, complete)


def _sorted_out(
    engine: Engine, look: _Look, items: list[Item], space: Space, timed: frozenset[int], verdicts: dict[Item, Reached]
) -> tuple[list[Item], frozenset[int]]:
    """Sort out what is shown of some items; give the others, and the timings that rule their ways out."""
    left: list[Item] = []
    blamed: frozenset[int] = frozenset()
    for item in items:
        came = look.came.get(item)
        if came is None and not space.complete:
            verdicts[item] = Reached(item, "undecided", f"not all was explored ({space.zones} zones)")
        elif came is None:
            names = sorted(engine.machine.timings[index].name for index in timed)
            why = "the times of " + " and ".join(names) + " rule it out" if names else ""
            verdicts[item] = Reached(item, "never", why)
        else:
            found = ruled_out_by(engine, *way_to(space, came))
            if found is not None and not found:
                verdicts[item] = Reached(item, "can")
            else:
                left.append(item)
                blamed |= found or frozenset()
    return left, blamed


@define
class _Look:
    """Notes everything that comes about, and one way to it."""

    engine: Engine
    items: list[Item] = field(factory=list)
    came: dict[Item, Came] = field(factory=dict)
    _places: dict[tuple[int, int], Item] = field(factory=dict)
    _lines: dict[tuple[int, int], Item] = field(factory=dict)
    _ends: dict[int, Item] = field(factory=dict)
    _matter: dict[int, Item] = field(factory=dict)
    _outputs: dict[int, Item] = field(factory=dict)
    _begun: dict[int, Item] = field(factory=dict)

    def __attrs_post_init__(self) -> None:
        machine = self.engine.machine
        for region in machine.regions:
            for place, name in enumerate(region.places[1:], 1):
                words = _place_words(machine, region.index, name)
                if words:
                    self._places[region.index, place] = self._item(region.rule, words, region.at, region.clause)
        for delay in machine.delays:
            row = machine.timings[delay.timing]
            self._begun[delay.timing] = self._item(delay.rule, "begins", row.at, row.clause)
        for output in machine.outputs:
            if output.region is None:
                at = machine.board.outputs[output.output].at
                self._outputs[output.index] = self._item(output.output, "comes on", at, output.clause)
        for row in machine.timings:
            if row.role != "window":
                self._ends[row.index] = self._item(row.owner, f"{_timing_words(row.name, row.owner)} runs out", row.at)
                what = f"{_timing_words(row.name, row.owner)} runs out and something changes"
                self._matter[row.index] = self._item(row.owner, what, row.at)
        for number, lamp in enumerate(machine.board.lamps.values()):
            for line, shown in enumerate(lamp.lines):
                words = f"shows line {line + 1}" + (f" ({shown.means})" if shown.means else "")
                self._lines[number, line] = self._item(lamp.id, words, lamp.at, shown.clause)

    def _item(self, owner: str, what: str, at: Spot, clause: str | None = None) -> Item:
        item = Item(owner, what, at, clause)
        self.items.append(item)
        return item

    def see(self, node: Node, outcome: Outcome, came: Came) -> None:
        """Note what an instant brings about."""
        for item in self._of(node, outcome, came):
            self.came.setdefault(item, came)

    def _of(self, node: Node, outcome: Outcome, came: Came) -> Iterator[Item]:
        config = outcome.config
        for region, _, new in outcome.moved:
            item = self._places.get((region, new))
            if item is not None:
                yield item
        for timing, _ in outcome.begun:
            if timing in self._begun:
                yield self._begun[timing]
        for output, value in outcome.commands:
            if value and output in self._outputs:
                yield self._outputs[output]
        for lamp, line in enumerate(self.engine.lamp_lines(config)):
            yield self._lines[lamp, line]
        for timing, item in self._ends.items():
            if not any(end.timing == timing for end in came.what.over):
                continue
            yield item
            if self._changes(node, outcome, timing):
                yield self._matter[timing]

    def _changes(self, node: Node, outcome: Outcome, timing: int) -> bool:
        before, after = node.config, outcome.config
        return bool(
            outcome.commands
            or outcome.moved
            or outcome.begun
            or outcome.paused
            or outcome.counted
            or outcome.emptied
            or after.full != before.full
            or after.running & ~(1 << timing) != before.running & ~(1 << timing)
            or self.engine.lamp_lines(before) != self.engine.lamp_lines(after)
        )


def _place_words(machine: Machine, region: int, place: str) -> str:
    row = machine.regions[region]
    match row.kind:
        case "lockout":
            return "stands tripped"
        case "accumulator":
            return "stands reached"
        case "count":
            # Reached, it may be forgotten in the same instant, by what that brings about: no place shows it.
            return "counts" if place == row.places[1] and len(row.places) > 2 else ""
        case "sequence":
            return f"stands in {place}"
        case "output":
            return "comes on"
        case "toggle":
            return "stands turned over"
    return "stands on"


def _timing_words(name: str, owner: str) -> str:
    if name == owner:
        return "its time"
    return f"what {owner} waits for" if name.startswith(f"{owner} for") else f"the time of {name}"


def _no_way_back(engine: Engine, space: Space) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Give the rules that only a loss of power leads out of, and those that nothing leads out of, once they are on."""
    number = len(space.places)
    onward: list[set[int]] = [set() for _ in range(number)]
    by_loss: list[set[int]] = [set() for _ in range(number)]
    for target, source, lost in space.edges:
        (by_loss if lost else onward)[source].add(target)
    locked: list[str] = []
    stuck: list[str] = []
    for region in engine.machine.regions:
        inside = {n for n, place in enumerate(space.places) if place.node.config.places[region.index] > 0}
        if not inside:
            continue
        for edges, found in ((onward, locked), ([a | b for a, b in zip(onward, by_loss, strict=True)], stuck)):
            if not any(edges[n] - inside for n in inside):
                found.append(region.rule)
    return tuple(name for name in locked if name not in stuck), tuple(stuck)
