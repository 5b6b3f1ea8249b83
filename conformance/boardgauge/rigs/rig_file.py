"""A rig file: what stands on a bench, and how it is reached.

Law of this module: everything wrong in a rig file is told at once, each with its place; what a kind of rig needs beside
what all need is read by the kind itself (``kinds``).

::

    language = 1

    [rig]
    kind = "serial"                    # see kinds.py
    name = "bench-2"
    latency = "2 ms"                   # how far any moment that it gives may be off, either way
    clock_error = "50 ppm"             # how far its clock may be off
    safe_within = "0.5 s"              # how long it may take to make everything safe; 1 s unless said
    never = ["cold and warm"]          # conditions on inputs that are never driven, beside those of the spec

    [safe]                             # what is safe where it is not off, open and without power
    hps = "closed"
    coil = "20 °C"                     # a sensor can only be driven if it is said what is safe

    [serial]                           # the table of the kind
    port = "/dev/ttyUSB0"

    [drives]                           # the fixture's points by the board's inputs; unless said they have its names
    power = "K1"
    lps = { point = "K4", inverted = true }

    [sees]
    cc = "D1"
"""

from __future__ import annotations

from fractions import Fraction
from functools import partial
from os import PathLike, fspath
from pathlib import Path
from typing import cast

from attrs import define, field, frozen

from boardgauge.language.expression_reader import read_condition
from boardgauge.language.expressions import Condition, names
from boardgauge.language.model import Board, InputKind, Spot
from boardgauge.language.nodes import Node, read_nodes
from boardgauge.language.problems import Unreadable, UnusableSpec, nearest_of
from boardgauge.language.scope import ON_WORDS, STATES
from boardgauge.language.text_file import text_of
from boardgauge.rigs.kinds import KINDS
from boardgauge.rigs.points import Point, Points
from boardgauge.rigs.rig import POWER, Value
from boardgauge.rigs.rig_table import Table, not_zero, number, one_of, part, quantity, text, time, yes
from boardgauge.traces.wiring import signals_of

RIG_KEYS = ("kind", "name", "title", "latency", "clock_error", "safe_within", "never")
POINT_KEYS = ("point", "inverted", "scale", "offset")


@frozen
class Interlock:
    """A condition on inputs that is never driven, and where that is said."""

    text: str
    condition: Condition
    at: Spot


@frozen
class RigFile:
    """What a rig file says to all kinds, and the ``own`` table of its kind with the ``root``, for the kind to read."""

    file: str
    kind: str
    name: str
    board: Board
    own: Table = field(eq=False, repr=False)
    latency: int = 0
    clock_error: Fraction = Fraction(0)
    safe_within: int = 1_000_000
    safe: dict[str, Value] = field(factory=dict)
    points: Points = field(factory=Points)
    never: tuple[Interlock, ...] = ()
    durations: dict[str, Node] = field(factory=dict, eq=False, repr=False)

    @property
    def folder(self) -> Path:
        """The folder from which its paths go."""
        return Path(self.file).parent


def read_rig_file(path: str | PathLike[str], board: Board) -> RigFile:
    """Read a rig file for a board. Raises UnusableSpec with everything wrong in it, but for the kind's own table."""
    return rig_file_from(text_of(path), fspath(path), board)


def rig_file_from(text: str, file: str, board: Board) -> RigFile:
    """Read a rig file from text; ``file`` stands for it in messages. Raises UnusableSpec."""
    node = read_nodes(text, file)
    root = Table("", node, cast("dict[str, Node]", node.value), [])
    return _Reader(root, board).read(file)


