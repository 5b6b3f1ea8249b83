"""What a person does to check a sensor, in words, for the terminal and the printed chart.

Law of this module: every step that could hurt someone says how not to be hurt. Common practice, no source.
"""

from __future__ import annotations

from boardgauge.sensors.sensor_check import CONDEMNED_BELOW, INSULATED_ABOVE, InsulationVerdict

_BAD, _GOOD = (f"{float(ohms) / 1e6:g} MΩ" for ohms in (CONDEMNED_BELOW, INSULATED_ABOVE))

CHECKING = (
    "Switch the unit off, lock the supply off, let capacitors discharge, and prove it dead before you touch anything.",
    "Unplug the sensor from the board, so that the meter sees the sensor alone.",
    "Bring sensor and thermometer to one steady temperature, side by side: stirred ice water is 0 °C. Do not hold it.",
    "Measure the ohms and move the leads meanwhile: a reading that jumps is a broken lead.",
    "Compare with the chart at that temperature. Over the meter's range is open; near nothing is shorted.",
)

INSULATING = (
    "Supply still locked off, sensor still unplugged: hold its leads together on one probe, the meter in its highest "
    "range of ohms.",
    "Put the other probe on bare metal of the chassis, and on the pipe or pocket that the sensor sits in.",
    f"Over range, or above {_GOOD}, is sound. Below {_BAD} condemns the sensor: moisture is in it, or a lead is "
    "chafed. Between them, dry it and measure again.",
    "No high-voltage insulation tester: it can destroy a sensor, and through a plug left in, the board.",
)

CAUTIONS = (
    "Line voltage and charged capacitors kill; some boards stand at line voltage, the sensor's leads with them. Fans "
    "and compressors start by themselves. Live work is for licensed people; local codes and the maker's instructions "
    "come first. Never run a unit with a resistor in place of a sensor but for a short, watched test."
)

INSULATION: dict[InsulationVerdict, str] = {
    "good": f"sound: over range, or above {_GOOD}",
    "doubtful": f"doubtful: between {_BAD} and {_GOOD}; dry the sensor and measure again",
    "bad": f"bad: less than {_BAD}, which condemns the sensor",
}
