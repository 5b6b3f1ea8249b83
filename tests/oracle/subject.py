"""The oracle as a second implementation under the suite of cases, written from the clauses and apart from the engine.

Law of this module: it answers only what it has worked out itself, and says ``skipped``, with the reason, for all else.
It shares the reader of specs with the engine, nothing that decides; refusals by the reader are therefore skipped. It
names no rule and no window: it tries everything and knows only whether, and from when on, nothing is left, and which
signal that hangs on.

Run it: ``python -m boardgauge.cases -q --subject python tests/oracle/subject.py``. On whole units the grid is asked, to
the microsecond the solver; the time of a deviation is the end of the shortest part of the recording that no board can
have shown.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable
from decimal import Decimal
from math import gcd
from pathlib import Path
from typing import Any

if __name__ == "__main__":  # started as a command, it finds its neighbours as the tests do
    sys.path.insert(0, str(Path(__file__).parents[1]))

from attrs import evolve, frozen

from boardgauge.cases.case import SUITE, Case, case_from
from boardgauge.cases.ours import board_of
from boardgauge.cases.subject import Judged, Outcome, Played, Row, Skipped
from boardgauge.cases.subject import Refused as TurnedDown
from boardgauge.language import UnusableSpec
from boardgauge.language.model import Board
from boardgauge.language.quantities import Duration
from oracle import smt
from oracle.grid import Grid, TooManyError
from oracle.look import Refused
from oracle.playing import played
from oracle.readings import LEAD, Reading, nominal, not_known, readings
from oracle.settling import Works
from oracle.trace import Trace

MOST_TICKS = 400
"""A recording of so many ticks goes to the grid; a longer one, or a finer one, to the solver."""


@frozen
class Oracle:
    """The oracle behind the adaptor of the suite."""

    def play(self, case: Case) -> Outcome:
        """Give what the board does at nominal times."""
        try:
            board = board_of(case)
        except UnusableSpec:
            return Skipped("the reader turns the spec down, and the reader is not the oracle's")
        if case.end is None:
            return Skipped("reading is not the oracle's")
        try:
            plain, rows = nominal(case, board)
            works = Works.of(plain, case.settings)
            return Played(tuple(Row(*row) for row in sorted(played(works, rows, case.end))))
        except Refused as error:
            return TurnedDown(str(error))
        except NotImplementedError as error:
            return Skipped(str(error))

    def judge(self, case: Case) -> Outcome:
        """Give whether the board can have shown the recording, and from when on it cannot.

        It conforms if it can have shown what was recorded, what is not known staying as it was; undecided is what only
        changes of that allow, or only changes at other moments between samples.
        """
        try:
            return _verdict(case, board_of(case))
        except (UnusableSpec, Refused) as error:
            return TurnedDown(str(error))
        except NotImplementedError as error:
            return Skipped(str(error))
        except (smt.TooDeepError, TooManyError):
            return Skipped("more ways than the oracle is willing to try")


def _verdict(case: Case, board: Board) -> Judged:
    lead = LEAD if case.start == "power-up" else 0
    dies = _all_die(readings(case, board, sampled=False), case)
    if dies is None:
        if not_known(case) and _all_die(readings(case, board, sampled=False, held=True), case) is not None:
            return Judged("undecided")
        return Judged("conforms")
    if case.sampled_every is not None:
        dies = _all_die(readings(case, board, sampled=True), case)
        if dies is None:
            return Judged("undecided")
    time, one = dies
    return Judged("deviates", time - lead, _to_blame(one, case, time))


def _all_die(found: Iterable[Reading], case: Case) -> tuple[int, Reading] | None:
    """Give the reading that goes on longest and when it dies, None if one does not."""
    last: tuple[int, Reading] | None = None
    for one in found:
        dies = _dies(one, case)
        if dies is None:
            return None
        if last is None or dies > last[0]:
            last = dies, one
    return last


def _to_blame(one: Reading, case: Case, time: int) -> str | None:
    """Give the one output or lamp without whose recording the rest would be possible for longer."""
    trace, found = one.trace, []
    for name in (*one.board.outputs, *trace.lamps):
        if name in trace.unseen:
            continue
        rest = evolve(trace, lamps={lamp: row for lamp, row in trace.lamps.items() if lamp != name})
        if name in one.board.outputs:
            signals = {**trace.signals, name: trace.signals[name][:1]}
            rest = evolve(trace, signals=signals, unseen=trace.unseen | {name})
        try:
            dies = smt.dies_at(one.board, rest, case.settings)
        except (NotImplementedError, Refused, smt.TooDeepError):
            return None
        if dies is None or dies > time:
            found.append(name)
    return found[0] if len(found) == 1 else None


def _dies(one: Reading, case: Case) -> int | None:
    """Give the time at which nothing is left, None if something is. In microseconds, as the trace is."""
    trace, unit = one.trace, _unit(one)
    try:
        if unit and trace.end // unit <= MOST_TICKS:
            scaled = Trace({n: tuple((t // unit, v) for t, v in row) for n, row in trace.signals.items()},
                           trace.end // unit)  # fmt: skip
            dies = Grid.of(one.board, unit).dies_at(scaled)
            return None if dies is None else dies * unit
    except (NotImplementedError, TooManyError):
        pass
    return smt.dies_at(one.board, trace, case.settings)


def _unit(one: Reading) -> int:
    """Give the greatest unit in which all times of a board and its trace are whole; 0 if the grid covers neither."""
    if one.board.settings or not one.trace.whole:
        return 0
    return gcd(one.trace.end, *(t for row in one.trace.signals.values() for t, _ in row), *_times(one.board))


def _times(board: Board) -> list[int]:
    works = Works.of(board)
    found = [board.responds_within, *(row.responds_within for row in board.inputs.values())]
    found += [row.lag for row in board.outputs.values()]
    keys = [("for", atom, 0) for atom in works.atoms if not isinstance(atom, str)]
    lasts = [works.duration(key) for key in keys]
    for rule in board.rules.values():
        lasts += [v for n in ("lasts", "within", "target", "at_least", "at_most") if (v := getattr(rule, n, None))]
    lasts += [step.lasts for _, step in works.steps.values() if step.lasts is not None]
    for duration in lasts:
        assert isinstance(duration, Duration)
        shortest, longest = duration.shortest, duration.longest
        if shortest != int(shortest) or longest != int(longest):
            return [1]
        found += [int(shortest), int(longest)]
    return found


def main() -> None:
    """Read a case on stdin and write the answer on stdout, as the contract says."""
    question = json.load(sys.stdin, parse_float=Decimal)
    beside = {key: question.pop(key) for key in ("suite", "case", "asks")}
    if beside["suite"] != SUITE:
        sys.exit(f"this is for version {SUITE} of the suite")
    case = case_from(question, beside["case"])
    outcome = Oracle().judge(case) if case.asks == "judge" else Oracle().play(case)
    json.dump(answer_of(outcome), sys.stdout)


def answer_of(outcome: Outcome) -> dict[str, Any]:
    """Give an outcome as the contract has it."""
    match outcome:
        case Played(rows=rows):
            return {"outputs": [[row.time / 1e6, row.signal, "on" if row.value else "off"] for row in rows]}
        case Judged(verdict=verdict, time=time, signal=signal):
            first: dict[str, Any] = {} if time is None else {"time": time / 1e6}
            first |= {} if signal is None else {"signal": signal}
            return {"verdict": verdict} | ({"first": first} if first else {})
        case TurnedDown(message=message):
            return {"refused": message}
        case Skipped(reason=reason):
            return {"skipped": reason}
    raise AssertionError(outcome)


if __name__ == "__main__":
    main()
