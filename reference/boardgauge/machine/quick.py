"""An engine for looking at very many configurations: it tells no causes, and knows where nothing moves any more.

Law of this module: the configurations that it gives are those of ``Engine``; only causes and some noting are left out.
"""

from __future__ import annotations

from boardgauge.machine.config import THE_INSTANT, Cause, Config
from boardgauge.machine.logic import Happens
from boardgauge.machine.moves import Look
from boardgauge.machine.picture import Painter
from boardgauge.machine.scanning import ScanningEngine
from boardgauge.machine.settle import Engine, Made
from boardgauge.machine.table import Machine


class QuickEngine(Engine):
    """An engine that asks for no causes, and remembers where nothing moves any more: most steps lead to such places."""

    def __init__(self, machine: Machine, painter: type[Painter] = Painter) -> None:
        super().__init__(machine, painter)
        self._at_rest: set[Config] = set()

    def cause(self, happens: Happens | None, look: Look) -> Cause:
        """Give no cause."""
        return THE_INSTANT

    def instant(
        self, config: Config, levels: tuple[bool, ...], facts: int, dropped: tuple[int, ...], made: Made
    ) -> Config:
        """Give the configuration after one instant; where nothing moves, work nothing out."""
        looks_again = not facts and not dropped and levels == config.levels
        if looks_again and config in self._at_rest:
            return config
        flips = dict(made.flips) if looks_again else {}
        after = super().instant(config, levels, facts, dropped, made)
        if looks_again and after == config and made.flips == flips:
            self._at_rest.add(config)
        return after


class QuickScanningEngine(ScanningEngine, QuickEngine):
    """The same for a board whose rules may contradict themselves."""
