"""One drawn board and one drawn trace, judged and asked of the grid.

Law of this module: a draw that does not come to rest, or that the clauses leave open, is no comparison.
"""

from __future__ import annotations

from collections import Counter

from attrs import frozen
from hypothesis import strategies as st

from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Judgement
from boardgauge.language import UnusableSpec, read_board_text
from boardgauge.language.model import Board
from boardgauge.language.quantities import S
from boardgauge.machine.picture import CannotSettle
from boardgauge.traces import condition, default_wiring
from oracle.chains import drives, recording, shown, spoilt, told
from oracle.grid import Grid, TooManyError
from oracle.look import Refused
from oracle.trace import Trace


@frozen
class Compared:
    """What the judge and the oracle say of one trace; ``dies`` is the tick at which it became impossible."""

    text: str
    board: Board
    trace: Trace
    spoilt: bool
    dies: int | None
    judgement: Judgement

    @property
    def accused(self) -> bool:
        """Tell whether the judge says that it deviates."""
        return self.judgement.verdict == "deviates"

    @property
    def missed(self) -> bool:
        """Tell whether it is impossible and the judge lets it pass."""
        return self.dies is not None and not self.accused

    def __str__(self) -> str:
        found = f"impossible at {self.dies}" if self.dies is not None else "possible"
        return f"{self.text}\n{told(self.trace)}\noracle: {found}\njudge: {self.judgement.deviations[:1]}"


def verdict(board: Board, trace: Trace, unit: int = S) -> Judgement:
    """Judge a trace, recorded exactly."""
    return Judge.of(board).judge(condition(recording(trace, unit), default_wiring(board), board))


def compared(data: st.DataObject, texts: st.SearchStrategy[str], counts: Counter[str]) -> Compared | None:
    """Draw a board and a trace, and ask both; None, with the reason counted, where there is nothing to compare."""
    text = data.draw(texts)
    try:
        board = read_board_text(text, "drawn.toml")
        trace = shown(Judge.of(board).engine, data.draw(drives(board)), data.draw(st.integers(0, 9999)))
        seen = data.draw(spoilt(trace, list(board.outputs)))
        dies = Grid.of(board).dies_at(seen)
    except (UnusableSpec, CannotSettle, Refused, TooManyError) as reason:
        counts[type(reason).__name__] += 1
        return None
    return Compared(text, board, seen, seen != trace, dies, verdict(board, seen))
