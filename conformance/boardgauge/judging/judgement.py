"""What the judge says of a trace, as values.

Law of this module: a deviation is a value, never an exception; its kind is one of a small closed set. Times are
microseconds as in the recording; ``Judgement.as_json`` counts seconds from the recording's start.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import Any, Literal

from attrs import field, frozen

from boardgauge.language.model import Spot
from boardgauge.traces.remarks import Remark

Verdict = Literal["conforms", "deviates", "undecided"]
DeviationKind = Literal["early", "late", "unasked", "missing", "lamp", "requirement", "start"]
"""``early``/``late``: outside a timing's window; ``unasked``: no rule asks for the change; ``missing``: a change that
an event asks for did not come; ``lamp``: it shows another line; ``requirement``: one is broken; ``start``: no state of
the board drives its outputs so."""


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """Give the verdict that stands for several: one deviation is enough, and one doubt spoils the rest.

    Raises ValueError if there are none.
    """
    order: tuple[Verdict, ...] = ("conforms", "undecided", "deviates")
    return max(verdicts, key=order.index)


@frozen
class Deviation:
    """One thing a board did that its spec forbids.

    ``time`` is when it was beyond doubt. ``earliest`` and ``latest`` bound the allowed window where there is one,
    ``counted_from`` says what set it, ``counted_since`` the earliest and latest moment it can have begun (of a lamp,
    the line that it should show); ``seen_since`` is when a lamp began to show what it showed. ``following``: the judge
    had not found its footing again since the one before.
    """

    kind: DeviationKind
    time: int
    signal: str
    channel: str
    rule: str
    clause: str | None
    earliest: int | None
    latest: int | None
    observed: str
    expected: str
    following: bool = False
    counted_from: str | None = None
    at: Spot | None = None
    others: tuple[str, ...] = ()
    counted_since: tuple[int, int] | None = None
    seen_since: int | None = None


@frozen
class TimingCoverage:
    """What a trace showed of one timing: how often it ended, and the least and greatest it can have lasted.

    Those of its ends before which a speed-up may have held (``sped_up`` of them) are not measured.
    """

    name: str
    rule: str
    clause: str | None
    shortest: int
    longest: int
    ended: int = 0
    least: int | None = None
    greatest: int | None = None
    sped_up: int = 0


@frozen
class RuleCoverage:
    """Whether a trace exercised a rule, and its timings."""

    rule: str
    kind: str
    clause: str | None
    exercised: bool
    timings: tuple[TimingCoverage, ...] = ()


@frozen
class LampCoverage:
    """Which lines of a lamp's table a trace showed for long enough to be read."""

    lamp: str
    lines: tuple[bool, ...]


@frozen
class Doubt:
    """Why a verdict is undecided: what allowed only thanks to the measuring uncertainty, or cannot be seen; or, of a
    board that deviates, from when on it is not judged, and why."""

    time: int
    rule: str | None
    reason: str


@frozen
class Judgement:
    """The verdict on one trace, with its evidence."""

    file: str
    board: str
    verdict: Verdict
    deviations: tuple[Deviation, ...]
    doubts: tuple[Doubt, ...]
    rules: tuple[RuleCoverage, ...]
    lamps: tuple[LampCoverage, ...]
    start: int
    end: int
    known_start: bool
    unwired: tuple[str, ...] = ()
    ignored: tuple[str, ...] = ()
    spec_digest: str = ""
    trace_digest: str = ""
    clock_rate: tuple[Fraction, Fraction] | None = None
    most_hypotheses: int = field(default=0, eq=False)
    remarks: tuple[Remark, ...] = ()

    def seconds(self, time: int | None) -> float | None:
        """Give a time in seconds from the start of the recording."""
        return None if time is None else (time - self.start) / 1_000_000

    def as_json(self) -> dict[str, Any]:
        """Give the judgement as plain values for ``json``."""
        return {
            "trace": self.file,
            "board": self.board,
            "verdict": self.verdict,
            "deviations": [self._deviation(d) for d in self.deviations],
            "doubts": [{"time": self.seconds(d.time), "rule": d.rule, "reason": d.reason} for d in self.doubts],
            "coverage": {
                "rules": [self._rule(rule) for rule in self.rules],
                "lamps": [{"lamp": row.lamp, "lines": list(row.lines)} for row in self.lamps],
            },
            "start": "power-up" if self.known_start else "unknown",
            "clock_rate": None if self.clock_rate is None else [float(bound) for bound in self.clock_rate],
            "remarks": [self._remark(remark) for remark in self.remarks],
            "not_wired": list(self.unwired),
            "channels_not_used": list(self.ignored),
            "spec_digest": self.spec_digest,
            "trace_digest": self.trace_digest,
        }

    def _remark(self, remark: Remark) -> dict[str, Any]:
        return {
            "signal": remark.signal,
            "channel": remark.channel,
            "kind": remark.kind,
            "from": self.seconds(remark.start),
            "to": self.seconds(remark.end),
            "known": remark.known,
            "text": remark.text,
        }

    def _deviation(self, d: Deviation) -> dict[str, Any]:
        return {
            "time": self.seconds(d.time),
            "signal": d.channel,
            "kind": d.kind,
            "rule": d.rule,
            "clause": d.clause,
            "earliest": self.seconds(d.earliest),
            "latest": self.seconds(d.latest),
            "observed": d.observed,
            "expected": d.expected,
            "counted_from": d.counted_from,
            "following": d.following,
            "others": list(d.others),
            "spec": None if d.at is None else str(d.at),
        }

    @staticmethod
    def _rule(rule: RuleCoverage) -> dict[str, Any]:
        return {
            "rule": rule.rule,
            "kind": rule.kind,
            "clause": rule.clause,
            "exercised": rule.exercised,
            "timings": [
                {
                    "timing": t.name,
                    "clause": t.clause,
                    "shortest": t.shortest / 1_000_000,
                    "longest": t.longest / 1_000_000,
                    "ended": t.ended,
                    "ended_sped_up": t.sped_up,
                    "measured_least": None if t.least is None else t.least / 1_000_000,
                    "measured_greatest": None if t.greatest is None else t.greatest / 1_000_000,
                }
                for t in rule.timings
            ],
        }
