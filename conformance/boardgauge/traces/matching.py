"""Which signal of a board a channel is, by its name.

Law of this module: a match is sure only if the names are the same but for case, separators, a path before the name, a
mark of inversion, and words that say nothing (``ch3``, ``input``, the kind of the signal); and if no other channel
could be it as surely. Everything else that is alike is offered, never taken.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from attrs import frozen

from boardgauge.language.model import Board

MARKS = ("n", "b", "bar", "inv", "inverted", "not")
"""Words at the end (or the beginning) of a name that say: low is on."""
_IDLE = {
    "bench", "board", "channel", "ch", "chan", "input", "in", "output", "out", "pin", "signal", "sig", "state",
    "digital", "logic", "di", "do", "dio", "probe", "relay", "terminal", "d", "v", "volt", "volts", "mv", "level",
}  # fmt: skip
_ALIKE = 72.0
"""From so many of 100 on two names are offered as perhaps the same."""


@frozen
class Match:
    """A channel that is a signal of the board, or (``sure`` false) may be one.

    ``alike`` is out of 100; ``inverted`` that the name has a mark of it.
    """

    channel: str
    signal: str
    sure: bool
    alike: float
    inverted: bool = False


@frozen
class Matches:
    """What the channels of a recording are by their names.

    ``sure`` has at most one match for a channel and a signal; ``unsure`` the best offers for the other channels.
    """

    sure: tuple[Match, ...]
    unsure: tuple[Match, ...]

    def of(self, channel: str) -> Match | None:
        """Give the sure match of a channel."""
        return next((match for match in self.sure if match.channel == channel), None)


def words_of(name: str) -> tuple[str, ...]:
    """Give the words of a name in lower case: parted by anything but letters and digits, and where capitals begin."""
    parted = re.sub(r"(?<=[a-z])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])", " ", name)
    return tuple(word.lower() for word in re.split(r"[^A-Za-z0-9]+", parted) if word)


@frozen
class _Reading:
    """One way to read a name: what is left of it, how much was left out, and whether a mark of inversion was."""

    core: str
    cost: int
    inverted: bool = False


def _readings(name: str) -> list[_Reading]:
    marked = bool(re.match(r"[/~!]", name)) or name.endswith(("#", "*"))
    found: list[_Reading] = [_Reading(name.casefold(), 0)]
    pieces = re.split(r"[./\\:|]+", name.strip("/~!#*"))
    for begin in range(len(pieces)):
        words = words_of(" ".join(pieces[begin:]))
        found += _plain(words, 1 + begin, marked)
    return found


def _plain(words: tuple[str, ...], cost: int, marked: bool) -> list[_Reading]:
    found = [_Reading("".join(words), cost, marked)] if words else []
    if len(words) > 1 and words[-1] in MARKS:
        found += [_evolved(each) for each in _plain(words[:-1], cost + 1, False)]
    elif len(words) > 1 and words[0] in ("n", "not", "inv"):
        found += [_evolved(each) for each in _plain(words[1:], cost + 1, False)]
    spare = tuple(
        word for word in words if word not in _IDLE and not re.fullmatch(r"(?:ch|d|di|do|pin|in|out)\d+", word)
    )
    if spare and spare != words:
        found += _plain(spare, cost + 2, marked)
    return found


def _evolved(reading: _Reading) -> _Reading:
    return _Reading(reading.core, reading.cost, True)


def _names(board: Board) -> dict[str, tuple[set[str], tuple[str, ...]]]:
    """Give for each signal the names that are it for sure, and the words of people that may be."""
    found: dict[str, tuple[set[str], tuple[str, ...]]] = {"power": ({"power"}, ("supply", "mains", "pwr", "24 V AC"))}
    for table in (board.inputs, board.outputs, board.lamps):
        for name, row in table.items():
            said = [text for text in (row.note.title, row.note.text) if text]
            # "reversing valve, energised for cooling" names it before the comma.
            said = [*dict.fromkeys(part for text in said for part in (re.split(r"[,;:(]", text)[0], text))]
            names = {"".join(words_of(text)) for text in (name, *said)}
            if name in board.inputs:
                names.add("".join(words_of(f"{name} {board.inputs[name].kind.value}")))
            found[name] = (names, tuple(said))
    return found


def matches_of(channels: Iterable[str], board: Board) -> Matches:
    """Match the names of channels with the signals of a board."""
    names = _names(board)
    channels = list(channels)
    levels: list[set[tuple[str, str, bool]]] = [set(), set(), set()]
    for channel in channels:
        for signal, (certain, _) in names.items():
            if channel == signal:
                levels[0].add((channel, signal, False))
            elif channel.casefold() == signal.casefold():
                levels[1].add((channel, signal, False))
            else:
                ways = [reading for reading in _readings(channel)[1:] if reading.core in certain]
                if ways:
                    best = min(ways, key=lambda reading: reading.cost)
                    levels[2].add((channel, signal, best.inverted))
    sure: list[Match] = []
    rivals: list[Match] = []
    for level in levels:
        used, shown = {match.channel for match in sure}, {match.signal for match in sure}
        open_ = sorted(each for each in level if each[0] not in used and each[1] not in shown)
        for channel, signal, inverted in open_:
            alone = not any((c == channel) != (s == signal) for c, s, _ in open_)
            match = Match(channel, signal, alone, 100.0, inverted)
            (sure if alone else rivals).append(match)
    sure.sort(key=lambda match: channels.index(match.channel))
    done = {match.channel for match in sure}
    unsure = [match for match in rivals if match.channel not in done]
    done |= {match.channel for match in unsure}
    unsure += [offer for channel in channels if channel not in done and (offer := _offer(channel, names)) is not None]
    return Matches(tuple(sure), tuple(unsure))


def _offer(channel: str, names: dict[str, tuple[set[str], tuple[str, ...]]]) -> Match | None:
    """Give the signal most like a channel, None if none is like it."""
    from rapidfuzz import fuzz

    best: Match | None = None
    words = [word for word in words_of(channel) if word not in _IDLE]
    for reading in _readings(channel):
        for signal, (certain, said) in names.items():
            scores = [fuzz.ratio(reading.core, name) for name in certain]
            scores += [fuzz.token_sort_ratio(" ".join(words), " ".join(words_of(text))) for text in said]
            # The whole name of the signal as a word of the channel's, or a long word that both have.
            scores += [85.0 for name in certain if name in words]
            scores += [80.0 for name in certain if len(name) > 2 and reading.core.startswith(name)]
            common = {word for text in said for word in words_of(text) if len(word) > 3} & set(words)
            scores += [73.0] if common else []
            alike = max(scores)
            if alike >= _ALIKE and (best is None or alike > best.alike):
                best = Match(channel, signal, False, alike, reading.inverted)
    return best
