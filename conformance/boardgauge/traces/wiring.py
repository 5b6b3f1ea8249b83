"""A wiring: what the channels of a recording mean on a board.

Law of this module: a wiring says how a signal was picked up, never how the board behaves. It is a small TOML file, and
everything wrong in one is told at once, each with its line.

::

    language = 1
    board = "tarnbeck"                 # or a list: then a signal need not be on all of them

    [wiring]
    id = "bench-2"
    title = "Bench 2, logic probe"

    [recorder]                         # all of it optional
    clock_error = "50 ppm"             # how far its clock may be off
    skew = "1 ms"                      # how far any time may be off beside that, either way
    least_pulse = "5 ms"               # between two samples it catches pulses this long (none, unless said)
    rows = "changes"                   # a wide table holds changes; "samples" unless said

    [channels.led_n]                   # the name of the channel in the recording
    signal = "status"                  # an input, output or lamp of the board, or "power"
    inverted = true                    # level 0 is on (lit, closed, fitted, pressed)
    unpowered = "low"                  # the level an output or lamp shows without power; "low" unless said
    bounce = "5 ms"                    # contact bounce: edges within so long are one change
    threshold = 2.5                    # a measured level: on above
    differential = 0.4                 # ... and only taken as changed this far from side to side
    brightness = true                  # a lamp's brightness, as of a video: lit and dark are found from it
    dark_level = 20                    # ... or said (both or neither)
    lit_level = 180

    [channels.y]
    signal = "y"
    line_frequency = 60                # one or two pulses in each period of 60 Hz while on; or 50
    at_rest = "high"                   # the level between pulses and while off; "low" unless said

    [channels.y_volts]                 # an AC signal that was measured: signed, or rectified
    signal = "y"
    line_frequency = 60
    amplitude = 34                     # its peak while on
    least_amplitude = 27               # a peak below this is a brown-out; 80 % of the amplitude unless said
    threshold = 7                      # a pulse is above this; 20 % of the amplitude unless said
    midpoint = 0                       # the level at no voltage; 0 unless said

    [channels.coil_mv]
    signal = "coil"                    # a sensor: its number is level * scale + offset, in its unit
    scale = 0.1
    offset = -50
    resolution = 0.5                   # the number, level * scale + offset, may be off so far, either way

    [channels.coil_adc]
    signal = "coil"                    # a sensor by its resistance: the number is ohms,
    curve = "ntc-10k"                  # of a curve by its name or its file, or "of the spec"
    curve_tolerance = "± 0.5 K"        # how far the sensor may be off it; the curve's own unless said
    leads = "0.5 Ω"                    # in series with the sensor
    divider = { fixed = "10 kΩ", tolerance = "± 1 %", sensor = "bottom", supply = "5 V", supply_tolerance = "± 2 %" }
                                       # ... or volts of a divider, or counts, with counts = 1023 in place of supply

    [settings]
    interval = "5 min"                 # the position, by name, of a setting that no input shows

Level 1 means: on (call, signal, output), closed (switch), fitted (link), pressed (button), lit (lamp), present (power).
For an output whose relay contact is normally closed, level 1 at the terminal is the coil off.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Literal

from attrs import field, frozen

from boardgauge.language.model import NOWHERE, Board, Spot
from boardgauge.sensors.amounts import Allowance
from boardgauge.sensors.divider import Divider
from boardgauge.traces.sensor_wiring import WireCurve

Level = Literal["low", "high"]
LINE_FREQUENCIES = (50, 60)
"""What supplies nominally have, in Hz; how far a line may be off that is ``line_frequency.LINE_TOLERANCE``."""
LINE_THRESHOLD = Fraction(1, 5)
LEAST_AMPLITUDE = Fraction(4, 5)
"""Of the amplitude of an AC signal: a pulse is above, a brown-out below (common practice, no source)."""


@frozen
class Wire:
    """How one channel of a recording shows one signal of the board; times in microseconds."""

    channel: str
    signal: str
    inverted: bool = False
    unpowered: Level = "low"
    bounce: int = 0
    line_frequency: int | None = None
    threshold: Fraction | None = None
    differential: Fraction = Fraction(0)
    scale: Fraction = Fraction(1)
    offset: Fraction = Fraction(0)
    at_rest: Level = "low"
    midpoint: Fraction = Fraction(0)
    amplitude: Fraction | None = None
    least_amplitude: Fraction | None = None
    brightness: bool = False
    dark_level: Fraction | None = None
    lit_level: Fraction | None = None
    resolution: Fraction = Fraction(0)
    curve: WireCurve | None = None
    curve_tolerance: Allowance | None = None
    leads: Fraction = Fraction(0)
    divider: Divider | None = None
    at: Spot = field(default=NOWHERE, eq=False, repr=False)

    @property
    def line_threshold(self) -> Fraction | None:
        """The level above which a measured AC signal shows a pulse; None for a logic level."""
        if self.threshold is not None or self.amplitude is None:
            return self.threshold
        return self.amplitude * LINE_THRESHOLD

    @property
    def brown_out(self) -> Fraction | None:
        """The peak below which an AC signal is a brown-out; None if nothing is said of its amplitude."""
        if self.least_amplitude is not None or self.amplitude is None:
            return self.least_amplitude
        return self.amplitude * LEAST_AMPLITUDE


@frozen
class Wiring:
    """A whole wiring; see the top of this module for what each entry means."""

    id: str
    title: str
    boards: tuple[str, ...]
    wires: tuple[Wire, ...]
    clock_error: Fraction = Fraction(0)
    skew: int = 0
    least_pulse: int | None = None
    rows: Literal["samples", "changes"] = "samples"
    settings: dict[str, str] = field(factory=dict)
    at: Spot = field(default=NOWHERE, eq=False, repr=False)


def signals_of(board: Board) -> tuple[str, ...]:
    """Give the names a channel can be wired to: power, inputs, outputs, lamps."""
    return ("power", *board.inputs, *board.outputs, *board.lamps)


def default_wiring(board: Board) -> Wiring:
    """Give the wiring that holds without a file: each channel called like one of the board's signals shows it."""
    wires = tuple(Wire(name, name) for name in signals_of(board))
    return Wiring("by name", "channels called like the board's signals", (board.id,), wires)
