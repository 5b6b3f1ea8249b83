"""Names of channels as a file format can hold them.

Law of this module: a name that fits stays as it is; one that does not is replaced by one as near to it as goes, never
by that of another channel.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable

from attrs import evolve

from boardgauge.traces.recording import Recording


def fitted(recording: Recording, fits: Callable[[str], bool]) -> tuple[Recording, dict[str, str]]:
    """Give the recording with names that fit, and of each name that was changed: the new one and the old one."""
    taken = {name for name in recording.channels if fits(name)}
    channels, changed = {}, {}
    for name, channel in recording.channels.items():
        new = name
        if name not in taken:
            stem = re.sub(r"[^A-Za-z0-9_]+", "_", name).strip("_") or "channel"
            more = (f"channel_{stem}_{number}" for number in itertools.count(2))
            tries = itertools.chain((stem, f"channel_{stem}"), more)
            new = next(text for text in tries if text not in taken and fits(text))
            taken.add(new)
            changed[new] = name
            channel = channel.named(new)
        channels[new] = channel
    return (evolve(recording, channels=channels) if changed else recording), changed
