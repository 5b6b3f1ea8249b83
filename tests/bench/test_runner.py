"""A plan carried out on a rig: what is done, seen, recorded, and how it ends."""

from __future__ import annotations

from pathlib import Path

import pytest
from attrs import evolve

from bench_plans import JUDGE, TARNBECK, Behind, Dies, Quiet, carried, plan_of, runner_in, steps_of
from boardgauge.bench.running import kept_in, run_of
from boardgauge.faults import fault_of
from boardgauge.language.expression_reader import read_condition
from boardgauge.language.model import NOWHERE
from boardgauge.plans.plan import NO_TIME, STOPPED, LeftOut
from boardgauge.rigs.board_rig import BoardRig
from boardgauge.rigs.interlocks import Interlocks
from boardgauge.rigs.rig import Report, RigFacts, RigFailure
from boardgauge.rigs.rig_file import Interlock
from boardgauge.traces.reading import read_recording

pytestmark = pytest.mark.usefixtures("no_waiting_for_the_disk")
S = 1_000_000


# -- a whole run -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(4))
def test_a_good_board_passes(tmp_path: Path, seed: int) -> None:
    """All steps are done, nothing is missed, all conforms; each sitting is a recording of its own."""
    watcher = Quiet()
    run = carried(tmp_path / "run", plan_of(), BoardRig(TARNBECK, seed=seed), watcher)
    assert run.passes, run.coverage.missed
    assert [s.sitting for s in run.segments] == ["start and stop", "low pressure"]
    assert all(s.judgement is not None and s.judgement.known_start for s in run.segments)
    assert watcher.asked == [("low pressure", {}, ("the low-pressure switch is simulated",))]
    assert watcher.steps[0] == ("start and stop", 0)
    assert "power_up_delay" in {r.rule for r in run.coverage.rules if r.exercised}
    assert "lp_lockout" in {r.rule for r in run.coverage.rules if r.exercised}
    delay = next(t for r in run.coverage.rules if r.rule == "power_up_delay" for t in r.timings)
    assert delay.ended == 3
    assert run.telling is run.segments[0]
    # The plan leaves rules out, of which nothing is proved then.
    assert not run.qualifies
    rules = tuple(evolve(rule, exercised=True) for rule in run.coverage.rules)
    # Nor does a simulated board, however much it shows, or one of which it is not known.
    whole = evolve(run, coverage=evolve(run.coverage, rules=rules))
    assert [evolve(whole, simulated=simulated).qualifies for simulated in (True, None, False)] == [False, False, True]
    run = evolve(run, simulated=False)
    assert not evolve(run, coverage=evolve(run.coverage, rules=rules), ending="cut off").qualifies
    # Nor does a plan that was not planned to its end; of faults, a plan names those that it finds.
    for kind, reason, qualifies in (("limit", STOPPED, False), ("move", NO_TIME, False), ("fault", STOPPED, True)):
        left = (LeftOut(kind, ("a",), reason),)
        assert evolve(run, coverage=evolve(run.coverage, rules=rules, left_out=left)).qualifies is qualifies


@pytest.mark.parametrize("fault", ["power_up_delay.lasts.short", "fan.stuck-off"])
def test_a_faulty_board_deviates_and_the_run_ends_there_if_asked(tmp_path: Path, fault: str) -> None:
    """Stopped at the first deviation, the rest of the plan is not done; the deviation was told while it ran."""
    acts = fault_of(TARNBECK, fault).board
    watcher = Quiet()
    run = carried(tmp_path / "stopped", plan_of(), BoardRig(TARNBECK, acts, seed=2), watcher, stop=True)
    assert (run.verdict, run.ending) == ("deviates", "stopped at a deviation")
    assert run.coverage.done < run.coverage.steps
    assert watcher.deviations
    whole = carried(tmp_path / "whole", plan_of(), BoardRig(TARNBECK, acts, seed=2))
    assert (whole.verdict, whole.ending) == ("deviates", "done")
    assert whole.coverage.done == whole.coverage.steps
    assert not whole.passes
    assert whole.telling is not None
    assert whole.telling.judgement is not None
    first = whole.telling.judgement.deviations[0]
    assert (watcher.deviations[0].rule, watcher.deviations[0].time) == (first.rule, first.time)


