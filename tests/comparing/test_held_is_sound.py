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
)


@st.composite
def two_boards(draw: st.DrawFn) -> tuple[Board, Board]:
    """Draw a board, and one of which one word is another (or none)."""
    text = draw(st.one_of(chain_texts(), mixed_texts()))
    pattern, new = draw(st.sampled_from(CHANGES))
    places = list(re.finditer(pattern, text, re.MULTILINE))
    changed = text
    if places:
        place = draw(st.sampled_from(places))
        changed = text[: place.start()] + place.expand(new) + text[place.end() :]
    try:
        return read_board_text(text, "first.toml"), read_board_text(changed, "second.toml")
    except UnusableSpec:
        reject()


def random_scenario(board: Board, rng: random.Random) -> Scenario:
    steps: list[ScenarioStep] = [Wait(S), Power(True)]
    inputs = [name for name, row in board.inputs.items() if row.kind is not InputKind.SENSOR]
    for _ in range(14):
        steps.append(Wait(rng.choice([rng.randrange(S // 2, 4 * S), rng.randrange(4 * S, 40 * S)])))
        if rng.random() < 0.08 or not inputs:
            steps += [Power(False), Wait(3 * S), Power(True)]
        else:
            steps.append(SetInputs({rng.choice(inputs): rng.random() < 0.5}))
    sensors = {name: Fraction(20) for name, row in board.inputs.items() if row.kind is InputKind.SENSOR}
    return Scenario(board.id, "", (*steps, Wait(30 * S)), sensors)


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
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
def test_a_board_that_comes_to_rest_is_held_to_do_as_itself(text: str) -> None:
    try:
        board = read_board_text(text, "drawn.toml")
    except UnusableSpec:
        reject()
    found = lockstep(Pair(engine_of(board), engine_of(board)), False, 120)
    assume(found.explored < 120)
    assert found.verdict == "held" or found.differ == ("coming to rest",)
