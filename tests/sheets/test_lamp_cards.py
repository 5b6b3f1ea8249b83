"""The lamp card shows every line of every lamp, and what it says of like patterns is so."""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations, pairwise

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from board_strategies import boards
from boardgauge.drawings import words
from boardgauge.language import read_board_text
from boardgauge.language.model import Blink, Board, Dark, Flashes, Lamp, LampLine, Pattern, Steady
from boardgauge.language.quantities import MS, S, Tolerance
from boardgauge.machine.picture import CannotSettle
from boardgauge.sheets.blocks import Drawing
from boardgauge.sheets.lamp_card import lamp_card, lines_that_show
from boardgauge.sheets.lamp_looks import Part, alike_for, counting, cycle, flashes_in
from boardgauge.sheets.lamp_strip import scale, stretches, strip
from boardgauge.sheets.study import Study
from sheets.sheet_helpers import BOARDS, study_of

PATTERNS = st.one_of(
    st.just(Steady()),
    st.just(Dark()),
    st.builds(Blink, st.integers(1, 12).map(lambda n: n * 100 * MS), st.integers(1, 30).map(lambda n: n * 100 * MS)),
    st.builds(Flashes, st.integers(1, 8)),
)


def _lamp(*patterns: Pattern, percent: int = 20) -> Lamp:
    share = Fraction(percent, 100)
    lines = tuple(LampLine(None, pattern) for pattern in patterns)
    return Lamp("led", lines, Tolerance(share, share), Blink(250 * MS, 250 * MS), 1500 * MS)


# -- every line is there ---------------------------------------------------------------------------------------------


def _lines_are_there(study: Study) -> None:
    sheet = lamp_card(study)
    tables = {table.id: table for table in sheet.tables()}
    for number, lamp in enumerate(study.board.lamps.values()):
        table = tables[f"{lamp.id}-lines"]
        assert len(table.rows) == len(lamp.lines)
        shown = lines_that_show(study, number)
        for index, (row, line) in enumerate(zip(table.rows, lamp.lines, strict=True)):
            assert isinstance(row[0], Drawing)
            assert row[1] == words.pattern(line.shows)
            means = str(row[2])
            assert means.startswith(words.lamp_line(study.board, lamp.id, index))
            assert ("UNREACHABLE" in means) == (index not in shown)


@pytest.mark.parametrize("name", BOARDS)
def test_library_lines_are_on_the_card(name: str) -> None:
    """Every line of every lamp is on the card, in order, and only those that no configuration shows are marked."""
    _lines_are_there(study_of(name))


@settings(max_examples=25, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much], deadline=None)
@given(boards())
def test_lines_of_any_board_are_on_the_card(board: Board) -> None:
    """Whatever the board, every lamp line is on the card or on it and reported unreachable."""
    study = Study(board, most_configs=400)
    try:
        _lines_are_there(study)
    except CannotSettle:
        return


def test_a_line_that_can_never_show_is_reported() -> None:
    """A line behind one that holds whenever it does is reported as unreachable, with why; the others are not."""
    board = read_board_text(
        """language = 1
[board]
id = "b"
title = "B (invented)"
tolerance = "± 10 %"
[inputs.a]
kind = "call"
[outputs.q]
on = "a"
[lamps.led]
lines = [
  { when = "a", shows = "steady", means = "running" },
  { when = "q", shows = "1 s lit, 1 s dark", means = "never" },
  { when = "otherwise", shows = "dark", means = "idle" },
]
""",
        "b.toml",
    )
    means = [str(cell) for cell in lamp_card(Study(board)).tables()[0].column("Means")]
    assert means[0] == "running"
    assert means[1] == "never. UNREACHABLE: no state of the board shows this line"
    assert means[2] == "idle"


def test_what_to_do_is_the_specs() -> None:
    """What the spec says to do stands beside the line it says it of."""
    study = study_of("hearthgate")
    table = lamp_card(study).tables()[0]
    assert table.column("What to do") == tuple(line.do or "" for line in study.board.lamps["status"].lines)


# -- the drawing -----------------------------------------------------------------------------------------------------


@given(PATTERNS)
def test_a_strip_is_the_nominal_pattern(pattern: Pattern) -> None:
    """The stretches of a strip follow each other, lit and dark in turn, each as long as the spec says."""
    lamp = _lamp(pattern)
    lasts = scale(lamp)
    found = list(stretches(lamp, pattern, lasts))
    assert found[0][1] == 0
    assert found[-1][2] == lasts
    assert all(a[2] == b[1] and a[0] != b[0] for a, b in pairwise(found))
    if isinstance(pattern, Blink):
        assert all(end - start == (pattern.lit if lit else pattern.dark) for lit, start, end in found[:-1])
    drawing = strip(lamp, pattern, lasts)
    assert drawing.svg.count('class="lit"') == sum(lit for lit, _, _ in found)


def test_all_strips_of_a_lamp_have_one_scale() -> None:
    """Patterns of one lamp are drawn over the same time."""
    lamp = study_of("tarnbeck").board.lamps["led"]
    ends = {list(stretches(lamp, line.shows, scale(lamp)))[-1][2] for line in lamp.lines}
    assert ends == {scale(lamp)}


# -- what looks alike ------------------------------------------------------------------------------------------------