def test_the_rig_is_safe_and_closed_after_a_run_and_between_sittings(tmp_path: Path) -> None:
    """Start, the first setting of inputs, the steps, safe; then the same again."""
    rig = Behind(BoardRig(TARNBECK, seed=1))
    with rig:
        carried(tmp_path / "run", plan_of(), rig)
    starts = [n for n, call in enumerate(rig.calls) if call == "start"]
    assert len(starts) == 2
    assert rig.calls[starts[1] - 1] == "safe"
    assert rig.calls[-3:] == ["safe", "safe", "close"]
    assert rig.calls[1] == "set lps=1 hps=1"


def test_what_does_not_come_is_told_and_the_plan_goes_on(tmp_path: Path) -> None:
    """A wait in vain ends at its limit; the measure that needs it is not made; both are told with their step."""
    plan = steps_of(
        '{ power = "on", id = "on" },'
        '{ wait_for = { cc = "on" }, expected = "28 s to 32 s", since = "on", at_most = "3 s", id = "cc" },'
        '{ measure = "power_up_delay", since = "on", until = "cc", allowed = "28 s to 32 s" },'
        '{ observe = { cc = "on" }, held = "1 s" }'
    )
    run = carried(tmp_path / "run", plan, BoardRig(TARNBECK))
    assert run.verdict == "conforms"
    assert run.coverage.missed == (
        "sitting one, step 2: cc did not come on within 3 s",
        "sitting one, step 3: power_up_delay was not measured",
        "sitting one, step 4: cc was off",
    )
    assert not run.passes


def test_a_line_of_a_lamp_that_was_not_read_is_missed(tmp_path: Path) -> None:
    """Looked for too shortly, or where another line is shown, the plan did not show it; long enough, it did."""
    steps = '{ set = { y = "on" }, power = "on" }, { observe = { led = "PATTERN" }, held = "HELD" }, { power = "off" }'
    for pattern, held, missed in (
        ("100 ms lit, 100 ms dark", "10 s", ()),
        (
            "100 ms lit, 100 ms dark",
            "0.1 s",
            ("sitting one, step 2: led was not read to show 100 ms lit, 100 ms dark",),
        ),
        ("3 flashes", "10 s", ("sitting one, step 2: led was not read to show 3 flashes",)),
    ):
        plan = steps_of(steps.replace("PATTERN", pattern).replace("HELD", held))
        folder = tmp_path / f"{pattern} {held}"
        assert carried(folder, plan, BoardRig(TARNBECK, seed=2)).coverage.missed == missed


def test_a_time_is_measured_by_when_things_were_seen_to_happen(tmp_path: Path) -> None:
    """However late a rig tells of it, a measured time goes by the moments that it gives."""

    class Late(Behind):
        def wait(self, until: int) -> Report:
            report = super().wait(until)
            if not report.changes:
                return report
            more = self.behind.wait(report.now + 3 * S)
            return Report(more.now, report.changes + more.changes)

    steps = (
        '{ set = { y = "on" }, power = "on", id = "on" },'
        '{ wait_for = { cc = "on" }, expected = "28 s to 32 s", since = "on", at_most = "40 s", id = "cc" },'
        '{ measure = "power_up_delay", since = "on", until = "cc", allowed = "28.4 s to 31.6 s" }'
    )
    run = carried(tmp_path / "run", steps_of(steps), Late(BoardRig(TARNBECK, timings="latest")))
    assert run.coverage.missed == ()


def test_a_short_pulse_is_left_to_the_rig(tmp_path: Path) -> None:
    """Set, a wait of 28 ms and set back is one pulse; with 300 ms between it is not."""
    rig = Behind(BoardRig(TARNBECK, seed=3))
    steps = (
        '{ power = "on" }, { wait = "1 s" },'
        '{ set = { y = "on" } }, { wait = "28 ms" }, { set = { y = "off" } }, { wait = "1 s" },'
        '{ set = { y = "on" } }, { wait = "300 ms" }, { set = { y = "off" } }, { wait = "1 s" }'
    )
    run = carried(tmp_path / "run", steps_of(steps), rig)
    assert run.verdict == "conforms"
    assert [call for call in rig.calls if " y" in call and "lps" not in call] == ["pulse 28000 y", "set y=1", "set y=0"]
    recording = read_recording(run.segments[0].recording)
    y = recording.channels["y"]
    rises, falls = y.times[1::2].tolist(), y.times[2::2].tolist()
    assert falls[0] - rises[0] == 28_000
    assert falls[1] - rises[1] > 300_000


