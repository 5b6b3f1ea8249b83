"""``boardgauge compare``: two boards, or a spec and what it was.

Law of this module: it finds the specs, asks once and prints; whatever cannot be compared is told with what to do.
"""

from __future__ import annotations

import json
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click
from attrs import define, evolve

from boardgauge.command.failing import CONFORMS, DEVIATES, UNDECIDED, Unusable
from boardgauge.command.finding import find_board, spec_path
from boardgauge.command.proving import Told
from boardgauge.comparing.comparison import Comparer, Comparison, Row
from boardgauge.comparing.terminals import not_comparable
from boardgauge.comparing.trial import Bench, Telling
from boardgauge.language import Board, UnusableSpec, read_board_text
from boardgauge.language.quantity_writer import write_plain_time
from boardgauge.machine.compile import compile_board
from boardgauge.machine.narrate import narrate
from boardgauge.machine.run import Value
from boardgauge.machine.scenario import Power, Scenario, ScenarioStep, SetInputs, Wait
from boardgauge.machine.scenario_writer import write_scenario, written_value
from boardgauge.pairing.mapping_file import read_renaming
from boardgauge.pairing.renaming import Renaming

STATUS = {"same": CONFORMS, "different": DEVIATES, "undecided": UNDECIDED}
LIES = {
    "inside": "inside it",
    "around": "it goes beyond it",
    "overlaps": "overlaps it",
    "apart": "apart from it",
}


@define
class Asked:
    """What was asked for on the command line."""

    one_way: bool
    renaming: str | None
    scenarios: str | None
    as_json: bool
    most: int


def compare_boards(first: str, second: str, asked: Asked) -> int:
    """Compare two boards; give the exit status."""
    return _compare(find_board(first), find_board(second), (first, second), asked)


def compare_since(spec: str, revision: str, asked: Asked) -> int:
    """Compare a spec with its version at a revision; give the exit status."""
    path = spec_path(spec)
    now = find_board(spec)
    before = _at_revision(path, revision)
    return _compare(before, now, (f"{spec} at {revision}", spec), asked)


def _at_revision(path: Path, revision: str) -> Board:
    if revision.startswith("-"):
        raise Unusable(f"--since {revision}: this is no revision")
    folder = path.resolve().parent
    text = _shown(folder, revision, path.name)
    if text is None:
        raise Unusable(f"--since {revision}: {_why_not(folder, revision, path.name)}")
    try:
        return read_board_text(text, f"{path} at {revision}", library=lambda name: _shown(folder, revision, name))
    except UnusableSpec as error:
        raise Unusable(f"{path} at {revision} cannot be used:\n{error}") from None


def _why_not(folder: Path, revision: str, name: str) -> str:
    if _git(folder, "rev-parse", "--git-dir").returncode:
        return f"{folder} is in no git repository"
    if _git(folder, "rev-parse", "--verify", "--quiet", f"{revision}^{{commit}}").returncode:
        return "git knows no such revision here"
    return f"there was no {name} in {folder} at that revision"


def _git(folder: Path, *words: str) -> subprocess.CompletedProcess[bytes]:
    try:
        return subprocess.run(["git", "-C", str(folder), *words], capture_output=True, check=False)
    except FileNotFoundError:
        raise Unusable("--since needs git, and there is no program of that name") from None


def _shown(folder: Path, revision: str, name: str) -> str | None:
    done = _git(folder, "show", f"{revision}:./{name}")
    if done.returncode:
        return None
    try:
        return done.stdout.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise Unusable(f"--since {revision}: {name} was not UTF-8 text then") from None


def _compare(first: Board, second: Board, names: tuple[str, str], asked: Asked) -> int:
    renaming = Renaming()
    if asked.renaming is not None:
        try:
            renaming = read_renaming(Path(asked.renaming), first, second)
        except UnusableSpec as error:
            raise Unusable(f"{asked.renaming} cannot be used:\n{error}") from None
    called = renaming.in_first_words(second)
    reasons = not_comparable(first, called, renaming)
    if reasons:
        raise Unusable(f"{names[0]} and {names[1]} are not comparable:\n" + "\n".join(f"  {row}" for row in reasons))
    alone = (renaming.first_only.get("inputs", {}), renaming.second_only.get("inputs", {}))
    held: dict[str, Value] = {n: value for row in alone for n, value in row.items() if value is not None}
    told = Told()
    comparer = Comparer(
        first, called, asked.one_way, held, asked.most, progress=lambda what, there: told.say(what, 0, there, "states")
    )
    found = comparer.compare()
    told.wipe()
    said = _Saying(first, called, second, names, renaming, asked)
    if asked.as_json:
        click.echo(json.dumps(said.as_json(found), ensure_ascii=False))
        said.write(found)
    else:
        for line in said.lines(found):
            click.echo(line)
    return STATUS[found.verdict]


