"""What is tried and what is not, and what is said where a diagnosis can say little."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from attrs import evolve
from click.testing import CliRunner

from boardgauge.command import main
from boardgauge.diagnosis import diagnose, doubting
from boardgauge.diagnosis.doubting import doubtful_inputs
from boardgauge.diagnosis.explaining import candidates
from boardgauge.diagnosis.pairing import pairs_of
from boardgauge.diagnosis.telling import first_deviation
from boardgauge.diagnosis.trying import Trial
from boardgauge.faults import fault_of, faults_of
from boardgauge.faults.listing import unwatched
from boardgauge.language import read_board, read_board_text
from boardgauge.language.model import Board
from boardgauge.language.quantities import S
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Timeline
from boardgauge.machine.simulate import Simulator
from boardgauge.traces import Trace, condition
from boardgauge.traces.simulated import recording_of

FAN = Path(__file__).resolve().parents[2] / "docs" / "examples" / "fan.toml"
BOARD = read_board(FAN)
GOOD = unwatched(BOARD)
LIFE = Timeline(
    {
        "power": ((S, True),),
        "call": ((2 * S, True), (100 * S, False), (101 * S, True)),
        "winding": ((0, True), (41 * S, False), (47 * S, True)),
    },
    160 * S,
)


def trace_of(board: Board) -> Trace:
    return condition(recording_of(Simulator(compile_board(board)).run(LIFE), BOARD), None, BOARD)


def test_all_faults_are_tried_where_a_signal_does_not_deviate_by_itself() -> None:
    """A motor that stays on deviates whatever the lamp shows: the lamp's faults have no say. Else every fault has."""
    trace = trace_of(fault_of(BOARD, "winding.stuck-closed").board)
    deviation = first_deviation(GOOD, trace)
    assert deviation is not None
    assert deviation.signal == "motor"
    alone = candidates(GOOD, faults_of(BOARD), trace, None, deviation)
    assert "status.dead" not in [fault.id for fault in alone]
    assert len(alone) < len(faults_of(BOARD))
    with_others = candidates(GOOD, faults_of(BOARD), trace_of(BOARD), None, deviation)
    assert {fault.id for fault in with_others} == {fault.id for fault in faults_of(BOARD)}
    assert [fault.weight for fault in with_others] == sorted((f.weight for f in faults_of(BOARD)), reverse=True)


def test_an_input_is_not_named_where_more_would_have_to_be_followed(monkeypatch: pytest.MonkeyPatch) -> None:
    """A motor that stops too soon may have seen another call, or the winding open before; no further, nothing."""
    trace = trace_of(fault_of(BOARD, "overheat.trips.for.absent").board)
    deviation = first_deviation(GOOD, trace)
    assert deviation is not None
    assert doubtful_inputs(GOOD, trace, None, deviation) == ("call", "winding")
    monkeypatch.setattr(doubting, "_ENOUGH", 0)
    assert doubtful_inputs(GOOD, trace, None, deviation) == ()


def test_what_the_board_would_have_kept_was_not_there_before_its_first_supply() -> None:
    """A board that keeps nothing never starts its pump: no lockout from before the recording is kept by mistake.

    Where the board keeps a place by its spec, something else of it may have been there before.
    """
    text = """
        language = 1
        [board]
        id = "locked"
        title = "A lockout with a button (invented)"
        tolerance = "exactly"
        [inputs]
        call = { kind = "call" }
        low = { kind = "switch", contact = "normally closed" }
        reset = { kind = "button" }
        [rules]
        out = { kind = "lockout", trips = "low open and call", clears = "reset begins" }
        over = { kind = "toggle", flips = "reset begins" }
        [outputs.pump]
        on = "call and not out"
        [outputs.lamp]
        on = "over"
        """
    keeping = text.replace('over = { kind = "toggle"', 'over = { kind = "toggle", kept_without_power = true')
    life = Timeline({"power": ((S, True),), "low": ((0, True),), "call": ((5 * S, True),)}, 20 * S)
    for spec, kept in ((text, False), (keeping, True)):
        board = read_board_text(spec, "locked.toml")
        run = Simulator(compile_board(fault_of(board, "pump.stuck-off").board)).run(life)
        trace = condition(recording_of(run, board), None, board)
        found = [e.faults[0].id for e in diagnose(board, trace).explanations]
        assert "pump.stuck-off" in found
        assert ("out.kept-without-power" in found) is kept


