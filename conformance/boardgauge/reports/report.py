"""What is reported of one board: its judged recordings, and what they come to together.

Law of this module: it adds nothing to the judgements but counting. One deviation is enough for the board to deviate,
and one doubt to be undecided; what any run exercised is exercised. A board is qualified only if it was a real one, it
conforms, every plan that was run reached all its goals, and every rule was exercised; without a plan nothing is said of
the board as a whole.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from attrs import field, frozen

from boardgauge.judging.judgement import Deviation, Judgement, Verdict, worst
from boardgauge.language.model import Board
from boardgauge.machine.compile import compile_board
from boardgauge.plans.plan import untried
from boardgauge.records.entry import PlanCoverage, any_simulated, together
from boardgauge.rigs.rig import NOT_KEPT, SIMULATED


@frozen
class RecordingFile:
    """A file of a recording: what it is called, and the SHA-256 of its bytes."""

    name: str
    sha256: str


@frozen
class JudgedRun:
    """One judged recording. ``number`` is its run in the records, None if it is not from there.

    ``simulated``: no real board stood on the rig; None: not known, since an earlier version kept the run.
    """

    judgement: Judgement
    files: tuple[RecordingFile, ...]
    number: int | None = None
    measured: datetime | None = None
    plan: PlanCoverage | None = None
    simulated: bool | None = False

    @property
    def name(self) -> str:
        """What the recording is called."""
        return ", ".join(file.name for file in self.files)

    @property
    def seconds(self) -> float:
        """How long it is."""
        return (self.judgement.end - self.judgement.start) / 1_000_000


@frozen
class TimingTold:
    """One timing over all runs; seconds, None where nothing was measured.

    ``varies``: what is allowed hangs on a setting, and ``shortest`` and ``longest`` are those of all its positions;
    ``deviates``: its rule was broken.
    """

    timing: str
    rule: str
    clause: str | None
    shortest: float
    longest: float
    varies: bool
    ended: int
    sped_up: int
    least: float | None
    greatest: float | None
    deviates: bool

    @property
    def room(self) -> float | None:
        """How far what was measured stays inside what is allowed, seconds; below zero it may lie outside."""
        if self.least is None or self.greatest is None or self.varies:
            return None
        return min(self.least - self.shortest, self.longest - self.greatest)

    @property
    def straddles(self) -> bool:
        """Whether what was measured may lie outside what is allowed, and may as well lie inside."""
        if self.room is None or self.least is None or self.greatest is None:
            return False
        return self.room < 0 and self.least <= self.longest and self.greatest >= self.shortest

    @property
    def share(self) -> float | None:
        """``room`` against half of what is allowed: 1 in the very middle, 0 at a limit."""
        half = (self.longest - self.shortest) / 2
        return None if self.room is None or half <= 0 else self.room / half


@frozen
class RuleTold:
    """One rule or timed condition over all runs."""

    rule: str
    kind: str
    clause: str | None
    exercised: bool
    deviates: bool


@frozen
class LampTold:
    """A lamp's table over all runs: for each line, whether it was shown long enough to be read."""

    lamp: str
    lines: tuple[bool, ...]


