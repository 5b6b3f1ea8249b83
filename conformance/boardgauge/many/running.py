"""Judge recordings, where it is quickest.

Law of this module: it chooses where recordings are judged, never what comes of them. A worker takes about as long to
start as a small recording to judge; so small ones are judged in this process, until half a second has gone.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from boardgauge.many.job import Item, Job, Outcome
from boardgauge.many.judging_one import judge_item
from boardgauge.many.order import InOrder

SMALL = 1_000_000
"""Bytes of a recording that is judged in this process: too few to bring it down."""
SOON = 0.5
"""Seconds after which workers are worth their start."""


def judge_all(job: Job, items: Sequence[Item], jobs: int | None, order: InOrder) -> Iterator[Outcome]:
    """Judge recordings on at most ``jobs`` cores (None: all there are); give the outcomes in their order.

    ``items`` are numbered from 0. Broken off, ``order`` holds what was judged and not given yet.
    """
    packed = job.packed()
    begun = time.monotonic()
    for at, item in enumerate(items):
        if jobs != 1 and len(items) > 1 and not (_small(item) and time.monotonic() - begun < SOON):
            # Loaded only when needed.
            from boardgauge.many.workers import cores, in_workers

            yield from in_workers(packed, items[at:], jobs or cores(), order)
            return
        order.add(judge_item(packed, item))
        yield from order.ready()


def _small(item: Item) -> bool:
    try:
        return sum(Path(part).stat().st_size for part in item.parts) <= SMALL
    except (OSError, ValueError):
        # It will be reported, which takes no time.
        return True
