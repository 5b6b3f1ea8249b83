"""What is worked out of a board once, for all of its sheets.

Law of this module: everything here comes from the machine, and nothing is worked out before somebody asks for it.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from typing import TypeVar, cast

from boardgauge.language.advice import reads_of
from boardgauge.language.model import Board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.explore import MOST_CONFIGS, Exploration, explore
from boardgauge.machine.operating import Overview, overview
from boardgauge.machine.settle import Engine
from boardgauge.machine.table import Machine

_NO_LIMIT = 1_000_000
_T = TypeVar("_T")


class Study:
    """A board with what exploring its machine tells of it. ``most_configs``: where exploring stops."""

    def __init__(self, board: Board, most_configs: int = MOST_CONFIGS) -> None:
        self.board = board
        self._most_configs = most_configs
        self._made: dict[object, object] = {}

    def once(self, what: object, make: Callable[[], _T]) -> _T:
        """Give what ``make`` gives, made once for each ``what``."""
        if what not in self._made:
            self._made[what] = make()
        return cast("_T", self._made[what])

    @cached_property
    def reads(self) -> dict[str, set[str]]:
        """What each thing of the board reads."""
        return reads_of(self.board)

    @cached_property
    def machine(self) -> Machine:
        """The board's machine."""
        return compile_board(self.board)

    @cached_property
    def engine(self) -> Engine:
        """What steps the machine."""
        return Engine(self.machine)

    @cached_property
    def found(self) -> Exploration:
        """Every configuration of the machine, and the steps between them."""
        return explore(self.machine, limit=self._most_configs)

    @cached_property
    def states(self) -> Overview:
        """Every operating state, all outputs told apart."""
        return overview(self.machine, found=self.found, most_states=_NO_LIMIT, most_edges=_NO_LIMIT)

    @cached_property
    def overview(self) -> Overview:
        """The operating states as they are drawn: few enough for a page."""
        return overview(self.machine, found=self.found)
