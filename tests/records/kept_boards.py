"""Entries and judgements for the tests of records: of recordings that were judged, beside those made up.

Law of this file: it says nothing of what ought to come of them.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from attrs import evolve

from boardgauge.judging.judgement import Judgement
from boardgauge.many.judging_one import judge_item
from boardgauge.records.entry import Entry, KeptFile
from many_recordings import GOOD, a_job, items_of
from records.bench_processes import DAY, TIMING, made_up, small_entry, tarnbeck

__all__ = ["DAY", "TIMING", "entry_of", "judged", "made_up", "small_entry", "tarnbeck", "with_time"]


@cache
def judged(file: Path = GOOD) -> Judgement:
    """Give what came of a recording of the tests."""
    outcome = judge_item(a_job().packed(), items_of([file])[0])
    assert outcome.judgement is not None
    return outcome.judgement


def entry_of(file: Path = GOOD, serial: str = "1042", **more: object) -> Entry:
    """Give the entry of a recording of the tests."""
    return Entry(
        serial=serial,
        judgement=judged(file),
        board=tarnbeck(),
        files=(KeptFile(file.name, file.read_bytes()),),
        spec_given="tarnbeck",
        wiring_id="tarnbeck",
        wiring_text=Path(a_job().wiring.at.file).read_text(encoding="utf-8"),
        **{"measured": DAY, "version": "0.1.0", **more},  # type: ignore[arg-type]
    )


def with_time(serial: str, low: float, high: float, **more: object) -> Entry:
    """Give an entry of a board whose restart delay lasted so."""
    return evolve(small_entry(serial, **more), judgement=made_up(times=[(low, high)]))
