"""Runs as a table, a row a run, with a few columns for every timing.

Law of this module: columns mean what they mean in the table of ``judge --table`` where they have its names; a value
that there is none of is empty.
"""

from __future__ import annotations

from collections.abc import Sequence

from boardgauge.many.table import OF_A_TIMING
from boardgauge.many.table_file import TableFile, Value
from boardgauge.records.finding import MeasuredTiming, RunRow
from boardgauge.records.moments import utc

COLUMNS: dict[str, tuple[type, str]] = {
    "run": (int, "its number in the records"),
    "measured_utc": (str, "when the recording was made"),
    "added_utc": (str, "when it was put into the records"),
    "board": (str, "the id of the board spec"),
    "serial": (str, "serial number of the board"),
    "lot": (str, "the lot that the board is of"),
    "visit": (str, "the same for what was recorded of a board one after the other"),
    "verdict": (str, "conforms, deviates or undecided"),
    "deviations": (int, "how many there are"),
    "exercised": (int, "how many rules and timed conditions the recording exercised"),
    "exercisable": (int, "how many there are"),
    "plan_reached": (int, "how many goals of its plan the run reached; empty if it followed none"),
    "plan_missed": (int, "how many it missed"),
    "start": (str, "what was known of the board before the recording: power-up or unknown"),
    "length_s": (float, "length of the recording"),
    "operator": (str, "who measured"),
    "rig": (str, "the rig that drove the board, if one did"),
    "rig_kind": (str, "its kind, as the rig file says it"),
    "simulated": (str, "yes: no real board was there; empty: not known, since an earlier version kept the run"),
    "spec_digest": (str, "of what the spec says, whatever its layout"),
    "wiring": (str, "the id of the wiring"),
    "boardgauge": (str, "the version that judged"),
    "note": (str, "what else is to be known of it"),
}
"""The columns that every table has, with the type and the meaning of each."""
LIMITS_OF_A_TIMING: dict[str, tuple[type, str]] = {
    "shortest_s": (float, "the least the spec allows"),
    "longest_s": (float, "the most it allows"),
}
_BATCH = 1000


def export(path: str, runs: Sequence[tuple[RunRow, Sequence[MeasuredTiming]]]) -> None:
    """Write runs with their times into a .csv or .parquet file. Raises UnusableTable."""
    types = columns_of(runs)
    table = TableFile.begin(path, types)
    try:
        for at in range(0, len(runs), _BATCH):
            found = [cells_of(row, timings) for row, timings in runs[at : at + _BATCH]]
            table.rows([[cells.get(name) for name in types] for cells in found])
    except BaseException:
        table.abandon()
        raise
    table.close()


def columns_of(runs: Sequence[tuple[RunRow, Sequence[MeasuredTiming]]]) -> dict[str, type]:
    """Give the columns of runs with their types: those of all, then those of each timing in the order it first came."""
    types = {name: type_ for name, (type_, _) in COLUMNS.items()}
    for _, timings in runs:
        for timing in timings:
            for name, (type_, _) in (OF_A_TIMING | LIMITS_OF_A_TIMING).items():
                types.setdefault(f"{timing.timing}.{name}", type_)
    return types


def cells_of(row: RunRow, timings: Sequence[MeasuredTiming]) -> dict[str, Value]:
    """Give what is known of a run, by column."""
    cells: dict[str, Value] = {
        "run": row.number,
        "measured_utc": utc(row.measured),
        "added_utc": utc(row.added),
        "board": row.board,
        "serial": row.serial,
        "lot": row.lot,
        "visit": row.visit,
        "verdict": row.verdict,
        "deviations": row.deviations,
        "exercised": row.exercised,
        "exercisable": row.exercisable,
        "plan_reached": row.plan_reached,
        "plan_missed": row.plan_missed,
        "start": "power-up" if row.known_start else "unknown",
        "length_s": row.length / 1_000_000,
        "operator": row.operator,
        "rig": row.rig,
        "rig_kind": row.rig_kind,
        "simulated": None if row.simulated is None else "yes" if row.simulated else "no",
        "spec_digest": row.spec_digest,
        "wiring": row.wiring_id,
        "boardgauge": row.version,
        "note": row.note or None,
    }
    for one in timings:
        cells |= {
            f"{one.timing}.count": one.ended,
            f"{one.timing}.least_s": None if one.least is None else one.least / 1_000_000,
            f"{one.timing}.greatest_s": None if one.greatest is None else one.greatest / 1_000_000,
            f"{one.timing}.shortest_s": one.shortest / 1_000_000,
            f"{one.timing}.longest_s": one.longest / 1_000_000,
        }
    return cells
