"""Judge on a Dask cluster that is there already.

Law of this module: a recording's bytes go with it, so that workers need nothing but Boardgauge, of this very version;
what comes back is what this machine would have found. A worker that is lost costs its recordings no more than time:
the scheduler gives them to another, and each outcome is taken once.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Iterator, Sequence
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import uuid4

from boardgauge.many.job import Item, Job, Outcome
from boardgauge.many.judging_one import judge_item
from boardgauge.many.order import InOrder

if TYPE_CHECKING:
    from distributed import Client, Future

CONNECT = 10.0
"""Seconds to wait for the scheduler to answer, and for a first worker."""
LOOK = 2.0
"""Seconds between two looks at whether there are workers."""
NO_WORKERS = 60.0
"""Seconds without any worker after which the cluster is given up."""
MOST_BYTES = 256 * 1024**2
"""Bytes of recordings that are out at one time; a larger recording goes out alone."""


class UnusableCluster(Exception):
    """A cluster that cannot be reached, or cannot judge; the message says why and what to do."""


class OtherVersion(Exception):
    """A worker has another version of Boardgauge."""


def on_cluster(job: Job, items: Sequence[Item], address: str, order: InOrder) -> Iterator[Outcome]:
    """Judge recordings on the cluster whose scheduler is at ``address``; give the outcomes in their order.

    Raises UnusableCluster.
    """
    client = _client(address)
    try:
        yield from _Run(client, address, job.packed(), order).outcomes(items)
    finally:
        # Not waited for: the cluster may be gone.
        client.close(timeout=5)


def judge_sent(packed: bytes, item: Item, contents: Sequence[bytes], client_version: str) -> Outcome:
    """Judge a recording on a worker."""
    here = version("boardgauge")
    if here != client_version:
        raise OtherVersion(f"they have version {here}, and this is {client_version}")
    return judge_item(packed, item, contents)


def _client(address: str) -> Client:
    try:
        from distributed import Client
        from distributed.comm import get_address_host_port
    except ImportError:
        raise UnusableCluster('needs dask.distributed: in the clone, pip install ".[cluster]"') from None
    # What it has to say of lost connections is said by us, in words.
    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    try:
        # Asked first, since a client that cannot be made takes long to be rid of.
        get_address_host_port(address, strict=True)
        client = Client(address, timeout=CONNECT)
    except (OSError, ValueError, RuntimeError) as error:
        raise UnusableCluster(
            f"no scheduler answers at {address} ({_first_line(error)}); expected the address of a running one, such as "
            "tcp://bench-server:8786"
        ) from None
    try:
        client.wait_for_workers(1, timeout=CONNECT)
    except TimeoutError:
        client.close(timeout=5)
        raise UnusableCluster(f"the scheduler at {address} has no workers") from None
    return client


class _Run:
    """One run on a cluster: what is out, and what came back.

    The scheduler blames whatever a worker had when it died. So a recording that it gives up is given out once more,
    alone: if a worker dies then, it is this recording's doing.
    """

    def __init__(self, client: Client, address: str, packed: bytes, order: InOrder) -> None:
        self.client = client
        self.address = address
        self.packed = packed
        self.order = order
        self.run = uuid4().hex
        self.version = version("boardgauge")
        self.out: dict[Future, tuple[Item, int]] = {}
        self.suspects: list[Item] = []
        self.alone: Item | None = None

    def outcomes(self, items: Sequence[Item]) -> Iterator[Outcome]:
        """Give recordings out in windows, and their outcomes in order."""
        waiting = list(reversed(items))
        while waiting or self.out or self.suspects:
            while waiting and self.alone is None and self._room(waiting[-1]):
                self._give(waiting.pop())
            if self.suspects and not self.out:
                self.alone = self.suspects.pop()
                self._give(self.alone)
            for future in self._done() if self.out else ():
                item, _ = self.out.pop(future)
                outcome = self._taken(future, item)
                if outcome is None:
                    self.suspects.append(item)
                else:
                    self.order.add(outcome)
                    self.alone = None
            yield from self.order.ready()

    def _done(self) -> set[Future]:
        """Wait for recordings to come back. Raises UnusableCluster if there is no worker for too long."""
        from distributed import wait

        seen = time.monotonic()
        while True:
            try:
                done: set[Future] = wait(list(self.out), timeout=LOOK, return_when="FIRST_COMPLETED").done
                return done
            except TimeoutError:
                if self._workers():
                    seen = time.monotonic()
                elif time.monotonic() - seen > NO_WORKERS:
                    raise UnusableCluster(f"the cluster at {self.address} has lost all its workers") from None

    def _room(self, item: Item) -> bool:
        bytes_out = sum(size for _, size in self.out.values())
        return self.order.may_give_out(item.number) and (not self.out or bytes_out + _size(item) <= MOST_BYTES)

    def _give(self, item: Item) -> None:
        try:
            contents = [Path(part).read_bytes() for part in item.parts]
        except (OSError, ValueError):
            # It fails here as it would on a worker, and with the same words.
            self.order.add(judge_item(self.packed, item))
            self.alone = None
            return
        again = "-again" if item is self.alone else ""
        future = self.client.submit(
            judge_sent,
            self.packed,
            item,
            contents,
            self.version,
            key=f"boardgauge-{self.run}-{item.number}{again}",
            pure=False,
        )
        self.out[future] = (item, sum(map(len, contents)))

    def _taken(self, future: Future, item: Item) -> Outcome | None:
        """Take what came back; None if the scheduler gave the recording up for the first time."""
        from distributed import KilledWorker

        try:
            if future.status == "finished":
                outcome = future.result(timeout=CONNECT)
                assert isinstance(outcome, Outcome)
                return outcome
            if future.status in ("cancelled", "lost"):
                raise UnusableCluster(f"the scheduler at {self.address} was lost")
            error = future.exception(timeout=CONNECT)
        except (TimeoutError, OSError):
            raise UnusableCluster(f"the scheduler at {self.address} does not answer any more") from None
        if isinstance(error, KilledWorker):
            if item is not self.alone:
                return None
            words = f"{item.name}: the workers of the cluster that judged it ended in doing so"
            return Outcome(item.number, item.name, None, words)
        raise UnusableCluster(
            f"the workers at {self.address} cannot judge: {type(error).__name__}: {_first_line(error)}; they need "
            f"Boardgauge {self.version}"
        )

    def _workers(self) -> bool:
        try:
            return bool(self.client.scheduler_info(n_workers=-1)["workers"])
        except (OSError, TimeoutError, KeyError):
            return False


def _size(item: Item) -> int:
    try:
        return sum(Path(part).stat().st_size for part in item.parts)
    except (OSError, ValueError):
        return 0


def _first_line(error: BaseException) -> str:
    return (str(error).splitlines() or [type(error).__name__])[0]
