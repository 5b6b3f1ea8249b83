"""What can be wrong with a spec, as values for people to read.

Law of this module: a problem says where (file, line, column), at which key, what is wrong, what was expected and, for
a name that does not exist, the nearest one that does. A spec that cannot be used is told about all of its problems at
once.
"""

from __future__ import annotations

from collections.abc import Iterable

from attrs import frozen

from boardgauge.language.model import NOWHERE, Spot


@frozen(order=True)
class Problem:
    """One thing wrong with a spec. ``key`` is the dotted path of the key, ``rules.burner.ends``."""

    at: Spot
    key: str
    message: str
    expected: str | None = None
    nearest: str | None = None

    def __str__(self) -> str:
        # What was made in memory has no place that anybody could look at.
        places = [str(self.at)] if self.at != NOWHERE else []
        text = ": ".join([*places, *([self.key] if self.key else []), self.message])
        if self.expected is not None:
            text += f"; expected {self.expected}"
        if self.nearest is not None:
            text += f"; did you mean {self.nearest!r}?"
        return text


class UnusableSpec(ValueError):
    """The spec cannot be used. ``problems`` holds everything wrong with it, in the order of the file."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        unique = dict.fromkeys(problems)
        self.problems: tuple[Problem, ...] = tuple(
            sorted(unique, key=lambda problem: (problem.at, problem.key, problem.message))
        )
        super().__init__("\n".join(str(problem) for problem in self.problems))


class Unreadable(ValueError):
    """A text is not in the language. ``at`` is the offset in the text, counted from 0."""

    def __init__(self, message: str, at: int = 0, expected: str | None = None) -> None:
        super().__init__(message if expected is None else f"{message}; expected {expected}")
        self.message = message
        self.at = at
        self.expected = expected


def nearest_of(name: str, choices: Iterable[str]) -> str | None:
    """Give the choice most like the name, or None where none is like it."""
    from rapidfuzz import fuzz, process

    found = process.extractOne(name, list(choices), scorer=fuzz.ratio, processor=str.lower, score_cutoff=60)
    return None if found is None else str(found[0])
