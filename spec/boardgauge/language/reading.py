"""What one run of the reader has found so far.

Law of this module: it gathers, it decides nothing.
"""

from __future__ import annotations

from attrs import define, field, frozen

from boardgauge.language.expressions import Expression
from boardgauge.language.model import Spot
from boardgauge.language.nodes import Node
from boardgauge.language.problems import Problem
from boardgauge.language.quantities import Tolerance


@frozen
class Written:
    """An expression as it stands in the file: its dotted key and what it says."""

    key: str
    expression: Expression


@define
class Reading:
    """What one run of the reader has found so far."""

    problems: list[Problem] = field(factory=list)
    written: list[Written] = field(factory=list)
    places: dict[str, Node] = field(factory=dict)
    tolerance: Tolerance | None = None

    def problem(
        self, at: Spot, key: str, message: str, expected: str | None = None, nearest: str | None = None
    ) -> None:
        """Note something wrong."""
        self.problems.append(Problem(at, key, message, expected, nearest))


def value_in_words(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    for kind, words in (
        (str, "a text"),
        (int, "a whole number"),
        (float, "a number"),
        (dict, "a table"),
        (list, "a list"),
    ):
        if isinstance(value, kind):
            return words
    return "a date or a time of day"
