"""Say what was wrong when no hypothesis is left: the rule, the window and what set it.

Law of this module: it looks for the smallest change that would have allowed what was seen: a timing that had ended
earlier, in chains of up to three; a count that had reached its limit; a lockout that had cleared. Failing that, it
names the part of the output's own condition that alone stands in the way. What it says was seen is what the recording
shows at the moment that it says.
"""

from __future__ import annotations

from boardgauge.drawings import words
from boardgauge.judging import demands
from boardgauge.judging.columns import Happening, Kind
from boardgauge.judging.hypothesis import Bounds, Hypothesis
from boardgauge.judging.judgement import Deviation
from boardgauge.judging.responsible import Part, part_of, responsible
from boardgauge.judging.spans import Spans
from boardgauge.judging.supply import SUPPLY
from boardgauge.judging.tracker import Death, Tracker
from boardgauge.judging.ways import Way, Ways
from boardgauge.language.model import Spot
from boardgauge.machine.settle import Engine


class Explainer:
    """Explains the deviations that one tracker comes to."""

    def __init__(self, engine: Engine, tracker: Tracker) -> None:
        self.engine, self.tracker = engine, tracker
        self._machine = engine.machine
        self._board = engine.machine.board
        self._ways = Ways(engine, tracker.limits)
        self._spans = Spans(engine.machine, tracker)

    def explain(self, event: Happening, deaths: list[Death]) -> Deviation:
        """Give the deviation at which the last hypothesis was dropped."""
        last = max(deaths, key=lambda death: (death.time, death.upper is not None and death.upper.kind == "output"))
        if last.upper is None:
            if event.kind == Kind.OUTPUT:
                change = (event.which, bool(event.value))
                for broken, commands in self.tracker.firing.instants.broken:
                    if change in commands:
                        name = self._machine.outputs[event.which].output
                        return self._requirement(broken[0], event.latest, name)
                return self._unasked(event, [death.hypothesis for death in deaths])
            return self._broken(last, event.latest)
        if last.upper.kind == "output":
            return self._missing(last)
        if last.upper.kind == "lamp":
            return self._lamp(last)
        return self._broken(last, last.time)

    # -- outputs ---------------------------------------------------------------------------------------------------

    def _missing(self, death: Death) -> Deviation:
        assert death.upper is not None
        h, output = death.hypothesis, death.upper.which
        command = h.queues[output][-1]
        act, name = h.vars[command.act], self._machine.outputs[output].output
        first_to_show = all(any(c.act == command.act for c in h.queues[other]) for other in command.siblings)
        counted = since = None
        if command.watch and command.cap <= act[1] + self.tracker.limits.lags[output]:
            part, window = part_of(self._board, command.watch), (act[1], death.time)
        elif command.timing >= 0 and first_to_show:
            part, origin = self._spans.part(command.timing), command.origin
            window = self._spans.window(h, command.timing, origin)
            counted, since = self._spans.counted_from(command.timing, origin), origin
        else:
            part = responsible(
                self.engine, h.config, output, command.value, before=command.before, by_rule=first_to_show
            )
            window = (act[1] if not first_to_show else act[0], death.time)
        word, still = ("on", "off") if command.value else ("off", "on")
        thing = words.thing(self._board, name)
        return self._deviation(
            "late" if counted else "missing",
            death.time,
            name,
            part,
            (window[0], death.time),
            f"{thing} still {still} at {self._spans.at(self._showing(name, not command.value, death.time))}",
            f"{thing} {word} by {self._spans.at(death.time)}" + self._spans.because(command.timing if counted else -1),
            counted,
            since=since,
        )

    def _unasked(self, event: Happening, hypotheses: list[Hypothesis]) -> Deviation:
        output, value = event.which, bool(event.value)
        name = self._machine.outputs[output].output
        thing, word = words.thing(self._board, name), "on" if value else "off"
        # First what needs no supply that went and came unseen: without supply a board cannot be told what to do.
        hypotheses = sorted(hypotheses, key=lambda h: (not h.config.powered, SUPPLY in h.supposed))
        seen = f"{thing} went {word} at {self._spans.at(self._recorded(name, event))}"
        found = [(self._ways.smallest(h, output, value), h) for h in hypotheses]
        ways = [(way, h) for way, h in found if way is not None]
        if not ways:
            h = hypotheses[0]
            part = responsible(self.engine, h.config, output, value)
            expected = f"{thing} stays {'off' if value else 'on'}: nothing asks for the change"
            return self._deviation("unasked", event.latest, name, part, None, seen, expected, None)
        # Of ways that cost the same, the one that would have allowed it the soonest: the nearest to what was seen.
        way, h = min(ways, key=lambda pair: (pair[0].cost, self._soonest(*pair)))
        if way.condition:
            part = part_of(self._board, way.condition)
            words_ = words.thing(self._board, way.condition)
            expected = f"{thing} stays {'off' if value else 'on'}: {words_} does not allow it now"
            return self._deviation("unasked", event.latest, name, part, None, seen, expected, None)
        if way.window >= 0:
            return self._aged_too_soon(h, way.window, event.latest, name, seen)
        if not way.timings:
            part = part_of(self._board, self._machine.regions[way.region].rule)
            expected = f"{thing} stays {'off' if value else 'on'}"
            return self._deviation("unasked", event.latest, name, part, None, seen, expected, None)
        first = way.timings[0]
        # Where the supply may have gone unseen, the window is as wide as any of what it may have done leaves it.
        alike = [other for one, other in ways if one.timings == way.timings and SUPPLY in other.supposed]
        origin, (earliest, latest) = self._spans.chain(h, way.timings)
        for other in alike:
            since, allowed = self._spans.chain(other, way.timings)
            origin = min(origin[0], since[0]), max(origin[1], since[1])
            earliest, latest = min(earliest, allowed[0]), max(latest, allowed[1])
        kind, time, when = "early", event.latest, f"not before {self._spans.at(earliest)}"
        if event.earliest >= latest:
            # The change that was waited for, once it was beyond doubt that it had not come.
            kind, time, when = "late", latest, f"by {self._spans.at(latest)}"
            seen = (
                f"{thing} still {'off' if value else 'on'} at {self._spans.at(self._showing(name, not value, latest))}"
            )
        expected = f"{thing} {word} {when}" + self._spans.because(*way.timings)
        others = tuple(dict.fromkeys(self._machine.timings[t].owner for t in way.timings[1:]))
        return self._deviation(
            kind,
            time,
            name,
            self._spans.part(first),
            (earliest, latest),
            seen,
            expected,
            self._spans.counted_from(first, origin),
            others,
            since=origin,
        )

    def _soonest(self, way: Way, h: Hypothesis) -> int:
        timed = way.timings and not way.condition
        return self._spans.chain(h, way.timings)[1][0] if timed else 0

    def _aged_too_soon(self, h: Hypothesis, window: int, time: int, name: str, seen: str) -> Deviation:
        """Explain a change that would have been right once the oldest event of a count was too old to count."""
        limits = self.tracker.limits
        timing = limits.window_timings[window]
        assert timing is not None
        oldest = h.vars[h.windows[window][0]]
        allowed = limits.window(h, timing, oldest)
        expected = (
            f"{words.thing(self._board, name)} changes not before {self._spans.at(allowed[0])}"
            + self._spans.because(timing)
        )
        counted = self._spans.counted_from(timing, oldest)
        return self._deviation("early", time, name, self._spans.part(timing), allowed, seen, expected, counted)

    # -- lamps, requirements, starts -------------------------------------------------------------------------------

    def _lamp(self, death: Death) -> Deviation:
        assert death.upper is not None
        h, index = death.hypothesis, death.upper.which
        lamp = list(self._board.lamps.values())[index]
        line = self.engine.lamp_line(h.config, index)
        since = h.vars[h.lamps[index]]
        watch = self.tracker.evidence.lamps[index]
        look = None if watch is None else watch.first_against(line, since[1])
        row = lamp.lines[line]
        part = Part(lamp.id, row.clause or lamp.note.clause, lamp.at)
        seen = look.seen if look is not None else "another pattern"
        thing = words.thing(self._board, lamp.id)
        state = f" ({row.means})" if row.means else ""
        return self._deviation(
            "lamp",
            death.time,
            lamp.id,
            part,
            None,
            f"{thing} showed {seen}",
            f"{thing} shows {words.pattern(row.shows)}{state}, since {self._spans.at(since[1])}",
            None,
            since=since,
            seen_since=None if look is None else look.begins_earliest,
        )

    def _broken(self, death: Death, time: int) -> Deviation:
        """Explain the end of the last hypothesis by something that must not happen."""
        for broken, commands in self.tracker.firing.instants.broken:
            name = self._machine.outputs[commands[0][0]].output if commands else None
            return self._requirement(broken[0], time, name)
        if death.upper is not None and death.upper.kind in {"timing", "sum", "window"}:
            part = self._spans.part(death.upper.which)
            name = self._output_moved_by(death.hypothesis, death.upper.which)
            expected = f"{words.thing(self._board, name)} changes by {self._spans.at(time)}"
            return self._deviation(
                "late", time, name, part, None, "no change", expected + self._spans.because(death.upper.which), None
            )
        return self._deviation(
            "unasked", time, self._any_output(), Part(self._board.id, None, None), None, "", "", None
        )

    def _requirement(self, watch: int, time: int, changed: str | None) -> Deviation:
        requirement = self._machine.watches[watch].requirement
        signal = demands.output_asked_of(self._board, requirement, changed) or self._any_output()
        part = Part(requirement.id, requirement.note.clause, requirement.at)
        seen = f"the requirement is broken at {self._spans.at(time)}"
        return self._deviation("requirement", time, signal, part, None, seen, demands.in_words(requirement), None)

    def _output_moved_by(self, h: Hypothesis, timing: int) -> str:
        after = self._ways.after(h.config, timing)
        if after is not None:
            pairs = zip(self._machine.outputs, self.engine.outputs(h.config), self.engine.outputs(after), strict=True)
            for row, old, new in pairs:
                if old != new:
                    return row.output
        return self._any_output()

    def _any_output(self) -> str:
        return self._machine.outputs[0].output if self._machine.outputs else self._board.id

    def no_state(self, time: int, outputs: list[int], h: Hypothesis) -> Deviation:
        """Give the deviation of a board that drives its outputs as no state of it does."""
        output = outputs[0]
        name = self._machine.outputs[output].output
        shown = self.tracker.shown[output]
        part = responsible(self.engine, h.config, output, not shown)
        thing = words.thing(self._board, name)
        return self._deviation(
            "start",
            time,
            name,
            part,
            None,
            f"{thing} {'on' if shown else 'off'} at {self._spans.at(time)}",
            f"{thing} {'off' if shown else 'on'}: no state of the board drives its outputs like this",
            None,
            tuple(self._machine.outputs[i].output for i in outputs[1:]),
        )

    # -- words -------------------------------------------------------------------------------------------------------

    def _deviation(
        self,
        kind: str,
        time: int,
        signal: str,
        part: Part,
        window: Bounds | None,
        observed: str,
        expected: str,
        counted: str | None,
        others: tuple[str, ...] = (),
        since: Bounds | None = None,
        seen_since: int | None = None,
    ) -> Deviation:
        wave = self.tracker.evidence.trace.waves.get(signal)
        channel = signal if wave is None or wave.channel is None else wave.channel
        at: Spot | None = part.at
        return Deviation(
            kind,  # type: ignore[arg-type]  # the callers above pass the literals of DeviationKind
            time,
            signal,
            channel,
            part.id,
            part.clause,
            None if window is None else window[0],
            None if window is None else window[1],
            observed,
            expected,
            counted_from=counted,
            at=at,
            others=others,
            counted_since=since,
            seen_since=seen_since,
        )

    def _showing(self, signal: str, value: bool, time: int) -> int:
        """Give the first moment from a time on at which the recording shows a signal like this; the time, if never."""
        wave = self.tracker.evidence.trace.waves[signal]
        if wave.at(time) == value:
            return time
        return next((at for at, shown in wave.recorded_changes() if at > time and shown == value), time)

    def _recorded(self, signal: str, event: Happening) -> int:
        """Give the time that the recording gives to a change."""
        wave = self.tracker.evidence.trace.waves[signal]
        rows = zip(wave.changes(), wave.recorded.tolist(), strict=True)
        change = (event.earliest, event.latest, event.value)
        return next((at for one, at in rows if one == change), event.latest)
