"""Who watches a run: a person at a terminal, or nobody.

Law of this module: a watcher is told and asked; it drives nothing, and what it does takes no time.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol

from boardgauge.judging.judgement import Deviation
from boardgauge.plans.plan import PlanStep, Sitting
from boardgauge.rigs.rig import Value


class Watcher(Protocol):
    """Is told what becomes of a run, and asked whether it may go on."""

    def begins(self, sitting: Sitting, number: int, step: PlanStep) -> None:
        """A step begins."""

    def goes_on(self, now: int, levels: Mapping[str, Value]) -> None:
        """So far the rig has come, and so stand the signals."""

    def deviates(self, deviation: Deviation) -> None:
        """The judge found a deviation in the recording so far; its times are those of the recording."""

    def agrees(self, sitting: Sitting, settings: Mapping[str, str], cautions: tuple[str, ...]) -> bool:
        """Ask, with the supply off, whether a sitting may begin: settings to choose, cautions to have read."""
