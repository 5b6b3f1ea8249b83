"""Keys and values as TOML.

Law of this module: what is written is read back as it was by any reader of TOML; it knows nothing of boards.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable

Rows = list[tuple[str, object]]
"""The keys of a table with their values; a value None is left out."""

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def quoted(text: str) -> str:
    """Write a text; TOML's basic strings are JSON's but for one character."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def value(given: object) -> str:
    """Write yes or no, a whole number, a list, a table on one line, or else a text."""
    if isinstance(given, bool):
        return "true" if given else "false"
    if isinstance(given, int):
        return str(given)
    if isinstance(given, (list, tuple)):
        return "[" + ", ".join(value(item) for item in given) + "]"
    if isinstance(given, dict):
        return "{ " + ", ".join(pairs(list(given.items()))) + " }"
    return quoted(str(given))


def pairs(rows: Rows) -> list[str]:
    """Write keys with their values, a line each."""
    return [f"{key} = {value(each)}" for key, each in rows if each is not None]


def key(name: str) -> str:
    """Write a name as a key, in quotation marks where it needs them."""
    return name if _BARE.fullmatch(name) else quoted(name)


def inline(name: str, rows: Iterable[Rows]) -> list[str]:
    """Write a list of tables, a line each."""
    return [f"{name} = [", *("  { " + ", ".join(pairs(row)) + " }," for row in rows), "]"]
