"""The sheet of a plan for a person: nothing on it that a hand cannot do, and the command it ends with can be typed."""

from __future__ import annotations

import re
import shlex
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest
from attrs import evolve
from click.testing import CliRunner

from boardgauge.boards import board_path
from boardgauge.command.finding import plan_beside
from boardgauge.command.program import main
from boardgauge.language import Board
from boardgauge.language.quantities import S
from boardgauge.machine.compile import compile_board
from boardgauge.machine.settle import Engine
from boardgauge.plans import Measure, Observe, Plan, Set, Wait, WaitFor, carry_out, read_plan
from boardgauge.plans.deadlines import timed_by_hand
from boardgauge.plans.pace import for_hand, rig_only
from boardgauge.plans.plan import Sitting
from boardgauge.plans.sheet import first_cautions, plan_sheets, told
from boardgauge.sheets.as_text import to_text
from plans.planned import HEATER, board_of, library, plan_of

PLANS = ("heater", "tarnbeck", "sump-pumps")


@cache
def _plan(name: str) -> tuple[Plan, Board]:
    if name == "heater":
        return plan_of(name).plan, board_of(name)
    return read_plan(plan_beside(board_path(name)), library(name)), library(name)


@cache
def _by_hand(name: str) -> Plan:
    return for_hand(*_plan(name))


def _without_flickers(sitting: Sitting) -> Sitting:
    """Give a sitting as a person carries it out: what is left to a rig is not done."""
    steps = []
    for number, step in enumerate(sitting.steps):
        if rig_only(sitting, number) and isinstance(step, (Set, Wait)):
            step = Wait(0)
        steps.append(step)
    return Sitting(sitting.id, tuple(steps), sitting.settings, sitting.start)


@pytest.mark.parametrize("name", PLANS)
def test_nothing_is_timed_from_what_is_left_to_a_rig(name: str) -> None:
    """What is waited for counts from a step that a person does; a time that cannot be had by hand is marked."""
    _, board = _plan(name)
    for sitting in _by_hand(name).sittings:
        left = {step.id for number, step in enumerate(sitting.steps) if step.id and rig_only(sitting, number)}
        for number, step in enumerate(sitting.steps):
            if isinstance(step, WaitFor):
                assert step.since not in left
            if isinstance(step, Measure) and left & {step.since, step.until}:
                assert "(rig only)" in told(sitting, number, board)[0]


@pytest.mark.parametrize("timings", ["nominal", "earliest", "latest"])
@pytest.mark.parametrize("name", PLANS)
def test_a_board_in_order_does_by_hand_what_the_sheet_says(name: str, timings: str) -> None:
    """Without the flickers, windows and looks are those of a good board, however long its times are."""
    _, board = _plan(name)
    engine = Engine(compile_board(board))
    for sitting in map(_without_flickers, _by_hand(name).sittings):
        carried = carry_out(sitting, engine, timings)  # type: ignore[arg-type]  # one of the words
        ended = {step.id: time.ended for step, time in zip(sitting.steps, carried.times, strict=True) if step.id}
        for step, time in zip(sitting.steps, carried.times, strict=True):
            if isinstance(step, WaitFor):
                assert time.came
                since = ended[step.since] if step.since else time.begun
                assert step.earliest <= time.ended - since <= step.latest
            if isinstance(step, Observe):
                seen = {output: bool(carried.run.outputs[output].at(time.begun)) for output in step.outputs}
                assert seen == step.outputs


def test_what_is_so_before_it_is_waited_for_has_no_time() -> None:
    """Who waits longer before the step sees it as late as that, so the sheet says that it is so already."""
    _, board = _plan("heater")
    engine = Engine(compile_board(board))
    already = []
    for sitting in _by_hand("heater").sittings:
        still = _without_flickers(sitting)
        times = [carry_out(still, engine, timings).times for timings in ("nominal", "earliest", "latest")]
        for number, step in enumerate(sitting.steps):
            if isinstance(step, WaitFor) and all(row[number].begun == row[number].ended for row in times):
                already.append(told(sitting, number, board)[1])
    assert already
    assert set(already) == {"already so"}


