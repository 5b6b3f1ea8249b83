"""A wiring file to a Wiring; see ``wiring`` for what each entry means.

Law of this module: everything wrong in a file is told at once, each with its line.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction
from os import PathLike, fspath
from typing import Literal, TypeVar, cast

from boardgauge.language.model import Spot
from boardgauge.language.nodes import Node, read_nodes
from boardgauge.language.problems import Problem, Unreadable, UnusableSpec, nearest_of
from boardgauge.language.quantity_reader import read_plain_time
from boardgauge.language.text_file import text_of
from boardgauge.traces.errors import BadWiring
from boardgauge.traces.sensor_wiring import SensorKeys
from boardgauge.traces.wire_checks import at_odds
from boardgauge.traces.wiring import LINE_FREQUENCIES, Level, Wire, Wiring

T = TypeVar("T")
_LINES = f"{' or '.join(map(str, LINE_FREQUENCIES))}, what the line nominally has in Hz"


def read_wiring(path: str | PathLike[str]) -> Wiring:
    """Read a wiring file. Raises BadWiring with everything wrong in it."""
    try:
        text = text_of(path)
    except UnusableSpec as error:
        raise BadWiring(error.problems) from None
    return wiring_from(text, fspath(path))


def wiring_from(text: str, file: str = "<text>") -> Wiring:
    """Read a wiring from text; ``file`` stands for it in messages."""
    try:
        root = read_nodes(text, file)
    except UnusableSpec as error:
        raise BadWiring(error.problems) from None
    return _Reader(root).wiring()


class _Reader:
    """Reads a tree of nodes and gathers what is wrong."""

    def __init__(self, root: Node) -> None:
        self.root = root
        self.problems: list[Problem] = []

    def wrong(self, at: Spot, key: str, message: str, expected: str | None = None, nearest: str | None = None) -> None:
        self.problems.append(Problem(at, key, message, expected, nearest))

    def table(self, node: Node | None, key: str, keys: tuple[str, ...] | None) -> dict[str, Node]:
        if node is None:
            return {}
        if not isinstance(node.value, dict):
            self.wrong(node.at, key, "this is not a table", f"[{key}]")
            return {}
        found = cast("dict[str, Node]", node.value)
        for name, inner in found.items():
            if keys is not None and name not in keys:
                path = f"{key}.{name}" if key else name
                self.wrong(inner.key_at, path, "there is no such key", ", ".join(keys), nearest_of(name, keys))
        return found

    def take(
        self, table: dict[str, Node], path: str, name: str, default: T, read: Callable[[object], T], expected: str
    ) -> T:
        node = table.get(name)
        if node is None:
            return default
        try:
            return read(node.value)
        except Unreadable as error:
            self.wrong(node.inside(error.at), f"{path}.{name}", error.message, error.expected or expected)
        except (TypeError, ValueError):
            found = (
                "a table" if isinstance(node.value, dict) else "a list" if isinstance(node.value, list) else node.value
            )
            self.wrong(node.at, f"{path}.{name}", f"{found!r} cannot stand here", expected)
        return default

    def wiring(self) -> Wiring:
        root = self.table(self.root, "", ("language", "board", "wiring", "recorder", "channels", "settings"))
        for needed in ("language", "board", "wiring", "channels"):
            if needed not in root:
                self.wrong(Spot(self.root.source.file), needed, "this is missing")
        if "language" in root and (root["language"].value != 1 or isinstance(root["language"].value, bool)):
            self.wrong(root["language"].at, "language", f"{root['language'].value!r} is not known", "1")
        about = self.table(root.get("wiring"), "wiring", ("id", "title"))
        recorder = self.table(root.get("recorder"), "recorder", ("clock_error", "skew", "least_pulse", "rows"))
        settings = self.table(root.get("settings"), "settings", None)
        channels = self.table(root.get("channels"), "channels", None)
        boards = root.get("board")
        if "wiring" in root and "id" not in about:
            self.wrong(root["wiring"].at, "wiring.id", "this is missing", "a name for this wiring")
        result = Wiring(
            id=self.take(about, "wiring", "id", "", _text, "text"),
            title=self.take(about, "wiring", "title", "", _text, "text"),
            boards=self.take(
                {"board": boards} if boards else {}, "", "board", (), _texts, "the id of a board, or a list"
            ),
            wires=tuple(self.wire(name, node) for name, node in channels.items()),
            clock_error=self.take(recorder, "recorder", "clock_error", Fraction(0), _ppm, '"50 ppm" or "0.1 %"'),
            skew=self.take(recorder, "recorder", "skew", 0, _time, '"1 ms"'),
            least_pulse=self.take(recorder, "recorder", "least_pulse", None, _time_or_none, '"5 ms"'),
            rows=self.take(recorder, "recorder", "rows", "samples", _rows, '"samples" or "changes"'),
            settings={name: self.take(settings, "settings", name, "", _text, "a position's name") for name in settings},
            at=Spot(self.root.source.file),
        )
        first: dict[str, Wire] = {}
        for wire in result.wires:
            other = first.setdefault(wire.signal, wire)
            if other is not wire and wire.signal:
                self.wrong(wire.at, f"channels.{wire.channel}", f"{wire.signal} is already shown by {other.channel}")
        if self.problems:
            raise BadWiring(self.problems)
        return result

    def wire(self, channel: str, node: Node) -> Wire:
        path = f"channels.{channel}"
        keys = tuple(name for name in Wire.__annotations__ if name not in ("channel", "at"))
        table = self.table(node, path, keys)
        if isinstance(node.value, dict) and "signal" not in table:
            self.wrong(node.at, f"{path}.signal", "this is missing", "the board's name for the signal, or power")
        zero = Fraction(0)
        sensor = SensorKeys(table, path)
        wire = Wire(
            channel=channel,
            signal=self.take(table, path, "signal", "", _text, "text"),
            inverted=self.take(table, path, "inverted", False, _yes, "true or false"),
            unpowered=self.take(table, path, "unpowered", "low", _level, '"low" or "high"'),
            bounce=self.take(table, path, "bounce", 0, _time, '"5 ms"'),
            line_frequency=self.take(table, path, "line_frequency", None, _hertz, _LINES),
            threshold=self.take(table, path, "threshold", None, _number_or_none, "a number"),
            differential=self.take(table, path, "differential", zero, _not_negative, "a number, 0 or more"),
            scale=self.take(table, path, "scale", Fraction(1), _not_zero, "a number other than 0"),
            offset=self.take(table, path, "offset", zero, _number, "a number"),
            at_rest=self.take(table, path, "at_rest", "low", _level, '"low" or "high"'),
            midpoint=self.take(table, path, "midpoint", zero, _number, "a number"),
            amplitude=self.take(table, path, "amplitude", None, _positive, "a number above 0"),
            least_amplitude=self.take(table, path, "least_amplitude", None, _positive, "a number above 0"),
            brightness=self.take(table, path, "brightness", False, _yes, "true or false"),
            dark_level=self.take(table, path, "dark_level", None, _number_or_none, "a number"),
            lit_level=self.take(table, path, "lit_level", None, _number_or_none, "a number"),
            resolution=self.take(table, path, "resolution", zero, _not_negative, "a number, 0 or more"),
            curve=sensor.curve(),
            curve_tolerance=sensor.allowance(),
            leads=sensor.leads(),
            divider=sensor.divider(),
            at=node.key_at,
        )
        self.problems += sensor.problems
        self.problems += at_odds(wire, table, path)
        if wire.differential and wire.line_threshold is None and "threshold" not in table:
            self.wrong(
                table["differential"].key_at, f"{path}.differential", "there is no threshold for it to stand around"
            )
        return wire


def _text(value: object) -> str:
    if not isinstance(value, str) or not value:
        raise TypeError
    return value


def _texts(value: object) -> tuple[str, ...]:
    if isinstance(value, list) and value:
        return tuple(_text(cast(Node, item).value) for item in value)
    return (_text(value),)


def _yes(value: object) -> bool:
    if not isinstance(value, bool):
        raise TypeError
    return value


def _number(value: object) -> Fraction:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise TypeError
    # The digits as written, not the float nearest to them.
    return Fraction(repr(value))


def _number_or_none(value: object) -> Fraction | None:
    return _number(value)


def _positive(value: object) -> Fraction | None:
    number = _number(value)
    if number <= 0:
        raise ValueError
    return number


def _not_negative(value: object) -> Fraction:
    number = _number(value)
    if number < 0:
        raise ValueError
    return number


def _not_zero(value: object) -> Fraction:
    number = _number(value)
    if number == 0:
        raise ValueError
    return number


def _hertz(value: object) -> int | None:
    if isinstance(value, bool) or not isinstance(value, int) or value not in LINE_FREQUENCIES:
        raise TypeError
    return value


def _time(value: object) -> int:
    return read_plain_time(_text(value))


def _time_or_none(value: object) -> int | None:
    return _time(value)


def _level(value: object) -> Level:
    if value not in ("low", "high"):
        raise ValueError
    return value


def _rows(value: object) -> Literal["samples", "changes"]:
    if value not in ("samples", "changes"):
        raise ValueError
    return value


def _ppm(value: object) -> Fraction:
    found = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(ppm|%)\s*", _text(value))
    if not found:
        raise ValueError
    error = Fraction(found.group(1)) / (100 if found.group(2) == "%" else 10**6)
    if error >= Fraction(1, 2):
        raise ValueError
    return error
