"""The JSON Schema of a board spec, for editors.

Law of this module: it is made of ``keys`` and of nothing else, so it knows the very keys the reader knows. It describes
form only: what an expression says, and what tables say of each other, is the reader's. A variant is described as
loosely as it is written: its tables are parts of tables.

``board.schema.json`` beside this module is its output; a test holds the two together. To write it anew:
``python -m boardgauge.language.schema``.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from importlib.resources import files
from typing import Any

from boardgauge.language.keys import (
    BOARD_KEYS,
    FILE_KEYS,
    LINE_KEYS,
    NOT_JUDGED_KEYS,
    NOTE_KEYS,
    POSITION_KEYS,
    RULE_KEYS,
    RULE_KIND,
    SECTION_KEYS,
    SECTIONS,
    STEP_KEYS,
    Key,
    Takes,
)

FILE_NAME = "board.schema.json"
_NAME = "^[A-Za-z][A-Za-z0-9_]*$"
_NUMBER = r"\d+(\.\d+)?"
_TIME = rf"\s*{_NUMBER}\s*(ms|s|min|h)"

Schema = dict[str, Any]

_TEXT: Schema = {"type": "string"}
_NAMES: Schema = {"type": "array", "items": _TEXT, "minItems": 1, "uniqueItems": True}

_FORMS: dict[Takes, Schema] = {
    "text": _TEXT,
    "version": {"const": 1},
    "file name": {"type": "string", "pattern": r"^[^/\\:]+$"},
    "word": _TEXT,
    "yes or no": {"type": "boolean"},
    "whole number": {"type": "integer", "minimum": 1},
    "time": {"type": "string", "pattern": rf"^{_TIME}\s*$"},
    "time with tolerance": {"type": "string", "pattern": f"^{_TIME}"},
    "time or setting": {"type": "string", "pattern": rf"^({_TIME}|\s*[A-Za-z][A-Za-z0-9_]*\s*$)"},
    "range of times": {"type": "string", "pattern": rf"^{_TIME}\s*to\s*{_NUMBER}\s*(ms|s|min|h)\s*$"},
    "tolerance": {"type": "string", "pattern": r"^\s*(±|\+|exactly)"},
    "unit": {"type": "string", "minLength": 1},
    "accuracy": {"type": "string", "pattern": rf"^\s*(±|\+-)\s*{_NUMBER}"},
    "condition": {"type": "string", "minLength": 1},
    "event": {"type": "string", "minLength": 1},
    "trigger": {"type": "string", "minLength": 1},
    "trigger or words": {"type": "string", "minLength": 1},
    "condition or event": {"type": "string", "minLength": 1},
    "lamp condition": {"type": "string", "minLength": 1},
    "names": _NAMES,
    "names or words": _NAMES,
    "step": _TEXT,
    "pattern": {
        "type": "string",
        "pattern": rf"^\s*(steady|dark|\d+\s+flash(es)?|{_TIME}\s*lit\s*,{_TIME}\s*dark)\s*$",
    },
    "blink": {"type": "string", "pattern": rf"^{_TIME}\s*lit\s*,{_TIME}\s*dark\s*$"},
    "dark part": {"type": "string", "pattern": rf"^{_TIME}\s*dark\s*$"},
    "positions": {"type": "array", "minItems": 1, "items": {"$ref": "#/$defs/position"}},
    "steps": {"type": "array", "minItems": 1, "items": {"$ref": "#/$defs/step"}},
    "lines": {"type": "array", "minItems": 1, "items": {"$ref": "#/$defs/line"}},
}


def board_schema() -> Schema:
    """Give the JSON Schema (draft 2020-12) of a board spec."""
    whole = {
        "properties": {"board": {"$ref": "#/$defs/board"}, **{name: _section(name) for name in SECTIONS}},
        "required": ["board"],
        "not": {"anyOf": [{"required": [name]} for name in ("remove", "change", "add")]},
    }
    variant = {
        "properties": {
            "board": {"type": "object"},
            "remove": {"type": "object", "additionalProperties": _NAMES},
            "change": {"type": "object"},
            "add": {"type": "object"},
        },
        "not": {"anyOf": [{"required": [name]} for name in (*SECTIONS, "not_judged")]},
    }
    tables = ("board", *SECTIONS, "remove", "change", "add")
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Board spec, language version 1",
        "type": "object",
        "properties": {
            **{key.name: form(key) for key in FILE_KEYS},
            **{table: {"type": "object"} for table in tables},
            "not_judged": {"type": "array", "items": {"$ref": "#/$defs/not_judged"}},
        },
        "required": [key.name for key in FILE_KEYS if key.need == "required"],
        "additionalProperties": False,
        "if": {"required": ["base"]},
        "then": variant,
        "else": whole,
        "$defs": _definitions(),
    }


def _definitions() -> Schema:
    found = {
        "board": table_form(BOARD_KEYS),
        "position": table_form(POSITION_KEYS),
        "step": table_form(STEP_KEYS),
        "line": table_form(LINE_KEYS),
        "not_judged": table_form(NOT_JUDGED_KEYS),
        "rule": _rule(),
    }
    found.update((name, table_form((*keys, *NOTE_KEYS))) for name, keys in SECTION_KEYS.items())
    return found


def _section(name: str) -> Schema:
    inner = "rule" if name == "rules" else name
    return {
        "type": "object",
        "propertyNames": {"pattern": _NAME},
        "additionalProperties": {"$ref": f"#/$defs/{inner}"},
    }


def form(key: Key) -> Schema:
    """Describe what stands at a key."""
    form = {"enum": list(key.words)} if key.takes == "word" else _FORMS[key.takes]
    if key.takes == "names or words":
        form = {"oneOf": [{"enum": list(key.words)}, form]}
    default = {} if key.default is None else {"x-default": key.default}
    return {"description": key.meaning, **form, **default}


def table_form(keys: Iterable[Key]) -> Schema:
    """Describe a table of these keys and no other."""
    keys = tuple(keys)
    return {
        "type": "object",
        "properties": {key.name: form(key) for key in keys},
        "required": [key.name for key in keys if key.need == "required"],
        "additionalProperties": False,
    }


def _rule() -> Schema:
    cases = [
        {
            "if": {"properties": {"kind": {"const": kind}}, "required": ["kind"]},
            "then": table_form((RULE_KIND, *keys, *NOTE_KEYS)),
        }
        for kind, keys in RULE_KEYS.items()
    ]
    return {"type": "object", "properties": {"kind": form(RULE_KIND)}, "required": ["kind"], "allOf": cases}


def schema_text() -> str:
    """Give the schema as the text of ``board.schema.json``."""
    return json.dumps(board_schema(), indent=1, ensure_ascii=False) + "\n"


def shipped_schema_text() -> str:
    """Give the text of the schema that the package ships."""
    return files("boardgauge.language").joinpath(FILE_NAME).read_text(encoding="utf-8")


if __name__ == "__main__":
    from pathlib import Path

    Path(__file__).with_name(FILE_NAME).write_text(schema_text(), encoding="utf-8")
