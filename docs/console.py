"""Run the commands that the documents show, and put what they print back into the documents.

    python docs/console.py          tell which documents no longer show what their commands print
    python docs/console.py --write  put what they print now into them, and draw the pictures anew

Law of this file: a document is read as its reader would read it. The commands of a ``console`` block are run in order,
from the folder of the clone (a copy of what they need stands in for it); a line ``...`` stands for lines left out:
as many lines are shown before and after it as before; ``…`` inside a line for what is another each time, such as the
moment of printing. Only ``boardgauge``, ``cat`` and ``echo $?`` are run.
"""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path

CLONE = Path(__file__).resolve().parent.parent
DOCUMENTS = (CLONE / "README.md", *sorted((CLONE / "docs").rglob("*.md")))
NEEDED = ("README.md", "docs", "spec", "tests")
PROGRAM = "import sys; sys.argv[0] = 'boardgauge'; from boardgauge.command import main; main()"
PICTURES = ("overview", "defrost", "hp_wait")
CURVES = ("ntc-10k",)
LEFT_OUT = "..."
CHANGES = "…"

_BLOCK = re.compile(r"^```console\n(.*?)^```$", re.MULTILINE | re.DOTALL)


@dataclass
class Command:
    """A command as shown, what the document shows of its output, and what it printed."""

    text: str
    shown: list[str]
    printed: list[str]
    status: int = 0

    def again(self) -> list[str]:
        """Give what the document should show: all that was printed, or as much of it as it showed before."""
        printed = [self._like_before(line) for line in self.printed]
        if LEFT_OUT not in self.shown:
            return printed
        at = self.shown.index(LEFT_OUT)
        tail = len(self.shown) - at - 1
        if len(printed) <= at + tail:
            return printed
        return [*printed[:at], LEFT_OUT, *printed[len(printed) - tail :]]

    def _like_before(self, line: str) -> str:
        """Give a printed line as the document shows it, where it shows that a part of it changes."""
        return next((shown for shown in self.shown if shows(shown, line)), line)


def shows(shown: str, line: str) -> bool:
    """Tell whether a line of a document stands for a printed line of which a part is another each time."""
    return CHANGES in shown and re.fullmatch(".+".join(map(re.escape, shown.split(CHANGES))), line) is not None


def blocks_of(text: str) -> list[list[Command]]:
    """Give the commands of each console block of a document."""
    found = []
    for block in _BLOCK.finditer(text):
        commands: list[Command] = []
        for line in block.group(1).splitlines():
            if line.startswith("$ "):
                commands.append(Command(line[2:], [], []))
            elif commands:
                commands[-1].shown.append(line)
        found.append(commands)
    return found


def run_blocks(blocks: list[list[Command]], folder: Path) -> None:
    """Run the commands of one document in a folder, and note what they print."""
    status = 0
    for command in (command for block in blocks for command in block):
        if command.text == "echo $?":
            command.printed = [str(status)]
            continue
        words = shlex.split(command.text)
        if words[0] == "boardgauge":
            words = [sys.executable, "-c", PROGRAM, *words[1:]]
        elif words[0] != "cat":
            raise ValueError(f"{command.text!r} is not run: the documents show boardgauge, cat and echo $? only")
        environment = {**os.environ, "COLUMNS": "100", "NO_COLOR": "1", "PYTHONIOENCODING": "utf-8"}
        done = subprocess.run(
            words, cwd=folder, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
            encoding="utf-8", env=environment, check=False,
        )  # fmt: skip
        command.printed = done.stdout.replace(f"{CLONE}{os.sep}", "").rstrip().splitlines()
        command.status = status = done.returncode


def like_a_clone(folder: Path) -> None:
    """Make a folder look like the clone to the commands, so that what they write stays out of the clone."""
    for name in NEEDED:
        (folder / name).symlink_to(CLONE / name)


def rewritten(text: str, blocks: list[list[Command]]) -> str:
    """Give the document with what its commands printed."""
    again = iter(blocks)

    def block(_: re.Match[str]) -> str:
        lines = ["```console"]
        for command in next(again):
            lines += [f"$ {command.text}", *command.again()]
        return "\n".join([*lines, "```"])

    return _BLOCK.sub(block, text)


def main(write: bool) -> int:
    """Go through all documents; give the exit status."""
    stale = 0
    for document in DOCUMENTS:
        text = document.read_text(encoding="utf-8")
        blocks = blocks_of(text)
        with tempfile.TemporaryDirectory() as folder:
            like_a_clone(Path(folder))
            run_blocks(blocks, Path(folder))
        now = rewritten(text, blocks)
        if now != text:
            stale += 1
            print(f"{document.relative_to(CLONE)}: shows what is no longer printed")
            for old, new in zip_longest(text.splitlines(), now.splitlines()):
                if old != new:
                    print(f"  first difference:\n  - {old}\n  + {new}")
                    break
            if write:
                document.write_text(now, encoding="utf-8")
    if write:
        for what in PICTURES:
            target = f"docs/pictures/tarnbeck-{what}.svg"
            subprocess.run(
                [sys.executable, "-c", PROGRAM, "draw", "tarnbeck", "--what", what, "-o", target], cwd=CLONE, check=True
            )
        for curve in CURVES:
            target = f"docs/pictures/sensor-{curve}.svg"
            subprocess.run([sys.executable, "-c", PROGRAM, "sensor", curve, "-o", target], cwd=CLONE, check=True)
    return 1 if stale and not write else 0


if __name__ == "__main__":
    sys.exit(main("--write" in sys.argv[1:]))
