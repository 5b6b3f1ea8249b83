"""A sheet of a scenario that ships with a board or that a trainer wrote: what happens, and its timing chart.

Law of this module: it tells of the run of the scenario at nominal times, as the sequences tell of theirs.
"""

from __future__ import annotations

from attrs import evolve

from boardgauge.language.model import Board
from boardgauge.language.quantities import Quantity
from boardgauge.language.units import in_unit
from boardgauge.machine.run import Value
from boardgauge.machine.scenario import Scenario, SetInputs, Until, play
from boardgauge.sheets.blocks import Block, Paragraph, Sheet, Steps
from boardgauge.sheets.reader_units import Degrees, in_degrees
from boardgauge.sheets.stories import Story
from boardgauge.sheets.story_chart import story_chart
from boardgauge.sheets.study import Study
from boardgauge.sheets.telling import Telling


def scenario_sheet(board: Board, scenario: Scenario, degrees: Degrees | None = None) -> Sheet:
    """Give the sheet of a scenario, read for ``board`` as it is written; temperatures in ``degrees``.

    Raises ScenarioStuck, CannotSettle.
    """
    study = Study(in_degrees(board, degrees))
    run = play(study.machine, _told_in(scenario, board, study.board, degrees), engine=study.engine)
    telling = Telling(study)
    before = study.engine.off(dict(scenario.positions))
    story = Story("scenario", (), scenario.title, run.story, before, 0, run, len(run.story))
    items = list(telling.story(run.story, before))
    blocks: list[Block] = [Steps(tuple(items))] if items else [Paragraph("Nothing happens in this scenario.")]
    chart = story_chart(study, story) if run.story else None
    if chart is not None:
        blocks.append(evolve(chart, title=""))
    return Sheet(f"scenario-{scenario.board}", scenario.title, tuple(blocks), sideways=True)


def _told_in(scenario: Scenario, board: Board, told: Board, degrees: Degrees | None) -> Scenario:
    """Give a scenario with its readings in the units of ``told``."""

    def value(name: str, given: Value) -> Value:
        unit, new = board.inputs[name].unit if name in board.inputs else None, None
        if unit is not None:
            new = told.inputs[name].unit
        if isinstance(given, bool) or unit is None or new is None or unit == new:
            return given
        return in_unit(Quantity(given, unit), new).number

    steps = []
    for step in scenario.steps:
        if isinstance(step, SetInputs):
            step = evolve(step, values={name: value(name, given) for name, given in step.values.items()})
        elif isinstance(step, Until):
            step = evolve(step, trigger=in_degrees(step.trigger, degrees))
        steps.append(step)
    return evolve(scenario, steps=tuple(steps), start={n: value(n, v) for n, v in scenario.start.items()})
