"""Every number of the timing table, the settings table and the sequences comes from the machine."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest
from attrs import evolve
from hypothesis import given, settings
from hypothesis import strategies as st

from board_strategies import boards
from boardgauge.drawings.time_words import least, limits, most
from boardgauge.language import read_board_text
from boardgauge.language.model import Board
from boardgauge.language.quantities import MS, Duration, S, Tolerance
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Timeline
from boardgauge.machine.simulate import Simulator
from boardgauge.machine.table import Machine
from boardgauge.sheets.blocks import Steps, Table
from boardgauge.sheets.figures import sped_up, stopwatch
from boardgauge.sheets.sequence import sequence_sheet
from boardgauge.sheets.settings_table import settings_sheet
from boardgauge.sheets.study import Study
from boardgauge.sheets.timing_table import board_timings, timing_sheet
from sheets.sheet_helpers import BOARDS, board_of, microseconds, path_of, printed_to, study_of

FIGURES = ("Nominal", "Least", "Most")


def _table(study: Study, name: str) -> Table | None:
    return next((table for table in timing_sheet(study).tables() if table.id == name), None)


def _durations(machine: Machine) -> list[Duration]:
    return [choice for row in board_timings(machine) for choice in row.choices]


def _figures_are_the_machines(study: Study) -> None:
    wanted = _durations(study.machine)
    table = _table(study, "timings")
    assert (table is None) == (not wanted)
    if table is None:
        return
    printed = [
        tuple(microseconds(str(cell).removeprefix("about ")) for cell in row)
        for row in zip(*map(table.column, FIGURES), strict=True)
    ]
    assert len(printed) == len(wanted)
    for (nominal, low, high), lasts in zip(printed, wanted, strict=True):
        assert abs(nominal - lasts.nominal) <= printed_to(lasts.nominal)
        assert 0 <= lasts.shortest - low < MS
        assert 0 <= high - lasts.longest < MS


@pytest.mark.parametrize("name", BOARDS)
def test_figures_of_the_library_are_the_machines(name: str) -> None:
    """Each timing of the machine has its row, nominal, least and most, to what a stopwatch shows, and no other row."""
    _figures_are_the_machines(study_of(name))


@settings(max_examples=60, deadline=None)
@given(boards())
def test_figures_of_any_board_are_the_machines(board: Board) -> None:
    """The same holds of any board."""
    _figures_are_the_machines(Study(board))


CHANGES = [
    ('lasts = "45 s"', 'lasts = "47 s"', "restart delay"),
    ('lasts = "30 s"', 'lasts = "33 s"', "power up delay"),
    ('lasts = "20 s"', 'lasts = "21 s"', "bypass"),
    ('within = "60 min"', 'within = "61 min"', "hp trips: window"),
    ('lasts = "90 s"', 'lasts = "99 s"', "defrost limit"),
    ("for 2 s", "for 3 s", "lp trip: time it must hold"),
    ('is = "5 min"', 'is = "6 min"', "cold run, interval 5 min"),
]


@pytest.mark.parametrize(("old", "new", "row"), CHANGES, ids=[row for _, _, row in CHANGES])
def test_a_changed_time_changes_its_figures_and_no_other(old: str, new: str, row: str) -> None:
    """A time changed in the spec changes the figures of its own row, sped-up ones too, and of no other row."""
    text = path_of("tarnbeck").read_text(encoding="utf-8")
    assert text.count(old) == 1
    changed = Study(read_board_text(text.replace(old, new), "tarnbeck.toml"))
    before, after = _table(study_of("tarnbeck"), "timings"), _table(changed, "timings")
    assert before is not None
    assert after is not None
    names = [str(cell) for cell in before.column("Timing")]
    for name, one, other in zip(names, before.rows, after.rows, strict=True):
        if name == row:
            assert one[1] != other[1]
            assert one[2] != other[2]
            assert one[4] != other[4] or one[4] == "not sped up"
        else:
            assert one == other


def test_a_changed_tolerance_moves_limits_and_no_nominal_time() -> None:
    """The board's tolerance is in every limit of the table and in no nominal time."""
    text = path_of("tarnbeck").read_text(encoding="utf-8").replace("± (4 % + 0.3 s)", "± (5 % + 0.3 s)")
    before, after = _table(study_of("tarnbeck"), "timings"), _table(Study(read_board_text(text, "t.toml")), "timings")
    assert before is not None
    assert after is not None
    assert before.column("Nominal") == after.column("Nominal")
    assert all(a != b for a, b in zip(before.column("Least"), after.column("Least"), strict=True))


