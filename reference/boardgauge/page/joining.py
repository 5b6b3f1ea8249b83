"""Join the page from its parts.

Law of this module: the parts are files beside it, put together in a fixed order; nothing is fetched, nothing refers to
another file, and the same machine gives the same page to the byte. These are the only files that this package reads.
"""

from __future__ import annotations

import json
import re
from functools import cache
from html import escape
from importlib.metadata import version
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
    "narrate.js",
    "reasons.js",
    "session.js",
    "scenario.js",
)
VIEW = ("dom.js", "inputs.js", "outputs.js", "timers.js", "log.js", "chart.js", "predict.js", "main.js")

_MARK = re.compile(r"@([A-Z]+)@")


@cache
def engine_source() -> str:
    """Give the engine as one script that needs no browser: the table's classes and functions, and no page."""
    return "\n".join(_part("engine", name) for name in ENGINE)


def page_of(machine: Machine) -> str:
    """Give the page of a machine: one file of HTML that holds all it needs."""
    board = machine.board
    values = {
        "TITLE": escape(board.title),
        "SOURCE": escape(board.text or board.source or ""),
        "STYLE": _part("view", "style.css"),
        "TABLE": table_text(machine),
        "SCRIPT": "\n".join([engine_source(), *(_part("view", name) for name in VIEW)]),
        "VERSION": escape(version("boardgauge")),
        "ID": escape(board.id),
        "DIGEST": escape(board.digest[:12] or "made in memory"),
    }
    return _MARK.sub(lambda mark: values[mark[1]], _part("view", "page.html"))


def table_text(machine: Machine) -> str:
    """Give the table as JSON that can stand inside a script element."""
    return json.dumps(page_table(machine), ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c")


def _part(folder: str, name: str) -> str:
    return (files("boardgauge.page") / folder / name).read_text(encoding="utf-8")
