"""``boardgauge diagnose``.

Law of this module: it prints what the diagnosis says, the best explanation first, and adds nothing.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, cast

import click
from attrs import evolve

from boardgauge.command.failing import CONFORMS, DEVIATES, UNDECIDED
from boardgauge.command.finding import find_board, find_trace, find_wiring, settings_of, spec_path
from boardgauge.command.report import deviation_lines

if TYPE_CHECKING:
    from boardgauge.diagnosis.explanation import Diagnosis, Explanation
    from boardgauge.faults.fault import Fault
    from boardgauge.judging.run import Start

STATUS = {"good board": CONFORMS, "fault": DEVIATES, "no single fault": DEVIATES, "undecided": UNDECIDED}
TOLD, LIKE_IT, MENTIONED = 6, 4, 20
"""So many groups are told, of each so many beside the likeliest, and so many more are named by their ids."""

CAUTION = (
    "Before a step on a live board: line voltage, charged capacitors, moving fans, gas and refrigerant; take off again "
    "every jumper and link that you fit."
)


def diagnose_recording(
    board: str,
    recording: str,
    wiring: str | None,
    start: str | None,
    setting: tuple[str, ...],
    pairs: bool,
    as_json: bool,
) -> int:
    """Diagnose a recording and print what came of it; give the exit status."""
    from boardgauge.diagnosis import Diagnoser
    from boardgauge.many.workers import cores

    spec = find_board(board)
    trace = find_trace(recording, find_wiring(wiring, spec, spec_path(board)), spec)
    trace = evolve(trace, settings={**trace.settings, **settings_of(setting, spec)})
    diagnosis = Diagnoser(spec, _progress, cores()).diagnose(trace, cast("Start | None", start), pairs=pairs)
    _progress(0, 0)
    if as_json:
        click.echo(json.dumps(as_data(diagnosis, recording), ensure_ascii=False))
    else:
        click.echo("\n".join(_lines(diagnosis, recording)))
    return STATUS[diagnosis.finding]


def _progress(done: int, total: int) -> None:
    if sys.stderr.isatty():
        text = f"trying faults: {done} of {total}" if total else ""
        click.echo(f"\r{text:<40}\r", nl=False, err=True)


# -- words -------------------------------------------------------------------------------------------------------------


def _lines(diagnosis: Diagnosis, recording: str) -> Iterator[str]:
    yield recording
    match diagnosis.finding:
        case "good board":
            yield "  consistent with a good board; suspect sensor, wiring or load"
            yield from _exercised(diagnosis)
        case "undecided":
            yield "  undecided: neither can a good board be ruled out nor a fault; record more finely, or for longer"
            for doubt in diagnosis.judgement.doubts:
                yield f"  in doubt at {diagnosis.judgement.seconds(doubt.time):.3f} s: {doubt.reason}"
        case _:
            yield from _of_fault(diagnosis)
    if diagnosis.remarks:
        yield ""
        yield "  look at the inputs too:"
        yield from (f"    {remark}" for remark in diagnosis.remarks)


def _exercised(diagnosis: Diagnosis) -> Iterator[str]:
    missing = [rule.rule for rule in diagnosis.judgement.rules if not rule.exercised]
    if missing:
        yield f"  not exercised, so nothing is proved of: {', '.join(missing)}"


def _of_fault(diagnosis: Diagnosis) -> Iterator[str]:
    explanations = diagnosis.explanations
    number = len(explanations)
    what = "no single fault of the library explains it" if not number else f"{number} of them explain it"
    if number == 1:
        what = "one of them explains it"
    yield (
        f"  a fault: no good board does this. {diagnosis.tried} faults that can show there were tried "
        f"({diagnosis.faults} in the library); {what}"
    )
    yield "  first deviation:"
    yield from (f"  {line}" for line in deviation_lines(diagnosis.judgement, diagnosis.judgement.deviations[0]))
    groups = diagnosis.groups
    for place, group in enumerate(groups[:TOLD], 1):
        yield ""
        yield from _group(place, group)
    left = [explanation for group in groups[TOLD:] for explanation in group]
    if left:
        yield ""
        yield f"  and {len(left)} less likely: {_some(left)}"
    if not number:
        yield "  several faults may have come together (--pairs tries two), or the spec is not that of this board"
    if diagnosis.next_step is not None:
        yield ""
        yield f"  to tell them apart: {diagnosis.next_step.what}"
        for which, shows in diagnosis.next_step.shows:
            yield f"    with {which}: {shows}"
        yield f"  {CAUTION}"
    if diagnosis.doubtful:
        yield ""
        names = ", ".join(diagnosis.doubtful)
        yield f"  or it is no fault of the board, if it did not see what was recorded of {names}:"
        yield "  measure at the terminals of the board itself, and look at the probe, the leads and the wiring file"
    yield from (f"  {bound}" for bound in diagnosis.bounds)


def _ids(explanation: Explanation) -> str:
    return " + ".join(fault.id for fault in explanation.faults)


def _some(explanations: Sequence[Explanation]) -> str:
    more = len(explanations) - MENTIONED
    return ", ".join(_ids(e) for e in explanations[:MENTIONED]) + (f" and {more} more" if more > 0 else "")


def _group(place: int, group: Sequence[Explanation]) -> Iterator[str]:
    yield from _explanation(f"  {place}. ", group[0])
    if group[0].predicts is not None:
        yield f"     next          {group[0].predicts}"
    if len(group) > 1:
        yield "     or            what no single step tells from it:"
        for explanation in group[1 : LIKE_IT + 1]:
            yield from _explanation("       - ", explanation)
    left = group[LIKE_IT + 1 :]
    if left:
        yield f"       - {_some(left)}"


def _explanation(lead: str, explanation: Explanation) -> Iterator[str]:
    margin = " " * len(lead)
    for number, fault in enumerate(explanation.faults):
        clause = f", clause {fault.clause}" if fault.clause else ""
        yield f"{lead if number == 0 else margin + 'and '}{fault.name}{clause} [{fault.id}]"
        yield f"{margin}likely cause  {fault.cause}"
    if explanation.verdict == "undecided":
        yield f"{margin}in doubt      it explains the recording only thanks to the measuring uncertainty"
    if explanation.size is not None:
        yield f"{margin}how much      {explanation.size.text}"
        if not explanation.size.steady:
            yield f"{margin}              no one length explains all of it"


# -- data --------------------------------------------------------------------------------------------------------------


def as_data(diagnosis: Diagnosis, recording: str) -> dict[str, Any]:
    """Give the diagnosis as plain values for ``json``; times are seconds."""
    step = diagnosis.next_step
    return {
        "trace": recording,
        "board": diagnosis.judgement.board,
        "finding": diagnosis.finding,
        "faults": diagnosis.faults,
        "tried": diagnosis.tried,
        "explanations": [_data(e) for e in diagnosis.explanations],
        "next_step": None
        if step is None
        else {"do": step.what, "shows": [{"group": group, "shows": shows} for group, shows in step.shows]},
        "doubtful_inputs": list(diagnosis.doubtful),
        "remarks": list(diagnosis.remarks),
        "bounds": list(diagnosis.bounds),
        "judgement": diagnosis.judgement.as_json(),
    }


def _data(explanation: Explanation) -> dict[str, Any]:
    size = explanation.size
    return {
        "faults": [fault_data(fault) for fault in explanation.faults],
        "verdict": explanation.verdict,
        "score": explanation.score,
        "size": None
        if size is None
        else {
            "text": size.text,
            "least": None if size.least is None else size.least / 1_000_000,
            "greatest": None if size.greatest is None else size.greatest / 1_000_000,
        },
        "predicts": explanation.predicts,
        "group": explanation.group or None,
    }


def fault_data(fault: Fault) -> dict[str, Any]:
    """Give a fault as plain values for ``json``."""
    return {
        "id": fault.id,
        "name": fault.name,
        "kind": fault.group,
        "of": fault.of,
        "clause": fault.clause,
        "cause": fault.cause,
        "weight": fault.weight,
        "alike": list(fault.alike),
    }
