"""The JSON Schema of a plan.

Law of this module: it is made of the plan reader's own table of keys.
"""

from __future__ import annotations

from boardgauge.language.schema import Schema
from boardgauge.plans.plan_reader import FILE_KEYS, GOAL_KEYS, LEFT_OUT_KEYS, SITTING_KEYS, STEP_KEYS
from boardgauge.schemas.parts import DRAFT, TEXTS, from_keys

_TEXTS: Schema = {"type": "array", "items": {"type": "string"}}
_SEED: Schema = {"type": "integer", "minimum": 0}


def plan_schema() -> Schema:
    """Give the JSON Schema of a plan file."""
    step = from_keys(STEP_KEYS, {"set": TEXTS, "wait_for": TEXTS, "observe": TEXTS})
    sitting = from_keys(SITTING_KEYS, {"settings": TEXTS, "start": TEXTS, "steps": _rows(step)})
    goal = {"goals": _TEXTS}
    special = {
        "seed": _SEED,
        "wired": _TEXTS,
        "cautions": _TEXTS,
        "covers": _rows(from_keys(GOAL_KEYS, goal)),
        "leaves_out": _rows(from_keys(LEFT_OUT_KEYS, goal)),
        "sittings": _rows(sitting),
    }
    return {"$schema": DRAFT, "title": "Plan, version 1", **from_keys(FILE_KEYS, special)}


def _rows(row: Schema) -> Schema:
    return {"type": "array", "items": row}
