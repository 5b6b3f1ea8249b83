"""One table of verdicts and measured timings, a row a recording.

Law of this module: the columns are those of ``COLUMNS``, then three for each timing of the board in the order of its
spec, whatever the recordings were; a value that there is none of is empty. The file appears when it is complete, and
until then whatever was there before stays.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from attrs import define, field

from boardgauge.many.job import Job, Outcome
from boardgauge.many.table_file import TableFile, UnusableTable, Value, check_table

if TYPE_CHECKING:
    from boardgauge.judging.judgement import Judgement, TimingCoverage
    from boardgauge.machine.table import Machine

__all__ = ["COLUMNS", "OF_A_TIMING", "Table", "UnusableTable", "check_table", "columns_of", "row_of"]

COLUMNS: dict[str, tuple[type, str]] = {
    "file": (str, "the recording, as it was given or found; of one in parts all of them"),
    "sha256": (str, "of the file's bytes"),
    "board": (str, "the id of the board spec"),
    "spec_digest": (str, "of what the spec says, whatever its layout"),
    "wiring": (str, "the id of the wiring"),
    "boardgauge": (str, "the version that judged"),
    "start": (str, "what was known of the board before the recording: power-up or unknown"),
    "length_s": (float, "length of the recording"),
    "verdict": (str, "conforms, deviates or undecided; empty if it could not be judged"),
    "error": (str, "why it could not be judged"),
    "deviations": (int, "how many there are"),
    "first_time_s": (float, "first deviation: when it was beyond doubt"),
    "first_signal": (str, "first deviation: the channel it showed on"),
    "first_kind": (str, "first deviation: early, late, unasked, missing, lamp, requirement or start"),
    "first_rule": (str, "first deviation: the rule that was broken"),
    "first_clause": (str, "first deviation: the clause that says so"),
    "first_allowed_from_s": (float, "first deviation: begin of the allowed window"),
    "first_allowed_to_s": (float, "first deviation: end of the allowed window"),
    "first_margin_s": (float, "first deviation: how far it lies outside the window, at least"),
    "doubts": (int, "how many reasons for doubt there are"),
    "first_doubt": (str, "the first of them"),
    "exercised": (int, "how many rules and timed conditions the recording exercised"),
    "exercisable": (int, "how many there are"),
}
"""The columns that every table has, with the type and the meaning of each; times count from a recording's start."""

OF_A_TIMING: dict[str, tuple[type, str]] = {
    "count": (int, "how often it ended"),
    "least_s": (float, "the least it can have lasted, of all its ends that were measured"),
    "greatest_s": (float, "the greatest it can have lasted"),
}
"""The columns of each timing; their names begin with its own and a dot."""

BATCH = 1000
"""Rows of a table that are written together."""


@define
class Table:
    """A table that is being written: rows are added one by one; ``close`` puts it in its place."""

    job: Job
    _file: TableFile
    _types: dict[str, type]
    _version: str
    _rows: list[list[Value]] = field(factory=list)

    @classmethod
    def begin(cls, given: str, job: Job, machine: Machine) -> Table:
        """Begin a table beside the place where it will be. Raises UnusableTable."""
        from importlib.metadata import version

        types = columns_of(machine)
        return cls(job, TableFile.begin(given, types), types, version("boardgauge"))

    def add(self, outcome: Outcome) -> None:
        """Add the row of a recording."""
        row = row_of(outcome, self.job, self._version)
        self._rows.append([row.get(name) for name in self._types])
        if len(self._rows) >= BATCH:
            self._flush()

    def close(self) -> None:
        """Write what is left and put the table in its place. Raises UnusableTable."""
        try:
            self._flush()
        except OSError as error:
            self.abandon()
            raise UnusableTable(f"{self._file.path}: cannot be written: {error.strerror or error}") from None
        self._file.close()

    def abandon(self) -> None:
        """Leave everything as it was before."""
        self._file.abandon()

    def _flush(self) -> None:
        self._file.rows(self._rows)
        self._rows.clear()


def columns_of(machine: Machine) -> dict[str, type]:
    """Give the columns of a board's table with their types, in their order."""
    types = {name: type_ for name, (type_, _) in COLUMNS.items()}
    for owner in (*machine.board.rules, *machine.board.conditions):
        for timing in machine.timings:
            if timing.owner == owner:
                types |= {f"{timing.name}.{name}": type_ for name, (type_, _) in OF_A_TIMING.items()}
    return types


def row_of(outcome: Outcome, job: Job, version: str) -> dict[str, Value]:
    """Give the row of a recording, without what there is none of."""
    row: dict[str, Value] = {
        "file": outcome.name,
        "sha256": outcome.sha256 or None,
        "board": job.board.id,
        "spec_digest": job.board.digest,
        "wiring": job.wiring.id,
        "boardgauge": version,
        "error": outcome.error,
    }
    judgement = outcome.judgement
    if judgement is None:
        return row
    row |= {
        "start": "power-up" if judgement.known_start else "unknown",
        "length_s": judgement.seconds(judgement.end),
        "verdict": judgement.verdict,
        "deviations": len(judgement.deviations),
        "doubts": len(judgement.doubts),
        "first_doubt": judgement.doubts[0].reason if judgement.doubts else None,
        "exercised": sum(rule.exercised for rule in judgement.rules),
        "exercisable": len(judgement.rules),
    }
    row |= _first(judgement)
    for rule in judgement.rules:
        for timing in rule.timings:
            row |= _measured(timing)
    return row


def _first(judgement: Judgement) -> dict[str, Value]:
    if not judgement.deviations:
        return {}
    first = judgement.deviations[0]
    outside = None
    if first.earliest is not None and first.latest is not None:
        outside = max(first.earliest - first.time, first.time - first.latest, 0) / 1_000_000
    return {
        "first_time_s": judgement.seconds(first.time),
        "first_signal": first.channel,
        "first_kind": first.kind,
        "first_rule": first.rule,
        "first_clause": first.clause,
        "first_allowed_from_s": judgement.seconds(first.earliest),
        "first_allowed_to_s": judgement.seconds(first.latest),
        "first_margin_s": outside,
    }


def _measured(timing: TimingCoverage) -> dict[str, Value]:
    least, greatest = (None if t is None else t / 1_000_000 for t in (timing.least, timing.greatest))
    return {
        f"{timing.name}.count": timing.ended,
        f"{timing.name}.least_s": least,
        f"{timing.name}.greatest_s": greatest,
    }
