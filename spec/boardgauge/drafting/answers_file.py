"""Answers in a file, to go on from or to make a spec without asking.

Law of this module: a file of answers is TOML with one table, ``[answers]``, of keys as they are asked for and texts as
they would be typed. Whatever is wrong with one is told with its place, all at once.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from boardgauge.language.nodes import Node, read_nodes
from boardgauge.language.problems import Problem, UnusableSpec, nearest_of
from boardgauge.language.reading import value_in_words
from boardgauge.language.text_file import text_of

TABLE = "answers"


def read_answers(path: Path) -> dict[str, str]:
    """Read a file of answers. Raises UnusableSpec with everything that is wrong with it."""
    root = read_nodes(text_of(path), str(path))
    assert isinstance(root.value, dict)
    problems = []
    for name, node in root.value.items():
        if name != TABLE:
            near = nearest_of(name, [TABLE])
            expected = None if near else f"[{TABLE}]"
            problems.append(Problem(node.key_at, name, "there is no such table or key", expected, near))
    table: Node | None = root.value.get(TABLE)
    found: dict[str, str] = {}
    if table is None:
        problems.append(Problem(root.at, TABLE, f"the table [{TABLE}] is missing", '"board.id" = "fan", below it'))
    elif not isinstance(table.value, dict):
        problems.append(Problem(table.at, TABLE, f"{value_in_words(table.value)} stands where a table is needed"))
    else:
        for key, node in table.value.items():
            if isinstance(node.value, str):
                found[key] = node.value
            elif isinstance(node.value, dict):
                message = "a key is written in quotation marks here"
                problems.append(
                    Problem(node.key_at, f"{TABLE}.{key}", message, f'"{key}.{next(iter(node.value), "")}" = "..."')
                )
            else:
                message = f"{value_in_words(node.value)} stands where a text is needed"
                problems.append(
                    Problem(node.at, f"{TABLE}.{key}", message, "the answer as it would be typed, in quotation marks")
                )
    if problems:
        raise UnusableSpec(problems)
    return found


def write_answers(answers: Mapping[str, str]) -> str:
    """Write answers as the text of a file."""
    import tomlkit

    document = tomlkit.document()
    document.add(tomlkit.comment("Answers about a board. `boardgauge new --answers THIS_FILE` goes on from them."))
    table = tomlkit.table()
    for key, text in answers.items():
        table[key] = text
    document[TABLE] = table
    return tomlkit.dumps(document)
