"""What ``boardgauge vet`` proves of a spec: its requirements, and that each of its parts can come about.

Law of this module: it prints what was proved, refuted or left open, and each refutation with the scenario that a person
can try.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import click
from attrs import define, field, frozen

from boardgauge.drawings import words
from boardgauge.language import Board
from boardgauge.language.model import Accumulator, Count, Lockout, Toggle
from boardgauge.machine.compile import compile_board
from boardgauge.machine.narrate import narrate
from boardgauge.machine.scenario_writer import write_scenario
from boardgauge.proving.reach import reachable_parts
from boardgauge.proving.requirements import Proof, prove
from boardgauge.proving.witness import Witness

EVERY = 0.2
"""Seconds between two lines of progress."""


@frozen
class Proofs:
    """How to prove: the most zones kept, and the folder that scenarios go to (None: they are only told)."""

    most: int
    folder: Path | None = None


def prove_spec(given: str, board: Board, proofs: Proofs) -> tuple[int, str]:
    """Print what can be proved of a board; give how much is refuted, and words for the last line."""
    told = Told()
    counts: dict[str, int] = {}
    for proof in prove(board, proofs.most, told.say):
        told.wipe()
        counts[proof.verdict] = counts.get(proof.verdict, 0) + 1
        _tell(given, board, proof, proofs)
    # Last, for it takes the longest: all of the board is looked at.
    refuted = counts.get("refuted", 0)
    reached = reachable_parts(board, proofs.most, progress=lambda done, there: told.say("the parts", done, there))
    told.wipe()
    for row in reached.items:
        if row.verdict == "can":
            continue
        what = f"{row.item.owner}: {row.item.what}"
        if row.verdict == "never":
            refuted += 1
            why = row.why or "whatever the inputs and the times, as long as the board obeys its rules"
            click.echo(f"{row.item.at}: never: {what}: {why}")
        else:
            click.echo(f"{row.item.at}: not decided: {what}: {row.why}")
    for rule in reached.stuck:
        refuted += 1
        click.echo(f"{board.rules[rule].at}: never: {rule}: it ends, once it is on: not even by a loss of power")
    for name in reached.locked:
        held = board.rules.get(name) or board.outputs[name]
        meant = isinstance(held, Count | Accumulator | Toggle) or (isinstance(held, Lockout) and held.clears is None)
        if not meant:
            click.echo(f"{held.at}: advice: {name}: only a loss of power ends it, once it is on")
    parts = [f"all of its {len(reached.items)} parts can come about"] if not refuted and reached.complete else []
    order = ("proved", "refuted", "undecided", "watched")
    parts += [
        f"{counts[word]} requirement{'' if counts[word] == 1 else 's'} {word}" for word in order if word in counts
    ]
    return refuted, "".join(f", {part}" for part in parts)


def _tell(given: str, board: Board, proof: Proof, proofs: Proofs) -> None:
    row = proof.requirement
    clause = words.clause(row.note.clause)
    title = f"{row.id} ({row.note.title})" if row.note.title else row.id
    verdict = "not decided" if proof.verdict == "undecided" else proof.verdict
    click.echo(f"{row.at}: {verdict}: {title}{f', {clause}' if clause else ''}: {proof.how}")
    if proof.vacuous:
        click.echo("    what it is about never comes up, so it asks nothing of the board")
    if proof.witness is None:
        return
    for line in narrate(compile_board(board), proof.witness.run):
        click.echo(f"    {line}")
    if proofs.folder is not None:
        for path in _written(board, proof.witness, proofs.folder, row.id):
            click.echo(f"    {path}")
        click.echo(
            f"    boardgauge simulate {given} {proofs.folder / (row.id + '.toml')} --timings {proof.witness.timings}"
        )


def _written(board: Board, witness: Witness, folder: Path, name: str) -> list[Path]:
    from boardgauge.sheets.story_chart import chart_of_run

    folder.mkdir(parents=True, exist_ok=True)
    scenario, chart = folder / f"{name}.toml", folder / f"{name}.svg"
    scenario.write_text(write_scenario(witness.scenario, board), encoding="utf-8")
    drawn = chart_of_run(board, witness.run, witness.scenario.title)
    if drawn is None:
        return [scenario]
    chart.write_text(drawn, encoding="utf-8")
    return [scenario, chart]


@define
class Told:
    """A line that says how far proving is, on a terminal only."""

    shown: bool = field(factory=lambda: sys.stderr.isatty())
    _last: float = 0.0
    _width: int = 0

    def say(self, name: str, done: int, there: int, what: str = "zones") -> None:
        """Write the line, now and then."""
        now = time.monotonic()
        if not self.shown or now - self._last < EVERY:
            return
        self._last = now
        line = f"{name}: {done} of {there} {what}" if done else f"{name}: {there} {what}"
        sys.stderr.write("\r" + line.ljust(self._width))
        sys.stderr.flush()
        self._width = len(line)

    def wipe(self) -> None:
        """Take the line away."""
        if self._width:
            sys.stderr.write("\r" + " " * self._width + "\r")
            sys.stderr.flush()
            self._width = 0
