"""The instants of a good board, each with every look that was taken in it.

Law of this module: an instant is worked out once, by the engine that everybody goes by; here it is only noted.
"""

from __future__ import annotations

from collections.abc import Iterator

from attrs import define, field, frozen

from boardgauge.machine.config import THE_INSTANT, Cause, Config
from boardgauge.machine.logic import Happens, Picture, facts_of
from boardgauge.machine.moves import Look
from boardgauge.machine.picture import Painter
from boardgauge.machine.settle import Engine, Made
from boardgauge.machine.table import Machine
from boardgauge.plans.side import Instant


@frozen(eq=False)
class Looked:
    """One look of an instant: what was read in it, where everything kept stood, and what had moved by then."""

    look: Look
    levels: tuple[bool, ...]
    full: int
    places: tuple[int, ...]
    start: tuple[int, ...]
    moved: tuple[bool, ...]
    last: bool


@frozen(eq=False)
class Happened:
    """An instant of the good board: its looks, and what it was in afterwards."""

    looks: tuple[Looked, ...]
    after: Config


_Drawn = tuple[Look, tuple[bool, ...], int, tuple[int, ...]]
"""A look as it was drawn: with the levels, what was full, and where everything kept stood."""


class _Noting:
    """A painter that notes what it draws in instants."""

    def __init__(self, painter: Painter, groups: list[list[_Drawn]]) -> None:
        self._painter, self._groups = painter, groups

    def draw(
        self,
        levels: tuple[bool, ...],
        places: tuple[int, ...],
        before: Picture | None,
        facts: int,
        running: int,
        full: int,
    ) -> Picture:
        picture = self._painter.draw(levels, places, before, facts, running, full)
        if before is not None:
            self._groups[-1].append((Look(picture, before, facts, running), levels, full, places))
        return picture

    def __getattr__(self, name: str) -> object:
        return getattr(self._painter, name)


class Noted(Engine):
    """An engine that tells every look of an instant."""

    def __init__(self, machine: Machine) -> None:
        super().__init__(machine)
        self._groups: list[list[_Drawn]] = []
        self.painter = _Noting(self.painter, self._groups)  # type: ignore[assignment]

    def cause(self, happens: Happens | None, look: Look) -> Cause:
        """Give no cause: nobody asks."""
        return THE_INSTANT

    def instant(
        self, config: Config, levels: tuple[bool, ...], facts: int, dropped: tuple[int, ...], made: Made
    ) -> Config:
        """Note that another instant begins."""
        self._groups.append([])
        return super().instant(config, levels, facts, dropped, made)

    def happened(self, row: Instant) -> Happened:
        """Give an instant with its looks."""
        self._go_through(row)
        looks = tuple(look for group in self._groups for look in _looks(group))
        return Happened(looks, row.after)

    def pictures(self, row: Instant) -> list[Picture]:
        """Give every picture that is looked at in an instant."""
        self._go_through(row)
        return [drawn[0].now for group in self._groups for drawn in group]

    def _go_through(self, row: Instant) -> None:
        self._groups.clear()
        self.work_out(row.before, row.levels, facts_of(row.expired, row.power_up), row.dropped)


def _looks(group: list[_Drawn]) -> Iterator[Looked]:
    start = earlier = group[0][3]
    moved = [False] * len(start)
    for number, (look, levels, full, places) in enumerate(group):
        for index, (old, new) in enumerate(zip(earlier, places, strict=True)):
            moved[index] = moved[index] or old != new
        earlier = places
        yield Looked(look, levels, full, places, start, tuple(moved), number + 1 == len(group))


@define(eq=False)
class Instants:
    """The instants of one good board, numbered as they are met."""

    machine: Machine
    numbers: dict[Instant, int] = field(factory=dict)
    happened: list[Happened] = field(factory=list)
    _noted: Noted = field(init=False)

    def __attrs_post_init__(self) -> None:
        self._noted = Noted(self.machine)

    def number(self, row: Instant) -> int:
        """Give the number of an instant."""
        number = self.numbers.get(row)
        if number is None:
            number = self.numbers[row] = len(self.happened)
            self.happened.append(self._noted.happened(row))
        return number

    def picture(self, config: Config) -> Picture:
        """Give the settled picture of a configuration."""
        return self._noted.picture(config)
