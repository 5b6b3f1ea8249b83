"""``boardgauge new``: what a person sees and what stands on the disk afterwards."""

from __future__ import annotations

import builtins
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from boardgauge.boards import board_path
from boardgauge.command import main
from boardgauge.command.failing import CONFORMS, INTERRUPTED, UNUSABLE
from boardgauge.drafting import read_answers
from boardgauge.language import read_board

ANSWERS = [
    "board.title=Fan control (invented)",
    "board.tolerance=± 10 %",
    "inputs=call",
    "outputs=motor",
    "rules=rest",
    "rules.rest.begins=motor ends",
    "rules.rest.lasts=30 s",
    "outputs.motor.on=call and not rest",
]


@pytest.fixture(autouse=True)
def _in_an_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def _new(*arguments: str, typed: str | None = None, answers: list[str] | None = None) -> Result:
    given = [word for answer in answers or [] for word in ("--answer", answer)]
    return CliRunner().invoke(main, ["new", *arguments, *given], input=typed)


def test_answers_alone_make_a_spec_that_vet_accepts() -> None:
    """With --no-asking nobody is asked: the answers and the defaults make a spec, and vet accepts it."""
    result = _new("fan", "--no-asking", answers=ANSWERS)
    assert result.exit_code == CONFORMS, result.output
    assert "written: fan.toml" in result.output
    assert read_board(Path("fan.toml")).id == "fan"
    vetted = CliRunner().invoke(main, ["vet", "fan.toml"])
    assert vetted.exit_code == CONFORMS, vetted.output


def test_asking_makes_the_same_spec() -> None:
    """Typed at the questions, the same answers make the same file."""
    assert _new("fan", "--no-asking", "-o", "one.toml", answers=ANSWERS).exit_code == CONFORMS
    typed = ["Fan control (invented)", "", "± 10 %", "", "call", "", "", "motor", "", "rest", "", "", ""]
    typed += ["motor ends", "30 s", "", "", "call and not rest", "", "", "", "", ""]
    result = _new("fan", "-o", "two.toml", typed="\n".join(typed) + "\n")
    assert result.exit_code == CONFORMS, result.output
    assert Path("two.toml").read_text("utf-8").replace("two.toml", "one.toml") == Path("one.toml").read_text("utf-8")


def test_a_wrong_answer_is_told_and_asked_again() -> None:
    """A word that is not known is told with the nearest one; nothing is lost by it."""
    result = _new("fan", typed="Fan\n" + 5 * "\n" + "?\n", answers=[*ANSWERS[1:5], "rules.rest.kind=dely"])
    assert "'dely' is not one of them" in result.output
    assert "did you mean 'delay'?" in result.output
    assert "a stretch of time that begins at an event" in result.output, "? tells of the kinds"


def test_no_file_is_written_over_untold() -> None:
    """A file that is there stays as it is, and that is told before the first question; --overwrite says otherwise."""
    Path("fan.toml").write_text("mine", encoding="utf-8")
    result = _new("fan", "--no-asking", answers=ANSWERS)
    assert result.exit_code == UNUSABLE
    assert "is there already" in result.output
    assert Path("fan.toml").read_text("utf-8") == "mine"
    assert "title" not in _new("fan", typed="").output
    assert _new("fan", "--no-asking", "--overwrite", answers=ANSWERS).exit_code == CONFORMS
    assert read_board(Path("fan.toml")).id == "fan"


def _typing(monkeypatch: pytest.MonkeyPatch, lines: list[str]) -> None:
    """Let a person type some lines and then press Ctrl-C."""

    def typed() -> Iterator[str]:
        yield from lines

    script = typed()

    def line(prompt: str = "") -> str:
        try:
            return next(script)
        except StopIteration:
            raise KeyboardInterrupt from None

    monkeypatch.setattr(builtins, "input", line)


