"""What can be wrong with a recording or a wiring, said for people.

Law of this module: a message names the place, the value found and what was expected; nothing here decides
whether something is wrong.
"""

from __future__ import annotations

from collections.abc import Iterable

from boardgauge.language.problems import Problem


class UnreadableRecording(Exception):
    """A recording that cannot be read: where, what was found, and what was expected there.

    ``line`` and ``column`` count from 1 in the text as it is after decompression; a column is that of the first
    character of the offending piece.
    """

    def __init__(
        self, file: str, what: str, *, line: int | None = None, column: int | None = None, expected: str | None = None
    ) -> None:
        self.file = file
        self.line = line
        self.column = column
        self.what = what
        self.expected = expected
        super().__init__(str(self))

    def __str__(self) -> str:
        place = self.file
        if self.line is not None:
            place += f":{self.line}"
            if self.column is not None:
                place += f":{self.column}"
        tail = f"; expected {self.expected}" if self.expected else ""
        return f"{place}: {self.what}{tail}"


class NoRoom(Exception):
    """Changes of a long recording could not be put away on disk; the message says where, and why."""


class BadWiring(ValueError):
    """A wiring that cannot be used; ``problems`` holds everything found wrong, in the order of the file."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(sorted(dict.fromkeys(problems), key=lambda p: (p.at, p.key, p.message)))
        super().__init__("\n".join(str(problem) for problem in self.problems))


def shown(piece: bytes | str, most: int = 40) -> str:
    """Quote a piece of a file for a message: printable, one line, and not longer than ``most`` characters."""
    text = piece.decode("utf-8", "backslashreplace") if isinstance(piece, bytes) else piece
    cut = text if len(text) <= most else text[:most] + "…"
    return "'" + "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in cut) + "'"
