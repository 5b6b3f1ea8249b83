"""What a person wrote on the sheet of a plan, judged.

Law: a person whose stopwatch is off by no more than is said never has a good board accused; one who saw a board do
otherwise has it told.
"""

from __future__ import annotations

from random import Random

import pytest
from attrs import evolve
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.faults import engine_of, fault_of
from boardgauge.judging.judge import Judge
from boardgauge.language import UnusableSpec
from boardgauge.language.quantity_writer import write_pattern
from boardgauge.machine.settle import Engine
from boardgauge.plans import Observe, Plan, WaitFor, carry_out
from boardgauge.plans.entering import REACTION, NotAllWritten, Sheet, Written, check_sheet, trace_of_sheet
from boardgauge.plans.pace import asks_for_a_time, for_hand
from boardgauge.plans.sheet_reader import read_sheets_text
from plans.planned import board_of, plan_of

NAMES = ["heater", "with-lamp", "iec-ton", "iec-sr"]


def written_by_hand(plan: Plan, engine: Engine, name: str, seed: int) -> list[Sheet]:
    """Write the sheets of a plan as a person does who carries it out on a simulated board, off by up to a reaction."""
    board, random = board_of(name), Random(seed)
    sheets = []
    for sitting in for_hand(plan, board).sittings:
        carried = carry_out(sitting, engine, "random", seed)
        written: dict[int, Written] = {}
        for number, (step, time) in enumerate(zip(sitting.steps, carried.times, strict=True)):
            if not asks_for_a_time(sitting, number):
                continue
            off = random.randint(-REACTION, REACTION)
            at = time.begun if isinstance(step, Observe) else time.ended
            if isinstance(step, WaitFor) and not time.came:
                written[number] = Written(None)
                continue
            saw = {}
            if isinstance(step, Observe):
                saw = {n: bool(carried.run.outputs[n].at(time.begun + step.held // 2)) for n in step.outputs}
            written[number] = Written(max(0, at + off), saw)
        assert board.outputs
        sheets.append(Sheet(sitting, written))
    return sheets


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=20)
@given(seed=st.integers(0, 10_000))
def test_a_good_board_is_not_accused_by_a_slow_hand(name: str, seed: int) -> None:
    """However the stopwatch is off, within the reaction, a good board never deviates."""
    judge = Judge.of(board_of(name))
    for sheet in written_by_hand(plan_of(name).plan, judge.engine, name, seed):
        judgement = judge.judge(trace_of_sheet(sheet, board_of(name)), "power-up")
        assert judgement.verdict != "deviates", judgement.deviations


@pytest.mark.parametrize("id_", ["heat.stuck-off", "heat.stuck-on", "rest.endless"])
def test_a_fault_that_a_hand_can_see_is_told(id_: str) -> None:
    """An output that never comes or never goes, and a time without end, are told from a sheet."""
    board = board_of("heater")
    engine = engine_of(fault_of(board, id_))
    sheets = written_by_hand(plan_of("heater").plan, engine, "heater", 1)
    judge = Judge.of(board)
    verdicts = [judge.judge(trace_of_sheet(sheet, board), "power-up").verdict for sheet in sheets]
    assert "deviates" in verdicts


def test_a_lamp_that_showed_another_line_is_told() -> None:
    """Who saw the lamp as it should be accuses nobody; who saw another line of its table does."""
    board, plan = board_of("with-lamp"), plan_of("with-lamp").plan
    judge, lines = Judge.of(board), [write_pattern(line.shows) for line in board.lamps["led"].lines]
    told = 0
    for sheet in written_by_hand(plan, judge.engine, "with-lamp", 3):
        for number, step in enumerate(sheet.sitting.steps):
            if isinstance(step, Observe) and "led" in step.lamps:
                other = next(line for line in lines if line != step.lamps["led"])
                row = evolve(sheet.written[number], lamps={"led": other})
                wrong = evolve(sheet, written={**sheet.written, number: row})
                verdict = judge.judge(trace_of_sheet(wrong, board), "power-up").verdict
                told += verdict == "deviates"
    assert told


def test_a_sheet_without_a_time_is_not_judged() -> None:
    """A time that is missing, or earlier than one before, is told with its step."""
    sitting = for_hand(plan_of("iec-ton").plan, board_of("iec-ton")).sittings[0]
    asked = [number for number in range(len(sitting.steps)) if asks_for_a_time(sitting, number)]
    times = {number: Written((place + 1) * 20_000_000) for place, number in enumerate(asked)}
    check_sheet(Sheet(sitting, times))
    with pytest.raises(NotAllWritten, match=f"step {asked[1] + 1}: nothing is written"):
        check_sheet(Sheet(sitting, {n: row for n, row in times.items() if n != asked[1]}))
    with pytest.raises(NotAllWritten, match="before that of an earlier step"):
        check_sheet(Sheet(sitting, {**times, asked[-1]: Written(0)}))
    with pytest.raises(NotAllWritten, match="only what is waited for may not come"):
        check_sheet(Sheet(sitting, {**times, asked[0]: Written(None)}))


def test_a_file_of_times_is_read_with_the_place_of_what_is_wrong() -> None:
    """Each mistake in a file of times is told with its line."""
    board = board_of("iec-ton")
    plan = for_hand(plan_of("iec-ton").plan, board)
    text = 'language = 1\nboard = "iec-ton"\n[[sittings]]\nid = "1"\nsteps = [\n  { step = 1, at = "1 s" },\n]\n'
    with pytest.raises(UnusableSpec) as caught:
        read_sheets_text(text, "t.toml", plan, board)
    assert "t.toml:6" in str(caught.value)
    assert "nothing is asked at step 1" in str(caught.value)
    with pytest.raises(UnusableSpec, match="sitting 1 is written twice"):
        read_sheets_text(text + text[text.index("[[") :], "t.toml", plan, board)
    with pytest.raises(UnusableSpec, match="no such sitting"):
        read_sheets_text(text.replace('id = "1"', 'id = "7"'), "t.toml", plan, board)


def test_what_the_heater_shows_is_asked_in_words_of_the_spec() -> None:
    """A look names every wired output, and lamps by the lines of their table."""
    board = board_of("heater")
    for sitting in for_hand(plan_of("heater").plan, board).sittings:
        for step in sitting.steps:
            if isinstance(step, Observe):
                assert set(step.outputs) == set(board.outputs)
                for lamp, shows in step.lamps.items():
                    assert shows in {write_pattern(line.shows) for line in board.lamps[lamp].lines}
