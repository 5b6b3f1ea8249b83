"""A person at the page's board, without the page.

Law: whatever a person changes, however quickly, and at however few moments, the board does what the reference does when
it is told all of it beforehand; undo gives back exactly what was, redo exactly what came of it.
"""

from __future__ import annotations

import json
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.language.model import Board, InputKind
from boardgauge.machine.chance import Timings
from boardgauge.machine.run import Value
from boardgauge.page import page_table
from machine.small_boards import machine_of
from page.script import Script, comparable, plain, reference
from page.test_engine_is_the_reference import LIBRARY, WAYS, engine_of
from timelines import gaps

S = 1_000_000
Act = tuple[int, dict[str, Value]]
"""A time, and what is changed at it."""

DRIVER = """
function numbered(table, name) {
  return name === "power" ? name : table.inputs.findIndex((row) => row.id === name);
}
function done(table, way, acts, end) {
  const session = new Session(table, way);
  session.took = [];
  for (const [time, changes] of acts) {
    session.run(Math.max(time, session.now));
    session.change(changes.map(([name, value]) => ({ input: numbered(table, name), value })), "");
    session.took.push(session.now);
  }
  session.run(Math.max(end, session.now));
  return session;
}
function seen(session) {
  return session.trouble === null ? session.board.run() : { refused: session.trouble };
}
function timed(session) {
  return { took: session.took, run: seen(session), end: session.now };
}
function undone(table, way, acts, end, times) {
  const session = done(table, way, acts, end);
  const whole = JSON.stringify(seen(session));
  const before = session.now;
  for (let n = 0; n < times; n += 1) session.undo();
  const back = seen(session);
  const now = session.now;
  for (let n = 0; n < times; n += 1) session.redo();
  return { back, now, same: JSON.stringify(seen(session)) === whole && session.now === before };
}
"""


@pytest.fixture(scope="module")
def at_the_board(script: Script) -> Script:
    """Give the engine with a driver for sessions."""
    script.define(DRIVER)
    return script


def first_values(board: Board, table: dict[str, Any]) -> dict[str, list[tuple[int, Value]]]:
    """Give what the sensors of a fresh page measure."""
    found: dict[str, list[tuple[int, Value]]] = {}
    for row in table["inputs"]:
        if row["unit"] is not None:
            one = row["slider"][0]
            found[row["id"]] = [(0, Fraction(*one["offset"]) + Fraction(*one["scale"]) * one["first"])]
    return found


@st.composite
def acts(draw: st.DrawFn, board: Board) -> list[Act]:
    """Draw what a person does, things at one moment and flickers among them."""
    level: dict[str, Value] = {name: row.contact == "normally closed" for name, row in board.inputs.items()}
    level["power"] = False
    sensors = [name for name, row in board.inputs.items() if row.kind is InputKind.SENSOR]
    time, found = 0, list[Act]()
    if draw(st.integers(0, 5)):
        level["power"] = True
        found.append((time, {"power": True}))
    several = st.lists(st.sampled_from(sorted(level)), min_size=1, max_size=3, unique=True)
    steps = st.tuples(st.one_of(st.just(0), gaps(board)), several)
    for gap, names in draw(st.lists(steps, max_size=14)):
        time += gap
        for name in names:
            level[name] = Fraction(draw(st.integers(-60, 160)), 2) if name in sensors else not level[name]
        found.append((time, {name: level[name] for name in names}))
    return found


def timeline_of(board: Board, table: dict[str, Any], done: list[Act]) -> dict[str, list[tuple[int, Value]]]:
    """Give the same, told beforehand."""
    found = first_values(board, table)
    for time, changes in done:
        for name, value in changes.items():
            edges = found.setdefault(name, [])
            if edges and edges[-1][0] == time:
                edges.pop()
            edges.append((time, value))
    return found


def written(done: list[Act]) -> str:
    """Give what a person does as the driver takes it."""
    return json.dumps([[time, [[name, plain(value)] for name, value in changes.items()]] for time, changes in done])


