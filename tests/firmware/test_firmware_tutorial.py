"""The tutorial on firmware is so: its firmware compiles, its tests pass, and the bug is found as the page shows it."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from exports.compiled_boards import needs_compiler

CLONE = Path(__file__).resolve().parents[2]
PAGE = CLONE / "docs" / "firmware-tutorial.md"
pytestmark = [
    needs_compiler,
    pytest.mark.skipif(shutil.which("make") is None, reason="there is no make on the path"),
]


def steps_of(page: Path) -> list[tuple[str, list[str]]]:
    """Give each command of the page that needs a shell, with the lines that are shown of what it prints."""
    found = []
    pattern = r"^```sh\n(.*?)^```\n(?:\n```text\n(.*?)^```)?"
    for command, shown in re.findall(pattern, page.read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL):
        found.append((command.strip(), [line.strip() for line in shown.splitlines() if line.strip()]))
    return found


def test_the_tutorial_does_what_it_shows(tmp_path: Path) -> None:
    """Every command is run in a copy of the folder, in its order, and prints every line that is shown, in its order."""
    folder = tmp_path / "firmware"
    shutil.copytree(CLONE / "docs" / "firmware", folder, ignore=shutil.ignore_patterns("build", "*_firmware.h"))
    programs = tmp_path / "programs"
    programs.mkdir()
    for name, command in (
        ("boardgauge", "from boardgauge.command import main; main()"),
        ("pytest", "import pytest; raise SystemExit(pytest.main())"),
    ):
        (programs / name).write_text(f'#!/bin/sh\nexec {shlex.quote(sys.executable)} -c "{command}" "$@"\n')
        (programs / name).chmod(0o755)
    # The profile of Hypothesis draws the same examples every time; the bug is found with any, given time.
    environment = {k: v for k, v in os.environ.items() if not k.startswith("PYTEST_")}
    environment |= {"PATH": f"{programs}{os.pathsep}{os.environ['PATH']}", "CI": "true"}
    steps = steps_of(PAGE)
    assert [command.split()[0] for command, _ in steps] == ["make", *["pytest"] * 3, "FAN=fan_small.so"]
    page = folder / "test_any_use.py"
    whole = page.read_text(encoding="utf-8")
    # To find nothing takes as long as it is let to: here fewer examples do. The bug is looked for as on the page.
    fewer = "\nfrom hypothesis import settings\nTestAnyUse.settings = settings(TestAnyUse.settings, max_examples=15)\n"
    for command, shown in steps:
        page.write_text(whole if "failed" in " ".join(shown) else whole + fewer, encoding="utf-8")
        done = subprocess.run(
            command, shell=True, cwd=folder, env=environment, capture_output=True, text=True, timeout=300, check=False
        )
        printed = done.stdout + done.stderr
        assert (done.returncode == 0) == ("failed" not in " ".join(shown)), printed
        assert "warning" not in printed.lower(), printed
        place = 0
        for line in shown:
            at = printed.find(line, place)
            assert at >= 0, f"{command}: {line!r} is not printed (any more, in this order)\n{printed}"
            place = at
