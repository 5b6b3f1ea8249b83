"""Any other implementation as the subject of the suite: a command that reads a case and writes its answer.

Law of this module: the contract is that of README.md, and a command that breaks it has failed the case, with the
reason. Nothing of a command's doing is an exception here.
"""

from __future__ import annotations

import json
import subprocess
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from boardgauge.cases.case import SUITE, Case
from boardgauge.cases.subject import Broke, Judged, Outcome, Played, Refused, Row, Skipped

_STATES = {True: True, False: False, "on": True, "off": False, "lit": True, "dark": False}


class External:
    """An implementation run as a command, once a case; ``seconds`` is the longest it may take."""

    def __init__(self, command: Sequence[str], seconds: float = 60) -> None:
        self.command = list(command)
        self.seconds = seconds

    def play(self, case: Case) -> Outcome:
        """Ask the command to play."""
        return self._ask(case)

    def judge(self, case: Case) -> Outcome:
        """Ask the command to judge."""
        return self._ask(case)

    def _ask(self, case: Case) -> Outcome:
        question = json.dumps(
            {"suite": SUITE, "case": case.name, "asks": case.asks, **case.document}, ensure_ascii=False
        )
        try:
            answer = subprocess.run(
                self.command, input=question.encode(), capture_output=True, timeout=self.seconds, check=False
            )
        except subprocess.TimeoutExpired:
            return Broke(f"no answer within {self.seconds:g} s")
        except OSError as error:
            return Broke(f"the command cannot be run: {error.strerror or error}")
        if answer.returncode != 0:
            said = answer.stderr.decode("utf-8", "replace").strip().splitlines()
            return Broke(f"exit status {answer.returncode}" + (f": {said[-1]}" if said else ""))
        try:
            return outcome_from(json.loads(answer.stdout))
        except (ValueError, KeyError, TypeError, AttributeError) as error:
            return Broke(f"the answer is not as the contract says: {error}")


def outcome_from(answer: dict[str, Any]) -> Outcome:
    """Read an answer of the contract. Raises ValueError, KeyError or TypeError for one that is not."""
    if "skipped" in answer:
        return Skipped(str(answer["skipped"]))
    if "refused" in answer:
        return Refused(str(answer["refused"]))
    if "outputs" in answer:
        rows = [Row(_micros(time), str(signal), _STATES[value]) for time, signal, value in answer["outputs"]]
        return Played(tuple(sorted(rows, key=lambda row: (row.time, row.signal))))
    first = answer.get("first") or {}
    times = {name: _micros(first[name]) for name in ("time", "earliest", "latest") if first.get(name) is not None}
    return Judged(
        str(answer["verdict"]), signal=first.get("signal"), rule=first.get("rule"), clause=first.get("clause"), **times
    )


def _micros(seconds: float) -> int:
    return round(Fraction(seconds) * 1_000_000)
