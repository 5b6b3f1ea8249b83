"""Say what was wrong when no hypothesis is left: the rule, the window and what set it.

Law of this module: it looks for the smallest change that would have allowed what was seen: a timing ended when it had
not, in chains of up to three; failing that, the part of the output's own condition that alone stands in the way.
"""

from __future__ import annotations

from collections.abc import Iterable

from boardgauge.judging.evidence import Happening, Kind
from boardgauge.judging.fire import Action
from boardgauge.judging.hypothesis import Hypothesis
from boardgauge.judging.judgement import Deviation
from boardgauge.judging.tracker import Death, Tracker
from boardgauge.machine.settle import Engine


class Explainer:
    def __init__(self, engine: Engine, tracker: Tracker) -> None:
        self.engine, self.tracker = engine, tracker

    def names(self, outputs: Iterable[int]) -> list[str]:
        return [self.engine.machine.outputs[i].output for i in outputs]

    def no_state(self, time: int, names: list[str]) -> Deviation:
        return Deviation("start", time, names[0], names[0], names[0], None, None, None, "", "")

    def explain(self, event: Happening, deaths: list[Death]) -> Deviation:
        last = max(deaths, key=lambda d: d.time)
        m = self.engine.machine
        if last.upper is not None:
            u = last.upper
            name = str(u)
            if u.kind == "output":
                name = m.outputs[u.which].output
            elif u.kind in ("timing", "sum", "window"):
                name = m.timings[u.which].name
            elif u.kind == "lamp":
                name = list(m.board.lamps)[u.which]
            return Deviation("lamp" if u.kind == "lamp" else "late", last.time, name, name, name, None, None, u.time, str(u), "")
        name = m.outputs[event.which].output if event.kind == Kind.OUTPUT else "?"
        return Deviation("unasked", event.latest, name, name, name, None, None, None, str(event), str(len(deaths)))
