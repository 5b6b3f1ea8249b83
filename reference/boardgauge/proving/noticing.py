"""What very many instants of one kernel bring about, of what a look is for: see ``proving.looking``.

Law of this module: of each instant it notes what ``Look.see`` notes of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from attrs import define, field

from boardgauge.proving.folding import Folds
from boardgauge.proving.looking import Item, Look
from boardgauge.proving.many import Done
from boardgauge.proving.many_pictures import Standing
from boardgauge.proving.many_rules import Check, check_of
from boardgauge.proving.space import Came
from boardgauge.proving.words import NO, YES, Bits, Words, any_of

Noted = Item | tuple[str, int]
"""An item, or ("entered", region) and ("left", region)."""


@define
class Noticing:
    """Tells in which instants something comes about that a look is for and has not seen yet."""

    look: Look
    folds: Folds
    _lines: list[list[Check | None]] = field(init=False)

    def __attrs_post_init__(self) -> None:
        engine = self.folds.engine
        self._lines = [
            [None if line.when is None else check_of(engine.logic, line.when) for line in lamp.lines]
            for lamp in engine.machine.board.lamps.values()
        ]

    def note(self, noted: Iterable[Noted], came: Came) -> None:
        """Note what came about, and a way to it."""
        for what in noted:
            if isinstance(what, Item):
                self.look.came.setdefault(what, came)
            else:
                (self.look.entered if what[0] == "entered" else self.look.left).add(what[1])

    def columns(self, before: Standing, done: Done, expired: dict[int, Words]) -> list[tuple[Noted, Bits]]:
        """Give what is to be noted with the instants in which it comes about. ``expired``: of each timing where it is
        over."""
        look = self.look
        items = ((item, bits) for item, bits in self._items(before, done, expired) if self._wanted(item))
        found: list[tuple[Noted, Bits]] = list(items)
        for index, (old, new) in enumerate(zip(before.places, done.standing.places, strict=True)):
            if index not in look.entered:
                found.append((("entered", index), old[0] & ~new[0]))
            if index not in look.left:
                found.append((("left", index), ~old[0] & new[0]))
        return found

    def _wanted(self, item: Item) -> bool:
        return item in self.look.wanted and item not in self.look.came

    def _items(self, before: Standing, done: Done, expired: dict[int, Words]) -> Iterator[tuple[Item, Bits]]:
        look, after = self.look, done.standing
        for (region, place), item in look.places.items():
            yield item, after.places[region][place] & ~before.places[region][place]
        for timing, item in look.begun.items():
            yield item, done.begun.get(timing, NO)
        for output, item in look.outputs.items():
            yield item, done.commands[output, True]
        lines = self._lines_of(after)
        for (lamp, line), item in look.lines.items():
            yield item, lines[lamp][line]
        over = [timing for timing in look.ends if timing in expired]
        if any(self._wanted(look.matter[timing]) for timing in over):
            changed = self._changed(before, done, lines)
            for timing in over:
                others = (
                    old ^ new
                    for index, (old, new) in enumerate(zip(before.running, after.running, strict=True))
                    if index != timing
                )
                yield look.matter[timing], expired[timing] & (changed | any_of(others))
        for timing in over:
            yield look.ends[timing], expired[timing]

    def _changed(self, before: Standing, done: Done, lines: list[list[Bits]]) -> Bits:
        """Tell where anything changed but what is running."""
        after = done.standing
        found = any_of(done.commands.values())
        for old, new in zip(before.places, after.places, strict=True):
            found = found | any_of(a ^ b for a, b in zip(old, new, strict=True))
        for table in (done.begun, done.paused, done.counted, done.emptied):
            found = found | any_of(table.values())
        found = found | any_of(old ^ new for old, new in zip(before.full, after.full, strict=True))
        for was, now in zip(self._lines_of(before), lines, strict=True):
            found = found | any_of(a ^ b for a, b in zip(was, now, strict=True))
        return found

    def _lines_of(self, standing: Standing) -> list[list[Bits]]:
        """Tell of each lamp where it shows each of its lines."""
        picture = self.folds.many.pictures.settled(standing)
        found = []
        for lines in self._lines:
            left: Bits = YES
            shown = []
            for check in lines:
                holds = left if check is None else left & check(picture)
                shown.append(holds)
                left = left & ~holds
            found.append(shown)
        return found
