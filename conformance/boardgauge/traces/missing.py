"""Channels that a wiring names and a recording does not have.

Law of this module: a name that is only misspelt is an error, since what it should have shown would go unjudged without
a sign; channels that are not there at all are told, all of them at once, since a bench need not record everything. A
recording that shows nothing of the board but its supply is an error: whatever was recorded, it is not this board.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from boardgauge.language.model import NOWHERE, Board
from boardgauge.language.problems import Problem
from boardgauge.traces.matching import matches_of
from boardgauge.traces.recording import Recording
from boardgauge.traces.remarks import Remark
from boardgauge.traces.wiring import Wire, Wiring

_ALIKE = 80
_MOST_NAMES = 40


def nothing_shown(wiring: Wiring, board: Board, recording: Recording) -> Problem | None:
    """Give what is wrong where a recording has no channel for any signal that is wired, or for the supply alone."""
    there = f"{recording.file}, which has {names_of(list(recording.channels))}{_alike(recording, board)}"
    if not wiring.wires:
        expected = "a table for each; in a drafted wiring, take the # away where it is right"
        return Problem(wiring.at, "channels", f"no channel is wired of {there}", expected)
    shown = {wire.signal for wire in wiring.wires if recording.find(wire.channel) is not None}
    others = [wire.channel for wire in wiring.wires if wire.signal != "power"]
    if shown - {"power"} or (shown and not others):
        return None
    wanted = ", ".join(others if shown else [wire.channel for wire in wiring.wires])
    message = f"none of the channels {wanted} is in {there}"
    if shown:
        message = f"of {board.id} the supply alone is in {there}; it has none of {wanted}"
    return Problem(wiring.at, "channels", message, "a recording of this board, or a wiring that says what shows what")


def missing_channels(wires: Iterable[Wire], recording: Recording, board: Board) -> tuple[list[Problem], list[Remark]]:
    """Give what is wrong, and what is to be told, of the wires of a file whose channels the recording does not have."""
    wires = list(wires)
    shown = {wire.signal: channel.name for wire in wires if (channel := recording.find(wire.channel)) is not None}
    free = [name for name in recording.channels if name not in shown.values()]
    problems: list[Problem] = []
    absent: list[Wire] = []
    for wire in wires:
        if wire.at.file == NOWHERE.file or recording.find(wire.channel) is not None:
            continue
        near = _misspelt(wire.channel, free)
        if near is not None:
            message = f"{recording.file} has no such channel; it has {names_of(list(recording.channels))}"
            problems.append(Problem(wire.at, f"channels.{wire.channel}", message, None, near))
        else:
            absent.append(wire)
    if not absent:
        return problems, []
    if len(absent) == 1:
        wire = absent[0]
        text = (
            f"{wire.at} names it, and {recording.file} has no such channel; it has {names_of(list(recording.channels))}"
        )
        return problems, [Remark(wire.signal, wire.channel, "no channel", recording.start, recording.end, text, False)]
    named = f"{len(wires)} channels that {absent[0].at.file} names for {board.id}"
    has = f" ({names_of(list(shown.values()))})" if shown else ""
    text = (
        f"{recording.file} has {len(shown)} of the {named}{has}, and not {names_of([each.channel for each in absent])}"
        f"{_alike(recording, board, shown)}. If it is of this board, say in a wiring what its channels show"
    )
    return problems, [Remark("", "", "no channel", recording.start, recording.end, text, False)]


def _alike(recording: Recording, board: Board, shown: Iterable[str] = ("power",)) -> str:
    """Say which channels may by their names be signals of the board, other than those that are shown."""
    matches = matches_of(recording.channels, board)
    free = [each for each in (*matches.sure, *matches.unsure) if each.signal not in shown]
    near = [each.channel if each.channel == each.signal else f"{each.channel} as {each.signal}" for each in free]
    return f"; by its names it may have {', '.join(near)}" if near else ""


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
