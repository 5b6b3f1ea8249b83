"""What of a spec can come about, item by item, and what of it an instant brings about.

Law of this module: it notes what it is shown, and looks for nothing itself.
"""

from __future__ import annotations

from collections.abc import Iterator

from attrs import define, field, frozen

from boardgauge.language.model import Spot
from boardgauge.machine.config import Outcome
from boardgauge.machine.settle import Engine
from boardgauge.machine.table import Machine, Region
from boardgauge.proving.clockwork import Node
from boardgauge.proving.space import Came, Found


@frozen
class Item:
    """Something that can come about or cannot: the rule, output or lamp it is of, and what, in words.

    ``nothing``: it comes about, and changes nothing (of the end of a timing).
    """

    owner: str
    what: str
    at: Spot = field(eq=False)
    clause: str | None = field(eq=False, default=None)


@define
class Look:
    """Notes everything that comes about, and one way to it."""

    engine: Engine
    items: list[Item] = field(factory=list)
    wanted: set[Item] = field(factory=set)
    """Those that are looked for."""
    came: dict[Item, Came] = field(factory=dict)
    places: dict[tuple[int, int], Item] = field(factory=dict)
    lines: dict[tuple[int, int], Item] = field(factory=dict)
    ends: dict[int, Item] = field(factory=dict)
    matter: dict[int, Item] = field(factory=dict)
    outputs: dict[int, Item] = field(factory=dict)
    begun: dict[int, Item] = field(factory=dict)
    entered: set[int] = field(factory=set)
    left: set[int] = field(factory=set)

    def __attrs_post_init__(self) -> None:
        machine = self.engine.machine
        for region in machine.regions:
            for place, name in enumerate(region.places[1:], 1):
                words = _place_words(machine, region.index, name)
                if words:
                    self.places[region.index, place] = self._item(region.rule, words, region.at, region.clause)
        for delay in machine.delays:
            row = machine.timings[delay.timing]
            self.begun[delay.timing] = self._item(delay.rule, "begins", row.at, row.clause)
        for output in machine.outputs:
            if output.region is None:
                at = machine.board.outputs[output.output].at
                self.outputs[output.index] = self._item(output.output, "comes on", at, output.clause)
        for row in machine.timings:
            if row.role != "window":
                self.ends[row.index] = self._item(row.owner, f"{_timing_words(row.name, row.owner)} runs out", row.at)
                what = f"{_timing_words(row.name, row.owner)} runs out and something changes"
                self.matter[row.index] = self._item(row.owner, what, row.at)
        for number, lamp in enumerate(machine.board.lamps.values()):
            for line, shown in enumerate(lamp.lines):
                words = f"shows line {line + 1}" + (f" ({shown.means})" if shown.means else "")
                self.lines[number, line] = self._item(lamp.id, words, lamp.at, shown.clause)

    def _item(self, owner: str, what: str, at: Spot, clause: str | None = None) -> Item:
        item = Item(owner, what, at, clause)
        self.items.append(item)
        return item

    def see(self, node: Node, outcome: Outcome, came: Came) -> None:
        """Note what an instant brings about."""
        for item in self._of(node, outcome, came):
            self.came.setdefault(item, came)
        for region, old, new in outcome.moved:
            if not old:
                self.entered.add(region)
            elif not new:
                self.left.add(region)

    def all_seen(self, items: list[Item]) -> Found:
        """Give what tells that some items have come about, and every rule was left that anything but a loss leaves."""
        regions = self.engine.machine.regions
        leave = {row.index for row in regions if _is_left(row)}
        return lambda node, outcome: leave <= self.left and all(item in self.came for item in items)

    def no_way_back(self) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Give the rules that only a loss of power leads out of once they are on, and those that nothing does."""
        held = [row for row in self.engine.machine.regions if row.index in self.entered - self.left]
        stuck = tuple(row.rule for row in held if row.kept_without_power)
        return tuple(row.rule for row in held if not row.kept_without_power), stuck

    def _of(self, node: Node, outcome: Outcome, came: Came) -> Iterator[Item]:
        config = outcome.config
        for region, _, new in outcome.moved:
            item = self.places.get((region, new))
            if item is not None:
                yield item
        for timing, _ in outcome.begun:
            if timing in self.begun:
                yield self.begun[timing]
        for output, value in outcome.commands:
            if value and output in self.outputs:
                yield self.outputs[output]
        for lamp, line in enumerate(self.engine.lamp_lines(config)):
            yield self.lines[lamp, line]
        for timing, item in self.ends.items():
            if not any(end.timing == timing for end in came.what.over):
                continue
            yield item
            if self._changes(node, outcome, timing):
                yield self.matter[timing]

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


def _is_left(region: Region) -> bool:
    """Tell whether a spec says anything that leads out of a rule, but for a loss of power."""
    out = [move for move in region.moves if move.target == region.places[0] != move.source]
    return any(move.trigger is not None or move.timing is not None for move in out)
