"""Answers, put where they belong in a spec.

Law of this module: an answer's id is a dotted key, ``rules.burner.steps[2].lasts``; what it becomes there (a text, a
number, a list of names) is said by ``language.keys`` alone. What a spec needs besides is not made up here, but for the
last line of a lamp that is still being told.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from boardgauge.language.keys import (
    ALL_OUTPUTS,
    BOARD_KEYS,
    LINE_KEYS,
    NOTE_KEYS,
    OTHERWISE,
    POSITION_KEYS,
    RULE_KEYS,
    SECTION_KEYS,
    STEP_KEYS,
    Key,
)

Table = dict[str, Any]

_ROW = re.compile(r"(\w+)\[(\d+)\]")
_LISTS = {"steps": STEP_KEYS, "positions": POSITION_KEYS, "lines": LINE_KEYS}
_OURS = frozenset(("by", "demands"))
"""Questions that choose what is asked next; the spec has no key for them."""


def names_in(text: str) -> list[str]:
    """Give the names of a list, parted by commas."""
    return [name for name in (part.strip() for part in text.split(",")) if name]


def spec_of(answers: Mapping[str, str]) -> Table:
    """Give the tables of the spec that the answers make, as far as they go."""
    spec: Table = {"language": 1, "board": {}}
    for id_, text in answers.items():
        section, _, rest = id_.partition(".")
        if not rest:
            spec[section] = {name: {} for name in names_in(text)}
        elif text and section == "not_judged":
            spec["not_judged"] = [{"signals": ALL_OUTPUTS, "after": "power_up", rest: text}]
        elif text and section == "board":
            spec["board"][rest] = _value(_key(BOARD_KEYS, rest), text)
        elif text and section in spec:
            name, _, key = rest.partition(".")
            if name in spec[section]:
                _put(spec[section][name], section, key, text)
    for lamp in spec.get("lamps", {}).values():
        rows = lamp.setdefault("lines", [])
        if not rows or rows[-1].get("when") != OTHERWISE:
            rows.append({"when": OTHERWISE, "shows": "dark"})
    # A requirement of which nothing is told but its name would be told that it demands nothing.
    requirements = {name: table for name, table in spec.get("requirements", {}).items() if table}
    if "requirements" in spec:
        spec["requirements"] = requirements
    return spec


def _put(table: Table, section: str, key: str, text: str) -> None:
    head, _, inner = key.partition(".")
    row = _ROW.fullmatch(head)
    if row is not None and row[1] in _LISTS:
        rows = table.setdefault(row[1], [])
        while len(rows) < int(row[2]):
            rows.append({})
        rows[int(row[2]) - 1][inner] = _value(_key(_LISTS[row[1]], inner), text)
    elif head in ("steps", "positions"):
        table[head] = [{"name": name} for name in names_in(text)]
    elif head not in _OURS:
        known = RULE_KEYS.get(table.get("kind", ""), ()) if section == "rules" else SECTION_KEYS[section]
        table[head] = _value(_key((*known, *NOTE_KEYS), head), text)


def _key(keys: tuple[Key, ...], name: str) -> Key | None:
    return next((key for key in keys if key.name == name), None)


def _value(key: Key | None, text: str) -> object:
    takes = "text" if key is None else key.takes
    if takes == "whole number" and re.fullmatch(r"\d{1,9}", text):
        return int(text)
    if takes == "yes or no" and text in ("true", "false"):
        return text == "true"
    if takes == "names" or (takes == "names or words" and key is not None and text not in key.words):
        return names_in(text)
    return text
