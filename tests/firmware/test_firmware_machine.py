"""The state machine finds what is wrong with a firmware, and shrinks it to the shortest scenario that shows it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import Phase, find, given, settings
from hypothesis import strategies as st
from hypothesis.stateful import run_state_machine_as_test

from boardgauge.boards import board_path
from boardgauge.faults import faults_of
from boardgauge.firmware import FirmwareDeviates
from boardgauge.hypothesis import changes, firmware_machine, scenarios, telling_waits
from boardgauge.language import read_board, read_board_text
from boardgauge.machine.scenario import Power, SetInputs, Wait
from boardgauge.rigs.library import open_library
from boardgauge.rigs.rig import Rig, RigFailure
from exports.compiled_boards import needs_compiler
from firmware.firmware_builds import by_hand, exported

S = 1_000_000
TON = read_board_text(
    """
language = 1
[board]
id = "on-delay"
title = "A bell that rings ten seconds late (invented)"
tolerance = "± 5 %"
responds_within = "0.1 s"
[inputs.in1]
kind = "signal"
[rules.late]
kind = "mode"
begins = "in1 for 10 s"
ends = "not in1"
[outputs.q]
on = "late"
""",
    "on-delay.toml",
)
LIBRARY = [read_board(board_path(name)) for name in ("extract-fan", "quillmere", "tarnbeck-thermistor", "iec-ton")]
QUICK = settings(
    max_examples=60,
    stateful_step_count=8,
    deadline=None,
    database=None,
    derandomize=True,
    phases=[Phase.generate, Phase.shrink],
    report_multiple_bugs=False,
)


@needs_compiler
def test_a_good_firmware_is_never_found_fault_with(tmp_path: Path) -> None:
    path = exported(TON, tmp_path)
    run_state_machine_as_test(firmware_machine(TON, lambda: open_library(TON, path)), settings=QUICK)


@needs_compiler
def test_a_bad_firmware_is_found_and_the_failure_is_the_shortest(tmp_path: Path) -> None:
    """An on-delay that is too short: switch on, input on; nothing else is left of what led there."""
    path = exported(next(f.board for f in faults_of(TON) if f.id.endswith(".short")), tmp_path)
    with pytest.raises(FirmwareDeviates, match="too early") as caught:
        run_state_machine_as_test(firmware_machine(TON, lambda: open_library(TON, path)), settings=QUICK)
    notes = "\n".join(getattr(caught.value, "__notes__", []))
    steps = [line for line in notes.splitlines() if line.startswith("state.") and "teardown" not in line]
    assert steps == ["state.switch_on(chosen={})", "state.flip(name='in1', then_wait='0 s')"], notes


@needs_compiler
def test_a_crash_fails_the_example_and_the_next_one_has_a_firmware_again(tmp_path: Path) -> None:
    board = read_board_text(
        'language = 1\n[board]\nid = "b"\ntitle = "b (invented)"\ntolerance = "exactly"\nresponds_within = "1 s"\n'
        '[inputs.in1]\nkind = "signal"\n[outputs.q]\non = "in1"\n',
        "b.toml",
    )
    path = by_hand(tmp_path, "if (supply && in) abort(); return until;")
    opened: list[Rig] = []

    def open_rig() -> Rig:
        opened.append(open_library(board, path))
        return opened[-1]

    with pytest.raises(RigFailure, match="crashed with SIGABRT"):
        run_state_machine_as_test(firmware_machine(board, open_rig), settings=QUICK)
    assert len(opened) > 1


# -- what is drawn -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("board", LIBRARY, ids=lambda board: board.id)
def test_waits_stand_on_both_sides_of_every_time(board: object) -> None:
    """Of each time of up to an hour there is a wait before its shortest length and one after its longest."""
    found = telling_waits(board)  # type: ignore[arg-type]
    assert list(found) == sorted(found)
    for duration in _times(board):
        assert any(duration.shortest * 0.9 <= wait < duration.shortest for wait in found), duration
        assert any(duration.longest < wait <= duration.longest * 1.1 + S for wait in found), duration


def _times(board: object) -> Iterator[object]:
    from boardgauge.machine.compile import compile_board

    for timing in compile_board(board).timings:  # type: ignore[arg-type]
        if timing.role not in {"requirement", "not judged"}:
            yield from (d for d in timing.choices if d.longest < 3500 * S)


@settings(max_examples=30, deadline=None)
@given(data=st.data())
def test_scenarios_fit_their_boards(data: st.DataObject) -> None:
    """They name inputs of the board, begin with the supply, and end with a wait in which everything shows."""
    board = data.draw(st.sampled_from(LIBRARY))
    scenario = data.draw(scenarios(board))
    assert scenario.steps[0] == Power(True)
    assert isinstance(scenario.steps[-1], Wait)
    for step in scenario.steps:
        if isinstance(step, SetInputs):
            assert set(step.values) <= set(board.inputs)


def test_the_simplest_scenario_is_the_supply_coming_on() -> None:
    found = find(scenarios(TON), lambda scenario: True)
    assert [type(step).__name__ for step in found.steps] == ["Power", "Wait"]


def test_sensors_are_brought_to_where_there_is_no_doubt() -> None:
    """The fan's limits are 72 and 64 %, its sensor is good to 3 %: nothing from 61 to 67 and from 69 to 75 is drawn."""
    board = LIBRARY[0]
    drawn = {value for name, value in changes(board).elements if name == "damp"}  # type: ignore[attr-defined]
    assert drawn
    assert not any(abs(value - limit) <= 3 for value in drawn for limit in (64, 72))
    assert any(value < 61 for value in drawn)
    assert any(value > 75 for value in drawn)
