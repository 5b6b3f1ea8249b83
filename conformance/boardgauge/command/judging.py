"""``boardgauge judge``.

Law of this module: it prints what came of the recordings, in their order and in one way, be it one or ten thousand.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, cast

import click
from attrs import define, field

from boardgauge.command.explaining import Charts
from boardgauge.command.failing import CONFORMS, DEVIATES, UNDECIDED, UNUSABLE, Unusable
from boardgauge.command.finding import find_board, find_wiring, settings_of, spec_path
from boardgauge.command.interrupting import Interrupted, Interrupts
from boardgauge.command.keeping import Asked, Keeping, keeping
from boardgauge.command.progress import Progress
from boardgauge.command.report import report
from boardgauge.command.taking_long import taking_long
from boardgauge.many.job import Item, Job, Outcome
from boardgauge.many.listing import list_recordings
from boardgauge.many.order import InOrder
from boardgauge.many.running import judge_all

if TYPE_CHECKING:
    from boardgauge.judging.run import Start
    from boardgauge.many.table import Table

WORDS = ("conforms", "deviates", "undecided")
TOLD = 5
"""How many of the files that a folder holds besides recordings are named."""


def judge_recordings(
    board: str,
    recordings: Sequence[str],
    wiring: str | None = None,
    start: str | None = None,
    setting: tuple[str, ...] = (),
    *,
    joined: bool = False,
    as_json: bool = False,
    explain: str | None = None,
    table: str | None = None,
    jobs: int | None = None,
    cluster: str | None = None,
    asked: Asked = Asked(),  # noqa: B008 (a frozen value)
) -> int:
    """Judge recordings (files, folders, patterns) and print what came of each; give the exit status.

    ``explain`` is where the charts of deviations go; their paths are printed, with ``as_json`` on standard error.
    ``asked`` says what is kept of it in records.
    """
    if cluster is not None and jobs is not None:
        raise Unusable("--jobs: the cores of a cluster are its own; leave one of --jobs and --cluster out")
    charts = None if explain is None else Charts.at(explain)
    spec = find_board(board)
    wired = find_wiring(wiring, spec, spec_path(board))
    picture = None if charts is None else charts.picture
    job = Job(board, spec, wired, cast("Start | None", start), settings_of(setting, spec), picture)
    listing = list_recordings(recordings)
    for folder, names in listing.skipped.items():
        more = f" and {len(names) - TOLD} more" if len(names) > TOLD else ""
        _say(f"{folder}: skipped, since not named as recordings: {', '.join(names[:TOLD])}{more}")
    for message in listing.empty:
        _say(message)
    groups = [tuple(listing.files)] if joined and listing.files else [(file,) for file in listing.files]
    items = [Item(number, parts) for number, parts in enumerate(groups)]
    with keeping(asked, job) as kept:
        printing = Printing(job, len(items), as_json, charts, None if table is None else _begin(table, job))
        printing.keeping, printing.items = kept, items
        printing.failed = bool(listing.empty)
        return _run(job, items, jobs, cluster, printing)


def _run(job: Job, items: Sequence[Item], jobs: int | None, cluster: str | None, printing: Printing) -> int:
    """Judge and print; give the exit status."""
    order = InOrder()
    interrupts = Interrupts()
    ended: Interrupted | Unusable | None = None
    try:
        with interrupts.listening():
            try:
                for outcome in _judged(job, items, order, jobs, cluster):
                    with interrupts.held():
                        printing.take(outcome)
            except (Interrupted, Unusable) as error:
                # What was judged is kept.
                ended = error
                for outcome in order.left():
                    printing.take(outcome)
        if isinstance(ended, Unusable) and not printing.done:
            raise ended
    except BaseException:
        printing.abandon()
        raise
    printing.end()
    if ended is not None:
        if isinstance(ended, Unusable):
            _say(str(ended))
        if printing.done < len(items):
            _say(f"broken off: {printing.done} of {len(items)} recordings were judged")
        return UNUSABLE if isinstance(ended, Unusable) else 128 + ended.signum
    return exit_status(printing.counts, printing.failed)


def _judged(
    job: Job, items: Sequence[Item], order: InOrder, jobs: int | None, cluster: str | None
) -> Iterator[Outcome]:
    if cluster is None and len(items) == 1:
        # Of many it is told how many are done.
        with taking_long(f"judging {items[0].name}"):
            (*outcomes,) = judge_all(job, items, jobs, order)
        yield from outcomes
        return
    if cluster is None:
        yield from judge_all(job, items, jobs, order)
        return
    from boardgauge.many.cluster import UnusableCluster, on_cluster

    try:
        yield from on_cluster(job, items, cluster, order)
    except UnusableCluster as error:
        raise Unusable(f"--cluster {error}") from None


def _begin(path: str, job: Job) -> Table:
    from boardgauge.machine.compile import compile_board
    from boardgauge.many.table import Table, UnusableTable

    try:
        return Table.begin(path, job, compile_board(job.board))
    except UnusableTable as error:
        raise Unusable(f"--table {error}") from None


@define
class Printing:
    """Prints outcomes, writes their charts and their rows, and counts the verdicts."""

    job: Job
    total: int
    as_json: bool
    charts: Charts | None
    table: Table | None
    keeping: Keeping | None = None
    items: Sequence[Item] = ()
    failed: bool = False
    done: int = 0
    counts: Counter[str] = field(factory=Counter)
    progress: Progress = field()

    @progress.default
    def _make_progress(self) -> Progress:
        return Progress(self.total)

    def __attrs_post_init__(self) -> None:
        self.progress.show(0, "")

    def take(self, outcome: Outcome) -> None:
        """Print an outcome."""
        self.progress.wipe()
        self.done += 1
        if outcome.judgement is None:
            self.failed = True
            if self.as_json:
                click.echo(json.dumps({"trace": outcome.name, "error": outcome.error}, ensure_ascii=False))
            _say(str(outcome.error))
        else:
            self.counts[outcome.judgement.verdict] += 1
            if self.as_json:
                click.echo(json.dumps(outcome.judgement.as_json(), ensure_ascii=False))
            else:
                click.echo(report(outcome.judgement, self.job.board))
            if self.keeping is not None:
                kept = self.keeping.take(outcome, outcome.judgement, self.items[outcome.number].parts)
                click.echo(f"  {kept}", err=self.as_json)
            if not self.as_json:
                click.echo()
        for path in () if self.charts is None else self.charts.write(outcome.name, outcome.charts):
            click.echo(f"chart {path}", err=self.as_json)
        if self.table is not None:
            self.table.add(outcome)
        self.progress.show(self.done, self._told())

    def end(self) -> None:
        """Print the last line and put the table in its place."""
        self.progress.wipe()
        if not self.as_json and self.total > 1 and self.done:
            click.echo(self._told())
        if self.table is not None:
            from boardgauge.many.table import UnusableTable

            try:
                self.table.close()
            except UnusableTable as error:
                raise Unusable(f"--table {error}") from None

    def abandon(self) -> None:
        """Leave no trace of what was not finished."""
        self.progress.wipe()
        if self.table is not None:
            self.table.abandon()

    def _told(self) -> str:
        told = [f"{self.counts[word]} {word}" for word in WORDS if self.counts[word]]
        failed = self.done - self.counts.total()
        return ", ".join([*told, *([f"{failed} could not be judged"] if failed else [])])


def _say(message: str) -> None:
    click.echo(f"boardgauge: {message}", err=True)


def exit_status(verdicts: Counter[str], failed: bool) -> int:
    """Give the exit status for the verdicts on some recordings; ``failed`` if one could not be judged."""
    if failed:
        return UNUSABLE
    if verdicts["deviates"]:
        return DEVIATES
    return UNDECIDED if verdicts["undecided"] else CONFORMS
