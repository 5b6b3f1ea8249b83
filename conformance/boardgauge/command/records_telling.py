"""``boardgauge records DATABASE``: list, show, export.

Law of this module: moments are told on the clock of this machine, and kept and exported as UTC; times inside a
recording are seconds from its start.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from boardgauge.command.failing import Unusable
from boardgauge.command.keeping import moment, opened
from boardgauge.records.moments import local
from boardgauge.rigs.rig import NOT_KEPT, SIMULATED
from boardgauge.sheets.figures import many

if TYPE_CHECKING:
    from boardgauge.records.database import Records
    from boardgauge.records.finding import KeptRun, MeasuredTiming, RunRow, Wanted

HEADINGS = ("run", "measured", "board", "serial", "lot", "verdict", "exercised", "plan", "operator")


def wanted_of(given: Mapping[str, Any], runs: Sequence[int] = ()) -> Wanted:
    """Give what the options ask for. Raises Unusable."""
    from boardgauge.records.finding import Wanted

    since, until = given.get("since"), given.get("until")
    return Wanted(
        serial=given.get("serial"),
        board=given.get("board"),
        verdict=given.get("verdict"),
        lot=given.get("lot"),
        operator=given.get("operator"),
        since=None if since is None else moment(since, "--since"),
        until=None if until is None else moment(until, "--until", whole_day=True),
        runs=tuple(runs),
    )


def list_runs(database: str, given: Mapping[str, Any], as_json: bool) -> None:
    """List runs."""
    with opened(database) as records:
        from boardgauge.records.exporting import cells_of
        from boardgauge.records.finding import find_runs

        rows = find_runs(records, wanted_of(given))
        if as_json:
            click.echo(json.dumps([cells_of(row, ()) for row in rows], ensure_ascii=False, indent=2))
            return
        for line in table([HEADINGS, *(_cells(row) for row in rows)]) if rows else ():
            click.echo(line)
        click.echo(counted(rows))


def counted(rows: Sequence[RunRow]) -> str:
    """Say how many runs there are, of how many boards, and their verdicts."""
    if not rows:
        return "no runs"
    verdicts = Counter(row.verdict for row in rows)
    boards = len({(row.board, row.serial) for row in rows})
    told = ", ".join(f"{verdicts[word]} {word}" for word in ("conforms", "deviates", "undecided") if verdicts[word])
    unreal = sum(row.simulated is True for row in rows)
    which = "" if not unreal else f"; {unreal} of them {SIMULATED}"
    return f"{many(len(rows), 'run')} of {many(boards, 'board')}: {told}{which}"


def _cells(row: RunRow) -> tuple[str, ...]:
    plan = "-"
    if row.plan_reached is not None:
        plan = f"{row.plan_reached} of {row.plan_reached + (row.plan_missed or 0)}"
    return (
        str(row.number),
        local(row.measured),
        row.board,
        row.serial,
        row.lot or "-",
        row.verdict + (", simulated" if row.simulated else ""),
        f"{row.exercised} of {row.exercisable}",
        plan,
        row.operator or "-",
    )


def table(rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Give the lines of a table, columns as wide as what stands in them."""
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    for row in rows:
        yield "  ".join(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True)).rstrip()


# -- one run -------------------------------------------------------------------------------------------------------


def show_run(database: str, number: int, as_json: bool, folder: str | None) -> None:
    """Show one run; write its recording into a folder if one is named."""
    if folder is not None and Path(folder).exists() and not Path(folder).is_dir():
        raise Unusable(f"--recording {folder}: is a file; expected a folder to write the recording into")
    with opened(database) as records:
        from boardgauge.records.exporting import cells_of
        from boardgauge.records.finding import NoSuchRun, find_run

        try:
            kept = find_run(records, number)
        except NoSuchRun as error:
            raise Unusable(str(error)) from None
        if as_json:
            files = [{"name": file.name, "sha256": file.sha256, "size": file.size} for file in kept.files]
            plan = None if kept.plan is None else _plan_data(kept)
            data = {**cells_of(kept.row, kept.timings), "files": files, "plan": plan, "command": kept.row.command}
            click.echo(json.dumps({**data, "judgement": kept.judgement}, ensure_ascii=False, indent=2))
        else:
            for line in _run_lines(kept):
                click.echo(line)
        for path in () if folder is None else _written(records, kept, Path(folder)):
            click.echo(f"written: {path}", err=as_json)


def _plan_data(kept: KeptRun) -> dict[str, Any]:
    from attrs import asdict

    assert kept.plan is not None
    return asdict(kept.plan)


