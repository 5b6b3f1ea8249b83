"""Each kind of fault is on the list of every board that can have it, for each part that can."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import combinations
from pathlib import Path

import pytest
from attrs import evolve

from boardgauge.boards import board_names, board_path
from boardgauge.faults import fault_of, faults_of
from boardgauge.faults.editing import STATES, sites
from boardgauge.faults.times import fors_in, times_of
from boardgauge.faults.timings import any_long_of, any_short_of
from boardgauge.judging.judge import judge
from boardgauge.language import read_board, read_board_text
from boardgauge.language.expressions import is_event
from boardgauge.language.model import (
    Accumulator,
    Board,
    Count,
    Delay,
    InputKind,
    Lockout,
    Mode,
    Rule,
    Sequence,
    Toggle,
)
from boardgauge.language.quantities import MS, Duration, S, Tolerance
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Run, Timeline
from boardgauge.machine.simulate import Simulator
from boardgauge.traces import condition
from boardgauge.traces.simulated import recording_of

FAN = Path(__file__).resolve().parents[2] / "docs" / "examples" / "fan.toml"


def wanted(board: Board) -> Iterator[tuple[str, str]]:
    """Give the id of each fault that a board can have by its parts, with words of its name."""
    for id_ in board.outputs:
        hows = ("stuck-on", "stuck-off", "late-on", "late-off", "chatters")
        words = ("stuck on", "stuck off", "comes on late", "goes off late", "chatters")
        yield from ((f"{id_}.{how}", word) for how, word in zip(hows, words, strict=True))
    for a, b in combinations(board.outputs, 2):
        yield f"{a}.crossed.{b}", "crossed"
    for id_, lamp in board.lamps.items():
        yield f"{id_}.dead", "is dead"
        yield f"{id_}.stuck-lit", "is always lit"
        for x, y in combinations(range(len(lamp.lines)), 2):
            if lamp.lines[x].shows != lamp.lines[y].shows:
                yield f"{id_}.{x + 1}.swapped.{y + 1}", f"lines {x + 1} and {y + 1} changed over"
    for row in board.inputs.values():
        ends = ("low", "high") if row.kind is InputKind.SENSOR else STATES[row.kind]
        for end in ends:
            yield f"{row.id}.stuck-{end}", row.id
        if row.kind is InputKind.SENSOR:
            yield f"{row.id}.reads-high", "too high"
            yield f"{row.id}.reads-low", "too low"
        if row.filter.greatest:
            yield f"{row.id}.no-filter", "is not filtered"
    contacts = [row for row in board.inputs.values() if row.kind is not InputKind.SENSOR]
    yield from ((f"{a.id}.crossed.{b.id}", "crossed") for a, b in combinations(contacts, 2) if a.kind is b.kind)
    for id_, setting in board.settings.items():
        yield from ((f"{id_}.as-{n}", "is always taken for") for n in range(1, len(setting.positions) + 1))
    for id_ in board.speed_ups:
        yield f"{id_}.always", "is always on"
        yield f"{id_}.without-effect", "has no effect"
    for time in times_of(board):
        if all(d.shortest > 2 * MS for d in time.nominals):
            yield f"{time.key}.short", "too short"
        yield f"{time.key}.long", "too long"
    if list(times_of(board)):
        yield "clock.fast", "clock too fast"
        yield "clock.slow", "clock too slow"
    for site in sites(board):
        if any(True for _ in fors_in(site.expression)):
            for how, word in (("absent", "does not wait"), ("endless", "for ever"), ("not-restarted", "adds up")):
                yield f"{site.id}.{site.key}.for.{how}", word
    for rule in board.rules.values():
        yield from ((f"{rule.id}.{how}", word) for how, word in _of_rule(rule))


def _of_rule(rule: Rule) -> Iterator[tuple[str, str]]:
    yield ("lost-without-power", "is lost") if rule.kept_without_power else ("kept-without-power", "outlasts")
    match rule:
        case Delay():
            yield "absent", "never runs"
            yield "endless", "never runs out"
            if rule.if_begun_again is not None:
                runs_on = rule.if_begun_again == "runs on"
                yield ("restarted", "is restarted") if runs_on else ("not-restarted", "is not restarted")
        case Lockout():
            if not is_event(rule.trips):
                yield "not-latched", "does not latch"
            if rule.clears is not None:
                yield "hard", "nothing but a loss"
            if rule.lasts is not None:
                yield "absent", "clears at once"
                yield "endless", "never clears"
        case Count():
            yield "one-more", "counts to"
            if rule.limit > 1:
                yield "one-less", "counts to"
            if rule.forgets is not None:
                yield "not-forgotten", "never forgotten"
            yield ("forgotten-soon", "forgets") if rule.within is None else ("endless", "too old")
        case Accumulator():
            yield "not-paused", "does not pause"
            yield "not-kept", "does not keep"
            yield "absent", "is full at once"
            yield "endless", "is never full"
            if rule.resets is not None:
                yield "not-reset", "is not reset"
        case Mode():
            if rule.at_most is not None:
                yield "endless", "does not end"
            if rule.at_least is not None:
                yield "absent", "has no shortest stay"
        case Sequence():
            yield from ((f"{s.name}.endless", "never runs out") for s in rule.steps if s.lasts is not None)
            names = {s.name for s in rule.steps}
            passed_by = (s for n, s in enumerate(rule.steps) if s.then != s.name and (n or s.then in names))
            yield from ((f"{s.name}.skipped", f"skips {s.name.replace('_', ' ')}") for s in passed_by)
        case Toggle():
            yield "stuck-over", "stuck"


@pytest.mark.parametrize("name", board_names())
def test_every_kind_of_fault_is_listed_where_it_applies(name: str) -> None:
    """Each stands on the list, or is named there as giving the very board of another one."""
    board = read_board(board_path(name))
    faults = faults_of(board)
    ids, alike = {fault.id for fault in faults}, [other for fault in faults for other in fault.alike]
    missing = [(id_, words) for id_, words in wanted(board) if id_ not in ids]
    assert [id_ for id_, words in missing if not any(words in other for other in alike)] == []
    assert len(missing) * 5 <= len(ids) + len(missing)


def _run(board: Board, timeline: Timeline) -> Run:
    return Simulator(compile_board(board)).run(timeline)


def test_a_time_that_adds_up_over_interruptions() -> None:
    """The room light is on for 30 s, off for 10 s, on for 30 s: no good board takes that for 45 s; the faulty one does.

    Held for 45 s without a break, both do the same; and so they do once the light has been off for that long.
    """
    board = read_board(board_path("extract-fan"))
    faulty = fault_of(board, "occupied.begins.for.not-restarted")
    assert faulty.name == "the beginning of occupied does not wait anew after an interruption: it adds up"

    def motor(fan: Board, *light: tuple[int, bool]) -> list[tuple[int, bool]]:
        rest = {"power": ((S, True),), "winding": ((0, True),), "damp": ((0, 50),)}
        run = _run(fan, Timeline({**rest, "light": tuple((20 * S + at * S, on) for at, on in light)}, 200 * S))
        return [(time // S - 20, value) for time, value in run.outputs["fan"].changes]

    twice = ((0, True), (30, False), (40, True), (70, False))
    assert motor(board, *twice) == []
    assert motor(faulty.board, *twice)[0] == (55, True)
    at_once = ((0, True), (60, False))
    assert motor(board, *at_once)[0] == motor(faulty.board, *at_once)[0] == (45, True)


def test_a_clock_is_wrong_where_every_time_is_exact() -> None:
    """A board that may not be off at all has a clock that can be, by eight per cent."""
    board = read_board(board_path("iec-ton"))
    life = Timeline({"power": ((0, True),), "in1": ((5 * S, True),)}, 60 * S)
    ((good, _),) = _run(board, life).outputs["q"].changes
    ((slow, _),) = _run(fault_of(board, "clock.slow").board, life).outputs["q"].changes
    assert (slow - 5 * S) * 100 == (good - 5 * S) * 108


@pytest.mark.parametrize(("how", "per_cent"), [("fast", 82), ("slow", 118)])
def test_a_wrong_clock_shows_in_the_lamp(how: str, per_cent: int) -> None:
    """By its times a fan's clock may be 10 % off; one that is off by 8 % more blinks its lamp by it."""
    board = read_board(FAN)
    life = Timeline({"power": ((0, True),), "winding": ((0, True),)}, 20 * S)
    lamp = _run(fault_of(board, f"clock.{how}").board, life).lamps["status"].changes
    assert [time for time, _ in lamp[:4]] == [n * S * per_cent // 100 for n in range(4)]


def test_crossed_leads_show_as_late_as_the_other_output_may() -> None:
    """Of two outputs one may lag by 2 s and the other shows at once: the lag comes with the command, not the terminal.

    What a good board shows, changed over, is what the board with crossed leads has to do.
    """
    board = read_board_text(
        """
        language = 1
        [board]
        id = "two-outputs"
        title = "A slow output and a quick one (invented)"
        tolerance = "exactly"
        responds_within = "2 s"
        [inputs]
        call = { kind = "call" }
        hold = { kind = "signal" }
        [outputs]
        slow = { on = "call or hold", lag = "2 s" }
        quick = { on = "call" }
        """,
        "two-outputs.toml",
    )
    run = _run(board, Timeline({"power": ((0, True),), "call": ((3 * S, True), (20 * S, False))}, 30 * S))
    faulty = fault_of(board, "slow.crossed.quick").board
    for late, verdict in ((0, "conforms"), (2 * S, "conforms"), (2 * S + 1, "deviates")):
        slow, quick = run.outputs["slow"], run.outputs["quick"]
        shown = evolve(slow, changes=tuple((time + late, value) for time, value in slow.changes))
        recorded = recording_of(evolve(run, outputs={"slow": quick, "quick": shown}), board)
        assert judge(faulty, condition(recorded, None, board)).verdict == verdict, late


def test_a_lockout_that_clears_at_once() -> None:
    """After the last trial for ignition a good board waits an hour, and the faulty one does not."""
    board = read_board(board_path("hearthgate"))
    fault = fault_of(board, "retry_wait.absent")
    assert fault.name.endswith("clears at once")
    tries = {"power": ((S, True),), "limit": ((0, True),), "heat": ((2 * S, True),)}
    life = Timeline({**tries, "draft": ((6 * S, True), (220 * S, False))}, 300 * S)
    good, faulty = (_run(b, life).outputs["inducer"].changes for b in (board, fault.board))
    assert [value for _, value in good] == [True, False]
    assert faulty[:3] == (*good, (220 * S, True))


def test_a_lockout_that_a_switch_clears_as_it_comes_to_rest() -> None:
    """The fan's winding opens at 200 s and closes at 230 s: the faulty fan goes on then, a good one in five minutes."""
    board = read_board(board_path("extract-fan"))
    fault = fault_of(board, "cooling_down.cleared-by.winding")
    assert fault.name == "winding too hot is cleared as winding closes"
    life = Timeline(
        {"power": ((S, True),), "winding": ((0, True), (200 * S, False), (230 * S, True)), "damp": ((0, 80),)}, 700 * S
    )
    good, faulty = (_run(b, life).outputs["fan"].changes for b in (board, fault.board))
    assert [value for _, value in good] == [value for _, value in faulty] == [True, False, True]
    assert faulty[2][0] // S == 230
    assert good[2][0] // S == 530


def test_a_skipped_step_is_passed_by_wherever_it_is_come_from() -> None:
    """Without heating up the gas comes with the igniter, first after the purge, then after purging again.

    Without proving the draft, the first step, the purge begins with the call, 4 s sooner.
    """
    board = read_board(board_path("hearthgate"))
    given = {"power": ((S, True),), "limit": ((0, True),), "heat": ((2 * S, True),), "draft": ((6 * S, True),)}

    def comes_on(burner: Board, output: str) -> list[int]:
        changes = _run(burner, Timeline(given, 110 * S)).outputs[output].changes
        return [time // S for time, value in changes if value]

    assert [comes_on(board, name) for name in ("igniter", "gas")] == [[31, 103], [48]]
    skipped = fault_of(board, "burner.heat_up.skipped").board
    assert [comes_on(skipped, name) for name in ("igniter", "gas")] == [[31, 86], [31, 86]]
    assert comes_on(fault_of(board, "burner.prove_draft.skipped").board, "igniter") == [27, 99]


def test_an_input_that_is_stuck_on_begins_with_the_supply() -> None:
    """A pulse that the control signal begins comes once, with the supply; with the signal stuck off it never comes."""
    board = read_board(board_path("relay-single-shot"))
    life = Timeline({"power": ((S, True),), "control": ((20 * S, True), (40 * S, False))}, 60 * S)
    shown = {
        how: _run(fault_of(board, f"control.stuck-{how}").board, life).outputs["out"].changes for how in ("on", "off")
    }
    assert shown["on"][0] == (S, True)
    assert len(shown["on"]) == 2
    assert shown["off"] == ()


def test_a_part_that_has_no_say_any_more_is_called_not_heeded() -> None:
    """Of 'wanted and not rest', a rest that is taken as never so is not heeded, nor a 'wanted' that always is."""
    board = read_board(board_path("extract-fan"))
    names = {fault.id: fault.name for fault in faults_of(board)}
    assert names["fan.starts.3.never"] == "the starting of fan motor does not heed 'rest'"
    assert names["fan.starts.1.always"] == "the starting of fan motor does not heed 'wanted'"
    assert fault_of(board, "fan.starts.3.never").group == "part ignored"


def test_a_time_of_any_size_begins_where_a_good_one_ends() -> None:
    """Of 30 s give or take 3 s, too short is less than 27 s, and too long is more than 33 s."""
    good = Duration(30 * S, Tolerance(Fraction(1, 10), Fraction(1, 10)))
    assert any_short_of(good).longest == good.shortest == 27 * S
    assert any_short_of(good).shortest < S
    assert any_long_of(good).shortest == good.longest == 33 * S
    assert any_long_of(good).longest > 600 * S


@pytest.mark.parametrize("seed", range(4))
def test_what_is_full_at_once_is_so_as_soon_as_the_board_responds(seed: int) -> None:
    """A time relay whose sum is full at once takes its signal in as late as it may: it never deviates from itself."""
    board = read_board(board_path("relay-summing"))
    faulty = fault_of(board, "summed.absent").board
    life = Timeline({"power": ((S, True),), "control": ((5 * S, True), (9 * S, False))}, 20 * S)
    run = Simulator(compile_board(faulty), "random", seed).run(life)
    ((shown, _),) = run.outputs["out"].changes
    assert 0 < shown - 5 * S <= 51 * MS
    assert judge(faulty, condition(recording_of(run, board), None, board)).verdict == "conforms"
