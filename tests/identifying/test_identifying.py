"""Law: what a board in order is in is never ruled out by what is seen of it, and every question is worth asking."""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.identifying import (
    InputFact,
    Knowledge,
    LampFact,
    Leaf,
    Node,
    OutputFact,
    PowerFact,
    Question,
    account,
    candidates,
    decision_tree,
    likeness_words,
    likenesses,
    next_experiment,
)
from boardgauge.identifying.experiments import COSTS
from boardgauge.identifying.facts import Fact, slack
from boardgauge.identifying.passing import passing
from boardgauge.identifying.told import CannotTell, lamp_told, reading_told, terminal_told, time_told
from boardgauge.language import read_board_text
from boardgauge.language.model import InputKind
from boardgauge.language.quantities import MIN, S
from boardgauge.machine.chance import Timings
from boardgauge.machine.run import POWER, Value
from boardgauge.machine.simulate import Simulator
from boardgauge.machine.terminals import TooShort
from boardgauge.sheets.decision_sheet import decision_sheet, knowledge
from boardgauge.sheets.study import Study
from boardgauge.sheets.ways import Ways
from sheets.sheet_helpers import study_of

LAMPED = ("tarnbeck", "hearthgate", "fan")
BOARDS = (*LAMPED, "sump-pumps", "iec-ton")


def known_of(name: str) -> Knowledge:
    """Give what is known of a board of the library."""
    return knowledge(study_of(name))


def facts_at(known: Knowledge, config: int) -> tuple[Fact, ...]:
    """Give all that can be seen and measured of a configuration."""
    look = known.looks[config]
    levels = known.found.configs[config].levels
    return (
        PowerFact(look.powered),
        *(LampFact(number, frozenset({line})) for number, line in enumerate(look.lines)),
        *(OutputFact(index, on) for index, on in enumerate(look.outputs)),
        *(InputFact(index, frozenset({on})) for index, on in enumerate(levels)),
    )


# -- never ruled out -------------------------------------------------------------------------------------------------


@settings(max_examples=25, deadline=None)
@given(
    st.sampled_from(["tarnbeck", "hearthgate", "fan"]),
    st.integers(0, 10**6),
    st.sampled_from(["nominal", "earliest", "latest", "random"]),
)
def test_what_a_board_is_in_is_never_ruled_out(name: str, seed: int, timings: Timings) -> None:
    """However its timings fall, what a simulated board is in fits what it shows, and how long it has shown it."""
    study, known, chance = study_of(name), known_of(name), Random(seed)
    ways = Ways(study.machine, study.engine, study.found)
    board = Simulator(study.machine, timings, seed, engine=study.engine).board()
    inputs = [row.id for row in study.board.inputs.values() if row.kind is not InputKind.SENSOR]
    inputs = [one for one in inputs if one not in {"j0", "j1", "fast"}]
    start: dict[str, list[tuple[int, Value]]] = {POWER: [(S, True)]}
    board.feed(start)
    now: dict[str, bool] = {row.id: row.contact == "normally closed" for row in study.board.inputs.values()}
    time = 0
    for _ in range(6):
        time += chance.randrange(3, 400) * S
        name_ = chance.choice(inputs)
        now[name_] = not now[name_]
        try:
            board.feed({name_: [(time, now[name_])]})
        except TooShort:
            return
        look_at = time + chance.randrange(1, 300) * S
        board.advance(look_at)
        time = look_at
        number = ways.number(board.config)
        assert number is not None
        stood = look_at - _stands_since(board.story(), known, ways, look_at)
        left = candidates(known, facts_at(known, number), stood)
        assert number in {config for _, config in left}


def _stands_since(story: tuple[object, ...], known: Knowledge, ways: Ways, now: int) -> int:
    """Give since when the board has looked as it does with its inputs as they are."""
    since = now
    last: tuple[object, ...] | None = None
    for entry in reversed(story):
        number = ways.number(entry.config)  # type: ignore[attr-defined]
        shown = (known.looks[number], entry.config.levels) if number is not None else ()  # type: ignore[attr-defined]
        if last is not None and shown != last:
            return since
        last, since = shown, entry.time  # type: ignore[attr-defined]
    return since


# -- how long it has stood so ----------------------------------------------------------------------------------------


def test_a_wait_that_is_over_is_ruled_out() -> None:
    """45 s ± (4 % + 0.3 s) last 47.1 s at most: up to there a delay may still run, a moment later it may not."""
    known = known_of("tarnbeck")
    facts: tuple[Fact, ...] = (lamp_told(known, "fast"), *terminal_told(known, "closed", "hps"))
    longest = 47_100_000 + slack(known)
    assert {one.passes for one in known.origins(candidates(known, facts, longest))} == {True}
    assert not candidates(known, facts, longest + 1)
    assert candidates(known, (lamp_told(known, "fast"),), longest + 1)