@frozen
class BoardReport:
    """What is reported of a board. ``command`` makes the report again, ``made`` is when it was made."""

    board: Board
    runs: tuple[JudgedRun, ...]
    version: str
    command: str
    serial: str | None = None
    lot: str | None = None
    operator: str | None = None
    rig: str | None = None
    rig_kind: str | None = None
    made: datetime | None = None
    notes: tuple[str, ...] = field(default=())

    @property
    def verdict(self) -> Verdict:
        """The worst verdict of the runs."""
        return worst(run.judgement.verdict for run in self.runs)

    @property
    def plans(self) -> tuple[PlanCoverage, ...]:
        """What each plan that was run reached, over all runs."""
        return together(run.plan for run in self.runs if run.plan is not None)

    @property
    def simulated(self) -> bool | None:
        """Whether no real board was there in one of the runs; None where that is not known."""
        return any_simulated(run.simulated for run in self.runs)

    @property
    def shown_whole(self) -> bool:
        """Tell whether all conforms, a plan was run and none missed a goal, and every rule was exercised.

        A plan that left something untried, since there was too little time to plan for it, shows no board whole.
        """
        plans = self.plans
        whole = bool(plans) and all(plan.complete for plan in plans)
        return self.verdict == "conforms" and whole and not self.untried and not self.not_exercised()

    @property
    def qualified(self) -> bool:
        """Tell whether a real board was shown whole."""
        return self.shown_whole and self.simulated is False

    @property
    def untried(self) -> int:
        """How many goals its plans left out only since there was too little time to plan for them."""
        return sum(untried(one.kind, one.reason) for plan in self.plans for one in plan.left_out)

    @property
    def name(self) -> str:
        """What the board is called: its id and serial number."""
        return self.board.id if self.serial is None else f"{self.board.id} {self.serial}"

    def deviations(self) -> tuple[tuple[JudgedRun, Deviation], ...]:
        """Give all deviations, each with its run."""
        return tuple((run, deviation) for run in self.runs for deviation in run.judgement.deviations)

    def rules(self) -> tuple[RuleTold, ...]:
        """Give every rule, in the order of the spec."""
        broken = {deviation.rule for _, deviation in self.deviations()}
        exercised = {rule.rule for run in self.runs for rule in run.judgement.rules if rule.exercised}
        return tuple(
            RuleTold(rule.rule, rule.kind, rule.clause, rule.rule in exercised, rule.rule in broken)
            for rule in self.runs[0].judgement.rules
        )

    def timings(self) -> tuple[TimingTold, ...]:
        """Give every timing, in the order of the spec."""
        broken = {deviation.rule for _, deviation in self.deviations()}
        varying = {timing.name for timing in compile_board(self.board).timings if len(timing.choices) > 1}
        found: dict[str, TimingTold] = {}
        for run in self.runs:
            for rule in run.judgement.rules:
                for one in rule.timings:
                    before = found.get(one.name)
                    found[one.name] = TimingTold(
                        one.name,
                        one.rule,
                        one.clause,
                        one.shortest / 1_000_000,
                        one.longest / 1_000_000,
                        one.name in varying,
                        one.ended + (before.ended if before else 0),
                        one.sped_up + (before.sped_up if before else 0),
                        _extreme(min, one.least, before.least if before else None),
                        _extreme(max, one.greatest, before.greatest if before else None),
                        one.rule in broken,
                    )
        return tuple(found.values())

    def lamps(self) -> tuple[LampTold, ...]:
        """Give every lamp."""
        found: dict[str, tuple[bool, ...]] = {}
        for run in self.runs:
            for row in run.judgement.lamps:
                before = found.get(row.lamp, (False,) * len(row.lines))
                found[row.lamp] = tuple(a or b for a, b in zip(before, row.lines, strict=True))
        return tuple(LampTold(lamp, lines) for lamp, lines in found.items())

    def not_exercised(self) -> tuple[str, ...]:
        """Give the rules and timed conditions of which nothing is proved."""
        return tuple(rule.rule for rule in self.rules() if not rule.exercised)


def statement(report: BoardReport) -> str:
    """Say in a sentence or two what the verdict means for this board."""
    said = _meaning(report)
    return said if report.simulated is False else f"{told_of(report.simulated).capitalize()}. {said}"


def told_of(simulated: bool | None) -> str:
    """Say that no real board was there, or that it is not known; empty where there was one."""
    return "" if simulated is False else SIMULATED if simulated else NOT_KEPT


def _meaning(report: BoardReport) -> str:
    if report.verdict == "deviates":
        number = len(report.deviations())
        what = "one deviation" if number == 1 else f"{number} deviations"
        return f"The board deviates: beyond doubt it did what its spec forbids ({what})."
    if report.verdict == "undecided":
        return "Undecided: neither that the board obeyed nor that it did not can be said beyond doubt."
    if report.qualified:
        plans = " and ".join(plan.title for plan in report.plans)
        return f"Qualified by {plans}: the board conforms, and all goals of the plan and all rules were exercised."
    missing = len(report.not_exercised())
    done = len(report.rules()) - missing
    text = f"The board conforms in what was exercised: {done} of {len(report.rules())} rules and timed conditions."
    if missing:
        text += (
            f" Of the other {missing} nothing is proved: to conform without having exercised a rule proves nothing "
            "about it."
        )
    missed = sum(len(plan.missed) for plan in report.plans)
    if report.shown_whole:
        return f"{text} Every goal of the plan was reached, but by no board that is known to be real: none qualifies."
    if report.plans and not missed and not missing:
        goals = f"{report.untried} of its goals {'was' if report.untried == 1 else 'were'} not tried"
        return f"{text} The plan qualifies no board: {goals} when the plan was made."
    if report.plans and not missed:
        return f"{text} Every goal of the plan was reached, but it leaves out rules, so it does not qualify the board."
    if not report.plans:
        return f"{text} No plan was run, so this says nothing of the board as a whole."
    return f"{text} The plan missed {missed} of its goals, so this says nothing of the board as a whole."


def _extreme(choose: Callable[[float, float], float], one: int | None, before: float | None) -> float | None:
    now = None if one is None else one / 1_000_000
    if now is None or before is None:
        return before if now is None else now
    return choose(now, before)
