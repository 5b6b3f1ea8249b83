"""The JSON Schema of a rig file.

Law of this module: what all kinds of rig have is described; the table of a kind is read by the kind itself, which may
come from elsewhere, so it is left open.
"""

from __future__ import annotations

from boardgauge.language.schema import Schema
from boardgauge.rigs.kinds import KINDS
from boardgauge.schemas.parts import NUMBER, PART, TEXT, TEXTS, TIME, VERSION, YES, said, table, whole

RIG: dict[str, Schema] = {
    "kind": said("how the board is reached", {"enum": list(KINDS)}),
    "name": said("a name for this rig", TEXT),
    "title": said("a heading", TEXT),
    "latency": said("how far any moment that it gives may be off, either way", TIME),
    "clock_error": said("how far its clock may be off", PART),
    "safe_within": said("how long it may take to make everything safe", TIME),
    "never": said("conditions on inputs that are never driven", {"type": "array", "items": TEXT}),
}

POINT: dict[str, Schema] = {
    "point": said("the name of the fixture's point", TEXT),
    "inverted": said("level 0 is on", YES),
    "scale": said("a sensor's number is level * scale + offset", NUMBER),
    "offset": said("a sensor's number is level * scale + offset", NUMBER),
}


def rig_schema() -> Schema:
    """Give the JSON Schema of a rig file."""
    points = {"type": "object", "additionalProperties": {"anyOf": [TEXT, table(POINT, ["point"])]}}
    kinds = {name: {"type": "object"} for row in KINDS.values() for name in row.tables}
    return whole(
        "Rig, version 1",
        {
            "language": said("the version, 1", VERSION),
            "rig": table(RIG, ["kind", "name"]),
            "safe": said("what is safe where it is not off, open and without power", TEXTS),
            **kinds,
            **{name: {"type": "object"} for name in KINDS},
            "drives": said("the fixture's points by the board's inputs", points),
            "sees": said("the fixture's points by the board's outputs and lamps", points),
        },
        ["language", "rig"],
    )
