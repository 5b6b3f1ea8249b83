"""Plan files.

Law: what is written is read back as the same plan, and a plan that does not fit its board is refused with the place of
everything wrong.
"""

from __future__ import annotations

from fractions import Fraction
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.boards import board_path
from boardgauge.language import Board, UnusableSpec, read_board
from boardgauge.language.quantity_writer import write_pattern
from boardgauge.language.writer import digest_of
from boardgauge.plans import Covered, LeftOut, Plan, Sitting, read_plan_text, write_plan
from boardgauge.plans.plan import GOAL_KINDS, Measure, Observe, PlanStep, Set, Wait, WaitFor

S = 1_000_000


@cache
def library(name: str) -> Board:
    """Give a board of the library."""
    return read_board(board_path(name))


times = st.integers(0, 40 * 3600 * S)
words = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=20)


def spans() -> st.SearchStrategy[tuple[int, int]]:
    """Draw two times, the lesser first."""
    return st.tuples(times, times).map(lambda pair: (min(pair), max(pair)))


def inputs(board: Board) -> st.SearchStrategy[dict[str, bool | Fraction]]:
    """Draw values of some inputs."""
    sensor = st.integers(-400, 400).map(lambda n: Fraction(n, 10))
    values = {name: sensor if row.unit else st.booleans() for name, row in board.inputs.items()}
    return st.fixed_dictionaries({}, optional=values)


@st.composite
def steps(draw: st.DrawFn, board: Board) -> tuple[PlanStep, ...]:
    """Draw steps in which later ones go by earlier ones."""
    ids: list[str] = []
    found: list[PlanStep] = []
    shows = {
        lamp.id: st.sampled_from([write_pattern(row.shows) for row in lamp.lines]) for lamp in board.lamps.values()
    }
    levels = st.fixed_dictionaries({}, optional={name: st.booleans() for name in board.outputs})
    for number in range(draw(st.integers(1, 6))):
        id_ = draw(st.sampled_from(["", f"s{number}"]))
        why = draw(st.just("") | words)
        since = draw(st.sampled_from(["", *ids]))
        first, last = draw(spans())
        sort = draw(st.sampled_from(["set", "wait", "wait_for", "observe", "measure"]))
        if sort == "set":
            values, power = draw(inputs(board)), draw(st.sampled_from([None, True, False]))
            power = True if not values and power is None else power
            found.append(Set(values, power, id_, draw(st.just("") | words), why))
        elif sort == "wait":
            found.append(Wait(draw(times), id_, why))
        elif sort == "wait_for":
            output = draw(st.sampled_from(sorted(board.outputs)))
            found.append(WaitFor(output, draw(st.booleans()), first, last, draw(times), since, id_, why))
        elif sort == "observe":
            lamps = draw(st.fixed_dictionaries({}, optional=shows))
            found.append(Observe(draw(times), draw(levels), lamps, id_, why))
        elif ids:
            found.append(
                Measure(draw(words), draw(st.sampled_from(ids)), draw(st.sampled_from(ids)), first, last, id_, why)
            )
        if found and found[-1].id:
            ids.append(id_)
    return tuple(found) or (Wait(S),)


@st.composite
def plans(draw: st.DrawFn) -> Plan:
    """Draw a plan for a board of the library."""
    board = library(draw(st.sampled_from(["tarnbeck", "quillmere", "extract-fan", "hearthgate"])))
    sensors = {name: Fraction(20) for name, row in board.inputs.items() if row.unit}
    named = {
        name: st.sampled_from([p.name for p in row.positions])
        for name, row in board.settings.items()
        if row.positions[0].name is not None
    }
    sittings = tuple(
        Sitting(
            str(number),
            draw(steps(board)),
            draw(st.fixed_dictionaries({}, optional=named)),
            {**sensors, **draw(inputs(board))},
        )
        for number in range(draw(st.integers(1, 3)))
    )
    lists = st.lists(words, min_size=1, max_size=3, unique=True).map(tuple)
    kinds = st.sampled_from(GOAL_KINDS)
    return Plan(
        board.id,
        digest_of(board),
        draw(words),
        sittings,
        tuple(draw(st.sets(st.sampled_from(["power", *board.inputs, *board.outputs, *board.lamps]), min_size=1))),
        tuple(draw(st.lists(st.builds(Covered, kinds, lists), max_size=2))),
        tuple(draw(st.lists(st.builds(LeftOut, kinds, lists, words), max_size=2))),
        draw(st.just(()) | lists),
        draw(times),
        draw(st.integers(0, 1000)),
    )


