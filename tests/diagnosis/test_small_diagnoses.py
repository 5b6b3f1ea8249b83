"""A diagnosis of a simulated board names the fault that the board has, or a pair of them; a good board has none."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import pytest
from attrs import evolve
from click.testing import CliRunner

from boardgauge.boards import board_path
from boardgauge.command import main
from boardgauge.diagnosis import diagnose
from boardgauge.diagnosis.influence import changed, cone, may_show
from boardgauge.diagnosis.rehearsing import Poke
from boardgauge.diagnosis.sparing import SparingJudge
from boardgauge.diagnosis.telling import TellingJudge
from boardgauge.diagnosis.undoing import until, without_dropouts
from boardgauge.faults import fault_of, faults_of
from boardgauge.faults.editing import declared
from boardgauge.faults.inputs import reading_off
from boardgauge.faults.listing import unwatched
from boardgauge.judging.first import GAVE_UP, FirstJudge
from boardgauge.judging.judge import Judge
from boardgauge.language import read_board
from boardgauge.language.model import Board
from boardgauge.language.quantities import MS, S
from boardgauge.machine.compile import compile_board
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import Timeline
from boardgauge.machine.simulate import Simulator
from boardgauge.traces import Trace, condition
from boardgauge.traces.simulated import recording_of
from boardgauge.traces.writing import target_of, write_recording

FAN = Path(__file__).resolve().parents[2] / "docs" / "examples" / "fan.toml"
BOARD = read_board(FAN)
LIFE = Timeline(
    {
        "power": ((S, True), (300 * S, False), (310 * S, True)),
        "call": ((2 * S, True), (100 * S, False), (101 * S, True), (200 * S, False), (230 * S, True)),
        "winding": ((0, True), (41 * S, False), (47 * S, True), (150 * S, False), (151 * S, True)),
    },
    400 * S,
)


def trace_of(board: Board, timings: str = "nominal", seed: int = 0) -> Trace:
    run = Simulator(compile_board(board), timings, seed).run(LIFE)  # type: ignore[arg-type]
    return condition(recording_of(run, BOARD), None, BOARD)


@pytest.mark.parametrize(
    "fault",
    [
        "motor.stuck-on",
        "motor.late-off",
        "motor.chatters",
        "status.dead",
        "winding.stuck-closed",
        "call.stuck-off",
        "clock.fast",
        "rest.lasts.short",
        "rest.lasts.long",
        "rest.absent",
        "rest.endless",
        "overheat.trips.for.absent",
        "overheat.not-latched",
        "overheat.hard",
    ],
)
def test_one_fault_of_each_kind_is_found(fault: str) -> None:
    """On a life that exercises it, the fault that a board has is in one of the first three groups of explanations."""
    diagnosis = diagnose(BOARD, trace_of(fault_of(BOARD, fault).board))
    assert diagnosis.finding == "fault"
    groups = list(dict.fromkeys(e.group for e in diagnosis.explanations))
    assert fault in [e.faults[0].id for e in diagnosis.explanations if e.group in groups[:3]]


@pytest.mark.parametrize(("timings", "seed"), [("earliest", 0), ("latest", 0), ("random", 1), ("random", 2)])
def test_no_good_board_is_called_faulty(timings: str, seed: int) -> None:
    """Whatever a good board does within its times is consistent with a good board."""
    assert diagnose(BOARD, trace_of(BOARD, timings, seed)).finding == "good board"


def test_every_fault_allows_what_its_own_board_does() -> None:
    """The board with a fault, and the one with it in any size, never deviates from what it did itself."""
    for fault in faults_of(BOARD):
        try:
            trace = trace_of(fault.board, "random", 3)
        except CannotSettle:
            # Two rules undo each other for ever: such a board has no recording of this life.
            continue
        assert FirstJudge.of(fault.board).judge(trace).verdict == "conforms", fault.id
        if fault.any_size is not None:
            assert FirstJudge.of(fault.any_size).judge(trace).verdict == "conforms", fault.id


def test_the_first_judges_give_the_verdict_of_the_judge() -> None:
    """To the first deviation the verdict and its time are the same; who tells it tells the same."""
    judge, first, telling, sparing = (kind.of(BOARD) for kind in (Judge, FirstJudge, TellingJudge, SparingJudge))
    for fault in faults_of(BOARD)[::5]:
        trace = trace_of(fault.board)
        whole, quick, told, spared = (each.judge(trace) for each in (judge, first, telling, sparing))
        assert quick.verdict == told.verdict == spared.verdict == whole.verdict, fault.id
        assert [d.time for d in spared.deviations] == [d.time for d in quick.deviations], fault.id
        assert len(quick.deviations) == min(1, len(whole.deviations)), fault.id
        assert told.deviations == whole.deviations[:1], fault.id


def test_work_is_bounded_in_all_and_not_at_a_moment() -> None:
    """Bounded to less than it takes, the verdict is not given, and says why; a bound of as much changes nothing."""
    trace = trace_of(BOARD)
    bounded = evolve(SparingJudge.of(BOARD), enough=3, each=0).judge(trace)
    assert (bounded.verdict, [doubt.reason for doubt in bounded.doubts]) == ("undecided", [GAVE_UP])
    assert evolve(SparingJudge.of(BOARD), enough=3, each=100).judge(trace).verdict == "conforms"


def test_two_faults_are_found_as_a_pair() -> None:
    """A rest that never runs and a lamp that is dead: no single fault does both, and the pair does."""
    first = fault_of(BOARD, "rest.absent").board
    both = fault_of(first, "status.dead").board
    trace = trace_of(both)
    assert diagnose(BOARD, trace).finding == "no single fault"
    diagnosis = diagnose(BOARD, trace, pairs=True)
    pairs = [{f.id for f in e.faults} for e in diagnosis.explanations]
    assert {"rest.absent", "status.dead"} in pairs
    assert any("pairs" in bound for bound in diagnosis.bounds)


def test_the_next_step_parts_the_groups() -> None:
    """The groups that are told apart show different things after the step that is given."""
    step = diagnose(BOARD, trace_of(fault_of(BOARD, "winding.stuck-closed").board)).next_step
    assert step is not None
    assert len({shows for _, shows in step.shows}) > 1


# -- parts -------------------------------------------------------------------------------------------------------------


def test_a_fault_that_has_no_say_is_left_out() -> None:
    """A lamp has no say in the motor; the motor has one in the lamp."""
    good = unwatched(BOARD)
    assert "call" in cone(good, "motor")
    assert "status" not in cone(good, "motor")
    assert changed(good, fault_of(BOARD, "status.dead").board) == {"status"}
    assert not may_show(good, fault_of(BOARD, "status.dead").board, "motor")
    assert may_show(good, fault_of(BOARD, "rest.absent").board, "status")


def test_short_dropouts_are_filled_and_long_ones_kept() -> None:
    """A gap of a second is filled; one of a tick more is a command."""
    for gap, filled in ((S, 1), (S + MS, 0)):
        trace = trace_of(BOARD)
        times = ((0, False), (10 * S, True), (20 * S, False), (20 * S + gap, True))
        run = Simulator(compile_board(BOARD)).run(LIFE)
        motor = evolve(run.outputs["motor"], initial=False, changes=times[1:])
        recorded = recording_of(evolve(run, outputs={**run.outputs, "motor": motor}), BOARD)
        trace = condition(recorded, None, BOARD)
        smooth, count = without_dropouts(trace, "motor")
        assert count == filled
        assert len(smooth.waves["motor"]) == 3 - 2 * filled


def test_a_chattering_output_may_be_off_as_it_is_commanded_off() -> None:
    """Two dropouts, and one that has not ended as the motor is commanded off: it chatters, and nothing is in doubt."""
    run = Simulator(compile_board(BOARD)).run(LIFE)
    on, off, *later = run.outputs["motor"].changes
    assert off[0] - on[0] > 5 * S
    dropouts = tuple(
        (on[0] + at, value) for at, value in ((S, False), (1100 * MS, True), (3 * S, False), (3 * S + 60 * MS, True))
    )
    early = (off[0] - 70 * MS, False)
    motor = evolve(run.outputs["motor"], changes=(on, *dropouts, early, *later))
    trace = condition(recording_of(evolve(run, outputs={**run.outputs, "motor": motor}), BOARD), None, BOARD)
    assert [(e.faults[0].id, e.verdict) for e in diagnose(BOARD, trace).explanations] == [
        ("motor.chatters", "conforms")
    ]
    much = evolve(run.outputs["motor"], changes=(on, *dropouts, (off[0] - 1500 * MS, False), *later))
    trace = condition(recording_of(evolve(run, outputs={**run.outputs, "motor": much}), BOARD), None, BOARD)
    assert "motor.chatters" not in [e.faults[0].id for e in diagnose(BOARD, trace).explanations]


def test_a_welded_contact_is_on_without_the_supply() -> None:
    """A motor that is on before the board has its supply, and ever after, is an output stuck on."""
    run = Simulator(compile_board(BOARD)).run(LIFE)
    motor = evolve(run.outputs["motor"], initial=True, changes=())
    trace = condition(recording_of(evolve(run, outputs={**run.outputs, "motor": motor}), BOARD), None, BOARD)
    assert [e.faults[0].id for e in diagnose(BOARD, trace).explanations] == ["motor.stuck-on"]


def test_how_far_off_a_sensor_reads() -> None:
    """A humidity taken for 11 % more than it is brings the fan on too soon; of what is tried, 8 to 15 % does that."""
    board = read_board(board_path("extract-fan"))
    faulty = declared(reading_off(unwatched(board), "damp", Fraction(11)))
    life = Timeline(
        {
            "power": ((S, True),),
            "winding": ((0, True),),
            "damp": ((0, 50), (100 * S, 65), (200 * S, 50), (300 * S, 62), (400 * S, 40)),
        },
        600 * S,
    )
    run = Simulator(compile_board(faulty)).run(life)
    diagnosis = diagnose(board, condition(recording_of(run, board), None, board))
    found = {e.faults[0].id: e for e in diagnosis.explanations}
    size = found["damp.reads-high"].size
    assert size is not None
    assert size.text == "by about 8 to 15 %"
    assert found["damp.reads-high"].faults[0].name == "sensor damp reads too high"


def test_a_time_after_the_supply_was_off_counts_from_when_it_is_on_again() -> None:
    """Counted from when it was switched off, a good board would show the same when the person looks."""
    explained = diagnose(BOARD, trace_of(fault_of(BOARD, "rest.lasts.short").board)).explanations
    told = next(one.predicts for one in explained if one.faults[0].id == "rest.lasts.short")
    assert told is not None
    assert told.startswith("if you switch the supply off for 5 s and on again, 21 s after it is on again: fan motor on")


def test_moments_of_a_poke() -> None:
    """While the supply is off, as it comes on, and later; what takes no time to do counts from there."""
    supply, call = Poke("", {"power": ((0, False), (5 * S, True))}), Poke("", {"call": ((0, True),)})
    assert [supply.moment(time) for time in (0, 5 * S, 12 * S)] == [
        "while it is off", "as soon as it is on again", "7 s after it is on again"
    ]  # fmt: skip
    assert [call.moment(time) for time in (0, 12 * S)] == ["at once", "after 12 s"]


def test_a_trace_cut_short_has_nothing_later() -> None:
    """Cut at a time, a trace ends there and no change in it is later."""
    trace = until(trace_of(BOARD), 45 * S)
    assert trace.end == 45 * S
    assert all(len(w) == 0 or w.recorded[-1] <= 45 * S for w in trace.waves.values())


# -- commands ----------------------------------------------------------------------------------------------------------


def _recorded(folder: Path, board: Board) -> str:
    target = folder / "life.vcd"
    run = Simulator(compile_board(board)).run(LIFE)
    write_recording(recording_of(run, BOARD, None, target.name), target_of(str(target)))
    return str(target)


@pytest.mark.parametrize(("fault", "status"), [(None, 0), ("motor.stuck-on", 1)])
def test_exit_status(tmp_path: Path, fault: str | None, status: int) -> None:
    """0 where the recording is consistent with a good board, 1 where it is not."""
    recording = _recorded(tmp_path, BOARD if fault is None else fault_of(BOARD, fault).board)
    done = CliRunner().invoke(main, ["diagnose", str(FAN), recording, "--json"])
    assert done.exit_code == status, done.output
    data = json.loads(done.stdout)
    assert data["finding"] == ("good board" if fault is None else "fault")
    if fault is not None:
        first = data["explanations"][0]["faults"][0]
        assert first["id"] == fault
        assert first["cause"].startswith("relay contact welded")


def test_what_is_printed(tmp_path: Path) -> None:
    """In words: the finding, the fault with its clause and its cause, and the step that parts what is left."""
    recording = _recorded(tmp_path, fault_of(BOARD, "rest.lasts.short").board)
    done = CliRunner().invoke(main, ["diagnose", str(FAN), recording])
    assert done.exit_code == 1
    assert "rest too short (not 30 s), clause 2 [rest.lasts.short]" in done.output
    assert "measured 21.00 s, allowed 27.00 to 33.00 s" in done.output
    good = CliRunner().invoke(main, ["diagnose", str(FAN), _recorded(tmp_path, BOARD)])
    assert "consistent with a good board; suspect sensor, wiring or load" in good.output


def test_a_recording_that_cannot_be_read(tmp_path: Path) -> None:
    """Status 2, and words."""
    done = CliRunner().invoke(main, ["diagnose", str(FAN), str(tmp_path / "none.vcd")])
    assert done.exit_code == 2
    assert "no such file" in done.output.lower()


def test_faults_are_listed_and_simulated(tmp_path: Path) -> None:
    """The list has every fault by id; simulate runs one, and tells of one that there is not."""
    listed = CliRunner().invoke(main, ["faults", str(FAN)])
    data = json.loads(CliRunner().invoke(main, ["faults", str(FAN), "--json"]).stdout)
    assert [row["id"] for row in data["faults"]] == [fault.id for fault in faults_of(BOARD)]
    assert all(f"  {row['id']} " in listed.output for row in data["faults"])
    scenario = str(FAN.with_name("fan-overheats.toml"))
    out = str(tmp_path / "hot.csv")
    done = CliRunner().invoke(main, ["simulate", str(FAN), scenario, "--fault", "motor.stuck-off", "-o", out])
    assert done.exit_code == 0, done.output
    assert "the scenario ends here" in done.output
    assert Path(out).is_file()
    wrong = CliRunner().invoke(main, ["simulate", str(FAN), scenario, "--fault", "overheat.trip.never"])
    assert wrong.exit_code == 2
    assert "did you mean" in wrong.output