@pytest.mark.parametrize(("timings", "part"), [("earliest", "shortest"), ("latest", "longest")])
def test_a_sped_up_figure_is_what_a_sped_up_board_takes(timings: str, part: str) -> None:
    """With the speed-up link fitted the simulated board's power-up delay ends at the limits that the table prints."""
    machine = study_of("tarnbeck").machine
    timing = next(row for row in machine.timings if row.owner == "power_up_delay")
    run = Simulator(machine, timings).run(  # type: ignore[arg-type]  # one of the words
        Timeline({"power": ((0, True),), "fast": ((0, True),)}, 10 * S)
    )
    (stretch,) = [one for one in run.stretches if one.timing == timing.index]
    assert stretch.end - stretch.origin == getattr(sped_up(timing.choices[0], 60), part)


@given(
    st.integers(1, 40_000_000_000),
    st.sampled_from([Fraction(0), Fraction(4, 100), Fraction(1, 3)]),
    st.integers(0, 5_000_000),
    st.sampled_from([2, 10, 60]),
)
def test_a_speed_up_shrinks_the_percentage_and_not_the_seconds(
    nominal: int, percent: Fraction, seconds: int, times: int
) -> None:
    """Sped up, the nominal time and the percentage are divided, the seconds beside them stay."""
    lasts = Duration(nominal * times, Tolerance(percent, percent, seconds, seconds))
    fast = sped_up(lasts, times)
    assert fast.nominal == nominal
    assert fast.percent_longest == lasts.percent_longest / times
    assert abs((fast.longest - fast.percent_longest) - seconds) < 1


@given(st.integers(0, 200 * 3600 * S))
def test_a_printed_time_is_read_back(time: int) -> None:
    """A stopwatch's time is read back as the time it was printed from, to half its last digit."""
    assert abs(microseconds(stopwatch(time)) - time) <= printed_to(time)


# -- other places where figures are printed --------------------------------------------------------------------------


@pytest.mark.parametrize("name", BOARDS)
def test_settings_have_the_figures_of_their_positions(name: str) -> None:
    """The settings table has a row for each position, in order, with its figures."""
    study = study_of(name)
    table = next((t for t in settings_sheet(study).tables() if t.id == "settings"), None)
    positions = [position.is_ for row in study.board.settings.values() for position in row.positions]
    assert (table is None) == (not positions)
    for row, lasts in zip(zip(*map(table.column, FIGURES), strict=True) if table else (), positions, strict=True):
        assert row == (stopwatch(lasts.nominal), least(lasts.shortest), most(lasts.longest))


_ONE = r"\d+(?:\.\d+)? (?:ms|s|min|h)\b"
_SPAN = rf"{_ONE}(?: {_ONE})*"
BRACKETS = re.compile(rf"({_SPAN}) \(([^()]+ to {_SPAN})\)")


@pytest.mark.parametrize("name", BOARDS)
def test_times_in_sentences_are_the_machines(name: str) -> None:
    """Every time with limits that a sentence tells is one of the machine's durations, limits and all."""
    study = study_of(name)
    known = {(stopwatch(d.nominal), limits(d)) for d in _durations(study.machine)}
    said = [s for block in sequence_sheet(study).blocks if isinstance(block, Steps) for s in block.items]
    found = [times for text in said for times in BRACKETS.findall(text)]
    assert set(found) <= known
    assert found or not known or name.startswith("iec")


@pytest.mark.parametrize("name", ["tarnbeck", "hearthgate", "fan"])
def test_each_time_of_a_sentence_is_printed_somewhere_in_the_tables(name: str) -> None:
    """A time in a sentence is a duration of the machine, an answer's time, a lamp's, or a setting's."""
    study = study_of(name)
    board = study.board
    times = [t for d in _durations(study.machine) for t in (d.nominal, d.shortest, d.longest)]
    times += [row.responds_within for row in board.inputs.values()]
    for lamp in board.lamps.values():
        times += [t for line in lamp.lines for t in (getattr(line.shows, "lit", 0), getattr(line.shows, "dark", 0))]
    known = set(times)
    for block in sequence_sheet(study).blocks:
        for text in block.items if isinstance(block, Steps) else ():
            for span in re.findall(_SPAN, text):
                assert any(abs(microseconds(span) - time) <= printed_to(time) for time in known), (span, text)


def test_a_board_told_otherwise_is_told_otherwise() -> None:
    """The figures follow the board that is given, not the name that it has."""
    board = board_of("fan")
    rest = board.rules["rest"]
    longer = evolve(board, rules={**board.rules, "rest": evolve(rest, lasts=Duration(77 * S, Tolerance()))})
    table = _table(Study(longer), "timings")
    assert table is not None
    assert table.rows[0][1:4] == ("77 s", "77 s", "77 s")
    assert compile_board(longer).timings_of("rest")[0].choices[0].nominal == 77 * S
