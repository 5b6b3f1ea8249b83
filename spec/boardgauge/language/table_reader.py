"""One table of a spec, read key by key.

Law of this module: a key is read as ``keys`` says it is written; whatever is wrong is noted with its place and reading
goes on, so that one run finds everything. A table in which something was wrong says so (``failed``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TypeVar, cast

import attrs

from boardgauge.language.expression_reader import (
    read_condition,
    read_condition_or_event,
    read_event,
    read_trigger,
)
from boardgauge.language.expressions import Condition, Event, Expression, Trigger
from boardgauge.language.keys import Key, Takes
from boardgauge.language.model import Blink, Lasting, Note, Pattern, SettingRef, Spot
from boardgauge.language.nodes import Node
from boardgauge.language.pattern_reader import read_blink, read_dark_part, read_pattern
from boardgauge.language.problems import Unreadable, nearest_of
from boardgauge.language.quantities import EXACTLY, Duration, Quantity, TimeRange, Tolerance
from boardgauge.language.quantity_reader import (
    read_accuracy,
    read_plain_time,
    read_time,
    read_time_range,
    read_tolerance,
)
from boardgauge.language.reading import Reading, Written, value_in_words
from boardgauge.language.tolerances import MissingTolerance, filled

__all__ = ["Reading", "TableReader"]

T = TypeVar("T")

LONGEST_PROSE = 20_000
MOST_ROWS = 256


class TableReader:
    """Reads one table. Each method reads a key of one sort, gives None where it is absent or wrong."""

    def __init__(self, reading: Reading, node: Node, path: str, keys: Iterable[Key]) -> None:
        self.reading = reading
        self.node = node
        self.path = path
        self.keys = {key.name: key for key in keys}
        self.failed = False
        reading.places[path] = node
        self.values: dict[str, Node] = {}
        if not isinstance(node.value, dict):
            self.fail(node.at, "", f"{value_in_words(node.value)} stands where a table is needed")
            return
        self.values = node.value
        for name, value in self.values.items():
            reading.places[self.key(name)] = value
            if name not in self.keys:
                nearest = nearest_of(name, self.keys)
                expected = None if nearest else "one of " + ", ".join(self.keys)
                self.fail(value.key_at, name, "there is no such key here", expected, nearest)

    # -- noting problems ---------------------------------------------------------------------------------------------
    def key(self, name: str) -> str:
        """Give the dotted path of a key of this table."""
        return f"{self.path}.{name}" if self.path and name else self.path or name

    def fail(self, at: Spot, name: str, message: str, expected: str | None = None, nearest: str | None = None) -> None:
        """Note something wrong with a key of this table."""
        self.failed = True
        self.reading.problem(at, self.key(name), message, expected, nearest)

    def has(self, name: str) -> bool:
        """Tell whether the key stands in the table."""
        return name in self.values

    def need(self, name: str, why: str) -> None:
        """Note that a key is missing which is needed for a reason."""
        if not self.has(name):
            self.fail(self.node.key_at, name, f"the key is missing; {why}")

    def refuse(self, name: str, why: str) -> None:
        """Note that a key stands here which makes no sense."""
        if self.has(name):
            self.fail(self.values[name].key_at, name, why)

    def take(self, name: str, takes: Takes) -> Node | None:
        """Give the value of a key, or None where it is absent (noted if required)."""
        key = self.keys[name]
        assert key.takes == takes, f"{self.path}: the table of keys says {name} takes {key.takes}, not {takes}"
        if name not in self.values:
            if key.need == "required" and isinstance(self.node.value, dict):
                self.fail(self.node.key_at, name, "the key is missing; it is required")
            return None
        return self.values[name]

    # -- single values -----------------------------------------------------------------------------------------------
    def _text(self, name: str, takes: Takes) -> str | None:
        node = self.take(name, takes)
        if node is None:
            return None
        if not isinstance(node.value, str):
            self.fail(node.at, name, f"{value_in_words(node.value)} stands where a text is needed", f"a text: {takes}")
            return None
        if len(node.value) > LONGEST_PROSE:
            self.fail(node.at, name, f"the text is longer than {LONGEST_PROSE} characters")
            return None
        return node.value

    def text(self, name: str) -> str | None:
        """Read prose or a name."""
        return self._text(name, "text")

    def step(self, name: str) -> str | None:
        """Read the name of a step, or ``end``."""
        return self._text(name, "step")

    def unit(self, name: str) -> str | None:
        """Read a unit."""
        text = self._text(name, "unit")
        if text is not None and not text.strip():
            self.fail(self.values[name].at, name, "the unit is empty")
            return None
        return text

    def word(self, name: str) -> str | None:
        """Read one of the words the key allows; its default where it is absent."""
        text = self._text(name, "word")
        words = self.keys[name].words
        if text is None:
            default = self.keys[name].default
            return default if default in words and not self.has(name) else None
        if text not in words:
            expected = "one of " + ", ".join(f'"{word}"' for word in words)
            self.fail(
                self.values[name].at, name, f'"{text}" is not one of its words', expected, nearest_of(text, words)
            )
            return None
        return text

    def yes_or_no(self, name: str) -> bool:
        """Read true or false; false where absent."""
        node = self.take(name, "yes or no")
        if node is None:
            return False
        if not isinstance(node.value, bool):
            self.fail(
                node.at, name, f"{value_in_words(node.value)} stands where true or false is needed", "true or false"
            )
            return False
        return node.value

    def whole(self, name: str, least: int, most: int = 1_000_000) -> int | None:
        """Read a whole number."""
        node = self.take(name, "whole number")
        if node is None:
            return None
        if not isinstance(node.value, int) or isinstance(node.value, bool):
            self.fail(node.at, name, f"{value_in_words(node.value)} stands where a whole number is needed")
            return None
        if not least <= node.value <= most:
            self.fail(node.at, name, f"the number is not between {least} and {most}", f"a whole number from {least} on")
            return None
        return node.value

    def names(self, name: str, takes: Takes = "names") -> tuple[str, ...] | None:
        """Read a list of names."""
        node = self.take(name, takes)
        if node is None:
            return None
        items = node.value if isinstance(node.value, list) else []
        if not items or not all(isinstance(item.value, str) for item in items):
            self.fail(node.at, name, "a list of names is needed", '["a", "b"]')
            return None
        found = [cast(str, item.value) for item in items]
        for index, item in enumerate(items):
            self.reading.places[f"{self.key(name)}[{index + 1}]"] = item
            if item.value in found[:index]:
                self.fail(item.at, name, f"{item.value!r} stands twice in the list")
        return tuple(found)

    # -- values written in the language ------------------------------------------------------------------------------
    def _read(self, name: str, takes: Takes, reader: Callable[[str], T]) -> T | None:
        text = self._text(name, takes)
        return None if text is None else self.read_text(name, text, reader)

    def read_text(self, name: str, text: str, reader: Callable[[str], T]) -> T | None:
        """Read a text with a reader, noting what it says against it at its very place."""
        try:
            return reader(text)
        except Unreadable as error:
            self.fail(self.values[name].inside(error.at), name, error.message, error.expected)
            return None

    def time(self, name: str) -> int | None:
        """Read a time that takes no tolerance; microseconds."""
        return self._read(name, "time", read_plain_time)

    def time_range(self, name: str) -> TimeRange | None:
        """Read two times."""
        return self._read(name, "range of times", read_time_range)

    def tolerance(self, name: str) -> Tolerance | None:
        """Read a tolerance."""
        return self._read(name, "tolerance", read_tolerance)

    def accuracy(self, name: str) -> Quantity | None:
        """Read an accuracy."""
        return self._read(name, "accuracy", read_accuracy)

    def pattern(self, name: str) -> Pattern | None:
        """Read what a lamp shows."""
        return self._read(name, "pattern", read_pattern)

    def blink(self, name: str) -> Blink | None:
        """Read one flash of a group."""
        return self._read(name, "blink", read_blink)

    def dark_part(self, name: str) -> int | None:
        """Read the dark between groups."""
        return self._read(name, "dark part", read_dark_part)

    def duration(self, name: str) -> Duration | None:
        """Read a time with its tolerance; the board's is put in where it has none."""
        text = self._text(name, "time with tolerance")
        return None if text is None else self._duration(name, text)

    def _duration(self, name: str, text: str) -> Duration | None:
        duration = self.read_text(name, text, read_time)
        if duration is None:
            return None
        if duration.nominal == 0:
            self.fail(self.values[name].at, name, "a time of nothing is no time")
            return None
        if duration.tolerance is not None:
            return duration
        if self.reading.tolerance is None:
            self._no_tolerance(name, 0)
            return None
        return attrs.evolve(duration, tolerance=self.reading.tolerance)

    def _no_tolerance(self, name: str, offset: int) -> None:
        self.fail(
            self.values[name].inside(offset),
            name,
            "the time has no tolerance and the board has none either",
            '"90 s ± 10 %", or a tolerance in [board]',
        )

    def lasting(self, name: str) -> Lasting | None:
        """Read a time with its tolerance, or the name of a setting."""
        text = self._text(name, "time or setting")
        if text is None:
            return None
        stripped = text.strip()
        if stripped[:1].isalpha() and stripped.isascii() and stripped.replace("_", "a").isalnum():
            return SettingRef(stripped)
        return self._duration(name, text)

    # -- expressions -------------------------------------------------------------------------------------------------
    def _expression(
        self, name: str, takes: Takes, reader: Callable[[str], Expression], limits: bool
    ) -> Expression | None:
        text = self._text(name, takes)
        return None if text is None else self.expression_text(name, text, reader, limits=limits)

    def expression_text(
        self, name: str, text: str, reader: Callable[[str], Expression], *, limits: bool = False
    ) -> Expression | None:
        """Read an expression. In a requirement its times are ``limits``: exact where they state no tolerance."""
        expression = self.read_text(name, text, reader)
        if expression is None:
            return None
        self.reading.written.append(Written(self.key(name), expression))
        try:
            return filled(expression, EXACTLY if limits else self.reading.tolerance)
        except MissingTolerance as error:
            self._no_tolerance(name, error.at)
            return None

    def condition(self, name: str, *, limits: bool = False) -> Condition | None:
        """Read a condition."""
        return cast("Condition | None", self._expression(name, "condition", read_condition, limits))

    def event(self, name: str, *, limits: bool = False) -> Event | None:
        """Read an event."""

        def reader(text: str) -> Event:
            return read_event(text, in_requirement=limits)

        return cast("Event | None", self._expression(name, "event", reader, limits))

    def trigger(self, name: str, *, limits: bool = False) -> Trigger | None:
        """Read a trigger."""

        def reader(text: str) -> Trigger:
            return read_trigger(text, in_requirement=limits)

        return self._expression(name, "trigger", reader, limits)

    def condition_or_event(self, name: str) -> Condition | Event | None:
        """Read what a requirement forbids."""
        found = self._expression(name, "condition or event", read_condition_or_event, True)
        return cast("Condition | Event | None", found)

    # -- parts -------------------------------------------------------------------------------------------------------
    def rows(self, name: str, takes: Takes, keys: Iterable[Key], most: int = MOST_ROWS) -> list[TableReader]:
        """Give a reader for each table of a list of tables, ``most`` of them."""
        node = self.take(name, takes)
        if node is None:
            return []
        if not isinstance(node.value, list) or not node.value:
            self.fail(node.at, name, "a list of tables is needed, with at least one", "[ { ... }, { ... } ]")
            return []
        if len(node.value) > most:
            self.fail(node.value[most].at, name, f"the list has more than {most} tables")
            return []
        return [
            TableReader(self.reading, item, f"{self.key(name)}[{index + 1}]", keys)
            for index, item in enumerate(node.value)
        ]

    def note(self) -> Note:
        """Read what people wrote about the table."""
        return Note(self.text("title"), self.text("text"), self.text("why"), self.text("clause"))

    def spoiled_by(self, rows: Iterable[TableReader]) -> bool:
        """Tell whether this table or one of its rows failed."""
        return self.failed or any(row.failed for row in rows)
