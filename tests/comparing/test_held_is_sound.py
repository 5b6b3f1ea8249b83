"""Law: where the proof holds, no run of the second board, however random, breaks the spec of the first."""

from __future__ import annotations

import random
import re
from fractions import Fraction

from hypothesis import HealthCheck, assume, given, reject, settings
from hypothesis import strategies as st

from boardgauge.comparing.terminals import may_do_more
from boardgauge.judging.judge import Judge
from boardgauge.language import UnusableSpec, read_board_text
from boardgauge.language.model import Board, InputKind
from boardgauge.machine.compile import compile_board
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.scenario import Power, Scenario, ScenarioStep, ScenarioStuck, SetInputs, Wait, play
from boardgauge.pairing.lockstep import lockstep
from boardgauge.pairing.pair import Pair, engine_of
from boardgauge.traces.conditioning import condition
from boardgauge.traces.simulated import recording_of
from boardgauge.traces.wiring import default_wiring
from oracle.chains import chain_texts, mixed_texts

S = 1_000_000
CHANGES = (
    (r" and ", " or "),
    (r" or ", " and "),
    (r"\bbegins\b(?=[^=]*$)", "ends"),
    (r'lasts = "(\d+) s', r'lasts = "1\1 s'),
    (r"starts over", "runs on"),
    (r"\bnot ", ""),
    (r'"(\d+) s to \d+ s"', r'"\1 s exactly"'),
    (r'"\d+ s to (\d+) s"', r'"\1 s exactly"'),
    (r'"(\d+) s exactly"', r'"\1 s to 2\1 s"'),
    (r"limit = 2", "limit = 3"),
    (r" expires", " ends"),
    (r'(?:at_least|at_most|cut_by) = ".*"\n', ""),
    (r"\nkept_without_power = true", ""),
    (r'(kind = "(?:delay|lockout|toggle|count|mode|accumulator)")', r"\1\nkept_without_power = true"),
    (r'adds_while = "(.*)"', r'adds_while = "(\1) or a"'),
    (r'resets = ".*"', 'resets = "a ends"'),
    (r"times_faster = 4", "times_faster = 2"),
)
SUM = """
[rules.sum]
kind = "accumulator"
adds_while = "{}"
target = "{}"
resets = "{}"
[outputs.summed]
on = "sum reached"
"""
QUICK = """
[inputs.f]
kind = "link"
[speed_ups.quick]
while = "f fitted"
times_faster = 4
what = ["sum"]
"""
TOO_LONG = """
[rules.too_long]
kind = "lockout"
trips = "{} for {} s exactly"
clears = "only by power loss"
"""


@st.composite
def two_boards(draw: st.DrawFn) -> tuple[Board, Board]:
    """Draw a board, and one of which one word is another (or none). Now and then one adds up time, and can be sped up
    in it."""
    text = draw(st.one_of(chain_texts(), mixed_texts()))
    text = added_up(draw, text)
    pattern, new = draw(st.sampled_from(CHANGES))
    places = list(re.finditer(pattern, text, re.MULTILINE))
    changed = text
    if places:
        place = draw(st.sampled_from(places))
        changed = text[: place.start()] + place.expand(new) + text[place.end() :]
    if draw(st.booleans()):
        changed = locked_out(draw, changed)
    try:
        return read_board_text(text, "first.toml"), read_board_text(changed, "second.toml")
    except UnusableSpec:
        reject()


def added_up(draw: st.DrawFn, text: str) -> str:
    if draw(st.booleans()):
        return text
    adds, resets = (
        draw(st.sampled_from(("a", "not a", "out0"))),
        draw(st.sampled_from(("a begins", "out0 ends", "not a"))),
    )
    text += SUM.format(adds, draw(st.sampled_from(("5 s exactly", "4 s to 6 s"))), resets)
    return text + QUICK if draw(st.booleans()) else text


def locked_out(draw: st.DrawFn, text: str) -> str:
    """Give a board with one output more often on: once a delay has run so long, which it may never do."""
    delays = re.findall(r"^\[rules\.(d\w+)\]", text, re.MULTILINE)
    output = re.search(r'^on = "(.*)"$', text, re.MULTILINE)
    if not delays or output is None:
        return text
    lockout = TOO_LONG.format(draw(st.sampled_from(delays)), draw(st.integers(4, 16)))
    return text.replace(output[0], f'on = "({output[1]}) or too_long"') + lockout


