"""Benches that put runs into records, each a process of its own, and the made-up entries that they put in.

Law of this file: it loads no more than keeping takes, since each process loads it; what runs in one is a function here,
so that it can be found there.
"""

from __future__ import annotations

import os
import time
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from functools import cache
from multiprocessing.connection import Connection

from boardgauge.boards import board_path
from boardgauge.judging.judgement import Deviation, Judgement, RuleCoverage, TimingCoverage, Verdict
from boardgauge.language import read_board
from boardgauge.language.model import Board
from boardgauge.records.adding import add_run
from boardgauge.records.database import open_records
from boardgauge.records.entry import Entry, KeptFile

DAY = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
TIMING = "restart_delay"
PRELOAD = [
    "boardgauge.records.adding",
    "boardgauge.language.reader",
    "boardgauge.boards",
    "sqlalchemy.dialects.sqlite",
    "alembic.command",
    "alembic.config",
    "alembic.context",
]
"""What these processes load, where one can be begun with it loaded."""


@cache
def tarnbeck() -> Board:
    """Give the board that the entries are of."""
    return read_board(board_path("tarnbeck"))


def made_up(
    verdict: Verdict = "conforms", times: Sequence[tuple[float, float]] = (), deviations: Sequence[str] = ()
) -> Judgement:
    """Give a judgement in which the restart delay lasted so (seconds, least and greatest) and these rules broke."""
    least = min((low for low, _ in times), default=None)
    greatest = max((high for _, high in times), default=None)
    timing = TimingCoverage(
        TIMING,
        TIMING,
        "2.4",
        42_900_000,
        47_100_000,
        len(times),
        None if least is None else round(least * 1e6),
        None if greatest is None else round(greatest * 1e6),
    )
    rule = RuleCoverage(TIMING, "delay", "2.4", bool(times), (timing,))
    found = tuple(
        Deviation("late", 1_000_000 * (n + 1), "cc", "cc", name, "2.4", None, None, "it stayed off", "on")
        for n, name in enumerate(deviations)
    )
    return Judgement("made up", "tarnbeck", verdict, found, (), (rule,), (), 0, 60_000_000, True)


def small_entry(serial: str, number: int = 0, **more: object) -> Entry:
    """Give an entry that is quick to keep, with a file of its own."""
    judgement = more.pop("judgement", None) or made_up(times=[(45.0, 45.1)])
    return Entry(
        serial=serial,
        judgement=judgement,  # type: ignore[arg-type]
        board=tarnbeck(),
        files=(KeptFile(f"{serial}-{number}.vcd", f"recording {number} of {serial}\n".encode() * 50),),
        **{"measured": DAY + timedelta(minutes=number), "version": "0.1.0", **more},  # type: ignore[arg-type]
    )


def keep_on(database: str, serial: str, number: int, told: Connection) -> None:
    """Keep runs of one board; tell the number of each once it is kept. For a process of its own."""
    with open_records(database, make=True) as records:
        for run in range(number):
            told.send(add_run(records, small_entry(serial, run)))
    told.close()


def open_and_tell(database: str, go: float, told: Connection) -> None:
    """Open records at a moment that several processes share, and keep one run. For a process of its own."""
    while time.monotonic() < go:
        pass
    with open_records(database, make=True) as records:
        told.send(add_run(records, small_entry(str(os.getpid()))))
