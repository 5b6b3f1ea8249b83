"""The signals of the tarnbeck board (a fictional one), put together by hand: only what a trace needs to know."""

from __future__ import annotations

from fractions import Fraction

from boardgauge.language.model import Blink, Board, Dark, Flashes, Input, InputKind, Lamp, LampLine, Output, Steady
from boardgauge.language.quantities import MS, Quantity, S, TimeRange, Tolerance

_FILTER = TimeRange(40 * MS, 150 * MS)
_KINDS = {
    "y": InputKind.CALL,
    "o": InputKind.SIGNAL,
    "lps": InputKind.SWITCH,
    "hps": InputKind.SWITCH,
    "cold": InputKind.SIGNAL,
    "warm": InputKind.SIGNAL,
    "j0": InputKind.LINK,
    "j1": InputKind.LINK,
    "fast": InputKind.LINK,
}
LAMP = Lamp(
    "status",
    (
        LampLine(None, Steady()),
        LampLine(None, Blink(100 * MS, 100 * MS)),
        LampLine(None, Blink(1 * S, 1 * S)),
        LampLine(None, Flashes(2)),
        LampLine(None, Flashes(3)),
        LampLine(None, Flashes(5)),
        LampLine(None, Flashes(6)),
        LampLine(None, Dark()),
    ),
    tolerance=Tolerance(Fraction(1, 5), Fraction(1, 5)),
    flash=Blink(250 * MS, 250 * MS),
    between_groups=1500 * MS,
    changes_within=500 * MS,
    not_judged_for=3 * S,
)


def board(sensor: bool = False) -> Board:
    """Give the board; ``sensor``: with the thermistor instead of cold and warm."""
    inputs = {name: Input(name, kind, _FILTER, 300 * MS) for name, kind in _KINDS.items()}
    if sensor:
        del inputs["cold"], inputs["warm"]
        inputs["coil"] = Input(
            "coil", InputKind.SENSOR, _FILTER, 1200 * MS, unit="°C", accuracy=Quantity(Fraction(1), "K")
        )
    outputs = {name: Output(name) for name in ("cc", "fan", "rv", "aux", "alm")}
    return Board("tarnbeck", "invented", inputs=inputs, outputs=outputs, lamps={"status": LAMP})


WIRING = """
language = 1
board = "tarnbeck"

[wiring]
id = "pins"
title = "pin by pin"

[channels]
power = { signal = "power" }
y = { signal = "y" }
o = { signal = "o" }
lps = { signal = "lps" }
hps = { signal = "hps" }
cold = { signal = "cold" }
warm = { signal = "warm" }
j0 = { signal = "j0", inverted = true }
j1 = { signal = "j1", inverted = true }
fast_n = { signal = "fast", inverted = true }
cc = { signal = "cc" }
fan = { signal = "fan" }
rv = { signal = "rv" }
aux = { signal = "aux" }
alm = { signal = "alm" }
led_n = { signal = "status", inverted = true }
"""
