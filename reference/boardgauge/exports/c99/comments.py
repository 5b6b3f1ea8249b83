"""What a comment says: the place in the spec, the clause of the document, the text of an expression.

Law of this module: nothing of a spec's text can end a comment, begin one, or change what a compiler reads.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from pathlib import PurePath

from boardgauge.language import expressions as ex
from boardgauge.language.expression_writer import write_expression
from boardgauge.language.model import Note, Spot
from boardgauge.language.quantities import Duration
from boardgauge.language.quantity_writer import write_plain_time

WIDTH = 110


def plain(text: str) -> str:
    """Give a text that may stand in a comment."""
    return _harmless(" ".join(text.split()))


def _harmless(line: str) -> str:
    line = "".join(c for c in line if c.isprintable())
    for bad, good in (("*/", "* /"), ("/*", "/ *"), ("??", "? ?"), ("\\", "/")):
        while bad in line:
            line = line.replace(bad, good)
    return line


def comment(text: str, indent: str = "") -> list[str]:
    """Give a text as the lines of one comment."""
    words = plain(text)
    if len(indent) + len(words) + 6 <= WIDTH:
        return [f"{indent}/* {words} */"]
    rows = textwrap.wrap(words, WIDTH - len(indent) - 3)
    return [f"{indent}/* {rows[0]}", *(f"{indent} * {row}" for row in rows[1:]), f"{indent} */"]


def block(paragraphs: Iterable[str]) -> list[str]:
    """Give paragraphs as one comment; one that begins with a space is kept as it is."""
    lines: list[str] = []
    for paragraph in paragraphs:
        if paragraph.startswith(" "):
            lines.append(_harmless(paragraph))
        else:
            lines += textwrap.wrap(plain(paragraph), WIDTH - 3) or [""]
    return [f"/* {lines[0]}", *(f" * {line}".rstrip() for line in lines[1:]), " */"]


def place(at: Spot) -> str:
    """Give ``tarnbeck.toml:118``; "" for what came from no file."""
    return "" if at.file.startswith("<") else f"{PurePath(at.file).name}:{at.line}"


def origin(name: str, clause: str | None, at: Spot, note: Note | None = None) -> str:
    """Give ``restart_delay (restart delay), clause 2.4, tarnbeck.toml:118``."""
    title = None if note is None else note.title or note.text
    parts = [f"{name} ({title})" if title else name]
    if clause:
        parts.append(f"clause {clause}")
    if place(at):
        parts.append(place(at))
    return ", ".join(parts)


def says(expression: ex.Expression | None) -> str:
    """Give an expression as the spec has it; one that cannot be written is left out."""
    if expression is None:
        return ""
    try:
        return write_expression(expression)
    except ValueError:
        return "(an expression that has no text)"


def lasts(duration: Duration) -> str:
    """Give a time with its limits: ``45 s (42.9 s to 47.1 s)``."""
    nominal = write_plain_time(duration.nominal)
    if duration.tolerance is None or duration.tolerance.exact:
        return f"{nominal} exactly"
    return f"{nominal} ({write_plain_time(duration.shortest)} to {write_plain_time(duration.longest)})"
