"""Firmware tried against its spec from a test: driven, recorded in memory, and judged.

Law of this package: time is virtual and nothing real is driven; the judge alone says whether the firmware is good.
"""

from __future__ import annotations

from boardgauge.firmware.firmware_bench import CannotPlay, FirmwareBench
from boardgauge.firmware.telling import FirmwareDeviates, NotShown, UndecidedVerdict

__all__ = ["CannotPlay", "FirmwareBench", "FirmwareDeviates", "NotShown", "UndecidedVerdict"]
