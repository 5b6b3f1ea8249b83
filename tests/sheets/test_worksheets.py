"""Law: what a key says is what a fresh simulation of the same does; the same seed makes the same sheet."""

from __future__ import annotations

import re
from functools import cache

import pytest
from attrs import evolve

from boardgauge.drawings import words
from boardgauge.faults import faults_of
from boardgauge.judging.judge import judge
from boardgauge.language.quantities import S
from boardgauge.machine.run import POWER
from boardgauge.machine.simulate import Simulator
from boardgauge.sheets.blocks import Figure, Table
from boardgauge.sheets.exercise import Exercise, Level
from boardgauge.sheets.exercise_words import clock, facts_of
from boardgauge.sheets.exercises import exercises
from boardgauge.sheets.recipes import Recipe, answer, windows
from boardgauge.sheets.study import Study
from boardgauge.worksheets import fault_exercises
from boardgauge.worksheets.find_the_fault import trace_of
from sheets.sheet_helpers import board_of, microseconds, study_of

BOARDS = ("tarnbeck", "hearthgate", "sump-pumps", "fan")
LEVELS: tuple[Level, ...] = (1, 2, 3)


@cache
def _made(name: str, level: Level, seed: int = 1) -> tuple[Exercise, ...]:
    return exercises(study_of(name), level, 8, seed)


def _of_recipe(found: tuple[Exercise, ...]) -> list[tuple[Exercise, Recipe]]:
    return [(one, one.recipe) for one in found if one.recipe is not None]


@pytest.mark.parametrize("name", BOARDS)
@pytest.mark.parametrize("level", LEVELS)
def test_a_key_is_what_a_fresh_board_does(name: str, level: Level) -> None:
    """A board that is compiled and simulated anew does exactly what the key says, at nominal times."""
    fresh = Study(board_of(name))
    found = _of_recipe(_made(name, level))
    assert found
    for one, recipe in found:
        assert facts_of(fresh, recipe.run(fresh), recipe) == one.facts


@pytest.mark.parametrize("name", BOARDS)
def test_boards_within_tolerance_stay_inside_the_limits_of_the_key(name: str) -> None:
    """The limits told hold the change of the nominal board, and of boards with any durations inside their ranges."""
    study = study_of(name)
    seen = 0
    for level in (2, 3):
        for _, recipe in _of_recipe(_made(name, level))[:5]:
            for one in windows(study, recipe):
                seen += 1
                assert one.earliest <= one.nominal <= one.latest
                assert (one.nominal, one.value) in recipe.run(study).outputs[one.output].changes
            _assert_random_boards_inside(study, recipe)
    assert seen


