"""The JSON Schema of a wiring.

Law of this module: it has the keys that the reader of wirings has, no more and no fewer; a test holds the two together.
"""

from __future__ import annotations

from boardgauge.language.schema import Schema
from boardgauge.schemas.parts import ABOVE_NOTHING, NUMBER, PART, TEXT, TEXTS, TIME, VERSION, YES, said, table, whole
from boardgauge.traces.wiring import LINE_FREQUENCIES

_LEVEL: Schema = {"enum": ["low", "high"]}
_NOT_NEGATIVE: Schema = {"type": "number", "minimum": 0}

DIVIDER: dict[str, Schema] = {
    "fixed": said("the fixed resistor", TEXT),
    "sensor": said("where the sensor stands", {"enum": ["top", "bottom"]}),
    "tolerance": said("of the fixed resistor", TEXT),
    "supply": said("the voltage across both", TEXT),
    "supply_tolerance": said("of the supply", TEXT),
    "counts": said("the counts of a converter that measures against the supply, in its place", {"type": "integer"}),
}

WIRE: dict[str, Schema] = {
    "signal": said("an input, output or lamp of the board, or power", TEXT),
    "inverted": said("level 0 is on (lit, closed, fitted, pressed)", YES),
    "unpowered": said("the level an output or lamp shows without power", _LEVEL),
    "bounce": said("contact bounce: edges within so long are one change", TIME),
    "line_frequency": said("one or two pulses in each period while on", {"enum": list(LINE_FREQUENCIES)}),
    "threshold": said("a measured level: on above", NUMBER),
    "differential": said("and only taken as changed this far from side to side", _NOT_NEGATIVE),
    "scale": said("a sensor's number is level * scale + offset", {**NUMBER, "not": {"const": 0}}),
    "offset": said("a sensor's number is level * scale + offset", NUMBER),
    "at_rest": said("the level between pulses and while off", _LEVEL),
    "midpoint": said("the level at no voltage", NUMBER),
    "amplitude": said("the peak of an AC signal while on", ABOVE_NOTHING),
    "least_amplitude": said("a peak below this is a brown-out", ABOVE_NOTHING),
    "brightness": said("a lamp's brightness, as of a video", YES),
    "dark_level": said("the brightness of the lamp while dark", NUMBER),
    "lit_level": said("the brightness of the lamp while lit", NUMBER),
    "resolution": said("the number may be off so far, either way", _NOT_NEGATIVE),
    "curve": said('a sensor\'s curve by its name or its file, or "of the spec"', TEXT),
    "curve_tolerance": said("how far the sensor may be off its curve", TEXT),
    "leads": said("the resistance in series with the sensor", TEXT),
    "divider": said("the divider that the sensor stands in", table(DIVIDER, ["fixed", "sensor"])),
}

RECORDER: dict[str, Schema] = {
    "clock_error": said("how far its clock may be off", PART),
    "skew": said("how far any time may be off beside that, either way", TIME),
    "least_pulse": said("between two samples it catches pulses this long", TIME),
    "rows": said("what a row of a wide table is", {"enum": ["samples", "changes"]}),
}


def wiring_schema() -> Schema:
    """Give the JSON Schema of a wiring file."""
    about = {"id": said("the name of the wiring", TEXT), "title": said("a heading", TEXT)}
    board = {"anyOf": [TEXT, {"type": "array", "items": TEXT, "minItems": 1}]}
    return whole(
        "Wiring, version 1",
        {
            "language": said("the version, 1", VERSION),
            "board": said("the id of the board, or a list", board),
            "wiring": table(about, ["id"]),
            "recorder": table(RECORDER, []),
            "channels": {"type": "object", "additionalProperties": table(WIRE, ["signal"])},
            "settings": said("the positions of settings that no input shows", TEXTS),
        },
        ["language", "board", "wiring", "channels"],
    )
