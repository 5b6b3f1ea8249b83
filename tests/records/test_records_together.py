"""Several benches on one database, and benches that are killed: nothing that was committed is lost, nothing is torn."""

from __future__ import annotations

import multiprocessing
import os
import random
import sqlite3
import time
from collections.abc import Callable
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path

import pytest

from boardgauge.records.adding import add_run
from boardgauge.records.database import UnusableRecords, open_records
from boardgauge.records.finding import find_run, find_runs
from boardgauge.records.verifying import verify
from records.bench_processes import PRELOAD, keep_on, made_up, open_and_tell, small_entry

pytestmark = pytest.mark.skipif(
    "forkserver" not in multiprocessing.get_all_start_methods(), reason="needs processes that can be killed cheaply"
)
BENCHES = 4
RUNS = 15
KILLS = 25
URL = "BOARDGAUGE_DATABASE"
"""Names an empty database for these tests in the environment, where there is one."""


@pytest.fixture(scope="module")
def processes() -> multiprocessing.context.ForkServerContext:
    """Give processes that begin with what they need loaded."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(PRELOAD)
    return context


def started(
    processes: multiprocessing.context.ForkServerContext, what: Callable[..., None], *given: object
) -> tuple[BaseProcess, Connection]:
    """Start a bench that does so; give its process and what it tells through."""
    ours, theirs = processes.Pipe(duplex=False)
    process = processes.Process(target=what, args=(*given, theirs))
    process.start()
    theirs.close()
    return process, ours


def all_told(benches: list[tuple[BaseProcess, Connection]]) -> list[int]:
    """Let benches come to their end; give the numbers of all runs that they told as kept."""
    numbers = []
    for process, ours in benches:
        numbers += told_by(ours)
        process.join()
        assert process.exitcode == 0
    return numbers


def told_by(connection: Connection) -> list[int]:
    """Give all that a process told before it ended."""
    found = []
    try:
        while True:
            found.append(connection.recv())
    except (EOFError, OSError):
        return found


def whole(path: Path) -> None:
    """Hold the file to SQLite's own check, and every run to its digests and parts."""
    connection = sqlite3.connect(path)
    assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    connection.close()
    with open_records(str(path)) as records:
        assert verify(records, None, lambda _: None).findings == ()
        for row in find_runs(records):
            run = find_run(records, row.number)
            assert (len(run.files), len(run.timings)) == (1, 1)


def test_benches_share_a_database(tmp_path: Path, processes: multiprocessing.context.ForkServerContext) -> None:
    """Benches that write at once, into records that are not there yet, each find all of their own in them."""
    path = tmp_path / "a.db"
    benches = [started(processes, keep_on, str(path), f"s{number}", RUNS) for number in range(BENCHES)]
    assert sorted(all_told(benches)) == list(range(1, BENCHES * RUNS + 1))
    with open_records(str(path)) as records:
        serials = [row.serial for row in find_runs(records)]
        assert {serial: serials.count(serial) for serial in serials} == {f"s{n}": RUNS for n in range(BENCHES)}
    whole(path)


@pytest.mark.skipif(URL not in os.environ, reason=f"no other database is named: an empty one's URL in {URL} is tried")
def test_benches_share_another_database(processes: multiprocessing.context.ForkServerContext) -> None:
    """On a database that is no file, benches that make the same board at once lose no run either."""
    url = os.environ[URL]
    benches = [started(processes, keep_on, url, "shared", RUNS) for _ in range(BENCHES)]
    numbers = all_told(benches)
    assert len(set(numbers)) == BENCHES * RUNS
    with open_records(url) as records:
        assert {row.number for row in find_runs(records)} >= set(numbers)
        assert verify(records, None, lambda _: None).findings == ()


def test_benches_make_a_database_at_once(tmp_path: Path, processes: multiprocessing.context.ForkServerContext) -> None:
    """Benches that all make the records at the same moment make them once, and lose no run."""
    for attempt in range(3):
        path = tmp_path / f"{attempt}.db"
        go = time.monotonic() + 0.5
        benches = [started(processes, open_and_tell, str(path), go) for _ in range(BENCHES)]
        assert sorted(all_told(benches)) == list(range(1, BENCHES + 1))
        whole(path)


def test_a_bench_that_is_killed_loses_nothing(
    tmp_path: Path, processes: multiprocessing.context.ForkServerContext
) -> None:
    """Benches killed at any moment, while another goes on: every run that was told as kept is there, and whole."""
    chance = random.Random(20260302)
    path = tmp_path / "a.db"
    kept: list[int] = []
    other, ours = started(processes, keep_on, str(path), "steady", 60)
    killed = 0
    for number in range(KILLS):
        process, mine = started(processes, keep_on, str(path), f"s{number}", 10_000)
        if number % 3:
            # From the first run on; else perhaps while the records are being opened or made.
            kept.append(mine.recv())
        time.sleep(chance.random() * 0.03)
        process.kill()
        process.join()
        killed += process.exitcode == -9
        kept += told_by(mine)
    kept += told_by(ours)
    other.join()
    assert (killed, other.exitcode) == (KILLS, 0)
    with open_records(str(path)) as records:
        there = {row.number for row in find_runs(records)}
        assert set(kept) <= there
        assert len(kept) > KILLS // 2
        # Beyond what was told, at most one run of each bench: the one that was on its way to be told.
        assert len(there) - len(kept) <= KILLS
        assert sum(row.serial == "steady" for row in find_runs(records)) == 60
    whole(path)


def test_what_is_not_committed_leaves_nothing(tmp_path: Path) -> None:
    """An entry that fails half way leaves no board, no file, no spec."""
    with open_records(str(tmp_path / "a.db"), make=True) as records:
        torn = small_entry("7", judgement=made_up(deviations=["x"]))
        object.__setattr__(torn.judgement.deviations[0], "observed", None)
        with pytest.raises(UnusableRecords):
            add_run(records, torn)
        with records.reading() as connection:
            for table in ("runs", "boards", "files", "specs", "timings"):
                assert connection.exec_driver_sql(f"SELECT count(*) FROM {table}").scalar() == 0
        assert add_run(records, small_entry("7")) == 1


def test_a_reader_sees_one_state(tmp_path: Path) -> None:
    """While one reads, another writes; the reader goes on seeing what was there when it began."""
    with open_records(str(tmp_path / "a.db"), make=True) as records:
        add_run(records, small_entry("7"))
        with records.reading() as connection:
            count = "SELECT count(*) FROM runs"
            assert connection.exec_driver_sql(count).scalar() == 1
            add_run(records, small_entry("7", 1))
            assert connection.exec_driver_sql(count).scalar() == 1
        assert len(find_runs(records)) == 2
