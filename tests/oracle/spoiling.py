"""Hypothesis strategies for recordings of the suite's cases, spoilt a little.

Law of this module: the board is as it was; of its recording one or two rows are moved by a tick or by seconds, left
out, or undone again. What is then right nobody has written down: two engines have to agree on it.
"""

from __future__ import annotations

import copy
import tomllib
from decimal import Decimal
from functools import cache
from importlib.resources import files
from itertools import pairwise
from typing import Any

from hypothesis import assume
from hypothesis import strategies as st

from boardgauge.cases import Case, all_cases
from boardgauge.cases.case import case_from
from boardgauge.language import read_board_text

_OTHER = {"on": "off", "off": "on", "closed": "open", "fitted": "open", "pressed": "released", "released": "pressed",
          "lit": "dark", "dark": "lit"}  # fmt: skip
_BY = [Decimal(text) for text in ("0.000001", "0.01", "0.05", "0.1", "0.5", "1", "2", "5")]
_FOR = [Decimal(text) for text in ("0.01", "0.06", "0.11", "0.5", "1", "3")]


@cache
def spoilable() -> tuple[Case, ...]:
    """Give the cases with a recording of a small board. A board of which some case is known to fail waits for it."""
    broken = {case.board for case in all_cases() if case.known_failure}
    return tuple(c for c in all_cases() if c.asks == "judge" and not c.from_library and c.board not in broken)


@st.composite
def spoilt_cases(draw: st.DrawFn) -> Case:
    """Draw a case with a recording that nobody has thought of."""
    case = draw(st.sampled_from(spoilable()))
    document = copy.deepcopy(_document(case.name))
    recording = document["recording"]
    rows: list[list[Any]] = recording.setdefault("rows", [])
    for _ in range(draw(st.integers(1, 2))):
        if rows:
            _spoil(draw, rows, recording["end"])
    document["verdict"] = ["conforms", "deviates", "undecided"]
    document.pop("first", None)
    spoilt = case_from(document, case.name)
    assume(not _broken_up(spoilt))
    return spoilt


def _broken_up(case: Case) -> bool:
    """Tell whether an input is off and on again, or on and off, for less than its filter ever takes in.

    By the clause such a change is never seen, so that what it breaks up is one change from its beginning on: so says
    the judge. The oracle has a filter that begins anew, as many boards have, and lets the board answer later.
    """
    board = read_board_text(case.board, "board.toml", library=dict(case.bases).get)
    for name, given in board.inputs.items():
        times = sorted(row.time for row in case.rows if row.signal == name)
        if len(times) > 2 and any(0 < late - early < given.filter.least for early, late in pairwise(times)):
            return True
    return False


@cache
def _document(name: str) -> dict[str, Any]:
    text = files("boardgauge.cases").joinpath(f"{name}.toml").read_text("utf-8")
    return tomllib.loads(text, parse_float=Decimal)


def _spoil(draw: st.DrawFn, rows: list[list[Any]], end: Decimal) -> None:
    index = draw(st.integers(0, len(rows) - 1))
    time, signal, state = rows[index]
    how = draw(st.sampled_from(("move", "move", "drop", "undo", "pulse")))
    if how == "drop":
        del rows[index]
    elif how == "move":
        moved = time + draw(st.sampled_from(_BY)) * draw(st.sampled_from((1, -1)))
        if time and 0 <= moved <= end:
            rows[index] = [moved, signal, state]
    elif state in _OTHER:
        undone = time + draw(st.sampled_from(_FOR))
        again = undone + draw(st.sampled_from(_FOR))
        rows += [[undone, signal, _OTHER[state]]] * (undone <= end)
        rows += [[again, signal, state]] * (how == "pulse" and again <= end)
