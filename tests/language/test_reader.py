"""A file becomes a board without holes, or every problem in it is told with its place."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from boardgauge.language import UnusableSpec, read_board, read_board_text, write_board
from boardgauge.language.expressions import For
from boardgauge.language.model import Delay, Lamp, Lockout, Sequence
from boardgauge.language.quantities import EXACTLY, MS, Duration, S, Tolerance
from language.problems import place, problems_of
from language_examples import EXAMPLES, SMALL


def test_what_a_whole_file_lacks_is_told_at_the_file() -> None:
    """An empty file was read from a disk, whatever it lacks."""
    assert {problem.partition(": ")[0] for problem in problems_of("")} == {"board.toml:1:1"}


def test_a_tolerance_of_the_board_that_cannot_be_read_is_told_once() -> None:
    """A time and a lamp that would take it do not say that the board has none."""
    text = """language = 1
[board]
id = "b"
title = "B"
tolerance = "10 %"
[rules.rest]
kind = "delay"
begins = "power_up"
lasts = "10 s"
if_begun_again = "runs on"
[outputs.o]
on = "not rest"
[lamps.l]
lines = [{ when = "otherwise", shows = "steady" }]
"""
    assert [problem.partition(": ")[0] for problem in problems_of(text)] == ["board.toml:5:14"]
    without = text.replace('tolerance = "10 %"\n', "")
    assert sum("the board has none either" in problem for problem in problems_of(without)) == 2


@pytest.mark.parametrize("name", EXAMPLES)
def test_examples_are_read_and_survive_writing(name: str) -> None:
    """Whole boards are read, and read the same after having been written."""
    board = read_board_text(EXAMPLES[name], "board.toml")
    assert read_board_text(write_board(board), "other.toml") == board


def test_a_board_has_no_holes() -> None:
    """Defaults are in: the board's tolerance, the next step, the board's filter, what a lamp takes over."""
    board = read_board_text(EXAMPLES["burner"], "board.toml")
    usual = Tolerance(Fraction(4, 100), Fraction(4, 100), 300 * MS, 300 * MS)
    locked, burner = board.rules["locked"], board.rules["burner"]
    assert isinstance(locked, Lockout)
    assert isinstance(locked.lasts, Duration)
    assert locked.lasts.tolerance == usual
    assert isinstance(burner, Sequence)
    assert [step.then for step in burner.steps] == ["trial", "firing", "purge"]
    assert board.inputs["heat"].filter == board.filter
    assert board.inputs["heat"].responds_within == 500 * MS
    assert board.lamps["status"].tolerance == usual
    assert board.lamps["status"].changes_within == 500 * MS
    assert board.not_judged[0].signals == ("gas", "blower", "pump", "status")


def test_times_of_requirements_are_limits() -> None:
    """In a requirement a time without a tolerance is exact, whatever the board's tolerance."""
    board = read_board_text(EXAMPLES["burner"], "board.toml")
    what = board.requirements["short_trial"].demand.what  # type: ignore[union-attr]
    assert isinstance(what, For)
    assert what.lasts.tolerance == EXACTLY


def test_a_file_is_read_from_disk(tmp_path: Path) -> None:
    """A path gives the board, and tables know their place in the file."""
    path = tmp_path / "fan.toml"
    path.write_text(EXAMPLES["cellar-fan"], encoding="utf-8")
    board = read_board(path)
    assert board.rules["rest"].at.file == str(path)
    assert (board.rules["rest"].at.line, board.rules["rest"].at.column) == place(EXAMPLES["cellar-fan"], "rest]")


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda path: None, "cannot be read"),
        (lambda path: path.mkdir(), "cannot be read"),
        (lambda path: path.write_bytes(b'language = 1\ntitle = "\xff"'), "2:10: byte 0xff is not UTF-8"),
        (lambda path: path.write_bytes(b"#" * 300_000), "larger than 256 KiB"),
        (lambda path: path.write_bytes(b""), "language: the key is missing"),
        (lambda path: path.write_bytes(b"language = "), "the file is not TOML"),
    ],
)
def test_unreadable_files_are_problems(tmp_path: Path, make, said: str) -> None:  # type: ignore[no-untyped-def]
    """Whatever the file system gives, the answer is a problem and no traceback."""
    path = tmp_path / "board.toml"
    make(path)
    with pytest.raises(UnusableSpec) as caught:
        read_board(path)
    assert said in str(caught.value)


