"""Scenario files, and what comes of playing them.

Law: a scenario that does not fit its board is refused with the place of everything wrong; one that does is done step by
step, and where what it waits for does not come it stops and says so.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from boardgauge.language import UnusableSpec
from boardgauge.machine.narrate import narrate
from boardgauge.machine.run import Run
from boardgauge.machine.scenario import Scenario, ScenarioStuck, play
from boardgauge.machine.scenario_reader import read_scenario, read_scenario_text
from machine.small_boards import S, board_of, machine_of, shown, tarnbeck

START = """
language = 1
board = "tarnbeck"
title = "a start and a high-pressure trip (invented)"
start = { j0 = "fitted", j1 = "fitted" }
"""


def scenario(steps: str, head: str = START) -> Scenario:
    """Read a scenario for the board of the library."""
    return read_scenario_text(f"{head}\nsteps = [\n{steps}\n]\n", "trip.toml", tarnbeck().machine.board)


def played(steps: str) -> Run:
    """Play such a scenario at nominal times."""
    return play(tarnbeck().machine, scenario(steps), engine=tarnbeck())


def refused(steps: str, head: str = START) -> list[str]:
    """Give what is said against a scenario."""
    with pytest.raises(UnusableSpec) as caught:
        scenario(steps, head)
    return [str(problem) for problem in caught.value.problems]


TRIP = """
  { set = { y = "on" } },
  { wait = "1 s" },
  { power = "on" },
  { until = "cc begins", at_most = "1 min" },
  { wait = "30 s" },
  { set = { hps = "open" } },
  { wait = "5 s" },
  { set = { hps = "closed" } },
  { until = "cc", at_most = "1 min" },
  { wait = "1 s" },