# -- how it ends -----------------------------------------------------------------------------------------------------


def test_a_person_who_does_not_agree_ends_the_run_before_the_sitting(tmp_path: Path) -> None:
    """The sitting with a caution is not begun; what was done before is kept."""
    rig = Behind(BoardRig(TARNBECK))
    run = carried(tmp_path / "run", plan_of(), rig, Quiet(agrees=False))
    assert run.ending == "stopped by a person"
    assert [s.sitting for s in run.segments] == ["start and stop"]
    assert rig.calls[-1] == "safe"


def test_settings_that_a_person_chooses_are_asked_for_unless_the_rig_chooses(tmp_path: Path) -> None:
    """A rig that chooses is given the settings; for any other a person is asked before the supply comes on."""

    class Unable(Behind):
        @property
        def facts(self) -> RigFacts:
            return evolve(self.behind.facts, chooses=False)

    plan = plan_of()
    sitting = evolve(plan.sittings[0], settings={"interval": "3 min"})
    plan = evolve(plan, sittings=(sitting,))
    watcher = Quiet(agrees=False)
    runner, place = runner_in(tmp_path / "run", Unable(BoardRig(TARNBECK)), plan, watcher)
    assert runner.run(*place) == "stopped by a person"
    assert watcher.asked == [("start and stop", {"interval": "3 min"}, ())]


@pytest.mark.parametrize("after", [0, 1, 7, 40])
@pytest.mark.parametrize(
    ("error", "ending"),
    [
        (RigFailure("the link is lost"), "rig failed"),
        (KeyboardInterrupt(), "stopped by a person"),
        (ZeroDivisionError("a slip of ours"), "cut off"),
    ],
)
def test_whatever_ends_a_run_the_rig_is_made_safe_at_once(
    tmp_path: Path, after: int, error: BaseException, ending: str
) -> None:
    """The last call to the rig is safe, the journal says how it ended, and what was seen can be judged."""
    rig = Dies(BoardRig(TARNBECK, seed=5), after, error)
    runner, place = runner_in(tmp_path / "run", rig, plan_of())
    with pytest.raises(type(error)):
        runner.run(*place)
    assert rig.calls[-1] == "safe"
    assert rig.behind.levels == rig.behind.facts.drives  # type: ignore[attr-defined]
    run = run_of(tmp_path / "run", plan_of(), JUDGE)
    assert run.ending == ending
    assert run.verdict in ("conforms", "undecided")
    assert not run.passes


def test_a_rig_that_cannot_be_made_safe_is_told_above_all_else(tmp_path: Path) -> None:
    """A failure to make safe is raised even where a person broke the run off, and the journal has it."""

    class Stuck(Dies):
        def safe(self) -> None:
            raise RigFailure("relay 1 does not open; switch the supply off by hand")

    runner, place = runner_in(tmp_path / "run", Stuck(BoardRig(TARNBECK), 3, KeyboardInterrupt()), plan_of())
    with pytest.raises(RigFailure, match="by hand"):
        runner.run(*place)
    kept = kept_in(tmp_path / "run")
    assert kept.ending == "rig failed"
    assert "by hand" in kept.why


def test_nothing_gets_past_an_interlock_even_without_the_look_before(tmp_path: Path) -> None:
    """A runner that was given a forbidden plan refuses to drive it, and makes the rig safe."""
    plan = steps_of('{ power = "on" }, { set = { cold = "on" } }, { wait = "1 s" }, { set = { warm = "on" } }')
    rig = Behind(BoardRig(TARNBECK))
    runner, place = runner_in(tmp_path / "run", rig, plan)
    runner.interlocks = Interlocks(TARNBECK, (Interlock("cold and warm", read_condition("cold and warm"), NOWHERE),))
    with pytest.raises(RigFailure, match="not driven: never 'cold and warm'"):
        runner.run(*place)
    assert "set warm=1" not in rig.calls
    assert rig.calls[-1] == "safe"