def test_bounds_carry_over_from_one_timing_to_the_next() -> None:
    """A timing that went on meanwhile is not given its whole time again."""
    text = _board(
        """
[rules.one]
kind = "delay"
begins = "a begins"
lasts = "10 s"
if_begun_again = "starts over"
[rules.two]
kind = "delay"
begins = "a begins"
lasts = "15 s"
if_begun_again = "starts over"
[outputs.q]
on = "one or two"
"""
    )
    known = knowledge(Study(text))
    begun = [n for n, config in enumerate(known.found.configs) if config.running.bit_count() == 2]
    for config in begun:
        assert {when for when, _ in passing(known, config).turns.values()} == {15 * S}


# -- questions -------------------------------------------------------------------------------------------------------


def nodes(node: Node) -> Iterator[Node]:
    """Give a tree's nodes."""
    yield node
    if isinstance(node, Question):
        for _, child in node.answers:
            yield from nodes(child)


@pytest.mark.parametrize("name", BOARDS)
def test_a_tree_leads_every_candidate_to_a_leaf_with_its_situation(name: str) -> None:
    """Each thing that a board can be in has an answer to every question, down to a leaf that names it."""
    known = known_of(name)
    tree = decision_tree(known, known.all())

    def check(node: Node, origins: set[int]) -> None:
        if isinstance(node, Leaf):
            assert {one.number for one in node.situations} == origins
            return
        found = [{origin for origin, _ in outcome.left} for outcome in node.experiment.outcomes]
        assert set().union(*found) == origins
        assert min(map(len, found)) < len(origins), "a question that tells nothing is not asked"
        for (_, child), left in zip(node.answers, found, strict=True):
            check(child, left)

    check(tree, {one.number for one in known.situations})


@pytest.mark.parametrize("name", BOARDS)
def test_the_cheapest_question_that_tells_something_is_asked(name: str) -> None:
    """No question costs more than another that would split what is left as well."""
    known = known_of(name)
    for node in nodes(decision_tree(known, known.all())):
        if isinstance(node, Question) and node.experiment.kind in {"look", "measure"}:
            left = frozenset().union(*(outcome.left for outcome in node.experiment.outcomes))
            best = next_experiment(known, left)
            assert best is not None
            assert COSTS.index(best.kind) <= COSTS.index(node.experiment.kind)


def test_looking_comes_before_measuring_and_measuring_before_waiting() -> None:
    """With nothing known one looks at the lamp, with the lamp known one measures, with all measured one waits."""
    known = known_of("hearthgate")
    first = next_experiment(known, known.all())
    assert first is not None
    assert first.kind == "look"
    lit = candidates(known, (lamp_told(known, "lighting"),))
    second = next_experiment(known, lit)
    assert second is not None
    assert second.kind == "measure"
    measured = {f"measure {name}" for name in (*known.machine.board.outputs, *known.machine.board.inputs)}
    third = next_experiment(known, lit, measured)
    assert third is not None
    assert third.kind == "wait"
    assert third.within > 0


def test_nothing_is_changed_where_hands_are_to_stay_off() -> None:
    """Without pokes no question changes an input or the supply; with them no switch or link is ever changed."""
    for name in BOARDS:
        known = known_of(name)
        for node in nodes(decision_tree(known, known.all(), pokes=False)):
            assert not isinstance(node, Question) or node.experiment.kind in {"look", "measure", "wait"}
        kinds = {row.id: row.kind for row in known.machine.board.inputs.values()}
        for node in nodes(decision_tree(known, known.all())):
            if isinstance(node, Question) and node.experiment.kind == "change an input":
                assert kinds[node.experiment.id.removeprefix("change ")] in {InputKind.CALL, InputKind.BUTTON}


# -- accounts --------------------------------------------------------------------------------------------------------


def test_an_account_says_what_comes_next_and_when() -> None:
    """A waiting board with its high-pressure switch closed starts by itself when its longest delay is over."""
    known = known_of("tarnbeck")
    facts: tuple[Fact, ...] = (lamp_told(known, "fast"), *terminal_told(known, "closed", "hps"))
    left = candidates(known, facts)
    (situation,) = known.origins(left)
    told = account(known, situation, left)
    assert {(one.leads_to, one.within) for one in told.by_itself} == {
        ("compressor running", 31_500_000),
        ("compressor running", 47_100_000),
    }
    assert ("compressor call ends", "standby") in {(one.cause, one.leads_to) for one in told.waits_for}


# -- words of a technician -------------------------------------------------------------------------------------------


def test_lamps_are_told_in_several_words() -> None:
    """A pattern, a number of flashes, fast, a line of the table and a meaning all name the line."""
    known = known_of("tarnbeck")
    for text in ("3 flashes", "3", "line 3", "high-pressure soft"):
        assert lamp_told(known, text) == LampFact(0, frozenset({2}))
    assert lamp_told(known, "fast") == LampFact(0, frozenset({5}))
    assert lamp_told(known, "slow flashing") == LampFact(0, frozenset({4}))
    assert lamp_told(known, "off") == LampFact(0, frozenset({-1}))
    with pytest.raises(CannotTell, match="It can show: 5 flashes"):
        lamp_told(known, "4 flashes")