def test_delays_may_read_one_another() -> None:
    """A circle that goes through a delay is worked out when the board runs, so the reader allows it."""
    text = SMALL.replace('is = "call and not wait"', 'is = "call and not rest"')
    text += '[rules.rest]\nkind = "delay"\nbegins = "wanted ends"\nlasts = "5 s"\nif_begun_again = "runs on"\n'
    rest = read_board_text(text, "board.toml").rules["rest"]
    assert isinstance(rest, Delay)
    assert rest.lasts.nominal == 5 * S  # type: ignore[union-attr]


def test_power_up_alone_needs_no_word_for_beginning_again() -> None:
    """Power comes up once, so a delay that begins with it alone cannot be begun again."""
    text = SMALL.replace("power_up or run ends", "power_up").replace('if_begun_again = "starts over"\n', "")
    wait = read_board_text(text, "board.toml").rules["wait"]
    assert isinstance(wait, Delay)
    assert wait.if_begun_again is None


def test_too_many_inputs_of_a_setting_are_refused() -> None:
    """Positions are tried in every combination, so there is a bound to what they may hang on."""
    wires = "\n".join(f'[inputs.w{n}]\nkind = "call"' for n in range(13))
    condition = " and ".join(f"w{n}" for n in range(13))
    table = f'[settings.t]\nread = "always"\npositions = [ {{ when = "{condition}", is = "5 s" }} ]'
    assert any("too many inputs" in line for line in problems_of(f"{SMALL}\n{wires}\n{table}\n"))


def test_a_path_that_is_no_file_name_is_a_problem() -> None:
    """A path the system cannot take is answered like a file that is not there."""
    with pytest.raises(UnusableSpec, match="cannot be read"):
        read_board(Path("a\0b"))


@pytest.mark.parametrize(
    "text",
    [
        "a = " + "[" * 100_000,
        "a = " + "{a=" * 50_000,
        "a." * 100_000 + "a = 1",
        "[" + "a." * 100_000 + "a]",
        'a = "' + "(" * 100_000,
        "language = 1\n[conditions]\nx = { is = '" + "(" * 3000 + "' }",
        "language = 1\n[conditions]\nx = { is = '" + "not " * 3000 + "x' }",
        "language = 1\n[conditions]\nx = { is = '" + "a and " * 50_000 + "x' }",
        "language = 1\n[board]\nid = 1" + "0" * 10_000,
        "a = '''\n" + "''" * 20_000,
        "x = 1979-05-27T07:32:00Z\nlanguage = 1979-13-45",
        "\x00",
        "language = 1\nlanguage = 1",
        '[a]\n"" = 1\n[[a]]',
        "language = 1\n" + "\n".join(f"[rules.r{n}]" for n in range(15_000)),
        "language = 1\n[conditions]\n" + "\n".join(f"c{n} = {{ is = 'c{n - 1} and c{n - 1}' }}" for n in range(1, 400)),
        "language = inf\n[board]\nid = nan",
        "[board]\nid = 1\ntitle = []\n[[inputs]]\n[conditions]\nx = 3\n[rules.x]\nkind = []\n"
        "[rules.y]\nkind = 'sequence'\nsteps = [1, [2]]",
    ],
)
def test_hostile_text_is_refused(text: str) -> None:
    """Deep, long or odd text gives problems, in bounded time and memory, and never another exception."""
    assert problems_of(text)


def test_problems_inside_escaped_and_long_texts_have_their_place() -> None:
    """An offset in a text with escapes or over several lines becomes the right line and column."""
    text = SMALL.replace('on = "thaw and turn"', 'on = """\n  thaw \\\n  and\\u0020\n  trun"""')
    problem = next(line for line in problems_of(text) if "trun" in line)
    line, column = place(text, "trun")
    assert problem.startswith(f"board.toml:{line}:{column}: outputs.heater.on")


def test_windows_line_ends_are_read() -> None:
    """A file saved with carriage returns reads the same, and places do not shift."""
    board = read_board_text(SMALL.replace("\n", "\r\n"), "board.toml")
    assert board == read_board_text(SMALL, "board.toml")
    assert board.outputs["heater"].at == read_board_text(SMALL, "board.toml").outputs["heater"].at


def test_lamps_take_over_from_the_board() -> None:
    """A lamp's tolerance is the board's unless it states its own."""
    lamp = read_board_text(SMALL, "board.toml").lamps["led"]
    assert isinstance(lamp, Lamp)
    assert lamp.tolerance == Tolerance(Fraction(5, 100), Fraction(5, 100))
