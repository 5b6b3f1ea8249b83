"""A case file to a Case.

Law of this module: a Case comes out whole, or BadCase says what is wrong with the file. Times are written in seconds
and held as whole microseconds, exactly.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, Literal

from attrs import field, frozen

from boardgauge.cases.subject import Row, State

Asks = Literal["play", "judge", "refuse"]
_TRUE = ("on", "closed", "fitted", "pressed", "lit")
_FALSE = ("off", "open", "released", "dark")
_TICK = 1
SUITE = 1
"""The version of the suite: of the form of its files and of the contract for a command."""
_KEYS = {
    "description", "clauses", "board", "bases", "settings", "inputs", "end", "outputs", "recording", "verdict", "first",
    "refused", "known_failure", "title",
}  # fmt: skip
_RECORDING_KEYS = {"rows", "repeats", "end", "start", "sampled_every", "not_recorded"}
_FIRST_KEYS = {"time", "signal", "rule", "clause", "earliest", "latest", "within"}


class BadCase(Exception):
    """A case file that cannot be used."""

    def __init__(self, file: str, key: str, problem: str) -> None:
        super().__init__(f"{file}: {key}: {problem}" if key else f"{file}: {problem}")
        self.file, self.key, self.problem = file, key, problem


@frozen
class FirstDeviation:
    """What the first deviation must be; None where the case leaves it open. ``rules``: any one of them may be named."""

    time: int | None = None
    signal: str | None = None
    rules: tuple[str, ...] = ()
    clause: str | None = None
    earliest: int | None = None
    latest: int | None = None
    within: int = _TICK


@frozen
class Case:
    """One case. ``document`` is the file as plain values, for whoever reads it in another language.

    ``rows`` are the inputs of a case that asks to play, the whole recording of one that asks to judge.
    """

    name: str
    description: str
    clauses: tuple[str, ...]
    board: str
    asks: Asks
    rows: tuple[Row, ...] = ()
    end: int | None = None
    outputs: tuple[Row, ...] = ()
    verdicts: tuple[str, ...] = ()
    first: FirstDeviation | None = None
    refused: tuple[str, ...] = ()
    start: Literal["power-up", "unknown"] = "power-up"
    sampled_every: int | None = None
    not_recorded: tuple[str, ...] = ()
    bases: Mapping[str, str] = field(factory=dict)
    settings: Mapping[str, str] = field(factory=dict)
    known_failure: str | None = None
    document: Mapping[str, Any] = field(factory=dict, eq=False, repr=False)

    @property
    def from_library(self) -> bool:
        """Tell whether ``board`` is the id of a board in the library, not the text of a spec."""
        return "\n" not in self.board


def read_case(path: Path, name: str | None = None) -> Case:
    """Read a case file. Raises BadCase."""
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise BadCase(str(path), "", f"it cannot be read: {error}") from None
    return read_case_text(text, name or path.stem, str(path))


def read_case_text(text: str, name: str, file: str = "<text>") -> Case:
    """Read a case from text; ``file`` is what errors call it. Raises BadCase."""
    try:
        document = tomllib.loads(text, parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        raise BadCase(file, "", str(error)) from None
    return _Reader(file, document).case(name)


def case_from(document: Mapping[str, Any], name: str, file: str = "<case>") -> Case:
    """Take a case from plain values: a file's, or what a command is given. Its figures are int and Decimal.

    Raises BadCase.
    """
    return _Reader(file, dict(document)).case(name)


@cache
def all_cases() -> tuple[Case, ...]:
    """Give every case of the suite, in order of name; the folder is part of the name. Raises BadCase."""
    return tuple(
        read_case_text(entry.read_text(encoding="utf-8"), name.removesuffix(".toml"), name)
        for name, entry in sorted(_files(files("boardgauge.cases"), ""))
    )


def case_schema() -> dict[str, Any]:
    """Give the JSON Schema of a case file."""
    schema: dict[str, Any] = json.loads(files("boardgauge.cases").joinpath("case.schema.json").read_text("utf-8"))
    return schema


def _files(folder: Traversable, prefix: str) -> Iterator[tuple[str, Traversable]]:
    for entry in folder.iterdir():
        if entry.is_dir():
            yield from _files(entry, f"{prefix}{entry.name}/")
        elif entry.name.endswith(".toml"):
            yield prefix + entry.name, entry


class _Reader:
    def __init__(self, file: str, document: dict[str, Any]) -> None:
        self.file = file
        self.document = document

    def case(self, name: str) -> Case:
        document = self.document
        self.only(document, _KEYS, "")
        for key in ("description", "clauses", "board"):
            if key not in document:
                raise self.bad(key, "it is missing")
        asks = self.asks()
        recording = document.get("recording", {})
        self.only(recording, _RECORDING_KEYS, "recording")
        source = recording if asks == "judge" else document
        rows = self.rows(recording.get("rows", []) if asks == "judge" else document.get("inputs", []), "rows")
        rows += [
            row for number, repeat in enumerate(recording.get("repeats", [])) for row in self.repeat(repeat, number)
        ]
        verdict = document.get("verdict", [])
        return Case(
            name,
            self.text(document["description"], "description"),
            self.texts(document["clauses"], "clauses"),
            self.text(document["board"], "board"),
            asks,
            tuple(sorted(rows, key=lambda row: row.time)),
            self.time(source["end"], "end") if "end" in source else None,
            tuple(self.rows(document.get("outputs", []), "outputs")),
            self.texts(verdict, "verdict"),
            self.first(document["first"]) if "first" in document else None,
            self.texts(document.get("refused", []), "refused"),
            recording.get("start", "power-up"),
            self.time(recording["sampled_every"], "sampled_every") if "sampled_every" in recording else None,
            self.texts(recording.get("not_recorded", []), "not_recorded"),
            document.get("bases", {}),
            document.get("settings", {}),
            document.get("known_failure"),
            plain(document),
        )

    def asks(self) -> Asks:
        sorts: dict[str, Asks] = {"verdict": "judge", "outputs": "play", "refused": "refuse"}
        found = [key for key in sorts if key in self.document]
        if len(found) != 1:
            raise self.bad("", f"one of {', '.join(sorts)} says what is expected; here are {len(found)}")
        asks = sorts[found[0]]
        if asks == "judge" and "recording" not in self.document:
            raise self.bad("recording", "a verdict is about a recording")
        needs_end = self.document["recording"] if asks == "judge" else self.document
        if "end" not in needs_end and (asks != "refuse" or "inputs" in self.document):
            raise self.bad("end", "it is missing")
        return asks

    def bad(self, key: str, problem: str) -> BadCase:
        return BadCase(self.file, key, problem)

    def only(self, table: Mapping[str, Any], known: set[str], key: str) -> None:
        unknown = sorted(set(table) - known)
        if unknown:
            raise self.bad(f"{key}.{unknown[0]}".lstrip("."), "there is no such key in a case")

    def text(self, value: object, key: str) -> str:
        if not isinstance(value, str) or not value.strip():
            raise self.bad(key, "a text is needed")
        return value

    def texts(self, value: object, key: str) -> tuple[str, ...]:
        return tuple(self.text(item, key) for item in (value if isinstance(value, list) else [value]))

    def time(self, value: object, key: str) -> int:
        if isinstance(value, bool) or not isinstance(value, (int, Decimal)):
            raise self.bad(key, f"{value!r} is no time in seconds")
        exact = Fraction(value) * 1_000_000
        if exact.denominator != 1:
            raise self.bad(key, f"{value} s is finer than a microsecond")
        return int(exact)

    def rows(self, value: Sequence[Any], key: str) -> list[Row]:
        found = []
        for row in value:
            if not isinstance(row, list) or len(row) != 3 or not isinstance(row[1], str):
                raise self.bad(key, f"{row!r} is no row of time, signal and value")
            found.append(Row(self.time(row[0], key), row[1], self.state(row[2], key)))
        return found

    def state(self, value: object, key: str) -> State:
        if isinstance(value, (int, Decimal)) and not isinstance(value, bool):
            return Fraction(value)
        if value in _TRUE or value in _FALSE or value == "unknown":
            return None if value == "unknown" else value in _TRUE
        raise self.bad(key, f"{value!r} is no state; one of {', '.join(_TRUE + _FALSE)}, unknown or a number")

    def repeat(self, value: Mapping[str, Any], number: int) -> Iterator[Row]:
        key = f"recording.repeats[{number}]"
        self.only(value, {"signal", "from", "to", "every", "rows"}, key)
        try:
            begin, stop, every = (self.time(value[name], key) for name in ("from", "to", "every"))
            signal = self.text(value["signal"], key)
            pairs = [(self.time(time, key), self.state(state, key)) for time, state in value["rows"]]
        except (KeyError, TypeError, ValueError):
            raise self.bad(key, "signal, from, to, every and rows of time and state are needed") from None
        if every <= 0:
            raise self.bad(key, "every is a time greater than nothing")
        while begin < stop:
            yield from (Row(begin + time, signal, state) for time, state in pairs if begin + time < stop)
            begin += every

    def first(self, value: Mapping[str, Any]) -> FirstDeviation:
        self.only(value, _FIRST_KEYS, "first")
        times = {
            name: self.time(value[name], f"first.{name}")
            for name in ("time", "earliest", "latest", "within")
            if name in value
        }
        return FirstDeviation(
            signal=value.get("signal"),
            rules=self.texts(value.get("rule", []), "first.rule"),
            clause=value.get("clause"),
            **times,
        )


def plain(value: Any) -> Any:
    """Give a document with plain numbers for its exact ones, for JSON."""
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, dict):
        return {key: plain(inner) for key, inner in value.items()}
    return [plain(inner) for inner in value] if isinstance(value, list) else value