def random_scenario(board: Board, rng: random.Random) -> Scenario:
    steps: list[ScenarioStep] = [Wait(S), Power(True)]
    inputs = [name for name, row in board.inputs.items() if row.kind is not InputKind.SENSOR]
    for _ in range(14):
        steps.append(Wait(rng.choice([rng.randrange(S // 2, 4 * S), rng.randrange(4 * S, 40 * S)])))
        if rng.random() < 0.08 or not inputs:
            steps += [Power(False), Wait(3 * S), Power(True)]
        else:
            some = rng.sample(inputs, min(len(inputs), rng.choice((1, 1, 2))))
            steps.append(SetInputs({name: rng.random() < 0.5 for name in some}))
    sensors = {name: Fraction(20) for name, row in board.inputs.items() if row.kind is InputKind.SENSOR}
    return Scenario(board.id, "", (*steps, Wait(30 * S)), sensors)


@settings(
    max_examples=-(-settings.default.max_examples // 12),
    deadline=None,
    suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow],
)
@given(two_boards(), st.integers(0, 1 << 30))
def test_no_run_breaks_the_other_spec(pair: tuple[Board, Board], seed: int) -> None:
    first, second = pair
    assume(set(first.inputs) == set(second.inputs) and not may_do_more(first, second))
    held = lockstep(Pair(engine_of(first), engine_of(second)), True, 120)
    assume(held.verdict == "held")
    machine, judge = compile_board(second), Judge.of(first)
    rng = random.Random(seed)
    for number in range(4):
        try:
            run = play(machine, random_scenario(second, rng), "random", number)
        except (ScenarioStuck, CannotSettle):
            continue
        judgement = judge.judge(condition(recording_of(run, first), default_wiring(first), first))
        assert judgement.verdict != "deviates", judgement.deviations[0]


@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
@given(st.one_of(chain_texts(), mixed_texts()))
def test_a_board_is_held_to_do_as_itself(text: str) -> None:
    try:
        board = read_board_text(text, "drawn.toml")
    except UnusableSpec:
        reject()
    found = lockstep(Pair(engine_of(board), engine_of(board)), False, 120)
    assume(found.explored < 120)
    assert found.verdict == "held"


ALL_AT_ONCE = """
language = 1
[board]
id = "all-at-once"
title = "A lamp for three calls at one moment (invented)"
tolerance = "exactly"
same_moment = "0.1 s"
[inputs.a]
kind = "call"
[inputs.b]
kind = "call"
[inputs.c]
kind = "call"
[rules.early]
kind = "lockout"
trips = "(power_up while c) or ((a or b) and not c)"
clears = "only by power loss"
[rules.all_at_once]
kind = "lockout"
trips = "c begins while (a and b)"
clears = "only by power loss"
[outputs.lamp]
on = "all_at_once and not early"
"""


def test_what_shows_only_where_three_things_happen_at_one_moment_is_no_proof() -> None:
    """The pairs with one call have to be looked at together, the other two calls come to the same in any order."""
    text = ALL_AT_ONCE.replace("all_at_once and not early", "a and not a")
    first, second = read_board_text(text, "never.toml"), read_board_text(ALL_AT_ONCE, "lit.toml")
    for pair in (Pair(engine_of(first), engine_of(second)), Pair(engine_of(second), engine_of(first))):
        found = lockstep(pair, True)
        assert (found.verdict, found.differ) == ("open", ("lamp",))


RESTLESS = """
language = 1
[board]
id = "restless"
title = "A lamp that a push may not end (invented)"
tolerance = "exactly"
[inputs.a]
kind = "call"
[inputs.b]
kind = "button"
[rules.lit]
kind = "mode"
begins = "{}"
ends = "b begins"
[outputs.lamp]
on = "lit"
"""


def test_where_neither_board_comes_to_rest_there_is_nothing_to_compare() -> None:
    """The button ends what the call begins again at once: no board does that, and vet refuses the spec."""
    restless, other = (read_board_text(RESTLESS.format(begins), "a.toml") for begins in ("a", "a and a"))
    assert lockstep(Pair(engine_of(restless), engine_of(other)), False).verdict == "held"


def test_where_one_board_alone_does_not_come_to_rest_nothing_is_proved() -> None:
    restless, calm = (read_board_text(RESTLESS.format(begins), "a.toml") for begins in ("a", "a begins"))
    for pair in (Pair(engine_of(restless), engine_of(calm)), Pair(engine_of(calm), engine_of(restless))):
        assert lockstep(pair, True).verdict == "open"
