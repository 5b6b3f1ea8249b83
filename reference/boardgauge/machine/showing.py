"""When what a simulated board commands shows at its output terminals.

Law of this module: a command shows in the instant or up to ``lag`` later, no later than its causes allow; in order. A
change undone before it showed never shows. Outputs that a requirement keeps together stay together.
"""

from __future__ import annotations

from attrs import define, field

from boardgauge.language.model import Together
from boardgauge.machine.chance import Chance
from boardgauge.machine.run import Edges
from boardgauge.machine.table import Machine


@define
class _Terminal:
    shown: bool = False
    coming: tuple[int, bool] | None = None
    changes: list[tuple[int, bool]] = field(factory=list)


class Showing:
    """The output terminals of one simulated board."""

    def __init__(self, machine: Machine, chance: Chance) -> None:
        self._machine = machine
        self._chance = chance
        self._terminals = [_Terminal() for _ in machine.outputs]
        number = {row.output: row.index for row in machine.outputs}
        demands = [row.demand for row in machine.board.requirements.values()]
        self._together = [
            ({number[name] for name in demand.outputs}, demand.within)
            for demand in demands
            if isinstance(demand, Together)
        ]

    def command(self, commands: dict[int, bool], time: int, deadline: int | None) -> dict[int, int]:
        """Take in the commands of one instant; gives when each shows (or would, where it only undoes another)."""
        shows: dict[int, int] = {}
        for output in commands:
            late = time + self._machine.outputs[output].lag
            if deadline is not None:
                late = min(late, max(time, deadline))
            shows[output] = self._chance.between(time, late)
        for group, within in self._together:
            members = [output for output in shows if output in group]
            if members:
                last = min(shows[output] for output in members) + within
                for output in members:
                    shows[output] = min(shows[output], last)
        for output, value in commands.items():
            terminal = self._terminals[output]
            self._show(terminal, time)
            terminal.coming = None if value == terminal.shown else (shows[output], value)
        return shows

    def _show(self, terminal: _Terminal, before: int) -> None:
        if terminal.coming is not None and terminal.coming[0] < before:
            terminal.changes.append(terminal.coming)
            terminal.shown = terminal.coming[1]
            terminal.coming = None

    def edges(self, end: int) -> dict[str, Edges]:
        """Give what showed up to the end."""
        found = {}
        for row, terminal in zip(self._machine.outputs, self._terminals, strict=True):
            coming = terminal.coming
            more = [coming] if coming is not None and coming[0] <= end else []
            found[row.output] = Edges(False, (*terminal.changes, *more))
        return found

    def after(self, time: int) -> list[tuple[int, str, bool]]:
        """Give what shows after a time, as far as it is commanded by now: (time, output, value), in order."""
        found = []
        for row, terminal in zip(self._machine.outputs, self._terminals, strict=True):
            for change in reversed(terminal.changes):
                if change[0] <= time:
                    break
                found.append((change[0], row.output, change[1]))
            if terminal.coming is not None and terminal.coming[0] > time:
                found.append((terminal.coming[0], row.output, terminal.coming[1]))
        return sorted(found)

    def at(self, output: int, now: int) -> tuple[bool, tuple[int, bool] | None]:
        """Give the level at a terminal now, and the change on its way there as (time, level), if there is one."""
        terminal = self._terminals[output]
        if terminal.coming is not None and terminal.coming[0] <= now:
            return terminal.coming[1], None
        return terminal.shown, terminal.coming

    def not_off(self) -> list[int]:
        """Give the outputs that are on or about to come on."""
        return [i for i, t in enumerate(self._terminals) if (t.shown if t.coming is None else t.coming[1]) or t.shown]
