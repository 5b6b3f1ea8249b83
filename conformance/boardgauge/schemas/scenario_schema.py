"""The JSON Schema of a scenario.

Law of this module: it is made of the scenario reader's own table of keys.
"""

from __future__ import annotations

from boardgauge.language.schema import Schema
from boardgauge.machine.scenario_reader import FILE_KEYS, STEP_KEYS
from boardgauge.schemas.parts import DRAFT, TEXT, TEXTS, from_keys

_LENGTHS: Schema = {
    "type": "object",
    "additionalProperties": {"anyOf": [TEXT, {"type": "array", "items": TEXT, "minItems": 1}]},
}


def scenario_schema() -> Schema:
    """Give the JSON Schema of a scenario file."""
    step = from_keys(STEP_KEYS, {"set": TEXTS})
    steps: Schema = {"type": "array", "minItems": 1, "items": step}
    special = {"start": TEXTS, "settings": TEXTS, "durations": _LENGTHS, "steps": steps}
    return {"$schema": DRAFT, "title": "Scenario, version 1", **from_keys(FILE_KEYS, special)}