def test_an_output_that_goes_off_once_is_not_stuck_on() -> None:
    """A motor that is on before its board has the supply, and goes off for good later, is no welded contact."""
    run = Simulator(compile_board(BOARD)).run(LIFE)
    for changes, stuck in (((), True), (((20 * S, False),), False)):
        motor = evolve(run.outputs["motor"], initial=True, changes=changes)
        recorded = recording_of(evolve(run, outputs={**run.outputs, "motor": motor}), BOARD)
        found = [e.faults[0].id for e in diagnose(BOARD, condition(recorded, None, BOARD)).explanations]
        assert ("motor.stuck-on" in found) == stuck


def test_each_pair_is_told_once() -> None:
    """With two calls stuck on, either explains that the pump starts, and the other is found beside it: one pair."""
    board = read_board_text(
        """
        language = 1
        [board]
        id = "two-calls"
        title = "Two calls (invented)"
        tolerance = "exactly"
        [inputs]
        one = { kind = "call" }
        other = { kind = "call" }
        wait = { kind = "signal" }
        [rules.late]
        kind = "delay"
        begins = "wait begins"
        lasts = "5 s"
        if_begun_again = "starts over"
        [outputs]
        pump = { on = "one or other" }
        first = { on = "one and wait" }
        second = { on = "other and wait and not late" }
        """,
        "two-calls.toml",
    )
    stuck = fault_of(fault_of(board, "one.stuck-on").board, "other.stuck-on").board
    life = Timeline({"power": ((S, True),), "wait": ((10 * S, True),)}, 30 * S)
    trace = condition(recording_of(Simulator(compile_board(stuck)).run(life), board), None, board)
    faults = [fault_of(board, f"{name}.stuck-on") for name in ("one", "other")]
    outcomes = list(zip(faults, Trial(board, trace).of(faults), strict=True))
    assert [outcome.deviates for _, outcome in outcomes] == [15 * S, 10 * S]
    found = [tuple(f.id for f in e.faults) for e in pairs_of(board, outcomes, trace, None)]
    assert ("one.stuck-on", "other.stuck-on") in found
    assert ("other.stuck-on", "one.stuck-on") not in found


def test_a_requirement_broken_though_every_rule_was_kept(tmp_path: Path) -> None:
    """It is the spec that has to be looked at: no fault of the board is to be blamed."""
    spec = tmp_path / "still.toml"
    spec.write_text(FAN.read_text(encoding="utf-8") + '\n[requirements.still]\nnever = "motor"\n', encoding="utf-8")
    board = read_board(spec)
    assert diagnose(BOARD, trace_of(BOARD)).finding == "good board"
    diagnosis = diagnose(board, trace_of(BOARD))
    assert (diagnosis.finding, diagnosis.explanations) == ("no single fault", ())
    assert "look at the spec first" in diagnosis.remarks[0]


def test_an_undecided_recording_has_a_status_of_its_own(tmp_path: Path) -> None:
    """A rest that ended between two samples may have been just long enough: neither good nor faulty, status 3."""
    run = Simulator(compile_board(BOARD)).run(LIFE)
    first, *later = run.outputs["motor"].changes
    early = evolve(run.outputs["motor"], changes=((S + 26_900_000, True), *later))
    assert first[0] > S + 27 * S
    waves = {"power": run.power, "call": run.inputs["call"], "winding": run.inputs["winding"], "motor": early}
    rows = ["time," + ",".join(waves)]
    for number in range(100):
        at = number * 4 * S // 10
        values = [[w.initial, *(v for t, v in w.changes if t <= at)][-1] for w in waves.values()]
        rows.append(f"{at / S:.1f}," + ",".join("1" if value else "0" for value in values))
    recording = tmp_path / "sampled.csv"
    recording.write_text("\n".join(rows) + "\n", encoding="utf-8")
    done = CliRunner().invoke(main, ["diagnose", str(FAN), str(recording), "--json"])
    assert done.exit_code == 3, done.output
    assert json.loads(done.stdout)["finding"] == "undecided"
    words = CliRunner().invoke(main, ["diagnose", str(FAN), str(recording)]).output
    assert "undecided: neither can a good board be ruled out nor a fault" in words
    assert "in doubt at" in words