def test_what_was_begun_earlier_is_timed_from_where_it_began() -> None:
    """How long after the last step it comes hangs on how quick the person was; from its beginning there are limits."""
    plan, board = _plan("sump-pumps")
    rows = [
        row for sheet in plan_sheets(plan, board, "") for table in sheet.tables() for row in table.rows if len(row) == 5
    ]
    timed = {n: row for n, row in enumerate(rows) if str(row[2]).startswith("timed in step ")}
    assert timed
    for number, row in timed.items():
        assert str(row[1]).startswith("wait for ")
        below = str(row[2]).rpartition(" ")[2]
        assert rows[number + 1][0] == below
        assert re.match(rf"time from step \d+ to step {row[0]}: ", str(rows[number + 1][1]))
        assert re.search(r"\d to \d", str(rows[number + 1][2]))
    for row, after in pairwise(rows):
        ends = re.match(rf"time from step (\d+) to step {row[0]}: [^(]*$", str(after[1]))
        since = re.search(r"^(?!0|about 0).* after step (\d+)$", str(row[2]))
        assert ends is None or since is None or ends[1] == since[1]


@pytest.mark.parametrize("name", PLANS)
def test_times_are_true_of_a_hand_that_is_as_slow_as_may_be(name: str) -> None:
    """A step done at the last moment that the sheet allows leaves what is timed over it inside its limits."""
    _, board = _plan(name)
    engine = Engine(compile_board(board))
    for sitting in _by_hand(name).sittings:
        timed = timed_by_hand(sitting, board, engine)
        places = {step.id: number for number, step in enumerate(timed.sitting.steps) if step.id}
        measures = [n for n, s in enumerate(timed.sitting.steps) if isinstance(s, Measure) and not rig_only(sitting, n)]
        for number in sorted(set(measures) - timed.untimed):
            measure = timed.sitting.steps[number]
            assert isinstance(measure, Measure)
            since, until = places[measure.since], places[measure.until]
            here = [row for row in timed.deadlines if row.since == since and row.number < until]
            for last, within in [(0, 0), *((row.number, row.within) for row in here)]:
                for timings in ("nominal", "earliest", "latest"):
                    at = _measured(timed.sitting, engine, timings, (since, last, until), within)
                    assert measure.shortest <= at <= measure.longest, (number + 1, last + 1, timings)


def _measured(sitting: Sitting, engine: Engine, timings: str, places: tuple[int, int, int], within: int) -> int:
    """Give a time from a step to another on a good board, a step between them done so long after the first."""
    since, last, until = places
    still = _without_flickers(sitting)
    pace = carry_out(still, engine, timings).times  # type: ignore[arg-type]  # one of the words
    wait = max(0, within - (pace[last].ended - pace[since].ended)) if last else 0
    late = evolve(still, steps=(*still.steps[:last], Wait(wait), *still.steps[last:]))
    times = carry_out(late, engine, timings).times  # type: ignore[arg-type]  # as above
    begun = times[since if since < last else since + 1]
    return times[until + 1].ended - begun.ended


def _slow() -> tuple[Plan, Sitting]:
    """Give a plan in which the safety loop holds the contactor off until shortly before it may come on."""
    plan, _ = _plan("quillmere")
    steps = (
        Set(power=True, id="s1"),
        Set({"y": True}, id="s2"),
        Set({"safety": False}, id="s3"),
        Wait(236 * S),
        Set({"safety": True}, id="s4"),
        WaitFor("compressor", True, 0, 20 * S, 20 * S, id="s5"),
        Measure("anti-short-cycle delay", "s1", "s5", 232_300_000, 247_900_000),
        Wait(3 * S),
        Set({"y": False}, id="s6"),
        WaitFor("compressor", False, 0, 20 * S, 20 * S, id="s7"),
        Measure("nothing that takes so long", "s1", "s7", 10 * S, 20 * S),
    )
    sitting = Sitting("1", steps, {"frost_interval": "30"}, {"y": False, "safety": True, "lps": True, "coil": 5})
    return evolve(plan, sittings=(sitting,)), sitting


def test_a_hand_that_is_too_slow_is_told_by_when() -> None:
    """The safety loop holds the contactor off; closed later than the sheet says, the time it is over is too long."""
    (plan, sitting), board = _slow(), library("quillmere")
    engine = Engine(compile_board(board))
    (deadline,) = timed_by_hand(sitting, board, engine).deadlines
    assert (deadline.number, deadline.since) == (4, 0)
    assert 245 * S < deadline.within < 248 * S
    assert _measured(sitting, engine, "latest", (0, 4, 5), deadline.within) <= 247_900_000
    assert _measured(sitting, engine, "latest", (0, 4, 5), deadline.within + S) > 247_900_000
    rows = next(
        table.rows for sheet in plan_sheets(plan, board, "") for table in sheet.tables() if table.id == "steps-1"
    )
    assert re.fullmatch(r"safety: closed, within 4 min [\d.]+ s of step 1", str(rows[4][1]))
    assert (rows[6][0], rows[6][2]) == ("7", "3 min 52.3 s to 4 min 7.9 s")