@given(PATTERNS, PATTERNS)
def test_alike_is_mutual(one: Pattern, other: Pattern) -> None:
    """Two patterns look alike as long whichever is named first, and a pattern looks like itself for ever."""
    lamp = _lamp(one, other)
    a, b = cycle(lamp, one), cycle(lamp, other)
    assert alike_for(a, b) == alike_for(b, a)
    assert alike_for(a, a) is None


def _wave(parts: tuple[Part, ...], start: int, into: int, until: int) -> list[tuple[bool, int]]:
    """Give a pattern as seen from a moment on, each stretch at its longest: (lit, how long it is seen)."""
    seen, time, number = [], 0, start
    while time < until:
        part = parts[number % len(parts)]
        most = until if part.most is None else part.most - (into if number == start else 0)
        length = min(most, until - time)
        seen.append((part.lit, length))
        time += length
        number += 1
    return seen


@given(PATTERNS, PATTERNS, st.integers(0, 20), st.integers(0, 9), st.integers(100, 6000).map(lambda n: n * MS))
def test_what_looks_the_same_is_called_alike(one: Pattern, other: Pattern, start: int, tenths: int, until: int) -> None:
    """Where a look sees exactly the same of two patterns, both going slow, they are alike for at least so long."""
    lamp = _lamp(one, other)
    a, b = cycle(lamp, one), cycle(lamp, other)
    most = a[start % len(a)].most or 0
    mine = _wave(a, start % len(a), most * tenths // 10, until)
    for beside in range(len(b)):
        theirs = b[beside].most or 0
        if _wave(b, beside, min(theirs, theirs * tenths // 10), until) == mine:
            found = alike_for(a, b)
            assert found is None or found >= until


def test_known_pairs() -> None:
    """Groups of flashes are alike until one group is over; steady light and slow blinking until the first dark."""
    lamp = _lamp(Steady(), Blink(1 * S, 1 * S), Flashes(2), Flashes(3))
    steady, slow, two, three = (cycle(lamp, line.shows) for line in lamp.lines)
    assert alike_for(steady, slow) == 1200 * MS
    # A dark, two flashes of either, the pause, two flashes, and a dark; then the third flash comes or does not.
    assert alike_for(two, three) == (300 + 3 * 300 + 1800 + 3 * 300 + 300) * MS
    assert alike_for(steady, cycle(lamp, Dark())) == 0


@given(PATTERNS, PATTERNS)
def test_counting_keeps_its_promise(one: Pattern, other: Pattern) -> None:
    """Where counting is advised, no look of that length at a nominal pattern sees what belongs to the other."""
    lamp = _lamp(one, other)
    advised = counting(cycle(lamp, one), cycle(lamp, other))
    if advised is None:
        return
    assert advised.one[1] < advised.other[0] or advised.other[1] < advised.one[0]
    for pattern, (least, most) in ((one, advised.one), (other, advised.other)):
        long = advised.seconds * S
        starts = [s for lit, s, _ in stretches(lamp, pattern, 3 * long) if lit and s > 0]
        for begins in range(0, long, 250 * MS):
            assert least <= sum(begins <= s < begins + long for s in starts) <= most


@pytest.mark.parametrize("name", ["tarnbeck", "hearthgate", "extract-fan", "fan"])
def test_terminals_that_are_named_do_tell_lines_apart(name: str) -> None:
    """An output that the card names is on with the one line and off with the other in every configuration."""
    study = study_of(name)
    engine, board = study.engine, study.board
    said = 0
    for number, lamp in enumerate(board.lamps.values()):
        table = next((t for t in lamp_card(study).tables() if t.id == f"{lamp.id}-alike"), None)
        means = [words.lamp_line(board, lamp.id, line) for line in range(len(lamp.lines))]
        for row in table.rows if table else ():
            for output in study.machine.outputs:
                on = [
                    m
                    for m in means
                    if f"{words.thing(board, output.output)} " in row[2] and f"is on with “{m}”" in row[2]
                ]
                off = [m for m in means if f"off with “{m}”" in row[2]]
                if f"({output.output}) is on" not in row[2] or not on or not off:
                    continue
                said += 1
                for config in study.found.configs:
                    told = means[engine.lamp_line(config, number)] if config.powered else ""
                    if told in (*on, *off):
                        assert engine.outputs(config)[output.index] == (told in on)
    assert said or name in {"hearthgate", "extract-fan", "fan"}


def test_every_pair_that_is_alike_is_on_the_card() -> None:
    """Each two lines of the tarnbeck lamp that are alike for a second are in a row of the card."""
    study = study_of("tarnbeck")
    lamp = study.board.lamps["led"]
    table = next(t for t in lamp_card(study).tables() if t.id == "led-alike")
    text = " ".join(str(cell) for cell in table.column("These look alike"))
    for one, other in combinations(lamp.lines, 2):
        seen = alike_for(cycle(lamp, one.shows), cycle(lamp, other.shows))
        if seen is None or seen >= S:
            for line in (one, other):
                number = str(line.shows.number) if isinstance(line.shows, Flashes) else words.pattern(line.shows)
                assert number in text


def test_flashes_of_a_steady_light() -> None:
    """A light that never goes dark begins at most once in a look."""
    assert flashes_in(cycle(_lamp(Steady()), Steady()), 60 * S) == (0, 1)