@settings(max_examples=40)
@given(plans())
def test_a_plan_is_read_as_it_was_written(plan: Plan) -> None:
    """Reading what was written gives the same plan."""
    board = library(plan.board)
    assert read_plan_text(write_plan(plan, board), "plan.toml", board) == plan


HEAD = f"""language = 1
board = "tarnbeck"
spec_digest = "{digest_of(library("tarnbeck"))}"
title = "a start (invented)"
expected_time = "1 min"
wired = ["power", "y", "cc", "led"]
"""


def refused(steps: str, head: str = HEAD, more: str = "") -> list[str]:
    """Give what is said against a plan."""
    with pytest.raises(UnusableSpec) as caught:
        read_plan_text(
            f'{head}\n[[sittings]]\nid = "1"\n{more}\nsteps = [\n{steps}\n]\n', "p.toml", library("tarnbeck")
        )
    return [str(problem) for problem in caught.value.problems]


@pytest.mark.parametrize(
    ("step", "said"),
    [
        ("{ }", "the step does nothing"),
        ('{ wait = "1 s", set = { y = "on" } }', "the step does 2 things"),
        ('{ set = { yy = "on" } }', "the board has no such input"),
        ('{ set = { y = "closed" } }', "this is no state of a call"),
        ('{ wait = "1 s", at_most = "2 s" }', "it goes with wait_for"),
        ('{ wait_for = { cc = "on" }, at_most = "2 s" }', "it says when a good board does it"),
        ('{ wait_for = { cc = "on" }, expected = "1 s to 2 s" }', "without it a plan could wait for ever"),
        ('{ wait_for = { cc = "lit" }, expected = "1 s to 2 s", at_most = "3 s" }', "an output is on or off"),
        ('{ wait_for = { led = "on" }, expected = "1 s to 2 s", at_most = "3 s" }', "the board has no such output"),
        (
            '{ wait_for = { cc = "on", fan = "on" }, expected = "1 s to 2 s", at_most = "3 s" }',
            "one output is waited for",
        ),
        (
            '{ wait_for = { cc = "on" }, since = "a", expected = "1 s to 2 s", at_most = "3 s" }',
            "no step before this one",
        ),
        ('{ observe = { cc = "on" } }', "it says how long to look"),
        ('{ observe = { led = "9 flashes" }, held = "1 s" }', "the lamp has no line that shows so"),
        ('{ measure = "bypass", since = "a", until = "b" }', "against what is allowed"),
        ('{ id = "a", wait = "1 s" },\n{ id = "a", wait = "1 s" }', "two steps of the sitting are called 'a'"),
    ],
)
def test_a_wrong_step_is_told_with_its_line(step: str, said: str) -> None:
    """Each mistake in a step is told in words, with file and line."""
    problems = refused(step)
    assert any(said in problem for problem in problems), problems
    assert all(problem.startswith("p.toml:") for problem in problems)


def test_a_plan_of_another_spec_is_refused() -> None:
    """A plan goes with the very spec it was made from."""
    head = HEAD.replace(digest_of(library("tarnbeck"))[:4], "0000")
    assert any("made from another spec" in problem for problem in refused('{ wait = "1 s" }', head))


def test_a_sensor_needs_a_value_before_the_supply() -> None:
    """A sitting says what each sensor measures from the start."""
    board = library("extract-fan")
    text = HEAD.replace("tarnbeck", "extract-fan").replace(digest_of(library("tarnbeck")), digest_of(board))
    text = text.replace('"y", "cc", "led"', '"fan"')
    with pytest.raises(UnusableSpec) as caught:
        read_plan_text(text + '[[sittings]]\nid = "1"\nsteps = [{ wait = "1 s" }]\n', "p.toml", board)
    assert any("no value to begin with" in str(problem) for problem in caught.value.problems)
