"""The wiring of a recording from the bench: it tells the judge how far the rig's moments may be off.

Law of this module: what the rig says of itself, and nothing else, stands in it; where the rig was slower than its file
says, that too.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from decimal import Decimal
from pathlib import Path

import tomlkit

from boardgauge.language.quantity_writer import write_plain_time
from boardgauge.rigs.rig import SIMULATED, RigFacts


def wiring_text(board: str, facts: RigFacts, channels: Iterable[str], settings: Mapping[str, str]) -> str:
    """Give the text of the wiring of one recording, whose channels are called like the board's signals."""
    document = tomlkit.document()
    document["language"] = 1
    document["board"] = board
    title = f"as the rig {facts.name} saw it" + (f"; {SIMULATED}" if facts.simulated else "")
    document["wiring"] = {"id": facts.name, "title": title}
    recorder = tomlkit.table()
    if facts.clock_error:
        parts = Decimal(facts.clock_error.numerator * 10**6) / Decimal(facts.clock_error.denominator)
        recorder["clock_error"] = f"{parts:f} ppm"
    if facts.latency:
        recorder["skew"] = write_plain_time(facts.latency)
    if facts.sampled and facts.least_pulse is not None:
        recorder["least_pulse"] = write_plain_time(facts.least_pulse)
    recorder["rows"] = "samples" if facts.sampled else "changes"
    document["recorder"] = recorder
    document["channels"] = {name: {"signal": name} for name in channels}
    if settings:
        document["settings"] = dict(settings)
    return tomlkit.dumps(document)


def write_whole(path: Path, text: str) -> None:
    """Put a file in its place as a whole: whoever reads it finds the old one or the new one."""
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    with beside.open("w", encoding="utf-8") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    beside.replace(path)