"""


def test_steps_take_the_time_they_wait() -> None:
    """The supply comes on at 1 s, the contactor 30 s later; 30 s after that it trips, and starts again after 45 s."""
    made = played(TRIP)
    assert shown(made, "cc") == [(31, True), (61, False), (106, True)]
    assert made.end == 107 * S
    assert made.power.changes == ((S, True),)
    assert made.inputs["hps"].changes == ((61 * S, False), (66 * S, True))
    assert made.inputs["j0"].initial is True


def test_the_story_is_told_in_sentences() -> None:
    """One sentence an instant, with the clauses that the spec cites."""
    told = narrate(tarnbeck().machine, played(TRIP))
    assert told[:2] == (
        "at 1.0 s: the supply comes on; power up delay begins (clause 1.1)",
        "at 31.0 s: power up delay is over (clause 1.1); cc comes on, fan comes on, bypass begins (clause 3.1)",
    )
    assert told[3].startswith("at 61.0 s: hps opens; high-pressure soft lockout trips (clause 4.2), ")


def test_what_is_waited_for_may_come_at_once() -> None:
    """What the steps just before bring about in the same moment counts; what holds already needs no waiting."""
    steps = (
        '{ power = "on" }, { until = "power_up_delay begins", at_most = "1 s" }, { until = "y off", at_most = "1 s" },'
    )
    assert played(steps + '{ wait = "2 s" }').end == 2 * S


def test_a_wait_in_vain_stops_the_scenario_and_says_where() -> None:
    """The message has the place of the step; the run up to there is kept."""
    with pytest.raises(ScenarioStuck, match=r"trip\.toml:9:3: 'cc begins' did not come within 5 s") as caught:
        played('{ power = "on" },\n  { until = "cc begins", at_most = "5 s" },')
    assert caught.value.run.end == 5 * S


def test_a_wait_in_vain_may_go_on() -> None:
    """With or_else the longest wait is simply waited."""
    steps = '{ power = "on" }, { until = "cc begins", at_most = "5 s", or_else = "go on" }, { wait = "1 s" }'
    assert played(steps).end == 6 * S


def test_an_input_taken_back_too_soon_after_an_until_is_refused() -> None:
    """The board acted on it, so it cannot turn out too short to be seen."""
    steps = '{ power = "on" }, { wait = "40 s" }, { set = { y = "on" } }, { until = "cc", at_most = "1 s" }, '
    with pytest.raises(ScenarioStuck, match="y changes back sooner"):
        played(steps + '{ set = { y = "off" } }, { wait = "1 s" }')


@pytest.mark.parametrize(
    ("steps", "said"),
    [
        ('{ set = { yy = "on" } }', "trip.toml:8:11: steps[1].set.yy: the board has no such input"),
        ('{ set = { hps = "off" } }', "trip.toml:8:17: steps[1].set.hps: this is no state of a switch"),
        ('{ set = { power = "on" } }', "steps[1].set.power: the supply is switched by a key of its own"),
        ('{ wait = "1 s", power = "on" }', "trip.toml:8:1: steps[1]: the step does 2 things"),
        ("{ }", "trip.toml:8:1: steps[1]: the step does nothing"),
        ('{ wait = "soon" }', "trip.toml:8:11: steps[1].wait: "),
        ('{ until = "cc" }', "steps[1].at_most: the key is missing"),
        ('{ until = "cx begins", at_most = "1 s" }', "trip.toml:8:12: steps[1].until: there is nothing called 'cx'"),
        ('{ until = "cc for 3 s", at_most = "1 s" }', 'steps[1].until: "for" is not known here'),
        ('{ wait = "1 s", at_most = "2 s" }', "steps[1].at_most: it goes with until"),
    ],
)
def test_a_step_that_does_not_fit_is_refused_with_its_place(steps: str, said: str) -> None:
    """Each fault is told with file, line, column and key."""
    assert any(said in problem for problem in refused(steps)), refused(steps)


def test_a_scenario_for_another_board_is_refused() -> None:
    """A scenario names its board."""
    said = refused('{ power = "on" }', START.replace('"tarnbeck"', '"other"'))
    assert said == ["trip.toml:3:9: board: the board given is 'tarnbeck', not 'other'"]


def test_steps_below_a_table_are_told_where_they_belong() -> None:
    """In TOML what stands below [start] belongs to it."""
    head = 'language = 1\nboard = "tarnbeck"\ntitle = "t"\n[start]\nj0 = "fitted"\n'
    assert any("put them above the line [start]" in problem for problem in refused('{ power = "on" }', head))


def test_a_file_that_cannot_be_read_is_a_problem_of_the_file(tmp_path: Path) -> None:
    """A folder in place of a file, and bytes that are no text."""
    bad = tmp_path / "bad.toml"
    bad.write_bytes(b"\xff\xfe")
    for path in (tmp_path, bad, tmp_path / "none.toml"):
        with pytest.raises(UnusableSpec, match=r"the file cannot be read|is not UTF-8"):
            read_scenario(path, tarnbeck().machine.board)


SENSOR = """
[inputs.coil]
kind = "sensor"
unit = "°C"
accuracy = "± 1 K"
[inputs.y]
kind = "call"
[settings.run_on]
read = "always"
factory = "short"
positions = [ { name = "short", is = "10 s" }, { name = "long", is = "20 s" } ]
[rules.off_delay]
kind = "delay"
begins = "y ends"
lasts = "run_on"
if_begun_again = "starts over"
[outputs.q]
on = "coil < -2 °C until > 0 °C"
[outputs.p]
on = "y or off_delay"
"""
COLD = """
language = 1
board = "small"
title = "a cold coil (invented)"
start = { coil = "68 °F" }
settings = { run_on = "long" }
steps = [
  { power = "on" }, { wait = "1 s" }, { set = { coil = "-3 °C", y = "on" } }, { wait = "1 s" },
  { set = { coil = "-1 °C", y = "off" } }, { wait = "1 s" }, { set = { coil = "0.5 °C" } }, { wait = "30 s" },
]
"""


def test_a_sensor_is_given_a_quantity_and_lets_go_at_its_own_limit() -> None:
    """It holds from below -2 °C until above 0 °C; the position of the setting is the one that was chosen."""
    made = play(machine_of(SENSOR), read_scenario_text(COLD, "cold.toml", board_of(SENSOR)))
    assert shown(made, "q") == [(1, True), (3, False)]
    assert shown(made, "p") == [(1, True), (22, False)]
    assert made.inputs["coil"].initial == Fraction(20)


def test_a_sensor_without_a_value_at_the_start_is_refused() -> None:
    """Nobody knows what it would measure."""
    with pytest.raises(UnusableSpec, match=r"start\.coil: the sensor has no value to begin with"):
        read_scenario_text(COLD.replace('start = { coil = "68 °F" }', ""), "cold.toml", board_of(SENSOR))


def test_a_quantity_of_another_kind_is_refused() -> None:
    """A pressure is no temperature."""
    with pytest.raises(UnusableSpec, match="kPa cannot be told in °C"):
        read_scenario_text(COLD.replace("68 °F", "68 kPa"), "cold.toml", board_of(SENSOR))
    with pytest.raises(UnusableSpec, match="the setting has no such position"):
        read_scenario_text(COLD.replace('"long"', '"lang"'), "cold.toml", board_of(SENSOR))
