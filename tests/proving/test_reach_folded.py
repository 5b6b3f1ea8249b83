"""Law: what can come about is the same whether ways of the inputs count as one or stand apart."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, assume, given, settings

from boardgauge.boards import board_path
from boardgauge.language import read_board
from boardgauge.language.model import Board
from boardgauge.proving import instants
from boardgauge.proving.folding import Kernel, Numbers
from boardgauge.proving.looking import Item
from boardgauge.proving.reach import reachable_parts
from proving.drawn import asked


def both(board: Board, limit: int) -> list[tuple[dict[Item, str], object]] | None:
    """Give what comes of looking, folded and not: each verdict, and what no way leads out of. None if that is a lot."""
    found = [reachable_parts(board, limit, folded=folded) for folded in (True, False)]
    if not all(row.complete for row in found):
        return None
    return [({item.item: item.verdict for item in row.items}, (row.locked, row.stuck)) for row in found]


@settings(
    max_examples=settings().max_examples // 4,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
@given(asked())
def test_folded_the_same_can_come_about_and_the_same_never(board: Board) -> None:
    """On drawn boards of all kinds of rules; what is left undecided by one way of looking says nothing."""
    found = both(board, 4_000)
    assume(found is not None)
    assert found is not None
    (folded, out_of), (apart, out_of_apart) = found
    assert out_of == out_of_apart
    for item, verdict in folded.items():
        if "undecided" not in (verdict, apart[item]):
            assert verdict == apart[item], item


@pytest.mark.parametrize("name", ["extract-fan", "iec-ctu", "sump-pumps"])
def test_on_boards_of_the_library_the_same_can_come_about(name: str) -> None:
    found = both(read_board(board_path(name)), 20_000)
    assert found is not None
    assert found[0] == found[1]


def test_a_line_that_only_inputs_bring_about_is_seen() -> None:
    """It changes without a trace in the rules, so that its ways of the inputs are folded into one."""
    board = read_board(board_path("extract-fan"))
    lines = [row for row in reachable_parts(board).items if "shows line" in row.item.what]
    assert lines
    assert {row.verdict for row in lines} == {"can"}


def test_what_joining_hides_is_looked_for_with_less_of_it() -> None:
    """On this board one end shows only where zones of a place stay apart: joined, no way there has moments."""
    found = reachable_parts(read_board(board_path("compressor-guard")))
    assert {row.verdict for row in found.items} == {"can"}


def test_what_was_forgotten_is_worked_out_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same is explored, and the same found, with nothing kept of what instants do; it only takes more work."""
    board = read_board(board_path("sump-pumps"))
    worked_out = []
    work_out = instants.Instants._work_out

    def counted(self: instants.Instants, kernel: Kernel, every: instants.Every, before: Numbers) -> None:
        worked_out.append(kernel)
        work_out(self, kernel, every, before)

    monkeypatch.setattr(instants.Instants, "_work_out", counted)
    kept, once = reachable_parts(board), len(worked_out)
    monkeypatch.setattr(instants, "MOST_KEPT", 0)
    assert reachable_parts(board) == kept
    assert len(worked_out) - once > once
