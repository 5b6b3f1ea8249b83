"""Run a case against a subject and say where the answer differs.

Law of this module: the case decides, never the subject. A case that is known to fail and passes all the same is an
error, so that no excuse outlives its reason.
"""

from __future__ import annotations

from typing import Literal

from attrs import frozen

from boardgauge.cases.case import Case, FirstDeviation
from boardgauge.cases.subject import Broke, Judged, Outcome, Played, Refused, Row, Skipped, Subject

Mark = Literal["passed", "passed in part", "failed", "skipped", "known failure"]

_NOT_GIVEN = "not given"


@frozen
class Result:
    """How a case went; ``differences`` say where the answer is not what the case expects, one a line."""

    case: Case
    mark: Mark
    differences: tuple[str, ...] = ()

    @property
    def good(self) -> bool:
        """Tell whether the suite may pass with this."""
        return self.mark != "failed"

    def __str__(self) -> str:
        lines = [f"{self.mark:14} {self.case.name}: {self.case.description}"]
        return "\n".join([*lines, *(f"{'':15}{difference}" for difference in self.differences)])


def run_case(case: Case, subject: Subject, excuse: bool = True) -> Result:
    """Run one case. ``excuse`` is for the default subject only: it heeds ``known_failure``.

    Any other subject may leave out what it does not know of a first deviation; it has then passed in part. The default
    subject has failed.
    """
    try:
        outcome = subject.judge(case) if case.asks == "judge" else subject.play(case)
    except Exception as error:  # a subject that falls over has failed this case; the others still count
        outcome = Broke(f"it fell over: {type(error).__name__}: {error}")
    if isinstance(outcome, Skipped):
        return Result(case, "skipped", (outcome.reason,))
    differences = tuple(compare(case, outcome))
    if case.known_failure is not None and excuse:
        if differences:
            return Result(case, "known failure", (case.known_failure,))
        return Result(case, "failed", (f"it passes, though it is known to fail: {case.known_failure}",))
    if not differences:
        return Result(case, "passed")
    left_out = not excuse and all(_NOT_GIVEN in difference for difference in differences)
    return Result(case, "passed in part" if left_out else "failed", differences)


def compare(case: Case, outcome: Outcome) -> list[str]:
    """Give the differences between what a case expects and what came."""
    match outcome:
        case Broke(reason=reason):
            return [reason]
        case Refused(message=message):
            if case.asks != "refuse":
                return [f"the spec was refused: {message}"]
            return [f"the refusal does not say {text!r}: {message}" for text in case.refused if text not in message]
        case Played(rows=rows):
            if case.asks == "refuse":
                return ["the spec was not refused"]
            return _compare_rows(case, rows) if case.asks == "play" else ["outputs came where a verdict was asked for"]
        case Judged():
            return _compare_verdict(case, outcome) if case.asks == "judge" else ["a verdict came, not asked for"]
    return [f"an answer of an unknown sort: {outcome!r}"]


def _compare_rows(case: Case, came: tuple[Row, ...]) -> list[str]:
    wanted = sorted(case.outputs, key=lambda row: (row.time, row.signal))
    # A lamp goes on for ever; it is looked at only where the case says something of it.
    said = {row.signal for row in wanted}
    lamps = {name for name in _names(came) - said if _is_lamp(case, name)}
    shown = [row for row in came if row.signal not in lamps]
    missing = [row for row in wanted if row not in shown]
    extra = [row for row in shown if row not in wanted]
    return [f"missing: {_row(row)}" for row in missing] + [f"not expected: {_row(row)}" for row in extra]


def _names(rows: tuple[Row, ...]) -> set[str]:
    return {row.signal for row in rows}


def _is_lamp(case: Case, name: str) -> bool:
    return f"[lamps.{name}]" in case.board or case.from_library


def _row(row: Row) -> str:
    state = ("on" if row.value else "off") if isinstance(row.value, bool) else row.value
    return f"{row.signal} {state} at {_seconds(row.time)}"


def _compare_verdict(case: Case, came: Judged) -> list[str]:
    found = []
    if came.verdict not in case.verdicts:
        where = "" if came.time is None else f" (first {came.signal} at {_seconds(came.time)}, {came.rule})"
        found.append(f"verdict {came.verdict}{where}, expected {' or '.join(case.verdicts)}")
    elif case.first is not None and came.verdict == "deviates":
        found += _compare_first(case.first, came)
    return found


def _compare_first(wanted: FirstDeviation, came: Judged) -> list[str]:
    found = []
    for what in ("time", "earliest", "latest"):
        expected, observed = getattr(wanted, what), getattr(came, what)
        if expected is not None and (observed is None or abs(observed - expected) > wanted.within):
            found.append(f"{what} {_seconds(observed)}, expected {_seconds(expected)}")
    for what in ("signal", "clause"):
        expected, observed = getattr(wanted, what), getattr(came, what)
        if expected is not None and observed != expected:
            found.append(f"{what} {_said(observed)}, expected {expected}")
    if wanted.rules and came.rule not in wanted.rules:
        found.append(f"rule {_said(came.rule)}, expected {' or '.join(wanted.rules)}")
    return found


def _said(name: str | None) -> str:
    return _NOT_GIVEN if name is None else name


def _seconds(time: int | None) -> str:
    return _NOT_GIVEN if time is None else f"{time / 1_000_000:.6f} s"
