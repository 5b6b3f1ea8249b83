"""Law: the benchmark of proving runs, each reduction keeps fewer zones, and the verdict is there."""

from __future__ import annotations

import importlib.util
import re
import subprocess
import sys
from pathlib import Path

PROGRAM = Path(__file__).with_name("proving.py")


def test_the_benchmark_measures_a_small_board() -> None:
    """With four timings it prints a row for each reduction; nothing here looks at a time."""
    asked = [sys.executable, str(PROGRAM), "--most", "300", "--up-to", "4", "--boards"]
    done = subprocess.run(asked, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    first, second = done.stdout.split("\nBoards that grow, and")
    assert second.count("as it is proved: proved") == 3
    last = first.splitlines()[-6:]
    zones = [int(found) for found in re.findall(r"(\d+) zones ", "\n".join(last))]
    assert zones[1] < zones[0]
    assert zones[2] <= zones[1]
    assert zones[4] < zones[3]
    assert "bound reached" not in last[1]
    assert "as it is proved: proved" in last[-1]
    assert all(re.search(r"[1-9]\d* zones/s +\d+\.\d MB", line) for line in last)


def test_the_table_of_the_library_tells_what_was_decided() -> None:
    """Of boards asked for: one that takes next to nothing and has nothing to decide."""
    asked = [sys.executable, str(PROGRAM), "--library", "iec-ton", "heat-pump-defrost"]
    done = subprocess.run(asked, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert re.search(r"\| (2 others, each|iec-ton) \| .+ \| [\d,]+ \| .+ \| \d+ \|", done.stdout)


def test_the_table_stands_between_its_marks_and_has_every_board() -> None:
    """Putting a table in leaves the rest of the document alone; the one in it leaves no board out."""
    spec = importlib.util.spec_from_file_location("proving_benchmark", PROGRAM)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["proving_benchmark"] = module
    spec.loader.exec_module(module)
    text = module.DOCUMENT.read_text(encoding="utf-8")
    shown = text.split(module.BEGINS)[1].split(module.ENDS)[0].strip()
    assert module.put_in(text, shown) == text
    assert module.put_in(text, "| a |").replace("| a |", shown) == text
    others = int(re.search(r"\| (\d+) others", shown).group(1))  # type: ignore[union-attr]
    named = [name for name in module.board_names() if f"| {name} |" in shown]
    assert len(named) + others == len(module.board_names())
