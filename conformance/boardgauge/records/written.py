"""What a person wrote on the sheet of a plan, as a recording of the records.

Law of this module: the times as they were written and the plan that they belong to are the recording, byte for byte;
each sitting is a run. A hand reaches none of a plan's goals, since what a plan finds it finds with a recorder; that the
sheet was written whole, and as it should be, is all that is claimed.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from pathlib import PurePath

from attrs import frozen

from boardgauge.judging.run import Start
from boardgauge.language.model import Board
from boardgauge.language.quantity_reader import read_plain_time
from boardgauge.language.quantity_writer import write_plain_time
from boardgauge.language.toml_writer import quoted
from boardgauge.plans.entering import Sheet, Written, trace_of_sheet
from boardgauge.plans.pace import asks_for_a_time, for_hand
from boardgauge.plans.plan import Plan, Sitting
from boardgauge.plans.plan_reader import read_plan_text
from boardgauge.plans.sheet_reader import read_sheets_text
from boardgauge.records.entry import Goal, KeptFile, LeftOut, PlanCoverage
from boardgauge.traces.trace import Trace

WRITTEN = "as written"
"""What stands in place of a wiring's id: no wiring can be called so."""
START: Start = "power-up"
"""A sitting begins with the supply off."""


@frozen
class WrittenSheet:
    """The files of a sheet that was written: its times, and its plan; ``reaction`` (microseconds) is how far off."""

    times: KeptFile
    plan: KeptFile
    reaction: int

    @property
    def files(self) -> tuple[KeptFile, KeptFile]:
        """The files, by names that can stand in one folder."""
        if PurePath(self.times.name).name != PurePath(self.plan.name).name:
            return self.times, self.plan
        return self.times, KeptFile(f"plan-{PurePath(self.plan.name).name}", self.plan.content)

    def reading(self, sitting: Sitting) -> str:
        """Say how a sitting is read from the files: what stands in place of a wiring's text."""
        return f"sitting = {quoted(sitting.id)}\nreaction = {quoted(write_plain_time(self.reaction))}\n"

    def coverage(self, plan: Plan, sheets: Sequence[Sheet]) -> PlanCoverage:
        """Give what was done of a plan by hand."""
        rows = {(sheet.sitting.id, number): row for sheet in sheets for number, row in sheet.written.items()}
        asked = [
            (sitting.id, number)
            for sitting in plan.sittings
            for number in range(len(sitting.steps))
            if asks_for_a_time(sitting, number)
        ]
        good = sum(place in rows and _as_it_should(rows[place]) for place in asked)
        steps = Goal("step", f"{good} of {len(asked)} steps written as they should be")
        whole = good == len(asked)
        goals = sum(len(row.goals) for row in plan.covers)
        missed = (() if whole else (steps,)) + (
            (Goal("by hand", f"{goals} that a recorder has to show"),) if goals else ()
        )
        left = tuple(LeftOut(row.kind, goal, row.reason) for row in plan.leaves_out for goal in row.goals)
        return PlanCoverage(plan.title, self.plan.sha256, (steps,) if whole else (), missed, left)


def _as_it_should(row: Written) -> bool:
    return row.time is not None and not row.outputs and not row.lamps


def trace_of_written(files: Sequence[tuple[str, bytes]], reading: str, board: Board) -> Trace:
    """Give the trace of a kept sitting. Raises UnusableSpec where its plan is of another spec, or files are damaged."""
    (times_name, times), (plan_name, plan_text) = files
    said = tomllib.loads(reading)
    plan = for_hand(read_plan_text(plan_text.decode("utf-8-sig"), plan_name, board), board)
    off = read_plain_time(str(said["reaction"]))
    sheets, _ = read_sheets_text(times.decode("utf-8-sig"), times_name, plan, board, off)
    sheet = next(sheet for sheet in sheets if sheet.sitting.id == said["sitting"])
    return trace_of_sheet(sheet, board, off)
