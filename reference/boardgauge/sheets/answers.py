"""What a board does with a recipe, as far as it can be asked about.

Law of this module: the board is simulated and looked at; what is asked of it, and how, others say.
"""

from __future__ import annotations

from collections.abc import Iterator

from attrs import evolve

from boardgauge.language.quantities import MIN, S
from boardgauge.machine.chance import Timings
from boardgauge.machine.run import Run
from boardgauge.machine.simulate import Simulator
from boardgauge.sheets.exercise import Level
from boardgauge.sheets.recipes import Recipe, answer
from boardgauge.sheets.study import Study

_MOST_INSTANTS = 10
_EXTREMES: tuple[Timings, ...] = ("earliest", "latest")


def until_rest(study: Study, level: Level, recipe: Recipe, last: int) -> Recipe:
    """Let the board go on after the last change until it rests, or has done enough to be asked about."""
    board = Simulator(study.machine, engine=study.engine).board()
    board.feed(recipe.timeline().inputs)
    answered = max([0, *(row.responds_within for row in study.board.inputs.values())])
    end = last + answered + (S // 2 if level == 1 else 2 * S)
    board.advance(end)
    if level > 1:
        seen = {board.config}
        for _ in range(_MOST_INSTANTS):
            due = board.due()
            if due is None or due > last + 90 * MIN:
                break
            before = board.config
            board.advance(due)
            end = max(end, due + 2 * S)
            if board.config != before and board.config in seen:
                break  # it only does the same again
            seen.add(board.config)
    return evolve(recipe, end=end)


def plain(study: Study, run: Run, recipe: Recipe) -> Iterator[object]:
    """Give what happens without its times: what makes two exercises the same."""
    for entry, _ in answer(run, recipe):
        if entry.outcome is not None and (entry.outcome.commands or entry.outcome.moved):
            yield entry.outcome.commands, entry.outcome.moved, study.engine.lamp_lines(entry.config)


def plain_for_all(study: Study, run: Run, recipe: Recipe) -> bool:
    """Tell whether an early board and a late one do the same: an answer never hangs on a tolerance."""
    said = list(plain(study, run, recipe))
    longer = evolve(recipe, end=recipe.end + (recipe.end - recipe.asked) // 2 + 30 * S)
    others = [longer.run(study, timings) for timings in _EXTREMES]
    return all(list(plain(study, other, recipe))[: len(said)] == said for other in others)


def takes_time(study: Study, run: Run, recipe: Recipe) -> bool:
    """Tell whether something shows later than at once."""
    engine = study.engine
    return any(
        entry.causes.expired
        and (engine.outputs(entry.config), engine.lamp_lines(entry.config))
        != (engine.outputs(before), engine.lamp_lines(before))
        for entry, before in answer(run, recipe)
    )


def is_seen(study: Study, run: Run, recipe: Recipe) -> bool:
    """Tell whether anything shows at an output or a lamp."""
    engine = study.engine
    for entry, before in answer(run, recipe):
        if engine.outputs(entry.config) != engine.outputs(before):
            return True
        if engine.lamp_lines(entry.config) != engine.lamp_lines(before):
            return True
    return False
