"""The certificate of a board: one page that says what was tested, what came of it and what was not tested.

Law of this module: one page, always. Where there is more than a page holds, the rest is counted in words on it, and
nothing is left away without that; what weighs most comes first. The word "qualified" stands on it only where the report
says so.
"""

from __future__ import annotations

from collections.abc import Iterator

from boardgauge.drawings.page import Paper
from boardgauge.reports.certificate_tables import deviations_table, facts_table, runs_table, timings_table
from boardgauge.reports.report import BoardReport, statement, told_of
from boardgauge.reports.room import ROOMS, Room, cut, listed
from boardgauge.sheets.as_typst import to_pages, to_pdf
from boardgauge.sheets.blocks import Block, Caution, Heading, Paragraph
from boardgauge.sheets.cautions import GOVERNS
from boardgauge.sheets.figures import many
from boardgauge.sheets.handout import Handout, footer

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
    yield facts_table(report, room)
    yield runs_table(report, room)
    deviations = report.deviations()
    if deviations:
        yield deviations_table(report, room)
    doubts = [f"{d.reason}" for run in report.runs for d in run.judgement.doubts]
    if doubts:
        yield Paragraph(f"In doubt: {listed(doubts, max(1, room.deviations // 2), room.letters)}.")
    measured = [one for one in report.timings() if one.ended]
    if measured:
        yield timings_table(measured, room)
    yield Heading("Not tested")
    for text in not_tested(report, room.names):
        yield Paragraph(cut(text, room.letters * 3), small=True)
    yield Caution(
        "What this is not",
        (
            "It is evidence about recordings of one board, not a certificate that a unit is safe to run. Take off "
            "every link, bridge and speed-up that was fitted for the test, with the supply off, and count them.",
            GOVERNS,
        ),
    )
    yield Paragraph(f"Made again by: {cut(report.command, room.letters)}", small=True)


def not_tested(report: BoardReport, most: int) -> Iterator[str]:
    """Say what was not tested: rules, lines of lamps, goals of plans; at most so many names of each."""
    rules = report.rules()
    missing = report.not_exercised()
    if missing:
        yield (
            f"{len(missing)} of {len(rules)} rules and timed conditions were not exercised, so nothing is proved of "
            f"them: {listed(missing, most)}."
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
                f"read ({listed(missing, most)})."
            )
    yield from dark[: max(1, most // 4)]
    if len(dark) > max(1, most // 4):
        yield f"Of {len(dark) - max(1, most // 4)} more lamps there are lines that were not shown."
    for plan in report.plans:
        name = cut(plan.title, 60)
        if plan.missed:
            missed = listed([goal.what for goal in plan.missed], most)
            yield f"{many(len(plan.missed), 'goal')} of {name} missed: {missed}."
        if plan.left_out:
            # The reason once for all goals that have it.
            why: dict[str, list[str]] = {}
            for one in plan.left_out:
                why.setdefault(one.reason, []).append(one.what)
            each = max(1, most // 4 // len(why))
            told = "; ".join(f"{listed(goals, each)} ({reason})" for reason, goals in why.items())
            yield f"{many(len(plan.left_out), 'goal')} left out by {name}: {told}."
    unwired = sorted({name for run in report.runs for name in run.judgement.unwired})
    if unwired:
        yield f"Not recorded: {listed(unwired, most)}."
    yield "Nothing else of the board was tested: no heat, no load, no insulation, no relay contact beyond what shows."
