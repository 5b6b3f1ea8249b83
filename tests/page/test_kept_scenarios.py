"""What was done on the page can be kept as a scenario.

Law: the scenario that the page writes is one that the reader takes, and played by the reference it shows at the
terminals what the page showed.
"""

from __future__ import annotations

import json
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.machine.chance import Timings
from boardgauge.machine.scenario import play
from boardgauge.machine.scenario_reader import read_scenario_text
from boardgauge.page import page_table
from machine.small_boards import machine_of
from page.script import Script
from page.test_engine_is_the_reference import LIBRARY, WAYS, engine_of
from page.test_sessions import DRIVER, S, acts, written


@pytest.fixture(scope="module")
def at_the_board(script: Script) -> Script:
    """Give the engine with a driver for sessions."""
    script.define(DRIVER)
    return script


@settings(max_examples=30, deadline=None)
@given(st.data(), st.sampled_from(WAYS))
def test_a_kept_scenario_plays_as_the_page_did(at_the_board: Script, data: st.DataObject, way: Timings) -> None:
    """Outputs and lamps change at the same microseconds."""
    engine = engine_of(data.draw(st.sampled_from(LIBRARY)))
    machine = engine.machine
    done = [
        (time, {n: Fraction(round(v)) if isinstance(v, Fraction) else v for n, v in changes.items()})
        for time, changes in data.draw(acts(machine.board))
    ]
    end = (done[-1][0] if done else 0) + data.draw(st.integers(1, 90 * S))
    table = json.dumps(page_table(machine))
    text, run = at_the_board.value(
        f"((s) => [scenarioText(s), seen(s)])(done({table}, '{way}', {written(done)}, {end}))"
    )
    played = play(machine, read_scenario_text(text, "kept.toml", machine.board), way, engine=engine)
    assert played.end == run["end"]
    assert [[[t, bool(v)] for t, v in edges.changes] for edges in played.outputs.values()] == run["outputs"]
    assert [[[t, bool(v)] for t, v in edges.changes] for edges in played.lamps.values()] == run["lamps"]


def test_a_scenario_says_what_was_done_in_the_words_of_its_inputs(at_the_board: Script) -> None:
    """Values in the unit they were chosen in, times exact, what stands from the start apart from what is done."""
    machine = machine_of(
        '[inputs.call]\nkind = "call"\n[inputs.coil]\nkind = "sensor"\nunit = "°C"\n'
        '[settings.stay]\nread = "at power-up"\nfactory = "long"\n'
        'positions = [{ name = "short", is = "5 s" }, { name = "long", is = "9 s" }]\n'
        '[rules.d]\nkind = "delay"\nbegins = "call ends"\nlasts = "stay"\nif_begun_again = "starts over"\n'
        '[outputs.q]\non = "(call or d) and coil < 30 °C"\n'
    )
    table = json.dumps(page_table(machine))
    done = [
        (0, {"power": True}),
        (S, {"call": True, "coil": Fraction(5, 9)}),
        (2_500_000, {"call": False}),
    ]
    text = at_the_board.value(f"scenarioText(done({table}, 'earliest', {written(done)}, {4 * S + 1}))")
    assert text.splitlines() == [
        "# Played on the page; run it with: boardgauge simulate small FILE --timings earliest",
        "language = 1",
        'board = "small"',
        'title = "what was done on the page"',
        "steps = [",
        '  { power = "on" },',
        '  { wait = "1 s" },',
        '  { set = { call = "on", coil = "33 °F" } },',
        '  { wait = "1.5 s" },',
        '  { set = { call = "off" } },',
        '  { wait = "1.500001 s" },',
        "]",
        "",
        "[start]",
        'coil = "20.0 °C"',
        "",
        "[settings]",
        'stay = "long"',
    ]


def test_a_dial_turned_on_the_way_is_told(at_the_board: Script) -> None:
    """A scenario has one position for all of it, and says so."""
    machine = machine_of(
        '[inputs.call]\nkind = "call"\n[settings.stay]\nread = "always"\nfactory = "a"\n'
        'positions = [{ name = "a", is = "5 s" }, { name = "b", is = "9 s" }]\n'
        '[rules.d]\nkind = "delay"\nbegins = "call ends"\nlasts = "stay"\nif_begun_again = "starts over"\n'
        '[outputs.q]\non = "call or d"\n'
    )
    table = json.dumps(page_table(machine))
    made = at_the_board.value(
        f"((s) => [s.turned, (s.turn(0, 1, ''), s.turned), /dial/.test(scenarioText(s)), (s.undo(), s.turned)])"
        f"(done({table}, 'nominal', [[0, [['power', true]]]], {S}))"
    )
    assert made == [False, True, True, False]
