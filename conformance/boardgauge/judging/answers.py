"""What was worked out about the configurations of one board, for all traces judged with it.

Law of this module: a key holds all that its answer hangs on, and no answer hangs on a trace.
"""

from __future__ import annotations

from attrs import define, field

from boardgauge.machine.config import Config


@define
class Answers:
    """The answers of ``Commuting`` and of ``Limits.stopped_by``, each by its own key; and what ``Limits`` reads off a
    board: the ranges of its timings, and the clock rates that their tolerances allow."""

    ranges: list[tuple[tuple[int, int, int, int], ...]] = field(factory=list)
    rates: list[tuple[int, int]] = field(factory=list)

    groups: dict[tuple[object, ...], tuple[tuple[int, ...], ...]] = field(factory=dict)
    silent: dict[tuple[object, ...], bool] = field(factory=dict)
    pulses: dict[tuple[Config, int], tuple[int, ...] | None] = field(factory=dict)
    shows_nothing: dict[tuple[object, ...], bool] = field(factory=dict)
    all_silent: dict[tuple[object, ...], bool] = field(factory=dict)
    indifferent: dict[tuple[object, ...], bool] = field(factory=dict)
    stops: dict[tuple[Config, int, bool, int], bool] = field(factory=dict)
