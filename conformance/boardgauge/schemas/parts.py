"""Parts that several schemas have.

Law of this module: each is as wide as what the readers take.
"""

from __future__ import annotations

from collections.abc import Mapping

from boardgauge.language.keys import Key
from boardgauge.language.schema import Schema, form, table_form

DRAFT = "https://json-schema.org/draft/2020-12/schema"

TEXT: Schema = {"type": "string", "minLength": 1}
NUMBER: Schema = {"type": "number"}
ABOVE_NOTHING: Schema = {"type": "number", "exclusiveMinimum": 0}
YES: Schema = {"type": "boolean"}
TIME: Schema = {"type": "string", "pattern": r"^\s*\d+(\.\d+)?\s*(ms|s|min|h)\s*$"}
PART: Schema = {"type": "string", "pattern": r"^\s*\d+(\.\d+)?\s*(ppm|%)\s*$"}
VERSION: Schema = {"const": 1}
TEXTS: Schema = {"type": "object", "additionalProperties": TEXT}
"""Names with a text each: the state of an input, a number with its unit, a position."""


def said(meaning: str, form_: Mapping[str, object]) -> Schema:
    """Give a form with what it means, for the editor to show."""
    return {"description": meaning, **form_}


def whole(title: str, properties: Mapping[str, Schema], required: list[str]) -> Schema:
    """Give the schema of a whole file."""
    return {
        "$schema": DRAFT,
        "title": title,
        "type": "object",
        "properties": dict(properties),
        "required": required,
        "additionalProperties": False,
    }


def table(properties: Mapping[str, Schema], required: list[str]) -> Schema:
    """Give the schema of a table of these keys and no other."""
    return {
        "type": "object",
        "properties": dict(properties),
        "required": required,
        "additionalProperties": False,
    }


def from_keys(keys: tuple[Key, ...], special: Mapping[str, Schema]) -> Schema:
    """Give the schema of a table of keys; ``special`` has the form of those that the language's own do not fit."""
    plain = table_form([key for key in keys if key.name not in special])
    found = {key.name: said(key.meaning, special[key.name]) if key.name in special else form(key) for key in keys}
    return {**plain, "properties": found, "required": [key.name for key in keys if key.need == "required"]}
