"""Each fault of a board is a machine of its own: it passes the checks, compiles, differs from a good one, and runs."""

from __future__ import annotations

from functools import cache

import pytest

from boardgauge.boards import board_path
from boardgauge.faults import GROUPS, Fault, UnknownFault, engine_of, fault_of, faults_of
from boardgauge.faults.listing import unwatched
from boardgauge.faults.meaning import Meanings
from boardgauge.language import check, read_board
from boardgauge.language.model import Board
from boardgauge.language.quantities import S
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Run, Timeline
from boardgauge.machine.settle import Engine
from boardgauge.machine.simulate import Simulator

BOARDS = ("tarnbeck", "quillmere", "hearthgate", "sump-pumps", "extract-fan", "tarnbeck-thermistor")
SMALL = ("sump-pumps", "extract-fan", "hearthgate")


@cache
def board_of(name: str) -> Board:
    return read_board(board_path(name))


@cache
def _run(name: str, fault: str | None, timeline: str) -> Run:
    board = board_of(name)
    engine = Engine(compile_board(board)) if fault is None else engine_of(fault_of(board, fault))
    return Simulator(engine.machine, engine=engine).run(TIMELINES[timeline])


TIMELINES = {
    "sump-pumps": Timeline(
        {
            "power": ((S, True),),
            "overload_a": ((0, True),),
            "overload_b": ((0, True),),
            "low": ((5 * S, True), (120 * S, False), (200 * S, True), (300 * S, False)),
            "start": ((10 * S, True), (110 * S, False), (210 * S, True), (290 * S, False)),
            "help": ((60 * S, True), (100 * S, False)),
            "silence": ((95 * S, True), (96 * S, False)),
        },
        400 * S,
    ),
    "extract-fan": Timeline(
        {
            "power": ((S, True),),
            "damp": ((0, 50),),
            "light": ((20 * S, True), (120 * S, False)),
            "winding": ((0, True), (200 * S, False), (230 * S, True)),
        },
        900 * S,
    ),
    "hearthgate": Timeline(
        {
            "power": ((S, True),),
            "limit": ((0, True), (300 * S, False), (330 * S, True)),
            "heat": ((2 * S, True), (500 * S, False)),
            "draft": ((6 * S, True), (560 * S, False)),
            "flame": ((52 * S, True), (301 * S, False)),
        },
        800 * S,
    ),
}


@pytest.mark.parametrize("name", ["tarnbeck", *SMALL])
def test_every_fault_is_a_board_that_passes_the_checks(name: str) -> None:
    """A faulty board passes the checks of the language and compiles; so does the one of any size."""
    for fault in faults_of(board_of(name)):
        for board in (fault.board, fault.any_size):
            if board is not None:
                assert check(board) == (), fault.id
                compile_board(board)


@pytest.mark.parametrize("name", ["quillmere", *SMALL])
def test_no_two_faults_are_the_same_board_nor_a_good_one(name: str) -> None:
    """Named conditions put in and constants worked out, each faulty board is another one, and none is the good one."""
    board = unwatched(board_of(name))
    meanings = Meanings(board)
    seen = [meanings.of(board), *(meanings.of(fault.board) for fault in faults_of(board_of(name)))]
    assert len(set(seen)) == len(seen)


@pytest.mark.parametrize("name", BOARDS)
def test_ids_are_unique_and_names_are_words(name: str) -> None:
    """Every fault has an id of its own, a name, a cause, and a kind that is in the table of kinds."""
    faults = faults_of(board_of(name))
    assert len({fault.id for fault in faults}) == len(faults)
    assert len({fault.name for fault in faults}) == len(faults)
    for fault in faults:
        assert fault.group in GROUPS
        assert fault.cause
        assert 1 <= fault.weight <= 12
        assert " " not in fault.id


@pytest.mark.parametrize("name", SMALL)
def test_every_fault_is_simulated(name: str) -> None:
    """A faulty board is taken through the scenario, be it that its rules contradict one another."""
    for fault in faults_of(board_of(name)):
        assert _run(name, fault.id, name).story


def test_most_faults_show_in_a_scenario_that_exercises_the_board() -> None:
    """On two pumpings, one with help, two thirds of the faults of the sump pumps show at the terminals or more."""
    good = _run("sump-pumps", None, "sump-pumps")
    shown = [
        fault.id
        for fault in faults_of(board_of("sump-pumps"))
        if _run("sump-pumps", fault.id, "sump-pumps").outputs != good.outputs
    ]
    assert len(shown) * 3 >= len(faults_of(board_of("sump-pumps"))) * 2


@pytest.mark.parametrize(
    ("name", "kinds"),
    [
        ("tarnbeck", set(GROUPS) - {"sensor reads off", "sequence", "toggle"}),
        ("hearthgate", {"sequence", "lockout", "timing absent", "setting misread"}),
        ("sump-pumps", {"toggle", "output stuck on", "input leads crossed", "power"}),
        ("extract-fan", {"sensor reads off", "count", "timing endless"}),
    ],
)
def test_every_kind_of_fault_is_found_where_it_can_be(name: str, kinds: set[str]) -> None:
    """Each kind of fault is on the list of a board that can have it."""
    assert kinds <= {fault.group for fault in faults_of(board_of(name))}


def test_the_bypass_at_every_opening() -> None:
    """Of the delay that overlooks a switch there is the fault that it is applied at every opening of that switch."""
    fault = fault_of(board_of("tarnbeck"), "bypass.at-each-opens.lps")
    assert fault.name == "bypass is applied at every opening of lps, not only when it should begin"
    assert fault.clause == "3.1"
    assert [f.id for f in faults_of(board_of("tarnbeck")) if f.group == fault.group] == [fault.id]


def test_a_spec_is_not_changed_by_listing() -> None:
    """The board that the faults are of is the same afterwards; the same tuple is given again."""
    board = board_of("tarnbeck")
    faults = faults_of(board)
    assert board == read_board(board_path("tarnbeck"))
    assert faults_of(board) is faults
    assert all(isinstance(fault, Fault) for fault in faults)


def test_an_unknown_fault_is_told_with_the_nearest() -> None:
    """The message names the fault that is most like what was asked for."""
    with pytest.raises(UnknownFault, match=r"did you mean 'bypass\.lasts\.short'"):
        fault_of(board_of("tarnbeck"), "bypass.last.short")