@settings(max_examples=40, deadline=None)
@given(st.data(), st.sampled_from(WAYS))
def test_what_is_done_at_the_page_is_as_if_told_beforehand(
    at_the_board: Script, data: st.DataObject, way: Timings
) -> None:
    """Flickers too short to be seen, bounces, and things at one moment are taken as on a board that sees them whole."""
    engine = engine_of(data.draw(st.sampled_from(LIBRARY)))
    board = engine.machine.board
    table = page_table(engine.machine)
    done = data.draw(acts(board))
    end = (done[-1][0] if done else 0) + data.draw(st.integers(0, 120 * S))
    made = at_the_board.value(f'timed(done({json.dumps(table)}, "{way}", {written(done)}, {end}))')
    taken = [(time, changes) for time, (_, changes) in zip(made["took"], done, strict=True)]
    expected = reference(engine.machine, [(timeline_of(board, table, taken), made["end"])], way, engine=engine)
    assert comparable(made["run"]) == expected


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_undo_gives_back_what_was_and_redo_what_came_of_it(at_the_board: Script, data: st.DataObject) -> None:
    """The board after n undos is the board to which the last n things were never done, at the moment before them."""
    engine = engine_of(data.draw(st.sampled_from(LIBRARY)))
    table = page_table(engine.machine)
    done = data.draw(acts(engine.machine.board).filter(len))
    end = done[-1][0] + 5 * S
    times = data.draw(st.integers(1, len(done)))
    made = at_the_board.value(f'undone({json.dumps(table)}, "nominal", {written(done)}, {end}, {times})')
    left = done[: len(done) - times]
    expected = at_the_board.value(f'seen(done({json.dumps(table)}, "nominal", {written(left)}, {made["now"]}))')
    assert made["same"]
    assert made["now"] >= done[len(left)][0]
    assert made["back"] == expected


SMALL = """
[inputs.call]
kind = "call"
[inputs.s]
kind = "switch"
contact = "normally closed"
text = "pressure switch"
[inputs.fast]
kind = "link"
[inputs.t]
kind = "sensor"
unit = "°C"
[rules.rest]
kind = "delay"
clause = "2.4"
begins = "motor ends"
lasts = "30 s"
if_begun_again = "starts over"
[rules.trips]
kind = "count"
counts = "s opens"
limit = 3
within = "10 min"
[rules.run_time]
kind = "accumulator"
adds_while = "motor"
target = "1 h"
[outputs.motor]
text = "fan motor"
clause = "2.1"
on = "call and s closed and not rest and t < 40 °C"
[lamps.led]
flash = "0.2 s lit, 0.2 s dark"
between_groups = "1 s dark"
lines = [
  { when = "rest", shows = "2 flashes", means = "resting", clause = "3.1" },
  { when = "motor", shows = "steady" },
  { when = "otherwise", shows = "dark" },
]
[speed_ups.pins]
while = "fast fitted"
times_faster = 10
what = ["rest"]
"""


def told(script: Script, done: list[Act], end: int, what: str) -> Any:
    """Give what an expression says of a session of the small board; ``s`` is the session."""
    table = json.dumps(page_table(machine_of(SMALL)))
    return script.value(f"((s) => {what})(done({table}, 'nominal', {written(done)}, {end}))")


STOPPED: list[Act] = [(0, {"power": True}), (S, {"call": True}), (11 * S, {"s": False})]


def test_the_log_says_cause_and_effect_with_their_clauses(at_the_board: Script) -> None:
    """One sentence an instant; the clause of the document stands behind what it is about."""
    what = "s.board.story.map((entry) => told(s.table, s.engine, entry, '°C').text)"
    assert told(at_the_board, [*STOPPED, (20 * S, {"s": True})], 60 * S, what) == [
        "the supply comes on: led shows dark, otherwise",
        "call begins: fan motor comes on (clause 2.1), led shows steady, fan motor on",
        "pressure switch opens: trips is at 1, fan motor goes off (clause 2.1), rest begins (clause 2.4), "
        "led shows 2 flashes, resting (clause 3.1)",
        "pressure switch closes: nothing else changes",
        "rest is over (clause 2.4): fan motor comes on (clause 2.1), led shows steady, fan motor on",
    ]


@pytest.mark.parametrize(
    ("done", "end", "reason"),
    [
        ([], 0, "there is no supply"),
        ([(0, {"power": True})], S, "call off"),
        (STOPPED, 12 * S, "pressure switch open and rest running (clause 2.4)"),
        ([*STOPPED, (20 * S, {"s": True})], 21 * S, "rest running (clause 2.4)"),
        ([*STOPPED, (20 * S, {"t": Fraction(45)})], 50 * S, "pressure switch open and t >= 40 °C"),
        (STOPPED[:2], 5 * S, "call on and pressure switch closed and rest not running (clause 2.4) and t < 40 °C"),
    ],
)
def test_a_reason_is_the_part_of_the_rule_that_decides(
    at_the_board: Script, done: list[Act], end: int, reason: str
) -> None:
    """Of what has to hold together, all that fails is told; where all of it holds, all of it."""
    assert told(at_the_board, done, end, "whyOutput(s.engine, s.board.config, 0, '°C')") == reason