@define
class _Saying:
    """Says what came of it."""

    first: Board
    called: Board
    second: Board
    names: tuple[str, str]
    renaming: Renaming
    asked: Asked

    def lines(self, found: Comparison) -> Iterator[str]:
        one, other = self.names
        if self.asked.one_way:
            verdicts = {
                "same": f"{other} may replace {one}",
                "different": f"{other} does what {one} may not",
                "undecided": f"not decided whether {other} may replace {one}",
            }
        else:
            verdicts = {
                "same": f"{one} and {other}: same",
                "different": f"{one} and {other}: different",
                "undecided": f"{one} and {other}: not decided",
            }
        yield f"{verdicts[found.verdict]}: {found.how}"
        if found.telling is not None:
            yield ""
            yield "the shortest scenario found that tells them apart:"
            yield from self._telling(found.telling, "whole", "  ", story=True)
        if found.rows:
            yield ""
            number = len(found.rows)
            yield f"what differs, {'one entry' if number == 1 else f'each of {number} entries alone'}:"
            for row in found.rows:
                yield from self._row(row, found)

    def _row(self, row: Row, found: Comparison) -> Iterator[str]:
        what = row.difference
        clause = f", clause {what.clause}" if what.clause else ""
        only = {"first": f": only {self.names[0]} has it", "second": f": only {self.names[1]} has it", None: ""}
        head = what.name if what.section in {"board", "not_judged"} else f"{what.section}.{what.name}"
        yield f"  {head}{clause}{only[what.only]}"
        if what.only is None:
            for change in what.changes:
                yield f"    {change.key}: {change.first or 'nothing'} -> {change.second or 'nothing'}"
        for time in what.times:
            yield f"    {time.name}: {_range(time.first)} -> {_range(time.second)}: {LIES[time.lies]}"
        along = f" (with {', '.join(row.along)}, which it needs)" if row.along else ""
        if row.telling is not None:
            if found.telling is not None and row.telling.scenario == found.telling.scenario:
                yield f"    tells{along}: the scenario above"
            else:
                yield f"    tells{along}:"
                yield from self._telling(row.telling, what.name, "      ")
            return
        words = {
            "no difference": "allowed, proved" if self.asked.one_way else "makes no difference, proved",
            "allowed": "allowed: the other's range holds all of it",
            "only watches": "changes nothing that the board does",
            "nothing speaks of it": "does nothing by itself; what speaks of it is told of there",
            "not found": f"no scenario found that tells, in {row.tried} states tried",
        }
        yield f"    {words[row.said]}{along}"

    def _telling(self, telling: Telling, name: str, indent: str, story: bool = False) -> Iterator[str]:
        does = 0 if telling.does == "first" else 1
        doer = (self.first, self.called)[does]
        yield f"{indent}{in_words(telling.scenario, self.first, self.called)}"
        if story:
            yield f"{indent}what {self.names[does]} does, at {telling.timings} times:"
            for line in narrate(compile_board(doer), telling.run):
                yield f"{indent}  {line}"
        yield f"{indent}{self.names[does]} at {telling.timings} times, by the spec of {self.names[1 - does]}:"
        deviation = telling.deviation
        yield f"{indent}  seen      {deviation.observed}"
        yield f"{indent}  expected  {deviation.expected}"
        for path in self._written(telling, name):
            yield f"{indent}{path}"

    def write(self, found: Comparison) -> None:
        """Write the scenarios without saying so."""
        if found.telling is not None:
            list(self._written(found.telling, "whole"))
        for row in found.rows:
            if row.telling is not None:
                list(self._written(row.telling, row.difference.name))

    def _written(self, telling: Telling, name: str) -> Iterator[Path]:
        if self.asked.scenarios is None:
            return
        folder = Path(self.asked.scenarios)
        folder.mkdir(parents=True, exist_ok=True)
        for which, board in enumerate((self.first, self.second)):
            called = Bench.for_board(telling.scenario, self.first if which == 0 else self.called)
            called = self._named(called, board) if which else called
            path = folder / f"{name}-{('first', 'second')[which]}.toml"
            title = f"tells {self.names[0]} from {self.names[1]}"
            scenario = evolve(called, board=board.id, title=title)
            path.write_text(write_scenario(scenario, board), encoding="utf-8")
            yield path

    def _named(self, scenario: Scenario, board: Board) -> Scenario:
        """Give the scenario in the second board's own words."""
        own = self.renaming.in_second_words
        steps: list[ScenarioStep] = []
        for step in scenario.steps:
            if isinstance(step, SetInputs):
                steps.append(SetInputs({own(name): value for name, value in step.values.items()}))
            else:
                steps.append(step)
        start = {own(name): value for name, value in scenario.start.items()}
        return evolve(scenario, board=board.id, steps=tuple(steps), start=start)

    def as_json(self, found: Comparison) -> dict[str, Any]:
        """Give the comparison as plain values for ``json``."""
        return {
            "first": self.names[0],
            "second": self.names[1],
            "asked": "replaces" if self.asked.one_way else "same",
            "verdict": found.verdict,
            "how": found.how,
            "scenario": None if found.telling is None else self._telling_json(found.telling),
            "differences": [self._row_json(row) for row in found.rows],
        }

    def _row_json(self, row: Row) -> dict[str, Any]:
        what = row.difference
        return {
            "table": what.section,
            "name": what.name,
            "only": what.only,
            "clause": what.clause,
            "changes": [{"key": c.key, "first": c.first, "second": c.second} for c in what.changes],
            "times": [
                {
                    "name": t.name,
                    "first": [t.first[0] / 1e6, t.first[1] / 1e6],
                    "second": [t.second[0] / 1e6, t.second[1] / 1e6],
                    "lies": t.lies,
                }
                for t in what.times
            ],
            "result": row.said,
            "with": list(row.along),
            "scenario": None if row.telling is None else self._telling_json(row.telling),
            "states_tried": row.tried,
        }

    def _telling_json(self, telling: Telling) -> dict[str, Any]:
        does = 0 if telling.does == "first" else 1
        return {
            "done_by": self.names[does],
            "timings": telling.timings,
            "told_at_all_timings": telling.always,
            "toml": write_scenario(Bench.for_board(telling.scenario, self.first), self.first),
            "kind": telling.deviation.kind,
            "rule": telling.deviation.rule,
            "observed": telling.deviation.observed,
            "expected": telling.deviation.expected,
        }


