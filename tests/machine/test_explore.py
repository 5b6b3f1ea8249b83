"""Law: exploring finds every configuration a board can be in, says where it stopped, and never depends on order."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest
from attrs import evolve
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.language import Board, read_board, read_board_text
from boardgauge.machine.compile import compile_board
from boardgauge.machine.config import Config
from boardgauge.machine.explore import explore, hidden_timings, reachable
from boardgauge.machine.input_ways import levels_read, ways_of_inputs
from boardgauge.machine.operating import overview
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.settle import Engine

PUMP = """
language = 1
[board]
id = "pump"
title = "A pump with a rest (invented)"
tolerance = "± 10 %"
[inputs.wet]
kind = "call"
[rules.rest]
kind = "delay"
begins = "pump ends"
lasts = "10 s"
if_begun_again = "starts over"
[outputs.pump]
on = "wet and not rest"
"""

FLOODED = (
    PUMP
    + """
[rules.flood]
kind = "lockout"
trips = "high closed for 3 s"
clears = "silence pressed"
[inputs.high]
kind = "switch"
contact = "normally open"
[inputs.silence]
kind = "button"
[outputs.alarm]
on = "flood"
"""
)

RESTLESS = """
language = 1
[board]
id = "restless"
title = "A spec that does not come to rest (invented)"
tolerance = "exactly"
[inputs]
a = { kind = "call" }
b = { kind = "call" }
[rules.m]
kind = "mode"
begins = "a"
ends = "b begins"
[outputs.q]
on = "m"
"""

COIL = """
language = 1
[board]
id = "coil"
title = "Two comparisons of one sensor (invented)"
tolerance = "exactly"
[inputs]
coil = { kind = "sensor", unit = "°C" }
[outputs.cold]
on = "coil < -2 °C until > 1 °C"
[outputs.warm]
on = "coil >= 14 °C"
"""


@pytest.fixture(scope="module")
def tarnbeck() -> Board:
    return read_board(Path(str(files("boardgauge.boards") / "tarnbeck.toml")))


@pytest.fixture(scope="module")
def tarnbeck_reach(tarnbeck: Board) -> set[tuple[object, ...]]:
    machine = compile_board(tarnbeck)
    reach = reachable(Engine(machine))
    assert reach.complete
    return {_visible(config, reach.read, 0) for config in reach.configs}


def _visible(config: Config, read: tuple[bool, ...], hidden: int) -> tuple[object, ...]:
    levels = tuple(level for level, is_read in zip(config.levels, read, strict=True) if is_read)
    return config.powered, levels, config.places, config.running & ~hidden, config.full & ~hidden


def test_a_small_machine_is_found_whole() -> None:
    """Off; dry; pumping; resting dry and wet."""
    found = explore(compile_board(read_board_text(PUMP, "pump.toml")))
    assert found.complete
    assert not found.findings
    assert len(found.configs) == 5


def test_a_bound_that_was_hit_is_told() -> None:
    """Honest: explored this far and no farther."""
    machine = compile_board(read_board_text(PUMP, "pump.toml"))
    found = explore(machine, limit=3)
    assert not found.complete
    assert len(found.configs) == 3
    assert not overview(machine, limit=3).complete


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 8), st.integers(0, 30)), max_size=25))
def test_no_walk_leaves_what_was_found(
    tarnbeck: Board, tarnbeck_reach: set[tuple[object, ...]], walk: list[tuple[int, int]]
) -> None:
    """Whatever single causes come one after another, the engine stays among the reachable configurations."""
    machine = compile_board(tarnbeck)
    engine = Engine(machine)
    hidden = hidden_timings(machine)
    read = levels_read(machine)
    config = engine.settle(engine.off(), power_up=True).config
    for level, choice in walk:
        running = [t.index for t in machine.timings if config.running >> t.index & 1]
        if choice % 3 == 0 and running:
            config = engine.settle(config, expired=(running[choice % len(running)],)).config
        else:
            levels = tuple(not value if i == level else value for i, value in enumerate(config.levels))
            config = engine.settle(config, levels).config
        assert _visible(config, read, hidden) in tarnbeck_reach


def test_levels_that_only_choose_a_time_are_not_told_apart(tarnbeck: Board) -> None:
    """Jumpers and speed-up pins multiply nothing, and are written back on request."""
    reach = reachable(Engine(compile_board(tarnbeck)))
    names = [level.input for level in compile_board(tarnbeck).levels]
    assert {name for name, read in zip(names, reach.read, strict=True) if not read} == {"j0", "j1", "fast"}
    levels = tuple(name in {"y", "lps", "hps", "j1"} for name in names)
    having = reach.having(levels)
    assert having
    assert all(config.levels == levels and config.powered for config in having)


def test_a_sensor_is_never_cold_and_warm_at_once() -> None:
    """The comparisons of one sensor are only taken as one reading can leave them."""
    machine = compile_board(read_board_text(COIL, "coil.toml"))
    ((levels, values),) = ways_of_inputs(machine)
    cold = next(level.index for level in machine.levels if level.comparison and level.comparison.op == "<")
    place = levels.index(cold)
    assert all(not (value[place] and value[1 - place]) for value in values)
    assert len(values) == 3


@pytest.mark.parametrize(("accuracy", "ways"), [("± 0 K", 3), ("± 0.5 K", 3), ("± 0.6 K", 4), ("± 1.1 °F", 4)])
def test_limits_closer_than_the_sensor_may_be_off_do_not_hang_together(accuracy: str, ways: int) -> None:
    """Below 10 °C and above 11 °C: each limit is off in a way of its own, and at 10.5 °C a board may find both."""
    text = COIL.replace('unit = "°C"', f'unit = "°C", accuracy = "{accuracy}"')
    text = text.replace("coil < -2 °C until > 1 °C", "coil < 10 °C").replace("coil >= 14 °C", "coil > 11 °C")
    ((_, values),) = ways_of_inputs(compile_board(read_board_text(text, "coil.toml")))
    assert len(values) == ways


def test_a_spec_that_does_not_come_to_rest_is_found_with_its_scenario() -> None:
    """The scenario leads there from a board without power, and ends in the step that cannot settle."""
    machine = compile_board(read_board_text(RESTLESS, "restless.toml"))
    found = explore(machine, together=True)
    assert found.findings
    for finding in found.findings:
        engine = Engine(machine)
        config = engine.off()
        for number, step in enumerate(finding.scenario):
            levels = list(config.levels)
            for index, value in step.levels:
                levels[index] = value
            last = number == len(finding.scenario) - 1
            if last:
                with pytest.raises(CannotSettle):
                    engine.settle(config, tuple(levels), step.expired, step.dropped, step.power is True)
            else:
                config = engine.settle(config, tuple(levels), step.expired, step.dropped, step.power is True).config


def test_the_order_of_declaration_does_not_matter() -> None:
    """The same states, sizes and edges from the board declared the other way round."""
    board = read_board_text(FLOODED, "flooded.toml")
    turned = evolve(
        board,
        rules=dict(reversed(board.rules.items())),
        outputs=dict(reversed(board.outputs.items())),
        inputs=dict(reversed(board.inputs.items())),
    )
    one, other = overview(compile_board(board)), overview(compile_board(turned))
    assert [(s.outputs, s.always, s.sometimes, s.size) for s in one.states] == [
        (s.outputs, s.always, s.sometimes, s.size) for s in other.states
    ]
    assert [(e.source, e.target, len(e.ways)) for e in one.edges] == [
        (e.source, e.target, len(e.ways)) for e in other.edges
    ]


def test_a_guard_tells_one_cause_from_itself() -> None:
    """The call starts the pump at once, or waits for the rest to be over."""
    machine = compile_board(read_board_text(PUMP, "pump.toml"))
    seen = overview(machine)
    off, idle, pumping = range(3)
    ways = {(edge.source, edge.target): edge.ways for edge in seen.edges}
    call, over = ways[idle, pumping][1], ways[idle, pumping][0]
    assert [(fact.what, fact.holds) for fact in call.guard] == [("rest", False)]
    assert over.step.expired
    assert [(fact.kind, fact.holds) for fact in over.guard] == [("input", True)]
    assert all(way.sure for found in ways.values() for way in found)
    assert (off, pumping) in ways


def test_an_output_that_repeats_an_input_makes_no_state_of_its_own(tarnbeck: Board) -> None:
    """The reversing valve follows the cooling call in standby; in defrost it is on."""
    seen = overview(compile_board(tarnbeck))
    assert len(seen.states) == 8
    valves = [dict(state.outputs)["rv"] for state in seen.states if state.powered]
    assert sum(isinstance(value, tuple) for value in valves) == 4
    assert sum(value is True for value in valves) == 1


def test_where_there_is_no_room_outputs_are_left_out_by_name() -> None:
    """Fewer states when fewer are asked for; what splits most goes first, and is named."""
    machine = compile_board(read_board_text(FLOODED, "flooded.toml"))
    assert len(overview(machine).states) == 5
    assert not overview(machine).left_out
    seen = overview(machine, most_states=3)
    assert seen.left_out == ("alarm",)
    assert len(seen.states) == 3
    assert {dict(state.outputs)["alarm"] for state in seen.states if state.powered} == {None}


def test_what_does_not_come_to_rest_names_the_rules_that_chase_each_other() -> None:
    """Only those that the output hangs on; two that move each other both, a delay that prevents itself alone."""
    twin = RESTLESS + '[rules.other]\nkind = "mode"\nbegins = "a"\nends = "b begins"\n[outputs.lamp]\non = "other"\n'
    found = explore(compile_board(read_board_text(twin, "twin.toml")))
    assert {finding.reason.split()[0]: finding.rules for finding in found.findings} == {"q": ("m",)}
    chase = RESTLESS.replace('ends = "b begins"', 'ends = "n"').replace('begins = "a"', 'begins = "a and not n"')
    chase += '[rules.n]\nkind = "mode"\nbegins = "m"\nends = "not m"\n'
    (finding,) = explore(compile_board(read_board_text(chase, "chase.toml"))).findings
    assert finding.rules == ("m", "n")
    delay = '[rules.m]\nkind = "delay"\nbegins = "(a and not m) begins"\nlasts = "3 s"\nif_begun_again = "runs on"\n'
    text = RESTLESS[: RESTLESS.index("[rules.m]")] + delay + RESTLESS[RESTLESS.index("[outputs.q]") :]
    (finding,) = explore(compile_board(read_board_text(text, "delay.toml"))).findings
    assert finding.rules == ("m",)
