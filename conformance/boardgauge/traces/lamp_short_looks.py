"""What a short look at a lamp leaves open: lines one after another, each for hardly more than a turn.

Law of this module: it takes nothing back that was seen twice; a line that is told by one whole turn only is not told
apart from two others of which a part each looks the same, where each of the two may have been there for a turn. Nor is
anything no line of the table that lines explain of which each stays for a turn of its own.
"""

from __future__ import annotations

from collections.abc import Collection

from boardgauge.traces.lamp_turns import LampTurns

_MOST_CHANGES = 8


class ShortLooks:
    """Short looks at one lamp; times in microseconds, as in its turns."""

    def __init__(self, turns: LampTurns) -> None:
        self.turns, self.watch = turns, turns.watch
        self._least = {line: self._turn(line) for line in turns.readable}

    def _turn(self, line: int) -> int:
        """Give how long a whole turn of a line lasts at the least."""
        held, parts = self.turns.held_for(line), self.watch.parts[line]
        if held is not None:
            return held
        lit, dark = parts.lit[0][0], parts.dark[0][0]
        if parts.number is None:
            return lit + dark
        return parts.number * lit + (parts.number - 1) * dark + parts.between

    def instead(
        self,
        told: Collection[int],
        begins: tuple[int, int],
        ends: tuple[int, int],
        before: Collection[int] = (),
        behind: Collection[int] = (),
    ) -> set[int]:
        """Give the lines of which two, one after the other, may have been shown where only these are told.

        Where they begin and end is known between two times each: the lines before and behind explain as much as they
        can; that they may go on instead is asked elsewhere (``lamp_readings``).
        """
        lines = [line for line in self._least if line not in told]
        watch, (early, begin), (end, late) = self.watch, begins, ends
        first_lines = [line for line in lines if line not in before]
        found: set[int] = set()
        # Of each line how far back and on it explains what was seen: there, and beside where others may go on instead.
        since = {line: max(early, watch.last_against(line, begin) or early) for line in first_lines}
        lasts = {line: self.turns.ruled_out(line, begin, late) for line in first_lines}
        for second in (line for line in lines if line not in behind):
            against = watch.last_against(second, end)
            for first in first_lines:
                if watch.parts[first].pattern == watch.parts[second].pattern:
                    continue
                # The change lies where each has its turn, and neither is ruled out by then; a look that rules one out
                # begins at the moment itself, and a change may lie inside it.
                earliest = max(early if against is None else against, since[first] + self._least[first])
                over = self.turns.ruled_out(second, earliest + 1, late)
                if earliest <= lasts[first] and earliest + self._least[second] <= over:
                    found |= {first, second}
        return found

    def explain(self, since: int, until: int) -> bool:
        """Tell whether lines that stay for a turn each, but the first and the last, explain all between two times."""
        # For each line that may be the latest, from when to when it may have given way.
        ways: dict[int, tuple[int, int]] = {}
        for line in self._least:
            end = self.turns.ruled_out(line, since, until)
            if end >= until:
                return True
            if end > since:
                ways[line] = since, end
        for _ in range(_MOST_CHANGES):
            more: dict[int, tuple[int, int]] = {}
            for before, (low, high) in ways.items():
                for line, least in self._least.items():
                    if self.watch.parts[line].pattern == self.watch.parts[before].pattern:
                        continue
                    for begin in self._moments(low, high):
                        end = self.turns.ruled_out(line, begin, until)
                        if end >= until:
                            return True
                        if end >= begin + least:
                            own = more.get(line, (begin + least, end))
                            more[line] = min(own[0], begin + least), max(own[1], end)
            ways = more
        return False

    def _moments(self, low: int, high: int) -> list[int]:
        """Give the moments between two at which it makes a difference that a line begins."""
        s = self.turns.s
        inner = s.begin_late[(s.begin_late > low) & (s.begin_late < high)].tolist()
        return [low, *(int(moment) for at in inner for moment in (at, at + 1) if moment < high), high]
