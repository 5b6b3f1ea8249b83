"""``boardgauge records DATABASE verify`` and ``again``.

Law of this module: what was kept is never changed; what is judged again is kept beside it, if asked for.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import click
from attrs import asdict

from boardgauge.command.failing import CONFORMS, DEVIATES, UNDECIDED, UNUSABLE, Unusable
from boardgauge.command.finding import find_board
from boardgauge.command.keeping import opened, typed
from boardgauge.command.records_telling import wanted_of
from boardgauge.sheets.figures import many

if TYPE_CHECKING:
    from boardgauge.records.database import Records

_WORDS = {"recording": "recording", "spec kept": "spec", "spec of today": "spec of today"}


def verify_records(database: str, given: Mapping[str, Any], as_json: bool) -> int:
    """Hold records against their digests; give the exit status."""
    with opened(database) as records:
        from boardgauge.records.verifying import verify

        found = verify(records, wanted_of(given), _digest_of_today)
    if as_json:
        click.echo(json.dumps(asdict(found), ensure_ascii=False, indent=2))
    else:
        for finding in found.findings:
            click.echo(f"{_WORDS[finding.kind]}: {finding.what}: {_numbers(finding.runs)}")
        looked = f"{many(found.runs, 'run')}, {many(found.files, 'file')} and {many(found.specs, 'spec')} looked at"
        damaged = sum(finding.damage for finding in found.findings)
        told = f"{damaged} missing or changed" if damaged else "all as they were kept"
        click.echo(f"{looked}: {told}")
    if any(finding.damage for finding in found.findings):
        return DEVIATES
    return UNDECIDED if found.findings else CONFORMS


def judge_runs_again(
    database: str, numbers: Sequence[int], given: Mapping[str, Any], of_today: bool, keep: bool
) -> int:
    """Judge kept runs again; give the exit status."""
    status = CONFORMS
    with opened(database) as records:
        from boardgauge.records.again import CannotJudgeAgain, judge_again, keep_again
        from boardgauge.records.database import UnusableRecords
        from boardgauge.records.entry import UnusableEntry

        chosen = _chosen(records, numbers, given, keep)
        visits: dict[str, str] = {}
        for number in chosen:
            try:
                found = judge_again(records, number, find_board if of_today else None)
            except (CannotJudgeAgain, Unusable) as error:
                click.echo(f"boardgauge: {error}", err=True)
                status = UNUSABLE
                continue
            before, now = found.kept.row, found.judgement.verdict
            name = f"run {number} ({before.board} {before.serial})"
            if found.board.digest != before.spec_digest:
                name += f", spec {found.board.digest[:12]} in place of {before.spec_digest[:12]}"
            told = f"{now}, as before" if found.same else f"was {before.verdict}, now {now}"
            if keep:
                from uuid import uuid4

                visit = visits.setdefault(before.visit, uuid4().hex)
                try:
                    told += f"; kept as run {keep_again(records, found, visit, typed(database))}"
                except (UnusableEntry, UnusableRecords) as error:
                    raise Unusable(str(error)) from None
            click.echo(f"{name}: {told}")
            if not found.same and status == CONFORMS:
                status = DEVIATES
    return status


def _chosen(records: Records, numbers: Sequence[int], given: Mapping[str, Any], whole: bool) -> list[int]:
    """Give the runs to judge; ``whole``: with all others of their visits, which count together."""
    from boardgauge.records.finding import find_runs

    rows = find_runs(records, wanted_of(given, numbers))
    there = {row.number for row in rows}
    missing = [number for number in numbers if number not in there]
    if missing:
        raise Unusable(f"{records.name}: there is no {_numbers(missing)} that fits what was asked for")
    if not rows:
        raise Unusable(f"{records.name}: no run fits what was asked for")
    if not whole:
        return [row.number for row in rows]
    visits = {(row.board, row.serial, row.visit) for row in rows}
    return [row.number for row in find_runs(records) if (row.board, row.serial, row.visit) in visits]


def _numbers(runs: Sequence[int]) -> str:
    shown = ", ".join(map(str, runs[:8]))
    more = f" and {len(runs) - 8} more" if len(runs) > 8 else ""
    return f"{'run' if len(runs) == 1 else 'runs'} {shown}{more}"


def _digest_of_today(name: str) -> str | None:
    try:
        return find_board(name).digest
    except (Unusable, OSError):
        return None
