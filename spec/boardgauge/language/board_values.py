"""What files beside a spec say of its board: which one they are for, how its inputs stand, how it is set.

Law of this module: what comes out fits the board; whatever does not is noted with its place and left out.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

from boardgauge.language.model import Board, Input, InputKind
from boardgauge.language.nodes import Node
from boardgauge.language.problems import Unreadable, nearest_of
from boardgauge.language.quantity_reader import read_quantity
from boardgauge.language.reading import Reading
from boardgauge.language.scope import ON_WORDS, STATES
from boardgauge.language.table_reader import TableReader
from boardgauge.language.units import WrongUnit, in_unit

Value = bool | Fraction
"""How an input stands: on or off, or for a sensor the quantity in the sensor's unit."""


class BoardValues:
    """Reads what is said of one board; ``Node`` of a table or None where it is not there."""

    def __init__(self, reading: Reading, board: Board) -> None:
        self.reading = reading
        self.board = board

    def made_for(self, table: TableReader) -> str | None:
        """Read the keys ``language`` and ``board`` of a file: version 1, and this board."""
        version = table.take("language", "version")
        if version is not None and (version.value != 1 or isinstance(version.value, (bool, float))):
            table.fail(version.at, "language", "this reader knows version 1 of the language", "1")
        name = table.text("board")
        if name is not None and name != self.board.id:
            table.fail(table.values["board"].at, "board", f"the board given is {self.board.id!r}, not {name!r}")
        return name

    def pairs(self, node: Node | None, key: str) -> Iterator[tuple[str, Node]]:
        """Give the names and values of a table."""
        if node is None:
            return
        if not isinstance(node.value, dict):
            self.reading.problem(node.at, key, "a table is needed", '{ name = "value" }')
            return
        yield from node.value.items()

    def known(self, name: str, node: Node, key: str, names: Mapping[str, object], of: str) -> bool:
        """Tell whether the board has a thing of this name; ``of`` says what kind of thing."""
        if name in names:
            return True
        if name == "power":
            self.reading.problem(node.key_at, key, "the supply is switched by a key of its own", 'power = "on"')
            return False
        near = nearest_of(name, names)
        expected = None if near else "one of " + ", ".join(names) if names else "none"
        self.reading.problem(node.key_at, key, f"the board has no such {of}", expected, near)
        return False

    def values(self, node: Node | None, key: str) -> dict[str, Value]:
        """Read how inputs stand."""
        found: dict[str, Value] = {}
        for name, inner in self.pairs(node, key):
            if self.known(name, inner, f"{key}.{name}", self.board.inputs, "input"):
                value = self.value(self.board.inputs[name], inner, f"{key}.{name}")
                if value is not None:
                    found[name] = value
        return found

    def value(self, given: Input, node: Node, key: str, when: str = "") -> Value | None:
        """Read how one input stands; ``when`` goes before what was expected."""
        if given.kind is InputKind.SENSOR:
            return self._quantity(given, node, key, when)
        words = STATES[given.kind.value]
        if node.value not in words:
            expected = when + " or ".join(f'"{word}"' for word in words)
            near = nearest_of(node.value, words) if isinstance(node.value, str) else None
            self.reading.problem(node.at, key, f"this is no state of a {given.kind.value}", expected, near)
            return None
        return node.value in ON_WORDS

    def _quantity(self, given: Input, node: Node, key: str, when: str) -> Fraction | None:
        expected = f'{when or "a number with its unit, "}"20 {given.unit}"'
        if not isinstance(node.value, str):
            self.reading.problem(node.at, key, "a sensor has a quantity", expected)
            return None
        try:
            return in_unit(read_quantity(node.value), given.unit or "").number
        except Unreadable as error:
            self.reading.problem(node.inside(error.at), key, error.message, error.expected or expected)
        except WrongUnit as error:
            self.reading.problem(node.at, key, str(error), expected)
        return None

    def need_sensors(self, table: TableReader) -> None:
        """Note each sensor of which the key ``start`` of a table does not say how it stands."""
        start = table.values.get("start")
        said = start.value if start is not None and isinstance(start.value, dict) else {}
        at = table.node.key_at if start is None else start.key_at
        for name, given in self.board.inputs.items():
            if given.kind is InputKind.SENSOR and name not in said:
                table.fail(at, f"start.{name}", "the sensor has no value to begin with", f'"20 {given.unit}"')

    def positions(self, node: Node | None, key: str) -> dict[str, str]:
        """Read the positions of settings that a person chooses."""
        found: dict[str, str] = {}
        for name, value in self.pairs(node, key):
            inner = f"{key}.{name}"
            if not self.known(name, value, inner, self.board.settings, "setting"):
                continue
            names = [p.name for p in self.board.settings[name].positions if p.name is not None]
            if not names:
                self.reading.problem(value.key_at, inner, "the inputs choose the position of this setting; set those")
            elif value.value not in names:
                expected = "one of " + ", ".join(f'"{position}"' for position in names)
                self.reading.problem(value.at, inner, "the setting has no such position", expected)
            else:
                found[name] = str(value.value)
        return found
