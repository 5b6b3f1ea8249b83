"""Exercises on faulty boards: a chart of what a board did, and the question which rule it broke.

Law of this module: the board is simulated with one fault of the library, and the key is what the judge says of its
trace. A fault that the judge does not find beyond doubt makes no exercise.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import islice
from random import Random

from attrs import evolve

from boardgauge.drawings import words
from boardgauge.drawings.time_words import least, most
from boardgauge.faults import Fault, faults_of
from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Deviation
from boardgauge.language.model import Board
from boardgauge.language.quantities import S
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import Run
from boardgauge.machine.terminals import MissingValue, TooShort
from boardgauge.sheets.blocks import Column, Figure, Points, Table
from boardgauge.sheets.exercise import Exercise, Level
from boardgauge.sheets.exercise_words import clock
from boardgauge.sheets.figures import many, sentence, stopwatch
from boardgauge.sheets.recipes import Recipe, changes_of
from boardgauge.sheets.stories import Story, stories
from boardgauge.sheets.story_chart import drawn_chart, figure_of_chart
from boardgauge.sheets.study import Study
from boardgauge.sheets.telling import lamp_name
from boardgauge.traces import condition, default_wiring
from boardgauge.traces.simulated import recording_of
from boardgauge.traces.trace import Trace

_MOST_TRIES = 60
_MOST_ROWS = 14
_MOST_CHANGES = 24
_BEGINS = "The recording begins as the power comes on; every time counts from there."
_AFTER = 10 * S
_SECONDS = re.compile(r"\b(before|since|by|at) ([0-9]+\.[0-9]{3}) s\b")
"""A moment as the judge says it; a sheet says all of its moments one way."""
_LONGEST = 2 * 3600 * S


def fault_exercises(study: Study, level: Level, number: int, seed: int) -> tuple[Exercise, ...]:
    """Give exercises on faulty boards, each with another fault; fewer where there are not so many."""
    return tuple(islice(_all(study, level, Random(f"{seed} {level} faults")), number))


def _all(study: Study, level: Level, chance: Random) -> Iterator[Exercise]:
    faults = list(faults_of(study.board))
    told = [one for one in stories(study)[0] if one.kind != "power-up" and one.run.end < _LONGEST]
    if not faults or not told:
        return
    judge = Judge.of(study.board)
    asked: set[tuple[str, str]] = set()
    for _ in range(_MOST_TRIES):
        fault, story = chance.choice(faults), chance.choice(told)
        found = _exercise(study, level, fault, story, judge)
        if found is not None and (found[0].rule, found[0].kind) not in asked:
            asked.add((found[0].rule, found[0].kind))
            yield found[1]


def _exercise(
    study: Study, level: Level, fault: Fault, story: Story, judge: Judge
) -> tuple[Deviation, Exercise] | None:
    """Run a faulty board through a story; None where the judge does not find it wanting."""
    faulty = Study(fault.board)
    end = story.entries[-1].time + _AFTER
    # The judge tells times of the recording, from the power on; so does all of this exercise.
    recipe = Recipe(tuple(changes_of(story.run, end)), 0, story.start, end)
    try:
        good, run = recipe.run(study), recipe.run(faulty)
    except (CannotSettle, TooShort, MissingValue):
        return None
    judgement = judge.judge(trace_of(study.board, run))
    if judgement.verdict != "deviates":
        return None
    first = judgement.deviations[0]
    changes = sum(len(run.outputs[output].changes) for output in study.board.outputs)
    if first.time < story.start or changes > _MOST_CHANGES:
        return None
    chart, whole = _chart(faulty, run, story, False), _chart(study, good, story, True)
    measured = _measured(faulty, run, recipe, first.time)
    if chart is None or whole is None or measured is None:
        return None
    ask = (
        "This board has one fault. Which rule does it break? What should it have done, and between which limits? "
        "What is the first moment that proves it?"
    )
    told = tuple(_told(study, fault, first, recipe))
    exercise = Exercise(
        "find the fault",
        level,
        "Find the fault",
        (Points((_BEGINS,)), chart, measured),
        (ask,),
        4,
        told,
        (Points(told), Figure(whole.drawing, title="A board in order")),
        recipe,
    )
    return first, exercise


def trace_of(board: Board, run: Run) -> Trace:
    """Give the trace of a run as a recorder at the board's terminals would have it."""
    return condition(recording_of(run, board), default_wiring(board), board)


