"""Keys of a channel in a wiring that do not go together.

Law of this module: each key is right by itself by now; what is told here is the other key it needs, or cannot stand
beside.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from boardgauge.language.model import Spot
from boardgauge.language.nodes import Node
from boardgauge.language.problems import Problem

if TYPE_CHECKING:
    from boardgauge.traces.wiring import Wire


def at_odds(wire: Wire, table: dict[str, Node], path: str) -> list[Problem]:
    """Give what does not go with what else is said of a channel; ``table`` are its keys, ``path`` leads to them."""
    found: list[Problem] = []

    def wrong(at: Spot, key: str, message: str, expected: str | None = None) -> None:
        found.append(Problem(at, key, message, expected))

    measured = ("midpoint", "amplitude", "least_amplitude")
    for name in ("at_rest", *measured):
        if name in table and "line_frequency" not in table:
            wrong(table[name].key_at, f"{path}.{name}", "this is for an AC signal", "line_frequency = 60")
    if wire.line_frequency is not None:
        for name in measured:
            if name in table and wire.line_threshold is None and not {"amplitude", "threshold"} & set(table):
                message = "this is for an AC signal that was measured"
                wrong(table[name].key_at, f"{path}.{name}", message, "amplitude = a number")
        if "at_rest" in table and wire.line_threshold is not None:
            message = "a measured AC signal rests at its midpoint"
            wrong(table["at_rest"].key_at, f"{path}.at_rest", message, "midpoint = a number")
    peak, least, limit = wire.amplitude, wire.brown_out, wire.line_threshold
    if least is not None and peak is not None and least > peak:
        wrong(table["least_amplitude"].key_at, f"{path}.least_amplitude", "this is more than the amplitude")
    if limit is not None and least is not None and wire.line_frequency is not None and limit >= least:
        at = table.get("threshold", table.get("least_amplitude", table.get("amplitude")))
        message = f"a pulse above {float(limit):g} would be no brown-out below {float(least):g}"
        wrong(wire.at if at is None else at.key_at, f"{path}.threshold", message, "a lower threshold")
    for name in ("dark_level", "lit_level"):
        if name not in table:
            continue
        if "brightness" not in table:
            wrong(table[name].key_at, f"{path}.{name}", "this is for a brightness", "brightness = true")
        elif not {"dark_level", "lit_level"} <= set(table):
            wrong(table[name].key_at, f"{path}.{name}", "one level alone tells nothing", "both, or neither")
    if wire.dark_level is not None and wire.dark_level == wire.lit_level:
        wrong(table["lit_level"].key_at, f"{path}.lit_level", "lit and dark are the same level")
    if wire.brightness:
        for name in ("threshold", "line_frequency", "bounce"):
            if name in table:
                wrong(table[name].key_at, f"{path}.{name}", "a brightness takes dark_level and lit_level only")
    return found
