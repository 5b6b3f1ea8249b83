"""What a test asks for by its marker: the board, the rig, the cases.

Law of this module: a path goes from the folder of the test file; everything wrong ends in a message and no traceback.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from boardgauge.command.failing import Unusable
from boardgauge.command.finding import find_board
from boardgauge.language.model import Board
from boardgauge.language.problems import Unreadable, UnusableSpec, nearest_of
from boardgauge.language.quantity_reader import read_plain_time
from boardgauge.machine.scenario import Scenario
from boardgauge.machine.scenario_reader import read_scenario
from boardgauge.plans import Sitting, read_plan
from boardgauge.rigs.kinds import open_rig as open_kind
from boardgauge.rigs.library import TIME_LIMIT, open_library
from boardgauge.rigs.needed import MissingPackage
from boardgauge.rigs.rig import Rig, RigFailure
from boardgauge.rigs.rig_file import read_rig_file

ARGUMENTS = ("firmware", "rig", "plan", "scenarios", "time_limit", "latency")


def board_of(mark: pytest.Mark, item: Any) -> Board:
    """Give the board that the marker names: a file from the folder of the test, or one of the library."""
    if len(mark.args) != 1 or not isinstance(mark.args[0], (str, Path)):
        raise _wrong(item, 'the marker board_spec names one spec: board_spec("extract-fan")')
    for name in mark.kwargs:
        if name not in ARGUMENTS:
            near = nearest_of(name, ARGUMENTS)
            raise _wrong(item, f"board_spec takes no {name!r}; " + (f"did you mean {near!r}?" if near else ""))
    beside = item.path.parent / mark.args[0]
    try:
        return find_board(str(beside if beside.is_file() else mark.args[0]))
    except Unusable as error:
        raise _wrong(item, str(error)) from None


def open_rig(mark: pytest.Mark, item: Any, board: Board) -> Rig:
    """Open the rig that the marker or ``--firmware`` names."""
    given = item.config.getoption("--firmware")
    firmware, rig_file = mark.kwargs.get("firmware"), mark.kwargs.get("rig")
    if given is None and (firmware is None) == (rig_file is None):
        raise _wrong(item, "board_spec names a firmware or a rig; or give --firmware")
    try:
        if given is None and rig_file is not None:
            return _virtual(open_kind(read_rig_file(item.path.parent / rig_file, board)), item, rig_file)
        path = item.config.invocation_params.dir / given if given is not None else item.path.parent / firmware
        if not path.is_file():
            raise _wrong(item, f"there is no firmware {path}; was it built?")
        return open_library(
            board, path, name=path.name, time_limit=_limit(mark, item), latency=_said_time(mark, item, "latency", 0)
        )
    except (UnusableSpec, MissingPackage) as error:
        raise _wrong(item, str(error)) from None
    except RigFailure as error:
        raise _wrong(item, f"the firmware cannot be tried: {error}") from None


def _virtual(rig: Rig, item: Any, name: str) -> Rig:
    """Refuse a rig that waits by the clock: it may drive something real, and a test is no place for that."""
    if not rig.facts.virtual:
        rig.close()
        raise _wrong(item, f"the rig {name} works in real time; carry out its plan with boardgauge bench")
    return rig


def _limit(mark: pytest.Mark, item: Any) -> int:
    limit = _said_time(mark, item, "time_limit", TIME_LIMIT)
    if limit <= 0:
        raise _wrong(item, "time_limit: no call takes no time")
    return limit


def _said_time(mark: pytest.Mark, item: Any, name: str, otherwise: int) -> int:
    said = mark.kwargs.get(name)
    if said is None:
        return otherwise
    try:
        return read_plain_time(str(said))
    except Unreadable as error:
        raise _wrong(item, f'{name}: {error.message}; write it as "10 s" or "1 ms"') from None


def cases_of(mark: pytest.Mark, item: Any) -> list[tuple[str, Sitting | Scenario]]:
    """Give each sitting of the plan and each scenario, with a name."""
    board = board_of(mark, item)
    found: list[tuple[str, Sitting | Scenario]] = []
    plan, pattern = mark.kwargs.get("plan"), mark.kwargs.get("scenarios")
    if plan is None and pattern is None:
        raise _wrong(item, "bench_case needs a plan or scenarios in the marker board_spec")
    try:
        if plan is not None:
            path = item.path.parent / plan
            if not path.is_file():
                raise _wrong(item, f"there is no plan {path}")
            found += [(sitting.id, sitting) for sitting in read_plan(path, board).sittings]
        if pattern is not None:
            files = sorted(item.path.parent.glob(pattern))
            if not files:
                raise _wrong(item, f"no scenario is called {pattern} beside the test")
            found += [(path.stem, read_scenario(path, board)) for path in files]
    except UnusableSpec as error:
        raise _wrong(item, str(error)) from None
    return found


def _wrong(item: Any, message: str) -> BaseException:
    """Give the failure that is told without a traceback: what is wrong stands in the test, not in us."""
    return pytest.fail.Exception(f"{item.nodeid}: {message}", pytrace=False)
