"""The language of board specs: values, reader, writer, checks and advice.

Law of this package: it knows nothing of machines or recordings. Importing it is light; the parser and what it needs
are loaded with the first use of a reader.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from boardgauge.language.advice import Advice, advise
    from boardgauge.language.checks import check
    from boardgauge.language.clauses import slugs
    from boardgauge.language.model import Board, Spot
    from boardgauge.language.problems import Problem, UnusableSpec
    from boardgauge.language.reader import read_board, read_board_text
    from boardgauge.language.units import in_unit
    from boardgauge.language.writer import write_board

__all__ = [
    "Advice",
    "Board",
    "Problem",
    "Spot",
    "UnusableSpec",
    "advise",
    "check",
    "in_unit",
    "read_board",
    "read_board_text",
    "slugs",
    "write_board",
]

_HOMES = {
    "Advice": "advice",
    "Board": "model",
    "Problem": "problems",
    "Spot": "model",
    "UnusableSpec": "problems",
    "advise": "advice",
    "check": "checks",
    "in_unit": "units",
    "read_board": "reader",
    "read_board_text": "reader",
    "slugs": "clauses",
    "write_board": "writer",
}


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