def test_ctrl_c_keeps_what_was_answered(monkeypatch: pytest.MonkeyPatch) -> None:
    """Broken off, the answers stand in a file of their own, from which the next run goes on."""
    _typing(monkeypatch, ["Fan control (invented)", "", "± 10 %"])
    broken = _new("fan")
    assert broken.exit_code == INTERRUPTED
    assert "boardgauge new --answers fan.answers.toml" in broken.output
    kept = read_answers(Path("fan.answers.toml"))
    assert kept == {
        "board.id": "fan",
        "board.title": "Fan control (invented)",
        "board.source": "",
        "board.tolerance": "± 10 %",
    }
    assert not Path("fan.toml").exists()
    again = _new("--answers", "fan.answers.toml", "--no-asking", answers=ANSWERS[2:])
    assert again.exit_code == CONFORMS, again.output
    assert read_board(Path("fan.toml")).title == "Fan control (invented)"


def test_the_command_to_go_on_with_can_be_typed(monkeypatch: pytest.MonkeyPatch) -> None:
    """It names the file as a shell reads it, and asks, writes and writes over as the first did."""
    _typing(monkeypatch, ["one"])
    broken = _new("fan", "--every-key", "--overwrite", "-o", "my fan.toml")
    told = shlex.split(broken.output.partition("go on with: ")[2])
    words = ["boardgauge", "new", "--answers", "my fan.answers.toml"]
    assert told == [*words, "-o", "my fan.toml", "--every-key", "--overwrite"]
    assert Path(told[3]).exists()


def test_a_second_break_keeps_the_first_file(monkeypatch: pytest.MonkeyPatch) -> None:
    """What was kept before is not written over either."""
    for title in ("one", "two"):
        _typing(monkeypatch, [title])
        assert _new("fan").exit_code == INTERRUPTED
    assert read_answers(Path("fan.answers.toml"))["board.title"] == "one"
    assert read_answers(Path("fan.answers-2.toml"))["board.title"] == "two"


def test_answers_gone_back_from_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C just after going back loses nothing."""
    _typing(monkeypatch, ["Fan", "", "± 10 %", "< board.title"])
    assert _new("fan").exit_code == INTERRUPTED
    assert read_answers(Path("fan.answers.toml"))["board.tolerance"] == "± 10 %"


def test_the_end_of_what_is_typed_is_no_answer() -> None:
    """Where there is no more to read, the answers are kept and the status is that of what cannot be used."""
    result = _new("fan", typed="Fan\n")
    assert result.exit_code == UNUSABLE
    assert read_answers(Path("fan.answers.toml"))["board.title"] == "Fan"


@pytest.mark.parametrize(
    ("arguments", "answers", "told"),
    [
        (["fan", "--no-asking"], ANSWERS[1:], "board.title: an answer is needed"),
        (["fan", "--no-asking"], [*ANSWERS, "rules.rest.last=3 s"], "did you mean 'rules.rest.lasts'?"),
        (["fan", "--no-asking"], [*ANSWERS, "rules.rest.lasts=3"], "rules.rest.lasts: "),
        (["fan", "--no-asking"], ["outputs"], "expected KEY=TEXT"),
        (["a/b", "--no-asking"], ANSWERS, "used in file names"),
        (["fan", "-o", "nowhere/fan.toml"], ANSWERS, "there is no folder nowhere"),
        (["fan", "-o", "."], ANSWERS, "is a folder"),
        (["--answers", "nowhere.toml"], [], "cannot be read"),
        (["fan", "--like", "tarnbek"], [], "did you mean 'tarnbeck'?"),
        (["--like", "tarnbeck"], [], "name is needed"),
        (["tarnbeck", "--like", "tarnbeck"], [], "choose another"),
    ],
)
def test_what_cannot_be_used_is_two(arguments: list[str], answers: list[str], told: str) -> None:
    """Whatever is wrong on the command line is told in words, and nothing is written."""
    result = _new(*arguments, answers=answers)
    assert result.exit_code == UNUSABLE, result.output
    assert told in result.output
    assert "Traceback" not in result.output
    assert not list(Path().glob("*.toml"))


def test_a_board_like_another_is_a_variant_beside_it() -> None:
    """--like writes a variant and every board it stands on, as the library has them; vet accepts it."""
    result = _new("mine", "--like", "tarnbeck-thermistor")
    assert result.exit_code == CONFORMS, result.output
    assert Path("tarnbeck.toml").read_bytes() == board_path("tarnbeck").read_bytes()
    mine, like = read_board(Path("mine.toml")), read_board(board_path("tarnbeck-thermistor"))
    assert (mine.id, mine.rules) == ("mine", like.rules)
    assert _new("mine-2", "--like", "tarnbeck").exit_code == CONFORMS, "a base that is there already is used"


def test_a_base_that_differs_is_not_written_over() -> None:
    """A file of the base's name with something else in it is left alone, and nothing is written."""
    Path("tarnbeck.toml").write_text("mine", encoding="utf-8")
    result = _new("mine", "--like", "tarnbeck")
    assert result.exit_code == UNUSABLE
    assert Path("tarnbeck.toml").read_text("utf-8") == "mine"
    assert not Path("mine.toml").exists()