def test_a_time_that_no_hand_can_take_is_left_to_a_rig() -> None:
    """At the pace of a hand what ends the time comes later than the limits; the step is marked, and has no box."""
    (plan, sitting), board = _slow(), library("quillmere")
    assert timed_by_hand(sitting, board, Engine(compile_board(board))).untimed == {10}
    rows = next(
        table.rows for sheet in plan_sheets(plan, board, "") for table in sheet.tables() if table.id == "steps-1"
    )
    assert [str(row[1]).endswith("(rig only)") for row in rows if str(row[1]).startswith("time ")] == [False, True]
    assert "timed in step 11" not in [row[2] for row in rows]


def test_cautions_are_for_steps_that_a_person_does() -> None:
    """What only a rig does endangers nobody's hand: the caution stands at the first step that a person does."""
    pin = "use an insulated jumper"
    flicker = (Set({"sim": True}, caution=pin), Wait(42_000), Set({"sim": False}, caution=pin))
    sitting = Sitting("1", (Set(power=True), Wait(3 * S), *flicker, Wait(3 * S), Set({"sim": True}, caution=pin)))
    assert [number for number in range(7) if rig_only(sitting, number)] == [2, 3, 4]
    assert [(number, step.caution) for number, step in first_cautions(sitting)] == [(6, pin)]


def test_what_a_step_is_for_is_not_told_as_what_the_board_does() -> None:
    """That nothing is left fitted is why the link comes off; it stands with the step, not beside it."""
    _, board = _plan("heater")
    rows = [
        told(sitting, number, board)
        for sitting in _by_hand("heater").sittings
        for number, step in enumerate(sitting.steps)
        if isinstance(step, Set) and step.why
    ]
    assert rows
    assert all("nothing is left fitted" in does and not shows for does, shows in rows)


def test_the_command_on_the_sheet_can_be_typed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It names the spec as it was named, and the plan's file: typed again it asks for the first step."""
    monkeypatch.chdir(tmp_path)
    spec = tmp_path / "my boards" / "heater.toml"
    spec.parent.mkdir()
    spec.write_text(HEATER, encoding="utf-8")
    asked = ["plan", "my boards/heater.toml", "--faults", "output stuck on", "-o", "its plan.toml", "-o", "plan.txt"]
    made = CliRunner().invoke(main, asked)
    assert made.exit_code == 0, made.output
    text = " ".join((tmp_path / "plan.txt").read_text(encoding="utf-8").split())
    found = re.search(r"Then: boardgauge (.+?) asks for what you wrote", text)
    assert found is not None
    typed = CliRunner().invoke(main, shlex.split(found[1]), input="")
    assert "Sitting 1." in typed.output
    assert "there was no more to read" in typed.output


def test_bench_times_say_who_takes_them(tmp_path: Path) -> None:
    """A hand takes longer than a rig, so each of both times says whose it is."""
    spec = tmp_path / "heater.toml"
    spec.write_text(HEATER, encoding="utf-8")
    output = CliRunner().invoke(main, ["plan", str(spec), "--faults", "output stuck on", "--table"]).output
    assert len(re.findall(r", [0-9.]+ s of bench on a rig, for a board at nominal times", output)) == 1
    assert len(re.findall(r"By hand a board at nominal times takes [0-9.]+ s\.", output)) == 1
    assert len(re.findall(r"nominal times", output)) == 2


def test_what_belongs_to_a_sitting_says_to_which() -> None:
    """A box that goes over to the next page names its sitting, and the sitting that follows begins below it."""
    sheets = plan_sheets(*_plan("heater"), "boardgauge plan heater.toml --enter PLAN.toml")
    sittings = [sheet for sheet in sheets if sheet.id.startswith("sitting-")]
    assert [sheet.own_page for sheet in sittings] == [True, *[False] * (len(sittings) - 1)]
    for number, sheet in enumerate(sittings, 1):
        assert f"WHEN SITTING {number} IS OVER" in to_text(sheet)


def test_a_plan_without_flickers_says_nothing_of_a_rig() -> None:
    """The line about steps for a rig only is there where there are any."""
    plan, board = _plan("heater")
    still = evolve(plan, sittings=tuple(map(_without_flickers, plan.sittings)))
    assert "rig only" in to_text(plan_sheets(plan, board, "x")[0])
    assert "rig only" not in to_text(plan_sheets(still, board, "x")[0])
