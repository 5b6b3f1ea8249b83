"""Timelines for simulated boards, nastier than recordings: inputs close together, near the ends of timings, too short.

``timelines(board)`` is a Hypothesis strategy; a timeline begins without power, or with the supply on from the start.
"""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from boardgauge.language.model import Board, InputKind
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Timeline

S = 1_000_000
SHORTEST_SUPPLY_GAP = S // 10


def gaps(board: Board) -> st.SearchStrategy[int]:
    """Give times between changes: about as long as some timing of the board, as its filter, or as anything."""
    machine = compile_board(board)
    lengths = sorted({c.nominal for t in machine.timings for c in t.choices if c.nominal < 200 * S})
    rates = sorted({row.times_faster for row in machine.speed_ups})
    lengths += [length // rate for length in lengths for rate in rates]
    near = st.builds(lambda a, b: max(1, a + b), st.sampled_from(lengths or [S]), st.integers(-600_000, 600_000))
    return st.one_of(
        st.integers(1, 40_000),
        st.integers(40_000, 160_000),
        st.integers(1, 400_000),
        near,
        near,
        st.integers(S, 60 * S),
    )


@st.composite
def timelines(draw: Any, board: Board, longest: int = 300 * S, most: int = 25) -> Timeline:
    """Give a timeline for the inputs of a board that are on or off."""
    names = [name for name, row in board.inputs.items() if row.kind is not InputKind.SENSOR]
    level = {name: board.inputs[name].contact == "normally closed" for name in names}
    changes: dict[str, list[tuple[int, bool]]] = {"power": [(0, False)], **{name: [] for name in names}}
    for name in names:
        level[name] = level[name] != draw(st.booleans())
        changes[name].append((0, level[name]))
    time = draw(st.integers(1, 2 * S))
    changes["power"].append((time, True))
    for gap, name in draw(st.lists(st.tuples(gaps(board), st.sampled_from([*names, "power"])), max_size=most)):
        time += gap
        if name == "power":
            # A supply gap between two samples leaves nothing to judge by, so it is taken not to be there.
            time = max(time, changes["power"][-1][0] + SHORTEST_SUPPLY_GAP)
        if time > longest:
            break
        if name == "power":
            changes["power"].append((time, not changes["power"][-1][1]))
        else:
            level[name] = not level[name]
            changes[name].append((time, level[name]))
    end = time + draw(st.integers(S, 60 * S))
    return Timeline({name: tuple(row) for name, row in changes.items()}, end)
