"""The input filter for the whole of a long recording at once.

Law of this module: ``filtered_at_once`` gives what ``boardgauge.machine.inputs.filtered`` gives, which is the readable
definition. Most of what a chattering line does is never seen, and of that no object is ever made.
"""

from __future__ import annotations

import numpy as np

from boardgauge.language.quantities import TimeRange
from boardgauge.machine.inputs import Change
from boardgauge.traces.wave import Wave, truth


def filtered_at_once(level: int, wave: Wave, ignores: TimeRange, end: int) -> list[Change]:
    """Give the changes of one level that a board with this filter may take in, in order of time.

    ``end`` is where the recording ends: what is not over by then may still turn out too short to be seen.
    """
    early, late, values = wave.earliest, wave.latest, wave.values
    if not len(values):
        return []
    # A burst is a run of changes each of which is surely over too soon to count alone.
    joined = (values[1:] >= 0) & (values[:-1] >= 0) & (late[1:] - early[:-1] < ignores.least)
    first = np.concatenate(([0], np.flatnonzero(~joined) + 1))
    last = np.append(first[1:] - 1, len(values) - 1)
    before = np.where(first > 0, values[first - 1], -1 if wave.initial is None else int(wave.initial))
    begin, over, value = early[first], late[last], values[last]
    burst, span = last > first, over - begin
    news = ~burst | (value != before) | (span >= ignores.least)
    # Of a long burst nobody knows what is made of it before its end.
    doubt = burst & np.where(value != before, span > ignores.greatest, span >= ignores.least)
    rows: list[tuple[int, int, int]] = []
    for at in np.flatnonzero(news).tolist():
        if doubt[at]:
            rows.append((-1, int(begin[at]), int(begin[at])))
        rows.append((int(value[at]), int(begin[at]), int(over[at])))
    changes = []
    for place, (number, begins, ends) in enumerate(rows):
        until = rows[place + 1][1] if place + 1 < len(rows) else end
        short = until - ends <= ignores.greatest and ignores.greatest > 0
        changes.append(Change(level, truth(number), begins, ends, droppable=short and number >= 0))
    return changes
