"""When what happens on a way may happen, and which timings rule a way out.

Law of this module: the moments of a way hang together by differences alone (a timing begun at one and over at another,
two instants no closer than a gap), so the least moments are found by going over these until none moves (shortest ways:
Bellman-Ford), and a contradiction is a circle of them. What an accumulator added up before it stood still is put in
from the moments found so far, and they are found again.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from attrs import define, evolve, field, frozen

from boardgauge.language.quantities import Duration
from boardgauge.machine.chance import Timings
from boardgauge.machine.settle import Engine
from boardgauge.proving.clockwork import Clock, Clockwork, Node
from boardgauge.proving.together import Happens, clocks_of, settled


def ruled_out_by(engine: Engine, start: Node, happenings: Sequence[Happens]) -> frozenset[int] | None:
    """Give timings whose lengths together rule a way out; none of them if it can be, None if it is no way at all."""
    way = Way(engine, start, tuple(happenings))
    return way.culprits() if way.follows() else None


@frozen
class Span:
    """The clock of a timing on the way: at nought in one step, over in another (None: not over on this way)."""

    clock: Clock
    began: int
    over: int | None
    last: int
    parts: tuple[tuple[int, int], ...] = ()
    position: int = 0
    """Which of its times it took, where a setting gives one."""


class Limit(NamedTuple):
    """The least and the most that a timing on a way lasts."""

    span: Span
    least: int
    most: int

    def counted_on(self, number: int) -> Limit:
        """Give the same of a timing that is counted from another number on."""
        clock = self.span.clock
        return self._replace(span=evolve(self.span, clock=clock._replace(timing=clock.timing + number)))


def least_moments(gaps: Sequence[int], limits: Sequence[Limit], gap: int) -> tuple[list[int] | None, frozenset[int]]:
    """Give the least moments of some steps that far apart, None if there are none, and then the timings that rule them
    out together. ``gap``: what is not over yet is so long from it."""
    found: list[int] | None = None
    for _ in range(4):
        again, blamed = _least(gaps, limits, min(gap, 1), found)
        if again is None or again == found or not any(limit.span.parts for limit in limits):
            return again, blamed
        found = again
    return None, frozenset()


def _least(
    gaps: Sequence[int], limits: Sequence[Limit], short: int, known: list[int] | None
) -> tuple[list[int] | None, frozenset[int]]:
    number = len(gaps) + 1
    edges = [(step, step + 1, gap, -1) for step, gap in enumerate(gaps)]
    for span, least, most in limits:
        if span.parts:
            # Nothing is known of the parts yet: they are left out of the first round.
            had = sum(known[b] - known[a] for a, b in span.parts) if known is not None else 0
            least, most = max(0, least - had), max(0, most - had)
        if span.over is not None:
            edges.append((span.began, span.over, least, span.clock.timing))
            edges.append((span.over, span.began, -most, span.clock.timing))
        elif span.last > span.began:
            edges.append((span.last, span.began, -(most - short), span.clock.timing))
    moments = [0] * number
    by: list[int] = [-1] * number
    last = -1
    for _ in range(number + 1):
        last = -1
        for index, (source, target, distance, _) in enumerate(edges):
            if moments[source] + distance > moments[target]:
                moments[target] = moments[source] + distance
                by[target] = index
                last = target
        if last < 0:
            return [moment - moments[0] for moment in moments], frozenset()
    # Still moving: the way back from where it moved last runs into a circle, and the circle is the contradiction.
    for _ in range(number):
        last = edges[by[last]][0]
    at, round_ = last, set()
    while True:
        round_.add(edges[by[at]][3])
        at = edges[by[at]][0]
        if at == last:
            break
    return None, frozenset(timing for timing in round_ if timing >= 0)


@define
class Way:
    """What happens on one way, and the clocks of all timings on it."""

    engine: Engine
    start: Node
    happenings: tuple[Happens, ...]
    spans: list[Span] = field(factory=list)
    adding: dict[int, list[tuple[int, int]]] = field(factory=dict)
    blamed: frozenset[int] = frozenset()

    def follows(self) -> bool:
        """Find every clock on the way; False if some step is no step of the machine."""
        clockwork = Clockwork(self.engine)
        # The way may have been found with some timings followed only.
        node = clockwork.off(self.start.config)
        born: list[tuple[Clock, int, int]] = []
        position = self.engine.settings.choice
        for step, what in enumerate(self.happenings):
            if what.power is False:
                self._over(born, range(len(born)), step, None, node)
                self.adding.clear()
                node, born = clockwork.without_power(node, ((0, 0),) * len(node.clocks)), []
                continue
            over = clocks_of(node, what)
            if len(over) < len(what.over):
                return False
            outcome = settled(self.engine, node.config, what)
            self._over(born, over, step, step, node)
            after, sources = clockwork.after(node, outcome, over, ((0, 0),) * len(node.clocks))
            kept = {source - 1 for source in sources.of if source > 0}
            gone = [n for n in range(len(born)) if n not in kept and n not in over]
            self._over(born, gone, step, None, node)
            for region in outcome.emptied:
                self.adding.pop(self.engine.machine.regions[region].timings[0], None)
            old = born
            born = []
            for clock, source in zip(after.clocks, sources.of, strict=True):
                fresh = clock, step, position(after.config.chosen, clock.timing)
                born.append(old[source - 1] if source > 0 else fresh)
            node = after
        last = len(self.happenings) - 1
        self._over(born, range(len(born)), last, None, node)
        return True

    def _over(
        self, born: list[tuple[Clock, int, int]], numbers: Sequence[int], step: int, over: int | None, node: Node
    ) -> None:
        for number in numbers:
            clock, began, position = born[number]
            timing = clock.timing
            parts = tuple(self.adding.get(timing, ()))
            self.spans.append(Span(clock, began, over, step, parts, position))
            if self._adds_up(timing):
                if over is None:
                    self.adding.setdefault(timing, []).append((began, step))
                else:
                    self.adding.pop(timing, None)

    def _adds_up(self, timing: int) -> bool:
        return any(r.kind == "accumulator" and timing in r.timings for r in self.engine.machine.regions)

    def moments(self, gap: int, timings: Timings | None) -> list[int] | None:
        """Give the least moments of the steps, None if there are none with this gap and these durations."""
        found, self.blamed = least_moments(self.gaps(gap), self.limits(timings), gap)
        return found

    def gaps(self, gap: int) -> list[int]:
        """Give how far each step is from the one before; what timings bring about need not keep the whole gap."""
        rows = zip(self.happenings[1:], self.happenings, strict=False)
        return [gap if not now.over or not before.over else min(gap, 1) for now, before in rows]

    def limits(self, timings: Timings | None, any_position: bool = False) -> list[Limit]:
        """Give how long each timing on the way lasts: anything it may (None), or at nominal, earliest or latest.

        With ``any_position`` a time that a setting gives may be that of any, however the setting stands on the way.
        """
        found = []
        for span in self.spans:
            choices = self.engine.machine.timings[span.clock.timing].choices
            durations = choices if any_position else (choices[span.position],)
            found.append(Limit(span, *self._lengths(span, durations, timings)))
        return found

    def culprits(self) -> frozenset[int]:
        """Give timings whose lengths together rule the way out; none if there are moments for it.

        As in exploring, what happens at one moment may be taken one after the other.
        """
        return frozenset() if self.moments(0, None) is not None else self.blamed

    def _own(self, span: Span) -> Duration:
        return self.engine.machine.timings[span.clock.timing].choices[span.position]

    def _lengths(self, span: Span, durations: Sequence[Duration], timings: Timings | None) -> tuple[int, int]:
        clock = span.clock
        if clock.rate != 1 or (clock.used != (0, 0) and not self._adds_up(clock.timing)):
            # Sped up, or kept through a loss of power: between its limits, and the trial decides.
            return clock.least, clock.most
        if timings is None:
            return min(d.shortest for d in durations), max(d.longest for d in durations)
        if len(durations) > 1:
            lengths = [_length(d, timings) for d in durations]
            return min(lengths), max(lengths)
        return (_length(durations[0], timings),) * 2

    def durations(self, moments: list[int]) -> dict[str, tuple[int, ...]]:
        """Give how long each timing has to last, by its name: those over when they were, others as long as they can."""
        found: dict[str, list[tuple[int, int]]] = {}
        for span in self.spans:
            row = self.engine.machine.timings[span.clock.timing]
            if row.role in {"requirement", "not judged"} or span.clock.rate != 1:
                continue
            longest = self._own(span).longest
            if span.over is None:
                if not self._adds_up(span.clock.timing):
                    found.setdefault(row.name, []).append((span.began, longest))
                continue
            had = sum(moments[b] - moments[a] for a, b in span.parts)
            first = min([span.began, *(a for a, _ in span.parts)])
            found.setdefault(row.name, []).append((first, had + moments[span.over] - moments[span.began]))
        return {name: tuple(length for _, length in sorted(rows)) for name, rows in found.items()}


def _length(duration: Duration, timings: Timings) -> int:
    return {"nominal": duration.nominal, "earliest": duration.shortest, "latest": duration.longest}[timings]
