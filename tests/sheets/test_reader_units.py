"""A board told in other degrees is the same board."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.boards import board_path
from boardgauge.language import read_board
from boardgauge.language.expressions import Comparison, walk
from boardgauge.machine.compile import compile_board
from boardgauge.machine.explore import explore
from boardgauge.sheets.contents import make
from boardgauge.sheets.handout import handout
from boardgauge.sheets.reader_units import in_degrees, in_prose
from boardgauge.sheets.study import Study


def test_limits_accuracy_and_prose_are_converted() -> None:
    """Limits get the 32 added, an accuracy does not; sentences are converted too, ids and the digest are not."""
    board = read_board(board_path("tarnbeck-thermistor"))
    told = in_degrees(board, "F")
    limits = [
        (str(float(q.number)), q.unit)
        for row in told.conditions.values()
        for node in walk(row.is_)
        if isinstance(node, Comparison)
        for q in (node.limit, node.until)
        if q is not None
    ]
    assert limits == [("28.4", "°F"), ("32.0", "°F"), ("57.2", "°F"), ("53.6", "°F")]
    coil = told.inputs["coil"]
    assert coil.unit == "°F"
    assert coil.accuracy is not None
    assert (coil.accuracy.number, coil.accuracy.unit) == (Fraction(9, 5), "°F")
    assert coil.note.text == "coil temperature; 500 mV at 32 °F, 10 mV for each K"
    assert (told.id, told.digest, tuple(told.rules)) == (board.id, board.digest, tuple(board.rules))


@pytest.mark.parametrize("name", ["tarnbeck", "tarnbeck-thermistor", "extract-fan"])
def test_degrees_of_the_spec_change_nothing(name: str) -> None:
    """Told in the degrees it is written in, a board is equal to itself; without a wish it is itself."""
    board = read_board(board_path(name))
    assert in_degrees(board, "C") == board
    assert in_degrees(board, None) is board


def test_it_does_the_same() -> None:
    """In other degrees a board has as many configurations and steps between them."""
    board = read_board(board_path("tarnbeck-thermistor"))
    one, other = (explore(compile_board(b)) for b in (board, in_degrees(board, "F")))
    assert (len(one.configs), len(one.edges)) == (len(other.configs), len(other.edges))


def test_a_sheet_tells_no_other_degrees() -> None:
    """A handout in °F mentions no °C, and one in °C no °F."""
    board = read_board(board_path("tarnbeck-thermistor"))
    for degrees, other in (("F", "°C"), ("C", "°F")):
        made = handout(board, wanted=["terminals", "sequence"], degrees=degrees)  # type: ignore[arg-type]  # C or F
        assert other not in str(made.sheets)
    assert "< 28.4" not in str(make(Study(board), "sequence"))


@given(st.integers(-400, 4000).map(lambda n: Fraction(n, 10)))
def test_prose_is_converted_to_a_tenth(number: Fraction) -> None:
    """A temperature in a sentence is within a twentieth of a degree of the exact one, and comes back as it was."""
    text = in_prose(f"at {float(number):g} °C or above", "°F")
    shown = Fraction(text.split()[1])
    assert abs(shown - (number * 9 / 5 + 32)) <= Fraction(1, 20)
    assert abs(Fraction(in_prose(text, "°C").split()[1]) - number) <= Fraction(1, 10)


def test_differences_in_prose_get_no_32() -> None:
    """What is a difference by its words stays one; what is no temperature is left alone."""
    assert in_prose("± 1 °C", "°F") == "± 1.8 °F"
    assert in_prose("falls by 10 °C", "°F") == "falls by 18 °F"
    assert in_prose("10 mV for each K, 72 %", "°F") == "10 mV for each K, 72 %"
    assert in_prose("-2 °C", "°F") == "28.4 °F"
    assert in_prose("−2 °C", "°F") == "28.4 °F"
