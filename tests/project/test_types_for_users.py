"""Who uses Boardgauge from typed code sees its types: a strict check passes a right program and finds a wrong one."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

CLONE = Path(__file__).resolve().parents[2]
api = pytest.importorskip("mypy.api")

RIGHT = """\
from pathlib import Path

from boardgauge.drafting import Session
from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Judgement
from boardgauge.language import Advice, Board, Problem, UnusableSpec, advise, read_board, write_board
from boardgauge.language.model import Lockout, Rule
from boardgauge.machine.compile import compile_board
from boardgauge.machine.scenario import play
from boardgauge.machine.scenario_reader import read_scenario
from boardgauge.traces import condition, read_recording


def lockouts(board: Board) -> list[str]:
    return [id_ for id_, rule in board.rules.items() if isinstance(rule, Lockout) and rule.clears is None]


def problems(path: Path) -> tuple[Problem, ...]:
    try:
        read_board(path)
    except UnusableSpec as error:
        return error.problems
    return ()


def judged(board: Board, log: Path) -> Judgement:
    return Judge.of(board).judge(condition(read_recording(log), None, board))


def first_change(board: Board, path: Path, output: str) -> int:
    scenario = read_scenario(path, board)
    return play(compile_board(board), scenario, "random", 1).outputs[output].changes[0][0]


def noted(board: Board) -> str:
    advice: tuple[Advice, ...] = advise(board)
    rule: Rule | None = next(iter(board.rules.values()), None)
    question = Session().open()
    return write_board(board) + str(advice) + str(rule) + ("" if question is None else question.words)
"""

WRONG = """\
from boardgauge.judging.judge import Judge
from boardgauge.language import read_board

board = read_board("tarnbeck.toml")
verdict: int = Judge.of(board).judge
limit: str = board.rules["hp_trips"].note.clause
"""


def _checked(folder: Path, text: str) -> tuple[str, int]:
    program = folder / "program.py"
    program.write_text(text, encoding="utf-8")
    # No configuration, as in a project of somebody else's; one cache for all of the tests here.
    said, failed, status = api.run(
        ["--strict", "--config-file=", "--cache-dir", str(folder.parent / "types"), "--no-error-summary", str(program)]
    )
    assert not failed
    return said, status


def test_types_are_seen(tmp_path_factory: pytest.TempPathFactory) -> None:
    """A program that uses specs, machine, recordings and judge rightly passes, and each wrong use is found."""
    folder = tmp_path_factory.mktemp("right")
    said, status = _checked(folder, RIGHT)
    assert (said, status) == ("", 0)
    said, status = _checked(folder, WRONG)
    assert status == 1
    assert re.findall(r":(\d+): error:.*\[([a-z-]+)\]", said) == [
        ("4", "arg-type"),
        ("5", "assignment"),
        ("6", "assignment"),
    ]