def _assert_random_boards_inside(study: Study, recipe: Recipe) -> None:
    longer = evolve(recipe, end=recipe.end + (recipe.end - recipe.asked) // 2 + 30 * S)
    for seed in (1, 2):
        run = Simulator(study.machine, "random", seed, engine=study.engine).run(longer.timeline())
        for output in study.board.outputs:
            limits = [one for one in windows(study, recipe) if one.output == output]
            changes = [one for one in run.outputs[output].changes if one[0] >= recipe.asked]
            for (time, value), one in zip(changes, limits, strict=False):
                assert value == one.value
                assert one.earliest <= time <= one.latest


@pytest.mark.parametrize("name", BOARDS)
@pytest.mark.parametrize("level", LEVELS)
def test_exercises_of_a_sheet_differ_and_seldom_have_nothing_for_an_answer(name: str, level: Level) -> None:
    """No two exercises of a sheet are alike, and on one at most nothing is seen to happen."""
    for seed in (1, 2):
        found = _made(name, level, seed)
        asked = [(repr(one.given), one.asked, one.title) for one in found]
        assert len(set(asked)) == len(asked)
        assert sum(one.nothing for one in found) <= 1
        assert all(one.facts for one in found if not one.nothing)


def test_the_same_seed_makes_the_same_sheet() -> None:
    """Made twice, from a board read twice, a sheet is the same; another seed makes another."""
    one, two = exercises(Study(board_of("fan")), 2, 5, 7), exercises(Study(board_of("fan")), 2, 5, 7)
    assert one == two
    assert exercises(study_of("fan"), 2, 5, 8) != one


def test_levels_ask_for_more_and_more() -> None:
    """Level 1 asks for what happens at once, level 2 for times, level 3 for lockouts, lost power and charts."""
    assert {one.kind for one in _made("tarnbeck", 1)} == {"one event", "lamp"}
    assert {one.kind for one in _made("tarnbeck", 2)} == {"sequence"}
    assert {"lockout", "power loss", "chart"} <= {one.kind for one in _made("tarnbeck", 3)}
    for one, recipe in _of_recipe(_made("tarnbeck", 2)):
        run = recipe.run(study_of("tarnbeck"))
        assert one.nothing or any(entry.causes.expired for entry, _ in answer(run, recipe)), "a sequence takes time"


def test_no_answer_hangs_on_a_tolerance() -> None:
    """The boards that are as early and as late as they may be do what the key of an exercise with an event says."""
    study = study_of("hearthgate")
    for one, recipe in _of_recipe(_made("hearthgate", 2)):
        moves = []
        for timings in ("earliest", "nominal", "latest"):
            run = recipe.run(study, timings)
            told = [e.outcome.commands for e, _ in answer(run, recipe) if e.outcome and e.outcome.commands]
            moves.append(told)
        shortest = min(map(len, moves))
        assert len({tuple(told[:shortest]) for told in moves}) == 1, one.title


def test_an_empty_chart_gives_nothing_away() -> None:
    """A chart to draw into has the inputs, an empty box for each output, and the axis of the whole one."""
    charts = [one for one in _made("tarnbeck", 3) if one.kind == "chart"]
    assert charts
    for one in charts:
        blank = next(block for block in one.given if isinstance(block, Figure)).drawing.svg
        full = next(block for block in one.key if isinstance(block, Figure)).drawing.svg
        ticks = re.compile(r'class="time">([^<]*)<')
        assert ticks.findall(blank) == ticks.findall(full)
        assert "compressor running" not in blank
        assert blank != full


@pytest.mark.parametrize(("name", "seed", "row"), [("tarnbeck", 2, "power"), ("cold-room", 1, "coil")])
def test_all_that_is_done_to_the_board_is_in_the_chart(name: str, seed: int, row: str) -> None:
    """Where the inputs are said to be drawn, what the key answers to is: the supply and the sensors too."""
    study, rows = study_of(name), set[str]()
    for one, recipe in _of_recipe(_made(name, 3, seed)):
        if one.kind == "chart":
            blank = next(block for block in one.given if isinstance(block, Figure)).drawing.svg
            drawn = set(re.findall(r'data-row="([^"]*)"', blank))
            assert {done.name for done in recipe.told(study)} <= drawn
            rows |= drawn
    assert row in rows


def test_a_board_that_is_dead_loses_no_power() -> None:
    """What is asked is done to a board with power on."""
    for seed in range(3):
        for one, recipe in _of_recipe(_made("fan", 3, seed)):
            if one.kind in {"sequence", "power loss"}:
                on = [done for done in recipe.changes if done.name == POWER and done.time < recipe.asked]
                assert on[-1].value, one.title


def test_counts_are_asked_for_where_something_is_counted() -> None:
    """How far the board has counted is asked where the key says it, and not elsewhere."""
    locked = [one for one in _made("tarnbeck", 3) if one.kind == "lockout"]
    counted = [("counted" in str(one.asked), bool(re.search(r" is at \d+ of ", str(one.facts)))) for one in locked]
    assert set(counted) == {(True, True), (False, False)}


def test_an_output_without_limits_is_named() -> None:
    """Where an early or a late board does something else, the key says of which outputs it gives no limits."""
    study, left = study_of("tarnbeck"), 0
    for one, recipe in _of_recipe(_made("tarnbeck", 3, 4)):
        run = recipe.run(study)
        limited = {row.output for row in windows(study, recipe)}
        without = {
            words.thing(study.board, output)
            for output in study.board.outputs
            if output not in limited and any(time >= recipe.asked for time, _ in run.outputs[output].changes)
        }
        notes = " ".join(note for block in one.key if isinstance(block, Table) for note in block.notes)
        named = re.search(r"Without limits: (.*?)\. ", notes)
        if limited:
            assert set(named[1].split(", ") if named else ()) == without
            left += len(without)
    assert left


# -- faulty boards ---------------------------------------------------------------------------------------------------


def test_a_fault_to_be_found_is_one_the_judge_finds() -> None:
    """The trace on the sheet deviates for the judge, whose rule and words the key has; no rule is asked for twice."""
    study = study_of("tarnbeck")
    found = fault_exercises(study, 2, 3, 5)
    assert len(found) == 3
    for one in found:
        assert one.recipe is not None
        fault = next(fault for fault in faults_of(study.board) if any(fault.name in fact for fact in one.facts))
        run = one.recipe.run(Study(fault.board))
        judgement = judge(study.board, trace_of(study.board, run))
        assert judgement.verdict == "deviates"
        first = judgement.deviations[0]
        expected = re.split(r"\d+\.\d{3} s\b", first.expected)  # moments are said as on the rest of the sheet
        assert any(all(part in fact for part in expected) for fact in one.facts)
        assert not any(fault.name in str(block) for block in one.given), "the sheet does not name the fault"
    assert len({one.facts[0] for one in found}) > 1
    assert fault_exercises(study, 2, 3, 5) == found


def test_what_was_measured_stands_in_a_table() -> None:
    """Times of the table are those of the faulty board's outputs and lamp."""
    (one,) = fault_exercises(study_of("tarnbeck"), 2, 1, 6)
    table = next(block for block in one.given if isinstance(block, Table))
    times = [microseconds(str(cell)) for cell in table.column("At")]
    assert times == sorted(times)
    assert one.recipe is not None
    assert times[0] >= one.recipe.asked // 10**5 * 10**5


def test_something_else_is_done_in_each_exercise() -> None:
    """As long as a board has other inputs, none of them is changed the same way twice on a sheet."""
    for level in (1, 2):
        changed = [
            (what.name, what.value if isinstance(what.value, bool) else None)
            for one, recipe in _of_recipe(exercises(study_of("quillmere"), level, 6, 0))
            if one.kind in ("one event", "sequence")
            for what in recipe.changes
            if what.time == recipe.asked
        ]
        assert len(changed) > 3
        assert len(set(changed)) == len(changed)


@pytest.mark.parametrize("name", ["tarnbeck", "hearthgate"])
def test_where_the_table_of_a_fault_ends_tells_nothing_of_it(name: str) -> None:
    """It goes on to the end of the story, or as far as there is room, wherever the proof is."""
    behind = set()
    for one in _found_faults(name):
        table = next(block for block in one.given if isinstance(block, Table))
        assert len(table.rows) == 14 or not table.notes
        proof = microseconds(one.facts[1].rpartition(", at ")[2].rstrip("."))
        behind.add(sum(microseconds(str(cell)) > proof for cell in table.column("At")))
    assert len(behind) > 1, "the proof is not always as many moments before the end"


# -- on paper --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("level", LEVELS)
def test_a_board_without_inputs_is_asked_about_by_its_supply(level: Level) -> None:
    """There is nothing to do to a star-delta relay but to switch it: no exercise asks for more, and none fails."""
    found = _made("relay-star-delta", level, 3)
    if level == 3:
        assert [one.kind for one in found] == ["power loss"]
    for one in found:
        said = str(one)
        assert "every input at rest" not in said
        assert "every call off" not in said
        assert said.count("the power comes back") + said.count("The power comes back") <= 1


def test_what_a_board_has_not_is_not_asked_for() -> None:
    """Without a lamp nobody is asked to write what it shows; with one, everybody is."""
    for name, expected in (("sump-pumps", False), ("tarnbeck", True)):
        charts = [one for one in _made(name, 3) if one.kind == "chart"]
        assert charts
        assert all(("what the lamp shows" in str(one.asked)) == expected for one in charts)


def test_a_signal_goes_on_and_off_by_name() -> None:
    """What a signal does is told with a verb, as of every other input."""
    said = " ".join(str(one.given) + str(one.facts) for level in LEVELS for one in _made("hearthgate", level))
    assert re.search("signal “flame sensed” (comes on|goes off)", said)
    assert "o longer:" not in said


# -- what can be read off a sheet ------------------------------------------------------------------------------------


def _found_faults(name: str) -> tuple[Exercise, ...]:
    return fault_exercises(study_of(name), 3, 3, 0) + fault_exercises(study_of(name), 2, 2, 7)


@pytest.mark.parametrize("name", ["tarnbeck", "hearthgate"])
def test_the_lamp_of_a_faulty_board_is_drawn_as_it_is_seen(name: str) -> None:
    """Which state the board is in is asked: the chart has patterns and not what they mean."""
    board = board_of(name)
    for one in _found_faults(name):
        svg = next(block for block in one.given if isinstance(block, Figure)).drawing.svg
        words = re.findall(r"<text[^>]*>([^<]*)</text>", svg)
        assert not [
            w for w in words for lamp in board.lamps.values() for line in lamp.lines if line.means and line.means in w
        ]


@pytest.mark.parametrize("name", ["tarnbeck", "hearthgate"])
def test_what_proves_the_fault_is_on_the_sheet(name: str) -> None:
    """Every change up to the moment that the key names stands in the table, at its time."""
    study = study_of(name)
    for one in _found_faults(name):
        assert one.recipe is not None
        fault = max(
            (fault for fault in faults_of(study.board) if any(fault.name in fact for fact in one.facts)),
            key=lambda fault: len(fault.name),
        )
        run = one.recipe.run(Study(fault.board))
        proof = judge(study.board, trace_of(study.board, run)).deviations[0].time
        table = next(block for block in one.given if isinstance(block, Table))
        times = {str(cell) for cell in table.column("At")}
        for output in study.board.outputs:
            for time, _ in run.outputs[output].changes:
                if one.recipe.asked <= time <= proof:
                    assert clock(time) in times


@pytest.mark.parametrize("name", BOARDS)
def test_nothing_is_done_at_the_very_moment_a_time_runs_out(name: str) -> None:
    """What came of the change and what of the time would be anybody's guess."""
    study = study_of(name)
    for level in LEVELS:
        for seed in (1, 7):
            for one, recipe in _of_recipe(_made(name, level, seed)):
                if one.kind in {"one event", "sequence", "power loss"}:
                    asked = [e for e, _ in answer(recipe.run(study), recipe) if e.time == recipe.asked]
                    assert not any(e.causes.expired and e.causes.changes for e in asked)


def test_what_runs_out_is_told_without_a_second_clock() -> None:
    """A time with its limits stands behind what is over, and what came at the same moment behind that."""
    facts = [fact for one in _made("hearthgate", 3) for fact in one.facts]
    assert any(re.search(r"^At .*: Step purge is over after 25 s \(23\.75 to 26\.25 s\)\.", fact) for fact in facts)
    assert not any(re.search(r"^At [^:]*: (.* and )?(after|After) ", fact) for fact in facts)
    both = [fact for fact in facts if " at the same moment " in fact]
    assert all(re.search(r"is over after .* and at the same moment the ", fact) for fact in both)


def test_a_key_says_every_moment_one_way() -> None:
    """What the judge expected is told on the clock of the sheet, in minutes and seconds."""
    told = [fact for name in ("tarnbeck", "hearthgate") for one in _found_faults(name) for fact in one.facts]
    assert any(re.search(r"^Expected: .*\b(before|since|by|at) (\d+ min|[0-9.]+ s)", fact) for fact in told)
    assert not [fact for fact in told if re.search(r"\b(before|since|by|at) \d+\.\d{3} s", fact)]