def test_a_temperature_is_said_in_the_readers_unit(at_the_board: Script) -> None:
    """40 °C is 104 °F."""
    hot: list[Act] = [*STOPPED[:2], (5 * S, {"t": Fraction(45)})]
    assert (
        told(at_the_board, hot, 6 * S, "whyOutput(s.engine, s.board.config, 0, '°F')")
        == "rest running (clause 2.4) and t >= 104 °F"
    )


def test_the_next_thing_is_the_next_instant_somebody_is_told_of(at_the_board: Script) -> None:
    """The rest ends at 41 s, one tick of which is left at the end of the second case; then only the count forgets."""
    assert told(at_the_board, STOPPED, 12 * S, "s.nextThing()") == 41 * S
    assert told(at_the_board, STOPPED, 41 * S - 1, "s.nextThing()") == 41 * S
    assert told(at_the_board, STOPPED, 41 * S, "s.nextThing()") == 611 * S
    assert told(at_the_board, STOPPED, 611 * S, "s.nextThing()") is None


def test_timers_count_in_the_boards_own_time(at_the_board: Script) -> None:
    """9 s at rate 1 and 1 s at rate 10 make 19 s of 30 s; 1.1 s is left while the link stays fitted."""
    sped = [*STOPPED, (20 * S, {"fast": True})]
    rest, run_time, trips = told(at_the_board, sped, 21 * S, "s.timers()")[:3]
    assert (rest["name"], rest["elapsed"], rest["lasts"], rest["left"]) == ("rest", 19 * S, 30 * S, 1_100_000)
    assert rest["rate"] == 10
    assert (run_time["elapsed"], run_time["left"]) == (10 * S, None)
    assert (trips["at"], trips["limit"]) == (1, 3)
    assert [event["left"] for event in trips["events"]] == [590 * S]


def test_a_press_of_one_second_is_one_step(at_the_board: Script) -> None:
    """Pressed at 5 s, let go at 6 s; one undo takes all of it back."""
    table = json.dumps(page_table(machine_of('[inputs.b]\nkind = "button"\n[outputs.q]\non = "b pressed"\n')))
    what = "(s.tap(0, 1e6, 'press'), [s.board.run().outputs[0], s.undo(), s.now, s.board.run().outputs[0]])"
    made = at_the_board.value(f"((s) => {what})(done({table}, 'nominal', [[0, [['power', true]]]], {5 * S}))")
    assert made == [[[5 * S, True], [6 * S, False]], "press", 5 * S, []]


@pytest.mark.parametrize(("apart", "seen"), [(39_999, False), (40_000, True)])
def test_a_flicker_shorter_than_the_filter_is_not_seen(at_the_board: Script, apart: int, seen: bool) -> None:
    """One tick below the filter's first figure nothing happened; on it the break was seen."""
    head = 'language = 1\n[board]\nid = "f"\ntitle = "f"\ntolerance = "exactly"\nfilter = "40 ms to 40 ms"\n'
    tables = '[inputs.call]\nkind = "call"\n[outputs.q]\non = "call"\n'
    table = json.dumps(page_table(machine_of(tables, head)))
    done = [(0, {"power": True}), (S, {"call": True}), (5 * S, {"call": False}), (5 * S + apart, {"call": True})]
    made = at_the_board.value(f"seen(done({table}, 'nominal', {written(done)}, {9 * S})).outputs[0]")
    assert made == [[S, True], *([[5 * S, False], [5 * S + apart, True]] if seen else [])]


def test_a_dial_read_at_power_up_turns_only_while_the_supply_is_off(at_the_board: Script) -> None:
    """What was dialled holds from the next power-up on."""
    tables = """
    [inputs.call]
    kind = "call"
    [settings.long]
    read = "at power-up"
    positions = [ { name = "a", is = "5 s" }, { name = "b", is = "9 s" } ]
    factory = "a"
    [rules.d]
    kind = "delay"
    begins = "call begins"
    lasts = "long"
    if_begun_again = "starts over"
    [outputs.q]
    on = "d"
    """
    table = json.dumps(page_table(machine_of(tables)))
    what = """((s) => { const first = s.mayTurn(0); s.change([{ input: "power", value: false }], "");
      const then = s.mayTurn(0); s.turn(0, 1, "dial"); s.run(20e6);
      s.change([{ input: "power", value: true }], ""); s.run(40e6);
      return [first, then, s.board.run().outputs[0]]; })"""
    done = [(0, {"power": True}), (S, {"call": True})]
    made = at_the_board.value(f"{what}(done({table}, 'nominal', {written(done)}, {10 * S}))")
    assert made == [False, True, [[S, True], [6 * S, False], [20 * S, True], [29 * S, False]]]
