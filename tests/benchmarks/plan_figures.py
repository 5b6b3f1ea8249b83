"""Put what bench plans came to into the documents, from where the benchmark of plans wrote it.

    python tests/benchmarks/plan_figures.py          tell which documents show other figures
    python tests/benchmarks/plan_figures.py --write  put the figures into them

``docs/plan-figures.toml`` is written by ``python tests/benchmarks/planning.py --write``, board by board, each with a
digest of what its spec says when prose is left out.

Law of this file: no figure of a plan is typed by hand. A document says between two comments of which boards it shows
the figures; what stands between them is made here.
"""

from __future__ import annotations

import hashlib
import re
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import tomlkit
from attrs import evolve

from boardgauge.boards import board_names, board_path
from boardgauge.language import Board, read_board
from boardgauge.language.writer import write_board
from boardgauge.pairing.differences import without_prose

CLONE = Path(__file__).resolve().parents[2]
STORE = CLONE / "docs" / "plan-figures.toml"
DOCUMENTS = (CLONE / "docs" / "plans.md", *sorted((CLONE / "docs" / "boards").glob("*.md")))
HEAD = """# What the benchmark of plans measured: python tests/benchmarks/planning.py --write. Do not edit.
# Times of bench are seconds; "planning" is seconds of one core.
"""
_SHOWN = re.compile(r"(<!-- plans: ([^>]*?) -->\n).*?(<!-- plans end -->)", re.DOTALL)
_HARMLESS = ("proved equivalent", "proved to make no difference")
Row = Mapping[str, Any]


def says(board: Board) -> str:
    """Give a digest of what a spec says of a board, its prose left out."""
    plain = without_prose(evolve(board, title="", text=None, source=None))
    return hashlib.sha256(write_board(plain).encode()).hexdigest()[:12]


def stored() -> dict[str, Row]:
    """Give the rows of the store, by the ids of their boards."""
    if not STORE.exists():
        return {}
    return dict(tomlkit.parse(STORE.read_text(encoding="utf-8")).unwrap())


def store(board: str, row: Row) -> None:
    """Put the row of a board into the store."""
    rows = {**stored(), board: row}
    STORE.write_text(HEAD + "\n" + tomlkit.dumps(dict(sorted(rows.items()))), encoding="utf-8")


def stale(rows: Mapping[str, Row]) -> list[str]:
    """Give the boards of which the spec says something else than when their figures were measured."""
    return [name for name, row in rows.items() if row["says"] != says(read_board(board_path(name)))]


def told(text: str, rows: Mapping[str, Row]) -> str:
    """Give a document with the figures of the boards that it names."""

    def block(match: re.Match[str]) -> str:
        every = match.group(2) == "all"
        names = board_names() if every else match.group(2).split()
        found = [{**rows[name], "board": name} for name in names if name in rows]
        lacking = [f"`{name}`" for name in names if name not in rows]
        table = "" if not found else whole_table(found) if every else own_table(found)
        gap = "" if table else "\n"
        none = f"{gap}Not measured: {', '.join(lacking)}.\n\n" if lacking else ""
        return match.group(1) + table + none + match.group(3)

    return _SHOWN.sub(block, text)


def proved(row: Row) -> int:
    """Count the faults that are proved to make no difference that a bench could bring about."""
    return sum(len(ids) for why, ids in row["left"].items() if why.startswith(_HARMLESS))


def left(row: Row) -> int:
    """Count the faults that are neither found nor proved to make no difference."""
    return sum(len(ids) for why, ids in row["left"].items() if not why.startswith(_HARMLESS))


def own_table(rows: Sequence[Row]) -> str:
    """Give the table for the page of a board: faults, and why some are not found."""
    head = "\n| | single faults | found | proved harmless | not found | bench time |\n|---|---|---|---|---|---|\n"
    lines = [
        f"| `{row['board']}` | {row['faults']} | {row['found']} | {proved(row)} | {left(row)} | {_time(row['bench'])} |"
        for row in rows
    ]
    why = [
        f"- `{row['board']}`, {reason}: {_named(reason, ids)}"
        for row in rows
        for reason, ids in row["left"].items()
        if not reason.startswith(_HARMLESS)
    ]
    return head + "\n".join([*lines, "", *why, "", ""] if why else [*lines, "", ""])


def _named(reason: str, ids: Sequence[str]) -> str:
    """Give faults by name; of those that nobody looked for any more how many they are."""
    return f"{len(ids)} of them" if "broken off" in reason else ", ".join(f"`{id_}`" for id_ in ids)


def whole_table(rows: Sequence[Row]) -> str:
    """Give the table of all boards: against the tour, and against chance."""
    head = (
        "\n| board | faults | found | proved harmless | not found | plan | tour | tour finds | plan finds as many in | "
        "chance finds | planning |\n|---|---|---|---|---|---|---|---|---|---|---|\n"
    )
    lines = [
        f"| {row['board']} | {row['faults']} | {row['found']} | {proved(row)} | {left(row)} | {_time(row['bench'])} "
        f"| {_time(row['tour'])} | {row['tour_found']} | {_equal(row)} | {row['chance_found']} "
        f"| {row['planning']:.0f} s |"
        for row in rows
    ]
    return head + "\n".join([*lines, "", summary(rows), "", ""])


def summary(rows: Sequence[Row]) -> str:
    """Say how far the goals are met."""
    faults = sum(row["faults"] for row in rows)
    found, harmless = sum(row["found"] for row in rows), sum(proved(row) for row in rows)
    open_ = sum(1 for row in rows if left(row))
    whole = sum(1 for row in rows if row["tour_found"] >= row["found"])
    half = sum(1 for row in rows if 0 <= 2 * row["equal_after"] <= row["tour"])
    no_longer = sum(1 for row in rows if 0 <= row["equal_after"] <= row["tour"])
    return (
        f"Of {faults} faults of {len(rows)} boards {found} are found and {harmless} proved to be harmless; "
        f"{faults - found - harmless}, on {open_} boards, are neither. The tour finds as many as the plan on {whole} "
        f"of the boards. As many as the tour the plan has found in half its time or less on {half}, in no more than "
        f"its time on {no_longer}."
    )


def _equal(row: Row) -> str:
    if row["equal_after"] < 0:
        return "never"
    return f"{_time(row['equal_after'])} ({100 * row['equal_after'] / row['tour']:.0f} %)"


def _time(seconds: float) -> str:
    if seconds < 90:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.1f} min" if seconds < 5_400 else f"{seconds / 3_600:.1f} h"


def main(write: bool) -> int:
    """Go through all documents; give the exit status."""
    rows = stored()
    others = 0
    for document in DOCUMENTS:
        text = document.read_text(encoding="utf-8")
        now = told(text, rows)
        if now != text:
            others += 1
            print(f"{document.relative_to(CLONE)}: shows other figures of plans than were measured")
            if write:
                document.write_text(now, encoding="utf-8")
    for name in stale(rows):
        print(f"{name}: its spec says something else by now; python tests/benchmarks/planning.py {name} --write")
    return 1 if others and not write else 0


if __name__ == "__main__":
    sys.exit(main("--write" in sys.argv[1:]))
