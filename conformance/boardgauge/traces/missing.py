"""Channels that a wiring names and a recording does not have.

Law of this module: a name that is only misspelt is an error, since what it should have shown would go unjudged without
a sign; a channel that is not there at all is told, since a bench need not record everything.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from boardgauge.language.model import NOWHERE
from boardgauge.language.problems import Problem
from boardgauge.traces.recording import Recording
from boardgauge.traces.remarks import Remark
from boardgauge.traces.wiring import Wire

_ALIKE = 80
_MOST_NAMES = 40


def missing_channels(wires: Iterable[Wire], recording: Recording) -> tuple[list[Problem], list[Remark]]:
    """Give what is wrong, and what is to be told, of the wires of a file whose channels the recording does not have."""
    wires = list(wires)
    used = {channel.name for wire in wires if (channel := recording.find(wire.channel)) is not None}
    free = [name for name in recording.channels if name not in used]
    problems: list[Problem] = []
    remarks: list[Remark] = []
    for wire in wires:
        if wire.at.file == NOWHERE.file or recording.find(wire.channel) is not None:
            continue
        message = f"{recording.file} has no such channel; it has {names_of(list(recording.channels))}"
        near = _misspelt(wire.channel, free)
        if near is not None:
            problems.append(Problem(wire.at, f"channels.{wire.channel}", message, None, near))
        else:
            text = f"{wire.at} names it, and {message}"
            remarks.append(Remark(wire.signal, wire.channel, "no channel", recording.start, recording.end, text, False))
    return problems, remarks


def names_of(names: Sequence[str]) -> str:
    """List names for people; of very many the first ones."""
    more = f" and {len(names) - _MOST_NAMES} more" if len(names) > _MOST_NAMES else ""
    return ", ".join(names[:_MOST_NAMES]) + more if names else "none"


def _misspelt(name: str, free: list[str]) -> str | None:
    """Give the channel that is meant by a misspelt name: much alike, and with the same numbers in it."""
    from rapidfuzz import fuzz, process

    def plain(text: str) -> str:
        return re.sub(r"[\W_]+", "", text.casefold())

    numbers = re.findall(r"\d+", name)
    alike = [other for other in free if re.findall(r"\d+", other) == numbers]
    same = [other for other in alike if plain(other) == plain(name)]
    if same:
        return same[0]
    found = process.extractOne(name, alike, scorer=fuzz.ratio, processor=str.casefold, score_cutoff=_ALIKE)
    return None if found is None else str(found[0])
