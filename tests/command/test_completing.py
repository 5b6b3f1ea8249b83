"""What a shell is told at the Tab key."""

from __future__ import annotations

import os
import pty
import select
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner

from boardgauge.boards import board_names, wiring_names
from boardgauge.command import main

PROGRAM = "import sys; sys.argv[0] = 'boardgauge'; from boardgauge.command import main; main()"


def _offered(folder: Path, *words: str) -> list[str]:
    """Give what is offered for the last of the words, as bash would ask for it."""
    line = " ".join(("boardgauge", *words))
    asked = {"_BOARDGAUGE_COMPLETE": "bash_complete", "COMP_WORDS": line, "COMP_CWORD": str(len(words))}
    run = subprocess.run(
        [sys.executable, "-c", PROGRAM],
        cwd=folder,
        env={**os.environ, **asked},
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.stderr == ""
    return run.stdout.split()


def test_boards_and_specs_are_offered(tmp_path: Path) -> None:
    """A board is completed from the library and from the specs of this folder."""
    (tmp_path / "tar.toml").write_text("", encoding="utf-8")
    offered = _offered(tmp_path, "judge", "tar")
    assert offered == [f"plain,{name}" for name in board_names() if name.startswith("tar")] + ["plain,tar.toml"]


def test_a_path_is_left_to_the_shell(tmp_path: Path) -> None:
    """What can only be a file is completed by the shell itself."""
    assert _offered(tmp_path, "vet", "specs/fa") == ["file,specs/fa"]


def test_wirings_are_offered(tmp_path: Path) -> None:
    """--wiring is completed by the ids of wirings."""
    wanted = [f"plain,{name}" for name in wiring_names() if name.startswith("tarnbeck-")]
    assert _offered(tmp_path, "judge", "tarnbeck", "--wiring", "tarnbeck-") == wanted


def test_faults_of_the_board_are_offered(tmp_path: Path) -> None:
    """--fault is completed by the faults of the board that was named before it."""
    from boardgauge.command.finding import find_board
    from boardgauge.faults import faults_of

    wanted = {f"plain,{each.id}" for each in faults_of(find_board("iec-ton")) if each.id.startswith("q")}
    assert set(_offered(tmp_path, "simulate", "iec-ton", "steps.toml", "--fault", "q")) == wanted
    assert wanted


@pytest.mark.parametrize(
    "words", [("simulate", "no-such-board", "x", "--fault", "a"), ("export", "broken.toml", "--setting", "a")]
)
def test_completing_never_fails(tmp_path: Path, words: tuple[str, ...]) -> None:
    """A spec that cannot be used offers nothing, and says nothing either."""
    (tmp_path / "broken.toml").write_text("this is no TOML", encoding="utf-8")
    assert _offered(tmp_path, *words) == []


def test_commands_are_offered(tmp_path: Path) -> None:
    """The commands themselves are completed, at once: nothing of the machine or of arrays is loaded for it."""
    assert _offered(tmp_path, "ve") == ["plain,vet"]
    heavy = (
        "import boardgauge.command, boardgauge.command.completing, sys\n"
        "print([name for name in ('numpy', 'lark', 'tomlkit', 'boardgauge.machine') if name in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", heavy], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_each_shell_has_its_script(shell: str) -> None:
    """The script of each shell asks the program by its name."""
    result = CliRunner().invoke(main, ["completion", shell])
    assert result.exit_code == 0
    assert "_BOARDGAUGE_COMPLETE" in result.output
    assert CliRunner().invoke(main, ["completion", "sh"]).exit_code == 2


@pytest.fixture
def program(tmp_path: Path) -> str:
    """A path for a shell on which the program is found by its name."""
    program = tmp_path / "boardgauge"
    program.write_text(f"#!{sys.executable}\n{PROGRAM.replace('; ', chr(10))}\n")
    program.chmod(0o755)
    return f"{tmp_path}:{os.environ['PATH']}"


@pytest.mark.skipif(shutil.which("fish") is None, reason="no fish here")
def test_fish_completes(program: str) -> None:
    """Asked as at a Tab key, fish offers the boards that begin so."""
    ask = 'boardgauge completion fish | source; complete -C "boardgauge draw tarnbeck-"'
    run = subprocess.run(["fish", "-c", ask], env={**os.environ, "PATH": program}, capture_output=True, check=True)
    assert run.stdout.decode().split() == ["tarnbeck-renewed", "tarnbeck-thermistor"]


@pytest.mark.skipif(shutil.which("zsh") is None, reason="no zsh here")
def test_zsh_completes(program: str) -> None:
    """On a terminal, with its completion switched on as the documents say, the Tab key ends the name."""
    process, terminal = pty.fork()
    if not process:
        os.environ.update(TERM="dumb", PATH=program)
        os.execvp("zsh", ["zsh", "-f", "-i"])
    try:
        os.write(terminal, b"autoload -U compinit && compinit -u -D && echo so''far\n")
        _said(terminal, b"sofar")
        os.write(terminal, b"eval \"$(boardgauge completion zsh)\" && echo so''far\n")
        _said(terminal, b"sofar")
        os.write(terminal, b"boardgauge draw tarnbeck-t\t")
        _said(terminal, b"tarnbeck-thermistor")
    finally:
        os.close(terminal)
        os.waitpid(process, 0)


def _said(terminal: int, wanted: bytes) -> None:
    """Wait until a terminal says a word."""
    heard, end = b"", time.monotonic() + 60
    while wanted not in heard:
        assert time.monotonic() < end, heard
        if select.select([terminal], [], [], 0.5)[0]:
            heard += os.read(terminal, 4096)
