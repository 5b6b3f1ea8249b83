"""An exercise on what a lamp shows: what it tells, and what is on.

Law of this module: the answer is that of the operating states in which the lamp shows the line.
"""

from __future__ import annotations

from boardgauge.drawings import words
from boardgauge.drawings.overview import state_names
from boardgauge.sheets.blocks import Figure, Points
from boardgauge.sheets.exercise import Exercise, Level
from boardgauge.sheets.figures import sentence
from boardgauge.sheets.lamp_strip import scale, strip
from boardgauge.sheets.study import Study
from boardgauge.sheets.telling import lamp_name


def lamp_exercise(study: Study, level: Level, lamp: str, line: int) -> Exercise:
    """Give the exercise on a line of a lamp's table; ``line`` counts from 0."""
    board, names = study.board, state_names(study.states)
    row = board.lamps[lamp].lines[line]
    like = [one for one in study.states.states if dict(one.lamps)[lamp] == line]
    facts = [f"It means: {words.lamp_line(board, lamp, line)}."]
    for output in board.outputs:
        values = {dict(one.outputs)[output] for one in like}
        label = words.thing(board, output)
        if values == {True}:
            facts.append(f"{label} is on.")
        elif values == {False}:
            facts.append(f"{label} is off.")
        else:
            facts.append(f"{label} may be on or off.")
    if row.do:
        facts.append(f"What to do: {row.do}")
    drawn = strip(board.lamps[lamp], row.shows, scale(board.lamps[lamp]))
    return Exercise(
        "lamp",
        level,
        f"The {lamp_name(board, lamp)} shows {words.pattern(row.shows)}.",
        (Figure(drawn),),
        (
            f"The {lamp_name(board, lamp)} goes on like this. What does it tell? Which outputs are on, which are "
            "off, and which may be either? What do you do?",
        ),
        4,
        tuple(sentence(fact) for fact in facts),
        (Points((f"State: {' or '.join(names[one.number] for one in like)}.", *(sentence(f) for f in facts))),),
    )
