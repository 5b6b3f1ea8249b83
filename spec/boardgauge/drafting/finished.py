"""A finished draft, as the text of a spec with comments.

Law of this module: the text is that of the language's own writer; only comments are put in, and reading it gives the
very board that was written. A proposed time that nobody confirmed is marked where it stands.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

from boardgauge.drafting.interview import Interview
from boardgauge.drafting.session import FILE, spec_text
from boardgauge.drafting.wording import KINDS, SECTIONS
from boardgauge.language.model import Board
from boardgauge.language.reader import read_board_text
from boardgauge.language.writer import write_board

MEASURE = "# proposed, not from a document: look it up or measure it"
_WIDTH = 100
_HEAD = (
    "A draft, made by asking. Go through it with the manual and somebody who knows the board; then",
    "",
    "  boardgauge vet {file}",
    "  boardgauge draw {file}",
    "",
    "docs/writing-a-spec.md says more about each table. For an editor that completes the keys, see the output of",
    "`boardgauge schema --help`.",
)
_NOTES = {
    "inputs": ("The contact of a switch is how it rests. It never changes what open and closed mean.",),
    "requirements": ("These are proved of the spec, and watched on every recording.",),
}


def board_of(answers: Mapping[str, str]) -> Board:
    """Give the board that the answers make. Raises UnusableSpec where they do not make one."""
    return read_board_text(spec_text(answers), FILE)


def proposed_by_us(answers: Mapping[str, str], every_key: bool = False) -> frozenset[str]:
    """Give the ids of the answers that are our proposals, taken as they were."""
    asked = Interview(answers, every_key).asked()
    return frozenset(one.id for one in asked if one.proposed and answers.get(one.id) == one.default)


def commented(board: Board, file: str, proposed: Collection[str] = ()) -> str:
    """Write a board as a spec with comments; ``proposed`` are the keys whose times nobody confirmed."""
    head = [f"# {line}".rstrip() for line in _HEAD]
    out = ["\n".join(head).format(file=file)]
    seen = {""}
    # Texts are written with their line ends escaped, so an empty line stands between tables only.
    for block in write_board(board).rstrip("\n").split("\n\n"):
        lines = block.split("\n")
        table = lines[0].strip("[]")
        section = table.partition(".")[0] if lines[0].startswith("[") else ""
        if section not in seen:
            seen.add(section)
            notes = ["", *_NOTES.get(section, ())]
            out.append(f"# ---- {SECTIONS[section]} ".ljust(_WIDTH, "-") + "\n# ".join(notes))
        marked = [_marked(line, table, proposed) for line in lines]
        kind = next((line for line in lines if line.startswith('kind = "')), "")
        if section == "rules":
            marked.insert(0, f"# {kind[8:-1]}: {KINDS[kind[8:-1]]}")
        out.append("\n".join(marked))
    text = "\n\n".join(out) + "\n"
    assert read_board_text(text, FILE) == board, "a comment changed the board"
    return text


def _marked(line: str, table: str, proposed: Collection[str]) -> str:
    key = line.partition(" = ")[0]
    return f"{line}  {MEASURE}" if f"{table}.{key}" in proposed else line
