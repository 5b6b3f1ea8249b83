"""See whether the records are still what was put into them.

Law of this module: every byte of evidence is read and held against its digest; nothing is mended. What is wrong is a
value, and so is a spec that says something else today than it did when a board was judged by it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Literal

from attrs import frozen
from sqlalchemy import select

from boardgauge.language import UnusableSpec, read_board_text
from boardgauge.records.database import Records
from boardgauge.records.finding import RunRow, Wanted, find_runs
from boardgauge.records.packing import DamagedFile, content_of
from boardgauge.records.tables import run_files, specs

Kind = Literal["recording", "spec kept", "spec of today"]
"""``recording``: its bytes are missing or changed; ``spec kept``: the text of a spec in the records is not what was
kept; ``spec of today``: it was changed since, which is no damage, but the verdict is one by the spec as it was."""


@frozen
class Finding:
    """One thing that is not as it was. ``runs`` are the numbers of the runs that it concerns."""

    kind: Kind
    what: str
    runs: tuple[int, ...]

    @property
    def damage(self) -> bool:
        """Tell whether evidence was lost."""
        return self.kind != "spec of today"


@frozen
class Verified:
    """How much was looked at, and what was found."""

    runs: int
    files: int
    specs: int
    findings: tuple[Finding, ...]


def verify(records: Records, wanted: Wanted | None, today: Callable[[str], str | None]) -> Verified:
    """Hold the runs asked for against their digests.

    ``today`` gives the digest of the spec that is called so now, None if there is none that can be read.
    """
    found = find_runs(records, wanted)
    numbers = {row.number for row in found}
    of_file: dict[str, list[tuple[int, str]]] = {}
    with records.reading() as connection:
        for row in connection.execute(select(run_files).order_by(run_files.c.run_id, run_files.c.position)):
            if row.run_id in numbers:
                of_file.setdefault(row.sha256, []).append((row.run_id, row.name))
        texts = {row.digest: row.text for row in connection.execute(select(specs))}
    of_spec: dict[str, list[RunRow]] = {}
    for run in found:
        of_spec.setdefault(run.spec_digest, []).append(run)
    findings = [
        *_recordings(records, of_file),
        *_without_files(numbers, of_file),
        *_kept_specs(of_spec, texts),
        *_todays_specs(of_spec, today),
    ]
    return Verified(len(found), len(of_file), len(of_spec), tuple(findings))


def _recordings(records: Records, of_file: dict[str, list[tuple[int, str]]]) -> Iterator[Finding]:
    for sha256, uses in of_file.items():
        try:
            content_of(records, sha256)
        except DamagedFile as error:
            yield Finding("recording", f"{uses[0][1]}: {error}", tuple(number for number, _ in uses))


def _without_files(numbers: set[int], of_file: dict[str, list[tuple[int, str]]]) -> Iterator[Finding]:
    with_files = {number for uses in of_file.values() for number, _ in uses}
    missing = tuple(sorted(numbers - with_files))
    if missing:
        yield Finding("recording", "no recording is kept of them", missing)


def _kept_specs(of_spec: dict[str, list[RunRow]], texts: dict[str, str]) -> Iterator[Finding]:
    for digest, uses in of_spec.items():
        concerns = tuple(run.number for run in uses)
        name = f"spec {uses[0].board} {digest[:12]}"
        if digest not in texts:
            yield Finding("spec kept", f"{name}: its text is missing from the records", concerns)
            continue
        try:
            now = read_board_text(texts[digest], name).digest
        except UnusableSpec:
            yield Finding("spec kept", f"{name}: its text was changed: it cannot be read any more", concerns)
            continue
        if now != digest:
            yield Finding("spec kept", f"{name}: its text was changed: its digest is now {now[:12]}", concerns)


def _todays_specs(of_spec: dict[str, list[RunRow]], today: Callable[[str], str | None]) -> Iterator[Finding]:
    by_name: dict[tuple[str, str], list[int]] = {}
    for digest, uses in of_spec.items():
        for run in uses:
            if run.spec_given:
                by_name.setdefault((run.spec_given, digest), []).append(run.number)
    for (given, digest), concerns in by_name.items():
        now = today(given)
        if now is None:
            what = f"{given}: there is no such spec now; judged by {digest[:12]}, of which the text is kept"
        elif now != digest:
            what = f"{given}: says something else now ({now[:12]}) than when they were judged ({digest[:12]})"
        else:
            continue
        yield Finding("spec of today", what, tuple(concerns))