@define
class _Reader:
    root: Table
    board: Board

    def read(self, file: str) -> RigFile:
        root = self.root
        version = root.values.get("language")
        if version is None:
            root.wrong(root.node.at, "language", "the key is missing", "language = 1")
        elif version.value != 1 or isinstance(version.value, (bool, float)):
            root.wrong(version.at, "language", "this reader knows version 1 of the language", "1")
        if "rig" not in root.values:
            root.wrong(root.node.at, "rig", "the table is missing", "[rig]")
        rig = root.inner("rig")
        rig.only(RIG_KEYS)
        kind = rig.need("kind", "", text, one_of(KINDS))
        if kind and kind not in KINDS:
            at = rig.values["kind"].at
            rig.wrong(at, "kind", f"there is no kind {kind!r} of rig", one_of(KINDS), nearest_of(kind, KINDS))
        extra = KINDS[kind].tables if kind in KINDS else ()
        if kind in KINDS:
            root.only(("language", "rig", "safe", kind, *extra))
        name = rig.need("name", "", text, "a name for this rig")
        rig.take("title", "", text, "a heading")
        found = RigFile(
            file=file,
            kind=kind,
            name=name,
            board=self.board,
            own=root.inner(kind) if kind in KINDS else root,
            latency=rig.take("latency", 0, time, '"2 ms"'),
            clock_error=rig.take("clock_error", Fraction(0), part, '"50 ppm" or "0.1 %"'),
            safe_within=rig.take("safe_within", 1_000_000, time, '"0.5 s"'),
            safe=self._safe(root.inner("safe")),
            points=Points(self._points("drives"), self._points("sees")),
            never=self._never(rig),
            durations=root.inner("durations").values,
        )
        if root.problems:
            raise UnusableSpec(root.problems)
        return found

    def _never(self, rig: Table) -> tuple[Interlock, ...]:
        node = rig.values.get("never")
        if node is None:
            return ()
        rows = node.value if isinstance(node.value, list) else None
        if rows is None or not all(isinstance(row.value, str) for row in rows):
            rig.wrong(node.at, "never", "a list of conditions is needed", '["cold and warm"]')
            return ()
        found = []
        for row in cast("list[Node]", rows):
            said = str(row.value)
            try:
                condition = read_condition(said)
            except Unreadable as error:
                rig.wrong(row.inside(error.at), "never", error.message, error.expected)
                continue
            inputs = [n for n, i in self.board.inputs.items() if i.kind is not InputKind.SENSOR]
            for used, at in names(condition):
                if used not in inputs:
                    message = f"{used!r} is no input of {self.board.id} that is on or off"
                    rig.wrong(row.inside(at), "never", message, None, nearest_of(used, inputs))
            found.append(Interlock(said, condition, row.at))
        return tuple(found)

    def _safe(self, table: Table) -> dict[str, Value]:
        found: dict[str, Value] = {}
        for name, node in table.values.items():
            row = self.board.inputs.get(name)
            if name == POWER:
                if node.value != "off":
                    table.wrong(node.at, name, "the supply is safe when it is off", '"off"')
                continue
            if row is None:
                near = nearest_of(name, self.board.inputs)
                table.wrong(node.key_at, name, f"{self.board.id} has no input {name!r}", None, near)
            elif row.kind is InputKind.SENSOR:
                expected = f'a number with its unit, "20 {row.unit}"'
                measured = table.take(name, None, partial(quantity, row.unit or ""), expected)
                if measured is not None:
                    found[name] = measured
            else:
                words = STATES[row.kind.value]
                if node.value not in words:
                    table.wrong(node.at, name, f"this is no state of a {row.kind.value}", one_of(words))
                else:
                    found[name] = node.value in ON_WORDS
        return found

    def _points(self, verb: str) -> dict[str, Point] | None:
        if verb not in self.root.values:
            return None
        table = self.root.inner(verb)
        signals = signals_of(self.board)
        known = (POWER, *self.board.inputs) if verb == "drives" else (*self.board.outputs, *self.board.lamps)
        found: dict[str, Point] = {}
        for name, node in table.values.items():
            if name not in known:
                what = "no input" if verb == "drives" else "no output and no lamp"
                message = f"{self.board.id} has no such signal" if name not in signals else f"it is {what} of the board"
                table.wrong(node.key_at, name, message, None, nearest_of(name, known))
                continue
            point = self._point(table, name, node)
            if point is not None:
                found[name] = point
        return found

    def _point(self, table: Table, signal: str, node: Node) -> Point | None:
        row = self.board.inputs.get(signal)
        output = self.board.outputs.get(signal)
        sensor = row is not None and row.kind is InputKind.SENSOR
        contact = output is not None and output.contact == "normally closed"
        if isinstance(node.value, str) and node.value:
            return Point(signal, node.value, contact, sensor, at=node.at)
        if not isinstance(node.value, dict):
            table.wrong(node.at, signal, "a point is needed", '"K1", or { point = "K1", inverted = true }')
            return None
        inner = table.inner(signal)
        inner.only(POINT_KEYS if sensor else POINT_KEYS[:2])
        inverted = inner.take("inverted", False, yes, "true or false")
        if sensor and inverted:
            inner.wrong(inner.values["inverted"].key_at, "inverted", "a sensor takes scale and offset")
        return Point(
            signal,
            inner.need("point", "", text, "the name of the fixture's point"),
            inverted != contact,
            sensor,
            inner.take("scale", Fraction(1), not_zero, "a number other than 0"),
            inner.take("offset", Fraction(0), number, "a number"),
            node.at,
        )