def test_terminals_go_by_words_of_their_titles() -> None:
    """`compressor` is what runs and not the call for it; what means two things is refused with both."""
    known = known_of("tarnbeck")
    assert terminal_told(known, "on", "compressor") == terminal_told(known, "on", "cc")
    assert terminal_told(known, "off", "power") == [PowerFact(False)]
    assert terminal_told(known, "open", "low-pressure") == terminal_told(known, "open", "LPS")
    with pytest.raises(CannotTell, match="which"):
        terminal_told(known, "fitted", "defrost-interval")
    with pytest.raises(CannotTell, match="did you mean"):
        terminal_told(known, "on", "auxilary heat")
    with pytest.raises(CannotTell, match="ever pressed"):
        terminal_told(known, "pressed", "lps")


def test_a_reading_inside_the_hysteresis_leaves_both_open() -> None:
    """Beyond a limit a reading decides; between a limit and where it lets go again it does not."""
    known = known_of("extract-fan")
    values = {
        text: [fact.values for fact in reading_told(known, f"damp={text}") if isinstance(fact, InputFact)]
        for text in ("80%", "70%", "50%")
    }
    assert frozenset({True}) in values["80%"]
    assert frozenset({True, False}) in values["70%"]
    assert set(values["50%"]) == {frozenset({False})}


def test_times_have_units() -> None:
    """5min and 90 s are times; 5 alone is not."""
    assert time_told("5min") == 5 * MIN
    assert time_told("90 s") == 90 * S
    with pytest.raises(CannotTell):
        time_told("5")


# -- what cannot be told apart ---------------------------------------------------------------------------------------


def _board(tables: str) -> object:
    head = 'language = 1\n[board]\nid = "small"\ntitle = "a small board (invented)"\ntolerance = "exactly"\n'
    return read_board_text(f'{head}[inputs.a]\nkind = "call"\n[inputs.b]\nkind = "call"\n{tables}', "small.toml")


_TWO = """
[rules.first]
kind = "lockout"
trips = "a and not second"
clears = "only by power loss"
[rules.second]
kind = "lockout"
trips = "b and not first"
clears = "only by power loss"
[outputs.q]
on = "{on}"
[lamps.led]
flash = "0.25 s lit, 0.25 s dark"
between_groups = "1.5 s dark"
lines = [
  {{ when = "{when}", shows = "3 flashes" }},
  {{ when = "otherwise", shows = "steady" }},
]
"""


def test_lockouts_behind_one_lamp_line_are_told_of() -> None:
    """Two lockouts that show the same are told of, and what tells them apart; with an output of its own one is not."""
    same = _TWO.format(on="a and not first and not second", when="first or second")
    known = knowledge(Study(_board(same)))
    (alike,) = likenesses(known)
    assert likeness_words(known, alike).endswith("nothing from outside tells them apart")
    differs = _TWO.format(on="a and b and first", when="first or second")
    known = knowledge(Study(_board(differs)))
    (one,) = likenesses(known)
    assert one.line == 0
    assert {situation.on for situation in one.situations} == {("first",), ("second",)}
    assert "3 flashes and the same outputs in 2 states" in likeness_words(known, one)
    shown = _TWO.format(on="first", when="first or second")
    assert likenesses(knowledge(Study(_board(shown)))) == ()


def test_what_stands_behind_a_lockout_for_good_is_no_state_of_its_own() -> None:
    """A soft lockout behind a hard one changes nothing that is ever seen: there is one state, not two."""
    known = known_of("tarnbeck")
    assert [one.on for one in known.situations if "hp_lockout" in one.on] == [("hp_lockout",)]
    assert likenesses(known) == ()


# -- on paper --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", BOARDS)
def test_every_situation_and_every_part_is_on_the_sheet(name: str) -> None:
    """No situation is missing from the printed tree, and each number that it goes on at is there."""
    known = known_of(name)
    text = "\n".join(block.drawing.text for block in decision_sheet(study_of(name)).blocks if hasattr(block, "drawing"))
    plain = " ".join(text.split())
    leaves = [node for node in nodes(decision_tree(known, known.all())) if isinstance(node, Leaf)]
    named = {one.name for leaf in leaves for one in leaf.situations[:3]}
    assert named == {one.name for one in known.situations}
    for name_ in named:
        assert " ".join(name_.split()) in plain
    parts = {line.split()[1].rstrip(":") for line in text.splitlines() if line.startswith("Part")}
    asked = {line.split("go on at ")[1] for line in text.splitlines() if "go on at " in line}
    assert parts == asked | {"1"}


@pytest.mark.parametrize("name", ["tarnbeck", "hearthgate"])
def test_a_drawing_of_the_tree_fits_a_page(name: str) -> None:
    """No page of the tree is larger than a letter page on its side leaves room for."""
    for block in decision_sheet(study_of(name)).blocks:
        if hasattr(block, "drawing"):
            assert block.drawing.width <= 792 - 100
            assert block.drawing.height <= 612 - 104 - 60