def in_words(scenario: Scenario, *boards: Board) -> str:
    """Give a scenario in one line."""
    inputs = {name: row for board in boards for name, row in board.inputs.items()}

    def said(values: Any) -> str:
        return ", ".join(f"{name} {written_value(inputs[name], value)}" for name, value in values.items())

    parts = []
    if scenario.positions:
        parts.append(", ".join(f"{name} at {place}" for name, place in scenario.positions.items()))
    if scenario.start:
        parts.append("begin with " + said(scenario.start))
    for step in scenario.steps:
        match step:
            case SetInputs(values=values):
                parts.append(said(values))
            case Power(on=on):
                parts.append("supply on" if on else "supply off")
            case Wait(time=time):
                parts.append(f"wait {write_plain_time(time)}")
    for name, lengths in scenario.durations.items():
        parts.append(f"{name} lasting {', then '.join(write_plain_time(time) for time in lengths)}")
    return "; ".join(parts)


def _range(limits: tuple[int, int]) -> str:
    return f"{limits[0] / 1e6:g} to {limits[1] / 1e6:g} s"


def main_status(first: str, second: str | None, since: str | None, asked: Asked) -> int:
    """Do what was asked for; give the exit status."""
    if since is not None and second is not None:
        raise Unusable("--since compares one spec with itself: give one board")
    if since is not None:
        return compare_since(first, since, asked)
    if second is None:
        raise Unusable("give two boards, or one and --since REVISION")
    return compare_boards(first, second, asked)
