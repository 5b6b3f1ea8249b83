"""The truth table has every operating state that the board can reach, and no other."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings

from board_strategies import boards
from boardgauge.drawings import words
from boardgauge.language.model import Board
from boardgauge.machine.picture import CannotSettle
from boardgauge.sheets.output_table import output_table
from boardgauge.sheets.study import Study
from sheets.sheet_helpers import BOARDS, study_of

Row = tuple[str, ...]


def _fits(study: Study, row: Row, outputs: tuple[bool, ...], lamps: tuple[str, ...]) -> bool:
    cells, shown = row[1 : 1 + len(outputs)], row[1 + len(outputs) :]
    pairs = zip(cells, outputs, strict=True)
    return shown == lamps and all(cell.startswith("ON while ") or (cell == "ON") == value for cell, value in pairs)


def _every_state_is_a_row(study: Study) -> None:
    engine, board = study.engine, study.board
    sheet = output_table(study)
    (table,) = sheet.tables()
    rows = [tuple(map(str, row)) for row in table.rows]
    met = set()
    for config in study.found.configs:
        lines = engine.lamp_lines(config)
        lamps = tuple(
            "dark" if line < 0 else words.pattern(lamp.lines[line].shows)
            for lamp, line in zip(board.lamps.values(), lines, strict=True)
        )
        values = engine.outputs(config)
        fitting = [number for number, row in enumerate(rows) if _fits(study, row, values, lamps)]
        assert fitting, (values, lamps)
        met |= set(fitting)
    assert met == set(range(len(rows)))
    assert len({row[0] for row in rows}) == len(rows)
    assert any("NOT COMPLETE" in note for note in table.notes) == (not study.found.complete)


@pytest.mark.parametrize("name", BOARDS)
def test_library_states_are_rows(name: str) -> None:
    """Each configuration of a library board fits a row and each row a configuration; no two rows are called alike."""
    _every_state_is_a_row(study_of(name))


@settings(max_examples=25, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much], deadline=None)
@given(boards())
def test_states_of_any_board_are_rows(board: Board) -> None:
    """The same holds of any board; where exploring hit a bound the table says so."""
    study = Study(board, most_configs=400)
    try:
        _every_state_is_a_row(study)
    except CannotSettle:
        return


def test_an_output_that_repeats_an_input_says_so() -> None:
    """The reversing valve of tarnbeck stands in one row with the input that it follows."""
    (table,) = output_table(study_of("tarnbeck")).tables()
    column = table.column("reversing valve (rv)")
    assert "ON while cooling on" in column
    assert "ON" in column
    assert "off" in column
