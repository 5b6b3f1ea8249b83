"""A draft that is like a board of the library.

Law of this module: a variant stands beside its base, so what is given is whole files: the variant, and each base it
stands on, byte for byte as the library has it. Nothing is written here.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

from boardgauge.boards import board_path
from boardgauge.language.toml_writer import quoted


def variant_like(name: str, id_: str, title: str) -> tuple[str, dict[str, bytes]]:
    """Give the text of a variant of a library's board, and the files that have to stand beside it, by their names.

    Raises UnknownBoard where the library has no board ``name``.
    """
    base: Path | None = board_path(name)
    assert base is not None
    text = _variant(base.name, id_, title)
    beside: dict[str, bytes] = {}
    while base is not None:
        beside[base.name] = base.read_bytes()
        base = _base_of(base)
    return text, beside


def _base_of(path: Path) -> Path | None:
    below = tomllib.loads(path.read_text(encoding="utf-8")).get("base")
    return None if below is None else path.with_name(str(below))


def _variant(base: str, id_: str, title: str) -> str:
    return f"""\
# A draft of a board that is like another: only what differs stands here. {base} stands beside this file.
# A list (the lines of a lamp, the steps of a sequence, the positions of a setting) is replaced whole.
language = 1
base = {quoted(base)}

[board]
id = {quoted(id_)}
title = {quoted(title)}

# Take the # away and put in what differs. [remove] comes first, then [change], then [add].
#
# [remove]
# inputs = ["a_name"]
# rules = ["a_rule", "another_rule.cut_by"]
#
# [change.rules.a_rule]
# lasts = "90 s"
#
# [add.outputs.a_terminal]
# on = "a condition"
"""
