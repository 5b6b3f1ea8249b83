"""Blocks of a file worked on while others are still being read.

Law of this module: what comes out comes out in the order of the file, complaints too; how many processors there are
changes nothing but the time it takes.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, TypeVar

from boardgauge.traces.errors import UnreadableRecording
from boardgauge.traces.source import Block

if TYPE_CHECKING:
    from concurrent.futures import Future

T = TypeVar("T")
_MOST_THREADS = 4
ALONE = 16 * 1024**2
"""So many bytes are worked on without help: threads cost more than they gain on a short file."""


def worked_ahead(blocks: Iterator[Block], work: Callable[[bytes], T]) -> Iterator[tuple[Block, T]]:
    """Give each block with what ``work`` makes of its data; of a long file, several are worked on at once."""
    threads = min(os.cpu_count() or 1, _MOST_THREADS)
    alone = 0
    for block in blocks:
        yield block, work(block.data)
        alone += len(block.data)
        if alone >= ALONE and threads > 1:
            break
    else:
        return
    complaint: UnreadableRecording | None = None
    from concurrent.futures import ThreadPoolExecutor  # a short file needs none

    waiting: deque[tuple[Block, Future[T]]] = deque()
    with ThreadPoolExecutor(threads) as pool:
        while True:
            # One more than there are threads: each finds its next block waiting.
            while complaint is None and len(waiting) <= threads:
                try:
                    more = next(blocks, None)
                except UnreadableRecording as error:
                    complaint = error  # what was read before it comes first
                    break
                if more is None:
                    break
                waiting.append((more, pool.submit(work, more.data)))
            if not waiting:
                break
            block, future = waiting.popleft()
            yield block, future.result()
    if complaint is not None:
        raise complaint