def _run_lines(kept: KeptRun) -> Iterator[str]:
    row = kept.row
    yield f"run {row.number}: {row.board} {row.serial}" + (f", lot {row.lot}" if row.lot else "")
    yield f"  {row.verdict}"
    if row.simulated is not False:
        yield f"  {SIMULATED if row.simulated else NOT_KEPT}"
    by = f" by {row.operator}" if row.operator else ""
    rig = f" on rig {row.rig}" if row.rig else ""
    rig += f" (kind {row.rig_kind})" if row.rig_kind else ""
    yield f"  measured   {local(row.measured)}{by}{rig}, {row.length / 1_000_000:.1f} s, kept {local(row.added)}"
    begins = "with power-up" if row.known_start else "at an unknown moment in the board's life"
    yield f"  begins     {begins}"
    for file in kept.files:
        yield f"  recording  {file.name} ({file.size:,} bytes, SHA-256 {file.sha256[:12]})"
    yield f"  spec       {row.spec_given or row.board} ({row.spec_digest[:12]})"
    yield f"  wiring     {row.wiring_id}"
    if kept.settings:
        yield f"  settings   {', '.join(f'{name}={position}' for name, position in kept.settings.items())}"
    yield f"  judged by  Boardgauge {row.version}" + (f": {row.command}" if row.command else "")
    if row.note:
        yield f"  note       {row.note}"
    for deviation in kept.judgement["deviations"]:
        clause = f", clause {deviation['clause']}" if deviation["clause"] else ""
        yield f"  deviates at {deviation['time']:.3f} s: {deviation['signal']}: {deviation['rule']}{clause}"
        yield f"    seen      {deviation['observed']}"
        yield f"    expected  {deviation['expected']}"
    for doubt in kept.judgement["doubts"]:
        yield f"  in doubt at {doubt['time']:.3f} s: {doubt['reason']}"
    yield from _coverage_lines(kept)


def _coverage_lines(kept: KeptRun) -> Iterator[str]:
    row = kept.row
    missing = [rule["rule"] for rule in kept.judgement["coverage"]["rules"] if not rule["exercised"]]
    nothing = f"; nothing is proved of: {', '.join(missing)}" if missing else ""
    yield f"  exercised  {row.exercised} of {row.exercisable} rules and timed conditions{nothing}"
    if kept.plan is not None:
        missed = "; ".join(goal.what for goal in kept.plan.missed)
        total = len(kept.plan.reached) + len(kept.plan.missed)
        told = f"; missed: {missed}" if missed else ""
        name = f"{kept.plan.title} ({kept.plan.digest[:12]})"
        yield f"  plan       {name}: {len(kept.plan.reached)} of {total} goals reached{told}"
    seen = [timing for timing in kept.timings if timing.ended]
    if seen:
        yield ""
        yield from (f"  {line}" for line in table([("timing", "measured", "allowed", "times"), *map(_timing, seen)]))


def _timing(one: MeasuredTiming) -> tuple[str, ...]:
    measured = "sped up, not measured"
    if one.least is not None and one.greatest is not None:
        measured = f"{one.least / 1_000_000:.3f} to {one.greatest / 1_000_000:.3f} s"
    allowed = f"{one.shortest / 1_000_000:.12g} to {one.longest / 1_000_000:.12g} s"
    return one.timing, measured, allowed + (" (by a setting)" if one.varies else ""), str(one.ended)


def _written(records: Records, kept: KeptRun, folder: Path) -> Iterator[Path]:
    from boardgauge.records.packing import DamagedFile, content_of

    folder.mkdir(parents=True, exist_ok=True)
    for file in kept.files:
        try:
            content = content_of(records, file.sha256)
        except DamagedFile as error:
            raise Unusable(f"run {kept.row.number}, {file.name}: {error}") from None
        # The name alone: where it came from is not where it goes.
        path = folder / (Path(file.name.replace("\\", "/")).name or file.sha256[:12])
        if path.exists() and path.read_bytes() != content:
            raise Unusable(f"{path}: is there already, and is another recording; name another folder")
        path.write_bytes(content)
        yield path


def export_runs(database: str, output: str, given: Mapping[str, Any]) -> None:
    """Write runs as a table."""
    with opened(database) as records:
        from boardgauge.many.table_file import UnusableTable
        from boardgauge.records.exporting import export
        from boardgauge.records.finding import find_timings

        found = find_timings(records, wanted_of(given))
        try:
            export(output, found)
        except UnusableTable as error:
            raise Unusable(str(error)) from None
        click.echo(f"{output}: {many(len(found), 'run')}")
