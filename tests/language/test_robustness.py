"""Whatever happens to a spec, the reader gives a board or the problems; and it does so from a light import."""

from __future__ import annotations

import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.language import Board, Problem, UnusableSpec, read_board_text, write_board
from language_examples import CELLAR_FAN, EXAMPLES, SMALL, VARIANT

TEXTS = [*EXAMPLES.values(), SMALL, VARIANT]
SCRAPS = [
    '"',
    "{",
    "}",
    "[",
    "]",
    "=",
    "\n",
    "#",
    "(",
    ")",
    "or",
    "not ",
    " for 2 s",
    "begins",
    "1",
    "[[",
    "'''",
    "±",
    "\\",
    "-",
]


def outcome(text: str) -> str:
    """Read a text; give what came of it. Any other exception than the reader's own is a failure."""
    board: Board | None = None
    problems: tuple[Problem, ...] = ()
    try:
        board = read_board_text(text, "board.toml", library={"fan.toml": CELLAR_FAN}.get)
    except UnusableSpec as error:
        problems = error.problems
    if board is None:
        assert problems
        assert all(problem.at.line >= 1 and problem.at.column >= 1 and str(problem) for problem in problems)
        return "refused"
    assert read_board_text(write_board(board), "again.toml") == board
    return "read"


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_a_spec_with_scraps_put_in_is_read_or_refused(data: st.DataObject) -> None:
    """Characters put in, taken out or put in place of others never bring the reader down."""
    text = data.draw(st.sampled_from(TEXTS))
    for _ in range(data.draw(st.integers(1, 3))):
        start = data.draw(st.integers(0, len(text)))
        length = data.draw(st.integers(0, 12))
        text = text[:start] + data.draw(st.sampled_from(SCRAPS) | st.text(max_size=3)) + text[start + length :]
    outcome(text)


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_a_spec_with_lines_mixed_up_is_read_or_refused(data: st.DataObject) -> None:
    """Lines left out, doubled or moved never bring the reader down."""
    lines = data.draw(st.sampled_from(TEXTS)).split("\n")
    for _ in range(data.draw(st.integers(1, 4))):
        at, to = (data.draw(st.integers(0, len(lines) - 1)) for _ in range(2))
        match data.draw(st.sampled_from(["leave out", "double", "move"])):
            case "leave out" if len(lines) > 1:
                del lines[at]
            case "double":
                lines.insert(to, lines[at])
            case _:
                lines.insert(to, lines.pop(at))
    outcome("\n".join(lines))


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_a_spec_with_values_exchanged_is_read_or_refused(data: st.DataObject) -> None:
    """Values of any sort at any key never bring the reader down."""
    lines = data.draw(st.sampled_from(TEXTS)).split("\n")
    at = data.draw(st.integers(0, len(lines) - 1))
    key = lines[at].partition("=")[0] or "x"
    values = [
        "1",
        "-1",
        "true",
        "1.5",
        "[]",
        "{}",
        "[1]",
        '["a"]',
        "[{}]",
        "{ a = 1 }",
        '""',
        "1979-05-27",
        "nan",
        "0x10",
    ]
    lines[at] = f"{key}= {data.draw(st.sampled_from(values))}"
    outcome("\n".join(lines))


def test_importing_the_package_is_light() -> None:
    """The package loads neither the parser nor numbers of libraries until a reader is used."""
    heavy = ("lark", "rapidfuzz", "tomllib")
    code = f"import sys, boardgauge.language; print([name for name in {heavy} if name in sys.modules])"
    shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert shown.strip() == "[]"


def test_the_public_face_is_complete() -> None:
    """Every name that the package offers can be had from it, and no other."""
    import boardgauge.language as language

    for name in language.__all__:
        assert getattr(language, name) is not None
    assert dir(language) == sorted(language.__all__)
    with pytest.raises(AttributeError, match="nothing"):
        getattr(language, "nothing")  # noqa: B009
