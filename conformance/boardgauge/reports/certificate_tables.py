"""The tables of a certificate: the facts of the board, its recordings, deviations and measured timings.

Law of this module: what weighs most comes first, and rows for which there is no room are counted in a note.
"""

from __future__ import annotations

from collections.abc import Sequence

from boardgauge.records.moments import local
from boardgauge.reports.report import BoardReport, JudgedRun, TimingTold, told_of
from boardgauge.reports.room import Room, cut, listed
from boardgauge.sheets.blocks import Column, Table
from boardgauge.sheets.figures import joined, many


def facts_table(report: BoardReport, room: Room) -> Table:
    """Give what is known of the board and of its test."""
    board = report.board
    rows = [("Serial number", report.serial or "not given")]
    given = (("Lot", report.lot), ("Measured by", report.operator), ("Rig", _rig(report)))
    rows += [(name, cut(value, room.cell)) for name, value in given if value]
    made = f"Boardgauge {report.version}"
    rows.append(("Made", made if report.made is None else f"{local(report.made)}, {made}"))
    rows.append(("Spec digest", board.digest))
    for plan in report.plans:
        total = len(plan.reached) + len(plan.missed)
        left = f"; it leaves out {len(plan.left_out)}, with reasons" if plan.left_out else ""
        goals = f"{len(plan.reached)} of {total} goals reached{left}"
        rows.append(("Plan", f"{goals}: {cut(plan.title, room.cell)} ({plan.digest[:12]})"))
    rows += [("Note", cut(note, room.letters)) for note in report.notes[: room.runs]]
    if len(report.notes) > room.runs:
        rows.append(("Notes", f"and {len(report.notes) - room.runs} more; they stand in the JSON report"))
    name = cut(f"{board.title} ({board.id})", room.cell)
    return Table("facts", (Column("Board", 1.0), Column(name, 5.0)), tuple(rows))


def _rig(report: BoardReport) -> str | None:
    """Say which rig drove the board, and that no real board was there, if so."""
    told = [f"kind {report.rig_kind}" if report.rig_kind else "", told_of(report.simulated)]
    kind = "; ".join(text for text in told if text)
    return None if report.rig is None else f"{report.rig} ({kind})" if kind else report.rig


def runs_table(report: BoardReport, room: Room) -> Table:
    """Give the recordings, those that do not conform before the others where there is not room for all."""
    numbered = list(enumerate(report.runs, 1))
    ordered = sorted(numbered, key=lambda one: one[1].judgement.verdict == "conforms")
    shown = sorted(ordered[: room.runs], key=lambda one: one[0])
    several = len(report.runs) > 1
    rows = tuple(_run_row(run, number if several else None, room) for number, run in shown)
    columns = (
        Column("Recording", 3.4),
        Column("Measured", 1.4),
        Column("Begins", 1.3),
        Column("Length", 0.9, "right"),
        Column("Verdict", 1.2),
        Column("SHA-256 begins", 1.6),
    )
    left = [run for _, run in ordered[room.runs :]]
    notes: tuple[str, ...] = ()
    if left:
        notes = (f"And {many(len(left), 'more recording')}: {_verdicts(left)}; they stand in the JSON report.",)
    return Table("recordings", columns, rows, "Recordings", notes)