def test_a_file_that_comes_meanwhile_costs_no_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that somebody writes while questions are answered is not written over, and the answers are kept."""

    def line(prompt: str = "") -> str:
        Path("fan.toml").write_text("theirs", encoding="utf-8")
        return ""

    monkeypatch.setattr(builtins, "input", line)
    result = _new("fan", answers=ANSWERS)
    assert result.exit_code == UNUSABLE
    assert Path("fan.toml").read_text("utf-8") == "theirs"
    assert read_answers(Path("fan.answers.toml"))["rules.rest.lasts"] == "30 s"


def test_asked_without_a_name_the_first_question_is_the_name() -> None:
    """Without NAME the id is asked for, and a file of that name is told at once."""
    Path("fan.toml").write_text("mine", encoding="utf-8")
    result = _new(typed="fan\n")
    assert "What is the board called" in result.output
    assert "fan.toml is there already" in result.output
    assert result.exit_code == UNUSABLE


def test_a_name_can_be_added_on_the_way() -> None:
    """Who finds that a rule is missing goes back, names it, tells of it, and goes forward over what was told."""
    typed = [
        "Fan",
        "",
        "± 10 %",
        "",
        "call",
        "",
        "",
        "motor",
        "",
        "rest",
        "delay",
        "",
        "",
        "motor ends",
        "30 s",
        "",
        "",
    ]
    typed += ["call and not rest and not pause", "< rules", "rest, pause", ">", "delay", ">"]
    typed += ["motor ends", "5 s", "", "", "call and not rest and not pause", "", "", "", "", ""]
    result = _new("fan", typed="\n".join(typed) + "\n")
    assert "there is nothing called 'pause'" in result.output
    assert "A name can still be added" in result.output
    assert result.exit_code == CONFORMS, result.output
    assert set(read_board(Path("fan.toml")).rules) == {"rest", "pause"}


def test_a_question_says_what_it_is_about() -> None:
    """Of several things alike each question names its own; of a rule it says the kind, which was told long before."""
    result = _new("fan", typed=3 * "\n", answers=[*ANSWERS[:2], "inputs=call, winding"])
    assert "\ncall: what is it? For example" in result.output
    given = [*ANSWERS[:2], "inputs=", *ANSWERS[3:5], "rules.rest.kind=lockout", "outputs.motor.text=fan motor"]
    result = _new("fan", typed=6 * "\n", answers=given)
    assert "\nrest (lockout): what trips it?" in result.output


def test_kinds_are_explained_when_they_are_first_chosen_from() -> None:
    """What each kind is stands above the first choice of one; the second time their names do."""
    result = _new("fan", typed=7 * "\n", answers=[*ANSWERS[:2], "inputs=call, winding"])
    assert result.output.count("button  pressed, released") == 1
    assert result.output.count("one of: call, signal, switch") == 1


def test_no_line_of_a_file_that_nobody_sees_is_told() -> None:
    """A name that is taken is told by what has it; the draft has no lines yet."""
    result = _new("fan", typed="\n\n\n\ncall\n", answers=ANSWERS[:3])
    assert "the name 'call' is taken by inputs.call\n" in result.output


def test_the_next_step_is_told_and_works() -> None:
    """What is told as the next step can be typed as it stands, whatever the file is called."""
    result = _new("fan", "--no-asking", "-o", "my fan.toml", answers=ANSWERS)
    [line] = [line for line in result.output.splitlines() if line.startswith("next: ")]
    for command in ("vet", "draw"):
        assert f"boardgauge {command} 'my fan.toml'" in line
        assert CliRunner().invoke(main, [command, "my fan.toml"]).exit_code == CONFORMS
