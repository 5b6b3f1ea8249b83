"""Tell in plain sentences what a simulated board did.

Law of this module: it tells what the run holds and judges nothing. One sentence an instant: when, what came about at
the terminals or ran out, and what changed because of it, with the clauses of the document the spec cites.
"""

from __future__ import annotations

from collections.abc import Iterator

from boardgauge.language.model import Input, InputKind, Note
from boardgauge.machine.run import Causes, Entry, Run, Taken
from boardgauge.machine.table import Machine, Region, Timing

_WORDS = {
    InputKind.CALL: ("comes on", "goes off"),
    InputKind.SIGNAL: ("comes on", "goes off"),
    InputKind.SWITCH: ("closes", "opens"),
    InputKind.LINK: ("is fitted", "is taken off"),
    InputKind.BUTTON: ("is pressed", "is released"),
}


def narrate(machine: Machine, run: Run) -> tuple[str, ...]:
    """Give the story of a run, one sentence an instant in which something is to be told."""
    narrator = Narrator(machine)
    sentences = []
    running = 0
    for entry in run.story:
        sentence = narrator.sentence(entry, running)
        if sentence is not None:
            sentences.append(sentence)
        running = entry.config.running
    return tuple(sentences)


class Narrator:
    """Tells about the instants of one machine."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine

    def sentence(self, entry: Entry, running: int = 0) -> str | None:
        """Give the sentence for an instant, None where nothing in it concerns a reader.

        ``running`` are the timings (bits) that were running before it.
        """
        causes = list(self._causes(entry.causes))
        effects = list(self._effects(entry, running))
        if not causes and not effects:
            return None
        nothing = entry.causes == Causes()
        silent = "the rules move one another on" if nothing else "a time that only a requirement watches is over"
        told = ", ".join(causes) or silent
        what = ", ".join(effects)
        if not what and entry.outcome is not None and entry.causes.power is None:
            what = "nothing else changes"
        return f"at {seconds(entry.time)}: {told}" + (f"; {what}" if what else "")

    # -- what came about -----------------------------------------------------------------------------------------

    def _causes(self, causes: Causes) -> Iterator[str]:
        if causes.power is not None:
            yield "the supply comes on" if causes.power else "the supply is lost; every output goes off"
        for taken in causes.changes:
            yield self._taken(taken)
        for timing in causes.expired:
            row = self.machine.timings[timing]
            if row.role not in {"requirement", "not judged"}:
                yield f"{_spoken(row.name)} is over{clause(row.clause)}" if row.role != "for" else self._lasted(row)
        for region in causes.dropped:
            yield f"the oldest event of {_spoken(self.machine.regions[region].rule)} no longer counts"

    def _taken(self, taken: Taken) -> str:
        level = self.machine.levels[taken.level]
        row: Input = self.machine.board.inputs[level.input]
        if level.comparison is not None:
            limit = level.comparison.limit
            number = f"{float(limit.number):g} {limit.unit}"
            if taken.value:
                return f"{level.input} is {level.comparison.op} {number}"
            return f"{level.input} is no longer {level.comparison.op} {number}"
        return f"{level.input} {_WORDS[row.kind][0 if taken.value else 1]}"

    def _lasted(self, row: Timing) -> str:
        return f"what {_spoken(row.owner)} waits for has lasted {seconds(row.choices[0].nominal)}{clause(row.clause)}"

    # -- what changed --------------------------------------------------------------------------------------------

    def _effects(self, entry: Entry, running: int) -> Iterator[str]:
        if entry.outcome is None:
            return
        outcome = entry.outcome
        for region, old, new in outcome.moved:
            row = self.machine.regions[region]
            if row.kind != "output":
                yield self._moved(row, old, new)
        for output, value in outcome.commands:
            yield f"{self.machine.outputs[output].output} {'comes on' if value else 'goes off'}"
        begun = {timing for timing, _ in outcome.begun}
        for delay in self.machine.delays:
            time = self.machine.timings[delay.timing]
            ran = running >> delay.timing & 1 and delay.timing not in entry.causes.expired
            if delay.hidden:
                continue
            if delay.timing in begun:
                yield f"{_spoken(time.name)} {'starts over' if ran else 'begins'}{clause(time.clause)}"
            elif ran and not outcome.config.running >> delay.timing & 1:
                yield f"{_spoken(time.name)} is cut short{clause(time.clause)}"

    def _moved(self, row: Region, old: int, new: int) -> str:
        name, note = self._title(row), clause(row.clause)
        match row.kind:
            case "count":
                if new == 0:
                    return f"{name} is back to none{note}"
                reached = ", which is its limit" if new == len(row.places) - 1 else ""
                return f"{name} is at {new}{reached}{note}"
            case "accumulator":
                return f"{name} {'is reached' if new else 'starts again from nothing'}{note}"
            case "sequence":
                if new:
                    return f"{name} goes to {_spoken(row.places[new])}{note}"
                return f"{name} is over{note}"
            case "lockout":
                return f"{name} {'trips' if new else 'clears'}{note}"
        return f"{name} {'begins' if new else 'ends'}{note}"

    def _title(self, row: Region) -> str:
        rule = self.machine.board.rules.get(row.rule)
        note: Note | None = None if rule is None else rule.note
        return note.title if note is not None and note.title else _spoken(row.rule)


def _spoken(name: str) -> str:
    return name.replace("_", " ")


def seconds(time: int) -> str:
    """Give a time in seconds as a person would say it: ``30.0 s``, ``0.125 s``."""
    text = f"{time // 1_000_000}.{time % 1_000_000:06d}".rstrip("0")
    return f"{text}0 s" if text.endswith(".") else f"{text} s"


def clause(name: str | None) -> str:
    """Give a clause in brackets, nothing where there is none."""
    return f" (clause {name})" if name else ""
