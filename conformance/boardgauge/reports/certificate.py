"""The certificate of a board: one page that says what was tested, what came of it and what was not tested.

Law of this module: one page, always. Where there is more than a page holds, the rest is counted in words on it, and
nothing is left away without that; what weighs most comes first. The word "qualified" stands on it only where the report
says so.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from attrs import frozen

from boardgauge.drawings.page import Paper
from boardgauge.records.moments import local
from boardgauge.reports.report import BoardReport, JudgedRun, TimingTold, statement, told_of
from boardgauge.sheets.as_typst import to_pages, to_pdf
from boardgauge.sheets.blocks import Block, Caution, Column, Heading, Paragraph, Table
from boardgauge.sheets.cautions import GOVERNS
from boardgauge.sheets.figures import joined, many
from boardgauge.sheets.handout import Handout, footer


@frozen
class Room:
    """How much of each kind is written out; the rest is counted.

    ``letters`` is the longest text, ``cell`` the longest in a table; ``words``: deviations with what was seen.
    """

    timings: int
    deviations: int
    runs: int
    names: int
    letters: int
    words: bool = True
    cell: int = 260


ROOMS = (
    Room(40, 12, 12, 80, 900),
    Room(24, 8, 8, 60, 600),
    Room(16, 6, 6, 40, 500),
    Room(12, 5, 5, 30, 400, True, 200),
    Room(9, 4, 4, 20, 300, True, 150),
    Room(7, 3, 3, 14, 240, False, 120),
    Room(5, 3, 2, 8, 200, False, 90),
    Room(3, 2, 1, 5, 120, False, 60),
    Room(1, 1, 1, 2, 80, False, 40),
)
"""From the most to the least that is written out; the first that fits one page is taken."""
_COARSE = 12.0
"""Points an inch of the pages that are only counted."""


class TooLong(Exception):
    """Not even the least of a report fits one page: a name in it is of a length that no page takes."""


def to_certificate(report: BoardReport, paper: Paper = "letter") -> bytes:
    """Give the certificate as PDF, one page. Raises TooLong."""
    return to_pdf(fitted(report, paper), paper)


def fitted(report: BoardReport, paper: Paper = "letter") -> Handout:
    """Give the certificate with as much written out as fits one page. Raises TooLong."""
    # The more is written out, the longer it is: so the most that fits is found by halving.
    low, high = 0, len(ROOMS)
    found: Handout | None = None
    while low < high:
        middle = (low + high) // 2
        made = certificate(report, ROOMS[middle])
        if len(to_pages(made, paper, _COARSE)) == 1:
            found, high = made, middle
        else:
            low = middle + 1
    if found is None:
        raise TooLong(f"the certificate of {report.name[:40]} does not fit one page; shorten its names")
    return found


def certificate(report: BoardReport, room: Room) -> Handout:
    """Give the certificate with this much written out."""
    came = "qualified" if report.qualified else report.verdict
    told = f" ({told_of(report.simulated)})" if report.simulated is not False else ""
    # Never cut: it is what the board is known by.
    title = f"Certificate of test: {report.name} {came}{told}"
    return Handout(title, tuple(_blocks(report, room)), (), footer(report.board))


def _blocks(report: BoardReport, room: Room) -> Iterator[Block]:
    yield Paragraph(statement(report))
    yield _facts(report, room)
    yield _runs(report, room)
    deviations = report.deviations()
    if deviations:
        yield _deviations(report, room)
    doubts = [f"{d.reason}" for run in report.runs for d in run.judgement.doubts]
    if doubts:
        yield Paragraph(f"In doubt: {_listed(doubts, max(1, room.deviations // 2), room.letters)}.")
    measured = [one for one in report.timings() if one.ended]
    if measured:
        yield _timings(measured, room)
    yield Heading("Not tested")
    for text in not_tested(report, room.names):
        yield Paragraph(_cut(text, room.letters * 3), small=True)
    yield Caution(
        "What this is not",
        (
            "It is evidence about recordings of one board, not a certificate that a unit is safe to run. Take off "
            "every link, bridge and speed-up that was fitted for the test, with the supply off, and count them.",
            GOVERNS,
        ),
    )
    yield Paragraph(f"Made again by: {_cut(report.command, room.letters)}", small=True)


def _facts(report: BoardReport, room: Room) -> Table:
    board = report.board
    rows = [("Serial number", report.serial or "not given")]
    given = (("Lot", report.lot), ("Measured by", report.operator), ("Rig", _rig(report)))
    rows += [(name, _cut(value, room.cell)) for name, value in given if value]
    made = f"Boardgauge {report.version}"
    rows.append(("Made", made if report.made is None else f"{local(report.made)}, {made}"))
    rows.append(("Spec digest", board.digest))
    for plan in report.plans:
        total = len(plan.reached) + len(plan.missed)
        left = f"; it leaves out {len(plan.left_out)}, with reasons" if plan.left_out else ""
        goals = f"{len(plan.reached)} of {total} goals reached{left}"
        rows.append(("Plan", f"{goals}: {_cut(plan.title, room.cell)} ({plan.digest[:12]})"))
    rows += [("Note", _cut(note, room.letters)) for note in report.notes[: room.runs]]
    if len(report.notes) > room.runs:
        rows.append(("Notes", f"and {len(report.notes) - room.runs} more; they stand in the JSON report"))
    name = _cut(f"{board.title} ({board.id})", room.cell)
    return Table("facts", (Column("Board", 1.0), Column(name, 5.0)), tuple(rows))


def _rig(report: BoardReport) -> str | None:
    """Say which rig drove the board, and that no real board was there, if so."""
    told = [f"kind {report.rig_kind}" if report.rig_kind else "", told_of(report.simulated)]
    kind = "; ".join(text for text in told if text)
    return None if report.rig is None else f"{report.rig} ({kind})" if kind else report.rig


def _runs(report: BoardReport, room: Room) -> Table:
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
        _cut(called + ", ".join(file.name.replace("\\", "/").rsplit("/", 1)[-1] for file in run.files), room.cell // 3),
        "not told" if run.measured is None else local(run.measured),
        "power-up" if run.judgement.known_start else "unknown",
        f"{run.seconds:.1f} s",
        run.judgement.verdict,
        _cut(" ".join(file.sha256[:12] for file in run.files), room.cell // 3),
    )


def _deviations(report: BoardReport, room: Room) -> Table:
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
        broken = _cut(f"{deviation.rule}{clause}", room.cell)
        rows.append((f"{at:.3f} s{where}", _cut(deviation.channel, room.cell), broken, _cut(said, room.cell)))
    notes = []
    if len(every) > len(shown):
        rest = ordered[room.deviations :]
        of = _listed(sorted({deviation.rule for _, deviation in rest}), room.names, room.cell)
        notes.append(f"And {many(len(rest), 'more deviation')} (of {of}); they stand in the JSON report.")
    return Table("deviations", columns, tuple(rows), "Deviations", tuple(notes))


def _timings(measured: Sequence[TimingTold], room: Room) -> Table:
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
        _cut(f"{one.timing}{clause}{broken}", room.cell),
        f"{one.shortest:.12g} to {one.longest:.12g} s" + (", by a setting" if one.varies else ""),
        measured,
        str(one.ended),
        left,
    )


def not_tested(report: BoardReport, most: int) -> Iterator[str]:
    """Say what was not tested: rules, lines of lamps, goals of plans; at most so many names of each."""
    rules = report.rules()
    missing = report.not_exercised()
    if missing:
        yield (
            f"{len(missing)} of {len(rules)} rules and timed conditions were not exercised, so nothing is proved of "
            f"them: {_listed(missing, most)}."
        )
    else:
        yield f"All {len(rules)} rules and timed conditions were exercised, in the ways that the recordings show."
    dark = []
    for lamp in report.lamps():
        lines = report.board.lamps[lamp.lamp].lines
        missing = tuple(str(number + 1) for number, shown in enumerate(lamp.lines) if not shown)
        if missing:
            dark.append(
                f"Lamp {lamp.lamp}: {len(missing)} of {len(lines)} lines of its table were not shown long enough to be "
                f"read ({_listed(missing, most)})."
            )
    yield from dark[: max(1, most // 4)]
    if len(dark) > max(1, most // 4):
        yield f"Of {len(dark) - max(1, most // 4)} more lamps there are lines that were not shown."
    for plan in report.plans:
        name = _cut(plan.title, 60)
        if plan.missed:
            missed = _listed([goal.what for goal in plan.missed], most)
            yield f"{many(len(plan.missed), 'goal')} of {name} missed: {missed}."
        if plan.left_out:
            # The reason once for all goals that have it.
            why: dict[str, list[str]] = {}
            for one in plan.left_out:
                why.setdefault(one.reason, []).append(one.what)
            each = max(1, most // 4 // len(why))
            told = "; ".join(f"{_listed(goals, each)} ({reason})" for reason, goals in why.items())
            yield f"{many(len(plan.left_out), 'goal')} left out by {name}: {told}."
    unwired = sorted({name for run in report.runs for name in run.judgement.unwired})
    if unwired:
        yield f"Not recorded: {_listed(unwired, most)}."
    yield "Nothing else of the board was tested: no heat, no load, no insulation, no relay contact beyond what shows."


def _listed(names: Sequence[str], most: int, letters: int = 10_000) -> str:
    """Join names, those beyond ``most`` as a number."""
    shown = list(names[:most])
    text = _cut(", ".join(shown), letters)
    return f"{text} and {len(names) - len(shown)} more" if len(names) > len(shown) else text


def _cut(text: str, letters: int) -> str:
    """Shorten a text, and say that it was and by how much."""
    note = f"… ({len(text) - letters} letters more)"
    # What the note would take the place of may as well stand there.
    return text if len(text) <= letters + len(note) else f"{text[:letters].rstrip()}{note}"


def _verdicts(runs: Sequence[JudgedRun]) -> str:
    found = [run.judgement.verdict for run in runs]
    words = ("conforms", "deviates", "undecided")
    return joined([f"{found.count(word)} {word}" for word in words if word in found])