def _run_row(run: JudgedRun, number: int | None, room: Room) -> tuple[str, ...]:
    called = "" if number is None else f"{number}: "
    called += "" if run.number is None else f"run {run.number}: "
    return (
        cut(called + ", ".join(file.name.replace("\\", "/").rsplit("/", 1)[-1] for file in run.files), room.cell // 3),
        "not told" if run.measured is None else local(run.measured),
        "power-up" if run.judgement.known_start else "unknown",
        f"{run.seconds:.1f} s",
        run.judgement.verdict,
        cut(" ".join(file.sha256[:12] for file in run.files), room.cell // 3),
    )


def deviations_table(report: BoardReport, room: Room) -> Table:
    """Give what the board did wrong, what follows from something else last."""
    every = report.deviations()
    # What follows from another deviation says less.
    ordered = sorted(every, key=lambda one: one[1].following)
    shown = ordered[: room.deviations]
    columns = (Column("At", 1.3, "right"), Column("Signal", 1.0), Column("Rule", 1.7), Column("What was seen", 5.2))
    rows = []
    places = {id(run): number for number, run in enumerate(report.runs, 1)}
    for run, deviation in shown:
        clause = f", § {deviation.clause}" if deviation.clause else ""
        said = f"{deviation.observed}; expected {deviation.expected}" if room.words else deviation.kind
        at = run.judgement.seconds(deviation.time)
        where = f" in {places[id(run)]}" if len(report.runs) > 1 else ""
        broken = cut(f"{deviation.rule}{clause}", room.cell)
        rows.append((f"{at:.3f} s{where}", cut(deviation.channel, room.cell), broken, cut(said, room.cell)))
    notes = []
    if len(every) > len(shown):
        rest = ordered[room.deviations :]
        of = listed(sorted({deviation.rule for _, deviation in rest}), room.names, room.cell)
        notes.append(f"And {many(len(rest), 'more deviation')} (of {of}); they stand in the JSON report.")
    return Table("deviations", columns, tuple(rows), "Deviations", tuple(notes))


def timings_table(measured: Sequence[TimingTold], room: Room) -> Table:
    """Give the times that were measured, those with the least room to a limit first."""
    ordered = sorted(measured, key=lambda one: (not one.deviates, one.share is None, one.share or 0.0))
    shown, left = ordered[: room.timings], ordered[room.timings :]
    columns = (
        Column("Timing", 2.6),
        Column("Allowed", 2.0),
        Column("Measured", 2.2),
        Column("Times", 0.8, "right"),
        Column("Room to the limit", 1.9),
    )
    notes = ["What was measured lies between the two bounds; in brackets how much of half the allowed range is left."]
    if any(one.deviates for one in measured):
        notes.append("Where a rule deviated, its timing gave no time; what is measured of it is from other occasions.")
    if left:
        inside = sum(1 for one in left if one.room is not None and one.room >= 0)
        outside = sum(1 for one in left if one.room is not None and one.room < 0)
        other = len(left) - inside - outside
        parts = [
            f"{inside} within what is allowed" if inside else "",
            f"{outside} whose bounds reach beyond it" if outside else "",
            f"{other} not measured, or allowed by a setting" if other else "",
        ]
        told = joined([part for part in parts if part])
        notes.append(f"And {many(len(left), 'more timing')}: {told}.")
    return Table("timings", columns, tuple(_timing_row(one, room) for one in shown), "Measured timings", tuple(notes))


def _timing_row(one: TimingTold, room: Room) -> tuple[str, ...]:
    clause = f", § {one.clause}" if one.clause else ""
    measured = "sped up, not measured"
    if one.least is not None and one.greatest is not None:
        measured = f"{one.least:.3f} s"
        if one.greatest - one.least >= 0.0005:
            measured = f"{one.least:.3f} to {one.greatest:.3f} s"
    left = "" if one.room is None else f"{one.room:.3f} s"
    if one.share is not None:
        left += f" ({one.share:.0%})"
    if one.straddles:
        # A figure below zero would look like a time that is outside, and none was shown to be.
        left = "not known: bounds reach past a limit"
    broken = " (deviates)" if one.deviates else ""
    return (
        cut(f"{one.timing}{clause}{broken}", room.cell),
        f"{one.shortest:.12g} to {one.longest:.12g} s" + (", by a setting" if one.varies else ""),
        measured,
        str(one.ended),
        left,
    )


def _verdicts(runs: Sequence[JudgedRun]) -> str:
    found = [run.judgement.verdict for run in runs]
    words = ("conforms", "deviates", "undecided")
    return joined([f"{found.count(word)} {word}" for word in words if word in found])
