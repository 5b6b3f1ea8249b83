"""Tell one instant of a story in a plain sentence: what came, and what the board did about it, with times and clauses.

Law of this module: it says what the story holds. A time that ran out is told with its limits, an answer to an input
with the time it may take.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from attrs import frozen

from boardgauge.drawings import words
from boardgauge.drawings.time_words import limits
from boardgauge.language import expressions as ex
from boardgauge.language.advice import reached
from boardgauge.language.model import Board, InputKind
from boardgauge.language.quantities import Duration
from boardgauge.machine.config import Config
from boardgauge.machine.run import Entry, Taken
from boardgauge.machine.table import Region, Timing
from boardgauge.sheets.figures import joined, sentence, stopwatch
from boardgauge.sheets.study import Study

_CHANGES = {
    InputKind.CALL: ("goes off", "comes on"),
    InputKind.SWITCH: ("opens", "closes"),
    InputKind.LINK: ("is taken off", "is fitted"),
    InputKind.BUTTON: ("is released", "is pressed"),
}
_LAMPS = ("lamp", "led", "light", "indicator")


@frozen
class Telling:
    """Tells about the instants of one board."""

    study: Study

    def story(self, entries: Sequence[Entry], before: Config) -> Iterator[str]:
        """Give the sentences for instants that follow each other, from what the board was in ``before``.

        A wait that shows nothing by itself is told where something later in the story takes it.
        """
        for number, entry in enumerate(entries):
            said = self.sentence(entry, before, waited=self._is_waited_for(entry, entries[number + 1 :]))
            if said is not None:
                yield said
            before = entry.config

    def _is_waited_for(self, entry: Entry, later: Iterable[Entry]) -> bool:
        """Tell whether a time that is over is still full as an input first moves something that hangs on it.

        What another time moves comes by itself: nobody has to know of this one to see it.
        """
        machine, reads = self.study.machine, self.study.reads
        over = {timing for timing in entry.causes.expired if machine.timings[timing].role == "for"}
        full = entry.config.full
        for each in later:
            over = {timing for timing in over if full >> timing & 1}
            full = each.config.full
            if not over or each.outcome is None:
                continue
            moved = [machine.regions[region].rule for region, _, _ in each.outcome.moved]
            moved += [machine.outputs[output].output for output, _ in each.outcome.commands]
            behind = set(moved).union(*(reached(name, reads) for name in moved))
            taken = {timing for timing in over if machine.timings[timing].owner in behind}
            if taken and each.causes.changes:
                return True
            over -= taken
        return False

    def sentence(self, entry: Entry, before: Config, *, waited: bool = False) -> str | None:
        """Give the sentence for an instant, None where nothing in it concerns a reader.

        ``waited``: a time that is over concerns the reader, though nothing shows yet.
        """
        causes = list(self._causes(entry, before))
        effects = list(self._effects(entry, before))
        only_for = not entry.causes.changes and not entry.causes.dropped and entry.causes.power is None
        roles = {self.study.machine.timings[timing].role for timing in entry.causes.expired}
        if not causes and not effects:
            return None
        if not effects and only_for and not waited and roles <= {"for", "requirement", "not judged"}:
            return None
        told = sentence(" and ".join(causes)) if causes else ""
        cited = joined_clauses(self._clauses(entry))
        if not effects:
            if entry.causes.power is not None:
                return f"{told}{cited}"
            rest = "Nothing changes yet." if entry.causes.changes else "Nothing else changes."
            return f"{told} {rest}{cited}"
        within = self._within(entry)
        done = "; ".join(effects)
        return f"{told} {sentence(f'{within}{done}')}{cited}".strip()

    # -- what came ---------------------------------------------------------------------------------------------------

    def _causes(self, entry: Entry, before: Config) -> Iterator[str]:
        machine = self.study.machine
        if entry.causes.power is not None:
            yield "the power comes on" if entry.causes.power else "the power is lost: every output goes off at once"
        over = [machine.timings[index] for index in entry.causes.expired]
        over = [r for r in over if r.role not in {"requirement", "not judged"}]
        over = [r for r in over if r.owner not in self.study.board.requirements]
        yield from (self._expired(row, before) for row in over)
        came = list(self._calls(entry.causes.changes))
        came += [self._taken(taken) for taken in entry.causes.changes if not self._is_call(taken)]
        yield from (f"at the same moment {one}" if over else one for one in came)
        for region in entry.causes.dropped:
            row = machine.timings[machine.regions[region].timings[0]]
            label = words.thing(self.study.board, machine.regions[region].rule)
            yield f"the oldest of {label} is {stopwatch(self._duration(row, before).nominal)} old and counts no longer"

    def _is_call(self, taken: Taken) -> bool:
        level = self.study.machine.levels[taken.level]
        return self.study.board.inputs[level.input].kind is InputKind.CALL

    def _calls(self, changes: Iterable[Taken]) -> Iterator[str]:
        board, machine = self.study.board, self.study.machine
        for value in (True, False):
            names = [
                call_name(board, machine.levels[t.level].input)
                for t in changes
                if t.value is value and self._is_call(t)
            ]
            if names:
                verb = _CHANGES[InputKind.CALL][value] if len(names) == 1 else ("come on" if value else "go off")
                yield f"the {joined(names)} {verb}"

    def _taken(self, taken: Taken) -> str:
        board = self.study.board
        level = self.study.machine.levels[taken.level]
        row = board.inputs[level.input]
        label = words.thing(board, level.input)
        if level.comparison is not None:
            return f"now {words.comparison(board, level.comparison, taken.value)}"
        if row.kind is InputKind.SIGNAL:
            return f"the signal “{label}” {'comes on' if taken.value else 'goes off'}"
        return f"{the(label)} {_CHANGES[row.kind][taken.value]}"

    def _expired(self, row: Timing, before: Config) -> str:
        board = self.study.board
        lasts = self._duration(row, before)
        time = stopwatch(lasts.nominal)
        if lasts.shortest != lasts.longest:
            time += f" ({limits(lasts)})"
        label = words.thing(board, row.owner)
        match row.role:
            case "for" if isinstance(row.condition, ex.For):
                held = words.holds(board, row.condition.condition, True)
                return f"for {time} it has been so: {held}"
            case "target":
                return f"{label} has added up to {time}"
            case "step":
                return f"step {words.plain(row.name)} is over after {time}"
            case "at most":
                return f"{label} has lasted its longest after {time}"
            case "at least":
                return f"{label} has lasted its shortest after {time}"
            case "lasts":
                return f"{time} after it tripped, {label} is over by itself"
        return f"{the(label)} is over after {time}"

    def _duration(self, row: Timing, config: Config) -> Duration:
        if row.setting is None:
            return row.choices[0]
        return row.choices[self.study.engine.settings.choice(config.chosen, row.index)]

    # -- what the board did ------------------------------------------------------------------------------------------

    def _within(self, entry: Entry) -> str:
        board, machine = self.study.board, self.study.machine
        if entry.causes.power is not None or entry.outcome is None:
            return ""
        if entry.causes.changes and not entry.causes.expired:
            slowest = max(board.inputs[machine.levels[t.level].input].responds_within for t in entry.causes.changes)
            return f"within {stopwatch(slowest)} " if slowest else ""
        return ""

    def _effects(self, entry: Entry, before: Config) -> Iterator[str]:
        if entry.outcome is None:
            return
        outcome, machine, board = entry.outcome, self.study.machine, self.study.board
        for region, old, new in outcome.moved:
            row = machine.regions[region]
            if row.kind != "output":
                yield self._moved(row, old, new)
        for value in (True, False):
            names = [words.thing(board, machine.outputs[o].output) for o, v in outcome.commands if v is value]
            if names:
                verb = ("comes on" if value else "goes off") if len(names) == 1 else ("come on" if value else "go off")
                yield f"{joined(names)} {verb}"
        yield from self._delays(entry, before)
        engine = self.study.engine
        lamps = zip(board.lamps.values(), engine.lamp_lines(before), engine.lamp_lines(entry.config), strict=True)
        for lamp, old, new in lamps:
            if old != new and new >= 0:
                shows = words.pattern(lamp.lines[new].shows)
                yield f"{lamp_name(board, lamp.id)} shows {shows} ({words.lamp_line(board, lamp.id, new)})"

    def _delays(self, entry: Entry, before: Config) -> Iterator[str]:
        assert entry.outcome is not None, "asked only where something happened"
        machine, board = self.study.machine, self.study.board
        begun = {timing for timing, _ in entry.outcome.begun}
        for delay in machine.delays:
            if delay.hidden:
                continue
            ran = before.running >> delay.timing & 1 and delay.timing not in entry.causes.expired
            label = words.thing(board, delay.rule)
            if delay.timing in begun:
                lasts = self._duration(machine.timings[delay.timing], entry.config)
                yield f"{label} {'starts over' if ran else 'begins'} ({stopwatch(lasts.nominal)})"
            elif ran and not entry.config.running >> delay.timing & 1:
                yield f"{label} is cut short"

    def _moved(self, row: Region, old: int, new: int) -> str:
        name = words.thing(self.study.board, row.rule)
        match row.kind:
            case "count":
                limit = len(row.places) - 1
                if new == 0:
                    return f"{name} is back to none"
                return f"{name} is at {new} of {limit}" if new < limit else f"{name} has reached {limit}"
            case "accumulator":
                return f"{name} is full" if new else f"{name} starts again from nothing"
            case "sequence":
                return f"{name} goes to step {words.plain(row.places[new])}" if new else f"{name} is over"
            case "lockout":
                return f"{name} trips" if new else f"{name} clears"
            case "toggle":
                return f"{name} turns {'on' if new else 'off'}"
        return f"{name} {'begins' if new else 'ends'}"

    # -- clauses -----------------------------------------------------------------------------------------------------

    def _clauses(self, entry: Entry) -> Iterator[str | None]:
        machine = self.study.machine
        for timing in entry.causes.expired:
            row = machine.timings[timing]
            if row.owner not in self.study.board.requirements:
                yield row.clause
        if entry.outcome is None:
            return
        for region, _, _ in entry.outcome.moved:
            yield machine.regions[region].clause
        for output, _ in entry.outcome.commands:
            yield machine.outputs[output].clause
        begun = {timing for timing, _ in entry.outcome.begun}
        for delay in machine.delays:
            if delay.timing in begun and not delay.hidden:
                yield machine.timings[delay.timing].clause


def joined_clauses(found: Iterable[str | None]) -> str:
    """Give the clauses cited, each once, in brackets; nothing where there are none."""
    cited = list(dict.fromkeys(words.clause(one) for one in found if one))
    return f" [{', '.join(cited)}]" if cited else ""


def the(label: str) -> str:
    """Give a name with its article, also where it was written with one ("a long defrost").

    >>> the("fan delay"), the("a long defrost"), the("anti-short-cycle delay")
    ('the fan delay', 'the long defrost', 'the anti-short-cycle delay')
    """
    first, _, rest = label.partition(" ")
    return f"the {rest if first.lower() in ('a', 'an', 'the') and rest else label}"


def call_name(board: Board, name: str) -> str:
    """Give the name of a call with the word call in it."""
    label = words.thing(board, name)
    return label if "call" in label.lower() else f"{label} call"


def lamp_name(board: Board, name: str) -> str:
    """Give the name of a lamp by which a reader knows it for one."""
    label = words.thing(board, name)
    return label if any(word in label.lower() for word in _LAMPS) else f"{label} lamp"


def title_of(board: Board, kind: str, name: str) -> str:
    """Give the title of what is told about: a rule, a step, an output, or a line of a lamp (``id:line``)."""
    if kind == "lamp":
        lamp, line = name.rsplit(":", 1)
        return f"{lamp_name(board, lamp)}: {words.lamp_line(board, lamp, int(line))}"
    label = words.thing(board, name)
    return {"step": f"step {label}", "output": f"{label} on"}.get(kind, label)
