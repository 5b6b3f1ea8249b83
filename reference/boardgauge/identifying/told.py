"""Read what a technician tells in words of his own into facts.

Law of this module: a word that could mean two things is refused with both, never guessed at; a word that means
nothing comes back with the nearest that does. Errors are ``CannotTell``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from fractions import Fraction
from typing import TypeVar

from rapidfuzz import process

from boardgauge.drawings import words
from boardgauge.identifying.facts import Fact, InputFact, LampFact, OutputFact, PowerFact
from boardgauge.identifying.knowledge import Knowledge
from boardgauge.language.model import Blink, Dark, Flashes, InputKind, Lamp, Pattern, Steady
from boardgauge.language.quantities import MIN, MS, H, Quantity, S
from boardgauge.language.units import in_unit
from boardgauge.machine.input_ways import comes_out

POWER = "power"
_LAST_WORDS = {"lamp", "led", "light", "the", "is", "it", "a", "-", "line"}
_TIMES = {"ms": MS, "s": S, "sec": S, "min": MIN, "h": H}
_TIME = re.compile(r"\s*(\d+(?:\.\d+)?)\s*([a-z]+)\s*")
_QUANTITY = re.compile(r"\s*([-−+]?\d+(?:\.\d+)?)\s*(\S+)\s*")


_K = TypeVar("_K")


class CannotTell(ValueError):
    """What was told means nothing here, or more than one thing."""


# -- lamps -----------------------------------------------------------------------------------------------------------


def lamp_told(known: Knowledge, text: str) -> LampFact:
    """Read what a lamp shows: ``3 flashes``, ``fast``, ``steady``, ``line 2``, a meaning.

    ``LAMP=...`` names the lamp, on a board with several.
    """
    lamps = list(known.machine.board.lamps.values())
    if not lamps:
        raise CannotTell(f"--lamp {text}: this board has no lamp")
    name, sign, rest = text.partition("=")
    number = 0
    if sign:
        number = _one_of(name, {i: (row.id, words.thing(known.machine.board, row.id)) for i, row in enumerate(lamps)})
        text = rest
    elif len(lamps) > 1:
        raise CannotTell(f"--lamp {text}: say which lamp, as in --lamp {lamps[0].id}={text}")
    lines = lines_told(known, lamps[number], text)
    if not lines:
        ways = dict.fromkeys(words.pattern(line.shows) for line in lamps[number].lines)
        near = process.extractOne(text, [*ways, "fast", "slow"], score_cutoff=60)
        hint = f"; did you mean {near[0]!r}?" if near else ""
        raise CannotTell(f"--lamp {text}: no line of the lamp shows that{hint} It can show: {'; '.join(ways)}.")
    return LampFact(number, frozenset(lines))


def lines_told(known: Knowledge, lamp: Lamp, text: str) -> set[int]:
    """Give the lines (-1: no power) that a description of a lamp may mean."""
    said = " ".join(text.lower().split())
    plain = {i: words.pattern(line.shows).lower() for i, line in enumerate(lamp.lines)}
    exact = {i for i, pattern in plain.items() if pattern == said}
    dark = {-1} if said in {"dark", "off", "out"} else set[int]()
    if exact or dark:
        return exact | dark | {i for i, row in enumerate(lamp.lines) if dark and isinstance(row.shows, Dark)}
    if said in {"steady", "on", "lit"}:
        return {i for i, row in enumerate(lamp.lines) if isinstance(row.shows, Steady)}
    if line := re.fullmatch(r"line (\d+)", said):
        return {int(line[1]) - 1} if 1 <= int(line[1]) <= len(lamp.lines) else set()
    if flashes := re.fullmatch(r"(\d+)(?: (?:flash|flashes|x|times|blinks?))?", said):
        return {i for i, row in enumerate(lamp.lines) if _flashes(row.shows) == int(flashes[1])}
    even = {i: row.shows for i, row in enumerate(lamp.lines) if isinstance(row.shows, Blink)}
    words_said = set(said.replace(",", " ").split()) - {"flash", "flashes", "flashing", "blink", "blinking", "blinks"}
    if words_said <= {"fast", "quick", "rapid", "quickly"} and words_said and even:
        quickest = min(row.lit + row.dark for row in even.values())
        return {i for i, row in even.items() if row.lit + row.dark == quickest}
    if words_said <= {"slow", "slowly"} and words_said and even:
        quickest = min(row.lit + row.dark for row in even.values())
        slow = {i for i, row in even.items() if row.lit + row.dark > quickest}
        return slow or set(even)
    if not words_said:
        return {i for i, row in enumerate(lamp.lines) if not isinstance(row.shows, (Steady, Dark))}
    means = {i: words.lamp_line(known.machine.board, lamp.id, i).lower() for i in plain}
    return {i for i, text in means.items() if said in text}


def _flashes(shows: Pattern) -> int:
    return shows.number if isinstance(shows, Flashes) else 0


# -- terminals -------------------------------------------------------------------------------------------------------


def terminal_told(known: Knowledge, word: str, name: str) -> list[Fact]:
    """Read ``on``, ``off``, ``open``, ``closed``, ``fitted``, ``pressed`` or ``released`` of a terminal."""
    board, machine = known.machine.board, known.machine
    if name.lower() == POWER and word in {"on", "off"}:
        return [PowerFact(word == "on")]
    outputs = {row.output: (row.output, words.thing(board, row.output)) for row in machine.outputs}
    inputs = {
        row.id: (row.id, words.thing(board, row.id))
        for row in board.inputs.values()
        if row.kind is not InputKind.SENSOR and word in words.states(row.kind)
    }
    if word in {"on", "off"}:
        # What stands at a terminal that the board drives comes first: "compressor" is what runs, not the call for it.
        found = _named(name, outputs)
        if len(found) == 1:
            index = next(row.index for row in machine.outputs if row.output == found[0])
            return [OutputFact(index, word == "on")]
        inputs |= {row: names for row, names in outputs.items() if row in found or not _named(name, inputs)}
    if not inputs:
        raise CannotTell(f"--{word} {name}: nothing on this board is ever {word}")
    chosen = _one_of(name, inputs, f"--{word} {name}")
    if chosen in outputs and chosen not in board.inputs:
        index = next(row.index for row in machine.outputs if row.output == chosen)
        return [OutputFact(index, word == "on")]
    kind = board.inputs[chosen].kind
    value = frozenset({word == words.states(kind)[1]})
    rows = [level for level in machine.levels if level.input == chosen and level.comparison is None]
    return [InputFact(level.index, value) for level in rows]


def reading_told(known: Knowledge, text: str) -> list[Fact]:
    """Read what a sensor measures, ``coil=-5 °C``. A comparison inside its hysteresis may stand either way."""
    name, sign, rest = text.partition("=")
    found = _QUANTITY.fullmatch(rest)
    if not sign or found is None:
        raise CannotTell(f"--reads {text}: expected SENSOR=READING with its unit, as in coil=-5C")
    board = known.machine.board
    sensors = {
        row.id: (row.id, words.thing(board, row.id)) for row in board.inputs.values() if row.kind is InputKind.SENSOR
    }
    if not sensors:
        raise CannotTell(f"--reads {text}: this board has no sensor")
    chosen = _one_of(name, sensors, f"--reads {name}")
    unit = {"C": "°C", "F": "°F"}.get(found[2], found[2])
    try:
        reading = Quantity(_number(found[1]), unit)
        wanted = in_unit(reading, board.inputs[chosen].unit or unit)
    except (ValueError, KeyError) as error:
        raise CannotTell(f"--reads {text}: {error}") from None
    facts: list[Fact] = []
    for level in known.machine.levels:
        if level.input == chosen and level.comparison is not None:
            held = frozenset(comes_out(level.comparison, before, wanted) for before in (False, True))
            facts.append(InputFact(level.index, held))
    return facts


def time_told(text: str) -> int:
    """Read a time: ``90 s``, ``5 min``, ``1h``. Gives microseconds."""
    found = _TIME.fullmatch(text.lower())
    if found is None or found[2] not in _TIMES:
        raise CannotTell(f"--for {text}: expected a time with its unit, as in 90s, 5min or 1h")
    return round(_number(found[1]) * _TIMES[found[2]])


def _one_of(name: str, known: dict[_K, tuple[str, str]], told: str = "") -> _K:
    told = told or name
    found = _named(name, known)
    if len(found) == 1:
        return found[0]
    listed = [f"{label} ({id_})" if label != id_ else id_ for id_, label in known.values()]
    if found:
        both = [f"{known[key][1]} ({known[key][0]})" for key in found]
        raise CannotTell(f"{told}: that may be {' or '.join(both)}; which?")
    near = process.extractOne(name, [word for pair in known.values() for word in pair], score_cutoff=60)
    hint = f"; did you mean {near[0]!r}?" if near else ""
    raise CannotTell(f"{told}: there is no such terminal{hint} There are {', '.join(listed)}.")


def _named(name: str, known: dict[_K, tuple[str, str]]) -> list[_K]:
    said = name.lower().strip()
    for column in (0, 1):
        if found := [key for key, pair in known.items() if pair[column].lower() == said]:
            return found
    wanted = set(re.findall(r"[\w-]+", said)) - _LAST_WORDS
    return [key for key, pair in known.items() if wanted and wanted <= _words(pair)]


def _words(pair: Iterable[str]) -> set[str]:
    return {word for text in pair for word in re.findall(r"[\w-]+", text.lower())}


def _number(text: str) -> Fraction:
    return Fraction(text.replace("−", "-"))
