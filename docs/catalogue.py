"""Make the page of all messages, of the code and of docs/messages.toml.

    python docs/catalogue.py          tell whether docs/messages.md is as it would be made now
    python docs/catalogue.py --write  make it

Law of this file: the messages come from the code (``message_sites``), cause and cure from people (``messages.toml``).
Every message has both: its own where there is more to say, else those of the group it belongs to.
"""

from __future__ import annotations

import re
import sys
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from message_sites import GAP, Message, Sites  # noqa: E402 - beside this file, which is no package

PAGE = HERE / "messages.md"
TABLE = HERE / "messages.toml"

HEAD = f"""\
# Messages

Every message of Boardgauge, with its cause and its cure. The page is made of the code, so none is left out; `{GAP}`
stands for what changes: a name, a number, a place. A message of a file begins with its place,
`file:line:column:`, and the key; behind *expected* stands what would be right, and *did you mean* is followed by the
nearest name that there is. A message that is only a value, `time 'x'; expected a number`, says what was found where
something else was needed.

Errors leave with status 2 ([](exit-status.md)); advice, remarks and doubts do not stop anything.
"""


@dataclass
class Entry:
    """What is said of one message, found by words that stand in it."""

    words: str
    cause: str
    cure: str
    found: int = 0


@dataclass
class Group:
    """Messages that come up in one place, with what is said of all of them."""

    slug: str
    title: str
    cause: str
    cure: str
    modules: tuple[str, ...]
    sort: str
    entries: list[Entry] = field(default_factory=list)
    messages: dict[str, Entry | None] = field(default_factory=dict)

    def takes(self, message: Message) -> bool:
        """Tell whether a message belongs here."""
        return self.sort in ("", message.sort) and message.module.startswith(self.modules)

    def add(self, words: str) -> None:
        """Put a message in, with its own entry where it has one."""
        entry = next((each for each in self.entries if each.words in words), None)
        if entry is not None:
            entry.found += 1
        self.messages[words] = entry


def groups() -> list[Group]:
    """Read the table of causes and cures."""
    rows = tomllib.loads(TABLE.read_text(encoding="utf-8"))["group"]
    return [
        Group(
            row["slug"],
            row["title"],
            row["cause"],
            row["cure"],
            tuple(row["in"]),
            row.get("sort", ""),
            [Entry(**each) for each in row.get("message", ())],
        )
        for row in rows
    ]


def sorted_in(messages: Iterable[Message]) -> tuple[list[Group], list[Message]]:
    """Give the groups with their messages, and the messages that belong to none; the first that takes one has it."""
    found, homeless = groups(), []
    for message in sorted(messages):
        home = next((group for group in found if group.takes(message)), None)
        if home is None:
            homeless.append(message)
        else:
            home.add(message.words)
    return found, homeless


def page(found: Iterable[Group]) -> str:
    """Write the page."""
    parts = [HEAD]
    for group in found:
        parts.append(f"(message-{group.slug})=\n## {group.title}\n\n{group.cause} {group.cure}\n")
        own = [(words, entry) for words, entry in group.messages.items() if entry is not None]
        parts += [f"{_code(words)}\n: {entry.cause} {entry.cure}\n" for words, entry in own]
        rest = [words for words, entry in group.messages.items() if entry is None]
        if rest:
            parts.append("\n".join(f"- {_code(words)}" for words in rest) + "\n")
    return "\n".join(parts)


def _code(words: str) -> str:
    """Write words as code, between more backticks than stand in them."""
    longest = max((len(run) for run in re.findall("`+", words)), default=0)
    marks = "`" * (longest + 1)
    space = " " if words.startswith("`") or words.endswith("`") else ""
    return f"{marks}{space}{words}{space}{marks}"


def main() -> int:
    """Tell or write; give the exit status."""
    found, homeless = sorted_in(Sites().messages)
    for message in homeless:
        print(f"{message.module}: {message.words!r} belongs to no group of {TABLE.name}")
    text = page(found)
    if "--write" in sys.argv[1:]:
        PAGE.write_text(text, encoding="utf-8")
        return bool(homeless)
    old = PAGE.read_text(encoding="utf-8") if PAGE.exists() else ""
    if old != text:
        print(f"{PAGE.name} is out of date: python docs/{Path(__file__).name} --write")
    return bool(homeless or old != text)


if __name__ == "__main__":
    sys.exit(main())
