"""From a recording file to what a judge reads.

``read_recording`` gives what stands in the file, ``read_wiring`` what its channels mean, and ``condition`` the trace:
each signal of the board over time, in the board's words, as far as the recording fixes it.

Law of this package: nothing here judges. The heavy imports (numpy) wait until a name is used.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from boardgauge.traces.conditioning import condition
    from boardgauge.traces.csv_writer import write_long, write_wide
    from boardgauge.traces.errors import BadWiring, UnreadableRecording
    from boardgauge.traces.lamps import LampEvidence, LampWatch
    from boardgauge.traces.reading import read_recording, recording_from
    from boardgauge.traces.recording import Channel, Recording
    from boardgauge.traces.sensor import Reading
    from boardgauge.traces.trace import NEVER, Trace
    from boardgauge.traces.vcd_writer import write_vcd
    from boardgauge.traces.wave import Wave
    from boardgauge.traces.wiring import Wire, Wiring, default_wiring
    from boardgauge.traces.wiring_reader import read_wiring, wiring_from
    from boardgauge.traces.writing import CannotWrite, target_of, write_recording

__all__ = [
    "NEVER",
    "BadWiring",
    "CannotWrite",
    "Channel",
    "LampEvidence",
    "LampWatch",
    "Reading",
    "Recording",
    "Trace",
    "UnreadableRecording",
    "Wave",
    "Wire",
    "Wiring",
    "condition",
    "default_wiring",
    "read_recording",
    "read_wiring",
    "recording_from",
    "target_of",
    "wiring_from",
    "write_long",
    "write_recording",
    "write_vcd",
    "write_wide",
]

_HOMES = {
    "conditioning": ("condition",),
    "csv_writer": ("write_long", "write_wide"),
    "errors": ("BadWiring", "UnreadableRecording"),
    "lamps": ("LampEvidence", "LampWatch"),
    "reading": ("read_recording", "recording_from"),
    "recording": ("Channel", "Recording"),
    "sensor": ("Reading",),
    "trace": ("NEVER", "Trace"),
    "vcd_writer": ("write_vcd",),
    "wave": ("Wave",),
    "writing": ("CannotWrite", "target_of", "write_recording"),
    "wiring": ("Wire", "Wiring", "default_wiring"),
    "wiring_reader": ("read_wiring", "wiring_from"),
}
_HOME = {name: module for module, names in _HOMES.items() for name in names}


def __getattr__(name: str) -> object:
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOME[name]}"), name)
