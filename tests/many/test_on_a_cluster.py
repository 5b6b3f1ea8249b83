"""A cluster finds what this machine finds, loses nothing when a worker dies, and tells what is wrong with it."""

from __future__ import annotations

import os
import signal
import socket
from collections.abc import Iterator

import pytest
from click.testing import CliRunner

from boardgauge.command.program import main
from boardgauge.many import cluster as on_dask
from boardgauge.many.cluster import OtherVersion, UnusableCluster, judge_sent, on_cluster
from boardgauge.many.judging_one import judge_item
from boardgauge.many.order import InOrder
from many_recordings import BYPASS, FOLDER, GOOD, OTHER, PACKED, TOO_SOON, Deadly, a_job, items_of

distributed = pytest.importorskip("distributed")


@pytest.fixture(scope="module")
def cluster() -> Iterator[distributed.LocalCluster]:
    """A scheduler with two workers, processes of their own."""
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0", silence_logs=50
    ) as started:
        yield started


def test_the_command_prints_the_same(cluster: distributed.LocalCluster, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is printed is what is printed without a cluster, even if only one recording may be out at a time."""
    monkeypatch.setattr(on_dask, "MOST_BYTES", 1)
    files = [str(GOOD), str(PACKED), "nowhere.vcd"]
    here = CliRunner().invoke(main, ["judge", "tarnbeck", *files])
    there = CliRunner().invoke(main, ["judge", "tarnbeck", *files, "--cluster", cluster.scheduler_address])
    assert (there.exit_code, there.stdout, there.stderr) == (here.exit_code, here.stdout, here.stderr)


def test_a_worker_that_is_killed_costs_nothing(cluster: distributed.LocalCluster) -> None:
    """One of two workers is killed midway: every recording has one outcome, the one that is found here."""
    items = items_of([GOOD, BYPASS, TOO_SOON, FOLDER / "nowhere.vcd", OTHER, PACKED, GOOD])
    job = a_job()
    killed = None
    found = []
    for outcome in on_cluster(job, items, cluster.scheduler_address, InOrder()):
        if killed is None:
            # One that is at work, or would be the next to get some.
            workers = sorted(cluster.scheduler.workers.values(), key=lambda worker: -len(worker.processing))
            killed = workers[0].address
            os.kill(pid_of(cluster, killed), signal.SIGKILL)
        found.append(outcome)
    assert found == [judge_item(job.packed(), item) for item in items]
    assert killed not in cluster.scheduler.workers


def test_a_recording_that_ends_workers_is_reported(cluster: distributed.LocalCluster) -> None:
    """A recording over which every worker dies is reported; those that shared a worker with it are judged."""
    cluster.scheduler.allowed_failures, allowed = 0, cluster.scheduler.allowed_failures
    items = [*items_of([OTHER]), Deadly(1, (str(TOO_SOON),)), *items_of([GOOD, PACKED], 2)]
    try:
        found = list(on_cluster(a_job(), items, cluster.scheduler_address, InOrder()))
    finally:
        cluster.scheduler.allowed_failures = allowed
    assert [outcome.number for outcome in found] == [0, 1, 2, 3]
    words = f"{TOO_SOON}: the workers of the cluster that judged it ended in doing so"
    assert [outcome.error for outcome in found] == [None, words, None, None]


def pid_of(cluster: distributed.LocalCluster, address: str) -> int:
    """Give the process of a worker, asked of what minds it, since it may be busy itself."""
    return next(minder.process.pid for minder in cluster.workers.values() if minder.worker_address == address)


def test_another_version_is_refused(cluster: distributed.LocalCluster, monkeypatch: pytest.MonkeyPatch) -> None:
    """Workers with another version do not judge: their answer could be another."""
    monkeypatch.setattr(on_dask, "version", lambda _: "0.0.1")
    with pytest.raises(UnusableCluster, match=r"OtherVersion: they have version .* they need Boardgauge 0\.0\.1"):
        list(on_cluster(a_job(), items_of([GOOD]), cluster.scheduler_address, InOrder()))
    monkeypatch.undo()
    with pytest.raises(OtherVersion):
        judge_sent(a_job().packed(), items_of([GOOD])[0], [GOOD.read_bytes()], "0.0.1")


def test_a_scheduler_that_is_not_there(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where no scheduler answers it is told, with status 2 and nothing printed."""
    monkeypatch.setattr(on_dask, "CONNECT", 0.5)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        address = f"tcp://127.0.0.1:{free.getsockname()[1]}"
        result = CliRunner().invoke(main, ["judge", "tarnbeck", str(GOOD), "--cluster", address])
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr.startswith(f"boardgauge: --cluster no scheduler answers at {address}")


def test_a_cluster_without_workers(monkeypatch: pytest.MonkeyPatch) -> None:
    """A scheduler that has no workers is told, with status 2."""
    monkeypatch.setattr(on_dask, "CONNECT", 1.0)
    without = distributed.LocalCluster(n_workers=0, protocol="tcp://", dashboard_address=":0", silence_logs=50)
    with without as empty, pytest.raises(UnusableCluster, match="has no workers"):
        list(on_cluster(a_job(), items_of([GOOD]), empty.scheduler_address, InOrder()))
