"""How what outputs show agrees with a hypothesis, where the two come together after a stretch that was not judged.

Law of this module: an output that is still to change in time agrees.
"""

from __future__ import annotations

from boardgauge.judging.hypothesis import Draft, Hypothesis
from boardgauge.judging.tracker import Tracker


def differences(tracker: Tracker, h: Hypothesis, time: int) -> list[int]:
    """Give the outputs that show at a time what a hypothesis does not have them show."""
    wanted = tracker.engine.outputs(h.config)
    found = []
    for output, value in enumerate(tracker.shown):
        if value is None or value == wanted[output] or tracker.limits.masked(h.config, output):
            continue
        queue = h.queues[output]
        if not queue:
            found.append(output)
            continue
        due = min(h.vars[queue[-1].act][1] + tracker.limits.lags[output], queue[-1].cap)
        if tracker.evidence.trace.seen_by(due) < time:
            found.append(output)
    return found


def caught_up(tracker: Tracker, h: Hypothesis, output: int) -> Hypothesis:
    """Give the hypothesis with only the last command of an output still to come, if it has not shown."""
    wanted, queue = tracker.engine.outputs(h.config)[output], h.queues[output]
    draft = Draft.of(h)
    draft.queues[output] = () if wanted == tracker.shown[output] or not queue else queue[-1:]
    return draft.freeze()
