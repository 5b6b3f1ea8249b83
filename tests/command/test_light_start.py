"""What is typed most starts light: help needs the parser of options and nothing else.

Law: modules are counted, never seconds.
"""

from __future__ import annotations

import subprocess
import sys

PROGRAM = """
import sys
before = set(sys.modules)  # some systems load a module of their own with the interpreter
from boardgauge.command import main

try:
    main()
finally:
    found = {name.split(".")[0] for name in sys.modules if name not in before} - set(sys.stdlib_module_names)
    print("loaded:", *sorted(name for name in found if not name.startswith("_")))
"""


def loaded(*arguments: str) -> set[str]:
    """Give the packages of others that a command has loaded by its end."""
    run = subprocess.run([sys.executable, "-c", PROGRAM, *arguments], capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    last = run.stdout.splitlines()[-1]
    assert last.startswith("loaded: ")
    return set(last.split()[1:]) - {"boardgauge"}


def test_help_loads_the_parser_of_options_alone() -> None:
    """Of the whole program and of one command."""
    assert loaded("--help") == {"click"}
    assert loaded("judge", "--help") == {"click"}
