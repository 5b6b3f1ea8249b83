"""Join the page from its parts.

Law of this module: the parts are files beside it, put together in a fixed order; nothing is fetched, nothing refers to
another file, and the same machine gives the same page to the byte. These are the only files that this package reads.
"""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files

from boardgauge.machine.table import Machine
from boardgauge.page.table import page_table

ENGINE = (
    "codes.js",
    "picture.js",
    "moves.js",
    "settle.js",
    "board_time.js",
    "timekeeper.js",
    "filtering.js",
    "terminals.js",
    "showing.js",
    "lamps.js",
    "board.js",
)


@cache
def engine_source() -> str:
    """Give the engine as one script that needs no browser; it defines one object, ``boardgauge``."""
    return _script([_part("engine", name) for name in ENGINE])


def table_text(machine: Machine) -> str:
    """Give the table as JSON that can stand inside a script element."""
    return json.dumps(page_table(machine), ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c")


def _part(folder: str, name: str) -> str:
    return (files("boardgauge.page") / folder / name).read_text(encoding="utf-8")


def _script(parts: list[str]) -> str:
    return "\n".join(parts)
