"""Put a run into the records.

Law of this module: a run is kept whole, with its board, its spec and the bytes of its recording, in one transaction,
or not at all. What is there already (the board, the spec, a file by its digest) is there once.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

from attrs import asdict
from sqlalchemy import Connection, Table, insert, select, update
from sqlalchemy.exc import IntegrityError

from boardgauge.language.writer import write_board
from boardgauge.machine.compile import compile_board
from boardgauge.records import tables
from boardgauge.records.database import Records, UnusableRecords
from boardgauge.records.entry import Entry, UnusableEntry
from boardgauge.records.moments import without_zone
from boardgauge.records.packing import packed

TRIES = 5
"""How often a run is put in anew after another bench put the same board, spec or file in at that moment."""


def add_run(records: Records, entry: Entry, now: datetime | None = None) -> int:
    """Keep a run; give its number. ``now`` is when (by default the clock says).

    Raises UnusableEntry for what cannot be kept, UnusableRecords for a database that cannot be used.
    """
    # Outside the transaction: others wait for the lock meanwhile.
    of_files = [packed(file) for file in entry.files]
    spec = write_board(entry.board)
    varying = {t.name for t in compile_board(entry.board).timings if len(t.choices) > 1}
    added = without_zone(now or datetime.now(UTC))
    for left in reversed(range(TRIES)):
        try:
            with records.writing() as connection:
                return _add(connection, entry, of_files, spec, varying, added)
        except UnusableRecords as error:
            # A database without one lock for all: another bench was quicker with the same row.
            if not isinstance(error.__cause__, IntegrityError) or not left:
                raise
    raise AssertionError("the last try returns or raises")


def check_lot(records: Records, board: str, serial: str, lot: str | None) -> None:
    """See that a board (of this spec id) can be kept as one of this lot.

    Raises UnusableEntry where it is of another, UnusableRecords.
    """
    of_board = (tables.boards.c.board == board) & (tables.boards.c.serial == serial)
    with records.reading() as connection:
        known = connection.execute(select(tables.boards.c.lot).where(of_board)).scalar()
    _same_lot(board, serial, known, lot)


def _same_lot(board: str, serial: str, known: str | None, lot: str | None) -> None:
    if lot is not None and known is not None and lot != known:
        raise UnusableEntry(
            f"{board} {serial} is of lot {known} in the records, and this says lot {lot}; leave the lot out, or see "
            "which is right"
        )


def _add(
    connection: Connection,
    entry: Entry,
    of_files: list[dict[str, Any]],
    spec: str,
    varying: set[str],
    added: datetime,
) -> int:
    judgement = entry.judgement
    digest = entry.board.digest
    _once(
        connection,
        tables.specs,
        {"digest": digest, "board": entry.board.id, "title": entry.board.title, "text": spec},
    )
    for row in of_files:
        _once(connection, tables.files, row)
    plan = entry.plan
    run = {
        "board_id": _board(connection, entry),
        "visit": entry.visit,
        "measured_at": without_zone(entry.measured),
        "added_at": added,
        "operator": entry.operator,
        "rig": entry.rig,
        "rig_kind": entry.rig_kind,
        "simulated": entry.simulated,
        "verdict": judgement.verdict,
        "known_start": judgement.known_start,
        "length_us": judgement.end - judgement.start,
        "spec_digest": digest,
        "spec_given": entry.spec_given,
        "wiring_id": entry.wiring_id,
        "wiring_text": entry.wiring_text,
        "wiring_given": entry.wiring_given,
        "start": entry.start,
        "settings": json.dumps(entry.settings, ensure_ascii=False),
        "exercised": sum(rule.exercised for rule in judgement.rules),
        "exercisable": len(judgement.rules),
        "plan_digest": None if plan is None else plan.digest,
        "plan_reached": None if plan is None else len(plan.reached),
        "plan_missed": None if plan is None else len(plan.missed),
        "plan": None if plan is None else json.dumps(asdict(plan), ensure_ascii=False),
        "version": entry.version,
        "command": entry.command,
        "note": entry.note,
        "judgement": json.dumps(judgement.as_json(), ensure_ascii=False),
    }
    number = _inserted(connection, tables.runs, run)
    of_run: dict[Table, list[dict[str, Any]]] = {
        tables.run_files: [{"sha256": file.sha256, "name": file.name} for file in entry.files],
        tables.rules: [
            {"rule": r.rule, "kind": r.kind, "clause": r.clause, "exercised": r.exercised} for r in judgement.rules
        ],
        tables.timings: _timings(entry, varying),
        tables.deviations: _deviations(entry),
    }
    for table, rows in of_run.items():
        if rows:
            numbered = [{"run_id": number, "position": position, **row} for position, row in enumerate(rows)]
            connection.execute(insert(table), numbered)
    return number


def _timings(entry: Entry, varying: set[str]) -> list[dict[str, Any]]:
    return [
        {
            "timing": t.name,
            "rule": t.rule,
            "clause": t.clause,
            "shortest_us": t.shortest,
            "longest_us": t.longest,
            "varies": t.name in varying,
            "ended": t.ended,
            "sped_up": t.sped_up,
            "least_us": t.least,
            "greatest_us": t.greatest,
        }
        for rule in entry.judgement.rules
        for t in rule.timings
    ]


def _deviations(entry: Entry) -> list[dict[str, Any]]:
    zero = entry.judgement.start
    return [
        {
            "time_us": d.time - zero,
            "kind": d.kind,
            "signal": d.signal,
            "channel": d.channel,
            "rule": d.rule,
            "clause": d.clause,
            "earliest_us": None if d.earliest is None else d.earliest - zero,
            "latest_us": None if d.latest is None else d.latest - zero,
            "observed": d.observed,
            "expected": d.expected,
            "following": d.following,
        }
        for d in entry.judgement.deviations
    ]


def _board(connection: Connection, entry: Entry) -> int:
    """Give the number of the board, which is put in or told its lot where that was not known."""
    boards = tables.boards
    of_board = (boards.c.board == entry.board.id) & (boards.c.serial == entry.serial)
    row = connection.execute(select(boards).where(of_board)).one_or_none()
    if row is None:
        values = {"board": entry.board.id, "serial": entry.serial, "lot": entry.lot}
        return _inserted(connection, boards, values)
    _same_lot(entry.board.id, entry.serial, row.lot, entry.lot)
    if entry.lot is not None and row.lot is None:
        connection.execute(update(boards).where(boards.c.id == row.id).values(lot=entry.lot))
    return int(row.id)


def _inserted(connection: Connection, table: Table, row: dict[str, Any]) -> int:
    key = connection.execute(insert(table).values(row)).inserted_primary_key
    assert key is not None
    return int(key[0])


def _once(connection: Connection, table: Table, row: dict[str, Any]) -> None:
    (key,) = table.primary_key.columns
    if connection.execute(select(key).where(key == row[key.name])).one_or_none() is None:
        connection.execute(insert(table).values(row))
