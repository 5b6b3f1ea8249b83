"""The looks at a lamp, with no more dark before and behind a group of flashes than is needed.

Law of this module: a line is ruled out by a group of another number that begins longer after the line does, and is over
longer before it ends, than the dark parts inside a group last: dark for so long, the line was between two groups. Two
groups in a row then never both hold one change of line, which they do where two thirds of the pause on either side
belong to each, as in ``lamps``.
"""

from __future__ import annotations

from attrs import evolve

from boardgauge.language.quantities import Duration
from boardgauge.traces.lamp_looks import Against, Found
from boardgauge.traces.lamps import LampWatch


class CloseWatch(LampWatch):
    """The looks of a watch, those at groups cut to what rules a line out."""

    def __init__(self, watch: LampWatch) -> None:
        self.__dict__.update(watch.__dict__)
        self._found: list[Against | None] = [None] * len(self.parts)

    def _against(self, line: int) -> Against:
        found = self._found[line]
        if found is None:
            looks = super()._against(line)
            whole = tuple(self._closer(each) if each.kind == "group" else each for each in looks.whole)
            found = self._found[line] = Against(whole, looks.held)
        return found

    def _closer(self, groups: Found) -> Found:
        flash = self.lamp.flash
        assert flash is not None
        inside = self.stretches.stretched(Duration(flash.dark, self.lamp.tolerance).longest)
        return evolve(groups, before=min(groups.before, inside), behind=min(groups.behind, inside))
