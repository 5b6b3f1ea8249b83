"""``--record``: what is judged is put into the records.

Law of this module: the database is opened before anything is judged, so that hours of judging are not lost to a slip of
the pen; the bytes that are kept are those that were judged.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import uuid4

from attrs import field, frozen

from boardgauge.command.explaining import stem_of
from boardgauge.command.failing import Unusable
from boardgauge.records.entry import LONGEST_NAME, Entry, KeptFile, UnusableEntry, is_name

if TYPE_CHECKING:
    from boardgauge.judging.judgement import Judgement
    from boardgauge.many.job import Job, Outcome
    from boardgauge.records.database import Records

EXTRA = 'needs SQLAlchemy, Alembic and SciPy: in the clone, pip install ".[records]"'


@frozen
class Asked:
    """What was said on the command line of the records to keep; ``record`` None: none are kept."""

    record: str | None = None
    serial: str | None = None
    serials_from_names: bool = False
    lot: str | None = None
    operator: str | None = None
    measured: str | None = None
    note: str = ""

    def checked(self) -> None:
        """See that what was said goes together. Raises Unusable."""
        if self.record is None:
            for option, given in (
                ("--serial", self.serial is not None),
                ("--serials-from-names", self.serials_from_names),
                ("--lot", self.lot is not None),
                ("--operator", self.operator is not None),
                ("--measured", self.measured is not None),
                ("--note", bool(self.note)),
            ):
                if given:
                    raise Unusable(f"{option}: is about the records; say with --record which they are")
            return
        if (self.serial is not None) == self.serials_from_names:
            raise Unusable("--record: expected one of --serial NO and --serials-from-names")
        check_names(self.serial, self.lot, self.operator)


def check_names(serial: str | None, lot: str | None, operator: str | None) -> None:
    """See that names given on the command line can be kept and printed on one line. Raises Unusable."""
    for option, value in (("--serial", serial), ("--lot", lot), ("--operator", operator)):
        if value is not None and not is_name(value):
            shown = value if len(value) <= LONGEST_NAME else f"{value[:LONGEST_NAME]}..."
            raise Unusable(f"{option} {shown!r}: expected 1 to {LONGEST_NAME} letters, digits and signs")


@frozen
class Keeping:
    """Open records, and what is the same for all that is put into them by this command."""

    records: Records
    asked: Asked
    job: Job
    measured: datetime
    visit: str = field(factory=lambda: uuid4().hex)

    def take(self, outcome: Outcome, judgement: Judgement, parts: Sequence[str]) -> str:
        """Keep what came of a recording, the files ``parts``; give a line that says so. Raises Unusable."""
        from importlib.metadata import version

        from boardgauge.records.adding import add_run
        from boardgauge.records.database import UnusableRecords

        files = tuple(KeptFile(part, Path(part).read_bytes()) for part in parts)
        if len(files) == 1 and files[0].sha256 != outcome.sha256:
            raise Unusable(f"{parts[0]}: was changed while it was judged; it is not kept: judge it again")
        serial = self.asked.serial or stem_of(parts[0])
        wiring = Path(self.job.wiring.at.file)
        given = str(wiring) if wiring.is_file() else ""
        try:
            number = add_run(
                self.records,
                Entry(
                    serial=serial,
                    judgement=judgement,
                    board=self.job.board,
                    files=files,
                    measured=self.measured,
                    version=version("boardgauge"),
                    spec_given=self.job.given,
                    wiring_id=self.job.wiring.id,
                    wiring_text=wiring.read_text(encoding="utf-8") if given else None,
                    wiring_given=given,
                    start=self.job.start,
                    settings=self.job.settings,
                    lot=self.asked.lot,
                    operator=self.asked.operator,
                    # Of one board, all that one command judged belongs together.
                    visit=self.visit,
                    command=typed(self.asked.record),
                    note=self.asked.note,
                ),
            )
        except (UnusableEntry, UnusableRecords) as error:
            raise Unusable(f"--record {error}") from None
        return f"kept as run {number} of {self.job.board.id} {serial} in {self.records.name}"


@contextmanager
def keeping(asked: Asked, job: Job) -> Iterator[Keeping | None]:
    """Open the records that were asked for, None if none were. Raises Unusable."""
    asked.checked()
    if asked.record is None:
        yield None
        return
    measured = datetime.now(UTC) if asked.measured is None else moment(asked.measured, "--measured")
    with opened(asked.record, "--record ", make=True) as records:
        yield Keeping(records, asked, job, measured)


@contextmanager
def opened(given: str, option: str = "", *, make: bool = False) -> Iterator[Records]:
    """Open records, and tell in words what is wrong with them. Raises Unusable."""
    try:
        from boardgauge.records.database import UnusableRecords, open_records
    except ImportError:
        raise Unusable(f"{option or 'records '}{EXTRA}") from None
    try:
        with open_records(given, make=make) as records:
            yield records
    except UnusableRecords as error:
        raise Unusable(f"{option}{error}") from None


def check_records(record: str, board: str, serial: str, lot: str | None) -> None:
    """See that a board can be kept in records before hours are spent on it. Raises Unusable."""
    with opened(record, "--record ", make=True) as records:
        from boardgauge.records.adding import check_lot
        from boardgauge.records.database import UnusableRecords

        try:
            check_lot(records, board, serial, lot)
        except (UnusableEntry, UnusableRecords) as error:
            raise Unusable(f"--record {error}") from None


def moment(text: str, option: str, *, whole_day: bool = False) -> datetime:
    """Read a day or a moment as people write it, ``2026-03-02`` or ``2026-03-02T09:30``, on this machine's clock.

    A day stands for its beginning, with ``whole_day`` for its end. Raises Unusable.
    """
    try:
        found = datetime.fromisoformat(text)
        if whole_day and len(text) <= len("2026-03-02"):
            # Before the zone: in a zone that changes its clocks, some days have not 24 hours.
            found += timedelta(days=1)
        return found.astimezone(UTC)
    except (ValueError, OverflowError, OSError):
        raise Unusable(
            f"{option} {text}: expected a day or a moment such as 2026-03-02, 2026-03-02T09:30 or "
            "2026-03-02T09:30+01:00"
        ) from None


def typed(database: str | None) -> str:
    """Give the command as it was typed, but for the password of a database."""
    import shlex

    words = [Path(sys.argv[0]).stem or "boardgauge", *sys.argv[1:]]
    if database is not None:
        from boardgauge.records.database import hidden

        words = [word.replace(database, hidden(database)) for word in words]
    return shlex.join(words)