def _told(study: Study, fault: Fault, first: Deviation, recipe: Recipe) -> Iterator[str]:
    clause = f" [{words.clause(first.clause)}]" if first.clause else ""
    yield sentence(f"rule broken: {words.thing(study.board, first.rule)}{clause}")
    yield sentence(f"seen: {first.observed.split(' at ')[0]}, at {clock(first.time - recipe.zero)}")
    expected = _SECONDS.sub(lambda at: f"{at[1]} {clock(round(float(at[2]) * S) - recipe.zero)}", first.expected)
    yield sentence(f"expected: {expected}")
    if first.earliest is not None or first.latest is not None:
        low = "" if first.earliest is None else f"not before {least(max(0, first.earliest - recipe.zero))}"
        high = "" if first.latest is None else f"not after {most(max(0, first.latest - recipe.zero))}"
        yield sentence(f"allowed: {', '.join(part for part in (low, high) if part)}")
    yield sentence(f"the fault that the board was given: {fault.name}; likely cause: {fault.cause}")


def _chart(study: Study, run: Run, story: Story, meanings: bool) -> Figure | None:
    """Draw what a board did in a story; with ``meanings`` what its lamp means by what it shows."""
    entries = tuple(entry for entry in run.story if entry.time >= story.start)
    if not entries:
        return None
    before = next((entry.config for entry in reversed(run.story) if entry.time < story.start), study.engine.off())
    made = drawn_chart(
        study, Story(story.kind, story.about, story.title, entries, before, story.start, run, 0), meanings
    )
    return None if made is None else figure_of_chart(evolve(made, zero=0, axis="seconds from the power on"), "")


def _measured(study: Study, run: Run, recipe: Recipe, proof: int) -> Table | None:
    """Give what was measured: each moment at which an output or a lamp changes, with the time since the one before.

    It goes on as far as there is room, whatever the moment is that is the ``proof``: where it ends tells nothing of it.
    None where the proof would be left out.
    """
    board = study.board
    changes: dict[int, list[str]] = {}
    for output in board.outputs.values():
        for time, value in run.outputs[output.id].changes:
            changes.setdefault(time, []).append(f"{words.thing(board, output.id)} {'on' if value else 'off'}")
    before: tuple[str, ...] = ()
    for entry in run.story:
        patterns = tuple(
            _pattern(study, number, line) for number, line in enumerate(study.engine.lamp_lines(entry.config))
        )
        for lamp, old, new in zip(board.lamps, before, patterns, strict=False):
            if old != new:
                changes.setdefault(entry.time, []).append(f"{lamp_name(board, lamp)} shows {new}")
        before = patterns
    times = sorted(time for time in changes if time >= recipe.asked)
    told = times[:_MOST_ROWS]
    if sum(time <= proof for time in times) > len(told):
        return None
    rows = tuple(
        (clock(time), ", ".join(changes[time]), stopwatch(time - last) if time > last else "")
        for time, last in zip(told, [recipe.asked, *told], strict=False)
    )
    columns = (Column("At", 1), Column("Goes", 5), Column("Since the change before", 1.5))
    left = len(times) - len(told)
    more = (f"What changes later, at {many(left, 'moment')}, is left out.",) if left else ()
    return Table("measured", columns, rows, "Measured", more, stays=True)


def _pattern(study: Study, number: int, line: int) -> str:
    lamp = tuple(study.board.lamps.values())[number]
    return "dark" if line < 0 else words.pattern(lamp.lines[line].shows)
