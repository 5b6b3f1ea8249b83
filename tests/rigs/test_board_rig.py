"""The simulated board as a rig: it does what the simulator does, and nothing that the judge would not allow."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench_plans import JUDGE, TARNBECK
from boardgauge.bench.live_judging import judge_so_far
from boardgauge.bench.recorder import Recorder
from boardgauge.bench.wiring_file import wiring_text
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Timeline
from boardgauge.machine.simulate import Simulator
from boardgauge.rigs.board_rig import BoardRig
from boardgauge.rigs.rig import Change, Rig, RigFailure, Value

S = 1_000_000
REST: dict[str, Value] = {"lps": True, "hps": True}

pokes = st.lists(
    st.tuples(st.integers(200_000, 40 * S), st.sampled_from(("y", "o", "lps", "hps", "cold", "warm", "fast", "power"))),
    max_size=14,
)


def follow(rig: Rig, until: int) -> list[Change]:
    """Give all that a rig reports up to a moment."""
    found: list[Change] = []
    while True:
        report = rig.wait(until)
        found += report.changes
        if report.now >= until:
            return found


@settings(max_examples=25)
@given(pokes, st.integers(0, 2**32), st.booleans())
def test_the_judge_allows_whatever_a_good_board_on_the_rig_does(
    tmp_path_factory: pytest.TempPathFactory, poked: list[tuple[int, str]], seed: int, pulsed: bool
) -> None:
    """No false alarm: a simulated board poked at will never deviates, recorded as the bench records it."""
    folder = tmp_path_factory.mktemp("run")
    rig = BoardRig(TARNBECK, seed=seed)
    recorder = Recorder(TARNBECK, folder / "one.jsonl", False)
    (folder / "one.toml").write_text(wiring_text("tarnbeck", rig.facts, (*rig.facts.drives, *rig.facts.sees), {}))
    with rig:
        report = rig.start()
        recorder.drove(0, dict(rig.facts.drives))
        recorder.saw(report)
        levels: dict[str, Value] = dict(rig.facts.drives)
        now = 0

        def drive(change: dict[str, Value]) -> None:
            levels.update(change)
            recorder.drove(rig.set(change), change)

        def wait(until: int) -> int:
            while True:
                found = rig.wait(until)
                recorder.saw(found)
                if found.now >= until:
                    return found.now

        drive(dict(REST))
        now = wait(S)
        drive({"power": True})
        for lasts, name in poked:
            now = wait(now + lasts)
            if pulsed and name not in ("power", "fast"):
                back = {name: levels[name]}
                begins, ends = rig.pulse({name: not levels[name]}, back, 20_000)
                recorder.drove(begins, {name: not levels[name]})
                recorder.drove(ends, back)
                now = ends
            else:
                drive({name: not levels[name]})
        now = wait(now + 60 * S)
        recorder.mark(now)
    recorder.close()
    judgement = judge_so_far(JUDGE, folder / "one.jsonl", folder / "one.toml")
    assert judgement is not None
    assert judgement.deviations == ()


def test_a_change_decided_on_again_is_taken_in_in_time() -> None:
    """An input set again before the board acted on its last change: that one is still acted on within its time.

    It was a microsecond late, where it had been going to be acted on at the very last moment.
    """
    rig = BoardRig(TARNBECK, seed=163)
    rig.start()
    rig.set(dict(REST))
    follow(rig, S)
    rig.set({"power": True})
    moments = {}
    for at, name, value in (
        (1_200_000, "y", True), (1_400_000, "lps", False), (1_600_000, "cold", True), (1_800_000, "y", False),
        (2_000_000, "y", True), (2_200_000, "fast", True), (2_685_219, "y", False), (2_885_219, "y", True),
    ):  # fmt: skip
        follow(rig, at)
        moments[name, value] = rig.set({name: value})
    stopped = next(c for c in follow(rig, 4 * S) if c.signal == "cc" and not c.value)
    assert stopped.time <= moments["y", False] + TARNBECK.inputs["y"].responds_within


def test_outputs_show_when_the_simulator_shows_them() -> None:
    """At nominal timings the rig reports the outputs at the very moments of a simulated run."""
    rig = BoardRig(TARNBECK, timings="nominal")
    rig.start()
    done: dict[str, list[tuple[int, Value]]] = {"power": [(0, False)], "lps": [(0, True)], "hps": [(0, True)]}
    rig.set(dict(REST))
    found: list[Change] = []
    for at, change in (
        (2 * S, {"power": True}),
        (3 * S, {"y": True}),
        (70 * S, {"hps": False}),
        (90 * S, {"hps": True}),
        (200 * S, {"y": False}),
    ):
        found += follow(rig, at)
        moment = rig.set(change)  # type: ignore[arg-type]
        for name, value in change.items():
            done.setdefault(name, []).append((moment, value))
    found += follow(rig, 300 * S)
    run = Simulator(compile_board(TARNBECK), "nominal").run(
        Timeline({name: tuple(rows) for name, rows in done.items()}, 300 * S)
    )
    for name in TARNBECK.outputs:
        changes = [(c.time, c.value) for c in found if c.signal == name]
        assert changes == list(run.outputs[name].changes), name
    assert [c.time for c in found] == sorted(c.time for c in found)


def test_all_is_reported_up_to_now_and_nothing_twice() -> None:
    """Looked at in small steps a rig tells the same as in great ones."""
    told = []
    for stride in (7_000_000, 333_333):
        rig = BoardRig(TARNBECK, seed=4)
        rig.start()
        rig.set({**REST, "power": True, "y": True})
        found: list[Change] = []
        for until in range(stride, 98 * S, stride):
            found += follow(rig, until)
        told.append([c for c in found if c.time < 90 * S])
    assert told[0] == told[1]
    assert any(c.signal == "cc" for c in told[0])


def test_safe_takes_the_supply_first_so_that_no_change_is_too_short() -> None:
    """A rig is made safe a millisecond after an input changed, and the board shows everything off."""
    rig = BoardRig(TARNBECK, seed=1)
    rig.start()
    rig.set({**REST, "power": True, "y": True})
    follow(rig, 60 * S)
    rig.set({"hps": False})
    follow(rig, 60 * S + 1000)
    rig.safe()
    assert rig.levels == rig.facts.drives
    follow(rig, 70 * S)
    rig.set({"power": True})
    assert not [c for c in follow(rig, 90 * S) if c.signal == "cc"], "it begins anew with its power-up delay"


def test_a_change_too_short_to_count_is_told_and_not_guessed() -> None:
    """Set back before its filter lets it through, after the board acted on it, an input is a failure of the rig."""
    rig = BoardRig(TARNBECK, timings="earliest")
    rig.start()
    rig.set({**REST, "power": True, "y": True})
    follow(rig, 60 * S)
    rig.set({"hps": False})
    follow(rig, 60 * S + 5_000)
    with pytest.raises(RigFailure, match="ask for a pulse"):
        rig.set({"hps": True})


def test_only_what_the_rig_drives_is_set() -> None:
    """An output cannot be driven."""
    rig = BoardRig(TARNBECK)
    rig.start()
    with pytest.raises(RigFailure, match="does not drive cc"):
        rig.set({"cc": True})


def test_each_start_is_that_of_a_new_board_and_the_same_rig_does_the_same_again() -> None:
    """Two rigs of one seed do the same from start to start; a second start draws other chances."""

    def once(rig: BoardRig) -> list[Change]:
        rig.start()
        rig.set({**REST, "power": True, "y": True})
        return follow(rig, 40 * S)

    one, other = BoardRig(TARNBECK, seed=9), BoardRig(TARNBECK, seed=9)
    first, second = once(one), once(one)
    assert (first, second) == (once(other), once(other))
    assert first != second
