"""JSON Schemas of the files that people write: what an editor completes and checks by.

Law of this package: a schema describes form only, and never refuses what the reader takes. What the tables say of each
other and of the board is the reader's. Where the reader has a table of keys, the schema is made of it.
"""

from __future__ import annotations

from collections.abc import Callable

from boardgauge.language.schema import Schema, board_schema
from boardgauge.schemas.plan_schema import plan_schema
from boardgauge.schemas.rig_schema import rig_schema
from boardgauge.schemas.scenario_schema import scenario_schema
from boardgauge.schemas.wiring_schema import wiring_schema

SCHEMAS: dict[str, Callable[[], Schema]] = {
    "spec": board_schema,
    "wiring": wiring_schema,
    "scenario": scenario_schema,
    "plan": plan_schema,
    "rig": rig_schema,
}
"""The schema of each kind of file."""

__all__ = ["SCHEMAS", "Schema"]
